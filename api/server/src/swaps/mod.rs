//! The cutting swap: offers, wants, rounds and rings.
//!
//! A round looks at what is offered and wanted, and proposes rings of two or three members in which
//! everybody gives one cutting and receives one. Nothing is promised for good until all of a ring accept.
//!
//! # A ring
//!
//! ```text
//!              everybody accepts
//!  proposed ----------------------> accepted
//!     | \      somebody declines
//!     |  \------------------------> declined
//!     |        `answer_by` passes
//!     \---------------------------> lapsed
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
//! So at every moment `promised` of an offer is the number of its hand-overs in proposed and accepted rings,
//! and a promised want stands in exactly one of them. Three things keep it so: every change of state is one
//! transaction of [`storksbill_db::Db::write`], a round is checked against the records in the transaction
//! that stores it, and the schema refuses `promised > how_many`.
//!
//! A member never has an offer and a want of just that cultivar open at once. A want of any of several, or of any
//! of a group, passes over what the member offers.

mod dto;
mod market;
mod offers;
mod refusals;
mod rings;
mod rounds;
mod settle;
mod terms;
pub mod timer;
mod wants;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(offers::list)
        .service(offers::one)
        .service(offers::create)
        .service(offers::change)
        .service(offers::withdraw)
        .service(terms::one)
        .service(terms::set)
        .service(refusals::list)
        .service(refusals::one)
        .service(refusals::set)
        .service(refusals::end)
        .service(wants::list)
        .service(wants::one)
        .service(wants::create)
        .service(wants::change)
        .service(wants::withdraw)
        .service(rounds::list)
        .service(rounds::one)
        .service(rounds::run)
        .service(rings::list)
        .service(rings::one)
        .service(rings::answer);
}
