//! Members, their roles, invitations, and the clubs they belong to.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use storksbill_domain::ids::{ClubId, InvitationId, MemberId, RegionId, ShowId};
use storksbill_domain::names::initials;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{ClubInvitationState, ClubRole, SocietyRole, Standing};

use super::{After, account_codes, calendars, shares};
use crate::schema::{
    club_invitations, club_members, clubs, invitations, members, show_officials, shows, society_roles,
};
use crate::{Conn, DbError};

/// A member, or somebody who asked to become one.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = members, treat_none_as_null = true)]
pub struct Member {
    /// Identity.
    pub id: MemberId,
    /// As typed.
    pub email: String,
    /// As compared.
    pub email_key: String,
    /// As typed.
    pub name: String,
    /// As searched and sorted.
    pub name_key: String,
    /// PHC string; none until a password was chosen.
    pub password_hash: Option<String>,
    /// Where they stand.
    pub standing: Standing,
    /// Where they grow.
    pub region_id: Option<RegionId>,
    /// The club they asked to join.
    pub requested_club_id: Option<ClubId>,
    /// What they wrote when asking.
    pub request_note: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When the account was made.
    pub created_at: NaiveDateTime,
    /// When the membership ended, where it did and nobody opened the account again.
    pub left_at: Option<NaiveDateTime>,
    /// One of the young, or somebody else to be shielded: others read initials.
    pub is_protected: bool,
    /// The name as other members read it. Whatever was set here, [`insert`] and [`update`] write what follows from the
    /// name and the protection.
    pub shown_name: String,
}

impl Member {
    /// With the name as others read it in step.
    fn in_step(&self) -> Self {
        let shown_name = if self.is_protected { initials(&self.name) } else { self.name.clone() };
        Self { shown_name, ..self.clone() }
    }
}

/// Adds a member.
pub fn insert(conn: &mut Conn, member: &Member) -> Result<(), DbError> {
    diesel::insert_into(members::table).values(member.in_step()).execute(conn)?;
    Ok(())
}

/// Stores a member that was changed.
pub fn update(conn: &mut Conn, member: &Member) -> Result<(), DbError> {
    diesel::update(members::table.find(member.id)).set(member.in_step()).execute(conn)?;
    Ok(())
}

/// The member of this id.
pub fn find(conn: &mut Conn, id: MemberId) -> Result<Option<Member>, DbError> {
    Ok(members::table.find(id).select(Member::as_select()).first(conn).optional()?)
}

/// Whether somebody is protected, and where they stand: what decides how they are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shielding {
    /// Others read initials.
    pub is_protected: bool,
    /// Who left is not named any more.
    pub has_left: bool,
}

/// The shielding of these members.
pub fn shielding(conn: &mut Conn, ids: &[MemberId]) -> Result<BTreeMap<MemberId, Shielding>, DbError> {
    let mut found = BTreeMap::new();
    for part in ids.chunks(super::IN_LIST) {
        let rows = members::table
            .filter(members::id.eq_any(part.to_vec()))
            .select((members::id, members::is_protected, members::standing))
            .load::<(MemberId, bool, Standing)>(conn)?;
        found.extend(rows.into_iter().map(|(id, is_protected, standing)| {
            (id, Shielding { is_protected, has_left: standing == Standing::Left })
        }));
    }
    Ok(found)
}

/// The member of this e-mail address.
pub fn by_email(conn: &mut Conn, email_key: &str) -> Result<Option<Member>, DbError> {
    let found = members::table.filter(members::email_key.eq(email_key)).select(Member::as_select());
    Ok(found.first(conn).optional()?)
}

/// Whose lists hold protected members: everybody's (`All`), or those of the asker and of the clubs they act for.
#[derive(Debug, Clone)]
pub enum SeesProtected {
    /// Every one.
    All,
    /// The asker's own record, and members of these clubs.
    Own(MemberId, Vec<ClubId>),
}

