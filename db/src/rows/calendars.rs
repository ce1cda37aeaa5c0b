//! Secret addresses of members' calendars.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::MemberId;

use crate::schema::calendar_feeds;
use crate::{Conn, DbError};

/// Gives a member a new address; the one before no longer answers.
pub fn put(conn: &mut Conn, member: MemberId, secret_hash: &str, now: NaiveDateTime) -> Result<(), DbError> {
    revoke(conn, member)?;
    diesel::insert_into(calendar_feeds::table)
        .values((
            calendar_feeds::member_id.eq(member),
            calendar_feeds::secret_sha256.eq(secret_hash),
            calendar_feeds::created_at.eq(now),
        ))
        .execute(conn)?;
    Ok(())
}

/// Takes a member's address away.
pub fn revoke(conn: &mut Conn, member: MemberId) -> Result<(), DbError> {
    diesel::delete(calendar_feeds::table.find(member)).execute(conn)?;
    Ok(())
}

/// Whose address this is.
pub fn member(conn: &mut Conn, secret_hash: &str) -> Result<Option<MemberId>, DbError> {
    let found = calendar_feeds::table
        .filter(calendar_feeds::secret_sha256.eq(secret_hash))
        .select(calendar_feeds::member_id);
    Ok(found.first(conn).optional()?)
}

/// Since when a member has an address.
pub fn since(conn: &mut Conn, member: MemberId) -> Result<Option<NaiveDateTime>, DbError> {
    let found = calendar_feeds::table.find(member).select(calendar_feeds::created_at);
    Ok(found.first(conn).optional()?)
}
