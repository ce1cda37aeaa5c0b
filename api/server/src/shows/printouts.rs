//! What is printed for a show: the schedule, cards, sheets for stewards and judges, results, prizes and trophies.
//!
//! Each is one HTML page for the printer, A4. Cards stand four to a sheet: folded along the line, the name lies behind
//! and is hidden while the number stands up; or with the number alone.

use std::fmt::Write;

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::judging;
use storksbill_domain::ids::{ClassId, ExhibitorId, ShowId};
use storksbill_domain::shows::{Pence, ShowSchedule};
use storksbill_domain::words::{OfficialRole, ResultState};
use utoipa::{IntoParams, ToSchema};

use super::booklet::demands;
use super::day::Hands;
use super::hall::Hall;
use super::naming::Told;
use super::published::Published;
use super::reckoning::Day;
use super::{show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::{Auth, MaybeAuth, Officer};
use crate::http::problem::Problem;
use crate::print::{Sheet, Text};

/// How cards are laid out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Layout {
    /// The name below a line to fold along: it lies behind while the number stands up.
    #[default]
    Folded,
    /// The number alone.
    NumberOnly,
}

/// Which cards.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Cards {
    /// `folded` when not given.
    #[serde(default)]
    #[param(required = false, inline)]
    pub layout: Layout,
    /// Of one class; all when not given.
    pub class_id: Option<ClassId>,
    /// Of one exhibitor; all when not given.
    pub exhibitor_id: Option<ExhibitorId>,
}

/// Print entry cards
///
/// Four to a sheet, class by class: officers of the club. Names stand as exhibitors are published, since cards lie open
/// after judging; the exhibitor's number tells officers whose each is.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    params(Cards),
    responses(
        (status = 200, description = "The cards", body = String, content_type = "text/html"),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/print/cards")]
pub async fn cards(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    asked: web::Query<Cards>,
) -> Result<Sheet, Problem> {
    let id = path.into_inner();
    let Cards { layout, class_id, exhibitor_id } = asked.into_inner();
    app.db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let hall = Hall::load(conn, &show)?;
            let told = Told::of(conn, &show, hall.exhibitors())?;
            let mut body = "<div class=\"cards\">\n".to_owned();
            for (class, entry, exhibitor) in hall.by_class() {
                if class_id.is_some_and(|id| id != class.id) || exhibitor_id.is_some_and(|id| id != exhibitor.id) {
                    continue;
                }
                let _ = writeln!(
                    body,
                    "<section class=\"card\"><p class=\"quiet\">{}</p><p class=\"class\">Class {}</p><p class=\"number\">{}</p><p class=\"kind\">{}</p>",
                    Text(&show.name),
                    Text(&class.label.to_string()),
                    entry.number,
                    Text(entry.label.as_deref().unwrap_or_default()),
                );
                if layout == Layout::Folded {
                    let _ = writeln!(
                        body,
                        "<div class=\"behind\"><p class=\"quiet\">fold here; the name lies behind</p><p class=\"name\">{}</p><p>Exhibitor {}</p></div>",
                        Text(&told.name(exhibitor.id)),
                        exhibitor.number,
                    );
                }
                body += "</section>\n";
            }
            body += "</div>\n";
            Ok::<_, Problem>(Sheet::a4(&format!("Entry cards, {}", show.name), &body))
        })
        .await
}

/// Print the stewards' sheets
///
/// A class each: every exhibit with its number, its exhibitor and the limits to measure against, and boxes to tick.
/// Officers of the club, and stewards of the classes.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "The sheets", body = String, content_type = "text/html"),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/print/stewards")]
pub async fn stewards(auth: Auth, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Sheet, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let hall = Hall::load(conn, &show)?;
            let hands = Hands::of(conn, &auth, &show, OfficialRole::Steward)?;
            let told = Told::of(conn, &show, hall.exhibitors())?;
            let mut body = String::new();
            for class in hall.classes().filter(|class| hands.hold(class)) {
                let _ = writeln!(
                    body,
                    "<section class=\"sheet\"><h2>Class {}: {}</h2>{}<table><tr><th class=\"box\">Here</th><th class=\"box\">Fits</th><th>Number</th><th>Exhibit</th><th>Exhibitor</th></tr>",
                    Text(&class.label.to_string()),
                    Text(&class.title),
                    demands(class, &hall.names),
                );
                for (entry, exhibitor) in hall.of(class.id) {
                    let _ = writeln!(
                        body,
                        "<tr><td class=\"tick\"></td><td class=\"tick\"></td><td class=\"number\">{}</td><td>{}</td><td>{}</td></tr>",
                        entry.number,
                        Text(entry.label.as_deref().unwrap_or_default()),
                        Text(&told.in_the_hall(exhibitor.id)),
                    );
                }
                body += "</table></section>\n";
            }
            Ok::<_, Problem>(Sheet::a4(&format!("Stewards' sheets, {}", show.name), &body))
        })
        .await
}

/// Print the judges' sheets
///
/// A class each: numbers and no names, places to write in, and a line to sign. Officers of the club, and judges of the
/// classes.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "The sheets", body = String, content_type = "text/html"),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/print/judges")]
pub async fn judges(auth: Auth, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Sheet, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let hall = Hall::load(conn, &show)?;
            let hands = Hands::of(conn, &auth, &show, OfficialRole::Judge)?;
            let mut body = String::new();
            for class in hall.classes().filter(|class| hands.hold(class)) {
                let numbers: Vec<String> = hall.of(class.id).map(|(entry, _)| entry.number.to_string()).collect();
                let _ = writeln!(
                    body,
                    "<section class=\"sheet\"><h2>Class {}: {}</h2>{}<p>Exhibits: <span class=\"number\">{}</span></p><table><tr><th class=\"place\">Place</th><th>Number</th><th>Remark</th></tr>",
                    Text(&class.label.to_string()),
                    Text(&class.title),
                    demands(class, &hall.names),
                    Text(&numbers.join("  ")),
                );
                for place in ["1st", "2nd", "3rd", "4th", "Commended", "Not as schedule: why"] {
                    let _ = writeln!(body, "<tr class=\"write\"><td>{place}</td><td></td><td></td></tr>");
                }
                body += "</table><p class=\"sign\">Judge: ______________________  Steward: ______________________</p></section>\n";
            }
            Ok::<_, Problem>(Sheet::a4(&format!("Judges' sheets, {}", show.name), &body))
        })
        .await
}

