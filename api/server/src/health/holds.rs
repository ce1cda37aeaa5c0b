//! Holds: placed, seen, lifted.

use actix_web::{get, post, web};
use chrono::{DateTime, Utc};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::health::{self, Filter, Hold, NamedHold};
use storksbill_db::rows::notices::{self, Notice};
use storksbill_db::rows::{members, plants};
use storksbill_domain::ids::{HoldId, MemberId, PlantId};
use storksbill_domain::policy::{Actor, may_guard_health, may_lift_hold};
use storksbill_domain::words::{NoticeKind, SubjectKind};
use utoipa::IntoParams;

use super::dto::{HoldIn, HoldOut, LiftIn};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Which holds to list.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct HoldSearch {
    /// For officers: on plants of this member.
    pub member_id: Option<MemberId>,
    /// Only those that are lifted, or are in force; both when not given.
    pub lifted: Option<bool>,
}

/// List health holds
///
/// Newest first: those on your plants; to officers all.
#[utoipa::path(
    tag = "health",
    security(("session" = [])),
    params(HoldSearch, Page),
    responses((status = 200, description = "Holds, newest first", body = List<HoldOut>))
)]
#[get("/health/holds")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    search: web::Query<HoldSearch>,
    page: Page,
) -> Result<List<HoldOut>, Problem> {
    let member = if auth.is_officer() { search.member_id } else { Some(auth.member) };
    let filter = Filter { member, lifted: search.lifted };
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    let holds = app
        .db
        .read(move |conn| Ok::<_, Problem>(health::page(conn, filter, after.as_deref(), limit)?))
        .await?;
    Ok(page.list(holds, |named| Place(String::new(), named.hold.id.to_string()), HoldOut::of))
}

/// See a health hold
///
/// One on your plants; to officers any.
#[utoipa::path(
    tag = "health",
    security(("session" = [])),
    responses((status = 200, description = "The hold", body = HoldOut))
)]
#[get("/health/holds/{hold_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<HoldId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let hold = app.db.glance(move |conn| load(conn, &auth, id)).await?;
    Reply::ok(&HoldOut::of(hold))
}

/// Place a health hold
///
/// On a plant of yours, or on all of them; officers on anybody's. What is held takes part in no round of the swap
/// until the hold is lifted. Its grower gets a notice where an officer placed it.
///
/// A suspected quarantine pest or disease is to be reported to the plant-health authority of the place; local
/// rules decide.
#[utoipa::path(
    tag = "health",
    security(("session" = [])),
    request_body = HoldIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Held", body = HoldOut))
)]
#[post("/health/holds")]
pub async fn place(auth: Auth, app: web::Data<App>, body: Valid<HoldIn>) -> Result<Reply, Problem> {
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let owner = owner_to_hold(conn, &auth, &value)?;
                let hold = hold_now(conn, &auth, owner, value.plant_id, &value.reason, now)?;
                let told = HoldOut::of(load(conn, &auth, hold.id)?);
                Reply::created(format!("/api/v1/health/holds/{}", hold.id), 1, &told)
            })
        })
        .await
}

/// Whose plants are to be held, if the asker may hold them.
fn owner_to_hold(conn: &mut Conn, actor: &Actor, value: &HoldIn) -> Result<MemberId, Problem> {
    let (owner, pointer, what) = match (value.plant_id, value.member_id) {
        (Some(id), _) => {
            (plants::find(conn, id)?.map(|plant| plant.owner_id), "/plant_id", "is not a plant of yours")
        }
        (None, Some(id)) => (
            members::find(conn, id)?.map(|member| member.id),
            "/member_id",
            "is not a member whom you may hold",
        ),
        (None, None) => (Some(actor.member), "", ""),
    };
    owner
        .filter(|owner| may_guard_health(actor, *owner))
        .ok_or_else(|| Problem::field(pointer, "not-found", what))
}

/// Keeps a hold, and tells the grower where somebody else placed it.
pub(super) fn hold_now(
    conn: &mut Conn,
    actor: &Actor,
    member_id: MemberId,
    plant_id: Option<PlantId>,
    reason: &str,
    now: DateTime<Utc>,
) -> Result<Hold, Problem> {
    let hold = Hold {
        id: HoldId::fresh(),
        member_id,
        plant_id,
        reason: reason.trim().to_owned(),
        placed_by: actor.member,
        placed_at: now.naive_utc(),
        lifted_by: None,
        lifted_at: None,
        lift_note: None,
    };
    health::insert(conn, &hold)?;
    if actor.member != member_id {
        let what = if plant_id.is_some() { "A plant of yours is" } else { "All your plants are" };
        let words = format!("{what} held back from the swap by an officer: {}", hold.reason);
        let subject = plant_id.as_ref().map(|id| (SubjectKind::Plant, id.as_str()));
        let kind = NoticeKind::HealthNotice;
        let notice = Notice::fresh(member_id, kind, now.date_naive(), words, subject, now.naive_utc());
        notices::insert(conn, &notice)?;
    }
    Ok(hold)
}

/// Lift a health hold
///
/// Officers any; growers those that they placed on their own plants. Send `{}` where there is nothing to say.
#[utoipa::path(
    tag = "health",
    security(("session" = [])),
    request_body = LiftIn,
    responses((status = 200, description = "Lifted", body = HoldOut))
)]
#[post("/health/holds/{hold_id}/lift")]
pub async fn lift(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<HoldId>,
    body: Valid<LiftIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let note = body.value.note;
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let mut hold = load(conn, &auth, id)?.hold;
            if !may_lift_hold(&auth, hold.member_id, hold.placed_by) {
                return Err(Problem::new(Code::NotAllowed, "An officer placed this hold; officers lift it."));
            }
            if hold.lifted_at.is_some() {
                return Err(Problem::new(Code::WrongState, "This hold is lifted already."));
            }
            hold.lifted_by = Some(auth.member);
            hold.lifted_at = Some(now);
            hold.lift_note.clone_from(&note);
            health::update(conn, &hold)?;
            Reply::ok(&HoldOut::of(load(conn, &auth, id)?))
        })
        .await
}

/// The hold, if the asker may see it: on their own plants, or as an officer.
fn load(conn: &mut Conn, actor: &Actor, id: HoldId) -> Result<NamedHold, Problem> {
    health::find(conn, id)?
        .filter(|named| may_guard_health(actor, named.hold.member_id))
        .ok_or_else(|| Problem::not_found("hold"))
}
