//! Make, change and withdraw entries.
//!
//! Whether an entry comes in time is told by when the server received it, not by when its turn came to be written.

use actix_web::{get, patch, post, web};
use chrono::{DateTime, Utc};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Entry, Exhibitor, Filter};
use storksbill_db::rows::shows::{self, Show};
use storksbill_domain::ids::{ClassId, EntryId, ExhibitorId, ShowId};
use storksbill_domain::policy::Actor;
use storksbill_domain::shows::{
    Bearing, Eligibility, EntryNumbers, Exhibit, ExhibitItem, PlantFacts, Reason, ReasonCode, ScheduleClass,
    ShowSchedule, eligibility, in_time,
};
use storksbill_domain::words::{EntryState, ShowState};
use utoipa::IntoParams;

use super::entry_dto::{
    ClassNameOut, EntryIn, EntryOut, EntryPatch, ItemIn, JudgementOut, MOST_PENCE, ShowEventOut, WithdrawalIn,
};
use super::exhibitors::fresh;
use super::facts::{self, Item, Records};
use super::find::{name_of, own_name};
use super::publish::note;
use super::{documents, show_in_charge_of, visible_show, writing};
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::page::{List, Page, Place};
use crate::http::patch::Patch;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// How to enter.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct How {
    /// Only say whether it would be taken, with every reason and the fee; false when not given.
    #[serde(default)]
    #[param(required = false)]
    pub dry_run: bool,
}

/// Make an entry
///
/// Your own, or as an officer of the club anybody's. Every reason against it comes at once. What bars it is refused;
/// what is only doubted (a pot that measures too large today) is taken where `acknowledged` names its code. With
/// `dry_run` nothing is kept. After closing an officer of the club alone can enter, with a reason.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = EntryIn,
    params(How, ("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses(
        (status = 200, description = "Whether it would be taken", body = JudgementOut),
        (status = 201, description = "Entered", body = EntryOut),
        (status = 409, description = "The show takes no entries now", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/entries")]
pub async fn create(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    how: web::Query<How>,
    body: Valid<EntryIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let received = app.clock.now();
    let Valid { value, ticket } = body;
    if how.dry_run {
        return app
            .db
            .read(move |conn| {
                let desk = Desk::open(conn, &auth, id, received, value.late_reason.as_deref())?;
                let exhibitor = desk.exhibitor(conn, &auth, value.exhibitor_id)?;
                let judged = desk.judge(conn, &auth, &exhibitor, value.class_id, &value.items, None)?;
                Reply::ok(&JudgementOut {
                    answer: judged.eligibility.answer,
                    reasons: judged.eligibility.reasons.iter().map(Reason::told).collect(),
                    fee_pence: judged.fee_pence,
                })
            })
            .await;
    }
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, received, |conn| {
                let desk = Desk::open(conn, &auth, id, received, value.late_reason.as_deref())?;
                let exhibitor = desk.exhibitor(conn, &auth, value.exhibitor_id)?;
                let judged = desk.judge(conn, &auth, &exhibitor, value.class_id, &value.items, None)?;
                judged.refuse(&value.acknowledged, auth.acts_for(desk.show.club_id))?;
                bounded(conn, &exhibitor, judged.fee_pence)?;
                if exhibitor.number == 0 {
                    return Err(Problem::new(Code::Internal, "The exhibitor has no number."));
                }
                let serial = entries::last_serial(conn, id)?.map_or(0, |last| last + 1);
                let entry = Entry {
                    id: EntryId::fresh(),
                    show_id: id,
                    class_id: value.class_id,
                    exhibitor_id: exhibitor.id,
                    serial,
                    number: desk.number(serial)?,
                    label: value.label.clone().or_else(|| judged.names()),
                    items: documents::written(&judged.items)?,
                    state: EntryState::Entered,
                    fee_pence: judged.fee_pence,
                    acknowledged: documents::written(&judged.doubts())?,
                    entered_by: auth.member,
                    late_reason: value.late_reason.clone().filter(|_| desk.closed),
                    moved_from_class_id: None,
                    moved_reason: None,
                    checked_in_at: None,
                    staged_at: None,
                    measured: None,
                    version: 1,
                    created_at: received.naive_utc(),
                };
                if entries::exhibitor(conn, id, exhibitor.id)?.is_none() {
                    entries::insert_exhibitor(conn, &exhibitor).map_err(writing::met_oneself)?;
                }
                writing::enter(conn, &desk.show, &desk.schedule, &entry)?;
                let words = match &entry.late_reason {
                    Some(reason) => {
                        format!("Entered in class {} after closing: {reason}", judged.class.label)
                    }
                    None => format!("Entered in class {}.", judged.class.label),
                };
                desk.note(conn, &auth, "entered", &entry, &words)?;
                let address = format!("{}/entries/{}", documents::address(id), entry.id);
                let class = name_of(&judged.class);
                Reply::created(address, 1, &EntryOut::of(entry, &exhibitor, class)?)
            })
        })
        .await
}

