//! How many sets of chromosomes each gamete brings.

use crate::origin::{CloneKind, Gamete, Individual, Origin, Parent, Restitution, Who};
use crate::problem::Problem;

/// A gamete worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Brings {
    pub(crate) sets: u8,
    pub(crate) lambda: f64,
}

impl Brings {
    const NOTHING: Self = Self { sets: 0, lambda: 0.0 };

    fn new(sets: u8, lambda: f64) -> Self {
        // Of one set no two homologues can be copies.
        Self { sets, lambda: if sets > 1 { lambda } else { 0.0 } }
    }
}

/// The two gametes of an individual.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Kind {
    pub(crate) gametes: [Brings; 2],
    /// Whether the sets stand on a guess.
    pub(crate) assumed: bool,
}

impl Kind {
    pub(crate) const DIPLOID: Self = Self { gametes: [Brings { sets: 1, lambda: 0.0 }; 2], assumed: false };
    pub(crate) const ASSUMED: Self = Self { assumed: true, ..Self::DIPLOID };

    pub(crate) fn sets(&self) -> u8 {
        self.gametes[0].sets + self.gametes[1].sets
    }
}

/// Sets of an individual, and whether they stand on a guess.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sets {
    pub(crate) sets: u8,
    pub(crate) assumed: bool,
}

/// One side of a cross before the two are fitted to each other and to what is recorded of the child.
#[derive(Clone, Copy)]
struct Side {
    brings: Option<Brings>,
    /// Of a gamete whose sets are not settled by its parent: what `lambda` it has, and the most sets it can bring.
    open: Option<(f64, u8)>,
    assumed: bool,
    odd: Option<(u64, u8)>,
}

/// What an individual is made of; `None` for a clone. `sets_of` tells of others, by id.
///
/// # Errors
///
/// The first problem of this record.
pub(crate) fn kind(record: &Individual, sets_of: impl Fn(u64) -> Sets) -> Result<Option<Kind>, Problem> {
    let id = record.id;
    let recorded = record.ploidy.sets;
    let made = match &record.origin {
        Origin::Founder => {
            let sets = recorded.unwrap_or(2);
            let gametes = [sets / 2, sets - sets / 2].map(|sets| Brings::new(sets, 0.0));
            Kind { gametes, assumed: recorded.is_none() }
        }
        Origin::Clone { of, .. } => {
            let source = sets_of(*of);
            match recorded {
                Some(recorded) if recorded != source.sets && !source.assumed => {
                    return Err(Problem::CloneSets { id, recorded, of_source: source.sets });
                }
                _ => return Ok(None),
            }
        }
        Origin::Doubled { of } => {
            let source = sets_of(*of);
            let sets = source.sets.checked_mul(2).ok_or(Problem::Sets {
                id,
                recorded,
                seed: 2 * u16::from(source.sets),
                pollen: 0,
            })?;
            // Of the pairs of 2k genes, k are of one gene and its copy.
            let lambda = 1.0 / f64::from(2 * u16::from(source.sets) - 1);
            Kind { gametes: [Brings::new(sets, lambda), Brings::NOTHING], assumed: source.assumed }
        }
        Origin::OneGamete(parent) => {
            let side = side(id, parent, &sets_of)?;
            let brings = match (side.brings, recorded) {
                (Some(brings), None) => brings,
                (Some(brings), Some(sets)) if brings.sets == sets => brings,
                (_, Some(sets)) if side.fits(sets) => side.filled(sets),
                (Some(brings), _) => {
                    return Err(Problem::Sets { id, recorded, seed: brings.sets.into(), pollen: 0 });
                }
                (None, _) => side.by_default(id, 1)?,
            };
            if let Who::Known(parent) = parent.who
                && brings.sets == sets_of(parent).sets
                && brings.lambda == 0.0
            {
                return Ok(None);
            }
            Kind { gametes: [brings, Brings::NOTHING], assumed: side.assumed && recorded.is_none() }
        }
        Origin::Cross { seed, pollen } => {
            cross(id, recorded, side(id, seed, &sets_of)?, side(id, pollen, &sets_of)?)?
        }
    };
    let [seed, pollen] = made.gametes.map(|gamete| u16::from(gamete.sets));
    let sum = seed + pollen;
    if sum == 0 || sum > 255 || recorded.is_some_and(|sets| u16::from(sets) != sum) {
        return Err(Problem::Sets { id, recorded, seed, pollen });
    }
    Ok(Some(made))
}

fn cross(id: u64, recorded: Option<u8>, seed: Side, pollen: Side) -> Result<Kind, Problem> {
    let assumed = recorded.is_none() && (seed.assumed || pollen.assumed);
    let gametes = match (seed.brings, pollen.brings, recorded) {
        (Some(a), Some(b), None) => [a, b],
        (Some(a), Some(b), Some(sets)) if u16::from(a.sets) + u16::from(b.sets) == u16::from(sets) => [a, b],
        // The child's sets tell more than a guess about a parent's.
        (a, b, Some(sets)) => {
            let rest = |given: Option<Brings>| given.and_then(|given| sets.checked_sub(given.sets));
            if let Some(sets) = rest(b).filter(|&sets| a.is_none() && seed.fits(sets)) {
                [seed.filled(sets), b.unwrap_or(Brings::NOTHING)]
            } else if let Some(sets) = rest(a).filter(|&sets| pollen.fits(sets)) {
                [a.unwrap_or(Brings::NOTHING), pollen.filled(sets)]
            } else if let Some(sets) = rest(b).filter(|&sets| seed.fits(sets)) {
                [seed.filled(sets), b.unwrap_or(Brings::NOTHING)]
            } else if seed.fits(sets / 2) && pollen.fits(sets - sets / 2) {
                [seed.filled(sets / 2), pollen.filled(sets - sets / 2)]
            } else {
                let of = |side: Option<Brings>| u16::from(side.map_or(0, |brings| brings.sets));
                return Err(Problem::Sets { id, recorded, seed: of(a), pollen: of(b) });
            }
        }
        // An unknown parent is taken to be like the other.
        (Some(a), None, None) => [a, pollen.by_default(id, a.sets)?],
        (None, Some(b), None) => [seed.by_default(id, b.sets)?, b],
        (None, None, None) => [seed.by_default(id, 1)?, pollen.by_default(id, 1)?],
    };
    Ok(Kind { gametes, assumed })
}

