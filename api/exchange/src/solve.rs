//! The round: from a market to a plan.

use crate::market::{Market, Reason};
use crate::rings::MaxRing;

/// How a round is run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rules {
    /// The longest ring allowed.
    pub max_ring: MaxRing,
    /// How much work may be spent.
    pub work: Work,
}

impl Default for Rules {
    fn default() -> Self {
        Self { max_ring: MaxRing::Three, work: Work::default() }
    }
}

/// Limits in counted work, never in time: the same market under the same limits always gives the same plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Work {
    /// Rings kept at most; where a market has more, every member keeps a share.
    pub rings: u32,
    /// Branch and bound nodes over all levels.
    pub nodes: u64,
    /// Small searches spent on choosing the first among equally good plans.
    pub tie_searches: u32,
}

impl Default for Work {
    fn default() -> Self {
        Self { rings: 250_000, nodes: 4_000, tie_searches: 200 }
    }
}

/// What a round proposes. Nothing in it is binding until every member of a ring has agreed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// By length, then members, then items.
    pub rings: Vec<Ring>,
    /// The aims in order: wants served, then rank weights.
    pub levels: Vec<Level>,
    /// How one of several equally good plans was picked.
    pub tie: Tie,
    /// The wants, by id, that this plan leaves wholly or partly unserved.
    pub unmet: Vec<Unmet>,
    /// What the round cost.
    pub spent: Spent,
}

/// Members who each give one cutting to the next, the last to the first; the smallest member gives first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ring {
    /// Two or three; `moves[i].to == moves[i + 1].from`.
    pub moves: Vec<Move>,
    /// How many times the same ring is run, at least 1.
    pub times: u16,
}

/// One cutting handed over (`times` cuttings, where the ring is run several times).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Move {
    /// The giving member.
    pub from: u64,
    /// The receiving member.
    pub to: u64,
    /// The offer it is taken from.
    pub offer: u64,
    /// The want it serves.
    pub want: u64,
    /// The item of the offer.
    pub item: u64,
    /// [`crate::rank_weight`] of the want.
    pub weight: u32,
}

/// The aims of a round, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LevelName {
    /// Cuttings handed over, each serving one want.
    WantsServed,
    /// Sum of the rank weights of the wants served, among plans that serve at least as many.
    RankWeight,
}

/// One aim: what was reached, and how much more could be possible at most.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Level {
    pub name: LevelName,
    /// What the plan reaches, recomputed in integers from its moves.
    pub value: i64,
    /// No plan that keeps the levels before reaches more. Follows from `prices` in integers alone.
    pub bound: i64,
    /// No plan reaches more than `value`: either `bound == value`, or the search over every ring that
    /// `prices` leaves open was finished (this part rests on the solver's arithmetic).
    pub proved: bool,
    /// The certificate: dual prices in units of 2^-20, of members, offers, wants (each by id) and last of the
    /// level before.
    pub prices: Vec<u64>,
}

/// How one of several equally good plans was picked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tie {
    /// The plan is the first of all best plans: rings by length, members and items, each run as often as
    /// possible in that order.
    First,
    /// The first best plan the search met; repeatable, but not otherwise distinguished.
    ByRun,
}

/// A want left wholly or partly unserved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unmet {
    /// The id of the want.
    pub want: u64,
    /// Cuttings still missing, at least 1.
    pub missing: u16,
    pub why: Why,
}

/// Why a want stayed unserved; the first that applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// Nobody else offers any of its items.
    NobodyOffers,
    /// Somebody does, but the caller's rule refused every such hand-over; the reason of the first.
    Refused(Reason),
    /// No ring of the allowed length closes through it among members with room.
    NoRingCloses,
    /// The member gives or receives as much as they said they would.
    LimitReached,
    /// A ring would serve it, but only instead of one that is at least as good.
    BetterRing,
}

/// What a round cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Spent {
    /// Rings of the market.
    pub rings: u64,
    /// Rings given to the search.
    pub rings_kept: u64,
    /// Branch and bound nodes.
    pub nodes: u64,
    /// Searches for the first among equals.
    pub tie_searches: u32,
}

/// Runs a round.
///
/// Never fails: a round that runs out of work returns the best plan met so far, with levels that say what is
/// not proved. Cost: listing the rings, then for each level a linear program whose size is the number of
/// members, offers and wants in rings, and a search bounded by `rules.work`.
pub fn solve(market: &Market, rules: &Rules) -> Plan {
    let _ = (market, rules);
    Plan {
        rings: Vec::new(),
        levels: Vec::new(),
        tie: Tie::ByRun,
        unmet: Vec::new(),
        spent: Spent::default(),
    }
}
