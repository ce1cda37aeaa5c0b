//! Who may see a plant, and whose it is to change.

use storksbill_db::Conn;
use storksbill_db::rows::members;
use storksbill_db::rows::plants::Plant;
use storksbill_domain::policy::{Actor, may_edit_own, may_see_shared};
use storksbill_domain::words::Visibility;

use crate::http::problem::{Code, Problem};

/// Refuses with 404 where the asker may not see the plant; `what` names what was asked for.
pub fn may_see(conn: &mut Conn, actor: &Actor, plant: &Plant, what: &str) -> Result<(), Problem> {
    let owner_clubs = if plant.visibility == Visibility::Club && plant.owner_id != actor.member {
        members::clubs_of(conn, plant.owner_id)?.into_iter().map(|club| club.club_id).collect()
    } else {
        Vec::new()
    };
    if may_see_shared(actor, plant.owner_id, &owner_clubs, plant.visibility) {
        Ok(())
    } else {
        Err(Problem::not_found(what))
    }
}

/// Refuses with 404 where the asker may not see the plant, with 403 where it is somebody else's.
pub fn may_change(conn: &mut Conn, actor: &Actor, plant: &Plant, what: &str) -> Result<(), Problem> {
    may_see(conn, actor, plant, what)?;
    if may_edit_own(actor, plant.owner_id) {
        Ok(())
    } else {
        Err(Problem::new(Code::NotAllowed, "Only its grower may do this."))
    }
}
