//! Where everybody comes from: cultivars, and seedlings that live under their numbers.
//!
//! A seedling that was named is its cultivar, and a plant is the cultivar it is of. A cultivar whose record says
//! nothing of its origin has that of the seedling it was named from.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use storksbill_domain::ids::{CrossId, CultivarId, IndividualId, MemberId, PlantId, SeedlingId};
use storksbill_domain::words::{
    CultivarStatus, Gamete, GameteForm, IndividualKind, Origin, ParentSide, PlantGroup, SportLayers,
    Visibility,
};

use super::crosses::{self, Parent};
use super::{IN_LIST, cultivars};
use crate::schema::{
    cross_parents, crosses as cross_table, cultivar_candidates, cultivars as cultivar_table,
    pedigree_changes, pedigree_state, seedlings,
};
use crate::{Conn, DbError};

/// What a parent gave.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Gave {
    /// How; as usual where nothing is recorded.
    pub form: Option<GameteForm>,
    /// Chromosome sets, where they are stated.
    pub sets: Option<i32>,
    /// Probability that two homologues are copies of one by this meiosis.
    pub lambda: Option<f64>,
}

/// Where an individual comes from.
#[derive(Debug, Clone, PartialEq)]
pub enum Descent {
    /// Nobody knows.
    Unknown,
    /// From seed.
    Cross {
        /// What bore the seed.
        seed: Option<IndividualId>,
        /// What gave the pollen, or may have, with thousandths; empty where it is not known. `None` is a stranger.
        pollen: Vec<(Option<IndividualId>, i32)>,
    },
    /// A change on a plant.
    Sport {
        /// Its source.
        of: IndividualId,
        /// What changed.
        layers: Option<SportLayers>,
        /// What it goes back to.
        reverts_to: Option<IndividualId>,
    },
    /// Struck under another name.
    Cutting(IndividualId),
    /// Chromosomes doubled.
    Doubled(IndividualId),
    /// From one germ cell.
    OneGamete(ParentSide, IndividualId),
}

impl Descent {
    /// Everybody it comes from: parents or source. What a sport went back to is not above it.
    fn above(&self) -> Vec<IndividualId> {
        match self {
            Self::Sport { of, .. } => vec![*of],
            other => other.named(),
        }
    }

    /// Everybody named as a parent or source.
    pub fn named(&self) -> Vec<IndividualId> {
        match self {
            Self::Unknown => Vec::new(),
            Self::Cross { seed, pollen } => {
                seed.iter().copied().chain(pollen.iter().filter_map(|(id, _)| *id)).collect()
            }
            Self::Sport { of, reverts_to, .. } => [*of].into_iter().chain(*reverts_to).collect(),
            Self::Cutting(of) | Self::Doubled(of) | Self::OneGamete(_, of) => vec![*of],
        }
    }
}

/// An individual of the society's pedigree.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Identity.
    pub id: IndividualId,
    /// Of a cultivar or of a seedling.
    pub kind: IndividualKind,
    /// The cultivar's name, or the seedling's label.
    pub name: String,
    /// Of a cultivar.
    pub plant_group: Option<PlantGroup>,
    /// Of a cultivar.
    pub status: Option<CultivarStatus>,
    /// Of a cultivar.
    pub raised_year: Option<i32>,
    /// Whose it is to show; nobody's where the register holds it.
    pub owner: Option<MemberId>,
    /// Who may see it.
    pub visibility: Visibility,
    /// The raiser of the cross that its parents are known from, and who may see that: where it is not the
    /// individual's own record that tells them.
    pub parents_told_by: Option<(MemberId, Visibility)>,
    /// Where it comes from.
    pub descent: Descent,
    /// What the seed parent, or the one parent, gave.
    pub seed_gave: Gave,
    /// What the pollen parent gave.
    pub pollen_gave: Gave,
    /// Chromosome sets.
    pub sets: Option<i32>,
    /// Chromosomes of a body cell.
    pub chromosomes: Option<i32>,
    /// Whether these are "about" so many.
    pub chromosomes_about: bool,
}

