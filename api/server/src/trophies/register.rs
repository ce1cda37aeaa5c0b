//! The register: the trophies of a club, who holds each, and what is overdue.

use std::collections::BTreeMap;

use actix_web::{HttpResponse, get, patch, post, web};
use serde::Deserialize;
use storksbill_db::rows::places;
use storksbill_db::rows::trophies::{self as rows, Award, Trophy};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{ClubId, TrophyId};
use utoipa::IntoParams;

use super::dto::{TrophyIn, TrophyOut, TrophyPatch};
use super::{acting_for, in_charge_of, told_awards};
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::tables::{download, sheet};

/// Which trophies.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct WhichTrophies {
    /// Those alone that were handed over and did not come back; false when not given.
    #[serde(default)]
    #[param(required = false)]
    pub out: bool,
    /// Those alone that are overdue; false when not given.
    #[serde(default)]
    #[param(required = false)]
    pub overdue: bool,
}

/// List the trophies of a club
///
/// By key, each with who won it last and who has it now. Winners are told as each chose to be published, less for those
/// who are shielded or left.
#[utoipa::path(
    tag = "trophies",
    security(("session" = [])),
    params(WhichTrophies),
    responses((status = 200, description = "Trophies", body = Vec<TrophyOut>))
)]
#[get("/clubs/{club_id}/trophies")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<ClubId>,
    which: web::Query<WhichTrophies>,
) -> Result<Reply, Problem> {
    let (club, which) = (path.into_inner(), which.into_inner());
    let today = app.clock.today();
    app.db
        .read(move |conn| {
            let kept: Vec<TrophyOut> = with_awards(conn, club)?
                .into_iter()
                .map(|(trophy, awards)| TrophyOut::of(trophy, &awards, &auth, today))
                .filter(|trophy| {
                    (!which.out || !trophy.out.is_empty()) && (!which.overdue || trophy.is_overdue)
                })
                .collect();
            Reply::ok(&kept)
        })
        .await
}

fn with_awards(conn: &mut Conn, club: ClubId) -> Result<Vec<(Trophy, Vec<Award>)>, Problem> {
    if places::club(conn, club)?.is_none() {
        return Err(Problem::not_found("club"));
    }
    let mut awards: BTreeMap<TrophyId, Vec<Award>> = BTreeMap::new();
    let of_club = rows::awards_of_club(conn, club)?;
    for (_, award) in told_awards(conn, of_club)? {
        awards.entry(award.trophy_id).or_default().push(award);
    }
    let all = rows::of_club(conn, club)?.into_iter();
    Ok(all.map(|trophy| (trophy.clone(), awards.remove(&trophy.id).unwrap_or_default())).collect())
}

/// Enter a trophy
///
/// Officers of the club. One that a schedule names and that is won is entered by itself when results are final.
#[utoipa::path(
    tag = "trophies",
    security(("session" = [])),
    request_body = TrophyIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = TrophyOut))
)]
#[post("/clubs/{club_id}/trophies")]
pub async fn enter(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ClubId>,
    body: Valid<TrophyIn>,
) -> Result<Reply, Problem> {
    let club_id = path.into_inner();
    let Valid { value: TrophyIn { key, title, notes }, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                if places::club(conn, club_id)?.is_none() {
                    return Err(Problem::not_found("club"));
                }
                acting_for(&officer, club_id)?;
                let trophy = Trophy {
                    id: TrophyId::fresh(),
                    club_id,
                    trophy_key: key.trim().to_owned(),
                    title: title.trim().to_owned(),
                    notes: notes.clone(),
                    version: 1,
                    created_at: now.naive_utc(),
                };
                rows::insert(conn, &trophy).map_err(taken)?;
                let told = TrophyOut::of(trophy, &[], &officer, now.date_naive());
                Reply::created(format!("/api/v1/trophies/{}", told.id), 1, &told)
            })
        })
        .await
}

/// Change a trophy
///
/// Officers of the club. What you do not mention stays; null clears.
#[utoipa::path(
    tag = "trophies",
    security(("session" = [])),
    request_body = TrophyPatch,
    params(("If-Match" = String, Header, description = "The trophy's version")),
    responses((status = 200, description = "Changed", body = TrophyOut))
)]
#[patch("/trophies/{trophy_id}")]
pub async fn change(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<TrophyId>,
    if_match: IfMatch,
    body: Valid<TrophyPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    let today = app.clock.today();
    app.db
        .write(move |conn| {
            let mut trophy = in_charge_of(conn, &officer, id)?;
            if_match.check(trophy.version)?;
            if let Some(title) = patch.title.value() {
                title.trim().clone_into(&mut trophy.title);
            }
            patch.notes.clone().apply(&mut trophy.notes);
            trophy.version += 1;
            rows::update(conn, &trophy)?;
            let all = rows::awards(conn, id)?.into_iter().map(|award| ((), award)).collect();
            let awards: Vec<Award> = told_awards(conn, all)?.into_iter().map(|((), award)| award).collect();
            Reply::versioned(trophy.version, &TrophyOut::of(trophy, &awards, &officer, today))
        })
        .await
}

/// Export the register of trophies
///
/// As CSV, a line an award, the latest first, and a line for each trophy that was never won: officers of the club.
#[utoipa::path(
    tag = "trophies",
    security(("session" = [])),
    responses((status = 200, description = "The register", body = String, content_type = "text/csv"))
)]
#[get("/clubs/{club_id}/trophies.csv")]
pub async fn table(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ClubId>,
) -> Result<HttpResponse, Problem> {
    const COLUMNS: [&str; 8] =
        ["key", "title", "notes", "year", "winner", "handed_over_on", "due_back_on", "returned_on"];
    let club = path.into_inner();
    let csv = app
        .db
        .read(move |conn| {
            let all = with_awards(conn, club)?;
            acting_for(&officer, club)?;
            let mut lines: Vec<[String; 8]> = Vec::new();
            for (trophy, awards) in all {
                let line = |award: Option<&Award>| {
                    [
                        trophy.trophy_key.clone(),
                        trophy.title.clone(),
                        trophy.notes.clone().unwrap_or_default(),
                        sheet::cell(award.map(|award| award.year)),
                        award.map(|award| award.name.clone()).unwrap_or_default(),
                        sheet::cell(award.and_then(|award| award.handed_over_on)),
                        sheet::cell(award.and_then(|award| award.due_back_on)),
                        sheet::cell(award.and_then(|award| award.returned_on)),
                    ]
                };
                if awards.is_empty() {
                    lines.push(line(None));
                }
                lines.extend(awards.iter().map(|award| line(Some(award))));
            }
            sheet::write(&COLUMNS, lines.into_iter())
        })
        .await?;
    Ok(download("trophies.csv", csv))
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "Another trophy of this club has this key.").at(
        "/key",
        "taken",
        "is another trophy's key",
    );
    Problem::from(error).on_constraint("trophies_club_id_trophy_key_key", taken)
}
