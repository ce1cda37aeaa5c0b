//! What is taken and sent.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::members::{Invitation, Member};
use storksbill_db::rows::sessions::Session;
use storksbill_domain::ids::{ClubId, InvitationId, MemberId, SessionId};
use storksbill_domain::names;
use utoipa::ToSchema;

use super::new_password::check_password;
use crate::http::json::{Check, Findings};

fn check_email(found: &mut Findings, pointer: &str, email: &str) {
    if !names::is_email(email) {
        found.add(pointer, "not-an-email", "must be an e-mail address such as una@merrow.example");
    }
}

/// A log-in.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({"email": "una@merrow.example", "password": "nine small red pots"}))]
pub struct LogIn {
    /// E-mail address; case does not matter.
    pub email: String,
    /// Password.
    pub password: String,
    /// A name for this device, shown in the list of log-ins.
    #[serde(default)]
    pub device: Option<String>,
}

impl Check for LogIn {
    fn check(&self, found: &mut Findings) {
        found.text("/email", &self.email, 1, 254);
        // An empty or absurd password is refused before any hashing is spent on it.
        found.range("/password", self.password.len(), 1, 1000);
        found.optional_text("/device", self.device.as_deref(), 80);
    }
}

/// A refresh.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Refresh {
    /// The refresh token last given; each can be exchanged once.
    pub refresh_token: String,
}

impl Check for Refresh {
    fn check(&self, found: &mut Findings) {
        found.text("/refresh_token", &self.refresh_token, 1, 200);
    }
}

/// What a log-in or a refresh gives.
#[derive(Debug, Serialize, ToSchema)]
pub struct Tokens {
    /// Who is logged in.
    pub member_id: MemberId,
    /// Send it as `Authorization: Bearer …`.
    pub access_token: String,
    /// When the access token ceases to be good.
    pub access_expires_at: DateTime<Utc>,
    /// Exchange it once, at `POST /api/v1/sessions/refresh`, for the next pair.
    pub refresh_token: String,
    /// When the refresh token ceases to be good.
    pub refresh_expires_at: DateTime<Utc>,
}

/// A running log-in.
#[derive(Debug, Serialize, ToSchema)]
pub struct SessionOut {
    /// Identity.
    pub id: SessionId,
    /// What the device called itself.
    pub device: Option<String>,
    /// Since when.
    pub created_at: DateTime<Utc>,
    /// Until when at the latest.
    pub expires_at: DateTime<Utc>,
    /// Whether it is the one that asks.
    pub this: bool,
}

impl SessionOut {
    pub(super) fn of(session: Session, this: SessionId) -> Self {
        Self {
            this: session.id == this,
            id: session.id,
            device: session.device,
            created_at: session.created_at.and_utc(),
            expires_at: session.expires_at.and_utc(),
        }
    }
}

/// A change of password.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PasswordChange {
    /// The password in force.
    pub current_password: String,
    /// The password wanted, at least 12 characters; not one that anybody would try first.
    pub new_password: String,
}

impl Check for PasswordChange {
    fn check(&self, found: &mut Findings) {
        found.range("/current_password", self.current_password.len(), 1, 1000);
        check_password(found, "/new_password", &self.new_password, &[]);
    }
}

/// A wish to join.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JoinRequest {
    /// E-mail address to log in with.
    pub email: String,
    /// Full name.
    pub name: String,
    /// Password, at least 12 characters; not one that anybody would try first.
    pub password: String,
    /// The club to join.
    #[serde(default)]
    pub club_id: Option<ClubId>,
    /// A few words to the officer who decides, 500 characters at most.
    #[serde(default)]
    pub note: Option<String>,
}

impl Check for JoinRequest {
    fn check(&self, found: &mut Findings) {
        check_email(found, "/email", &self.email);
        found.text("/name", &self.name, 2, 120);
        check_password(found, "/password", &self.password, &[&self.email, &self.name]);
        found.optional_text("/note", self.note.as_deref(), 500);
    }
}

/// That a wish to join was taken; the same whether or not the address is known, so that it does not tell who
/// is a member.
#[derive(Debug, Serialize, ToSchema)]
pub struct JoinRequestTaken {
    /// What happens next.
    pub message: String,
}

