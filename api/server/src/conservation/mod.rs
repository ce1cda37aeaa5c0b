//! Rarity watch: cultivars that few members hold, the society's conservation list, and nudges to spread them.
//!
//! A holder is an active member with plants of the cultivar that the society or a club may see. Private plants are
//! not counted: with one or two holders a count would tell of them.

mod dto;
mod edit;
mod look;
mod nudges;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    // `nudges` stands before the address that takes an id in its place.
    config
        .service(look::rarity)
        .service(look::list)
        .service(nudges::send)
        .service(look::one)
        .service(edit::set)
        .service(edit::end);
}
