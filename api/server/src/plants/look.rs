//! See plants.

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::plants::{self, Filter};
use storksbill_domain::ids::{CultivarId, MemberId, PlantId};
use storksbill_domain::words::{Environment, GrowthForm};
use utoipa::IntoParams;

use super::access;
use super::dto::PlantOut;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Which plants.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Which {
    /// Another member's plants, as far as you may see them; your own when not given.
    pub owner_id: Option<MemberId>,
    /// Of one cultivar.
    pub cultivar_id: Option<CultivarId>,
    /// In one environment.
    pub environment: Option<Environment>,
    /// Grown to one form.
    pub form: Option<GrowthForm>,
}

/// List plants
///
/// Your own, or those of another member that you may see, in the order of their entering; each with its
/// cultivar and the latest record of its diary.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    params(Which, Page),
    responses((status = 200, description = "Plants", body = List<PlantOut>))
)]
#[get("/plants")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    which: web::Query<Which>,
    page: Page,
) -> Result<List<PlantOut>, Problem> {
    let owner = which.owner_id.unwrap_or(auth.member);
    let filter = Filter { cultivar: which.cultivar_id, environment: which.environment, form: which.form };
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    // A page is a short walk along one index: handing it to another thread would cost a tenth of it.
    let held = app
        .db
        .glance(move |conn| {
            Ok::<_, Problem>(plants::visible_to(conn, &auth, owner, filter, after.as_deref(), limit)?)
        })
        .await?;
    Ok(page.list(held, |held| Place(String::new(), held.plant.id.to_string()), PlantOut::of))
}

/// See a plant
///
/// With its cultivar and the latest record of its diary.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    responses((status = 200, description = "The plant", body = PlantOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/plants/{plant_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<PlantId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let held = app
        .db
        .glance(move |conn| {
            let held = plants::held(conn, id)?.ok_or_else(|| Problem::not_found("plant"))?;
            access::may_see(conn, &auth, &held.plant, "plant")?;
            Ok::<_, Problem>(held)
        })
        .await?;
    Reply::versioned(held.plant.version, &PlantOut::of(held))
}
