//! JSON bodies: read, checked, every finding reported at once.

use std::collections::BTreeMap;
use std::future::Future;
use std::pin::Pin;

use actix_web::dev::Payload;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::{FromRequest, HttpRequest};
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::idempotency::Ticket;
use super::problem::{Code, FieldError, MOST_CHARACTERS, MOST_FINDINGS, Problem, cut};
use super::upload::read_body;
use crate::app::Limits;

/// What is wrong with a body, collected field by field.
#[derive(Debug, Default)]
pub struct Findings {
    /// The first [`MOST_FINDINGS`].
    named: Vec<FieldError>,
    /// How many there are beyond those.
    more: usize,
}

/// Most bytes that are gone through to find everything wrong with one body: a body is read once more for
/// every finding.
const MOST_READ: usize = 8 * 1024 * 1024;
/// Most characters of a word that is told back.
const ECHOED: usize = 60;

impl Findings {
    /// Notes one thing wrong with the field at `pointer`.
    pub fn add(&mut self, pointer: &str, code: &str, detail: impl Into<String>) {
        if self.named.len() < MOST_FINDINGS {
            self.named.push(FieldError::new(pointer, code, &detail.into()));
        } else {
            self.more += 1;
        }
    }

    /// Text of `least` to `most` characters, white space at the ends not counted.
    pub fn text(&mut self, pointer: &str, text: &str, least: usize, most: usize) {
        let length = text.trim().chars().count();
        if length < least && length == 0 {
            self.add(pointer, "required", "must not be empty");
        } else if length < least {
            self.add(pointer, "too-short", format!("needs at least {least} characters"));
        } else if length > most {
            self.add(pointer, "too-long", format!("takes at most {most} characters, {length} given"));
        }
        if text.chars().any(|c| c.is_control() && !matches!(c, '\n' | '\r' | '\t')) {
            self.add(pointer, "control-character", "must not hold control characters");
        }
        if text.chars().any(storksbill_domain::names::turns_writing) {
            self.add(pointer, "control-character", "must not hold marks that turn the direction of writing");
        }
    }

    /// Optional text of at most `most` characters.
    pub fn optional_text(&mut self, pointer: &str, text: Option<&str>, most: usize) {
        if let Some(text) = text {
            self.text(pointer, text, 0, most);
        }
    }

    /// A number from `least` to `most`.
    pub fn range<N: PartialOrd + Copy + std::fmt::Display>(
        &mut self,
        pointer: &str,
        number: N,
        least: N,
        most: N,
    ) {
        // Written so that a float that is no number fails too.
        if !(number >= least && number <= most) {
            self.add(pointer, "out-of-range", format!("must be from {least} to {most}"));
        }
    }

    /// Ends a check: all findings as one problem, or none.
    pub fn into_result(self) -> Result<(), Problem> {
        if self.named.is_empty() { Ok(()) } else { Err(Problem::fields(self.named).and_more(self.more)) }
    }
}

/// A body that can say what is wrong with it, beyond the types of its fields.
pub trait Check {
    /// Notes everything that is wrong.
    fn check(&self, found: &mut Findings);
}

/// A JSON body that was read and checked, with the ticket that lets its request be answered only once.
#[derive(Debug)]
pub struct Valid<T> {
    /// The body.
    pub value: T,
    /// See [`Ticket::once`].
    pub ticket: Ticket,
}

impl<T: DeserializeOwned + Check + 'static> FromRequest for Valid<T> {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            let kind = request.headers().get(CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or_default();
            let essence = kind.split(';').next().unwrap_or_default().trim();
            if !essence.eq_ignore_ascii_case("application/json") && !essence.ends_with("+json") {
                return Err(Problem::new(
                    Code::UnsupportedMediaType,
                    "Send the body as JSON with `Content-Type: application/json`.",
                ));
            }
            let limit = Limits::of(&request).json_bytes;
            let bytes = read_body(&request, payload, limit).await?;
            let ticket = Ticket::of(&request, &bytes)?;
            let value = serde_json::from_slice(&bytes).map_err(|error| {
                Problem::new(Code::MalformedJson, format!("The body is not JSON: {error}."))
            })?;
            let tries = (MOST_READ / bytes.len().max(1)).clamp(8, 200);
            Ok(Self { value: read(value, tries)?, ticket })
        })
    }
}

