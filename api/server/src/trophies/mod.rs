//! Trophies of clubs: who has won each, who signed for it, and when it is due back.
//!
//! Awards come from final results (`shows::results`); those of years before are typed in by officers.

mod awards;
mod dto;
mod naming;
mod register;

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDateTime};
use storksbill_db::Conn;
use storksbill_db::rows::shows::Show;
use storksbill_db::rows::trophies::{self, Award, Trophy};
use storksbill_domain::ids::{ClubId, ExhibitorId, MemberId, TrophyAwardId, TrophyId};
use storksbill_domain::policy::Actor;
use utoipa_actix_web::service_config::ServiceConfig;

pub use self::naming::told_awards;
use crate::http::problem::{Code, Problem};

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(register::list)
        .service(register::enter)
        .service(register::table)
        .service(register::change)
        .service(awards::list)
        .service(awards::enter)
        .service(awards::change)
        .service(awards::take_out);
}

/// A winner as the register takes one from results.
#[derive(Debug, Clone)]
pub struct Winner {
    /// The trophy's key in the schedule.
    pub key: String,
    /// As the schedule prints it.
    pub title: String,
    /// The member, where it is one.
    pub member_id: Option<MemberId>,
    /// Who it is at the show.
    pub exhibitor_id: ExhibitorId,
    /// As the winner is told.
    pub name: String,
}

/// Enters the winners of a show that is final. A trophy that the club does not have yet is entered with them; who
/// stands there for the year already is not entered twice.
///
/// # Errors
/// Those of the database.
pub fn enter_winners(
    conn: &mut Conn,
    show: &Show,
    winners: &[Winner],
    now: NaiveDateTime,
) -> Result<(), Problem> {
    let mut known: BTreeMap<String, Trophy> = trophies::of_club(conn, show.club_id)?
        .into_iter()
        .map(|trophy| (trophy.trophy_key.clone(), trophy))
        .collect();
    let year = show.held_on.year();
    for winner in winners {
        let trophy = if let Some(trophy) = known.get(&winner.key) {
            trophy.clone()
        } else {
            let trophy = Trophy {
                id: TrophyId::fresh(),
                club_id: show.club_id,
                trophy_key: winner.key.clone(),
                title: winner.title.clone(),
                notes: None,
                version: 1,
                created_at: now,
            };
            trophies::insert(conn, &trophy)?;
            known.insert(winner.key.clone(), trophy.clone());
            trophy
        };
        let stands = trophies::awards(conn, trophy.id)?.into_iter().any(|award| {
            award.year == year
                && if award.member_id.is_some() {
                    award.member_id == winner.member_id
                } else {
                    award.exhibitor_id == Some(winner.exhibitor_id) || award.name == winner.name
                }
        });
        if stands {
            continue;
        }
        let award = Award {
            id: TrophyAwardId::fresh(),
            trophy_id: trophy.id,
            show_id: Some(show.id),
            year,
            member_id: winner.member_id,
            name: winner.name.clone(),
            handed_over_on: None,
            due_back_on: None,
            returned_on: None,
            version: 1,
            created_at: now,
            exhibitor_id: Some(winner.exhibitor_id),
        };
        trophies::insert_award(conn, &award)?;
    }
    Ok(())
}

/// The trophy, if the asker acts for its club.
fn in_charge_of(conn: &mut Conn, actor: &Actor, id: TrophyId) -> Result<Trophy, Problem> {
    let trophy = trophies::find(conn, id)?.ok_or_else(|| Problem::not_found("trophy"))?;
    acting_for(actor, trophy.club_id)?;
    Ok(trophy)
}

fn acting_for(actor: &Actor, club: ClubId) -> Result<(), Problem> {
    if actor.acts_for(club) {
        Ok(())
    } else {
        Err(Problem::new(Code::NotAllowed, "Only the club's secretary or an administrator may do this."))
    }
}
