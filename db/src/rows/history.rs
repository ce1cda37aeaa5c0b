//! What the records of cultivars were before they were changed.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{CultivarId, MemberId};

use crate::schema::{cultivar_history, members};
use crate::{Conn, DbError};

/// A version of a cultivar that is past, and how it ended; never changed.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = cultivar_history, treat_none_as_default_value = false)]
pub struct Past {
    /// Of which cultivar.
    pub cultivar_id: CultivarId,
    /// The version that it was.
    pub version: i32,
    /// The record as it was sent, as JSON.
    pub record: String,
    /// Who changed it.
    pub changed_by: MemberId,
    /// When.
    pub changed_at: NaiveDateTime,
    /// Why, where it was more than an edit.
    pub why: Option<String>,
}

/// Keeps a version that is being changed.
pub fn keep(conn: &mut Conn, row: &Past) -> Result<(), DbError> {
    diesel::insert_into(cultivar_history::table).values(row).execute(conn)?;
    Ok(())
}

/// Past versions of a cultivar, the latest first, before a version; with the names of who changed them.
pub fn page(
    conn: &mut Conn,
    cultivar: CultivarId,
    before: Option<i32>,
    limit: i64,
) -> Result<Vec<(Past, String)>, DbError> {
    let mut query = cultivar_history::table
        .inner_join(members::table)
        .filter(cultivar_history::cultivar_id.eq(cultivar))
        .order(cultivar_history::version.desc())
        .limit(limit)
        .select((Past::as_select(), members::shown_name))
        .into_boxed();
    if let Some(version) = before {
        query = query.filter(cultivar_history::version.lt(version));
    }
    Ok(query.load(conn)?)
}

/// Forgets the past of a cultivar that is being removed.
pub fn delete(conn: &mut Conn, cultivar: CultivarId) -> Result<(), DbError> {
    let past = cultivar_history::table.filter(cultivar_history::cultivar_id.eq(cultivar));
    diesel::delete(past).execute(conn)?;
    Ok(())
}
