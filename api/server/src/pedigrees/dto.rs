//! What is taken and sent.

use serde::{Deserialize, Serialize};
use storksbill_db::rows::lines::Line;
use storksbill_domain::ids::IndividualId;
use storksbill_domain::words::{Gamete, IndividualKind, Origin, PlantGroup};
use utoipa::ToSchema;

use super::asker::Asker;
use crate::http::json::{Check, Findings};

/// The shares of all that may have given the pollen.
const WHOLE: i32 = 1_000;
/// Most that may have given the pollen.
const MOST_CANDIDATES: usize = 20;

/// A cultivar or a numbered seedling.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct IndividualOut {
    /// Identity; null where it is undisclosed.
    pub id: Option<IndividualId>,
    /// What it is; null where it is undisclosed.
    pub kind: Option<IndividualKind>,
    /// A cultivar's name or a seedling's label; null where it is undisclosed.
    pub name: Option<String>,
    /// A cultivar's group.
    pub plant_group: Option<PlantGroup>,
    /// It is on record, and its owner has not released it to you. It counts in every figure all the same.
    pub undisclosed: bool,
}

impl IndividualOut {
    pub(super) const UNDISCLOSED: Self =
        Self { id: None, kind: None, name: None, plant_group: None, undisclosed: true };

    pub(super) fn of(line: &Line) -> Self {
        Self {
            id: Some(line.id),
            kind: Some(line.kind),
            name: Some(line.name.clone()),
            plant_group: line.plant_group,
            undisclosed: false,
        }
    }

    /// As far as the asker may see it.
    pub(super) fn told(line: &Line, asker: &Asker) -> Self {
        if asker.sees(line) { Self::of(line) } else { Self::UNDISCLOSED }
    }
}

/// A step up a line of descent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// To the parent that bore the seed.
    SeedParent,
    /// To the parent that gave the pollen, or may have.
    PollenParent,
    /// From a sport, a cutting or a doubled plant to what it came from: the same genes but for the change.
    Source,
}

/// An ancestor.
#[derive(Debug, Serialize, ToSchema)]
pub struct AncestorOut {
    /// The ancestor; undisclosed where its owner has not released it to you: then its own ancestors are not listed
    /// by this line.
    pub individual: IndividualOut,
    /// Fewest generations up to it, 1 for a parent; the step from a sport to its source counts as none.
    pub generation: u32,
    /// A shortest way up to it: `["seed_parent", "pollen_parent"]` is the pollen parent of the seed parent.
    pub relation: Vec<Step>,
    /// Share of the genes expected from it, 0 to 1, over all lines within the generations asked: ½ from a parent of
    /// two diploids, ¼ from a grandparent by one line.
    pub share: f64,
    /// Its own coefficient of inbreeding, 0 to 1; null where it is undisclosed.
    pub inbreeding: Option<f64>,
}

/// One that may have given the pollen.
#[derive(Debug, Serialize, ToSchema)]
pub struct PollenParentOut {
    /// Which; null for a plant that nobody knows.
    pub individual: Option<IndividualOut>,
    /// How likely it is the pollen parent, thousandths.
    pub share_thousandths: i32,
}

/// Where an individual comes from.
#[derive(Debug, Serialize, ToSchema)]
pub struct DescentOut {
    /// How it came about; null where its raiser has not released that to you.
    pub origin: Option<Origin>,
    /// The parent that bore the seed, where known; of a plant from one egg, its parent.
    pub seed_parent: Option<IndividualOut>,
    /// The parent that gave the pollen, or all that may have; none where nobody knows. Of a plant from one pollen
    /// cell, its parent.
    pub pollen_parents: Vec<PollenParentOut>,
    /// What a sport, cutting or doubled plant came from.
    pub source: Option<IndividualOut>,
}

/// An ancestor of both parents.
#[derive(Debug, Serialize, ToSchema)]
pub struct CommonAncestorOut {
    /// The ancestor; undisclosed where you may not see it, or not the line that leads to it.
    pub individual: IndividualOut,
    /// Share of the first one's genes expected from it.
    pub of_first: f64,
    /// Share of the other one's genes expected from it.
    pub of_other: f64,
    /// What it adds to their kinship beyond what its own ancestors add. The parts of all make the kinship.
    pub kinship: f64,
    /// What it adds to the inbreeding that is explained; null where a kinship is explained.
    pub inbreeding: Option<f64>,
}

