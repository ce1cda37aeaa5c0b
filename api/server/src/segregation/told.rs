//! What is sent.

use serde::Serialize;
use storksbill_domain::words::{BreedsAs, RatioTestKind};
use storksbill_pedigree::Ratio;
use storksbill_pedigree::chi_square::ChiSquare;
use storksbill_pedigree::multinomial::{Exact, Outcomes};
use storksbill_pedigree::segregation::{Prediction, RatioTest};
use utoipa::ToSchema;

use crate::http::problem::Problem;

/// Numbers above this are not the same in every reader of JSON (RFC 8259, section 6).
const SAFE: u128 = (1 << 53) - 1;

/// A part of a ratio, and of all.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClassShare {
    /// The class.
    pub class: String,
    /// Its part, whole and in lowest terms; 0 where the cross cannot give it.
    pub part: u64,
    /// Its share of the seedlings that live, 0 to 1.
    pub share: f64,
}

/// The classes of a cross, with what the parents are taken to breed as.
#[derive(Debug, Serialize, ToSchema)]
pub struct PredictionOut {
    /// What holds for this prediction, in words; null where there is nothing to say.
    pub label: Option<String>,
    /// What the seed parent is taken to breed as.
    pub seed_parent_breeds_as: BreedsAs,
    /// What the pollen parent is taken to breed as.
    pub pollen_parent_breeds_as: BreedsAs,
    /// The ratio among seedlings that live: `9:3:3:1`.
    pub ratio: String,
    /// Every class of the map, in the order in which it is first named.
    pub classes: Vec<ClassShare>,
    /// The share of zygotes that live, 0 to 1.
    pub living: f64,
    /// Those that live against those that die: `3:1`.
    pub living_to_lethal: String,
}

/// What a cross should give.
#[derive(Debug, Serialize, ToSchema)]
pub struct PredictOut {
    /// One prediction, or one for each thing a sport of unknown second layer may breed as.
    pub predictions: Vec<PredictionOut>,
}

impl PredictionOut {
    /// `layered` says of each parent whether its layers were given.
    pub(super) fn of(prediction: &Prediction, layered: [bool; 2]) -> Result<Self, Problem> {
        let [seed, pollen] = breeding(prediction, layered);
        let segregation = &prediction.segregation;
        let shares = segregation.ratio.shares();
        let parts = segregation.ratio.parts().iter().zip(shares);
        let classes = segregation.classes.iter().zip(parts).map(|(class, (&part, share))| {
            let part = u64::try_from(part).ok().filter(|part| u128::from(*part) <= SAFE);
            let part = part.ok_or_else(|| {
                Problem::field("/classes", "too-large", "the parts of this ratio are too large to tell whole")
            })?;
            Ok(ClassShare { class: class.clone(), part, share })
        });
        Ok(Self {
            label: label(seed, pollen),
            seed_parent_breeds_as: seed,
            pollen_parent_breeds_as: pollen,
            ratio: segregation.ratio.to_string(),
            classes: classes.collect::<Result<_, Problem>>()?,
            living: segregation.viability.shares().first().copied().unwrap_or(0.0),
            living_to_lethal: segregation.viability.to_string(),
        })
    }
}

/// What the two parents are taken to breed as.
pub fn breeding(prediction: &Prediction, layered: [bool; 2]) -> [BreedsAs; 2] {
    use storksbill_pedigree::segregation::BreedsAs as Breeds;
    let word = |breeds, layered| match breeds {
        Breeds::Itself if layered => BreedsAs::SecondLayer,
        Breeds::Itself => BreedsAs::Itself,
        Breeds::Sport => BreedsAs::Sport,
        Breeds::Source => BreedsAs::Source,
    };
    let [seed, pollen] = layered;
    [word(prediction.seed_parent, seed), word(prediction.pollen_parent, pollen)]
}

/// The parents' breeding in words.
pub fn label(seed: BreedsAs, pollen: BreedsAs) -> Option<String> {
    let sides = [("seed", seed), ("pollen", pollen)];
    let words: Vec<String> = sides
        .into_iter()
        .filter_map(|(side, breeds)| {
            let words = match breeds {
                BreedsAs::Itself => return None,
                BreedsAs::SecondLayer => "breeds as its second layer (L2), of which eggs and pollen come",
                BreedsAs::Sport => "breeds as the sport: its second layer (L2) carries the change",
                BreedsAs::Source => "breeds as what it sported from: its second layer (L2) lacks the change",
            };
            Some(format!("The {side} parent {words}."))
        })
        .collect();
    (!words.is_empty()).then(|| words.join(" "))
}

/// A statistic with the chance of as large a one where the ratio holds.
#[derive(Debug, Serialize, ToSchema)]
pub struct StatisticOut {
    /// The statistic; null where seedlings were counted in a class that the ratio excludes, and `p` is then 0.
    pub statistic: Option<f64>,
    /// Degrees of freedom.
    pub freedom: u32,
    /// The chance of as large a statistic where the ratio holds, 0 to 1.
    pub p: f64,
}

