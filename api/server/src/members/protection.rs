//! Shielding the young, and whoever else asks for it: others read initials.
//!
//! The day of birth need not be kept for it. A parent who looks after a child's membership holds the child's own account:
//! the address and the password are the parent's. A link from child to parent would be one more thing kept of the child,
//! and nothing here would ask it.

use actix_web::{put, web};
use storksbill_db::Conn;
use storksbill_db::rows::members::{self, Member, SeesProtected};
use storksbill_domain::ids::{ClubId, MemberId};
use storksbill_domain::policy::{Actor, may_end_protection, may_see_protected};
use storksbill_domain::words::{ClubRole, Standing};

use super::dto::{MemberCard, ProtectionIn};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Shield a member
///
/// One of the young, or somebody else who is to be told by initials alone: in results, on cards, in registers and lists,
/// of shows held already too. The member (or the parent who keeps the child's account), the secretary of a club of
/// theirs, the registrar or an administrator sets it; only an administrator or the secretary of a club of theirs ends it.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    request_body = ProtectionIn,
    responses((status = 200, description = "Set", body = MemberCard))
)]
#[put("/members/{member_id}/protection")]
pub async fn set(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<MemberId>,
    body: Valid<ProtectionIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let wanted = body.value.is_protected;
    app.db
        .write(move |conn| {
            let member = members::find(conn, id)?
                .filter(|member| member.standing != Standing::Requested)
                .ok_or_else(|| Problem::not_found("member"))?;
            let clubs = clubs_of(conn, id)?;
            if !may_see_protected(&auth, id, &clubs) {
                return Err(if member.is_protected || member.standing != Standing::Active {
                    Problem::not_found("member")
                } else {
                    Problem::new(
                        Code::NotAllowed,
                        "Only the member, the secretary of a club of theirs, the registrar or an administrator shields a member.",
                    )
                });
            }
            if !wanted && member.is_protected && !may_end_protection(&auth, id, &clubs) {
                return Err(Problem::new(
                    Code::NotAllowed,
                    "Only an administrator or the secretary of a club of theirs ends it: ask one of them.",
                ));
            }
            let member = protect(conn, member, wanted)?;
            Reply::ok(&MemberCard::of(member, &auth))
        })
        .await
}

/// Sets it, where it is not so already.
///
/// # Errors
/// Those of the database.
pub fn protect(conn: &mut Conn, mut member: Member, is_protected: bool) -> Result<Member, Problem> {
    if member.is_protected != is_protected {
        member.is_protected = is_protected;
        member.version += 1;
        members::update(conn, &member)?;
    }
    Ok(member)
}

/// The clubs that a member belongs to.
///
/// # Errors
/// Those of the database.
pub fn clubs_of(conn: &mut Conn, id: MemberId) -> Result<Vec<ClubId>, Problem> {
    Ok(members::clubs_of(conn, id)?.into_iter().map(|belonging| belonging.club_id).collect())
}

/// Which protected members a list holds for this asker.
pub fn sees(actor: &Actor) -> SeesProtected {
    if actor.is_registrar() {
        return SeesProtected::All;
    }
    let kept = actor.clubs.iter().filter(|(_, role)| *role == ClubRole::Secretary);
    SeesProtected::Own(actor.member, kept.map(|(club, _)| *club).collect())
}
