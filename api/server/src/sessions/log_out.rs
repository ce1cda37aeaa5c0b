//! See one's log-ins, end them, change the password.

use actix_web::{delete, get, put, web};
use storksbill_db::rows::{account_codes, members, sessions};

use super::dto::{PasswordChange, SessionOut};
use super::new_password::NewPassword;
use super::proof;
use super::turns::Asker;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List your log-ins
///
/// Every device that is logged in as you, newest first.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    responses((status = 200, description = "Your log-ins", body = Vec<SessionOut>))
)]
#[get("/sessions")]
pub async fn list(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    let now = app.clock.now().naive_utc();
    let (member, this) = (auth.member, auth.session);
    let running = app.db.read(move |conn| Ok::<_, Problem>(sessions::running_of(conn, member, now)?)).await?;
    Reply::ok(&running.into_iter().map(|session| SessionOut::of(session, this)).collect::<Vec<_>>())
}

/// Log out here
///
/// Ends this log-in at once: its access and refresh tokens are worth nothing any more.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    responses((status = 204, description = "Logged out"))
)]
#[delete("/sessions/current")]
pub async fn here(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    let now = app.clock.now().naive_utc();
    app.db.write(move |conn| Ok::<_, Problem>(sessions::end(conn, auth.session, now, "logged_out")?)).await?;
    Ok(Reply::no_content())
}

/// Log out everywhere
///
/// Ends all your log-ins, this one too: for a lost telephone.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    responses((status = 204, description = "Logged out on every device"))
)]
#[delete("/sessions")]
pub async fn everywhere(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    let now = app.clock.now().naive_utc();
    let member = auth.member;
    app.db
        .write(move |conn| {
            Ok::<_, Problem>(sessions::end_all_of(conn, member, None, now, "logged_out_everywhere")?)
        })
        .await?;
    Ok(Reply::no_content())
}

/// Change your password
///
/// Ends your log-ins on every other device.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    request_body = PasswordChange,
    responses(
        (status = 204, description = "Changed"),
        (status = 429, description = "Too many wrong tries; `Retry-After` says how long to wait", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/sessions/password")]
pub async fn change_password(
    auth: Auth,
    app: web::Data<App>,
    body: Valid<PasswordChange>,
) -> Result<Reply, Problem> {
    let PasswordChange { current_password, new_password } = body.value;
    let member = auth.member;
    let known = app.db.read(move |conn| Ok::<_, Problem>(members::find(conn, member)?)).await?;
    let known = known.ok_or_else(|| Problem::not_found("member"))?;
    let about = [known.email.as_str(), &known.name, &app.society.name];
    let new_password = NewPassword::of("/new_password", new_password, &about)?;
    let kept = proof::current_password(&app, &auth, Some(current_password)).await?;
    let hash = app.passwords.hash(Asker::Member(member), new_password).await?;
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let mut member = members::find(conn, member)?.ok_or_else(|| Problem::not_found("member"))?;
            // Hashing took a while; another change may have come first.
            if member.password_hash != kept {
                return Err(Problem::new(Code::WrongState, "Your password was just changed elsewhere."));
            }
            member.password_hash = Some(hash.clone());
            member.version += 1;
            members::update(conn, &member)?;
            account_codes::void_all_of(conn, member.id, now)?;
            Ok(sessions::end_all_of(conn, member.id, Some(auth.session), now, "password_changed")?)
        })
        .await?;
    Ok(Reply::no_content())
}
