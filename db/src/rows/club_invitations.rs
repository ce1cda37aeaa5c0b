//! Members of the society whom a club asks to belong to it.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{ClubId, MemberId};
use storksbill_domain::words::{ClubInvitationState, ClubRole};

use crate::schema::{club_invitations, clubs, members};
use crate::{Conn, DbError};

/// That a club asked a member to belong to it, and what the member said.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = club_invitations, primary_key(club_id, member_id), treat_none_as_null = true)]
pub struct ClubInvitation {
    /// Which club.
    pub club_id: ClubId,
    /// Whom.
    pub member_id: MemberId,
    /// As what.
    pub role: ClubRole,
    /// Which officer asked.
    pub asked_by: MemberId,
    /// When.
    pub asked_at: NaiveDateTime,
    /// What became of it.
    pub state: ClubInvitationState,
    /// When it was answered.
    pub answered_at: Option<NaiveDateTime>,
    /// The club asks no more.
    pub taken_back: bool,
}

/// The invitation of this member to this club.
pub fn find(conn: &mut Conn, club: ClubId, member: MemberId) -> Result<Option<ClubInvitation>, DbError> {
    let found = club_invitations::table.find((club, member)).select(ClubInvitation::as_select());
    Ok(found.first(conn).optional()?)
}

/// Puts this invitation in the place of the one there is.
pub fn put(conn: &mut Conn, row: &ClubInvitation) -> Result<(), DbError> {
    let known = diesel::update(club_invitations::table.find((row.club_id, row.member_id)));
    if known.set(row.clone()).execute(conn)? == 0 {
        diesel::insert_into(club_invitations::table).values(row.clone()).execute(conn)?;
    }
    Ok(())
}

/// A club's invitations that were made after `since` and not accepted, with the members' names, by name: whether
/// somebody said no is theirs to know, so these are not told apart.
pub fn open_of_club(
    conn: &mut Conn,
    club: ClubId,
    since: NaiveDateTime,
) -> Result<Vec<(ClubInvitation, String)>, DbError> {
    let open = club_invitations::table
        .inner_join(members::table.on(members::id.eq(club_invitations::member_id)))
        .filter(club_invitations::club_id.eq(club))
        .filter(club_invitations::state.ne(ClubInvitationState::Accepted))
        .filter(club_invitations::taken_back.eq(false))
        .filter(club_invitations::asked_at.gt(since))
        .order((members::name_key, members::id))
        .select((ClubInvitation::as_select(), members::name));
    Ok(open.load(conn)?)
}

/// A member's own invitations, whatever became of them, with the clubs' names, by name.
pub fn own(conn: &mut Conn, member: MemberId) -> Result<Vec<(ClubInvitation, String)>, DbError> {
    let own = club_invitations::table
        .inner_join(clubs::table.on(clubs::id.eq(club_invitations::club_id)))
        .filter(club_invitations::member_id.eq(member))
        .order((clubs::name_key, clubs::id))
        .select((ClubInvitation::as_select(), clubs::name));
    Ok(own.load(conn)?)
}