/// Change an entry
///
/// Your own before closing; afterwards an officer of the club, with a reason. It is judged anew.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = EntryPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses(
        (status = 200, description = "Changed", body = EntryOut),
        (status = 409, description = "The show takes no entries now", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[patch("/shows/{show_id}/entries/{entry_id}")]
pub async fn change(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(ShowId, EntryId)>,
    if_match: IfMatch,
    body: Valid<EntryPatch>,
) -> Result<Reply, Problem> {
    let (id, entry_id) = path.into_inner();
    let received = app.clock.now();
    let patch = body.value;
    app.db
        .write(move |conn| {
            let (before, exhibitor) = own_or_charge(conn, &auth, id, entry_id)?;
            let mut entry = before.clone();
            if_match.check(entry.version)?;
            let desk = Desk::open(conn, &auth, id, received, patch.late_reason.as_deref())?;
            standing(&entry)?;
            desk.in_time(&auth)?;
            let class_id = patch.class_id.value().copied().unwrap_or(entry.class_id);
            let stored: Vec<Item> = documents::part(&entry.items)?;
            let items = match patch.items.value() {
                Some(items) => items.clone(),
                None => stored.iter().map(|item| item.said.clone()).collect(),
            };
            let judged = desk.judge(conn, &auth, &exhibitor, class_id, &items, Some(&entry))?;
            let known: Vec<ReasonCode> = documents::part(&entry.acknowledged)?;
            let vouched = auth.acts_for(desk.show.club_id) || known.contains(&ReasonCode::AgeUnknown);
            judged.refuse(patch.acknowledged.value().unwrap_or(&known), vouched)?;
            if patch.items.value().is_some() {
                // What was measured were other plants.
                entry.measured = None;
            }
            entry.class_id = class_id;
            entry.items = documents::written(&judged.items)?;
            entry.acknowledged = documents::written(&judged.doubts())?;
            entry.fee_pence = judged.fee_pence;
            match &patch.label {
                Patch::Value(label) => entry.label = Some(label.clone()),
                Patch::Null => entry.label = judged.names(),
                Patch::Absent if patch.items.value().is_some() => entry.label = judged.names(),
                Patch::Absent => {}
            }
            if desk.closed {
                entry.late_reason.clone_from(&patch.late_reason);
            }
            writing::change(conn, &desk.show, &desk.schedule, &before, &mut entry)?;
            let reason = patch.late_reason.clone().map(|reason| format!(" After closing: {reason}"));
            let words = format!("Changed; in class {}.{}", judged.class.label, reason.unwrap_or_default());
            desk.note(conn, &auth, "changed", &entry, &words)?;
            let version = entry.version;
            Reply::versioned(version, &EntryOut::of(entry, &exhibitor, name_of(&judged.class))?)
        })
        .await
}

/// Withdraw an entry
///
/// Your own before closing, without a fee; afterwards an officer of the club, with a reason. Its number is not given
/// again.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = WithdrawalIn,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses(
        (status = 200, description = "Withdrawn", body = EntryOut),
        (status = 409, description = "Entries are closed", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/shows/{show_id}/entries/{entry_id}/withdrawal")]
pub async fn withdraw(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(ShowId, EntryId)>,
    if_match: IfMatch,
    body: Valid<WithdrawalIn>,
) -> Result<Reply, Problem> {
    let (id, entry_id) = path.into_inner();
    let received = app.clock.now();
    let WithdrawalIn { reason } = body.value;
    app.db
        .write(move |conn| {
            let (before, exhibitor) = own_or_charge(conn, &auth, id, entry_id)?;
            let mut entry = before.clone();
            if_match.check(entry.version)?;
            let desk = Desk::open(conn, &auth, id, received, reason.as_deref())?;
            standing(&entry)?;
            desk.in_time(&auth)?;
            let class = named_class(conn, &desk.show, &desk.schedule, entry.class_id)?;
            entry.state = EntryState::Withdrawn;
            writing::change(conn, &desk.show, &desk.schedule, &before, &mut entry)?;
            let words = match &reason {
                Some(reason) => format!("Withdrawn from class {}: {reason}", class.label),
                None => format!("Withdrawn from class {}.", class.label),
            };
            desk.note(conn, &auth, "withdrawn", &entry, &words)?;
            let version = entry.version;
            Reply::versioned(version, &EntryOut::of(entry, &exhibitor, class)?)
        })
        .await
}

/// Which entries.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Which {
    /// In one class.
    pub class_id: Option<ClassId>,
    /// Of one exhibitor.
    pub exhibitor_id: Option<ExhibitorId>,
    /// Those that stand alone; false when not given.
    #[serde(default)]
    #[param(required = false)]
    pub entered_only: bool,
}

/// List entries
///
/// By number: the club's secretary or an administrator.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    params(Which, Page),
    responses((status = 200, description = "Entries by number", body = List<EntryOut>))
)]
#[get("/shows/{show_id}/entries")]
pub async fn list(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    which: web::Query<Which>,
    page: Page,
) -> Result<List<EntryOut>, Problem> {
    let id = path.into_inner();
    let Which { class_id: class, exhibitor_id: exhibitor, entered_only } = which.into_inner();
    let after = page.after.as_ref().map(|Place(number, _)| number.parse::<i64>()).transpose();
    let after =
        after.map_err(|_other| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let found = app
        .db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let filter = Filter { class, exhibitor, entered_only };
            let rows = entries::page(conn, id, filter, after, limit)?;
            told(conn, &show, rows)
        })
        .await?;
    Ok(page.list(found, |row| Place(row.number.to_string(), row.id.to_string()), |row| row))
}

