//! What may become a password: the one check that every road to one goes through.

use storksbill_domain::names;
use zxcvbn::{Score, zxcvbn};

use crate::http::json::Findings;
use crate::http::problem::{FieldError, Problem};

/// Fewest characters of a password: length is what makes it hard to guess (common practice).
pub const PASSWORD_LEAST: usize = 12;
const PASSWORD_MOST: usize = 200;

/// A password that was checked. There is no other way to one, and nothing else is hashed.
pub struct NewPassword(String);

impl std::fmt::Debug for NewPassword {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("NewPassword(..)")
    }
}

impl NewPassword {
    /// `password` as it came in the field at `pointer`, for somebody of whom everybody knows what is in `about`: the
    /// name and e-mail address, and the society's name.
    ///
    /// # Errors
    /// What keeps it from being one.
    pub fn of(pointer: &str, password: String, about: &[&str]) -> Result<Self, Problem> {
        match fault(&password, about) {
            None => Ok(Self(password)),
            Some((code, detail)) => Err(Problem::field(pointer, code, detail)),
        }
    }

    pub(super) fn text(&self) -> &str {
        &self.0
    }
}

/// Notes what keeps `password` from being one, beside what else is wrong with a body.
pub(super) fn check_password(found: &mut Findings, pointer: &str, password: &str, about: &[&str]) {
    if let Some((code, detail)) = fault(password, about) {
        found.add(pointer, code, detail);
    }
}

fn fault(password: &str, about: &[&str]) -> Option<(&'static str, String)> {
    let length = password.chars().count();
    if length < PASSWORD_LEAST {
        let detail = format!("needs at least {PASSWORD_LEAST} characters; a few unrelated words are good");
        return Some(("too-short", detail));
    }
    if length > PASSWORD_MOST {
        return Some(("too-long", format!("takes at most {PASSWORD_MOST} characters")));
    }
    is_guessable(password, about).then(|| {
        (
            "too-common",
            "is among the first that anybody would try: not a common password, a row of the same or neighbouring \
             characters, your name or e-mail address, or the society's name; a few unrelated words are good"
                .to_owned(),
        )
    })
}

/// Whether it is among the first hundred million that would be tried (Wheeler 2016, "zxcvbn: low-budget password
/// strength estimation": lists of common passwords, names and words, repeats, sequences, dates, keys side by side).
fn is_guessable(password: &str, about: &[&str]) -> bool {
    let known: Vec<String> = about.iter().flat_map(|text| forms(text)).collect();
    // A name with a year behind it: what is left beside what everybody knows is too little.
    let mut rest = password.to_lowercase();
    let mut longest_first: Vec<&String> = known.iter().collect();
    longest_first.sort_by_key(|form| std::cmp::Reverse(form.len()));
    for form in longest_first {
        rest = rest.replace(form.as_str(), "");
    }
    let left = |text: &str| text.chars().filter(|c| c.is_alphanumeric()).count();
    if left(&rest) < left(password) && left(&rest) < 8 {
        return true;
    }
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    zxcvbn(password, &known).score() < Score::Three
}

/// What somebody makes of a name: whole, without its gaps, and word by word.
fn forms(text: &str) -> Vec<String> {
    let key = names::search_key(text);
    let words: Vec<String> = key
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| word.chars().count() > 2)
        .map(str::to_owned)
        .collect();
    let squeezed = key.chars().filter(|c| c.is_alphanumeric()).collect();
    [key, squeezed, text.trim().to_lowercase()]
        .into_iter()
        .chain(words)
        .filter(|form| !form.is_empty())
        .collect()
}

/// The problem of a password for the command line, in one line.
pub(crate) fn line(problem: &Problem) -> String {
    match problem.errors() {
        [FieldError { detail, .. }, ..] => format!("the password {detail}"),
        [] => problem.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ABOUT: [&str; 3] = ["una.marsh@merrow.example", "Una Marsh", "The Merrow Pelargonium Society"];

    fn refused(password: &str) -> Option<&'static str> {
        fault(password, &ABOUT).map(|(code, _)| code)
    }

    #[test]
    fn what_anybody_would_try_first_is_refused() {
        for password in [
            "aaaaaaaaaaaa",
            "abcabcabcabc",
            "abcdefghijklm",
            "1234567890123",
            "qwertyuiop123",
            "password1234",
            "Password1234!",
            "iloveyou1234",
            "una.marsh@merrow.example",
            "UNA.MARSH@merrow.example",
            "una.marsh@merrow.example1",
            "una marsh una marsh",
            "UnaMarsh2026",
            "marshuna1234",
            "The Merrow Pelargonium Society",
            "themerrowpelargoniumsociety",
            "MerrowPelargoniumSociety1",
        ] {
            assert_eq!(refused(password), Some("too-common"), "{password}");
        }
    }

    #[test]
    fn a_few_unrelated_words_are_taken() {
        for password in [
            "nine small red pots",
            "ten small red pots",
            "somebody else's own",
            "a new and longer password",
            "kettle gravel ninety",
            "xK7#qLp9!vRz",
        ] {
            assert_eq!(refused(password), None, "{password}");
        }
    }

    #[test]
    fn length_is_bounded() {
        assert_eq!(refused("eleven char"), Some("too-short"));
        assert_eq!(refused(&"pots and kettles ".repeat(12)), Some("too-long"));
    }
}
