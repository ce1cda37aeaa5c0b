//! What all steps share: who may see a registration, and how one is moved on.

use chrono::{DateTime, Utc};
use storksbill_db::rows::cultivar_names;
use storksbill_db::rows::notices::{self, Notice};
use storksbill_db::rows::registrations::{self, Registration, Step, Told};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{CultivarId, MemberId, RegistrationId, RegistrationStepId};
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::register;
use storksbill_domain::words::{NoticeKind, RegistrationState, RegistrationStepKind, SubjectKind};

use super::dto::{Against, RegistrationOut};
use crate::app::App;
use crate::http::etag::IfMatch;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::names::examined;

/// A registration that the asker may see: their own, and the registrar any. 404 otherwise.
pub fn visible(conn: &mut Conn, actor: &Actor, id: RegistrationId) -> Result<Told, Problem> {
    registrations::find(conn, id)?
        .filter(|(row, ..)| actor.is_registrar() || row.proposed_by == actor.member)
        .ok_or_else(|| Problem::not_found("registration"))
}

/// The asker's own registration; 403 where it is somebody else's and may be seen.
pub fn own(conn: &mut Conn, actor: &Actor, id: RegistrationId) -> Result<Registration, Problem> {
    let (row, ..) = visible(conn, actor, id)?;
    if row.proposed_by == actor.member {
        Ok(row)
    } else {
        Err(Problem::new(Code::NotAllowed, "Only who proposed the name may do this."))
    }
}

/// A step to take.
#[derive(Debug)]
pub struct Taking<'a> {
    pub kind: RegistrationStepKind,
    pub by: MemberId,
    pub reason: Option<&'a str>,
    pub at: DateTime<Utc>,
}

/// Takes a step: moves the registration on, keeps the step and tells the proposer. `if_match` is checked first.
pub fn take(
    conn: &mut Conn,
    mut row: Registration,
    if_match: &IfMatch,
    taking: &Taking<'_>,
) -> Result<Registration, Problem> {
    if_match.check(row.version)?;
    row.state = register::after(row.state, taking.kind).ok_or_else(|| {
        Problem::new(Code::WrongState, format!("It is {}, and cannot be {} now.", row.state, taking.kind))
    })?;
    if taking.kind == RegistrationStepKind::Registered {
        let number = registrations::last_number(conn)?.unwrap_or(0).saturating_add(1);
        row.registration_no = Some(number);
        row.registered_on = Some(taking.at.date_naive());
    }
    row.version += 1;
    registrations::update(conn, &row)?;
    keep_step(conn, &row, taking)?;
    if let Some(notice) = notice(&row, taking) {
        notices::insert(conn, &notice)?;
    }
    Ok(row)
}

/// Keeps a step with the name and findings of the registration.
pub fn keep_step(conn: &mut Conn, row: &Registration, taking: &Taking<'_>) -> Result<(), DbError> {
    let step = Step {
        id: RegistrationStepId::fresh(),
        registration_id: row.id,
        kind: taking.kind,
        taken_by: taking.by,
        name: row.name.clone(),
        findings: row.findings.clone(),
        reason: taking.reason.map(|reason| reason.trim().to_owned()).filter(|reason| !reason.is_empty()),
        created_at: taking.at.naive_utc(),
    };
    registrations::add_step(conn, &step)
}

/// What the proposer is told of a step of the registrar's.
fn notice(row: &Registration, taking: &Taking<'_>) -> Option<Notice> {
    let name = &row.name;
    let why = taking.reason.map(str::trim).unwrap_or_default();
    let (kind, words) = match taking.kind {
        RegistrationStepKind::Questioned => {
            (NoticeKind::NameQuestioned, format!("The registrar asks about '{name}': {why}"))
        }
        RegistrationStepKind::Refused => {
            (NoticeKind::NameRefused, format!("The registrar refused '{name}': {why}"))
        }
        RegistrationStepKind::Registered => {
            let number = row.registration_no.unwrap_or_default();
            (NoticeKind::NameRegistered, format!("'{name}' is registered as number {number}."))
        }
        _ => return None,
    };
    let subject = Some((SubjectKind::Registration, row.id.as_str()));
    let (day, now) = (taking.at.date_naive(), taking.at.naive_utc());
    Some(Notice::fresh(row.proposed_by, kind, day, words, subject, now))
}

/// The name that is proposed, and what speaks against it among all names that the asker may see now. Away from the threads that
/// answer and from the write door: the index of names takes a while in a large register.
pub async fn examine(
    app: &App,
    asker: &Actor,
    name: &str,
    published_on: Option<chrono::NaiveDate>,
    own: CultivarId,
) -> Result<(String, Against), Problem> {
    let name = names::tidy(name);
    let asker = asker.clone();
    let known =
        app.db.read(move |conn| Ok::<_, Problem>(cultivar_names::known_visible_to(conn, &asker)?)).await?;
    let (name, findings, near) = actix_web::web::block(move || examined(&name, published_on, &known, own))
        .await
        .map_err(|_stopping| Problem::busy("The server is stopping. Nothing was kept; try again."))??;
    Ok((names::tidy(&name), Against { findings, near }))
}

/// A registration as it is sent.
pub fn told(conn: &mut Conn, id: RegistrationId) -> Result<RegistrationOut, Problem> {
    RegistrationOut::of(registrations::find(conn, id)?.ok_or_else(|| Problem::not_found("registration"))?)
}

/// A registration as it is sent after a step.
pub fn replied(conn: &mut Conn, row: &Registration) -> Result<Reply, Problem> {
    Reply::versioned(row.version, &told(conn, row.id)?)
}

/// A name that another cultivar has, or got since it was proposed.
pub fn taken() -> Problem {
    Problem::new(Code::Taken, "Another cultivar has this name.").at(
        "/name",
        "taken",
        "is the name of another cultivar",
    )
}

/// Whether it is before the registrar or waits for an answer.
pub const fn is_open(state: RegistrationState) -> bool {
    matches!(state, RegistrationState::Proposed | RegistrationState::Questioned)
}

/// Refuses an open registration of a cultivar that is merged into one with a name of its own.
pub fn refuse_merged(
    conn: &mut Conn,
    by: MemberId,
    row: Registration,
    into: &str,
    at: DateTime<Utc>,
) -> Result<Registration, Problem> {
    let reason =
        format!("Its cultivar was found to be '{into}', which has a name or one before the registrar.");
    let kind = RegistrationStepKind::Refused;
    take(conn, row, &IfMatch::Any, &Taking { kind, by, reason: Some(&reason), at })
}
