//! Enter, change and take away plants.

use std::collections::HashMap;

use actix_web::{delete, patch, post, web};
use storksbill_db::Conn;
use storksbill_db::rows::plants::{self, Held};
use storksbill_db::rows::{members, plants::Plant};
use storksbill_domain::ids::{CultivarId, PlantId};
use storksbill_domain::words::Visibility;

use super::dto::{PlantIn, PlantOut, PlantPatch};
use super::known::{Known, References, no_ring, no_wider};
use super::{access, rules};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::pedigrees::individuals::loop_told;

/// Enter a plant
///
/// Yours, in your region when you name none.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    request_body = PlantIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = PlantOut))
)]
#[post("/plants")]
pub async fn create(auth: Auth, app: web::Data<App>, body: Valid<PlantIn>) -> Result<Reply, Problem> {
    let Valid { value, ticket } = body;
    let (now, today) = (app.clock.now(), app.clock.today());
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let mut value = value.clone();
                let mut found = Findings::default();
                let references = References::of(&value);
                Known::load(conn, &auth, &[references])?.check(&references, &mut found);
                if let Some(day) = value.got_on {
                    rules::got_on(*day, today, None, &mut found);
                }
                if value.region_id.is_none() {
                    value.region_id = members::find(conn, auth.member)?.and_then(|member| member.region_id);
                }
                if value.region_id.is_none() {
                    found.add("/region_id", "required", rules::NO_REGION);
                }
                shown_no_wider(conn, value.cultivar_id, value.visibility, &mut found)?;
                found.into_result()?;
                let plant = value.into_plant(auth.member, now)?;
                plants::insert(conn, &plant)?;
                let held = load(conn, plant.id)?;
                Reply::created(format!("/api/v1/plants/{}", plant.id), plant.version, &PlantOut::of(held))
            })
        })
        .await
}

/// Change a plant
///
/// Your own. What you do not mention stays; null clears. A plant that a cross was made with is not changed to a
/// cultivar that descends from that cross.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    request_body = PlantPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses(
        (status = 200, description = "Changed", body = PlantOut),
        (status = 409, description = "What was raised from it would descend from itself", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[patch("/plants/{plant_id}")]
pub async fn change(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<PlantId>,
    if_match: IfMatch,
    body: Valid<PlantPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    let today = app.clock.today();
    app.db
        .write(move |conn| {
            let before = own(conn, &auth, id)?;
            if_match.check(before.version)?;
            let mut after = patch.applied_to(&before);
            let mut found = Findings::default();
            let references = References::of_patch(&patch, Some(&before));
            Known::load(conn, &auth, &[references])?.check(&references, &mut found);
            rules::heating(after.environment, after.heated_to_c, &mut found);
            if after.got_on != before.got_on
                && let Some(day) = after.got_on
            {
                rules::got_on(day, today, plants::first_diary_day(conn, id)?, &mut found);
            }
            if after.source_plant_id != before.source_plant_id {
                no_ring(conn, id, &HashMap::from([(id, after.source_plant_id)]), &mut found)?;
            }
            if after.cultivar_id != before.cultivar_id || after.visibility != before.visibility {
                shown_no_wider(conn, after.cultivar_id, after.visibility, &mut found)?;
            }
            found.into_result()?;
            after.version += 1;
            plants::update(conn, &after).map_err(|error| loop_told(conn, &auth, error))?;
            Reply::versioned(after.version, &PlantOut::of(load(conn, id)?))
        })
        .await
}

/// Take a plant away
///
/// Your own, and only while nothing depends on it: no diary record, no plant taken from it, no swap offer, no
/// cross, no health hold.
/// A plant that is gone but has a history keeps it: set `how_many` to 0 instead.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 204, description = "Taken away"))
)]
#[delete("/plants/{plant_id}")]
pub async fn remove(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<PlantId>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            let plant = own(conn, &auth, id)?;
            if_match.check(plant.version)?;
            if plants::in_use(conn, id)? {
                return Err(Problem::new(
                    Code::InUse,
                    "Its diary, plants taken from it, a swap offer or a health hold depend on it. Set how_many to 0 instead.",
                ));
            }
            plants::delete(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}

fn own(conn: &mut Conn, auth: &Auth, id: PlantId) -> Result<Plant, Problem> {
    let plant = plants::find(conn, id)?.ok_or_else(|| Problem::not_found("plant"))?;
    access::may_change(conn, auth, &plant, "plant")?;
    Ok(plant)
}

fn load(conn: &mut Conn, id: PlantId) -> Result<Held, Problem> {
    plants::held(conn, id)?.ok_or_else(|| Problem::not_found("plant"))
}

fn shown_no_wider(
    conn: &mut Conn,
    cultivar: CultivarId,
    visibility: Visibility,
    found: &mut Findings,
) -> Result<(), Problem> {
    if let Some(cultivar) = plants::cultivars_of_ids(conn, &[cultivar])?.first() {
        no_wider(visibility, cultivar, found);
    }
    Ok(())
}
