//! See registrations.

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::registrations;
use storksbill_domain::ids::RegistrationId;
use storksbill_domain::words::RegistrationState;
use utoipa::IntoParams;

use super::dto::{RegistrationOut, StepOut};
use super::steps;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Which registrations.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Which {
    /// Only those that stand so.
    pub state: Option<RegistrationState>,
    /// For the registrar: only those that you proposed yourself.
    pub mine: Option<bool>,
}

/// List names before the registrar
///
/// Yours; to the registrar all, the first proposed first: with `state=proposed` this is the queue.
#[utoipa::path(
    tag = "register",
    security(("session" = [])),
    params(Which, Page),
    responses((status = 200, description = "Registrations", body = List<RegistrationOut>))
)]
#[get("/registrations")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    which: web::Query<Which>,
    page: Page,
) -> Result<List<RegistrationOut>, Problem> {
    let every = auth.is_registrar() && which.mine != Some(true);
    let by = (!every).then_some(auth.member);
    let state = which.state;
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    let rows = app
        .db
        .read(move |conn| Ok::<_, Problem>(registrations::page(conn, by, state, after.as_deref(), limit)?))
        .await?;
    let rows: Vec<RegistrationOut> = rows.into_iter().map(RegistrationOut::of).collect::<Result<_, _>>()?;
    Ok(page.list(rows, |row| Place(String::new(), row.id.to_string()), |row| row))
}

/// See a name before the registrar
///
/// Yours; to the registrar any.
#[utoipa::path(
    tag = "register",
    security(("session" = [])),
    responses((status = 200, description = "The registration", body = RegistrationOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/registrations/{registration_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<RegistrationId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let row = app.db.read(move |conn| steps::visible(conn, &auth, id)).await?;
    let version = row.0.version;
    Reply::versioned(version, &RegistrationOut::of(row)?)
}

/// List the steps of a registration
///
/// What was done, by whom, when and why, in its order; steps are never changed.
#[utoipa::path(
    tag = "register",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Steps", body = List<StepOut>))
)]
#[get("/registrations/{registration_id}/steps")]
pub async fn steps_of(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<RegistrationId>,
    page: Page,
) -> Result<List<StepOut>, Problem> {
    let id = path.into_inner();
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    let rows = app
        .db
        .read(move |conn| {
            steps::visible(conn, &auth, id)?;
            Ok::<_, Problem>(registrations::steps(conn, id, after.as_deref(), limit)?)
        })
        .await?;
    let rows: Vec<StepOut> = rows.into_iter().map(StepOut::of).collect::<Result<_, _>>()?;
    Ok(page.list(rows, |row| Place(String::new(), row.id.to_string()), |row| row))
}