/// List your entries
///
/// At this show, by number, those withdrawn too.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "Your entries by number", body = Vec<EntryOut>))
)]
#[get("/shows/{show_id}/entries/mine")]
pub async fn mine(auth: Auth, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let rows = match entries::exhibitor_of(conn, id, auth.member)? {
                Some(own) => {
                    let filter = Filter { exhibitor: Some(own.id), ..Filter::default() };
                    entries::page(conn, id, filter, None, i64::MAX)?
                }
                None => Vec::new(),
            };
            Reply::ok(&told(conn, &show, rows)?)
        })
        .await
}

/// See an entry
///
/// Your own, or as an officer of the club anybody's.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "The entry", body = EntryOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/shows/{show_id}/entries/{entry_id}")]
pub async fn one(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(ShowId, EntryId)>,
) -> Result<Reply, Problem> {
    let (id, entry_id) = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let row = own_or_charge(conn, &auth, id, entry_id)?;
            let version = row.0.version;
            let mut rows = told(conn, &show, vec![row])?;
            Reply::versioned(version, &rows.pop().ok_or_else(|| Problem::not_found("entry"))?)
        })
        .await
}

/// See what happened to an entry
///
/// Every change with who made it, when, and why: your own entry, or as an officer of the club anybody's.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "What happened, the first first", body = Vec<ShowEventOut>))
)]
#[get("/shows/{show_id}/entries/{entry_id}/history")]
pub async fn history(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(ShowId, EntryId)>,
) -> Result<Reply, Problem> {
    let (id, entry_id) = path.into_inner();
    app.db
        .read(move |conn| {
            own_or_charge(conn, &auth, id, entry_id)?;
            let events = entries::events(conn, id, Some(entry_id.as_str()), None, i64::MAX)?;
            Reply::ok(&events.into_iter().map(ShowEventOut::of).collect::<Vec<_>>())
        })
        .await
}

