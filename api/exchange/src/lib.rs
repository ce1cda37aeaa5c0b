//! Offers and wants to swap rings, with a proof of how good they are.
//!
//! # Model
//!
//! Members `V` offer items `(u, k)` in quantity `q(u, k)` and want items in order of rank. A hand-over
//! `u -> v` is possible when an offer of `u` holds an item of a want of `v` and the caller's rule allows it.
//! A *ring* `r` is a closed walk of 2 or 3 hand-overs through distinct members: everybody in it gives one
//! cutting and takes one. With `x(r)` the number of times ring `r` is run (the multi-unit cycle formulation):
//!
//! ```text
//! max  sum_r gain(r) x(r)                      gain(r) of the level
//!      sum_{r through v} x(r)   <= min(give(v), receive(v))      each member v
//!      sum_{r using offer o} x(r) <= quantity(o)                 each offer o
//!      sum_{r using want w} x(r)  <= need(w)                     each want w
//!      x(r) >= 0, integer
//! ```
//!
//! A free giver ([`Giver`]) may start a *chain*: a gift that is passed on, at most [`Rules::max_chain`] times.
//!
//! A [`Preset`] is a list of aims, each an integer sum over rings and steps of chains. They are solved in turn,
//! each among the plans that keep the values of those before. For any prices `y >= 0`,
//! `sum_i b(i) y(i) + sum_r ub(r) max(0, gain(r) - sum_{i in r} y(i))` is an upper bound of a level; it is
//! evaluated in integers, so the bound of a [`Level`] never rests on floating point, and [`check()`] works it out
//! again. When members drop out, [`replan`] leaves alone what is not hurt; [`explain_ring`] and [`explain_want`]
//! say why.
//!
//! Where everybody is there and hands over at once, rings may be of any length: a [`circulation`], always solved to
//! the end ([`meet`]). What one more offer would be worth is told by [`unlock_meeting`] and [`unlock_by_post`],
//! what everybody gave and received by [`accounts`]. One plant each and strict lists are a different market,
//! cleared by [`one_for_one`].
//!
//! # Sources
//!
//! D. J. Abraham, A. Blum, T. Sandholm, "Clearing algorithms for barter exchange markets", EC 2007, 295-304
//! (cycle formulation, NP-hard from rings of 3 on); A. E. Roth, T. Sonmez, M. U. Unver, "Efficient kidney
//! exchange", American Economic Review 97(3), 2007, 828-851; L. Shapley, H. Scarf, "On cores and
//! indivisibility", Journal of Mathematical Economics 1, 1974, 23-37; J. P. Dickerson and others,
//! "Position-indexed formulations for kidney exchange", EC 2016 (chains).
//!
//! # Cost
//!
//! Building: `O(m log m)` for `m` possible hand-overs. Going through the rings: `O(m d)`, `d` the largest number of
//! hand-overs a member can make. Where the rings are few enough for the work allowed, each level solves a linear
//! program over few of them (a row for each member, offer and want that can bind), rounds it, mends the plan around
//! its largest losses, and searches the rings that can still matter; the program grows about with the square of the
//! members, the search exponentially at worst. Where they are more, the plan comes from local search among the
//! rings nearest to paying for themselves, and the bounds from circulations and a subgradient method, over all
//! rings, none of them stored.
//! It is bounded by counted work ([`Work`]), never by the clock, so the same input always gives the same answer.
//! A level whose work ran out says so (`proved: false`) and still carries a true bound.

mod bound;
mod chains;
mod check;
mod check_meeting;
pub mod circulation;
mod cycles_and_chains;
mod explain;
mod fairness;
mod linear;
mod local_search;
mod market;
mod meeting;
mod mend;
mod one_for_one;
mod packing;
mod plan;
mod presets;
mod program;
mod relaxation;
mod replan;
mod rings;
mod search;
mod solve;
mod story;
mod subgradient;
mod unlock;
mod wide;

pub use check::{Fault, check};
pub use check_meeting::{MeetingFault, check_meeting};
pub use cycles_and_chains::{Choice, cycles_and_chains};
pub use explain::{Forced, Loss, RingCase, WantCase, explain_ring, explain_want, unmet_at_meeting};
pub use fairness::{Account, accounts};
pub use market::{Giver, Market, Member, Offer, Problem, Reason, Want, Wish, Worth, rank_weight};
pub use meeting::{Aim, HandOver, Meeting, MeetingLevel, MeetingRules, meet};
pub use one_for_one::{BadList, one_for_one};
pub use plan::{Chain, Level, Move, Plan, Ring, Rules, Spent, Stopped, Tie, Unmet, Why, Work};
pub use presets::{LevelName, Preset};
pub use replan::{Replan, replan};
pub use rings::{MaxRing, count_rings};
pub use solve::{solve, solve_until};
pub use unlock::{Unlock, unlock_by_post, unlock_meeting};
