//! Edits that do not overwrite each other: every record has a version, sent as its `ETag` and asked back in
//! `If-Match` (RFC 9110, sections 8.8 and 13).

use std::future::{Ready, ready};

use actix_web::http::header::{IF_MATCH, IF_NONE_MATCH};
use actix_web::{FromRequest, HttpRequest};

use sha2::{Digest, Sha256};

use super::problem::{Code, Problem};
use crate::hex::hex;

/// A version as the entity tag that is sent.
pub fn tag(version: i32) -> String {
    format!("\"{version}\"")
}

/// The entity tag of a read: the version of its tag, and a mark of what is answered.
pub fn tag_of_read(version: &str, body: &str) -> String {
    let digest = Sha256::digest(body.as_bytes());
    format!("\"{}-{}\"", version.trim_matches('"'), hex(digest.get(..8).unwrap_or_default()))
}

/// The `If-Match` header of an edit; an edit without one is refused with 428.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum IfMatch {
    /// `*`: whatever the version.
    Any,
    /// One of these.
    Versions(Vec<i32>),
}

impl FromRequest for IfMatch {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut actix_web::dev::Payload) -> Self::Future {
        ready(match request.headers().get(IF_MATCH) {
            None => Err(Problem::new(
                Code::PreconditionRequired,
                "Read it first, then send its ETag as `If-Match`, so that nobody's change is lost.",
            )),
            Some(value) => Ok(Self::parse(value.to_str().unwrap_or_default())),
        })
    }
}

impl IfMatch {
    /// Reads a list of tags. `If-Match` compares strongly: a weak tag (`W/"1"`) matches nothing.
    pub fn parse(text: &str) -> Self {
        if text.trim() == "*" {
            return Self::Any;
        }
        Self::Versions(text.split(',').filter_map(|tag| strong(tag.trim())).collect())
    }

    /// Refuses with 412 where the record has moved on.
    pub fn check(&self, version: i32) -> Result<(), Problem> {
        match self {
            Self::Any => Ok(()),
            Self::Versions(versions) if versions.contains(&version) => Ok(()),
            Self::Versions(_) => Err(Problem::new(
                Code::VersionMismatch,
                format!(
                    "Its version is now {version}. Read it again, look at what changed, and send your edit with the new ETag."
                ),
            )),
        }
    }
}

/// Whether a PUT may keep its record: without `If-Match` where there is none yet, with the version it read where
/// there is one. `what` names the record.
pub fn check_put(if_match: Option<&IfMatch>, version: Option<i32>, what: &str) -> Result<(), Problem> {
    match (version, if_match) {
        (None, None) => Ok(()),
        (None, Some(_)) => Err(Problem::new(
            Code::VersionMismatch,
            format!("There is no {what} now; send it without If-Match to enter one."),
        )),
        (Some(_), None) => Err(Problem::new(
            Code::PreconditionRequired,
            format!("There is a {what}: read it first, then send its ETag as `If-Match`."),
        )),
        (Some(version), Some(if_match)) => if_match.check(version),
    }
}

/// The version that a tag tells, of an edit's answer or of a read's.
fn strong(tag: &str) -> Option<i32> {
    let told = tag.strip_prefix('"')?.strip_suffix('"')?;
    told.split_once('-').map_or(told, |(version, _)| version).parse().ok()
}

/// Whether a read's `If-None-Match` (compared weakly) says that the caller has the answer of this tag already.
pub fn is_known(request: &HttpRequest, known: &str) -> bool {
    let sent = request.headers().get_all(IF_NONE_MATCH).filter_map(|value| value.to_str().ok());
    sent.flat_map(|value| value.split(','))
        .map(str::trim)
        .any(|tag| tag == "*" || tag.trim_start_matches("W/") == known)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use actix_web::test::TestRequest;

    use super::*;

    /// RFC 9110 (2022), section 8.8.3.2: the comparison table.
    #[test]
    fn tags_compare_as_the_standard_tables_them() {
        // (sent, stored version, strong match, weak match)
        for (sent, version, strong, weak) in [
            ("W/\"1\"", 1, false, true),
            ("W/\"1\"", 2, false, false),
            ("\"1\"", 1, true, true),
            ("\"1\"", 2, false, false),
        ] {
            assert_eq!(IfMatch::parse(sent).check(version).is_ok(), strong, "{sent} strong {version}");
            let read = TestRequest::get().insert_header((IF_NONE_MATCH, sent)).to_http_request();
            assert_eq!(is_known(&read, &tag(version)), weak, "{sent} weak {version}");
        }
    }

    #[test]
    fn a_reads_tag_tells_the_version_and_what_was_answered() {
        let (one, other) = (tag_of_read("\"7\"", "{\"left\":2}"), tag_of_read("\"7\"", "{\"left\":3}"));
        assert_ne!(one, other);
        assert_eq!(IfMatch::parse(&format!("{one}, {other}")), IfMatch::Versions(vec![7, 7]));
        let read =
            TestRequest::get().insert_header((IF_NONE_MATCH, format!("\"7\", W/{one}"))).to_http_request();
        assert!(is_known(&read, &one) && !is_known(&read, &other));
    }

    #[test]
    fn lists_and_the_star_are_read() {
        assert_eq!(IfMatch::parse("\"3\", \"7\""), IfMatch::Versions(vec![3, 7]));
        assert_eq!(IfMatch::parse(" * "), IfMatch::Any);
        assert_eq!(IfMatch::parse("\"xyzzy\", \"\", 3"), IfMatch::Versions(Vec::new()));
    }
}
