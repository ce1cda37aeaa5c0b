//! Publish a schedule, amend it, and see it as it was on any day.

use std::collections::BTreeSet;

use actix_web::{get, post, web};
use chrono::{DateTime, NaiveDateTime, Utc};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Event};
use storksbill_db::rows::notices::{self, Notice};
use storksbill_db::rows::shows::{self, Show, Version};
use storksbill_domain::day::Moment;
use storksbill_domain::ids::{MemberId, ShowEventId, ShowId};
use storksbill_domain::shows::{
    FindingWeight, ScheduleChange, ShowSchedule, concerned_classes, instant, schedule_changes,
};
use storksbill_domain::words::{NoticeKind, ShowState, SubjectKind};
use utoipa::IntoParams;

use super::schedule_dto::{CancellationIn, PublicationIn, ScheduleOut, VersionOut};
use super::{documents, draft, visible_show, writing};
use crate::app::App;
use crate::http::auth::{MaybeAuth, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::sessions::secrets;

/// Publish or amend a schedule
///
/// The draft becomes the next numbered version, with its hash. The first time everybody sees the show from then on.
/// Later it is an amendment: it needs a reason, tells what differs, and those entered in the classes concerned get a
/// notice and may withdraw without a fee. What the draft's findings call an `error` is refused.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = PublicationIn,
    params(("If-Match" = String, Header, description = "The show's ETag")),
    responses(
        (status = 200, description = "Published", body = VersionOut),
        (status = 409, description = "Nothing differs, or its state does not allow it", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/publication")]
pub async fn publish(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    if_match: IfMatch,
    body: Valid<PublicationIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let PublicationIn { reason } = body.value;
    let now = app.clock.now();
    let secret = secrets::fresh()?;
    app.db
        .write(move |conn| {
            let mut show = draft::open_show(conn, &officer, id)?;
            if_match.check(show.version)?;
            let schedule = documents::read(&show.draft)?;
            refuse_errors(conn, &show, &schedule)?;
            // Somebody may have entered since the draft was stored.
            draft::keeps_entered(conn, &show, &schedule)?;
            let before = shows::version(conn, id, show.schedule_number)?;
            let before = before.map(|version| documents::read(&version.document)).transpose()?;
            let changes = match &before {
                Some(before) => schedule_changes(before, &schedule).map_err(|why| unwritten(&why))?,
                None => Vec::new(),
            };
            if before.is_some() && changes.is_empty() {
                return Err(Problem::new(
                    Code::WrongState,
                    "The draft does not differ from the version in force.",
                ));
            }
            if before.is_some() && reason.is_none() {
                return Err(Problem::field("/reason", "required", "is required for an amendment"));
            }
            let document = schedule.canonical().map_err(|why| unwritten(&why))?;
            let version = Version {
                show_id: id,
                number: show.schedule_number + 1,
                sha256: documents::hash(&document),
                document,
                reason: reason.clone().filter(|_| before.is_some()),
                changes: documents::written(&changes)?,
                published_by: officer.member,
                published_at: now.naive_utc(),
            };
            shows::insert_version(conn, &version)?;
            show.schedule_number = version.number;
            show.published_at = show.published_at.or(Some(now.naive_utc()));
            show.state = ShowState::Published;
            show.secret = show.secret.clone().or_else(|| Some(secret.clone()));
            take_over(&mut show, &schedule)?;
            show.version += 1;
            shows::update(conn, &show)?;
            writing::shield_entered(conn, id, &schedule)?;
            if before.is_some() {
                tell_those_concerned(conn, &show, &version, &changes, now)?;
            }
            Reply::versioned(show.version, &VersionOut::of(&version)?)
        })
        .await
}

fn refuse_errors(conn: &mut Conn, show: &Show, schedule: &ShowSchedule) -> Result<(), Problem> {
    let found = draft::findings(conn, show, schedule)?;
    let mut errors = found.iter().filter(|finding| finding.weight == FindingWeight::Error).peekable();
    if errors.peek().is_none() {
        return Ok(());
    }
    let problem = Problem::new(Code::InvalidFields, "The schedule has slips that exhibitors would pay for.");
    Err(errors.fold(problem, |problem, finding| {
        let classes: Vec<String> = finding.classes.iter().map(ToString::to_string).collect();
        let at = if classes.is_empty() { "/".to_owned() } else { format!("classes {}", classes.join(", ")) };
        problem.at(&at, finding.code.as_str(), format!("{} {}", finding.detail, finding.fix))
    }))
}

pub(super) fn unwritten(why: &serde_json::Error) -> Problem {
    Problem::new(Code::Internal, format!("The schedule cannot be written: {why}."))
}

/// Name, day and closing time of the show are those of this schedule.
pub(super) fn take_over(show: &mut Show, schedule: &ShowSchedule) -> Result<(), Problem> {
    let moment = instant(schedule.closes_wall, &schedule.zone)
        .map_err(|why| Problem::field("/closes_wall", "no-moment", format!("is {why}")))?;
    show.name.clone_from(&schedule.title);
    show.held_on = schedule.held_on;
    show.zone.clone_from(&schedule.zone);
    show.closes_wall = schedule.closes_wall.format(super::dto::WALL).to_string();
    show.closes_at = moment.naive_utc();
    Ok(())
}

/// A notice to every member entered in a class that is concerned.
fn tell_those_concerned(
    conn: &mut Conn,
    show: &Show,
    version: &Version,
    changes: &[ScheduleChange],
    now: DateTime<Utc>,
) -> Result<(), Problem> {
    let concerned: BTreeSet<_> = concerned_classes(changes).into_iter().collect();
    let exhibitors: std::collections::BTreeMap<_, _> =
        entries::exhibitors(conn, show.id)?.into_iter().map(|exhibitor| (exhibitor.id, exhibitor)).collect();
    let mut told: BTreeSet<MemberId> = BTreeSet::new();
    for entry in entries::standing(conn, show.id)? {
        if concerned.contains(&entry.class_id) {
            told.extend(exhibitors.get(&entry.exhibitor_id).and_then(|exhibitor| exhibitor.member_id));
        }
    }
    let reason = version.reason.clone().unwrap_or_default();
    let rows: Vec<Notice> = told
        .into_iter()
        .map(|member| {
            let words = format!(
                "The schedule of {} was amended (version {}): {reason} A class you are entered in is concerned; you may withdraw without a fee.",
                documents::title(show),
                version.number
            );
            let subject = show.id.to_string();
            let day = now.date_naive();
            Notice::fresh(
                member,
                NoticeKind::ShowNews,
                day,
                words,
                Some((SubjectKind::Show, &subject)),
                now.naive_utc(),
            )
        })
        .collect();
    notices::insert_all(conn, &rows)?;
    Ok(())
}

/// Call a show off
///
/// The club's secretary or an administrator, with the reason. Everybody entered gets a notice. It stays on record.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = CancellationIn,
    params(("If-Match" = String, Header, description = "The show's ETag")),
    responses(
        (status = 200, description = "Called off", body = super::dto::ShowOut),
        (status = 409, description = "Its state does not allow it", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/cancellation")]
pub async fn call_off(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    if_match: IfMatch,
    body: Valid<CancellationIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let reason = body.value.reason;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            let mut show = draft::open_show(conn, &officer, id)?;
            if_match.check(show.version)?;
            show.state = ShowState::Cancelled;
            show.version += 1;
            shows::update(conn, &show)?;
            note(conn, id, Some(officer.member), "called_off", None, &reason, now.naive_utc())?;
            let words = format!("{} is called off: {reason}", documents::title(&show));
            tell_exhibitors(conn, &show, &words, now)?;
            Reply::versioned(show.version, &super::dto::ShowOut::of(show))
        })
        .await
}

/// A notice of the show to every member who is an exhibitor.
pub(super) fn tell_exhibitors(
    conn: &mut Conn,
    show: &Show,
    words: &str,
    now: DateTime<Utc>,
) -> Result<(), Problem> {
    let subject = show.id.to_string();
    let rows: Vec<Notice> = entries::exhibitors(conn, show.id)?
        .into_iter()
        .filter_map(|exhibitor| exhibitor.member_id)
        .map(|member| {
            let subject = Some((SubjectKind::Show, subject.as_str()));
            let day = now.date_naive();
            Notice::fresh(member, NoticeKind::ShowNews, day, words.to_owned(), subject, now.naive_utc())
        })
        .collect();
    Ok(notices::insert_all(conn, &rows)?)
}

/// Notes something in the show's history, in the transaction that does it.
pub(super) fn note(
    conn: &mut Conn,
    show_id: ShowId,
    by_id: Option<MemberId>,
    kind: &str,
    subject_id: Option<String>,
    words: &str,
    at: NaiveDateTime,
) -> Result<(), Problem> {
    let event = Event {
        id: ShowEventId::fresh(),
        show_id,
        at,
        by_id,
        kind: kind.to_owned(),
        subject_id,
        words: words.to_owned(),
    };
    Ok(entries::insert_event(conn, &event)?)
}

/// List the versions of a schedule
///
/// The first and every amendment, with its reason, what differed, and its hash.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    responses((status = 200, description = "Versions, the first one first", body = Vec<VersionOut>))
)]
#[get("/shows/{show_id}/schedule/versions")]
pub async fn versions(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, asker.0.as_deref(), id)?;
            let told = shows::versions(conn, show.id)?;
            Reply::ok(&told.iter().map(VersionOut::of).collect::<Result<Vec<_>, _>>()?)
        })
        .await
}

/// Which version.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct AsOf {
    /// The number of a version; the one in force when not given.
    pub number: Option<i32>,
    /// As it was at this moment.
    pub at: Option<Moment>,
}

/// See a schedule
///
/// The version in force, one of a number, or the one that was in force at a moment.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    params(AsOf),
    responses((status = 200, description = "The schedule", body = ScheduleOut))
)]
#[get("/shows/{show_id}/schedule")]
pub async fn as_of(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    which: web::Query<AsOf>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let AsOf { number, at } = which.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, asker.0.as_deref(), id)?;
            let found = match (number, at) {
                (Some(number), _) => shows::version(conn, id, number)?,
                (None, Some(at)) => shows::version_at(conn, id, at.naive_utc())?,
                (None, None) => shows::version(conn, id, show.schedule_number)?,
            };
            let version = found.ok_or_else(|| Problem::not_found("version of the schedule"))?;
            let text = documents::read(&version.document)?;
            Reply::ok(&ScheduleOut { version: VersionOut::of(&version)?, schedule: text })
        })
        .await
}
