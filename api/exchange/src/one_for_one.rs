//! Top trading cycles: everybody brings one plant and takes one home.

/// A list [`one_for_one`] cannot use.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum BadList {
    /// The list of `agent` names `plant`, which nobody brought.
    #[error("list {agent} names plant {plant}, which nobody brought")]
    Unknown { agent: usize, plant: usize },
    /// The list of `agent` names `plant` twice.
    #[error("list {agent} names plant {plant} twice")]
    Repeated { agent: usize, plant: usize },
}

/// Gale's top trading cycles (Shapley & Scarf 1974): agent `i` brings plant `i`, and `lists[i]` names the
/// plants `i` would rather have, best first. What follows the agent's own plant, or is not in the list, the
/// agent would not swap for.
///
/// Returns the cycles in order of their smallest agent, which comes first in each; everyone gets the plant of
/// the next agent in the cycle, the last that of the first. A cycle of one keeps the plant. The outcome is the
/// unique strict core (Roth & Postlewaite 1977) and does not depend on the order of trading.
/// Cost: linear in the lengths of the lists.
///
/// # Errors
///
/// [`BadList`] for a plant that nobody brought or that is named twice.
#[allow(clippy::indexing_slicing, reason = "every plant number is checked against the lists first")]
pub fn one_for_one(lists: &[Vec<usize>]) -> Result<Vec<Vec<usize>>, BadList> {
    check_lists(lists)?;
    let agents = lists.len();
    let mut gone = vec![false; agents];
    let mut on_path = vec![false; agents];
    let mut next = vec![0usize; agents];
    let mut cycles = Vec::new();
    let mut path: Vec<usize> = Vec::new();
    for start in 0..agents {
        if !gone[start] {
            path.push(start);
            on_path[start] = true;
        }
        while let Some(&agent) = path.last() {
            let mut best = agent;
            while let Some(&plant) = lists[agent].get(next[agent]) {
                if !gone[plant] {
                    best = plant;
                    break;
                }
                next[agent] += 1;
            }
            if !on_path[best] {
                on_path[best] = true;
                path.push(best);
                continue;
            }
            let at = path.iter().rposition(|&other| other == best).unwrap_or(0);
            let mut cycle = path.split_off(at);
            for &member in &cycle {
                gone[member] = true;
                on_path[member] = false;
            }
            let smallest =
                cycle.iter().enumerate().min_by_key(|&(_, &member)| member).map_or(0, |(at, _)| at);
            cycle.rotate_left(smallest);
            cycles.push(cycle);
        }
    }
    cycles.sort_unstable();
    Ok(cycles)
}

#[allow(clippy::indexing_slicing, reason = "plants are compared with the length before they index")]
pub(crate) fn check_lists(lists: &[Vec<usize>]) -> Result<(), BadList> {
    let mut named_by = vec![usize::MAX; lists.len()];
    for (agent, list) in lists.iter().enumerate() {
        for &plant in list {
            if plant >= lists.len() {
                return Err(BadList::Unknown { agent, plant });
            }
            if named_by[plant] == agent {
                return Err(BadList::Repeated { agent, plant });
            }
            named_by[plant] = agent;
        }
    }
    Ok(())
}
