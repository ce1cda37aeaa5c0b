//! Work on a schedule before it is published, and before it is amended.

use actix_web::{delete, get, post, put, web};
use storksbill_db::Conn;
use storksbill_db::rows::entries;
use storksbill_db::rows::shows::{self, Show};
use storksbill_domain::ids::{ClassId, ShowId};
use storksbill_domain::shows::{
    ClassSet, LastClass, PublishingFacts, ScheduleClass, ScheduleFinding, ShowSchedule, before_publishing,
    schedule_changes,
};
use storksbill_domain::words::{OfficialRole, ShowState};

use super::schedule_dto::{ClassIn, ClassOut, DraftOut};
use super::{documents, show_in_charge_of};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// See the schedule that is worked on
///
/// The club's secretary or an administrator: as it would be published, with what to look at first and what differs
/// from the version in force.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "The draft", body = DraftOut, headers(("ETag" = String, description = "The show's version"))))
)]
#[get("/shows/{show_id}/draft")]
pub async fn one(officer: Officer, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            told(conn, &show)
        })
        .await
}

/// Replace the schedule that is worked on
///
/// The whole of it, as a script would. Classes keep their ids from version to version, whatever their numbers: a class
/// with an id of your own making is a new one. Nothing is seen by others until it is published.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ShowSchedule,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses(
        (status = 200, description = "Replaced", body = DraftOut),
        (status = 409, description = "Its state does not allow it, a class has entries, or a number is taken", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/shows/{show_id}/draft")]
pub async fn replace(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    if_match: IfMatch,
    body: Valid<ShowSchedule>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let schedule = body.value;
    app.db
        .write(move |conn| {
            let mut show = open_show(conn, &officer, id)?;
            if_match.check(show.version)?;
            store(conn, &mut show, &schedule)?;
            told(conn, &show)
        })
        .await
}

/// Put a class into the draft
///
/// The club's secretary or an administrator.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ClassIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses(
        (status = 201, description = "Put in; the ETag is the show's", body = ClassOut),
        (status = 409, description = "Its state does not allow it, a class has entries, or a number is taken", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/draft/classes")]
pub async fn add_class(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    body: Valid<ClassIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                let mut show = open_show(conn, &officer, id)?;
                let mut schedule = documents::read(&show.draft)?;
                let class = value.clone().into_class(ClassId::fresh());
                fits(&schedule, &class)?;
                schedule.classes.push(class.clone());
                store(conn, &mut show, &schedule)?;
                let address = format!("{}/draft/classes/{}", documents::address(id), class.id);
                Reply::created(address, show.version, &ClassOut::of(id, 0, class))
            })
        })
        .await
}

/// Replace a class of the draft
///
/// Its id stays, so that entries and next year's class still find it.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ClassIn,
    params(("If-Match" = String, Header, description = "The show's ETag")),
    responses(
        (status = 200, description = "Replaced", body = ClassOut),
        (status = 409, description = "Its state does not allow it, a class has entries, or a number is taken", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/shows/{show_id}/draft/classes/{class_id}")]
pub async fn replace_class(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ShowId, ClassId)>,
    if_match: IfMatch,
    body: Valid<ClassIn>,
) -> Result<Reply, Problem> {
    let (id, class_id) = path.into_inner();
    let value = body.value;
    app.db
        .write(move |conn| {
            let mut show = open_show(conn, &officer, id)?;
            if_match.check(show.version)?;
            let mut schedule = documents::read(&show.draft)?;
            let class = value.clone().into_class(class_id);
            fits(&schedule, &class)?;
            let place = schedule.classes.iter_mut().find(|known| known.id == class_id);
            *place.ok_or_else(|| Problem::not_found("class"))? = class.clone();
            store(conn, &mut show, &schedule)?;
            Reply::versioned(show.version, &ClassOut::of(id, 0, class))
        })
        .await
}

/// Take a class out of the draft
///
/// A class with entries stays: move them or withdraw them first. Its number is not given to another class of the show
/// once it was published.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The show's ETag")),
    responses(
        (status = 204, description = "Taken out"),
        (status = 409, description = "Its state does not allow it, a class has entries, or a number is taken", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[delete("/shows/{show_id}/draft/classes/{class_id}")]
pub async fn remove_class(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ShowId, ClassId)>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let (id, class_id) = path.into_inner();
    app.db
        .write(move |conn| {
            let mut show = open_show(conn, &officer, id)?;
            if_match.check(show.version)?;
            let mut schedule = documents::read(&show.draft)?;
            let before = schedule.classes.len();
            schedule.classes.retain(|class| class.id != class_id);
            if schedule.classes.len() == before {
                return Err(Problem::not_found("class"));
            }
            store(conn, &mut show, &schedule)?;
            Ok(Reply::no_content())
        })
        .await
}

/// Look over the draft
///
/// What to look at before it is published: gaps between pot sizes, numbers given twice, trophies that point at nothing,
/// classes without a judge or a fee, and the like; the same that the draft itself tells.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "What was found, in the order of the schedule", body = Vec<ScheduleFinding>))
)]
#[get("/shows/{show_id}/draft/findings")]
pub async fn look_over(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let schedule = documents::read(&show.draft)?;
            Reply::ok(&findings(conn, &show, &schedule)?)
        })
        .await
}

