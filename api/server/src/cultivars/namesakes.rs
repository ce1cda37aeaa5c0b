//! The cultivars that the lines of a table name by name, or by another name that the registrar keeps of them.

use std::collections::{BTreeSet, HashMap};

use storksbill_db::Conn;
use storksbill_db::rows::cultivars;
use storksbill_domain::ids::CultivarId;
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::PlantGroup;

use super::plan::CultivarDraft;
use super::table_line::Named;
use crate::http::problem::Problem;

/// A cultivar that a name may mean.
struct Namesake {
    id: CultivarId,
    name: String,
    group: PlantGroup,
    /// The line of the table that enters or edits it.
    line: Option<u64>,
}

/// The cultivars that lines name by name: those of the table, as it would leave them, and those that are kept.
pub(super) struct Namesakes(HashMap<String, Vec<Namesake>>);

impl Namesakes {
    pub(super) fn load(
        conn: &mut Conn,
        actor: &Actor,
        drafts: &[(CultivarDraft<'_>, CultivarId)],
    ) -> Result<Self, Problem> {
        let mut wanted: BTreeSet<String> = BTreeSet::new();
        for (_, named) in drafts.iter().flat_map(|(draft, _)| draft.line.origins.named()) {
            if let Named::Name(name) = named {
                wanted.insert(names::search_key(name));
                wanted.extend(Named::with_group(name).map(|(name, _)| names::search_key(name)));
            }
        }
        let mut found = Self(HashMap::new());
        let mut edited: BTreeSet<CultivarId> = BTreeSet::new();
        for (draft, id) in drafts {
            let before = draft.before.map(|before| &before.cultivar);
            edited.extend(before.map(|before| before.id));
            let patch = &draft.line.patch;
            let name = patch.name.value().map(String::as_str).or(before.map(|before| before.name.as_str()));
            let group = patch.plant_group.value().copied().or(before.map(|before| before.plant_group));
            if let (Some(name), Some(group)) = (name, group) {
                found.add(
                    &wanted,
                    names::search_key(name),
                    Namesake { id: *id, name: names::tidy(name), group, line: Some(draft.line.number) },
                );
            }
        }
        let keys: Vec<String> = wanted.iter().cloned().collect();
        for known in cultivars::of_keys_visible_to(conn, actor, &keys)? {
            if !edited.contains(&known.id) {
                let namesake =
                    Namesake { id: known.id, name: known.name, group: known.plant_group, line: None };
                found.add(&wanted, known.name_key, namesake);
            }
        }
        // What is called so now stands before what is also called so.
        let open: Vec<String> = keys.into_iter().filter(|key| !found.0.contains_key(key)).collect();
        for (key, known) in cultivars::of_other_keys_visible_to(conn, actor, &open)? {
            let namesake = Namesake { id: known.id, name: known.name, group: known.plant_group, line: None };
            found.add(&wanted, key, namesake);
        }
        Ok(found)
    }

    fn add(&mut self, wanted: &BTreeSet<String>, key: String, namesake: Namesake) {
        if wanted.contains(&key) {
            let known = self.0.entry(key).or_default();
            // A line that stands twice is a fault by itself.
            if known.iter().all(|other| other.id != namesake.id) {
                known.push(namesake);
            }
        }
    }

    fn of(&self, name: &str) -> &[Namesake] {
        self.0.get(&names::search_key(name)).map(Vec::as_slice).unwrap_or_default()
    }

    /// The cultivar of a name, or why there is not one.
    pub(super) fn find(&self, name: &str) -> Result<CultivarId, (&'static str, String)> {
        let mut fitting: Vec<&Namesake> = Vec::new();
        if let Some((name, group)) = Named::with_group(name) {
            fitting = self.of(name).iter().filter(|namesake| namesake.group == group).collect();
        }
        if fitting.is_empty() {
            fitting = self.of(name).iter().collect();
        }
        match fitting.as_slice() {
            [one] => Ok(one.id),
            [] => Err((
                "not-found",
                format!("`{name}` is no cultivar of this table, and none of the society's that you may see"),
            )),
            several => {
                let each = several.iter().map(|one| match one.line {
                    Some(line) => format!("{} ({}, line {line})", one.name, one.group),
                    None => format!("{} ({}, {})", one.name, one.group, one.id),
                });
                let each: Vec<String> = each.collect();
                let detail = format!(
                    "`{name}` may be any of: {}; add the group in parentheses, or give the id",
                    each.join("; ")
                );
                Err(("ambiguous", detail))
            }
        }
    }
}
