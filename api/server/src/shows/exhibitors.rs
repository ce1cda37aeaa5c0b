//! Exhibitors of a show: members, who say how they show, and guests, whom officers enter.

use actix_web::{get, patch, post, put, web};
use chrono::{Datelike, NaiveDate};
use storksbill_db::rows::entries::{self, Exhibitor};
use storksbill_db::rows::members;
use storksbill_db::rows::shows::Show;
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{ExhibitorId, MemberId, ShowId};
use storksbill_domain::names;
use storksbill_domain::policy::{Actor, may_end_protection};
use storksbill_domain::shows::in_time;
use storksbill_domain::words::{PublishAs, ShowState};

use super::entry_dto::{ExhibitorIn, ExhibitorOut, ExhibitorPatch};
use super::find::own_name;
use super::naming::{self, Told};
use super::{documents, show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::etag::{IfMatch, check_put};
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::patch::Patch;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::members::protection::{clubs_of, protect};

/// List exhibitors
///
/// By number, with what they owe and paid: the club's secretary or an administrator.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Exhibitors by number", body = List<ExhibitorOut>))
)]
#[get("/shows/{show_id}/exhibitors")]
pub async fn list(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    page: Page,
) -> Result<List<ExhibitorOut>, Problem> {
    let id = path.into_inner();
    let after = page.after.as_ref().map(|Place(number, _)| number.parse::<i32>()).transpose();
    let after =
        after.map_err(|_other| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = usize::try_from(page.probe()).unwrap_or(usize::MAX);
    let found = app
        .db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let mut rows = entries::exhibitors(conn, id)?;
            rows.retain(|row| after.is_none_or(|after| row.number > after));
            rows.truncate(limit);
            told_all(conn, &show, rows)
        })
        .await?;
    Ok(page.list(found, |row| Place(row.number.to_string(), row.id.to_string()), |row| row))
}

/// Enter an exhibitor
///
/// A member or a guest, for whom an officer of the club then makes entries.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ExhibitorIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses(
        (status = 201, description = "Entered", body = ExhibitorOut),
        (status = 409, description = "The member is an exhibitor already", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/exhibitors")]
pub async fn enter(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    body: Valid<ExhibitorIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                let show = show_in_charge_of(conn, &officer, id)?;
                let name = match value.member_id {
                    Some(member) => {
                        let member = members::find(conn, member)?.ok_or_else(|| {
                            Problem::field("/member_id", "not-found", "is not a member of this society")
                        })?;
                        member.name
                    }
                    None => String::new(),
                };
                let mut exhibitor = fresh(conn, &show, value.member_id, name, now.naive_utc())?;
                let today = now.date_naive();
                let saying = Saying { actor: &officer, show: &show, today, at: "/exhibitor" };
                apply(conn, &mut exhibitor, &value.exhibitor, &saying)?;
                entries::insert_exhibitor(conn, &exhibitor).map_err(taken)?;
                let address = format!("{}/exhibitors/{}", documents::address(id), exhibitor.id);
                Reply::created(address, 1, &told(conn, &show, exhibitor)?)
            })
        })
        .await
}

/// See yourself as an exhibitor
///
/// How you show at this show, what you owe and what you paid.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "You", body = ExhibitorOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/shows/{show_id}/exhibitors/me")]
pub async fn me(auth: Auth, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let own = entries::exhibitor_of(conn, id, auth.member)?;
            let own = own.ok_or_else(|| Problem::not_found("exhibitor"))?;
            let version = own.version;
            Reply::versioned(version, &told(conn, &show, own)?)
        })
        .await
}

