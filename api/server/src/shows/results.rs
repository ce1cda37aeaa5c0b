//! Results: reckoned from what was staged and judged, given out with a hash, held open to protest, then final.

use actix_web::{get, post, web};
use chrono::{DateTime, Utc};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::judging::{self as rows, GivenOut};
use storksbill_db::rows::shows::{self, Show};
use storksbill_domain::ids::ShowId;
use storksbill_domain::shows::{
    FindingWeight, ProtestsUntil, ShowResults, ShowSchedule, canonical_json, protests_close,
};
use storksbill_domain::words::{ProtestState, ResultState, ShowState};
use utoipa::IntoParams;

use super::publish::note;
use super::published::Published;
use super::reckoning::Day;
use super::result_dto::{ResultsIn, ResultsOut, WorkingOut};
use super::{documents, show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::{MaybeAuth, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::trophies::enter_winners;

/// See the results with their working
///
/// As they would be given out now: places, points, prize money, trophies with every exhibit that counts, and what does
/// not add up. Officers of the club.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "Results and working", body = WorkingOut),
        (status = 409, description = "Its schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/results/working")]
pub async fn working(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let day = Day::load(conn, &show)?;
            let results = day.results();
            let findings = results.findings.clone();
            Reply::ok(&WorkingOut { results, findings })
        })
        .await
}

/// Give results out
///
/// Provisional first; from then on protests are taken. Final when every class with exhibits is signed off, no protest
/// is open and the time for them is over: then they enter the members' histories. What does not add up is refused.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ResultsIn,
    params(("If-Match" = String, Header, description = "The show's ETag")),
    responses(
        (status = 201, description = "Given out", body = ResultsOut),
        (status = 409, description = "It is too early, or a protest is open", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/results")]
pub async fn give_out(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    if_match: IfMatch,
    body: Valid<ResultsIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let now = app.clock.now();
    let ResultsIn { state, reason } = body.value;
    app.db
        .write(move |conn| {
            let mut show = show_in_charge_of(conn, &officer, id)?;
            if_match.check(show.version)?;
            if !matches!(show.state, ShowState::Published | ShowState::Provisional) {
                return Err(Problem::new(Code::WrongState, "Its results stand, or it was not held."));
            }
            let day = Day::load(conn, &show)?;
            if now.with_timezone(&documents::zone(&show)?).date_naive() < day.schedule.held_on {
                return Err(Problem::new(Code::WrongState, "The show has not been held yet."));
            }
            if show.hall_opens_at.is_none()
                && matches!(day.schedule.protests, Some(ProtestsUntil::MinutesAfterOpening(_)))
            {
                return Err(Problem::field(
                    "/hall_opens_at",
                    "required",
                    "of the show is not set, and the time for protests runs from then: PATCH the show first",
                ));
            }
            let results = day.results();
            refuse_errors(&results)?;
            let before = rows::results(conn, id)?;
            if state == ResultState::Final {
                may_be_final(conn, &show, &day, &results, now)?;
            } else if !before.is_empty() && reason.is_none() {
                return Err(Problem::field(
                    "/reason",
                    "required",
                    "is required when results are given out anew",
                ));
            }
            let value = serde_json::to_value(day.published(&results)).map_err(|error| unreadable(&error))?;
            let document = canonical_json(&value);
            if state == ResultState::Final && before.last().is_some_and(|last| last.document != document) {
                return Err(Problem::new(
                    Code::WrongState,
                    "They differ from those given out last: give them out as provisional anew, with the reason.",
                ));
            }
            let row = GivenOut {
                show_id: id,
                number: before.last().map_or(1, |last| last.number + 1),
                state,
                sha256: documents::hash(&document),
                document,
                schedule_number: show.schedule_number,
                reason: reason.clone(),
                given_by: officer.member,
                given_at: now.naive_utc(),
            };
            rows::insert_results(conn, &row)?;
            show.state = match state {
                ResultState::Provisional => ShowState::Provisional,
                ResultState::Final => ShowState::Final,
            };
            show.version += 1;
            shows::update(conn, &show)?;
            if state == ResultState::Final {
                day.enter_histories(conn, &show, &results)?;
                let told = day.told(conn, &show)?;
                enter_winners(conn, &show, &day.winners(&results, &told), now.naive_utc())?;
            }
            let words = format!("Results {} given out as {}.", row.number, state.as_str());
            note(conn, id, Some(officer.member), "results", None, &words, now.naive_utc())?;
            day.tell_exhibitors(conn, &show, state, now)?;
            let address = format!("{}/results", documents::address(id));
            Reply::created(address, show.version, &told(conn, &show, &day.schedule, row)?)
        })
        .await
}

/// Which results.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Which {
    /// As they were given out this time; the last when not given. Those before the last are for officers of the club.
    pub number: Option<i32>,
}

/// See results
///
/// As they were given out, with or without a log-in: exhibitors by number, and beside them their names as they are told
/// today: as each chose, those who are shielded by initials at most, and those who left or took their name back by number.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    params(Which),
    responses((status = 200, description = "The results", body = ResultsOut))
)]
#[get("/shows/{show_id}/results")]
pub async fn published(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    which: web::Query<Which>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let number = which.number;
    app.db
        .read(move |conn| {
            let show = visible_show(conn, asker.0.as_deref(), id)?;
            let mut all = rows::results(conn, id)?;
            let row = match number {
                // What was corrected since may have named whom it should not.
                Some(number)
                    if all.last().is_some_and(|last| last.number != number)
                        && !asker.0.as_deref().is_some_and(|asker| asker.acts_for(show.club_id)) =>
                {
                    None
                }
                Some(number) => all.into_iter().find(|row| row.number == number),
                None => all.pop(),
            };
            let row = row.ok_or_else(|| Problem::not_found("result"))?;
            let version = shows::version(conn, id, row.schedule_number)?;
            let version = version.ok_or_else(|| Problem::not_found("schedule"))?;
            Reply::ok(&told(conn, &show, &documents::read(&version.document)?, row)?)
        })
        .await
}

