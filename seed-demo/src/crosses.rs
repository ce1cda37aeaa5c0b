//! What the raisers of the society crossed, season by season, and what came of it.
//!
//! A seed parent takes more or less readily, about its group; regals take hardly and zonals well. Every count is
//! drawn of the one before it. The first cross is one of the member shown first, told in full; the last one is
//! theirs too, pollinated days ago.
#![allow(clippy::indexing_slicing, reason = "every index is that of a person or cultivar made before")]

use std::collections::BTreeMap;

use storksbill_domain::words::{
    BloomStage, CrossCountKind, CultivarStatus, LossCause, PlantGroup, Visibility,
};
use storksbill_forecast::calendar;

use crate::cultivars::Cultivar;
use crate::people::{GUIDE, Person};
use crate::random::Random;

/// Most raisers; the keenest growers.
const RAISERS: usize = 14;
/// Most seed parents of a group.
const BEARERS: usize = 4;
/// Most seeds of a floret.
const OVULES: i32 = 5;
/// The notes of the cross that is told in full.
pub const TOLD: &str = "For a shorter plant with the large bloom of the pollen parent.";

/// A day's work with pollen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pollination {
    /// Days since 1970-01-01, as all days here.
    pub day: i32,
    pub florets: i32,
    pub petals_removed: bool,
    pub seed_bloom: BloomStage,
    pub pollen_bloom: BloomStage,
}

/// What was counted on a day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Count {
    pub day: i32,
    pub kind: CrossCountKind,
    pub how_many: i32,
    pub cause: Option<LossCause>,
}

/// A cross with all that is told of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cross {
    pub raiser: usize,
    /// Unlike the raiser's others: 2026-003.
    pub number: String,
    pub seed_parent: usize,
    /// None where it is not known.
    pub pollen_parent: Option<usize>,
    pub visibility: Visibility,
    pub pooled: bool,
    pub notes: Option<&'static str>,
    pub pollinations: Vec<Pollination>,
    pub counts: Vec<Count>,
    /// What is noted of each numbered seedling.
    pub seedlings: Vec<&'static str>,
}

/// How readily a group takes, sets seed and comes up.
fn rates(group: PlantGroup) -> (f64, f64, f64) {
    match group {
        PlantGroup::Regal | PlantGroup::Angel | PlantGroup::Unique => (0.32, 0.45, 0.55),
        PlantGroup::IvyLeaved => (0.40, 0.55, 0.65),
        PlantGroup::ScentedLeaf | PlantGroup::Species => (0.50, 0.60, 0.50),
        _ => (0.58, 0.65, 0.72),
    }
}

const SEEDLING_NOTES: [&str; 6] = [
    "Salmon, a good truss, short.",
    "Rose pink, too tall.",
    "White eye, clear zone on the leaf.",
    "Double; the oldest florets brown.",
    "Late, and worth another year.",
    "Scarlet, like the seed parent.",
];

/// `count` crosses from the first of `seasons` to `today`.
pub fn generate(
    seed: u64,
    count: usize,
    (first, this): (i32, i32),
    today: i32,
    people: &[Person],
    cultivars: &[Cultivar],
) -> Vec<Cross> {
    let mut random = Random::stream(seed, "crosses", &[]);
    let mut keen: Vec<usize> = (0..people.len()).filter(|&at| at != GUIDE).collect();
    keen.sort_by(|&a, &b| people[b].keenness.total_cmp(&people[a].keenness).then(a.cmp(&b)));
    keen.truncate(RAISERS - 1);
    keen.push(GUIDE);
    let mut by_group: BTreeMap<PlantGroup, Vec<usize>> = BTreeMap::new();
    for (at, cultivar) in cultivars.iter().enumerate() {
        if cultivar.status == CultivarStatus::Named && !cultivar.protected {
            by_group.entry(cultivar.group).or_default().push(at);
        }
    }
    // Few of a group, so that each is used again and again.
    for group in by_group.values_mut() {
        random.shuffle(group);
        group.truncate(9);
    }
    by_group.retain(|_, group| group.len() > 1);
    let mut book = Book { numbers: BTreeMap::new(), today };
    let mut all = vec![book.told_in_full(first, &by_group)];
    for _ in 2..count {
        let &raiser = random.pick(&keen);
        let year = random.between(first, this);
        let parents = parents(&mut random, &by_group);
        all.extend(book.cross(&mut random, raiser, year, parents, cultivars));
    }
    all.push(book.begun(&by_group));
    all
}

/// Mostly within a group, in the larger groups.
fn parents(random: &mut Random, by_group: &BTreeMap<PlantGroup, Vec<usize>>) -> (usize, Option<usize>) {
    let weights: Vec<(PlantGroup, f64)> = by_group
        .keys()
        .map(|group| {
            let weight = match group {
                PlantGroup::Zonal => 5.0,
                PlantGroup::Regal => 4.0,
                _ => 0.6,
            };
            (*group, weight)
        })
        .collect();
    let seed_group = *random.weighted(&weights);
    let pollen_group = if random.chance(0.9) { seed_group } else { *random.weighted(&weights) };
    // A few bear most of the seed, so that several growers stand behind each.
    let bearers = &by_group[&seed_group];
    let seed_parent = *random.pick(&bearers[..bearers.len().min(BEARERS)]);
    let pollen: Vec<usize> =
        by_group[&pollen_group].iter().copied().filter(|at| *at != seed_parent).collect();
    let pollen_parent = (!pollen.is_empty() && random.chance(0.93)).then(|| *random.pick(&pollen));
    (seed_parent, pollen_parent)
}

