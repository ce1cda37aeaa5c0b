//! Errors as RFC 9457 problems with stable codes.
//!
//! One table maps a code to its status and title; it feeds the response, the API's description, the page of
//! codes and `openapi/problem-codes.md`.

use std::fmt;

use actix_web::http::StatusCode;
use actix_web::http::header::{ALLOW, HeaderName, HeaderValue, RETRY_AFTER, WWW_AUTHENTICATE};
use actix_web::{HttpResponse, ResponseError};
use serde::{Deserialize, Serialize};
use storksbill_db::{DbError, Refused};
use utoipa::ToSchema;

use super::request_id;

macro_rules! codes {
    ($($name:ident = $word:literal, $status:ident, $title:literal;)+) => {
        /// What went wrong, as a word that never changes.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
        pub enum Code {
            $(#[doc = $title] #[serde(rename = $word)] $name,)+
        }

        impl Code {
            /// Every code, in the order of the table.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];

            /// The word that is sent.
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$name => $word,)+ }
            }

            /// The HTTP status it is sent with.
            pub const fn status(self) -> StatusCode {
                match self { $(Self::$name => StatusCode::$status,)+ }
            }

            /// A short sentence that is the same for every problem of this code.
            pub const fn title(self) -> &'static str {
                match self { $(Self::$name => $title,)+ }
            }
        }

        impl utoipa::PartialSchema for Code {
            fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::schema::Schema> {
                utoipa::openapi::schema::ObjectBuilder::new()
                    .schema_type(utoipa::openapi::schema::Type::String)
                    .enum_values(Some(Self::ALL.iter().map(|code| code.as_str())))
                    .description(Some(concat!(
                        "What went wrong, as a word that never changes.",
                        $("\n\n- `", $word, "`: ", $title,)+
                    )))
                    .into()
            }
        }

        impl ToSchema for Code {
            fn name() -> std::borrow::Cow<'static, str> {
                std::borrow::Cow::Borrowed("Code")
            }
        }
    };
}

codes! {
    MalformedJson = "malformed-json", BAD_REQUEST, "The body is not JSON";
    MalformedCsv = "malformed-csv", BAD_REQUEST, "The body is not CSV with the expected header";
    BadCursor = "bad-cursor", BAD_REQUEST, "The cursor was not made by this server";
    BadHeader = "bad-header", BAD_REQUEST, "A header cannot be read";
    NotLoggedIn = "not-logged-in", UNAUTHORIZED, "Log in first";
    BadToken = "bad-token", UNAUTHORIZED, "The access token is wrong or has expired";
    SessionEnded = "session-ended", UNAUTHORIZED, "This log-in was ended";
    WrongCredentials = "wrong-credentials", UNAUTHORIZED, "E-mail address or password is wrong";
    RefreshTokenReused = "refresh-token-reused", UNAUTHORIZED, "The refresh token was used before";
    NotAllowed = "not-allowed", FORBIDDEN, "Your role does not allow this";
    NotFound = "not-found", NOT_FOUND, "There is no such thing, or you may not see it";
    MethodNotAllowed = "method-not-allowed", METHOD_NOT_ALLOWED, "This address does not take that method";
    Taken = "taken", CONFLICT, "Something else has that name already";
    WrongState = "wrong-state", CONFLICT, "Its state does not allow this now";
    InUse = "in-use", CONFLICT, "Other records depend on it";
    PedigreeLoop = "pedigree-loop", CONFLICT, "A cultivar would be its own ancestor";
    AlreadyPromised = "already-promised", CONFLICT, "Cuttings are promised in a ring";
    WriteConflict = "write-conflict", CONFLICT, "Others kept changing the same records";
    VersionMismatch = "version-mismatch", PRECONDITION_FAILED, "It was changed since you read it";
    BodyTooLarge = "body-too-large", PAYLOAD_TOO_LARGE, "The body is larger than the server takes";
    UnsupportedMediaType = "unsupported-media-type", UNSUPPORTED_MEDIA_TYPE, "The body's type is not taken here";
    InvalidFields = "invalid-fields", UNPROCESSABLE_ENTITY, "Some fields need correcting";
    InvalidQuery = "invalid-query", UNPROCESSABLE_ENTITY, "The query cannot be understood";
    IdempotencyKeyReused = "idempotency-key-reused", UNPROCESSABLE_ENTITY, "The Idempotency-Key was used for another request";
    NoWeather = "no-weather", UNPROCESSABLE_ENTITY, "The region has no weather readings to work from";
    NoForecast = "no-forecast", UNPROCESSABLE_ENTITY, "There is nothing to forecast from";
    TooManyAttempts = "too-many-attempts", TOO_MANY_REQUESTS, "There were too many attempts; wait a while";
    PreconditionRequired = "precondition-required", PRECONDITION_REQUIRED, "Say which version you read";
    Internal = "internal", INTERNAL_SERVER_ERROR, "The server failed";
    Unavailable = "unavailable", SERVICE_UNAVAILABLE, "The server is busy";
}

/// One thing wrong with one field.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FieldError {
    /// Where: a JSON pointer into the body (RFC 6901), the name of a query parameter, or `line n`.
    pub pointer: String,
    /// What, as a stable word: `required`, `wrong-type`, `unknown-field`, `too-long`, `out-of-range` ...
    pub code: String,
    /// What to do about it.
    pub detail: String,
}

