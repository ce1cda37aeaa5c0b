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

/// Most findings one refusal names; the last of them says how many more there are.
pub const MOST_FINDINGS: usize = 50;
/// Most characters of a finding's pointer.
const MOST_POINTER: usize = 200;
/// Most characters of a finding's detail: room for the longest list of words that would have been taken.
pub const MOST_CHARACTERS: usize = 300;
/// Most characters of a problem's own detail, which the server words itself.
const MOST_DETAIL: usize = 1000;
/// Largest body of a refusal, bytes: no answer is larger than its cause calls for.
pub const MOST_BYTES: usize = 64 * 1024;

/// Text cut to `most` characters, the last of them an ellipsis where something was left out.
pub fn cut(text: &str, most: usize) -> String {
    match text.char_indices().nth(most) {
        None => text.to_owned(),
        Some(_) => text.chars().take(most.saturating_sub(1)).chain(['…']).collect(),
    }
}

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
    ProofNeeded = "proof-needed", CONFLICT, "Prove that the account is yours";
    AlreadyPromised = "already-promised", CONFLICT, "Cuttings are promised in a ring";
    WriteConflict = "write-conflict", CONFLICT, "Others kept changing the same records";
    VersionMismatch = "version-mismatch", PRECONDITION_FAILED, "It was changed since you read it";
    TooSlow = "too-slow", REQUEST_TIMEOUT, "The body came too slowly";
    BodyTooLarge = "body-too-large", PAYLOAD_TOO_LARGE, "The body is larger than the server takes";
    UnsupportedMediaType = "unsupported-media-type", UNSUPPORTED_MEDIA_TYPE, "The body's type is not taken here";
    TooMuch = "too-much", TOO_MANY_REQUESTS, "There is as much of this as is taken from one member";
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