/// A wish to join, for the officer who decides.
#[derive(Debug, Serialize, ToSchema)]
pub struct JoinRequestOut {
    /// The account it becomes.
    pub member_id: MemberId,
    /// Full name.
    pub name: String,
    /// E-mail address.
    pub email: String,
    /// The club asked for.
    pub club_id: Option<ClubId>,
    /// What they wrote.
    pub note: Option<String>,
    /// When.
    pub asked_at: DateTime<Utc>,
}

impl JoinRequestOut {
    pub(super) fn of(member: Member) -> Self {
        Self {
            member_id: member.id,
            name: member.name,
            email: member.email,
            club_id: member.requested_club_id,
            note: member.request_note,
            asked_at: member.created_at.and_utc(),
        }
    }
}

/// An invitation to make.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InvitationIn {
    /// The person's e-mail address; it becomes the log-in.
    pub email: String,
    /// The club they will belong to. A club secretary invites to their own club.
    #[serde(default)]
    pub club_id: Option<ClubId>,
    /// Days it is good for, 1 to 60; 14 when not given.
    #[serde(default)]
    pub days: Option<i32>,
}

impl Check for InvitationIn {
    fn check(&self, found: &mut Findings) {
        check_email(found, "/email", &self.email);
        if let Some(days) = self.days {
            found.range("/days", days, 1, 60);
        }
    }
}

/// An invitation.
#[derive(Debug, Serialize, ToSchema)]
pub struct InvitationOut {
    /// Identity.
    pub id: InvitationId,
    /// To whom.
    pub email: String,
    /// To which club.
    pub club_id: Option<ClubId>,
    /// Good until.
    pub expires_at: DateTime<Utc>,
    /// The secret to hand on; shown this once and not kept, not even for a repeat of the request.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub token: Option<String>,
}

impl InvitationOut {
    pub(super) fn of(invitation: &Invitation, token: Option<String>) -> Self {
        Self {
            id: invitation.id,
            email: invitation.email.clone(),
            club_id: invitation.club_id,
            expires_at: invitation.expires_at.and_utc(),
            token,
        }
    }
}

/// An invitation taken up.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct InvitationTaken {
    /// The secret of the invitation.
    pub token: String,
    /// Full name.
    pub name: String,
    /// Password, at least 12 characters; not one that anybody would try first.
    pub password: String,
    /// Where the address has an account already: its password.
    #[serde(default)]
    pub old_password: Option<String>,
    /// Where the address has an account already and its password is lost: a one-time code from an administrator.
    #[serde(default)]
    pub code: Option<String>,
}

impl Check for InvitationTaken {
    fn check(&self, found: &mut Findings) {
        if let Some(old) = &self.old_password {
            found.range("/old_password", old.len(), 1, 1000);
        }
        found.optional_text("/code", self.code.as_deref(), 100);
        found.text("/token", &self.token, 1, 200);
        found.text("/name", &self.name, 2, 120);
        check_password(found, "/password", &self.password, &[&self.name]);
    }
}

/// A one-time code to make out.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ResetCodeIn {
    /// Your own password: a borrowed log-in must not open other people's accounts.
    #[serde(default)]
    pub current_password: Option<String>,
}

impl Check for ResetCodeIn {
    fn check(&self, found: &mut Findings) {
        if let Some(password) = &self.current_password {
            found.range("/current_password", password.len(), 1, 1000);
        }
    }
}

/// A one-time code.
#[derive(Debug, Serialize, ToSchema)]
pub struct ResetCodeOut {
    /// The code; shown this once and not kept. Give it to the member in person or by telephone, never by way of
    /// somebody else.
    #[schema(example = "k7mp-3vxd-9qhr-t2wc")]
    pub code: String,
    /// Good until; a later code puts it out of use.
    pub expires_at: DateTime<Utc>,
}

/// A new password, with a one-time code.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct PasswordReset {
    /// The e-mail address of the account.
    pub email: String,
    /// The code; case, spaces and dashes do not matter.
    pub code: String,
    /// The password wanted, at least 12 characters.
    pub new_password: String,
}

impl Check for PasswordReset {
    fn check(&self, found: &mut Findings) {
        found.text("/email", &self.email, 1, 254);
        found.text("/code", &self.code, 1, 100);
        check_password(found, "/new_password", &self.new_password, &[&self.email]);
    }
}
