//! What members are ready to do in a round of the swap, where they grow, and with whom they do not swap.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{MemberId, RegionId};
use storksbill_domain::names;
use storksbill_domain::words::Standing;

use super::After;
use crate::schema::{members, regions, swap_refusals, swap_terms};
use crate::{Conn, DbError};

/// Cuttings that a member who never said anything gives, and receives, at most in one round.
pub const USUAL_MOST: i32 = 5;

/// A member's terms.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = swap_terms, primary_key(member_id), treat_none_as_null = true)]
pub struct Terms {
    /// Whose.
    pub member_id: MemberId,
    /// Cuttings given at most in one round.
    pub give_most: i32,
    /// Cuttings received at most in one round.
    pub receive_most: i32,
    /// Ready to post and to receive by post; in person alone otherwise.
    pub by_post: bool,
    /// How far away a partner may grow, kilometres.
    pub within_km: Option<i32>,
    /// Counts up at each edit; 0 while nothing is kept.
    pub version: i32,
}

impl Terms {
    /// The terms of a member who never said anything: five each way, in person, however far.
    pub fn usual(member_id: MemberId) -> Self {
        Self {
            member_id,
            give_most: USUAL_MOST,
            receive_most: USUAL_MOST,
            by_post: false,
            within_km: None,
            version: 0,
        }
    }
}

/// Keeps a member's terms for the first time.
pub fn insert(conn: &mut Conn, terms: &Terms) -> Result<(), DbError> {
    diesel::insert_into(swap_terms::table).values(terms.clone()).execute(conn)?;
    Ok(())
}

/// Stores terms that were changed.
pub fn update(conn: &mut Conn, terms: &Terms) -> Result<(), DbError> {
    diesel::update(swap_terms::table.find(terms.member_id)).set(terms.clone()).execute(conn)?;
    Ok(())
}

/// The terms that a member keeps; none where the usual ones hold.
pub fn find(conn: &mut Conn, member: MemberId) -> Result<Option<Terms>, DbError> {
    Ok(swap_terms::table.find(member).select(Terms::as_select()).first(conn).optional()?)
}

/// Every member's kept terms, by member; for the others [`Terms::usual`] holds.
pub fn all(conn: &mut Conn) -> Result<Vec<Terms>, DbError> {
    Ok(swap_terms::table.order(swap_terms::member_id).select(Terms::as_select()).load(conn)?)
}

/// Where a member grows.
#[derive(Debug, Clone, PartialEq)]
pub struct Whereabouts {
    /// The member.
    pub member_id: MemberId,
    /// Their region.
    pub region_id: RegionId,
    /// The plant-health zone of the region, as compared: without case, accents and quotes.
    pub zone_key: String,
    /// The same as typed.
    pub zone: String,
    /// Degrees north of a place typical of the region.
    pub latitude: f64,
    /// Degrees east of the same place.
    pub longitude: f64,
}

/// Where the active members grow, by member; those whose record names no region are left out.
pub fn whereabouts(conn: &mut Conn) -> Result<Vec<Whereabouts>, DbError> {
    let rows = members::table
        .inner_join(regions::table.on(regions::id.nullable().eq(members::region_id)))
        .filter(members::standing.eq(Standing::Active))
        .order(members::id)
        .select((members::id, regions::id, regions::plant_health_zone, regions::latitude, regions::longitude))
        .load::<(MemberId, RegionId, String, f64, f64)>(conn)?;
    Ok(rows
        .into_iter()
        .map(|(member_id, region_id, zone, latitude, longitude)| {
            let zone_key = names::search_key(&zone);
            Whereabouts { member_id, region_id, zone_key, zone, latitude, longitude }
        })
        .collect())
}

/// One member does not want to swap with another.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = swap_refusals)]
pub struct Refusal {
    /// Who does not want to. Nobody but this member is ever told.
    pub member_id: MemberId,
    /// With whom.
    pub other_id: MemberId,
    /// Since when.
    pub created_at: NaiveDateTime,
}

/// Keeps a refusal.
pub fn insert_refusal(conn: &mut Conn, refusal: &Refusal) -> Result<(), DbError> {
    diesel::insert_into(swap_refusals::table).values(refusal.clone()).execute(conn)?;
    Ok(())
}

/// Takes a refusal back; whether there was one.
pub fn delete_refusal(conn: &mut Conn, member: MemberId, other: MemberId) -> Result<bool, DbError> {
    Ok(diesel::delete(swap_refusals::table.find((member, other))).execute(conn)? > 0)
}

/// A refusal of the member's own.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedRefusal {
    /// The refusal.
    pub refusal: Refusal,
    /// The other member's name.
    pub other_name: String,
    /// The same as sorted.
    pub other_name_key: String,
}

impl NamedRefusal {
    fn of((refusal, other_name, other_name_key): (Refusal, String, String)) -> Self {
        Self { refusal, other_name, other_name_key }
    }
}

/// The member's own refusal of `other`.
pub fn own_refusal(
    conn: &mut Conn,
    member: MemberId,
    other: MemberId,
) -> Result<Option<NamedRefusal>, DbError> {
    let own = swap_refusals::table
        .inner_join(members::table.on(members::id.eq(swap_refusals::other_id)))
        .filter(swap_refusals::member_id.eq(member))
        .filter(swap_refusals::other_id.eq(other))
        .select((Refusal::as_select(), members::shown_name, members::name_key));
    Ok(own.first(conn).optional()?.map(NamedRefusal::of))
}

/// The member's own refusals, by the other's name.
pub fn own_refusals(
    conn: &mut Conn,
    member: MemberId,
    after: &After,
    limit: i64,
) -> Result<Vec<NamedRefusal>, DbError> {
    let mut query = swap_refusals::table
        .inner_join(members::table.on(members::id.eq(swap_refusals::other_id)))
        .filter(swap_refusals::member_id.eq(member))
        .order((members::name_key, members::id))
        .limit(limit)
        .select((Refusal::as_select(), members::shown_name, members::name_key))
        .into_boxed();
    if let Some((key, id)) = after {
        query = query.filter(
            members::name_key
                .gt(key.clone())
                .or(members::name_key.eq(key.clone()).and(members::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?.into_iter().map(NamedRefusal::of).collect())
}

/// Every pair of which one does not want to swap with the other, the one who said so first.
pub fn refused_pairs(conn: &mut Conn) -> Result<Vec<(MemberId, MemberId)>, DbError> {
    let all = swap_refusals::table.order((swap_refusals::member_id, swap_refusals::other_id));
    Ok(all.select((swap_refusals::member_id, swap_refusals::other_id)).load(conn)?)
}
