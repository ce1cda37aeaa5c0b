//! What a round is after: levels in order, each an integer sum over rings and steps of chains.
//!
//! # Expectation under drop-out
//!
//! With chance `p` that a member drops out before posting and `s` that a parcel arrives, a ring delivers
//!
//! ```text
//! pair            2 ((1-p) s)^2
//! ring of three   3 ((1-p) s)^3 + 2 b p (1-p)^2 s^2        b steps with a possible hand-over the other way
//! ```
//!
//! for when one of three drops out, the two left may swap (internal recourse). The delivery at place `k` of a
//! chain needs the giver, `k` receivers and `k` parcels: `(1-p)^(k+1) s^k`. Values are rounded to
//! ten-thousandths of a cutting.
//!
//! Sources: J. P. Pedroso, "Maximizing expectation on vertex-disjoint cycle packing", ICCSA 2014;
//! X. Klimentova, J. P. Pedroso, A. Viana, "Maximising expectation of the number of transplants in kidney
//! exchange programmes", Computers & Operations Research 73 (2016), 1-11; D. F. Manlove, G. O'Malley, "Paired
//! and altruistic kidney donation in the UK", ACM Journal of Experimental Algorithmics 19 (2014), art. 2.6
//! (the hierarchy of `Robust`).

use crate::market::Market;
use crate::plan::Rules;
use crate::relaxation::PARTS;
use crate::rings::{Cycle, MaxRing};

/// A ready-made order of aims.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Preset {
    /// Most cuttings expected to arrive, then most members served, then dearest wishes, then members in
    /// credit.
    Expected,
    /// Most rings that survive a drop-out in part, then most cuttings, fewest rings of three, most ways to
    /// mend them, dearest wishes.
    Robust,
    /// Most cuttings, then dearest wishes.
    Count,
    /// Dearest wishes in sum, then most cuttings.
    Wishes,
    /// Most cuttings, then dearest wishes, rarest items, shortest rings, members in credit.
    Society,
}

impl Preset {
    /// The aims in order.
    pub const fn levels(self) -> &'static [LevelName] {
        use LevelName::{
            BackArcs, Credit, EffectivePairs, Expected, FewestThrees, MembersServed, RankWeight, Rarity,
            WantsServed,
        };
        match self {
            Self::Expected => &[Expected, MembersServed, RankWeight, Credit],
            Self::Robust => &[EffectivePairs, WantsServed, FewestThrees, BackArcs, RankWeight],
            Self::Count => &[WantsServed, RankWeight],
            Self::Wishes => &[RankWeight, WantsServed],
            Self::Society => &[WantsServed, RankWeight, Rarity, FewestThrees, Credit],
        }
    }
}

/// An aim of a round; always the more the better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LevelName {
    /// Cuttings expected to arrive, in ten-thousandths.
    Expected,
    /// Members who receive anything.
    MembersServed,
    /// Cuttings handed over, each serving one want.
    WantsServed,
    /// Sum of [`crate::Worth::weight`].
    RankWeight,
    /// Sum of [`crate::Worth::rarity`].
    Rarity,
    /// Pairs, and rings of three of which a pair is left when the right member drops out.
    EffectivePairs,
    /// Rings of three, counted below zero.
    FewestThrees,
    /// Steps of rings of three with a possible hand-over the other way.
    BackArcs,
    /// Over all cuttings received, 8 + the receiver's credit, which is cut off at -7 and 7.
    Credit,
}

impl LevelName {
    /// What a ring adds depends on possible hand-overs the other way, which are looked up.
    pub(crate) fn counts_back_arcs(self) -> bool {
        matches!(self, Self::Expected | Self::EffectivePairs | Self::BackArcs)
    }

    /// What a ring adds is the sum of what its hand-overs add.
    pub(crate) fn is_sum_of_steps(self) -> bool {
        match self {
            Self::MembersServed | Self::WantsServed | Self::RankWeight | Self::Rarity | Self::Credit => true,
            Self::Expected | Self::EffectivePairs | Self::FewestThrees | Self::BackArcs => false,
        }
    }
}

/// Ten-thousandths of a cutting in one.
const CUTTING: u64 = 10_000;
const ONE: u64 = 1_000_000_000;

/// Gains that depend on the rules alone.
#[derive(Debug, Clone)]
pub(crate) struct Values {
    pair: i64,
    /// By the number of back arcs.
    three: [i64; 4],
    /// By place in the chain, from 1.
    step: Vec<i64>,
}

impl Values {
    pub(crate) fn new(rules: &Rules) -> Self {
        // Chances in billionths; products are rounded to billionths too.
        let drop = u64::from(rules.drop_ppm.min(1_000_000)) * 1_000;
        let step = u64::from(rules.step_ppm.min(1_000_000)) * 1_000;
        let keep = ONE - drop;
        let times = |a: u64, b: u64| (a * b + ONE / 2) / ONE;
        let both = times(keep, step);
        let all_three = times(times(both, both), both);
        let left = times(drop, times(both, both));
        let mut chain = keep;
        let places = (0..rules.max_chain).map(|_| {
            chain = times(chain, both);
            ten_thousandths(chain)
        });
        Self {
            step: places.collect(),
            pair: ten_thousandths(2 * times(both, both)),
            three: [0, 1, 2, 3].map(|back| ten_thousandths(3 * all_three + 2 * back * left)),
        }
    }

    /// Of a ring of so many members with so many back arcs.
    pub(crate) fn ring(&self, members: usize, back: usize) -> i64 {
        if members == 2 { self.pair } else { self.three.get(back).copied().unwrap_or(0) }
    }

