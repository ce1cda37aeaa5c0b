//! Plant health: what is held back from the exchange, where a plant's cuttings went, and who is told.
//!
//! ```text
//!  placed by the grower or an officer        lifted: by an officer, or by the grower who placed it
//!  ---------------------------------> held --------------------------------------------------> lifted
//! ```
//!
//! While a hold is in force what it covers takes part in no round. A grower and the officers see where a plant's
//! cuttings went; to a grower, other members' private plants stay private and are counted alone, while a health
//! notice reaches their growers all the same.

mod dto;
mod holds;
mod notice;
mod trace;

use utoipa_actix_web::service_config::ServiceConfig;

/// Said wherever a pest or disease is: what to do first, and who decides.
pub const CAUTION: &str = "Keep the plants apart and let nothing of them leave the bench. A suspected quarantine \
    pest or disease is to be reported to the plant-health authority of the place; local rules decide.";

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(holds::list)
        .service(holds::one)
        .service(holds::place)
        .service(holds::lift)
        .service(trace::trace)
        .service(notice::send);
}
