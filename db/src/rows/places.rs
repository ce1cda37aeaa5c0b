//! Clubs, regions, weather stations and their daily readings.

use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use diesel::sql_types::{Array, Date, Double, Nullable, Text};
use storksbill_domain::ids::{ClubId, RegionId, StationId};

use super::After;
use crate::schema::{clubs, readings, regions, stations};
use crate::{Conn, DbError};

/// A club of the society.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = clubs, treat_none_as_null = true)]
pub struct Club {
    /// Identity.
    pub id: ClubId,
    /// As typed.
    pub name: String,
    /// As searched and sorted.
    pub name_key: String,
    /// Where it meets.
    pub region_id: RegionId,
    /// Hall and hour, in words.
    pub meeting_place: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// Adds a club.
pub fn insert_club(conn: &mut Conn, club: &Club) -> Result<(), DbError> {
    diesel::insert_into(clubs::table).values(club.clone()).execute(conn)?;
    Ok(())
}

/// Stores a club that was changed.
pub fn update_club(conn: &mut Conn, club: &Club) -> Result<(), DbError> {
    diesel::update(clubs::table.find(club.id)).set(club.clone()).execute(conn)?;
    Ok(())
}

/// The club of this id.
pub fn club(conn: &mut Conn, id: ClubId) -> Result<Option<Club>, DbError> {
    Ok(clubs::table.find(id).select(Club::as_select()).first(conn).optional()?)
}

/// Clubs by name.
pub fn clubs_page(conn: &mut Conn, after: &After, limit: i64) -> Result<Vec<Club>, DbError> {
    let mut query =
        clubs::table.order((clubs::name_key, clubs::id)).limit(limit).select(Club::as_select()).into_boxed();
    if let Some((key, id)) = after {
        query = query.filter(
            clubs::name_key.gt(key.clone()).or(clubs::name_key.eq(key.clone()).and(clubs::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// A region: one climate, one forecast.
#[derive(Debug, Clone, PartialEq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = regions, treat_none_as_null = true)]
pub struct Region {
    /// Identity.
    pub id: RegionId,
    /// As typed.
    pub name: String,
    /// As searched and sorted.
    pub name_key: String,
    /// Degrees north.
    pub latitude: f64,
    /// Degrees east.
    pub longitude: f64,
    /// Metres above the sea.
    pub elevation_m: f64,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
    /// The zone of plant health it lies in; plants do not go across zones in the exchange.
    pub plant_health_zone: String,
}

/// Adds a region.
pub fn insert_region(conn: &mut Conn, region: &Region) -> Result<(), DbError> {
    diesel::insert_into(regions::table).values(region.clone()).execute(conn)?;
    Ok(())
}

/// Stores a region that was changed.
pub fn update_region(conn: &mut Conn, region: &Region) -> Result<(), DbError> {
    diesel::update(regions::table.find(region.id)).set(region.clone()).execute(conn)?;
    Ok(())
}

/// The region of this id.
pub fn region(conn: &mut Conn, id: RegionId) -> Result<Option<Region>, DbError> {
    Ok(regions::table.find(id).select(Region::as_select()).first(conn).optional()?)
}

/// Regions by name.
pub fn regions_page(conn: &mut Conn, after: &After, limit: i64) -> Result<Vec<Region>, DbError> {
    let mut query = regions::table
        .order((regions::name_key, regions::id))
        .limit(limit)
        .select(Region::as_select())
        .into_boxed();
    if let Some((key, id)) = after {
        query = query.filter(
            regions::name_key
                .gt(key.clone())
                .or(regions::name_key.eq(key.clone()).and(regions::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// A weather station.
#[derive(Debug, Clone, PartialEq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = stations, treat_none_as_null = true)]
pub struct Station {
    /// Identity.
    pub id: StationId,
    /// For which region it stands.
    pub region_id: RegionId,
    /// As typed.
    pub name: String,
    /// As searched and sorted.
    pub name_key: String,
    /// Degrees north.
    pub latitude: f64,
    /// Degrees east.
    pub longitude: f64,
    /// Metres above the sea.
    pub elevation_m: f64,
    /// Where the readings come from, in words.
    pub source: String,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// Adds a station.
pub fn insert_station(conn: &mut Conn, station: &Station) -> Result<(), DbError> {
    diesel::insert_into(stations::table).values(station.clone()).execute(conn)?;
    Ok(())
}

/// Stores a station that was changed.
pub fn update_station(conn: &mut Conn, station: &Station) -> Result<(), DbError> {
    diesel::update(stations::table.find(station.id)).set(station.clone()).execute(conn)?;
    Ok(())
}

/// The station of this id.
pub fn station(conn: &mut Conn, id: StationId) -> Result<Option<Station>, DbError> {
    Ok(stations::table.find(id).select(Station::as_select()).first(conn).optional()?)
}

/// A region's stations, by name.
pub fn stations_of(conn: &mut Conn, region: RegionId) -> Result<Vec<Station>, DbError> {
    let all =
        stations::table.filter(stations::region_id.eq(region)).order((stations::name_key, stations::id));
    Ok(all.select(Station::as_select()).load(conn)?)
}

/// A page of a region's stations, by name.
pub fn stations_page(
    conn: &mut Conn,
    region: RegionId,
    after: &After,
    limit: i64,
) -> Result<Vec<Station>, DbError> {
    let mut query = stations::table
        .filter(stations::region_id.eq(region))
        .order((stations::name_key, stations::id))
        .limit(limit)
        .select(Station::as_select())
        .into_boxed();
    if let Some((key, id)) = after {
        query = query.filter(
            stations::name_key
                .gt(key.clone())
                .or(stations::name_key.eq(key.clone()).and(stations::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// One station's day.
#[derive(Debug, Clone, PartialEq, Queryable, Selectable, Insertable)]
#[diesel(table_name = readings)]
pub struct Reading {
    /// Whose.
    pub station_id: StationId,
    /// Which day.
    pub day: NaiveDate,
    /// Lowest, degrees C.
    pub min_c: f64,
    /// Highest, degrees C.
    pub max_c: f64,
    /// Millimetres.
    pub rain_mm: Option<f64>,
    /// Mean relative humidity, per cent.
    pub humidity_pct: Option<f64>,
}

/// Writes a station's days, replacing those that are there. Millions are fine; the cost is one indexed write
/// a row.
pub fn upsert_readings(conn: &mut Conn, station: StationId, rows: &[Reading]) -> Result<(), DbError> {
    // An upsert has no joint form. SQLite has no network between, so a prepared statement row by row is its
    // fastest way; PostgreSQL takes a batch as arrays in one round trip.
    match conn {
        Conn::Sqlite(sqlite) => {
            for row in rows {
                diesel::replace_into(readings::table).values(row).execute(sqlite)?;
            }
        }
        Conn::Postgres(pg) => {
            for part in rows.chunks(5000) {
                diesel::sql_query(
                    "insert into readings (station_id, day, min_c, max_c, rain_mm, humidity_pct) \
                     select $1, * from unnest($2, $3, $4, $5, $6) \
                     on conflict (station_id, day) do update set min_c = excluded.min_c, \
                     max_c = excluded.max_c, rain_mm = excluded.rain_mm, humidity_pct = excluded.humidity_pct",
                )
                .bind::<Text, _>(station)
                .bind::<Array<Date>, _>(part.iter().map(|r| r.day).collect::<Vec<_>>())
                .bind::<Array<Double>, _>(part.iter().map(|r| r.min_c).collect::<Vec<_>>())
                .bind::<Array<Double>, _>(part.iter().map(|r| r.max_c).collect::<Vec<_>>())
                .bind::<Array<Nullable<Double>>, _>(part.iter().map(|r| r.rain_mm).collect::<Vec<_>>())
                .bind::<Array<Nullable<Double>>, _>(part.iter().map(|r| r.humidity_pct).collect::<Vec<_>>())
                .execute(pg)?;
            }
        }
    }
    Ok(())
}

/// The newest day of a station that was read.
pub fn last_day_of(conn: &mut Conn, station: StationId) -> Result<Option<NaiveDate>, DbError> {
    let days = readings::table.filter(readings::station_id.eq(station));
    Ok(days.select(diesel::dsl::max(readings::day)).first(conn)?)
}

/// A station's days from `from` to `to`, oldest first.
pub fn readings_between(
    conn: &mut Conn,
    station: StationId,
    from: NaiveDate,
    to: NaiveDate,
    limit: i64,
) -> Result<Vec<Reading>, DbError> {
    let days = readings::table
        .filter(readings::station_id.eq(station))
        .filter(readings::day.between(from, to))
        .order(readings::day)
        .limit(limit);
    Ok(days.select(Reading::as_select()).load(conn)?)
}
