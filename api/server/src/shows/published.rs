//! Results as they were given out, and the names that stand beside them.
//!
//! What is hashed tells exhibitors by their numbers at the show. Names are looked up when somebody reads, in the form that
//! each exhibitor allows now; so a name can be taken back from results that are final, and the hash stands. Exhibits
//! that were put out are told by their entry numbers alone, without whose they were (common practice: it is said on the
//! card, and nobody is shamed in print).
//!
//! Documents given out before 0015 hold names where numbers stand now. They keep their hash; here their names are
//! dropped unread and the numbers are filled in from the entries.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Deserializer};
use serde_json::Value;
use storksbill_db::Conn;
use storksbill_db::rows::entries;
use storksbill_db::rows::judging::GivenOut;
use storksbill_db::rows::shows::Show;

use super::documents;
use super::naming::Told;
use super::result_dto::{PublishedOut, PublishedTrophy, ToldName};
use crate::http::problem::Problem;

/// Results as they are read.
pub(super) struct Published {
    pub(super) results: PublishedOut,
    /// By number, of those whom the results tell of.
    names: BTreeMap<i32, String>,
    /// Whether `results` is what was hashed.
    pub(super) is_as_hashed: bool,
}

impl Published {
    pub(super) fn read(conn: &mut Conn, show: &Show, row: &GivenOut) -> Result<Self, Problem> {
        let mut results: PublishedOut = documents::part(&row.document)?;
        let is_as_hashed = !names_stand_in(&row.document)?;
        if !is_as_hashed {
            fill_numbers(conn, show, &mut results)?;
        }
        let mut told = Told::load(conn, show)?.by_number();
        let lines = results.classes.iter().flat_map(|class| &class.lines);
        let met: BTreeSet<i32> = lines
            .filter_map(|line| line.exhibitor)
            .chain(results.trophies.iter().flat_map(|trophy| trophy.winners.iter().copied()))
            .collect();
        let mut name = |number: i32| told.remove(&number).unwrap_or_else(|| format!("Exhibitor {number}"));
        let names = met.into_iter().map(|number| (number, name(number))).collect();
        Ok(Self { results, names, is_as_hashed })
    }

    /// Whose an exhibit is, as everybody reads it; blank of one that was put out.
    pub(super) fn name(&self, exhibitor: Option<i32>) -> &str {
        exhibitor.and_then(|number| self.names.get(&number)).map_or("", String::as_str)
    }

    pub(super) fn into_names(self) -> (PublishedOut, Vec<ToldName>) {
        let names = self.names.into_iter().map(|(exhibitor, name)| ToldName { exhibitor, name }).collect();
        (self.results, names)
    }
}

/// Whether a document is one of those that hold names.
fn names_stand_in(document: &str) -> Result<bool, Problem> {
    fn list<'v>(value: &'v Value, field: &str) -> &'v [Value] {
        value.get(field).and_then(Value::as_array).map(Vec::as_slice).unwrap_or_default()
    }
    let value: Value = documents::part(document)?;
    let mut lines = list(&value, "classes").iter().flat_map(|class| list(class, "lines"));
    let mut winners = list(&value, "trophies").iter().flat_map(|trophy| list(trophy, "winners"));
    Ok(lines.any(|line| line.get("exhibitor").is_some_and(Value::is_string)) || winners.any(Value::is_string))
}

fn fill_numbers(conn: &mut Conn, show: &Show, results: &mut PublishedOut) -> Result<(), Problem> {
    let people: BTreeMap<_, i32> =
        entries::exhibitors(conn, show.id)?.into_iter().map(|one| (one.id, one.number)).collect();
    let owners: BTreeMap<i64, i32> = entries::of_show(conn, show.id)?
        .into_iter()
        .filter_map(|entry| Some((entry.number, *people.get(&entry.exhibitor_id)?)))
        .collect();
    for line in results.classes.iter_mut().flat_map(|class| &mut class.lines) {
        let put_out = line.verdict.as_ref().is_some_and(is_put_out);
        line.exhibitor = owners.get(&line.entry).copied().filter(|_| !put_out);
        if put_out {
            line.label = None;
        }
    }
    for trophy in &mut results.trophies {
        trophy.winners = winners_of(trophy);
    }
    Ok(())
}

/// Whether a verdict, as it is published, puts an exhibit out.
fn is_put_out(verdict: &Value) -> bool {
    verdict.get("not_as_schedule").is_some() || verdict.get("disqualified").is_some()
}

/// Who won, by how it ended.
fn winners_of(trophy: &PublishedTrophy) -> Vec<i32> {
    let number = |value: &Value| value.as_i64().and_then(|number| i32::try_from(number).ok());
    if let Some(won) = trophy.outcome.get("won") {
        return won.get("exhibitor").and_then(number).into_iter().collect();
    }
    let shared = trophy.outcome.get("shared").and_then(Value::as_array);
    shared.map(|all| all.iter().filter_map(number).collect()).unwrap_or_default()
}

/// A number, or none where a name stands.
pub(super) fn number_not_name<'de, D: Deserializer<'de>>(from: D) -> Result<Option<i32>, D::Error> {
    let value = Value::deserialize(from)?;
    Ok(value.as_i64().and_then(|number| i32::try_from(number).ok()))
}

/// Numbers; names are left out.
pub(super) fn numbers_not_names<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<i32>, D::Error> {
    let all = Vec::<Value>::deserialize(from)?;
    Ok(all.iter().filter_map(|one| one.as_i64().and_then(|number| i32::try_from(number).ok())).collect())
}
