//! The clubs of the society and who belongs to them.

mod dto;
mod edit;
mod invitations;
mod look;
mod roll;
mod shares;

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
        .service(roll::end)
        .service(invitations::of_club)
        .service(invitations::own)
        .service(invitations::accept)
        .service(invitations::refuse)
        .service(shares::list)
        .service(shares::set);
}
