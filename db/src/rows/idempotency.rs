//! Answers kept under the keys that callers gave their creates.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::MemberId;

use crate::schema::idempotency_keys;
use crate::{Conn, DbError};

/// An answer as it was first given.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = idempotency_keys, treat_none_as_null = true, primary_key(member_id, idempotency_key))]
pub struct KeptReply {
    /// Whose key it is.
    pub member_id: MemberId,
    /// The key.
    pub idempotency_key: String,
    /// What makes the request the same request.
    pub fingerprint: String,
    /// HTTP status.
    pub status: i32,
    /// The record's address.
    pub location: Option<String>,
    /// The record's first entity tag.
    pub etag: Option<String>,
    /// The body, empty for none.
    pub body: String,
    /// When.
    pub created_at: NaiveDateTime,
}

/// The answer kept for this member's key.
pub fn find(conn: &mut Conn, member: MemberId, key: &str) -> Result<Option<KeptReply>, DbError> {
    Ok(idempotency_keys::table.find((member, key)).select(KeptReply::as_select()).first(conn).optional()?)
}

/// Fills in the answer under a key that is kept.
pub fn fill(conn: &mut Conn, reply: &KeptReply) -> Result<(), DbError> {
    let kept = idempotency_keys::table.find((reply.member_id, reply.idempotency_key.clone()));
    diesel::update(kept).set(reply.clone()).execute(conn)?;
    Ok(())
}

/// Keeps an answer, or the promise of one.
pub fn keep(conn: &mut Conn, reply: &KeptReply) -> Result<(), DbError> {
    diesel::insert_into(idempotency_keys::table).values(reply.clone()).execute(conn)?;
    Ok(())
}

/// Forgets the keys made before `moment`.
pub fn forget_before(conn: &mut Conn, moment: NaiveDateTime) -> Result<usize, DbError> {
    Ok(diesel::delete(idempotency_keys::table.filter(idempotency_keys::created_at.lt(moment)))
        .execute(conn)?)
}
