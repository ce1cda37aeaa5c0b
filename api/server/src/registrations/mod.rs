//! Names before the registrar, and the register.
//!
//! A member proposes, the registrar asks, registers or refuses, the member answers or takes it back
//! ([`storksbill_domain::register`]). Every step is a row that is never changed, with the name and what spoke
//! against it at the time. What is not registered is seen by its proposer and the registrar alone.

mod decided;
mod dto;
mod list;
mod proposed;
mod register;
mod steps;

pub use steps::refuse_merged;
use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(list::list)
        .service(list::one)
        .service(list::steps_of)
        .service(proposed::propose)
        .service(proposed::answer)
        .service(proposed::withdraw)
        .service(decided::question)
        .service(decided::refuse)
        .service(decided::enter)
        .service(register::read_register);
}
