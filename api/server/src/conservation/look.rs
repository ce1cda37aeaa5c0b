//! See what is rare and what is listed.

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::conservation::{self, Counted, Rare};
use storksbill_domain::ids::CultivarId;
use utoipa::IntoParams;

use super::dto::{ConservationOut, RareOut};
use crate::app::App;
use crate::http::auth::{Auth, MaybeAuth};
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Which rare cultivars.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct RareSearch {
    /// Only those that you hold when true.
    #[serde(default)]
    #[param(required = false)]
    pub mine: bool,
}

/// List rare cultivars
///
/// By name: the named cultivars that one or two members hold, as far as the society knows. Plants that their
/// grower keeps private are not counted, nor are members who have left; numbered seedlings and cultivars on trial
/// are not looked at.
#[utoipa::path(
    tag = "conservation",
    security(("session" = [])),
    params(RareSearch, Page),
    responses((status = 200, description = "Rare cultivars by name", body = List<RareOut>))
)]
#[get("/rarity")]
pub async fn rarity(
    auth: Auth,
    app: web::Data<App>,
    search: web::Query<RareSearch>,
    page: Page,
) -> Result<List<RareOut>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let (member, mine) = (auth.member, search.mine);
    let found = app
        .db
        .read(move |conn| Ok::<_, Problem>(conservation::rare(conn, member, mine, &after, limit)?))
        .await?;
    let place = |rare: &Rare| Place(rare.cultivar_key.clone(), rare.cultivar_id.to_string());
    Ok(page.list(found, place, RareOut::of))
}

/// List the cultivars to conserve
///
/// The society's conservation list, by name, with the reason of each; to members with how many hold it.
#[utoipa::path(
    tag = "conservation",
    params(Page),
    responses((status = 200, description = "The list by name", body = List<ConservationOut>))
)]
#[get("/conservation")]
pub async fn list(
    asker: MaybeAuth,
    app: web::Data<App>,
    page: Page,
) -> Result<List<ConservationOut>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let listed =
        app.db.read(move |conn| Ok::<_, Problem>(conservation::page(conn, None, &after, limit)?)).await?;
    let place = |counted: &Counted| Place(counted.cultivar_key.clone(), counted.cultivar_id.to_string());
    Ok(page.list(listed, place, |counted| ConservationOut::of(counted, asker.0.is_some())))
}

/// See why a cultivar is to be conserved
///
/// Its entry in the society's conservation list.
#[utoipa::path(
    tag = "conservation",
    responses((status = 200, description = "The entry", body = ConservationOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/conservation/{cultivar_id}")]
pub async fn one(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let found =
        app.db.glance(move |conn| Ok::<_, Problem>(conservation::page(conn, Some(id), &None, 1)?)).await?;
    let entry = found.into_iter().next().ok_or_else(|| Problem::not_found("entry of the list"))?;
    Reply::versioned(entry.version, &ConservationOut::of(entry, asker.0.is_some()))
}
