//! Taking a written name apart. Nothing is refused: what cannot be placed is reported.

use unicode_normalization::UnicodeNormalization;

use super::genus::GenusProfile;
use super::rules::{Finding, Rule, Severity};
use super::words;
use super::write::{Style, format};

/// A rank below the species.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rank {
    Subspecies,
    Variety,
    Form,
}

impl Rank {
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Subspecies => "subsp.",
            Self::Variety => "var.",
            Self::Form => "f.",
        }
    }

    fn read(word: &str) -> Option<Self> {
        match word {
            "subsp." | "ssp." | "subsp" | "ssp" => Some(Self::Subspecies),
            "var." | "var" => Some(Self::Variety),
            "f." | "forma" => Some(Self::Form),
            _ => None,
        }
    }
}

/// A name below the species.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Infraspecific {
    pub rank: Rank,
    pub epithet: String,
}

/// The parts of a name; each may be missing.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PlantName {
    pub hybrid_genus: bool,
    pub genus: Option<String>,
    pub hybrid_species: bool,
    pub species: Option<String>,
    pub infraspecific: Vec<Infraspecific>,
    pub grex: Option<String>,
    /// Without the word Group.
    pub group: Option<String>,
    /// Without quotation marks.
    pub epithet: Option<String>,
    /// In capitals; not a name under the Code.
    pub trade_designation: Option<String>,
    /// The other parents of a formula, the seed parent being the name itself. They have none of their own.
    pub crossed_with: Vec<PlantName>,
}

/// The marks that stood about the epithet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QuotesSeen {
    None,
    Single,
    Double,
}

/// A name, and what was odd about how it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ParsedName {
    pub name: PlantName,
    pub quotes_seen: QuotesSeen,
    /// Warnings, and what was assumed; their places are in the text as given.
    pub findings: Vec<Finding>,
}

/// A word and where it stood.
#[derive(Debug, Clone)]
struct Token {
    text: String,
    start: usize,
    end: usize,
}

/// Reads a name. With the society's own genus in hand (`home`) words that are not evidently a genus belong to
/// the epithet; without it a capital followed by a small Latin word is taken for genus and species.
pub fn parse(text: &str, home: Option<&GenusProfile>) -> ParsedName {
    let tokens = tokens(text);
    let parts = crossed(&tokens);
    let is_formula = parts.len() > 1;
    let mut quotes_seen = QuotesSeen::None;
    let mut findings = Vec::new();
    let mut names = Vec::with_capacity(parts.len());
    for part in parts {
        let mut reader = Reader {
            tokens: part,
            home,
            is_formula,
            name: PlantName::default(),
            quotes: QuotesSeen::None,
            findings: Vec::new(),
        };
        reader.read();
        findings.append(&mut reader.findings);
        if quotes_seen == QuotesSeen::None || reader.quotes == QuotesSeen::Double {
            quotes_seen = reader.quotes;
        }
        join(&mut names, reader.name);
    }
    if names.len() > 1 {
        findings.push(Finding {
            rule: Rule::SeedParent,
            severity: Severity::Info,
            span: 0..text.len(),
            message: "the first of a cross is taken for the seed parent".to_owned(),
            fix: None,
        });
    }
    let mut names = names.into_iter();
    let mut name = names.next().unwrap_or_default();
    name.crossed_with = names.collect();
    if name.crossed_with.is_empty() && name.genus.is_none() {
        // A cross with nothing: a lone small word is no species then.
        name.epithet = name.epithet.or(name.species.take());
    }
    ParsedName { name, quotes_seen, findings }
}

/// Adds a parent of a formula. A genus alone and a species alone with a sign between are a hybrid species.
fn join(names: &mut Vec<PlantName>, name: PlantName) {
    let species = PlantName { species: name.species.clone(), ..PlantName::default() } == name;
    if name == PlantName::default() {
        return;
    }
    if let Some(last) = names.last_mut().filter(|_| species) {
        let genus =
            PlantName { genus: last.genus.clone(), hybrid_genus: last.hybrid_genus, ..PlantName::default() };
        if *last == genus {
            last.species = name.species;
            last.hybrid_species = true;
            return;
        }
    }
    names.push(name);
}

