//! Exhibitors and entries of a show, what was paid, and what happened.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime};
use diesel::dsl::{count_star, max};
use diesel::prelude::*;
use storksbill_domain::ids::{
    ClassId, EntryId, ExhibitorId, MemberId, MemberResultId, ReceiptId, ShowEventId, ShowId,
};
use storksbill_domain::words::{EntryState, Payment, PublishAs, ShowState};

use super::shows::Show;
use crate::schema::{member_results, show_entries, show_events, show_exhibitors, show_receipts, shows};
use crate::{Conn, DbError};

/// Who shows at one show.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = show_exhibitors, treat_none_as_null = true, treat_none_as_default_value = false)]
#[allow(clippy::struct_excessive_bools, reason = "each is one fact")]
pub struct Exhibitor {
    /// Identity.
    pub id: ExhibitorId,
    /// At which show.
    pub show_id: ShowId,
    /// The exhibitor's number at this show.
    pub number: i32,
    /// The member, where it is one.
    pub member_id: Option<MemberId>,
    /// As on the card.
    pub name: String,
    /// Of several who enter together.
    pub is_joint: bool,
    /// Grows for the trade.
    pub in_the_trade: bool,
    /// The same for all of one household.
    pub household: Option<String>,
    /// Where a class asks for an age.
    pub born_on: Option<NaiveDate>,
    /// In published results.
    pub publish_as: PublishAs,
    /// Has declared results at shows of other societies, or that there are none.
    pub outside_declared: bool,
    /// JSON: those results.
    pub outside_results: String,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
    /// A guest to be shielded; of a member the member's own record tells.
    pub is_protected: bool,
}

/// An entry in a class.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = show_entries, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Entry {
    /// Identity.
    pub id: EntryId,
    /// Of which show.
    pub show_id: ShowId,
    /// In which class.
    pub class_id: ClassId,
    /// Whose.
    pub exhibitor_id: ExhibitorId,
    /// Its place in the secret order.
    pub serial: i32,
    /// Its number.
    pub number: i64,
    /// What stands on the card beside the number.
    pub label: Option<String>,
    /// JSON: the plants, or what is known of them.
    pub items: String,
    /// Where it stands.
    pub state: EntryState,
    /// What it costs.
    pub fee_pence: i64,
    /// JSON: the doubts that the exhibitor has read.
    pub acknowledged: String,
    /// Who typed it.
    pub entered_by: MemberId,
    /// Why it was taken after closing.
    pub late_reason: Option<String>,
    /// Where it was entered before an official moved it.
    pub moved_from_class_id: Option<ClassId>,
    /// Why it was moved.
    pub moved_reason: Option<String>,
    /// When it came to the hall.
    pub checked_in_at: Option<NaiveDateTime>,
    /// When it was staged.
    pub staged_at: Option<NaiveDateTime>,
    /// JSON: what a steward measured.
    pub measured: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// Something that happened.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = show_events, treat_none_as_default_value = false)]
pub struct Event {
    /// Identity.
    pub id: ShowEventId,
    /// At which show.
    pub show_id: ShowId,
    /// When.
    pub at: NaiveDateTime,
    /// Who did it.
    pub by_id: Option<MemberId>,
    /// What sort of thing.
    pub kind: String,
    /// What it is about.
    pub subject_id: Option<String>,
    /// What was done, and why.
    pub words: String,
}

/// Money taken.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = show_receipts, treat_none_as_default_value = false)]
pub struct Receipt {
    /// Identity.
    pub id: ReceiptId,
    /// At which show.
    pub show_id: ShowId,
    /// From whom.
    pub exhibitor_id: ExhibitorId,
    /// Runs on within the show.
    pub number: i32,
    /// Below nought for money given back.
    pub pence: i64,
    /// How.
    pub how: Payment,
    /// Anything else.
    pub note: Option<String>,
    /// Who took it.
    pub received_by: MemberId,
    /// When.
    pub received_at: NaiveDateTime,
}

/// Another write took the next number meanwhile: on `PostgreSQL` the one that runs into it runs again, on `SQLite` it
/// does not happen.
fn next_taken(error: diesel::result::Error, numbers: &[&str]) -> DbError {
    match DbError::from(error) {
        DbError::Constraint(rule) if numbers.contains(&rule.name()) => DbError::Conflict,
        other => other,
    }
}

/// Adds an exhibitor with the next number.
pub fn insert_exhibitor(conn: &mut Conn, exhibitor: &Exhibitor) -> Result<(), DbError> {
    diesel::insert_into(show_exhibitors::table)
        .values(exhibitor.clone())
        .execute(conn)
        .map_err(|error| next_taken(error, &["show_exhibitors_show_id_number_key"]))?;
    Ok(())
}

