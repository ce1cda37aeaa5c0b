//! Exhibitors of a show: members, who say how they show, and guests, whom officers enter.

use actix_web::{get, patch, post, put, web};
use chrono::NaiveDate;
use storksbill_db::rows::entries::{self, Exhibitor};
use storksbill_db::rows::members;
use storksbill_db::rows::shows::Show;
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{ExhibitorId, MemberId, ShowId};
use storksbill_domain::shows::in_time;
use storksbill_domain::words::{PublishAs, ShowState};

use super::entry_dto::{ExhibitorIn, ExhibitorMeIn, ExhibitorOut};
use super::find::own_name;
use super::{documents, facts, show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::etag::{IfMatch, check_put};
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

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
            show_in_charge_of(conn, &officer, id)?;
            let mut rows = entries::exhibitors(conn, id)?;
            rows.retain(|row| after.is_none_or(|after| row.number > after));
            rows.truncate(limit);
            told_all(conn, rows)
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
                apply(&mut exhibitor, &value.exhibitor, &show)?;
                entries::insert_exhibitor(conn, &exhibitor).map_err(taken)?;
                let address = format!("{}/exhibitors/{}", documents::address(id), exhibitor.id);
                Reply::created(address, 1, &told(conn, exhibitor)?)
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
            visible_show(conn, Some(&auth), id)?;
            let own = entries::exhibitor_of(conn, id, auth.member)?;
            let own = own.ok_or_else(|| Problem::not_found("exhibitor"))?;
            let version = own.version;
            Reply::versioned(version, &told(conn, own)?)
        })
        .await
}

/// Say how you show
///
/// Before your first entry, or later with the `ETag` you read; once entries are closed, only how you are published.
/// Without it you show under your own name. A day of birth that was said once stays; the secretary corrects it.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ExhibitorMeIn,
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
    body: Valid<ExhibitorMeIn>,
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
            if let Some(mut own) = before {
                let stood = own.clone();
                // A day of birth that was said once is changed by officers alone.
                let said = ExhibitorMeIn {
                    born_on: said.born_on.or(stood.born_on.and_then(|day| day.try_into().ok())),
                    ..said.clone()
                };
                apply(&mut own, &said, &show)?;
                if !taken_in && (Exhibitor { publish_as: stood.publish_as, ..own.clone() }) != stood {
                    return Err(Problem::new(
                        Code::WrongState,
                        "Entries are closed: only how you are published may be changed. Ask the secretary.",
                    ));
                }
                own.version += 1;
                entries::update_exhibitor(conn, &own)?;
                return Reply::versioned(own.version, &told(conn, own)?);
            }
            if !taken_in {
                return Err(Problem::new(Code::WrongState, "Entries are closed."));
            }
            let name = own_name(conn, &auth)?;
            let mut own = fresh(conn, &show, Some(auth.member), name, now)?;
            apply(&mut own, &said, &show)?;
            entries::insert_exhibitor(conn, &own).map_err(taken)?;
            let address = format!("{}/exhibitors/me", documents::address(id));
            Reply::created(address, 1, &told(conn, own)?)
        })
        .await
}

/// Change an exhibitor
///
/// All that was said is replaced: the club's secretary or an administrator.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ExhibitorMeIn,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = ExhibitorOut))
)]
#[patch("/shows/{show_id}/exhibitors/{exhibitor_id}")]
pub async fn change(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ShowId, ExhibitorId)>,
    if_match: IfMatch,
    body: Valid<ExhibitorMeIn>,
) -> Result<Reply, Problem> {
    let (id, exhibitor_id) = path.into_inner();
    let said = body.value;
    app.db
        .write(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let known = entries::exhibitor(conn, id, exhibitor_id)?;
            let mut exhibitor = known.ok_or_else(|| Problem::not_found("exhibitor"))?;
            if_match.check(exhibitor.version)?;
            apply(&mut exhibitor, &said, &show)?;
            exhibitor.version += 1;
            entries::update_exhibitor(conn, &exhibitor)?;
            Reply::versioned(exhibitor.version, &told(conn, exhibitor)?)
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
    })
}

fn apply(exhibitor: &mut Exhibitor, said: &ExhibitorMeIn, show: &Show) -> Result<(), Problem> {
    if let Some(name) = &said.name {
        exhibitor.name = storksbill_domain::names::tidy(name);
    }
    exhibitor.is_joint = said.is_joint;
    exhibitor.in_the_trade = said.in_the_trade;
    exhibitor.household = said.household.as_deref().map(storksbill_domain::names::search_key);
    exhibitor.born_on = said.born_on.map(NaiveDate::from);
    exhibitor.publish_as = said.publish_as.unwrap_or(PublishAs::Name);
    let age = said.born_on.and_then(|born| storksbill_domain::shows::age_on(*born, show.held_on));
    if age.is_some_and(|age| age < facts::GROWN) && exhibitor.publish_as == PublishAs::Name {
        exhibitor.publish_as = PublishAs::Initials;
    }
    if let Some(results) = &said.outside_results {
        exhibitor.outside_declared = true;
        exhibitor.outside_results = documents::written(results)?;
    }
    Ok(())
}

pub(super) fn told(conn: &mut Conn, exhibitor: Exhibitor) -> Result<ExhibitorOut, Problem> {
    told_all(conn, vec![exhibitor])?.pop().ok_or_else(|| Problem::not_found("exhibitor"))
}

fn told_all(conn: &mut Conn, exhibitors: Vec<Exhibitor>) -> Result<Vec<ExhibitorOut>, Problem> {
    let ids: Vec<ExhibitorId> = exhibitors.iter().map(|one| one.id).collect();
    let money = entries::money(conn, &ids)?;
    let told = |exhibitor: Exhibitor| {
        let money = money.get(&exhibitor.id).copied().unwrap_or_default();
        Ok(ExhibitorOut {
            id: exhibitor.id,
            show_id: exhibitor.show_id,
            number: exhibitor.number,
            member_id: exhibitor.member_id,
            name: exhibitor.name,
            is_joint: exhibitor.is_joint,
            in_the_trade: exhibitor.in_the_trade,
            household: exhibitor.household,
            born_on: exhibitor.born_on,
            publish_as: exhibitor.publish_as,
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
