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
    let path = logged(request.path());
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
///
/// However it is spelt: letters may be written as `%63`, and that again as `%2563`, which is no address here and holds
/// the secret all the same.
fn logged(path: &str) -> String {
    let mut plain = path.as_bytes().to_vec();
    loop {
        if plain.to_ascii_lowercase().windows(9).any(|part| part == b"calendars") {
            return "/api/v1/calendars/{secret}/own.ics".to_owned();
        }
        let decoded = decoded(&plain);
        if decoded == plain {
            return path.to_owned();
        }
        plain = decoded;
    }
}

fn decoded(text: &[u8]) -> Vec<u8> {
    let digit = |byte: u8| char::from(byte).to_digit(16).and_then(|digit| u8::try_from(digit).ok());
    let mut plain = Vec::with_capacity(text.len());
    let mut rest = text;
    while let Some((first, after)) = rest.split_first() {
        if let (b'%', [high, low, behind @ ..]) = (first, after)
            && let (Some(high), Some(low)) = (digit(*high), digit(*low))
        {
            plain.push(high * 16 + low);
            rest = behind;
        } else {
            plain.push(*first);
            rest = after;
        }
    }
    plain
}

fn is_plain(id: &str) -> bool {
    (8..=64).contains(&id.len()) && id.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_secret_of_a_calendar_is_not_logged_under_any_spelling() {
        for path in [
            "/api/v1/calendars/k9/own.ics",
            "/api/v1/%63alendars/k9/own.ics",
            "/api/v1/%63%61%6C%65ndar%73/k9/own.ics",
            "/api/v1/%2563alendars/k9/own.ics",
            "/api/%76%31//Calendars/k9",
            "/calendars%2Fk9",
        ] {
            assert!(!logged(path).contains("k9"), "{path}");
        }
        for path in ["/api/v1/members/me/calendar", "/api/v1/shows/%", "/100%25", "/%zz%4"] {
            assert_eq!(logged(path), path);
        }
    }
}
