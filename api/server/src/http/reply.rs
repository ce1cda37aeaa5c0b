//! Answers to writes: status, address, version, body; plain data, so that they can be kept and sent again.

use actix_web::http::header::{CACHE_CONTROL, ETAG, LOCATION};
use actix_web::http::{Method, StatusCode};
use actix_web::{HttpRequest, HttpResponse, Responder};
use serde::Serialize;

use super::etag;
use super::problem::{Code, Problem};

/// What a handler answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reply {
    pub(super) status: u16,
    pub(super) location: Option<String>,
    pub(super) etag: Option<String>,
    pub(super) body: String,
}

impl Reply {
    fn new(status: StatusCode, body: &impl Serialize) -> Result<Self, Problem> {
        let body = serde_json::to_string(body).map_err(|error| {
            Problem::new(Code::Internal, format!("The answer cannot be written: {error}."))
        })?;
        Ok(Self { status: status.as_u16(), location: None, etag: None, body })
    }

    /// 201: made at `location`, with its first version.
    pub fn created(location: String, version: i32, body: &impl Serialize) -> Result<Self, Problem> {
        let reply = Self::new(StatusCode::CREATED, body)?;
        Ok(Self { location: Some(location), etag: Some(etag::tag(version)), ..reply })
    }

    /// 200 with the record's version.
    pub fn versioned(version: i32, body: &impl Serialize) -> Result<Self, Problem> {
        Ok(Self { etag: Some(etag::tag(version)), ..Self::new(StatusCode::OK, body)? })
    }

    /// 200.
    pub fn ok(body: &impl Serialize) -> Result<Self, Problem> {
        Self::new(StatusCode::OK, body)
    }

    /// 202: taken in; what becomes of it is at `location`.
    pub fn accepted(location: String, body: &impl Serialize) -> Result<Self, Problem> {
        Ok(Self { location: Some(location), ..Self::new(StatusCode::ACCEPTED, body)? })
    }

    /// Whether it is a 202.
    pub fn is_accepted(&self) -> bool {
        self.status == StatusCode::ACCEPTED.as_u16()
    }

    /// 204.
    pub fn no_content() -> Self {
        Self { status: StatusCode::NO_CONTENT.as_u16(), location: None, etag: None, body: String::new() }
    }
}

impl Responder for Reply {
    type Body = actix_web::body::BoxBody;

    fn respond_to(mut self, request: &HttpRequest) -> HttpResponse {
        let mut status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        if request.method() == Method::GET
            && let Some(version) = self.etag.take()
        {
            // The version, which an edit is held against, and what is answered, since that may change with other
            // records. Whoever has just this answer is not sent it again.
            let tag = etag::tag_of_read(&version, &self.body);
            if etag::is_known(request, &tag) {
                status = StatusCode::NOT_MODIFIED;
                self.body.clear();
            }
            self.etag = Some(tag);
        }
        let mut response = HttpResponse::build(status);
        // Answers depend on who asks.
        response.insert_header((CACHE_CONTROL, "private, no-cache"));
        if let Some(location) = self.location {
            response.insert_header((LOCATION, location));
        }
        if let Some(etag) = self.etag {
            response.insert_header((ETAG, etag));
        }
        if self.body.is_empty() {
            return response.finish();
        }
        response.content_type("application/json").body(self.body)
    }
}
