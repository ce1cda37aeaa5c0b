//! See clubs: open to everybody, since who wants to join has to find one.

use actix_web::{get, web};
use storksbill_db::rows::places;
use storksbill_domain::ids::ClubId;

use super::dto::ClubOut;
use crate::app::App;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// List clubs
///
/// By name; no log-in needed.
#[utoipa::path(tag = "clubs", params(Page), responses((status = 200, description = "Clubs by name", body = List<ClubOut>)))]
#[get("/clubs")]
pub async fn list(app: web::Data<App>, page: Page) -> Result<List<ClubOut>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let clubs = app.db.read(move |conn| Ok::<_, Problem>(places::clubs_page(conn, &after, limit)?)).await?;
    Ok(page.list(clubs, |club| Place(club.name_key.clone(), club.id.to_string()), ClubOut::of))
}

/// See a club
///
/// No log-in needed.
#[utoipa::path(
    tag = "clubs",
    responses((status = 200, description = "The club", body = ClubOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/clubs/{club_id}")]
pub async fn one(app: web::Data<App>, path: web::Path<ClubId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let club = app.db.glance(move |conn| Ok::<_, Problem>(places::club(conn, id)?)).await?;
    let club = club.ok_or_else(|| Problem::not_found("club"))?;
    let version = club.version;
    Reply::versioned(version, &ClubOut::of(club))
}
