//! When plants will be ready, from pooled records and the region's weather.

mod ahead;
mod dto;
pub mod kept;
mod look;
pub mod pooled;
pub mod waits;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(look::of_plant).service(look::of_region);
}
