//! Classes of seedlings: the ratio the parents' genotypes give, and counts against it.
//!
//! # Gametes
//!
//! From `k` homologues a gamete takes `s`. With `s = 1` each is as likely; with `s = 2` both copies stem from
//! one homologue with the chance `a`, otherwise they are a pair drawn without replacement. For a tetraploid `a`
//! is its double reduction: 0 with chromosome segregation, 1/7 with random chromatids, 1/6 at most. For an
//! unreduced gamete of a diploid it depends on the division that failed (Hamilton and Kerr take 0.041 for the
//! first and 0.918 for the second). Loci are unlinked. All of it is done in whole numbers.
//!
//! # Which parent breeds
//!
//! Egg and pollen of a periclinal chimera come from its second layer (L2): a sport whose L2 carries the change
//! breeds as the sport, one whose L2 does not breeds as its source, whatever it looks like. Where the layer is
//! not known both are predicted. Plastids do not segregate by Mendel's laws and get no test.
//!
//! # Sources
//!
//! G. Mendel, Verhandlungen des naturforschenden Vereines in Brünn 4, 1866, 3-47; J. B. S. Haldane, Journal of
//! Genetics 22, 1930, 359-372 (polyploids); M. G. Hamilton, R. J. Kerr, Theoretical and Applied Genetics 131,
//! 2018, 851-860 (unreduced gametes); J. R. Sedcole, Crop Science 17, 1977, 667-668 (seedlings needed);
//! W. Bateson, Journal of Genetics 6, 1916, 75-80 (chimeras, shown in *Pelargonium*).

use std::collections::BTreeMap;
use std::fmt;

use storksbill_numerics::beta::beta_lower;

use crate::chi_square::{self, ChiSquare, Families, Mismatch};
use crate::intervals::Confidence;
use crate::multinomial::{self, Exact, MOST_OUTCOMES};
use crate::ratio::{Fraction, Ratio, gcd};

/// More kinds of zygote than this are refused.
const MOST_ZYGOTES: usize = 1_000_000;
/// Below this expectation in a class chi-square is not to be trusted (W. G. Cochran, Biometrics 10, 1954).
const SMALL: f64 = 5.0;

/// The alleles at one locus, one for each set of chromosomes: `AAaa`. Their order does not matter.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Genotype(Vec<char>);

impl Genotype {
    /// One letter an allele.
    ///
    /// # Errors
    ///
    /// [`SegregationError::Alleles`] unless there are one to eight letters or digits.
    pub fn new(alleles: &str) -> Result<Self, SegregationError> {
        let mut letters: Vec<char> = alleles.chars().collect();
        if letters.is_empty() || letters.len() > 8 || !letters.iter().all(|c| c.is_alphanumeric()) {
            return Err(SegregationError::Alleles { given: alleles.to_owned() });
        }
        letters.sort_unstable();
        Ok(Self(letters))
    }

    /// Copies of an allele.
    pub fn dose(&self, allele: char) -> usize {
        self.0.iter().filter(|&&own| own == allele).count()
    }

    pub fn sets(&self) -> usize {
        self.0.len()
    }
}

impl fmt::Display for Genotype {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|allele| write!(f, "{allele}"))
    }
}

/// How a parent makes gametes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Meiosis {
    /// Sets of chromosomes a gamete brings.
    pub sets: u8,
    /// The chance that two copies in a gamete stem from one homologue; 0 unless `sets` is 2.
    pub identical: Fraction,
}

impl Meiosis {
    /// Half of a diploid.
    pub const DIPLOID: Self = Self { sets: 1, identical: Fraction::ZERO };

    /// Half of a tetraploid.
    pub const fn tetraploid(double_reduction: Fraction) -> Self {
        Self { sets: 2, identical: double_reduction }
    }

    /// Both sets of a diploid.
    pub const fn unreduced(identical: Fraction) -> Self {
        Self { sets: 2, identical }
    }