impl StatisticOut {
    fn of(found: ChiSquare) -> Self {
        let statistic = Some(found.statistic).filter(|statistic| statistic.is_finite());
        Self { statistic, freedom: found.freedom, p: found.p }
    }
}

/// The exact multinomial test: chances of an outcome at least as extreme as the one counted, by three orders.
#[derive(Debug, Serialize, ToSchema)]
pub struct ExactOut {
    /// Extreme is less probable; with two classes the two-sided binomial test.
    pub p_by_probability: f64,
    /// Extreme is larger in Pearson's statistic.
    pub p_by_chi_square: f64,
    /// Extreme is larger in the likelihood ratio.
    pub p_by_likelihood_ratio: f64,
    /// Outcomes gone through, where that was every one.
    pub outcomes: Option<u64>,
    /// Outcomes drawn at random (Monte Carlo), where there are too many: the standard error of a chance p is the
    /// root of p (1 - p) by this number. The same counts always draw the same.
    pub drawn: Option<u32>,
}

impl ExactOut {
    fn of(found: Exact) -> Self {
        let (outcomes, drawn) = match found.outcomes {
            Outcomes::All { outcomes } => (Some(outcomes), None),
            Outcomes::Drawn { draws, .. } => (None, Some(draws)),
        };
        Self {
            p_by_probability: found.by_probability,
            p_by_chi_square: found.by_chi_square,
            p_by_likelihood_ratio: found.by_likelihood_ratio,
            outcomes,
            drawn,
        }
    }
}

/// Counted and expected in one class, all families together.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClassFitOut {
    /// The class; null where a bare ratio was given.
    pub class: Option<String>,
    /// Its part of the ratio, whole and in lowest terms.
    pub part: u64,
    /// Seedlings counted.
    pub counted: u64,
    /// Seedlings that the ratio would give.
    pub expected: f64,
}

/// Whether families of one expectation differ from each other.
#[derive(Debug, Serialize, ToSchema)]
pub struct FamiliesOut {
    /// Pearson's statistic of each family.
    pub each: Vec<StatisticOut>,
    /// Their sum.
    pub sum: StatisticOut,
    /// All seedlings as one family.
    pub pooled: StatisticOut,
    /// What is left: differences between families. Where its `p` is small they should not be pooled.
    pub heterogeneity: StatisticOut,
}

/// Counts against one ratio.
#[derive(Debug, Serialize, ToSchema)]
pub struct RatioTestOut {
    /// What the parents are taken to breed as, in words; null where there is nothing to say.
    pub label: Option<String>,
    /// The ratio: `3:1`.
    pub ratio: String,
    /// Class by class.
    pub classes: Vec<ClassFitOut>,
    /// Pearson's chi-square.
    pub chi_square: StatisticOut,
    /// The likelihood ratio G.
    pub g: StatisticOut,
    /// The exact test, where a class expects fewer than five seedlings or the seedlings are few (at most 200 in at
    /// most four classes); null otherwise.
    pub exact: Option<ExactOut>,
    /// Which to read: the exact test where a class expects fewer than five (W. G. Cochran, Biometrics 10, 1954).
    pub read: RatioTestKind,
    /// With two families or more.
    pub families: Option<FamiliesOut>,
}

impl RatioTestOut {
    pub(super) fn of(label: Option<String>, ratio: &Ratio, classes: &[String], found: RatioTest) -> Self {
        let fits = found.classes.iter().zip(ratio.parts()).enumerate().map(|(n, (fit, part))| ClassFitOut {
            class: classes.get(n).cloned(),
            part: u64::try_from(*part).unwrap_or(u64::MAX),
            counted: fit.counted,
            expected: fit.expected,
        });
        Self {
            label,
            ratio: ratio.to_string(),
            classes: fits.collect(),
            chi_square: StatisticOut::of(found.pearson),
            g: StatisticOut::of(found.likelihood_ratio),
            exact: found.exact.map(ExactOut::of),
            read: if found.small_expectation { RatioTestKind::Exact } else { RatioTestKind::ChiSquare },
            families: found.families.map(|families| FamiliesOut {
                each: families.each.into_iter().map(StatisticOut::of).collect(),
                sum: StatisticOut::of(families.sum),
                pooled: StatisticOut::of(families.pooled),
                heterogeneity: StatisticOut::of(families.heterogeneity),
            }),
        }
    }
}

/// Counts against a ratio, or against each ratio that the cross may have.
#[derive(Debug, Serialize, ToSchema)]
pub struct TestOut {
    /// One test, or one for each thing a sport of unknown second layer may breed as.
    pub tests: Vec<RatioTestOut>,
}

/// How many seedlings to raise.
#[derive(Debug, Serialize, ToSchema)]
pub struct NeededOut {
    /// The share of the class, in lowest terms.
    pub share: String,
    /// Seedlings of the class wanted.
    pub wanted: u64,
    /// How often that many are to be had.
    pub confidence: f64,
    /// The fewest seedlings that hold as many; null where the class never comes or more than 10^12 would be needed.
    pub seedlings: Option<u64>,
}
