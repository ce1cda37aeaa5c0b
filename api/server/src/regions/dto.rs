//! What is taken and sent.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::fits::InsideReading;
use storksbill_db::rows::places::{Reading, Region, Station};
use storksbill_db::rows::weather_sources::WeatherSource;
use storksbill_domain::ids::{RegionId, StationId};
use storksbill_domain::names;
use storksbill_domain::words::{Environment, WeatherFormat};
use utoipa::ToSchema;

use super::sheet::Sheet;
use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;
use crate::http::problem::FieldError;

/// A region to enter.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RegionIn {
    /// Name, unlike that of any other region.
    pub name: String,
    /// Degrees north of the equator, −90 to 90, of a place typical of it.
    pub latitude: f64,
    /// Degrees east of Greenwich, −180 to 180.
    pub longitude: f64,
    /// Metres above the sea, −500 to 9000.
    pub elevation_m: f64,
    /// The zone of plant health it lies in, 1 to 60 characters; `home` when not given. Regions between which plants
    /// move freely share one. Plants do not go across zones in the exchange: ask the plant-health authority
    /// before they do otherwise.
    #[serde(default = "home")]
    pub plant_health_zone: String,
}

/// The zone of a region of which no other is said.
fn home() -> String {
    "home".to_owned()
}

impl Check for RegionIn {
    fn check(&self, found: &mut Findings) {
        check_name(found, &self.name);
        check_zone(found, &self.plant_health_zone);
        check_place(found, Some(self.latitude), Some(self.longitude), Some(self.elevation_m));
    }
}

/// Changes to a region.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RegionPatch {
    /// Name.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub name: Patch<String>,
    /// Degrees north.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub latitude: Patch<f64>,
    /// Degrees east.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub longitude: Patch<f64>,
    /// Metres above the sea.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub elevation_m: Patch<f64>,
    /// The zone of plant health it lies in. Plants do not go across zones in the exchange: ask the plant-health
    /// authority before they do otherwise.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub plant_health_zone: Patch<String>,
}

impl Check for RegionPatch {
    fn check(&self, found: &mut Findings) {
        if let Some(name) = kept(found, "/name", &self.name) {
            check_name(found, name);
        }
        if let Some(zone) = kept(found, "/plant_health_zone", &self.plant_health_zone) {
            check_zone(found, zone);
        }
        check_moved(found, &self.latitude, &self.longitude, &self.elevation_m);
    }
}

/// A region: one climate, one forecast.
#[derive(Debug, Serialize, ToSchema)]
pub struct RegionOut {
    /// Identity.
    pub id: RegionId,
    /// Name.
    pub name: String,
    /// Degrees north of the equator.
    pub latitude: f64,
    /// Degrees east of Greenwich.
    pub longitude: f64,
    /// Metres above the sea.
    pub elevation_m: f64,
    /// The zone of plant health it lies in; case and accents do not tell two apart. Plants do not go across zones
    /// in the exchange: ask the plant-health authority before they do otherwise.
    pub plant_health_zone: String,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl RegionOut {
    pub(super) fn of(region: Region) -> Self {
        Self {
            id: region.id,
            name: region.name,
            latitude: region.latitude,
            longitude: region.longitude,
            elevation_m: region.elevation_m,
            plant_health_zone: region.plant_health_zone,
            version: region.version,
        }
    }
}

/// A weather station to enter.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StationIn {
    /// Name, unlike that of any other station.
    pub name: String,
    /// Degrees north of the equator, −90 to 90.
    pub latitude: f64,
    /// Degrees east of Greenwich, −180 to 180.
    pub longitude: f64,
    /// Metres above the sea, −500 to 9000.
    pub elevation_m: f64,
    /// Where the readings come from, in words; generated ones say so here.
    pub source: String,
}

impl Check for StationIn {
    fn check(&self, found: &mut Findings) {
        check_name(found, &self.name);
        check_place(found, Some(self.latitude), Some(self.longitude), Some(self.elevation_m));
        found.text("/source", &self.source, 2, 300);
    }
}

/// Changes to a weather station. It stays with its region: one that moved far is entered as another.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StationPatch {
    /// Name.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub name: Patch<String>,
    /// Degrees north.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub latitude: Patch<f64>,
    /// Degrees east.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub longitude: Patch<f64>,
    /// Metres above the sea.
    #[serde(default)]
    #[schema(value_type = Option<f64>)]
    pub elevation_m: Patch<f64>,
    /// Where the readings come from, in words.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub source: Patch<String>,
}

