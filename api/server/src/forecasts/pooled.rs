//! The members' pooled records and the regions' weather, read from the database when they are old and shared
//! by all requests until then.
//!
//! The slow part of a fit (standard deviations, bases, calibration) is a job's and is kept; what is read here
//! is refreshed under those parameters, so a new record or reading moves the next answer. Reading takes one
//! pass over the readings of the last 31 years and the flowering records of shared plants and one
//! factorisation: time and memory grow with both, about 0.2 s for 20,000 records and 20,000 station-days.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex, PoisonError};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::fits::{self, InsideReading};
use storksbill_db::rows::pooled::{self, PooledPlant, StationPlace};
use storksbill_domain::ids::{CultivarId, MemberId, PlantId, RegionId, StationId};
use storksbill_domain::words::{DiaryKind, Environment, PlantGroup};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::fit::{
    Ask, Enough, Fit, FitError, Parameters, Requirement, SeasonEffect, Settings, Support, estimate, refresh,
};
use storksbill_forecast::glass::{self, Gain, House, LoggedDay};
use storksbill_forecast::handbook;
use storksbill_forecast::neighbours::fill_from_neighbours;
use storksbill_forecast::records::{Place, SetAside, Wait};
use storksbill_forecast::series::{HeatTable, Reading, RegionSeries, Station};
use storksbill_forecast::stages::StageModel;

use super::kept;
use super::waits::{FLOWERING, by_plant, season_of};
use crate::app::App;
use crate::http::problem::{Code, Problem};

/// Seasons of weather that are read: thirty past ones and the present.
const YEARS_OF_WEATHER: i64 = 31;

/// Fewest records behind a pooled figure.
const LEAST_RECORDS: usize = 8;
/// Largest share of them that one grower may hold.
const LARGEST_SHARE: f64 = 0.4;

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
        let pooled = Arc::new(Self::fresh(app).await?);
        *latest = Some((now, Arc::clone(&pooled)));
        Ok(pooled)
    }

    /// The records as they are now, for a job.
    pub async fn fresh(app: &App) -> Result<Pooled, Problem> {
        let today = app.clock.today();
        let least_growers = usize::try_from(app.society.least_growers).unwrap_or(usize::MAX);
        app.db.read(move |conn| Pooled::load(conn, today, least_growers)).await
    }

    /// Lets the next request read anew: a fit was made.
    pub async fn forget(app: &App) {
        *app.pooled.latest.lock().await = None;
    }
}

/// A place to grow, exact enough to share its heat table: the environment and tenths of a degree.
type PlaceKey = (RegionId, Environment, i64);

/// The pooled records at one moment.
#[derive(Debug)]
pub struct Pooled {
    records: Records,
    tables: Mutex<HashMap<(PlaceKey, u64), Arc<HeatTable>>>,
    fit: Fit,
    /// The same with no record at all.
    handbook: Fit,
    /// The kept fit whose parameters are in force; none before the first.
    pub fit_version: Option<i32>,
    least_growers: usize,
    /// The season under way.
    season: i32,
}

/// What is read: weather, waits and the numbers that stand for ids.
#[derive(Debug, Default)]
pub struct Records {
    weather: HashMap<RegionId, RegionSeries>,
    gains: HashMap<Environment, Gain>,
    places: Vec<PlaceKey>,
    /// Every flowering of shared plants.
    pub waits: Vec<Wait>,
    /// The plant of each wait.
    pub plants: Vec<PlantId>,
    /// Its last stop, by which a person finds it.
    pub stopped_on: Vec<NaiveDate>,
    regions: Numbers<RegionId>,
    cultivars: Numbers<CultivarId>,
    growers: Numbers<MemberId>,
    south: HashMap<RegionId, bool>,
}

/// Numbers in the order ids are first met.
#[derive(Debug)]
struct Numbers<K> {
    known: HashMap<K, u32>,
}

impl<K> Default for Numbers<K> {
    fn default() -> Self {
        Self { known: HashMap::new() }
    }
}

impl<K: Eq + std::hash::Hash> Numbers<K> {
    fn of(&mut self, id: K) -> u32 {
        let next = u32::try_from(self.known.len()).unwrap_or(u32::MAX);
        *self.known.entry(id).or_insert(next)
    }

    fn get(&self, id: &K) -> Option<u32> {
        self.known.get(id).copied()
    }
}

