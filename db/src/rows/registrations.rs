//! Names before the registrar, and the steps by which each came to where it is.

use chrono::{NaiveDate, NaiveDateTime, TimeDelta};
use diesel::dsl::{exists, max};
use diesel::prelude::*;
use storksbill_domain::ids::{CultivarId, MemberId, RegistrationId, RegistrationStepId};
use storksbill_domain::limits as domain_limits;
use storksbill_domain::words::{OtherNameKind, RegistrationState, RegistrationStepKind, Visibility};

use super::cultivars::Cultivar;
use super::{IN_LIST, limits};
use crate::schema::{
    crosses, cultivar_names, cultivars, members, registration_steps, registrations, seedlings,
};
use crate::{Conn, DbError};

/// A name proposed for a cultivar.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = registrations, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Registration {
    /// Identity.
    pub id: RegistrationId,
    /// Whose name it is to be.
    pub cultivar_id: CultivarId,
    /// Who proposed it.
    pub proposed_by: MemberId,
    /// The name, without quotation marks.
    pub name: String,
    /// As searched and sorted.
    pub name_key: String,
    /// Where it was published before.
    pub published_on: Option<NaiveDate>,
    /// Where it stands.
    pub state: RegistrationState,
    /// What spoke against it when it was last proposed, as JSON.
    pub findings: String,
    /// Once registered: its number in the register, which runs on.
    pub registration_no: Option<i32>,
    /// Once registered: the day.
    pub registered_on: Option<NaiveDate>,
    /// Counts up at each step.
    pub version: i32,
    /// When it was first proposed.
    pub created_at: NaiveDateTime,
}

/// A step; never changed.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = registration_steps, treat_none_as_default_value = false)]
pub struct Step {
    /// Identity.
    pub id: RegistrationStepId,
    /// Of which registration.
    pub registration_id: RegistrationId,
    /// What was done.
    pub kind: RegistrationStepKind,
    /// Who did it.
    pub taken_by: MemberId,
    /// The name at that time.
    pub name: String,
    /// What then spoke against it, as JSON.
    pub findings: String,
    /// Why.
    pub reason: Option<String>,
    /// When.
    pub created_at: NaiveDateTime,
}

/// Begins a registration.
pub fn insert(conn: &mut Conn, row: &Registration) -> Result<(), DbError> {
    let lately = registrations::table
        .filter(registrations::proposed_by.eq(row.proposed_by))
        .filter(registrations::created_at.gt(row.created_at - TimeDelta::days(1)));
    limits::hold(domain_limits::PROPOSALS, lately.count().get_result(conn)?, 1)?;
    diesel::insert_into(registrations::table).values(row).execute(conn)?;
    Ok(())
}

/// Stores a registration that was moved on.
pub fn update(conn: &mut Conn, row: &Registration) -> Result<(), DbError> {
    diesel::update(registrations::table.find(row.id)).set(row.clone()).execute(conn)?;
    Ok(())
}

/// Adds a step.
pub fn add_step(conn: &mut Conn, row: &Step) -> Result<(), DbError> {
    diesel::insert_into(registration_steps::table).values(row).execute(conn)?;
    Ok(())
}

/// A registration with the names of its cultivar and its proposer.
pub type Told = (Registration, String, String);

/// The registration of this id.
pub fn find(conn: &mut Conn, id: RegistrationId) -> Result<Option<Told>, DbError> {
    let found = registrations::table
        .find(id)
        .inner_join(cultivars::table)
        .inner_join(members::table)
        .select((Registration::as_select(), cultivars::name, members::shown_name));
    Ok(found.first(conn).optional()?)
}

