//! What is sent.

use serde::Serialize;
use storksbill_domain::ids::CultivarId;
use utoipa::ToSchema;

/// A step up a line of descent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// To the parent that bore the seed.
    SeedParent,
    /// To the parent that gave the pollen.
    PollenParent,
    /// From a sport to what it sported from: the same genes but for the sport.
    SportOf,
}

/// An ancestor of a cultivar.
#[derive(Debug, Serialize, ToSchema)]
pub struct AncestorOut {
    /// The ancestor.
    pub cultivar_id: CultivarId,
    /// Its name.
    pub name: String,
    /// Fewest generations up to it, 1 for a parent; the step from a sport to its source counts as none.
    pub generation: u32,
    /// A shortest way up to it: `["seed_parent", "pollen_parent"]` is the pollen parent of the seed parent.
    pub relation: Vec<Step>,
    /// Share of the cultivar's genes expected from it, 0 to 1, over all lines within the generations asked:
    /// ½ from a parent, ¼ from a grandparent by one line.
    pub share: f64,
    /// Its own coefficient of inbreeding, 0 to 1.
    pub inbreeding: f64,
    /// Its seed parent, where known.
    pub seed_parent_id: Option<CultivarId>,
    /// Its pollen parent, where known.
    pub pollen_parent_id: Option<CultivarId>,
    /// What it sported from.
    pub sport_of_id: Option<CultivarId>,
}

/// A cultivar's pedigree.
#[derive(Debug, Serialize, ToSchema)]
pub struct PedigreeOut {
    /// The cultivar.
    pub cultivar_id: CultivarId,
    /// Its name.
    pub name: String,
    /// Its seed parent, where known.
    pub seed_parent_id: Option<CultivarId>,
    /// Its pollen parent, where known.
    pub pollen_parent_id: Option<CultivarId>,
    /// What it sported from.
    pub sport_of_id: Option<CultivarId>,
    /// How many generations were asked for.
    pub generations: u32,
    /// Wright's coefficient of inbreeding, 0 to 1, over all known ancestors and not only those listed.
    pub inbreeding: f64,
    /// Its ancestors within the generations, nearest first.
    pub ancestors: Vec<AncestorOut>,
}

/// How two cultivars are related, and what a cross of them would give.
#[derive(Debug, Serialize, ToSchema)]
pub struct KinshipOut {
    /// The one.
    pub cultivar_id: CultivarId,
    /// Its name.
    pub cultivar_name: String,
    /// The other.
    pub other_id: CultivarId,
    /// Its name.
    pub other_name: String,
    /// The probability that a gene drawn at random from each are copies of one ancestral gene, 0 to 1:
    /// 0 for unrelated, ¼ for full sibs or parent and child of unrelated parents, ½ for one with itself.
    pub kinship: f64,
    /// Whether they are one clone (a sport and its source); a cross of them is a selfing.
    pub same_clone: bool,
    /// The coefficient of inbreeding that a seedling of a cross of the two would have, either way round.
    pub prospective_inbreeding: f64,
}
