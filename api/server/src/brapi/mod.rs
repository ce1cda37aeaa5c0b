//! The society's plants and crosses for programs that speak `BrAPI` 2.1 (plantbreeding/BrAPI): an adapter, read only.
//!
//! It tells what the nouns behind it would tell the same asker, in the shapes of that standard; nothing else uses
//! these shapes. A germplasm is a cultivar or a numbered seedling, a crossing project the cross book of one raiser.
//! Seed parents are `FEMALE`, pollen parents `MALE`, as many as may be it; the one parent of a selfing `SELF`; what
//! sports, cuttings and doubled plants came from `CLONAL`. Undisclosed parents are left out. Refusals are problems
//! (RFC 9457), as everywhere.

mod answer;
mod crosses;
mod dto;
mod germplasm;
mod kin;
mod pedigree;
mod server;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of the adapter.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(server::info)
        .service(server::crops)
        .service(server::methods)
        .service(germplasm::list)
        .service(germplasm::one)
        .service(germplasm::mcpd)
        .service(pedigree::nodes)
        .service(crosses::list)
        .service(crosses::projects);
}