/// Registrations, the first proposed first: of one member, or of all.
pub fn page(
    conn: &mut Conn,
    proposed_by: Option<MemberId>,
    state: Option<RegistrationState>,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<Told>, DbError> {
    let mut query = registrations::table
        .inner_join(cultivars::table)
        .inner_join(members::table)
        .order(registrations::id)
        .limit(limit)
        .select((Registration::as_select(), cultivars::name, members::shown_name))
        .into_boxed();
    if let Some(member) = proposed_by {
        query = query.filter(registrations::proposed_by.eq(member));
    }
    if let Some(state) = state {
        query = query.filter(registrations::state.eq(state));
    }
    if let Some(after) = after {
        query = query.filter(registrations::id.gt(after.to_owned()));
    }
    Ok(query.load(conn)?)
}

/// The steps of a registration with the names of those who took them, in their order.
pub fn steps(
    conn: &mut Conn,
    id: RegistrationId,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<(Step, String)>, DbError> {
    let mut query = registration_steps::table
        .inner_join(members::table)
        .filter(registration_steps::registration_id.eq(id))
        .order(registration_steps::id)
        .limit(limit)
        .select((Step::as_select(), members::shown_name))
        .into_boxed();
    if let Some(after) = after {
        query = query.filter(registration_steps::id.gt(after.to_owned()));
    }
    Ok(query.load(conn)?)
}

/// The highest number of the register.
pub fn last_number(conn: &mut Conn) -> Result<Option<i32>, DbError> {
    Ok(registrations::table.select(max(registrations::registration_no)).get_result(conn)?)
}

/// Whether a name of the cultivar is registered.
pub fn is_registered(conn: &mut Conn, cultivar: CultivarId) -> Result<bool, DbError> {
    let registered = registrations::table
        .filter(registrations::cultivar_id.eq(cultivar))
        .filter(registrations::state.eq(RegistrationState::Registered));
    Ok(diesel::select(exists(registered)).get_result(conn)?)
}

/// Whether a seedling of a cross of this member became the cultivar.
pub fn was_raised_by(conn: &mut Conn, cultivar: CultivarId, member: MemberId) -> Result<bool, DbError> {
    let raised = seedlings::table
        .inner_join(crosses::table.on(crosses::id.eq(seedlings::cross_id)))
        .filter(seedlings::cultivar_id.eq(cultivar))
        .filter(crosses::raiser_id.eq(member));
    Ok(diesel::select(exists(raised)).get_result(conn)?)
}

/// Whether another cultivar that all may see, of whatever group, has this name or was given it before. What only
/// some may see takes no name away, or a refusal would tell of it.
pub fn is_taken(conn: &mut Conn, name_key: &str, but: CultivarId) -> Result<bool, DbError> {
    let named = cultivars::table
        .filter(cultivars::name_key.eq(name_key))
        .filter(cultivars::id.ne(but))
        .filter(cultivars::visibility.eq(Visibility::Society))
        .filter(cultivars::merged_into_id.is_null());
    if diesel::select(exists(named)).get_result(conn)? {
        return Ok(true);
    }
    let given = cultivar_names::table
        .filter(cultivar_names::name_key.eq(name_key))
        .filter(cultivar_names::cultivar_id.ne(but))
        .filter(cultivar_names::kind.eq_any([OtherNameKind::Synonym, OtherNameKind::FormerName]));
    Ok(diesel::select(exists(given)).get_result(conn)?)
}

/// What is registered, by number, after a number; with the cultivars.
pub fn registered(
    conn: &mut Conn,
    after: Option<i32>,
    limit: i64,
) -> Result<Vec<(Registration, Cultivar)>, DbError> {
    Ok(registrations::table
        .inner_join(cultivars::table)
        .filter(registrations::registration_no.gt(after.unwrap_or(0)))
        .order(registrations::registration_no)
        .limit(limit)
        .select((Registration::as_select(), Cultivar::as_select()))
        .load(conn)?)
}

/// The names of those of these cultivars that all may see.
pub fn names_shown_to_all(conn: &mut Conn, ids: &[CultivarId]) -> Result<Vec<(CultivarId, String)>, DbError> {
    let mut names = Vec::with_capacity(ids.len());
    for part in ids.chunks(IN_LIST) {
        let shown = cultivars::table
            .filter(cultivars::id.eq_any(part.to_vec()))
            .filter(cultivars::visibility.eq(Visibility::Society));
        names.extend(shown.select((cultivars::id, cultivars::name)).load::<(CultivarId, String)>(conn)?);
    }
    Ok(names)
}
