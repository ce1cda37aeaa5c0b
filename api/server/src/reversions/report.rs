//! A grower's own reports.

use actix_web::{delete, get, put, web};
use chrono::Datelike;
use storksbill_db::Conn;
use storksbill_db::rows::cultivars::{self, Cultivar};
use storksbill_db::rows::reversions::{self, Report};
use storksbill_domain::ids::CultivarId;
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::Origin;

use super::dto::{ReportIn, ReportOut};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::etag::{IfMatch, check_put};
use crate::http::json::{Findings, Valid};
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List your reports of sports
///
/// How many plants of each sport you grew and how many went back, by year.
#[utoipa::path(
    tag = "reversions",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Your reports by year", body = List<ReportOut>))
)]
#[get("/members/me/reversions")]
pub async fn list(auth: Auth, app: web::Data<App>, page: Page) -> Result<List<ReportOut>, Problem> {
    let after = page.after.clone().map(|Place(year, id)| year.parse::<i32>().map(|year| (year, id)));
    let after = after
        .transpose()
        .map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let own = app
        .db
        .read(move |conn| Ok::<_, Problem>(reversions::own_page(conn, auth.member, after.as_ref(), limit)?))
        .await?;
    let place = |report: &Report| Place(report.year.to_string(), report.cultivar_id.to_string());
    Ok(page.list(own, place, ReportOut::of))
}

/// See your report of a sport's year
///
/// Yours alone; 404 where you have reported nothing.
#[utoipa::path(
    tag = "reversions",
    security(("session" = [])),
    params(("year" = i32, Path, description = "The year")),
    responses((status = 200, description = "The report", body = ReportOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/cultivars/{cultivar_id}/reversions/{year}")]
pub async fn one(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(CultivarId, i32)>,
) -> Result<Reply, Problem> {
    let (cultivar, year) = path.into_inner();
    let found = app
        .db
        .glance(move |conn| Ok::<_, Problem>(reversions::own(conn, auth.member, cultivar, year)?))
        .await?;
    let report = found.ok_or_else(|| Problem::not_found("report"))?;
    let version = report.version;
    Reply::versioned(version, &ReportOut::of(report))
}

/// Report a sport's year
///
/// How many plants of it you grew and how many went back: a year in which all stayed true is told too, or the rate
/// would come out too high. One report a year; the first time without `If-Match`, to change it with the `ETag` you
/// read. Nobody else is shown it. Only sports go back: any other cultivar is refused.
#[utoipa::path(
    tag = "reversions",
    security(("session" = [])),
    request_body = ReportIn,
    params(
        ("year" = i32, Path, description = "The year, not after this one"),
        ("If-Match" = Option<String>, Header, description = "The ETag you read, where there is a report")
    ),
    responses(
        (status = 200, description = "Changed", body = ReportOut),
        (status = 201, description = "Reported", body = ReportOut)
    )
)]
#[put("/cultivars/{cultivar_id}/reversions/{year}")]
pub async fn set(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(CultivarId, i32)>,
    if_match: Option<IfMatch>,
    body: Valid<ReportIn>,
) -> Result<Reply, Problem> {
    let (cultivar_id, year) = path.into_inner();
    let given = body.value;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            let sport = sport(conn, &auth, cultivar_id)?;
            let mut found = Findings::default();
            found.range("year", year, sport.raised_year.unwrap_or(1900).max(1900), now.year());
            if let Some(id) = given.went_back_to_id
                && cultivars::visible_among(conn, &auth, &[id])?.is_empty()
            {
                found.add(
                    "/went_back_to_id",
                    "not-found",
                    "is not a cultivar of this society; say it in words",
                );
            }
            found.into_result()?;
            let before = reversions::own(conn, auth.member, cultivar_id, year)?;
            check_put(if_match.as_ref(), before.as_ref().map(|report| report.version), "report")?;
            let report = Report {
                member_id: auth.member,
                cultivar_id,
                year,
                plants: given.plants,
                reverted: given.reverted,
                went_back_to_id: given.went_back_to_id,
                went_back_to: given
                    .went_back_to
                    .as_deref()
                    .map(names::tidy)
                    .filter(|words| !words.is_empty()),
                version: before.as_ref().map_or(1, |report| report.version + 1),
                created_at: before.as_ref().map_or(now.naive_utc(), |report| report.created_at),
            };
            let version = report.version;
            if before.is_some() {
                reversions::update(conn, &report)?;
                Reply::versioned(version, &ReportOut::of(report))
            } else {
                reversions::insert(conn, &report)?;
                let address = format!("/api/v1/cultivars/{cultivar_id}/reversions/{year}");
                Reply::created(address, version, &ReportOut::of(report))
            }
        })
        .await
}

/// Take your report of a sport's year away
///
/// Where it was entered in error.
#[utoipa::path(
    tag = "reversions",
    security(("session" = [])),
    params(
        ("year" = i32, Path, description = "The year"),
        ("If-Match" = String, Header, description = "The ETag you read")
    ),
    responses((status = 204, description = "Taken away"))
)]
#[delete("/cultivars/{cultivar_id}/reversions/{year}")]
pub async fn remove(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(CultivarId, i32)>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let (cultivar, year) = path.into_inner();
    app.db
        .write(move |conn| {
            let report = reversions::own(conn, auth.member, cultivar, year)?
                .ok_or_else(|| Problem::not_found("report"))?;
            if_match.check(report.version)?;
            reversions::delete(conn, auth.member, cultivar, year)?;
            Ok(Reply::no_content())
        })
        .await
}

/// The sport of this id, if the asker may see it; 409 where it is no sport.
pub fn sport(conn: &mut Conn, actor: &Actor, id: CultivarId) -> Result<Cultivar, Problem> {
    let seen = cultivars::find_visible_to(conn, actor, id)?;
    let cultivar = seen.ok_or_else(|| Problem::not_found("cultivar"))?;
    if let Some(into) = cultivar.merged_into_id {
        let words = format!("It was merged into cultivar {into}; ask after that one.");
        return Err(Problem::new(Code::WrongState, words));
    }
    if cultivar.origin != Origin::Sport {
        return Err(Problem::new(
            Code::WrongState,
            "It is not entered as a sport, and only a sport can go back to what it came from.",
        ));
    }
    Ok(cultivar)
}