/// A cultivar's record as far as descent goes.
#[derive(Debug, Clone, Queryable, Selectable)]
#[diesel(table_name = cultivar_table)]
struct Record {
    id: CultivarId,
    name: String,
    plant_group: PlantGroup,
    status: CultivarStatus,
    raised_year: Option<i32>,
    visibility: Visibility,
    origin: Origin,
    seed_parent_id: Option<CultivarId>,
    pollen_parent_id: Option<CultivarId>,
    source_id: Option<CultivarId>,
    seed_gamete: Option<GameteForm>,
    seed_gamete_sets: Option<i32>,
    seed_gamete_lambda: Option<f64>,
    pollen_gamete: Option<GameteForm>,
    pollen_gamete_sets: Option<i32>,
    pollen_gamete_lambda: Option<f64>,
    sport_layers: Option<SportLayers>,
    reverts_to_id: Option<CultivarId>,
    sets: Option<i32>,
    chromosomes: Option<i32>,
    chromosomes_about: bool,
    entered_by: Option<MemberId>,
}

/// A seedling with what its cross says.
#[derive(Debug, Clone, Queryable)]
struct Sown {
    id: SeedlingId,
    cross_id: CrossId,
    number: i32,
    cultivar_id: Option<CultivarId>,
    cross_number: String,
    raiser_id: MemberId,
    visibility: Visibility,
    seed_gamete: Option<Gamete>,
    pollen_gamete: Option<Gamete>,
}

/// How far the society's pedigree has come: counts up with every change of it.
pub fn version(conn: &mut Conn) -> Result<i64, DbError> {
    Ok(pedigree_state::table.find(1).select(pedigree_state::version).first(conn)?)
}

/// Does what changes these records, and notes it: the one way in which a function of this crate stores something
/// that others descend from, or may. So no road to such a write can leave out the note, without which answers
/// would be out of date, or the look for loops.
///
/// # Errors
/// [`DbError::Loop`] where one of them would be its own ancestor afterwards and its descent is another than
/// before; a loop that was there already keeps nobody from mending the rest of a record.
pub(super) fn changing<T>(
    conn: &mut Conn,
    ids: &[IndividualId],
    store: impl FnOnce(&mut Conn) -> Result<T, DbError>,
) -> Result<T, DbError> {
    if ids.is_empty() {
        return store(conn);
    }
    let descents = |lines: Vec<Line>| -> BTreeMap<IndividualId, Descent> {
        lines.into_iter().map(|line| (line.id, line.descent)).collect()
    };
    let before = descents(of_ids(conn, ids)?);
    let stored = store(conn)?;
    touch(conn, ids)?;
    if before != descents(of_ids(conn, ids)?) {
        no_loop(conn, ids)?;
    }
    Ok(stored)
}

/// Refuses records by which one of these is its own ancestor.
pub(super) fn no_loop(conn: &mut Conn, ids: &[IndividualId]) -> Result<(), DbError> {
    let above = with_ancestors(conn, ids)?;
    match loop_through(&above, ids) {
        Some(around) => Err(DbError::Loop(around)),
        None => Ok(()),
    }
}

/// A shortest way from one of these up to itself, each a child of the next.
fn loop_through(above: &[Line], ids: &[IndividualId]) -> Option<Vec<IndividualId>> {
    let named: BTreeMap<IndividualId, Vec<IndividualId>> =
        above.iter().map(|line| (line.id, line.descent.above())).collect();
    let tangled = tangled(&named);
    ids.iter().filter(|id| tangled.contains(id)).filter_map(|id| way_round(&named, *id)).min_by_key(Vec::len)
}

/// Those that are in a loop or descend from one: what is left when whoever names nobody left is taken away again
/// and again.
fn tangled(named: &BTreeMap<IndividualId, Vec<IndividualId>>) -> BTreeSet<IndividualId> {
    let mut waits: BTreeMap<IndividualId, usize> = BTreeMap::new();
    let mut children: BTreeMap<IndividualId, Vec<IndividualId>> = BTreeMap::new();
    for (id, parents) in named {
        let known = parents.iter().filter(|parent| named.contains_key(parent));
        let known: BTreeSet<IndividualId> = known.copied().collect();
        waits.insert(*id, known.len());
        for parent in known {
            children.entry(parent).or_default().push(*id);
        }
    }
    let mut free: Vec<IndividualId> =
        waits.iter().filter(|(_, waits)| **waits == 0).map(|(id, _)| *id).collect();
    while let Some(id) = free.pop() {
        waits.remove(&id);
        for child in children.get(&id).map(Vec::as_slice).unwrap_or_default() {
            if let Some(left) = waits.get_mut(child) {
                *left -= 1;
                if *left == 0 {
                    free.push(*child);
                }
            }
        }
    }
    waits.into_keys().collect()
}

