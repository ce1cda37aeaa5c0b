//! See cultivars.

use actix_web::{HttpRequest, get, web};
use serde::Deserialize;
use storksbill_db::rows::cultivars::{self, Filter};
use storksbill_domain::ids::CultivarId;
use storksbill_domain::names;
use storksbill_domain::words::{CultivarStatus, PlantGroup};
use utoipa::IntoParams;

use super::dto::CultivarOut;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// What to look for; all that is given must fit.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Search {
    /// Part of a name; accents, case and quotes do not matter.
    name: Option<String>,
    /// Only this group.
    plant_group: Option<PlantGroup>,
    /// Only those that have come so far.
    status: Option<CultivarStatus>,
}

/// List cultivars
///
/// By name, narrowed by part of a name, by group or by how far they have come.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    params(Search, Page),
    responses((status = 200, description = "Cultivars by name", body = List<CultivarOut>))
)]
#[get("/cultivars")]
pub async fn list(
    _auth: Auth,
    app: web::Data<App>,
    search: web::Query<Search>,
    page: Page,
) -> Result<List<CultivarOut>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let filter = Filter {
        name_part: search.name.as_deref().map(names::search_key),
        plant_group: search.plant_group,
        status: search.status,
    };
    let found =
        app.db.read(move |conn| Ok::<_, Problem>(cultivars::page(conn, &filter, &after, limit)?)).await?;
    Ok(page.list(found, |c| Place(c.name_key.clone(), c.id.to_string()), CultivarOut::of))
}

/// See a cultivar
///
/// With its parents; for all its ancestors see its pedigree.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    responses((status = 200, description = "The cultivar", body = CultivarOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/cultivars/{cultivar_id}")]
pub async fn one(
    _auth: Auth,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    request: HttpRequest,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let cultivar = app.db.glance(move |conn| Ok::<_, Problem>(cultivars::find(conn, id)?)).await?;
    let cultivar = cultivar.ok_or_else(|| Problem::not_found("cultivar"))?;
    let version = cultivar.version;
    Ok(Reply::versioned(version, &CultivarOut::of(cultivar))?.unless_known(&request, version))
}
