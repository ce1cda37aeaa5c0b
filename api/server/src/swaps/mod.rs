//! The cutting swap: what members offer and want, and on what terms. Rounds bring them together
//! (`crate::rounds`).
//!
//! A member never has an offer and a want of just that cultivar open at once. A want of any of several, or of any
//! of a group, passes over what the member offers.

mod dto;
mod offers;
mod refusals;
mod terms;
mod wants;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(offers::list)
        .service(offers::one)
        .service(offers::create)
        .service(offers::change)
        .service(offers::withdraw)
        .service(terms::one)
        .service(terms::set)
        .service(refusals::list)
        .service(refusals::one)
        .service(refusals::set)
        .service(refusals::end)
        .service(wants::list)
        .service(wants::one)
        .service(wants::create)
        .service(wants::change)
        .service(wants::withdraw);
}