/// Say how you show
///
/// Before your first entry, or later with the `ETag` you read; once entries are closed, only how you are published and
/// whether you are shielded, also when results are final. What you do not mention stays as it was; without it you show
/// under your own name. A day of birth that was said once stays; the secretary corrects it.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ExhibitorPatch,
    params(("If-Match" = Option<String>, Header, description = "The ETag you read, where you are an exhibitor already")),
    responses(
        (status = 200, description = "Changed", body = ExhibitorOut),
        (status = 201, description = "You are an exhibitor now", body = ExhibitorOut),
        (status = 409, description = "Entries are closed", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/shows/{show_id}/exhibitors/me")]
pub async fn set_me(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    if_match: Option<IfMatch>,
    body: Valid<ExhibitorPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let said = body.value;
    let received = app.clock.now();
    let now = received.naive_utc();
    app.db
        .write(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let before = entries::exhibitor_of(conn, id, auth.member)?;
            check_put(if_match.as_ref(), before.as_ref().map(|own| own.version), "exhibitor")?;
            let taken_in = matches!(show.state, ShowState::Draft | ShowState::Published)
                && in_time(received, show.closes_at.and_utc());
            let saying = Saying { actor: &auth, show: &show, today: now.date(), at: "" };
            if let Some(mut own) = before {
                let stood = own.clone();
                if stood.born_on.is_some()
                    && said.born_on != Patch::Absent
                    && said.born_on.value().map(|day| **day) != stood.born_on
                {
                    let detail = "was said already and stays; the secretary corrects it";
                    return Err(Problem::field("/born_on", "stands", detail));
                }
                apply(conn, &mut own, &said, &saying)?;
                let Exhibitor { publish_as, is_protected, .. } = stood;
                if !taken_in && (Exhibitor { publish_as, is_protected, ..own.clone() }) != stood {
                    return Err(Problem::new(
                        Code::WrongState,
                        "Entries are closed: only how you are published and whether you are shielded may be changed. Ask the secretary.",
                    ));
                }
                own.version += 1;
                entries::update_exhibitor(conn, &own)?;
                return Reply::versioned(own.version, &told(conn, &show, own)?);
            }
            if !taken_in {
                return Err(Problem::new(Code::WrongState, "Entries are closed."));
            }
            let name = own_name(conn, &auth)?;
            let mut own = fresh(conn, &show, Some(auth.member), name, now)?;
            apply(conn, &mut own, &said, &saying)?;
            entries::insert_exhibitor(conn, &own).map_err(taken)?;
            let address = format!("{}/exhibitors/me", documents::address(id));
            Reply::created(address, 1, &told(conn, &show, own)?)
        })
        .await
}

/// Change an exhibitor
///
/// The club's secretary or an administrator. What you do not mention stays; null takes back what was said.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ExhibitorPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = ExhibitorOut))
)]
#[patch("/shows/{show_id}/exhibitors/{exhibitor_id}")]
pub async fn change(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ShowId, ExhibitorId)>,
    if_match: IfMatch,
    body: Valid<ExhibitorPatch>,
) -> Result<Reply, Problem> {
    let today = app.clock.today();
    let (id, exhibitor_id) = path.into_inner();
    let said = body.value;
    app.db
        .write(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let known = entries::exhibitor(conn, id, exhibitor_id)?;
            let mut exhibitor = known.ok_or_else(|| Problem::not_found("exhibitor"))?;
            if_match.check(exhibitor.version)?;
            let saying = Saying { actor: &officer, show: &show, today, at: "" };
            apply(conn, &mut exhibitor, &said, &saying)?;
            exhibitor.version += 1;
            entries::update_exhibitor(conn, &exhibitor)?;
            Reply::versioned(exhibitor.version, &told(conn, &show, exhibitor)?)
        })
        .await
}

/// A new exhibitor with the next number.
pub(super) fn fresh(
    conn: &mut Conn,
    show: &Show,
    member: Option<MemberId>,
    name: String,
    now: chrono::NaiveDateTime,
) -> Result<Exhibitor, Problem> {
    Ok(Exhibitor {
        id: ExhibitorId::fresh(),
        show_id: show.id,
        number: entries::last_exhibitor_number(conn, show.id)?.unwrap_or(0) + 1,
        member_id: member,
        name,
        is_joint: false,
        in_the_trade: false,
        household: None,
        born_on: None,
        publish_as: PublishAs::Name,
        outside_declared: false,
        outside_results: "[]".to_owned(),
        version: 1,
        created_at: now,
        is_protected: false,
    })
}

/// The first year of birth that is taken.
const FIRST_BIRTH: i32 = 1900;

/// Who says something of an exhibitor, where, and when.
struct Saying<'a> {
    actor: &'a Actor,
    show: &'a Show,
    today: NaiveDate,
    /// Where in the request it is said.
    at: &'static str,
}

