//! Who won a trophy, year by year, and its way to the winner and back.

use actix_web::{delete, get, patch, post, web};
use chrono::NaiveDate;
use storksbill_db::Conn;
use storksbill_db::rows::members;
use storksbill_db::rows::trophies::{self as rows, Award};
use storksbill_domain::ids::{MemberId, TrophyAwardId, TrophyId};

use super::dto::{TrophyAwardIn, TrophyAwardOut, TrophyAwardPatch, in_order, sees_members};
use super::{in_charge_of, told_awards};
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List who won a trophy
///
/// The latest first, as they are told: as each chose to be published, less for those who are shielded or left.
#[utoipa::path(
    tag = "trophies",
    security(("session" = [])),
    responses((status = 200, description = "Awards", body = Vec<TrophyAwardOut>))
)]
#[get("/trophies/{trophy_id}/awards")]
pub async fn list(auth: Auth, app: web::Data<App>, path: web::Path<TrophyId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let trophy = rows::find(conn, id)?.ok_or_else(|| Problem::not_found("trophy"))?;
            let all = rows::awards(conn, id)?.into_iter().map(|award| ((), award)).collect();
            let told: Vec<TrophyAwardOut> = told_awards(conn, all)?
                .into_iter()
                .map(|((), award)| {
                    let sees = sees_members(&auth, trophy.club_id, &award);
                    TrophyAwardOut::of(award, sees)
                })
                .collect();
            Reply::ok(&told)
        })
        .await
}

/// Enter a winner of a year before
///
/// Of a show whose results are not here: officers of the club. Winners of shows that are final here are entered by
/// themselves.
#[utoipa::path(
    tag = "trophies",
    security(("session" = [])),
    request_body = TrophyAwardIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = TrophyAwardOut))
)]
#[post("/trophies/{trophy_id}/awards")]
pub async fn enter(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<TrophyId>,
    body: Valid<TrophyAwardIn>,
) -> Result<Reply, Problem> {
    let trophy_id = path.into_inner();
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                in_charge_of(conn, &officer, trophy_id)?;
                known_member(conn, value.member_id)?;
                let award = Award {
                    id: TrophyAwardId::fresh(),
                    trophy_id,
                    show_id: None,
                    year: value.year.into(),
                    member_id: value.member_id,
                    name: value.name.trim().to_owned(),
                    handed_over_on: value.handed_over_on.map(NaiveDate::from),
                    due_back_on: value.due_back_on.map(NaiveDate::from),
                    returned_on: value.returned_on.map(NaiveDate::from),
                    version: 1,
                    created_at: now.naive_utc(),
                    exhibitor_id: None,
                };
                rows::insert_award(conn, &award)?;
                let address = format!("/api/v1/trophies/{trophy_id}/awards/{}", award.id);
                Reply::created(address, 1, &TrophyAwardOut::of(told_award(conn, award)?, true))
            })
        })
        .await
}

/// Change an award
///
/// When it was handed over, when it is due back, when it came back; and a name that was spelt wrongly. Officers of the
/// club. What you do not mention stays; null clears.
#[utoipa::path(
    tag = "trophies",
    security(("session" = [])),
    request_body = TrophyAwardPatch,
    params(("If-Match" = String, Header, description = "The award's version")),
    responses((status = 200, description = "Changed", body = TrophyAwardOut))
)]
#[patch("/trophies/{trophy_id}/awards/{award_id}")]
pub async fn change(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(TrophyId, TrophyAwardId)>,
    if_match: IfMatch,
    body: Valid<TrophyAwardPatch>,
) -> Result<Reply, Problem> {
    let (trophy_id, id) = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            in_charge_of(conn, &officer, trophy_id)?;
            let mut award = known(conn, trophy_id, id)?;
            if_match.check(award.version)?;
            known_member(conn, patch.member_id.value().copied())?;
            if let Some(name) = patch.name.value() {
                name.trim().clone_into(&mut award.name);
            }
            patch.member_id.clone().apply(&mut award.member_id);
            patch.handed_over_on.clone().map(NaiveDate::from).apply(&mut award.handed_over_on);
            patch.due_back_on.clone().map(NaiveDate::from).apply(&mut award.due_back_on);
            patch.returned_on.clone().map(NaiveDate::from).apply(&mut award.returned_on);
            let mut found = Findings::default();
            in_order(&mut found, award.handed_over_on, award.due_back_on, award.returned_on);
            found.into_result()?;
            award.version += 1;
            rows::update_award(conn, &award)?;
            Reply::versioned(award.version, &TrophyAwardOut::of(told_award(conn, award)?, true))
        })
        .await
}

/// Take an award out
///
/// One that was typed in wrongly: officers of the club. What results gave stays.
#[utoipa::path(
    tag = "trophies",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The award's version")),
    responses(
        (status = 204, description = "Taken out"),
        (status = 409, description = "It comes from a show's results", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[delete("/trophies/{trophy_id}/awards/{award_id}")]
pub async fn take_out(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(TrophyId, TrophyAwardId)>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let (trophy_id, id) = path.into_inner();
    app.db
        .write(move |conn| {
            in_charge_of(conn, &officer, trophy_id)?;
            let award = known(conn, trophy_id, id)?;
            if_match.check(award.version)?;
            if award.show_id.is_some() {
                return Err(Problem::new(
                    Code::WrongState,
                    "It comes from the results of a show, which stand.",
                ));
            }
            rows::delete_award(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}

fn told_award(conn: &mut Conn, award: Award) -> Result<Award, Problem> {
    let told = told_awards(conn, vec![((), award)])?.pop();
    told.map(|((), award)| award).ok_or_else(|| Problem::not_found("award"))
}

fn known(conn: &mut Conn, trophy: TrophyId, id: TrophyAwardId) -> Result<Award, Problem> {
    let found = rows::award(conn, id)?.filter(|award| award.trophy_id == trophy);
    found.ok_or_else(|| Problem::not_found("award"))
}

fn known_member(conn: &mut Conn, id: Option<MemberId>) -> Result<(), Problem> {
    match id {
        Some(id) if members::find(conn, id)?.is_none() => {
            Err(Problem::field("/member_id", "not-found", "is not a member of this society"))
        }
        _ => Ok(()),
    }
}
