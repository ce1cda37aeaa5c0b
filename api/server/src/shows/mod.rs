//! Shows: schedules, entries, the day, judging and results.
//!
//! A schedule is worked on as a draft and published in numbered versions: the first, and amendments with their
//! reasons. What is asked of an exhibit, and what comes of the judging, is worked out in `storksbill_domain::shows`
//! from the version in force.
//!
//! ```text
//!  draft -> published (entries until closing, the day, judging) -> provisional (protests) -> final
//! ```

mod booklet;
mod classes;
mod copy;
mod day;
mod day_pack;
pub(crate) mod documents;
mod draft;
mod dto;
mod edit;
mod entries;
mod entry_dto;
mod exhibitors;
mod facts;
pub(crate) mod feeds;
mod find;
mod hall;
mod judging;
mod look;
pub(crate) mod naming;
mod officials;
mod own;
mod presentation;
mod printouts;
mod protests;
mod publish;
mod published;
mod receipts;
mod reckoning;
mod result_dto;
mod results;
mod results_lines;
mod results_sheet;
mod schedule_dto;
mod tables;
mod writing;

use storksbill_db::Conn;
use storksbill_db::rows::shows::{self, Show};
use storksbill_domain::ids::ShowId;
use storksbill_domain::policy::Actor;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::http::problem::{Code, Problem};

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        // Before the addresses with an id.
        .service(feeds::calendar)
        .service(feeds::latest)
        .service(look::list)
        .service(look::one)
        .service(edit::create)
        .service(edit::change)
        .service(draft::one)
        .service(draft::replace)
        .service(draft::add_class)
        .service(draft::replace_class)
        .service(draft::remove_class)
        .service(draft::look_over)
        .service(copy::copy)
        .service(publish::publish)
        .service(publish::call_off)
        .service(publish::versions)
        .service(publish::as_of)
        .service(classes::list)
        .service(classes::one)
        .service(officials::list)
        .service(officials::appoint)
        .service(officials::change)
        .service(officials::dismiss)
        .service(officials::interests)
        .service(find::my_classes)
        .service(exhibitors::list)
        .service(exhibitors::enter)
        .service(exhibitors::me)
        .service(exhibitors::set_me)
        .service(exhibitors::change)
        .service(receipts::list)
        .service(receipts::take)
        .service(entries::list)
        .service(entries::mine)
        .service(entries::one)
        .service(entries::create)
        .service(entries::change)
        .service(entries::withdraw)
        .service(entries::history)
        .service(day::to_stage)
        .service(day::stage)
        .service(day::transfer)
        .service(judging::sheets)
        .service(judging::say)
        .service(judging::versions)
        .service(judging::choose)
        .service(results::working)
        .service(results::give_out)
        .service(results::published)
        .service(naming::take_back)
        .service(protests::raise)
        .service(protests::list)
        .service(protests::decide)
        .service(booklet::booklet)
        .service(printouts::cards)
        .service(printouts::stewards)
        .service(printouts::judges)
        .service(printouts::outcome)
        .service(printouts::prize_list)
        .service(presentation::trophy_list)
        .service(own::my_results)
        .service(own::my_trophies)
        .service(own::my_levels)
        .service(day_pack::pack_data)
        .service(day_pack::pack_page)
        .service(results_sheet::blank)
        .service(results_sheet::take)
        .service(tables::entries_table)
        .service(tables::exhibitors_table)
        .service(tables::receipts_table)
        .service(tables::prizes_table)
        .service(tables::results_table);
}

/// The show, if it is published or a draft of a club that the asker acts for.
fn visible_show(conn: &mut Conn, actor: Option<&Actor>, id: ShowId) -> Result<Show, Problem> {
    shows::find(conn, id)?
        .filter(|show| show.published_at.is_some() || actor.is_some_and(|actor| actor.acts_for(show.club_id)))
        .ok_or_else(|| Problem::not_found("show"))
}

/// The show, if the asker acts for its club.
fn show_in_charge_of(conn: &mut Conn, actor: &Actor, id: ShowId) -> Result<Show, Problem> {
    let show = visible_show(conn, Some(actor), id)?;
    if actor.acts_for(show.club_id) {
        Ok(show)
    } else {
        Err(Problem::new(Code::NotAllowed, "Only its club's secretary or an administrator may do this."))
    }
}

/// What is said of a published show that is to be changed outside its schedule.
fn schedule_stands(what: &str) -> Problem {
    Problem::new(
        Code::WrongState,
        format!(
            "The show is published and members plan by it: {what} change by an amendment alone. Change the draft and publish it with a reason."
        ),
    )
}