/// Stores an exhibitor that was changed.
pub fn update_exhibitor(conn: &mut Conn, exhibitor: &Exhibitor) -> Result<(), DbError> {
    diesel::update(show_exhibitors::table.find(exhibitor.id)).set(exhibitor.clone()).execute(conn)?;
    Ok(())
}

/// The exhibitor of this id, where it is at this show.
pub fn exhibitor(conn: &mut Conn, show: ShowId, id: ExhibitorId) -> Result<Option<Exhibitor>, DbError> {
    let found = show_exhibitors::table.find(id).filter(show_exhibitors::show_id.eq(show));
    Ok(found.select(Exhibitor::as_select()).first(conn).optional()?)
}

/// A member as an exhibitor of this show.
pub fn exhibitor_of(conn: &mut Conn, show: ShowId, member: MemberId) -> Result<Option<Exhibitor>, DbError> {
    let found = show_exhibitors::table
        .filter(show_exhibitors::show_id.eq(show))
        .filter(show_exhibitors::member_id.eq(member));
    Ok(found.select(Exhibitor::as_select()).first(conn).optional()?)
}

/// Exhibitors of a show by number.
pub fn exhibitors(conn: &mut Conn, show: ShowId) -> Result<Vec<Exhibitor>, DbError> {
    let all = show_exhibitors::table.filter(show_exhibitors::show_id.eq(show)).order(show_exhibitors::number);
    Ok(all.select(Exhibitor::as_select()).load(conn)?)
}

/// Exhibitors of any shows.
pub fn exhibitors_of_ids(conn: &mut Conn, ids: &[ExhibitorId]) -> Result<Vec<Exhibitor>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(super::IN_LIST) {
        let known = show_exhibitors::table.filter(show_exhibitors::id.eq_any(part.to_vec()));
        found.extend(known.select(Exhibitor::as_select()).load(conn)?);
    }
    Ok(found)
}

/// The highest number of an exhibitor.
pub fn last_exhibitor_number(conn: &mut Conn, show: ShowId) -> Result<Option<i32>, DbError> {
    let numbers = show_exhibitors::table.filter(show_exhibitors::show_id.eq(show));
    Ok(numbers.select(max(show_exhibitors::number)).first(conn)?)
}

/// The shows at which a member has an entry that stands.
pub fn shows_of_member(conn: &mut Conn, member: MemberId) -> Result<Vec<ShowId>, DbError> {
    let all = show_entries::table
        .inner_join(show_exhibitors::table)
        .filter(show_exhibitors::member_id.eq(member))
        .filter(show_entries::state.eq(EntryState::Entered))
        .select(show_entries::show_id)
        .distinct();
    Ok(all.load(conn)?)
}

/// Shows with results at which a member was an exhibitor, the latest first.
pub fn shows_with_results(
    conn: &mut Conn,
    member: MemberId,
    after: Option<&(String, String)>,
    limit: i64,
) -> Result<Vec<(Exhibitor, Show)>, DbError> {
    let mut query = show_exhibitors::table
        .inner_join(shows::table)
        .filter(show_exhibitors::member_id.eq(member))
        .filter(shows::state.eq_any([ShowState::Provisional, ShowState::Final]))
        .order((shows::held_on.desc(), shows::id.desc()))
        .limit(limit)
        .select((Exhibitor::as_select(), Show::as_select()))
        .into_boxed();
    if let Some((day, id)) = after {
        // A cursor that holds no day is not one of ours: nothing stands after it.
        let day = day.parse::<NaiveDate>().unwrap_or_default();
        let earlier = shows::held_on.lt(day);
        query = query.filter(earlier.or(shows::held_on.eq(day).and(shows::id.lt(id.clone()))));
    }
    Ok(query.load(conn)?)
}

/// Adds an entry with the next place in the secret order.
pub fn insert(conn: &mut Conn, entry: &Entry) -> Result<(), DbError> {
    let numbers = ["show_entries_show_id_serial_key", "show_entries_show_id_number_key"];
    diesel::insert_into(show_entries::table)
        .values(entry.clone())
        .execute(conn)
        .map_err(|error| next_taken(error, &numbers))?;
    Ok(())
}

/// Stores an entry that was changed.
pub fn update(conn: &mut Conn, entry: &Entry) -> Result<(), DbError> {
    diesel::update(show_entries::table.find(entry.id)).set(entry.clone()).execute(conn)?;
    Ok(())
}

