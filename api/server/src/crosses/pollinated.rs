//! Pollinations of a cross.

use actix_web::{delete, get, post, web};
use storksbill_db::Conn;
use storksbill_db::rows::{crosses, plants};
use storksbill_domain::crosses::Exceeds;
use storksbill_domain::ids::{CrossId, PollinationId};

use super::access;
use super::dto::{PollinationIn, PollinationOut};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::{Findings, Valid};
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List the pollinations of a cross
///
/// In the order of their entering, to everybody who may see the cross.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Pollinations", body = List<PollinationOut>))
)]
#[get("/crosses/{cross_id}/pollinations")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CrossId>,
    page: Page,
) -> Result<List<PollinationOut>, Problem> {
    let id = path.into_inner();
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    let rows = app
        .db
        .read(move |conn| {
            access::visible(conn, &auth, id, "cross")?;
            Ok::<_, Problem>(crosses::pollinations_of(conn, id, after.as_deref(), limit)?)
        })
        .await?;
    Ok(page.list(rows, |row| Place(String::new(), row.id.to_string()), |row| PollinationOut::of(&row)))
}

/// Enter a pollination
///
/// Of your own cross. Say how old the blooms were: pollen is shed as a bloom opens and the stigma opens days
/// later (common practice), so the answer warns of a stigma that is still closed and says when to come back. A
/// notice tells when seed should be ripe, where that is still to come.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    request_body = PollinationIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = PollinationOut, headers(("Location" = String, description = "The cross"))))
)]
#[post("/crosses/{cross_id}/pollinations")]
pub async fn create(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CrossId>,
    body: Valid<PollinationIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let (now, today) = (app.clock.now(), app.clock.today());
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                access::own(conn, &auth, id, "cross")?;
                let row = value.clone().into_row(id, auth.member, now);
                let mut found = Findings::default();
                access::day(row.day, today, &mut found);
                if plants::active_members_among(conn, &[row.worked_by])?.is_empty() {
                    found.add("/worked_by", "not-found", "is not a member of the society");
                }
                found.into_result()?;
                crosses::insert_pollination(conn, &row)?;
                Reply::created(format!("/api/v1/crosses/{id}"), 1, &PollinationOut::of(&row))
            })
        })
        .await
}

/// Take a pollination away
///
/// Of your own cross, where it was entered in error; the florets that took must not be more than those left.
/// Notices that were made of it go with it, but for those that you said are done.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    responses(
        (status = 204, description = "Taken away"),
        (status = 409, description = "A count would be more than the one before it", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[delete("/crosses/{cross_id}/pollinations/{pollination_id}")]
pub async fn remove(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(CrossId, PollinationId)>,
) -> Result<Reply, Problem> {
    let (cross, id) = path.into_inner();
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            access::own(conn, &auth, cross, "pollination")?;
            let row =
                crosses::pollination(conn, cross, id)?.ok_or_else(|| Problem::not_found("pollination"))?;
            crosses::delete_pollination(conn, &row, now)?;
            still_sound(conn, cross)?;
            Ok(Reply::no_content())
        })
        .await
}

/// Refuses what leaves a count larger than the one before it.
pub(super) fn still_sound(conn: &mut Conn, cross: CrossId) -> Result<(), Problem> {
    let counts = crosses::counts_of(conn, &[cross])?.remove(&cross).unwrap_or_default();
    counts.check().map_err(|exceeds: Exceeds| {
        Problem::new(Code::WrongState, format!("{exceeds}. Take the later count away first."))
    })
}
