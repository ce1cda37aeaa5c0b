//! All that the demonstration holds, made before anything is sent: pure, and the same for the same scale.

use storksbill_forecast::calendar;
use storksbill_forecast::series::SeriesError;

use crate::care::{self, Care};
use crate::crosses::{self, Cross};
use crate::cultivars::{self, Cultivar};
use crate::diary::{self, Diary, Heat};
use crate::people::{self, Person};
use crate::plants::{self, Plant};
use crate::register::{self, Register};
use crate::shows::{self, Show};
use crate::swaps::{self, Listed};
use crate::weather::{Springs, Weather};

/// Past springs of weather at the least.
pub const YEARS_OF_WEATHER: i32 = 12;

/// How much of it is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Scale {
    /// From [`people::FEWEST`] to [`people::MOST`].
    pub members: usize,
    /// Past seasons, from 2: the warm one and the cold one.
    pub years: i32,
    pub seed: u64,
    /// The day it is, days since 1970-01-01.
    pub today: i32,
}

impl Scale {
    /// The first past season and the one that is not over.
    pub fn seasons(&self) -> (i32, i32) {
        let this = calendar::date(self.today).year;
        (this - self.years, this)
    }

    /// Of so many in a society of 150 members.
    fn share_of(&self, full: usize) -> usize {
        full * self.members / 150
    }
}

/// The society and the weather.
#[derive(Debug)]
pub struct Demo {
    pub scale: Scale,
    pub weather: Weather,
    pub people: Vec<Person>,
    pub cultivars: Vec<Cultivar>,
    pub plants: Vec<Plant>,
    pub diary: Diary,
    pub swaps: [Listed; 2],
    pub care: Care,
    pub crosses: Vec<Cross>,
    pub register: Register,
    pub shows: Vec<Show>,
}

impl Demo {
    /// Makes it.
    ///
    /// # Errors
    /// Where there is no weather, which takes a day before 2001.
    pub fn generate(scale: Scale) -> Result<Self, SeriesError> {
        let Scale { members, seed, today, .. } = scale;
        let (first, this) = scale.seasons();
        // Stations have read to the end of yesterday, from the autumn before the first season and long enough
        // to tell the odds of a frost.
        let from = calendar::epoch_day(first.min(this - YEARS_OF_WEATHER) - 1, 9, 1).unwrap_or(today);
        let weather = Weather::generate(seed, from, today - 1, Springs::before(this));
        let people = people::generate(seed, members);
        let kinds = scale.share_of(400).clamp(cultivars::FEWEST, cultivars::MOST);
        let cultivars = cultivars::generate(seed, kinds, this, &people);
        let plants = plants::generate(seed, scale.share_of(1_500), (first, this), &people, &cultivars);
        let heat = Heat::of(&weather, &plants)?;
        let diary = diary::generate(seed, (first, this), &people, &cultivars, &plants, &heat);
        let listed = (scale.share_of(200), scale.share_of(250));
        let swaps = swaps::generate(seed, listed, &plants, &cultivars);
        let care = care::generate(seed, &people, &plants, &cultivars);
        let crossed = scale.share_of(120).max(10);
        let crosses = crosses::generate(seed, crossed, (first, this), today, &people, &cultivars);
        let register = register::generate(seed, this, &people, &cultivars);
        let shows = shows::generate(today);
        Ok(Self { scale, weather, people, cultivars, plants, diary, swaps, care, crosses, register, shows })
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    fn scale(members: usize, years: i32) -> Scale {
        Scale { members, years, seed: 11, today: calendar::epoch_day(2026, 5, 10).unwrap() }
    }

    #[test]
    fn the_usual_society_has_the_sizes_it_is_announced_with() {
        let demo = Demo::generate(scale(150, 5)).unwrap();
        assert_eq!((demo.people.len(), demo.cultivars.len(), demo.plants.len()), (150, 400, 1_500));
        assert!((20_000..23_000).contains(&demo.diary.records.len()), "{}", demo.diary.records.len());
        let days: Vec<usize> = demo.weather.stations.iter().map(Vec::len).collect();
        // 1 September 2013 to 9 May 2026.
        assert_eq!(days, [4_634; 8]);
    }

    #[test]
    fn a_small_society_is_whole_and_a_large_one_can_be_had() {
        let small = Demo::generate(scale(people::FEWEST, 2)).unwrap();
        assert_eq!((small.people.len(), small.cultivars.len(), small.plants.len()), (8, 60, 80));
        assert!(small.swaps.iter().all(|round| !round.offers.is_empty()));
        assert!(small.diary.records.len() > 300);
        let large = Demo::generate(scale(600, 2)).unwrap();
        assert_eq!((large.people.len(), large.cultivars.len(), large.plants.len()), (600, 1_200, 6_000));
    }

    #[test]
    fn more_years_or_members_change_nobodys_weather() {
        let one = Demo::generate(scale(8, 2)).unwrap().weather;
        let two = Demo::generate(scale(20, 3)).unwrap().weather;
        for (short, long) in one.stations.iter().zip(&two.stations) {
            assert!(long.ends_with(short));
        }
    }
}
