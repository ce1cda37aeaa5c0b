//! See, enter and change weather stations.

use actix_web::{get, patch, post, web};
use storksbill_db::DbError;
use storksbill_db::rows::places::{self, Station};
use storksbill_domain::ids::{RegionId, StationId};
use storksbill_domain::names;

use super::dto::{StationIn, StationOut, StationPatch};
use crate::app::App;
use crate::http::auth::{Administrator, Auth};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List a region's weather stations
///
/// By name.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Stations by name", body = List<StationOut>))
)]
#[get("/regions/{region_id}/stations")]
pub async fn list(
    _auth: Auth,
    app: web::Data<App>,
    path: web::Path<RegionId>,
    page: Page,
) -> Result<List<StationOut>, Problem> {
    let region = path.into_inner();
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let stations = app
        .db
        .read(move |conn| {
            places::region(conn, region)?.ok_or_else(|| Problem::not_found("region"))?;
            Ok::<_, Problem>(places::stations_page(conn, region, &after, limit)?)
        })
        .await?;
    Ok(page.list(stations, |s| Place(s.name_key.clone(), s.id.to_string()), StationOut::of))
}

/// See a weather station
///
/// Where it stands and where its readings come from.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    responses((status = 200, description = "The station", body = StationOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/stations/{station_id}")]
pub async fn one(_auth: Auth, app: web::Data<App>, path: web::Path<StationId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let station = app.db.glance(move |conn| Ok::<_, Problem>(places::station(conn, id)?)).await?;
    let station = station.ok_or_else(|| Problem::not_found("station"))?;
    let version = station.version;
    Reply::versioned(version, &StationOut::of(station))
}

/// Enter a weather station
///
/// Administrators only. Its readings serve the forecasts of its region.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    request_body = StationIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = StationOut))
)]
#[post("/regions/{region_id}/stations")]
pub async fn create(
    administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<RegionId>,
    body: Valid<StationIn>,
) -> Result<Reply, Problem> {
    let region_id = path.into_inner();
    let StationIn { name, latitude, longitude, elevation_m, source } = body.value;
    let ticket = body.ticket;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, administrator.member, now, |conn| {
                places::region(conn, region_id)?.ok_or_else(|| Problem::not_found("region"))?;
                let station = Station {
                    id: StationId::fresh(),
                    region_id,
                    name: names::tidy(&name),
                    name_key: names::search_key(&name),
                    latitude,
                    longitude,
                    elevation_m,
                    source: source.trim().to_owned(),
                    version: 1,
                    created_at: now.naive_utc(),
                };
                places::insert_station(conn, &station).map_err(taken)?;
                Reply::created(format!("/api/v1/stations/{}", station.id), 1, &StationOut::of(station))
            })
        })
        .await
}

/// Change a weather station
///
/// Administrators only. What you do not mention stays. Its readings stay as they are.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    request_body = StationPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = StationOut))
)]
#[patch("/stations/{station_id}")]
pub async fn change(
    _administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<StationId>,
    if_match: IfMatch,
    body: Valid<StationPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            let mut station = places::station(conn, id)?.ok_or_else(|| Problem::not_found("station"))?;
            if_match.check(station.version)?;
            if let Some(name) = patch.name.value() {
                station.name = names::tidy(name);
                station.name_key = names::search_key(name);
            }
            station.latitude = patch.latitude.value().copied().unwrap_or(station.latitude);
            station.longitude = patch.longitude.value().copied().unwrap_or(station.longitude);
            station.elevation_m = patch.elevation_m.value().copied().unwrap_or(station.elevation_m);
            if let Some(source) = patch.source.value() {
                source.trim().clone_into(&mut station.source);
            }
            station.version += 1;
            places::update_station(conn, &station).map_err(taken)?;
            let version = station.version;
            Reply::versioned(version, &StationOut::of(station))
        })
        .await
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "Another station has this name.").at(
        "/name",
        "taken",
        "is another station's name",
    );
    Problem::from(error).on_constraint("stations_name_key_key", taken)
}
