//! How exhibitors are told to others: by name, by initials, by number. Whatever is published or printed asks here, at the
//! time of reading, so that a name can be taken back whenever it was given out.

use std::collections::BTreeMap;

use actix_web::{delete, web};
use chrono::NaiveDate;
use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Exhibitor};
use storksbill_db::rows::members::{self, Shielding};
use storksbill_db::rows::shows::Show;
use storksbill_domain::ids::{ExhibitorId, MemberId, ShowId};
use storksbill_domain::names::initials;
use storksbill_domain::shows::{ScheduleClass, Shielded, age_on};
use storksbill_domain::words::PublishAs;

use super::publish::note;
use super::visible_show;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::members::protection::protect;

/// Of age.
const GROWN: u32 = 18;

/// Whether somebody is a minor on this day, as far as a day of birth tells.
pub(super) fn is_minor(born_on: Option<NaiveDate>, on: NaiveDate) -> bool {
    born_on.and_then(|born| age_on(born, on)).is_some_and(|age| age < GROWN)
}

/// How one exhibitor is told.
struct Person {
    number: i32,
    name: String,
    shielded: Shielded,
}

/// How the exhibitors of a show are told.
pub(super) struct Told(BTreeMap<ExhibitorId, Person>);

impl Told {
    pub(super) fn load(conn: &mut Conn, show: &Show) -> Result<Self, Problem> {
        let exhibitors = entries::exhibitors(conn, show.id)?;
        Self::of(conn, show, &exhibitors)
    }

    pub(super) fn of<'e>(
        conn: &mut Conn,
        show: &Show,
        exhibitors: impl IntoIterator<Item = &'e Exhibitor> + Clone,
    ) -> Result<Self, Problem> {
        let ids: Vec<MemberId> =
            exhibitors.clone().into_iter().filter_map(|exhibitor| exhibitor.member_id).collect();
        let members = members::shielding(conn, &ids)?;
        let person = |exhibitor: &Exhibitor| {
            let member = exhibitor.member_id.and_then(|id| members.get(&id)).copied();
            let shielded = shielded(exhibitor, member, show.held_on);
            (exhibitor.id, Person { number: exhibitor.number, name: exhibitor.name.clone(), shielded })
        };
        Ok(Self(exhibitors.into_iter().map(person).collect()))
    }

    /// As everybody reads it: what was chosen, or less.
    pub(super) fn name(&self, id: ExhibitorId) -> String {
        let person = self.0.get(&id);
        person.map(|person| person.shielded.told(&person.name, person.number)).unwrap_or_default()
    }

    /// As everybody reads it, by the exhibitors' numbers.
    pub(super) fn by_number(&self) -> BTreeMap<i32, String> {
        let told = |person: &Person| (person.number, person.shielded.told(&person.name, person.number));
        self.0.values().map(told).collect()
    }

    /// As those read it who work in the hall and have to find people: in full, but for the protected.
    pub(super) fn in_the_hall(&self, id: ExhibitorId) -> String {
        let Some(person) = self.0.get(&id) else { return String::new() };
        if person.shielded.is_protected { initials(&person.name) } else { person.name.clone() }
    }

    pub(super) fn is_protected(&self, id: ExhibitorId) -> bool {
        self.0.get(&id).is_some_and(|person| person.shielded.is_protected)
    }

    /// The form in which somebody is told.
    pub(super) fn form(&self, id: ExhibitorId) -> PublishAs {
        self.0.get(&id).map_or(PublishAs::Withheld, |person| person.shielded.form())
    }
}

/// What decides how an exhibitor is told.
pub fn shielded(exhibitor: &Exhibitor, member: Option<Shielding>, held_on: NaiveDate) -> Shielded {
    Shielded {
        chosen: exhibitor.publish_as,
        is_protected: exhibitor.is_protected
            || member.is_some_and(|member| member.is_protected)
            || is_minor(exhibitor.born_on, held_on),
        has_left: member.is_some_and(|member| member.has_left),
    }
}

/// Shields an exhibitor: a member wherever they go, a guest at this show.
pub(super) fn shield(conn: &mut Conn, exhibitor: &mut Exhibitor) -> Result<(), Problem> {
    match exhibitor.member_id {
        Some(id) => {
            let member = members::find(conn, id)?.ok_or_else(|| Problem::not_found("member"))?;
            protect(conn, member, true)?;
        }
        None => exhibitor.is_protected = true,
    }
    Ok(())
}

/// Shields whoever comes to stand in a class for the young and of whose age nobody knows.
pub(super) fn shield_in_class(
    conn: &mut Conn,
    show: ShowId,
    id: ExhibitorId,
    class: &ScheduleClass,
) -> Result<(), Problem> {
    if !class.is_for_the_young() {
        return Ok(());
    }
    let known = entries::exhibitor(conn, show, id)?;
    let mut exhibitor = known.ok_or_else(|| Problem::not_found("exhibitor"))?;
    if exhibitor.born_on.is_some() {
        return Ok(());
    }
    shield(conn, &mut exhibitor)?;
    Ok(entries::update_exhibitor(conn, &exhibitor)?)
}

/// Take a name back
///
/// Out of the results of a show, whatever their state, on every page and table that tells them: the exhibitor is told by
/// number from now on. What was hashed holds no names, so the hash stands. The exhibitor, officers of the club, and
/// administrators. Doing it again changes nothing.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 204, description = "Taken back"))
)]
#[delete("/shows/{show_id}/results/names/{exhibitor_id}")]
pub async fn take_back(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(ShowId, ExhibitorId)>,
) -> Result<Reply, Problem> {
    let (id, exhibitor_id) = path.into_inner();
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let known = entries::exhibitor(conn, id, exhibitor_id)?;
            let mut exhibitor = known.ok_or_else(|| Problem::not_found("exhibitor"))?;
            if exhibitor.member_id != Some(auth.member) && !auth.acts_for(show.club_id) {
                return Err(Problem::new(
                    Code::NotAllowed,
                    "Only the exhibitor, officers of the club and administrators take a name back.",
                ));
            }
            if exhibitor.publish_as != PublishAs::Withheld {
                exhibitor.publish_as = PublishAs::Withheld;
                exhibitor.version += 1;
                entries::update_exhibitor(conn, &exhibitor)?;
                let words = format!("The name of exhibitor {} was taken back.", exhibitor.number);
                let subject = Some(exhibitor_id.to_string());
                note(conn, id, Some(auth.member), "name_taken_back", subject, &words, now)?;
            }
            Ok(Reply::no_content())
        })
        .await
}
