//! See cultivars.

use std::collections::BTreeSet;

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::cultivars::{self, Cultivar, Filter};
use storksbill_domain::ids::CultivarId;
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{CultivarStatus, PlantGroup};
use utoipa::IntoParams;

use super::dto::CultivarOut;
use super::origin;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// What to look for; all that is given must fit.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Search {
    /// Part of a name, or of a synonym or any other name of it; accents, case and quotes do not matter.
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
    auth: Auth,
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
    let found = app
        .db
        .read(move |conn| {
            let rows = cultivars::page_visible_to(conn, &auth, &filter, &after, limit)?;
            let places: Vec<Place> =
                rows.iter().map(|row| Place(row.name_key.clone(), row.id.to_string())).collect();
            Ok::<_, Problem>(places.into_iter().zip(told(conn, &auth, rows)?).collect())
        })
        .await?;
    Ok(page.list(found, |(place, _): &(Place, CultivarOut)| place.clone(), |(_, cultivar)| cultivar))
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
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<CultivarId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let cultivar = app
        .db
        .glance(move |conn| {
            let seen = cultivars::find_visible_to(conn, &auth, id)?;
            told_one(conn, &auth, seen.ok_or_else(|| Problem::not_found("cultivar"))?)
        })
        .await?;
    Reply::versioned(cultivar.version, &cultivar)
}

pub(super) fn told_one(conn: &mut Conn, actor: &Actor, row: Cultivar) -> Result<CultivarOut, Problem> {
    told(conn, actor, vec![row])?.pop().ok_or_else(|| Problem::not_found("cultivar"))
}

/// Cultivars as the asker is told of them, with one look-up of each sort for all.
fn told(conn: &mut Conn, actor: &Actor, rows: Vec<Cultivar>) -> Result<Vec<CultivarOut>, Problem> {
    let ids: Vec<CultivarId> = rows.iter().map(|row| row.id).collect();
    let candidates = cultivars::candidates_of(conn, &ids)?;
    let origins: BTreeSet<CultivarId> =
        rows.iter().flat_map(|row| origin::named(row, &[])).chain(origin::candidates(&candidates)).collect();
    let origins: Vec<CultivarId> = origins.into_iter().collect();
    let seen = cultivars::visible_among(conn, actor, &origins)?.into_iter().map(|known| known.id).collect();
    Ok(rows.into_iter().map(|row| CultivarOut::of(row, &candidates, &seen)).collect())
}
