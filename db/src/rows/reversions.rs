//! How many plants of a sport went back, grower by grower and year by year.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{CultivarId, MemberId};

use crate::schema::reversion_reports;
use crate::{Conn, DbError};

/// One grower's plants of a sport in one year.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = reversion_reports, primary_key(member_id, cultivar_id, year))]
#[diesel(treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Report {
    /// Whose.
    pub member_id: MemberId,
    /// The sport.
    pub cultivar_id: CultivarId,
    /// The year.
    pub year: i32,
    /// Plants grown.
    pub plants: i32,
    /// Those on which some shoot went back.
    pub reverted: i32,
    /// What they went back to, where that is a cultivar of the society,
    pub went_back_to_id: Option<CultivarId>,
    /// or in words.
    pub went_back_to: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was first entered.
    pub created_at: NaiveDateTime,
}

/// Adds a report.
pub fn insert(conn: &mut Conn, report: &Report) -> Result<(), DbError> {
    diesel::insert_into(reversion_reports::table).values(report).execute(conn)?;
    Ok(())
}

/// Stores a report that was changed.
pub fn update(conn: &mut Conn, report: &Report) -> Result<(), DbError> {
    let key = (report.member_id, report.cultivar_id, report.year);
    diesel::update(reversion_reports::table.find(key)).set(report.clone()).execute(conn)?;
    Ok(())
}

/// Takes a report away.
pub fn delete(conn: &mut Conn, member: MemberId, cultivar: CultivarId, year: i32) -> Result<(), DbError> {
    diesel::delete(reversion_reports::table.find((member, cultivar, year))).execute(conn)?;
    Ok(())
}

/// The member's own report of this sport and year.
pub fn own(
    conn: &mut Conn,
    member: MemberId,
    cultivar: CultivarId,
    year: i32,
) -> Result<Option<Report>, DbError> {
    let report = reversion_reports::table.find((member, cultivar, year)).select(Report::as_select());
    Ok(report.first(conn).optional()?)
}

/// The member's own reports by year and cultivar, after such a place.
pub fn own_page(
    conn: &mut Conn,
    member: MemberId,
    after: Option<&(i32, String)>,
    limit: i64,
) -> Result<Vec<Report>, DbError> {
    let mut query = reversion_reports::table
        .filter(reversion_reports::member_id.eq(member))
        .order((reversion_reports::year, reversion_reports::cultivar_id))
        .limit(limit)
        .select(Report::as_select())
        .into_boxed();
    if let Some((year, id)) = after {
        query = query.filter(
            reversion_reports::year
                .gt(*year)
                .or(reversion_reports::year.eq(*year).and(reversion_reports::cultivar_id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// Every grower's reports of a sport.
pub fn of_cultivar(conn: &mut Conn, cultivar: CultivarId) -> Result<Vec<Report>, DbError> {
    Ok(reversion_reports::table
        .filter(reversion_reports::cultivar_id.eq(cultivar))
        .order((reversion_reports::member_id, reversion_reports::year))
        .select(Report::as_select())
        .load(conn)?)
}
