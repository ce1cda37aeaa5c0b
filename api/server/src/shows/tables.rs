//! Tables for the secretary (RFC 4180): entries, exhibitors with their money, receipts, prizes, results.

use std::collections::BTreeMap;

use actix_web::{HttpResponse, get, web};
use storksbill_db::rows::entries::{self, Filter};
use storksbill_db::rows::judging;
use storksbill_domain::ids::{ExhibitorId, ShowId};

use super::printouts::said;
use super::published::Published;
use super::reckoning::Day;
use super::{documents, show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::{MaybeAuth, Officer};
use crate::http::problem::Problem;
use crate::tables::{download, sheet};

/// Export the entries of a show
///
/// As CSV, a line an entry by number: for the secretary's own lists. Officers of the club.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "The entries", body = String, content_type = "text/csv"),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/entries.csv")]
pub async fn entries_table(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<HttpResponse, Problem> {
    const COLUMNS: [&str; 12] = [
        "number",
        "class",
        "title",
        "exhibitor_number",
        "exhibitor",
        "label",
        "state",
        "fee_pence",
        "late_reason",
        "moved_reason",
        "staged_at",
        "entered_at",
    ];
    let id = path.into_inner();
    let csv = app
        .db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let (_, schedule) = documents::in_force(conn, &show)?;
            let rows = entries::page(conn, id, Filter::default(), None, i64::MAX)?;
            let lines = rows.into_iter().map(|(entry, exhibitor)| {
                let class = schedule.classes.iter().find(|class| class.id == entry.class_id);
                [
                    entry.number.to_string(),
                    class.map(|class| class.label.to_string()).unwrap_or_default(),
                    class.map(|class| class.title.clone()).unwrap_or_default(),
                    exhibitor.number.to_string(),
                    exhibitor.name,
                    entry.label.unwrap_or_default(),
                    entry.state.to_string(),
                    entry.fee_pence.to_string(),
                    entry.late_reason.unwrap_or_default(),
                    entry.moved_reason.unwrap_or_default(),
                    entry.staged_at.map(|at| at.and_utc().to_rfc3339()).unwrap_or_default(),
                    entry.created_at.and_utc().to_rfc3339(),
                ]
            });
            sheet::write(&COLUMNS, lines)
        })
        .await?;
    Ok(download("entries.csv", csv))
}

