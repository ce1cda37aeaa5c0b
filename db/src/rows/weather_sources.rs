//! Where stations' readings are fetched from.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::StationId;
use storksbill_domain::words::WeatherFormat;

use crate::schema::weather_sources;
use crate::{Conn, DbError};

/// Where one station's readings are fetched from, and how that went last.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = weather_sources, treat_none_as_null = true, primary_key(station_id))]
pub struct WeatherSource {
    /// Whose.
    pub station_id: StationId,
    /// Address, with `{from}`, `{to}` and `{year}` in place of days.
    pub url_template: String,
    /// How the file there is written.
    pub format: WeatherFormat,
    /// How often, hours.
    pub every_hours: i32,
    /// Whether it is fetched by the timetable.
    pub enabled: bool,
    /// The entity tag that came with what was last taken in.
    pub etag: Option<String>,
    /// The date that came with what was last taken in, as sent.
    pub last_modified: Option<String>,
    /// When it was last tried.
    pub last_tried_at: Option<NaiveDateTime>,
    /// When it last went well.
    pub last_ok_at: Option<NaiveDateTime>,
    /// What went wrong at the last try, in one line.
    pub last_problem: Option<String>,
    /// Counts up at each edit and each try.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// Adds a source.
pub fn insert(conn: &mut Conn, source: &WeatherSource) -> Result<(), DbError> {
    diesel::insert_into(weather_sources::table).values(source.clone()).execute(conn)?;
    Ok(())
}

/// Stores a source that was changed.
pub fn update(conn: &mut Conn, source: &WeatherSource) -> Result<(), DbError> {
    diesel::update(weather_sources::table.find(source.station_id)).set(source.clone()).execute(conn)?;
    Ok(())
}

/// Takes a station's source away.
pub fn delete(conn: &mut Conn, station: StationId) -> Result<usize, DbError> {
    Ok(diesel::delete(weather_sources::table.find(station)).execute(conn)?)
}

/// A station's source.
pub fn find(conn: &mut Conn, station: StationId) -> Result<Option<WeatherSource>, DbError> {
    Ok(weather_sources::table.find(station).select(WeatherSource::as_select()).first(conn).optional()?)
}

/// The sources that the timetable fetches.
pub fn enabled(conn: &mut Conn) -> Result<Vec<WeatherSource>, DbError> {
    Ok(weather_sources::table
        .filter(weather_sources::enabled.eq(true))
        .order(weather_sources::station_id)
        .select(WeatherSource::as_select())
        .load(conn)?)
}
