//! See members.

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::members;
use storksbill_domain::ids::MemberId;
use storksbill_domain::names;
use storksbill_domain::policy::may_see_protected;
use storksbill_domain::words::Standing;
use utoipa::IntoParams;

use super::dto::{MemberCard, MemberOut};
use super::protection::{clubs_of, sees};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
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
    /// Where they stand; `active` when not given. Only administrators may ask for others.
    pub standing: Option<Standing>,
}

/// List members
///
/// Active members by name; administrators may ask for those who left or are suspended. Addresses are never shown
/// here. Protected members stand in it for officers of their clubs and of the society alone.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    params(Search, Page),
    responses((status = 200, description = "Members by name", body = List<MemberCard>))
)]
#[get("/members")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    search: web::Query<Search>,
    page: Page,
) -> Result<List<MemberCard>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let part = search.name.as_deref().map(names::search_key);
    let standing = search.standing.unwrap_or(Standing::Active);
    if standing != Standing::Active && !auth.is_administrator() {
        return Err(Problem::new(Code::NotAllowed, "Only administrators see members who are not active."));
    }
    let asker = auth.actor.clone();
    let found = app
        .db
        .read(move |conn| {
            let (sees, part) = (sees(&asker), part.as_deref());
            Ok::<_, Problem>(members::page(conn, standing, &sees, part, &after, limit)?)
        })
        .await?;
    Ok(page.list(
        found,
        |m| Place(m.name_key.clone(), m.id.to_string()),
        |member| MemberCard::of(member, &auth),
    ))
}

/// See a member
///
/// Name and region, as every member may see them. A protected member is not there for others than officers of their clubs
/// and of the society. Administrators see those who left or are suspended too.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    responses((status = 200, description = "The member", body = MemberCard))
)]
#[get("/members/{member_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<MemberId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .glance(move |conn| {
            let member = members::find(conn, id)?
                .filter(|member| member.standing == Standing::Active || auth.is_administrator())
                .ok_or_else(|| Problem::not_found("member"))?;
            if member.is_protected && !may_see_protected(&auth, id, &clubs_of(conn, id)?) {
                return Err(Problem::not_found("member"));
            }
            Reply::ok(&MemberCard::of(member, &auth))
        })
        .await
}
