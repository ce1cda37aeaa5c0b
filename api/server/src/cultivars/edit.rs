//! Enter, change and remove cultivars.

use actix_web::{delete, patch, post, web};
use storksbill_db::rows::cultivars::{self, Candidate, Cultivar, Uses};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::CultivarId;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{CultivarStatus, GameteForm, Visibility};
use storksbill_domain::{names, policy};

use super::dto::{CultivarIn, CultivarOut, CultivarPatch, GameteIn, candidate_rows};
use super::look::told_one;
use super::{history, origin};
use crate::app::App;
use crate::http::auth::{Auth, Registrar};
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::patch::Patch;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::pedigrees::individuals::loop_told;

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
                let (mut cultivar, candidates) = given.record();
                cultivar.entered_by = Some(auth.member);
                cultivar.created_at = now.naive_utc();
                origin::sound(conn, &auth, &[], &cultivar, &candidates)?;
                cultivars::insert(conn, &cultivar).map_err(taken)?;
                cultivars::set_candidates(conn, cultivar.id, &candidates)?;
                Reply::created(
                    format!("/api/v1/cultivars/{}", cultivar.id),
                    1,
                    &told_one(conn, &auth, cultivar)?,
                )
            })
        })
        .await
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
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let mut cultivar = visible(conn, &auth, id)?;
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
            let mut candidates = cultivars::candidates_of(conn, &[id])?;
            history::keep(conn, &cultivar, auth.member, now, None)?;
            let (shown_before, named_before) = (cultivar.visibility, origin::named(&cultivar, &candidates));
            apply(&patch, &mut cultivar);
            match &patch.pollen_candidates {
                Patch::Absent => {}
                Patch::Null => candidates.clear(),
                Patch::Value(given) => candidates = candidate_rows(id, given),
            }
            if patch.origin == Patch::Absent {
                cultivar.origin = origin::settled(&cultivar, candidates.len());
            }
            let mut found = Findings::default();
            origin::check(&cultivar, &candidates, &mut found);
            origin::check_shown(&cultivar, &mut found);
            if reach(cultivar.visibility) < reach(shown_before) {
                found.add("/visibility", "released", "cannot be narrowed: others have seen it");
            }
            found.into_result()?;
            origin::sound(conn, &auth, &named_before, &cultivar, &candidates)?;
            cultivar.version += 1;
            store(conn, &cultivar, patch.touches_origin().then_some(&candidates))
                .map_err(|error| loop_told(conn, &auth, error))
                .map_err(taken)?;
            let version = cultivar.version;
            Reply::versioned(version, &told_one(conn, &auth, cultivar)?)
        })
        .await
}

fn store(conn: &mut Conn, cultivar: &Cultivar, candidates: Option<&Vec<Candidate>>) -> Result<(), DbError> {
    cultivars::update(conn, cultivar)?;
    match candidates {
        Some(candidates) => cultivars::set_candidates(conn, cultivar.id, candidates),
        None => Ok(()),
    }
}

