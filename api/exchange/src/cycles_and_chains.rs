//! Top trading cycles and chains: one plant each, where a member may also take a turn instead of a plant.
//!
//! # Model
//!
//! As [`crate::one_for_one`], but a list may name a *turn*: to be among the first to choose next time. Round
//! by round everybody points at the best that is left for them. Cycles trade and leave. When there is none,
//! every way of pointing ends with somebody who takes a turn, and the longest such chain trades: among
//! equally long ones that with the member of highest priority, then the next highest. Nobody in the chain
//! gets the plant of its first member. When it stays on the table, the outcome is Pareto-efficient.
//!
//! # Source
//!
//! A. E. Roth, T. Sonmez, M. U. Unver, "Kidney exchange", Quarterly Journal of Economics 119(2), 2004,
//! 457-488.
//!
//! # Cost
//!
//! `O(n^2)` for each round of `n` agents besides the reading of the lists; at most `n` rounds.
#![allow(clippy::indexing_slicing, reason = "every plant number is checked against the lists first")]

use std::cmp::Reverse;

use crate::one_for_one::{BadList, check_lists};

/// What an agent may take home.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Choice {
    /// The plant that the agent of this number brought.
    Plant(usize),
    /// A turn: to be among the first to choose next time.
    Turn,
}

/// Agent `i` brings plant `i`, `lists[i]` says what `i` would rather have, best first; what follows a turn or
/// the agent's own plant does not count, and an agent whose list is used up keeps their plant. Agents of
/// smaller number have priority. `tails_stay`: the plant of the first member of a chain stays on the table.
///
/// Returns what each agent gets.
///
/// # Errors
///
/// [`BadList`] for a plant that nobody brought or that is named twice.
pub fn cycles_and_chains(lists: &[Vec<Choice>], tails_stay: bool) -> Result<Vec<Choice>, BadList> {
    let plant = |choice: &Choice| match *choice {
        Choice::Plant(plant) => Some(plant),
        Choice::Turn => None,
    };
    let plants: Vec<Vec<usize>> = lists.iter().map(|list| list.iter().filter_map(plant).collect()).collect();
    check_lists(&plants)?;
    let mut table = Table { lists, gets: vec![None; lists.len()], left: vec![true; lists.len()] };
    while let Some(first) = table.gets.iter().position(Option::is_none) {
        let walks: Vec<Vec<usize>> = (first..lists.len()).map(|agent| table.follow(agent)).collect();
        // Where everybody on a way is met again, it is a cycle.
        let closed = |walk: &&Vec<usize>| {
            walk.last().is_some_and(|&last| {
                Some(table.points(last)) == walk.first().map(|&agent| Choice::Plant(agent))
            })
        };
        if let Some(cycle) = walks.iter().find(closed) {
            table.trade(cycle);
            continue;
        }
        let longest = walks.iter().max_by_key(|walk| {
            let mut members = (*walk).clone();
            members.sort_unstable();
            (table.length(walk), Reverse(members))
        });
        let Some(chain) = longest.filter(|chain| !chain.is_empty()) else { break };
        table.trade(chain);
        if let (true, Some(&tail)) = (tails_stay, chain.first()) {
            table.left[tail] = true;
        }
    }
    Ok(table.gets.iter().enumerate().map(|(agent, got)| got.unwrap_or(Choice::Plant(agent))).collect())
}

struct Table<'a> {
    lists: &'a [Vec<Choice>],
    gets: Vec<Option<Choice>>,
    /// By plant: whether it is still on the table.
    left: Vec<bool>,
}

impl Table<'_> {
    /// What an agent would take of what is left.
    fn points(&self, agent: usize) -> Choice {
        let open = |choice: &&Choice| match **choice {
            Choice::Plant(plant) => self.left[plant],
            Choice::Turn => true,
        };
        self.lists[agent].iter().find(open).copied().unwrap_or(Choice::Plant(agent))
    }

    /// From an agent who has not traded, along what each points at, as far as agents who have not traded
    /// either; each once.
    fn follow(&self, start: usize) -> Vec<usize> {
        let mut walk = Vec::new();
        let mut agent = start;
        while self.gets[agent].is_none() && !walk.contains(&agent) {
            walk.push(agent);
            match self.points(agent) {
                Choice::Plant(plant) => agent = plant,
                Choice::Turn => break,
            }
        }
        walk
    }

    /// Of a chain, with those who traded before and whose first plant it ends at.
    fn length(&self, walk: &[usize]) -> usize {
        let mut length = walk.len();
        let mut next = walk.last().map(|&last| self.points(last));
        while let Some(Choice::Plant(plant)) = next {
            length += 1;
            next = self.gets[plant];
        }
        length
    }

    fn trade(&mut self, walk: &[usize]) {
        let got: Vec<Choice> = walk.iter().map(|&agent| self.points(agent)).collect();
        for (&agent, choice) in walk.iter().zip(got) {
            self.gets[agent] = Some(choice);
            self.left[agent] = false;
            if let Choice::Plant(plant) = choice {
                self.left[plant] = false;
            }
        }
    }
}
