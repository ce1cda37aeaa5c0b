//! Winners as they are told: whoever is shielded, left, or took the name back is told by less than was entered.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Exhibitor};
use storksbill_db::rows::members::{self, Shielding};
use storksbill_db::rows::shows;
use storksbill_db::rows::trophies::Award;
use storksbill_domain::ids::{ExhibitorId, MemberId, ShowId};
use storksbill_domain::names::initials;
use storksbill_domain::shows::Shielded;
use storksbill_domain::words::PublishAs;

use crate::http::problem::Problem;
use crate::shows::naming::shielded;

/// Awards, each with something beside it, as everybody reads them. Every list, table and page of awards asks here.
///
/// # Errors
/// Those of the database.
pub fn told_awards<T>(conn: &mut Conn, mut awards: Vec<(T, Award)>) -> Result<Vec<(T, Award)>, Problem> {
    let of_shows: Vec<ExhibitorId> = awards.iter().filter_map(|(_, award)| award.exhibitor_id).collect();
    let exhibitors: BTreeMap<ExhibitorId, Exhibitor> =
        entries::exhibitors_of_ids(conn, &of_shows)?.into_iter().map(|one| (one.id, one)).collect();
    let show_ids: BTreeSet<ShowId> = exhibitors.values().map(|one| one.show_id).collect();
    let days: BTreeMap<ShowId, NaiveDate> = shows::of_ids(conn, &show_ids.into_iter().collect::<Vec<_>>())?
        .into_iter()
        .map(|show| (show.id, show.held_on))
        .collect();
    let ids: BTreeSet<MemberId> = awards
        .iter()
        .filter_map(|(_, award)| award.member_id)
        .chain(exhibitors.values().filter_map(|one| one.member_id))
        .collect();
    let members = members::shielding(conn, &ids.into_iter().collect::<Vec<_>>())?;
    for (_, award) in &mut awards {
        let exhibitor = award.exhibitor_id.and_then(|id| exhibitors.get(&id));
        let member = award.member_id.or(exhibitor.and_then(|one| one.member_id));
        let member = member.and_then(|id| members.get(&id)).copied();
        award.name = match exhibitor.and_then(|one| Some((one, *days.get(&one.show_id)?))) {
            Some((exhibitor, held_on)) => of_show(award, exhibitor, member, held_on),
            None => of_register(award, member),
        };
    }
    Ok(awards)
}

/// Of a show's results. A name that an officer put right stands where the winner is told by name.
fn of_show(award: &Award, exhibitor: &Exhibitor, member: Option<Shielding>, held_on: NaiveDate) -> String {
    let shielded = shielded(exhibitor, member, held_on);
    let told = shielded.told(&exhibitor.name, exhibitor.number);
    let was_less = award.name == initials(&exhibitor.name)
        || award.name == Shielded { chosen: PublishAs::Withheld, ..shielded }.told("", exhibitor.number);
    if shielded.form() == PublishAs::Name && !was_less { award.name.clone() } else { told }
}

/// Of a year whose results are not here.
fn of_register(award: &Award, member: Option<Shielding>) -> String {
    match member {
        Some(Shielding { has_left: true, .. }) => "Name withheld".to_owned(),
        Some(Shielding { is_protected: true, .. }) => initials(&award.name),
        _ => award.name.clone(),
    }
}
