//! When plants will be ready, from pooled records and the region's weather.

pub mod pooled;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(_config: &mut ServiceConfig) {}
