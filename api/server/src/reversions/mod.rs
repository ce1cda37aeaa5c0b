//! How often sports go back to what they came from: growers' reports by year, and the rate they come to.
//!
//! A report is its grower's own and shown to nobody else; the pooled rate is told where enough growers stand
//! behind it ([`storksbill_pedigree::stability`]).

mod dto;
mod report;
mod stability;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(report::list)
        .service(report::one)
        .service(report::set)
        .service(report::remove)
        .service(stability::stability);
}
