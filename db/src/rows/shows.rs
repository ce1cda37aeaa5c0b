//! Shows, the versions of their schedules, and their judges and stewards.

use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use storksbill_domain::ids::{ClubId, MemberId, OfficialId, ShowId};
use storksbill_domain::words::{OfficialRole, ShowState};

use crate::schema::{show_officials, show_versions, shows};
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
    /// Entries are taken from this moment on; from publication when not given.
    pub opens_at: Option<NaiveDateTime>,
    /// When the hall opens to the public.
    pub hall_opens_at: Option<NaiveDateTime>,
    /// Where it stands.
    pub state: ShowState,
    /// When its first schedule was published.
    pub published_at: Option<NaiveDateTime>,
    /// JSON: the schedule as it is worked on.
    pub draft: String,
    /// The number of the version in force; 0 before the first.
    pub schedule_number: i32,
    /// Entry numbers are drawn from it.
    pub secret: Option<String>,
    /// Anything else the schedule says.
    pub notes: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// A version of a schedule that was published.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = show_versions, treat_none_as_default_value = false)]
pub struct Version {
    /// Of which show.
    pub show_id: ShowId,
    /// 1 for the first.
    pub number: i32,
    /// JSON, canonical.
    pub document: String,
    /// The hash of these bytes, in hex.
    pub sha256: String,
    /// Why it was amended.
    pub reason: Option<String>,
    /// JSON: what differs from the version before.
    pub changes: String,
    /// Who published it.
    pub published_by: MemberId,
    /// When.
    pub published_at: NaiveDateTime,
}

/// A judge or steward of a show.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = show_officials, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Official {
    /// Identity.
    pub id: OfficialId,
    /// At which show.
    pub show_id: ShowId,
    /// What they do.
    pub role: OfficialRole,
    /// The member, where it is one.
    pub member_id: Option<MemberId>,
    /// As printed.
    pub name: String,
    /// JSON: the set of classes.
    pub classes: String,
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

/// The shows of these ids, in no order.
pub fn of_ids(conn: &mut Conn, ids: &[ShowId]) -> Result<Vec<Show>, DbError> {
    let mut found = Vec::with_capacity(ids.len());
    for part in ids.chunks(super::IN_LIST) {
        let part = shows::table.filter(shows::id.eq_any(part.to_vec()));
        found.extend(part.select(Show::as_select()).load(conn)?);
    }
    Ok(found)
}

/// A show whose results were given out.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable)]
#[diesel(table_name = shows)]
pub struct Judged {
    /// Identity.
    pub id: ShowId,
    /// As printed.
    pub name: String,
    /// The day.
    pub held_on: NaiveDate,
    /// How far it has come.
    pub state: ShowState,
}

/// Shows since a day whose results were given out, the latest first.
pub fn judged_since(conn: &mut Conn, since: NaiveDate, limit: i64) -> Result<Vec<Judged>, DbError> {
    let found = shows::table
        .filter(shows::held_on.ge(since))
        .filter(shows::state.eq_any([ShowState::Provisional, ShowState::Final]))
        .order((shows::held_on.desc(), shows::id.desc()))
        .limit(limit);
    Ok(found.select(Judged::as_select()).load(conn)?)
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
        query = query.filter(shows::published_at.is_not_null().or(shows::club_id.eq_any(clubs)));
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

/// Adds a version of a schedule.
pub fn insert_version(conn: &mut Conn, version: &Version) -> Result<(), DbError> {
    diesel::insert_into(show_versions::table).values(version.clone()).execute(conn)?;
    Ok(())
}

/// The version of this number.
pub fn version(conn: &mut Conn, show: ShowId, number: i32) -> Result<Option<Version>, DbError> {
    let found = show_versions::table.find((show, number));
    Ok(found.select(Version::as_select()).first(conn).optional()?)
}

/// The version in force at a moment: the last one published by then.
pub fn version_at(conn: &mut Conn, show: ShowId, at: NaiveDateTime) -> Result<Option<Version>, DbError> {
    let found = show_versions::table
        .filter(show_versions::show_id.eq(show))
        .filter(show_versions::published_at.le(at))
        .order(show_versions::number.desc());
    Ok(found.select(Version::as_select()).first(conn).optional()?)
}

/// Every version of a schedule, the first one first.
pub fn versions(conn: &mut Conn, show: ShowId) -> Result<Vec<Version>, DbError> {
    let all = show_versions::table.filter(show_versions::show_id.eq(show)).order(show_versions::number);
    Ok(all.select(Version::as_select()).load(conn)?)
}

/// A version without its document.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable)]
#[diesel(table_name = show_versions)]
pub struct Published {
    /// Of which show.
    pub show_id: ShowId,
    /// 1 for the first.
    pub number: i32,
    /// Why it was amended; none for the first.
    pub reason: Option<String>,
    /// When.
    pub published_at: NaiveDateTime,
}

/// What was published of these shows, in no order.
pub fn published_of(conn: &mut Conn, ids: &[ShowId]) -> Result<Vec<Published>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(super::IN_LIST) {
        let told = show_versions::table.filter(show_versions::show_id.eq_any(part.to_vec()));
        found.extend(told.select(Published::as_select()).load(conn)?);
    }
    Ok(found)
}

/// The versions in force of a club's earlier shows, the latest show first: `(show, version)`.
pub fn earlier(
    conn: &mut Conn,
    club: ClubId,
    before: NaiveDate,
    limit: i64,
) -> Result<Vec<(Show, Version)>, DbError> {
    let found =
        shows::table
            .inner_join(show_versions::table.on(
                show_versions::show_id.eq(shows::id).and(show_versions::number.eq(shows::schedule_number)),
            ))
            .filter(shows::club_id.eq(club))
            .filter(shows::held_on.lt(before))
            .order((shows::held_on.desc(), shows::id.desc()))
            .limit(limit);
    Ok(found.select((Show::as_select(), Version::as_select())).load(conn)?)
}

/// Adds a judge or steward.
pub fn insert_official(conn: &mut Conn, official: &Official) -> Result<(), DbError> {
    diesel::insert_into(show_officials::table).values(official.clone()).execute(conn)?;
    Ok(())
}

/// Stores a judge or steward that was changed.
pub fn update_official(conn: &mut Conn, official: &Official) -> Result<(), DbError> {
    diesel::update(show_officials::table.find(official.id)).set(official.clone()).execute(conn)?;
    Ok(())
}

/// Takes a judge or steward off.
pub fn delete_official(conn: &mut Conn, id: OfficialId) -> Result<(), DbError> {
    diesel::delete(show_officials::table.find(id)).execute(conn)?;
    Ok(())
}

/// Judges and stewards of a show, in the order of their entering.
pub fn officials(conn: &mut Conn, show: ShowId) -> Result<Vec<Official>, DbError> {
    let all = show_officials::table.filter(show_officials::show_id.eq(show)).order(show_officials::id);
    Ok(all.select(Official::as_select()).load(conn)?)
}
