//! What the holder of the rights in a protected cultivar permitted.

use actix_web::{delete, get, put, web};
use chrono::NaiveDate;
use storksbill_db::rows::cultivars;
use storksbill_db::rows::permissions::{self, Permission};
use storksbill_domain::ids::CultivarId;

use super::dto::{PermissionIn, PermissionOut};
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::etag::{IfMatch, check_put};
use crate::http::json::Valid;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// See the permission for a protected cultivar
///
/// What the holder of its rights permitted; 404 where nothing is recorded.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    responses((status = 200, description = "The permission", body = PermissionOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/cultivars/{cultivar_id}/permission")]
pub async fn one(_auth: Auth, app: web::Data<App>, path: web::Path<CultivarId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let found = app.db.glance(move |conn| Ok::<_, Problem>(permissions::find(conn, id)?)).await?;
    let permission = found.ok_or_else(|| Problem::not_found("permission"))?;
    let version = permission.version;
    Reply::versioned(version, &PermissionOut::of(permission))
}

/// Record the permission for a protected cultivar
///
/// Officers only, who have the leave of the holder of its rights. While it is in force the cultivar is taken into
/// swaps as any other. The first time without `If-Match`; where there is one, with the `ETag` you read.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    request_body = PermissionIn,
    params(("If-Match" = Option<String>, Header, description = "The ETag you read, where there is a permission")),
    responses(
        (status = 200, description = "Changed", body = PermissionOut),
        (status = 201, description = "Recorded", body = PermissionOut)
    )
)]
#[put("/cultivars/{cultivar_id}/permission")]
pub async fn set(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    if_match: Option<IfMatch>,
    body: Valid<PermissionIn>,
) -> Result<Reply, Problem> {
    let cultivar_id = path.into_inner();
    let PermissionIn { words, until } = body.value;
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            cultivars::find_visible_to(conn, &officer, cultivar_id)?
                .ok_or_else(|| Problem::not_found("cultivar"))?;
            let before = permissions::find(conn, cultivar_id)?.map(|permission| permission.version);
            check_put(if_match.as_ref(), before, "permission")?;
            let version = before.unwrap_or(0) + 1;
            let permission = Permission {
                cultivar_id,
                words: words.trim().to_owned(),
                until_on: until.map(NaiveDate::from),
                recorded_by: officer.member,
                recorded_at: now,
                version,
            };
            if before.is_some() {
                permissions::update(conn, &permission)?;
                Reply::versioned(version, &PermissionOut::of(permission))
            } else {
                permissions::insert(conn, &permission)?;
                let address = format!("/api/v1/cultivars/{cultivar_id}/permission");
                Reply::created(address, version, &PermissionOut::of(permission))
            }
        })
        .await
}

/// Take the permission for a protected cultivar away
///
/// Officers only. Open offers of it take part in no further round.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    responses((status = 204, description = "Taken away"))
)]
#[delete("/cultivars/{cultivar_id}/permission")]
pub async fn end(
    _officer: Officer,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            permissions::find(conn, id)?.ok_or_else(|| Problem::not_found("permission"))?;
            permissions::delete(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}
