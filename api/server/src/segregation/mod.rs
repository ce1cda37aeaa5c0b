//! Classes of seedlings: the ratio that the parents' genotypes give, counts against it, and how many to raise.
//!
//! Nothing is recorded. The arithmetic is that of [`storksbill_pedigree::segregation`]; a prediction goes through
//! every zygote, a test with small counts through every outcome or a sample of them, away from the threads that
//! answer requests.

mod dto;
mod needed;
mod predicted;
mod tested;
mod told;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(predicted::predict_classes).service(tested::test_counts).service(needed::needed);
}
