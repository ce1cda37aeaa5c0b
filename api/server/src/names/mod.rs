//! Names of cultivars: read, written and checked before they are proposed for registration.

mod check;
mod dto;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(check::check_name);
}
