//! Who may see a plant, and whose it is to change.

use storksbill_db::Conn;
use storksbill_db::rows::plants::Plant;
use storksbill_db::rows::shares;
use storksbill_domain::policy::{Actor, may_edit_own};

use crate::http::problem::{Code, Problem};

/// Refuses with 404 where the asker may not see the plant; `what` names what was asked for.
pub fn may_see(conn: &mut Conn, actor: &Actor, plant: &Plant, what: &str) -> Result<(), Problem> {
    if shares::sees(conn, actor, plant.owner_id, plant.visibility)? {
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
