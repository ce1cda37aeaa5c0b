//! Source: A. E. Roth, T. Sonmez, M. U. Unver, "Kidney exchange", Quarterly Journal of Economics 119(2)
//! (2004), 457-488, example 1 (pp. 469-475); the lists as in the documentation of the R package
//! `matchingMarkets`.
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "test code"
)]

mod support;

use storksbill_exchange::{BadList, Choice, cycles_and_chains, one_for_one};
use support::Lcg;

/// 0 stands for a turn (in the source: the waiting list), agents count from 1.
fn lists(written: &[&[usize]]) -> Vec<Vec<Choice>> {
    let choice = |&number: &usize| if number == 0 { Choice::Turn } else { Choice::Plant(number - 1) };
    written.iter().map(|list| list.iter().map(choice).collect()).collect()
}

/// The cycles (3 2 11), (5 7 6), then the chain 10 1 9, the cycle (4 8), and 12, for whom the plant of 10 is
/// left.
#[test]
fn twelve_agents() {
    let twelve = lists(&[
        &[9, 10, 1],
        &[11, 3, 5, 6, 2],
        &[2, 4, 5, 6, 7, 8, 0],
        &[5, 9, 1, 8, 10, 3, 0],
        &[3, 7, 11, 4, 5],
        &[3, 5, 8, 6],
        &[6, 1, 3, 9, 10, 0], // printed with 1 a second time
        &[6, 4, 11, 2, 3, 8],
        &[3, 11, 0],
        &[11, 1, 4, 5, 6, 7, 0],
        &[3, 6, 5, 11],
        &[11, 3, 9, 8, 10, 12],
    ]);
    let mut outcome = lists(&[&[9, 11, 2, 8, 7, 5, 6, 4, 0, 1, 3, 10]]).remove(0);
    assert_eq!(cycles_and_chains(&twelve, true).unwrap(), outcome);
    outcome[11] = Choice::Plant(11);
    assert_eq!(cycles_and_chains(&twelve, false).unwrap(), outcome);
}

#[test]
fn bad_lists_are_refused() {
    assert_eq!(cycles_and_chains(&lists(&[&[2]]), true), Err(BadList::Unknown { agent: 0, plant: 1 }));
    assert_eq!(cycles_and_chains(&lists(&[&[1, 1]]), true), Err(BadList::Repeated { agent: 0, plant: 0 }));
    assert_eq!(cycles_and_chains(&[], true), Ok(vec![]));
}

fn random(lcg: &mut Lcg, agents: usize, turns: bool) -> Vec<Vec<Choice>> {
    let one = |_| {
        let mut list: Vec<Choice> = (0..agents).map(Choice::Plant).collect();
        if turns {
            list.push(Choice::Turn);
        }
        lcg.shuffle(&mut list);
        list
    };
    (0..agents).map(one).collect()
}

/// Where nobody would take a turn there are no chains.
#[test]
fn without_turns_it_is_trading_cycles() {
    let mut lcg = Lcg(41);
    for _ in 0..200 {
        let agents = 1 + lcg.below(8) as usize;
        let lists = random(&mut lcg, agents, false);
        let plants = |list: &Vec<Choice>| {
            list.iter().map(|choice| if let Choice::Plant(plant) = choice { *plant } else { 0 }).collect()
        };
        let mut expected = vec![Choice::Turn; agents];
        for cycle in one_for_one(&lists.iter().map(plants).collect::<Vec<_>>()).unwrap() {
            for (at, &agent) in cycle.iter().enumerate() {
                expected[agent] = Choice::Plant(cycle[(at + 1) % cycle.len()]);
            }
        }
        for tails_stay in [false, true] {
            assert_eq!(cycles_and_chains(&lists, tails_stay).unwrap(), expected);
        }
    }
}

/// With tails left on the table no other way to hand out plants and turns is better for some and worse for
/// none.
#[test]
fn tails_that_stay_leave_nothing_to_improve() {
    let mut lcg = Lcg(42);
    let (mut turns, mut improvable) = (0, 0);
    for _ in 0..2000 {
        let agents = 2 + lcg.below(3) as usize;
        let lists = random(&mut lcg, agents, true);
        let place =
            |agent: usize, choice: Choice| lists[agent].iter().position(|&other| other == choice).unwrap();
        let better = |gets: &[Choice]| {
            let options = agents + 1;
            (0..options.pow(agents as u32)).any(|code| {
                let choice = |agent: usize| match code / options.pow(agent as u32) % options {
                    plant if plant < agents => Choice::Plant(plant),
                    _ => Choice::Turn,
                };
                let other: Vec<Choice> = (0..agents).map(choice).collect();
                let twice =
                    |plant: usize| other.iter().filter(|&&got| got == Choice::Plant(plant)).count() > 1;
                let no_worse = |agent| place(agent, other[agent]) <= place(agent, gets[agent]);
                !(0..agents).any(twice) && (0..agents).all(no_worse) && other != gets
            })
        };
        let gets = cycles_and_chains(&lists, true).unwrap();
        assert!(!better(&gets), "{lists:?} {gets:?}");
        turns += i32::from(gets.contains(&Choice::Turn));
        improvable += i32::from(better(&cycles_and_chains(&lists, false).unwrap()));
    }
    assert!(turns > 1000 && improvable > 10, "{turns} {improvable}");
}
