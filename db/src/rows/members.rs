//! Members, their roles, invitations, and the clubs they belong to.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{ClubId, InvitationId, MemberId, RegionId};
use storksbill_domain::words::{ClubRole, SocietyRole, Standing};

use super::After;
use crate::schema::{club_members, clubs, invitations, members, society_roles};
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
}

/// Adds a member.
pub fn insert(conn: &mut Conn, member: &Member) -> Result<(), DbError> {
    diesel::insert_into(members::table).values(member.clone()).execute(conn)?;
    Ok(())
}

/// Stores a member that was changed.
pub fn update(conn: &mut Conn, member: &Member) -> Result<(), DbError> {
    diesel::update(members::table.find(member.id)).set(member.clone()).execute(conn)?;
    Ok(())
}

/// The member of this id.
pub fn find(conn: &mut Conn, id: MemberId) -> Result<Option<Member>, DbError> {
    Ok(members::table.find(id).select(Member::as_select()).first(conn).optional()?)
}

/// The member of this e-mail address.
pub fn by_email(conn: &mut Conn, email_key: &str) -> Result<Option<Member>, DbError> {
    let found = members::table.filter(members::email_key.eq(email_key)).select(Member::as_select());
    Ok(found.first(conn).optional()?)
}

/// Members of one standing by name.
pub fn page(
    conn: &mut Conn,
    standing: Standing,
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

/// Makes a member belong to a club, or changes as what. True where the member was new to it.
pub fn set_club_role(
    conn: &mut Conn,
    club: ClubId,
    member: MemberId,
    role: ClubRole,
    now: NaiveDateTime,
) -> Result<bool, DbError> {
    let known = diesel::update(club_members::table.find((club, member))).set(club_members::role.eq(role));
    if known.execute(conn)? > 0 {
        return Ok(false);
    }
    diesel::insert_into(club_members::table)
        .values((
            club_members::club_id.eq(club),
            club_members::member_id.eq(member),
            club_members::role.eq(role),
            club_members::joined_at.eq(now),
        ))
        .execute(conn)?;
    Ok(true)
}

/// Ends a member's belonging to a club.
pub fn leave_club(conn: &mut Conn, club: ClubId, member: MemberId) -> Result<usize, DbError> {
    Ok(diesel::delete(club_members::table.find((club, member))).execute(conn)?)
}

/// A club's active members with their role, by name.
pub fn club_roll(
    conn: &mut Conn,
    club: ClubId,
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