/// Entries as they are told, with their classes.
fn told(conn: &mut Conn, show: &Show, rows: Vec<(Entry, Exhibitor)>) -> Result<Vec<EntryOut>, Problem> {
    if rows.is_empty() {
        return Ok(Vec::new());
    }
    let (_, schedule) = documents::in_force(conn, show)?;
    rows.into_iter()
        .map(|(entry, exhibitor)| {
            let class = named_class(conn, show, &schedule, entry.class_id)?;
            EntryOut::of(entry, &exhibitor, class)
        })
        .collect()
}

/// A class of the schedule, or of the last version that had it: a withdrawn entry may stand in one that is gone.
fn named_class(
    conn: &mut Conn,
    show: &Show,
    schedule: &ShowSchedule,
    id: ClassId,
) -> Result<ClassNameOut, Problem> {
    if let Ok(class) = documents::class(schedule, id) {
        return Ok(name_of(class));
    }
    for version in shows::versions(conn, show.id)?.iter().rev() {
        if let Ok(class) = documents::class(&documents::read(&version.document)?, id) {
            return Ok(name_of(class));
        }
    }
    Err(Problem::not_found("class"))
}

/// The asker's own entry, or anybody's for an officer of the club.
fn own_or_charge(
    conn: &mut Conn,
    actor: &Actor,
    show: ShowId,
    id: EntryId,
) -> Result<(Entry, Exhibitor), Problem> {
    let known = visible_show(conn, Some(actor), show)?;
    let (entry, exhibitor) = entries::find(conn, id)?
        .filter(|(entry, _)| entry.show_id == show)
        .ok_or_else(|| Problem::not_found("entry"))?;
    if exhibitor.member_id == Some(actor.member) || actor.acts_for(known.club_id) {
        Ok((entry, exhibitor))
    } else {
        Err(Problem::not_found("entry"))
    }
}

fn standing(entry: &Entry) -> Result<(), Problem> {
    match entry.state {
        EntryState::Entered => Ok(()),
        EntryState::Withdrawn => Err(Problem::new(Code::WrongState, "It was withdrawn; enter again.")),
    }
}

/// Refuses an entry whose fee, with what is owed already, nobody can have meant.
fn bounded(conn: &mut Conn, exhibitor: &Exhibitor, fee: i64) -> Result<(), Problem> {
    let owed = entries::money(conn, &[exhibitor.id])?.get(&exhibitor.id).map_or(0, |money| money.due);
    if fee.unsigned_abs().saturating_add(owed.unsigned_abs()) > MOST_PENCE {
        let detail = format!(
            "costs {fee} pence: with what is owed already more than {MOST_PENCE}; ask the secretary to look at the fee"
        );
        return Err(Problem::field("/class_id", "out-of-range", detail));
    }
    Ok(())
}

/// Where entries are taken.
struct Desk {
    show: Show,
    schedule: ShowSchedule,
    received: DateTime<Utc>,
    /// Entries are closed.
    closed: bool,
    /// An officer of the club gives a reason to take something after closing.
    late: bool,
}

