//! With which clubs members share, and so who sees what they keep "for my clubs".
//!
//! What is for an owner's clubs is seen by the members of every club that the owner shares with and belongs to. The
//! owner's own acts alone write the list: joining a club, or saying so ([`join`], [`set`]). No act of an officer
//! makes it longer.

use std::collections::BTreeSet;

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{ClubId, MemberId};
use storksbill_domain::policy::{Actor, may_see_shared};
use storksbill_domain::words::{ClubRole, Visibility};

use crate::schema::{club_members, club_shares, clubs};
use crate::{Conn, DbError};

/// The members who share with a club of the actor's and belong to it, as a subquery.
macro_rules! sharing {
    ($actor:expr) => {
        crate::schema::club_shares::table
            .inner_join(
                crate::schema::club_members::table.on(crate::schema::club_members::member_id
                    .eq(crate::schema::club_shares::member_id)
                    .and(crate::schema::club_members::club_id.eq(crate::schema::club_shares::club_id))),
            )
            .filter(crate::schema::club_shares::shares.eq(true))
            .filter(crate::schema::club_shares::club_id.eq_any($actor.club_ids()))
    };
}

/// Rows that the actor may see by the rule of [`storksbill_domain::policy::may_see_shared`]: the columns of whose they
/// are and of who may see them, and the actor. For a column of owners that may be null, `or null`.
macro_rules! seen_by {
    ($owner:expr, $visibility:expr, $actor:expr) => {
        $visibility.eq(storksbill_domain::words::Visibility::Society).or($owner.eq($actor.member)).or(
            $visibility.eq(storksbill_domain::words::Visibility::Club).and(
                $owner.eq_any(
                    crate::rows::shares::sharing!($actor).select(crate::schema::club_shares::member_id),
                ),
            ),
        )
    };
    ($owner:expr, or null, $visibility:expr, $actor:expr) => {
        $visibility.eq(storksbill_domain::words::Visibility::Society).or($owner.eq($actor.member)).or(
            $visibility.eq(storksbill_domain::words::Visibility::Club).and(
                $owner.eq_any(
                    crate::rows::shares::sharing!($actor)
                        .select(crate::schema::club_shares::member_id.nullable()),
                ),
            ),
        )
    };
}

pub(crate) use {seen_by, sharing};

/// Everybody who shares with a club of the actor's.
pub fn sharing_with(conn: &mut Conn, actor: &Actor) -> Result<BTreeSet<MemberId>, DbError> {
    let sharing = sharing!(actor).select(club_shares::member_id);
    Ok(sharing.load::<MemberId>(conn)?.into_iter().collect())
}

/// Whether the actor may see what `owner` keeps for those of this visibility.
pub fn sees(
    conn: &mut Conn,
    actor: &Actor,
    owner: MemberId,
    visibility: Visibility,
) -> Result<bool, DbError> {
    let shared = visibility == Visibility::Club && owner != actor.member && {
        let shared = sharing!(actor).filter(club_shares::member_id.eq(owner));
        diesel::select(diesel::dsl::exists(shared)).get_result(conn)?
    };
    Ok(may_see_shared(actor.member, owner, shared, visibility))
}

/// Makes a member belong to a club by their own act, and share with it where they never said whether.
pub fn join(
    conn: &mut Conn,
    club: ClubId,
    member: MemberId,
    role: ClubRole,
    now: NaiveDateTime,
) -> Result<(), DbError> {
    diesel::insert_into(club_members::table)
        .values((
            club_members::club_id.eq(club),
            club_members::member_id.eq(member),
            club_members::role.eq(role),
            club_members::joined_at.eq(now),
        ))
        .execute(conn)?;
    if find(conn, club, member)?.is_none() {
        insert(conn, club, member, true)?;
    }
    Ok(())
}

/// Says whether a member shares with a club.
pub fn set(conn: &mut Conn, club: ClubId, member: MemberId, shares: bool) -> Result<(), DbError> {
    let known = diesel::update(club_shares::table.find((member, club))).set(club_shares::shares.eq(shares));
    if known.execute(conn)? == 0 {
        insert(conn, club, member, shares)?;
    }
    Ok(())
}

fn insert(conn: &mut Conn, club: ClubId, member: MemberId, shares: bool) -> Result<(), DbError> {
    let row =
        (club_shares::member_id.eq(member), club_shares::club_id.eq(club), club_shares::shares.eq(shares));
    diesel::insert_into(club_shares::table).values(row).execute(conn)?;
    Ok(())
}

fn find(conn: &mut Conn, club: ClubId, member: MemberId) -> Result<Option<bool>, DbError> {
    let said = club_shares::table.find((member, club)).select(club_shares::shares);
    Ok(said.first(conn).optional()?)
}

/// The clubs that a member belongs to, by name, and whether they share with each.
pub fn of_member(conn: &mut Conn, member: MemberId) -> Result<Vec<(ClubId, String, bool)>, DbError> {
    let own = club_members::table
        .inner_join(clubs::table)
        .left_join(
            club_shares::table.on(club_shares::club_id
                .eq(club_members::club_id)
                .and(club_shares::member_id.eq(club_members::member_id))),
        )
        .filter(club_members::member_id.eq(member))
        .order((clubs::name_key, clubs::id))
        .select((clubs::id, clubs::name, club_shares::shares.nullable()));
    let rows = own.load::<(ClubId, String, Option<bool>)>(conn)?;
    Ok(rows.into_iter().map(|(id, name, shares)| (id, name, shares == Some(true))).collect())
}
