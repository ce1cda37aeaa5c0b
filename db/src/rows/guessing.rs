//! Wrong passwords and codes, and wishes to join, counted so that every server on these records knows of them.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::MemberId;
use storksbill_domain::words::Standing;

use crate::schema::{join_attempts, login_attempts, members};
use crate::{Conn, DbError};

/// What was tried of one subject.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = login_attempts, treat_none_as_null = true, treat_none_as_default_value = false)]
#[diesel(primary_key(kind, subject))]
pub struct Tried {
    /// `account`, `address` or `account_at_address`.
    pub kind: String,
    /// Keyed hash of it.
    pub subject: String,
    /// When the first failed of those that are counted.
    pub window_start: Option<NaiveDateTime>,
    /// How many failed since.
    pub failures: i32,
    /// Until when nothing is tried.
    pub blocked_until: Option<NaiveDateTime>,
    /// When it was last right.
    pub succeeded_at: Option<NaiveDateTime>,
}

/// What was tried of a subject.
pub fn tried(conn: &mut Conn, kind: &str, subject: &str) -> Result<Option<Tried>, DbError> {
    let found = login_attempts::table.find((kind, subject)).select(Tried::as_select());
    Ok(found.first(conn).optional()?)
}

/// Keeps what was tried.
pub fn keep(conn: &mut Conn, tried: &Tried) -> Result<(), DbError> {
    let known = login_attempts::table.find((tried.kind.clone(), tried.subject.clone()));
    if diesel::update(known).set(tried.clone()).execute(conn)? == 0 {
        diesel::insert_into(login_attempts::table).values(tried.clone()).execute(conn)?;
    }
    Ok(())
}

/// Forgets counts that stand for nothing any more: begun, and blocked, before `failed`, and last right before
/// `succeeded`. Returns how many.
pub fn forget(conn: &mut Conn, failed: NaiveDateTime, succeeded: NaiveDateTime) -> Result<usize, DbError> {
    let old = login_attempts::table
        .filter(login_attempts::window_start.is_null().or(login_attempts::window_start.lt(failed)))
        .filter(login_attempts::blocked_until.is_null().or(login_attempts::blocked_until.lt(failed)))
        .filter(login_attempts::succeeded_at.is_null().or(login_attempts::succeeded_at.lt(succeeded)));
    Ok(diesel::delete(old).execute(conn)?)
}

/// A wish to join, wherever it led.
#[derive(Debug, Clone, PartialEq, Eq, Insertable)]
#[diesel(table_name = join_attempts, treat_none_as_default_value = false)]
pub struct JoinAttempt {
    /// Identity.
    pub id: String,
    /// Keyed hash of the client's address.
    pub address: String,
    /// The account it made; none where the e-mail address had one.
    pub member_id: Option<MemberId>,
    /// When.
    pub asked_at: NaiveDateTime,
}

/// Notes a wish to join.
pub fn note_join(conn: &mut Conn, attempt: &JoinAttempt) -> Result<(), DbError> {
    diesel::insert_into(join_attempts::table).values(attempt.clone()).execute(conn)?;
    Ok(())
}

/// How many wishes to join are open: (from this address, in all). One that met an account counts as one that waits, so
/// that the count does not tell which it was.
pub fn open_joins(conn: &mut Conn, address: &str, day_ago: NaiveDateTime) -> Result<(i64, i64), DbError> {
    let open = || {
        join_attempts::table.left_join(members::table).filter(
            // Nobody can decide a wish with a known address, so such count for a day and not until decided.
            (join_attempts::member_id.is_null().and(join_attempts::asked_at.gt(day_ago)))
                .or(members::standing.eq(Standing::Requested)),
        )
    };
    let here = open().filter(join_attempts::address.eq(address)).count().get_result(conn)?;
    Ok((here, open().count().get_result(conn)?))
}

/// Forgets wishes to join made before `moment`, and takes away the accounts that still wait for a decision since then.
/// Returns how many accounts.
pub fn forget_joins(conn: &mut Conn, moment: NaiveDateTime) -> Result<usize, DbError> {
    diesel::delete(join_attempts::table.filter(join_attempts::asked_at.lt(moment))).execute(conn)?;
    // The first version: an account that was ever anything else is somebody's, and has records.
    let waiting = members::table
        .filter(members::standing.eq(Standing::Requested))
        .filter(members::version.eq(1))
        .filter(members::left_at.is_null())
        .filter(members::created_at.lt(moment));
    Ok(diesel::delete(waiting).execute(conn)?)
}
