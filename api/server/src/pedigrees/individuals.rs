//! Records of cultivars and seedlings as individuals of the pedigree crate.

use std::collections::{BTreeSet, HashMap};

use storksbill_db::rows::lines::{self, Descent, Gave, Line};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::IndividualId;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{GameteForm, ParentSide, SportLayers};
use storksbill_pedigree::{
    Candidate, CloneKind, Gamete, Individual, Layers, Origin, Parent, Pedigree, Ploidy, Problem as Unsound,
    Restitution, Who,
};

use super::asker::Asker;
use crate::http::problem::{Code, Problem};

/// Numbers of individuals.
pub(super) type Numbers = HashMap<IndividualId, u64>;

/// A record as an individual of this number. One that names what is not among the numbers names a stranger.
pub(super) fn individual(line: &Line, number: u64, numbers: &Numbers) -> Individual {
    let of = |id: &IndividualId| numbers.get(id).copied();
    let origin = match &line.descent {
        Descent::Unknown => Origin::Founder,
        Descent::Cross { seed, pollen } => {
            let seed = Parent {
                who: seed.as_ref().and_then(of).map_or(Who::Unknown, Who::Known),
                gamete: gamete(line.seed_gave),
            };
            let pollen = Parent { who: pollen_parent(pollen, numbers), gamete: gamete(line.pollen_gave) };
            if seed == Parent::UNKNOWN && pollen == Parent::UNKNOWN {
                Origin::Founder
            } else {
                Origin::Cross { seed, pollen }
            }
        }
        Descent::Sport { of: source, layers, reverts_to } => match of(source) {
            Some(of_number) => Origin::Clone {
                of: of_number,
                kind: CloneKind::Sport {
                    layers: layers.map(changed),
                    reverts_to: reverts_to.as_ref().and_then(of),
                },
            },
            None => Origin::Founder,
        },
        Descent::Cutting(source) => {
            of(source).map_or(Origin::Founder, |of| Origin::Clone { of, kind: CloneKind::Cutting })
        }
        Descent::Doubled(source) => of(source).map_or(Origin::Founder, |of| Origin::Doubled { of }),
        Descent::OneGamete(side, parent) => {
            let gave = if *side == ParentSide::Seed { line.seed_gave } else { line.pollen_gave };
            of(parent).map_or(Origin::Founder, |parent| {
                Origin::OneGamete(Parent { who: Who::Known(parent), gamete: gamete(gave) })
            })
        }
    };
    // Chromosomes are recorded and told; kinship asks for the sets alone.
    let sets = line.sets.and_then(|sets| u8::try_from(sets).ok());
    Individual { id: number, origin, ploidy: Ploidy { sets, ..Ploidy::default() } }
}

fn pollen_parent(pollen: &[(Option<IndividualId>, i32)], numbers: &Numbers) -> Who {
    let of = |id: Option<IndividualId>| id.and_then(|id| numbers.get(&id).copied());
    match pollen {
        [] => Who::Unknown,
        [(one, 1_000)] => of(*one).map_or(Who::Unknown, Who::Known),
        several => {
            let sum: i32 = several.iter().map(|(_, share)| share).sum();
            let candidate = |(id, share): &(Option<IndividualId>, i32)| Candidate {
                who: of(*id),
                share: f64::from(*share) / f64::from(sum.max(1)),
            };
            Who::OneOf(several.iter().map(candidate).collect())
        }
    }
}

/// What a parent gave. An unreduced gamete of which nobody knows how it arose counts as one of first division
/// restitution, the commoner way in the figures published; its finding says so.
pub(super) fn gamete(gave: Gave) -> Gamete {
    let lambda = gave.lambda.unwrap_or(0.0);
    match gave.form {
        None | Some(GameteForm::Reduced) => Gamete::Reduced { double_reduction: lambda },
        Some(GameteForm::Unreduced) => {
            Gamete::Unreduced(gave.lambda.map_or(Restitution::FirstDivision, Restitution::Lambda))
        }
        Some(GameteForm::FirstDivision) => Gamete::Unreduced(Restitution::FirstDivision),
        Some(GameteForm::SecondDivision) => Gamete::Unreduced(Restitution::SecondDivision),
        Some(GameteForm::Stated) => {
            let sets = gave.sets.and_then(|sets| u8::try_from(sets).ok()).unwrap_or(1);
            Gamete::Stated { sets, lambda }
        }
    }
}

