//! From records in any order to a pedigree, parents before children.
#![allow(clippy::indexing_slicing, reason = "places are numbered densely here")]

use std::borrow::Borrow;
use std::collections::BTreeMap;

use crate::cycles::Upward;
use crate::gametes::{Kind, Sets, kind, lambda, probabilities, reverts_to};
use crate::genotypes::{Edge, Genotypes, Kinds};
use crate::inbreeding::{evaluate, evaluate_one};
use crate::kinship::UnknownId;
use crate::origin::{CloneKind, Gamete, Individual, Origin, Parent, Ploidy, Who};
use crate::problem::{Problem, Warning};

/// No place.
const NOBODY: u32 = u32::MAX;

/// A validated pedigree with the inbreeding of everybody.
///
/// Every record has a *place*; individuals of one clone are one *genotype*, and genotypes are numbered parents
/// before children.
#[derive(Debug, Clone)]
pub struct Pedigree {
    /// By place.
    pub(crate) id_at: Vec<u64>,
    /// Places by id.
    by_id: Vec<u32>,
    /// Ids, parents before children.
    pub(crate) order: Vec<u64>,
    /// Genotype by place.
    pub(crate) genotype: Vec<u32>,
    /// By place: what a clone was propagated from.
    source: Vec<u32>,
    /// By place: the number of the pair of gametes, for crosses of parents known or unknown.
    pair: Vec<u32>,
    pairs: GametePairs,
    /// By place: the records that say more than parents and gametes.
    full: BTreeMap<u32, Individual>,
    /// By genotype: the place of the individual raised from seed, or the founder.
    pub(crate) raised: Vec<u32>,
    pub(crate) genotypes: Genotypes,
    /// Steps taken to find the inbreeding of all, and of those added since.
    pub(crate) visits: u64,
}

/// The pairs of gametes that records state, of which there are few.
#[derive(Debug, Clone)]
struct GametePairs {
    list: Vec<[Gamete; 2]>,
    number: BTreeMap<[(u8, u8, u64); 2], u32>,
}

impl GametePairs {
    /// The number of two reduced gametes without double reduction.
    const REDUCED: u32 = 0;

    fn new() -> Self {
        let mut pairs = Self { list: Vec::new(), number: BTreeMap::new() };
        pairs.number([Gamete::REDUCED; 2]);
        pairs
    }

    fn number(&mut self, pair: [Gamete; 2]) -> u32 {
        let list = &mut self.list;
        *self.number.entry(pair.map(Gamete::key)).or_insert_with(|| {
            list.push(pair);
            // No more pairs than records.
            u32::try_from(list.len() - 1).unwrap_or(NOBODY)
        })
    }
}

/// A record while ids are not yet places. Nearly all records are one of the plain kinds.
#[derive(Clone, Copy)]
struct Draft {
    id: u64,
    origin: DraftOrigin,
}

/// Crosses have the number of their pair of gametes.
#[derive(Clone, Copy)]
enum DraftOrigin {
    Founder,
    Neither(u32),
    Both(u64, u64, u32),
    SeedOnly(u64, u32),
    PollenOnly(u64, u32),
    Sport(u64),
    /// A place among the full records.
    Full(u32),
}

impl Draft {
    /// `None` for a record that says more.
    fn plain(record: &Individual, pairs: &mut GametePairs) -> Option<Self> {
        if record.ploidy != Ploidy::default() {
            return None;
        }
        let origin = match &record.origin {
            Origin::Founder => DraftOrigin::Founder,
            Origin::Cross { seed, pollen } => {
                if matches!(seed.who, Who::OneOf(_)) || matches!(pollen.who, Who::OneOf(_)) {
                    return None;
                }
                let pair = pairs.number([seed.gamete, pollen.gamete]);
                match (&seed.who, &pollen.who) {
                    (Who::Known(seed), Who::Known(pollen)) => DraftOrigin::Both(*seed, *pollen, pair),
                    (Who::Known(seed), _) => DraftOrigin::SeedOnly(*seed, pair),
                    (_, Who::Known(pollen)) => DraftOrigin::PollenOnly(*pollen, pair),
                    _ => DraftOrigin::Neither(pair),
                }
            }
            Origin::Clone { of, kind: CloneKind::Sport { layers: None, reverts_to: None } } => {
                DraftOrigin::Sport(*of)
            }
            _ => return None,
        };
        Some(Self { id: record.id, origin })
    }

