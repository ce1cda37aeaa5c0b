//! Read the log.

use actix_web::{get, web};
use storksbill_db::rows::society_log::{self, Lines};
use storksbill_domain::ids::{ClubId, LogLineId};
use storksbill_domain::words::ClubRole;

use super::dto::LogLineOut;
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};

/// See what was done to your account
///
/// Newest first: roles and clubs given or taken, invitations and one-time codes made out for you, changes of your
/// address and password, and by whom.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "What was done, newest first", body = List<LogLineOut>))
)]
#[get("/members/me/log")]
pub async fn own(auth: Auth, app: web::Data<App>, page: Page) -> Result<List<LogLineOut>, Problem> {
    let mut page_of_own = lines(&app, Lines::About(auth.member), &page).await?;
    for line in &mut page_of_own.items {
        // Where an officer sat when doing it is for administrators.
        line.from_address = None;
    }
    Ok(page_of_own)
}

/// See who did what
///
/// Newest first: roles, standing, clubs' rolls, invitations, one-time codes, tables taken out, schedules published
/// and results given out, each with who did it, when and from which network address. Administrators see every line, a
/// club's secretary those that concern the club. Nothing here can be changed or taken away.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "What was done, newest first", body = List<LogLineOut>))
)]
#[get("/society-log")]
pub async fn list(officer: Officer, app: web::Data<App>, page: Page) -> Result<List<LogLineOut>, Problem> {
    let whose = if officer.is_administrator() {
        Lines::All
    } else {
        let kept = officer.clubs.iter().filter(|(_, role)| *role == ClubRole::Secretary);
        Lines::OfClubs(kept.map(|(club, _)| *club).collect::<Vec<ClubId>>())
    };
    lines(&app, whose, &page).await
}

async fn lines(app: &App, whose: Lines, page: &Page) -> Result<List<LogLineOut>, Problem> {
    let before = page
        .after
        .as_ref()
        .map(|Place(_, id)| id.parse::<LogLineId>().map(|id| id.to_string()))
        .transpose()
        .map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let found = app
        .db
        .read(move |conn| {
            let found = society_log::page(conn, &whose, before.as_deref(), limit)?;
            LogLineOut::load(conn, &found)
        })
        .await?;
    Ok(page.list(found, |line| Place(String::new(), line.id.to_string()), |line| line))
}
