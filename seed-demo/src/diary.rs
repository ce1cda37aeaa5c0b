//! What the members wrote down: records drawn from a stated model of how plants come into flower.
//!
//! # The model
//!
//! A plant stopped for the last time on day `s` is fit to show on the day `e` on which the heat since the
//! stop, in the house it stands in, reaches `A`:
//!
//! ```text
//! ln A = ln F(group) + cultivar + grower + region-season + residual
//!
//! cultivar      see `cultivars`: spread 0.08     grower    N(0, 0.06^2)
//! region-season N(0, 0.06^2)                     residual  N(0, 0.12^2)
//! ```
//!
//! with `F` the handbook's requirement and heat summed by the single-sine method between 4 and 26 degrees C
//! from the region's weather. The other events of a flowering come at shares of the same heat:
//!
//! ```text
//! first colour         A exp(-0.34 + N(0, 0.04^2))
//! first open floret    A exp(-0.20 + N(0, 0.03^2))
//! past its best        A exp(+0.16 + N(0, 0.05^2))
//! ```
//!
//! Blooms damp off, open deformed or grow leafy in the middle by chances that the air inside decides, fortnight
//! by fortnight of flower:
//!
//! ```text
//!                              otherwise   damp fortnight   cool fortnight
//! damped off                       0.012            0.060              --
//!   a regal stopped but once       0.024            0.150              --
//! leafy growth in the bloom        0.003            0.012           0.012
//! deformed, at the first floret    0.010               --           0.080
//! ```
//!
//! A fortnight is damp with three days or more of half a dose or more ([`storksbill_forecast::damp`]), cool with a mean below 13 degrees C. That damp and cold
//! bring these troubles, and that large-flowered regals brought on early without a second stop fare worst, is
//! common practice; the chances are invented.
//!
//! Growers stop at the handbook's weeks before the show they have in mind, more or less; they write down the
//! last stop always and the rest mostly. In the season that is not over, only what has happened by then is
//! there. The shares and the habits are invented; there is no published source for them.
#![allow(clippy::indexing_slicing, reason = "every index is that of a plant, person or place made before")]

use std::collections::BTreeMap;

use storksbill_domain::words::{DiaryKind, Environment, PlantGroup};
use storksbill_forecast::calendar;
use storksbill_forecast::damp::{self, DampDay, Level};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::handbook;
use storksbill_forecast::series::{HeatTable, RegionSeries, SeriesError};

use crate::cultivars::Cultivar;
use crate::people::{Person, Place};
use crate::places::REGIONS;
use crate::plants::Plant;
use crate::random::Random;
use crate::weather::{self, Weather};

/// Standard deviation of the effect that a season has on a region, beside its heat.
pub const REGION_SEASON_SD: f64 = 0.06;
/// Standard deviation of what nothing explains.
pub const RESIDUAL_SD: f64 = 0.12;

/// Mean and standard deviation of the log of each stage's share of the heat to show-ready.
pub const BUD_SEEN: (f64, f64) = (-0.62, 0.05);
pub const FIRST_COLOUR: (f64, f64) = (-0.34, 0.04);
pub const FIRST_OPEN_FLORET: (f64, f64) = (-0.20, 0.03);
pub const PAST_BEST: (f64, f64) = (0.16, 0.05);
/// The chance that a grower writes a readiness down.
pub const READY_WRITTEN: f64 = 0.86;

/// A dated record.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    pub plant: usize,
    /// Days since 1970-01-01.
    pub day: i32,
    pub kind: DiaryKind,
    pub how_many: Option<i32>,
    pub pot_mm: Option<f64>,
    pub note: Option<&'static str>,
}

/// What the model drew for a plant in a season, whether or not it was written down.
#[derive(Debug, Clone, PartialEq)]
pub struct Flowering {
    pub plant: usize,
    pub season: i32,
    pub last_stop: i32,
    /// `ln A`.
    pub log_requirement: f64,
    /// None where the weather ends, or the year, before it comes to that.
    pub show_ready: Option<i32>,
}

/// All diaries.
#[derive(Debug, Clone, Default)]
pub struct Diary {
    /// By plant and day.
    pub records: Vec<Record>,
    pub flowerings: Vec<Flowering>,
}