/// Export the exhibitors of a show
///
/// As CSV, a line an exhibitor by number, with how many entries stand, what they cost and what was paid: for the desk.
/// Officers of the club. It holds personal data: keep it no longer than the show needs it.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "The exhibitors", body = String, content_type = "text/csv"))
)]
#[get("/shows/{show_id}/exhibitors.csv")]
pub async fn exhibitors_table(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<HttpResponse, Problem> {
    const COLUMNS: [&str; 10] = [
        "number",
        "name",
        "member",
        "joint",
        "trade",
        "household",
        "publish_as",
        "entries",
        "due_pence",
        "paid_pence",
    ];
    let id = path.into_inner();
    let csv = app
        .db
        .read(move |conn| {
            show_in_charge_of(conn, &officer, id)?;
            let exhibitors = entries::exhibitors(conn, id)?;
            let ids: Vec<ExhibitorId> = exhibitors.iter().map(|one| one.id).collect();
            let money = entries::money(conn, &ids)?;
            let truth = |yes: bool| if yes { "yes" } else { "no" }.to_owned();
            let lines = exhibitors.into_iter().map(|one| {
                let money = money.get(&one.id).copied().unwrap_or_default();
                [
                    one.number.to_string(),
                    one.name,
                    truth(one.member_id.is_some()),
                    truth(one.is_joint),
                    truth(one.in_the_trade),
                    one.household.unwrap_or_default(),
                    one.publish_as.to_string(),
                    money.entries.to_string(),
                    money.due.to_string(),
                    money.paid.to_string(),
                ]
            });
            sheet::write(&COLUMNS, lines)
        })
        .await?;
    Ok(download("exhibitors.csv", csv))
}

/// Export the receipts of a show
///
/// As CSV, a line a receipt by number: for the treasurer. Money given back is negative. Officers of the club.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "The receipts", body = String, content_type = "text/csv"))
)]
#[get("/shows/{show_id}/receipts.csv")]
pub async fn receipts_table(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<HttpResponse, Problem> {
    const COLUMNS: [&str; 7] =
        ["number", "received_at", "exhibitor_number", "exhibitor", "pence", "how", "note"];
    let id = path.into_inner();
    let csv = app
        .db
        .read(move |conn| {
            show_in_charge_of(conn, &officer, id)?;
            let people: BTreeMap<ExhibitorId, (i32, String)> = entries::exhibitors(conn, id)?
                .into_iter()
                .map(|one| (one.id, (one.number, one.name)))
                .collect();
            let lines = entries::receipts(conn, id, None)?.into_iter().map(|receipt| {
                let who = people.get(&receipt.exhibitor_id);
                [
                    receipt.number.to_string(),
                    receipt.received_at.and_utc().to_rfc3339(),
                    who.map(|(number, _)| number.to_string()).unwrap_or_default(),
                    who.map(|(_, name)| name.clone()).unwrap_or_default(),
                    receipt.pence.to_string(),
                    receipt.how.to_string(),
                    receipt.note.unwrap_or_default(),
                ]
            });
            sheet::write(&COLUMNS, lines)
        })
        .await?;
    Ok(download("receipts.csv", csv))
}

/// Export the prizes of a show
///
/// As CSV, a line an exhibitor by number: firsts, points and prize money as they are reckoned now. Officers of the club.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "The prizes", body = String, content_type = "text/csv"),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/prizes.csv")]
pub async fn prizes_table(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<HttpResponse, Problem> {
    const COLUMNS: [&str; 5] = ["exhibitor_number", "exhibitor", "firsts", "points", "prize_pence"];
    let id = path.into_inner();
    let csv = app
        .db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let day = Day::load(conn, &show)?;
            let lines = day.results().exhibitors.into_iter().map(|one| {
                [
                    one.exhibitor.0.to_string(),
                    day.full_name(one.exhibitor).to_owned(),
                    one.firsts.to_string(),
                    one.points.to_string(),
                    one.prize.0.to_string(),
                ]
            });
            sheet::write(&COLUMNS, lines)
        })
        .await?;
    Ok(download("prizes.csv", csv))
}

/// Export results
///
/// As CSV, class by class, from the results as they were given out last, with or without a log-in: exhibitors as they
/// chose to be published. `result` is a place, or what else was said.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    responses((status = 200, description = "The results", body = String, content_type = "text/csv"))
)]
#[get("/shows/{show_id}/results.csv")]
pub async fn results_table(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<HttpResponse, Problem> {
    const COLUMNS: [&str; 9] =
        ["class", "title", "staged", "result", "sharing", "entry", "exhibitor", "label", "points"];
    let id = path.into_inner();
    let csv = app
        .db
        .read(move |conn| {
            let show = visible_show(conn, asker.0.as_deref(), id)?;
            let last = judging::last_results(conn, id)?.ok_or_else(|| Problem::not_found("result"))?;
            let published = Published::read(conn, &show, &last)?;
            let published = &published;
            let lines = published.results.classes.iter().flat_map(|class| {
                let (label, title, staged) = (&class.label, &class.title, class.staged.to_string());
                class.lines.iter().map(move |line| {
                    let place = line.place.map(|place| place.to_string());
                    [
                        label.clone(),
                        title.clone(),
                        staged.clone(),
                        place.unwrap_or_else(|| line.verdict.as_ref().map(said).unwrap_or_default()),
                        line.sharing.to_string(),
                        line.entry.to_string(),
                        published.name(line.exhibitor).to_owned(),
                        line.label.clone().unwrap_or_default(),
                        line.points.as_str().unwrap_or_default().to_owned(),
                    ]
                })
            });
            sheet::write(&COLUMNS, lines)
        })
        .await?;
    Ok(download("results.csv", csv))
}
