//! What the holders of breeders' rights permitted.

use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use storksbill_domain::ids::{CultivarId, MemberId};

use crate::schema::propagation_permissions;
use crate::{Conn, DbError};

/// Leave to give away cuttings of a protected cultivar, as an officer recorded it.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = propagation_permissions, primary_key(cultivar_id), treat_none_as_null = true)]
pub struct Permission {
    /// Of which cultivar.
    pub cultivar_id: CultivarId,
    /// What was permitted and by whom.
    pub words: String,
    /// The last day it holds, where an end was set.
    pub until_on: Option<NaiveDate>,
    /// The officer.
    pub recorded_by: MemberId,
    /// When it was last recorded.
    pub recorded_at: NaiveDateTime,
    /// Counts up at each edit.
    pub version: i32,
}

/// Records a permission.
pub fn insert(conn: &mut Conn, permission: &Permission) -> Result<(), DbError> {
    diesel::insert_into(propagation_permissions::table).values(permission.clone()).execute(conn)?;
    Ok(())
}

/// Stores a permission that was changed.
pub fn update(conn: &mut Conn, permission: &Permission) -> Result<(), DbError> {
    diesel::update(propagation_permissions::table.find(permission.cultivar_id))
        .set(permission.clone())
        .execute(conn)?;
    Ok(())
}

/// Takes a permission away.
pub fn delete(conn: &mut Conn, cultivar: CultivarId) -> Result<(), DbError> {
    diesel::delete(propagation_permissions::table.find(cultivar)).execute(conn)?;
    Ok(())
}

/// The permission of a cultivar, in force or run out.
pub fn find(conn: &mut Conn, cultivar: CultivarId) -> Result<Option<Permission>, DbError> {
    let known = propagation_permissions::table.find(cultivar).select(Permission::as_select());
    Ok(known.first(conn).optional()?)
}