/// The entry of this id with its exhibitor, whoever asks.
pub fn find(conn: &mut Conn, id: EntryId) -> Result<Option<(Entry, Exhibitor)>, DbError> {
    let found = show_entries::table.inner_join(show_exhibitors::table).filter(show_entries::id.eq(id));
    Ok(found.select((Entry::as_select(), Exhibitor::as_select())).first(conn).optional()?)
}

/// The entry of this number.
pub fn of_number(conn: &mut Conn, show: ShowId, number: i64) -> Result<Option<Entry>, DbError> {
    let found =
        show_entries::table.filter(show_entries::show_id.eq(show)).filter(show_entries::number.eq(number));
    Ok(found.select(Entry::as_select()).first(conn).optional()?)
}

/// All entries of a show, those withdrawn too, by number.
pub fn of_show(conn: &mut Conn, show: ShowId) -> Result<Vec<Entry>, DbError> {
    let all = show_entries::table.filter(show_entries::show_id.eq(show)).order(show_entries::number);
    Ok(all.select(Entry::as_select()).load(conn)?)
}

/// Entries that stand of a show, by number.
pub fn standing(conn: &mut Conn, show: ShowId) -> Result<Vec<Entry>, DbError> {
    let all = show_entries::table
        .filter(show_entries::show_id.eq(show))
        .filter(show_entries::state.eq(EntryState::Entered))
        .order(show_entries::number);
    Ok(all.select(Entry::as_select()).load(conn)?)
}

/// Entries that stand of these exhibitors, by number.
pub fn of_exhibitors(conn: &mut Conn, ids: &[ExhibitorId]) -> Result<Vec<Entry>, DbError> {
    let all = show_entries::table
        .filter(show_entries::exhibitor_id.eq_any(ids.to_vec()))
        .filter(show_entries::state.eq(EntryState::Entered))
        .order(show_entries::number);
    Ok(all.select(Entry::as_select()).load(conn)?)
}

/// Which entries.
#[derive(Debug, Clone, Copy, Default)]
pub struct Filter {
    /// In one class.
    pub class: Option<ClassId>,
    /// Of one exhibitor.
    pub exhibitor: Option<ExhibitorId>,
    /// Those that stand alone.
    pub entered_only: bool,
}

/// Entries of a show with their exhibitors, by number.
pub fn page(
    conn: &mut Conn,
    show: ShowId,
    filter: Filter,
    after: Option<i64>,
    limit: i64,
) -> Result<Vec<(Entry, Exhibitor)>, DbError> {
    let mut query = show_entries::table
        .inner_join(show_exhibitors::table)
        .filter(show_entries::show_id.eq(show))
        .order(show_entries::number)
        .limit(limit)
        .select((Entry::as_select(), Exhibitor::as_select()))
        .into_boxed();
    if let Some(class) = filter.class {
        query = query.filter(show_entries::class_id.eq(class));
    }
    if let Some(exhibitor) = filter.exhibitor {
        query = query.filter(show_entries::exhibitor_id.eq(exhibitor));
    }
    if filter.entered_only {
        query = query.filter(show_entries::state.eq(EntryState::Entered));
    }
    if let Some(number) = after {
        query = query.filter(show_entries::number.gt(number));
    }
    Ok(query.load(conn)?)
}

/// The highest place in the secret order that was given away.
pub fn last_serial(conn: &mut Conn, show: ShowId) -> Result<Option<i32>, DbError> {
    let serials = show_entries::table.filter(show_entries::show_id.eq(show));
    Ok(serials.select(max(show_entries::serial)).first(conn)?)
}

/// How many entries stand in each class.
pub fn counts(conn: &mut Conn, show: ShowId) -> Result<BTreeMap<ClassId, i64>, DbError> {
    let counted = show_entries::table
        .filter(show_entries::show_id.eq(show))
        .filter(show_entries::state.eq(EntryState::Entered))
        .group_by(show_entries::class_id)
        .select((show_entries::class_id, count_star()));
    Ok(counted.load::<(ClassId, i64)>(conn)?.into_iter().collect())
}

/// What an exhibitor owes and has paid, in pence.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Money {
    /// Entries that stand.
    pub entries: i64,
    /// Their fees.
    pub due: i64,
    /// What was taken, less what was given back.
    pub paid: i64,
}

