//! Results: reckoned from what was staged and judged, given out with a hash, held open to protest, then final.

use std::collections::BTreeMap;

use actix_web::{get, post, web};
use chrono::{DateTime, Datelike, Utc};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Entry, Exhibitor, MemberResult};
use storksbill_db::rows::judging::{self as rows, GivenOut, Judgment};
use storksbill_db::rows::notices::{self, Notice};
use storksbill_db::rows::shows::{self, Show};
use storksbill_db::rows::trophies;
use storksbill_domain::ids::{ClassId, MemberResultId, ShowId};
use storksbill_domain::shows::{
    ClassJudgment, ExhibitorNumber, FindingWeight, PastResult, PastWinner, Reach, ShowDay, ShowExhibitor,
    ShowResults, ShowSchedule, ShownExhibit, TrophyChoice, TrophyOutcome, Verdict, canonical_json,
    past_results, protests_close, show_results,
};
use storksbill_domain::words::{
    EntryState, NoticeKind, ProtestState, PublishAs, ResultState, ShowState, SubjectKind,
};
use utoipa::IntoParams;

use super::judging::staged_number;
use super::publish::note;
use super::result_dto::{
    PublishedClass, PublishedLine, PublishedOut, PublishedTrophy, ResultsIn, ResultsOut, WorkingOut,
};
use super::{documents, facts, show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::{MaybeAuth, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::trophies::{Winner, enter_winners};

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
            if now.date_naive() < day.schedule.held_on {
                return Err(Problem::new(Code::WrongState, "The show has not been held yet."));
            }
            let results = day.results();
            refuse_errors(&results)?;
            let before = rows::results(conn, id)?;
            if state == ResultState::Final {
                may_be_final(conn, &show, &day, now)?;
            } else if !before.is_empty() && reason.is_none() {
                return Err(Problem::field(
                    "/reason",
                    "required",
                    "is required when results are given out anew",
                ));
            }
            let value = serde_json::to_value(day.published(&results)).map_err(|error| unreadable(&error))?;
            let document = canonical_json(&value);
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
                enter_winners(conn, &show, &day.winners(&results), now.naive_utc())?;
            }
            let words = format!("Results {} given out as {}.", row.number, state.as_str());
            note(conn, id, Some(officer.member), "results", None, &words, now.naive_utc())?;
            day.tell_exhibitors(conn, &show, state, now)?;
            let address = format!("{}/results", documents::address(id));
            Reply::created(address, show.version, &told(&show, &day.schedule, row)?)
        })
        .await
}

/// Which results.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Which {
    /// As they were given out this time; the last when not given.
    pub number: Option<i32>,
}

/// See results
///
/// As they were given out, with or without a log-in: exhibitors as they chose to be published, those under 18 never by
/// more than initials.
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
                Some(number) => all.into_iter().find(|row| row.number == number),
                None => all.pop(),
            };
            let row = row.ok_or_else(|| Problem::not_found("result"))?;
            let version = shows::version(conn, id, row.schedule_number)?;
            let version = version.ok_or_else(|| Problem::not_found("schedule"))?;
            Reply::ok(&told(&show, &documents::read(&version.document)?, row)?)
        })
        .await
}

fn told(show: &Show, schedule: &ShowSchedule, row: GivenOut) -> Result<ResultsOut, Problem> {
    Ok(ResultsOut {
        show_id: row.show_id,
        number: row.number,
        state: row.state,
        sha256: row.sha256,
        schedule_number: row.schedule_number,
        reason: row.reason,
        given_at: row.given_at.and_utc(),
        protests_until: protests_until(show, schedule)?,
        results: documents::part(&row.document)?,
    })
}

