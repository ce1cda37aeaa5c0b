//! Who asks: a short-lived access token (JWT, RFC 7519) names a session; the session and its roles are looked
//! up at every request, so that ending a log-in or taking a role away works at once.

use std::future::{Ready, ready};
use std::net::IpAddr;
use std::ops::Deref;

use actix_web::body::{EitherBody, MessageBody};
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::http::header::AUTHORIZATION;
use actix_web::middleware::Next;
use actix_web::{FromRequest, HttpMessage, HttpRequest, ResponseError, web};
use chrono::{DateTime, NaiveDateTime, TimeDelta, Utc};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::sessions;
use storksbill_domain::ids::{MemberId, SessionId};
use storksbill_domain::policy::Actor;

use super::client::client_address;
use super::problem::{Code, Problem};
use crate::app::App;
use crate::society_log::Asked;

/// How long an access token is good for.
pub const ACCESS_FOR: TimeDelta = TimeDelta::minutes(15);

/// What an access token says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Claims {
    /// The member.
    pub sub: MemberId,
    /// The session.
    pub sid: SessionId,
    /// Issued at, seconds of UTC.
    pub iat: i64,
    /// Good until, seconds of UTC.
    pub exp: i64,
}

/// Signs and verifies access tokens: HS256 alone, whatever a token's header asks for.
#[derive(Clone)]
pub struct TokenKeys {
    encoding: EncodingKey,
    decoding: DecodingKey,
}

impl std::fmt::Debug for TokenKeys {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("TokenKeys(..)")
    }
}

impl TokenKeys {
    /// Keys from a secret of at least 32 bytes.
    pub fn new(secret: &[u8]) -> Self {
        Self { encoding: EncodingKey::from_secret(secret), decoding: DecodingKey::from_secret(secret) }
    }

    /// An access token for a session.
    pub fn issue(&self, member: MemberId, session: SessionId, now: DateTime<Utc>) -> Result<String, Problem> {
        let claims =
            Claims { sub: member, sid: session, iat: now.timestamp(), exp: (now + ACCESS_FOR).timestamp() };
        jsonwebtoken::encode(&Header::new(Algorithm::HS256), &claims, &self.encoding)
            .map_err(|error| Problem::new(Code::Internal, format!("No token could be made: {error}.")))
    }

    /// The claims of a token that this server signed and that has not expired at `now`.
    pub fn verify(&self, token: &str, now: DateTime<Utc>) -> Result<Claims, Problem> {
        let mut rules = Validation::new(Algorithm::HS256);
        // The society's clock decides, not the library's.
        rules.validate_exp = false;
        rules.required_spec_claims.clear();
        let claims = jsonwebtoken::decode::<Claims>(token, &self.decoding, &rules)
            .map_err(|_forged_or_garbled| {
                Problem::new(Code::BadToken, "Log in again for a fresh access token.")
            })?
            .claims;
        if claims.exp <= now.timestamp() {
            return Err(Problem::new(
                Code::BadToken,
                "The access token has expired; get a fresh one with your refresh token.",
            ));
        }
        Ok(claims)
    }
}

/// What the `Authorization` header came to.
#[derive(Clone)]
enum Identity {
    Known(Auth),
    // A problem cannot be cloned; its code and words can.
    Refused(Code, String),
}

/// Middleware: finds out who asks, before any body is read, so that a caller without the right is told so
/// and not what is wrong with the body.
pub async fn identify<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<EitherBody<B>>, actix_web::Error> {
    let token = request.headers().get(AUTHORIZATION).map(|value| {
        let text = value.to_str().unwrap_or_default();
        let (scheme, token) = text.split_once(' ').unwrap_or_default();
        if scheme.eq_ignore_ascii_case("bearer") { token.trim().to_owned() } else { String::new() }
    });
    if let (Some(token), Some(app)) = (token, request.app_data::<web::Data<App>>().cloned()) {
        let from = client_address(request.request());
        let identity = match look_up(&app, &token, from).await {
            Ok(auth) => Identity::Known(auth),
            Err(problem) => match problem.code {
                // Answered here and not as an error, which would be written outside the request's id.
                Code::Unavailable | Code::Internal => {
                    let response = problem.error_response().map_into_right_body();
                    return Ok(request.into_response(response));
                }
                code => Identity::Refused(code, problem.detail().to_owned()),
            },
        };
        request.extensions_mut().insert(identity);
    }
    Ok(next.call(request).await?.map_into_left_body())
}