/// The handbook's name of a group.
pub fn handbook_group(group: PlantGroup) -> handbook::PlantGroup {
    match group {
        PlantGroup::Zonal => handbook::PlantGroup::Zonal,
        PlantGroup::FancyLeaf => handbook::PlantGroup::FancyLeaf,
        PlantGroup::Stellar => handbook::PlantGroup::Stellar,
        PlantGroup::Rosebud => handbook::PlantGroup::Rosebud,
        PlantGroup::Dwarf => handbook::PlantGroup::Dwarf,
        PlantGroup::Miniature => handbook::PlantGroup::Miniature,
        PlantGroup::IvyLeaved => handbook::PlantGroup::IvyLeaved,
        PlantGroup::Regal => handbook::PlantGroup::Regal,
        PlantGroup::Angel => handbook::PlantGroup::Angel,
        PlantGroup::Unique => handbook::PlantGroup::Unique,
        PlantGroup::ScentedLeaf => handbook::PlantGroup::ScentedLeaf,
        PlantGroup::Species => handbook::PlantGroup::Species,
    }
}

/// The house of a place.
pub fn house(place: Place) -> House {
    match place.environment {
        Environment::Heated => House::Heated { at_least_c: place.heated_to_c.unwrap_or(5.0) },
        Environment::FrostFree => House::FrostFree,
        Environment::ColdGlass => House::ColdGlass,
        Environment::Outdoors => House::Outdoors,
    }
}

/// The running heat of every region in every kind of house that somebody has, and how damp and cool it was.
#[derive(Debug)]
pub struct Heat {
    tables: BTreeMap<(usize, String), (HeatTable, Air)>,
}

/// A fortnight is cool below this mean, degrees C.
const COOL_C: f64 = 13.0;
const FORTNIGHT: usize = 14;
/// A fortnight with so many damp days is damp.
const DAMP_DAYS: usize = 3;

/// The air inside, day by day from the first of the weather.
#[derive(Debug)]
struct Air {
    first_day: i32,
    /// Whether the fortnight to the end of the day was damp, and its mean temperature.
    days: Vec<(bool, f64)>,
}

impl Air {
    fn of(weather: &Weather, region: usize, series: &RegionSeries, house: House) -> Self {
        let stations: Vec<&[weather::Day]> = weather.of_region(region).map(|(_, days)| days).collect();
        let mean = |at: usize, of: fn(&weather::Day) -> f64| {
            let all: Vec<f64> = stations.iter().filter_map(|days| days.get(at)).map(of).collect();
            (!all.is_empty()).then(|| all.iter().sum::<f64>() / all.len() as f64)
        };
        let days: Vec<DampDay> = (series.first_day..)
            .zip(&series.days)
            .enumerate()
            .map(|(at, (day, air))| DampDay {
                day,
                min_c: air.min_c,
                max_c: air.max_c,
                humidity_pct: mean(at, |day| day.humidity_pct),
                rain_mm: mean(at, |day| day.rain_mm),
            })
            .collect();
        let inside = |day: &DampDay| {
            let (low, high) = house.inside(day.min_c, day.max_c);
            f64::midpoint(low, high)
        };
        let temperatures: Vec<f64> = days.iter().map(inside).collect();
        let outcomes = damp::damp_days(&days, house);
        let days = (0..outcomes.len())
            .map(|at| {
                let fortnight = (at + 1).saturating_sub(FORTNIGHT)..=at;
                let damp = outcomes[fortnight.clone()].iter().filter(|day| day.level > Level::Low).count();
                let temperatures = &temperatures[fortnight];
                (damp >= DAMP_DAYS, temperatures.iter().sum::<f64>() / temperatures.len() as f64)
            })
            .collect();
        Self { first_day: series.first_day, days }
    }

    /// Whether the fortnight to the end of the day was damp, and whether cool.
    fn fortnight(&self, day: i32) -> (bool, bool) {
        let at = usize::try_from(day - self.first_day).ok();
        at.and_then(|at| self.days.get(at)).map_or((false, false), |(damp, mean_c)| (*damp, *mean_c < COOL_C))
    }
}

impl Heat {
    /// For these plants.
    ///
    /// # Errors
    /// As [`RegionSeries::build`].
    pub fn of(weather: &Weather, plants: &[Plant]) -> Result<Self, SeriesError> {
        let series =
            (0..REGIONS.len()).map(|at| weather.series(at)).collect::<Result<Vec<RegionSeries>, _>>()?;
        let mut tables = BTreeMap::new();
        for plant in plants {
            let house = house(plant.place);
            tables.entry((plant.region, format!("{house:?}"))).or_insert_with(|| {
                let series = &series[plant.region];
                let air = Air::of(weather, plant.region, series, house);
                (HeatTable::build(series, house, HeatRule::default()), air)
            });
        }
        Ok(Self { tables })
    }

