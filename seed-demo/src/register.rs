//! What came before the registrar, the names registered, and how often sports went back.
#![allow(clippy::indexing_slicing, reason = "every index is that of a person or cultivar made before")]

use storksbill_domain::words::CultivarStatus;

use crate::cultivars::Cultivar;
use crate::people::Person;
use crate::random::Random;

/// What became of a proposal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    Waiting,
    Questioned { question: &'static str },
    Answered { question: &'static str, answer: &'static str },
    Registered,
    Refused { reason: &'static str },
    Withdrawn { reason: &'static str },
}

/// A name that a raiser proposed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Proposal {
    pub cultivar: usize,
    pub by: usize,
    pub name: &'static str,
    pub words: &'static str,
    pub ended: Ended,
}

/// A year's plants of a sport.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reversion {
    pub cultivar: usize,
    pub by: usize,
    pub year: i32,
    pub plants: i32,
    pub reverted: i32,
}

/// All of it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Register {
    /// In the order of proposing and deciding.
    pub proposals: Vec<Proposal>,
    pub reversions: Vec<Reversion>,
    /// What old cultivars were called elsewhere.
    pub other_names: Vec<(usize, &'static str)>,
}

/// Synonyms, which begin with no place either.
const OTHER_NAMES: [&str; 2] = ["Old Harbour Pink", "The Net Mender"];

/// Names that no other cultivar of the demonstration can have, since those begin with a place.
const NAMES: [(&str, &str, Ended); 7] = [
    ("Half Past Neap", "For the hour at which it opened.", Ended::Registered),
    (
        "Wreckers' Amber",
        "The colour of the old harbour lamps.",
        Ended::Answered {
            question: "How many plants have flowered, and over how many years?",
            answer: "Eleven plants, over three years; all alike.",
        },
    ),
    ("Nine Knots", "After the ferry on a good day.", Ended::Registered),
    (
        "Cold Tea",
        "The bloom ages from cream to brown.",
        Ended::Questioned { question: "Would a kinder name not serve it better? Please think it over." },
    ),
    (
        "Ferrywoman",
        "After my grandmother's trade.",
        Ended::Refused { reason: "Too close to a name that is in the register; please propose another." },
    ),
    ("Lamp Oil", "For the sheen of the leaf.", Ended::Waiting),
    ("Slack Water", "It keeps.", Ended::Withdrawn { reason: "It went back to plain pink this spring." }),
];

/// How often the two sports that are reported on go back, a plant and year.
const RATES: [f64; 2] = [0.16, 0.01];
/// Growers who report on each.
const REPORTERS: usize = 7;

/// Proposals for seedlings on trial, and reports of the last two years of two sports.
pub fn generate(seed: u64, this: i32, people: &[Person], cultivars: &[Cultivar]) -> Register {
    let mut random = Random::stream(seed, "register", &[]);
    let unnamed = cultivars.iter().enumerate().filter_map(|(at, cultivar)| {
        let by = cultivar.raised_by.filter(|_| cultivar.status != CultivarStatus::Named)?;
        Some((at, by))
    });
    let proposals = unnamed
        .zip(NAMES)
        .map(|((cultivar, by), (name, words, ended))| Proposal { cultivar, by, name, words, ended })
        .collect();
    let old = |cultivar: &Cultivar| cultivar.raised_year.is_none_or(|year| year <= this - 2);
    let sports = (0..cultivars.len()).filter(|&at| cultivars[at].sport_of.is_some() && old(&cultivars[at]));
    let mut reversions = Vec::new();
    for (cultivar, rate) in sports.zip(RATES) {
        let mut growers: Vec<usize> = (0..people.len()).collect();
        random.shuffle(&mut growers);
        for by in growers.into_iter().take(REPORTERS) {
            for year in [this - 2, this - 1] {
                let plants = random.between(2, 14);
                let reverted = (0..plants).map(|_| i32::from(random.chance(rate))).sum();
                reversions.push(Reversion { cultivar, by, year, plants, reverted });
            }
        }
    }
    let founders = (0..cultivars.len()).filter(|&at| cultivars[at].status == CultivarStatus::Named);
    Register { proposals, reversions, other_names: founders.zip(OTHER_NAMES).collect() }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::{cultivars, people};

    #[test]
    fn proposals_stand_in_every_state_and_sports_have_growers_enough_behind_them() {
        let people = people::generate(11, 150);
        let cultivars = cultivars::generate(11, 400, 2026, &people);
        let register = generate(11, 2026, &people, &cultivars);
        assert_eq!(register.proposals.len(), NAMES.len());
        for proposal in &register.proposals {
            let cultivar = &cultivars[proposal.cultivar];
            assert_eq!(cultivar.raised_by, Some(proposal.by));
            assert_ne!(cultivar.status, CultivarStatus::Named);
        }
        let reported: BTreeSet<usize> = register.reversions.iter().map(|report| report.cultivar).collect();
        assert_eq!(reported.len(), RATES.len());
        for sport in reported {
            assert!(cultivars[sport].sport_of.is_some());
            let of = register.reversions.iter().filter(|report| report.cultivar == sport);
            let growers: BTreeSet<usize> = of.map(|report| report.by).collect();
            assert_eq!(growers.len(), REPORTERS);
        }
        assert!(register.reversions.iter().all(|report| (0..=report.plants).contains(&report.reverted)));
    }
}
