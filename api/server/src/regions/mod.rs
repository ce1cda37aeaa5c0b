//! Regions, their weather stations and daily readings, uploaded or fetched.

mod address;
mod dto;
mod edit;
pub mod fetch;
mod inside;
mod look;
mod readings;
mod sheet;
mod source;
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
        .service(readings::list)
        .service(source::one)
        .service(source::set)
        .service(source::end)
        .service(source::fetch)
        .service(inside::upload)
        .service(inside::list)
        .service(inside::forget);
}
