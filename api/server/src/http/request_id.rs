//! An id for every request: in the log, in the `X-Request-Id` header and in every problem.

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::middleware::Next;
use uuid::Uuid;

tokio::task_local! {
    static REQUEST_ID: String;
}

/// The header's name.
pub const HEADER: HeaderName = HeaderName::from_static("x-request-id");

/// The id of the request being served; empty outside one.
pub fn current() -> String {
    REQUEST_ID.try_with(Clone::clone).unwrap_or_default()
}

/// Middleware: takes over a caller's id where it is short and plain, else makes one, and writes one line of
/// log for the request. Only method, path, status and time are logged: no query, body or address.
pub async fn assign<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, actix_web::Error> {
    let given = request.headers().get(HEADER).and_then(|value| value.to_str().ok());
    let id = match given {
        Some(id) if is_plain(id) => id.to_owned(),
        _ => Uuid::now_v7().simple().to_string(),
    };
    let method = request.method().clone();
    let path = logged(request.path()).to_owned();
    let started = std::time::Instant::now();
    let result = REQUEST_ID.scope(id.clone(), next.call(request)).await;
    let mut response = match result {
        Ok(response) => response,
        // An error that no handler turned into a response is turned into one further out, where the id is
        // no longer known; the log still has it.
        Err(error) => {
            tracing::warn!(request_id = id, %method, path, %error, "request refused");
            return Err(error);
        }
    };
    tracing::info!(
        request_id = id,
        %method,
        path,
        status = response.status().as_u16(),
        micros = started.elapsed().as_micros(),
        "request"
    );
    if let Ok(value) = HeaderValue::from_str(&id) {
        response.headers_mut().insert(HEADER, value);
    }
    Ok(response)
}

/// The address as it is logged: that of a member's calendar is its key.
fn logged(path: &str) -> &str {
    if path.starts_with("/api/v1/calendars/") { "/api/v1/calendars/{secret}/own.ics" } else { path }
}

fn is_plain(id: &str) -> bool {
    (8..=64).contains(&id.len()) && id.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
}