    /// Every set of the parent, as from a triploid that skips the reduction.
    pub const fn whole(sets: u8) -> Self {
        Self { sets, identical: Fraction::ZERO }
    }
}

/// Whether the second layer (L2) of a sport carries its change.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SecondLayer {
    Changed,
    Unchanged,
    Unknown,
}

/// The genotype of a plant, one entry a locus.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stock {
    /// The same in every layer.
    Uniform(Vec<Genotype>),
    /// A sport, in part perhaps still its source.
    Sport { source: Vec<Genotype>, changed: Vec<Genotype>, second_layer: SecondLayer },
}

/// A parent of a cross.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Parent {
    pub stock: Stock,
    pub meiosis: Meiosis,
}

/// What a parent breeds as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BreedsAs {
    Itself,
    /// A sport whose second layer carries the change.
    Sport,
    /// A sport whose second layer does not.
    Source,
}

/// A condition on the copies of an allele, bounds included.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dose {
    /// From 0.
    pub locus: usize,
    pub allele: char,
    pub least: usize,
    pub most: usize,
}

impl Dose {
    pub const fn at_least(least: usize, allele: char, locus: usize) -> Self {
        Self { locus, allele, least, most: usize::MAX }
    }

    pub const fn exactly(dose: usize, allele: char, locus: usize) -> Self {
        Self { locus, allele, least: dose, most: dose }
    }
}

/// What becomes of a zygote.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// It grows up as one of this class.
    Class(String),
    /// It dies before anybody counts it.
    Lethal,
}

/// A line of the map from genotype to class. The first line whose conditions all hold decides.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rule {
    pub when: Vec<Dose>,
    pub fate: Fate,
}

impl Rule {
    pub fn class(when: Vec<Dose>, class: &str) -> Self {
        Self { when, fate: Fate::Class(class.to_owned()) }
    }

    pub const fn lethal(when: Vec<Dose>) -> Self {
        Self { when, fate: Fate::Lethal }
    }
}

/// The classes of a cross.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Segregation {
    /// Every class of the map, in its order.
    pub classes: Vec<String>,
    /// Among seedlings that live; a class the cross cannot give has part 0.
    pub ratio: Ratio,
    /// Zygotes that live against those that do not.
    pub viability: Ratio,
}

/// A prediction, and what it takes the parents to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Prediction {
    pub seed_parent: BreedsAs,
    pub pollen_parent: BreedsAs,
    pub segregation: Segregation,
}

/// Why no ratio can be worked out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SegregationError {
    /// Not one to eight letters or digits.
    #[error("`{given}` is not one to eight alleles of one letter each")]
    Alleles { given: String },
    /// Genotypes have different numbers of loci, or none.
    #[error("both parents need a genotype at the same loci")]
    Loci,
    /// Such a gamete cannot come from so many sets, or how is not known.
    #[error("no rule gives a gamete of {gamete_sets} sets from a plant of {parent_sets}")]
    Gamete { parent_sets: usize, gamete_sets: u8 },
    /// No line of the map fits this genotype.
    #[error("no class is given for {genotype}")]
    Unclassified { genotype: String },
    /// Every zygote dies.
    #[error("no zygote of this cross lives")]
    AllLethal,
    /// Too many loci, alleles or digits.
    #[error("there are too many loci or alleles to work out exactly")]
    TooLarge,
}

/// The classes of a cross: one prediction, or one for each thing a sport of unknown second layer may breed as.
///
/// # Errors
///
/// [`SegregationError`].
pub fn predict(
    seed_parent: &Parent,
    pollen_parent: &Parent,
    rules: &[Rule],
) -> Result<Vec<Prediction>, SegregationError> {
    let mut predictions = Vec::new();
    for (seed_breeds, seed_loci) in seed_parent.stock.germ_lines() {
        for (pollen_breeds, pollen_loci) in pollen_parent.stock.germ_lines() {
            let zygotes = zygotes(seed_loci, seed_parent.meiosis, pollen_loci, pollen_parent.meiosis)?;
            let segregation = classify(&zygotes, rules)?;
            predictions.push(Prediction {
                seed_parent: seed_breeds,
                pollen_parent: pollen_breeds,
                segregation,
            });
        }
    }
    Ok(predictions)
}

