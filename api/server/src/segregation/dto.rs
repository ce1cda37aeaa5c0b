//! What is taken.

use serde::Deserialize;
use storksbill_domain::words::{Gamete, Inheritance, Scored, SecondLayer};
use storksbill_pedigree::Fraction;
use utoipa::{IntoParams, ToSchema};

use crate::http::json::{Check, Findings};

/// Most loci, lines of the map and conditions of a line.
const MOST: (usize, usize, usize) = (6, 32, 8);
/// Most classes of a ratio.
pub const CLASSES: usize = 16;
/// Most families tested at once.
const FAMILIES: usize = 50;
/// Most seedlings of one family; a sample of so many takes about a second.
const SEEDLINGS: i64 = 100_000;
/// Largest part of a ratio that is taken.
const PART: i64 = 1_000_000;

/// A cross of which the classes are asked.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PredictIn {
    /// Where the genes lie; for a trait of the plastids no ratio is given.
    #[serde(default = "nuclear")]
    #[schema(default = "nuclear")]
    pub inheritance: Inheritance,
    /// The parent that bears the seed.
    pub seed_parent: BreedingParentIn,
    /// The parent that gives the pollen.
    pub pollen_parent: BreedingParentIn,
    /// The map from genotype to class, 1 to 32 lines. The first line whose conditions all hold decides; give the
    /// last one no conditions, so that no seedling is left without a class.
    pub classes: Vec<ClassLineIn>,
}

const fn nuclear() -> Inheritance {
    Inheritance::Nuclear
}

/// A parent: just one of `genotype`, `layers` and `sport`.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BreedingParentIn {
    /// Sets of chromosomes: 2 or 4.
    pub ploidy: i32,
    /// Of a plant that is the same in every layer: for each locus its alleles, one letter or digit each and as many
    /// as there are sets, 1 to 6 loci in the same order for both parents: `["Aa", "BB"]`. Loci are taken to be unlinked.
    #[serde(default)]
    pub genotype: Option<Vec<String>>,
    /// Of a chimera whose layers are known.
    #[serde(default)]
    pub layers: Option<LayersIn>,
    /// Of a sport of which it is, or is not, known whether the layer that breeds carries the change.
    #[serde(default)]
    pub sport: Option<SportIn>,
    /// Whether the gametes are reduced, as they commonly are, or bring all sets of the parent.
    #[serde(default)]
    pub gamete: Option<Gamete>,
    /// How often both copies in a gamete of two sets stem from one homologue, as a fraction or a decimal. Of a
    /// tetraploid this is its double reduction: 0 (when not given) to `1/6`; `1/7` with random chromatids. Of an
    /// unreduced gamete of a diploid it is to be given: about 0.041 where the first division failed and 0.918
    /// where the second did (Hamilton and Kerr, 2018). Not taken for any other gamete.
    #[serde(default)]
    pub double_reduction: Option<String>,
}

/// The genotype of each layer of a chimera. Eggs and pollen come of L2 alone.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LayersIn {
    /// The skin.
    #[serde(default)]
    pub l1: Option<Vec<String>>,
    /// The layer below the skin, of which eggs and pollen come.
    pub l2: Vec<String>,
    /// The core, of which roots come.
    #[serde(default)]
    pub l3: Option<Vec<String>>,
}

/// A sport and what it came from.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SportIn {
    /// The genotype of what it sported from.
    pub source: Vec<String>,
    /// The genotype of the layers that changed.
    pub changed: Vec<String>,
    /// Whether L2 is one of them; where it is not known both predictions are given.
    pub second_layer: SecondLayer,
}

/// A line of the map: a class or a death, and when. Just one of `class` and `lethal` is given.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassLineIn {
    /// The class, as it is called; several lines may lead to one.
    #[serde(default)]
    pub class: Option<String>,
    /// These zygotes die before anybody counts them.
    #[serde(default)]
    pub lethal: bool,
    /// All of these hold; at most 8.
    #[serde(default)]
    pub when: Vec<DoseIn>,
}

/// How many copies of an allele a zygote has, bounds included.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DoseIn {
    /// Which locus, from 1.
    pub locus: i32,
    /// The allele's letter or digit.
    pub allele: String,
    /// No fewer; 0 when not given.
    #[serde(default)]
    pub least: Option<i32>,
    /// No more; any number when not given.
    #[serde(default)]
    pub most: Option<i32>,
}

/// Counts and what they are held against: just one of `parts` and `cross`.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TestIn {
    /// Where the genes lie; counts of a trait of the plastids are not tested.
    #[serde(default = "nuclear")]
    #[schema(default = "nuclear")]
    pub inheritance: Inheritance,
    /// A ratio: 2 to 16 parts from 0 to 1,000,000, such as `[9, 3, 3, 1]`.
    #[serde(default)]
    pub parts: Option<Vec<i64>>,
    /// A cross whose ratio is worked out first. Counts come in the order in which its classes are first named.
    #[serde(default)]
    pub cross: Option<PredictIn>,
    /// Seedlings by family, 1 to 50; several are also tested for whether they differ from each other.
    pub families: Vec<FamilyIn>,
}