fn way_round(
    named: &BTreeMap<IndividualId, Vec<IndividualId>>,
    id: IndividualId,
) -> Option<Vec<IndividualId>> {
    let mut came_from: BTreeMap<IndividualId, IndividualId> = BTreeMap::new();
    let mut front = vec![id];
    while !front.is_empty() {
        let mut next = Vec::new();
        for child in front {
            for parent in named.get(&child).map(Vec::as_slice).unwrap_or_default() {
                if *parent == id {
                    let mut around = vec![child];
                    while let Some(last) = around.last().and_then(|last| came_from.get(last)) {
                        around.push(*last);
                    }
                    around.reverse();
                    return Some(around);
                }
                if named.contains_key(parent) && !came_from.contains_key(parent) {
                    came_from.insert(*parent, child);
                    next.push(*parent);
                }
            }
        }
        front = next;
    }
    None
}

/// Notes that the records of these individuals changed, came or went, in the transaction of that write, so two of
/// them at once meet here. Whoever changes what is there already goes through [`changing`].
pub(super) fn touch(conn: &mut Conn, ids: &[IndividualId]) -> Result<(), DbError> {
    if ids.is_empty() {
        return Ok(());
    }
    diesel::update(pedigree_state::table.find(1))
        .set(pedigree_state::version.eq(pedigree_state::version + 1))
        .execute(conn)?;
    let now = version(conn)?;
    for id in ids.iter().collect::<BTreeSet<_>>() {
        let change = (pedigree_changes::version.eq(now), pedigree_changes::individual_id.eq(*id));
        diesel::insert_into(pedigree_changes::table).values(change).execute(conn)?;
    }
    Ok(())
}

/// Notes that a cross changed: its seedlings, and what they were named.
pub(super) fn touch_cross(conn: &mut Conn, id: CrossId) -> Result<(), DbError> {
    let changed = crosses::raised_from(conn, id)?;
    touch(conn, &changed)
}

/// What was raised from crosses with these plants as a parent, beside the plant.
pub fn raised_with(conn: &mut Conn, plants: &[PlantId]) -> Result<Vec<(PlantId, IndividualId)>, DbError> {
    let mut found = BTreeSet::new();
    for part in plants.chunks(IN_LIST) {
        let raised = cross_parents::table
            .inner_join(seedlings::table.on(seedlings::cross_id.eq(cross_parents::cross_id)))
            .filter(cross_parents::plant_id.eq_any(part.to_vec()))
            .select((cross_parents::plant_id.assume_not_null(), seedlings::id, seedlings::cultivar_id))
            .load::<(PlantId, SeedlingId, Option<CultivarId>)>(conn)?;
        found.extend(raised.into_iter().map(|(plant, seedling, named)| {
            (plant, named.map_or_else(|| seedling.into(), IndividualId::from))
        }));
    }
    Ok(found.into_iter().collect())
}

/// Whose records changed after this version.
pub fn changed_since(conn: &mut Conn, version: i64) -> Result<Vec<IndividualId>, DbError> {
    let later = pedigree_changes::table.filter(pedigree_changes::version.gt(version));
    Ok(later
        .select(pedigree_changes::individual_id)
        .distinct()
        .order(pedigree_changes::individual_id)
        .load(conn)?)
}

/// Everybody, in the order of their ids: about a second for 100,000.
pub fn everybody(conn: &mut Conn) -> Result<Vec<Line>, DbError> {
    let standing = cultivar_table::table.filter(cultivar_table::merged_into_id.is_null());
    let records: Vec<Record> = standing.select(Record::as_select()).load(conn)?;
    let candidates = candidates(conn, None)?;
    let sown = sown(conn, &Which::All)?;
    lines(conn, records, candidates, sown, &BTreeMap::new())
}

/// Records as they are to be, in the place of what is kept of them.
#[derive(Debug, Default)]
pub struct ToBe {
    /// Cultivars; new ones too.
    pub cultivars: BTreeMap<CultivarId, (cultivars::Cultivar, Vec<cultivars::Candidate>)>,
    /// What plants are to be.
    pub plants: BTreeMap<PlantId, CultivarId>,
}

