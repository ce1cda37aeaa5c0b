//! What speaks against a cultivar epithet.

use std::ops::Range;

use chrono::NaiveDate;

use super::genus::GenusProfile;
use super::near::{Likeness, NameIndex};
use super::parse::{is_double_quote, is_single_quote};
use super::words;
use crate::names::search_key;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Worth knowing.
    Info,
    /// Against advice, or for a person to decide.
    Warning,
    /// The epithet cannot be established.
    Error,
}

/// The rules, each with the source it was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Rule {
    /// There is no letter or figure.
    Empty,
    /// Single quotation marks and no other mark of a cultivar (summary).
    Quotes,
    /// Words begin with a capital unless the custom of a language says otherwise (summary).
    Case,
    /// At most 30 characters without spaces, from 1996 on (plant naming; summary).
    Len30,
    /// Not a single letter (plant naming; summary).
    OneLetter,
    /// Not numerals alone (plant naming; summary).
    NumOnly,
    /// Codes of at most ten characters are allowed (plant naming).
    Code10,
    /// Not Latin alone, from 1959 on, but for words of common use (plant naming; summary).
    Latin1959,
    /// Apostrophe, comma, full stop, hyphen, slashes, and two exclamation marks apart (summary).
    Punct,
    /// Barred words such as variety or hybrid, in any language (summary).
    Banned,
    /// No exaggerated merit (summary; plant naming).
    Merit,
    /// Not the name of the genus, in Latin or in common speech (summary).
    Genus,
    /// Not used before in the denomination class (quick guide).
    Unique,
    /// Not confusingly like another in spelling or sound (UPOV/INF/12; recommendation).
    Near,
    /// The name of a living person needs consent (summary).
    Living,
    /// Not hard to say (recommendation).
    Clumsy,
    /// A trade designation is no epithet.
    Trade,
    /// The hybrid sign is `×` and no part of an epithet.
    Notho,
    /// `Group` is written in full after the name of a Group, `grex` after that of a grex (summary).
    Group,
    /// In a cross the seed parent stands first: this society's custom, to be stated (common practice).
    SeedParent,
    /// Words of a full name that are none of its parts.
    Unread,
}

impl Rule {
    /// The stable id that is sent and stored.
    pub const fn id(self) -> &'static str {
        match self {
            Self::Empty => "EMPTY",
            Self::Quotes => "QUOTES",
            Self::Case => "CASE",
            Self::Len30 => "LEN30",
            Self::OneLetter => "ONE_LETTER",
            Self::NumOnly => "NUM_ONLY",
            Self::Code10 => "CODE10",
            Self::Latin1959 => "LATIN1959",
            Self::Punct => "PUNCT",
            Self::Banned => "BANNED",
            Self::Merit => "MERIT",
            Self::Genus => "GENUS",
            Self::Unique => "UNIQUE",
            Self::Near => "NEAR",
            Self::Living => "LIVING",
            Self::Clumsy => "CLUMSY",
            Self::Trade => "TRADE",
            Self::Notho => "NOTHO",
            Self::Group => "GROUP",
            Self::SeedParent => "SEEDPARENT",
            Self::Unread => "UNREAD",
        }
    }
}

/// Something that speaks against a name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    pub rule: Rule,
    pub severity: Severity,
    /// Bytes of the text as given, on character boundaries.
    pub span: Range<usize>,
    pub message: String,
    /// The whole text, mended.
    pub fix: Option<String>,
}

/// What an epithet is checked against.
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    pub genus: &'a GenusProfile,
    /// When it was published; none yet for a new one, which every rule binds.
    pub published: Option<NaiveDate>,
    /// Names taken. A name checked again must not be among them.
    pub taken: &'a NameIndex,
}

/// Whether findings bar an epithet from being proposed for registration. It can be recorded all the same.
pub fn bars(findings: &[Finding]) -> bool {
    findings.iter().any(|finding| finding.severity == Severity::Error)
}

/// Everything that speaks against an epithet, by place, then by rule.
pub fn check(epithet: &str, context: &Context<'_>) -> Vec<Finding> {
    let (bare, mark) = unmarked(epithet);
    let words = words_of(epithet, &bare);
    let mut check = Check { bare, words, text: epithet, findings: Vec::new() };
    if let Some(span) = mark {
        let fix = check.inner().to_owned();
        check.find(
            Rule::Quotes,
            Severity::Warning,
            span,
            "a cultivar is marked by single quotation marks alone",
        );
        check.fix(fix);
    }
    if check.words.is_empty() {
        check.all(Rule::Empty, Severity::Error, "there is no letter or figure");
        return check.findings;
    }
    check.size(context.published);
    check.punctuation();
    check.case();
    check.latin(context);
    check.barred();
    check.merit();
    check.genus(context.genus);
    check.persons();
    check.against(context.taken);
    check.findings.sort_by_key(|finding| (finding.span.start, finding.rule, finding.span.end));
    check.findings
}