    fn pair(&self) -> u32 {
        match self.origin {
            DraftOrigin::Neither(pair)
            | DraftOrigin::Both(_, _, pair)
            | DraftOrigin::SeedOnly(_, pair)
            | DraftOrigin::PollenOnly(_, pair) => pair,
            DraftOrigin::Founder | DraftOrigin::Sport(_) | DraftOrigin::Full(_) => GametePairs::REDUCED,
        }
    }
}

impl Pedigree {
    /// Validates records given in any order and works out the inbreeding of everybody. Cost: see the crate.
    ///
    /// # Errors
    ///
    /// Every problem of every record, by id, then the loops.
    pub fn build<R: Borrow<Individual>>(records: impl IntoIterator<Item = R>) -> Result<Self, Vec<Problem>> {
        let mut pedigree = Self::compile(records)?.0;
        pedigree.visits = evaluate(&mut pedigree.genotypes, |_| true);
        Ok(pedigree)
    }

    /// Everything but the inbreeding; the second part is whether each place descends from `changed`.
    fn compile_with<R: Borrow<Individual>>(
        records: impl IntoIterator<Item = R>,
        changed: u64,
    ) -> Result<(Self, Vec<bool>), Vec<Problem>> {
        let (pedigree, sorted) = Self::compile(records)?;
        let mut stale = vec![false; pedigree.id_at.len()];
        for at in sorted {
            stale[at as usize] =
                pedigree.id_at[at as usize] == changed || pedigree.named(at).any(|up| stale[up as usize]);
        }
        Ok((pedigree, stale))
    }

    /// Everything but the inbreeding, and all places, parents first.
    fn compile<R: Borrow<Individual>>(
        records: impl IntoIterator<Item = R>,
    ) -> Result<(Self, Vec<u32>), Vec<Problem>> {
        let mut full: Vec<Individual> = Vec::new();
        let mut drafts: Vec<Draft> = Vec::new();
        let mut pairs = GametePairs::new();
        for record in records {
            let record = record.borrow();
            drafts.push(Draft::plain(record, &mut pairs).unwrap_or_else(|| {
                full.push(record.clone());
                // Counted below before it is used.
                let at = u32::try_from(full.len() - 1).unwrap_or(NOBODY);
                Draft { id: record.id, origin: DraftOrigin::Full(at) }
            }));
        }
        if drafts.len() >= NOBODY as usize / 4 {
            return Err(vec![Problem::TooLarge]);
        }
        drafts.sort_unstable_by_key(|draft| draft.id);
        let ids: Vec<u64> = drafts.iter().map(|draft| draft.id).collect();
        let (upward, mut problems) = resolve(&ids, &drafts, &full, &pairs);
        let sorted = match upward.sorted() {
            Ok(sorted) => sorted,
            Err(loops) => {
                let name = |members: Vec<u32>| members.into_iter().map(|at| ids[at as usize]).collect();
                problems.extend(loops.into_iter().map(|members| Problem::Loop { ids: name(members) }));
                return Err(problems);
            }
        };
        let count = ids.len();
        let mut pedigree = Self {
            by_id: (0..).take(count).collect(),
            id_at: ids,
            order: Vec::new(),
            genotype: vec![NOBODY; count],
            source: vec![NOBODY; count],
            pair: drafts.iter().map(Draft::pair).collect(),
            pairs,
            full: BTreeMap::new(),
            raised: Vec::new(),
            genotypes: Genotypes::with_room(0, 0, Kinds::new()),
            visits: 0,
        };
        for (at, draft) in (0..).zip(&drafts) {
            if let DraftOrigin::Full(number) = draft.origin {
                pedigree.full.insert(at, full[number as usize].clone());
            }
        }
        drop(full);
        let clone: Vec<bool> =
            drafts.iter().map(|draft| matches!(draft.origin, DraftOrigin::Sport(_))).collect();
        drop(drafts);
        let (kind_at, kinds) = pedigree.raise(&upward, &sorted, clone, &mut problems);
        if !problems.is_empty() {
            problems.sort_by_key(problem_id);
            return Err(problems);
        }
        pedigree.number(&upward, &sorted, &kind_at, kinds);
        Ok((pedigree, sorted))
    }

