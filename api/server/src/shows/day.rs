//! The day of the show: exhibits come to the hall, are staged, measured, and moved to the class that they fit.

use actix_web::{get, post, put, web};
use serde_json::Value;
use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Entry, Exhibitor};
use storksbill_db::rows::shows::{self, Show};
use storksbill_domain::ids::{EntryId, ShowId};
use storksbill_domain::policy::Actor;
use storksbill_domain::shows::{
    ClassSet, Eligibility, ExhibitItem, PlantFacts, Reason, ScheduleClass, ShowSchedule, staged_fit,
};
use storksbill_domain::words::{EntryState, OfficialRole};

use super::entry_dto::{EntryOut, ItemIn};
use super::facts::{self, Item, Records};
use super::find::name_of;
use super::hall::Hall;
use super::publish::note;
use super::result_dto::{MoveIn, StagedOut, StagingIn, ToStageOut};
use super::{documents, show_in_charge_of, visible_show, writing};
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Take an exhibit in
///
/// When it comes to the hall and when it stands on the bench, with what a steward measured. The answer says whether it
/// fits its class as measured: what does not is put right before judging, or moved to the class that it fits. Officers
/// of the club, and stewards of the class.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = StagingIn,
    params(("If-Match" = String, Header, description = "The entry's ETag")),
    responses(
        (status = 200, description = "Taken in", body = StagedOut),
        (status = 409, description = "It was withdrawn, or the results are out", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/shows/{show_id}/entries/{entry_id}/staging")]
pub async fn stage(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(ShowId, EntryId)>,
    if_match: IfMatch,
    body: Valid<StagingIn>,
) -> Result<Reply, Problem> {
    let (id, entry_id) = path.into_inner();
    let now = app.clock.now();
    let StagingIn { staged, measured } = body.value;
    app.db
        .write(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let (before, exhibitor) = standing(conn, id, entry_id)?;
            let mut entry = before.clone();
            let (_, schedule) = documents::in_force(conn, &show)?;
            let class = documents::class(&schedule, entry.class_id)?;
            if !Hands::of(conn, &auth, &show, OfficialRole::Steward)?.hold(class) {
                return Err(Problem::not_found("entry"));
            }
            if_match.check(entry.version)?;
            let stored: Vec<Item> = documents::part(&entry.items)?;
            if measured.as_ref().is_some_and(|measured| measured.len() != stored.len()) {
                let detail = format!("are {}, as many as were entered", stored.len());
                return Err(Problem::field("/measured", "out-of-range", detail));
            }
            if let Some(measured) = &measured {
                entry.measured = Some(documents::written(measured)?);
            }
            entry.checked_in_at = entry.checked_in_at.or(Some(now.naive_utc()));
            entry.staged_at = staged.then(|| now.naive_utc());
            writing::change(conn, &show, &schedule, &before, &mut entry)?;
            let fit = fit(conn, &auth, &show, &schedule, class, &entry, &exhibitor)?;
            let words = if staged { "Staged." } else { "Came to the hall." };
            let subject = Some(entry_id.to_string());
            note(conn, id, Some(auth.member), "staged", subject, words, now.naive_utc())?;
            Reply::versioned(
                entry.version,
                &StagedOut {
                    entry_id,
                    number: entry.number,
                    class: name_of(class),
                    checked_in_at: entry.checked_in_at.map(|moment| moment.and_utc()),
                    staged_at: entry.staged_at.map(|moment| moment.and_utc()),
                    answer: fit.answer,
                    reasons: fit.reasons.iter().map(Reason::told).collect(),
                    version: entry.version,
                },
            )
        })
        .await
}

/// See what there is to stage
///
/// The exhibits of the classes that you steward, class by class, by number, with what `PUT …/staging` needs. No names.
/// Officers of the club see every class; others an empty list.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "Exhibits to stage", body = Vec<ToStageOut>),
        (status = 409, description = "Its schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/staging")]
pub async fn to_stage(auth: Auth, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let hall = Hall::load(conn, &show)?;
            let hands = Hands::of(conn, &auth, &show, OfficialRole::Steward)?;
            let all: Vec<ToStageOut> = hall
                .by_class()
                .filter(|(class, ..)| hands.hold(class))
                .map(|(class, entry, _)| ToStageOut {
                    entry_id: entry.id,
                    number: entry.number,
                    class: name_of(class),
                    label: entry.label.clone(),
                    checked_in_at: entry.checked_in_at.map(|moment| moment.and_utc()),
                    staged_at: entry.staged_at.map(|moment| moment.and_utc()),
                    version: entry.version,
                })
                .collect();
            Reply::ok(&all)
        })
        .await
}