/// Reads `T` from JSON and checks it.
///
/// Serde stops at the first field of a wrong type. On that path alone the finding is noted, the field is
/// replaced by something of another type, and the reading goes on, so that the caller hears of everything
/// in one answer; `tries` times at most, and never again where nothing changed.
pub fn read<T: DeserializeOwned + Check>(mut value: Value, tries: usize) -> Result<T, Problem> {
    let mut found = Findings::default();
    if !value.is_object() {
        // Serde would take an array for a record without names.
        found.add("", "wrong-type", "must be a JSON object");
        return found.into_result().and(Err(Problem::new(Code::MalformedJson, "The body cannot be read.")));
    }
    let mut replaced: BTreeMap<String, usize> = BTreeMap::new();
    for _ in 0..tries {
        let error = match serde_path_to_error::deserialize::<_, T>(&value) {
            Ok(body) => {
                let mut checked = Findings::default();
                body.check(&mut checked);
                found.more += checked.more;
                // What was said of a replaced field is about the stand-in, not about the caller's value.
                for error in checked.named.into_iter().filter(|error| !replaced.contains_key(&error.pointer))
                {
                    found.add(&error.pointer, &error.code, error.detail);
                }
                return found.into_result().map(|()| body);
            }
            Err(error) => error,
        };
        if found.named.len() == MOST_FINDINGS {
            break;
        }
        let place = pointer_of(error.path());
        let message = error.inner().to_string();
        // Serde's own words stand at the start; what the caller wrote can only come after them.
        let changed = if let Some(name) = message.strip_prefix("missing field `").and_then(name_in) {
            let pointer = format!("{place}/{}", escaped(name));
            if replaced.contains_key(&pointer) {
                break;
            }
            found.add(&pointer, "required", "is required");
            let changed = put(&mut value, &pointer, Value::Null);
            replaced.insert(pointer, 0);
            changed
        } else if let Some(name) = message.strip_prefix("unknown field `").and_then(name_in) {
            let name = escaped(name);
            let pointer = match place.strip_suffix(&name) {
                Some(parent) if parent.ends_with('/') => place,
                _ => format!("{place}/{name}"),
            };
            found.add(&pointer, "unknown-field", in_plain_words(&message));
            remove(&mut value, &pointer)
        } else {
            let tried = replaced.entry(place.clone()).or_insert_with(|| {
                found.add(&place, code_of(&message), in_plain_words(&message));
                0
            });
            let Some(stand_in) = stand_ins(&message).into_iter().nth(*tried) else { break };
            *tried += 1;
            put(&mut value, &place, stand_in)
        };
        if !changed {
            break;
        }
    }
    match found.into_result() {
        Err(problem) => Err(problem),
        Ok(()) => Err(Problem::new(Code::MalformedJson, "The body cannot be read.")),
    }
}

/// The name that serde quotes, from behind its first back-tick: it may hold back-ticks itself, and serde's
/// own words come last.
fn name_in(rest: &str) -> Option<&str> {
    let end = [rest.rfind("`, expected "), rest.rfind("`, there are no fields")].into_iter().flatten().max();
    rest.get(..end.or_else(|| rest.rfind('`'))?)
}

fn escaped(name: &str) -> String {
    name.replace('~', "~0").replace('/', "~1")
}

/// Values to try in place of one of a wrong type; a word the message itself offers comes first.
fn stand_ins(message: &str) -> Vec<Value> {
    let mut all: Vec<Value> = Vec::new();
    if let Some((_, offered)) = message.rsplit_once("expected") {
        all.extend(offered.split('`').nth(1).map(Value::from));
    }
    all.extend([
        Value::from(1),
        // A number of a class, which no empty text is.
        Value::from("1"),
        Value::from(""),
        Value::from(false),
        Value::Array(Vec::new()),
        Value::Object(serde_json::Map::new()),
        Value::from("2000-01-01"),
        Value::from("2000-01-01T00:00:00"),
        Value::from("2000-01-01T00:00:00Z"),
        Value::from("00000000-0000-7000-8000-000000000000"),
        Value::Null,
    ]);
    all
}

fn code_of(message: &str) -> &'static str {
    if message.starts_with("unknown variant") || message.contains("not one of") {
        "unknown-word"
    } else if message.starts_with("invalid type") {
        "wrong-type"
    } else {
        "invalid-value"
    }
}

fn in_plain_words(message: &str) -> String {
    let mut text = with_short_echo(message);
    for (rust, plain) in [
        ("unknown variant", "unknown word"),
        ("expected i32", "expected a whole number"),
        ("expected i64", "expected a whole number"),
        ("expected u32", "expected a whole number from 0 up"),
        ("expected f64", "expected a number"),
        ("floating point `", "the number `"),
        ("integer `", "the number `"),
        ("premature end of input", "not a date such as 2026-06-13"),
        ("input contains invalid characters", "not a date such as 2026-06-13"),
        ("expected a borrowed string", "expected a string"),
        ("struct ", ""),
    ] {
        text = text.replace(rust, plain);
    }
    text
}

/// A message in which the word it quotes first is cut, so that what would have been taken is still told.
fn with_short_echo(message: &str) -> String {
    let Some((before, rest)) = message.split_once('`') else { return cut(message, MOST_CHARACTERS) };
    let Some(end) = rest.rfind("`, expected ").or_else(|| rest.find('`')) else {
        return cut(message, MOST_CHARACTERS);
    };
    let (word, after) = rest.split_at(end);
    cut(&format!("{before}`{}{after}", cut(word, ECHOED)), MOST_CHARACTERS)
}