/// Members of one standing by name.
pub fn page(
    conn: &mut Conn,
    standing: Standing,
    sees: &SeesProtected,
    name_part: Option<&str>,
    after: &After,
    limit: i64,
) -> Result<Vec<Member>, DbError> {
    let mut query = members::table
        .filter(members::standing.eq(standing))
        .order((members::name_key, members::id))
        .limit(limit)
        .select(Member::as_select())
        .into_boxed();
    if let Some(part) = name_part {
        query = query.filter(members::name_key.like(format!("%{part}%")));
    }
    if let SeesProtected::Own(asker, clubs) = sees {
        let theirs = club_members::table
            .filter(club_members::club_id.eq_any(clubs.clone()))
            .select(club_members::member_id);
        query = query.filter(
            members::is_protected.eq(false).or(members::id.eq(*asker)).or(members::id.eq_any(theirs)),
        );
    }
    if let Some((key, id)) = after {
        query = query.filter(
            members::name_key
                .gt(key.clone())
                .or(members::name_key.eq(key.clone()).and(members::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// How many members stand where.
pub fn count(conn: &mut Conn, standing: Standing) -> Result<i64, DbError> {
    Ok(members::table.filter(members::standing.eq(standing)).count().get_result(conn)?)
}

/// Roles a member holds for the society.
pub fn society_roles_of(conn: &mut Conn, member: MemberId) -> Result<Vec<SocietyRole>, DbError> {
    let roles = society_roles::table.filter(society_roles::member_id.eq(member)).order(society_roles::role);
    Ok(roles.select(society_roles::role).load(conn)?)
}

/// Sets the roles a member holds for the society.
pub fn set_society_roles(conn: &mut Conn, member: MemberId, roles: &[SocietyRole]) -> Result<(), DbError> {
    diesel::delete(society_roles::table.filter(society_roles::member_id.eq(member))).execute(conn)?;
    for role in roles {
        diesel::insert_into(society_roles::table)
            .values((society_roles::member_id.eq(member), society_roles::role.eq(*role)))
            .execute(conn)?;
    }
    Ok(())
}

/// Active members who hold this role for the society.
pub fn holders(conn: &mut Conn, role: SocietyRole) -> Result<Vec<MemberId>, DbError> {
    let holders = society_roles::table
        .inner_join(members::table)
        .filter(society_roles::role.eq(role))
        .filter(members::standing.eq(Standing::Active))
        .order(members::id);
    Ok(holders.select(members::id).load(conn)?)
}

/// A club a member belongs to, with the club's name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Belonging {
    /// The club.
    pub club_id: ClubId,
    /// Its name.
    pub club_name: String,
    /// As what.
    pub role: ClubRole,
}

/// Every membership of every club.
pub fn every_club_membership(conn: &mut Conn) -> Result<Vec<(MemberId, ClubId)>, DbError> {
    Ok(club_members::table.select((club_members::member_id, club_members::club_id)).load(conn)?)
}

/// The clubs a member belongs to, by name.
pub fn clubs_of(conn: &mut Conn, member: MemberId) -> Result<Vec<Belonging>, DbError> {
    let rows = club_members::table
        .inner_join(clubs::table)
        .filter(club_members::member_id.eq(member))
        .order((clubs::name_key, clubs::id))
        .select((clubs::id, clubs::name, club_members::role))
        .load::<(ClubId, String, ClubRole)>(conn)?;
    Ok(rows.into_iter().map(|(club_id, club_name, role)| Belonging { club_id, club_name, role }).collect())
}

/// Changes as what a member belongs to a club; false where they do not.
pub fn change_club_role(
    conn: &mut Conn,
    club: ClubId,
    member: MemberId,
    role: ClubRole,
) -> Result<bool, DbError> {
    let known = diesel::update(club_members::table.find((club, member))).set(club_members::role.eq(role));
    Ok(known.execute(conn)? > 0)
}

/// Makes a member belong to a club by their own act ([`shares::join`]), or changes as what. True where the member was
/// new to it. An officer's wish that somebody belong to a club is an invitation: `rows::club_invitations`.
pub fn set_club_role(
    conn: &mut Conn,
    club: ClubId,
    member: MemberId,
    role: ClubRole,
    now: NaiveDateTime,
) -> Result<bool, DbError> {
    if change_club_role(conn, club, member, role)? {
        return Ok(false);
    }
    shares::join(conn, club, member, role, now)?;
    Ok(true)
}

/// Ends a member's belonging to a club.
pub fn leave_club(conn: &mut Conn, club: ClubId, member: MemberId) -> Result<usize, DbError> {
    Ok(diesel::delete(club_members::table.find((club, member))).execute(conn)?)
}

/// Takes away everything a member holds: roles, clubs, duties at shows that are not over on `today`, invitations
/// made out and not taken up, one-time codes, and the link to their calendar.
pub fn give_up_everything(
    conn: &mut Conn,
    member: MemberId,
    today: NaiveDate,
    now: NaiveDateTime,
) -> Result<(), DbError> {
    set_society_roles(conn, member, &[])?;
    diesel::delete(club_members::table.filter(club_members::member_id.eq(member))).execute(conn)?;
    let to_come = shows::table
        .filter(shows::held_on.ge(today))
        .filter(shows::state.ne_all(["final", "cancelled"]))
        .select(shows::id)
        .load::<ShowId>(conn)?;
    for show in to_come {
        let duties = show_officials::table
            .filter(show_officials::show_id.eq(show))
            .filter(show_officials::member_id.eq(member));
        diesel::delete(duties).execute(conn)?;
    }
    let made_out = invitations::table
        .filter(invitations::invited_by.eq(member))
        .filter(invitations::used_at.is_null())
        .filter(invitations::expires_at.gt(now));
    diesel::update(made_out).set(invitations::expires_at.eq(now)).execute(conn)?;
    // Nor does what is waiting to be accepted outlive it: asked of them, or by them.
    let waiting = club_invitations::table
        .filter(club_invitations::state.eq(ClubInvitationState::Asked))
        .filter(club_invitations::member_id.eq(member).or(club_invitations::asked_by.eq(member)));
    diesel::delete(waiting).execute(conn)?;
    account_codes::void_all_of(conn, member, now)?;
    calendars::revoke(conn, member)
}

/// Takes a request to join away: nobody ever held the account.
pub fn delete_request(conn: &mut Conn, member: MemberId) -> Result<(), DbError> {
    let asked = members::table.find(member).filter(members::standing.eq(Standing::Requested));
    diesel::delete(asked).execute(conn)?;
    Ok(())
}

/// A member with every role they hold, whether or not they are logged in.
pub fn actor(conn: &mut Conn, member: MemberId) -> Result<Actor, DbError> {
    let society = society_roles_of(conn, member)?;
    let clubs = club_members::table
        .filter(club_members::member_id.eq(member))
        .order(club_members::club_id)
        .select((club_members::club_id, club_members::role))
        .load::<(ClubId, ClubRole)>(conn)?;
    Ok(Actor { member, society, clubs })
}

/// A club's active members with their role, by name.
pub fn club_roll(
    conn: &mut Conn,
    club: ClubId,
    sees: &SeesProtected,
    after: &After,
    limit: i64,
) -> Result<Vec<(Member, ClubRole)>, DbError> {
    let mut query = club_members::table
        .inner_join(members::table)
        .filter(club_members::club_id.eq(club))
        .filter(members::standing.eq(Standing::Active))
        .order((members::name_key, members::id))
        .limit(limit)
        .select((Member::as_select(), club_members::role))
        .into_boxed();
    match sees {
        SeesProtected::Own(asker, clubs) if !clubs.contains(&club) => {
            query = query.filter(members::is_protected.eq(false).or(members::id.eq(*asker)));
        }
        SeesProtected::All | SeesProtected::Own(..) => {}
    }
    if let Some((key, id)) = after {
        query = query.filter(
            members::name_key
                .gt(key.clone())
                .or(members::name_key.eq(key.clone()).and(members::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// An invitation to join.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = invitations, treat_none_as_null = true)]
pub struct Invitation {
    /// Identity.
    pub id: InvitationId,
    /// SHA-256 of its secret.
    pub token_hash: String,
    /// To whom, as typed.
    pub email: String,
    /// To whom, as compared.
    pub email_key: String,
    /// To which club.
    pub club_id: Option<ClubId>,
    /// By whom; none when made from the command line.
    pub invited_by: Option<MemberId>,
    /// When.
    pub created_at: NaiveDateTime,
    /// Good until.
    pub expires_at: NaiveDateTime,
    /// When it was taken up.
    pub used_at: Option<NaiveDateTime>,
}

/// Adds an invitation.
pub fn insert_invitation(conn: &mut Conn, invitation: &Invitation) -> Result<(), DbError> {
    diesel::insert_into(invitations::table).values(invitation.clone()).execute(conn)?;
    Ok(())
}

/// The invitation of this secret's hash.
pub fn invitation_by_hash(conn: &mut Conn, token_hash: &str) -> Result<Option<Invitation>, DbError> {
    let found =
        invitations::table.filter(invitations::token_hash.eq(token_hash)).select(Invitation::as_select());
    Ok(found.first(conn).optional()?)
}

/// Stores an invitation that was changed.
pub fn update_invitation(conn: &mut Conn, invitation: &Invitation) -> Result<(), DbError> {
    diesel::update(invitations::table.find(invitation.id)).set(invitation.clone()).execute(conn)?;
    Ok(())
}

/// Invitations not yet taken up, newest first.
pub fn open_invitations(conn: &mut Conn, now: NaiveDateTime) -> Result<Vec<Invitation>, DbError> {
    let open = invitations::table
        .filter(invitations::used_at.is_null())
        .filter(invitations::expires_at.gt(now))
        .order(invitations::id.desc())
        .limit(500);
    Ok(open.select(Invitation::as_select()).load(conn)?)
}

/// Forgets invitations that were taken up or ran out before `moment`. Returns how many.
pub fn forget_invitations(conn: &mut Conn, moment: NaiveDateTime) -> Result<usize, DbError> {
    let old =
        invitations::table.filter(invitations::used_at.lt(moment).or(invitations::expires_at.lt(moment)));
    Ok(diesel::delete(old).execute(conn)?)
}