/// A word: where it stands, and its key.
struct Word {
    span: Range<usize>,
    key: String,
}

struct Check<'a> {
    text: &'a str,
    /// The epithet without marks about it.
    bare: Range<usize>,
    words: Vec<Word>,
    findings: Vec<Finding>,
}

/// Where the epithet lies within marks, and the marks if they are not single quotation marks.
fn unmarked(text: &str) -> (Range<usize>, Option<Range<usize>>) {
    let at = |inner: &str| inner.as_ptr() as usize - text.as_ptr() as usize;
    let mut inner = text.trim();
    let mut mark: Option<Range<usize>> = None;
    let abbreviation = |inner: &str| {
        let fits = |mark: &&str| inner.get(..mark.len()).is_some_and(|head| head.eq_ignore_ascii_case(mark));
        ["cv.", "var.", "cv "].into_iter().find(fits).map(str::len)
    };
    // Marks within marks: `"cv. Lena"`.
    loop {
        let before = inner;
        if let Some(length) = abbreviation(inner) {
            let (head, rest) = inner.split_at_checked(length).unwrap_or((inner, ""));
            let from = mark.map_or_else(|| at(inner), |mark| mark.start);
            mark = Some(from..at(inner) + head.trim_end().len());
            inner = rest;
        } else if inner.starts_with(is_double_quote) || inner.ends_with(is_double_quote) {
            mark = Some(at(inner)..at(inner) + inner.len());
            inner = inner.trim_matches(is_double_quote);
        } else if inner.chars().count() > 1
            && inner.starts_with(is_single_quote)
            && inner.ends_with(is_single_quote)
        {
            let mut letters = inner.chars();
            letters.next();
            letters.next_back();
            inner = letters.as_str();
        }
        inner = inner.trim();
        if inner == before {
            return (at(inner)..at(inner) + inner.len(), mark);
        }
    }
}

/// Words between spaces, hyphens, slashes and other marks; apostrophes and full stops belong to them.
fn words_of(text: &str, within: &Range<usize>) -> Vec<Word> {
    let mut words = Vec::new();
    let mut start: Option<usize> = None;
    let inner = text.get(within.clone()).unwrap_or_default();
    for (at, c) in inner.char_indices().chain([(inner.len(), ' ')]) {
        let at = within.start + at;
        let joins =
            c.is_alphanumeric() || is_apostrophe(c) || unicode_normalization::char::is_combining_mark(c);
        if joins {
            start = start.or(Some(at));
        } else if let Some(from) = start.take() {
            let key = search_key(text.get(from..at).unwrap_or_default());
            if !key.is_empty() {
                words.push(Word { span: from..at, key });
            }
        }
    }
    words
}

const fn is_apostrophe(c: char) -> bool {
    matches!(c, '\'' | '\u{2018}' | '\u{2019}' | '\u{2bb}' | '\u{2bc}')
}

