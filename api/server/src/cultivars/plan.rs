//! What a table of cultivars would do: its lines beside what is kept.
//!
//! Lines name each other and what is kept, so names are found in both before any line is settled; names that are
//! taken and loops are looked for over all lines together. Cost: a few questions for every 500 lines, and one
//! reading of the ancestors.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::cultivars::{self, Candidate, Cultivar, NameHolder};
use storksbill_db::rows::lines::{self, ToBe};
use storksbill_domain::ids::{CultivarId, IndividualId, MemberId};
use storksbill_domain::policy::{self, Actor};
use storksbill_domain::words::{CultivarStatus, Origin, PlantGroup, Visibility};

use super::dto::{CandidateIn, CultivarPatch, candidate_rows, check_shares};
use super::edit::{apply, reach};
use super::namesakes::Namesakes;
use super::origin;
use super::table_line::{CultivarLine, Named};
use crate::http::patch::Patch;
use crate::http::problem::Problem;
use crate::pedigrees::asker::Asker;
use crate::pedigrees::individuals;
use crate::pedigrees::order::generations;
use crate::tables::plan::{Draft, Outcome, Plan, Targets, check_version};
use crate::tables::sheet::refuse;

/// A cultivar with those that may have given its pollen.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// The cultivar.
    pub cultivar: Cultivar,
    /// Its candidates, in their order.
    pub candidates: Vec<Candidate>,
}

/// A line on its way to a cultivar.
pub(super) type CultivarDraft<'k> = Draft<'k, CultivarLine, Record>;

