use serde::{Deserialize, Serialize};

/// What a society's genus brings to the rules. A society of another genus has another file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GenusProfile {
    /// The scientific name: `Pelargonium`.
    pub genus: String,
    /// What growers call the genus, in any language, in the singular and plural.
    pub vernaculars: Vec<String>,
    /// Latin words that are in common use here and may be a whole epithet, such as `Aurora Borealis`.
    #[serde(default)]
    pub common_latin: Vec<String>,
    /// The most seeds one floret can hold.
    pub ovules: u32,
}

impl GenusProfile {
    /// Whether a word stands for the genus: its name, or its first letter and a full stop.
    pub(super) fn is_named(&self, word: &str) -> bool {
        let mut letters = word.chars();
        let abbreviated =
            letters.next().is_some_and(|c| self.genus.starts_with(c)) && letters.as_str() == ".";
        abbreviated || word.to_lowercase() == self.genus.to_lowercase()
    }
}
