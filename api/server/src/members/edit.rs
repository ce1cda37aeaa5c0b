//! Change members.

use actix_web::{patch, put, web};
use storksbill_db::rows::{account_codes, members, places};
use storksbill_domain::ids::MemberId;
use storksbill_domain::names;
use storksbill_domain::words::SocietyAct;

use super::dto::{MemberOut, MemberPatch, RolesIn, StandingIn};
use super::standing::{set as set_standing, set_roles};
use crate::app::App;
use crate::http::auth::{Administrator, Auth};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::sessions::proof::current_password;
use crate::society_log::{self, Entry};

/// Change your own record
///
/// Name, address, region. What you do not mention stays; null clears. A new e-mail address asks for your password
/// in `current_password`, since it is what you log in with.
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
    if patch.email.value().is_some() {
        current_password(&app, &auth, patch.current_password.clone()).await?;
    }
    let asked = auth.asked(app.clock.now().naive_utc());
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
            if patch.email.value().is_some() {
                let words = "The address to log in with was changed.".to_owned();
                let act = SocietyAct::EmailChanged;
                account_codes::void_all_of(conn, id, asked.at)?;
                society_log::note(conn, asked, Entry { act, about: Some(id), club: None, words })?;
            }
            let version = member.version;
            Reply::versioned(version, &MemberOut::load(conn, member)?)
        })
        .await
}

/// Set a member's roles
///
/// Registrar, administrator, both or none. The last administrator cannot be taken away. The new roles hold
/// from the member's next request. Asks for your own password in `current_password`.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    request_body = RolesIn,
    responses((status = 200, description = "Set", body = MemberOut))
)]
#[put("/members/{member_id}/roles")]
pub async fn roles(
    administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<MemberId>,
    body: Valid<RolesIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let RolesIn { mut roles, current_password: password } = body.value;
    current_password(&app, &administrator, password).await?;
    let asked = administrator.asked(app.clock.now().naive_utc());
    roles.sort_unstable();
    roles.dedup();
    app.db
        .write(move |conn| {
            let member = members::find(conn, id)?.ok_or_else(|| Problem::not_found("member"))?;
            let member = set_roles(conn, asked, member, &roles)?;
            let version = member.version;
            Reply::versioned(version, &MemberOut::load(conn, member)?)
        })
        .await
}

/// Set where a member stands
///
/// Suspending or ending a membership ends every log-in at once. Whoever leaves gives up roles, clubs, duties at shows to
/// come and invitations not taken up; setting `active` opens the account again, without any of them. Asks for your own
/// password in `current_password`.
#[utoipa::path(
    tag = "members",
    security(("session" = [])),
    request_body = StandingIn,
    responses((status = 200, description = "Set", body = MemberOut))
)]
#[put("/members/{member_id}/standing")]
pub async fn standing(
    administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<MemberId>,
    body: Valid<StandingIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let StandingIn { standing: to, current_password: password } = body.value;
    current_password(&app, &administrator, password).await?;
    let asked = administrator.asked(app.clock.now().naive_utc());
    app.db
        .write(move |conn| {
            let member = members::find(conn, id)?.ok_or_else(|| Problem::not_found("member"))?;
            let words = format!("Was {}, is {} now.", member.standing.as_str(), to.as_str());
            let member = set_standing(conn, asked, member, to, SocietyAct::StandingSet, &words)?;
            let version = member.version;
            Reply::versioned(version, &MemberOut::load(conn, member)?)
        })
        .await
}