/// Plans a table of cultivars.
///
/// # Errors
/// 422 `invalid-fields` naming every bad line.
pub fn cultivars(
    conn: &mut Conn,
    actor: &Actor,
    lines: &[CultivarLine],
    now: DateTime<Utc>,
) -> Result<Plan<Record>, Problem> {
    let kept = kept(conn, actor, lines)?;
    let mut targets = Targets::new(&kept, "a cultivar that you may see");
    let mut drafts: Vec<(CultivarDraft<'_>, CultivarId)> = lines
        .iter()
        .map(|line| {
            let draft = targets.draft(line, &line.id, &line.faults);
            let id = draft.before.map_or_else(CultivarId::fresh, |before| before.cultivar.id);
            (draft, id)
        })
        .collect();
    let namesakes = Namesakes::load(conn, actor, &drafts)?;
    let seen = seen(conn, actor, lines)?;
    for (draft, id) in &mut drafts {
        let patch = resolved(draft, &namesakes, &seen);
        draft.settle(&patch, *id, actor, now);
    }
    let mut drafts: Vec<CultivarDraft<'_>> = drafts.into_iter().map(|(draft, _)| draft).collect();
    check_names(conn, &mut drafts)?;
    check_loops(conn, actor, &mut drafts)?;
    refuse(drafts.iter().map(|draft| (draft.line.number, &draft.faults)))?;
    Ok(parents_first(Plan::of(drafts.into_iter().filter_map(|draft| draft.outcome))))
}

/// What the lines edit, as far as the actor may see it.
fn kept(
    conn: &mut Conn,
    actor: &Actor,
    lines: &[CultivarLine],
) -> Result<HashMap<CultivarId, Record>, Problem> {
    let ids: BTreeSet<CultivarId> = lines.iter().filter_map(|line| line.id.value().copied()).collect();
    let ids: Vec<CultivarId> = ids.into_iter().collect();
    let rows = cultivars::rows_visible_among(conn, actor, &ids)?;
    let mut candidates: HashMap<CultivarId, Vec<Candidate>> = HashMap::new();
    for row in cultivars::candidates_of(conn, &ids)? {
        candidates.entry(row.cultivar_id).or_default().push(row);
    }
    let record = |cultivar: Cultivar| {
        let candidates = candidates.remove(&cultivar.id).unwrap_or_default();
        (cultivar.id, Record { cultivar, candidates })
    };
    Ok(rows.into_iter().map(record).collect())
}

/// Those of the cultivars named by id that the actor may see.
fn seen(conn: &mut Conn, actor: &Actor, lines: &[CultivarLine]) -> Result<BTreeSet<CultivarId>, Problem> {
    let ids: BTreeSet<CultivarId> = lines
        .iter()
        .flat_map(|line| line.origins.named())
        .filter_map(|(_, named)| match named {
            Named::Id(id) => Some(*id),
            Named::Name(_) => None,
        })
        .collect();
    let ids: Vec<CultivarId> = ids.into_iter().collect();
    Ok(cultivars::visible_among(conn, actor, &ids)?.into_iter().map(|known| known.id).collect())
}

/// What a line says, with everybody it names by id; notes who is not there.
fn resolved(
    draft: &mut CultivarDraft<'_>,
    namesakes: &Namesakes,
    seen: &BTreeSet<CultivarId>,
) -> CultivarPatch {
    let origins = &draft.line.origins;
    let named_before: Vec<CultivarId> =
        draft.before.map(|before| origin::named(&before.cultivar, &before.candidates)).unwrap_or_default();
    let faults = &mut draft.faults;
    let mut find = |column: &str, named: &Named| match named {
        // What the record named before stays, whether its owner hid it since or not.
        Named::Id(id) if seen.contains(id) || named_before.contains(id) => Some(*id),
        Named::Id(_) => {
            let column =
                if column == "pollen_candidates" { column.to_owned() } else { format!("{column}_id") };
            faults.add(&column, "not-found", "is not a cultivar of this society that you may see");
            None
        }
        Named::Name(name) => {
            namesakes.find(name).map_err(|(code, detail)| faults.add(column, code, detail)).ok()
        }
    };
    let mut parent = |column: &str, named: &Patch<Named>| match named {
        Patch::Absent => Patch::Absent,
        Patch::Null => Patch::Null,
        Patch::Value(named) => find(column, named).map_or(Patch::Absent, Patch::Value),
    };
    let mut patch = draft.line.patch.clone();
    patch.seed_parent_id = parent("seed_parent", &origins.seed_parent);
    patch.pollen_parent_id = parent("pollen_parent", &origins.pollen_parent);
    patch.source_id = parent("source", &origins.source);
    patch.reverts_to_id = parent("reverts_to", &origins.reverts_to);
    patch.pollen_candidates = match &origins.candidates {
        Patch::Absent => Patch::Absent,
        Patch::Null => Patch::Null,
        Patch::Value(given) => {
            let row = |(named, share): &(Option<Named>, i32)| CandidateIn {
                cultivar_id: named.as_ref().and_then(|named| find("pollen_candidates", named)),
                share_thousandths: *share,
            };
            Patch::Value(given.iter().map(row).collect())
        }
    };
    patch
}

impl CultivarDraft<'_> {
    fn settle(&mut self, patch: &CultivarPatch, id: CultivarId, actor: &Actor, now: DateTime<Utc>) {
        let mut patch = patch.clone();
        let mut after = match self.before {
            Some(before) => before.clone(),
            None if self.is_new => Record { cultivar: blank(id, actor.member, now), candidates: Vec::new() },
            None => return,
        };
        // A cell is read without the white space around it.
        same_but_for_space(&mut patch.raiser, after.cultivar.raiser.as_deref());
        same_but_for_space(&mut patch.notes, after.cultivar.notes.as_deref());
        apply(&patch, &mut after.cultivar);
        match &patch.pollen_candidates {
            Patch::Absent => {}
            Patch::Null => after.candidates.clear(),
            Patch::Value(given) => {
                self.faults.of(|found| check_shares(found, given));
                after.candidates = candidate_rows(id, given);
            }
        }
        if patch.origin == Patch::Absent {
            after.cultivar.origin = origin::settled(&after.cultivar, after.candidates.len());
        }
        if self.before == Some(&after) {
            self.outcome = Some(Outcome::Unchanged);
            return;
        }
        self.check_rights(&patch, actor);
        // A parent that was not found is a fault by itself, and what follows from its lack is not.
        if self.faults.is_empty() {
            self.faults.of(|found| {
                origin::check(&after.cultivar, &after.candidates, found);
                origin::check_shown(&after.cultivar, found);
            });
        }
        self.outcome = Some(match self.before {
            None => Outcome::Created(after),
            Some(before) => {
                if reach(after.cultivar.visibility) < reach(before.cultivar.visibility) {
                    self.faults.add("visibility", "released", "cannot be narrowed: others have seen it");
                }
                check_version(self.line.version, before.cultivar.version, &mut self.faults);
                after.cultivar.version += 1;
                Outcome::Changed(after)
            }
        });
    }

    /// The same rights as for one cultivar at a time.
    fn check_rights(&mut self, patch: &CultivarPatch, actor: &Actor) {
        if let Some(Record { cultivar, .. }) = self.before {
            let named = cultivar.status == CultivarStatus::Named;
            if !policy::may_edit_cultivar(actor, cultivar.entered_by, named) {
                let detail =
                    "is not yours to change: the registrar changes named cultivars; others, who entered them";
                self.faults.add("id", "not-allowed", detail);
                return;
            }
        }
        if patch.status.value() == Some(&CultivarStatus::Named) && !actor.is_registrar() {
            self.faults.add(
                "status",
                "not-allowed",
                "may be seedling or on_trial; the registrar names cultivars",
            );
        }
    }

    /// The record as it is to be; none where nothing changes or the line came to nothing.
    fn after(&self) -> Option<&Record> {
        match &self.outcome {
            Some(Outcome::Created(after) | Outcome::Changed(after)) => Some(after),
            Some(Outcome::Unchanged) | None => None,
        }
    }
}

