//! Plants members hold, and their diaries.
//!
//! One record at a time: `look`, `edit`, `diary`. Many at once as CSV: `export` and `import`, on the
//! pure readers of `plant_rows` and `diary_rows` and the comparison of `plan`. What must hold of a record, however it comes in, is in
//! `rules` and `known`; who may see and change it in `access`.

mod access;
mod diary;
mod diary_rows;
mod dto;
mod edit;
mod export;
mod import;
mod known;
mod look;
mod plan;
mod plant_rows;
pub(crate) mod pots;
mod rules;

use utoipa_actix_web::service_config::ServiceConfig;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    // `export.csv` and `import` stand before the addresses that take an id in their place.
    config
        .service(export::plants)
        .service(export::diary)
        .service(import::plants)
        .service(import::diary)
        .service(look::list)
        .service(look::one)
        .service(edit::create)
        .service(edit::change)
        .service(edit::remove)
        .service(diary::list)
        .service(diary::one)
        .service(diary::create)
        .service(diary::change)
        .service(diary::remove);
}
