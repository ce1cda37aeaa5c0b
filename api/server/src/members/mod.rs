//! The people of the society.

pub mod dto;
mod edit;
mod look;
pub mod protection;
pub(crate) mod standing;

use std::net::{IpAddr, Ipv4Addr};

use storksbill_db::Db;
use storksbill_db::rows::members::Member;
use storksbill_db::rows::{account_codes, members, sessions};
use storksbill_domain::words::{SocietyAct, SocietyRole, Standing};
use utoipa_actix_web::service_config::ServiceConfig;

use crate::http::problem::Problem;
use crate::sessions::join::new_member;
use crate::sessions::new_password::{self, NewPassword};
use crate::sessions::passwords::Passwords;
use crate::sessions::turns::Asker;
use crate::society_log::{self, Asked, Entry};

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::me)
        .service(look::list)
        .service(look::one)
        .service(edit::me)
        .service(edit::roles)
        .service(edit::standing)
        .service(protection::set);
}

/// Whether anybody keeps the server.
///
/// # Errors
/// One line for a person.
pub async fn has_administrator(db: &Db) -> Result<bool, String> {
    let holders = db
        .read(|conn| Ok::<_, Problem>(members::holders(conn, SocietyRole::Administrator)?))
        .await
        .map_err(|problem| problem.to_string())?;
    Ok(!holders.is_empty())
}

/// Makes an administrator, or makes the member of this address one and sets the password; every log-in of that
/// member ends.
///
/// # Errors
/// One line for a person.
pub async fn create_administrator(db: &Db, email: &str, name: &str, password: String) -> Result<(), String> {
    if !storksbill_domain::names::is_email(email) {
        return Err(format!("{email} is not an e-mail address"));
    }
    if name.trim().is_empty()
        || name.trim().chars().any(|c| c.is_control() || storksbill_domain::names::turns_writing(c))
    {
        return Err("the name must not be empty or hold control characters".to_owned());
    }
    let password = NewPassword::of("password", password, &[email, name])
        .map_err(|problem| new_password::line(&problem))?;
    let nobody_waits = Asker::Stranger(IpAddr::V4(Ipv4Addr::LOCALHOST));
    let hash = Passwords::for_this_machine()?.hash(nobody_waits, password).await;
    let hash = hash.map_err(|problem| problem.to_string())?;
    let now = storksbill_domain::clock::Clock::system().now().naive_utc();
    let fresh = new_member(email, name, Some(hash), Standing::Active, None, now);
    let asked = Asked { by: None, from: None, at: now };
    db.write(move |conn| {
        let known = members::by_email(conn, &fresh.email_key)?;
        let member = if let Some(known) = known {
            // Whoever was logged in with the old password must not find themselves an administrator.
            sessions::end_all_of(conn, known.id, None, now, "password_changed")?;
            account_codes::void_all_of(conn, known.id, now)?;
            let member = Member { password_hash: fresh.password_hash.clone(), ..known };
            let words = "Made active from the command line, with a new password.";
            standing::set(conn, asked, member, Standing::Active, SocietyAct::StandingSet, words)?
        } else {
            members::insert(conn, &fresh)?;
            fresh.clone()
        };
        let mut roles = members::society_roles_of(conn, member.id)?;
        if !roles.contains(&SocietyRole::Administrator) {
            roles.push(SocietyRole::Administrator);
            members::set_society_roles(conn, member.id, &roles)?;
        }
        let words = "Made an administrator from the command line.".to_owned();
        let act = SocietyAct::AdministratorMade;
        society_log::note(conn, asked, Entry { act, about: Some(member.id), club: None, words })
    })
    .await
    .map_err(|problem| problem.to_string())
}
