//! Cultivars: the society's list of what there is to grow.

mod dto;
mod edit;
mod history;
mod import;
mod look;
mod merge;
mod namesakes;
mod origin;
mod permission;
mod plan;
mod table_line;

pub(crate) use dto::GameteOut;
pub(crate) use history::keep;
use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::list)
        // Before the addresses with an id.
        .service(import::table)
        .service(look::one)
        .service(edit::create)
        .service(edit::change)
        .service(edit::remove)
        .service(history::list)
        .service(merge::merge_into)
        .service(permission::one)
        .service(permission::set)
        .service(permission::end);
}