/// The money of these exhibitors; those with neither entries nor receipts are left out.
pub fn money(conn: &mut Conn, ids: &[ExhibitorId]) -> Result<BTreeMap<ExhibitorId, Money>, DbError> {
    let mut found: BTreeMap<ExhibitorId, Money> = BTreeMap::new();
    for part in ids.chunks(super::IN_LIST) {
        let fees = show_entries::table
            .filter(show_entries::exhibitor_id.eq_any(part.to_vec()))
            .filter(show_entries::state.eq(EntryState::Entered))
            .select((show_entries::exhibitor_id, show_entries::fee_pence));
        for (id, fee) in fees.load::<(ExhibitorId, i64)>(conn)? {
            let money = found.entry(id).or_default();
            money.entries += 1;
            money.due = money.due.saturating_add(fee);
        }
        let receipts = show_receipts::table
            .filter(show_receipts::exhibitor_id.eq_any(part.to_vec()))
            .select((show_receipts::exhibitor_id, show_receipts::pence));
        for (id, pence) in receipts.load::<(ExhibitorId, i64)>(conn)? {
            let money = found.entry(id).or_default();
            money.paid = money.paid.saturating_add(pence);
        }
    }
    Ok(found)
}

/// Adds a receipt with the next number.
pub fn insert_receipt(conn: &mut Conn, receipt: &Receipt) -> Result<(), DbError> {
    diesel::insert_into(show_receipts::table)
        .values(receipt.clone())
        .execute(conn)
        .map_err(|error| next_taken(error, &["show_receipts_show_id_number_key"]))?;
    Ok(())
}

/// The highest number of a receipt.
pub fn last_receipt_number(conn: &mut Conn, show: ShowId) -> Result<Option<i32>, DbError> {
    let numbers = show_receipts::table.filter(show_receipts::show_id.eq(show));
    Ok(numbers.select(max(show_receipts::number)).first(conn)?)
}

/// Receipts of a show, or of one exhibitor, by number.
pub fn receipts(conn: &mut Conn, show: ShowId, of: Option<ExhibitorId>) -> Result<Vec<Receipt>, DbError> {
    let mut query = show_receipts::table
        .filter(show_receipts::show_id.eq(show))
        .order(show_receipts::number)
        .select(Receipt::as_select())
        .into_boxed();
    if let Some(exhibitor) = of {
        query = query.filter(show_receipts::exhibitor_id.eq(exhibitor));
    }
    Ok(query.load(conn)?)
}

/// Notes what happened.
pub fn insert_event(conn: &mut Conn, event: &Event) -> Result<(), DbError> {
    diesel::insert_into(show_events::table).values(event.clone()).execute(conn)?;
    Ok(())
}

/// What happened at a show, or with one thing, the first first.
pub fn events(
    conn: &mut Conn,
    show: ShowId,
    subject: Option<&str>,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<Event>, DbError> {
    let mut query = show_events::table
        .filter(show_events::show_id.eq(show))
        .order(show_events::id)
        .limit(limit)
        .select(Event::as_select())
        .into_boxed();
    if let Some(subject) = subject {
        query = query.filter(show_events::subject_id.eq(subject.to_owned()));
    }
    if let Some(id) = after {
        query = query.filter(show_events::id.gt(id.to_owned()));
    }
    Ok(query.load(conn)?)
}

/// A result of a member's history.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = member_results)]
pub struct MemberResult {
    /// Identity.
    pub id: MemberResultId,
    /// Whose.
    pub member_id: MemberId,
    /// At which show.
    pub show_id: ShowId,
    /// The day.
    pub held_on: NaiveDate,
    /// JSON.
    pub document: String,
}

/// Adds results to members' histories.
pub fn insert_results(conn: &mut Conn, rows: &[MemberResult]) -> Result<(), DbError> {
    for row in rows {
        diesel::insert_into(member_results::table).values(row.clone()).execute(conn)?;
    }
    Ok(())
}

/// The histories of these members.
pub fn histories(
    conn: &mut Conn,
    ids: &[MemberId],
) -> Result<BTreeMap<MemberId, Vec<MemberResult>>, DbError> {
    let mut found: BTreeMap<MemberId, Vec<MemberResult>> = BTreeMap::new();
    for part in ids.chunks(super::IN_LIST) {
        let rows = member_results::table
            .filter(member_results::member_id.eq_any(part.to_vec()))
            .order((member_results::held_on, member_results::id))
            .select(MemberResult::as_select());
        for row in rows.load::<MemberResult>(conn)? {
            found.entry(row.member_id).or_default().push(row);
        }
    }
    Ok(found)
}

/// Takes the results of a show out of all histories.
pub fn forget_results(conn: &mut Conn, show: ShowId) -> Result<(), DbError> {
    diesel::delete(member_results::table.filter(member_results::show_id.eq(show))).execute(conn)?;
    Ok(())
}

/// All that was taken at a show, in pence.
pub fn takings(conn: &mut Conn, show: ShowId) -> Result<i64, DbError> {
    let all = show_receipts::table.filter(show_receipts::show_id.eq(show)).select(show_receipts::pence);
    Ok(all.load::<i64>(conn)?.into_iter().sum())
}
