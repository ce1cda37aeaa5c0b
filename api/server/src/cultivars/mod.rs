//! Cultivars: the society's list of what there is to grow.

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(_config: &mut ServiceConfig) {}
