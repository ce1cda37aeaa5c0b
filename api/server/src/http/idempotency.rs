//! Creates that can be sent again without doubling: `Idempotency-Key`.
//!
//! The key is kept, with the answer, in the transaction that makes the record. So an answer that was lost on
//! the way, or a server killed between commit and answer, is met by sending the same request again. A
//! refused request keeps nothing and may be mended and sent again under the same key.

use actix_web::HttpRequest;
use chrono::{DateTime, TimeDelta, Utc};
use sha2::{Digest, Sha256};
use storksbill_db::Conn;
use storksbill_db::rows::idempotency::{self, KeptReply};
use storksbill_domain::ids::MemberId;

use super::problem::{Code, Problem};
use super::reply::Reply;
use crate::app::App;
use crate::hex::hex;

/// How long a key is remembered.
pub const KEPT: TimeDelta = TimeDelta::days(7);

/// What makes a request the same request: its key, and a fingerprint of method, path and body.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ticket {
    key: Option<String>,
    fingerprint: String,
}

impl Ticket {
    /// Reads the header, with or without the quotes of a structured string, and fingerprints the request.
    pub(super) fn of(request: &HttpRequest, body: &[u8]) -> Result<Self, Problem> {
        let key = match request.headers().get("idempotency-key") {
            None => None,
            Some(value) => {
                let text = value.to_str().unwrap_or_default().trim().trim_matches('"');
                if text.is_empty() || text.len() > 128 || !text.bytes().all(|b| b.is_ascii_graphic()) {
                    return Err(Problem::new(
                        Code::BadHeader,
                        "Idempotency-Key takes 1 to 128 visible ASCII characters, such as a fresh UUID.",
                    ));
                }
                Some(text.to_owned())
            }
        };
        let mut hash = Sha256::new();
        hash.update(request.method().as_str());
        hash.update([0]);
        hash.update(request.uri().to_string());
        hash.update([0]);
        hash.update(body);
        let fingerprint = hex(&hash.finalize());
        Ok(Self { key, fingerprint })
    }

    /// Runs `make` unless this member's request of this key was answered before; then gives that answer.
    ///
    /// # Errors
    /// 422 `idempotency-key-reused` where the key came with another request; whatever `make` refuses.
    pub fn once(
        &self,
        conn: &mut Conn,
        member: MemberId,
        now: DateTime<Utc>,
        make: impl FnOnce(&mut Conn) -> Result<Reply, Problem>,
    ) -> Result<Reply, Problem> {
        let Some(key) = &self.key else { return make(conn) };
        if let Some(kept) = idempotency::find(conn, member, key)? {
            if kept.fingerprint != self.fingerprint {
                return Err(Problem::new(
                    Code::IdempotencyKeyReused,
                    "This Idempotency-Key came with another request before; make a fresh one for each record.",
                ));
            }
            return Ok(Reply {
                status: u16::try_from(kept.status).unwrap_or(500),
                location: kept.location,
                etag: kept.etag,
                body: kept.body,
            });
        }
        let mut kept = KeptReply {
            member_id: member,
            idempotency_key: key.clone(),
            fingerprint: self.fingerprint.clone(),
            status: 0,
            location: None,
            etag: None,
            body: String::new(),
            created_at: now.naive_utc(),
        };
        // The key is taken before the record is made: of two sends at once the second must meet the first
        // here, where it is run again, and not at a name that the first has taken.
        idempotency::keep(conn, &kept)?;
        let reply = make(conn)?;
        kept.status = i32::from(reply.status);
        kept.location.clone_from(&reply.location);
        kept.etag.clone_from(&reply.etag);
        kept.body.clone_from(&reply.body);
        idempotency::fill(conn, &kept)?;
        Ok(reply)
    }
}

/// Forgets the keys that are older than [`KEPT`]; returns how many.
pub async fn forget_old(app: &App) -> Result<usize, Problem> {
    let before = (app.clock.now() - KEPT).naive_utc();
    app.db.write(move |conn| Ok(idempotency::forget_before(conn, before)?)).await
}