/// Print the results
///
/// As they were given out last, with exhibitors as they chose to be published, and the trophies.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    responses((status = 200, description = "The results", body = String, content_type = "text/html"))
)]
#[get("/shows/{show_id}/print/results")]
pub async fn outcome(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Sheet, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, asker.0.as_deref(), id)?;
            let row = judging::last_results(conn, id)?;
            let row = row.ok_or_else(|| Problem::not_found("result"))?;
            let published = Published::read(conn, &show, &row)?;
            let out = &published.results;
            let mut body = String::new();
            let how = if row.reason.is_some() { " (given out anew)" } else { "" };
            let firm = match row.state {
                ResultState::Provisional => "Provisional",
                ResultState::Final => "Final",
            };
            line(&mut body, &format!("{firm} results{how}, {}", row.given_at.format("%-d %B %Y")));
            for class in &out.classes {
                let _ = writeln!(
                    body,
                    "<section><h2>Class {}: {}</h2><p class=\"quiet\">{} staged</p><table>",
                    Text(&class.label),
                    Text(&class.title),
                    class.staged
                );
                for line in &class.lines {
                    let place = match (line.place, line.sharing) {
                        (Some(place), sharing) if sharing > 1 => format!("{place} ="),
                        (Some(place), _) => place.to_string(),
                        (None, _) => line.verdict.as_ref().map(said).unwrap_or_default(),
                    };
                    let _ = writeln!(
                        body,
                        "<tr><td class=\"place\">{}</td><td>{}</td><td>{}</td></tr>",
                        Text(&place),
                        Text(published.name(line.exhibitor)),
                        Text(line.label.as_deref().unwrap_or_default()),
                    );
                }
                body += "</table>";
                if let Some(remark) = &class.remark {
                    let _ = writeln!(body, "<p>{}</p>", Text(remark));
                }
                body += "</section>\n";
            }
            if !out.trophies.is_empty() {
                body += "<h2>Trophies</h2>\n<table>\n";
                for trophy in &out.trophies {
                    let open =
                        trophy.outcome == "judges_choose" || trophy.outcome.get("judge_decides").is_some();
                    let winners = match (trophy.winners.is_empty(), open) {
                        (false, _) => {
                            let names = trophy.winners.iter().map(|one| published.name(Some(*one)));
                            names.collect::<Vec<_>>().join(", ")
                        }
                        (true, true) => "still to be chosen".to_owned(),
                        (true, false) => "not won".to_owned(),
                    };
                    let _ = writeln!(
                        body,
                        "<tr><td>{}</td><td>{}</td></tr>",
                        Text(&trophy.title),
                        Text(&winners)
                    );
                }
                body += "</table>\n";
            }
            Ok::<_, Problem>(Sheet::a4(&format!("Results of {}", show.name), &body))
        })
        .await
}

/// Print the prize list
///
/// What each exhibitor has won and is to be paid, with a line to sign: officers of the club. Names stand as exhibitors are
/// published, since everybody who signs reads the others; `prizes.csv` has them in full.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "The list", body = String, content_type = "text/html"),
        (status = 409, description = "The schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/print/prizes")]
pub async fn prize_list(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Sheet, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let day = Day::load(conn, &show)?;
            let told = day.told(conn, &show)?;
            let results = day.results();
            let mut body = "<table><tr><th>Number</th><th>Exhibitor</th><th>Firsts</th><th>Points</th><th class=\"money\">Prize money</th><th>Received</th></tr>\n".to_owned();
            let mut sum = Pence(0);
            for one in &results.exhibitors {
                sum = sum + one.prize;
                let _ = writeln!(
                    body,
                    "<tr class=\"write\"><td>{}</td><td>{}</td><td>{}</td><td>{}</td><td class=\"money\">{}</td><td></td></tr>",
                    one.exhibitor.0,
                    Text(&day.told_name(&told, one.exhibitor)),
                    one.firsts,
                    one.points,
                    one.prize,
                );
            }
            let _ = writeln!(body, "</table>\n<p>To be paid in all: {sum}</p>");
            Ok::<_, Problem>(Sheet::a4(&format!("Prize list, {}", show.name), &body))
        })
        .await
}

pub(super) fn day(schedule: &ShowSchedule) -> String {
    schedule.held_on.format("%A, %-d %B %Y").to_string()
}

pub(super) fn line(body: &mut String, text: &str) {
    // Writing to a string cannot fail.
    let _ = writeln!(body, "<p>{}</p>", Text(text));
}

/// A verdict in words.
pub(super) fn said(verdict: &serde_json::Value) -> String {
    match verdict {
        serde_json::Value::Object(fields) => {
            let mut words = fields.iter().map(|(kind, more)| match kind.as_str() {
                "commended" => more.as_str().unwrap_or_default().to_owned(),
                other => {
                    let reason = more.get("reason").and_then(serde_json::Value::as_str).unwrap_or_default();
                    format!("{}: {reason}", other.replace('_', " "))
                }
            });
            words.next().unwrap_or_default()
        }
        other => other.as_str().unwrap_or_default().replace('_', " "),
    }
}
