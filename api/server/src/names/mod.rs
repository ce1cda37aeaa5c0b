//! Names of cultivars: read, written and checked before they are proposed for registration; and the other names
//! that a cultivar goes by.

mod check;
mod dto;
mod other;

pub use check::examined;
pub use dto::{NameFinding, NearName, Weight};
use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(check::check_name).service(other::list).service(other::create).service(other::remove);
}