/// Move an exhibit
///
/// To the class that it fits, before that class is judged, with the reason: officers of the club. Its number stays.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = MoveIn,
    params(("If-Match" = String, Header, description = "The entry's ETag")),
    responses(
        (status = 200, description = "Moved", body = EntryOut),
        (status = 409, description = "A class is judged, or the results are out", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/entries/{entry_id}/move")]
pub async fn transfer(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ShowId, EntryId)>,
    if_match: IfMatch,
    body: Valid<MoveIn>,
) -> Result<Reply, Problem> {
    let (id, entry_id) = path.into_inner();
    let now = app.clock.now();
    let MoveIn { class_id, reason } = body.value;
    app.db
        .write(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let (before, exhibitor) = standing(conn, id, entry_id)?;
            let mut entry = before.clone();
            if_match.check(entry.version)?;
            let (_, schedule) = documents::in_force(conn, &show)?;
            let found = schedule.classes.iter().find(|class| class.id == class_id);
            let class = found.ok_or_else(|| {
                Problem::field("/class_id", "not-found", "is not a class of this show's schedule")
            })?;
            if class_id == entry.class_id {
                return Err(Problem::field("/class_id", "same", "is the class it stands in"));
            }
            entry.moved_from_class_id = entry.moved_from_class_id.or(Some(entry.class_id));
            entry.moved_reason = Some(reason.clone());
            entry.class_id = class_id;
            writing::change(conn, &show, &schedule, &before, &mut entry)?;
            let words = format!("Moved to class {}: {reason}", class.label);
            let subject = Some(entry_id.to_string());
            note(conn, id, Some(officer.member), "moved", subject, &words, now.naive_utc())?;
            let version = entry.version;
            Reply::versioned(version, &EntryOut::of(entry, &exhibitor, name_of(class))?)
        })
        .await
}

/// An entry of the show that stands.
fn standing(conn: &mut Conn, show: ShowId, id: EntryId) -> Result<(Entry, Exhibitor), Problem> {
    let (entry, exhibitor) = entries::find(conn, id)?
        .filter(|(entry, _)| entry.show_id == show)
        .ok_or_else(|| Problem::not_found("entry"))?;
    match entry.state {
        EntryState::Entered => Ok((entry, exhibitor)),
        EntryState::Withdrawn => Err(Problem::new(Code::WrongState, "It was withdrawn.")),
    }
}

/// The classes that somebody has a hand in.
pub(super) enum Hands {
    /// All: they act for the club.
    All,
    /// Those they are appointed for.
    Appointed(Vec<ClassSet>),
}

impl Hands {
    /// Of the asker in this role.
    pub(super) fn of(
        conn: &mut Conn,
        actor: &Actor,
        show: &Show,
        role: OfficialRole,
    ) -> Result<Self, Problem> {
        if actor.acts_for(show.club_id) {
            return Ok(Self::All);
        }
        let sets = shows::officials(conn, show.id)?
            .into_iter()
            .filter(|official| official.role == role && official.member_id == Some(actor.member))
            .map(|official| documents::part(&official.classes))
            .collect::<Result<Vec<ClassSet>, _>>()?;
        Ok(Self::Appointed(sets))
    }

    pub(super) fn hold(&self, class: &ScheduleClass) -> bool {
        match self {
            Self::All => true,
            Self::Appointed(sets) => sets.iter().any(|set| set.holds(class)),
        }
    }
}

fn fit(
    conn: &mut Conn,
    actor: &Actor,
    show: &Show,
    schedule: &ShowSchedule,
    class: &ScheduleClass,
    entry: &Entry,
    exhibitor: &Exhibitor,
) -> Result<Eligibility, Problem> {
    let mut items: Vec<Item> = documents::part(&entry.items)?;
    if let Some(measured) = &entry.measured {
        let measured: Vec<ItemIn> = documents::part(measured)?;
        for (item, measured) in items.iter_mut().zip(&measured) {
            item.said = over(&item.said, measured)?;
        }
    }
    let said: Vec<ItemIn> = items.iter().map(|item| item.said.clone()).collect();
    // A cultivar that the steward may not see is judged by what was said of it.
    let mut unseen = Findings::default();
    let records = Records::load(conn, actor, exhibitor.member_id, &said, &mut unseen)?;
    let facts: Vec<PlantFacts> = items.iter().map(|item| records.facts(item, exhibitor.member_id)).collect();
    let exhibit: Vec<ExhibitItem<'_>> =
        facts.iter().zip(&items).map(|(plant, item)| ExhibitItem { plant, count: item.count() }).collect();
    let about_show = facts::of_show(show, schedule, entry.created_at.and_utc(), false)?;
    Ok(staged_fit(class, &about_show, &exhibit))
}

/// What was measured stands before what was said.
fn over(said: &ItemIn, measured: &ItemIn) -> Result<ItemIn, Problem> {
    let unreadable =
        |error: serde_json::Error| Problem::new(Code::Internal, format!("It cannot be read: {error}."));
    let mut whole = serde_json::to_value(said).map_err(unreadable)?;
    let newer = serde_json::to_value(measured).map_err(unreadable)?;
    if let (Value::Object(whole), Value::Object(newer)) = (&mut whole, newer) {
        whole.extend(newer);
    }
    serde_json::from_value(whole).map_err(unreadable)
}
