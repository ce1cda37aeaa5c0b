//! Pedigrees: ancestors, kinship and inbreeding; drawn, too.

mod chart;
mod dto;
pub(crate) mod lines;
mod look;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(look::ancestors).service(chart::chart).service(look::kinship);
}
