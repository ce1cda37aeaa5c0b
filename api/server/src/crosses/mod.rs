//! The cross book: what raisers cross, what they count, and the seedlings that come of it.
//!
//! ```text
//!  florets worked -> took -> seeds harvested -> sown -> germinated -> pricked out -> flowered -> kept
//!    pollinations            sums of dated counts         |-> lost      |-> numbered: seedlings
//! ```
//!
//! A cross, its counts and its seedlings are seen as widely as its raiser chose, by the raiser alone at first. A
//! parent that the asker may not see is told as undisclosed.

mod access;
pub(crate) mod book;
mod counted;
pub(crate) mod dto;
mod export;
mod outcomes;
mod parents;
mod pollinated;
mod seedlings;

use std::sync::LazyLock;

pub(crate) use access::sees;

use storksbill_domain::nomenclature::GenusProfile;
use utoipa_actix_web::service_config::ServiceConfig;

/// The most seeds one floret of the society's genus can hold.
#[allow(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
static OVULES: LazyLock<u32> = LazyLock::new(|| {
    let profile = include_str!("../../../domain/genera/pelargonium.json");
    serde_json::from_str::<GenusProfile>(profile).expect("the profile is whole").ovules
});

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(book::list)
        .service(book::create)
        // Before the address with an id.
        .service(outcomes::outcomes)
        .service(export::table)
        .service(book::one)
        .service(book::change)
        .service(book::remove)
        .service(pollinated::list)
        .service(pollinated::create)
        .service(pollinated::remove)
        .service(counted::list)
        .service(counted::create)
        .service(counted::remove)
        .service(seedlings::list)
        .service(seedlings::create)
        .service(seedlings::one)
        .service(seedlings::change);
}

#[cfg(test)]
mod tests {
    /// A mericarp of the genus holds one seed and a floret makes five (common practice).
    #[test]
    fn a_floret_of_the_genus_holds_five_seeds() {
        assert_eq!(*super::OVULES, 5);
    }
}
