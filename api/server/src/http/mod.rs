//! The kit every endpoint is built from; nothing here knows a noun of the trade.

pub mod auth;
pub mod client;
pub mod connections;
pub mod cors;
pub mod etag;
pub mod fallback;
pub mod head;
pub mod idempotency;
pub mod json;
pub mod page;
pub mod patch;
pub mod problem;
pub mod queries;
pub mod reply;
pub mod request_id;
pub mod safe;
pub mod upload;
