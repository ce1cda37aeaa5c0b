//! See jobs.

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::jobs;
use storksbill_domain::ids::JobId;
use storksbill_domain::policy;
use storksbill_domain::words::JobState;
use utoipa::IntoParams;

use super::dto::JobOut;
use crate::app::App;
use crate::http::auth::{Administrator, Auth};
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Which jobs.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Which {
    /// Those that stand here; all when not given.
    state: Option<JobState>,
}

/// List jobs
///
/// Administrators only. Newest first.
#[utoipa::path(
    tag = "jobs",
    security(("session" = [])),
    params(Which, Page),
    responses((status = 200, description = "Jobs, newest first", body = List<JobOut>))
)]
#[get("/jobs")]
pub async fn list(
    _administrator: Administrator,
    app: web::Data<App>,
    which: web::Query<Which>,
    page: Page,
) -> Result<List<JobOut>, Problem> {
    let state = which.state;
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    let found =
        app.db.read(move |conn| Ok::<_, Problem>(jobs::page(conn, state, after.as_deref(), limit)?)).await?;
    Ok(page.list(found, |job| Place(String::new(), job.id.to_string()), JobOut::of))
}

/// See a job
///
/// Whoever asked for it, alone or with others, or an administrator. Ask again until `state` is `done` or `failed`.
#[utoipa::path(
    tag = "jobs",
    security(("session" = [])),
    responses((status = 200, description = "The job as it stands", body = JobOut))
)]
#[get("/jobs/{job_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<JobId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .glance(move |conn| {
            let job = jobs::find(conn, id)?.ok_or_else(|| Problem::not_found("job"))?;
            let asked_too = jobs::is_asker(conn, id, auth.member)?;
            if !asked_too && !policy::may_see_job(&auth, job.asked_by) {
                return Err(Problem::not_found("job"));
            }
            Reply::ok(&JobOut::of(job))
        })
        .await
}