impl Check for StationPatch {
    fn check(&self, found: &mut Findings) {
        if let Some(name) = kept(found, "/name", &self.name) {
            check_name(found, name);
        }
        check_moved(found, &self.latitude, &self.longitude, &self.elevation_m);
        if let Some(source) = kept(found, "/source", &self.source) {
            found.text("/source", source, 2, 300);
        }
    }
}

/// A weather station.
#[derive(Debug, Serialize, ToSchema)]
pub struct StationOut {
    /// Identity.
    pub id: StationId,
    /// The region whose forecasts use its readings.
    pub region_id: RegionId,
    /// Name.
    pub name: String,
    /// Degrees north of the equator.
    pub latitude: f64,
    /// Degrees east of Greenwich.
    pub longitude: f64,
    /// Metres above the sea.
    pub elevation_m: f64,
    /// Where the readings come from, in words.
    pub source: String,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl StationOut {
    pub(super) fn of(station: Station) -> Self {
        Self {
            id: station.id,
            region_id: station.region_id,
            name: station.name,
            latitude: station.latitude,
            longitude: station.longitude,
            elevation_m: station.elevation_m,
            source: station.source,
            version: station.version,
        }
    }
}

fn check_name(found: &mut Findings, name: &str) {
    found.text("/name", name, 2, 120);
    if !name.trim().is_empty() && names::search_key(name).is_empty() {
        found.add("/name", "no-letters", "needs a letter or a digit, or nobody could look it up");
    }
}

fn check_zone(found: &mut Findings, zone: &str) {
    found.text("/plant_health_zone", zone, 1, 60);
    if !zone.trim().is_empty() && names::search_key(zone).is_empty() {
        found.add("/plant_health_zone", "no-letters", "needs a letter or a digit");
    }
}

fn check_place(
    found: &mut Findings,
    latitude: Option<f64>,
    longitude: Option<f64>,
    elevation_m: Option<f64>,
) {
    for (pointer, value, least, most) in [
        ("/latitude", latitude, -90.0, 90.0),
        ("/longitude", longitude, -180.0, 180.0),
        ("/elevation_m", elevation_m, -500.0, 9000.0),
    ] {
        if let Some(value) = value {
            found.range(pointer, value, least, most);
        }
    }
}

fn check_moved(found: &mut Findings, latitude: &Patch<f64>, longitude: &Patch<f64>, elevation: &Patch<f64>) {
    let latitude = kept(found, "/latitude", latitude).copied();
    let longitude = kept(found, "/longitude", longitude).copied();
    let elevation = kept(found, "/elevation_m", elevation).copied();
    check_place(found, latitude, longitude, elevation);
}

/// The new value of a field that cannot be cleared.
fn kept<'p, T>(found: &mut Findings, pointer: &str, patch: &'p Patch<T>) -> Option<&'p T> {
    if matches!(patch, Patch::Null) {
        found.add(pointer, "required", "cannot be cleared");
    }
    patch.value()
}

/// One day of a weather station.
#[derive(Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ReadingRow {
    /// The day.
    pub day: NaiveDate,
    /// Lowest air temperature of the day, degrees C, −60 to 60.
    #[schema(minimum = -60, maximum = 60)]
    pub min_c: f64,
    /// Highest air temperature of the day, degrees C, −60 to 60; not below the lowest.
    #[schema(minimum = -60, maximum = 60)]
    pub max_c: f64,
    /// Rain, millimetres, 0 to 2000; null where it was not measured.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 2000)]
    pub rain_mm: Option<f64>,
    /// Mean relative humidity, per cent; null where it was not measured.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 100)]
    pub humidity_pct: Option<f64>,
}

impl ReadingRow {
    pub(super) fn of(reading: &Reading) -> Self {
        Self {
            day: reading.day,
            min_c: reading.min_c,
            max_c: reading.max_c,
            rain_mm: reading.rain_mm,
            humidity_pct: reading.humidity_pct,
        }
    }
}

/// Days of a weather station.
#[derive(Debug, Serialize, ToSchema)]
pub struct ReadingsOut {
    /// The station.
    pub station_id: StationId,
    /// First day asked for.
    pub from: NaiveDate,
    /// Last day asked for.
    pub to: NaiveDate,
    /// The days that were read, oldest first; days without a reading are left out.
    pub readings: Vec<ReadingRow>,
}

