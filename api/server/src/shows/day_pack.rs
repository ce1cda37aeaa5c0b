//! The day pack: all that a hall without network works from, in one file.

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, X_CONTENT_TYPE_OPTIONS};
use actix_web::{HttpResponse, get, web};
use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use storksbill_db::Conn;
use storksbill_db::rows::entries::{Entry, Exhibitor};
use storksbill_domain::ids::ShowId;
use storksbill_domain::policy::Actor;
use storksbill_domain::shows::{Pence, printed_rules};
use utoipa::ToSchema;

use super::entry_dto::ClassNameOut;
use super::find::name_of;
use super::hall::Hall;
use super::results_lines::{COLUMNS, RESULT_CODES};
use super::show_in_charge_of;
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::print::Text;

/// An exhibit of the pack: its number, and no name.
#[derive(Debug, Serialize, ToSchema)]
pub struct PackExhibit {
    /// The number on the card, with its check digit.
    pub entry: i64,
    /// What stands on the card beside the number.
    pub label: Option<String>,
    /// The exhibitor's number at this show.
    pub exhibitor: i32,
    /// Whether it was staged when the pack was made.
    pub staged: bool,
}

/// A class of the pack.
#[derive(Debug, Serialize, ToSchema)]
pub struct PackClass {
    /// Which.
    #[serde(flatten)]
    pub class: ClassNameOut,
    /// The key of its section.
    pub section: Option<String>,
    /// What it demands, as printed.
    pub demands: Vec<String>,
    /// Its prizes, first to last.
    pub prizes: Vec<Pence>,
    /// Its exhibits by number.
    pub exhibits: Vec<PackExhibit>,
}

/// What may be written as a result.
#[derive(Debug, Serialize, ToSchema)]
pub struct PackCode {
    /// The code.
    pub code: String,
    /// What it means.
    pub meaning: String,
}

/// All that a hall without network works from.
#[derive(Debug, Serialize, ToSchema)]
pub struct DayPackOut {
    /// The show.
    pub show_id: ShowId,
    /// Its name.
    pub name: String,
    /// Its day.
    pub held_on: NaiveDate,
    /// By which version of the schedule.
    pub schedule_number: i32,
    /// The hash of that version.
    pub schedule_sha256: String,
    /// When the pack was made: what was entered or withdrawn later is not in it.
    pub made_at: DateTime<Utc>,
    /// The classes, in the order of their numbers.
    pub classes: Vec<PackClass>,
    /// What may be written as a result.
    pub codes: Vec<PackCode>,
    /// The columns of the table that takes results.
    pub columns: Vec<String>,
}

/// Get the day pack
///
/// For a hall without network: classes with what they demand, the numbers of their exhibits, and the codes for results,
/// as JSON. No names. Officers of the club. What is written down comes back as a table:
/// `POST /api/v1/shows/{show_id}/results-sheet`.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "The pack", body = DayPackOut),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/day-pack")]
pub async fn pack_data(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let now = app.clock.now();
    app.db.read(move |conn| Reply::ok(&pack(conn, &officer, id, now)?)).await
}

/// Get the day pack as a page
///
/// The same as one HTML file to be saved: it opens in a browser without network, takes results class by class, keeps them
/// in the browser as they are typed, and saves them as the table to send in. Officers of the club.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "The page", body = String, content_type = "text/html"),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/day-pack.html")]
pub async fn pack_page(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<HttpResponse, Problem> {
    let id = path.into_inner();
    let now = app.clock.now();
    let html = app
        .db
        .read(move |conn| {
            let pack = pack(conn, &officer, id, now)?;
            let data = serde_json::to_string(&pack).map_err(|error| {
                Problem::new(Code::Internal, format!("The pack cannot be written: {error}."))
            })?;
            let title = format!("{} {}", pack.name, pack.held_on);
            Ok::<_, Problem>(
                include_str!("day_pack.html")
                    .replace("{{title}}", &Text(&title).to_string())
                    // Within a script element `<` could end it.
                    .replace("{{data}}", &data.replace('<', "\\u003c")),
            )
        })
        .await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/html; charset=utf-8"))
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"day-pack.html\""))
        .insert_header((X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((CACHE_CONTROL, "private, no-store"))
        .body(html))
}

fn pack(conn: &mut Conn, actor: &Actor, id: ShowId, now: DateTime<Utc>) -> Result<DayPackOut, Problem> {
    let show = show_in_charge_of(conn, actor, id)?;
    let hall = Hall::load(conn, &show)?;
    let exhibit = |(entry, exhibitor): (&Entry, &Exhibitor)| PackExhibit {
        entry: entry.number,
        label: entry.label.clone(),
        exhibitor: exhibitor.number,
        staged: entry.staged_at.is_some(),
    };
    let classes = hall
        .classes()
        .map(|class| PackClass {
            class: name_of(class),
            section: class.section.clone(),
            demands: printed_rules(class, &hall.names),
            prizes: class.rules.prizes.clone(),
            exhibits: hall.of(class.id).map(exhibit).collect(),
        })
        .collect();
    let codes = RESULT_CODES
        .iter()
        .map(|(code, meaning)| PackCode { code: (*code).to_owned(), meaning: (*meaning).to_owned() })
        .collect();
    Ok(DayPackOut {
        show_id: id,
        name: show.name,
        held_on: show.held_on,
        schedule_number: hall.version.number,
        schedule_sha256: hall.version.sha256,
        made_at: now,
        classes,
        codes,
        columns: COLUMNS.iter().map(|column| (*column).to_owned()).collect(),
    })
}