struct Book {
    numbers: BTreeMap<(usize, i32), usize>,
    today: i32,
}

impl Book {
    fn number(&mut self, raiser: usize, year: i32) -> String {
        let last = self.numbers.entry((raiser, year)).or_insert(0);
        *last += 1;
        format!("{year}-{last:03}")
    }

    /// One of the guide's, from pollen to two seedlings kept.
    fn told_in_full(&mut self, year: i32, by_group: &BTreeMap<PlantGroup, Vec<usize>>) -> Cross {
        let (seed_parent, pollen_parent) = pair(by_group, PlantGroup::Regal);
        let day = |month: u32, day: u32| calendar::epoch_day(year, month, day).unwrap_or(0);
        let next = |month: u32, day: u32| calendar::epoch_day(year + 1, month, day).unwrap_or(0);
        let work = |day, florets, seed_bloom| Pollination {
            day,
            florets,
            petals_removed: true,
            seed_bloom,
            pollen_bloom: BloomStage::Opening,
        };
        let count = |day, kind, how_many| Count { day, kind, how_many, cause: None };
        let mut cross = Cross {
            raiser: GUIDE,
            number: self.number(GUIDE, year),
            seed_parent,
            pollen_parent: Some(pollen_parent),
            visibility: Visibility::Society,
            pooled: true,
            notes: Some(TOLD),
            pollinations: vec![
                work(day(5, 20), 6, BloomStage::Open),
                work(day(5, 23), 9, BloomStage::StigmaOpen),
            ],
            counts: vec![
                count(day(6, 12), CrossCountKind::Takes, 7),
                count(day(7, 6), CrossCountKind::Harvested, 19),
                count(day(7, 22), CrossCountKind::Sown, 19),
                count(day(8, 14), CrossCountKind::Germinated, 11),
                Count {
                    day: day(8, 25),
                    kind: CrossCountKind::Lost,
                    how_many: 2,
                    cause: Some(LossCause::DampingOff),
                },
                count(day(9, 3), CrossCountKind::PrickedOut, 9),
                count(next(6, 2), CrossCountKind::Flowered, 9),
                count(next(6, 30), CrossCountKind::Kept, 2),
            ],
            seedlings: vec![
                "The bloom wanted, on a plant a hand high.",
                "Deeper colour; slower to break after a stop.",
            ],
        };
        cross.counts.retain(|count| count.day <= self.today);
        cross
    }

    /// One of the guide's, worked two days ago.
    fn begun(&mut self, by_group: &BTreeMap<PlantGroup, Vec<usize>>) -> Cross {
        let (pollen_parent, seed_parent) = pair(by_group, PlantGroup::Zonal);
        Cross {
            raiser: GUIDE,
            number: self.number(GUIDE, calendar::date(self.today).year),
            seed_parent,
            pollen_parent: Some(pollen_parent),
            visibility: Visibility::Private,
            pooled: false,
            notes: None,
            pollinations: vec![Pollination {
                day: self.today - 2,
                florets: 8,
                petals_removed: true,
                seed_bloom: BloomStage::StigmaOpen,
                pollen_bloom: BloomStage::Opening,
            }],
            counts: Vec::new(),
            seedlings: Vec::new(),
        }
    }

    /// None where the season's blooms are not there yet.
    fn cross(
        &mut self,
        random: &mut Random,
        raiser: usize,
        year: i32,
        (seed_parent, pollen_parent): (usize, Option<usize>),
        cultivars: &[Cultivar],
    ) -> Option<Cross> {
        let start = calendar::epoch_day(year, 4, 20)? + random.between(0, 100);
        let work = Pollination {
            day: start,
            florets: random.between(3, 18),
            petals_removed: random.chance(0.8),
            seed_bloom: if random.chance(0.85) { BloomStage::StigmaOpen } else { BloomStage::Open },
            pollen_bloom: BloomStage::Opening,
        };
        let counts = counts(random, &work, &cultivars[seed_parent]);
        let visibility = *random.weighted(&[
            (Visibility::Private, 0.4),
            (Visibility::Club, 0.2),
            (Visibility::Society, 0.4),
        ]);
        let pooled = visibility != Visibility::Private || random.chance(0.8);
        let notes: Vec<&'static str> = (0..3).map(|_| *random.pick(&SEEDLING_NOTES)).collect();
        if start > self.today {
            return None;
        }
        let counts: Vec<Count> = counts.into_iter().filter(|count| count.day <= self.today).collect();
        let kept: i32 = counts.iter().filter(|c| c.kind == CrossCountKind::Kept).map(|c| c.how_many).sum();
        let seedlings = notes.into_iter().take(usize::try_from(kept).unwrap_or(0)).collect();
        Some(Cross {
            raiser,
            number: self.number(raiser, year),
            seed_parent,
            pollen_parent,
            visibility,
            pooled,
            notes: None,
            pollinations: vec![work],
            counts,
            seedlings,
        })
    }
}

