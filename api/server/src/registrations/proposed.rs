//! What the proposer does: propose, answer, take back.

use actix_web::{post, web};
use chrono::NaiveDate;
use storksbill_db::rows::registrations::{self, Registration};
use storksbill_db::rows::{crosses, cultivars};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{CultivarId, RegistrationId};
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{RegistrationState, RegistrationStepKind};

use super::dto::{NameAnswerIn, ProposalIn, RegistrationOut, RemarkIn};
use super::steps::{self, Taking};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Propose a name
///
/// For a cultivar that you entered, or that became of a numbered seedling of yours. What the rules for names say
/// and which names are close is worked out and kept with the proposal. A finding of the severity `error` bars it,
/// each named by its rule in `errors`; nothing else does. It is seen by you and the registrar until it is registered; then the cultivar is everybody's
/// to see, its parents as far as they are.
#[utoipa::path(
    tag = "register",
    security(("session" = [])),
    request_body = ProposalIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses(
        (status = 201, description = "Proposed", body = RegistrationOut),
        (status = 409, description = "The cultivar has a name before the registrar, or in the register", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[post("/registrations")]
pub async fn propose(auth: Auth, app: web::Data<App>, body: Valid<ProposalIn>) -> Result<Reply, Problem> {
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    let (asked, asker) = (value.clone(), auth.actor.clone());
    let cultivar = app.db.read(move |conn| cultivar_of(conn, &asker, &asked)).await?;
    let (name, against) =
        steps::examine(&app, &auth, &value.name, value.published_on.map(NaiveDate::from), cultivar).await?;
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                // Looked up once more: it may have been renamed or taken away meanwhile.
                let cultivar_id = cultivar_of(conn, &auth, &value)?;
                if registrations::is_registered(conn, cultivar_id)? {
                    return Err(Problem::new(Code::WrongState, "The cultivar has a registered name."));
                }
                against.bar()?;
                let row = Registration {
                    id: RegistrationId::fresh(),
                    cultivar_id,
                    proposed_by: auth.member,
                    name_key: names::search_key(&name),
                    name: name.clone(),
                    published_on: value.published_on.map(NaiveDate::from),
                    state: RegistrationState::Proposed,
                    findings: against.text()?,
                    registration_no: None,
                    registered_on: None,
                    version: 1,
                    created_at: now.naive_utc(),
                };
                registrations::insert(conn, &row).map_err(open_already)?;
                let reason = value.words.as_deref();
                let kind = RegistrationStepKind::Proposed;
                steps::keep_step(conn, &row, &Taking { kind, by: auth.member, reason, at: now })?;
                Reply::created(format!("/api/v1/registrations/{}", row.id), 1, &steps::told(conn, row.id)?)
            })
        })
        .await
}

fn open_already(error: DbError) -> Problem {
    let open = Problem::new(
        Code::WrongState,
        "A name of this cultivar is before the registrar; answer or withdraw it first.",
    );
    Problem::from(error).on_constraint("registrations_cultivar_id_key", open)
}

/// The cultivar of a proposal, if the asker may propose a name for it.
fn cultivar_of(conn: &mut Conn, actor: &Actor, asked: &ProposalIn) -> Result<CultivarId, Problem> {
    if let Some(id) = asked.seedling_id {
        let found = crosses::seedlings_of_ids(conn, &[id])?.pop();
        let (seedling, _) = found.filter(|(_, cross)| cross.raiser_id == actor.member).ok_or_else(|| {
            Problem::field("/seedling_id", "not-found", "is not a numbered seedling of yours")
        })?;
        return seedling.cultivar_id.ok_or_else(|| {
            Problem::field("/seedling_id", "not-entered", "is not entered as a cultivar yet; name it first")
        });
    }
    let refused = || {
        let words = "is not a cultivar that you entered or raised";
        Problem::field("/cultivar_id", "not-found", words)
    };
    let id = asked.cultivar_id.ok_or_else(refused)?;
    let cultivar = cultivars::find(conn, id)?.filter(|known| known.merged_into_id.is_none());
    let cultivar = cultivar.ok_or_else(refused)?;
    if cultivar.entered_by == Some(actor.member) || registrations::was_raised_by(conn, id, actor.member)? {
        Ok(id)
    } else {
        Err(refused())
    }
}

/// Answer the registrar
///
/// Your own proposal that was questioned; it is before the registrar again, under the same name or another. The
/// name is checked as at first.
#[utoipa::path(
    tag = "register",
    security(("session" = [])),
    request_body = NameAnswerIn,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Proposed again", body = RegistrationOut))
)]
#[post("/registrations/{registration_id}/answer")]
pub async fn answer(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<RegistrationId>,
    if_match: IfMatch,
    body: Valid<NameAnswerIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let value = body.value;
    let now = app.clock.now();
    let asker = auth.actor.clone();
    let before = app.db.read(move |conn| steps::own(conn, &asker, id)).await?;
    let name = value.name.as_deref().unwrap_or(&before.name);
    let (name, against) = steps::examine(&app, &auth, name, before.published_on, before.cultivar_id).await?;
    app.db
        .write(move |conn| {
            let mut row = steps::own(conn, &auth, id)?;
            if_match.check(row.version)?;
            if row.state == RegistrationState::Questioned {
                against.bar()?;
            }
            row.name_key = names::search_key(&name);
            row.name.clone_from(&name);
            row.findings = against.text()?;
            let (kind, reason) = (RegistrationStepKind::Answered, Some(value.words.as_str()));
            let taking = Taking { kind, by: auth.member, reason, at: now };
            let row = steps::take(conn, row, &if_match, &taking)?;
            steps::replied(conn, &row)
        })
        .await
}

/// Take a proposal back
///
/// Your own, while it is not decided.
#[utoipa::path(
    tag = "register",
    security(("session" = [])),
    request_body = RemarkIn,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Taken back", body = RegistrationOut))
)]
#[post("/registrations/{registration_id}/withdrawal")]
pub async fn withdraw(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<RegistrationId>,
    if_match: IfMatch,
    body: Valid<RemarkIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let reason = body.value.reason;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            let row = steps::own(conn, &auth, id)?;
            let (kind, reason) = (RegistrationStepKind::Withdrawn, reason.as_deref());
            let row = steps::take(conn, row, &if_match, &Taking { kind, by: auth.member, reason, at: now })?;
            steps::replied(conn, &row)
        })
        .await
}
