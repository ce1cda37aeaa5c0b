//! What the server itself has to remember.

use diesel::prelude::*;

use crate::schema::server_settings;
use crate::{Conn, DbError};

/// The value kept under `name`.
pub fn find(conn: &mut Conn, name: &str) -> Result<Option<String>, DbError> {
    Ok(server_settings::table.find(name).select(server_settings::value).first(conn).optional()?)
}

/// Keeps `value` under a `name` that is not taken yet.
pub fn insert(conn: &mut Conn, name: &str, value: &str) -> Result<(), DbError> {
    diesel::insert_into(server_settings::table)
        .values((server_settings::name.eq(name), server_settings::value.eq(value)))
        .execute(conn)?;
    Ok(())
}

/// Replaces the value of a name that is there.
pub fn update(conn: &mut Conn, name: &str, value: &str) -> Result<usize, DbError> {
    Ok(diesel::update(server_settings::table.find(name))
        .set(server_settings::value.eq(value))
        .execute(conn)?)
}
