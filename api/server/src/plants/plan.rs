//! What a table of plants or of diary records would do: its lines beside what is kept.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use chrono::{DateTime, NaiveDate, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::lines::{self, ToBe};
use storksbill_db::rows::plants::{self as rows, CultivarName, DiaryEntry, Plant};
use storksbill_db::rows::{cultivars, members};
use storksbill_domain::ids::{CultivarId, DiaryId, IndividualId, MemberId, PlantId, RegionId};
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::Visibility;

use super::diary_rows::{self, DiaryLine};
use super::dto::{PlantPatch, society};
use super::known::{Known, References, no_ring, no_wider};
use super::plant_rows::{self, PlantLine};
use super::rules;
use crate::http::patch::Patch;
use crate::http::problem::Problem;
use crate::pedigrees::asker::Asker;
use crate::pedigrees::individuals;
use crate::tables::plan::{Draft, Outcome, Plan, Targets, check_version};
use crate::tables::sheet::{Faults, refuse};

/// Plans a table of the actor's plants.
///
/// # Errors
/// 422 `invalid-fields` naming every bad line.
pub fn plants(
    conn: &mut Conn,
    actor: &Actor,
    lines: &[PlantLine],
    now: DateTime<Utc>,
) -> Result<Plan<Plant>, Problem> {
    let own = rows::own_all(conn, actor.member)?;
    let names_of: HashMap<CultivarId, CultivarName> =
        own.iter().map(|(_, cultivar)| (cultivar.id, cultivar.clone())).collect();
    let own: HashMap<PlantId, Plant> = own.into_iter().map(|(plant, _)| (plant.id, plant)).collect();
    let namesakes = Namesakes::load(conn, actor, lines)?;
    let mut targets = Targets::new(&own, "one of your plants");
    let mut drafts = Vec::with_capacity(lines.len());
    let mut references = Vec::with_capacity(lines.len());
    for line in lines {
        let mut draft = targets.draft(line, &line.id, &line.faults);
        let mut patch = line.patch.clone();
        if let Some(cultivar) = namesakes.cultivar_of(line, &mut draft.faults) {
            patch.cultivar_id = Patch::Value(cultivar);
        }
        references.push(References::of_patch(&patch, draft.before));
        drafts.push((draft, patch));
    }
    let ground = Ground {
        owner: actor.member,
        home: members::find(conn, actor.member)?.and_then(|member| member.region_id),
        first_days: rows::own_first_diary_days(conn, actor.member)?
            .into_iter()
            .filter_map(|(plant, day)| day.map(|day| (plant, day)))
            .collect(),
        known: Known::load(conn, actor, &references)?,
        names_of,
        now,
    };
    for ((draft, patch), references) in drafts.iter_mut().zip(&references) {
        draft.faults.of(|found| ground.known.check(references, found));
        draft.settle(patch, &ground)?;
    }
    let mut drafts: Vec<_> = drafts.into_iter().map(|(draft, _)| draft).collect();
    check_sources(conn, &mut drafts)?;
    check_loops(conn, actor, &mut drafts)?;
    refuse(drafts.iter().map(|draft| (draft.line.number, &draft.faults)))?;
    Ok(Plan::of(drafts.into_iter().filter_map(|draft| draft.outcome)))
}

/// What the lines of a table of plants stand on.
struct Ground {
    owner: MemberId,
    home: Option<RegionId>,
    first_days: HashMap<PlantId, NaiveDate>,
    known: Known,
    names_of: HashMap<CultivarId, CultivarName>,
    now: DateTime<Utc>,
}

type PlantDraft<'k> = Draft<'k, PlantLine, Plant>;

