//! How far each region's season is ahead or behind.

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(_config: &mut ServiceConfig) {}