/// What became of an upload of readings.
#[derive(Debug, Serialize, ToSchema)]
pub struct UploadOut {
    /// Rows written; a day that was there already is replaced.
    pub written: usize,
    /// Bad rows left out; always 0 without `skip_bad`.
    pub skipped: usize,
    /// Days of a `.dly` file that have one temperature alone; nothing is written for them.
    pub gaps: usize,
    /// First day written.
    pub first_day: Option<NaiveDate>,
    /// Last day written.
    pub last_day: Option<NaiveDate>,
    /// What is wrong with the rows left out, by line or JSON pointer; the first 1,000 faults.
    pub bad: Vec<FieldError>,
    /// How many faults more there are.
    pub bad_not_listed: usize,
}

impl UploadOut {
    pub(super) fn of(sheet: &Sheet) -> Self {
        Self {
            written: sheet.good.len(),
            skipped: sheet.bad_rows,
            gaps: sheet.gaps,
            first_day: sheet.first_day(),
            last_day: sheet.last_day(),
            bad: sheet.faults.clone(),
            bad_not_listed: sheet.unlisted,
        }
    }
}

/// Where a station's readings are to be fetched from.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WeatherSourceIn {
    /// Address, https or http, with `{from}`, `{to}` (days such as 2026-05-31) or `{year}` where the source
    /// wants them.
    #[schema(example = "https://weather.example/quay-town/{year}.csv")]
    pub url: String,
    /// How the file there is written.
    pub format: WeatherFormat,
    /// How often it is fetched, hours, 1 to 8784.
    #[schema(minimum = 1, maximum = 8784)]
    pub every_hours: i32,
    /// Whether it is fetched by the timetable; by hand it is fetched in any case.
    pub enabled: bool,
}

impl Check for WeatherSourceIn {
    fn check(&self, found: &mut Findings) {
        found.text("/url", &self.url, 1, 2000);
        found.range("/every_hours", self.every_hours, 1, 8784);
    }
}

/// Where a station's readings are fetched from, and how that went last.
#[derive(Debug, Serialize, ToSchema)]
pub struct WeatherSourceOut {
    /// The station.
    pub station_id: StationId,
    /// Address, with `{from}`, `{to}` or `{year}` in place of days.
    pub url: String,
    /// How the file there is written.
    pub format: WeatherFormat,
    /// How often it is fetched, hours.
    pub every_hours: i32,
    /// Whether it is fetched by the timetable.
    pub enabled: bool,
    /// When it was last tried.
    pub last_tried_at: Option<DateTime<Utc>>,
    /// When it last went well.
    pub last_ok_at: Option<DateTime<Utc>>,
    /// What went wrong at the last try, in one line; null where nothing did.
    pub last_problem: Option<String>,
    /// Counts up at each edit and each try; also the `ETag`.
    pub version: i32,
}

impl WeatherSourceOut {
    pub(super) fn of(source: WeatherSource) -> Self {
        Self {
            station_id: source.station_id,
            url: source.url_template,
            format: source.format,
            every_hours: source.every_hours,
            enabled: source.enabled,
            last_tried_at: source.last_tried_at.map(|at| at.and_utc()),
            last_ok_at: source.last_ok_at.map(|at| at.and_utc()),
            last_problem: source.last_problem,
            version: source.version,
        }
    }
}

/// One day of a house.
#[derive(Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InsideRow {
    /// The day.
    pub day: NaiveDate,
    /// Lowest temperature of the day in the house, degrees C, −60 to 60.
    #[schema(minimum = -60, maximum = 60)]
    pub min_c: f64,
    /// Highest temperature of the day in the house, degrees C, −60 to 60; not below the lowest.
    #[schema(minimum = -60, maximum = 60)]
    pub max_c: f64,
}

/// What you measured in a house of yours on one day.
#[derive(Debug, Serialize, ToSchema)]
pub struct InsideReadingOut {
    /// The region the house stands in.
    pub region_id: RegionId,
    /// What kind of house.
    pub environment: Environment,
    /// Kept at least this warm, degrees C; null for houses that are not heated.
    pub heated_to_c: Option<f64>,
    /// The day.
    pub day: NaiveDate,
    /// Lowest temperature, degrees C.
    pub min_c: f64,
    /// Highest temperature, degrees C.
    pub max_c: f64,
}

impl InsideReadingOut {
    pub(super) fn of(reading: &InsideReading) -> Self {
        Self {
            region_id: reading.region_id,
            environment: reading.environment,
            heated_to_c: reading.heated_to_c,
            day: reading.day,
            min_c: reading.min_c,
            max_c: reading.max_c,
        }
    }
}