pub(super) fn apply(patch: &CultivarPatch, cultivar: &mut Cultivar) {
    if let Some(name) = patch.name.value() {
        cultivar.name = names::tidy(name);
        cultivar.name_key = names::search_key(name);
    }
    cultivar.plant_group = patch.plant_group.value().copied().unwrap_or(cultivar.plant_group);
    cultivar.status = patch.status.value().copied().unwrap_or(cultivar.status);
    cultivar.protected = patch.protected.value().copied().unwrap_or(cultivar.protected);
    patch.raiser.clone().apply(&mut cultivar.raiser);
    patch.raised_year.clone().map(i32::from).apply(&mut cultivar.raised_year);
    patch.seed_parent_id.clone().apply(&mut cultivar.seed_parent_id);
    patch.pollen_parent_id.clone().apply(&mut cultivar.pollen_parent_id);
    patch.source_id.clone().apply(&mut cultivar.source_id);
    cultivar.origin = patch.origin.value().copied().unwrap_or(cultivar.origin);
    if let Some(given) = gamete_of(&patch.seed_gamete) {
        (cultivar.seed_gamete, cultivar.seed_gamete_sets, cultivar.seed_gamete_lambda) = given;
    }
    if let Some(given) = gamete_of(&patch.pollen_gamete) {
        (cultivar.pollen_gamete, cultivar.pollen_gamete_sets, cultivar.pollen_gamete_lambda) = given;
    }
    patch.sport_layers.clone().apply(&mut cultivar.sport_layers);
    patch.reverts_to_id.clone().apply(&mut cultivar.reverts_to_id);
    patch.sets.clone().apply(&mut cultivar.sets);
    patch.chromosomes.clone().apply(&mut cultivar.chromosomes);
    cultivar.chromosomes_about =
        patch.chromosomes_about.value().copied().unwrap_or(cultivar.chromosomes_about);
    cultivar.visibility = patch.visibility.value().copied().unwrap_or(cultivar.visibility);
    patch.notes.clone().apply(&mut cultivar.notes);
}

type Gave = (Option<GameteForm>, Option<i32>, Option<f64>);

/// What an edit says that a parent gave; `None` where it says nothing.
fn gamete_of(patch: &Patch<GameteIn>) -> Option<Gave> {
    match patch {
        Patch::Absent => None,
        Patch::Null => Some((None, None, None)),
        Patch::Value(gamete) => Some((Some(gamete.form), gamete.sets, gamete.lambda)),
    }
}

/// How many may see it.
pub(super) fn reach(visibility: Visibility) -> u8 {
    match visibility {
        Visibility::Private => 0,
        Visibility::Club => 1,
        Visibility::Society => 2,
    }
}

fn visible(conn: &mut Conn, actor: &Actor, id: CultivarId) -> Result<Cultivar, Problem> {
    let seen = cultivars::find_visible_to(conn, actor, id)?.ok_or_else(|| Problem::not_found("cultivar"))?;
    match seen.merged_into_id {
        None => Ok(seen),
        Some(into) => {
            Err(Problem::new(Code::InUse, format!("It was merged into cultivar {into}; change that one.")))
        }
    }
}

/// Remove a cultivar
///
/// The registrar, and only where nothing depends on it: no cultivar raised or sported from it, no plant, no
/// record of the swap, no permission, no place on the conservation list, no cross, no name before the registrar.
/// A record of the same plant is merged rather than removed.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 204, description = "Removed"))
)]
#[delete("/cultivars/{cultivar_id}")]
pub async fn remove(
    registrar: Registrar,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            let cultivar = visible(conn, &registrar, id)?;
            if_match.check(cultivar.version)?;
            let Uses { offspring, plants, swaps, care, crosses, register } = cultivars::uses(conn, id)?;
            if offspring + plants + swaps + care + crosses + register > 0 {
                return Err(Problem::new(
                    Code::InUse,
                    format!(
                        "It is named by {offspring} cultivars as their origin, by {plants} plants, by {swaps} records of the swap, by {care} of its protection or conservation, by {crosses} of the cross books and by {register} of the register."
                    ),
                ));
            }
            cultivars::delete(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}

fn naming_refused() -> Problem {
    Problem::new(Code::NotAllowed, "Only the registrar or an administrator names a cultivar.").at(
        "/status",
        "not-allowed",
        "may be seedling or on_trial",
    )
}

pub(super) fn taken(error: impl Into<Problem>) -> Problem {
    let taken = || {
        Problem::new(Code::Taken, "Another cultivar of this group has this name.").at(
            "/name",
            "taken",
            "is the name of another cultivar of the group",
        )
    };
    error
        .into()
        .on_constraint("cultivars_name_key_plant_group_key", taken())
        .on_constraint("cultivars_own_name_key_plant_group_key", taken())
}
