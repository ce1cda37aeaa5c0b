//! See regions: open to everybody, since who wants to join has to say where they grow.

use actix_web::{get, web};
use storksbill_db::rows::places;
use storksbill_domain::ids::RegionId;

use super::dto::RegionOut;
use crate::app::App;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// List regions
///
/// By name; no log-in needed.
#[utoipa::path(
    tag = "regions",
    params(Page),
    responses((status = 200, description = "Regions by name", body = List<RegionOut>))
)]
#[get("/regions")]
pub async fn list(app: web::Data<App>, page: Page) -> Result<List<RegionOut>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let regions =
        app.db.read(move |conn| Ok::<_, Problem>(places::regions_page(conn, &after, limit)?)).await?;
    Ok(page.list(regions, |region| Place(region.name_key.clone(), region.id.to_string()), RegionOut::of))
}

/// See a region
///
/// No log-in needed.
#[utoipa::path(
    tag = "regions",
    responses((status = 200, description = "The region", body = RegionOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/regions/{region_id}")]
pub async fn one(app: web::Data<App>, path: web::Path<RegionId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let region = app.db.glance(move |conn| Ok::<_, Problem>(places::region(conn, id)?)).await?;
    let region = region.ok_or_else(|| Problem::not_found("region"))?;
    let version = region.version;
    Reply::versioned(version, &RegionOut::of(region))
}