/// Whose forecast is wanted.
#[derive(Debug, Clone, Copy)]
pub struct Kind {
    /// What it is.
    pub group: PlantGroup,
    /// Which one, where that is known.
    pub cultivar: Option<CultivarId>,
    /// Its grower, only where the grower asks: nobody else is told a grower's pace.
    pub grower: Option<MemberId>,
    /// Where it grows.
    pub region: RegionId,
    /// Under what.
    pub environment: Environment,
}

/// A finding on one flowering: its plant, its last stop, and why it takes no part.
pub type Doubted = (PlantId, NaiveDate, SetAside);

impl Records {
    /// Reads everything as of `today`.
    fn load(conn: &mut Conn, today: NaiveDate) -> Result<Self, Problem> {
        let mut records = Self { weather: weather(conn, today)?, ..Self::default() };
        let latitudes = pooled::region_latitudes(conn)?;
        records.south = latitudes.into_iter().map(|(region, latitude)| (region, latitude < 0.0)).collect();
        records.gains = records.gains(&fits::all_inside_readings(conn)?);
        let plants = pooled::shared_plants(conn)?;
        let events = pooled::shared_events(conn, &FLOWERING)?;
        let looked: HashMap<MemberId, NaiveDate> = pooled::last_entries(conn)?.into_iter().collect();
        records.take(&plants, &events, &looked);
        Ok(records)
    }

    fn take(
        &mut self,
        plants: &[PooledPlant],
        events: &[(PlantId, NaiveDate, DiaryKind)],
        looked: &HashMap<MemberId, NaiveDate>,
    ) {
        let by_id: HashMap<PlantId, &PooledPlant> = plants.iter().map(|plant| (plant.id, plant)).collect();
        let mut places: Numbers<PlaceKey> = Numbers::default();
        for (number, (plant_id, flowerings)) in (0..).zip(by_plant(events)) {
            let Some(plant) = by_id.get(&plant_id) else { continue };
            if !self.weather.contains_key(&plant.region_id) {
                continue;
            }
            let key = place_key(plant.region_id, plant.environment, plant.heated_to_c);
            let place = places.of(key);
            if usize::try_from(place).is_ok_and(|place| place == self.places.len()) {
                self.places.push(key);
            }
            for flowering in flowerings {
                self.waits.push(Wait {
                    plant: number,
                    group: group_index(plant.plant_group),
                    cultivar: self.cultivars.of(plant.cultivar_id),
                    grower: self.growers.of(plant.owner_id),
                    region: self.regions.of(plant.region_id),
                    environment: environment_index(plant.environment),
                    place,
                    season: season_of(flowering.stopped_on, self.is_south(plant.region_id)),
                    stop_day: epoch_day(flowering.stopped_on),
                    seen: flowering.days(),
                    looked_until: looked.get(&plant.owner_id).copied().map(epoch_day),
                });
                self.plants.push(plant_id);
                self.stopped_on.push(flowering.stopped_on);
            }
        }
    }

    fn is_south(&self, region: RegionId) -> bool {
        self.south.get(&region).copied().unwrap_or(false)
    }

    /// The places the waits name, in their order.
    pub fn places(&self) -> Vec<Place<'_>> {
        self.places
            .iter()
            .filter_map(|&(region, environment, tenths)| {
                Some(Place {
                    series: self.weather.get(&region)?,
                    house: house(environment, tenths),
                    gain: self.gain(environment),
                })
            })
            .collect()
    }

    fn gain(&self, environment: Environment) -> Gain {
        self.gains.get(&environment).copied().unwrap_or_default()
    }

    /// What each kind of house makes of the weather: the mean over the houses that growers measured.
    fn gains(&self, readings: &[InsideReading]) -> HashMap<Environment, Gain> {
        let mut logged: BTreeMap<(Environment, i64, MemberId, RegionId), Vec<LoggedDay>> = BTreeMap::new();
        for reading in readings {
            let outside =
                self.weather.get(&reading.region_id).and_then(|series| series.get(epoch_day(reading.day)));
            let Some(outside) = outside.filter(|day| day.min_c.is_finite() && day.max_c.is_finite()) else {
                continue;
            };
            logged
                .entry((
                    reading.environment,
                    tenths(reading.heated_to_c),
                    reading.member_id,
                    reading.region_id,
                ))
                .or_default()
                .push((outside.min_c, outside.max_c, reading.min_c, reading.max_c));
        }
        let mut houses: BTreeMap<Environment, Vec<Gain>> = BTreeMap::new();
        for ((environment, tenths, ..), days) in logged {
            houses.entry(environment).or_default().extend(glass::estimate(&days, house(environment, tenths)));
        }
        let mean =
            |gains: &[Gain], of: fn(&Gain) -> f64| gains.iter().map(of).sum::<f64>() / gains.len() as f64;
        houses
            .into_iter()
            .filter(|(_, gains)| !gains.is_empty())
            .map(|(environment, gains)| {
                let gain = Gain {
                    night_lift_c: mean(&gains, |gain| gain.night_lift_c),
                    day_gain_c: mean(&gains, |gain| gain.day_gain_c),
                    vent_c: mean(&gains, |gain| gain.vent_c),
                };
                (environment, gain)
            })
            .collect()
    }

    /// Growers who share a flowering.
    pub fn grower_count(&self) -> usize {
        self.growers.known.len()
    }

    /// What a full estimate of them asks for, as of `today`.
    pub fn settings(&self, today: NaiveDate) -> Settings {
        let handbook = handbook::PlantGroup::ALL.iter().map(|group| Some(group.degree_days())).collect();
        // A society has its regions on one side of the equator; the season of most is the season.
        let south = self.south.values().filter(|south| **south).count() * 2 > self.south.len();
        Settings::new(handbook, epoch_day(today), season_of(today, south))
    }

    /// SHA-256 of the records and weather.
    pub fn fingerprint(&self) -> String {
        let mut regions: Vec<RegionId> = self.weather.keys().copied().collect();
        regions.sort_unstable();
        kept::fingerprint(&self.waits, regions.iter().filter_map(|region| self.weather.get(region)))
    }
}

