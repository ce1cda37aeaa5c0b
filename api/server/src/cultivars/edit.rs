//! Enter, change and remove cultivars.

use actix_web::{delete, patch, post, web};
use chrono::NaiveDateTime;
use storksbill_db::rows::cultivars::{self, Cultivar, Uses};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_domain::words::CultivarStatus;
use storksbill_domain::{names, policy};

use super::dto::{CultivarIn, CultivarOut, CultivarPatch, check_origin};
use crate::app::App;
use crate::http::auth::{Auth, Registrar};
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::pedigrees::lines::{Lines, edited};

/// Enter a cultivar
///
/// Any member enters seedlings and cultivars on trial; only the registrar enters named ones. Parents and
/// sources have to be entered first.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    request_body = CultivarIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = CultivarOut))
)]
#[post("/cultivars")]
pub async fn create(auth: Auth, app: web::Data<App>, body: Valid<CultivarIn>) -> Result<Reply, Problem> {
    let given = body.value;
    let ticket = body.ticket;
    let now = app.clock.now();
    if given.status == CultivarStatus::Named && !auth.is_registrar() {
        return Err(naming_refused());
    }
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let cultivar = entered(&given, auth.member, now.naive_utc());
                sound_origin(conn, &cultivar)?;
                cultivars::insert(conn, &cultivar).map_err(taken)?;
                Reply::created(format!("/api/v1/cultivars/{}", cultivar.id), 1, &CultivarOut::of(cultivar))
            })
        })
        .await
}

fn entered(given: &CultivarIn, by: MemberId, now: NaiveDateTime) -> Cultivar {
    Cultivar {
        id: CultivarId::fresh(),
        name: names::tidy(&given.name),
        name_key: names::search_key(&given.name),
        plant_group: given.plant_group,
        raiser: given.raiser.clone(),
        raised_year: given.raised_year,
        status: given.status,
        protected: given.protected,
        seed_parent_id: given.seed_parent_id,
        pollen_parent_id: given.pollen_parent_id,
        sport_of_id: given.sport_of_id,
        notes: given.notes.clone(),
        entered_by: Some(by),
        version: 1,
        created_at: now,
    }
}

/// Change a cultivar
///
/// The member who entered it until it is named; the registrar always, and alone makes it named. What you do
/// not mention stays; null clears. Parents that would make a cultivar its own ancestor are refused, with the
/// loop.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    request_body = CultivarPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = CultivarOut))
)]
#[patch("/cultivars/{cultivar_id}")]
pub async fn change(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    if_match: IfMatch,
    body: Valid<CultivarPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            let mut cultivar = cultivars::find(conn, id)?.ok_or_else(|| Problem::not_found("cultivar"))?;
            let named = cultivar.status == CultivarStatus::Named;
            if !policy::may_edit_cultivar(&auth, cultivar.entered_by, named) {
                return Err(Problem::new(
                    Code::NotAllowed,
                    "The registrar changes named cultivars; others, the member who entered them.",
                ));
            }
            if patch.status.value() == Some(&CultivarStatus::Named) && !auth.is_registrar() {
                return Err(naming_refused());
            }
            if_match.check(cultivar.version)?;
            apply(&patch, &mut cultivar);
            if patch.touches_origin() {
                sound_origin(conn, &cultivar)?;
            }
            cultivar.version += 1;
            cultivars::update(conn, &cultivar).map_err(taken)?;
            let version = cultivar.version;
            Reply::versioned(version, &CultivarOut::of(cultivar))
        })
        .await
}

fn apply(patch: &CultivarPatch, cultivar: &mut Cultivar) {
    if let Some(name) = patch.name.value() {
        cultivar.name = names::tidy(name);
        cultivar.name_key = names::search_key(name);
    }
    cultivar.plant_group = patch.plant_group.value().copied().unwrap_or(cultivar.plant_group);
    cultivar.status = patch.status.value().copied().unwrap_or(cultivar.status);
    cultivar.protected = patch.protected.value().copied().unwrap_or(cultivar.protected);
    patch.raiser.clone().apply(&mut cultivar.raiser);
    patch.raised_year.clone().apply(&mut cultivar.raised_year);
    patch.seed_parent_id.clone().apply(&mut cultivar.seed_parent_id);
    patch.pollen_parent_id.clone().apply(&mut cultivar.pollen_parent_id);
    patch.sport_of_id.clone().apply(&mut cultivar.sport_of_id);
    patch.notes.clone().apply(&mut cultivar.notes);
}

/// Remove a cultivar
///
/// The registrar, and only where nothing depends on it: no cultivar raised or sported from it, no plant, no
/// record of the swap, no permission, no place on the conservation list, no cross.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 204, description = "Removed"))
)]
#[delete("/cultivars/{cultivar_id}")]
pub async fn remove(
    _registrar: Registrar,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            let cultivar = cultivars::find(conn, id)?.ok_or_else(|| Problem::not_found("cultivar"))?;
            if_match.check(cultivar.version)?;
            let Uses { offspring, plants, swaps, care, crosses } = cultivars::uses(conn, id)?;
            if offspring + plants + swaps + care + crosses > 0 {
                return Err(Problem::new(
                    Code::InUse,
                    format!(
                        "It is named by {offspring} cultivars as their origin, by {plants} plants, by {swaps} records of the swap, by {care} of its protection or conservation and by {crosses} of the cross books."
                    ),
                ));
            }
            cultivars::delete(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}

/// Refuses parents that are not there, a sport with parents, and a cultivar that would be its own ancestor.
fn sound_origin(conn: &mut Conn, cultivar: &Cultivar) -> Result<(), Problem> {
    let parents = [cultivar.seed_parent_id, cultivar.pollen_parent_id];
    let mut found = Findings::default();
    check_origin(&mut found, parents, cultivar.sport_of_id);
    found.into_result()?;
    let mut origins = parents.into_iter().chain([cultivar.sport_of_id]).flatten();
    let Some(one) = origins.next() else { return Ok(()) };
    let ancestors = cultivars::with_ancestors(conn, one, origins.next().unwrap_or(one))?;
    let mut found = Findings::default();
    for (pointer, origin) in [
        ("/seed_parent_id", cultivar.seed_parent_id),
        ("/pollen_parent_id", cultivar.pollen_parent_id),
        ("/sport_of_id", cultivar.sport_of_id),
    ] {
        if origin.is_some_and(|origin| ancestors.iter().all(|line| line.id != origin)) {
            found.add(pointer, "not-found", "is not a cultivar of this society; enter it first");
        }
    }
    found.into_result()?;
    if ancestors.iter().any(|line| line.id == cultivar.id) {
        Lines::of(edited(ancestors, cultivar))?;
    }
    Ok(())
}

fn naming_refused() -> Problem {
    Problem::new(Code::NotAllowed, "Only the registrar or an administrator names a cultivar.").at(
        "/status",
        "not-allowed",
        "may be seedling or on_trial",
    )
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "Another cultivar of this group has this name.").at(
        "/name",
        "taken",
        "is the name of another cultivar of the group",
    );
    Problem::from(error).on_constraint("cultivars_name_key_plant_group_key", taken)
}