fn same_but_for_space(given: &mut Patch<String>, kept: Option<&str>) {
    let kept = kept.map(str::trim).unwrap_or_default();
    let same = match given {
        Patch::Absent => true,
        Patch::Null => kept.is_empty(),
        Patch::Value(given) => given == kept,
    };
    if same {
        *given = Patch::Absent;
    }
}

/// A record of which nothing is said yet.
fn blank(id: CultivarId, entered_by: MemberId, now: DateTime<Utc>) -> Cultivar {
    Cultivar {
        id,
        name: String::new(),
        name_key: String::new(),
        // Both are required of a new line, so no record is stored without them.
        plant_group: PlantGroup::Zonal,
        status: CultivarStatus::Seedling,
        raiser: None,
        raised_year: None,
        protected: false,
        visibility: Visibility::Society,
        origin: Origin::Unknown,
        seed_parent_id: None,
        pollen_parent_id: None,
        source_id: None,
        seed_gamete: None,
        seed_gamete_sets: None,
        seed_gamete_lambda: None,
        pollen_gamete: None,
        pollen_gamete_sets: None,
        pollen_gamete_lambda: None,
        sport_layers: None,
        reverts_to_id: None,
        sets: None,
        chromosomes: None,
        chromosomes_about: false,
        merged_into_id: None,
        notes: None,
        entered_by: Some(entered_by),
        version: 1,
        created_at: now.naive_utc(),
    }
}

/// Among whom a name must be the only one: all that are released, or one member's own (the rules of the schema).
type Scope = (Option<MemberId>, String, PlantGroup);

fn scope(visibility: Visibility, owner: Option<MemberId>, key: &str, group: PlantGroup) -> Scope {
    let among = if visibility == Visibility::Society { None } else { owner };
    (among, key.to_owned(), group)
}

