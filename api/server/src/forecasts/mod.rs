//! When plants will be ready, from pooled records and the region's weather.

mod ahead;
mod cold;
mod disbudding;
mod dto;
pub mod kept;
mod look;
pub mod pooled;
mod show_plan;
mod stops;
pub mod waits;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::of_plant)
        .service(look::of_region)
        .service(stops::when_to_stop)
        .service(show_plan::show_plan)
        .service(disbudding::disbudding);
}