impl Pooled {
    /// Reads everything as of `today` and refreshes the effects under the kept parameters.
    pub fn load(conn: &mut Conn, today: NaiveDate, least_growers: usize) -> Result<Self, Problem> {
        let records = Records::load(conn, today)?;
        let settings = records.settings(today);
        let places = records.places();
        let newest = fits::latest_fit(conn)?;
        let known =
            newest.as_ref().and_then(|fit| Some((fit.version_no, kept::from_json(&fit.parameters).ok()?)));
        let (fit_version, parameters) = match known {
            Some((version, parameters)) if parameters.bases.len() == settings.handbook.len() => {
                (Some(version), parameters)
            }
            _ => (None, quick(&places, &records.waits, &settings).map_err(|error| not_fitted(&error))?),
        };
        let fit =
            refresh(&places, &records.waits, &settings, &parameters).map_err(|error| not_fitted(&error))?;
        let bare = estimate(&[], &[], &settings, None).map_err(|error| not_fitted(&error))?;
        let handbook = refresh(&[], &[], &settings, &bare).map_err(|error| not_fitted(&error))?;
        drop(places);
        let season = settings.season;
        Ok(Self { records, tables: Mutex::default(), fit, handbook, fit_version, least_growers, season })
    }

    /// The records it was made from.
    pub fn records(&self) -> &Records {
        &self.records
    }

    /// The parameters in force.
    pub fn parameters(&self) -> &Parameters {
        &self.fit.parameters
    }

    /// A region's weather.
    pub fn series(&self, region: RegionId) -> Option<&RegionSeries> {
        self.records.weather.get(&region)
    }

    /// Whether a region lies south of the equator.
    pub fn is_south(&self, region: RegionId) -> bool {
        self.records.is_south(region)
    }

    /// The season that a day belongs to in a region.
    pub fn season_of(&self, region: RegionId, day: NaiveDate) -> i32 {
        season_of(day, self.records.is_south(region))
    }

    /// The house of a place and what it makes of the weather.
    pub fn house(&self, environment: Environment, heated_to_c: Option<f64>) -> (House, Gain) {
        (house(environment, tenths(heated_to_c)), self.records.gain(environment))
    }

    /// Flowerings that take no part, and why.
    pub fn doubted(&self) -> Vec<Doubted> {
        let of = |&(wait, reason): &(usize, SetAside)| {
            Some((*self.records.plants.get(wait)?, *self.records.stopped_on.get(wait)?, reason))
        };
        self.fit.set_aside.iter().filter_map(of).collect()
    }

    /// The heat of a place above the rule's base, day by day.
    pub fn table(
        &self,
        region: RegionId,
        environment: Environment,
        heated_to_c: Option<f64>,
    ) -> Result<Arc<HeatTable>, Problem> {
        self.table_above(region, environment, heated_to_c, HeatRule::default().base_c)
    }

