//! Lengths in whole micrometres, limits on them, and money in pence.
//!
//! An inch is 25.4 mm exactly, so that every length a schedule prints, in inches or centimetres, is a whole number
//! of micrometres: 2¼ in is 57 150 µm. A limit has one normative length; the printed words stand beside it.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Sub};
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// A length in whole micrometres.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize, ToSchema,
)]
#[serde(transparent)]
pub struct Micrometres(pub i64);

impl Micrometres {
    /// So many millimetres.
    pub const fn mm(mm: i64) -> Self {
        Self(mm * 1000)
    }
}

/// In millimetres, with decimals only where there are some: `114.3 mm`.
impl fmt::Display for Micrometres {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, part) = (self.0.unsigned_abs() / 1000, self.0.unsigned_abs() % 1000);
        let sign = if self.0 < 0 { "-" } else { "" };
        if part == 0 {
            return write!(f, "{sign}{whole} mm");
        }
        let decimals = format!("{part:03}");
        write!(f, "{sign}{whole}.{} mm", decimals.trim_end_matches('0'))
    }
}

/// The text is not a length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "not a length in whole micrometres: expected a number and mm, cm or in, such as 4½ in, 4 1/2 in or 11.5 cm"
)]
pub struct NotALength;

/// The fractions that have a sign of their own, in sixty-fourths.
const FRACTIONS: [(char, i64); 7] =
    [('½', 32), ('¼', 16), ('¾', 48), ('⅛', 8), ('⅜', 24), ('⅝', 40), ('⅞', 56)];

/// A number as a schedule prints it, as numerator and denominator: `4½`, `4 1/2`, `11.5`, `9`.
fn ratio(text: &str) -> Option<(i64, i64)> {
    let digits = |part: &str| -> Option<i64> {
        let plain = !part.is_empty() && part.len() <= 7 && part.bytes().all(|b| b.is_ascii_digit());
        if plain { part.parse().ok() } else { None }
    };
    if let Some((sign, sixty_fourths)) = FRACTIONS.iter().find(|(sign, _)| text.ends_with(*sign)) {
        let whole = text.trim_end_matches(*sign).trim_end();
        let whole = if whole.is_empty() { 0 } else { digits(whole)? };
        return Some((whole * 64 + sixty_fourths, 64));
    }
    if let Some((left, below)) = text.split_once('/') {
        let below = digits(below.trim()).filter(|&below| below > 0)?;
        let left = left.trim();
        let (whole, above) = left.rsplit_once(' ').unwrap_or(("0", left));
        return Some((digits(whole.trim())? * below + digits(above)?, below));
    }
    if let Some((whole, decimals)) = text.split_once('.') {
        let scale = 10_i64.checked_pow(u32::try_from(decimals.len()).ok().filter(|&places| places <= 6)?)?;
        return Some((digits(whole)? * scale + digits(decimals)?, scale));
    }
    Some((digits(text)?, 1))
}

impl FromStr for Micrometres {
    type Err = NotALength;

    fn from_str(text: &str) -> Result<Self, NotALength> {
        let text = text.trim();
        let units = [
            ("mm", 1000),
            ("cm", 10_000),
            ("inches", 25_400),
            ("inch", 25_400),
            ("in", 25_400),
            ("\"", 25_400),
        ];
        for (unit, micrometres) in units {
            let Some(number) = text.strip_suffix(unit) else { continue };
            let (above, below) = ratio(number.trim()).ok_or(NotALength)?;
            let scaled = above * micrometres;
            return if scaled % below == 0 { Ok(Self(scaled / below)) } else { Err(NotALength) };
        }
        Err(NotALength)
    }
}

