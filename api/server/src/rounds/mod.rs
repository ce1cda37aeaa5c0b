//! Rounds of the cutting swap: from offers and wants to cuttings in the receivers' hands.
//!
//! # A round
//!
//! ```text
//!        frozen: what it is solved       solved by a job      nothing waits any more
//!        from is kept with its hash                           or an officer closes it
//!  open -----------------------> frozen ---------> proposed -----------------------> closed
//!     \-- cancelled --/--------------/
//! ```
//!
//! A round is solved from its snapshot alone, so solving it again gives the same answer. What its offers and
//! wants became since is looked at when the rings are stored: a ring hurt by it is left out.
//!
//! # A ring, or a chain that a gift starts
//!
//! ```text
//!              everybody accepts           all received, or said not to have come
//!  proposed ----------------------> accepted ------------------------------------> handed over
//!     | \      somebody declines
//!     |  \------------------------> declined --\   a job looks for rings for those left behind,
//!     |        `answer_by` passes               >  all other rings of the round stay
//!     \---------------------------> lapsed   --/
//! ```
//!
//! # What its records say
//!
//! | moment | each offer of the ring | each want of the ring |
//! |---|---|---|
//! | proposed | `promised` + 1 | `promised` |
//! | accepted | `promised` stays; `fulfilled` once every cutting is promised and no ring waits | `fulfilled`, still `promised` |
//! | declined, lapsed | `promised` - 1 | not `promised`: free for the next round |
//!
//! So at every moment `promised` of an offer is the number of its hand-overs in proposed, accepted and handed-over
//! rings, and a promised want stands in exactly one of them. Three things keep it so: every change of state is
//! one transaction of [`storksbill_db::Db::write`], a round is checked against the records in the transaction
//! that stores it, and the schema refuses `promised > how_many`. Each step is written down in the same
//! transaction (`swap_events`).

mod attend;
mod dto;
mod explain;
mod freeze;
mod hand_overs;
pub mod jobs;
mod ledger;
mod look;
mod market;
mod open;
mod rings;
mod settle;
mod sheets;
mod snapshot;
mod steps;
pub mod timer;

use utoipa_actix_web::service_config::ServiceConfig;

pub use freeze::freeze_due;
pub(crate) use settle::close_if_given;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::list)
        .service(look::one)
        .service(look::events)
        .service(open::create)
        .service(open::cancel)
        .service(open::close)
        .service(freeze::freeze)
        .service(freeze::rerun)
        .service(attend::who)
        .service(attend::come)
        .service(attend::stay_away)
        .service(explain::why)
        .service(sheets::sheet)
        .service(rings::list)
        .service(rings::one)
        .service(rings::answer)
        .service(hand_overs::sent)
        .service(hand_overs::received)
        .service(hand_overs::failed)
        .service(ledger::own)
        .service(ledger::balance);
}
