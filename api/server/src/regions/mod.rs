//! Regions, their weather stations and daily readings.

mod dto;
mod edit;
mod look;
mod readings;
mod sheet;
mod stations;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::list)
        .service(look::one)
        .service(edit::create)
        .service(edit::change)
        .service(stations::list)
        .service(stations::one)
        .service(stations::create)
        .service(stations::change)
        .service(readings::upload)
        .service(readings::list);
}
