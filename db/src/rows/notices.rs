//! Notices: what the server tells one member, with a date to keep.

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use diesel::prelude::*;
use storksbill_domain::ids::{CrossId, MemberId, NoticeId};
use storksbill_domain::limits as domain_limits;
use storksbill_domain::words::{NoticeKind, SubjectKind};

use super::limits;
use crate::schema::notices;
use crate::{Conn, DbError};

/// Something one member is told. Its words never carry another member's e-mail address.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = notices, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Notice {
    /// Identity.
    pub id: NoticeId,
    /// Who is told.
    pub member_id: MemberId,
    /// What it asks for.
    pub kind: NoticeKind,
    /// The day it is about.
    pub due_on: NaiveDate,
    /// In words.
    pub words: String,
    /// What sort of record it is about; given with `subject_id`.
    pub subject_kind: Option<SubjectKind>,
    /// The record it is about.
    pub subject_id: Option<String>,
    /// When it was made.
    pub created_at: NaiveDateTime,
    /// When the member said that they had seen it.
    pub seen_at: Option<NaiveDateTime>,
    /// When the member said that it is done.
    pub done_at: Option<NaiveDateTime>,
}

impl Notice {
    /// A fresh notice, neither seen nor done.
    pub fn fresh(
        member_id: MemberId,
        kind: NoticeKind,
        due_on: NaiveDate,
        words: String,
        subject: Option<(SubjectKind, &str)>,
        now: NaiveDateTime,
    ) -> Self {
        Self {
            id: NoticeId::fresh(),
            member_id,
            kind,
            due_on,
            words,
            subject_kind: subject.map(|(kind, _)| kind),
            subject_id: subject.map(|(_, id)| id.to_owned()),
            created_at: now,
            seen_at: None,
            done_at: None,
        }
    }
}

/// Adds a notice.
pub fn insert(conn: &mut Conn, notice: &Notice) -> Result<(), DbError> {
    insert_all(conn, std::slice::from_ref(notice))
}

/// Adds notices.
pub fn insert_all(conn: &mut Conn, rows: &[Notice]) -> Result<(), DbError> {
    for row in rows.iter().filter(|row| row.kind == NoticeKind::HealthNotice) {
        let lately = notices::table
            .filter(notices::member_id.eq(row.member_id))
            .filter(notices::kind.eq(NoticeKind::HealthNotice))
            .filter(notices::subject_id.eq(row.subject_id.clone()))
            .filter(notices::created_at.gt(row.created_at - TimeDelta::days(1)));
        limits::hold(domain_limits::HEALTH_NOTICES, lately.count().get_result(conn)?, 1)?;
    }
    // Batches have no joint form. SQLite has no network between, so a prepared statement row by row is its
    // fastest way; PostgreSQL takes a thousand rows in one round trip.
    match conn {
        Conn::Sqlite(sqlite) => {
            for row in rows {
                diesel::insert_into(notices::table).values(row).execute(sqlite)?;
            }
        }
        Conn::Postgres(pg) => {
            for part in rows.chunks(1000) {
                diesel::insert_into(notices::table).values(part).execute(pg)?;
            }
        }
    }
    Ok(())
}

/// Stores a notice that was changed.
pub fn update(conn: &mut Conn, notice: &Notice) -> Result<(), DbError> {
    diesel::update(notices::table.find(notice.id)).set(notice.clone()).execute(conn)?;
    Ok(())
}

/// Takes a notice away that asks for what is not to be done.
pub fn delete(conn: &mut Conn, id: NoticeId) -> Result<(), DbError> {
    diesel::delete(notices::table.find(id)).execute(conn)?;
    Ok(())
}

/// The notices about a cross, in the order of their making.
pub fn of_cross(conn: &mut Conn, id: CrossId) -> Result<Vec<Notice>, DbError> {
    let about = notices::table
        .filter(notices::subject_kind.eq(SubjectKind::Cross))
        .filter(notices::subject_id.eq(id.as_str()));
    Ok(about.order(notices::id).select(Notice::as_select()).load(conn)?)
}

/// The member's own notice of this id.
pub fn own(conn: &mut Conn, member: MemberId, id: NoticeId) -> Result<Option<Notice>, DbError> {
    let own = notices::table.find(id).filter(notices::member_id.eq(member)).select(Notice::as_select());
    Ok(own.first(conn).optional()?)
}

/// Which notices are looked for; what is not given does not matter.
#[derive(Debug, Clone, Copy, Default)]
pub struct Filter {
    /// About this day or one before it.
    pub due_by: Option<NaiveDate>,
    /// Done, or not done.
    pub done: Option<bool>,
}

/// The member's own notices by the day they are about, from the place (day, id) on.
pub fn own_page(
    conn: &mut Conn,
    member: MemberId,
    filter: Filter,
    after: Option<&(NaiveDate, String)>,
    limit: i64,
) -> Result<Vec<Notice>, DbError> {
    let mut query = notices::table
        .filter(notices::member_id.eq(member))
        .order((notices::due_on, notices::id))
        .limit(limit)
        .select(Notice::as_select())
        .into_boxed();
    if let Some(day) = filter.due_by {
        query = query.filter(notices::due_on.le(day));
    }
    match filter.done {
        Some(true) => query = query.filter(notices::done_at.is_not_null()),
        Some(false) => query = query.filter(notices::done_at.is_null()),
        None => {}
    }
    if let Some((day, id)) = after {
        query = query
            .filter(notices::due_on.gt(*day).or(notices::due_on.eq(*day).and(notices::id.gt(id.clone()))));
    }
    Ok(query.load(conn)?)
}

/// To whom notices of this kind were given after `since`, and about which record.
pub fn given_since(
    conn: &mut Conn,
    kind: NoticeKind,
    since: NaiveDateTime,
) -> Result<Vec<(MemberId, String)>, DbError> {
    let given = notices::table
        .filter(notices::kind.eq(kind))
        .filter(notices::created_at.gt(since))
        .filter(notices::subject_id.is_not_null())
        .select((notices::member_id, notices::subject_id.assume_not_null()));
    Ok(given.load(conn)?)
}