impl FieldError {
    /// A finding, its words cut: what is refused is told back in part only.
    pub fn new(pointer: &str, code: &str, detail: &str) -> Self {
        Self {
            pointer: cut(pointer, MOST_POINTER),
            code: code.to_owned(),
            detail: cut(detail, MOST_CHARACTERS),
        }
    }
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
    /// Every field that needs correcting, all at once: 50 at most. Where there are more, the last says how many,
    /// with the code `more`.
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
    /// Findings that are not named.
    more: usize,
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
            [one] => format!("{}: {}", cut(&one.pointer, MOST_POINTER), cut(&one.detail, MOST_CHARACTERS)),
            many => format!("{} fields need correcting; see `errors`.", many.len()),
        };
        errors.into_iter().fold(Self::new(Code::InvalidFields, detail), Self::finding)
    }

    /// One field that needs correcting.
    pub fn field(pointer: &str, code: &str, detail: impl Into<String>) -> Self {
        Self::fields(vec![FieldError::new(pointer, code, &detail.into())])
    }

    /// What happened this time and what to do.
    pub fn detail(&self) -> &str {
        &self.told.detail
    }

    /// The fields it names, [`MOST_FINDINGS`] at most.
    pub fn errors(&self) -> &[FieldError] {
        &self.told.errors
    }

    /// The same problem with one field named.
    #[must_use]
    pub fn at(self, pointer: &str, code: &str, detail: impl Into<String>) -> Self {
        self.finding(FieldError::new(pointer, code, &detail.into()))
    }

    fn finding(mut self, error: FieldError) -> Self {
        if self.told.errors.len() < MOST_FINDINGS {
            self.told.errors.push(error);
        } else {
            self.told.more += 1;
        }
        self
    }

    /// The same problem with `more` findings that are counted and not named.
    #[must_use]
    pub fn and_more(mut self, more: usize) -> Self {
        self.told.more += more;
        self
    }

    /// What is sent, [`MOST_BYTES`] at most.
    fn out(&self, request_id: &str) -> String {
        let mut errors = self.told.errors.clone();
        let mut more = self.told.more;
        loop {
            if more > 0 {
                // The last place is for the count.
                let named = errors.len().min(MOST_FINDINGS - 1);
                more += errors.len() - named;
                errors.truncate(named);
                errors.push(FieldError::new("", "more", &format!("and {more} more")));
            }
            let out = ProblemOut {
                kind: format!("/problems#{}", self.code.as_str()),
                title: self.code.title().to_owned(),
                status: self.code.status().as_u16(),
                detail: cut(&self.told.detail, MOST_DETAIL),
                code: self.code,
                errors: errors.clone(),
                request_id: request_id.to_owned(),
            };
            let text = serde_json::to_string(&out).unwrap_or_default();
            if text.len() <= MOST_BYTES || errors.is_empty() {
                return text;
            }
            // Characters that JSON spells with six: half of the findings, counted with the others.
            if more > 0 {
                errors.pop();
            }
            let kept = errors.len() / 2;
            more += errors.len() - kept;
            errors.truncate(kept);
        }
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

    /// Something that can be asked for again after a while.
    pub fn wait(code: Code, detail: &str) -> Self {
        Self::wait_for(code, 10, detail)
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
            DbError::Loop(_) => Self::new(
                Code::PedigreeLoop,
                "A cultivar or seedling would be its own ancestor. Nothing was written.",
            ),
            DbError::Unavailable(_) => Self::busy("The database is busy. Nothing was written; try again."),
            DbError::TooMany(limit) => Self::wait(
                Code::TooMuch,
                &format!(
                    "At most {} {} are kept. Nothing was written; take some away, or come later.",
                    limit.most, limit.of
                ),
            ),
            DbError::Full => Self::busy(
                "The disk of the server is full. Nothing was written; tell whoever keeps the server.",
            ),
            DbError::Late => Self::busy(
                "The database did not answer in time. If you sent something, look whether it was written before you send it again.",
            ),
            DbError::Constraint(rule) if rule.name().ends_with("_bounds_check") => Self::new(
                Code::InvalidFields,
                "A day, moment or sum is beyond what is kept: years 1600 to 2400, sums up to 100000000 pence.",
            ),
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
        if self.code == Code::TooSlow {
            // The rest of the body is not waited for.
            response.force_close();
        }
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
        response.body(self.out(&request_id))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    fn out(problem: &Problem) -> ProblemOut {
        let text = problem.out("id");
        assert!(text.len() <= MOST_BYTES, "{} bytes", text.len());
        serde_json::from_str(&text).unwrap()
    }

    #[test]
    fn long_words_are_cut_on_a_character() {
        assert_eq!(cut("Mère", 4), "Mère");
        assert_eq!(cut("Mères", 4), "Mèr…");
        let long = "\u{1f33a}".repeat(70_000);
        let told = out(&Problem::new(Code::BadHeader, &*long).at(&long, "x", &*long));
        let (pointer, detail) = (&told.errors.first().unwrap().pointer, &told.errors.first().unwrap().detail);
        assert_eq!((pointer.chars().count(), detail.chars().count()), (200, 300));
        assert_eq!(told.detail.chars().count(), MOST_DETAIL);
        assert!(pointer.ends_with('…'));
    }

    #[test]
    fn fifty_findings_are_named_and_the_last_counts_the_others() {
        let one = FieldError::new("/x", "required", "is required");
        assert_eq!(out(&Problem::fields(vec![one.clone(); 50])).errors.len(), 50);
        let told = out(&Problem::fields(vec![one; 1300]));
        let last = told.errors.last().unwrap();
        assert_eq!(
            (told.errors.len(), last.code.as_str(), last.detail.as_str()),
            (50, "more", "and 1251 more")
        );
        assert_eq!(told.detail, "1300 fields need correcting; see `errors`.");
    }

    #[test]
    fn what_json_spells_with_six_characters_is_no_way_around() {
        let wide = "\u{1}".repeat(70_000);
        let told = out(&Problem::fields(vec![FieldError::new(&wide, "x", &wide); 1300]));
        let last = told.errors.last().unwrap();
        assert_eq!(last.code, "more");
        assert_eq!(last.detail, format!("and {} more", 1301 - told.errors.len()));
    }
}