/// Two of a group, or of the first there is.
fn pair(by_group: &BTreeMap<PlantGroup, Vec<usize>>, group: PlantGroup) -> (usize, usize) {
    let found = by_group.get(&group).or_else(|| by_group.values().next());
    found.map_or((0, 0), |group| (group[0], group[1]))
}

fn drawn(random: &mut Random, of: i32, rate: f64) -> i32 {
    (0..of).map(|_| i32::from(random.chance(rate))).sum()
}

/// From the beaks to the seedlings kept, as far as there is anything to count.
fn counts(random: &mut Random, work: &Pollination, seed_parent: &Cultivar) -> Vec<Count> {
    let (took, seeded, germinated) = rates(seed_parent.group);
    // The same for every cross of this seed parent: its effect in the diaries, made wider.
    let readiness = (seed_parent.effect * 4.0).clamp(-0.2, 0.2);
    let wide = random.normal(0.0, 0.08);
    let rate = |mean: f64| (mean + readiness + wide).clamp(0.05, 0.95);
    let takes = drawn(random, work.florets, rate(took));
    let seeds = drawn(random, takes * OVULES, rate(seeded));
    let up = drawn(random, seeds, rate(germinated));
    let lost = drawn(random, up, 0.12);
    let flowered = drawn(random, up - lost, 0.93);
    let kept = drawn(random, flowered, 0.1);
    let &cause =
        random.pick(&[LossCause::DampingOff, LossCause::White, LossCause::Weak, LossCause::DriedOut]);
    let harvest = work.day + random.between(35, 50);
    let sown = harvest + random.between(7, 40);
    let bloom = sown + random.between(240, 330);
    let mut all = vec![(work.day + 20, CrossCountKind::Takes, takes)];
    if takes > 0 {
        all.push((harvest, CrossCountKind::Harvested, seeds));
    }
    if seeds > 0 {
        all.extend([(sown, CrossCountKind::Sown, seeds), (sown + 24, CrossCountKind::Germinated, up)]);
    }
    if up > 0 {
        all.extend([
            (sown + 32, CrossCountKind::Lost, lost),
            (sown + 40, CrossCountKind::PrickedOut, up - lost),
            (bloom, CrossCountKind::Flowered, flowered),
            (bloom + 21, CrossCountKind::Kept, kept),
        ]);
    }
    let count = |(day, kind, how_many)| Count {
        day,
        kind,
        how_many,
        cause: (kind == CrossCountKind::Lost && how_many > 0).then_some(cause),
    };
    all.into_iter().map(count).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use std::collections::BTreeSet;

    use super::*;
    use crate::{cultivars, people};

    #[test]
    fn some_hundred_and_twenty_crosses_of_several_raisers_have_counts_that_hold() {
        let today = calendar::epoch_day(2026, 5, 10).unwrap();
        let people = people::generate(11, 150);
        let cultivars = cultivars::generate(11, 400, 2026, &people);
        let all = generate(11, 120, (2021, 2026), today, &people, &cultivars);
        assert!((95..=120).contains(&all.len()), "{}", all.len());
        let raisers: BTreeSet<usize> = all.iter().map(|cross| cross.raiser).collect();
        assert!(raisers.len() >= 10, "{raisers:?}");
        let numbers: BTreeSet<(usize, &str)> = all.iter().map(|c| (c.raiser, c.number.as_str())).collect();
        assert_eq!(numbers.len(), all.len());
        for cross in &all {
            let florets: i32 = cross.pollinations.iter().map(|work| work.florets).sum();
            let mut known =
                storksbill_domain::crosses::Counts { florets: Some(florets.into()), ..Default::default() };
            for count in &cross.counts {
                known.add(count.kind, count.how_many.into());
                assert!(count.day <= today);
            }
            assert_eq!(known.check(), Ok(()), "{cross:?}");
            assert_eq!(known.too_many_seeds(5), None, "{cross:?}");
            assert_ne!(Some(cross.seed_parent), cross.pollen_parent);
        }
        assert_eq!((all[0].raiser, all[0].notes), (GUIDE, Some(TOLD)));
        assert_eq!(all[0].counts.len(), 8);
        let last = all.last().unwrap();
        assert_eq!((last.raiser, last.pollinations[0].day), (GUIDE, today - 2));
        // Enough growers behind seed parents of the two large groups.
        for group in [PlantGroup::Zonal, PlantGroup::Regal] {
            let mut growers: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
            for cross in all.iter().filter(|c| c.pooled && !c.counts.is_empty()) {
                if cultivars[cross.seed_parent].group == group {
                    growers.entry(cross.seed_parent).or_default().insert(cross.raiser);
                }
            }
            assert!(growers.values().any(|growers| growers.len() >= 5), "{group}: {growers:?}");
        }
    }
}
