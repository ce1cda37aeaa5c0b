//! Lists in pages: one opaque keyset cursor, and a `Link` header (RFC 8288) to the next page.
//!
//! A cursor holds the sort key and id of the last row, so that a page stays right when rows are added or
//! taken away while a caller walks through.

use std::future::{Ready, ready};

use actix_web::http::header::LINK;
use actix_web::{FromRequest, HttpRequest, HttpResponse};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde::{Deserialize, Serialize};
use storksbill_domain::day::Day;
use utoipa::{IntoParams, ToSchema};

use super::problem::{Code, Problem};

/// Rows a page has when the caller does not say.
pub const DEFAULT_LIMIT: i64 = 50;
/// Most rows of a page.
pub const MAX_LIMIT: i64 = 200;

/// The sort key and the id of the last row of a page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place(pub String, pub String);

/// Which page is asked for.
#[derive(Debug, Clone, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Page {
    /// Rows wanted, 1 to 200; 50 when not given.
    #[param(required = false, value_type = i64, minimum = 1, maximum = 200)]
    pub limit: i64,
    /// `next_cursor` of the page before; the first page when not given.
    #[param(rename = "cursor", required = false, value_type = String)]
    pub after: Option<Place>,
    /// The address asked, for the link to the next page.
    #[param(ignore)]
    url: String,
}

#[derive(Deserialize)]
struct Given {
    limit: Option<String>,
    cursor: Option<String>,
}

impl FromRequest for Page {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut actix_web::dev::Payload) -> Self::Future {
        ready(Self::of(request))
    }
}

impl Page {
    fn of(request: &HttpRequest) -> Result<Self, Problem> {
        let given = actix_web::web::Query::<Given>::from_query(request.query_string())
            .map_err(|error| Problem::new(Code::InvalidQuery, error.to_string()))?;
        let limit = match given.limit.as_deref() {
            None => DEFAULT_LIMIT,
            Some(text) => {
                text.parse().ok().filter(|limit| (1..=MAX_LIMIT).contains(limit)).ok_or_else(|| {
                    let detail = format!("must be a whole number from 1 to {MAX_LIMIT}");
                    Problem::new(Code::InvalidQuery, format!("limit {detail}.")).at(
                        "limit",
                        "out-of-range",
                        detail,
                    )
                })?
            }
        };
        let after = given.cursor.as_deref().map(decode).transpose()?;
        let others: Vec<&str> = request
            .query_string()
            .split('&')
            .filter(|pair| !pair.is_empty() && !pair.starts_with("cursor="))
            .collect();
        Ok(Self { limit, after, url: format!("{}?{}", request.path(), others.join("&")) })
    }

    /// One more row than asked for: whether it comes tells if there is a next page.
    pub fn probe(&self) -> i64 {
        self.limit + 1
    }

    /// Makes the answer of up to [`Page::probe`] rows; `place` gives a row's place in the sort.
    pub fn list<R, T>(
        &self,
        mut rows: Vec<R>,
        place: impl Fn(&R) -> Place,
        show: impl FnMut(R) -> T,
    ) -> List<T> {
        let limit = usize::try_from(self.limit).unwrap_or(usize::MAX);
        let more = rows.len() > limit;
        rows.truncate(limit);
        let next_cursor = rows.last().filter(|_| more).map(|row| encode(&place(row)));
        let next_url = next_cursor.as_ref().map(|cursor| {
            let joint = if self.url.ends_with('?') { "" } else { "&" };
            format!("{}{joint}cursor={cursor}", self.url)
        });
        List { items: rows.into_iter().map(show).collect(), next_cursor, next_url }
    }
}

fn encode(place: &Place) -> String {
    URL_SAFE_NO_PAD.encode(serde_json::to_vec(place).unwrap_or_default())
}

fn decode(cursor: &str) -> Result<Place, Problem> {
    URL_SAFE_NO_PAD
        .decode(cursor)
        .ok()
        .and_then(|bytes| serde_json::from_slice(&bytes).ok())
        // PostgreSQL takes no NUL in a text; no key or id holds a control character.
        .filter(|Place(key, id)| !key.chars().chain(id.chars()).any(char::is_control) && is_last(id))
        .ok_or_else(|| Problem::new(Code::BadCursor, "Send `next_cursor` of the page before, unchanged."))
}

/// Whether it can stand last in a place: nothing where the key says all, an id, or the day that tells records of one
/// plant apart.
fn is_last(id: &str) -> bool {
    id.is_empty() || uuid::Uuid::try_parse(id).is_ok() || id.parse::<Day>().is_ok()
}

/// One page of a list.
#[derive(Debug, Serialize, ToSchema)]
pub struct List<T> {
    /// The rows of this page.
    pub items: Vec<T>,
    /// Send it as `cursor` for the next page; null on the last page.
    pub next_cursor: Option<String>,
    #[serde(skip)]
    next_url: Option<String>,
}

impl<T> List<T> {
    /// The same page with other rows: for rows that only the handler can tell the asker may see.
    #[must_use]
    pub fn with_items<U>(self, items: Vec<U>) -> List<U> {
        List { items, next_cursor: self.next_cursor, next_url: self.next_url }
    }
}

impl<T: Serialize> actix_web::Responder for List<T> {
    type Body = actix_web::body::BoxBody;

    fn respond_to(self, _: &HttpRequest) -> HttpResponse {
        let mut response = HttpResponse::Ok();
        if let Some(url) = &self.next_url {
            response.insert_header((LINK, format!("<{url}>; rel=\"next\"")));
        }
        response.json(self)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    #[test]
    fn a_cursor_reads_back_and_a_strange_one_is_refused() {
        let place = Place("mère & fille".to_owned(), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f".to_owned());
        assert_eq!(decode(&encode(&place)).unwrap(), place);
        for strange in ["", "x", "bnVsbA", "!!"] {
            assert_eq!(decode(strange).unwrap_err().code, Code::BadCursor);
        }
    }
}
