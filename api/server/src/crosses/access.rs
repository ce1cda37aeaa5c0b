//! Who may see a cross, and whose it is to change.

use chrono::{Datelike, NaiveDate, TimeDelta};
use storksbill_db::Conn;
use storksbill_db::rows::crosses::{self, Cross};
use storksbill_db::rows::shares;
use storksbill_domain::ids::CrossId;
use storksbill_domain::policy::{Actor, may_edit_own};

use crate::http::json::Findings;
use crate::http::problem::{Code, Problem};

/// Whether the asker may see this cross and what belongs to it.
pub fn sees(conn: &mut Conn, actor: &Actor, cross: &Cross) -> Result<bool, Problem> {
    Ok(shares::sees(conn, actor, cross.raiser_id, cross.visibility)?)
}

/// The cross with its raiser's name; 404 where the asker may not see it. `what` names what was asked for.
pub fn visible(conn: &mut Conn, actor: &Actor, id: CrossId, what: &str) -> Result<(Cross, String), Problem> {
    let (cross, raiser) = crosses::find(conn, id)?.ok_or_else(|| Problem::not_found(what))?;
    if sees(conn, actor, &cross)? { Ok((cross, raiser)) } else { Err(Problem::not_found(what)) }
}

/// The asker's own cross; 403 where it is somebody else's and may be seen.
pub fn own(conn: &mut Conn, actor: &Actor, id: CrossId, what: &str) -> Result<(Cross, String), Problem> {
    let (cross, raiser) = visible(conn, actor, id, what)?;
    if may_edit_own(actor, cross.raiser_id) {
        Ok((cross, raiser))
    } else {
        Err(Problem::new(Code::NotAllowed, "Only its raiser may do this."))
    }
}

/// The day of a record: at the latest tomorrow, since it is tomorrow already in some zones.
pub fn day(day: NaiveDate, today: NaiveDate, found: &mut Findings) {
    if day > today + TimeDelta::days(1) {
        found.add("/day", "out-of-range", "must not be after today");
    } else if day.year() < 1900 {
        found.add("/day", "out-of-range", "must not be before 1900");
    }
}