async fn look_up(app: &App, token: &str, from: IpAddr) -> Result<Auth, Problem> {
    let now = app.clock.now();
    let claims = app.keys.verify(token, now)?;
    let actor = app
        .db
        .glance(move |conn| Ok::<_, Problem>(sessions::actor(conn, claims.sid, now.naive_utc())?))
        .await?
        .filter(|actor| actor.member == claims.sub)
        .ok_or_else(|| Problem::new(Code::SessionEnded, "Log in again."))?;
    Ok(Auth { actor, session: claims.sid, from })
}

fn identity(request: &HttpRequest) -> Result<Option<Auth>, Problem> {
    match request.extensions().get::<Identity>() {
        None => Ok(None),
        Some(Identity::Known(auth)) => Ok(Some(auth.clone())),
        Some(Identity::Refused(code, words)) => Err(Problem::new(*code, words.clone())),
    }
}

/// Whose request it is, where somebody is logged in.
pub(super) fn asker(request: &HttpRequest) -> Option<MemberId> {
    identity(request).ok().flatten().map(|auth| auth.member)
}

fn required(request: &HttpRequest) -> Result<Auth, Problem> {
    identity(request)?.ok_or_else(|| {
        Problem::new(
            Code::NotLoggedIn,
            "Send an access token as `Authorization: Bearer …`; POST /api/v1/sessions gives one.",
        )
    })
}

/// A member who is logged in. Put it first in a handler's signature.
#[derive(Debug, Clone)]
pub struct Auth {
    /// Who, and as what.
    pub actor: Actor,
    /// The log-in.
    pub session: SessionId,
    /// The network address that asks.
    pub from: IpAddr,
}

impl Auth {
    /// Who asks, when and from where, for the society's log.
    pub fn asked(&self, at: NaiveDateTime) -> Asked {
        Asked { by: Some(self.actor.member), from: Some(self.from), at }
    }
}

impl Deref for Auth {
    type Target = Actor;
    fn deref(&self) -> &Actor {
        &self.actor
    }
}

impl FromRequest for Auth {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(required(request))
    }
}

/// Somebody who may be logged in. A wrong token is still refused: it is never taken for none.
#[derive(Debug, Clone)]
pub struct MaybeAuth(pub Option<Auth>);

impl FromRequest for MaybeAuth {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(identity(request).map(Self))
    }
}

macro_rules! role {
    ($(#[$doc:meta])* $name:ident, $holds:ident, $words:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone)]
        pub struct $name(pub Auth);

        impl Deref for $name {
            type Target = Auth;
            fn deref(&self) -> &Auth {
                &self.0
            }
        }

        impl FromRequest for $name {
            type Error = Problem;
            type Future = Ready<Result<Self, Problem>>;

            fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
                ready(required(request).and_then(|auth| {
                    if auth.$holds() {
                        Ok(Self(auth))
                    } else {
                        Err(Problem::new(Code::NotAllowed, concat!("Only ", $words, " may do this.")))
                    }
                }))
            }
        }
    };
}

role!(
    /// Holds an office: secretary of a club, registrar or administrator.
    Officer, is_officer, "an officer (club secretary, registrar or administrator)"
);
role!(
    /// Keeps the register, or the server.
    Registrar, is_registrar, "the registrar or an administrator"
);
role!(
    /// Keeps the server.
    Administrator, is_administrator, "an administrator"
);