    /// Finds the clones, sets `genotype` to the place each was raised at, and tells the kinds by place.
    fn raise(
        &mut self,
        upward: &Upward,
        sorted: &[u32],
        plain_clone: Vec<bool>,
        problems: &mut Vec<Problem>,
    ) -> (Vec<u32>, Kinds) {
        let mut sets = vec![Sets { sets: 2, assumed: true }; self.id_at.len()];
        let mut kinds = Kinds::new();
        let mut kind_at = vec![Kinds::ASSUMED; self.id_at.len()];
        let mut clone = plain_clone;
        for &at in sorted {
            let here = at as usize;
            let parents = upward.of(at);
            if clone[here] {
                sets[here] = parents.first().map_or(sets[here], |&source| sets[source as usize]);
            } else if self.pair[here] != GametePairs::REDUCED
                || self.full.contains_key(&at)
                || parents.iter().any(|&p| sets[p as usize].sets != 2 || !sets[p as usize].assumed)
            {
                let full = self.full.get(&at).cloned();
                let record = full.unwrap_or_else(|| self.plain_cross(at, upward));
                let of = |id: u64| self.place(id).map_or(sets[here], |place| sets[place as usize]);
                match kind(&record, of) {
                    Ok(Some(kind)) => {
                        sets[here] = Sets { sets: kind.sets(), assumed: kind.assumed };
                        kind_at[here] = kinds.number(kind);
                    }
                    Ok(None) => {
                        clone[here] = true;
                        sets[here] = parents.first().map_or(sets[here], |&source| sets[source as usize]);
                    }
                    Err(problem) => problems.push(problem),
                }
            }
            match parents.first() {
                Some(&source) if clone[here] => {
                    self.source[here] = source;
                    self.genotype[here] = self.genotype[source as usize];
                }
                _ => self.genotype[here] = at,
            }
        }
        (kind_at, kinds)
    }

    /// The record of a cross of parents known or unknown.
    fn plain_cross(&self, at: u32, upward: &Upward) -> Individual {
        let known = |place: &u32| Some(self.id_at[*place as usize]);
        let [seed, pollen] = match upward.of(at) {
            [seed, pollen] => [known(seed), known(pollen)],
            [parent] if upward.seed_known(at) => [known(parent), None],
            [parent] => [None, known(parent)],
            _ => [None, None],
        };
        let origin = self.cross_of([seed, pollen], self.pair[at as usize]);
        Individual::new(self.id_at[at as usize], origin)
    }

    fn cross_of(&self, parents: [Option<u64>; 2], pair: u32) -> Origin {
        let [seed, pollen] = self.pairs.list[pair as usize];
        let parent = |id, gamete| Parent { gamete, ..Parent::reduced(id) };
        Origin::Cross { seed: parent(parents[0], seed), pollen: parent(parents[1], pollen) }
    }

    /// Numbers the genotypes: by the longest path down from a founder, then by place. Individuals are ordered
    /// likewise, clones behind their source.
    fn number(&mut self, upward: &Upward, sorted: &[u32], kind_at: &[u32], kinds: Kinds) {
        let count = self.id_at.len();
        let mut level = vec![0u32; count];
        let mut step = vec![0u32; count];
        for &at in sorted {
            let here = at as usize;
            if self.source[here] == NOBODY {
                let above = upward.of(at).iter().map(|&parent| level[parent as usize] + 1).max();
                level[here] = above.unwrap_or(0);
            } else {
                level[here] = level[self.source[here] as usize];
                step[here] = step[self.source[here] as usize] + 1;
            }
        }
        let mut order = sorted.to_vec();
        order.sort_unstable_by_key(|&at| (level[at as usize], step[at as usize], at));
        drop((level, step));
        self.order = order.iter().map(|&at| self.id_at[at as usize]).collect();
        self.raised = order.iter().copied().filter(|&at| self.genotype[at as usize] == at).collect();
        drop(order);
        let mut number = vec![NOBODY; count];
        for (genotype, &at) in (0..).zip(&self.raised) {
            number[at as usize] = genotype;
        }
        for genotype in &mut self.genotype {
            *genotype = number[*genotype as usize];
        }
        drop(number);
        let mut genotypes = Genotypes::with_room(self.raised.len(), upward.parents.len(), kinds);
        for &at in &self.raised {
            let parents = upward.of(at);
            let number = kind_at[at as usize];
            let kind = *genotypes.kinds.get(number);
            if let Some(record) = self.full.get(&at) {
                let sides = self.edges(record, &kind);
                genotypes.push(number, [&sides[0], &sides[1]]);
            } else {
                let seed_known = upward.seed_known(at);
                let mut sides = [None; 2];
                for (nth, &place) in parents.iter().enumerate() {
                    let side = if seed_known { nth } else { 1 };
                    let share = f64::from(kind.gametes[side].sets) / f64::from(kind.sets());
                    let edge = Edge { genotype: self.genotype[place as usize], place, share };
                    sides[side] = (share > 0.0).then_some(edge);
                }
                genotypes.push(number, [sides[0].as_slice(), sides[1].as_slice()]);
            }
        }
        self.genotypes = genotypes;
    }