/// Words as they stand, composed; control characters separate like spaces.
fn tokens(text: &str) -> Vec<Token> {
    let mut tokens: Vec<Token> = Vec::new();
    let mut start: Option<usize> = None;
    for (at, c) in text.char_indices().chain([(text.len(), ' ')]) {
        if c.is_whitespace() || c.is_control() {
            if let Some(from) = start.take() {
                let word: String = text.get(from..at).unwrap_or_default().nfc().collect();
                tokens.push(Token { text: word, start: from, end: at });
            }
        } else if start.is_none() {
            start = Some(at);
        }
    }
    tokens
}

/// The parts of a formula: split at signs that stand alone outside quotation marks, unless the sign makes a
/// hybrid species of the words around it.
fn crossed(tokens: &[Token]) -> Vec<&[Token]> {
    let mut parts = Vec::new();
    let mut from = 0;
    let mut quoted = false;
    for (at, token) in tokens.iter().enumerate() {
        let (opens, closes) = (starts_quoted(&token.text), ends_quoted(&token.text));
        if !quoted && is_sign(&token.text) {
            let before = tokens.get(from..at).unwrap_or_default();
            let after = tokens.get(at + 1);
            let is_species = matches!(before, [genus] if is_capitalised(&genus.text))
                && after.is_some_and(|word| is_latin_word(&word.text));
            if !before.is_empty() && after.is_some() && !is_species {
                parts.push(before);
                from = at + 1;
            }
        }
        quoted = (quoted || opens) && !closes;
    }
    parts.push(tokens.get(from..).unwrap_or_default());
    parts
}

struct Reader<'a> {
    tokens: &'a [Token],
    home: Option<&'a GenusProfile>,
    is_formula: bool,
    name: PlantName,
    quotes: QuotesSeen,
    findings: Vec<Finding>,
}

impl<'a> Reader<'a> {
    fn read(&mut self) {
        if self.is_formula
            && let [only] = self.tokens
            && is_latin_word(&only.text)
        {
            self.name.species = Some(only.text.clone());
            return;
        }
        let mut at = self.genus();
        if self.name.genus.is_some() {
            at = self.species(at);
            if self.name.species.is_some() {
                at = self.ranks(at);
            }
        }
        let left = self.cultivated(at);
        self.settle(&left);
        self.unread_genus();
    }

    /// What showed a genus may have held no name after all (`Merrow ""`): then all that was read is an epithet.
    fn unread_genus(&mut self) {
        let Some(genus) = &self.name.genus else { return };
        let name = &self.name;
        let is_home = self.home.is_some_and(|home| home.is_named(genus));
        let shown = if self.home.is_some() {
            name.epithet.is_some() || name.hybrid_genus || name.hybrid_species
        } else {
            *name != PlantName { genus: Some(genus.clone()), ..PlantName::default() }
        };
        if !is_home && !shown {
            self.name = PlantName { epithet: cleaned(&format(name, Style::Text)), ..PlantName::default() };
        }
    }