impl Desk {
    fn open(
        conn: &mut Conn,
        actor: &Actor,
        id: ShowId,
        received: DateTime<Utc>,
        late_reason: Option<&str>,
    ) -> Result<Self, Problem> {
        let show = visible_show(conn, Some(actor), id)?;
        if show.state != ShowState::Published {
            return Err(Problem::new(
                Code::WrongState,
                match show.state {
                    ShowState::Draft => "Its schedule is not published yet.",
                    ShowState::Cancelled => "The show was called off.",
                    _ => "Its results are out.",
                },
            ));
        }
        let (_, schedule) = documents::in_force(conn, &show)?;
        let closed = !in_time(received, show.closes_at.and_utc());
        let late = closed && late_reason.is_some();
        if late_reason.is_some() && !actor.acts_for(show.club_id) {
            return Err(Problem::new(
                Code::NotAllowed,
                "Only officers of the club may enter, change or withdraw after closing.",
            ));
        }
        Ok(Self { show, schedule, received, closed, late })
    }

    /// Refuses a change or a withdrawal after closing, but for an officer with a reason.
    fn in_time(&self, actor: &Actor) -> Result<(), Problem> {
        if !self.closed || self.late {
            return Ok(());
        }
        let how = if actor.acts_for(self.show.club_id) { "give the reason" } else { "ask the secretary" };
        Err(Problem::new(
            Code::WrongState,
            format!("Entries closed at {} UTC; {how}.", self.show.closes_at.format("%Y-%m-%d %H:%M")),
        ))
    }

    /// Whose entry it is: one's own, or another's for an officer. One who is new gets the next number.
    fn exhibitor(
        &self,
        conn: &mut Conn,
        actor: &Actor,
        asked: Option<ExhibitorId>,
    ) -> Result<Exhibitor, Problem> {
        let own = entries::exhibitor_of(conn, self.show.id, actor.member)?;
        match asked {
            Some(id) if own.as_ref().is_none_or(|own| own.id != id) => {
                if !actor.acts_for(self.show.club_id) {
                    return Err(Problem::new(
                        Code::NotAllowed,
                        "Only officers of the club enter for others.",
                    ));
                }
                entries::exhibitor(conn, self.show.id, id)?.ok_or_else(|| {
                    Problem::field("/exhibitor_id", "not-found", "is not an exhibitor of this show")
                })
            }
            _ => {
                if let Some(own) = own {
                    return Ok(own);
                }
                let name = own_name(conn, actor)?;
                fresh(conn, &self.show, Some(actor.member), name, self.received.naive_utc())
            }
        }
    }

    fn judge(
        &self,
        conn: &mut Conn,
        actor: &Actor,
        exhibitor: &Exhibitor,
        class_id: ClassId,
        items: &[ItemIn],
        before: Option<&Entry>,
    ) -> Result<Judged, Problem> {
        let mut found = Findings::default();
        let class = self.schedule.classes.iter().find(|class| class.id == class_id);
        if class.is_none() {
            found.add("/class_id", "not-found", "is not a class of this show's schedule");
        }
        let records = Records::load(conn, actor, exhibitor.member_id, items, &mut found)?;
        found.into_result()?;
        let class = class.cloned().ok_or_else(|| Problem::not_found("class"))?;
        let known: Vec<Item> = match before {
            Some(entry) => documents::part(&entry.items)?,
            None => Vec::new(),
        };
        let items: Vec<Item> = items
            .iter()
            .map(|said| {
                // What stood there before keeps the id that was made for it.
                let same = known.iter().find(|item| item.said == *said);
                same.cloned().unwrap_or_else(|| records.identified(said.clone()))
            })
            .collect();
        let names = items.iter().filter_map(|item| records.name(item)).collect();
        let facts: Vec<PlantFacts> =
            items.iter().map(|item| records.facts(item, exhibitor.member_id)).collect();
        let exhibit: Vec<ExhibitItem<'_>> = facts
            .iter()
            .zip(&items)
            .map(|(plant, item)| ExhibitItem { plant, count: item.count() })
            .collect();
        let show = facts::of_show(&self.show, &self.schedule, self.received, self.late)?;
        let about =
            facts::of_exhibitor(conn, &self.show, &self.schedule, exhibitor, before.map(|entry| entry.id))?;
        let eligibility = eligibility(&class, &show, &about, Exhibit::Whole(&exhibit));
        let junior = facts::is_junior(exhibitor, &self.schedule);
        let fee_pence = class.rules.fee.map_or(0, |fee| fee.due(about.is_member, junior).0);
        Ok(Judged { class, items, names, eligibility, fee_pence })
    }

