//! Where a member stands: the one function that sets it, and what goes with it.

use storksbill_db::Conn;
use storksbill_db::rows::members::{self, Member};
use storksbill_db::rows::{account_codes, sessions};
use storksbill_domain::words::{SocietyAct, SocietyRole, Standing};

use crate::http::problem::{Code, Problem};
use crate::society_log::{self, Asked, Entry};

/// Sets where a member stands and stores the record, whatever else was changed in it.
///
/// Whoever is not active has no log-in left, at once. Who leaves gives up everything they held: roles, clubs,
/// duties, invitations made out, one-time codes. Who comes back holds nothing until it is given again. The last
/// administrator stays.
///
/// # Errors
/// `wrong-state` for the last administrator.
pub(crate) fn set(
    conn: &mut Conn,
    asked: Asked,
    mut member: Member,
    standing: Standing,
    act: SocietyAct,
    words: &str,
) -> Result<Member, Problem> {
    if standing != Standing::Active && is_last_administrator(conn, member.id)? {
        return Err(last_administrator());
    }
    member.standing = standing;
    member.version += 1;
    match standing {
        Standing::Active => {
            member.left_at = None;
            member.request_note = None;
        }
        Standing::Left => {
            member.left_at = member.left_at.or(Some(asked.at));
            members::give_up_everything(conn, member.id, asked.at.date(), asked.at)?;
        }
        Standing::Suspended | Standing::Requested => {}
    }
    members::update(conn, &member)?;
    if standing != Standing::Active {
        account_codes::void_all_of(conn, member.id, asked.at)?;
        sessions::end_all_of(conn, member.id, None, asked.at, "suspended")?;
    }
    let entry = Entry { act, about: Some(member.id), club: None, words: words.to_owned() };
    society_log::note(conn, asked, entry)?;
    Ok(member)
}

/// Sets the roles a member holds for the society.
///
/// # Errors
/// `wrong-state` where the last administrator would go.
pub(crate) fn set_roles(
    conn: &mut Conn,
    asked: Asked,
    mut member: Member,
    roles: &[SocietyRole],
) -> Result<Member, Problem> {
    if !roles.contains(&SocietyRole::Administrator) && is_last_administrator(conn, member.id)? {
        return Err(last_administrator());
    }
    // Roles that wait with a shut account would be opened by whoever opens the account.
    if member.standing != Standing::Active && !roles.is_empty() {
        return Err(Problem::new(
            Code::WrongState,
            "Only members who are active hold roles. Set where the member stands first.",
        ));
    }
    members::set_society_roles(conn, member.id, roles)?;
    member.version += 1;
    members::update(conn, &member)?;
    let held: Vec<_> = roles.iter().map(SocietyRole::as_str).collect();
    let words = if held.is_empty() {
        "No role for the society.".to_owned()
    } else {
        format!("Now {}.", held.join(" and "))
    };
    let entry = Entry { act: SocietyAct::RolesSet, about: Some(member.id), club: None, words };
    society_log::note(conn, asked, entry)?;
    Ok(member)
}

fn is_last_administrator(conn: &mut Conn, id: storksbill_domain::ids::MemberId) -> Result<bool, Problem> {
    Ok(members::holders(conn, SocietyRole::Administrator)? == [id])
}

fn last_administrator() -> Problem {
    Problem::new(Code::WrongState, "This is the last administrator; make another one first.")
}