    fn word(&self, at: usize) -> &'a str {
        self.tokens.get(at).map_or("", |token| token.text.as_str())
    }

    /// Reads a genus if one stands at the head, and gives the place after it.
    fn genus(&mut self) -> usize {
        let first = self.word(0);
        let (signed, word, after) = if is_sign(first) && is_capitalised(self.word(1)) {
            (true, self.word(1), 2)
        } else if let Some(word) = first.strip_prefix('\u{d7}').filter(|word| is_capitalised(word)) {
            (true, word, 1)
        } else {
            (false, first, 1)
        };
        let is_home = self.home.is_some_and(|home| home.is_named(word));
        let abbreviated = word.chars().count() == 2 && word.ends_with('.') && is_capitalised(word);
        let can_be = is_home || (is_name_word(word) && !is_trade(word)) || abbreviated;
        if !can_be || !(is_home || signed || self.shows_genus(after)) {
            return 0;
        }
        if signed && is_sign(first) {
            self.sign_typed(0);
        }
        self.name.hybrid_genus = signed;
        let spelled_out = is_home && !word.ends_with('.');
        self.name.genus = Some(
            self.home.filter(|_| spelled_out).map_or_else(|| word.to_owned(), |home| home.genus.clone()),
        );
        after
    }

    /// Whether what follows shows that the first word was a genus.
    fn shows_genus(&self, from: usize) -> bool {
        let mut at = from;
        let mut species = false;
        loop {
            let word = self.word(at);
            if is_sign(word) && is_latin_word(self.word(at + 1)) || word.starts_with('\u{d7}') {
                return true;
            }
            if is_latin_word(word) || species && Rank::read(word).is_some() {
                species = true;
                at += 1;
            } else if let Some(end) = self.parenthesis(at) {
                species = true;
                at = end;
            } else {
                break;
            }
        }
        let word = self.word(at);
        if starts_quoted(word) || self.is_equated(at) {
            return true;
        }
        let rest = self.tokens.get(from..).unwrap_or_default();
        let quote = rest.iter().position(|token| starts_quoted(&token.text));
        let unquoted = rest.get(..quote.unwrap_or(rest.len())).unwrap_or_default().iter().skip(1);
        if self.home.is_some() {
            return quote.is_some() && unquoted.clone().any(|token| is_grex(&token.text));
        }
        let marked = unquoted.clone().any(|token| is_group(&token.text) || is_grex(&token.text));
        species || is_trade(word) || marked
    }

    /// The place after a Group in parentheses that starts here.
    fn parenthesis(&self, at: usize) -> Option<usize> {
        if !self.word(at).starts_with('(') {
            return None;
        }
        let end = (at..self.tokens.len()).find(|&end| self.word(end).ends_with(')'))?;
        is_group(self.word(end).trim_end_matches(')')).then_some(end + 1)
    }

    fn species(&mut self, at: usize) -> usize {
        let word = self.word(at);
        if is_sign(word) && is_latin_word(self.word(at + 1)) {
            if word != "\u{d7}" {
                self.sign_typed(at);
            }
            self.name.hybrid_species = true;
            self.name.species = Some(self.word(at + 1).to_owned());
            at + 2
        } else if let Some(word) = word.strip_prefix('\u{d7}').filter(|word| is_latin_word(word)) {
            self.name.hybrid_species = true;
            self.name.species = Some(word.to_owned());
            at + 1
        } else if is_latin_word(word) {
            self.name.species = Some(word.to_owned());
            at + 1
        } else {
            at
        }
    }

    fn ranks(&mut self, mut at: usize) -> usize {
        while let Some(rank) = Rank::read(self.word(at)).filter(|_| is_latin_word(self.word(at + 1))) {
            self.name.infraspecific.push(Infraspecific { rank, epithet: self.word(at + 1).to_owned() });
            at += 2;
        }
        at
    }

    /// Reads grex, Group, epithet and trade designation, and gives the places of words that are none of these.
    fn cultivated(&mut self, mut at: usize) -> Vec<usize> {
        let mut left: Vec<usize> = Vec::new();
        let mut trade: Vec<String> = Vec::new();
        while at < self.tokens.len() {
            let word = self.word(at);
            if word == "=" {
                at += 1;
            } else if let Some(end) = self.parenthesis(at).filter(|_| self.name.group.is_none()) {
                let inner: Vec<&str> =
                    (at..end - 1).map(|at| self.word(at).trim_start_matches('(')).collect();
                self.name.group = cleaned(&inner.join(" "));
                at = end;
            } else if starts_quoted(word)
                || word.starts_with('(') && starts_quoted(word.trim_start_matches('('))
            {
                at = self.quoted(at, &mut left);
            } else if let Some((end, marker)) = self.marked(at) {
                let named: Vec<&str> = (at..end).map(|at| self.word(at)).collect();
                let found = cleaned(&named.join(" "));
                if !matches!(self.word(marker), "Group" | "grex") {
                    self.report(Rule::Group, marker, marker + 1, "`Group` and `grex` are written in full");
                }
                if is_grex(self.word(marker)) {
                    self.name.grex = found;
                } else {
                    self.name.group = found;
                }
                at = marker + 1;
            } else if self.is_trade_here(at) {
                trade.push(word.trim_end_matches(['\u{ae}', '\u{2122}']).to_owned());
                at += 1;
            } else if matches!(word.to_lowercase().as_str(), "cv." | "cv" | "var.") {
                self.report(Rule::Quotes, at, at + 1, "the mark of a cultivar is single quotation marks");
                at += 1;
            } else {
                left.push(at);
                at += 1;
            }
        }
        self.name.trade_designation = Some(trade.join(" ")).filter(|trade| !trade.is_empty());
        left
    }

    /// Whether capitals here are a trade designation: after a genus, or before `=`.
    fn is_trade_here(&self, at: usize) -> bool {
        let word = self.word(at);
        let registered = word.ends_with(['\u{ae}', '\u{2122}']);
        let bare = word.trim_end_matches(['\u{ae}', '\u{2122}']);
        is_trade(bare) && (registered || self.is_equated(at) || self.name.genus.is_some())
    }

    /// Whether capitals here stand before `=`.
    fn is_equated(&self, at: usize) -> bool {
        let last = (at..self.tokens.len()).take_while(|&at| is_trade(self.word(at))).last();
        last.is_some_and(|last| self.word(last + 1) == "=")
    }

    /// Capitalised words up to `Group` or `grex`: the place of that mark, and where the words end. Without a
    /// genus before them only one word is taken for certain.
    fn marked(&self, at: usize) -> Option<(usize, usize)> {
        let marker =
            (at..self.tokens.len()).find(|&at| !is_capitalised(self.word(at)) || is_group(self.word(at)))?;
        let word = self.word(marker);
        let free =
            (is_group(word) && self.name.group.is_none()) || (is_grex(word) && self.name.grex.is_none());
        let taken = marker - at;
        let known = self.home.is_some() && is_group(word);
        let certain = self.name.genus.is_some() || known || taken == 1;
        let is_home = |word: &str| self.home.is_some_and(|home| home.is_named(word));
        let plain = (at..marker).map(|at| self.word(at)).all(|word| is_name_word(word) && !is_home(word));
        (free && taken > 0 && certain && plain).then_some((marker, marker))
    }

    /// Reads an epithet in quotation marks from here on, and gives the place after it.
    fn quoted(&mut self, at: usize, left: &mut Vec<usize>) -> usize {
        let closes = |at: usize| ends_quoted(self.word(at));
        let last = self.tokens.len() - 1;
        let mut end = (at..=last).find(|&place| closes(place) && (place > at || is_closed(self.word(place))));
        if let Some(first) = end {
            for place in first + 1..=last {
                let word = self.word(place);
                if starts_quoted(word) || word.starts_with('(') || word == "=" {
                    break;
                }
                if closes(place) {
                    end = Some(place);
                }
            }
        }
        let end = end.unwrap_or(last);
        if self.name.epithet.is_some() {
            left.extend(at..=end);
            return end + 1;
        }
        let words: Vec<&str> = (at..=end).map(|at| self.word(at)).collect();
        let text = words.join(" ");
        let opening = text.trim_start_matches('(').chars().next();
        if opening.is_some_and(is_double_quote) {
            self.quotes = QuotesSeen::Double;
            self.report(Rule::Quotes, at, end + 1, "an epithet stands in single quotation marks");
        } else {
            self.quotes = QuotesSeen::Single;
        }
        self.name.epithet = cleaned(&text);
        end + 1
    }

    /// Words that were none of the parts are the epithet, unless there is one.
    fn settle(&mut self, left: &[usize]) {
        if self.name.genus.is_none() && self.name.epithet.is_none() && left.is_empty() {
            // Capitals alone are a name nobody has marked.
            self.name.epithet = self.name.trade_designation.take();
        }
        let Some((&first, &last)) = left.first().zip(left.last()) else { return };
        if self.name.epithet.is_some() {
            self.report(Rule::Unread, first, last + 1, "these words are no part of a name");
            return;
        }
        let words: Vec<&str> = left.iter().map(|&at| self.word(at)).collect();
        self.name.epithet = cleaned(&words.join(" "));
        if self.name.epithet.is_some() {
            self.report(Rule::Quotes, first, last + 1, "an epithet stands in single quotation marks");
        }
        if self.name.genus.is_none() && self.name.epithet.is_none() {
            self.name.epithet = self.name.trade_designation.take();
        }
    }

    fn sign_typed(&mut self, at: usize) {
        if self.word(at) != "\u{d7}" {
            self.report(Rule::Notho, at, at + 1, "the hybrid sign is \u{d7}, not the letter x");
        }
    }

    fn report(&mut self, rule: Rule, from: usize, to: usize, message: &str) {
        let start = self.tokens.get(from).map_or(0, |token| token.start);
        let end = to.checked_sub(1).and_then(|last| self.tokens.get(last)).map_or(start, |token| token.end);
        let message = message.to_owned();
        self.findings.push(Finding {
            rule,
            severity: Severity::Warning,
            span: start..end,
            message,
            fix: None,
        });
    }
}