/// Until when protests are taken, where they are.
pub(super) fn protests_until(show: &Show, schedule: &ShowSchedule) -> Result<Option<DateTime<Utc>>, Problem> {
    let (Some(until), Some(opens)) = (&schedule.protests, show.hall_opens_at) else { return Ok(None) };
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

fn may_be_final(conn: &mut Conn, show: &Show, day: &Day, now: DateTime<Utc>) -> Result<(), Problem> {
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
    let unsigned: Vec<String> = day
        .schedule
        .classes
        .iter()
        .filter(|class| day.exhibits.iter().any(|exhibit| exhibit.class == class.id && exhibit.staged))
        .filter(|class| day.judged.get(&class.id).is_none_or(|row| !row.signed_off))
        .map(|class| class.label.to_string())
        .collect();
    if unsigned.is_empty() {
        Ok(())
    } else {
        let detail = format!("Classes {} are not signed off by their judge.", unsigned.join(", "));
        Err(Problem::new(Code::WrongState, detail))
    }
}

/// All that results follow from, read at once.
pub(super) struct Day {
    schedule: ShowSchedule,
    entries: Vec<Entry>,
    exhibitors: Vec<Exhibitor>,
    exhibits: Vec<ShownExhibit>,
    people: Vec<ShowExhibitor>,
    judged: BTreeMap<ClassId, Judgment>,
    judgments: Vec<ClassJudgment>,
    choices: Vec<TrophyChoice>,
    past_winners: Vec<PastWinner>,
}

impl Day {
    pub(super) fn load(conn: &mut Conn, show: &Show) -> Result<Self, Problem> {
        let (_, schedule) = documents::in_force(conn, show)?;
        let exhibitors = entries::exhibitors(conn, show.id)?;
        let numbers: BTreeMap<_, _> = exhibitors.iter().map(|one| (one.id, exhibitor_number(one))).collect();
        let entries: Vec<Entry> = entries::of_show(conn, show.id)?
            .into_iter()
            .filter(|entry| entry.state == EntryState::Entered)
            .collect();
        let exhibits = entries
            .iter()
            .filter_map(|entry| {
                let number = u32::try_from(entry.number).ok()?;
                Some(ShownExhibit {
                    entry: number.try_into().ok()?,
                    class: entry.class_id,
                    exhibitor: *numbers.get(&entry.exhibitor_id)?,
                    staged: staged_number(entry).is_some(),
                })
            })
            .collect();
        let mut people = Vec::with_capacity(exhibitors.len());
        for exhibitor in &exhibitors {
            people.push(ShowExhibitor {
                number: exhibitor_number(exhibitor),
                is_member: exhibitor.member_id.is_some(),
                history: facts::past(conn, show, exhibitor)?,
                outside_declared: exhibitor.outside_declared,
            });
        }
        let judged: BTreeMap<ClassId, Judgment> =
            rows::judgments(conn, show.id)?.into_iter().map(|row| (row.class_id, row)).collect();
        let judgments =
            judged.values().map(|row| documents::part(&row.document)).collect::<Result<Vec<_>, _>>()?;
        let last: BTreeMap<String, String> =
            rows::choices(conn, show.id)?.into_iter().map(|row| (row.trophy_key, row.document)).collect();
        let choices =
            last.values().map(|document| documents::part(document)).collect::<Result<Vec<_>, _>>()?;
        let past_winners = past_winners(conn, show, &schedule, &exhibitors)?;
        Ok(Self { schedule, entries, exhibitors, exhibits, people, judged, judgments, choices, past_winners })
    }

    pub(super) fn results(&self) -> ShowResults {
        show_results(ShowDay {
            schedule: &self.schedule,
            season_start: facts::season(&self.schedule),
            exhibits: &self.exhibits,
            exhibitors: &self.people,
            judgments: &self.judgments,
            choices: &self.choices,
            past_winners: &self.past_winners,
        })
    }

    /// As everybody reads them.
    fn published(&self, results: &ShowResults) -> PublishedOut {
        let names: BTreeMap<ExhibitorNumber, String> =
            self.exhibitors.iter().map(|one| (exhibitor_number(one), public_name(one))).collect();
        let name = |number: ExhibitorNumber| names.get(&number).cloned().unwrap_or_default();
        let labels: BTreeMap<i64, Option<String>> =
            self.entries.iter().map(|entry| (entry.number, entry.label.clone())).collect();
        let titles: BTreeMap<ClassId, &str> =
            self.schedule.classes.iter().map(|class| (class.id, class.title.as_str())).collect();
        let classes = results
            .classes
            .iter()
            .map(|class| PublishedClass {
                class_id: class.class,
                label: class.label.to_string(),
                title: titles.get(&class.class).copied().unwrap_or_default().to_owned(),
                staged: class.staged,
                withheld: class.withheld.clone(),
                remark: self.judged.get(&class.class).and_then(|row| row.remark.clone()),
                lines: class
                    .lines
                    .iter()
                    .filter(|line| line.staged && line.verdict.is_some())
                    .map(|line| {
                        let entry = i64::from(line.entry.get());
                        let place = line.place();
                        let said = line.verdict.as_ref().filter(|said| !matches!(said, Verdict::Placed(_)));
                        PublishedLine {
                            entry,
                            exhibitor: name(line.exhibitor),
                            label: labels.get(&entry).cloned().flatten(),
                            place,
                            sharing: line.sharing,
                            verdict: said.and_then(|said| serde_json::to_value(said).ok()),
                            points: serde_json::to_value(line.points).unwrap_or_default(),
                        }
                    })
                    .collect(),
            })
            .collect();
        let trophies = results
            .trophies
            .iter()
            .map(|trophy| {
                let known = self.schedule.trophies.iter().find(|known| known.key == trophy.trophy);
                let (winners, entry) = match &trophy.outcome {
                    TrophyOutcome::Won { exhibitor, entry } => (vec![name(*exhibitor)], *entry),
                    TrophyOutcome::Shared(all) => (all.iter().map(|one| name(*one)).collect(), None),
                    _ => (Vec::new(), None),
                };
                PublishedTrophy {
                    key: trophy.trophy.clone(),
                    title: known.map(|known| known.title.clone()).unwrap_or_default(),
                    winners,
                    entry: entry.map(|entry| i64::from(entry.get())),
                    outcome: serde_json::to_value(&trophy.outcome).unwrap_or_default(),
                }
            })
            .collect();
        PublishedOut { classes, trophies }
    }

    /// What members won is a part of their history from now on.
    fn enter_histories(&self, conn: &mut Conn, show: &Show, results: &ShowResults) -> Result<(), Problem> {
        entries::forget_results(conn, show.id)?;
        let mut gained = Vec::new();
        for exhibitor in &self.exhibitors {
            let Some(member_id) = exhibitor.member_id else { continue };
            let won = past_results(&self.schedule, results, exhibitor_number(exhibitor), Reach::ThisSociety);
            for result in won {
                gained.push(MemberResult {
                    id: MemberResultId::fresh(),
                    member_id,
                    show_id: show.id,
                    held_on: self.schedule.held_on,
                    document: documents::written::<PastResult>(&result)?,
                });
            }
        }
        Ok(entries::insert_results(conn, &gained)?)
    }

    /// Who won the trophies, as they chose to be published.
    fn winners(&self, results: &ShowResults) -> Vec<Winner> {
        let people: BTreeMap<ExhibitorNumber, &Exhibitor> =
            self.exhibitors.iter().map(|one| (exhibitor_number(one), one)).collect();
        let mut winners = Vec::new();
        for trophy in &results.trophies {
            let all = match &trophy.outcome {
                TrophyOutcome::Won { exhibitor, .. } => vec![*exhibitor],
                TrophyOutcome::Shared(all) => all.clone(),
                _ => Vec::new(),
            };
            let known = self.schedule.trophies.iter().find(|known| known.key == trophy.trophy);
            for exhibitor in all.iter().filter_map(|number| people.get(number)) {
                winners.push(Winner {
                    key: trophy.trophy.clone(),
                    title: known.map(|known| known.title.clone()).unwrap_or_default(),
                    member_id: exhibitor.member_id,
                    name: public_name(exhibitor),
                });
            }
        }
        winners
    }

    fn tell_exhibitors(
        &self,
        conn: &mut Conn,
        show: &Show,
        state: ResultState,
        now: DateTime<Utc>,
    ) -> Result<(), Problem> {
        let subject = show.id.to_string();
        let rows: Vec<Notice> = self
            .exhibitors
            .iter()
            .filter_map(|exhibitor| exhibitor.member_id)
            .map(|member| {
                let words = match state {
                    ResultState::Provisional => {
                        format!("The results of {} are out, open to protest.", documents::title(show))
                    }
                    ResultState::Final => format!("The results of {} are final.", documents::title(show)),
                };
                let subject = Some((SubjectKind::Show, subject.as_str()));
                Notice::fresh(member, NoticeKind::ShowNews, now.date_naive(), words, subject, now.naive_utc())
            })
            .collect();
        Ok(notices::insert_all(conn, &rows)?)
    }
}

/// Who of these exhibitors won a trophy of the schedule in a year before, by the club's register.
fn past_winners(
    conn: &mut Conn,
    show: &Show,
    schedule: &ShowSchedule,
    exhibitors: &[Exhibitor],
) -> Result<Vec<PastWinner>, Problem> {
    if schedule.trophies.iter().all(|trophy| trophy.barred_years == 0) {
        return Ok(Vec::new());
    }
    let mut found = Vec::new();
    for (trophy, award) in trophies::awards_of_club(conn, show.club_id)? {
        let Ok(years_ago) = u32::try_from(schedule.held_on.year() - award.year) else { continue };
        // A guest is known by the name alone.
        let same = |one: &&Exhibitor| match award.member_id {
            Some(member) => one.member_id == Some(member),
            None => one.member_id.is_none() && one.name == award.name,
        };
        if let Some(exhibitor) = exhibitors.iter().find(same) {
            found.push(PastWinner { trophy, exhibitor: exhibitor_number(exhibitor), years_ago });
        }
    }
    Ok(found)
}

fn exhibitor_number(exhibitor: &Exhibitor) -> ExhibitorNumber {
    ExhibitorNumber(u32::try_from(exhibitor.number).unwrap_or(0))
}

/// As the exhibitor chose to be published.
fn public_name(exhibitor: &Exhibitor) -> String {
    match exhibitor.publish_as {
        PublishAs::Name => exhibitor.name.clone(),
        PublishAs::Initials => {
            let first = |word: &str| word.chars().next().map(|letter| format!("{letter}."));
            exhibitor.name.split_whitespace().filter_map(first).collect::<Vec<_>>().join(" ")
        }
        PublishAs::Withheld => format!("Exhibitor {}", exhibitor.number),
    }
}
