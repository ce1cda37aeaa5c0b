//! Enter and change regions.

use actix_web::{patch, post, web};
use storksbill_db::DbError;
use storksbill_db::rows::places::{self, Region};
use storksbill_domain::ids::RegionId;
use storksbill_domain::names;

use super::dto::{RegionIn, RegionOut, RegionPatch};
use crate::app::App;
use crate::http::auth::Administrator;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Enter a region
///
/// Administrators only. A region is one climate: members who would expect the same spring.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    request_body = RegionIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = RegionOut))
)]
#[post("/regions")]
pub async fn create(
    administrator: Administrator,
    app: web::Data<App>,
    body: Valid<RegionIn>,
) -> Result<Reply, Problem> {
    let RegionIn { name, latitude, longitude, elevation_m, plant_health_zone } = body.value;
    let ticket = body.ticket;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, administrator.member, now, |conn| {
                let region = Region {
                    id: RegionId::fresh(),
                    name: names::tidy(&name),
                    name_key: names::search_key(&name),
                    latitude,
                    longitude,
                    elevation_m,
                    version: 1,
                    created_at: now.naive_utc(),
                    plant_health_zone: names::tidy(&plant_health_zone),
                };
                places::insert_region(conn, &region).map_err(taken)?;
                Reply::created(format!("/api/v1/regions/{}", region.id), 1, &RegionOut::of(region))
            })
        })
        .await
}

/// Change a region
///
/// Administrators only. What you do not mention stays.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    request_body = RegionPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = RegionOut))
)]
#[patch("/regions/{region_id}")]
pub async fn change(
    _administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<RegionId>,
    if_match: IfMatch,
    body: Valid<RegionPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            let mut region = places::region(conn, id)?.ok_or_else(|| Problem::not_found("region"))?;
            if_match.check(region.version)?;
            if let Some(name) = patch.name.value() {
                region.name = names::tidy(name);
                region.name_key = names::search_key(name);
            }
            region.latitude = patch.latitude.value().copied().unwrap_or(region.latitude);
            region.longitude = patch.longitude.value().copied().unwrap_or(region.longitude);
            region.elevation_m = patch.elevation_m.value().copied().unwrap_or(region.elevation_m);
            if let Some(zone) = patch.plant_health_zone.value() {
                region.plant_health_zone = names::tidy(zone);
            }
            region.version += 1;
            places::update_region(conn, &region).map_err(taken)?;
            let version = region.version;
            Reply::versioned(version, &RegionOut::of(region))
        })
        .await
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "Another region has this name.").at(
        "/name",
        "taken",
        "is another region's name",
    );
    Problem::from(error).on_constraint("regions_name_key_key", taken)
}
