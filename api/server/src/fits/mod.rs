//! Fits of the forecasts' parameters, and how right the forecasts of past seasons would have been.
//!
//! A fit is made by a job, at night and on demand, numbered and kept with the fingerprint of what it was made
//! from; forecasts name the one they used.

mod dto;
pub mod jobs;
mod look;

use utoipa_actix_web::service_config::ServiceConfig;

pub use dto::{BacktestOut, LeadOut, MethodOut, SchemeOut};
pub use look::latest_backtest;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::refit)
        .service(look::list)
        .service(look::one)
        .service(look::test_again)
        .service(look::backtest)
        .service(look::doubts);
}
