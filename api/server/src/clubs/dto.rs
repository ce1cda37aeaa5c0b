//! What is taken and sent.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::club_invitations::ClubInvitation;
use storksbill_db::rows::members::Member;
use storksbill_db::rows::places::Club;
use storksbill_domain::ids::{ClubId, MemberId, RegionId};
use storksbill_domain::words::{ClubInvitationState, ClubRole};
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

/// A club to enter.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClubIn {
    /// Name, unlike that of any other club.
    pub name: String,
    /// The region it meets in; new members grow there until they say otherwise.
    pub region_id: RegionId,
    /// Hall and hour, in words.
    #[serde(default)]
    pub meeting_place: Option<String>,
}

impl Check for ClubIn {
    fn check(&self, found: &mut Findings) {
        found.text("/name", &self.name, 2, 120);
        found.optional_text("/meeting_place", self.meeting_place.as_deref(), 300);
    }
}

/// Changes to a club.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClubPatch {
    /// Name.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub name: Patch<String>,
    /// Region.
    #[serde(default)]
    #[schema(value_type = Option<RegionId>)]
    pub region_id: Patch<RegionId>,
    /// Hall and hour, in words.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub meeting_place: Patch<String>,
}

impl Check for ClubPatch {
    fn check(&self, found: &mut Findings) {
        match &self.name {
            Patch::Value(name) => found.text("/name", name, 2, 120),
            Patch::Null => found.add("/name", "required", "cannot be cleared"),
            Patch::Absent => {}
        }
        if self.region_id == Patch::Null {
            found.add("/region_id", "required", "cannot be cleared");
        }
        found.optional_text("/meeting_place", self.meeting_place.value().map(String::as_str), 300);
    }
}

/// A club.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClubOut {
    /// Identity.
    pub id: ClubId,
    /// Name.
    pub name: String,
    /// The region it meets in.
    pub region_id: RegionId,
    /// Hall and hour, in words.
    pub meeting_place: Option<String>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl ClubOut {
    pub(super) fn of(club: Club) -> Self {
        Self {
            id: club.id,
            name: club.name,
            region_id: club.region_id,
            meeting_place: club.meeting_place,
            version: club.version,
        }
    }
}

/// A member of a club.
#[derive(Debug, Serialize, ToSchema)]
pub struct RollOut {
    /// The member.
    pub member_id: MemberId,
    /// Full name.
    pub name: String,
    /// As what.
    pub role: ClubRole,
}

impl RollOut {
    pub(super) fn of((member, role): (Member, ClubRole)) -> Self {
        Self { member_id: member.id, name: member.name, role }
    }
}

/// That a club asks a member to belong to it.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClubInvitationOut {
    /// The club.
    pub club_id: ClubId,
    /// Its name.
    pub club_name: String,
    /// Who is asked.
    pub member_id: MemberId,
    /// Full name.
    pub member_name: String,
    /// As what.
    pub role: ClubRole,
    /// When the club asked.
    pub asked_at: DateTime<Utc>,
    /// What became of it. That somebody declined is told to them alone; to the club it stays `asked`.
    pub state: ClubInvitationState,
}

impl ClubInvitationOut {
    /// As the member themself sees it.
    pub(super) fn to_member(row: &ClubInvitation, club_name: String, member_name: String) -> Self {
        Self {
            club_id: row.club_id,
            club_name,
            member_id: row.member_id,
            member_name,
            role: row.role,
            asked_at: row.asked_at.and_utc(),
            state: row.state,
        }
    }

    /// As the club's officers see it.
    pub(super) fn to_club(row: &ClubInvitation, club_name: String, member_name: String) -> Self {
        let state = match row.state {
            ClubInvitationState::Declined => ClubInvitationState::Asked,
            told => told,
        };
        Self { state, ..Self::to_member(row, club_name, member_name) }
    }
}

/// Whether you share with a club.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClubShareOut {
    /// The club, which you belong to.
    pub club_id: ClubId,
    /// Its name.
    pub club_name: String,
    /// Whether its members see what you keep for your clubs.
    pub shares: bool,
}

/// Whether to share with a club.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClubShareIn {
    /// Whether its members are to see what you keep for your clubs.
    pub shares: bool,
}

impl Check for ClubShareIn {
    fn check(&self, _: &mut Findings) {}
}

/// As what a member is to belong to a club.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RollIn {
    /// `member` or `secretary`.
    pub role: ClubRole,
    /// Your own password, where a secretary is made: a borrowed log-in must not make officers.
    #[serde(default)]
    pub current_password: Option<String>,
}

impl Check for RollIn {
    fn check(&self, found: &mut Findings) {
        if let Some(password) = &self.current_password {
            found.range("/current_password", password.len(), 1, 1000);
        }
    }
}
