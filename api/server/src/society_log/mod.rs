//! Who did what: a log that is added to and never changed.

mod dto;
mod look;
mod write;

pub use write::{Asked, Entry, note};

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(look::own).service(look::list);
}
