//! Log-ins and their refresh tokens.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{MemberId, SessionId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::Standing;

use super::members as people;
use crate::schema::{members, refresh_tokens, sessions};
use crate::{Conn, DbError};

/// A log-in on one device.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = sessions)]
pub struct Session {
    /// Identity.
    pub id: SessionId,
    /// Whose.
    pub member_id: MemberId,
    /// What the device called itself.
    pub device: Option<String>,
    /// Since when.
    pub created_at: NaiveDateTime,
    /// Until when at the latest.
    pub expires_at: NaiveDateTime,
    /// When it ended.
    pub ended_at: Option<NaiveDateTime>,
    /// Why it ended.
    pub end_reason: Option<String>,
}

/// A secret that is exchanged once for a fresh access token and the next such secret.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = refresh_tokens)]
pub struct RefreshToken {
    /// SHA-256 of the secret.
    pub token_hash: String,
    /// Of which log-in.
    pub session_id: SessionId,
    /// Since when.
    pub issued_at: NaiveDateTime,
    /// Good until.
    pub expires_at: NaiveDateTime,
    /// When it was exchanged.
    pub used_at: Option<NaiveDateTime>,
}

/// Who a running session belongs to, with every role; none where it ended, expired or the member is not
/// active any more.
pub fn actor(conn: &mut Conn, session: SessionId, now: NaiveDateTime) -> Result<Option<Actor>, DbError> {
    let member = sessions::table
        .inner_join(members::table)
        .filter(sessions::id.eq(session))
        .filter(sessions::ended_at.is_null())
        .filter(sessions::expires_at.gt(now))
        .filter(members::standing.eq(Standing::Active))
        .select(members::id)
        .first::<MemberId>(conn)
        .optional()?;
    let Some(member) = member else { return Ok(None) };
    Ok(Some(people::actor(conn, member)?))
}

/// Starts a session.
pub fn insert(conn: &mut Conn, session: &Session) -> Result<(), DbError> {
    diesel::insert_into(sessions::table).values(session.clone()).execute(conn)?;
    Ok(())
}

/// The session of this id.
pub fn find(conn: &mut Conn, id: SessionId) -> Result<Option<Session>, DbError> {
    Ok(sessions::table.find(id).select(Session::as_select()).first(conn).optional()?)
}

/// A member's running sessions, newest first.
pub fn running_of(conn: &mut Conn, member: MemberId, now: NaiveDateTime) -> Result<Vec<Session>, DbError> {
    let running = sessions::table
        .filter(sessions::member_id.eq(member))
        .filter(sessions::ended_at.is_null())
        .filter(sessions::expires_at.gt(now))
        .order(sessions::id.desc());
    Ok(running.select(Session::as_select()).load(conn)?)
}

/// Lets a session that is used go on until `until`.
pub fn prolong(conn: &mut Conn, id: SessionId, until: NaiveDateTime) -> Result<(), DbError> {
    diesel::update(sessions::table.find(id)).set(sessions::expires_at.eq(until)).execute(conn)?;
    Ok(())
}

/// Ends one session.
pub fn end(conn: &mut Conn, id: SessionId, now: NaiveDateTime, reason: &str) -> Result<usize, DbError> {
    let running = sessions::table.filter(sessions::id.eq(id)).filter(sessions::ended_at.is_null());
    Ok(diesel::update(running)
        .set((sessions::ended_at.eq(Some(now)), sessions::end_reason.eq(Some(reason))))
        .execute(conn)?)
}

/// Ends a member's sessions, but for `except`.
pub fn end_all_of(
    conn: &mut Conn,
    member: MemberId,
    except: Option<SessionId>,
    now: NaiveDateTime,
    reason: &str,
) -> Result<(), DbError> {
    for session in running_of(conn, member, now)? {
        if Some(session.id) != except {
            end(conn, session.id, now, reason)?;
        }
    }
    Ok(())
}

/// Keeps a refresh token's hash.
pub fn insert_token(conn: &mut Conn, token: &RefreshToken) -> Result<(), DbError> {
    diesel::insert_into(refresh_tokens::table).values(token.clone()).execute(conn)?;
    Ok(())
}

/// The refresh token of this hash.
pub fn token(conn: &mut Conn, token_hash: &str) -> Result<Option<RefreshToken>, DbError> {
    Ok(refresh_tokens::table.find(token_hash).select(RefreshToken::as_select()).first(conn).optional()?)
}

/// Marks a refresh token as exchanged.
pub fn use_token(conn: &mut Conn, token_hash: &str, now: NaiveDateTime) -> Result<(), DbError> {
    diesel::update(refresh_tokens::table.find(token_hash))
        .set(refresh_tokens::used_at.eq(Some(now)))
        .execute(conn)?;
    Ok(())
}

/// Forgets a session's exchanged tokens, but for the newest `kept`: those are what a copy is known by.
pub fn forget_used_tokens(conn: &mut Conn, session: SessionId, kept: i64) -> Result<usize, DbError> {
    let old = refresh_tokens::table
        .filter(refresh_tokens::session_id.eq(session))
        .filter(refresh_tokens::used_at.is_not_null())
        .order((refresh_tokens::used_at.desc(), refresh_tokens::issued_at.desc()))
        .offset(kept)
        // SQLite takes no offset without a limit.
        .limit(1000)
        .select(refresh_tokens::token_hash)
        .load::<String>(conn)?;
    if old.is_empty() {
        return Ok(0);
    }
    let old = refresh_tokens::table.filter(refresh_tokens::token_hash.eq_any(old));
    Ok(diesel::delete(old).execute(conn)?)
}

/// Forgets the tokens of sessions that ended or expired before `moment`, and then those sessions that did so before
/// `long_ago`. Tokens of a session that goes on stay: a copy that comes late is still known. Returns how many of each.
pub fn forget_ended(
    conn: &mut Conn,
    moment: NaiveDateTime,
    long_ago: NaiveDateTime,
) -> Result<(usize, usize), DbError> {
    let over = |before: NaiveDateTime| sessions::ended_at.lt(before).or(sessions::expires_at.lt(before));
    let done = sessions::table.filter(over(moment)).select(sessions::id);
    let tokens = diesel::delete(refresh_tokens::table.filter(refresh_tokens::session_id.eq_any(done)))
        .execute(conn)?;
    Ok((tokens, diesel::delete(sessions::table.filter(over(long_ago))).execute(conn)?))
}
