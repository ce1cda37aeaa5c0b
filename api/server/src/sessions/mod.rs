//! Joining, logging in and out, passwords.

mod dto;
pub mod guessing;
pub(crate) mod join;
mod log_in;
mod log_out;
pub mod new_password;
pub mod passwords;
pub(crate) mod proof;
mod reset;
pub mod secrets;
pub mod tidying;
pub mod turns;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(log_in::log_in)
        .service(log_in::refresh)
        .service(log_out::list)
        .service(log_out::here)
        .service(log_out::everywhere)
        .service(log_out::change_password)
        .service(join::request)
        .service(join::requests)
        .service(join::approve)
        .service(join::refuse)
        .service(join::invite)
        .service(join::invitations)
        .service(join::accept)
        .service(reset::issue)
        .service(reset::reset);
}