    /// For a plant.
    pub fn table(&self, plant: &Plant) -> &HeatTable {
        &self.of_place(plant).0
    }

    fn of_place(&self, plant: &Plant) -> &(HeatTable, Air) {
        &self.tables[&(plant.region, format!("{:?}", house(plant.place)))]
    }
}

/// The day on which the heat since the start of day `stop` reaches `requirement`; none where the table ends
/// before.
fn reached(table: &HeatTable, stop: i32, requirement: f64) -> Option<i32> {
    (stop..=table.last_day()).find(|&day| table.between(stop, day).is_some_and(|heat| heat >= requirement))
}

/// The diaries of all plants over the seasons `first..=last`, up to the last day of the weather.
pub fn generate(
    seed: u64,
    (first, last): (i32, i32),
    people: &[Person],
    cultivars: &[Cultivar],
    plants: &[Plant],
    heat: &Heat,
) -> Diary {
    let mut diary = Diary::default();
    for (at, plant) in plants.iter().enumerate() {
        let (table, air) = heat.of_place(plant);
        let mut page = Page {
            seed,
            random: Random::stream(seed, "diary", &[i64::try_from(at).unwrap_or(0)]),
            at,
            plant,
            group: cultivars[plant.cultivar].group,
            table,
            air,
            records: Vec::new(),
        };
        let first = first.max(calendar::date(plant.got_on).year + 1);
        for season in first..=last {
            // Not every grower writes every year; of this year they have begun.
            if !page.random.chance(if season == last { 0.92 } else { 0.84 }) {
                continue;
            }
            let log_requirement = handbook_group(page.group).degree_days().ln()
                + cultivars[plant.cultivar].effect
                + people[plant.owner].effect
                + region_season(seed, plant.region, season)
                + page.random.normal(0.0, RESIDUAL_SD);
            diary.flowerings.extend(page.season(season, log_requirement));
        }
        page.records.sort_by_key(|record| record.day);
        diary.records.append(&mut page.records);
    }
    diary
}

/// What a season does to a region beside its heat, on the log scale.
pub fn region_season(seed: u64, region: usize, season: i32) -> f64 {
    Random::stream(seed, "region-season", &[i64::try_from(region).unwrap_or(0), i64::from(season)])
        .normal(0.0, REGION_SEASON_SD)
}

/// One plant's diary in the writing.
struct Page<'a> {
    seed: u64,
    random: Random,
    at: usize,
    plant: &'a Plant,
    group: PlantGroup,
    table: &'a HeatTable,
    air: &'a Air,
    records: Vec<Record>,
}

