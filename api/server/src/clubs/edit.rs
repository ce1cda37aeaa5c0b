//! Enter and change clubs.

use actix_web::{patch, post, web};
use storksbill_db::rows::places::{self, Club};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{ClubId, RegionId};
use storksbill_domain::names;

use super::dto::{ClubIn, ClubOut, ClubPatch};
use crate::app::App;
use crate::http::auth::{Administrator, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Enter a club
///
/// Administrators only.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    request_body = ClubIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = ClubOut))
)]
#[post("/clubs")]
pub async fn create(
    administrator: Administrator,
    app: web::Data<App>,
    body: Valid<ClubIn>,
) -> Result<Reply, Problem> {
    let ClubIn { name, region_id, meeting_place } = body.value;
    let ticket = body.ticket;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, administrator.member, now, |conn| {
                known_region(conn, region_id)?;
                let club = Club {
                    id: ClubId::fresh(),
                    name: names::tidy(&name),
                    name_key: names::search_key(&name),
                    region_id,
                    meeting_place: meeting_place.clone(),
                    version: 1,
                    created_at: now.naive_utc(),
                };
                places::insert_club(conn, &club).map_err(taken)?;
                Reply::created(format!("/api/v1/clubs/{}", club.id), 1, &ClubOut::of(club))
            })
        })
        .await
}

/// Change a club
///
/// Its secretary or an administrator. What you do not mention stays; null clears.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    request_body = ClubPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = ClubOut))
)]
#[patch("/clubs/{club_id}")]
pub async fn change(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ClubId>,
    if_match: IfMatch,
    body: Valid<ClubPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            let mut club = places::club(conn, id)?.ok_or_else(|| Problem::not_found("club"))?;
            if !officer.acts_for(id) {
                return Err(Problem::new(
                    Code::NotAllowed,
                    "Only this club's secretary or an administrator may do this.",
                ));
            }
            if_match.check(club.version)?;
            if let Some(name) = patch.name.value() {
                club.name = names::tidy(name);
                club.name_key = names::search_key(name);
            }
            if let Some(region) = patch.region_id.value() {
                known_region(conn, *region)?;
                club.region_id = *region;
            }
            patch.meeting_place.clone().apply(&mut club.meeting_place);
            club.version += 1;
            places::update_club(conn, &club).map_err(taken)?;
            let version = club.version;
            Reply::versioned(version, &ClubOut::of(club))
        })
        .await
}

fn known_region(conn: &mut Conn, region: RegionId) -> Result<(), Problem> {
    match places::region(conn, region)? {
        Some(_) => Ok(()),
        None => Err(Problem::field("/region_id", "not-found", "is not a region of this society")),
    }
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "Another club has this name.").at(
        "/name",
        "taken",
        "is another club's name",
    );
    Problem::from(error).on_constraint("clubs_name_key_key", taken)
}