fn told(conn: &mut Conn, show: &Show, schedule: &ShowSchedule, row: GivenOut) -> Result<ResultsOut, Problem> {
    let read = Published::read(conn, show, &row)?;
    let is_as_hashed = read.is_as_hashed;
    let (results, names) = read.into_names();
    Ok(ResultsOut {
        show_id: row.show_id,
        number: row.number,
        state: row.state,
        sha256: row.sha256,
        is_as_hashed,
        schedule_number: row.schedule_number,
        reason: row.reason,
        given_at: row.given_at.and_utc(),
        protests_until: protests_until(show, schedule)?,
        results,
        names,
    })
}

/// Until when protests are taken, where they are.
pub(super) fn protests_until(show: &Show, schedule: &ShowSchedule) -> Result<Option<DateTime<Utc>>, Problem> {
    let Some(until) = &schedule.protests else { return Ok(None) };
    let opens = match until {
        ProtestsUntil::MinutesAfterOpening(_) => show.hall_opens_at,
        // By the clock, whenever the hall opens.
        ProtestsUntil::WallClock(_) => Some(show.hall_opens_at.unwrap_or(show.closes_at)),
    };
    let Some(opens) = opens else { return Ok(None) };
    protests_close(until, opens.and_utc(), &schedule.zone)
        .map(Some)
        .map_err(|why| Problem::new(Code::Internal, format!("The time for protests ends at {why}.")))
}

fn unreadable(error: &serde_json::Error) -> Problem {
    Problem::new(Code::Internal, format!("The results cannot be written: {error}."))
}

fn refuse_errors(results: &ShowResults) -> Result<(), Problem> {
    let mut errors =
        results.findings.iter().filter(|finding| finding.weight == FindingWeight::Error).peekable();
    if errors.peek().is_none() {
        return Ok(());
    }
    let problem = Problem::new(Code::InvalidFields, "The judges' sheets do not add up.");
    Err(errors.fold(problem, |problem, finding| {
        let at = finding.entry.map_or_else(|| "/".to_owned(), |entry| format!("entry {entry}"));
        problem.at(&at, finding.code.as_str(), finding.detail.clone())
    }))
}

fn may_be_final(
    conn: &mut Conn,
    show: &Show,
    day: &Day,
    results: &ShowResults,
    now: DateTime<Utc>,
) -> Result<(), Problem> {
    if show.state != ShowState::Provisional {
        return Err(Problem::new(
            Code::WrongState,
            "Give them out as provisional first, so that protests can come.",
        ));
    }
    let open = rows::protests(conn, show.id)?.iter().filter(|one| one.state == ProtestState::Open).count();
    if open > 0 {
        return Err(Problem::new(Code::WrongState, format!("{open} protests are not decided.")));
    }
    if protests_until(show, &day.schedule)?.is_some_and(|until| now <= until) {
        return Err(Problem::new(Code::WrongState, "The time for protests is not over."));
    }
    let undecided = day.undecided(results);
    if !undecided.is_empty() {
        let detail = format!("Judges have still to choose for: {}.", undecided.join(", "));
        return Err(Problem::new(Code::WrongState, detail));
    }
    let unsigned = day.unsigned();
    if unsigned.is_empty() {
        Ok(())
    } else {
        let detail = format!("Classes {} are not signed off by their judge.", unsigned.join(", "));
        Err(Problem::new(Code::WrongState, detail))
    }
}