impl Check<'_> {
    fn inner(&self) -> &str {
        self.text.get(self.bare.clone()).unwrap_or_default()
    }

    fn find(&mut self, rule: Rule, severity: Severity, span: Range<usize>, message: &str) {
        self.findings.push(Finding { rule, severity, span, message: message.to_owned(), fix: None });
    }

    /// Gives the latest finding a mended text.
    fn fix(&mut self, fix: String) {
        if let Some(finding) = self.findings.last_mut() {
            finding.fix = Some(fix);
        }
    }

    fn all(&mut self, rule: Rule, severity: Severity, message: &str) {
        self.find(rule, severity, self.bare.clone(), message);
    }

    fn size(&mut self, published: Option<NaiveDate>) {
        let inner = self.inner();
        let counted = inner.chars().filter(|&c| {
            !c.is_whitespace() && !unicode_normalization::char::is_combining_mark(c) && !is_double_quote(c)
        });
        let length = counted.count();
        let letters: Vec<char> = inner.chars().filter(|c| c.is_alphanumeric()).collect();
        let coded = letters.iter().any(char::is_ascii_digit)
            && letters.iter().any(|c| c.is_alphabetic())
            && letters.iter().all(|c| !c.is_lowercase());
        if length > 30 && is_since(published, 1996) {
            let message = format!("{length} characters; at most 30, spaces not counted");
            self.all(Rule::Len30, Severity::Error, &message);
        }
        if letters.iter().all(char::is_ascii_digit) {
            self.all(Rule::NumOnly, Severity::Error, "figures alone are no name");
        } else if letters.len() == 1 {
            self.all(Rule::OneLetter, Severity::Error, "a single letter is no name");
        } else if coded && length <= 10 {
            self.all(Rule::Code10, Severity::Info, "a code of at most ten characters is allowed");
        }
        let shouted = letters.len() > 3 && letters.iter().all(|c| c.is_uppercase());
        if shouted {
            let message = "capitals throughout look like a trade designation, which is no epithet";
            self.all(Rule::Trade, Severity::Warning, message);
        }
        let long: Vec<Range<usize>> = self
            .words
            .iter()
            .filter(|word| word.key.chars().count() > 15)
            .map(|word| word.span.clone())
            .collect();
        for span in long {
            self.find(Rule::Clumsy, Severity::Warning, span, "a word of more than 15 letters is hard to say");
        }
    }

    fn punctuation(&mut self) {
        let inner = self.inner().to_owned();
        let mut shouts = 0;
        let mut last: Option<char> = None;
        for (at, c) in inner.char_indices() {
            let span = self.bare.start + at..self.bare.start + at + c.len_utf8();
            let allowed = c.is_alphabetic()
                || c.is_ascii_digit()
                || is_apostrophe(c)
                || unicode_normalization::char::is_combining_mark(c)
                || matches!(c, ' ' | ',' | '.' | '-' | '\u{2010}' | '/' | '\\');
            if c == '!' {
                shouts += 1;
                if shouts > 2 || last == Some('!') {
                    let message = "at most two exclamation marks, and not side by side";
                    self.find(Rule::Punct, Severity::Error, span, message);
                }
            } else if c == '\u{d7}' {
                self.find(Rule::Notho, Severity::Error, span, "the hybrid sign is no part of an epithet");
            } else if c == '&' {
                self.find(Rule::Punct, Severity::Error, span, "`&` is spelled out");
                self.fix(crate::names::tidy(&inner.replace('&', " and ")));
            } else if !allowed {
                let message = format!("`{}` is none of the allowed marks ' , . - / \\ !", c.escape_debug());
                self.find(Rule::Punct, Severity::Error, span, &message);
            }
            last = Some(c);
        }
    }

    fn case(&mut self) {
        let inner = self.inner();
        if inner.starts_with(|c: char| c.is_ascii_digit()) {
            return;
        }
        let mut wrong: Vec<(Range<usize>, usize)> = Vec::new();
        let mut from = 0;
        for (number, word) in inner.split(' ').enumerate() {
            let at = from;
            from += word.len() + 1;
            let letters = word.trim_start_matches(|c: char| !c.is_alphanumeric());
            let Some(first) = letters.chars().next() else { continue };
            // `d'Or`, `l'Amour`: the custom of their languages.
            let elided = letters.chars().nth(1).is_some_and(is_apostrophe) && number > 0;
            let small = number > 0 && words::SMALL.contains(&search_key(word).as_str());
            if first.is_lowercase() && !elided && !small {
                let start = at + word.len() - letters.len();
                wrong.push((self.bare.start + at..self.bare.start + at + word.len(), start));
            }
        }
        let Some((first, _)) = wrong.first() else { return };
        let last = wrong.last().map_or(first.end, |(span, _)| span.end);
        let span = first.start..last;
        let mut mended = String::with_capacity(inner.len());
        for (at, c) in inner.char_indices() {
            if wrong.iter().any(|&(_, start)| start == at) {
                mended.extend(c.to_uppercase());
            } else {
                mended.push(c);
            }
        }
        self.find(Rule::Case, Severity::Warning, span, "words of a name begin with a capital");
        self.fix(mended);
    }

    fn latin(&mut self, context: &Context<'_>) {
        let joined = self.joined();
        let usual = words::COMMON_LATIN.contains(&joined.as_str())
            || context.genus.common_latin.iter().any(|usual| search_key(usual) == joined);
        let latin = self.words.iter().all(|word| is_latin(&word.key));
        if latin && !usual && is_since(context.published, 1959) {
            let message = "Latin alone is allowed only if published before 1959 or in common use: for a person to decide";
            self.all(Rule::Latin1959, Severity::Warning, message);
        }
    }

    fn joined(&self) -> String {
        let keys: Vec<&str> = self.words.iter().map(|word| word.key.as_str()).collect();
        keys.join(" ")
    }

    fn barred(&mut self) {
        let mut found = Vec::new();
        for word in &self.words {
            if words::BARRED.contains(&word.key.as_str()) {
                found.push((Severity::Error, word.span.clone()));
            } else if words::BARRED_ELSEWHERE.contains(&word.key.as_str()) {
                found.push((Severity::Warning, word.span.clone()));
            }
        }
        for (severity, span) in found {
            let message =
                format!("`{}` is a word the Code bars", self.text.get(span.clone()).unwrap_or_default());
            self.find(Rule::Banned, severity, span, &message);
        }
    }

    fn merit(&mut self) {
        let superlative = self.words.iter().find(|word| words::SUPERLATIVES.contains(&word.key.as_str()));
        let Some(span) = superlative.map(|word| word.span.clone()) else { return };
        let boasts = self.words.iter().any(|word| words::BOASTS.contains(&word.key.as_str()));
        let bare = match self.words.as_slice() {
            [_] => true,
            [article, _] => words::ARTICLES.contains(&article.key.as_str()),
            _ => false,
        };
        let severity = if boasts || bare { Severity::Error } else { Severity::Warning };
        self.find(Rule::Merit, severity, span, "a name must not exaggerate the merits of its plant");
    }

    fn genus(&mut self, profile: &GenusProfile) {
        let keys: Vec<&str> = self.words.iter().map(|word| word.key.as_str()).collect();
        let mut found: Option<(usize, usize)> = None;
        for name in profile.vernaculars.iter().chain([&profile.genus]) {
            let key = search_key(name);
            let sought: Vec<&str> = key.split(' ').collect();
            let place = keys.windows(sought.len()).position(|window| window == sought.as_slice());
            if let Some(at) = place {
                found = found.max(Some((at, at + sought.len())));
            }
        }
        let Some((from, to)) = found else { return };
        let ends = to == keys.len();
        let (Some(first), Some(last)) = (self.words.get(from), self.words.get(to - 1)) else { return };
        let span = first.span.start..last.span.end;
        let severity = if ends { Severity::Error } else { Severity::Warning };
        self.find(Rule::Genus, severity, span, "the name of the genus within the epithet confuses");
    }

    /// Whether a person seems to be meant: a title, or initials before a word.
    fn persons(&mut self) {
        let titled = self.words.iter().find(|word| words::HONORIFICS.contains(&word.key.as_str()));
        let initial = self.words.windows(2).find_map(|pair| {
            let [first, _] = pair else { return None };
            let after = self.text.get(first.span.end..).unwrap_or_default();
            (first.key.chars().count() == 1 && after.starts_with('.')).then_some(first)
        });
        let Some(word) = titled.or(initial).filter(|_| self.words.len() > 1) else { return };
        let message = "if this is the name of a living person, it needs their consent";
        self.find(Rule::Living, Severity::Warning, word.span.clone(), message);
    }

    fn against(&mut self, taken: &NameIndex) {
        let inner = self.inner().to_owned();
        for near in taken.near(&inner) {
            match near.likeness {
                Likeness::Same => {
                    let message = format!("'{}' is taken", near.name);
                    self.all(Rule::Unique, Severity::Error, &message);
                }
                Likeness::Edits(_) | Likeness::Alike(_) => {
                    let message = format!("close in spelling to '{}'", near.name);
                    self.all(Rule::Near, Severity::Warning, &message);
                }
                Likeness::Sound => {
                    let message = format!("close in sound to '{}'", near.name);
                    self.all(Rule::Near, Severity::Warning, &message);
                }
            }
        }
    }
}

/// Whether a rule in force from the first of January of a year binds a name published then.
fn is_since(published: Option<NaiveDate>, year: i32) -> bool {
    published.is_none_or(|date| NaiveDate::from_ymd_opt(year, 1, 1).is_none_or(|start| date >= start))
}

/// Whether a word looks like Latin. A likeness only: a person decides.
fn is_latin(word: &str) -> bool {
    if words::NOT_LATIN.contains(&word) {
        return false;
    }
    let described = words::LATIN_STEMS
        .iter()
        .filter_map(|stem| word.strip_prefix(stem))
        .any(|ending| words::LATIN_ENDINGS.contains(&ending));
    let placed = word.len() > 8 && ["ica", "icum", "icus"].iter().any(|ending| word.ends_with(ending));
    let compound = words::LATIN_TAILS.iter().any(|tail| word.len() > tail.len() + 1 && word.ends_with(tail));
    described || words::LATIN_WORDS.contains(&word) || placed || compound
}