/// The body of every refusal: `application/problem+json` (RFC 9457).
#[derive(Debug, Serialize, Deserialize, ToSchema)]
#[schema(as = Problem)]
pub struct ProblemOut {
    /// Where the code is explained.
    #[serde(rename = "type")]
    #[schema(example = "/problems#invalid-fields")]
    pub kind: String,
    /// A short sentence, the same for every problem of this code.
    pub title: String,
    /// The HTTP status.
    #[schema(example = 422)]
    pub status: u16,
    /// What happened this time and what to do.
    pub detail: String,
    /// The stable code.
    pub code: Code,
    /// Every field that needs correcting, all at once.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<FieldError>,
    /// Quote this when asking for help; the server's log has it too.
    pub request_id: String,
}

/// A refusal on its way out.
#[derive(Debug)]
pub struct Problem {
    /// The stable code.
    pub code: Code,
    // Boxed, since every result carries the room for it.
    told: Box<Told>,
}

#[derive(Debug, Default)]
struct Told {
    detail: String,
    errors: Vec<FieldError>,
    header: Option<(HeaderName, String)>,
    cause: Option<DbError>,
}

impl Problem {
    /// A problem of `code`, with what happened this time and what to do.
    pub fn new(code: Code, detail: impl Into<String>) -> Self {
        Self { code, told: Box::new(Told { detail: detail.into(), ..Told::default() }) }
    }

    /// There is no such thing, or the asker may not see it: the two must look alike.
    pub fn not_found(what: &str) -> Self {
        Self::new(Code::NotFound, format!("There is no such {what}, or you may not see it."))
    }

    /// Fields that need correcting, all at once.
    pub fn fields(errors: Vec<FieldError>) -> Self {
        let detail = match errors.as_slice() {
            [one] => format!("{}: {}", one.pointer, one.detail),
            many => format!("{} fields need correcting; see `errors`.", many.len()),
        };
        let mut problem = Self::new(Code::InvalidFields, detail);
        problem.told.errors = errors;
        problem
    }

    /// One field that needs correcting.
    pub fn field(pointer: &str, code: &str, detail: impl Into<String>) -> Self {
        Self::fields(vec![FieldError {
            pointer: pointer.to_owned(),
            code: code.to_owned(),
            detail: detail.into(),
        }])
    }

    /// What happened this time and what to do.
    pub fn detail(&self) -> &str {
        &self.told.detail
    }

    /// The fields it names.
    pub fn errors(&self) -> &[FieldError] {
        &self.told.errors
    }

    /// The same problem with one field named.
    #[must_use]
    pub fn at(mut self, pointer: &str, code: &str, detail: impl Into<String>) -> Self {
        self.told.errors.push(FieldError {
            pointer: pointer.to_owned(),
            code: code.to_owned(),
            detail: detail.into(),
        });
        self
    }

    /// A wrong method, with the right ones.
    pub fn method_not_allowed(allowed: &str) -> Self {
        let detail = format!("This address takes {allowed}.");
        Self::new(Code::MethodNotAllowed, detail).with_header(ALLOW, allowed)
    }

    /// Too much to do just now.
    pub fn busy(detail: &str) -> Self {
        Self::new(Code::Unavailable, detail).with_header(RETRY_AFTER, "2")
    }

    /// What may be asked again after so many seconds.
    pub fn wait_for(code: Code, seconds: i64, detail: impl Into<String>) -> Self {
        Self::new(code, detail).with_header(RETRY_AFTER, &seconds.to_string())
    }

    fn with_header(mut self, name: HeaderName, value: &str) -> Self {
        self.told.header = Some((name, value.to_owned()));
        self
    }

    /// Turns a broken rule of the schema into `problem`; leaves every other error as it is.
    #[must_use]
    pub fn on_constraint(self, name: &str, problem: Self) -> Self {
        match &self.told.cause {
            Some(DbError::Constraint(broken)) if broken.name() == name => problem,
            _ => self,
        }
    }
}

impl From<DbError> for Problem {
    fn from(cause: DbError) -> Self {
        let mut problem = match &cause {
            DbError::Conflict => Self::new(
                Code::WriteConflict,
                "Others kept changing the same records. Nothing was written; try again.",
            ),
            DbError::Unavailable(_) => Self::busy("The database is busy. Nothing was written; try again."),
            DbError::Constraint(_) | DbError::Stopped | DbError::Other(_) => {
                Self::new(Code::Internal, "Nothing was written. If it happens again, quote the request id.")
            }
        };
        problem.told.cause = Some(cause);
        problem
    }
}

impl Refused for Problem {
    fn database_error(&self) -> Option<&DbError> {
        self.told.cause.as_ref()
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.code.as_str(), self.told.detail)
    }
}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.code.status()
    }

    fn error_response(&self) -> HttpResponse {
        let request_id = request_id::current();
        if let Some(cause) = &self.told.cause {
            // Logged once, with the id the caller is given; the cause itself is never sent.
            tracing::error!(request_id, %cause, code = self.code.as_str(), "request failed");
        }
        let mut response = HttpResponse::build(self.code.status());
        response.content_type("application/problem+json");
        if self.code.status() == StatusCode::UNAUTHORIZED {
            // RFC 6750, section 3: `error` where a token came and was refused.
            let challenge = match self.code {
                Code::BadToken | Code::SessionEnded => "Bearer realm=\"storksbill\", error=\"invalid_token\"",
                _ => "Bearer realm=\"storksbill\"",
            };
            response.insert_header((WWW_AUTHENTICATE, HeaderValue::from_static(challenge)));
        }
        if let Some((name, value)) = &self.told.header {
            response.insert_header((name.clone(), value.as_str()));
        }
        response.json(ProblemOut {
            kind: format!("/problems#{}", self.code.as_str()),
            title: self.code.title().to_owned(),
            status: self.code.status().as_u16(),
            detail: self.told.detail.clone(),
            code: self.code,
            errors: self.told.errors.clone(),
            request_id,
        })
    }
}
