//! The clubs of the society and who belongs to them.

mod dto;
mod edit;
mod look;
mod roll;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::list)
        .service(look::one)
        .service(edit::create)
        .service(edit::change)
        .service(roll::list)
        .service(roll::set)
        .service(roll::end);
}
