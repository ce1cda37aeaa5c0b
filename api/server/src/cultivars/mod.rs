//! Cultivars: the society's list of what there is to grow.

mod dto;
mod edit;
mod look;
mod origin;
mod permission;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::list)
        .service(look::one)
        .service(edit::create)
        .service(edit::change)
        .service(edit::remove)
        .service(permission::one)
        .service(permission::set)
        .service(permission::end);
}
