//! Exact shares and ratios.

use std::fmt;

/// A fraction from 0 to 1, in lowest terms.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fraction {
    numerator: u64,
    denominator: u64,
}

impl Fraction {
    pub const ZERO: Self = Self { numerator: 0, denominator: 1 };
    pub const ONE: Self = Self { numerator: 1, denominator: 1 };

    /// `None` above 1 and with the denominator 0.
    pub fn new(numerator: u64, denominator: u64) -> Option<Self> {
        if denominator == 0 || numerator > denominator {
            return None;
        }
        let common = gcd(u128::from(numerator), u128::from(denominator));
        let common = u64::try_from(common).ok()?;
        Some(Self { numerator: numerator / common, denominator: denominator / common })
    }

    pub const fn numerator(self) -> u64 {
        self.numerator
    }

    pub const fn denominator(self) -> u64 {
        self.denominator
    }

    pub fn as_f64(self) -> f64 {
        self.numerator as f64 / self.denominator as f64
    }
}

impl fmt::Display for Fraction {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.numerator, self.denominator)
    }
}

/// The parts of a whole, such as 9:3:3:1, in lowest terms. At least one part is positive.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ratio {
    parts: Vec<u128>,
    whole: u128,
}

impl Ratio {
    /// `None` when every part is 0 or their sum is past 128 bits.
    pub fn new(parts: &[u128]) -> Option<Self> {
        let whole = parts.iter().try_fold(0u128, |sum, &part| sum.checked_add(part))?;
        let common = parts.iter().fold(0, |common, &part| gcd(common, part));
        if common == 0 {
            return None;
        }
        Some(Self { parts: parts.iter().map(|part| part / common).collect(), whole: whole / common })
    }

    pub fn parts(&self) -> &[u128] {
        &self.parts
    }

    /// The sum of the parts.
    pub fn whole(&self) -> u128 {
        self.whole
    }

    /// Each part over the whole, as close as a float comes.
    pub fn shares(&self) -> Vec<f64> {
        self.parts.iter().map(|&part| part as f64 / self.whole as f64).collect()
    }
}

impl fmt::Display for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (at, part) in self.parts.iter().enumerate() {
            write!(f, "{}{part}", if at == 0 { "" } else { ":" })?;
        }
        Ok(())
    }
}

pub(crate) fn gcd(mut a: u128, mut b: u128) -> u128 {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a
}
