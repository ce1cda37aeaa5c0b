//! A way back for members who lost their password: a one-time code that an officer hands over.

use actix_web::{HttpRequest, post, web};
use chrono::TimeDelta;
use storksbill_db::Conn;
use storksbill_db::rows::account_codes::{self, AccountCode};
use storksbill_db::rows::members::{self, Member};
use storksbill_db::rows::sessions;
use storksbill_domain::ids::{ClubId, MemberId};
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{ClubRole, SocietyAct, Standing};

use super::dto::{PasswordReset, ResetCodeIn, ResetCodeOut};
use super::guessing::{self, Purpose};
use super::new_password::NewPassword;
use super::{proof, secrets};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::client::client_address;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::members::standing;
use crate::society_log::{self, Asked, Entry};

/// How long a code is good for: a telephone call and an evening (common practice).
const GOOD_FOR: TimeDelta = TimeDelta::hours(24);

/// Make out a one-time code
///
/// For a member who lost their password, or, by an administrator, for somebody who left and comes back. It is shown
/// this once, good for 24 hours and one use, and puts earlier ones out of use. Administrators make one out for
/// anybody, a club's secretary for members of the club who hold no office. Make sure that it is the member who asks:
/// whoever has the code has the account. Asks for your own password.
#[utoipa::path(
    tag = "sessions",
    security(("session" = [])),
    request_body = ResetCodeIn,
    responses(
        (status = 201, description = "The code", body = ResetCodeOut),
        (status = 409, description = "The account is suspended, or waits for approval", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/members/{member_id}/reset-code")]
pub async fn issue(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<MemberId>,
    body: Valid<ResetCodeIn>,
) -> Result<Reply, Problem> {
    proof::current_password(&app, &officer, body.value.current_password).await?;
    let id = path.into_inner();
    let code = secrets::fresh_spoken()?;
    let hash = secrets::hash_of_spoken(&code);
    let now = app.clock.now();
    let asked = officer.asked(now.naive_utc());
    let expires_at = now + GOOD_FOR;
    app.db
        .write(move |conn| {
            let member = members::find(conn, id)?.ok_or_else(|| Problem::not_found("member"))?;
            may_issue(conn, &officer, &member)?;
            let code = AccountCode {
                code_sha256: hash.clone(),
                member_id: id,
                issued_by: officer.member,
                issued_at: asked.at,
                expires_at: expires_at.naive_utc(),
                used_at: None,
            };
            account_codes::issue(conn, &code)?;
            let words = "A one-time code for the account was made out.".to_owned();
            let act = SocietyAct::CodeIssued;
            let club = club_of(conn, &officer, id)?;
            society_log::note(conn, asked, Entry { act, about: Some(id), club, words })
        })
        .await?;
    Reply::created(format!("/api/v1/members/{id}"), 1, &ResetCodeOut { code, expires_at })
}

/// The club whose secretary acts for a member: its other officers read the line.
fn club_of(conn: &mut Conn, officer: &Actor, member: MemberId) -> Result<Option<ClubId>, Problem> {
    if officer.is_administrator() {
        return Ok(None);
    }
    let theirs = members::actor(conn, member)?;
    Ok(theirs.club_ids().into_iter().find(|club| officer.acts_for(*club)))
}

/// Nobody opens an account that can do more than their own office can.
fn may_issue(conn: &mut Conn, officer: &Actor, member: &Member) -> Result<(), Problem> {
    if member.id == officer.member {
        return Err(Problem::new(
            Code::NotAllowed,
            "Change your own password at PUT /api/v1/sessions/password.",
        ));
    }
    match member.standing {
        Standing::Active => {}
        Standing::Left if officer.is_administrator() => {}
        // To anybody else who left is not there.
        Standing::Left => return Err(Problem::not_found("member")),
        Standing::Suspended | Standing::Requested => {
            return Err(Problem::new(
                Code::WrongState,
                "This account is shut; set where the member stands, or decide the request, first.",
            ));
        }
    }
    if officer.is_administrator() {
        return Ok(());
    }
    let theirs = members::actor(conn, member.id)?;
    let own_club =
        theirs.clubs.iter().any(|(club, role)| *role == ClubRole::Member && officer.acts_for(*club));
    if own_club && !theirs.is_officer() {
        Ok(())
    } else {
        Err(Problem::new(
            Code::NotAllowed,
            "A club's secretary does this for members of the club who hold no office; ask an administrator.",
        ))
    }
}

/// Set a password with a one-time code
///
/// Ends every log-in of the account. Somebody who left and has a code from an administrator is a member again,
/// without roles and clubs. Whether the address or the code was wrong is not told.
#[utoipa::path(
    tag = "sessions",
    request_body = PasswordReset,
    responses(
        (status = 204, description = "Set; log in with the new password"),
        (status = 429, description = "Too many wrong tries; `Retry-After` says how long to wait", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/sessions/reset")]
pub async fn reset(
    app: web::Data<App>,
    sent: HttpRequest,
    body: Valid<PasswordReset>,
) -> Result<Reply, Problem> {
    let PasswordReset { email, code, new_password } = body.value;
    let (email_key, address) = (names::email_key(&email), client_address(&sent));
    let new_password = NewPassword::of("/new_password", new_password, &[&email, &app.society.name])?;
    let attempt = guessing::attempt(&app, Purpose::OneTimeCode, &email_key, address, None).await?;
    // Hashed whether or not the code is good, so that the time taken tells nothing.
    let hash = app.passwords.hash(attempt.asker(), new_password).await?;
    let (code, success) = (secrets::hash_of_spoken(&code), attempt.success());
    let at = app.clock.now().naive_utc();
    let done = app
        .db
        .write(move |conn| {
            let wrong = || {
                let detail = "is not good for this address, or not any more; ask an officer for a new one";
                Problem::field("/code", "wrong", detail)
            };
            let member = members::by_email(conn, &email_key)?.ok_or_else(wrong)?;
            let opens = matches!(member.standing, Standing::Active | Standing::Left);
            if !opens || !account_codes::redeem(conn, member.id, &code, at)? {
                return Err(wrong());
            }
            success.keep(conn)?;
            let asked = Asked { by: Some(member.id), from: Some(address), at };
            sessions::end_all_of(conn, member.id, None, at, "password_changed")?;
            let member = Member { password_hash: Some(hash.clone()), ..member };
            let words = "A new password was set with a one-time code.";
            standing::set(conn, asked, member, Standing::Active, SocietyAct::PasswordReset, words)?;
            Ok(Reply::no_content())
        })
        .await;
    if done.is_err() {
        attempt.failed("wrong code");
    }
    done
}
