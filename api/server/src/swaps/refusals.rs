//! With whom a member does not swap: known to that member alone.

use actix_web::{delete, get, put, web};
use storksbill_db::rows::members;
use storksbill_db::rows::swap_terms::{self, NamedRefusal, Refusal};
use storksbill_domain::ids::MemberId;
use storksbill_domain::words::Standing;

use super::dto::RefusalOut;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// List the members you do not swap with
///
/// By name. Nobody but you is ever told, neither they nor any officer.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Members by name", body = List<RefusalOut>))
)]
#[get("/swaps/refusals")]
pub async fn list(auth: Auth, app: web::Data<App>, page: Page) -> Result<List<RefusalOut>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let refusals = app
        .db
        .read(move |conn| Ok::<_, Problem>(swap_terms::own_refusals(conn, auth.member, &after, limit)?))
        .await?;
    let place =
        |named: &NamedRefusal| Place(named.other_name_key.clone(), named.refusal.other_id.to_string());
    Ok(page.list(refusals, place, RefusalOut::of))
}

/// See whether you swap with a member
///
/// 404 where you do.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "You do not swap with this member", body = RefusalOut))
)]
#[get("/swaps/refusals/{member_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<MemberId>) -> Result<Reply, Problem> {
    let other = path.into_inner();
    let refusal = app
        .db
        .glance(move |conn| Ok::<_, Problem>(swap_terms::own_refusal(conn, auth.member, other)?))
        .await?;
    Reply::ok(&RefusalOut::of(refusal.ok_or_else(|| Problem::not_found("refusal"))?))
}

/// Do not swap with a member
///
/// From the next round on you two hand each other nothing, in either direction. Nobody but you is told. Repeating
/// it changes nothing.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses(
        (status = 204, description = "Kept"),
        (status = 422, description = "It is yourself", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/swaps/refusals/{member_id}")]
pub async fn set(auth: Auth, app: web::Data<App>, path: web::Path<MemberId>) -> Result<Reply, Problem> {
    let other_id = path.into_inner();
    if other_id == auth.member {
        return Err(Problem::field("member_id", "own", "is yourself"));
    }
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let known = members::find(conn, other_id)?;
            if known.is_none_or(|member| member.standing == Standing::Requested) {
                return Err(Problem::not_found("member"));
            }
            if swap_terms::own_refusal(conn, auth.member, other_id)?.is_none() {
                let refusal = Refusal { member_id: auth.member, other_id, created_at: now };
                swap_terms::insert_refusal(conn, &refusal)?;
            }
            Ok(Reply::no_content())
        })
        .await
}

/// Swap with a member again
///
/// From the next round on.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 204, description = "Taken back"))
)]
#[delete("/swaps/refusals/{member_id}")]
pub async fn end(auth: Auth, app: web::Data<App>, path: web::Path<MemberId>) -> Result<Reply, Problem> {
    let other = path.into_inner();
    app.db
        .write(move |conn| {
            if swap_terms::delete_refusal(conn, auth.member, other)? {
                Ok(Reply::no_content())
            } else {
                Err(Problem::not_found("refusal"))
            }
        })
        .await
}