/// Applies what was said: what was not mentioned stays. The one place that writes what is known of an exhibitor.
fn apply(
    conn: &mut Conn,
    exhibitor: &mut Exhibitor,
    said: &ExhibitorPatch,
    saying: &Saying<'_>,
) -> Result<(), Problem> {
    let Saying { actor, show, today, at } = saying;
    match &said.name {
        Patch::Value(name) => exhibitor.name = names::tidy(name),
        Patch::Null => {
            let member = match exhibitor.member_id {
                Some(id) => members::find(conn, id)?,
                None => None,
            };
            let member = member.ok_or_else(|| {
                Problem::field(&format!("{at}/name"), "required", "is required for a guest")
            })?;
            exhibitor.name = member.name;
        }
        Patch::Absent => {}
    }
    set(&mut exhibitor.is_joint, &said.is_joint, false);
    set(&mut exhibitor.in_the_trade, &said.in_the_trade, false);
    said.household.clone().map(|word| names::search_key(&word)).apply(&mut exhibitor.household);
    if said.born_on.value().is_some_and(|day| day.year() < FIRST_BIRTH || **day > *today) {
        let detail = format!("is no day of birth from {FIRST_BIRTH}-01-01 to {today}; look at the year");
        return Err(Problem::field(&format!("{at}/born_on"), "out-of-range", detail));
    }
    said.born_on.clone().map(NaiveDate::from).apply(&mut exhibitor.born_on);
    if exhibitor.member_id.is_some()
        && exhibitor.member_id != Some(actor.member)
        && matches!(show.state, ShowState::Provisional | ShowState::Final)
        && said.publish_as.value().is_some_and(|wanted| *wanted < exhibitor.publish_as)
    {
        let detail = "tells more than the exhibitor chose, and results are out: the exhibitor alone may";
        return Err(Problem::field(&format!("{at}/publish_as"), "chosen", detail));
    }
    set(&mut exhibitor.publish_as, &said.publish_as, PublishAs::Name);
    match &said.outside_results {
        Patch::Value(results) => {
            exhibitor.outside_declared = true;
            exhibitor.outside_results = documents::written(results)?;
        }
        Patch::Null => {
            exhibitor.outside_declared = false;
            "[]".clone_into(&mut exhibitor.outside_results);
        }
        Patch::Absent => {}
    }
    match said.is_protected {
        Patch::Value(true) => naming::shield(conn, exhibitor)?,
        Patch::Value(false) | Patch::Null => unshield(conn, exhibitor, saying)?,
        Patch::Absent => {}
    }
    // Known from one show, carried to every other.
    if naming::is_minor(exhibitor.born_on, show.held_on) && said.born_on != Patch::Absent {
        naming::shield(conn, exhibitor)?;
    }
    Ok(())
}

fn set<T: Copy>(field: &mut T, said: &Patch<T>, cleared: T) {
    match said {
        Patch::Value(value) => *field = *value,
        Patch::Null => *field = cleared,
        Patch::Absent => {}
    }
}

fn unshield(conn: &mut Conn, exhibitor: &mut Exhibitor, saying: &Saying<'_>) -> Result<(), Problem> {
    let allowed = match exhibitor.member_id {
        Some(id) => may_end_protection(saying.actor, id, &clubs_of(conn, id)?),
        None => saying.actor.acts_for(saying.show.club_id),
    };
    let member = match exhibitor.member_id {
        Some(id) => members::find(conn, id)?,
        None => None,
    };
    if !exhibitor.is_protected && member.as_ref().is_none_or(|member| !member.is_protected) {
        return Ok(());
    }
    if !allowed {
        return Err(Problem::new(
            Code::NotAllowed,
            "Only an administrator or the secretary of a club of the member's ends it: ask one of them.",
        ));
    }
    exhibitor.is_protected = false;
    if let Some(member) = member {
        protect(conn, member, false)?;
    }
    Ok(())
}

pub(super) fn told(conn: &mut Conn, show: &Show, exhibitor: Exhibitor) -> Result<ExhibitorOut, Problem> {
    told_all(conn, show, vec![exhibitor])?.pop().ok_or_else(|| Problem::not_found("exhibitor"))
}

fn told_all(conn: &mut Conn, show: &Show, exhibitors: Vec<Exhibitor>) -> Result<Vec<ExhibitorOut>, Problem> {
    let ids: Vec<ExhibitorId> = exhibitors.iter().map(|one| one.id).collect();
    let money = entries::money(conn, &ids)?;
    let naming = Told::of(conn, show, &exhibitors)?;
    let told = |exhibitor: Exhibitor| {
        let money = money.get(&exhibitor.id).copied().unwrap_or_default();
        Ok(ExhibitorOut {
            publish_as: naming.form(exhibitor.id),
            is_protected: naming.is_protected(exhibitor.id),
            id: exhibitor.id,
            show_id: exhibitor.show_id,
            number: exhibitor.number,
            member_id: exhibitor.member_id,
            name: exhibitor.name,
            is_joint: exhibitor.is_joint,
            in_the_trade: exhibitor.in_the_trade,
            household: exhibitor.household,
            born_on: exhibitor.born_on,
            outside_declared: exhibitor.outside_declared,
            outside_results: documents::part(&exhibitor.outside_results)?,
            due_pence: money.due,
            paid_pence: money.paid,
            version: exhibitor.version,
        })
    };
    exhibitors.into_iter().map(told).collect()
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "The member is an exhibitor of this show already.");
    Problem::from(error).on_constraint("show_exhibitors_show_id_member_id_key", taken)
}