impl Page<'_> {
    fn write(&mut self, day: i32, kind: DiaryKind) -> Option<&mut Record> {
        if day > self.table.last_day() || day < self.plant.got_on {
            return None;
        }
        let record = Record { plant: self.at, day, kind, how_many: None, pot_mm: None, note: None };
        self.records.push(record);
        self.records.last_mut()
    }

    fn season(&mut self, season: i32, log_requirement: f64) -> Option<Flowering> {
        let last_stop = self.last_stop(season)?;
        // A season's stops begin when the one before is over.
        let stops = self.growing(calendar::epoch_day(season - 1, 12, 1)?, last_stop);
        // What has not flowered by the end of the year is cut back for the winter.
        let end = calendar::epoch_day(season, 11, 30)?;
        let table = self.table;
        let on = |log_heat: f64| reached(table, last_stop, log_heat.exp()).filter(|&day| day <= end);
        let mut later = |(mean, sd): (f64, f64)| log_requirement + self.random.normal(mean, sd);
        let colour = on(later(FIRST_COLOUR));
        let floret = on(later(FIRST_OPEN_FLORET)).filter(|day| colour.is_some_and(|colour| colour <= *day));
        let past = on(later(PAST_BEST));
        let show_ready = on(log_requirement).filter(|day| floret.is_some_and(|floret| floret <= *day));
        let past = past.filter(|day| show_ready.is_some_and(|ready| ready < *day));
        for (day, kind, written) in [
            (colour, DiaryKind::FirstColour, 0.68),
            (floret, DiaryKind::FirstOpenFloret, 0.80),
            (show_ready, DiaryKind::ShowReady, READY_WRITTEN),
            (past, DiaryKind::PastBest, 0.64),
        ] {
            if self.random.chance(written)
                && let Some(day) = day
            {
                self.write(day, kind);
            }
        }
        self.incidents(last_stop);
        if let Some(floret) = floret {
            self.troubles(floret, past.unwrap_or(floret + 24), stops);
        }
        self.first_bud(season, last_stop, log_requirement, colour);
        Some(Flowering { plant: self.at, season, last_stop, log_requirement, show_ready })
    }

    /// Few growers write down the first bud. It has a stream of its own, since the word came later than the others.
    fn first_bud(&mut self, season: i32, last_stop: i32, log_requirement: f64, colour: Option<i32>) {
        let at = i64::try_from(self.at).unwrap_or(0);
        let mut random = Random::stream(self.seed, "first-bud", &[at, i64::from(season)]);
        let log_heat = log_requirement + random.normal(BUD_SEEN.0, BUD_SEEN.1);
        if random.chance(0.12)
            && let Some(bud) = reached(self.table, last_stop, log_heat.exp())
            && colour.is_some_and(|colour| bud <= colour)
        {
            self.write(bud, DiaryKind::BudSeen);
        }
    }

    /// The last stop before the show the grower has in mind; none where it is still to come.
    fn last_stop(&mut self, season: i32) -> Option<i32> {
        let day = |month, day| calendar::epoch_day(season, month, day);
        let stop = if self.plant.place.environment == Environment::Outdoors {
            day(4, 20)? + self.random.between(-9, 9)
        } else {
            // Some are wanted in flower for the spring meeting's table.
            let early = if self.random.chance(0.12) { 28 } else { 0 };
            let show = match self.group {
                PlantGroup::Regal | PlantGroup::Angel => day(5, 30)? + self.random.between(0, 35),
                _ => day(6, 6)? + self.random.between(0, 68),
            };
            let weeks = handbook_group(self.group).weeks_from_stop();
            // Twenty weeks at most, in whole days.
            let days = (0..=140).take_while(|&days| f64::from(days) < weeks * 7.0).last().unwrap_or(0);
            show - early - days - REGIONS[self.plant.region].stops_earlier_days + self.random.between(-10, 10)
        };
        let stop = stop.clamp(day(1, 4)?, day(5, 20)?).max(self.plant.got_on + 45);
        (stop <= self.table.last_day()).then_some(stop)
    }

    /// Stops, potting, feeding and what else comes before flower; gives the number of stops.
    fn growing(&mut self, from: i32, last_stop: i32) -> usize {
        let mut stop = last_stop;
        let mut stops = 1;
        for _ in 0..*self.random.weighted(&[(0, 0.25), (1, 0.5), (2, 0.25)]) {
            stop -= self.random.between(33, 56);
            if stop >= from.max(self.plant.got_on + 21) {
                self.write(stop, DiaryKind::Stopping);
                stops += 1;
            }
        }
        self.write(last_stop, DiaryKind::Stopping);
        if self.random.chance(0.82) {
            let day = last_stop + self.random.between(9, 24);
            let pot = self.plant.pot_mm;
            if let Some(record) = self.write(day, DiaryKind::Potting) {
                record.pot_mm = Some(pot);
            }
        }
        if self.random.chance(0.14) {
            let day = last_stop + self.random.between(28, 45);
            self.write(day, DiaryKind::Disbudding);
        }
        if self.random.chance(0.16) {
            let day = last_stop + self.random.between(-20, 60);
            self.noted(day, DiaryKind::Note, &NOTES);
        }
        stops
    }

    /// What goes wrong now and then.
    fn incidents(&mut self, last_stop: i32) {
        if self.random.chance(0.06) {
            let day = last_stop + self.random.between(5, 110);
            self.noted(day, DiaryKind::PestOrDisease, &PESTS);
        }
        if self.group == PlantGroup::FancyLeaf && self.random.chance(0.06) {
            let day = last_stop + self.random.between(20, 80);
            self.write(day, DiaryKind::RevertedGrowth);
        }
        if self.plant.how_many > 1 && self.random.chance(0.03) {
            let day = last_stop + self.random.between(0, 150);
            if let Some(record) = self.noted(day, DiaryKind::Loss, &LOSSES) {
                record.how_many = Some(1);
            }
        }
    }

    /// What damp and cold do to the blooms from the first floret `until` they are past.
    fn troubles(&mut self, floret: i32, until: i32, stops: usize) {
        let (_, cool) = self.air.fortnight(floret);
        if self.random.chance(if cool { 0.08 } else { 0.01 }) {
            self.write(floret, DiaryKind::DeformedBloom);
        }
        let unstopped_regal = self.group == PlantGroup::Regal && stops == 1;
        let mut from = floret;
        while from <= until {
            let day = self.random.between(from, (from + 13).min(until));
            let (damp, cool) = self.air.fortnight(day);
            let damping_off = match (unstopped_regal, damp) {
                (false, false) => 0.012,
                (false, true) => 0.06,
                (true, false) => 0.024,
                (true, true) => 0.15,
            };
            if self.random.chance(damping_off) {
                let count = self.random.between(1, 5);
                if let Some(record) = self.write(day, DiaryKind::DampingOff) {
                    record.how_many = Some(count);
                }
            }
            if self.random.chance(if damp || cool { 0.012 } else { 0.003 }) {
                self.write(day, DiaryKind::Proliferation);
            }
            from += 14;
        }
    }

    fn noted(&mut self, day: i32, kind: DiaryKind, notes: &[&'static str]) -> Option<&mut Record> {
        let note = *self.random.pick(notes);
        let record = self.write(day, kind)?;
        record.note = Some(note);
        Some(record)
    }
}