impl Stock {
    fn germ_lines(&self) -> Vec<(BreedsAs, &[Genotype])> {
        match self {
            Self::Uniform(loci) => vec![(BreedsAs::Itself, loci)],
            Self::Sport { source, changed, second_layer } => match second_layer {
                SecondLayer::Changed => vec![(BreedsAs::Sport, changed)],
                SecondLayer::Unchanged => vec![(BreedsAs::Source, source)],
                SecondLayer::Unknown => vec![(BreedsAs::Sport, changed), (BreedsAs::Source, source)],
            },
        }
    }
}

/// Genotypes at one locus with their whole-number weights.
type Weighted = BTreeMap<Vec<char>, u128>;

/// The gametes of a genotype at one locus, sorted, with weights in lowest terms.
///
/// # Errors
///
/// [`SegregationError::Gamete`], [`SegregationError::TooLarge`].
pub fn gametes(genotype: &Genotype, meiosis: Meiosis) -> Result<Vec<(Genotype, u128)>, SegregationError> {
    Ok(gamete_weights(genotype, meiosis)?
        .into_iter()
        .map(|(alleles, weight)| (Genotype(alleles), weight))
        .collect())
}

fn gamete_weights(genotype: &Genotype, meiosis: Meiosis) -> Result<Weighted, SegregationError> {
    let (k, s) = (genotype.sets(), usize::from(meiosis.sets));
    let refused = SegregationError::Gamete { parent_sets: k, gamete_sets: meiosis.sets };
    if s == 0 || s > k || (s != 2 && meiosis.identical > Fraction::ZERO) {
        return Err(refused);
    }
    let mut weights = Weighted::new();
    if s == 2 {
        // One homologue twice: identical / k; a pair: (1 - identical) / (k choose 2). Times q k (k - 1).
        let twice = u128::from(meiosis.identical.numerator());
        let apart = u128::from(meiosis.identical.denominator()) - twice;
        for (at, &one) in genotype.0.iter().enumerate() {
            add(&mut weights, vec![one, one], twice * (k as u128 - 1))?;
            for &other in genotype.0.iter().skip(at + 1) {
                add(&mut weights, vec![one, other], apart * 2)?;
            }
        }
    } else {
        for chosen in 0u32..1 << k {
            if chosen.count_ones() as usize == s {
                let alleles =
                    genotype.0.iter().enumerate().filter(|&(at, _)| chosen >> at & 1 == 1).map(|(_, &a)| a);
                add(&mut weights, alleles.collect(), 1)?;
            }
        }
    }
    lowest_terms(&mut weights);
    Ok(weights)
}

fn add(weights: &mut Weighted, alleles: Vec<char>, weight: u128) -> Result<(), SegregationError> {
    if weight > 0 {
        let sum = weights.entry(alleles).or_default();
        *sum = sum.checked_add(weight).ok_or(SegregationError::TooLarge)?;
    }
    Ok(())
}

fn lowest_terms(weights: &mut Weighted) {
    let common = weights.values().fold(0, |common, &weight| gcd(common, weight)).max(1);
    for weight in weights.values_mut() {
        *weight /= common;
    }
}