fn changed(layers: SportLayers) -> Layers {
    let words = layers.as_str();
    Layers { l1: words.contains("L1"), l2: words.contains("L2"), l3: words.contains("L3") }
}

/// The individual with two sets, one from each parent, whatever its record says: for records whose sets and gametes
/// contradict each other, which are kept and counted all the same.
pub(super) fn plain(individual: &Individual) -> Individual {
    let one_set =
        |parent: &Parent| Parent { who: parent.who.clone(), gamete: Gamete::Stated { sets: 1, lambda: 0.0 } };
    let origin = match &individual.origin {
        Origin::Cross { seed, pollen } => Origin::Cross { seed: one_set(seed), pollen: one_set(pollen) },
        Origin::OneGamete(parent) => Origin::OneGamete(one_set(parent)),
        other => other.clone(),
    };
    Individual::new(individual.id, origin)
}

/// The individual as if nobody knew where it comes from.
pub(super) fn parentless(individual: &Individual) -> Individual {
    Individual::new(individual.id, Origin::Founder)
}

/// Whom a problem of the records is about; `None` where it is about them all.
pub(super) fn about(problem: &Unsound) -> Option<u64> {
    match problem {
        Unsound::Duplicate { id }
        | Unsound::UnknownParent { id, .. }
        | Unsound::Probability { id, .. }
        | Unsound::Shares { id, .. }
        | Unsound::Sets { id, .. }
        | Unsound::OddParent { id, .. }
        | Unsound::MixedSets { id }
        | Unsound::NoRestitution { id, .. }
        | Unsound::CloneSets { id, .. } => Some(*id),
        Unsound::Loop { .. } | Unsound::TooLarge => None,
    }
}

/// What is told of a write that failed: of one that would have made a loop, the loop, naming those that the asker
/// may see.
pub(crate) fn loop_told(conn: &mut Conn, actor: &Actor, error: DbError) -> Problem {
    let DbError::Loop(around) = &error else { return error.into() };
    let told = Asker::load(conn, actor).and_then(|asker| {
        let known = lines::of_ids(conn, around)?;
        let of = |id: &IndividualId| known.iter().find(|line| line.id == *id);
        Ok::<_, Problem>(loop_words(&asker, &around.iter().filter_map(of).collect::<Vec<_>>()))
    });
    match told {
        Ok(words) => Problem::new(Code::PedigreeLoop, format!("It would be its own ancestor: {words}.")),
        Err(problem) => problem,
    }
}

/// A loop in words, naming those that the asker may see.
pub(crate) fn loop_words(asker: &Asker, around: &[&Line]) -> String {
    let name = |line: &&Line| {
        if asker.sees(line) { format!("'{}'", line.name) } else { "an undisclosed line".to_owned() }
    };
    around.iter().chain(around.first()).map(name).collect::<Vec<_>>().join(" from ")
}

/// A shortest loop of every tangle of records in which somebody is their own ancestor, each a child of the next.
pub(crate) fn loops(above: &[Line]) -> Vec<Vec<&Line>> {
    let numbers: Numbers = above.iter().map(|line| line.id).zip(0..).collect();
    // Loops are found whatever is wrong with sets and shares.
    let records: Vec<Individual> =
        (0..).zip(above).map(|(number, line)| plain(&individual(line, number, &numbers))).collect();
    let Err(faults) = Pedigree::build(&records) else { return Vec::new() };
    let line = |number: u64| usize::try_from(number).ok().and_then(|at| above.get(at));
    faults
        .into_iter()
        .filter_map(|fault| match fault {
            Unsound::Loop { ids } => Some(ids.into_iter().filter_map(line).collect()),
            _ => None,
        })
        .collect()
}

/// Those of `ids` once each, in their order.
pub(super) fn distinct<T: Copy + Ord>(ids: impl IntoIterator<Item = T>) -> Vec<T> {
    let mut met = BTreeSet::new();
    ids.into_iter().filter(|id| met.insert(*id)).collect()
}