/// Every length that a text prints, each with its words: `6 in (150 mm)` holds two.
pub fn lengths_in(text: &str) -> Vec<(String, Micrometres)> {
    let number =
        |c: char| c.is_ascii_digit() || ['.', '/'].contains(&c) || FRACTIONS.iter().any(|f| f.0 == c);
    let letters: Vec<(usize, char)> = text.char_indices().collect();
    let mut found = Vec::new();
    let mut from = 0;
    while let Some(start) = letters.iter().skip(from).position(|&(_, c)| number(c)).map(|at| at + from) {
        let width = |at: usize, fits: &dyn Fn(char) -> bool| {
            letters.iter().skip(at).take_while(|&&(_, c)| fits(c)).count()
        };
        // A number may hold a blank before its fraction: `4 1/2`.
        let mut end = start + width(start, &|c| number(c) || c == ' ');
        let unit = width(end, &|c| c.is_ascii_alphabetic() || c == '"');
        let is_unit = unit > 0;
        end += unit;
        let at = |index: usize| letters.get(index).map_or(text.len(), |&(at, _)| at);
        if let Some(words) = text.get(at(start)..at(end)).filter(|_| is_unit)
            && let Ok(length) = words.parse()
        {
            found.push((words.to_owned(), length));
        }
        from = end.max(start + 1);
    }
    found
}

/// One end of a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Bound {
    /// The length, in micrometres.
    pub um: Micrometres,
    /// Whether the length itself is within: `not exceeding` is, `over` is not.
    pub inclusive: bool,
}

/// Where a length stands to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// Below it.
    Under,
    /// Within it.
    Within,
    /// Above it.
    Over,
}

/// A limit on a length: from, to, or both.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SizeLimit {
    /// The lower end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Bound>,
    /// The upper end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Bound>,
    /// As printed, in inches or centimetres: `not exceeding 4½ in (11 cm)`. The bounds decide.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub words: String,
}

impl SizeLimit {
    /// Not exceeding `um`.
    pub const fn up_to(um: Micrometres) -> Self {
        Self { from: None, to: Some(Bound { um, inclusive: true }), words: String::new() }
    }

    /// Over `um`.
    pub const fn over(um: Micrometres) -> Self {
        Self { from: Some(Bound { um, inclusive: false }), to: None, words: String::new() }
    }

    /// From `from` to `to`, both within.
    pub const fn between(from: Micrometres, to: Micrometres) -> Self {
        Self {
            from: Some(Bound { um: from, inclusive: true }),
            to: Some(Bound { um: to, inclusive: true }),
            words: String::new(),
        }
    }

    /// The limit with its printed words.
    #[must_use]
    pub fn printed(mut self, words: &str) -> Self {
        words.clone_into(&mut self.words);
        self
    }

    /// The bounds without the printed words: what reasons carry by the thousand.
    #[must_use]
    pub const fn unprinted(&self) -> Self {
        Self { from: self.from, to: self.to, words: String::new() }
    }

    /// Where `length` stands, each end given way by `tolerance`.
    pub fn against(&self, length: Micrometres, tolerance: Micrometres) -> Against {
        let under = |bound: Bound| {
            let end = bound.um - tolerance;
            if bound.inclusive { length < end } else { length <= end }
        };
        let over = |bound: Bound| {
            let end = bound.um + tolerance;
            if bound.inclusive { length > end } else { length >= end }
        };
        if self.from.is_some_and(under) {
            Against::Under
        } else if self.to.is_some_and(over) {
            Against::Over
        } else {
            Against::Within
        }
    }

    /// Whether any length at all lies within.
    pub fn is_possible(&self) -> bool {
        match (self.from, self.to) {
            (Some(from), Some(to)) => from.um < to.um || (from.um == to.um && from.inclusive && to.inclusive),
            (None, Some(to)) => to.um > Micrometres(0),
            _ => true,
        }
    }
}

/// In words of the normative length: `more than 127 mm and no more than 152.4 mm`.
impl fmt::Display for SizeLimit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(from) = self.from {
            let word = if from.inclusive { "at least" } else { "more than" };
            write!(f, "{word} {}", from.um)?;
        }
        if let Some(to) = self.to {
            let joint = if self.from.is_some() { " and " } else { "" };
            let word = if to.inclusive { "no more than" } else { "less than" };
            write!(f, "{joint}{word} {}", to.um)?;
        }
        if self.from.is_none() && self.to.is_none() {
            f.write_str("any size")?;
        }
        Ok(())
    }
}

impl Add for Micrometres {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Micrometres {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

/// Money in whole pence.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize, ToSchema,
)]
#[serde(transparent)]
pub struct Pence(pub i64);

impl fmt::Display for Pence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        write!(f, "{sign}£{}.{:02}", self.0.unsigned_abs() / 100, self.0.unsigned_abs() % 100)
    }
}

impl Add for Pence {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sum for Pence {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self(0), Add::add)
    }
}
