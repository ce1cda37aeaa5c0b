//! The members' pooled records and the regions' weather, read from the database when they are old and shared
//! by all requests until then.
//!
//! Reading takes one pass over the readings of the last 31 years and the flowering records of shared plants:
//! time and memory grow with both, about 0.1 s for 20,000 records and 20,000 station-days.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::pooled::{self, PooledPlant};
use storksbill_domain::ids::{CultivarId, MemberId, PlantId, RegionId, StationId};
use storksbill_domain::words::{DiaryKind, Environment, PlantGroup};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::handbook;
use storksbill_forecast::pool::{
    Observation, Pool, Requirement, SetAside, Spreads, Support, log_requirement,
};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};

use crate::app::App;
use crate::http::problem::{Code, Problem};

/// Seasons of weather that are read: thirty past ones and the present.
const YEARS_OF_WEATHER: i64 = 31;

/// A stop and the readiness it led to lie this far apart at the most; a longer gap is another season.
pub const LONGEST_WAIT: TimeDelta = TimeDelta::days(300);

/// The pooled records in force, and when they were read.
#[derive(Debug, Default)]
pub struct PooledRecords {
    // A tokio mutex, so that many requests at once read the records once.
    latest: tokio::sync::Mutex<Option<(DateTime<Utc>, Arc<Pooled>)>>,
}

impl PooledRecords {
    /// The pooled records, not older than the society allows.
    pub async fn of(app: &App) -> Result<Arc<Pooled>, Problem> {
        let mut latest = app.pooled.latest.lock().await;
        let now = app.clock.now();
        if let Some((read_at, pooled)) = &*latest
            && now - *read_at < app.society.pooled_for
            && now >= *read_at
        {
            return Ok(Arc::clone(pooled));
        }
        let today = app.clock.today();
        let least_growers = usize::try_from(app.society.least_growers).unwrap_or(usize::MAX);
        let pooled = app.db.read(move |conn| Pooled::load(conn, today, least_growers)).await?;
        let pooled = Arc::new(pooled);
        *latest = Some((now, Arc::clone(&pooled)));
        Ok(pooled)
    }
}

/// A place to grow, exact enough to share its heat table: the environment and tenths of a degree.
type Place = (RegionId, Environment, i64);

/// The pooled records at one moment.
#[derive(Debug)]
pub struct Pooled {
    weather: HashMap<RegionId, RegionSeries>,
    tables: Mutex<HashMap<Place, Arc<HeatTable>>>,
    fitted: Pool,
    handbook: Pool,
    cultivars: HashMap<CultivarId, usize>,
    /// Records that could not be used, by reason.
    pub set_aside: Vec<(SetAside, usize)>,
    least_growers: usize,
}

impl Pooled {
    /// Reads and fits everything as of `today`.
    pub fn load(conn: &mut Conn, today: NaiveDate, least_growers: usize) -> Result<Self, Problem> {
        let handbook: Vec<f64> = handbook::PlantGroup::ALL.iter().map(|group| group.degree_days()).collect();
        let mut pooled = Self {
            weather: weather(conn, today)?,
            tables: Mutex::default(),
            fitted: fit(&handbook, &[])?,
            handbook: fit(&handbook, &[])?,
            cultivars: HashMap::new(),
            set_aside: Vec::new(),
            least_growers,
        };
        let plants = pooled::shared_plants(conn)?;
        let events = pooled::shared_events(conn, &[DiaryKind::Stopping, DiaryKind::ShowReady])?;
        let observations = pooled.observations(&plants, &events);
        pooled.fitted = fit(&handbook, &observations)?;
        Ok(pooled)
    }

