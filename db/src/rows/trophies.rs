//! Trophies of clubs, who won them, and where they are.

use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use storksbill_domain::ids::{ClubId, ExhibitorId, MemberId, ShowId, TrophyAwardId, TrophyId};

use crate::schema::{trophies, trophy_awards};
use crate::{Conn, DbError};

/// A cup or medal.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = trophies, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Trophy {
    /// Identity.
    pub id: TrophyId,
    /// Whose.
    pub club_id: ClubId,
    /// What schedules know it by from year to year.
    pub trophy_key: String,
    /// As printed.
    pub title: String,
    /// Who gave it, what is engraved on it.
    pub notes: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// A trophy won in a year; equals who share it have an award each.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = trophy_awards, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Award {
    /// Identity.
    pub id: TrophyAwardId,
    /// Which.
    pub trophy_id: TrophyId,
    /// At which show, where the server kept its results.
    pub show_id: Option<ShowId>,
    /// The year.
    pub year: i32,
    /// The member, where it is one.
    pub member_id: Option<MemberId>,
    /// As the winner chose to be published.
    pub name: String,
    /// When the winner signed for it.
    pub handed_over_on: Option<NaiveDate>,
    /// When it is wanted back.
    pub due_back_on: Option<NaiveDate>,
    /// When it came back.
    pub returned_on: Option<NaiveDate>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
    /// Of a show's results, whose it is.
    pub exhibitor_id: Option<ExhibitorId>,
}

/// Adds a trophy; a club has one of a key.
pub fn insert(conn: &mut Conn, row: &Trophy) -> Result<(), DbError> {
    diesel::insert_into(trophies::table).values(row.clone()).execute(conn)?;
    Ok(())
}

/// Stores a trophy that was changed.
pub fn update(conn: &mut Conn, row: &Trophy) -> Result<(), DbError> {
    diesel::update(trophies::table.find(row.id)).set(row.clone()).execute(conn)?;
    Ok(())
}

/// The trophy of this id.
pub fn find(conn: &mut Conn, id: TrophyId) -> Result<Option<Trophy>, DbError> {
    Ok(trophies::table.find(id).select(Trophy::as_select()).first(conn).optional()?)
}

/// The trophies of a club by key.
pub fn of_club(conn: &mut Conn, club: ClubId) -> Result<Vec<Trophy>, DbError> {
    let all = trophies::table.filter(trophies::club_id.eq(club)).order(trophies::trophy_key);
    Ok(all.select(Trophy::as_select()).load(conn)?)
}

/// Adds an award.
pub fn insert_award(conn: &mut Conn, row: &Award) -> Result<(), DbError> {
    diesel::insert_into(trophy_awards::table).values(row.clone()).execute(conn)?;
    Ok(())
}

/// Stores an award that was changed.
pub fn update_award(conn: &mut Conn, row: &Award) -> Result<(), DbError> {
    diesel::update(trophy_awards::table.find(row.id)).set(row.clone()).execute(conn)?;
    Ok(())
}

/// Takes an award out.
pub fn delete_award(conn: &mut Conn, id: TrophyAwardId) -> Result<(), DbError> {
    diesel::delete(trophy_awards::table.find(id)).execute(conn)?;
    Ok(())
}

/// The award of this id.
pub fn award(conn: &mut Conn, id: TrophyAwardId) -> Result<Option<Award>, DbError> {
    Ok(trophy_awards::table.find(id).select(Award::as_select()).first(conn).optional()?)
}

/// The awards of a trophy, the latest first.
pub fn awards(conn: &mut Conn, trophy: TrophyId) -> Result<Vec<Award>, DbError> {
    let all = trophy_awards::table
        .filter(trophy_awards::trophy_id.eq(trophy))
        .order((trophy_awards::year.desc(), trophy_awards::id.desc()));
    Ok(all.select(Award::as_select()).load(conn)?)
}

/// The awards of all trophies of a club, with the trophy's key, the latest first.
pub fn awards_of_club(conn: &mut Conn, club: ClubId) -> Result<Vec<(String, Award)>, DbError> {
    let all = trophy_awards::table
        .inner_join(trophies::table)
        .filter(trophies::club_id.eq(club))
        .order((trophy_awards::year.desc(), trophy_awards::id.desc()));
    Ok(all.select((trophies::trophy_key, Award::as_select())).load(conn)?)
}

/// What a member has won, with the trophy, the latest first.
pub fn awards_of_member(conn: &mut Conn, member: MemberId) -> Result<Vec<(Trophy, Award)>, DbError> {
    let all = trophy_awards::table
        .inner_join(trophies::table)
        .filter(trophy_awards::member_id.eq(member))
        .order((trophy_awards::year.desc(), trophy_awards::id.desc()));
    Ok(all.select((Trophy::as_select(), Award::as_select())).load(conn)?)
}
