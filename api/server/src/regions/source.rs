//! Where a station's readings are fetched from.

use actix_web::{delete, get, post, put, web};
use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::places;
use storksbill_db::rows::weather_sources::{self, WeatherSource};
use storksbill_domain::ids::StationId;
use storksbill_domain::words::JobKind;

use super::address;
use super::dto::{WeatherSourceIn, WeatherSourceOut};
use crate::app::App;
use crate::http::auth::Administrator;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::jobs::{self, JobOut};

/// See where a station's readings are fetched from
///
/// Administrators only. With how it went last.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    responses((status = 200, description = "The source", body = WeatherSourceOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/stations/{station_id}/weather-source")]
pub async fn one(
    _administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<StationId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let source = app.db.glance(move |conn| source_of(conn, id)).await?;
    let version = source.version;
    Reply::versioned(version, &WeatherSourceOut::of(source))
}

/// Say where a station's readings are fetched from
///
/// Administrators only. The first time without `If-Match`; where there is a source, with the `ETag` you read.
/// Every `every_hours` the address is asked, and what it sends is taken in as an upload of readings is, but
/// that bad rows are left out. Days that a file of the last two weeks mends are mended here too; where the
/// station has no days yet, two years are asked for. A file by `{year}` is asked for year by year. The source
/// is asked for what is new alone, where it can tell (`ETag`, `Last-Modified`).
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    request_body = WeatherSourceIn,
    params(("If-Match" = Option<String>, Header, description = "The ETag you read, where there is a source")),
    responses(
        (status = 200, description = "Changed", body = WeatherSourceOut),
        (status = 201, description = "Entered", body = WeatherSourceOut)
    )
)]
#[put("/stations/{station_id}/weather-source")]
pub async fn set(
    _administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<StationId>,
    if_match: Option<IfMatch>,
    body: Valid<WeatherSourceIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let given = body.value;
    address::check(given.url.trim(), app.society.weather.private_hosts)
        .map_err(|(code, detail)| Problem::field("/url", code, detail))?;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            places::station(conn, id)?.ok_or_else(|| Problem::not_found("station"))?;
            match (weather_sources::find(conn, id)?, &if_match) {
                (None, None) => enter(conn, fresh(id, &given, now)),
                (None, Some(_)) => Err(Problem::new(
                    Code::VersionMismatch,
                    "The station has no source now; send it without If-Match to enter one.",
                )),
                (Some(_), None) => Err(Problem::new(
                    Code::PreconditionRequired,
                    "The station has a source: read it first, then send its ETag as `If-Match`.",
                )),
                (Some(source), Some(if_match)) => {
                    if_match.check(source.version)?;
                    change(conn, source, &given)
                }
            }
        })
        .await
}

fn fresh(station_id: StationId, given: &WeatherSourceIn, now: DateTime<Utc>) -> WeatherSource {
    WeatherSource {
        station_id,
        url_template: given.url.trim().to_owned(),
        format: given.format,
        every_hours: given.every_hours,
        enabled: given.enabled,
        etag: None,
        last_modified: None,
        last_tried_at: None,
        last_ok_at: None,
        last_problem: None,
        version: 1,
        created_at: now.naive_utc(),
    }
}

fn enter(conn: &mut Conn, source: WeatherSource) -> Result<Reply, Problem> {
    weather_sources::insert(conn, &source)?;
    let location = format!("/api/v1/stations/{}/weather-source", source.station_id);
    Reply::created(location, 1, &WeatherSourceOut::of(source))
}

fn change(conn: &mut Conn, mut source: WeatherSource, given: &WeatherSourceIn) -> Result<Reply, Problem> {
    let url = given.url.trim();
    if source.url_template != url || source.format != given.format {
        // What the other server said of the old file says nothing of the new.
        source.etag = None;
        source.last_modified = None;
    }
    url.clone_into(&mut source.url_template);
    source.format = given.format;
    source.every_hours = given.every_hours;
    source.enabled = given.enabled;
    source.version += 1;
    weather_sources::update(conn, &source)?;
    let version = source.version;
    Reply::versioned(version, &WeatherSourceOut::of(source))
}

/// Take a station's source away
///
/// Administrators only. Nothing is fetched any more; the readings stay.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    responses((status = 204, description = "Taken away"))
)]
#[delete("/stations/{station_id}/weather-source")]
pub async fn end(
    _administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<StationId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            source_of(conn, id)?;
            weather_sources::delete(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}

/// Fetch a station's readings now
///
/// Administrators only. Answers at once with a job; follow `Location` for what came of it. Where a fetch of
/// the station waits already, its job is given.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    responses((status = 202, description = "Will be fetched", body = JobOut, headers(("Location" = String, description = "The job"))))
)]
#[post("/stations/{station_id}/weather-source/fetch")]
pub async fn fetch(
    administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<StationId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            source_of(conn, id)?;
            let asker = Some(administrator.member);
            let job = jobs::enqueue(conn, JobKind::WeatherFetch, Some(id.as_str()), asker, now)?;
            Reply::accepted(format!("/api/v1/jobs/{}", job.id), &JobOut::of(job))
        })
        .await
}

fn source_of(conn: &mut Conn, id: StationId) -> Result<WeatherSource, Problem> {
    weather_sources::find(conn, id)?.ok_or_else(|| Problem::not_found("source of readings"))
}