/// These, as far as they are there, in the order of their ids.
pub fn of_ids(conn: &mut Conn, ids: &[IndividualId]) -> Result<Vec<Line>, DbError> {
    of_ids_to_be(conn, ids, &ToBe::default())
}

fn of_ids_to_be(conn: &mut Conn, ids: &[IndividualId], to_be: &ToBe) -> Result<Vec<Line>, DbError> {
    let as_cultivars: Vec<CultivarId> = ids.iter().map(|id| id.as_cultivar()).collect();
    let as_seedlings: Vec<SeedlingId> = ids.iter().map(|id| id.as_seedling()).collect();
    let mut records = Vec::new();
    let mut named = Vec::new();
    for part in as_cultivars.chunks(IN_LIST) {
        let found = cultivar_table::table
            .filter(cultivar_table::id.eq_any(part.to_vec()))
            .filter(cultivar_table::merged_into_id.is_null());
        records.extend(found.select(Record::as_select()).load::<Record>(conn)?);
        named.extend(sown(conn, &Which::NamedAs(part))?);
    }
    for part in as_seedlings.chunks(IN_LIST) {
        named.extend(sown(conn, &Which::Ids(part))?);
    }
    let mut candidates = candidates(conn, Some(&as_cultivars))?;
    records.retain(|record: &Record| !to_be.cultivars.contains_key(&record.id));
    for (cultivar, rows) in as_cultivars.iter().filter_map(|id| to_be.cultivars.get(id)) {
        records.push(Record::of(cultivar));
        let rows = rows.iter().map(|row| (row.candidate_id.map(IndividualId::from), row.share));
        candidates.insert(cultivar.id, rows.collect());
    }
    let asked: BTreeSet<IndividualId> = ids.iter().copied().collect();
    let mut lines = lines(conn, records, candidates, named, &to_be.plants)?;
    lines.retain(|line| asked.contains(&line.id));
    Ok(lines)
}

/// These with all their ancestors, in the order of their ids: a handful of look-ups by key for each generation.
pub fn with_ancestors(conn: &mut Conn, ids: &[IndividualId]) -> Result<Vec<Line>, DbError> {
    with_ancestors_to_be(conn, ids, &ToBe::default())
}

/// The same where some records were as they are to be.
pub fn with_ancestors_to_be(
    conn: &mut Conn,
    ids: &[IndividualId],
    to_be: &ToBe,
) -> Result<Vec<Line>, DbError> {
    let mut met: BTreeSet<IndividualId> = ids.iter().copied().collect();
    let mut front: Vec<IndividualId> = met.iter().copied().collect();
    let mut found = Vec::new();
    while !front.is_empty() {
        let lines = of_ids_to_be(conn, &front, to_be)?;
        front = lines.iter().flat_map(|line| line.descent.named()).filter(|id| met.insert(*id)).collect();
        found.extend(lines);
    }
    found.sort_by_key(|line| line.id);
    Ok(found)
}

type Candidates = BTreeMap<CultivarId, Vec<(Option<IndividualId>, i32)>>;

/// Who may have given the pollen: of all cultivars, or of these.
fn candidates(conn: &mut Conn, of: Option<&[CultivarId]>) -> Result<Candidates, DbError> {
    let mut found = Candidates::new();
    let parts: Vec<Option<&[CultivarId]>> = match of {
        None => vec![None],
        Some(ids) => ids.chunks(IN_LIST).map(Some).collect(),
    };
    for part in parts {
        let mut query = cultivar_candidates::table
            .order((cultivar_candidates::cultivar_id, cultivar_candidates::place))
            .into_boxed();
        if let Some(ids) = part {
            query = query.filter(cultivar_candidates::cultivar_id.eq_any(ids.to_vec()));
        }
        let rows = query.load::<cultivars::Candidate>(conn)?;
        for row in rows {
            let who = row.candidate_id.map(IndividualId::from);
            found.entry(row.cultivar_id).or_default().push((who, row.share));
        }
    }
    Ok(found)
}