fn pointer_of(path: &serde_path_to_error::Path) -> String {
    use serde_path_to_error::Segment;
    path.iter().fold(String::new(), |pointer, segment| match segment {
        Segment::Map { key } => format!("{pointer}/{}", escaped(key)),
        Segment::Seq { index } => format!("{pointer}/{index}"),
        Segment::Enum { .. } | Segment::Unknown => pointer,
    })
}

fn split_last(pointer: &str) -> (&str, String) {
    let (parent, name) = pointer.rsplit_once('/').unwrap_or(("", pointer));
    (parent, name.replace("~1", "/").replace("~0", "~"))
}

/// Whether there was a place to put it.
fn put(value: &mut Value, pointer: &str, new: Value) -> bool {
    if pointer.is_empty() {
        *value = new;
        true
    } else if let Some(old) = value.pointer_mut(pointer) {
        *old = new;
        true
    } else {
        let (parent, name) = split_last(pointer);
        let Some(Value::Object(fields)) = value.pointer_mut(parent) else { return false };
        fields.insert(name, new);
        true
    }
}

/// Whether there was such a field.
fn remove(value: &mut Value, pointer: &str) -> bool {
    let (parent, name) = split_last(pointer);
    let Some(Value::Object(fields)) = value.pointer_mut(parent) else { return false };
    fields.remove(&name).is_some()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use chrono::NaiveDate;
    use serde::Deserialize;
    use storksbill_domain::words::PlantGroup;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Sample {
        name: String,
        how_many: i32,
        plant_group: PlantGroup,
        #[serde(default)]
        got_on: Option<NaiveDate>,
        #[serde(default)]
        parts: Vec<Part>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Part {
        size: f64,
    }

    impl Check for Sample {
        fn check(&self, found: &mut Findings) {
            found.text("/name", &self.name, 1, 10);
            found.range("/how_many", self.how_many, 1, 9);
            if self.plant_group == PlantGroup::Species && self.got_on.is_none() {
                found.add("/got_on", "required", "is required for a species");
            }
            for (n, part) in self.parts.iter().enumerate() {
                found.range(&format!("/parts/{n}/size"), part.size, 0.0, 5.0);
            }
        }
    }

    fn findings(body: &str) -> Vec<(String, String)> {
        let problem = read::<Sample>(serde_json::from_str(body).unwrap(), 200).unwrap_err();
        problem.errors().iter().map(|e| (e.pointer.clone(), e.code.clone())).collect()
    }

    #[test]
    fn a_good_body_is_read() {
        let body = r#"{"name":"Quay","how_many":3,"plant_group":"regal","got_on":"2026-02-01","parts":[{"size":1}]}"#;
        let sample: Sample = read(serde_json::from_str(body).unwrap(), 200).unwrap();
        assert_eq!((sample.how_many, sample.parts.len()), (3, 1));
    }

    #[test]
    fn wrong_types_missing_and_unknown_fields_and_bad_values_come_in_one_answer() {
        let mut found = findings(
            r#"{"how_many":"three","plant_group":"rose","got_on":"soon","colour":"red",
                "parts":[{"size":9},{"size":"big"},{}]}"#,
        );
        found.sort();
        let expected = [
            ("/colour", "unknown-field"),
            ("/got_on", "invalid-value"),
            ("/how_many", "wrong-type"),
            ("/name", "required"),
            ("/parts/0/size", "out-of-range"),
            ("/parts/1/size", "wrong-type"),
            ("/parts/2/size", "required"),
            ("/plant_group", "unknown-word"),
        ];
        let expected: Vec<_> = expected.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn a_name_that_looks_like_the_parsers_own_words_is_one_finding() {
        let long = "z".repeat(200_000);
        for name in [
            format!("missing field `{long}"),
            format!("missing field `{long}`"),
            format!("unknown field `a`, expected `{long}"),
            format!("`, expected `{long}"),
            format!("a/~b`{long}"),
        ] {
            let mut body = serde_json::json!({"name": "Quay", "how_many": 3, "plant_group": "regal"});
            body.as_object_mut().unwrap().insert(name.clone(), Value::from(1));
            let problem = read::<Sample>(body, 200).unwrap_err();
            let codes: Vec<_> = problem.errors().iter().map(|e| e.code.as_str()).collect();
            assert_eq!(codes, ["unknown-field"], "{}", cut(&name, 60));
            assert!(problem.errors().iter().all(|e| e.detail.contains("expected")));
        }
    }

    #[test]
    fn a_body_of_another_kind_is_one_finding() {
        assert_eq!(findings("[1,2]").len(), 1);
        assert_eq!(findings("\"x\"").len(), 1);
    }
}