    /// The known parents of a full record, by side.
    pub(crate) fn edges(&self, record: &Individual, kind: &Kind) -> [Vec<Edge>; 2] {
        let known = |id: u64, side: usize, part: f64| {
            let place = self.place(id).ok()?;
            let share = f64::from(kind.gametes[side].sets) / f64::from(kind.sets()) * part;
            (share > 0.0).then(|| Edge { genotype: self.genotype[place as usize], place, share })
        };
        let of_parent = |parent: &Parent, side: usize| -> Vec<Edge> {
            match &parent.who {
                Who::Unknown => Vec::new(),
                Who::Known(id) => known(*id, side, 1.0).into_iter().collect(),
                Who::OneOf(candidates) => candidates
                    .iter()
                    .filter_map(|candidate| known(candidate.who?, side, candidate.share))
                    .collect(),
            }
        };
        match &record.origin {
            Origin::Founder => [Vec::new(), Vec::new()],
            Origin::Cross { seed, pollen } => [of_parent(seed, 0), of_parent(pollen, 1)],
            Origin::OneGamete(parent) => [of_parent(parent, 0), Vec::new()],
            Origin::Clone { of, .. } | Origin::Doubled { of } => {
                [known(*of, 0, 1.0).into_iter().collect(), Vec::new()]
            }
        }
    }

