//! Other names of cultivars: synonyms, trade designations, former names, misspellings.

use std::collections::BTreeSet;

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{CultivarId, CultivarNameId, MemberId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::OtherNameKind;

use super::{After, cultivars};
use crate::schema::cultivar_names;
use crate::{Conn, DbError};

/// Another name of a cultivar.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = cultivar_names, treat_none_as_default_value = false)]
pub struct OtherName {
    /// Identity.
    pub id: CultivarNameId,
    /// Whose.
    pub cultivar_id: CultivarId,
    /// As typed.
    pub name: String,
    /// As searched and sorted.
    pub name_key: String,
    /// What it is.
    pub kind: OtherNameKind,
    /// Anything else.
    pub note: Option<String>,
    /// Who entered it.
    pub entered_by: MemberId,
    /// When.
    pub created_at: NaiveDateTime,
}

/// Adds a name.
pub fn insert(conn: &mut Conn, row: &OtherName) -> Result<(), DbError> {
    diesel::insert_into(cultivar_names::table).values(row).execute(conn)?;
    Ok(())
}

/// Takes a name of the cultivar away; returns how many there were.
pub fn delete(conn: &mut Conn, cultivar: CultivarId, id: CultivarNameId) -> Result<usize, DbError> {
    let name = cultivar_names::table.find(id).filter(cultivar_names::cultivar_id.eq(cultivar));
    Ok(diesel::delete(name).execute(conn)?)
}

/// The other names of a cultivar by name, after such a place.
pub fn page(
    conn: &mut Conn,
    cultivar: CultivarId,
    after: &After,
    limit: i64,
) -> Result<Vec<OtherName>, DbError> {
    let mut query = cultivar_names::table
        .filter(cultivar_names::cultivar_id.eq(cultivar))
        .order((cultivar_names::name_key, cultivar_names::id))
        .limit(limit)
        .select(OtherName::as_select())
        .into_boxed();
    if let Some((key, id)) = after {
        query = query.filter(
            cultivar_names::name_key
                .gt(key.clone())
                .or(cultivar_names::name_key.eq(key.clone()).and(cultivar_names::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// Every other name of this cultivar's.
pub fn of_cultivar(conn: &mut Conn, cultivar: CultivarId) -> Result<Vec<OtherName>, DbError> {
    Ok(cultivar_names::table
        .filter(cultivar_names::cultivar_id.eq(cultivar))
        .order(cultivar_names::id)
        .select(OtherName::as_select())
        .load(conn)?)
}

/// A name that a new one is held against.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownName {
    /// Whose.
    pub cultivar_id: CultivarId,
    /// As typed.
    pub name: String,
    /// What other name it is; none where it is the cultivar's own.
    pub kind: Option<OtherNameKind>,
}

/// The name of every cultivar that the actor may see, and every other name of those, each by id.
pub fn known_visible_to(conn: &mut Conn, actor: &Actor) -> Result<Vec<KnownName>, DbError> {
    let own = cultivars::every_name_visible_to(conn, actor)?;
    let seen: BTreeSet<CultivarId> = own.iter().map(|(id, _)| *id).collect();
    let others = cultivar_names::table
        .order(cultivar_names::id)
        .select((cultivar_names::cultivar_id, cultivar_names::name, cultivar_names::kind))
        .load::<(CultivarId, String, OtherNameKind)>(conn)?;
    let own = own.into_iter().map(|(cultivar_id, name)| KnownName { cultivar_id, name, kind: None });
    let others = others
        .into_iter()
        .filter(|(cultivar_id, ..)| seen.contains(cultivar_id))
        .map(|(cultivar_id, name, kind)| KnownName { cultivar_id, name, kind: Some(kind) });
    Ok(own.chain(others).collect())
}