/// Notes names that other lines or other cultivars have.
fn check_names(conn: &mut Conn, drafts: &mut [CultivarDraft<'_>]) -> Result<(), Problem> {
    let of = |cultivar: &Cultivar| {
        scope(cultivar.visibility, cultivar.entered_by, &cultivar.name_key, cultivar.plant_group)
    };
    let edited: BTreeSet<CultivarId> =
        drafts.iter().filter_map(|draft| Some(draft.before?.cultivar.id)).collect();
    let keys: BTreeSet<&str> =
        drafts.iter().filter_map(|draft| Some(draft.after()?.cultivar.name_key.as_str())).collect();
    let keys: Vec<String> = keys.into_iter().map(str::to_owned).collect();
    let holders: BTreeSet<Scope> = cultivars::holders_of_names(conn, &keys)?
        .into_iter()
        .filter(|holder| !edited.contains(&holder.id))
        .map(|NameHolder { name_key, plant_group, visibility, entered_by, .. }| {
            scope(visibility, entered_by, &name_key, plant_group)
        })
        .collect();
    let mut first: HashMap<Scope, u64> = HashMap::new();
    for draft in drafts {
        // A line that changes nothing holds its name all the same.
        let Some(record) = draft.after().or(draft.before) else { continue };
        let scope = of(&record.cultivar);
        let taken =
            holders.contains(&scope).then(|| "is the name of another cultivar of the group".to_owned());
        let line = first.entry(scope).or_insert(draft.line.number);
        let taken = (*line != draft.line.number)
            .then(|| format!("is the name of a cultivar of the group on line {line} too"))
            .or(taken);
        if let Some(detail) = taken.filter(|_| draft.after().is_some()) {
            draft.faults.add("name", "taken", detail);
        }
    }
    Ok(())
}

/// Notes lines that would be their own ancestors: a shortest loop of every tangle.
fn check_loops(conn: &mut Conn, actor: &Actor, drafts: &mut [CultivarDraft<'_>]) -> Result<(), Problem> {
    let cultivars = drafts
        .iter()
        .filter_map(CultivarDraft::after)
        .map(|record| (record.cultivar.id, (record.cultivar.clone(), record.candidates.clone())))
        .collect();
    let to_be = ToBe { cultivars, ..ToBe::default() };
    let ids: Vec<IndividualId> = to_be.cultivars.keys().map(|id| (*id).into()).collect();
    let above = lines::with_ancestors_to_be(conn, &ids, &to_be)?;
    let found = individuals::loops(&above);
    if found.is_empty() {
        return Ok(());
    }
    let asker = Asker::load(conn, actor)?;
    let numbers: BTreeMap<IndividualId, u64> = drafts
        .iter()
        .filter_map(|draft| Some((draft.after()?.cultivar.id.into(), draft.line.number)))
        .collect();
    for around in found {
        let name = |line: &&lines::Line| match numbers.get(&line.id) {
            Some(number) => format!("'{}' (line {number})", line.name),
            None if asker.sees(line) => format!("'{}'", line.name),
            None => "an undisclosed line".to_owned(),
        };
        let words: Vec<String> = around.iter().chain(around.first()).map(name).collect();
        let detail = format!("would be its own ancestor: {}", words.join(" from "));
        let first = around.iter().filter_map(|line| numbers.get(&line.id)).min();
        // Before the table there was no loop, so one of its lines is in each.
        if let Some(draft) = drafts.iter_mut().find(|draft| Some(&draft.line.number) == first) {
            draft.faults.add("origin", "pedigree-loop", detail);
        }
    }
    Ok(())
}

/// New records in the order in which they can be stored, with ids that sort so: everybody who keeps the pedigree in
/// mind takes them in one pass.
fn parents_first(mut plan: Plan<Record>) -> Plan<Record> {
    let place: HashMap<CultivarId, usize> =
        plan.created.iter().map(|record| record.cultivar.id).zip(0..).collect();
    let above: Vec<Vec<usize>> = plan
        .created
        .iter()
        .map(|record| parents(record).filter_map(|id| place.get(&id).copied()).collect())
        .collect();
    let mut ranked: Vec<_> = generations(&above).into_iter().zip(plan.created).collect();
    ranked.sort_by_key(|(generation, _)| *generation);
    plan.created = ranked.into_iter().map(|(_, record)| record).collect();
    let fresh: HashMap<CultivarId, CultivarId> =
        plan.created.iter().map(|record| (record.cultivar.id, CultivarId::fresh())).collect();
    for record in plan.created.iter_mut().chain(&mut plan.changed) {
        renumber(record, &fresh);
    }
    plan
}

/// Parents, source and candidates; what a sport goes back to is not above it.
fn parents(record: &Record) -> impl Iterator<Item = CultivarId> {
    let Cultivar { seed_parent_id, pollen_parent_id, source_id, .. } = record.cultivar;
    [seed_parent_id, pollen_parent_id, source_id]
        .into_iter()
        .flatten()
        .chain(origin::candidates(&record.candidates))
}

fn renumber(record: &mut Record, fresh: &HashMap<CultivarId, CultivarId>) {
    let new = |id: CultivarId| fresh.get(&id).copied().unwrap_or(id);
    let cultivar = &mut record.cultivar;
    cultivar.id = new(cultivar.id);
    for named in [
        &mut cultivar.seed_parent_id,
        &mut cultivar.pollen_parent_id,
        &mut cultivar.source_id,
        &mut cultivar.reverts_to_id,
    ] {
        *named = named.map(new);
    }
    for candidate in &mut record.candidates {
        candidate.cultivar_id = new(candidate.cultivar_id);
        candidate.candidate_id = candidate.candidate_id.map(new);
    }
}