impl PlantDraft<'_> {
    fn settle(&mut self, patch: &PlantPatch, ground: &Ground) -> Result<(), Problem> {
        self.check_agreement(ground);
        if let Some(day) = patch.got_on.value()
            && self.before.is_none_or(|before| before.got_on != Some(**day))
        {
            let first = self.before.and_then(|before| ground.first_days.get(&before.id)).copied();
            self.faults.of(|found| rules::got_on(**day, ground.now.date_naive(), first, found));
        }
        match self.before {
            Some(before) => self.settle_edit(patch, before, ground),
            None if self.is_new => self.settle_new(patch, ground)?,
            None => {}
        }
        Ok(())
    }

    fn settle_edit(&mut self, patch: &PlantPatch, before: &Plant, ground: &Ground) {
        let mut after = patch.applied_to(before);
        if after == *before {
            self.outcome = Some(Outcome::Unchanged);
            return;
        }
        self.faults.of(|found| rules::heating(after.environment, after.heated_to_c, found));
        self.check_shown(after.cultivar_id, after.visibility, ground);
        check_version(self.line.version, before.version, &mut self.faults);
        after.version += 1;
        self.outcome = Some(Outcome::Changed(after));
    }

    fn settle_new(&mut self, patch: &PlantPatch, ground: &Ground) -> Result<(), Problem> {
        if let Some(environment) = patch.environment.value() {
            let heated_to_c = patch.heated_to_c.value().copied();
            self.faults.of(|found| rules::heating(*environment, heated_to_c, found));
        }
        let region = patch.region_id.value().copied().or(ground.home);
        if region.is_none() {
            self.faults.add("region_id", "required", rules::NO_REGION);
        }
        if let Some(cultivar) = patch.cultivar_id.value() {
            let visibility = patch.visibility.value().copied().unwrap_or_else(society);
            self.check_shown(*cultivar, visibility, ground);
        }
        match plant_rows::new_plant(patch) {
            Some(mut plant) if self.faults.is_empty() => {
                plant.region_id = region;
                self.outcome = Some(Outcome::Created(plant.into_plant(ground.owner, ground.now)?));
            }
            // What a line lacks was noted when it was read; none is passed over without a word.
            None if self.faults.is_empty() => {
                self.faults.add("cells", "required", "lack what a new plant needs");
            }
            _ => {}
        }
        Ok(())
    }

    fn check_shown(&mut self, cultivar: CultivarId, visibility: Visibility, ground: &Ground) {
        if let Some(cultivar) = ground.known.cultivar(cultivar).or_else(|| ground.names_of.get(&cultivar)) {
            self.faults.of(|found| no_wider(visibility, cultivar, found));
        }
    }

    /// Where a line names its cultivar twice, both must be the same.
    fn check_agreement(&mut self, ground: &Ground) {
        let Some(id) = self.line.patch.cultivar_id.value() else { return };
        let Some(named) = ground.known.cultivar(*id).or_else(|| ground.names_of.get(id)) else { return };
        let PlantLine { cultivar, plant_group, .. } = self.line;
        let differs = cultivar.as_ref().is_some_and(|name| names::search_key(name) != named.name_key)
            || plant_group.is_some_and(|group| group != named.plant_group);
        if differs {
            let detail = format!(
                "differs from cultivar_id, which is {} ({}): mend one of the two or leave it empty",
                named.name, named.plant_group
            );
            self.faults.add("cultivar", "disagrees", detail);
        }
    }
}

