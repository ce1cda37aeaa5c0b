//! Put cultivars on the conservation list, and take them off.

use actix_web::{delete, put, web};
use storksbill_db::Conn;
use storksbill_db::rows::conservation::{self, Listed};
use storksbill_db::rows::cultivars;
use storksbill_domain::ids::CultivarId;
use storksbill_domain::words::Visibility;

use super::dto::{ConservationIn, ConservationOut};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::etag::{IfMatch, check_put};
use crate::http::json::Valid;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// List a cultivar for conservation
///
/// Officers only. The first time without `If-Match`; where it is listed, with the `ETag` you read. Its holders are
/// asked to spread it (`POST /conservation/nudges`) while there are fewer than are wanted.
#[utoipa::path(
    tag = "conservation",
    security(("session" = [])),
    request_body = ConservationIn,
    params(("If-Match" = Option<String>, Header, description = "The ETag you read, where it is listed")),
    responses(
        (status = 200, description = "Changed", body = ConservationOut),
        (status = 201, description = "Listed", body = ConservationOut)
    )
)]
#[put("/conservation/{cultivar_id}")]
pub async fn set(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    if_match: Option<IfMatch>,
    body: Valid<ConservationIn>,
) -> Result<Reply, Problem> {
    let cultivar_id = path.into_inner();
    let ConservationIn { reason, wanted_holders } = body.value;
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let seen = cultivars::find_visible_to(conn, &officer, cultivar_id)?;
            // The list is everybody's, so a line that is not released to all cannot stand on it.
            seen.filter(|cultivar| cultivar.visibility == Visibility::Society)
                .ok_or_else(|| Problem::not_found("cultivar"))?;
            let before = conservation::find(conn, cultivar_id)?;
            check_put(if_match.as_ref(), before.as_ref().map(|listed| listed.version), "place on the list")?;
            let mut listed = before.clone().unwrap_or_else(|| Listed {
                cultivar_id,
                reason: String::new(),
                wanted_holders,
                listed_by: officer.member,
                listed_at: now,
                version: 0,
            });
            reason.trim().clone_into(&mut listed.reason);
            listed.wanted_holders = wanted_holders;
            listed.version += 1;
            if before.is_some() {
                conservation::update(conn, &listed)?;
                Reply::versioned(listed.version, &told(conn, cultivar_id)?)
            } else {
                conservation::insert(conn, &listed)?;
                let address = format!("/api/v1/conservation/{cultivar_id}");
                Reply::created(address, listed.version, &told(conn, cultivar_id)?)
            }
        })
        .await
}

fn told(conn: &mut Conn, id: CultivarId) -> Result<ConservationOut, Problem> {
    let found = conservation::page(conn, Some(id), &None, 1)?.into_iter().next();
    Ok(ConservationOut::of(found.ok_or_else(|| Problem::not_found("entry of the list"))?, true))
}

/// Take a cultivar off the conservation list
///
/// Officers only.
#[utoipa::path(
    tag = "conservation",
    security(("session" = [])),
    responses((status = 204, description = "Taken off"))
)]
#[delete("/conservation/{cultivar_id}")]
pub async fn end(
    _officer: Officer,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            conservation::find(conn, id)?.ok_or_else(|| Problem::not_found("entry of the list"))?;
            conservation::delete(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}
