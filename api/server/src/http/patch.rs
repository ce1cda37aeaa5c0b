//! Edits with three states: a field that is absent stays, null clears, a value replaces (RFC 7396).

use serde::{Deserialize, Deserializer};

/// What an edit says of one field. Give the field `#[serde(default)]` and `#[schema(value_type = Option<T>)]`.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum Patch<T> {
    /// Not mentioned: leave it.
    #[default]
    Absent,
    /// Clear it.
    Null,
    /// Replace it.
    Value(T),
}

impl<T> Patch<T> {
    /// The new value, if there is one.
    pub fn value(&self) -> Option<&T> {
        match self {
            Self::Value(value) => Some(value),
            Self::Absent | Self::Null => None,
        }
    }

    /// Applies the edit to a field that may be empty.
    pub fn apply(self, field: &mut Option<T>) {
        match self {
            Self::Absent => {}
            Self::Null => *field = None,
            Self::Value(value) => *field = Some(value),
        }
    }

    /// Turns a value into another kind of value.
    pub fn map<U>(self, change: impl FnOnce(T) -> U) -> Patch<U> {
        match self {
            Self::Absent => Patch::Absent,
            Self::Null => Patch::Null,
            Self::Value(value) => Patch::Value(change(value)),
        }
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Patch<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Ok(Option::<T>::deserialize(from)?.map_or(Self::Null, Self::Value))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    #[derive(Debug, Deserialize)]
    struct Edit {
        #[serde(default)]
        note: Patch<String>,
    }

    #[test]
    fn absent_null_and_value_are_told_apart() {
        for (body, before, after) in [
            ("{}", Some("old"), Some("old")),
            (r#"{"note":null}"#, Some("old"), None),
            (r#"{"note":"new"}"#, Some("old"), Some("new")),
            (r#"{"note":"new"}"#, None, Some("new")),
        ] {
            let edit: Edit = serde_json::from_str(body).unwrap();
            let mut field = before.map(str::to_owned);
            edit.note.apply(&mut field);
            assert_eq!(field.as_deref(), after, "{body}");
        }
    }
}
