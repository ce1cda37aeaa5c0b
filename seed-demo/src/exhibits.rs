//! What stood on the benches of the shows that were held, and what the judge said of it.

use std::collections::BTreeMap;

use serde_json::Value;
use storksbill_domain::words::PlantGroup;

use crate::cultivars::Cultivar;
use crate::people::{GUIDE, Person};
use crate::random::Random;
use crate::shows::{Class, Show};

/// Exhibitors of a show at most.
const EXHIBITORS: usize = 12;
/// Exhibits of a show, about.
const EXHIBITS: f64 = 60.0;

/// What a judge says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Said {
    /// Nothing.
    Nothing,
    /// A place, and whether it is shared on purpose.
    Place(usize, bool),
    /// Highly commended.
    Commended,
    /// Not according to schedule, and why.
    NotAsSchedule(&'static str),
}

/// An exhibit.
#[derive(Debug, Clone, PartialEq)]
pub struct Exhibit {
    /// Index into the people.
    pub exhibitor: usize,
    /// Index into the show's classes.
    pub class: usize,
    /// What the exhibitor says of its plants.
    pub items: Vec<Value>,
    /// Whether it came to the hall.
    pub staged: bool,
    pub said: Said,
}

/// The exhibits of a show, class by class; none where nobody had what it asks.
pub fn generate(seed: u64, show: &Show, people: &[Person], cultivars: &[Cultivar]) -> Vec<Exhibit> {
    let mut random = Random::stream(seed, "exhibits", &[i64::from(show.held_on)]);
    let mut grown: BTreeMap<PlantGroup, Vec<&str>> = BTreeMap::new();
    for cultivar in cultivars {
        grown.entry(cultivar.group).or_default().push(&cultivar.name);
    }
    let exhibitors = exhibitors(show, people);
    let skill: Vec<f64> = exhibitors.iter().map(|_| random.normal(0.0, 0.5)).collect();
    let chance = (EXHIBITS / (show.classes.len() * exhibitors.len()).max(1) as f64).min(0.5);
    let mut all = Vec::new();
    for (at, class) in show.classes.iter().enumerate().filter(|(_, class)| class.is_open()) {
        let mut scored = Vec::new();
        for (&exhibitor, skill) in exhibitors.iter().zip(&skill) {
            if !random.chance(chance) {
                continue;
            }
            let Some(items) = items(&mut random, class, &grown) else { continue };
            let staged = !random.chance(0.07);
            let said = Said::Nothing;
            scored.push((
                skill + random.normal(0.0, 1.0),
                Exhibit { exhibitor, class: at, items, staged, said },
            ));
        }
        scored.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut exhibits: Vec<Exhibit> = scored.into_iter().map(|(_, exhibit)| exhibit).collect();
        judge(&mut random, class, &mut exhibits);
        all.append(&mut exhibits);
    }
    all
}

/// The member shown first, then those of the club, then others.
fn exhibitors(show: &Show, people: &[Person]) -> Vec<usize> {
    let of_club = |own: bool| {
        people
            .iter()
            .enumerate()
            .filter(move |&(at, person)| at != GUIDE && at > 1 && (person.club == show.club) == own)
            .map(|(at, _)| at)
    };
    let guide = (GUIDE < people.len()).then_some(GUIDE);
    guide.into_iter().chain(of_club(true).take(8)).chain(of_club(false)).take(EXHIBITORS).collect()
}

fn items(random: &mut Random, class: &Class, grown: &BTreeMap<PlantGroup, Vec<&str>>) -> Option<Vec<Value>> {
    let groups: Vec<PlantGroup> = grown.keys().copied().collect();
    let group = if groups.is_empty() { return None } else { class.group.unwrap_or(*random.pick(&groups)) };
    let mut names = grown.get(&group)?.clone();
    random.shuffle(&mut names);
    let items: Vec<Value> = names.iter().take(class.count()).map(|name| class.item(name, group)).collect();
    (items.len() == class.count()).then_some(items)
}

/// Says of each, the best first, what a judge would.
fn judge(random: &mut Random, class: &Class, exhibits: &mut [Exhibit]) {
    let slip = match class.max_pot_mm {
        Some(_) => "A pot over the limit of the class.",
        None => "Not as many as the class asks for.",
    };
    let mut staged: Vec<&mut Exhibit> = exhibits.iter_mut().filter(|exhibit| exhibit.staged).collect();
    let shared = staged.len() > 4 && random.chance(0.4);
    let mut place = 1;
    for (nth, exhibit) in staged.iter_mut().enumerate() {
        if random.chance(0.04) {
            exhibit.said = Said::NotAsSchedule(slip);
            continue;
        }
        exhibit.said = match place {
            1 => Said::Place(1, false),
            // Two that share second place leave no third.
            2 | 3 if shared => Said::Place(2, true),
            2 | 3 => Said::Place(place, false),
            _ if nth < 5 && random.chance(0.5) => Said::Commended,
            _ => Said::Nothing,
        };
        place += 1;
    }
    // Of two that were to share a place one may have been put out.
    let sharing = staged.iter().filter(|exhibit| exhibit.said == Said::Place(2, true)).count();
    for exhibit in &mut staged {
        if sharing == 1 && exhibit.said == Said::Place(2, true) {
            exhibit.said = Said::Place(2, false);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]
    #![allow(clippy::indexing_slicing, reason = "a test may fail")]

    use storksbill_forecast::calendar;

    use super::*;
    use crate::shows::{self, Stage};
    use crate::{cultivars, people};

    #[test]
    fn every_show_that_was_held_has_exhibits_with_firsts_and_no_place_without_the_one_before() {
        let today = calendar::epoch_day(2026, 5, 10).unwrap();
        for members in [people::FEWEST, 150] {
            let people = people::generate(11, members);
            let kinds = cultivars::generate(11, 60.max(members * 2), 2026, &people);
            for show in shows::generate(today).iter().filter(|show| show.stage >= Stage::Staging) {
                let all = generate(11, show, &people, &kinds);
                assert!((20..110).contains(&all.len()), "{} {}", show.name, all.len());
                assert!(all.iter().any(|exhibit| exhibit.exhibitor == GUIDE));
                for class in 0..show.classes.len() {
                    let of_class = || all.iter().filter(|exhibit| exhibit.class == class);
                    let places: Vec<usize> = of_class()
                        .filter_map(|exhibit| match exhibit.said {
                            Said::Place(place, _) => Some(place),
                            _ => None,
                        })
                        .collect();
                    let expected: &[usize] = match places.len() {
                        0 => &[],
                        1 => &[1],
                        2 => &[1, 2],
                        _ if places[2] == 2 => &[1, 2, 2],
                        _ => &[1, 2, 3],
                    };
                    assert_eq!(places, expected);
                    assert!(of_class().all(|exhibit| exhibit.staged || exhibit.said == Said::Nothing));
                }
            }
        }
    }
}
