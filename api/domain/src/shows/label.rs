//! The number printed beside a class, and its order.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// The number printed beside a class: letters, a number, letters (`106`, `106A`, `A801`).
///
/// Sorted by the letters before, then the number, then the letters after with none first, never as text:
/// a class put in later as `106A` stands between 106 and 107 without renumbering the rest.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct ClassLabel {
    /// Section letters, upper case, often none.
    pub prefix: String,
    /// The number, 1 to 99 999.
    pub number: i32,
    /// Letters of a class put in or split off later, upper case, often none.
    pub suffix: String,
}

/// The text is not a class number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "not a class number: expected up to 3 letters, a number from 1 to 99999, up to 2 letters, such as 12, 106A or A801"
)]
pub struct NotAClassLabel;

impl FromStr for ClassLabel {
    type Err = NotAClassLabel;

    fn from_str(text: &str) -> Result<Self, NotAClassLabel> {
        let text = text.trim().to_ascii_uppercase();
        let digits_from = text.find(|c: char| c.is_ascii_digit()).ok_or(NotAClassLabel)?;
        let (prefix, rest) = text.split_at(digits_from);
        let digits_to = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        let (digits, suffix) = rest.split_at(digits_to);
        let letters =
            |part: &str, most: usize| part.len() <= most && part.chars().all(|c| c.is_ascii_uppercase());
        let number = digits.parse::<i32>().map_err(|_e| NotAClassLabel)?;
        if !letters(prefix, 3) || !letters(suffix, 2) || !(1..=99_999).contains(&number) {
            return Err(NotAClassLabel);
        }
        Ok(Self { prefix: prefix.to_owned(), number, suffix: suffix.to_owned() })
    }
}

impl fmt::Display for ClassLabel {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}{}", self.prefix, self.number, self.suffix)
    }
}

impl ClassLabel {
    /// Text that sorts as the labels do, for databases that only sort text.
    pub fn sort_key(&self) -> String {
        format!("{:<3}{:05}{:<2}", self.prefix, self.number, self.suffix)
    }
}

impl Ord for ClassLabel {
    fn cmp(&self, other: &Self) -> Ordering {
        (&self.prefix, self.number, &self.suffix).cmp(&(&other.prefix, other.number, &other.suffix))
    }
}

impl PartialOrd for ClassLabel {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Serialize for ClassLabel {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for ClassLabel {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = <std::borrow::Cow<'de, str>>::deserialize(from)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

impl utoipa::PartialSchema for ClassLabel {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
        utoipa::openapi::schema::ObjectBuilder::new()
            .schema_type(utoipa::openapi::schema::Type::String)
            .description(Some(
                "The number printed beside a class: up to 3 letters, a number, up to 2 letters.",
            ))
            .examples(["106A"])
            .into()
    }
}

impl utoipa::ToSchema for ClassLabel {
    fn name() -> std::borrow::Cow<'static, str> {
        std::borrow::Cow::Borrowed("ClassLabel")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The order printed schedules use, section letters last (WMG, MAOC and ADS schedules of class numbers
    /// with inserted letters).
    #[test]
    fn labels_sort_as_schedules_print_them() {
        let printed =
            ["1", "2", "9", "10", "10A", "11", "106", "106A", "107", "113A", "A801", "A1001", "B1001"];
        let mut labels: Vec<ClassLabel> = printed.iter().rev().map(|text| text.parse().unwrap()).collect();
        labels.sort();
        let sorted: Vec<String> = labels.iter().map(ToString::to_string).collect();
        assert_eq!(sorted, printed);
        let keys: Vec<String> = labels.iter().map(ClassLabel::sort_key).collect();
        assert!(keys.is_sorted(), "{keys:?}");
    }

    #[test]
    fn what_is_no_label_is_refused() {
        for text in ["", "A", "0", "12-3", "1.5", "ABCD1", "1ABC", "100000", "1 A"] {
            assert_eq!(text.parse::<ClassLabel>(), Err(NotAClassLabel), "{text}");
        }
        assert_eq!("106a".parse::<ClassLabel>().unwrap().to_string(), "106A");
    }
}