    /// The largest share of a hand-over in a ring, in [`PARTS`]; `back`: with a possible one the other way.
    fn share(&self, longest: MaxRing, back: bool) -> i64 {
        let [bare, ..] = self.three;
        // A third of a bare ring, and what each way back adds at most.
        let added = (1i64..).zip(&self.three[1..]).map(|(count, &three)| (three - bare + count - 1) / count);
        let of_three = PARTS / 3 * bare + if back { PARTS * added.max().unwrap_or(0) } else { 0 };
        match (longest, back) {
            (MaxRing::Two, _) => PARTS / 2 * self.pair,
            (MaxRing::Three, true) => of_three.max(PARTS / 2 * self.pair),
            (MaxRing::Three, false) => of_three,
        }
    }

    /// Of a hand-over at this place of a chain, from 1.
    pub(crate) fn step(&self, place: usize) -> i64 {
        self.step.get(place.wrapping_sub(1)).copied().unwrap_or(0)
    }
}

/// A chance in billionths as ten-thousandths, rounded.
fn ten_thousandths(billionths: u64) -> i64 {
    i64::try_from((billionths * CUTTING + ONE / 2) / ONE).unwrap_or(i64::MAX)
}

/// Steps of a ring of three with a possible hand-over the other way; 0 for a pair.
pub(crate) fn back_arcs(market: &Market, cycle: Cycle) -> usize {
    if cycle.len() == 2 {
        return 0;
    }
    cycle.steps(market).filter(|arc| market.connects(arc.to, arc.from)).count()
}

/// What one run of a ring adds to a level. `once` says of a member whether they are counted at most once by a
/// column of their own instead ([`LevelName::MembersServed`]).
pub(crate) fn ring_gain(
    market: &Market,
    values: &Values,
    cycle: Cycle,
    level: LevelName,
    once: impl Fn(u32) -> bool,
) -> i64 {
    let pair = cycle.len() == 2;
    let steps = cycle.steps(market);
    match level {
        LevelName::Expected => values.ring(cycle.len(), back_arcs(market, cycle)),
        LevelName::MembersServed => steps.map(|arc| i64::from(!once(arc.to))).sum(),
        LevelName::WantsServed => {
            if pair {
                2
            } else {
                3
            }
        }
        LevelName::RankWeight => steps.map(|arc| i64::from(arc.weight)).sum(),
        LevelName::Rarity => steps.map(|arc| i64::from(arc.rarity)).sum(),
        LevelName::EffectivePairs => i64::from(pair || back_arcs(market, cycle) > 0),
        LevelName::FewestThrees => -i64::from(!pair),
        LevelName::BackArcs => i64::try_from(back_arcs(market, cycle)).unwrap_or(0),
        LevelName::Credit => steps.map(|arc| credit(market, arc.to)).sum(),
    }
}

/// What one hand-over of a ring adds to a level that is a sum over hand-overs; 0 for any other level. `once` as
/// for [`ring_gain`].
pub(crate) fn step_in_ring(market: &Market, arc: usize, level: LevelName, once: impl Fn(u32) -> bool) -> i64 {
    let Some(arc) = market.arcs.get(arc) else { return 0 };
    match level {
        LevelName::MembersServed => i64::from(!once(arc.to)),
        LevelName::WantsServed => 1,
        LevelName::RankWeight => i64::from(arc.weight),
        LevelName::Rarity => i64::from(arc.rarity),
        LevelName::Credit => credit(market, arc.to),
        LevelName::Expected | LevelName::EffectivePairs | LevelName::FewestThrees | LevelName::BackArcs => 0,
    }
}

/// What a hand-over can be said to add to a level in rings, in [`PARTS`]: the shares of a ring come to what it
/// adds, or more. `once` as for [`ring_gain`].
pub(crate) fn ring_share(
    market: &Market,
    values: &Values,
    longest: MaxRing,
    arc: u32,
    level: LevelName,
    once: impl Fn(u32) -> bool,
) -> i64 {
    let Some(arc) = market.arcs.get(arc as usize) else { return 0 };
    // Both hand-overs of a pair have one the other way.
    let back = market.connects(arc.to, arc.from);
    if longest == MaxRing::Two && !back {
        return 0;
    }
    match level {
        LevelName::Expected => values.share(longest, back),
        LevelName::MembersServed => PARTS * i64::from(!once(arc.to)),
        LevelName::WantsServed => PARTS,
        LevelName::RankWeight => PARTS * i64::from(arc.weight),
        LevelName::Rarity => PARTS * i64::from(arc.rarity),
        // A ring of three needs one with a way back, so that half and twice a quarter come to one.
        LevelName::EffectivePairs => PARTS / if back { 2 } else { 4 },
        LevelName::FewestThrees => -PARTS / 3 * i64::from(!back),
        LevelName::BackArcs => PARTS * i64::from(back),
        LevelName::Credit => PARTS * credit(market, arc.to),
    }
}

/// What one hand-over at this place of a chain (from 1) adds to a level.
pub(crate) fn step_gain(
    market: &Market,
    values: &Values,
    arc: u32,
    place: u8,
    level: LevelName,
    once: impl Fn(u32) -> bool,
) -> i64 {
    let Some(arc) = market.arcs.get(arc as usize) else { return 0 };
    match level {
        LevelName::Expected => values.step(usize::from(place)),
        LevelName::MembersServed => i64::from(!once(arc.to)),
        LevelName::WantsServed => 1,
        LevelName::RankWeight => i64::from(arc.weight),
        LevelName::Rarity => i64::from(arc.rarity),
        LevelName::EffectivePairs | LevelName::FewestThrees | LevelName::BackArcs => 0,
        LevelName::Credit => credit(market, arc.to),
    }
}

fn credit(market: &Market, member: u32) -> i64 {
    market.members.get(member as usize).map_or(8, |member| 8 + i64::from(member.credit.clamp(-7, 7)))
}