    /// The heat of a place above a requirement's base.
    pub fn table_above(
        &self,
        region: RegionId,
        environment: Environment,
        heated_to_c: Option<f64>,
        base_c: f64,
    ) -> Result<Arc<HeatTable>, Problem> {
        let series = self.series(region).ok_or_else(|| {
            Problem::new(
                Code::NoWeather,
                "This region has no weather readings. Ask the administrator to add a station and its readings.",
            )
        })?;
        let key = place_key(region, environment, heated_to_c);
        let mut tables = self.tables.lock().unwrap_or_else(PoisonError::into_inner);
        let table = tables.entry((key, base_c.to_bits())).or_insert_with(|| {
            let (house, gain) = self.house(environment, heated_to_c);
            let rule = HeatRule { base_c, ..HeatRule::default() };
            Arc::new(HeatTable::build_with(series, house, gain, rule))
        });
        Ok(Arc::clone(table))
    }

    /// What one more plant needs, from the most specific level that enough growers stand behind: in the season
    /// that its last stop belongs to, or in a usual one.
    pub fn requirement(&self, kind: &Kind, stop: Option<NaiveDate>) -> Result<Requirement, Problem> {
        let number = kind.cultivar.and_then(|cultivar| self.records.cultivars.get(&cultivar));
        let cultivar = number.filter(|number| self.may_show(&self.fit.cultivar_support(*number)));
        let group = group_index(kind.group);
        let ask = Ask {
            group,
            environment: environment_index(kind.environment),
            cultivar,
            grower: kind.grower.and_then(|grower| self.records.growers.get(&grower)),
            region: stop
                .filter(|stop| self.season_of(kind.region, *stop) == self.season)
                .and_then(|_| self.season_effect(kind.region))
                .and(self.records.regions.get(&kind.region)),
        };
        let shown = self.fit.group_support(group).is_some_and(|support| self.may_show(&support));
        let pooled = if shown { self.fit.requirement(&ask) } else { None };
        let bare = Ask { cultivar: None, grower: None, region: None, ..ask };
        pooled
            .or_else(|| self.handbook.requirement(&bare))
            .ok_or_else(|| Problem::new(Code::NoForecast, "Nothing is known of this plant group."))
    }

    /// The stages of a group; those of no record where too few growers stand behind the group's own.
    pub fn stages(&self, group: PlantGroup) -> StageModel {
        let index = group_index(group);
        let shown = self.fit.group_support(index).is_some_and(|support| self.may_show(&support));
        let own = usize::try_from(index).ok().and_then(|index| self.fit.stages.get(index)).filter(|_| shown);
        own.cloned().unwrap_or_default()
    }

    /// What the season under way does to a region by its records, where enough growers stand behind it.
    pub fn season_effect(&self, region: RegionId) -> Option<&SeasonEffect> {
        let effect = self.fit.season_effect(self.records.regions.get(&region)?)?;
        let support = Support {
            records: effect.ready + effect.waiting,
            growers: effect.growers,
            seasons: 1,
            largest_grower_share: effect.largest_grower_share,
        };
        self.may_show(&support).then_some(effect)
    }

    /// A grower's own pace on the log scale, for that grower alone.
    pub fn own_pace(&self, grower: MemberId) -> Option<f64> {
        self.fit.grower_effect(self.records.growers.get(&grower)?)
    }

    /// Enough growers and records, and none of them so many that the figure would be theirs.
    pub fn may_show(&self, support: &Support) -> bool {
        support.growers >= self.least_growers
            && support.records >= LEAST_RECORDS
            && support.largest_grower_share <= LARGEST_SHARE
    }
}