/// An epithet without the marks about it and without signs that are none of a name's.
fn cleaned(text: &str) -> Option<String> {
    let kept: String = text
        .chars()
        .filter(|&c| !is_double_quote(c) && !matches!(c, '(' | ')' | '=' | '\u{d7}' | '\u{ae}' | '\u{2122}'))
        .collect();
    let mut words: Vec<&str> = Vec::new();
    let mut closed = false;
    for word in kept.split_whitespace() {
        // After an apostrophe at the end of a word another mark, or an x, would read as a new name.
        let word = if closed { word.trim_start_matches(is_quote) } else { word };
        closed |= ends_quoted(word);
        if word.is_empty() || closed && is_sign(word) {
            continue;
        }
        words.push(word);
    }
    let joined = words.join(" ");
    let bare =
        joined.trim_matches(|c: char| is_single_quote(c) || c.is_whitespace() || matches!(c, ',' | ';'));
    Some(bare.to_owned()).filter(|bare| !bare.is_empty())
}

pub(super) const fn is_single_quote(c: char) -> bool {
    matches!(c, '\'' | '\u{2018}' | '\u{2019}' | '\u{201a}' | '\u{201b}' | '`' | '\u{b4}')
}

pub(super) const fn is_double_quote(c: char) -> bool {
    matches!(c, '"' | '\u{201c}' | '\u{201d}' | '\u{201e}' | '\u{201f}' | '\u{ab}' | '\u{bb}')
}