    fn number(&self, serial: i32) -> Result<i64, Problem> {
        let secret = self.show.secret.as_deref().unwrap_or_default();
        let place = usize::try_from(serial).unwrap_or(usize::MAX);
        EntryNumbers::new(secret.as_bytes(), place.saturating_add(1))
            .number(place)
            .map(|number| i64::from(number.get()))
            .ok_or_else(|| Problem::new(Code::Internal, "There are no more entry numbers."))
    }

    fn note(
        &self,
        conn: &mut Conn,
        actor: &Actor,
        kind: &str,
        entry: &Entry,
        words: &str,
    ) -> Result<(), Problem> {
        let subject = Some(entry.id.to_string());
        note(conn, self.show.id, Some(actor.member), kind, subject, words, self.received.naive_utc())
    }
}

/// An exhibit that was judged before it is entered.
struct Judged {
    class: ScheduleClass,
    items: Vec<Item>,
    names: Vec<String>,
    eligibility: Eligibility,
    fee_pence: i64,
}

impl Judged {
    /// Refuses what is barred, and doubts that the exhibitor has not read; every reason at once.
    /// An officer may vouch that somebody is of an age that is not known.
    fn refuse(&self, read: &[ReasonCode], may_vouch: bool) -> Result<(), Problem> {
        let mut found = Findings::default();
        for reason in &self.eligibility.reasons {
            let told = reason.told();
            let at = reason.plant.and_then(|plant| self.items.iter().position(|item| item.plant == plant));
            let pointer = at.map_or_else(|| "/class_id".to_owned(), |at| format!("/items/{at}"));
            let remedy = told.remedy.map_or_else(|| ".".to_owned(), |remedy| format!(". {remedy}"));
            match told.bearing {
                Bearing::Bars => found.add(&pointer, told.code.as_str(), format!("{}{remedy}", told.detail)),
                Bearing::Doubts if !read.contains(&told.code) => {
                    let detail = format!(
                        "{}{remedy} To enter all the same, name this code in `acknowledged`.",
                        told.detail
                    );
                    found.add(&pointer, told.code.as_str(), detail);
                }
                // Juniors' classes and juniors' names hang on it.
                Bearing::Opens
                    if told.code == ReasonCode::AgeUnknown && !(may_vouch && read.contains(&told.code)) =>
                {
                    let detail = format!(
                        "{}{remedy} Say it with `PUT …/exhibitors/me`, or let an officer of the club who knows that it fits enter with this code in `acknowledged`.",
                        told.detail
                    );
                    found.add(&pointer, told.code.as_str(), detail);
                }
                Bearing::Doubts | Bearing::Opens | Bearing::Notes => {}
            }
        }
        found.into_result()
    }

    /// The doubts that are taken with it, and an age that an officer vouched for.
    fn doubts(&self) -> Vec<ReasonCode> {
        let vouched =
            self.eligibility.reasons.iter().filter(|reason| reason.why.code() == ReasonCode::AgeUnknown);
        let mut codes: Vec<ReasonCode> =
            self.eligibility.to_acknowledge().chain(vouched).map(|reason| reason.why.code()).collect();
        codes.sort_unstable();
        codes.dedup();
        codes
    }

    /// The names on the card.
    fn names(&self) -> Option<String> {
        (!self.names.is_empty()).then(|| self.names.join(", "))
    }
}
