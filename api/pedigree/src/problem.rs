//! What is wrong, or worth a word, in records.

use std::fmt;

/// Why records do not make a pedigree.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Problem {
    /// Two records share this id.
    #[error("individual {id} is listed twice")]
    Duplicate { id: u64 },
    /// A parent, source or what a sport reverts to is not among the records.
    #[error("individual {id} names {parent} as a parent, which is not listed")]
    UnknownParent { id: u64, parent: u64 },
    /// Individuals that are their own ancestors: a shortest loop of those tangled together, each a child of the
    /// next and the last a child of the first, from the smallest id on. One that names itself is a loop of one.
    #[error("individuals are their own ancestors: {}", round(ids))]
    Loop { ids: Vec<u64> },
    /// A `lambda` or share outside its range.
    #[error("individual {id} has {value} for a probability")]
    Probability { id: u64, value: f64 },
    /// The shares of the possible parents of a gamete do not add up to 1.
    #[error("the shares of possible parents of individual {id} add up to {sum}, not to 1")]
    Shares { id: u64, sum: f64 },
    /// The gametes bring another number of sets than is recorded, or none at all, or more than 255.
    #[error("{}", of_sets(*id, *recorded, *seed, *pollen))]
    Sets { id: u64, recorded: Option<u8>, seed: u16, pollen: u16 },
    /// A gamete of this parent has no half: the sets it brings must be stated.
    #[error("individual {id}: parent {parent} has {sets} sets; how many the gamete brings must be stated")]
    OddParent { id: u64, parent: u64, sets: u8 },
    /// Possible parents of one gamete would bring different numbers of sets: state the sets.
    #[error("possible parents of individual {id} would bring different numbers of sets")]
    MixedSets { id: u64 },
    /// The published figures for unreduced gametes are those of diploids: state `lambda`.
    #[error(
        "individual {id}: no figure is published for unreduced gametes of a parent ({parent}) with {sets} sets"
    )]
    NoRestitution { id: u64, parent: u64, sets: u8 },
    /// A sport or cutting recorded with another number of sets than its source: that is a doubling.
    #[error("individual {id} is recorded with {recorded} sets and its source with {of_source}: a doubling")]
    CloneSets { id: u64, recorded: u8, of_source: u8 },
    /// More records than can be numbered in 32 bits.
    #[error("there are more individuals than 32 bits can number")]
    TooLarge,
}

/// Every member of a loop and the first once more.
fn round(ids: &[u64]) -> String {
    ids.iter().chain(ids.first()).map(u64::to_string).collect::<Vec<_>>().join(" <- ")
}

fn of_sets(id: u64, recorded: Option<u8>, seed: u16, pollen: u16) -> String {
    match recorded {
        Some(recorded) => {
            format!("individual {id} is recorded with {recorded} sets; its gametes bring {seed} and {pollen}")
        }
        None => format!("the gametes of individual {id} bring {seed} and {pollen} sets"),
    }
}

/// What is allowed and should be known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Warning {
    /// Both parents are one clone under two names, a sport and its source say: the cross is a selfing.
    OwnSport { id: u64, seed: u64, pollen: u64 },
    /// Nobody recorded the sets of chromosomes; the kinship stands on a guess.
    AssumedSets { id: u64, sets: u8 },
    /// An odd number of sets: such plants are mostly sterile.
    OddSets { id: u64, sets: u8 },
    /// A gamete brings more sets than its parent has, with a `lambda` below what that forces: doubling is best
    /// recorded as such.
    LowLambda { id: u64 },
}

impl fmt::Display for Warning {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OwnSport { id, seed, pollen } => {
                write!(f, "individual {id}: {seed} and {pollen} are one clone, so the cross is a selfing")
            }
            Self::AssumedSets { id, sets } => write!(f, "individual {id} is taken to have {sets} sets"),
            Self::OddSets { id, sets } => write!(f, "individual {id} has {sets} sets, an odd number"),
            Self::LowLambda { id } => {
                write!(
                    f,
                    "individual {id}: a gamete brings more sets than its parent has, with too low a lambda"
                )
            }
        }
    }
}