fn is_quote(c: char) -> bool {
    is_single_quote(c) || is_double_quote(c)
}

fn starts_quoted(word: &str) -> bool {
    word.starts_with(is_quote)
}

/// Whether a mark ends a word, a comma or bracket after it aside.
fn ends_quoted(word: &str) -> bool {
    word.trim_end_matches([')', ',', ';']).ends_with(is_quote)
}

/// Whether one word both opens and closes.
fn is_closed(word: &str) -> bool {
    word.chars().filter(|&c| is_quote(c)).count() > 1
}

fn is_sign(word: &str) -> bool {
    word == "\u{d7}" || word == "x"
}

fn is_capitalised(word: &str) -> bool {
    word.starts_with(char::is_uppercase)
}

/// A capitalised word of letters and hyphens.
pub(super) fn is_name_word(word: &str) -> bool {
    is_capitalised(word) && word.chars().all(|c| c.is_alphabetic() || c == '-') && !is_group(word)
}

/// A word that can be a Latin epithet: small plain letters.
fn is_latin_word(word: &str) -> bool {
    let plain = word.len() > 2 && word.bytes().all(|b| b.is_ascii_lowercase() || b == b'-');
    plain && !words::SMALL.contains(&word) && Rank::read(word).is_none() && !is_grex(word) && word != "group"
}

fn is_group(word: &str) -> bool {
    matches!(word, "Group" | "Gp" | "Gp.")
}

fn is_grex(word: &str) -> bool {
    matches!(word, "grex" | "gx" | "gx.")
}

/// Capitals, at least two.
fn is_trade(word: &str) -> bool {
    word.chars().filter(|c| c.is_uppercase()).count() > 1
        && word.chars().all(|c| c.is_uppercase() || c.is_ascii_digit() || c == '-')
}
