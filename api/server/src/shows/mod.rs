//! Shows and their classes.
//!
//! A show is a draft, seen by those who act for its club, until it is published with its classes. From then
//! on members plan by it: its day, closing time and classes stand, and only place and notes may still change.

mod classes;
mod dto;
mod edit;
mod look;

use storksbill_db::Conn;
use storksbill_db::rows::shows::{self, Show};
use storksbill_domain::ids::ShowId;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::ShowState;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::http::problem::{Code, Problem};

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::list)
        .service(look::one)
        .service(edit::create)
        .service(edit::change)
        .service(edit::publish)
        .service(classes::list)
        .service(classes::one)
        .service(classes::create)
        .service(classes::change)
        .service(classes::remove);
}

/// The show, if it is published or a draft of a club that the asker acts for.
fn visible_show(conn: &mut Conn, actor: Option<&Actor>, id: ShowId) -> Result<Show, Problem> {
    shows::find(conn, id)?
        .filter(|show| {
            show.state == ShowState::Published || actor.is_some_and(|actor| actor.acts_for(show.club_id))
        })
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

/// What a published show is told that is to be changed in more than place and notes.
fn schedule_stands(what: &str) -> Problem {
    Problem::new(
        Code::WrongState,
        format!(
            "The show is published and members plan by it: {what} cannot be changed any more, only place and notes. Changes to a published schedule will be numbered amendments; this server does not take them yet."
        ),
    )
}
