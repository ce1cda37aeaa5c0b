//! The people of the society.

pub mod dto;
mod edit;
mod look;

use std::net::{IpAddr, Ipv4Addr};

use storksbill_db::Db;
use storksbill_db::rows::members;
use storksbill_domain::words::{SocietyRole, Standing};
use utoipa_actix_web::service_config::ServiceConfig;

use crate::http::problem::Problem;
use crate::sessions::join::new_member;
use crate::sessions::new_password::{self, NewPassword};
use crate::sessions::passwords::Passwords;
use crate::sessions::turns::Asker;

/// The addresses of this noun.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(look::me)
        .service(look::list)
        .service(look::one)
        .service(edit::me)
        .service(edit::roles)
        .service(edit::standing);
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

/// Makes an administrator, or makes the member of this address one and sets the password.
///
/// # Errors
/// One line for a person.
pub async fn create_administrator(db: &Db, email: &str, name: &str, password: String) -> Result<(), String> {
    if !storksbill_domain::names::is_email(email) {
        return Err(format!("{email} is not an e-mail address"));
    }
    if name.trim().is_empty() || name.trim().chars().any(char::is_control) {
        return Err("the name must not be empty or hold control characters".to_owned());
    }
    let password = NewPassword::of("password", password, &[email, name])
        .map_err(|problem| new_password::line(&problem))?;
    let nobody_waits = Asker::Stranger(IpAddr::V4(Ipv4Addr::LOCALHOST));
    let hash = Passwords::for_this_machine()?.hash(nobody_waits, password).await;
    let hash = hash.map_err(|problem| problem.to_string())?;
    let now = storksbill_domain::clock::Clock::system().now().naive_utc();
    let fresh = new_member(email, name, Some(hash), Standing::Active, None, now);
    db.write(move |conn| {
        let member = if let Some(known) = members::by_email(conn, &fresh.email_key)? {
            let member = members::Member {
                password_hash: fresh.password_hash.clone(),
                standing: Standing::Active,
                version: known.version + 1,
                ..known
            };
            members::update(conn, &member)?;
            member
        } else {
            members::insert(conn, &fresh)?;
            fresh.clone()
        };
        let mut roles = members::society_roles_of(conn, member.id)?;
        if !roles.contains(&SocietyRole::Administrator) {
            roles.push(SocietyRole::Administrator);
            members::set_society_roles(conn, member.id, &roles)?;
        }
        Ok::<_, Problem>(())
    })
    .await
    .map_err(|problem| problem.to_string())
}
