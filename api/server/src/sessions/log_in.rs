//! Log in, and refresh.

use actix_web::{HttpRequest, post, web};
use chrono::{DateTime, TimeDelta, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::sessions::{RefreshToken, Session};
use storksbill_db::rows::{members, sessions};
use storksbill_domain::ids::{MemberId, SessionId};
use storksbill_domain::names;
use storksbill_domain::words::Standing;

use super::dto::{LogIn, Refresh, Tokens};
use super::guessing::{self, Purpose};
use super::secrets;
use crate::app::App;
use crate::http::auth::ACCESS_FOR;
use crate::http::client::client_address;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// A log-in ends when it was not used for this long.
const SESSION_FOR: TimeDelta = TimeDelta::days(30);
/// Most log-ins of one member that run at once; one more ends the oldest (common practice).
const MOST_RUNNING: usize = 20;
/// Exchanged refresh tokens kept of a log-in, so that a copy of one is known when it comes (common practice).
const USED_KEPT: i64 = 20;

/// Log in
///
/// Gives an access token (15 minutes) and a refresh token (30 days, each good for one exchange). The answer
/// to a wrong password and to an unknown address are the same. After ten wrong passwords for an address within
/// a quarter of an hour every further try has to wait, longer each time; from where its owner logged in during
/// the last 30 days, tries are counted apart. Of one member 20 log-ins run at most: one more ends the oldest.
#[utoipa::path(
    tag = "sessions",
    request_body = LogIn,
    responses(
        (status = 201, description = "Logged in", body = Tokens),
        (status = 401, description = "E-mail address or password is wrong", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
        (status = 429, description = "Too many wrong tries; `Retry-After` says how long to wait", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/sessions")]
pub async fn log_in(app: web::Data<App>, sent: HttpRequest, body: Valid<LogIn>) -> Result<Reply, Problem> {
    let LogIn { email, password, device } = body.value;
    let key = names::email_key(&email);
    let attempt = guessing::attempt(&app, Purpose::LogIn, &key, client_address(&sent), None).await?;
    let member = app.db.glance(move |conn| Ok::<_, Problem>(members::by_email(conn, &key)?)).await?;
    let kept = member.as_ref().and_then(|member| member.password_hash.clone());
    if !attempt.verify(password, kept).await? {
        return Err(wrong());
    }
    let Some(member) = member.filter(|member| member.standing == Standing::Active) else {
        attempt.failed("the account is not active");
        return Err(wrong());
    };
    let now = app.clock.now();
    let session = SessionId::fresh();
    let secret = secrets::fresh()?;
    let hash = secrets::hash(&secret);
    let success = attempt.success();
    app.db
        .write(move |conn| {
            // Hashing took a while: a password changed or a member shut out meanwhile must count.
            let now_kept = members::find(conn, member.id)?;
            now_kept
                .filter(|now| now.password_hash == member.password_hash && now.standing == member.standing)
                .ok_or_else(wrong)?;
            success.keep(conn)?;
            sessions::insert(
                conn,
                &Session {
                    id: session,
                    member_id: member.id,
                    device: device.clone(),
                    created_at: now.naive_utc(),
                    expires_at: (now + SESSION_FOR).naive_utc(),
                    ended_at: None,
                    end_reason: None,
                },
            )?;
            for oldest in sessions::running_of(conn, member.id, now.naive_utc())?.iter().skip(MOST_RUNNING) {
                sessions::end(conn, oldest.id, now.naive_utc(), "too_many")?;
            }
            keep_token(conn, &hash, session, now)
        })
        .await?;
    let tokens = tokens(&app, member.id, session, secret, now)?;
    Reply::created(format!("/api/v1/sessions/{session}"), 1, &tokens)
}

fn wrong() -> Problem {
    Problem::new(
        Code::WrongCredentials,
        "Check both and try again. An account that waits for approval cannot log in yet.",
    )
}

/// Exchange a refresh token
///
/// Gives the next pair of tokens. A refresh token that comes a second time was copied by somebody: the whole
/// log-in ends, and its owner has to log in again.
#[utoipa::path(
    tag = "sessions",
    request_body = Refresh,
    responses(
        (status = 200, description = "The next pair of tokens", body = Tokens),
        (status = 401, description = "The refresh token is unknown, expired or was used before", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[post("/sessions/refresh")]
pub async fn refresh(app: web::Data<App>, body: Valid<Refresh>) -> Result<Reply, Problem> {
    let hash = secrets::hash(&body.value.refresh_token);
    let now = app.clock.now();
    let secret = secrets::fresh()?;
    let next_hash = secrets::hash(&secret);
    let exchanged = app.db.write(move |conn| exchange(conn, &hash, &next_hash, now)).await?;
    let (member, session) = match exchanged {
        Exchange::Next(member, session) => (member, session),
        Exchange::Unknown => {
            return Err(Problem::new(
                Code::SessionEnded,
                "The refresh token is unknown or expired. Log in again.",
            ));
        }
        Exchange::Reused => {
            return Err(Problem::new(
                Code::RefreshTokenReused,
                "Somebody may have copied it, so this log-in was ended everywhere it was used. Log in again.",
            ));
        }
    };
    Reply::ok(&tokens(&app, member, session, secret, now)?)
}

/// Ending the log-in on reuse must be kept, so it is an outcome and not an error, which would undo it.
enum Exchange {
    Next(MemberId, SessionId),
    Unknown,
    Reused,
}

fn exchange(conn: &mut Conn, hash: &str, next_hash: &str, now: DateTime<Utc>) -> Result<Exchange, Problem> {
    let at = now.naive_utc();
    let Some(token) = sessions::token(conn, hash)?.filter(|token| token.expires_at > at) else {
        return Ok(Exchange::Unknown);
    };
    if token.used_at.is_some() {
        sessions::end(conn, token.session_id, at, "token_reused")?;
        return Ok(Exchange::Reused);
    }
    let Some(actor) = sessions::actor(conn, token.session_id, at)? else { return Ok(Exchange::Unknown) };
    sessions::use_token(conn, hash, at)?;
    sessions::forget_used_tokens(conn, token.session_id, USED_KEPT)?;
    sessions::prolong(conn, token.session_id, (now + SESSION_FOR).naive_utc())?;
    keep_token(conn, next_hash, token.session_id, now)?;
    Ok(Exchange::Next(actor.member, token.session_id))
}

fn keep_token(conn: &mut Conn, hash: &str, session: SessionId, now: DateTime<Utc>) -> Result<(), Problem> {
    let token = RefreshToken {
        token_hash: hash.to_owned(),
        session_id: session,
        issued_at: now.naive_utc(),
        expires_at: (now + SESSION_FOR).naive_utc(),
        used_at: None,
    };
    Ok(sessions::insert_token(conn, &token)?)
}

fn tokens(
    app: &App,
    member: MemberId,
    session: SessionId,
    refresh_token: String,
    now: DateTime<Utc>,
) -> Result<Tokens, Problem> {
    Ok(Tokens {
        member_id: member,
        access_token: app.keys.issue(member, session, now)?,
        access_expires_at: now + ACCESS_FOR,
        refresh_token,
        refresh_expires_at: now + SESSION_FOR,
    })
}