/// The zygotes at each locus.
fn zygotes(
    seed_loci: &[Genotype],
    seed_meiosis: Meiosis,
    pollen_loci: &[Genotype],
    pollen_meiosis: Meiosis,
) -> Result<Vec<Vec<(Genotype, u128)>>, SegregationError> {
    if seed_loci.is_empty() || seed_loci.len() != pollen_loci.len() {
        return Err(SegregationError::Loci);
    }
    let mut all = Vec::with_capacity(seed_loci.len());
    for (seed, pollen) in seed_loci.iter().zip(pollen_loci) {
        let eggs = gamete_weights(seed, seed_meiosis)?;
        let sperm = gamete_weights(pollen, pollen_meiosis)?;
        let mut found = Weighted::new();
        for (egg, &egg_weight) in &eggs {
            for (pollen, &pollen_weight) in &sperm {
                let mut alleles = [egg.as_slice(), pollen].concat();
                alleles.sort_unstable();
                let weight = egg_weight.checked_mul(pollen_weight).ok_or(SegregationError::TooLarge)?;
                add(&mut found, alleles, weight)?;
            }
        }
        lowest_terms(&mut found);
        all.push(found.into_iter().map(|(alleles, weight)| (Genotype(alleles), weight)).collect());
    }
    Ok(all)
}

/// Every combination of the loci, put into its class.
fn classify(zygotes: &[Vec<(Genotype, u128)>], rules: &[Rule]) -> Result<Segregation, SegregationError> {
    let mut classes: Vec<String> = Vec::new();
    for rule in rules {
        if let Fate::Class(class) = &rule.fate
            && !classes.contains(class)
        {
            classes.push(class.clone());
        }
    }
    let kinds = zygotes.iter().try_fold(1usize, |kinds, locus| kinds.checked_mul(locus.len()));
    if kinds.is_none_or(|kinds| kinds > MOST_ZYGOTES) {
        return Err(SegregationError::TooLarge);
    }
    let mut parts = vec![0u128; classes.len()];
    let (mut alive, mut dead) = (0u128, 0u128);
    for mut number in 0..kinds.unwrap_or(0) {
        let mut weight = 1u128;
        let mut zygote = Vec::with_capacity(zygotes.len());
        for locus in zygotes {
            let Some((genotype, own)) = locus.get(number % locus.len()) else { continue };
            weight = weight.checked_mul(*own).ok_or(SegregationError::TooLarge)?;
            zygote.push(genotype);
            number /= locus.len();
        }
        let sum = match fate(&zygote, rules)? {
            Fate::Lethal => &mut dead,
            Fate::Class(class) => {
                alive = alive.checked_add(weight).ok_or(SegregationError::TooLarge)?;
                let place = classes.iter().position(|other| other == class);
                place.and_then(|at| parts.get_mut(at)).ok_or(SegregationError::Loci)?
            }
        };
        *sum = sum.checked_add(weight).ok_or(SegregationError::TooLarge)?;
    }
    let ratio = Ratio::new(&parts).ok_or(SegregationError::AllLethal)?;
    let viability = Ratio::new(&[alive, dead]).ok_or(SegregationError::TooLarge)?;
    Ok(Segregation { classes, ratio, viability })
}

fn fate<'a>(zygote: &[&Genotype], rules: &'a [Rule]) -> Result<&'a Fate, SegregationError> {
    let holds = |dose: &Dose| {
        zygote
            .get(dose.locus)
            .is_some_and(|genotype| (dose.least..=dose.most).contains(&genotype.dose(dose.allele)))
    };
    let rule = rules.iter().find(|rule| rule.when.iter().all(holds));
    rule.map(|rule| &rule.fate).ok_or_else(|| {
        let genotypes: Vec<String> = zygote.iter().map(ToString::to_string).collect();
        SegregationError::Unclassified { genotype: genotypes.join(" ") }
    })
}

/// Which seedlings of a family were counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scored {
    /// All that germinated.
    Germinated,
    /// Those somebody kept.
    Kept,
}

/// Where the genes of a trait lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Inheritance {
    Nuclear,
    /// In the plastids, which both parents may pass on and which sort out at random.
    Plastid,
}

/// The seedlings of one cross, by class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Family {
    pub counts: Vec<u64>,
    pub scored: Scored,
}

