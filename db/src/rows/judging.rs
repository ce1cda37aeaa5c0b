//! What judges said, what came of it, and what was held against it.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{ClassId, MemberId, ProtestId, ShowId};
use storksbill_domain::words::{ProtestState, ResultState};

use crate::schema::{show_choices, show_judgments, show_protests, show_results};
use crate::{Conn, DbError};

/// What judges said of a class.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = show_judgments, treat_none_as_default_value = false)]
pub struct Judgment {
    /// At which show.
    pub show_id: ShowId,
    /// Of which class.
    pub class_id: ClassId,
    /// 1 for the first; the last one counts.
    pub version: i32,
    /// JSON.
    pub document: String,
    /// A remark for the class.
    pub remark: Option<String>,
    /// Why it was corrected.
    pub reason: Option<String>,
    /// Who judged.
    pub judge: String,
    /// The judge has signed it.
    pub signed_off: bool,
    /// Who typed it.
    pub entered_by: MemberId,
    /// When.
    pub entered_at: NaiveDateTime,
}

/// What judges chose for a trophy.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = show_choices)]
pub struct Choice {
    /// At which show.
    pub show_id: ShowId,
    /// For which trophy.
    pub trophy_key: String,
    /// 1 for the first; the last one counts.
    pub version: i32,
    /// JSON.
    pub document: String,
    /// Who chose.
    pub judge: String,
    /// Who typed it.
    pub entered_by: MemberId,
    /// When.
    pub entered_at: NaiveDateTime,
}

/// Something held against a result.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = show_protests, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Protest {
    /// Identity.
    pub id: ProtestId,
    /// At which show.
    pub show_id: ShowId,
    /// About which class.
    pub class_id: Option<ClassId>,
    /// Who raised it.
    pub raised_by: MemberId,
    /// When.
    pub raised_at: NaiveDateTime,
    /// What is held.
    pub words: String,
    /// What was paid with it.
    pub deposit_pence: i64,
    /// Where it stands.
    pub state: ProtestState,
    /// Who sat.
    pub sat: Option<String>,
    /// What they found.
    pub outcome: Option<String>,
    /// Whether the deposit was given back.
    pub deposit_returned: Option<bool>,
    /// When it was decided.
    pub decided_at: Option<NaiveDateTime>,
    /// Counts up at each edit.
    pub version: i32,
}

/// Results as they were given out.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = show_results, treat_none_as_default_value = false)]
pub struct GivenOut {
    /// Of which show.
    pub show_id: ShowId,
    /// 1 for the first; the last one counts.
    pub number: i32,
    /// How firm.
    pub state: ResultState,
    /// JSON, canonical.
    pub document: String,
    /// The hash of these bytes, in hex.
    pub sha256: String,
    /// By which version of the schedule.
    pub schedule_number: i32,
    /// Why they were given out anew.
    pub reason: Option<String>,
    /// Who gave them out.
    pub given_by: MemberId,
    /// When.
    pub given_at: NaiveDateTime,
}

/// Adds a judgment.
pub fn insert(conn: &mut Conn, row: &Judgment) -> Result<(), DbError> {
    diesel::insert_into(show_judgments::table).values(row.clone()).execute(conn)?;
    Ok(())
}

/// Every judgment of a show, class by class, the first one first; the last of each class counts.
pub fn judgments(conn: &mut Conn, show: ShowId) -> Result<Vec<Judgment>, DbError> {
    let all = show_judgments::table
        .filter(show_judgments::show_id.eq(show))
        .order((show_judgments::class_id, show_judgments::version));
    Ok(all.select(Judgment::as_select()).load(conn)?)
}

/// Every judgment of a class, the first one first.
pub fn of_class(conn: &mut Conn, show: ShowId, class: ClassId) -> Result<Vec<Judgment>, DbError> {
    let all = show_judgments::table
        .filter(show_judgments::show_id.eq(show))
        .filter(show_judgments::class_id.eq(class))
        .order(show_judgments::version);
    Ok(all.select(Judgment::as_select()).load(conn)?)
}

/// Adds a choice.
pub fn insert_choice(conn: &mut Conn, row: &Choice) -> Result<(), DbError> {
    diesel::insert_into(show_choices::table).values(row.clone()).execute(conn)?;
    Ok(())
}

/// Every choice of a show, trophy by trophy, the first one first; the last of each trophy counts.
pub fn choices(conn: &mut Conn, show: ShowId) -> Result<Vec<Choice>, DbError> {
    let all = show_choices::table
        .filter(show_choices::show_id.eq(show))
        .order((show_choices::trophy_key, show_choices::version));
    Ok(all.select(Choice::as_select()).load(conn)?)
}

/// Adds a protest.
pub fn insert_protest(conn: &mut Conn, row: &Protest) -> Result<(), DbError> {
    diesel::insert_into(show_protests::table).values(row.clone()).execute(conn)?;
    Ok(())
}

/// Stores a protest that was changed.
pub fn update_protest(conn: &mut Conn, row: &Protest) -> Result<(), DbError> {
    diesel::update(show_protests::table.find(row.id)).set(row.clone()).execute(conn)?;
    Ok(())
}

/// The protests of a show, in the order in which they were raised.
pub fn protests(conn: &mut Conn, show: ShowId) -> Result<Vec<Protest>, DbError> {
    let all = show_protests::table.filter(show_protests::show_id.eq(show)).order(show_protests::id);
    Ok(all.select(Protest::as_select()).load(conn)?)
}

/// Adds results.
pub fn insert_results(conn: &mut Conn, row: &GivenOut) -> Result<(), DbError> {
    diesel::insert_into(show_results::table).values(row.clone()).execute(conn)?;
    Ok(())
}

/// Results given out, without their document.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable)]
#[diesel(table_name = show_results)]
pub struct GivenOutNote {
    /// Of which show.
    pub show_id: ShowId,
    /// 1 for the first.
    pub number: i32,
    /// How firm.
    pub state: ResultState,
    /// When.
    pub given_at: NaiveDateTime,
}

/// When results of these shows were given out, in no order.
pub fn given_out_of(conn: &mut Conn, ids: &[ShowId]) -> Result<Vec<GivenOutNote>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(super::IN_LIST) {
        let told = show_results::table.filter(show_results::show_id.eq_any(part.to_vec()));
        found.extend(told.select(GivenOutNote::as_select()).load(conn)?);
    }
    Ok(found)
}

/// Results every time they were given out, the first first.
pub fn results(conn: &mut Conn, show: ShowId) -> Result<Vec<GivenOut>, DbError> {
    let all = show_results::table.filter(show_results::show_id.eq(show)).order(show_results::number);
    Ok(all.select(GivenOut::as_select()).load(conn)?)
}

/// Results as they were given out last.
pub fn last_results(conn: &mut Conn, show: ShowId) -> Result<Option<GivenOut>, DbError> {
    let all = show_results::table.filter(show_results::show_id.eq(show)).order(show_results::number.desc());
    Ok(all.select(GivenOut::as_select()).first(conn).optional()?)
}
