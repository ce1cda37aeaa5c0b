//! What the forecasts are made from: the members' records pooled, and the weather.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use diesel::prelude::*;
use storksbill_domain::ids::{CultivarId, MemberId, PlantId, RegionId, StationId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{DiaryKind, Environment, PlantGroup, Visibility};

use crate::schema::{cultivars, diary_entries, plants, readings, stations};
use crate::{Conn, DbError};

/// A plant as a forecast sees it.
#[derive(Debug, Clone, PartialEq, Queryable)]
pub struct PooledPlant {
    /// Identity.
    pub id: PlantId,
    /// Its grower.
    pub owner_id: MemberId,
    /// What it is.
    pub cultivar_id: CultivarId,
    /// The cultivar's name.
    pub cultivar_name: String,
    /// The cultivar's group.
    pub plant_group: PlantGroup,
    /// Where it grows.
    pub region_id: RegionId,
    /// Under what.
    pub environment: Environment,
    /// Kept at least this warm, degrees C.
    pub heated_to_c: Option<f64>,
    /// Who may see it.
    pub visibility: Visibility,
}

type PlantColumns = (
    plants::id,
    plants::owner_id,
    plants::cultivar_id,
    cultivars::name,
    cultivars::plant_group,
    plants::region_id,
    plants::environment,
    plants::heated_to_c,
    plants::visibility,
);

const PLANT: PlantColumns = (
    plants::id,
    plants::owner_id,
    plants::cultivar_id,
    cultivars::name,
    cultivars::plant_group,
    plants::region_id,
    plants::environment,
    plants::heated_to_c,
    plants::visibility,
);

/// The plant of this id, whoever asks: the caller decides with [`super::shares::sees`] whether it may be seen.
pub fn plant(conn: &mut Conn, id: PlantId) -> Result<Option<PooledPlant>, DbError> {
    Ok(plants::table
        .inner_join(cultivars::table)
        .filter(plants::id.eq(id))
        .select(PLANT)
        .first(conn)
        .optional()?)
}

/// The name and group of a cultivar that the actor may see.
pub fn cultivar_visible_to(
    conn: &mut Conn,
    actor: &Actor,
    id: CultivarId,
) -> Result<Option<(CultivarId, String, PlantGroup)>, DbError> {
    let seen = super::cultivars::visible_among(conn, actor, &[id])?;
    Ok(seen.into_iter().next().map(|cultivar| (cultivar.id, cultivar.name, cultivar.plant_group)))
}

/// Plants that their growers share, with their club or the society. Private plants are not pooled.
pub fn shared_plants(conn: &mut Conn) -> Result<Vec<PooledPlant>, DbError> {
    let shared = plants::table
        .inner_join(cultivars::table)
        .filter(plants::visibility.ne(Visibility::Private))
        .order(plants::id)
        .select(PLANT);
    Ok(shared.load(conn)?)
}

/// The days of `kinds` in the diaries of shared plants, plant by plant, oldest first.
pub fn shared_events(
    conn: &mut Conn,
    kinds: &[DiaryKind],
) -> Result<Vec<(PlantId, NaiveDate, DiaryKind)>, DbError> {
    let events = diary_entries::table
        .inner_join(plants::table)
        .filter(plants::visibility.ne(Visibility::Private))
        .filter(diary_entries::kind.eq_any(kinds.to_vec()))
        .order((diary_entries::plant_id, diary_entries::day, diary_entries::id))
        .select((diary_entries::plant_id, diary_entries::day, diary_entries::kind));
    Ok(events.load(conn)?)
}

/// The plants of one group that their growers share.
pub fn shared_plants_of_group(conn: &mut Conn, group: PlantGroup) -> Result<Vec<PooledPlant>, DbError> {
    let shared = plants::table
        .inner_join(cultivars::table)
        .filter(plants::visibility.ne(Visibility::Private))
        .filter(cultivars::plant_group.eq(group))
        .order(plants::id)
        .select(PLANT);
    Ok(shared.load(conn)?)
}

/// The days of `kinds` in the diaries of shared plants of one group, plant by plant, oldest first.
pub fn shared_events_of_group(
    conn: &mut Conn,
    group: PlantGroup,
    kinds: &[DiaryKind],
) -> Result<Vec<(PlantId, NaiveDate, DiaryKind)>, DbError> {
    let events = diary_entries::table
        .inner_join(plants::table.inner_join(cultivars::table))
        .filter(plants::visibility.ne(Visibility::Private))
        .filter(cultivars::plant_group.eq(group))
        .filter(diary_entries::kind.eq_any(kinds.to_vec()))
        .order((diary_entries::plant_id, diary_entries::day, diary_entries::id))
        .select((diary_entries::plant_id, diary_entries::day, diary_entries::kind));
    Ok(events.load(conn)?)
}

/// A member's own plants with their labels, private ones too, those entered first, `limit` at most.
pub fn own_plants(
    conn: &mut Conn,
    owner: MemberId,
    limit: i64,
) -> Result<Vec<(PooledPlant, Option<String>)>, DbError> {
    let own = plants::table
        .inner_join(cultivars::table)
        .filter(plants::owner_id.eq(owner))
        .order(plants::id)
        .limit(limit)
        .select((PLANT, plants::label));
    Ok(own.load(conn)?)
}

/// The days of `kinds` in the diaries of a member's own plants, plant by plant, oldest first.
pub fn own_events(
    conn: &mut Conn,
    owner: MemberId,
    kinds: &[DiaryKind],
) -> Result<Vec<(PlantId, NaiveDate, DiaryKind)>, DbError> {
    let events = diary_entries::table
        .inner_join(plants::table)
        .filter(plants::owner_id.eq(owner))
        .filter(diary_entries::kind.eq_any(kinds.to_vec()))
        .order((diary_entries::plant_id, diary_entries::day, diary_entries::id))
        .select((diary_entries::plant_id, diary_entries::day, diary_entries::kind));
    Ok(events.load(conn)?)
}

/// The regions that a member's own plants stand in.
pub fn own_regions(conn: &mut Conn, owner: MemberId) -> Result<Vec<RegionId>, DbError> {
    let regions = plants::table.filter(plants::owner_id.eq(owner)).select(plants::region_id).distinct();
    Ok(regions.order(plants::region_id).load(conn)?)
}

/// The days of `kinds` in one plant's diary, oldest first.
pub fn events_of(
    conn: &mut Conn,
    plant: PlantId,
    kinds: &[DiaryKind],
) -> Result<Vec<(NaiveDate, DiaryKind)>, DbError> {
    let events = diary_entries::table
        .filter(diary_entries::plant_id.eq(plant))
        .filter(diary_entries::kind.eq_any(kinds.to_vec()))
        .order((diary_entries::day, diary_entries::id))
        .select((diary_entries::day, diary_entries::kind));
    Ok(events.load(conn)?)
}

/// Where a station stands.
#[derive(Debug, Clone, PartialEq, Queryable)]
pub struct StationPlace {
    /// Identity.
    pub id: StationId,
    /// Its region.
    pub region_id: RegionId,
    /// Degrees north.
    pub latitude: f64,
    /// Degrees east.
    pub longitude: f64,
    /// Metres above the sea.
    pub elevation_m: f64,
}

impl StationPlace {
    /// Distance to another on a plane through it, in degrees of latitude: good enough to tell which is nearest.
    pub fn distance(&self, other: &Self) -> f64 {
        let east = (self.longitude - other.longitude) * self.latitude.to_radians().cos();
        (self.latitude - other.latitude).hypot(east)
    }
}

/// Every station's place.
pub fn station_places(conn: &mut Conn) -> Result<Vec<StationPlace>, DbError> {
    let all = stations::table.order(stations::id).select((
        stations::id,
        stations::region_id,
        stations::latitude,
        stations::longitude,
        stations::elevation_m,
    ));
    Ok(all.load(conn)?)
}

/// Each region's mean latitude by its stations, degrees north.
pub fn region_latitudes(conn: &mut Conn) -> Result<Vec<(RegionId, f64)>, DbError> {
    let all: Vec<(RegionId, f64)> =
        stations::table.order(stations::id).select((stations::region_id, stations::latitude)).load(conn)?;
    let mut sums: BTreeMap<RegionId, (f64, u32)> = BTreeMap::new();
    for (region, latitude) in all {
        let (sum, count) = sums.entry(region).or_default();
        *sum += latitude;
        *count += 1;
    }
    Ok(sums.into_iter().map(|(region, (sum, count))| (region, sum / f64::from(count))).collect())
}

/// The last day each grower wrote in the diary of a shared plant.
pub fn last_entries(conn: &mut Conn) -> Result<Vec<(MemberId, NaiveDate)>, DbError> {
    let last: Vec<(MemberId, Option<NaiveDate>)> = diary_entries::table
        .inner_join(plants::table)
        .filter(plants::visibility.ne(Visibility::Private))
        .group_by(plants::owner_id)
        .select((plants::owner_id, diesel::dsl::max(diary_entries::day)))
        .load(conn)?;
    Ok(last.into_iter().filter_map(|(grower, day)| Some((grower, day?))).collect())
}

/// Every station's days from `from` on, station by station, oldest first: (station, day, min C, max C).
pub fn temperatures(
    conn: &mut Conn,
    from: NaiveDate,
) -> Result<Vec<(StationId, NaiveDate, f64, f64)>, DbError> {
    let all = readings::table
        .filter(readings::day.ge(from))
        .order((readings::station_id, readings::day))
        .select((readings::station_id, readings::day, readings::min_c, readings::max_c));
    Ok(all.load(conn)?)
}

/// The last day any station of the region was read.
pub fn last_reading(conn: &mut Conn, region: RegionId) -> Result<Option<NaiveDate>, DbError> {
    let days = readings::table.inner_join(stations::table).filter(stations::region_id.eq(region));
    Ok(days.select(diesel::dsl::max(readings::day)).first(conn)?)
}

/// A station's day: rain (mm) and mean relative humidity (%).
pub type StationMoisture = (StationId, NaiveDate, Option<f64>, Option<f64>);

/// A region's rain and humidity from `from` to `to`, station by station, oldest first.
pub fn moisture_of(
    conn: &mut Conn,
    region: RegionId,
    from: NaiveDate,
    to: NaiveDate,
) -> Result<Vec<StationMoisture>, DbError> {
    let all = readings::table
        .inner_join(stations::table)
        .filter(stations::region_id.eq(region))
        .filter(readings::day.between(from, to))
        .order((readings::station_id, readings::day))
        .select((readings::station_id, readings::day, readings::rain_mm, readings::humidity_pct));
    Ok(all.load(conn)?)
}

/// The days of `kinds` in the diaries of a region's shared plants, with their growers, plant by plant, oldest
/// first.
pub fn shared_events_in(
    conn: &mut Conn,
    region: RegionId,
    kinds: &[DiaryKind],
) -> Result<Vec<(PlantId, MemberId, NaiveDate, DiaryKind)>, DbError> {
    let events = diary_entries::table
        .inner_join(plants::table)
        .filter(plants::region_id.eq(region))
        .filter(plants::visibility.ne(Visibility::Private))
        .filter(diary_entries::kind.eq_any(kinds.to_vec()))
        .order((diary_entries::plant_id, diary_entries::day, diary_entries::id))
        .select((diary_entries::plant_id, plants::owner_id, diary_entries::day, diary_entries::kind));
    Ok(events.load(conn)?)
}
