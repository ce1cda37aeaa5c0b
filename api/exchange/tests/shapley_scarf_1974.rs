//! One plant each: top trading cycles.
//!
//! Source: L. Shapley, H. Scarf, "On cores and indivisibility", Journal of Mathematical Economics 1 (1974),
//! 23-37 (the procedure is David Gale's); that the strict core is a single outcome: A. E. Roth,
//! A. Postlewaite, Journal of Mathematical Economics 4 (1977), 131-137.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_exchange::{BadList, one_for_one};
use support::Lcg;

/// Six agents, the worked example of the encyclopedia article "Top trading cycle"; the rounds are published,
/// the table of preferences is from memory, and the outcome was found again by trying all 720 allocations.
#[test]
fn six_agents() {
    let lists: Vec<Vec<usize>> =
        [&[3, 2, 4, 1][..], &[3, 5, 6, 2], &[3, 1], &[2, 5, 6, 4], &[1, 3, 2, 5], &[2, 4, 5, 6]]
            .iter()
            .map(|list| list.iter().map(|plant| plant - 1).collect())
            .collect();
    // 1 gets 2's, 2 gets 5's, 5 gets 1's; 3 keeps its own; 4 and 6 swap.
    assert_eq!(one_for_one(&lists).unwrap(), vec![vec![0, 1, 4], vec![2], vec![3, 5]]);
}

/// Four agents A: b d a c, B: c a d b, C: d b c a, D: a c b d get b, c, d, a. Source: question 6836 of the
/// economics question-and-answer site of Stack Exchange.
#[test]
fn four_agents_in_one_ring() {
    let lists = [vec![1, 3, 0, 2], vec![2, 0, 3, 1], vec![3, 1, 2, 0], vec![0, 2, 1, 3]];
    assert_eq!(one_for_one(&lists).unwrap(), vec![vec![0, 1, 2, 3]]);
}

#[test]
fn bad_lists_are_refused() {
    assert_eq!(one_for_one(&[vec![0], vec![2]]), Err(BadList::Unknown { agent: 1, plant: 2 }));
    assert_eq!(one_for_one(&[vec![1, 1], vec![]]), Err(BadList::Repeated { agent: 0, plant: 1 }));
    assert_eq!(one_for_one(&[]), Ok(vec![]));
}

/// On random markets of up to five the outcome is the only allocation that no group can improve among its own
/// plants, one of them strictly and none for the worse.
#[test]
fn is_the_strict_core() {
    let mut lcg = Lcg(5);
    for _ in 0..60 {
        let agents = 2 + lcg.below(4) as usize;
        let lists: Vec<Vec<usize>> = (0..agents)
            .map(|_| {
                let mut list: Vec<usize> = (0..agents).collect();
                lcg.shuffle(&mut list);
                list
            })
            .collect();
        let place = |agent: usize, plant: usize| lists[agent].iter().position(|&p| p == plant).unwrap();
        let all = permutations(agents);
        let blocked = |gets: &[usize]| {
            all.iter().any(|other| {
                (1u32..1 << agents).any(|group| {
                    let inside: Vec<usize> = (0..agents).filter(|&agent| group >> agent & 1 == 1).collect();
                    inside.iter().all(|&agent| {
                        inside.contains(&other[agent])
                            && place(agent, other[agent]) <= place(agent, gets[agent])
                    }) && inside.iter().any(|&agent| place(agent, other[agent]) < place(agent, gets[agent]))
                })
            })
        };
        let core: Vec<&Vec<usize>> = all.iter().filter(|gets| !blocked(gets)).collect();
        let mut gets = vec![0; agents];
        for cycle in one_for_one(&lists).unwrap() {
            for (at, &agent) in cycle.iter().enumerate() {
                gets[agent] = cycle[(at + 1) % cycle.len()];
            }
        }
        assert_eq!(core, vec![&gets], "{lists:?}");
    }
}

fn permutations(n: usize) -> Vec<Vec<usize>> {
    if n == 0 {
        return vec![vec![]];
    }
    let mut all = Vec::new();
    for shorter in permutations(n - 1) {
        for at in 0..n {
            let mut longer = shorter.clone();
            longer.insert(at, n - 1);
            all.push(longer);
        }
    }
    all
}