/// The seedlings of one family.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FamilyIn {
    /// Seedlings of each class, in the order of the ratio; 1 to 100,000 together.
    pub counts: Vec<i64>,
    /// Which were counted. What was kept is refused: it tells the grower's taste and not the parents' genes.
    pub counted: Scored,
}

/// What is wanted of a family.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Wanted {
    /// The share of the class, as a fraction or a decimal: `1/4`.
    pub share: String,
    /// Seedlings of the class wanted, 1 to 1,000; 1 when not given.
    pub wanted: Option<u64>,
    /// How often that many are to be had, above 0 and below 1; 0.95 when not given.
    pub confidence: Option<f64>,
}

impl Check for PredictIn {
    fn check(&self, found: &mut Findings) {
        self.check_at("", found);
    }
}

impl PredictIn {
    fn check_at(&self, at: &str, found: &mut Findings) {
        if self.inheritance == Inheritance::Plastid {
            found.add(&format!("{at}/inheritance"), "plastid", PLASTID);
        }
        let mut loci = None;
        for (side, parent) in [("seed_parent", &self.seed_parent), ("pollen_parent", &self.pollen_parent)] {
            parent.check_at(&format!("{at}/{side}"), &mut loci, found);
        }
        count(found, &format!("{at}/classes"), self.classes.len(), 1, MOST.1);
        for (n, class) in self.classes.iter().enumerate() {
            class.check_at(&format!("{at}/classes/{n}"), loci.unwrap_or(MOST.0), found);
        }
        let mut names: Vec<&str> = self.classes.iter().filter_map(|line| line.class.as_deref()).collect();
        names.sort_unstable();
        names.dedup();
        if !self.classes.is_empty() && names.is_empty() {
            found.add(&format!("{at}/classes"), "no-class", "names no class that lives");
        }
        count(found, &format!("{at}/classes"), names.len().max(1), 1, CLASSES);
    }
}

/// Why there is no ratio of a trait of the plastids.
pub const PLASTID: &str = "a trait of the plastids does not segregate by Mendel's laws: both parents may pass \
    plastids on, and they sort out at random, so that no ratio is expected and none can be tested";

fn count(found: &mut Findings, pointer: &str, many: usize, least: usize, most: usize) {
    if !(least..=most).contains(&many) {
        found.add(pointer, "out-of-range", format!("takes {least} to {most}, {many} given"));
    }
}

impl BreedingParentIn {
    fn check_at(&self, at: &str, loci: &mut Option<usize>, found: &mut Findings) {
        if !matches!(self.ploidy, 2 | 4) {
            found.add(&format!("{at}/ploidy"), "out-of-range", "must be 2 or 4");
        }
        let given = [self.genotype.is_some(), self.layers.is_some(), self.sport.is_some()];
        if given.iter().filter(|given| **given).count() != 1 {
            found.add(at, "one-of", "give just one of genotype, layers and sport");
        }
        let mut genotypes: Vec<(&str, &Vec<String>)> = Vec::new();
        genotypes.extend(self.genotype.as_ref().map(|genotype| ("genotype", genotype)));
        if let Some(LayersIn { l1, l2, l3 }) = &self.layers {
            genotypes.extend(l1.as_ref().map(|layer| ("layers/l1", layer)));
            genotypes.push(("layers/l2", l2));
            genotypes.extend(l3.as_ref().map(|layer| ("layers/l3", layer)));
        }
        if let Some(sport) = &self.sport {
            genotypes.extend([("sport/source", &sport.source), ("sport/changed", &sport.changed)]);
        }
        for (what, genotype) in genotypes {
            let pointer = format!("{at}/{what}");
            count(found, &pointer, genotype.len(), 1, MOST.0);
            let known = *loci.get_or_insert(genotype.len());
            if genotype.len() != known {
                found.add(
                    &pointer,
                    "other-loci",
                    format!("needs {known} loci, as the first genotype given has"),
                );
            }
            for (n, alleles) in genotype.iter().enumerate() {
                let sets = usize::try_from(self.ploidy).unwrap_or(0);
                if alleles.chars().count() != sets || !alleles.chars().all(char::is_alphanumeric) {
                    let words = format!("needs {sets} alleles of one letter or digit each");
                    found.add(&format!("{pointer}/{n}"), "alleles", words);
                }
            }
        }
        self.check_meiosis(&format!("{at}/double_reduction"), found);
    }

    fn check_meiosis(&self, pointer: &str, found: &mut Findings) {
        let unreduced = self.gamete == Some(Gamete::Unreduced);
        match (self.ploidy, unreduced, &self.double_reduction) {
            (2, true, None) => {
                found.add(pointer, "required", "is needed for an unreduced gamete of a diploid");
            }
            (2, false, Some(_)) | (4, true, Some(_)) => {
                found.add(pointer, "not-taken", "goes with a gamete of two sets that meiosis made");
            }
            (ploidy, _, Some(text)) => match fraction(text) {
                Err(words) => found.add(pointer, "invalid-value", words),
                Ok(share) if ploidy == 4 && share.numerator() * 6 > share.denominator() => {
                    found.add(pointer, "out-of-range", "a tetraploid's is from 0 to 1/6");
                }
                Ok(_) => {}
            },
            _ => {}
        }
    }
}