    fn observations(
        &mut self,
        plants: &[PooledPlant],
        events: &[(PlantId, NaiveDate, DiaryKind)],
    ) -> Vec<Observation> {
        let by_id: HashMap<PlantId, &PooledPlant> = plants.iter().map(|plant| (plant.id, plant)).collect();
        let mut growers: HashMap<MemberId, usize> = HashMap::new();
        let mut seasons: HashMap<(RegionId, i32), usize> = HashMap::new();
        let mut set_aside: HashMap<SetAside, usize> = HashMap::new();
        let mut found = Vec::new();
        for (plant, stop, ready) in waits(events) {
            let Some(plant) = by_id.get(&plant) else { continue };
            let Ok(table) = self.table(plant.region_id, plant.environment, plant.heated_to_c) else {
                *set_aside.entry(SetAside::WeatherMissing).or_default() += 1;
                continue;
            };
            match log_requirement(&table, epoch_day(stop), epoch_day(ready)) {
                Err(reason) => *set_aside.entry(reason).or_default() += 1,
                Ok(log_requirement) => {
                    let next = self.cultivars.len();
                    let cultivar = *self.cultivars.entry(plant.cultivar_id).or_insert(next);
                    let next = growers.len();
                    let grower = *growers.entry(plant.owner_id).or_insert(next);
                    let next = seasons.len();
                    let year = chrono::Datelike::year(&ready);
                    let region_season = *seasons.entry((plant.region_id, year)).or_insert(next);
                    let group = group_index(plant.plant_group);
                    found.push(Observation { group, cultivar, grower, region_season, log_requirement });
                }
            }
        }
        self.set_aside = set_aside.into_iter().collect();
        self.set_aside.sort_by_key(|(reason, _)| format!("{reason:?}"));
        found
    }

    /// The heat of a place, day by day.
    pub fn table(
        &self,
        region: RegionId,
        environment: Environment,
        heated_to_c: Option<f64>,
    ) -> Result<Arc<HeatTable>, Problem> {
        let series = self.weather.get(&region).ok_or_else(|| {
            Problem::new(
                Code::NoWeather,
                "This region has no weather readings. Ask the administrator to add a station and its readings.",
            )
        })?;
        let least = heated_to_c.unwrap_or(0.0);
        #[allow(clippy::cast_possible_truncation, reason = "0 to 35 C, checked where it is entered")]
        let place = (region, environment, (least * 10.0).round() as i64);
        let mut tables = self.tables.lock().unwrap_or_else(PoisonError::into_inner);
        let table = tables.entry(place).or_insert_with(|| {
            Arc::new(HeatTable::build(series, house(environment, least), HeatRule::default()))
        });
        Ok(Arc::clone(table))
    }

    /// What one more plant needs, from the most specific level that enough growers stand behind.
    pub fn requirement(
        &self,
        group: PlantGroup,
        cultivar: Option<CultivarId>,
    ) -> Result<Requirement, Problem> {
        let index = group_index(group);
        let known = cultivar.and_then(|cultivar| self.cultivars.get(&cultivar).copied());
        let own = known.and_then(|cultivar| self.fitted.requirement(index, Some(cultivar)));
        let candidates = [
            own.filter(|found| self.may_show(&found.cultivar)),
            self.fitted.requirement(index, None).filter(|found| self.may_show(&found.group)),
            self.handbook.requirement(index, None),
        ];
        candidates
            .into_iter()
            .flatten()
            .next()
            .ok_or_else(|| Problem::new(Code::NoForecast, "Nothing is known of this plant group."))
    }

    /// Enough growers and records, and none of them so many that the figure would be theirs.
    fn may_show(&self, support: &Support) -> bool {
        support.growers >= self.least_growers && support.records >= 8 && support.largest_grower_share <= 0.4
    }
}

fn fit(handbook: &[f64], observations: &[Observation]) -> Result<Pool, Problem> {
    Pool::fit(handbook, observations, Spreads::default())
        .map_err(|error| Problem::new(Code::Internal, format!("The records cannot be pooled: {error}.")))
}

/// The two vocabularies list the groups in the same order; a test holds them together.
fn group_index(group: PlantGroup) -> usize {
    group as usize
}

