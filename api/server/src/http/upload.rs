//! Bodies as bytes, within a limit, and tables sent as CSV.

use actix_web::dev::Payload;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::{FromRequest, HttpRequest};
use futures_util::StreamExt;
use std::future::Future;
use std::pin::Pin;

use super::idempotency::Ticket;
use super::problem::{Code, Problem};
use crate::app::Limits;

/// Reads a body of at most `limit` bytes.
pub async fn read_body(mut payload: Payload, limit: usize) -> Result<Vec<u8>, Problem> {
    let mut bytes = Vec::new();
    while let Some(chunk) = payload.next().await {
        let chunk = chunk.map_err(|_cut_off| Problem::new(Code::BadHeader, "The body was cut off."))?;
        if bytes.len() + chunk.len() > limit {
            return Err(Problem::new(
                Code::BodyTooLarge,
                format!("At most {} KiB are taken here; send it in parts.", limit / 1024),
            ));
        }
        bytes.extend_from_slice(&chunk);
    }
    Ok(bytes)
}

/// A large body of any type, not yet read.
#[derive(Debug)]
pub struct Upload {
    /// The type it was sent as, such as `text/csv`, in lower case and without parameters.
    pub essence: String,
    /// The bytes, a byte-order mark taken off.
    pub bytes: Vec<u8>,
}

impl FromRequest for Upload {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            let bytes = read_table(&request, payload).await?;
            Ok(Self { essence: essence(&request), bytes })
        })
    }
}

fn essence(request: &HttpRequest) -> String {
    let kind = request.headers().get(CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or_default();
    kind.split(';').next().unwrap_or_default().trim().to_ascii_lowercase()
}

async fn read_table(request: &HttpRequest, payload: Payload) -> Result<Vec<u8>, Problem> {
    let mut bytes = read_body(payload, Limits::of(request).table_bytes).await?;
    if bytes.starts_with(b"\xEF\xBB\xBF") {
        bytes.drain(..3);
    }
    Ok(bytes)
}

/// What a table was sent as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableFormat {
    /// `text/csv` (RFC 4180) with a header line.
    Csv,
    /// A JSON array of rows.
    Json,
}

/// A table of many rows, not yet read, as CSV or JSON.
#[derive(Debug)]
pub struct Table {
    /// How it was sent.
    pub format: TableFormat,
    /// The bytes, a byte-order mark taken off.
    pub bytes: Vec<u8>,
    /// See [`Ticket::once`].
    pub ticket: Ticket,
}

impl FromRequest for Table {
    type Error = Problem;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Problem>>>>;

    fn from_request(request: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let request = request.clone();
        let payload = payload.take();
        Box::pin(async move {
            let format = match essence(&request).as_str() {
                "text/csv" => TableFormat::Csv,
                "application/json" => TableFormat::Json,
                _ => {
                    return Err(Problem::new(
                        Code::UnsupportedMediaType,
                        "Send the table with `Content-Type: text/csv` or `application/json`.",
                    ));
                }
            };
            let bytes = read_table(&request, payload).await?;
            let ticket = Ticket::of(&request, &bytes)?;
            Ok(Self { format, bytes, ticket })
        })
    }
}

/// A cell as it is written to CSV: a spreadsheet must not run it as a formula.
///
/// A leading apostrophe is put before `= + - @`, tab and carriage return; [`plain_cell`] takes it off again,
/// so that what is exported can be imported unchanged.
pub fn safe_cell(text: &str) -> String {
    // A number is no formula, and must be summed.
    if is_number(text) {
        return text.to_owned();
    }
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

/// Digits, with a minus before and a decimal point within at most.
fn is_number(text: &str) -> bool {
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let unsigned = text.strip_prefix('-').unwrap_or(text);
    match unsigned.split_once('.') {
        Some((whole, decimals)) => digits(whole) && digits(decimals),
        None => digits(unsigned),
    }
}

/// Takes back what [`safe_cell`] did.
pub fn plain_cell(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if rest.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) => rest,
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_never_start_a_formula_and_read_back_as_written() {
        for text in ["=1+1", "+4", "-2+3", "-x", "@x", "'quoted", "'=1", "plain", "", "\tx"] {
            let written = safe_cell(text);
            assert!(!written.starts_with(['=', '+', '-', '@', '\t', '\r']), "{written}");
            assert_eq!(plain_cell(&written), text);
        }
        for number in ["-2", "-0.25", "500"] {
            assert_eq!((safe_cell(number).as_str(), plain_cell(number)), (number, number));
        }
    }
}