    /// Adds a record. An ordinary seedling costs one kinship of its parents.
    ///
    /// # Errors
    ///
    /// Every problem of the record; the pedigree is then unchanged.
    pub fn add(&mut self, record: Individual) -> Result<(), Vec<Problem>> {
        let id = record.id;
        let mut problems = Vec::new();
        if self.place(id).is_ok() {
            problems.push(Problem::Duplicate { id });
        }
        let missing =
            |parent: u64| self.place(parent).is_err().then_some(Problem::UnknownParent { id, parent });
        let mut named: Vec<u64> = Vec::new();
        record.origin.each_parent(|parent| named.push(parent));
        problems.extend(named.iter().copied().chain(reverts_to(&record)).filter_map(missing));
        problems.extend(probabilities(&record).err());
        if self.id_at.len() >= NOBODY as usize / 4 {
            problems.push(Problem::TooLarge);
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        let made = kind(&record, |id| self.sets_of(id)).map_err(|problem| vec![problem])?;
        // Places are counted above.
        let at = u32::try_from(self.id_at.len()).unwrap_or(NOBODY);
        if let Some(kind) = made {
            let sides = self.edges(&record, &kind);
            let genotype = self.genotypes.count();
            let number = self.genotypes.kinds.number(kind);
            self.genotypes.push(number, [&sides[0], &sides[1]]);
            let (f, own, visits) = evaluate_one(&self.genotypes, genotype);
            self.genotypes.inbreeding[genotype as usize] = f;
            self.genotypes.own[genotype as usize] = own;
            self.visits += visits;
            self.genotype.push(genotype);
            self.source.push(NOBODY);
            self.raised.push(at);
        } else {
            let source = named.first().and_then(|&of| self.place(of).ok()).unwrap_or(NOBODY);
            self.genotype.push(self.genotype[source as usize]);
            self.source.push(source);
        }
        let nth = self.by_id.partition_point(|&other| self.id_at[other as usize] < id);
        self.by_id.insert(nth, at);
        self.id_at.push(id);
        self.order.push(id);
        let plain = Draft::plain(&record, &mut self.pairs);
        self.pair.push(plain.map_or(GametePairs::REDUCED, |draft| draft.pair()));
        if plain.is_none() {
            self.full.insert(at, record);
        }
        Ok(())
    }

    /// Replaces the record of this id. The inbreeding of its descendants alone is worked out anew.
    ///
    /// # Errors
    ///
    /// Every problem, a loop among them; [`Problem::UnknownParent`] naming itself where there is no such
    /// record. The pedigree is then unchanged.
    pub fn edit(&mut self, record: Individual) -> Result<(), Vec<Problem>> {
        let id = record.id;
        if self.place(id).is_err() {
            return Err(vec![Problem::UnknownParent { id, parent: id }]);
        }
        let others = (0..self.id_at.len()).filter(|&at| self.id_at[at] != id).map(|at| self.record_at(at));
        let (mut edited, stale) = Self::compile_with(others.chain([record]), id)?;
        let mut wanted = vec![true; edited.genotypes.len()];
        for (genotype, &at) in edited.raised.iter().enumerate() {
            if let (false, Ok(old)) = (stale[at as usize], self.genotype(edited.id_at[at as usize])) {
                edited.genotypes.inbreeding[genotype] = self.genotypes.inbreeding[old as usize];
                edited.genotypes.own[genotype] = self.genotypes.own[old as usize];
                wanted[genotype] = false;
            }
        }
        edited.visits = self.visits + evaluate(&mut edited.genotypes, |at| wanted[at as usize]);
        *self = edited;
        Ok(())
    }

    /// The record of an individual, as it was given.
    ///
    /// # Errors
    ///
    /// [`UnknownId`].
    pub fn record(&self, id: u64) -> Result<Individual, UnknownId> {
        Ok(self.record_at(self.place(id)? as usize))
    }

    fn record_at(&self, at: usize) -> Individual {
        // Places are counted in 32 bits.
        let place = u32::try_from(at).unwrap_or(NOBODY);
        if let Some(record) = self.full.get(&place) {
            return record.clone();
        }
        let name = |place: u32| self.id_at[place as usize];
        let origin = if self.source[at] == NOBODY {
            let [seed, pollen] =
                self.genotypes.sides(self.genotype[at]).map(|side| side.first().map(|edge| name(edge.place)));
            let pair = self.pair[at];
            if seed.or(pollen).is_none() && pair == GametePairs::REDUCED {
                Origin::Founder
            } else {
                self.cross_of([seed, pollen], pair)
            }
        } else {
            Origin::sport(name(self.source[at]))
        };
        Individual::new(self.id_at[at], origin)
    }

    /// What is allowed and should be known, by id.
    pub fn warnings(&self) -> Vec<Warning> {
        let mut warnings = Vec::new();
        for genotype in self.genotypes.all() {
            let id = self.id_at[self.raised[genotype as usize] as usize];
            let kind = self.genotypes.kind(genotype);
            let sets = kind.sets();
            let [seed, pollen] = self.genotypes.sides(genotype);
            for a in seed {
                for b in pollen.iter().filter(|b| a.genotype == b.genotype && a.place != b.place) {
                    let [seed, pollen] = [a.place, b.place].map(|place| self.id_at[place as usize]);
                    warnings.push(Warning::OwnSport { id, seed, pollen });
                }
            }
            if kind.assumed {
                warnings.push(Warning::AssumedSets { id, sets });
            }
            if sets > 1 && sets % 2 == 1 {
                warnings.push(Warning::OddSets { id, sets });
            }
            let low = |(edge, gamete): (&Edge, usize)| {
                let brings = kind.gametes[gamete];
                let from = self.genotypes.kind(edge.genotype).sets();
                brings.lambda < least_lambda(brings.sets, from) - 1e-12
            };
            if seed.iter().map(|e| (e, 0)).chain(pollen.iter().map(|e| (e, 1))).any(low) {
                warnings.push(Warning::LowLambda { id });
            }
        }
        warnings.sort_by_key(|warning| match *warning {
            Warning::OwnSport { id, .. }
            | Warning::AssumedSets { id, .. }
            | Warning::OddSets { id, .. }
            | Warning::LowLambda { id } => id,
        });
        warnings
    }

    /// Those a place names as parents or source.
    pub(crate) fn named(&self, at: u32) -> impl Iterator<Item = u32> {
        let source = self.source[at as usize];
        let parents: &[Edge] =
            if source == NOBODY { self.genotypes.edges(self.genotype[at as usize]) } else { &[] };
        parents.iter().map(|edge| edge.place).chain((source != NOBODY).then_some(source))
    }

    /// What a clone was propagated from.
    pub(crate) fn source(&self, at: u32) -> Option<u32> {
        Some(self.source[at as usize]).filter(|&source| source != NOBODY)
    }

    /// Places by id.
    pub(crate) fn by_id(&self) -> &[u32] {
        &self.by_id
    }

    pub(crate) fn place(&self, id: u64) -> Result<u32, UnknownId> {
        place(&self.id_at, &self.by_id, id).ok_or(UnknownId(id))
    }

    pub(crate) fn sets_of(&self, id: u64) -> Sets {
        let kind = self.genotype(id).map_or(&Kind::ASSUMED, |genotype| self.genotypes.kind(genotype));
        Sets { sets: kind.sets(), assumed: kind.assumed }
    }
}

/// Numbers given in a row need no search.
fn place(ids: &[u64], by_id: &[u32], id: u64) -> Option<u32> {
    let first = ids[*by_id.first()? as usize];
    let guess = usize::try_from(id.checked_sub(first)?).ok();
    if let Some(&at) = guess.and_then(|guess| by_id.get(guess))
        && ids[at as usize] == id
    {
        return Some(at);
    }
    by_id.binary_search_by_key(&id, |&at| ids[at as usize]).ok().map(|nth| by_id[nth])
}

/// The least `lambda` of a gamete of `brings` sets from a parent with `from`, which then gives some twice.
fn least_lambda(brings: u8, from: u8) -> f64 {
    let (most, spare) = (brings / from.max(1), brings % from.max(1));
    let pairs = |n: u8| f64::from(n) * (f64::from(n) - 1.0) / 2.0;
    if brings <= from {
        return 0.0;
    }
    (f64::from(spare) * pairs(most + 1) + f64::from(from - spare) * pairs(most)) / pairs(brings)
}

fn problem_id(problem: &Problem) -> u64 {
    match problem {
        Problem::Duplicate { id }
        | Problem::UnknownParent { id, .. }
        | Problem::Probability { id, .. }
        | Problem::Shares { id, .. }
        | Problem::Sets { id, .. }
        | Problem::OddParent { id, .. }
        | Problem::MixedSets { id }
        | Problem::NoRestitution { id, .. }
        | Problem::CloneSets { id, .. } => *id,
        Problem::Loop { .. } | Problem::TooLarge => u64::MAX,
    }
}

/// Parents as places, and what is wrong with the records each for itself, by id.
fn resolve(
    ids: &[u64],
    drafts: &[Draft],
    full: &[Individual],
    pairs: &GametePairs,
) -> (Upward, Vec<Problem>) {
    let mut problems = Vec::new();
    for pair in ids.windows(2) {
        let duplicate = Problem::Duplicate { id: pair[0] };
        if pair[0] == pair[1] && problems.last() != Some(&duplicate) {
            problems.push(duplicate);
        }
    }
    let by_id: Vec<u32> = (0..).take(ids.len()).collect();
    let mut upward = Upward {
        start: Vec::with_capacity(ids.len() + 1),
        parents: Vec::with_capacity(2 * ids.len()),
        pollen_only: Vec::new(),
    };
    upward.start.push(0);
    for (at, draft) in (0..).zip(drafts) {
        let id = draft.id;
        let mut add = |parent: u64| match place(ids, &by_id, parent) {
            Some(place) => upward.parents.push(place),
            None => problems.push(Problem::UnknownParent { id, parent }),
        };
        match draft.origin {
            DraftOrigin::Founder | DraftOrigin::Neither(_) => {}
            DraftOrigin::Both(seed, pollen, _) => {
                add(seed);
                add(pollen);
            }
            DraftOrigin::SeedOnly(parent, _) | DraftOrigin::Sport(parent) => add(parent),
            DraftOrigin::PollenOnly(parent, _) => {
                add(parent);
                upward.pollen_only.push(at);
            }
            DraftOrigin::Full(number) => {
                let record = &full[number as usize];
                record.origin.each_parent(add);
                let reverts_to = reverts_to(record).filter(|&other| place(ids, &by_id, other).is_none());
                problems.extend(reverts_to.map(|parent| Problem::UnknownParent { id, parent }));
                problems.extend(probabilities(record).err());
            }
        }
        if draft.pair() != GametePairs::REDUCED {
            let pair = pairs.list[draft.pair() as usize];
            problems.extend(pair.into_iter().find_map(|gamete| lambda(id, gamete).err()));
        }
        upward.start.push(u32::try_from(upward.parents.len()).unwrap_or(NOBODY));
    }
    problems.sort_by_key(problem_id);
    (upward, problems)
}
