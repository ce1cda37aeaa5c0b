//! What is taken and sent.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::Conn;
use storksbill_db::rows::members::{self, Belonging, Member};
use storksbill_domain::ids::{ClubId, MemberId, RegionId};
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{ClubRole, SocietyRole, Standing};
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;
use crate::http::problem::Problem;

/// A club a member belongs to.
#[derive(Debug, Serialize, ToSchema)]
pub struct BelongingOut {
    /// The club.
    pub club_id: ClubId,
    /// Its name.
    pub club_name: String,
    /// As what.
    pub role: ClubRole,
}

impl BelongingOut {
    fn of(belonging: Belonging) -> Self {
        Self { club_id: belonging.club_id, club_name: belonging.club_name, role: belonging.role }
    }
}

/// A member as the member sees their own record, and officers who look after accounts.
#[derive(Debug, Serialize, ToSchema)]
pub struct MemberOut {
    /// Identity.
    pub id: MemberId,
    /// Full name.
    pub name: String,
    /// E-mail address; never shown to other members.
    pub email: String,
    /// Where they stand.
    pub standing: Standing,
    /// Where they grow.
    pub region_id: Option<RegionId>,
    /// Roles for the whole society.
    pub roles: Vec<SocietyRole>,
    /// Clubs they belong to.
    pub clubs: Vec<BelongingOut>,
    /// Shielded, as the young are: others read initials.
    pub is_protected: bool,
    /// Member since.
    pub created_at: DateTime<Utc>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl MemberOut {
    pub(crate) fn load(conn: &mut Conn, member: Member) -> Result<Self, Problem> {
        let roles = members::society_roles_of(conn, member.id)?;
        let clubs = members::clubs_of(conn, member.id)?.into_iter().map(BelongingOut::of).collect();
        Ok(Self {
            id: member.id,
            name: member.name,
            email: member.email,
            standing: member.standing,
            region_id: member.region_id,
            roles,
            clubs,
            is_protected: member.is_protected,
            created_at: member.created_at.and_utc(),
            version: member.version,
        })
    }
}

/// A member as other members see them: no address.
#[derive(Debug, Serialize, ToSchema)]
pub struct MemberCard {
    /// Identity.
    pub id: MemberId,
    /// Full name.
    pub name: String,
    /// Where they grow.
    pub region_id: Option<RegionId>,
    /// Shielded, as the young are. Those who are stand here for officers of their clubs and of the society, and for
    /// themselves.
    pub is_protected: bool,
    /// Where they stand: told to administrators alone, who see others than the active too.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standing: Option<Standing>,
}

impl MemberCard {
    /// As `asker` may see the member.
    pub(crate) fn of(member: Member, asker: &Actor) -> Self {
        let standing = asker.is_administrator().then_some(member.standing);
        Self {
            id: member.id,
            name: member.name,
            region_id: member.region_id,
            is_protected: member.is_protected,
            standing,
        }
    }
}

/// Whether a member is to be shielded.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProtectionIn {
    /// True: nobody but officers reads more than initials, whatever is chosen at a show.
    pub is_protected: bool,
}

impl Check for ProtectionIn {
    fn check(&self, _: &mut Findings) {}
}

/// Changes to one's own record.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MemberPatch {
    /// Full name.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub name: Patch<String>,
    /// E-mail address to log in with.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub email: Patch<String>,
    /// Where you grow.
    #[serde(default)]
    #[schema(value_type = Option<RegionId>)]
    pub region_id: Patch<RegionId>,
    /// Your password; asked for where `email` is given.
    #[serde(default)]
    pub current_password: Option<String>,
}

impl Check for MemberPatch {
    fn check(&self, found: &mut Findings) {
        match &self.name {
            Patch::Value(name) => found.text("/name", name, 2, 120),
            Patch::Null => found.add("/name", "required", "cannot be cleared"),
            Patch::Absent => {}
        }
        match &self.email {
            Patch::Value(email) if !names::is_email(email) => {
                found.add("/email", "not-an-email", "must be an e-mail address such as una@merrow.example");
            }
            Patch::Null => found.add("/email", "required", "cannot be cleared"),
            Patch::Value(_) | Patch::Absent => {}
        }
        check_proof(found, self.current_password.as_deref());
    }
}

/// A password that is only to be compared: an absurd one is refused before any hashing is spent on it.
fn check_proof(found: &mut Findings, password: Option<&str>) {
    if let Some(password) = password {
        found.range("/current_password", password.len(), 1, 1000);
    }
}

/// The roles a member is to hold for the society.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RolesIn {
    /// All of them; those not named are taken away.
    pub roles: Vec<SocietyRole>,
    /// Your own password: a borrowed log-in must not make administrators.
    #[serde(default)]
    pub current_password: Option<String>,
}

impl Check for RolesIn {
    fn check(&self, found: &mut Findings) {
        check_proof(found, self.current_password.as_deref());
    }
}

/// Where a member is to stand.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct StandingIn {
    /// `active`, `suspended` or `left`.
    pub standing: Standing,
    /// Your own password.
    #[serde(default)]
    pub current_password: Option<String>,
}

impl Check for StandingIn {
    fn check(&self, found: &mut Findings) {
        check_proof(found, self.current_password.as_deref());
        if self.standing == Standing::Requested {
            found.add("/standing", "out-of-range", "must be active, suspended or left");
        }
    }
}