impl Side {
    fn fits(&self, sets: u8) -> bool {
        sets > 0 && self.open.is_some_and(|(_, most)| sets <= most)
    }

    fn filled(&self, sets: u8) -> Brings {
        Brings::new(sets, self.open.map_or(0.0, |(lambda, _)| lambda))
    }

    fn by_default(&self, id: u64, sets: u8) -> Result<Brings, Problem> {
        match self.odd {
            Some((parent, sets)) => Err(Problem::OddParent { id, parent, sets }),
            None => Ok(self.filled(sets)),
        }
    }
}

fn side(id: u64, parent: &Parent, sets_of: &impl Fn(u64) -> Sets) -> Result<Side, Problem> {
    let several: Vec<u64>;
    let known = match &parent.who {
        Who::Unknown => &[],
        Who::Known(id) => std::slice::from_ref(id),
        Who::OneOf(candidates) => {
            several = candidates.iter().filter_map(|candidate| candidate.who).collect();
            several.as_slice()
        }
    };
    let settled = |brings| Side { brings: Some(brings), open: None, assumed: false, odd: None };
    match parent.gamete {
        Gamete::Stated { sets, lambda } => Ok(settled(Brings::new(sets, lambda))),
        Gamete::Unreduced(restitution) => {
            let lambda = restitution.lambda();
            let mut side = Side { assumed: known.is_empty(), ..settled(Brings::new(2, lambda)) };
            for (nth, &parent) in known.iter().enumerate() {
                let Sets { sets, assumed } = sets_of(parent);
                if sets != 2 && !matches!(restitution, Restitution::Lambda(_)) {
                    return Err(Problem::NoRestitution { id, parent, sets });
                }
                let brings = Brings::new(sets, lambda);
                if nth > 0 && side.brings != Some(brings) {
                    return Err(Problem::MixedSets { id });
                }
                side.brings = Some(brings);
                side.assumed |= assumed;
            }
            Ok(side)
        }
        Gamete::Reduced { double_reduction: lambda } => {
            let mut side = Side { brings: None, open: Some((lambda, u8::MAX)), assumed: true, odd: None };
            for (nth, &parent) in known.iter().enumerate() {
                let Sets { sets, assumed } = sets_of(parent);
                let brings = (sets % 2 == 0).then(|| Brings::new(sets / 2, lambda));
                if nth > 0 && side.brings != brings {
                    return Err(Problem::MixedSets { id });
                }
                side.brings = brings;
                // An odd parent's gamete, or one of a parent whose sets are a guess, is fitted to the child.
                side.open = (brings.is_none() || assumed).then_some((lambda, sets));
                side.odd = brings.is_none().then_some((parent, sets));
                side.assumed = assumed || (nth > 0 && side.assumed);
            }
            Ok(side)
        }
    }
}

fn probability(id: u64, value: f64) -> Result<(), Problem> {
    if (0.0..=1.0).contains(&value) { Ok(()) } else { Err(Problem::Probability { id, value }) }
}

/// Whether the `lambda` of a gamete is a probability.
///
/// # Errors
///
/// [`Problem::Probability`].
pub(crate) fn lambda(id: u64, gamete: Gamete) -> Result<(), Problem> {
    let lambda = match gamete {
        Gamete::Reduced { double_reduction } => double_reduction,
        Gamete::Unreduced(restitution) => restitution.lambda(),
        Gamete::Stated { lambda, .. } => lambda,
    };
    probability(id, lambda)
}

/// The first `lambda` or share of a record outside its range.
///
/// # Errors
///
/// [`Problem::Probability`] or [`Problem::Shares`].
pub(crate) fn probabilities(record: &Individual) -> Result<(), Problem> {
    let id = record.id;
    let of_parent = |parent: &Parent| {
        lambda(id, parent.gamete)?;
        if let Who::OneOf(candidates) = &parent.who {
            for candidate in candidates {
                probability(id, candidate.share)?;
            }
            let sum: f64 = candidates.iter().map(|candidate| candidate.share).sum();
            // Shares are written with a few decimals.
            if (sum - 1.0).abs() > 1e-6 {
                return Err(Problem::Shares { id, sum });
            }
        }
        Ok(())
    };
    match &record.origin {
        Origin::Founder | Origin::Clone { .. } | Origin::Doubled { .. } => Ok(()),
        Origin::OneGamete(parent) => of_parent(parent),
        Origin::Cross { seed, pollen } => of_parent(seed).and_then(|()| of_parent(pollen)),
    }
}

/// What a sport goes back to, where that is recorded.
pub(crate) fn reverts_to(record: &Individual) -> Option<u64> {
    match record.origin {
        Origin::Clone { kind: CloneKind::Sport { reverts_to, .. }, .. } => reverts_to,
        _ => None,
    }
}
