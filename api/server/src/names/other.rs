//! Other names of a cultivar.

use actix_web::{delete, get, post, web};
use storksbill_db::DbError;
use storksbill_db::rows::cultivar_names::{self, OtherName};
use storksbill_db::rows::cultivars;
use storksbill_domain::ids::{CultivarId, CultivarNameId};

use super::dto::{OtherNameIn, OtherNameOut};
use crate::app::App;
use crate::http::auth::{Auth, Registrar};
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List the other names of a cultivar
///
/// Synonyms, trade designations, former names and misspellings, by name. The list of cultivars finds it by each.
#[utoipa::path(
    tag = "names",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Other names", body = List<OtherNameOut>))
)]
#[get("/cultivars/{cultivar_id}/names")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    page: Page,
) -> Result<List<OtherNameOut>, Problem> {
    let id = path.into_inner();
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let rows = app
        .db
        .read(move |conn| {
            cultivars::find_visible_to(conn, &auth, id)?.ok_or_else(|| Problem::not_found("cultivar"))?;
            Ok::<_, Problem>(cultivar_names::page(conn, id, &after, limit)?)
        })
        .await?;
    Ok(page.list(rows, |row: &OtherName| Place(row.name_key.clone(), row.id.to_string()), OtherNameOut::of))
}

/// Enter another name of a cultivar
///
/// The registrar. A cultivar has each name once.
#[utoipa::path(
    tag = "names",
    security(("session" = [])),
    request_body = OtherNameIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = OtherNameOut, headers(("Location" = String, description = "The cultivar's other names"))))
)]
#[post("/cultivars/{cultivar_id}/names")]
pub async fn create(
    registrar: Registrar,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    body: Valid<OtherNameIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let (member, now) = (registrar.member, app.clock.now());
    app.db
        .write(move |conn| {
            ticket.once(conn, member, now, |conn| {
                let seen = cultivars::find_visible_to(conn, &registrar, id)?;
                let cultivar = seen.ok_or_else(|| Problem::not_found("cultivar"))?;
                if let Some(into) = cultivar.merged_into_id {
                    let words = format!("It was merged into cultivar {into}; name that one.");
                    return Err(Problem::new(Code::WrongState, words));
                }
                let row = value.clone().into_row(id, member, now.naive_utc());
                if row.name_key == cultivar.name_key {
                    return Err(named_so());
                }
                cultivar_names::insert(conn, &row).map_err(taken)?;
                Reply::created(format!("/api/v1/cultivars/{id}/names"), 1, &OtherNameOut::of(row))
            })
        })
        .await
}

fn named_so() -> Problem {
    Problem::new(Code::Taken, "The cultivar has this name already.").at(
        "/name",
        "taken",
        "is a name of this cultivar already",
    )
}

fn taken(error: DbError) -> Problem {
    Problem::from(error).on_constraint("cultivar_names_cultivar_id_name_key_key", named_so())
}

/// Take another name of a cultivar away
///
/// The registrar, where it was entered in error.
#[utoipa::path(
    tag = "names",
    security(("session" = [])),
    responses((status = 204, description = "Taken away"))
)]
#[delete("/cultivars/{cultivar_id}/names/{name_id}")]
pub async fn remove(
    _registrar: Registrar,
    app: web::Data<App>,
    path: web::Path<(CultivarId, CultivarNameId)>,
) -> Result<Reply, Problem> {
    let (cultivar, id) = path.into_inner();
    app.db
        .write(move |conn| match cultivar_names::delete(conn, cultivar, id)? {
            0 => Err(Problem::not_found("name")),
            _ => Ok(Reply::no_content()),
        })
        .await
}
