//! Where individuals come from.

/// One record.
#[derive(Debug, Clone, PartialEq)]
pub struct Individual {
    /// The caller's number; unique.
    pub id: u64,
    pub origin: Origin,
    pub ploidy: Ploidy,
}

impl Individual {
    /// A record that says nothing of ploidy.
    pub fn new(id: u64, origin: Origin) -> Self {
        Self { id, origin, ploidy: Ploidy::default() }
    }
}

/// What is known of an individual's chromosomes. The two are recorded apart: base numbers differ within one
/// genus, and aneuploids exist, so neither follows from the other.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Ploidy {
    /// Sets of chromosomes: 2 for a diploid. Where this is missing it is taken from the parents, and two for a
    /// founder; what rests on such a guess is marked.
    pub sets: Option<u8>,
    /// Chromosomes of a body cell (2n). Recorded only: kinship asks for the sets.
    pub chromosomes: Option<u16>,
    /// Whether the count of chromosomes is "about" so many.
    pub about: bool,
}

impl Ploidy {
    pub fn sets(sets: u8) -> Self {
        Self { sets: Some(sets), ..Self::default() }
    }
}

/// Where an individual comes from. Others are named by the caller's ids.
#[derive(Debug, Clone, PartialEq)]
pub enum Origin {
    /// Parents unknown on both sides, or collected in the wild: not inbred, unrelated to other founders.
    Founder,
    /// Raised from seed. With both parents unknown it is a founder, in equilibrium under the double reduction
    /// its gametes state.
    Cross { seed: Parent, pollen: Parent },
    /// A vegetative descendant: for kinship the same genotype as its source.
    Clone { of: u64, kind: CloneKind },
    /// The chromosomes of a body cell doubled: every gene of the source twice.
    Doubled { of: u64 },
    /// Grown from one gamete: a dihaploid, a haploid, or an unreduced egg that developed by itself.
    OneGamete(Parent),
}

impl Origin {
    /// Ordinary seed; a missing parent counts as an unrelated founder of its own.
    pub fn cross(seed: Option<u64>, pollen: Option<u64>) -> Self {
        Self::Cross { seed: Parent::reduced(seed), pollen: Parent::reduced(pollen) }
    }

    /// A sport of which nothing more is recorded.
    pub fn sport(of: u64) -> Self {
        Self::Clone { of, kind: CloneKind::Sport { layers: None, reverts_to: None } }
    }

    /// Every id named, seed side first.
    pub(crate) fn each_parent(&self, mut visit: impl FnMut(u64)) {
        let mut of_gamete = |parent: &Parent| match &parent.who {
            Who::Unknown => {}
            Who::Known(id) => visit(*id),
            Who::OneOf(candidates) => candidates.iter().filter_map(|one| one.who).for_each(&mut visit),
        };
        match self {
            Self::Founder => {}
            Self::Cross { seed, pollen } => {
                of_gamete(seed);
                of_gamete(pollen);
            }
            Self::OneGamete(parent) => of_gamete(parent),
            Self::Clone { of, .. } | Self::Doubled { of } => visit(*of),
        }
    }
}

/// How a vegetative descendant came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CloneKind {
    Cutting,
    Sport {
        /// The cell layers that changed; `None` while nobody knows.
        layers: Option<Layers>,
        /// What it goes back to, where it has been seen to.
        reverts_to: Option<u64>,
    },
}

/// Cell layers of a shoot's tip that differ from the source: the skin, the layer germ cells come from, the core.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Layers {
    pub l1: bool,
    pub l2: bool,
    pub l3: bool,
}

impl Layers {
    /// Whether seedlings can inherit the change: germ cells come from L2 (W. Bateson, "Root-cuttings, chimaeras
    /// and 'sports'", Journal of Genetics 6, 1916, 75-80, after E. Baur, 1909).
    pub fn inherited(self) -> bool {
        self.l2
    }
}

/// One side of a cross: who gave the gamete and what the gamete brings.
#[derive(Debug, Clone, PartialEq)]
pub struct Parent {
    pub who: Who,
    pub gamete: Gamete,
}

impl Parent {
    pub const UNKNOWN: Self = Self { who: Who::Unknown, gamete: Gamete::REDUCED };

    /// A reduced gamete without double reduction.
    pub fn reduced(id: Option<u64>) -> Self {
        Self { who: id.map_or(Who::Unknown, Who::Known), gamete: Gamete::REDUCED }
    }
}

#[derive(Debug, Clone, PartialEq)]
pub enum Who {
    /// A founder of its own, unrelated to all.
    Unknown,
    Known(u64),
    /// One of these; the shares add up to 1.
    OneOf(Vec<Candidate>),
}

/// One possible parent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// `None` for a stranger.
    pub who: Option<u64>,
    /// Probability, above 0 and at most 1.
    pub share: f64,
}

/// What a gamete brings. `lambda` is the probability that two homologues of the gamete are copies of one
/// because of its own meiosis (M. G. Hamilton, R. J. Kerr, Theoretical and Applied Genetics 131, 2018, 851-860).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Gamete {
    /// Half the parent's sets; the probability of double reduction, 0 to 1 (of no effect with one set).
    Reduced { double_reduction: f64 },
    /// All of the parent's sets.
    Unreduced(Restitution),
    /// So many sets with this `lambda`, whatever the parent has.
    Stated { sets: u8, lambda: f64 },
}

impl Gamete {
    pub const REDUCED: Self = Self::Reduced { double_reduction: 0.0 };

    /// Different for different gametes.
    pub(crate) fn key(self) -> (u8, u8, u64) {
        match self {
            Self::Reduced { double_reduction } => (0, 0, double_reduction.to_bits()),
            Self::Unreduced(Restitution::FirstDivision) => (1, 0, 0),
            Self::Unreduced(Restitution::SecondDivision) => (2, 0, 0),
            Self::Unreduced(Restitution::Lambda(lambda)) => (3, 0, lambda.to_bits()),
            Self::Stated { sets, lambda } => (4, sets, lambda.to_bits()),
        }
    }
}

/// How an unreduced gamete arose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Restitution {
    /// First division restitution of a diploid: `lambda` 0.041 (Hamilton and Kerr 2018, table 1).
    FirstDivision,
    /// Second division restitution of a diploid: `lambda` 0.918 (the same table).
    SecondDivision,
    Lambda(f64),
}

impl Restitution {
    pub(crate) fn lambda(self) -> f64 {
        match self {
            Self::FirstDivision => 0.041,
            Self::SecondDivision => 0.918,
            Self::Lambda(lambda) => lambda,
        }
    }
}
