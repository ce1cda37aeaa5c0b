//! Notices: what the server tells one member, with a date to keep.
//!
//! Other nouns make them with [`storksbill_db::rows::notices::insert`], in the transaction of what they tell of.
//! Their words are checked by [`check_words`] where people write them: a notice never carries an e-mail address.

mod dto;
mod look;
mod tick;

use utoipa_actix_web::service_config::ServiceConfig;

pub use dto::check_words;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config.service(look::list).service(tick::seen).service(tick::done);
}