/// Days since 1970-01-01, as the forecasts count.
pub fn epoch_day(date: NaiveDate) -> i32 {
    date.to_epoch_days()
}

/// The date of a day since 1970-01-01.
pub fn date_of(day: i32) -> Option<NaiveDate> {
    NaiveDate::from_epoch_days(day)
}

fn house(environment: Environment, at_least_c: f64) -> House {
    match environment {
        Environment::Heated => House::Heated { at_least_c },
        Environment::FrostFree => House::FrostFree,
        Environment::ColdGlass => House::ColdGlass,
        Environment::Outdoors => House::Outdoors,
    }
}

/// Each readiness with the last stop before it; a readiness after another without a stop between is a second
/// flush and tells nothing of the stop.
fn waits(events: &[(PlantId, NaiveDate, DiaryKind)]) -> Vec<(PlantId, NaiveDate, NaiveDate)> {
    let mut found = Vec::new();
    let mut open: Option<(PlantId, NaiveDate)> = None;
    for (plant, day, kind) in events {
        match kind {
            DiaryKind::Stopping => open = Some((*plant, *day)),
            _ => {
                if let Some((of, stop)) = open.take()
                    && of == *plant
                    && *day - stop <= LONGEST_WAIT
                {
                    found.push((*plant, stop, *day));
                }
            }
        }
    }
    found
}

fn weather(conn: &mut Conn, today: NaiveDate) -> Result<HashMap<RegionId, RegionSeries>, Problem> {
    let from = today - TimeDelta::days(366 * YEARS_OF_WEATHER);
    let mut readings: HashMap<StationId, Vec<Reading>> = HashMap::new();
    for (station, day, min_c, max_c) in pooled::temperatures(conn, from)? {
        if day <= today {
            readings.entry(station).or_default().push(Reading { day: epoch_day(day), min_c, max_c });
        }
    }
    let heights = pooled::station_heights(conn)?;
    let mut regions: HashMap<RegionId, Vec<Station<'_>>> = HashMap::new();
    for (station, region, height_m) in &heights {
        if let Some(readings) = readings.get(station) {
            regions.entry(*region).or_default().push(Station { height_m: *height_m, readings });
        }
    }
    let mut weather = HashMap::new();
    for (region, stations) in regions {
        let height =
            storksbill_db::rows::places::region(conn, region)?.map_or(0.0, |region| region.elevation_m);
        // A region whose readings are all refused has no weather; the forecast then says so.
        if let Ok(series) = RegionSeries::build(height, &stations) {
            weather.insert(region, series);
        }
    }
    Ok(weather)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    #[test]
    fn both_vocabularies_list_the_plant_groups_in_one_order() {
        assert_eq!(PlantGroup::ALL.len(), handbook::PlantGroup::ALL.len());
        for (ours, theirs) in PlantGroup::ALL.iter().zip(handbook::PlantGroup::ALL) {
            assert_eq!(format!("{ours:?}"), format!("{theirs:?}"));
            assert_eq!(group_index(*ours), theirs as usize);
        }
    }

    #[test]
    fn a_readiness_goes_with_the_last_stop_before_it() {
        let (a, b) = (PlantId::fresh(), PlantId::fresh());
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let events = [
            (a, day("2025-01-10"), DiaryKind::Stopping),
            (a, day("2025-03-01"), DiaryKind::Stopping),
            (a, day("2025-06-20"), DiaryKind::ShowReady),
            // A second flush.
            (a, day("2025-08-20"), DiaryKind::ShowReady),
            (a, day("2026-03-05"), DiaryKind::Stopping),
            // Another plant's readiness does not end the first one's wait.
            (b, day("2026-06-01"), DiaryKind::ShowReady),
            (b, day("2024-01-01"), DiaryKind::Stopping),
            // Too long ago: another season's stop.
            (b, day("2025-06-01"), DiaryKind::ShowReady),
        ];
        assert_eq!(waits(&events), [(a, day("2025-03-01"), day("2025-06-20"))]);
    }
}
