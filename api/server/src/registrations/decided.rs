//! What the registrar does: ask, refuse, register.

use actix_web::{post, web};
use storksbill_db::rows::{cultivars, registrations};
use storksbill_domain::ids::RegistrationId;
use storksbill_domain::names;
use storksbill_domain::words::{CultivarStatus, RegistrationStepKind, Visibility};

use super::dto::{ReasonIn, RegistrationOut, RemarkIn};
use super::steps::{self, Taking};
use crate::app::App;
use crate::cultivars::keep as cultivars_kept;
use crate::http::auth::Registrar;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Ask about a name
///
/// The registrar; the proposer is told and answers before it goes on.
#[utoipa::path(
    tag = "register",
    security(("session" = [])),
    request_body = ReasonIn,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Asked", body = RegistrationOut))
)]
#[post("/registrations/{registration_id}/question")]
pub async fn question(
    registrar: Registrar,
    app: web::Data<App>,
    path: web::Path<RegistrationId>,
    if_match: IfMatch,
    body: Valid<ReasonIn>,
) -> Result<Reply, Problem> {
    let kind = RegistrationStepKind::Questioned;
    step(&registrar, &app, path.into_inner(), if_match, kind, body.value.reason).await
}

/// Refuse a name
///
/// The registrar; the proposer is told why, and the reason is kept.
#[utoipa::path(
    tag = "register",
    security(("session" = [])),
    request_body = ReasonIn,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Refused", body = RegistrationOut))
)]
#[post("/registrations/{registration_id}/refusal")]
pub async fn refuse(
    registrar: Registrar,
    app: web::Data<App>,
    path: web::Path<RegistrationId>,
    if_match: IfMatch,
    body: Valid<ReasonIn>,
) -> Result<Reply, Problem> {
    let kind = RegistrationStepKind::Refused;
    step(&registrar, &app, path.into_inner(), if_match, kind, body.value.reason).await
}

async fn step(
    registrar: &Registrar,
    app: &App,
    id: RegistrationId,
    if_match: IfMatch,
    kind: RegistrationStepKind,
    reason: String,
) -> Result<Reply, Problem> {
    let (actor, now) = (registrar.actor.clone(), app.clock.now());
    app.db
        .write(move |conn| {
            let (row, ..) = steps::visible(conn, &actor, id)?;
            let taking = Taking { kind, by: actor.member, reason: Some(&reason), at: now };
            let row = steps::take(conn, row, &if_match, &taking)?;
            steps::replied(conn, &row)
        })
        .await
}

/// Register a name
///
/// The registrar. The name becomes the cultivar's, which is named from then on, and gets the next number of the
/// register. It is checked once more: a name that was taken meanwhile is refused, and where there are warnings the
/// reason why it is registered all the same is to be given, and kept.
#[utoipa::path(
    tag = "register",
    security(("session" = [])),
    request_body = RemarkIn,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Registered", body = RegistrationOut))
)]
#[post("/registrations/{registration_id}/registration")]
pub async fn enter(
    registrar: Registrar,
    app: web::Data<App>,
    path: web::Path<RegistrationId>,
    if_match: IfMatch,
    body: Valid<RemarkIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let reason = body.value.reason.filter(|reason| !reason.trim().is_empty());
    let (actor, now) = (registrar.actor.clone(), app.clock.now());
    let asker = actor.clone();
    let (before, ..) = app.db.read(move |conn| steps::visible(conn, &asker, id)).await?;
    let (_, against) =
        steps::examine(&app, &actor, &before.name, before.published_on, before.cultivar_id).await?;
    app.db
        .write(move |conn| {
            let (mut row, ..) = steps::visible(conn, &actor, id)?;
            if_match.check(row.version)?;
            if steps::is_open(row.state) {
                if against.findings.iter().any(|finding| finding.rule == "UNIQUE")
                    || registrations::is_taken(conn, &row.name_key, row.cultivar_id)?
                {
                    return Err(steps::taken());
                }
                if against.warns() && reason.is_none() {
                    return Err(Problem::field(
                        "/reason",
                        "required",
                        "say why it is registered in spite of the warnings; see its findings",
                    ));
                }
            }
            row.findings = against.text()?;
            let kind = RegistrationStepKind::Registered;
            let taking = Taking { kind, by: actor.member, reason: reason.as_deref(), at: now };
            let row = steps::take(conn, row, &if_match, &taking)?;
            let mut cultivar =
                cultivars::find(conn, row.cultivar_id)?.ok_or_else(|| Problem::not_found("cultivar"))?;
            let why = format!("Registered as number {}.", row.registration_no.unwrap_or_default());
            cultivars_kept(conn, &cultivar, actor.member, now.naive_utc(), Some(&why))?;
            cultivar.name.clone_from(&row.name);
            cultivar.name_key = names::search_key(&row.name);
            cultivar.status = CultivarStatus::Named;
            cultivar.visibility = Visibility::Society;
            cultivar.version += 1;
            cultivars::update(conn, &cultivar).map_err(|error| {
                Problem::from(error).on_constraint("cultivars_name_key_plant_group_key", steps::taken())
            })?;
            steps::replied(conn, &row)
        })
        .await
}
