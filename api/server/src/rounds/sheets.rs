//! The lists that cuttings change hands by.

use std::collections::BTreeMap;
use std::fmt::Write;

use actix_web::{get, web};
use storksbill_db::Conn;
use storksbill_db::rows::rings::{self, HandOver};
use storksbill_db::rows::rounds::{self, Round};
use storksbill_domain::ids::{MemberId, RingId, RoundId};
use storksbill_domain::words::{RingState, RoundMode};

use super::open::found;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::print::{Sheet, Text};

/// What is said on every list, once.
const CAUTION: &str = "Look every cutting over on both sides of the leaves before it changes hands, and keep \
    what you receive apart for two weeks. Cuttings are gifts. Before plants go by post, are sold or cross a \
    border, ask what the plant-health rules of the place say: they may want a passport or papers, and they come \
    before this list. Sap can irritate the skin; the plants are harmful to cats and dogs.";

/// Print the hand-over list
///
/// One HTML page for the printer. At a meeting: member by member, with table, what is given to whom and what is
/// received from whom. By post and in person: what you give and receive, with your partners' addresses. Officers
/// print everybody's, without addresses; others their own. Only rings that everybody accepted stand in it.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "The list", body = String, content_type = "text/html"))
)]
#[get("/swaps/rounds/{round_id}/sheet")]
pub async fn sheet(auth: Auth, app: web::Data<App>, path: web::Path<RoundId>) -> Result<Sheet, Problem> {
    let id = path.into_inner();
    let (own, everybody) = (auth.member, auth.is_officer());
    let listed = app.db.read(move |conn| List::load(conn, id, own, everybody)).await?;
    Ok(listed.drawn())
}

/// One cutting as it stands in the list of one of its two people.
#[derive(Debug)]
struct Entry {
    cultivar: String,
    other: MemberId,
}

#[derive(Debug, Default)]
struct Person {
    name: String,
    table: Option<String>,
    gives: Vec<Entry>,
    receives: Vec<Entry>,
}

#[derive(Debug)]
struct List {
    round: Round,
    people: BTreeMap<MemberId, Person>,
    /// Whose list is printed, by table and name.
    printed: Vec<MemberId>,
    /// Partners' addresses, for a member's own list.
    addresses: BTreeMap<MemberId, String>,
}

impl List {
    fn load(conn: &mut Conn, id: RoundId, own: MemberId, everybody: bool) -> Result<Self, Problem> {
        let round = found(conn, id)?;
        let rings = if everybody { rings::of_round(conn, id)? } else { rings::own_of_round(conn, own, id)? };
        let promised = |state| matches!(state, RingState::Accepted | RingState::HandedOver);
        let ids: Vec<RingId> = rings.iter().filter(|ring| promised(ring.state)).map(|ring| ring.id).collect();
        let mut people: BTreeMap<MemberId, Person> = BTreeMap::new();
        let mut addresses = BTreeMap::new();
        for named in rings::named_parties(conn, &ids)? {
            people.entry(named.party.member_id).or_default().name = named.name;
            if !everybody {
                addresses.insert(named.party.member_id, named.email);
            }
        }
        for (attendance, _) in rounds::attendances(conn, id)? {
            if let Some(person) = people.get_mut(&attendance.member_id) {
                person.table = attendance.table_label;
            }
        }
        for (hand_over, cultivar) in rings::named_hand_overs(conn, &ids)? {
            let HandOver { giver_id, receiver_id, .. } = hand_over;
            let entry = |other| Entry { cultivar: cultivar.clone(), other };
            people.entry(giver_id).or_default().gives.push(entry(receiver_id));
            people.entry(receiver_id).or_default().receives.push(entry(giver_id));
        }
        let mut printed: Vec<MemberId> =
            people.keys().copied().filter(|member| everybody || *member == own).collect();
        printed.sort_by_key(|member| {
            people.get(member).map(|person| (person.table.clone(), person.name.clone()))
        });
        Ok(Self { round, people, printed, addresses })
    }

    fn drawn(&self) -> Sheet {
        let meeting = self.round.mode == RoundMode::Meeting;
        let day = self.round.meets_on.map(|day| day.format("%-d %B %Y").to_string());
        let title = match &day {
            Some(day) => format!("Cuttings to hand over at the meeting on {day}"),
            None => "Cuttings to hand over and to post".to_owned(),
        };
        let mut body = format!("<p class=\"caution\">{}</p>\n", Text(CAUTION));
        if self.printed.is_empty() {
            body += "<p>Nothing is to be handed over: no ring of this round was accepted by everybody.</p>\n";
        }
        for member in &self.printed {
            let Some(person) = self.people.get(member) else { continue };
            let table = person.table.as_deref().map_or(String::new(), |table| format!(", table {table}"));
            let heading = format!("{}{}", person.name, if meeting { table.as_str() } else { "" });
            // Writing to a string cannot fail.
            let _ = writeln!(body, "<section>\n<h2>{}</h2>\n<table>", Text(&heading));
            for (entries, verb, way) in
                [(&person.gives, "gives", "to"), (&person.receives, "receives", "from")]
            {
                for entry in entries {
                    let _ = writeln!(
                        body,
                        "<tr><td class=\"tick\"></td><td>{verb}</td><td>{}</td><td>{way} {}</td></tr>",
                        Text(&entry.cultivar),
                        Text(&self.other(entry.other, meeting))
                    );
                }
            }
            body += "</table>\n</section>\n";
        }
        Sheet::a4(&title, &body)
    }

    fn other(&self, member: MemberId, meeting: bool) -> String {
        let Some(person) = self.people.get(&member) else { return String::new() };
        let table = person.table.as_deref().filter(|_| meeting).map(|table| format!("table {table}"));
        let more = table.into_iter().chain(self.addresses.get(&member).filter(|_| !meeting).cloned());
        let more: Vec<String> = more.collect();
        if more.is_empty() { person.name.clone() } else { format!("{} ({})", person.name, more.join(", ")) }
    }
}
