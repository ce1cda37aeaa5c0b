//! Rings: see them and answer them.

use actix_web::{get, post, web};
use serde::Deserialize;
use storksbill_db::rows::rings;
use storksbill_domain::ids::RingId;
use storksbill_domain::words::RingState;
use utoipa::IntoParams;

use super::dto::{AnswerIn, RingOut};
use super::settle;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Which rings to list.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct RingSearch {
    /// `proposed`, `accepted`, `declined`, `lapsed` or `handed_over`; all when not given.
    pub state: Option<RingState>,
}

/// List your rings
///
/// Newest first. Partners' e-mail addresses are told once a ring is accepted.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(RingSearch, Page),
    responses((status = 200, description = "Your rings, newest first", body = List<RingOut>))
)]
#[get("/swaps/rings")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    search: web::Query<RingSearch>,
    page: Page,
) -> Result<List<RingOut>, Problem> {
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    let state = search.state;
    let rings = app
        .db
        .read(move |conn| {
            let own = rings::own_page(conn, auth.member, state, after.as_deref(), limit)?;
            RingOut::load_all(conn, &own, auth.member)
        })
        .await?;
    Ok(page.list(rings, |ring| Place(String::new(), ring.id.to_string()), |ring| ring))
}

/// See a ring
///
/// One that you stand in; officers see all, but no addresses.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "The ring", body = RingOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/swaps/rings/{ring_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<RingId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let ring = app
        .db
        .glance(move |conn| {
            let ring = rings::find(conn, id)?.ok_or_else(|| Problem::not_found("ring"))?;
            let ring = RingOut::load(conn, &ring, auth.member)?;
            let visible = auth.is_officer() || ring.partners.iter().any(|p| p.member_id == auth.member);
            if visible { Ok(ring) } else { Err(Problem::not_found("ring")) }
        })
        .await?;
    Reply::versioned(ring.version, &ring)
}

/// Answer a ring
///
/// As one of its members, for the whole ring: you give and you receive, or neither. Once everybody has
/// accepted, the cuttings are promised for good and addresses are told; once somebody declines, everything of
/// it is free, and a job looks for other rings for those left behind. All other rings stay. An answer stands;
/// sending it again changes nothing.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = AnswerIn,
    responses((status = 200, description = "The ring as it stands now", body = RingOut, headers(("ETag" = String, description = "The version"))))
)]
#[post("/swaps/rings/{ring_id}/answer")]
pub async fn answer(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<RingId>,
    body: Valid<AnswerIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let answer = body.value.answer;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            let ring = rings::find(conn, id)?.ok_or_else(|| Problem::not_found("ring"))?;
            let ring = settle::answer(conn, ring, auth.member, answer, now)?;
            Reply::versioned(ring.version, &RingOut::load(conn, &ring, auth.member)?)
        })
        .await
}