/// Why counts are not tested.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// A family was counted after selection: what was kept tells the grower's taste, not the parents' genes.
    #[error(
        "family {family} was counted after selection; a ratio can only be tested on all seedlings that germinated"
    )]
    Selected { family: usize },
    /// Plastids do not segregate by Mendel's laws.
    #[error("a trait of the plastids sorts out at random, from both parents; no ratio is expected")]
    Plastid,
    /// The counts and the ratio do not belong together.
    #[error(transparent)]
    Mismatch(Mismatch),
}

impl From<Mismatch> for Refusal {
    fn from(mismatch: Mismatch) -> Self {
        Self::Mismatch(mismatch)
    }
}

/// One class of all families together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClassFit {
    pub counted: u64,
    pub expected: f64,
}

/// All families against a ratio.
#[derive(Debug, Clone, PartialEq)]
pub struct RatioTest {
    pub classes: Vec<ClassFit>,
    pub pearson: ChiSquare,
    pub likelihood_ratio: ChiSquare,
    /// Whether a class expects fewer than five seedlings, so that `exact` is the one to read.
    pub small_expectation: bool,
    /// Where a class expects few, or the seedlings are few enough to go through every outcome.
    pub exact: Option<Exact>,
    /// With two families or more.
    pub families: Option<Families>,
}

/// Tests families against one ratio. `seed` serves only where outcomes are too many to go through.
///
/// # Errors
///
/// [`Refusal`].
pub fn test(
    families: &[Family],
    ratio: &Ratio,
    inheritance: Inheritance,
    seed: u64,
) -> Result<RatioTest, Refusal> {
    if inheritance == Inheritance::Plastid {
        return Err(Refusal::Plastid);
    }
    if let Some(family) = families.iter().position(|family| family.scored == Scored::Kept) {
        return Err(Refusal::Selected { family });
    }
    let counts: Vec<Vec<u64>> = families.iter().map(|family| family.counts.clone()).collect();
    let split = chi_square::families(&counts, ratio)?;
    let mut all = vec![0u64; ratio.parts().len()];
    for family in &counts {
        for (sum, count) in all.iter_mut().zip(family) {
            *sum = sum.saturating_add(*count);
        }
    }
    let expected = chi_square::expected(&all, ratio)?;
    let small_expectation = expected.iter().any(|&expected| expected > 0.0 && expected < SMALL);
    let few = all.iter().sum::<u64>() <= 200 && all.len() <= 4;
    let exact = if small_expectation || few {
        Some(multinomial::exact(&all, ratio, MOST_OUTCOMES, seed)?)
    } else {
        None
    };
    Ok(RatioTest {
        classes: all
            .iter()
            .zip(expected)
            .map(|(&counted, expected)| ClassFit { counted, expected })
            .collect(),
        pearson: split.pooled,
        likelihood_ratio: chi_square::likelihood_ratio(&all, ratio)?,
        small_expectation,
        exact,
        families: (families.len() > 1).then_some(split),
    })
}

/// The fewest seedlings that hold at least `wanted` of a class of this share, as often as `confidence` says.
/// `None` when the class never comes or more than 10^12 would be needed.
pub fn seedlings_needed(share: Fraction, wanted: u64, confidence: Confidence) -> Option<u64> {
    let p = share.as_f64();
    if wanted == 0 || share == Fraction::ONE {
        return Some(wanted);
    }
    if share == Fraction::ZERO {
        return None;
    }
    let enough = |n: u64| {
        n >= wanted && beta_lower(wanted as f64, (n - wanted) as f64 + 1.0, p, 1.0 - p) >= confidence.level()
    };
    let mut high = wanted;
    while !enough(high) {
        high = high.checked_mul(2).filter(|&high| high <= 1_000_000_000_000)?;
    }
    let mut low = wanted.saturating_sub(1);
    while high - low > 1 {
        let middle = u64::midpoint(low, high);
        if enough(middle) { high = middle } else { low = middle }
    }
    Some(high)
}
