//! Change members.

use actix_web::{patch, put, web};
use storksbill_db::rows::{members, places, sessions};
use storksbill_domain::ids::MemberId;
use storksbill_domain::names;
use storksbill_domain::words::{SocietyRole, Standing};

use super::dto::{MemberOut, MemberPatch, RolesIn, StandingIn};
use crate::app::App;
use crate::http::auth::{Administrator, Auth};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Change your own record
///
/// Name, address, region. What you do not mention stays; null clears.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    request_body = MemberPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = MemberOut))
)]
#[patch("/members/me")]
pub async fn me(
    auth: Auth,
    app: web::Data<App>,
    if_match: IfMatch,
    body: Valid<MemberPatch>,
) -> Result<Reply, Problem> {
    let patch = body.value;
    let id = auth.member;
    app.db
        .write(move |conn| {
            let mut member = members::find(conn, id)?.ok_or_else(|| Problem::not_found("member"))?;
            if_match.check(member.version)?;
            if let Some(name) = patch.name.value() {
                member.name = names::tidy(name);
                member.name_key = names::search_key(name);
            }
            if let Some(email) = patch.email.value() {
                email.trim().clone_into(&mut member.email);
                member.email_key = names::email_key(email);
            }
            if let Some(region) = patch.region_id.value()
                && places::region(conn, *region)?.is_none()
            {
                return Err(Problem::field("/region_id", "not-found", "is not a region of this society"));
            }
            patch.region_id.clone().apply(&mut member.region_id);
            member.version += 1;
            members::update(conn, &member).map_err(|error| {
                Problem::from(error).on_constraint(
                    "members_email_key_key",
                    Problem::new(Code::Taken, "Somebody else has this address.").at(
                        "/email",
                        "taken",
                        "belongs to another account",
                    ),
                )
            })?;
            let version = member.version;
            Reply::versioned(version, &MemberOut::load(conn, member)?)
        })
        .await
}

/// Set a member's roles
///
/// Registrar, administrator, both or none. The last administrator cannot be taken away. The new roles hold
/// from the member's next request.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    request_body = RolesIn,
    responses((status = 200, description = "Set", body = MemberOut))
)]
#[put("/members/{member_id}/roles")]
pub async fn roles(
    _administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<MemberId>,
    body: Valid<RolesIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let mut roles = body.value.roles;
    roles.sort_unstable();
    roles.dedup();
    app.db
        .write(move |conn| {
            let mut member = members::find(conn, id)?.ok_or_else(|| Problem::not_found("member"))?;
            if !roles.contains(&SocietyRole::Administrator) && is_last_administrator(conn, id)? {
                return Err(last_administrator());
            }
            members::set_society_roles(conn, id, &roles)?;
            member.version += 1;
            members::update(conn, &member)?;
            let version = member.version;
            Reply::versioned(version, &MemberOut::load(conn, member)?)
        })
        .await
}

/// Set where a member stands
///
/// Suspending or ending a membership ends every log-in at once.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    request_body = StandingIn,
    responses((status = 200, description = "Set", body = MemberOut))
)]
#[put("/members/{member_id}/standing")]
pub async fn standing(
    _administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<MemberId>,
    body: Valid<StandingIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let standing = body.value.standing;
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let mut member = members::find(conn, id)?.ok_or_else(|| Problem::not_found("member"))?;
            if standing != Standing::Active && is_last_administrator(conn, id)? {
                return Err(last_administrator());
            }
            member.standing = standing;
            member.version += 1;
            members::update(conn, &member)?;
            if standing != Standing::Active {
                sessions::end_all_of(conn, id, None, now, "suspended")?;
            }
            let version = member.version;
            Reply::versioned(version, &MemberOut::load(conn, member)?)
        })
        .await
}

fn is_last_administrator(conn: &mut storksbill_db::Conn, id: MemberId) -> Result<bool, Problem> {
    Ok(members::holders(conn, SocietyRole::Administrator)? == [id])
}

fn last_administrator() -> Problem {
    Problem::new(Code::WrongState, "This is the last administrator; make another one first.")
}
