//! Ask for a fit or a backtest, and see what came of them.

use actix_web::{get, post, web};
use chrono::NaiveDate;
use storksbill_db::rows::fits;
use storksbill_domain::words::JobKind;

use super::dto::{BacktestOut, DoubtOut, DoubtRule, FitOut};
use crate::app::App;
use crate::forecasts::pooled::{Doubted, PooledRecords};
use crate::http::auth::{Administrator, Auth, Officer};
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::jobs::{self, JobOut};

/// Fit the forecasts' parameters now
///
/// Administrators only; it is done every night without being asked. Answers at once with a job; follow
/// `Location` for its progress. Forecasts take new records and readings into account between fits too.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    responses((status = 202, description = "Will be fitted", body = JobOut, headers(("Location" = String, description = "The job"))))
)]
#[post("/forecasts/fits")]
pub async fn refit(administrator: Administrator, app: web::Data<App>) -> Result<Reply, Problem> {
    put_in(&app, JobKind::Refit, administrator).await
}

/// Compare forecasts of past seasons with what came
///
/// Administrators only. Leaves out one season, one region, a tenth of the growers at a time, forecasts them
/// from the rest 12, 8, 4 and 2 weeks ahead, and compares. Takes minutes; answers at once with a job.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    responses((status = 202, description = "Will be compared", body = JobOut, headers(("Location" = String, description = "The job"))))
)]
#[post("/forecasts/backtests")]
pub async fn test_again(administrator: Administrator, app: web::Data<App>) -> Result<Reply, Problem> {
    put_in(&app, JobKind::Backtest, administrator).await
}

async fn put_in(app: &App, kind: JobKind, asker: Administrator) -> Result<Reply, Problem> {
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            let job = jobs::enqueue(conn, kind, None, Some(asker.member), now)?;
            Reply::accepted(format!("/api/v1/jobs/{}", job.id), &JobOut::of(job))
        })
        .await
}

/// List fits
///
/// Newest first.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Fits, newest first", body = List<FitOut>))
)]
#[get("/forecasts/fits")]
pub async fn list(_auth: Auth, app: web::Data<App>, page: Page) -> Result<List<FitOut>, Problem> {
    let before = page.after.as_ref().map(|Place(version, _)| version.parse::<i32>()).transpose();
    let before = before.map_err(|_other_list| other_list())?;
    let limit = page.probe();
    let rows = app.db.read(move |conn| Ok::<_, Problem>(fits::fits_page(conn, before, limit)?)).await?;
    let place = |fit: &fits::Fit| Place(fit.version_no.to_string(), fit.id.to_string());
    Ok(page.list(rows, place, FitOut::of))
}

fn other_list() -> Problem {
    Problem::new(Code::BadCursor, "This cursor belongs to another list.")
}

/// See a fit
///
/// What was found, from how much, and when.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    responses((status = 200, description = "The fit", body = FitOut))
)]
#[get("/forecasts/fits/{version_no}")]
pub async fn one(_auth: Auth, app: web::Data<App>, path: web::Path<i32>) -> Result<Reply, Problem> {
    let version = path.into_inner();
    let fit = app.db.read(move |conn| Ok::<_, Problem>(fits::fit(conn, version)?)).await?;
    Reply::ok(&FitOut::of(fit.ok_or_else(|| Problem::not_found("fit"))?))
}

/// How right are the forecasts?
///
/// The last comparison of forecasts of past seasons with what came, beside two plain references. No log-in
/// needed.
#[utoipa::path(
    tag = "forecasts",
    responses(
        (status = 200, description = "The last comparison", body = BacktestOut),
        (status = 404, description = "None was made yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/forecasts/backtest")]
pub async fn backtest(app: web::Data<App>) -> Result<Reply, Problem> {
    let latest = latest_backtest(&app).await?;
    Reply::ok(&latest.ok_or_else(|| Problem::not_found("comparison"))?)
}

/// The last comparison, if one was made.
pub async fn latest_backtest(app: &App) -> Result<Option<BacktestOut>, Problem> {
    let latest = app.db.read(|conn| Ok::<_, Problem>(fits::latest_backtest(conn)?)).await?;
    latest
        .map(|(kept, _)| {
            serde_json::from_str(&kept.report).map_err(|error| {
                Problem::new(Code::Internal, format!("The kept report cannot be read: {error}."))
            })
        })
        .transpose()
}

/// List records that the forecasts set aside
///
/// Officers only. Flowerings of shared plants whose dates cannot be right or lie far from every other, with the
/// rule that set each aside: ask the grower. Nothing is changed or deleted.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Set aside, by plant and stop", body = List<DoubtOut>))
)]
#[get("/forecasts/set-aside")]
pub async fn doubts(_officer: Officer, app: web::Data<App>, page: Page) -> Result<List<DoubtOut>, Problem> {
    let after = match &page.after {
        Some(Place(plant, stop)) => {
            let stop = stop.parse::<NaiveDate>().map_err(|_other_list| other_list())?;
            Some((plant.clone(), stop))
        }
        None => None,
    };
    let mut rows = PooledRecords::of(&app).await?.doubted();
    rows.sort_by_key(|(plant, stop, _)| (plant.to_string(), *stop));
    if let Some(after) = after {
        rows.retain(|(plant, stop, _)| (plant.to_string(), *stop) > after);
    }
    let place = |(plant, stop, _): &Doubted| Place(plant.to_string(), stop.to_string());
    Ok(page.list(rows, place, |(plant_id, stopped_on, reason)| DoubtOut {
        plant_id,
        stopped_on,
        rule: DoubtRule::of(reason),
        words: format!("{reason}."),
    }))
}
