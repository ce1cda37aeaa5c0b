//! Bodies as bytes, within a limit, and tables sent as CSV.

use actix_web::dev::Payload;
use actix_web::http::header::CONTENT_TYPE;
use actix_web::{FromRequest, HttpMessage, HttpRequest};
use futures_util::StreamExt;
use std::future::Future;
use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use storksbill_domain::ids::MemberId;
use tokio::time::Instant;

use super::auth;
use super::idempotency::Ticket;
use super::problem::{Code, Problem};
use crate::app::Limits;

/// Reads a body of at most `limit` bytes, in the time its size calls for.
pub async fn read_body(
    request: &HttpRequest,
    mut payload: Payload,
    limit: usize,
) -> Result<Vec<u8>, Problem> {
    let limits = Limits::of(request);
    let mut bytes = Vec::new();
    let started = Instant::now();
    loop {
        // Every byte that came buys a little time, so that a slow line is served and a dripping one is not.
        let bought = Duration::from_secs_f64(bytes.len() as f64 / limits.least_bytes_a_second);
        let until = started + limits.body_within + bought;
        let Ok(chunk) = tokio::time::timeout_at(until, payload.next()).await else {
            return Err(Problem::new(
                Code::TooSlow,
                format!(
                    "After {} s {} KiB of the body had come. Send it again.",
                    started.elapsed().as_secs(),
                    bytes.len() / 1024
                ),
            ));
        };
        let Some(chunk) = chunk else { return Ok(bytes) };
        let chunk = chunk.map_err(|_cut_off| Problem::new(Code::BadHeader, "The body was cut off."))?;
        if bytes.len() + chunk.len() > limit {
            return Err(Problem::new(
                Code::BodyTooLarge,
                format!("At most {} KiB are taken here; send it in parts.", limit / 1024),
            ));
        }
        bytes.extend_from_slice(&chunk);
    }
}

/// Tables in hand: each is held in memory until its request is answered.
#[derive(Debug, Clone)]
pub struct Uploads {
    most: usize,
    in_hand: Arc<Mutex<Vec<Option<MemberId>>>>,
}

/// Most memory that tables in hand may take as they are sent, bytes; with the largest of 32 MiB, eight of them.
const MEMORY: usize = 256 * 1024 * 1024;
/// Most tables one member may have in hand: one that is read and one that comes.
const MOST_OF_ONE: usize = 2;

impl Uploads {
    /// Room for as many tables of at most `table_bytes` as fit into 256 MiB, two at least.
    pub fn of(table_bytes: usize) -> Self {
        Self { most: (MEMORY / table_bytes.max(1)).clamp(2, 64), in_hand: Arc::default() }
    }

    fn take(&self, who: Option<MemberId>) -> Result<InHand, Problem> {
        let mut in_hand = self.in_hand.lock().unwrap_or_else(PoisonError::into_inner);
        if who.is_some() && in_hand.iter().filter(|other| **other == who).count() >= MOST_OF_ONE {
            return Err(Problem::wait(
                Code::TooMuch,
                "Two tables of yours are being taken already. Wait until one of them is answered.",
            ));
        }
        if in_hand.len() >= self.most {
            return Err(Problem::busy("Others are sending tables. Nothing was written; try again."));
        }
        in_hand.push(who);
        drop(in_hand);
        Ok(InHand { uploads: self.clone(), who })
    }
}

/// One table in hand; given back when its request is answered.
struct InHand {
    uploads: Uploads,
    who: Option<MemberId>,
}

impl Drop for InHand {
    fn drop(&mut self) {
        let mut in_hand = self.uploads.in_hand.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(at) = in_hand.iter().position(|other| *other == self.who) {
            in_hand.swap_remove(at);
        }
    }
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
    if let Some(uploads) = request.app_data::<Uploads>() {
        let in_hand = uploads.take(auth::asker(request))?;
        request.extensions_mut().insert(in_hand);
    }
    let mut bytes = read_body(request, payload, Limits::of(request).table_bytes).await?;
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

/// What a spreadsheet may take for the start of a formula, or pass over before one; and the apostrophe itself.
const RUN: [char; 12] =
    ['=', '+', '-', '@', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}', '\t', '\r', '\n', '\''];

/// A cell as it is written to CSV: a spreadsheet must not run it as a formula.
///
/// A leading apostrophe is put before `= + - @`, their full-width forms, tab and line ends; [`plain_cell`] takes it
/// off again, so that what is exported can be imported unchanged. The tables are split at commas, as RFC 4180 has it;
/// a spreadsheet that is told to split at semicolons is told so by whoever opens the file.
pub fn safe_cell(text: &str) -> String {
    // A number is no formula, and must be summed.
    if is_number(text) {
        return text.to_owned();
    }
    if text.starts_with(RUN) { format!("'{text}") } else { text.to_owned() }
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
        Some(rest) if rest.starts_with(RUN) => rest,
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_never_start_a_formula_and_read_back_as_written() {
        for text in [
            "=1+1",
            "+4",
            "-2+3",
            "-x",
            "@x",
            "'quoted",
            "'=1",
            "plain",
            "",
            "\tx",
            "\n=1+1",
            "\u{ff1d}1+1",
            "\u{ff0b}1",
            "\u{ff0d}1",
            "\u{ff20}x",
        ] {
            let written = safe_cell(text);
            assert!(!written.starts_with(RUN) || written.starts_with('\''), "{written}");
            assert_eq!(plain_cell(&written), text);
        }
        for number in ["-2", "-0.25", "500"] {
            assert_eq!((safe_cell(number).as_str(), plain_cell(number)), (number, number));
        }
    }
}
