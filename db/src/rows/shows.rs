//! Shows and their classes.

use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use storksbill_domain::ids::{ClassId, ClubId, ShowId};
use storksbill_domain::words::{PlantGroup, ShowState};

use super::After;
use crate::schema::{show_classes, shows};
use crate::{Conn, DbError};

/// A show of a club.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = shows, treat_none_as_null = true)]
pub struct Show {
    /// Identity.
    pub id: ShowId,
    /// The club that holds it.
    pub club_id: ClubId,
    /// As printed on the schedule.
    pub name: String,
    /// The day.
    pub held_on: NaiveDate,
    /// Hall and address, in words.
    pub place: String,
    /// Entries close at this wall-clock time (`2026-06-11T21:00`) ...
    pub closes_wall: String,
    /// ... in this IANA time zone.
    pub zone: String,
    /// The same moment in UTC.
    pub closes_at: NaiveDateTime,
    /// Draft or published.
    pub state: ShowState,
    /// When it was published.
    pub published_at: Option<NaiveDateTime>,
    /// Anything else the schedule says.
    pub notes: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// A class of a show's schedule.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = show_classes, treat_none_as_null = true)]
pub struct Class {
    /// Identity; the label is only printed.
    pub id: ClassId,
    /// The show.
    pub show_id: ShowId,
    /// The number printed beside it, such as `106A`.
    pub label: String,
    /// As sorted.
    pub label_key: String,
    /// What is asked for, in one line.
    pub title: String,
    /// What an exhibit must meet, in words.
    pub requirements: Option<String>,
    /// The group it is confined to.
    pub plant_group: Option<PlantGroup>,
    /// Largest inner diameter of the pot at the rim, micrometres.
    pub max_pot_um: Option<i64>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// Adds a show.
pub fn insert(conn: &mut Conn, show: &Show) -> Result<(), DbError> {
    diesel::insert_into(shows::table).values(show.clone()).execute(conn)?;
    Ok(())
}

/// Stores a show that was changed.
pub fn update(conn: &mut Conn, show: &Show) -> Result<(), DbError> {
    diesel::update(shows::table.find(show.id)).set(show.clone()).execute(conn)?;
    Ok(())
}

/// The show of this id, published or not.
pub fn find(conn: &mut Conn, id: ShowId) -> Result<Option<Show>, DbError> {
    Ok(shows::table.find(id).select(Show::as_select()).first(conn).optional()?)
}

/// Whose drafts are shown beside the published shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Drafts {
    /// Every club's.
    All,
    /// Those of these clubs; often none.
    Of(Vec<ClubId>),
}

/// Which shows are looked for.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Wanted {
    /// One club's.
    pub club: Option<ClubId>,
    /// Held on this day or later.
    pub from: Option<NaiveDate>,
    /// Held on this day or earlier.
    pub to: Option<NaiveDate>,
}

/// Shows by day: the published ones, and the drafts that the asker acts for.
pub fn visible_to(
    conn: &mut Conn,
    drafts: Drafts,
    wanted: &Wanted,
    after: Option<&(NaiveDate, String)>,
    limit: i64,
) -> Result<Vec<Show>, DbError> {
    let mut query =
        shows::table.order((shows::held_on, shows::id)).limit(limit).select(Show::as_select()).into_boxed();
    if let Drafts::Of(clubs) = drafts {
        query = query.filter(shows::state.eq(ShowState::Published).or(shows::club_id.eq_any(clubs)));
    }
    if let Some(club) = wanted.club {
        query = query.filter(shows::club_id.eq(club));
    }
    if let Some(from) = wanted.from {
        query = query.filter(shows::held_on.ge(from));
    }
    if let Some(to) = wanted.to {
        query = query.filter(shows::held_on.le(to));
    }
    if let Some((day, id)) = after {
        query =
            query.filter(shows::held_on.gt(*day).or(shows::held_on.eq(*day).and(shows::id.gt(id.clone()))));
    }
    Ok(query.load(conn)?)
}

/// Adds a class.
pub fn insert_class(conn: &mut Conn, class: &Class) -> Result<(), DbError> {
    diesel::insert_into(show_classes::table).values(class.clone()).execute(conn)?;
    Ok(())
}

/// Stores a class that was changed.
pub fn update_class(conn: &mut Conn, class: &Class) -> Result<(), DbError> {
    diesel::update(show_classes::table.find(class.id)).set(class.clone()).execute(conn)?;
    Ok(())
}

/// Takes a class out.
pub fn delete_class(conn: &mut Conn, id: ClassId) -> Result<(), DbError> {
    diesel::delete(show_classes::table.find(id)).execute(conn)?;
    Ok(())
}

/// The class of this id.
pub fn class(conn: &mut Conn, id: ClassId) -> Result<Option<Class>, DbError> {
    Ok(show_classes::table.find(id).select(Class::as_select()).first(conn).optional()?)
}

/// How many classes a show has.
pub fn count_classes(conn: &mut Conn, show: ShowId) -> Result<i64, DbError> {
    Ok(show_classes::table.filter(show_classes::show_id.eq(show)).count().get_result(conn)?)
}

/// A show's classes as schedules print them.
pub fn classes_page(conn: &mut Conn, show: ShowId, after: &After, limit: i64) -> Result<Vec<Class>, DbError> {
    let mut query = show_classes::table
        .filter(show_classes::show_id.eq(show))
        .order((show_classes::label_key, show_classes::id))
        .limit(limit)
        .select(Class::as_select())
        .into_boxed();
    if let Some((key, id)) = after {
        query = query.filter(
            show_classes::label_key
                .gt(key.clone())
                .or(show_classes::label_key.eq(key.clone()).and(show_classes::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}
