//! Fits of the forecast's parameters, comparisons of forecasts with what came, and what growers measured in
//! their own houses.

use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use storksbill_domain::ids::{BacktestId, FitId, InsideReadingId, MemberId, RegionId};
use storksbill_domain::words::Environment;

use super::IN_LIST;
use crate::schema::{backtests, fits, inside_readings};
use crate::{Conn, DbError};

/// A fit of the forecast's parameters to the members' pooled records.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = fits)]
pub struct Fit {
    /// Identity.
    pub id: FitId,
    /// Counts up from 1; forecasts name it.
    pub version_no: i32,
    /// When.
    pub made_at: NaiveDateTime,
    /// SHA-256 of what it was fitted to, hexadecimal.
    pub fingerprint: String,
    /// Records it stands on.
    pub records: i32,
    /// Growers it stands on.
    pub growers: i32,
    /// JSON.
    pub parameters: String,
    /// What is worth saying of it.
    pub notes: String,
}

/// Adds a fit. A `version_no` that is there already breaks `fits_version_no_key`.
pub fn insert_fit(conn: &mut Conn, fit: &Fit) -> Result<(), DbError> {
    diesel::insert_into(fits::table).values(fit.clone()).execute(conn)?;
    Ok(())
}

/// The fit of this version.
pub fn fit(conn: &mut Conn, version_no: i32) -> Result<Option<Fit>, DbError> {
    Ok(fits::table.filter(fits::version_no.eq(version_no)).select(Fit::as_select()).first(conn).optional()?)
}

/// The newest fit.
pub fn latest_fit(conn: &mut Conn) -> Result<Option<Fit>, DbError> {
    Ok(fits::table.order(fits::version_no.desc()).select(Fit::as_select()).first(conn).optional()?)
}

/// Fits, newest first, those before the version `before` alone where it is given.
pub fn fits_page(conn: &mut Conn, before: Option<i32>, limit: i64) -> Result<Vec<Fit>, DbError> {
    let mut query =
        fits::table.order(fits::version_no.desc()).limit(limit).select(Fit::as_select()).into_boxed();
    if let Some(version_no) = before {
        query = query.filter(fits::version_no.lt(version_no));
    }
    Ok(query.load(conn)?)
}

/// A comparison of a fit's forecasts of past seasons with what came.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = backtests)]
pub struct Backtest {
    /// Identity.
    pub id: BacktestId,
    /// Of which fit.
    pub fit_id: FitId,
    /// When.
    pub made_at: NaiveDateTime,
    /// JSON.
    pub report: String,
}

/// Adds a comparison.
pub fn insert_backtest(conn: &mut Conn, backtest: &Backtest) -> Result<(), DbError> {
    diesel::insert_into(backtests::table).values(backtest.clone()).execute(conn)?;
    Ok(())
}

/// The newest comparison of a fit.
pub fn latest_backtest_of(conn: &mut Conn, fit: FitId) -> Result<Option<Backtest>, DbError> {
    Ok(backtests::table
        .filter(backtests::fit_id.eq(fit))
        .order((backtests::made_at.desc(), backtests::id.desc()))
        .select(Backtest::as_select())
        .first(conn)
        .optional()?)
}

/// The newest comparison of all, with its fit.
pub fn latest_backtest(conn: &mut Conn) -> Result<Option<(Backtest, Fit)>, DbError> {
    Ok(backtests::table
        .inner_join(fits::table)
        .order((backtests::made_at.desc(), backtests::id.desc()))
        .select((Backtest::as_select(), Fit::as_select()))
        .first(conn)
        .optional()?)
}

/// A day in a grower's own house.
#[derive(Debug, Clone, PartialEq, Queryable, Selectable, Insertable)]
#[diesel(table_name = inside_readings)]
pub struct InsideReading {
    /// Identity.
    pub id: InsideReadingId,
    /// Whose house.
    pub member_id: MemberId,
    /// Where it stands.
    pub region_id: RegionId,
    /// What kind of house: not `outdoors`.
    pub environment: Environment,
    /// Kept at least this warm, degrees C.
    pub heated_to_c: Option<f64>,
    /// Which day.
    pub day: NaiveDate,
    /// Lowest, degrees C.
    pub min_c: f64,
    /// Highest, degrees C.
    pub max_c: f64,
}

/// One of a member's houses, as far as the records tell houses apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct House {
    /// Where it stands.
    pub region_id: RegionId,
    /// What kind of house.
    pub environment: Environment,
    /// Kept at least this warm, degrees C.
    pub heated_to_c: Option<f64>,
}

/// Writes days of a member's house, replacing those that are there. Every row must be of `member` and `house`.
pub fn replace_inside_readings(
    conn: &mut Conn,
    member: MemberId,
    house: &House,
    rows: &[InsideReading],
) -> Result<(), DbError> {
    for part in rows.chunks(IN_LIST) {
        let days: Vec<NaiveDate> = part.iter().map(|row| row.day).collect();
        let known = inside_readings::table
            .filter(inside_readings::member_id.eq(member))
            .filter(inside_readings::region_id.eq(house.region_id))
            .filter(inside_readings::environment.eq(house.environment))
            .filter(inside_readings::day.eq_any(days));
        match house.heated_to_c {
            Some(kept) => {
                diesel::delete(known.filter(inside_readings::heated_to_c.eq(kept))).execute(conn)?
            }
            None => diesel::delete(known.filter(inside_readings::heated_to_c.is_null())).execute(conn)?,
        };
    }
    for row in rows {
        diesel::insert_into(inside_readings::table).values(row.clone()).execute(conn)?;
    }
    Ok(())
}

/// A member's own readings, oldest first.
pub fn own_inside_readings_page(
    conn: &mut Conn,
    member: MemberId,
    from: NaiveDate,
    to: NaiveDate,
    after: Option<&(NaiveDate, String)>,
    limit: i64,
) -> Result<Vec<InsideReading>, DbError> {
    let mut query = inside_readings::table
        .filter(inside_readings::member_id.eq(member))
        .filter(inside_readings::day.between(from, to))
        .order((inside_readings::day, inside_readings::id))
        .limit(limit)
        .select(InsideReading::as_select())
        .into_boxed();
    if let Some((day, id)) = after {
        query = query.filter(
            inside_readings::day
                .gt(*day)
                .or(inside_readings::day.eq(*day).and(inside_readings::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// Forgets a member's own readings from `from` to `to`; says how many.
pub fn delete_own_inside_readings(
    conn: &mut Conn,
    member: MemberId,
    from: NaiveDate,
    to: NaiveDate,
) -> Result<usize, DbError> {
    let own = inside_readings::table
        .filter(inside_readings::member_id.eq(member))
        .filter(inside_readings::day.between(from, to));
    Ok(diesel::delete(own).execute(conn)?)
}

/// Every grower's readings, house by house, oldest first: for the gain of a kind of house.
pub fn all_inside_readings(conn: &mut Conn) -> Result<Vec<InsideReading>, DbError> {
    let all = inside_readings::table.order((
        inside_readings::member_id,
        inside_readings::region_id,
        inside_readings::environment,
        inside_readings::heated_to_c,
        inside_readings::day,
    ));
    Ok(all.select(InsideReading::as_select()).load(conn)?)
}
