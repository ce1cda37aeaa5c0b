//! Pedigrees: ancestors, kinship, inbreeding and founders of cultivars and numbered seedlings; drawn, too.
//!
//! Everything is worked out over everybody's records, shown or not, and told as far as the asker may see: a line
//! that its owner has not released is "undisclosed" where something descends from it, and nowhere else.

pub(crate) mod asker;
mod chart;
mod dto;
mod export;
mod founders;
pub(crate) mod individuals;
mod line;
mod look;
pub(crate) mod order;
pub(crate) mod prospect;
mod related;
pub(crate) mod whole;

use utoipa_actix_web::service_config::ServiceConfig;

pub use whole::Pedigrees;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        // Before the addresses with an id.
        .service(export::table)
        .service(export::lines)
        .service(export::graph)
        .service(founders::founders_of)
        .service(prospect::foresee)
        .service(look::pedigree)
        .service(look::kinship)
        .service(related::relatives)
        .service(related::mates)
        .service(chart::chart)
        .service(chart::descendants);
}