/// Which seedlings.
enum Which<'a> {
    All,
    Ids(&'a [SeedlingId]),
    NamedAs(&'a [CultivarId]),
}

/// Seedlings with their crosses, by id.
fn sown(conn: &mut Conn, which: &Which<'_>) -> Result<Vec<Sown>, DbError> {
    let mut query = seedlings::table
        .inner_join(cross_table::table.on(cross_table::id.eq(seedlings::cross_id)))
        .order(seedlings::id)
        .select((
            seedlings::id,
            seedlings::cross_id,
            seedlings::number,
            seedlings::cultivar_id,
            cross_table::number,
            cross_table::raiser_id,
            cross_table::visibility,
            cross_table::seed_gamete,
            cross_table::pollen_gamete,
        ))
        .into_boxed();
    match which {
        Which::All => {}
        Which::Ids(ids) => query = query.filter(seedlings::id.eq_any(ids.to_vec())),
        Which::NamedAs(ids) => query = query.filter(seedlings::cultivar_id.eq_any(ids.to_vec())),
    }
    Ok(query.load::<Sown>(conn)?)
}

/// Parents of crosses as individuals.
struct Parents {
    by_cross: BTreeMap<CrossId, Vec<Parent>>,
    plants: BTreeMap<PlantId, CultivarId>,
    named: BTreeMap<SeedlingId, CultivarId>,
}

impl Parents {
    fn load(
        conn: &mut Conn,
        sown: &[Sown],
        plants_to_be: &BTreeMap<PlantId, CultivarId>,
    ) -> Result<Self, DbError> {
        let crossed: BTreeSet<CrossId> = sown.iter().map(|one| one.cross_id).collect();
        let crossed: Vec<CrossId> = crossed.into_iter().collect();
        let all = crosses::parents_of(conn, &crossed)?;
        let plants: Vec<PlantId> = all.iter().filter_map(|parent| parent.plant_id).collect();
        let mut plants = crosses::cultivars_of_plants(conn, &plants)?;
        plants.extend(plants_to_be);
        let seeds: Vec<SeedlingId> = all.iter().filter_map(|parent| parent.seedling_id).collect();
        let mut named = BTreeMap::new();
        for part in seeds.chunks(IN_LIST) {
            let known = seedlings::table
                .filter(seedlings::id.eq_any(part.to_vec()))
                .filter(seedlings::cultivar_id.is_not_null())
                .select((seedlings::id, seedlings::cultivar_id.assume_not_null()));
            named.extend(known.load::<(SeedlingId, CultivarId)>(conn)?);
        }
        let mut by_cross: BTreeMap<CrossId, Vec<Parent>> = BTreeMap::new();
        for parent in all {
            by_cross.entry(parent.cross_id).or_default().push(parent);
        }
        Ok(Self { by_cross, plants, named })
    }

    fn individual(&self, parent: &Parent) -> Option<IndividualId> {
        let plant = parent.plant_id.and_then(|id| self.plants.get(&id).copied());
        let cultivar = parent.cultivar_id.or(plant).map(IndividualId::from);
        let seedling =
            |id: SeedlingId| self.named.get(&id).map_or_else(|| id.into(), |named| (*named).into());
        cultivar.or_else(|| parent.seedling_id.map(seedling))
    }

    fn descent(&self, cross: CrossId) -> Descent {
        let parents = self.by_cross.get(&cross).map(Vec::as_slice).unwrap_or_default();
        let of = |side: ParentSide| parents.iter().filter(move |parent| parent.side == side);
        Descent::Cross {
            seed: of(ParentSide::Seed).find_map(|parent| self.individual(parent)),
            pollen: of(ParentSide::Pollen).map(|parent| (self.individual(parent), parent.share)).collect(),
        }
    }
}

fn gave(of: Option<Gamete>) -> Gave {
    let form = of.map(|gamete| match gamete {
        Gamete::Reduced => GameteForm::Reduced,
        Gamete::Unreduced => GameteForm::Unreduced,
    });
    Gave { form, ..Gave::default() }
}

/// Records and seedlings put together, by id.
fn lines(
    conn: &mut Conn,
    records: Vec<Record>,
    mut candidates: Candidates,
    sown: Vec<Sown>,
    plants_to_be: &BTreeMap<PlantId, CultivarId>,
) -> Result<Vec<Line>, DbError> {
    let parents = Parents::load(conn, &sown, plants_to_be)?;
    let mut lines = Vec::with_capacity(records.len() + sown.len());
    let mut named_from: BTreeMap<CultivarId, Sown> = BTreeMap::new();
    for one in sown {
        if let Some(cultivar) = one.cultivar_id {
            named_from.entry(cultivar).or_insert(one);
            continue;
        }
        lines.push(Line {
            id: one.id.into(),
            kind: IndividualKind::Seedling,
            name: format!("{}/{}", one.cross_number, one.number),
            plant_group: None,
            status: None,
            raised_year: None,
            owner: Some(one.raiser_id),
            visibility: one.visibility,
            parents_told_by: None,
            descent: parents.descent(one.cross_id),
            seed_gave: gave(one.seed_gamete),
            pollen_gave: gave(one.pollen_gamete),
            sets: None,
            chromosomes: None,
            chromosomes_about: false,
        });
    }
    for record in records {
        let candidates = candidates.remove(&record.id).unwrap_or_default();
        let mut line = record.line(candidates);
        if let (Descent::Unknown, Some(from)) = (&line.descent, named_from.get(&line.id.as_cultivar())) {
            line.descent = parents.descent(from.cross_id);
            line.seed_gave = gave(from.seed_gamete);
            line.pollen_gave = gave(from.pollen_gamete);
            line.parents_told_by = Some((from.raiser_id, from.visibility));
        }
        lines.push(line);
    }
    lines.sort_by_key(|line| line.id);
    Ok(lines)
}

impl Record {
    fn of(cultivar: &cultivars::Cultivar) -> Self {
        Self {
            id: cultivar.id,
            name: cultivar.name.clone(),
            plant_group: cultivar.plant_group,
            status: cultivar.status,
            raised_year: cultivar.raised_year,
            visibility: cultivar.visibility,
            origin: cultivar.origin,
            seed_parent_id: cultivar.seed_parent_id,
            pollen_parent_id: cultivar.pollen_parent_id,
            source_id: cultivar.source_id,
            seed_gamete: cultivar.seed_gamete,
            seed_gamete_sets: cultivar.seed_gamete_sets,
            seed_gamete_lambda: cultivar.seed_gamete_lambda,
            pollen_gamete: cultivar.pollen_gamete,
            pollen_gamete_sets: cultivar.pollen_gamete_sets,
            pollen_gamete_lambda: cultivar.pollen_gamete_lambda,
            sport_layers: cultivar.sport_layers,
            reverts_to_id: cultivar.reverts_to_id,
            sets: cultivar.sets,
            chromosomes: cultivar.chromosomes,
            chromosomes_about: cultivar.chromosomes_about,
            entered_by: cultivar.entered_by,
        }
    }

    fn line(self, candidates: Vec<(Option<IndividualId>, i32)>) -> Line {
        let [seed, pollen, source] =
            [self.seed_parent_id, self.pollen_parent_id, self.source_id].map(|id| id.map(IndividualId::from));
        let descent = match (self.origin, source) {
            (Origin::Sport, Some(of)) => Descent::Sport {
                of,
                layers: self.sport_layers,
                reverts_to: self.reverts_to_id.map(IndividualId::from),
            },
            (Origin::Cutting, Some(of)) => Descent::Cutting(of),
            (Origin::Doubled, Some(of)) => Descent::Doubled(of),
            (Origin::OneGamete, None) => match (seed, pollen) {
                (Some(of), _) => Descent::OneGamete(ParentSide::Seed, of),
                (None, Some(of)) => Descent::OneGamete(ParentSide::Pollen, of),
                (None, None) => Descent::Unknown,
            },
            (Origin::Cross, None) => {
                let pollen = pollen.map(|id| (Some(id), 1_000)).into_iter().chain(candidates).collect();
                Descent::Cross { seed, pollen }
            }
            _ => Descent::Unknown,
        };
        Line {
            id: self.id.into(),
            kind: IndividualKind::Cultivar,
            name: self.name,
            plant_group: Some(self.plant_group),
            status: Some(self.status),
            raised_year: self.raised_year,
            owner: self.entered_by,
            visibility: self.visibility,
            parents_told_by: None,
            descent,
            seed_gave: Gave {
                form: self.seed_gamete,
                sets: self.seed_gamete_sets,
                lambda: self.seed_gamete_lambda,
            },
            pollen_gave: Gave {
                form: self.pollen_gamete,
                sets: self.pollen_gamete_sets,
                lambda: self.pollen_gamete_lambda,
            },
            sets: self.sets,
            chromosomes: self.chromosomes,
            chromosomes_about: self.chromosomes_about,
        }
    }
}