const NOTES: [&str; 10] = [
    "Turned a quarter every Sunday.",
    "High-potash feed from today, every ten days.",
    "Staked the two wayward shoots.",
    "Moved to the top shelf, away from the door.",
    "Shading painted on; scorched at the tips.",
    "Taken three cuttings from the stop.",
    "Leaves a little pale; Epsom salts given.",
    "Best head on the bench this year.",
    "Put back under cover, hail forecast.",
    "Late again; stop a week earlier next year.",
];

const PESTS: [&str; 7] = [
    "Whitefly under the lower leaves.",
    "Greenfly on the tips.",
    "Rust, brown rings beneath; leaves taken off, plant set apart.",
    "Grey mould on a spent truss.",
    "Fungus gnats in the compost.",
    "Vine weevil grub found at potting.",
    "Black leg at the base of one stem.",
];

const LOSSES: [&str; 4] =
    ["Black leg.", "Collapsed after the cold night.", "Dropped.", "Overwatered, roots gone."];

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use storksbill_forecast::records::{Believed, heat_to};

    use super::*;
    use crate::weather::Springs;
    use crate::{cultivars, people, plants};

    /// One flowering as a reader of the diaries finds it.
    struct Observation {
        group: usize,
        grower: usize,
        region_season: usize,
        log_requirement: f64,
    }

    struct Made {
        people: Vec<Person>,
        cultivars: Vec<Cultivar>,
        plants: Vec<Plant>,
        heat: Heat,
        diary: Diary,
    }

    fn made(seed: u64) -> Made {
        let day = |y, m, d| calendar::epoch_day(y, m, d).unwrap();
        let weather = Weather::generate(seed, day(2020, 9, 1), day(2026, 5, 9), Springs::before(2026));
        let people = people::generate(seed, 150);
        let cultivars = cultivars::generate(seed, 400, 2026, &people);
        let plants = plants::generate(seed, 1_500, (2021, 2026), &people, &cultivars);
        let heat = Heat::of(&weather, &plants).unwrap();
        let diary = generate(seed, (2021, 2026), &people, &cultivars, &plants, &heat);
        Made { people, cultivars, plants, heat, diary }
    }

    #[test]
    fn the_society_has_some_twenty_thousand_records_of_every_kind() {
        for seed in [1, 11, 2026] {
            let diary = made(seed).diary;
            assert!((20_000..22_500).contains(&diary.records.len()), "{}", diary.records.len());
            for kind in DiaryKind::ALL {
                let count = diary.records.iter().filter(|r| r.kind == *kind).count();
                assert!(count >= 10, "{kind}: {count}");
            }
        }
    }

    #[test]
    fn records_are_in_order_within_the_life_of_the_plant_and_not_later_than_the_weather() {
        let made = made(11);
        let last = calendar::epoch_day(2026, 5, 9).unwrap();
        for pair in made.diary.records.windows(2) {
            assert!((pair[0].plant, pair[0].day) <= (pair[1].plant, pair[1].day));
        }
        for record in &made.diary.records {
            assert!(made.plants[record.plant].got_on <= record.day && record.day <= last, "{record:?}");
        }
        // Some of this year's plants are in flower by now, most are not.
        let this_year = calendar::epoch_day(2026, 1, 1).unwrap();
        let count = |kind| made.diary.records.iter().filter(|r| r.kind == kind && r.day >= this_year).count();
        assert!(count(DiaryKind::Stopping) > 900, "{}", count(DiaryKind::Stopping));
        assert!((30..400).contains(&count(DiaryKind::FirstColour)), "{}", count(DiaryKind::FirstColour));
    }

    #[test]
    fn the_events_of_a_flowering_come_in_their_order() {
        let made = made(11);
        let rank = |kind| match kind {
            DiaryKind::FirstColour => Some(1),
            DiaryKind::FirstOpenFloret => Some(2),
            DiaryKind::ShowReady => Some(3),
            DiaryKind::PastBest => Some(4),
            _ => None,
        };
        let mut events: BTreeMap<(usize, i32), Vec<(i32, i32)>> = BTreeMap::new();
        for record in &made.diary.records {
            if let Some(rank) = rank(record.kind) {
                let key = (record.plant, calendar::date(record.day).year);
                events.entry(key).or_default().push((record.day, rank));
            }
        }
        for (key, mut of_season) in events {
            of_season.sort_unstable();
            assert!(of_season.windows(2).all(|pair| pair[0].1 < pair[1].1), "{key:?}: {of_season:?}");
        }
    }

    /// What a reader of the diaries alone can find out: from the last stop and the show-ready day of the
    /// seasons that are over, every group's requirement within four standard errors of the handbook's value
    /// it was drawn from.
    #[test]
    fn the_records_give_the_models_requirements_back() {
        for seed in [1, 11, 2026] {
            let made = made(seed);
            let mut observations = Vec::new();
            for (at, plant) in made.plants.iter().enumerate() {
                let mut last_stop = None;
                for record in made.diary.records.iter().filter(|r| r.plant == at) {
                    let year = calendar::date(record.day).year;
                    match record.kind {
                        DiaryKind::Stopping => last_stop = Some(record.day),
                        DiaryKind::ShowReady if year < 2026 => {
                            let table = made.heat.table(plant);
                            let stop = last_stop.unwrap();
                            let y = heat_to(table, stop, record.day, Believed::default()).unwrap().ln();
                            let group = made.cultivars[plant.cultivar].group;
                            observations.push(Observation {
                                group: PlantGroup::ALL.iter().position(|g| *g == group).unwrap(),
                                grower: plant.owner,
                                region_season: plant.region * 10 + usize::try_from(year - 2021).unwrap(),
                                log_requirement: y,
                            });
                        }
                        _ => {}
                    }
                }
            }
            assert!(observations.len() > 1_800, "{}", observations.len());
            let handbook: Vec<f64> =
                PlantGroup::ALL.iter().map(|g| handbook_group(*g).degree_days()).collect();
            for (at, group) in PlantGroup::ALL.iter().enumerate() {
                let own: Vec<&Observation> = observations.iter().filter(|o| o.group == at).collect();
                let n = own.len() as f64;
                let count = |key: &dyn Fn(&Observation) -> usize| {
                    let mut shares: BTreeMap<usize, f64> = BTreeMap::new();
                    for o in &own {
                        *shares.entry(key(o)).or_default() += 1.0 / n;
                    }
                    shares.values().map(|share| share * share).sum::<f64>()
                };
                // Cultivars are relatives, so their effects do not average out as fast as strangers' would:
                // the group's founders are some three in ten of them.
                let founders = made.cultivars.iter().filter(|c| c.group == *group).count() as f64 * 0.3;
                let error = (cultivars::CULTIVAR_SD.powi(2) / founders.max(1.0)
                    + people::GROWER_SD.powi(2) * count(&|o| o.grower)
                    + REGION_SEASON_SD.powi(2) * count(&|o| o.region_season)
                    + RESIDUAL_SD.powi(2) / n)
                    .sqrt();
                let found = (own.iter().map(|o| o.log_requirement).sum::<f64>() / n).exp();
                let off = (found / handbook[at]).ln();
                assert!(
                    off.abs() < 4.0 * error,
                    "seed {seed} {group}: {found:.0}, off {off:.3} of {error:.3}"
                );
            }
        }
    }

    /// The residual left when the effects that were drawn are taken out has the stated spread.
    #[test]
    fn what_nothing_explains_has_the_stated_spread() {
        let made = made(11);
        let left: Vec<f64> = made
            .diary
            .flowerings
            .iter()
            .filter(|f| f.season < 2026)
            .filter_map(|f| {
                let plant = &made.plants[f.plant];
                let table = made.heat.table(plant);
                let y = heat_to(table, f.last_stop, f.show_ready?, Believed::default()).ok()?.ln();
                let cultivar = &made.cultivars[plant.cultivar];
                Some(
                    y - handbook_group(cultivar.group).degree_days().ln()
                        - cultivar.effect
                        - made.people[plant.owner].effect
                        - region_season(11, plant.region, f.season),
                )
            })
            .collect();
        let n = left.len() as f64;
        let mean = left.iter().sum::<f64>() / n;
        let sd = (left.iter().map(|e| (e - mean).powi(2)).sum::<f64>() / n).sqrt();
        assert!(n > 2_000.0);
        assert!(mean.abs() < 4.0 * RESIDUAL_SD / n.sqrt(), "{mean}");
        assert!((sd - RESIDUAL_SD).abs() < 4.0 * RESIDUAL_SD / (2.0 * n).sqrt(), "{sd}");
    }

    /// Blooms with a trouble among the flowerings whose first floret is known, in fortnights so and otherwise.
    #[test]
    fn troubles_of_the_blooms_come_with_damp_and_cold() {
        let mut counts: BTreeMap<(bool, bool, bool), (f64, f64, f64)> = BTreeMap::new();
        for seed in [1, 11, 2026] {
            let made = made(seed);
            for record in made.diary.records.iter().filter(|r| r.kind == DiaryKind::FirstOpenFloret) {
                let plant = &made.plants[record.plant];
                let year = calendar::date(record.day).year;
                let has = |kind| {
                    let of = |r: &&Record| r.plant == record.plant && r.kind == kind;
                    made.diary.records.iter().filter(of).any(|r| calendar::date(r.day).year == year)
                };
                let (damp, cool) = made.heat.of_place(plant).1.fortnight(record.day);
                let regal = made.cultivars[plant.cultivar].group == PlantGroup::Regal;
                let (all, damped, deformed) = counts.entry((damp, cool, regal)).or_default();
                *all += 1.0;
                *damped += f64::from(u8::from(has(DiaryKind::DampingOff)));
                *deformed += f64::from(u8::from(has(DiaryKind::DeformedBloom)));
            }
        }
        let sum = |keep: &dyn Fn(&(bool, bool, bool)) -> bool| {
            let kept = counts.iter().filter(|(key, _)| keep(key)).map(|(_, count)| *count);
            kept.fold((0.0, 0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1, sum.2 + one.2))
        };
        // The difference of two shares, in its standard errors.
        let more = |(n, k): (f64, f64), (m, l): (f64, f64)| {
            let share = (k + l) / (n + m);
            (k / n - l / m) / (share * (1.0 - share) * (1.0 / n + 1.0 / m)).sqrt()
        };
        let [damp, dry] = [true, false].map(|damp| sum(&|key| key.0 == damp && !key.2));
        assert!(more((damp.0, damp.1), (dry.0, dry.1)) > 4.0, "{counts:?}");
        let [damp_regals, dry_regals] = [true, false].map(|damp| sum(&|key| key.0 == damp && key.2));
        assert!(more((damp_regals.0, damp_regals.1), (dry_regals.0, dry_regals.1)) > 4.0, "{counts:?}");
        assert!(more((damp_regals.0, damp_regals.1), (damp.0, damp.1)) > 4.0, "{counts:?}");
        let [cool, warm] = [true, false].map(|cool| sum(&|key| key.1 == cool));
        assert!(more((cool.0, cool.2), (warm.0, warm.2)) > 4.0, "{counts:?}");
    }

    #[test]
    fn the_same_seed_gives_the_same_diaries() {
        assert_eq!(made(11).diary.records, made(11).diary.records);
        assert_ne!(made(11).diary.records, made(12).diary.records);
    }
}
