//! One-time codes that prove whose an account is.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::MemberId;

use crate::schema::account_codes;
use crate::{Conn, DbError};

/// A code that an officer made out.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = account_codes, treat_none_as_default_value = false)]
pub struct AccountCode {
    /// SHA-256 of the code.
    pub code_sha256: String,
    /// Whose account it opens.
    pub member_id: MemberId,
    /// The officer who made it out.
    pub issued_by: MemberId,
    /// When.
    pub issued_at: NaiveDateTime,
    /// Good until.
    pub expires_at: NaiveDateTime,
    /// When it was used, or put out of use by a later one.
    pub used_at: Option<NaiveDateTime>,
}

/// Adds a code; those made out before for the same member are good no more.
pub fn issue(conn: &mut Conn, code: &AccountCode) -> Result<(), DbError> {
    void_all_of(conn, code.member_id, code.issued_at)?;
    diesel::insert_into(account_codes::table).values(code.clone()).execute(conn)?;
    Ok(())
}

/// Puts every code of a member out of use.
pub fn void_all_of(conn: &mut Conn, member: MemberId, now: NaiveDateTime) -> Result<(), DbError> {
    let open = account_codes::table
        .filter(account_codes::member_id.eq(member))
        .filter(account_codes::used_at.is_null());
    diesel::update(open).set(account_codes::used_at.eq(now)).execute(conn)?;
    Ok(())
}

/// Uses a member's code up. False where it is not one of theirs, was used, or has expired.
pub fn redeem(
    conn: &mut Conn,
    member: MemberId,
    code_sha256: &str,
    now: NaiveDateTime,
) -> Result<bool, DbError> {
    let good = account_codes::table
        .find(code_sha256)
        .filter(account_codes::member_id.eq(member))
        .filter(account_codes::used_at.is_null())
        .filter(account_codes::expires_at.gt(now));
    Ok(diesel::update(good).set(account_codes::used_at.eq(now)).execute(conn)? == 1)
}
