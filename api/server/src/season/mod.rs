//! How far each region's season is ahead or behind.

mod dto;
mod look;
pub mod reckon;

pub use dto::RegionGlance;
pub use look::glance;
use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(look::all);
}