/// Where an inbreeding comes from; the parts add up to it.
#[derive(Debug, Serialize, ToSchema)]
pub struct InbreedingOut {
    /// Common ancestors of the parents, the weightiest first, 50 at most.
    pub common_ancestors: Vec<CommonAncestorOut>,
    /// What the further common ancestors add together.
    pub others: f64,
    /// From double reduction or restitution in the meioses of the parents themselves.
    pub meiosis: f64,
    /// From parents that are inbred and gave more than one set of chromosomes.
    pub inbred_parents: f64,
    /// Of a founder: its own, in equilibrium under double reduction.
    pub founder: f64,
}

/// What should be known of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PedigreeFinding {
    /// Nobody recorded how many sets of chromosomes it has: the figures stand on a guess.
    AssumedSets,
    /// An odd number of sets: such plants are mostly sterile.
    OddSets,
    /// Its parents are one clone, by sports or cuttings: the cross was a selfing.
    Selfing,
    /// The recorded sets and gametes contradict each other.
    Contradiction,
    /// How an unreduced gamete arose is not recorded; first division restitution is supposed.
    SupposedRestitution,
    /// Any of several may be the pollen parent: the figures are means over them.
    UncertainPollenParent,
}

/// What should be known of a figure, in words.
#[derive(Debug, Serialize, ToSchema)]
pub struct FindingOut {
    /// Which; does not change.
    pub code: PedigreeFinding,
    /// In words.
    pub words: String,
}

/// The pedigree of a cultivar or a numbered seedling.
#[derive(Debug, Serialize, ToSchema)]
pub struct PedigreeOut {
    /// Whose.
    pub individual: IndividualOut,
    /// Where it comes from.
    pub descent: DescentOut,
    /// How many generations were asked for.
    pub generations: u32,
    /// The coefficient of inbreeding, 0 to 1, over all known ancestors and not only those listed.
    pub inbreeding: f64,
    /// Sets of chromosomes, as recorded or as they follow from its parents.
    pub sets: u8,
    /// Chromosomes of a body cell, where they were counted; null where you may not see its origin.
    pub chromosomes: Option<i32>,
    /// Where the inbreeding comes from.
    pub why: InbreedingOut,
    /// Share of the ancestors that are known in each generation asked for, parents first.
    pub completeness: Vec<f64>,
    /// What should be known of these figures.
    pub findings: Vec<FindingOut>,
    /// Its ancestors within the generations, nearest first.
    pub ancestors: Vec<AncestorOut>,
}

/// What seedlings of a cross would be.
#[derive(Debug, Serialize, ToSchema)]
pub struct ProspectOut {
    /// Their coefficient of inbreeding, 0 to 1.
    pub inbreeding: f64,
    /// Their sets of chromosomes.
    pub sets: u8,
    /// Whether the sets stand on a guess, since nobody recorded those of a parent.
    pub sets_assumed: bool,
    /// Whether the sets are odd in number: such seedlings are mostly sterile.
    pub odd_sets: bool,
    /// Whether both parents are one clone: the cross is a selfing.
    pub selfing: bool,
}

/// How two are related, and what a cross of them would give.
#[derive(Debug, Serialize, ToSchema)]
pub struct KinshipOut {
    /// The one.
    pub individual: IndividualOut,
    /// The other.
    pub other: IndividualOut,
    /// The probability that a gene drawn at random from each are copies of one ancestral gene, 0 to 1:
    /// 0 for unrelated, ¼ for full sibs or parent and child of unrelated diploid parents, ½ for an outbred diploid
    /// with itself.
    pub kinship: f64,
    /// Whether they are one clone (a sport and its source); a cross of them is a selfing.
    pub same_clone: bool,
    /// What seedlings of the two would be, either way round, by ordinary gametes; null where those are not
    /// foreseen.
    pub prospect: Option<ProspectOut>,
    /// Why there is no prospect.
    pub no_prospect: Option<String>,
    /// Common ancestors, each one itself where the other descends from it; the weightiest first, 50 at most.
    pub common_ancestors: Vec<CommonAncestorOut>,
    /// What the further common ancestors add to the kinship together.
    pub others: f64,
}

/// A relative.
#[derive(Debug, Serialize, ToSchema)]
pub struct RelativeOut {
    /// Who.
    pub individual: IndividualOut,
    /// Kinship, 0 to 1.
    pub kinship: f64,
    /// Whether the two are one clone.
    pub same_clone: bool,
}

/// A possible mate.
#[derive(Debug, Serialize, ToSchema)]
pub struct MateOut {
    /// Who.
    pub individual: IndividualOut,
    /// Kinship, 0 to 1.
    pub kinship: f64,
    /// What seedlings would be, either way round; null where the gametes are not foreseen.
    pub prospect: Option<ProspectOut>,
    /// Why there is no prospect.
    pub no_prospect: Option<String>,
}