impl ClassLineIn {
    fn check_at(&self, at: &str, loci: usize, found: &mut Findings) {
        if let Some(class) = &self.class {
            found.text(&format!("{at}/class"), class, 1, 60);
        }
        if self.class.is_some() == self.lethal {
            found.add(at, "one-of", "is either a class or lethal");
        }
        count(found, &format!("{at}/when"), self.when.len(), 0, MOST.2);
        for (n, dose) in self.when.iter().enumerate() {
            let at = format!("{at}/when/{n}");
            found.range(&format!("{at}/locus"), dose.locus, 1, i32::try_from(loci).unwrap_or(1).max(1));
            let mut letters = dose.allele.chars();
            if !letters.next().is_some_and(char::is_alphanumeric) || letters.next().is_some() {
                found.add(&format!("{at}/allele"), "alleles", "is one letter or digit");
            }
            found.range(&format!("{at}/least"), dose.least.unwrap_or(0), 0, 8);
            if let Some(most) = dose.most {
                found.range(&format!("{at}/most"), most, dose.least.unwrap_or(0), 8);
            }
        }
    }
}

impl Check for TestIn {
    fn check(&self, found: &mut Findings) {
        let plastid = self.inheritance == Inheritance::Plastid;
        if plastid {
            found.add("/inheritance", "plastid", PLASTID);
        }
        match (&self.parts, &self.cross) {
            (Some(parts), None) => {
                count(found, "/parts", parts.len(), 2, CLASSES);
                for (n, part) in parts.iter().enumerate() {
                    found.range(&format!("/parts/{n}"), *part, 0, PART);
                }
                if !parts.is_empty() && parts.iter().all(|part| *part == 0) {
                    found.add("/parts", "all-zero", "needs a part above 0");
                }
            }
            (None, Some(cross)) => cross.check_at("/cross", found),
            _ => found.add("", "one-of", "give just one of parts and cross"),
        }
        count(found, "/families", self.families.len(), 1, FAMILIES);
        let mut all = 0;
        for (n, family) in self.families.iter().enumerate() {
            if family.counted == Scored::Kept {
                found.add(
                    &format!("/families/{n}/counted"),
                    "selected",
                    "seedlings that were kept tell the grower's taste, not the parents' genes; a ratio can only \
                     be tested on all that germinated",
                );
            }
            let pointer = format!("/families/{n}/counts");
            if let Some(parts) = &self.parts
                && family.counts.len() != parts.len()
            {
                let words = format!("needs {} counts, one a part of the ratio", parts.len());
                found.add(&pointer, "other-classes", words);
            }
            if family.counts.iter().any(|count| !(0..=SEEDLINGS).contains(count)) {
                found.add(&pointer, "out-of-range", format!("each must be from 0 to {SEEDLINGS}"));
            }
            let own = family.counts.iter().fold(0i64, |sum, count| sum.saturating_add(*count));
            if own == 0 {
                found.add(&pointer, "nothing-counted", "a family needs at least one seedling");
            }
            all = own.saturating_add(all);
        }
        if all > SEEDLINGS {
            found.add("/families", "out-of-range", format!("takes at most {SEEDLINGS} seedlings together"));
        }
    }
}

/// A share from 0 to 1: `1/7`, or `0.041` with at most nine places.
pub fn fraction(text: &str) -> Result<Fraction, String> {
    let text = text.trim();
    let read = if let Some((above, below)) = text.split_once('/') {
        whole(above).zip(whole(below))
    } else {
        let (ones, places) = text.split_once('.').unwrap_or((text, ""));
        let below = u32::try_from(places.len()).ok().filter(|n| *n <= 9).map(|n| 10u64.pow(n));
        whole(&format!("{ones}{places}")).zip(below)
    };
    read.and_then(|(above, below)| Fraction::new(above, below))
        .ok_or_else(|| "must be a share from 0 to 1, such as 1/7 or 0.25".to_owned())
}

fn whole(text: &str) -> Option<u64> {
    let text = text.trim();
    (text.len() <= 10 && text.bytes().all(|b| b.is_ascii_digit())).then(|| text.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    #[test]
    fn shares_are_read_exactly() {
        for (text, above, below) in
            [("1/4", 1, 4), (" 2 / 8 ", 1, 4), ("0.041", 41, 1000), ("1", 1, 1), ("0", 0, 1), (".5", 1, 2)]
        {
            let share = fraction(text).unwrap();
            assert_eq!((share.numerator(), share.denominator()), (above, below), "{text}");
        }
        for text in ["", "5/4", "1/0", "-1", "1e-3", "0.0000000001", "1/4/2", "one"] {
            assert!(fraction(text).is_err(), "{text}");
        }
    }
}