/// A show whose schedule may still be worked on, of a club that the officer acts for.
pub(super) fn open_show(conn: &mut Conn, officer: &Officer, id: ShowId) -> Result<Show, Problem> {
    let show = show_in_charge_of(conn, officer, id)?;
    match show.state {
        ShowState::Draft | ShowState::Published => Ok(show),
        ShowState::Provisional | ShowState::Final => {
            Err(Problem::new(Code::WrongState, "Its results are out, so its schedule stands."))
        }
        ShowState::Cancelled => Err(Problem::new(Code::WrongState, "The show was called off.")),
    }
}

/// Stores the draft; an unpublished show takes its name, day and closing time.
pub(super) fn store(conn: &mut Conn, show: &mut Show, schedule: &ShowSchedule) -> Result<(), Problem> {
    keeps_entered(conn, show, schedule)?;
    show.draft = documents::written(schedule)?;
    if show.published_at.is_none() {
        super::publish::take_over(show, schedule)?;
    }
    show.version += 1;
    shows::update(conn, show)?;
    Ok(())
}

/// Refuses a schedule that lacks a class with entries.
pub(super) fn keeps_entered(conn: &mut Conn, show: &Show, schedule: &ShowSchedule) -> Result<(), Problem> {
    let in_use = entries::counts(conn, show.id)?;
    let lost = in_use.iter().filter(|(class, _)| schedule.classes.iter().all(|known| known.id != **class));
    let mut lost = lost.peekable();
    if lost.peek().is_some() {
        let problem = Problem::new(Code::InUse, "Classes with entries stay: move or withdraw these first.");
        return Err(lost.fold(problem, |problem, (class, count)| {
            problem.at("/classes", "has-entries", format!("lacks class {class}, which has {count}"))
        }));
    }
    Ok(())
}

fn fits(schedule: &ShowSchedule, class: &ScheduleClass) -> Result<(), Problem> {
    let twin = schedule.classes.iter().find(|known| known.label == class.label && known.id != class.id);
    if twin.is_some() {
        let detail = format!("{} is the number of another class of the show", class.label);
        return Err(Problem::new(Code::Taken, format!("{detail}.")).at("/label", "taken", detail));
    }
    Ok(())
}

pub(super) fn told(conn: &mut Conn, show: &Show) -> Result<Reply, Problem> {
    let schedule = documents::read(&show.draft)?;
    let found = findings(conn, show, &schedule)?;
    let changes = match shows::version(conn, show.id, show.schedule_number)? {
        Some(version) => schedule_changes(&documents::read(&version.document)?, &schedule)
            .map_err(|why| super::publish::unwritten(&why))?,
        None => Vec::new(),
    };
    let version = show.version;
    Reply::versioned(version, &DraftOut { show_id: show.id, schedule, findings: found, changes, version })
}

/// What to look at before a schedule is published.
pub(super) fn findings(
    conn: &mut Conn,
    show: &Show,
    schedule: &ShowSchedule,
) -> Result<Vec<ScheduleFinding>, Problem> {
    let mut judged = Vec::new();
    for official in shows::officials(conn, show.id)? {
        if official.role == OfficialRole::Judge {
            let set: ClassSet = documents::part(&official.classes)?;
            judged.extend(schedule.classes.iter().filter(|class| set.holds(class)).map(|class| class.id));
        }
    }
    let mut withdrawn_labels = Vec::new();
    for version in shows::versions(conn, show.id)? {
        let published = documents::read(&version.document)?;
        let gone =
            published.classes.into_iter().filter(|old| schedule.classes.iter().all(|c| c.id != old.id));
        withdrawn_labels.extend(gone.map(|class| class.label));
    }
    let last = shows::earlier(conn, show.club_id, schedule.held_on, 1)?.pop();
    let last_classes = match last.filter(|(last, _)| last.id != show.id) {
        Some((_, version)) => documents::read(&version.document)?
            .classes
            .into_iter()
            .map(|class| LastClass { label: class.label, id: class.id, title: class.title })
            .collect(),
        None => Vec::new(),
    };
    Ok(before_publishing(schedule, &PublishingFacts { judged, withdrawn_labels, last_classes }))
}