/// One that may give the pollen.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PollenParentIn {
    /// A cultivar or a numbered seedling; null for a plant that nobody knows.
    #[serde(default)]
    pub individual_id: Option<IndividualId>,
    /// How likely it is the one, in thousandths; the shares of all make 1,000. Left out where there is one.
    #[serde(default)]
    pub share_thousandths: Option<i32>,
}

/// A cross that is thought of.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProspectIn {
    /// The cultivar or numbered seedling to bear the seed.
    pub seed_parent_id: IndividualId,
    /// What is to give the pollen, or all that may; none for open pollination of which nothing is known.
    #[serde(default)]
    pub pollen_parents: Vec<PollenParentIn>,
    /// How many of its chromosome sets the seed parent gives; half when not given.
    #[serde(default)]
    pub seed_gamete: Option<Gamete>,
    /// How many of its chromosome sets the pollen parent gives; half when not given.
    #[serde(default)]
    pub pollen_gamete: Option<Gamete>,
}

impl Check for ProspectIn {
    fn check(&self, found: &mut Findings) {
        if self.pollen_parents.len() > MOST_CANDIDATES {
            found.add("/pollen_parents", "too-many", format!("are at most {MOST_CANDIDATES}"));
        }
        for (at, parent) in self.pollen_parents.iter().enumerate() {
            if let Some(share) = parent.share_thousandths {
                found.range(&format!("/pollen_parents/{at}/share_thousandths"), share, 1, WHOLE);
            }
        }
        let several = self.pollen_parents.len() > 1;
        let shares: Vec<i32> =
            self.pollen_parents.iter().filter_map(|parent| parent.share_thousandths).collect();
        let sum: i32 = shares.iter().fold(0, |sum, share| sum.saturating_add(*share));
        if (several && shares.len() < self.pollen_parents.len()) || (!shares.is_empty() && sum != WHOLE) {
            found.add("/pollen_parents", "shares", format!("have shares that add up to {WHOLE}, each one"));
        }
    }
}

/// What a cross that is thought of would give.
#[derive(Debug, Serialize, ToSchema)]
pub struct CrossProspectOut {
    /// To bear the seed.
    pub seed_parent: IndividualOut,
    /// To give the pollen.
    pub pollen_parents: Vec<PollenParentOut>,
    /// What the seedlings would be; null where the gametes are not foreseen.
    pub prospect: Option<ProspectOut>,
    /// Why there is no prospect.
    pub no_prospect: Option<String>,
    /// Common ancestors of the two parents, the weightiest first, 50 at most; over several pollen parents, of each
    /// by its share.
    pub common_ancestors: Vec<CommonAncestorOut>,
    /// What should be known of these figures.
    pub findings: Vec<FindingOut>,
}

/// A founder's part in a group.
#[derive(Debug, Serialize, ToSchema)]
pub struct FounderOut {
    /// The founder; null where it is a parent of which nobody knows anything.
    pub individual: Option<IndividualOut>,
    /// Where it is such a parent: whose.
    pub unknown_parent_of: Option<IndividualOut>,
    /// Expected share of the group's genes, 0 to 1. The shares of all founders make 1.
    pub share: f64,
}

/// An ancestor's part in a group that no weightier one explains.
#[derive(Debug, Serialize, ToSchema)]
pub struct InfluenceOut {
    /// The ancestor; null where it is a parent of which nobody knows anything.
    pub individual: Option<IndividualOut>,
    /// Its marginal share of the group's genes, 0 to 1.
    pub share: f64,
}

/// What a group of plants still has of its founders.
#[derive(Debug, Serialize, ToSchema)]
pub struct FoundersOut {
    /// Different plants of the group; a plant and its sports count once.
    pub plants: usize,
    /// Mean kinship within the group, each with itself included.
    pub mean_kinship: f64,
    /// As many founders with equal contributions would leave the same diversity (Lacy 1989).
    pub effective_founders: f64,
    /// The same of ancestors, counting bottlenecks (Boichard, Maignel and Verrier 1997).
    pub effective_ancestors: f64,
    /// Founder genomes that are left, counting what was lost by chance (Lacy 1989).
    pub founder_genomes: f64,
    /// Whether the founder genomes were worked out; else what was lost is drawn 1,000 times, always alike.
    pub founder_genomes_exact: bool,
    /// Founder genomes by mean kinship (Caballero and Toro 2000).
    pub genome_equivalents: f64,
    /// How many founders there are.
    pub founder_count: usize,
    /// The founders with the largest shares, 50 at most.
    pub founders: Vec<FounderOut>,
    /// The ancestors with the largest marginal shares, 50 at most.
    pub ancestors: Vec<InfluenceOut>,
}
