//! What every handler shares, and the app put together from the nouns.

use std::sync::Arc;
use std::time::Duration;

use actix_web::HttpRequest;
use chrono::TimeDelta;
use storksbill_db::Db;
use storksbill_domain::clock::Clock;

use crate::forecasts::pooled::PooledRecords;
use crate::http::auth::TokenKeys;
use crate::pedigrees::Pedigrees;
use crate::regions::fetch::Fetching;
use crate::sessions::guessing::SubjectKey;
use crate::sessions::passwords::Passwords;

/// The server's state: cheap to clone.
#[derive(Debug, Clone)]
pub struct App {
    /// The records.
    pub db: Db,
    /// The time.
    pub clock: Clock,
    /// Signs access tokens.
    pub keys: TokenKeys,
    /// Hashes what attempts are counted by.
    pub subjects: SubjectKey,
    /// Hashes passwords, a few at a time.
    pub passwords: Passwords,
    /// The members' pooled records, read again when they are old.
    pub pooled: Arc<PooledRecords>,
    /// Everybody's pedigree, brought up to date at every question.
    pub pedigrees: Arc<Pedigrees>,
    /// What the society set.
    pub society: Arc<Society>,
}

/// The society's own settings.
#[derive(Debug, Clone)]
pub struct Society {
    /// Its name, on pages.
    pub name: String,
    /// Fewest growers that a pooled figure may stand on.
    pub least_growers: i64,
    /// How old pooled records may be before they are read again.
    pub pooled_for: TimeDelta,
    /// How long members have to answer a proposed ring.
    pub answer_within: TimeDelta,
    /// A round is run when the last is this old; never by itself when zero.
    pub round_every: TimeDelta,
    /// How weather is fetched.
    pub weather: Fetching,
    /// The hour of the day, UTC, from which the forecasts' parameters may be fitted anew.
    pub refit_hour: u32,
    /// Where the server is found from outside, such as `https://merrow.example`, without a slash at its end. What a
    /// request says of it is never believed: links that leave the server are relative where this is not set.
    pub public_url: Option<String>,
    /// A sentence for the first page: the demonstration says here that it is one.
    pub notice: Option<String>,
}

/// How much the server takes in one body.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Largest JSON body of one record, bytes.
    pub json_bytes: usize,
    /// Largest table upload, bytes.
    pub table_bytes: usize,
    /// Time in which a body must have come, whatever its size.
    pub body_within: Duration,
    /// Bytes of a body that must come in every second beyond that.
    pub least_bytes_a_second: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            json_bytes: 256 * 1024,
            table_bytes: 32 * 1024 * 1024,
            // 10 s and a second for each 100 KB: a telephone on a poor line sends ten times as fast. Common practice.
            body_within: Duration::from_secs(10),
            least_bytes_a_second: 100_000.0,
        }
    }
}

impl Limits {
    /// The limits in force for a request.
    pub fn of(request: &HttpRequest) -> Self {
        request.app_data::<Self>().copied().unwrap_or_default()
    }
}
