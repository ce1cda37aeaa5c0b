//! What a round is asked for and what it proposes.

use crate::market::{Market, Reason};
use crate::presets::{LevelName, Preset};
use crate::rings::MaxRing;

/// How a round is run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rules {
    /// The aims of the round, in order.
    pub preset: Preset,
    /// The longest ring allowed.
    pub max_ring: MaxRing,
    /// Receivers in a chain at most; 0 for no chains.
    pub max_chain: u8,
    /// Chance that a member drops out before posting, in millionths; up to 1 000 000.
    pub drop_ppm: u32,
    /// Chance that a parcel arrives well, in millionths; up to 1 000 000.
    pub step_ppm: u32,
    /// How much work may be spent.
    pub work: Work,
}

impl Default for Rules {
    /// Rings of three, no chains, one member in ten dropping out.
    fn default() -> Self {
        Self {
            preset: Preset::Expected,
            max_ring: MaxRing::Three,
            max_chain: 0,
            drop_ppm: 100_000,
            step_ppm: 1_000_000,
            work: Work::default(),
        }
    }
}

/// Limits in counted work, never in time: the same market under the same limits always gives the same plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Work {
    /// Rings kept at most; where a market has more, every want keeps a share, one at least.
    pub rings: u32,
    /// Steps of the simplex method, each counted as often as its program has rows and columns; about a tenth of a
    /// microsecond, which other work is counted in too. A level takes half of what the levels before have left; its
    /// bound is worked out in any case. Where columns times the rows that can bind come to more than half of this, all
    /// but the smallest markets are left to local search, which takes half for the plan and less for the bounds.
    pub search: u64,
    /// Small searches spent on choosing the first among equally good plans.
    pub tie_searches: u32,
}

impl Default for Work {
    fn default() -> Self {
        Self { rings: 250_000, search: 100_000_000, tie_searches: 200 }
    }
}

/// What a round proposes. Nothing in it is binding until every member of a ring has agreed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// What was asked for.
    pub rules: Rules,
    /// By length, then members, then items.
    pub rings: Vec<Ring>,
    /// By the hand-overs in order, each by (from, to, item).
    pub chains: Vec<Chain>,
    /// The aims in order, as [`Preset::levels`] lists them.
    pub levels: Vec<Level>,
    /// How one of several equally good plans was picked.
    pub tie: Tie,
    /// Whether the search was broken off.
    pub stopped: Stopped,
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

/// A gift of a free giver, passed on: everybody after the giver takes a cutting before they give one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chain {
    /// At least one; `moves[i].to == moves[i + 1].from`.
    pub moves: Vec<Move>,
    /// How many times the same chain is run, at least 1.
    pub times: u16,
}

/// One cutting handed over (`times` cuttings, where the ring is run several times).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Move {
    /// The giving member.
    pub from: u64,
    /// The receiving member.
    pub to: u64,
    /// The item of the offer.
    pub item: u64,
    /// The offer it is taken from.
    pub offer: u64,
    /// The want it serves.
    pub want: u64,
    /// [`crate::Worth::weight`] of the hand-over.
    pub weight: u32,
    /// [`crate::Worth::rarity`] of the hand-over.
    pub rarity: u32,
}

/// One aim: what was reached, and how much more could be possible at most.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Level {
    pub name: LevelName,
    /// What the plan reaches, recomputed in integers from its moves.
    pub value: i64,
    /// No plan that keeps the levels before reaches more. Follows in integers from `prices` and from those of
    /// the levels before.
    pub bound: i64,
    /// No plan that keeps the levels before reaches more than `value`: either `bound == value`, or the search
    /// over all that the prices leave open was finished (this part rests on the solver's arithmetic).
    pub proved: bool,
    /// The certificate: dual prices in units of 2^-32, of the rows and links of the program in their order and
    /// last of the levels before.
    pub prices: Vec<u64>,
}

impl Level {
    /// What no plan that keeps the levels before exceeds, as far as is known: the value itself where that is proved.
    pub fn least_bound(&self) -> i64 {
        if self.proved { self.value } else { self.bound }
    }
}

/// How one of several equally good plans was picked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tie {
    /// The plan is the first of all best plans: rings by length, members and items, then steps of chains by
    /// place, members and items, each run as often as possible in that order.
    First,
    /// The first best plan the search met; repeatable, but not otherwise distinguished.
    ByRun,
}

/// Whether the search was broken off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stopped {
    /// Every level was brought to its end.
    No,
    /// Some level had used up its [`Work`]. Repeating the round gives the same plan.
    ByWork,
    /// The caller's clock ended it. Repeating the round may give another plan.
    ByClock,
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
    /// The member gives as much as they said they would.
    GiveLimit,
    /// The member receives as much as they said they would.
    ReceiveLimit,
    /// Nobody in the market may take anything the member offers, and no chain reaches the want.
    NothingToGive,
    /// No ring or chain of the allowed length passes through it among members with room.
    NoRingCloses,
    /// A ring or chain would serve it, but only instead of others that together are at least as good.
    BetterRing,
}

/// What a round cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Spent {
    /// Rings of the market.
    pub rings: u64,
    /// Rings given to the search.
    pub rings_kept: u64,
    /// Steps of the simplex method in linear programs.
    pub pivots: u64,
    /// Branch and bound nodes.
    pub nodes: u64,
    /// What [`Work::search`] limits.
    pub search: u64,
    /// Searches for the first among equals.
    pub tie_searches: u32,
}

impl Market {
    /// The hand-over at this place of the market's list.
    #[allow(clippy::indexing_slicing, reason = "hand-overs hold positions in the market's own lists")]
    pub(crate) fn hand_over(&self, arc: u32) -> Move {
        let arc = self.arcs[arc as usize];
        let (offer, want) = (&self.offers[arc.offer as usize], &self.wants[arc.want as usize]);
        Move {
            from: offer.member,
            to: want.member,
            item: offer.item,
            offer: offer.id,
            want: want.id,
            weight: arc.weight,
            rarity: arc.rarity,
        }
    }
}
