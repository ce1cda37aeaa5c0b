//! Pedigrees: ancestors, kinship and inbreeding.

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(_config: &mut ServiceConfig) {}
