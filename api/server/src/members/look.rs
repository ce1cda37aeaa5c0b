//! See members.

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::members;
use storksbill_domain::ids::MemberId;
use storksbill_domain::names;
use storksbill_domain::words::Standing;
use utoipa::IntoParams;

use super::dto::{MemberCard, MemberOut};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// See your own record
///
/// With your address, roles and clubs.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    responses((status = 200, description = "You", body = MemberOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/members/me")]
pub async fn me(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    let id = auth.member;
    let member = app
        .db
        .glance(move |conn| {
            let member = members::find(conn, id)?.ok_or_else(|| Problem::not_found("member"))?;
            MemberOut::load(conn, member)
        })
        .await?;
    Reply::versioned(member.version, &member)
}

/// What to look for.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Search {
    /// Part of a name; accents and case do not matter.
    pub name: Option<String>,
}

/// List members
///
/// Active members by name. Addresses are never shown here.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    params(Search, Page),
    responses((status = 200, description = "Members by name", body = List<MemberCard>))
)]
#[get("/members")]
pub async fn list(
    _auth: Auth,
    app: web::Data<App>,
    search: web::Query<Search>,
    page: Page,
) -> Result<List<MemberCard>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let part = search.name.as_deref().map(names::search_key);
    let found = app
        .db
        .read(move |conn| {
            Ok::<_, Problem>(members::page(conn, Standing::Active, part.as_deref(), &after, limit)?)
        })
        .await?;
    Ok(page.list(found, |m| Place(m.name_key.clone(), m.id.to_string()), MemberCard::of))
}

/// See a member
///
/// Name and region, as every member may see them.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    responses((status = 200, description = "The member", body = MemberCard))
)]
#[get("/members/{member_id}")]
pub async fn one(_auth: Auth, app: web::Data<App>, path: web::Path<MemberId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let member = app.db.glance(move |conn| Ok::<_, Problem>(members::find(conn, id)?)).await?;
    let member =
        member.filter(|m| m.standing == Standing::Active).ok_or_else(|| Problem::not_found("member"))?;
    Reply::ok(&MemberCard::of(member))
}