/// Parameters before the first kept fit: means from the records, nothing that takes time.
fn quick(places: &[Place<'_>], waits: &[Wait], settings: &Settings) -> Result<Parameters, FitError> {
    let never = Enough { records: usize::MAX, seasons: usize::MAX };
    let settings = Settings { spreads_from: never, calibration_from: never, bases: None, ..settings.clone() };
    estimate(places, waits, &settings, None)
}

/// The problem of records that cannot be pooled.
pub fn not_fitted(error: &FitError) -> Problem {
    Problem::new(Code::Internal, format!("The records cannot be pooled: {error}."))
}

/// The two vocabularies list the groups in the same order; a test holds them together.
fn group_index(group: PlantGroup) -> u32 {
    group as u32
}

/// Any order will do: the kinds of house are only told apart.
fn environment_index(environment: Environment) -> u32 {
    environment as u32
}

fn tenths(heated_to_c: Option<f64>) -> i64 {
    #[expect(clippy::cast_possible_truncation, reason = "0 to 35 C, checked where it is entered")]
    let tenths = (heated_to_c.unwrap_or(0.0) * 10.0).round() as i64;
    tenths
}

fn place_key(region: RegionId, environment: Environment, heated_to_c: Option<f64>) -> PlaceKey {
    (region, environment, tenths(heated_to_c))
}

/// Days since 1970-01-01, as the forecasts count.
pub fn epoch_day(date: NaiveDate) -> i32 {
    date.to_epoch_days()
}

/// The date of a day since 1970-01-01.
pub fn date_of(day: i32) -> Option<NaiveDate> {
    NaiveDate::from_epoch_days(day)
}

fn house(environment: Environment, tenths: i64) -> House {
    match environment {
        // Tenths of at most 35 C.
        Environment::Heated => House::Heated { at_least_c: tenths as f64 / 10.0 },
        Environment::FrostFree => House::FrostFree,
        Environment::ColdGlass => House::ColdGlass,
        Environment::Outdoors => House::Outdoors,
    }
}

fn weather(conn: &mut Conn, today: NaiveDate) -> Result<HashMap<RegionId, RegionSeries>, Problem> {
    let from = today - TimeDelta::days(366 * YEARS_OF_WEATHER);
    let mut readings: HashMap<StationId, Vec<Reading>> = HashMap::new();
    for (station, day, min_c, max_c) in pooled::temperatures(conn, from)? {
        if day <= today {
            readings.entry(station).or_default().push(Reading { day: epoch_day(day), min_c, max_c });
        }
    }
    let stations = pooled::station_places(conn)?;
    let mut regions: BTreeMap<RegionId, Vec<&StationPlace>> = BTreeMap::new();
    for station in stations.iter().filter(|station| readings.contains_key(&station.id)) {
        regions.entry(station.region_id).or_default().push(station);
    }
    let mut weather = HashMap::new();
    for (region, own) in regions {
        let height =
            storksbill_db::rows::places::region(conn, region)?.map_or(0.0, |region| region.elevation_m);
        let of = |station: &StationPlace| readings.get(&station.id).map(Vec::as_slice).unwrap_or_default();
        let measured: Vec<Station<'_>> = own
            .iter()
            .map(|station| Station { height_m: station.elevation_m, readings: of(station) })
            .collect();
        // A region whose readings are all refused has no weather; the forecast then says so.
        let Ok(series) = RegionSeries::build(height, &measured) else { continue };
        let series = if series.flags().missing_days > 0 {
            filled(height, &series, &own, &measured, &stations, &of)
        } else {
            series
        };
        weather.insert(region, series);
    }
    Ok(weather)
}

/// Stations whose readings fill another's gaps: the nearest so many.
const NEIGHBOURS: usize = 6;

/// The series with its long gaps filled from the nearest stations of other regions, as far as they go along
/// with its own.
fn filled<'r>(
    height_m: f64,
    series: &RegionSeries,
    own: &[&StationPlace],
    measured: &[Station<'_>],
    all: &[StationPlace],
    readings: &impl Fn(&StationPlace) -> &'r [Reading],
) -> RegionSeries {
    let estimates: Vec<(f64, Vec<Reading>)> = own
        .iter()
        .map(|station| {
            let mut others: Vec<&StationPlace> =
                all.iter().filter(|other| other.region_id != station.region_id).collect();
            others.sort_by(|a, b| station.distance(a).total_cmp(&station.distance(b)));
            let near: Vec<&[Reading]> =
                others.into_iter().map(readings).filter(|days| !days.is_empty()).take(NEIGHBOURS).collect();
            let within = series.first_day..=series.last_day();
            let estimates = fill_from_neighbours(readings(station), &near);
            let days = estimates.into_iter().map(|estimate| estimate.reading);
            (station.elevation_m, days.filter(|reading| within.contains(&reading.day)).collect())
        })
        .collect();
    let estimates: Vec<Station<'_>> =
        estimates.iter().map(|(height_m, readings)| Station { height_m: *height_m, readings }).collect();
    RegionSeries::build_filled(height_m, measured, &estimates).unwrap_or_else(|_| series.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_vocabularies_list_the_plant_groups_in_one_order() {
        assert_eq!(PlantGroup::ALL.len(), handbook::PlantGroup::ALL.len());
        for (ours, theirs) in PlantGroup::ALL.iter().zip(handbook::PlantGroup::ALL) {
            assert_eq!(format!("{ours:?}"), format!("{theirs:?}"));
            assert_eq!(group_index(*ours), theirs as u32);
        }
    }
}
