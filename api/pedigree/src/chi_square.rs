//! Counts against a ratio: Pearson's chi-square and the likelihood ratio G, alone and over families.
//!
//! ```text
//! chi-square = sum (count - expected)^2 / expected          G = 2 sum count ln(count / expected)
//! families:   sum over families = pooled + heterogeneity    degrees of freedom likewise
//! ```
//!
//! A class the ratio excludes (part 0) is left out while nothing was counted in it; one seedling in it makes
//! the statistic infinite and `p = 0`.
//!
//! Sources: K. Pearson, Philosophical Magazine 50, 1900, 157-175; R. A. Fisher, "Has Mendel's work been
//! rediscovered?", Annals of Science 1, 1936, 115-137 (heterogeneity over families).

use storksbill_numerics::gamma::gamma_upper;

use crate::ratio::Ratio;

/// A statistic that is chi-square distributed where the ratio holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChiSquare {
    pub statistic: f64,
    /// Degrees of freedom.
    pub freedom: u32,
    /// The chance of as large a statistic where the ratio holds.
    pub p: f64,
}

impl ChiSquare {
    pub(crate) fn new(statistic: f64, freedom: u32) -> Self {
        let statistic = statistic.max(0.0);
        Self { statistic, freedom, p: survival(statistic, freedom) }
    }
}

/// Why counts and a ratio cannot be compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Mismatch {
    /// The counts have another number of classes than the ratio.
    #[error("there are counts of {counts} classes and a ratio of {ratio}")]
    Classes { counts: usize, ratio: usize },
    /// Nothing was counted.
    #[error("nothing was counted")]
    Nothing,
    /// There is no family.
    #[error("there is no family")]
    NoFamily,
}

/// `P(X >= x)` for chi-square; with no degree of freedom 1 up to 0 and 0 above.
pub fn survival(x: f64, freedom: u32) -> f64 {
    if freedom == 0 {
        return if x > 0.0 { 0.0 } else { 1.0 };
    }
    gamma_upper(0.5 * f64::from(freedom), 0.5 * x)
}

/// The `x` with `survival(x, freedom) = p`; not a number unless `0 < p < 1` and `freedom > 0`.
pub fn critical(p: f64, freedom: u32) -> f64 {
    if !(p > 0.0 && p < 1.0) || freedom == 0 {
        return f64::NAN;
    }
    let (mut low, mut high) = (0.0, 1.0);
    while survival(high, freedom) > p {
        low = high;
        high *= 2.0;
    }
    loop {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            return middle;
        }
        if survival(middle, freedom) > p {
            low = middle;
        } else {
            high = middle;
        }
    }
}

/// Pearson's statistic.
///
/// # Errors
///
/// [`Mismatch`].
pub fn pearson(counts: &[u64], ratio: &Ratio) -> Result<ChiSquare, Mismatch> {
    statistic(counts, ratio, |count, expected| (count - expected).powi(2) / expected)
}

/// The likelihood-ratio statistic G.
///
/// # Errors
///
/// [`Mismatch`].
pub fn likelihood_ratio(counts: &[u64], ratio: &Ratio) -> Result<ChiSquare, Mismatch> {
    statistic(
        counts,
        ratio,
        |count, expected| {
            if count > 0.0 { 2.0 * count * (count / expected).ln() } else { 0.0 }
        },
    )
}

/// How many of each class the ratio would give.
///
/// # Errors
///
/// [`Mismatch`].
pub fn expected(counts: &[u64], ratio: &Ratio) -> Result<Vec<f64>, Mismatch> {
    if counts.len() != ratio.parts().len() {
        return Err(Mismatch::Classes { counts: counts.len(), ratio: ratio.parts().len() });
    }
    let all: u128 = counts.iter().copied().map(u128::from).sum();
    if all == 0 {
        return Err(Mismatch::Nothing);
    }
    Ok(ratio.shares().into_iter().map(|share| share * all as f64).collect())
}

fn statistic(counts: &[u64], ratio: &Ratio, term: impl Fn(f64, f64) -> f64) -> Result<ChiSquare, Mismatch> {
    let expected = expected(counts, ratio)?;
    let mut sum = 0.0;
    let mut classes = 0u32;
    for (&count, &expected) in counts.iter().zip(&expected) {
        if expected > 0.0 {
            sum += term(count as f64, expected);
        } else if count > 0 {
            sum = f64::INFINITY;
        }
        classes += u32::from(expected > 0.0 || count > 0);
    }
    Ok(ChiSquare::new(sum, classes - 1))
}

/// Families of one expectation: whether they fit, and whether they differ from each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Families {
    /// Pearson's statistic of each family.
    pub each: Vec<ChiSquare>,
    /// Their sum.
    pub sum: ChiSquare,
    /// All seedlings as one family.
    pub pooled: ChiSquare,
    /// What is left: differences between families. A small `p` means they should not be pooled.
    pub heterogeneity: ChiSquare,
}

/// Splits Pearson's statistic over families into fit and heterogeneity.
///
/// # Errors
///
/// [`Mismatch`], of any family.
pub fn families(counts: &[Vec<u64>], ratio: &Ratio) -> Result<Families, Mismatch> {
    let each = counts.iter().map(|family| pearson(family, ratio)).collect::<Result<Vec<_>, _>>()?;
    let mut all = vec![0u64; ratio.parts().len()];
    for family in counts {
        for (sum, count) in all.iter_mut().zip(family) {
            *sum = sum.saturating_add(*count);
        }
    }
    if each.is_empty() {
        return Err(Mismatch::NoFamily);
    }
    let pooled = pearson(&all, ratio)?;
    let statistic = each.iter().map(|family| family.statistic).sum();
    let sum = ChiSquare::new(statistic, each.iter().map(|family| family.freedom).sum());
    let freedom = sum.freedom.saturating_sub(pooled.freedom);
    let heterogeneity = if pooled.statistic.is_finite() {
        ChiSquare::new(sum.statistic - pooled.statistic, freedom)
    } else {
        // An excluded class was met: the families are refuted, not compared.
        ChiSquare::new(0.0, freedom)
    };
    Ok(Families { each, sum, pooled, heterogeneity })
}
