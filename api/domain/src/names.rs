//! Names as members type them, and the key by which they are found.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// The key a name is searched and sorted by.
///
/// Compatibility-decomposed, without accents, lower case, every run of other characters a single space:
/// `'Mère  de Ménage'` becomes `mere de menage`. The key holds letters, digits and single spaces alone, so
/// it can stand in a `like` pattern without escaping.
pub fn search_key(name: &str) -> String {
    let mut key = String::with_capacity(name.len());
    for c in name.nfkd().filter(|c| !is_combining_mark(*c)).flat_map(folded) {
        if c.is_alphanumeric() {
            key.push(c);
        } else if is_apostrophe(c) {
            // `Merrow's` is found as `merrows`.
        } else if !key.is_empty() && !key.ends_with(' ') {
            key.push(' ');
        }
    }
    key.truncate(key.trim_end().len());
    key
}

/// Lower case, and the letters that have no decomposition but that nobody types in a search.
fn folded(c: char) -> impl Iterator<Item = char> {
    let plain = match c {
        'ß' | 'ẞ' => "ss",
        'æ' | 'Æ' => "ae",
        'œ' | 'Œ' => "oe",
        'ø' | 'Ø' => "o",
        'ł' | 'Ł' => "l",
        'đ' | 'Đ' | 'ð' | 'Ð' => "d",
        'þ' | 'Þ' => "th",
        _ => "",
    };
    let own = plain.is_empty().then(|| c.to_lowercase()).into_iter().flatten();
    plain.chars().chain(own)
}

fn is_apostrophe(c: char) -> bool {
    matches!(c, '\'' | '\u{2018}' | '\u{2019}' | '\u{02BC}')
}

/// A person's, place's or cultivar's name tidied for keeping: trimmed, inner white space single, without what turns
/// the direction of writing.
pub fn tidy(name: &str) -> String {
    let name: String = name.chars().filter(|c| !turns_writing(*c)).collect();
    name.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Whether a character is seen only in what it does to others: marks, embeddings, overrides and isolates of the
/// direction of writing (UAX #9). With them a name on a card or in a list reads as another, or turns the text around
/// it. Names in scripts written from the right need none: their letters carry the direction.
pub fn turns_writing(c: char) -> bool {
    matches!(c, '\u{200e}' | '\u{200f}' | '\u{61c}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// A person's name as initials: `Wren Fell` becomes `W. F.`, and so does `W. F.`.
pub fn initials(name: &str) -> String {
    let first = |word: &str| word.chars().find(|c| c.is_alphanumeric()).map(|letter| format!("{letter}."));
    name.split_whitespace().filter_map(first).collect::<Vec<_>>().join(" ")
}

/// An e-mail address as the key of an account: trimmed and lower case.
///
/// The local part is case-sensitive on paper and nowhere in practice; two accounts that differ in case alone
/// would be one person locked out.
pub fn email_key(email: &str) -> String {
    email.trim().to_lowercase()
}

/// Whether text can be an e-mail address: one `@`, something before it, a dotted name after it, no spaces.
/// Only delivery proves more.
pub fn is_email(text: &str) -> bool {
    let text = text.trim();
    let Some((local, host)) = text.split_once('@') else { return false };
    !local.is_empty()
        && text.len() <= 254
        && !host.contains('@')
        && host.contains('.')
        && !host.starts_with('.')
        && !host.ends_with('.')
        && !text.chars().any(|c| c.is_whitespace() || c.is_control())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn accents_case_quotes_and_spacing_do_not_matter() {
        for (name, key) in [
            ("Mère de Ménage", "mere de menage"),
            ("  'Harbour   Light' ", "harbour light"),
            ("Merrow’s Pride", "merrows pride"),
            ("H.P. Norton", "h p norton"),
            ("Commander-in-Chief", "commander in chief"),
            ("Größe Ærø", "grosse aero"),
            ("Super 5", "super 5"),
            ("½ Pint", "1 2 pint"),
            ("%_", ""),
        ] {
            assert_eq!(search_key(name), key, "{name}");
        }
    }

    #[test]
    fn a_name_is_kept_without_what_turns_it_round() {
        assert_eq!(tidy("  Harbour\u{202e} \u{2067}Light\u{2069}\u{200f} "), "Harbour Light");
        assert_eq!(tidy("\u{202e}"), "");
        // Hebrew letters, and the joiner that Persian words need, are no such marks.
        assert_eq!(tidy("אור"), "אור");
        assert_eq!(tidy("می\u{200c}خواهم"), "می\u{200c}خواهم");
    }

    #[test]
    fn a_key_is_its_own_key() {
        for name in ["Mère de Ménage", "Irène", "İstanbul", "ǅungla"] {
            let key = search_key(name);
            assert_eq!(search_key(&key), key);
        }
    }

    #[test]
    fn initials_tell_no_more_when_taken_twice() {
        for (name, told) in [
            ("Wren Fell", "W. F."),
            ("  Édda   and Bram (Wick) ", "É. a. B. W."),
            ("W. F.", "W. F."),
            ("", ""),
        ] {
            assert_eq!(initials(name), told);
            assert_eq!(initials(&initials(name)), told);
        }
    }

    #[test]
    fn addresses_are_told_from_other_text() {
        assert!(is_email("una.marsh@merrow.example"));
        for text in ["", "@merrow.example", "una@", "una@merrow", "una marsh@merrow.example", "a@b@c.d"] {
            assert!(!is_email(text), "{text}");
        }
    }
}