/// Notes plants that the table as a whole would make their own source.
fn check_sources(conn: &mut Conn, drafts: &mut [PlantDraft<'_>]) -> Result<(), Problem> {
    let sources: HashMap<PlantId, Option<PlantId>> = drafts
        .iter()
        .filter_map(|draft| match (&draft.outcome, draft.before) {
            (Some(Outcome::Changed(after)), Some(before))
                if after.source_plant_id != before.source_plant_id =>
            {
                Some((after.id, after.source_plant_id))
            }
            _ => None,
        })
        .collect();
    for draft in drafts {
        let Some(id) = draft.before.map(|before| before.id).filter(|id| sources.contains_key(id)) else {
            continue;
        };
        let mut failed = None;
        draft.faults.of(|found| failed = no_ring(conn, id, &sources, found).err());
        if let Some(problem) = failed {
            return Err(problem);
        }
    }
    Ok(())
}

/// Notes plants of which crosses were made, and that are to be of what descends from those crosses.
fn check_loops(conn: &mut Conn, actor: &Actor, drafts: &mut [PlantDraft<'_>]) -> Result<(), Problem> {
    let plants: BTreeMap<PlantId, CultivarId> = drafts
        .iter()
        .filter_map(|draft| match (&draft.outcome, draft.before) {
            (Some(Outcome::Changed(after)), Some(before)) if after.cultivar_id != before.cultivar_id => {
                Some((after.id, after.cultivar_id))
            }
            _ => None,
        })
        .collect();
    let changed: Vec<PlantId> = plants.keys().copied().collect();
    let raised = lines::raised_with(conn, &changed)?;
    let ids: BTreeSet<IndividualId> = raised.iter().map(|(_, id)| *id).collect();
    let ids: Vec<IndividualId> = ids.into_iter().collect();
    let to_be = ToBe { plants, ..ToBe::default() };
    let above = lines::with_ancestors_to_be(conn, &ids, &to_be)?;
    let asker = Asker::load(conn, actor)?;
    for around in individuals::loops(&above) {
        let in_loop = |id: IndividualId| around.iter().any(|line| line.id == id);
        let plants = raised.iter().filter(|(_, raised)| in_loop(*raised)).map(|(plant, _)| *plant);
        let plants: BTreeSet<PlantId> = plants.collect();
        let draft = drafts.iter_mut().find(|draft| draft.before.is_some_and(|p| plants.contains(&p.id)));
        if let Some(draft) = draft {
            let words = individuals::loop_words(&asker, &around);
            draft.faults.add(
                "cultivar",
                "pedigree-loop",
                format!("would make one its own ancestor: {words}"),
            );
        }
    }
    Ok(())
}

/// The cultivars that lines name by name.
struct Namesakes(HashMap<String, Vec<CultivarName>>);

impl Namesakes {
    fn load(conn: &mut Conn, actor: &Actor, lines: &[PlantLine]) -> Result<Self, Problem> {
        let named = lines.iter().filter(|line| line.patch.cultivar_id.value().is_none());
        let keys: HashSet<String> =
            named.filter_map(|line| line.cultivar.as_deref()).map(names::search_key).collect();
        let keys: Vec<String> = keys.into_iter().collect();
        let mut by_key: HashMap<String, Vec<CultivarName>> = HashMap::new();
        for cultivar in cultivars::of_keys_visible_to(conn, actor, &keys)? {
            by_key.entry(cultivar.name_key.clone()).or_default().push(cultivar);
        }
        for cultivars in by_key.values_mut() {
            cultivars.sort_by_key(|cultivar| cultivar.plant_group);
        }
        Ok(Self(by_key))
    }

    /// The cultivar that a line names by name alone; notes names that are none's and names that are several's.
    fn cultivar_of(&self, line: &PlantLine, faults: &mut Faults) -> Option<CultivarId> {
        let name = line.cultivar.as_deref().filter(|_| line.patch.cultivar_id.value().is_none())?;
        let namesakes = self.0.get(&names::search_key(name)).map(Vec::as_slice).unwrap_or_default();
        let fitting: Vec<&CultivarName> = namesakes
            .iter()
            .filter(|cultivar| line.plant_group.is_none_or(|group| group == cultivar.plant_group))
            .collect();
        match fitting.as_slice() {
            [one] => return Some(one.id),
            [] if namesakes.is_empty() => {
                faults.add("cultivar", "not-found", format!("`{name}` is not on the society's list"));
            }
            [] => {
                let detail = format!("`{name}` is not of that group, but: {}", candidates(namesakes.iter()));
                faults.add("plant_group", "not-found", detail);
            }
            several => {
                let list = candidates(several.iter().copied());
                let detail = format!("`{name}` may be any of: {list}; fill plant_group or cultivar_id");
                faults.add("cultivar", "ambiguous", detail);
            }
        }
        None
    }
}

fn candidates<'c>(cultivars: impl Iterator<Item = &'c CultivarName>) -> String {
    let named: Vec<String> = cultivars.map(|c| format!("{} ({}, {})", c.name, c.plant_group, c.id)).collect();
    named.join("; ")
}

/// Plans a table of the diaries of the actor's plants.
///
/// # Errors
/// 422 `invalid-fields` naming every bad line.
pub fn diary(
    conn: &mut Conn,
    actor: &Actor,
    lines: &[DiaryLine],
    now: DateTime<Utc>,
) -> Result<Plan<DiaryEntry>, Problem> {
    let plants = OwnPlants::load(conn, actor.member)?;
    let own: HashMap<DiaryId, DiaryEntry> = if lines.iter().any(|line| line.id.value().is_some()) {
        rows::own_diary(conn, actor.member)?.into_iter().map(|(entry, _)| (entry.id, entry)).collect()
    } else {
        HashMap::new()
    };
    let mut targets = Targets::new(&own, "one of your diary records");
    let mut drafts = Vec::with_capacity(lines.len());
    for line in lines {
        let mut draft: DiaryDraft<'_> = targets.draft(line, &line.id, &line.faults);
        draft.settle(&plants, now);
        drafts.push(draft);
    }
    refuse(drafts.iter().map(|draft| (draft.line.number, &draft.faults)))?;
    Ok(Plan::of(drafts.into_iter().filter_map(|draft| draft.outcome)))
}

type DiaryDraft<'k> = Draft<'k, DiaryLine, DiaryEntry>;

impl DiaryDraft<'_> {
    fn settle(&mut self, plants: &OwnPlants, now: DateTime<Utc>) {
        let named = match self.before {
            Some(before) => plants.of_entry(before, self.line, &mut self.faults),
            None if self.is_new => plants.of_line(self.line, &mut self.faults),
            None => return,
        };
        let Some(plant) = named else { return };
        let patch = &self.line.patch;
        let (after, outcome): (DiaryEntry, fn(DiaryEntry) -> Outcome<DiaryEntry>) =
            if let Some(before) = self.before {
                let mut after = patch.applied_to(before);
                if after == *before {
                    self.outcome = Some(Outcome::Unchanged);
                    return;
                }
                check_version(self.line.version, before.version, &mut self.faults);
                after.version += 1;
                (after, Outcome::Changed)
            } else if let Some(entry) = diary_rows::new_entry(patch) {
                (entry.into_entry(plant.id, now), Outcome::Created)
            } else {
                // What a line lacks was noted when it was read; none is passed over without a word.
                if self.faults.is_empty() {
                    self.faults.add("cells", "required", "lack what a new record needs");
                }
                return;
            };
        self.faults.of(|found| rules::entry(self.before, &after, plant, now.date_naive(), found));
        self.outcome = Some(outcome(after));
    }
}

