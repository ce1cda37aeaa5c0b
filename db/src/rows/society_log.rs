//! The society's log: who did what, when, from where. Lines are added and never changed.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{ClubId, LogLineId, MemberId};
use storksbill_domain::words::SocietyAct;

use crate::schema::{members, society_log};
use crate::{Conn, DbError};

/// One line.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = society_log, treat_none_as_default_value = false)]
pub struct LogLine {
    /// Identity; later lines have later ids.
    pub id: LogLineId,
    /// When.
    pub at: NaiveDateTime,
    /// The member who did it; none from the command line.
    pub by_id: Option<MemberId>,
    /// The network address it was asked from.
    pub from_address: Option<String>,
    /// What was done.
    pub act: SocietyAct,
    /// The member it was done to.
    pub about_id: Option<MemberId>,
    /// The club it concerns; its secretary reads the line.
    pub club_id: Option<ClubId>,
    /// A sentence for a person.
    pub words: String,
}

/// Whose lines are asked for.
#[derive(Debug, Clone)]
pub enum Lines {
    /// Every line.
    All,
    /// Those that concern these clubs.
    OfClubs(Vec<ClubId>),
    /// Those about one member.
    About(MemberId),
}

/// Adds a line.
pub fn insert(conn: &mut Conn, line: &LogLine) -> Result<(), DbError> {
    diesel::insert_into(society_log::table).values(line.clone()).execute(conn)?;
    Ok(())
}

/// Lines, newest first, older than `before`.
pub fn page(
    conn: &mut Conn,
    lines: &Lines,
    before: Option<&str>,
    limit: i64,
) -> Result<Vec<LogLine>, DbError> {
    let mut query = society_log::table
        .order(society_log::id.desc())
        .limit(limit)
        .select(LogLine::as_select())
        .into_boxed();
    query = match lines {
        Lines::All => query,
        Lines::OfClubs(clubs) => query.filter(society_log::club_id.eq_any(clubs.clone())),
        Lines::About(member) => query.filter(society_log::about_id.eq(*member)),
    };
    if let Some(before) = before {
        query = query.filter(society_log::id.lt(before.to_owned()));
    }
    Ok(query.load(conn)?)
}

/// The names of members, for lines that name them.
pub fn names_of(conn: &mut Conn, ids: &[MemberId]) -> Result<Vec<(MemberId, String)>, DbError> {
    Ok(members::table
        .filter(members::id.eq_any(ids.to_vec()))
        .select((members::id, members::name))
        .load(conn)?)
}
