//! How far each region's season is ahead or behind.

pub mod curve;
mod dto;
mod look;
pub mod reckon;
mod report;

pub use dto::{AdviceOut, DampOut, HumidityFrom, RegionGlance, RegionSeasonOut, TroubleKind, TroubleOut};
pub use look::{glance, regions};
pub use report::of_region;
use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(look::all).service(look::one);
}