/// The actor's plants, by id and by label.
struct OwnPlants {
    by_id: HashMap<PlantId, Plant>,
    by_label: HashMap<String, Vec<PlantId>>,
}

impl OwnPlants {
    fn load(conn: &mut Conn, owner: MemberId) -> Result<Self, Problem> {
        let mut own = Self { by_id: HashMap::new(), by_label: HashMap::new() };
        for (plant, _) in rows::own_all(conn, owner)? {
            if let Some(label) = &plant.label {
                own.by_label.entry(label.clone()).or_default().push(plant.id);
            }
            own.by_id.insert(plant.id, plant);
        }
        Ok(own)
    }

    /// The plant that a line names for a new record.
    fn of_line(&self, line: &DiaryLine, faults: &mut Faults) -> Option<&Plant> {
        let id = match (line.plant_id, line.plant_label.as_deref()) {
            (Some(id), _) => id,
            (None, Some(label)) => match self.by_label.get(label).map(Vec::as_slice).unwrap_or_default() {
                [one] => *one,
                [] => {
                    faults.add(
                        "plant_label",
                        "not-found",
                        format!("no plant of yours is labelled `{label}`"),
                    );
                    return None;
                }
                several => {
                    let ids: Vec<&str> = several.iter().map(PlantId::as_str).collect();
                    let detail = format!(
                        "several plants are labelled `{label}`: fill plant_id with one of {}",
                        ids.join(", ")
                    );
                    faults.add("plant_label", "ambiguous", detail);
                    return None;
                }
            },
            // Noted when it was read.
            (None, None) => return None,
        };
        let Some(plant) = self.by_id.get(&id) else {
            faults.add("plant_id", "not-found", "is not one of your plants");
            return None;
        };
        agree(plant, line, faults);
        Some(plant)
    }

    /// The plant of a record that is kept; a record stays with its plant.
    fn of_entry(&self, entry: &DiaryEntry, line: &DiaryLine, faults: &mut Faults) -> Option<&Plant> {
        if line.plant_id.is_some_and(|id| id != entry.plant_id) {
            faults.add(
                "plant_id",
                "another-plant",
                "is not the record's plant, and a record stays with its plant",
            );
        }
        let plant = self.by_id.get(&entry.plant_id)?;
        agree(plant, line, faults);
        Some(plant)
    }
}

/// Where a line names its plant twice, both must be the same.
fn agree(plant: &Plant, line: &DiaryLine, faults: &mut Faults) {
    if line.plant_label.is_some() && line.plant_label != plant.label {
        let label = plant.label.as_deref().unwrap_or_default();
        let detail = format!("differs from the plant's label `{label}`: mend it or leave it empty");
        faults.add("plant_label", "disagrees", detail);
    }
}
