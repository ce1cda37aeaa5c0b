//! Parents of crosses: which may be named, how they are told, and when two of them are one clone.

use std::collections::{BTreeMap, BTreeSet};

use storksbill_db::Conn;
use storksbill_db::rows::crosses::{self, Parent};
use storksbill_db::rows::{cultivars, plants};
use storksbill_domain::ids::{CultivarId, PlantId, SeedlingId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{CrossWarning, Gamete, ParentSide};

use super::access;
use super::dto::{ParentOut, WarningOut, seedling_label};
use crate::http::json::Findings;
use crate::http::problem::Problem;

/// What the asker may be told of some parents.
#[derive(Debug, Default)]
pub struct Known {
    /// Names of cultivars.
    names: BTreeMap<CultivarId, String>,
    /// What each plant is that the asker may see.
    plants: BTreeMap<PlantId, CultivarId>,
    /// The label of each seedling that the asker may see, and what it was named.
    seedlings: BTreeMap<SeedlingId, (String, Option<CultivarId>)>,
    /// Chromosome sets of each cultivar for which they are recorded.
    sets: BTreeMap<CultivarId, i32>,
    /// What each cultivar at last sported from; itself where it is no sport.
    clones: BTreeMap<CultivarId, CultivarId>,
}

/// One clone, however many plants and sports of it there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Clone {
    Cultivar(CultivarId),
    Seedling(SeedlingId),
}

impl Known {
    /// Looks all of them up at once.
    pub fn load(conn: &mut Conn, actor: &Actor, parents: &[Parent]) -> Result<Self, Problem> {
        let named: Vec<PlantId> = parents.iter().filter_map(|parent| parent.plant_id).collect();
        let seen = plants::visible_among(conn, actor, &named)?;
        let plants = crosses::cultivars_of_plants(conn, &seen)?;
        let named: Vec<SeedlingId> = parents.iter().filter_map(|parent| parent.seedling_id).collect();
        let mut seedlings = BTreeMap::new();
        for (seedling, cross) in crosses::seedlings_of_ids(conn, &named)? {
            if access::sees(conn, actor, &cross)? {
                let label = seedling_label(&cross.number, seedling.number);
                seedlings.insert(seedling.id, (label, seedling.cultivar_id));
            }
        }
        let of_seedlings = seedlings.values().filter_map(|(_, cultivar)| *cultivar);
        let kinds: BTreeSet<CultivarId> = parents
            .iter()
            .filter_map(|parent| parent.cultivar_id)
            .chain(plants.values().copied())
            .chain(of_seedlings)
            .collect();
        let kinds: Vec<CultivarId> = kinds.into_iter().collect();
        let found = cultivars::visible_among(conn, actor, &kinds)?;
        let names = found.into_iter().map(|cultivar| (cultivar.id, cultivar.name)).collect();
        let sets = cultivars::sets_of(conn, &kinds)?.into_iter().collect();
        Ok(Self { names, plants, seedlings, sets, clones: clones_of(conn, &kinds)? })
    }

    /// Notes which of these is no cultivar, or no plant or seedling that the asker may see.
    pub fn check(&self, parents: &[Parent], found: &mut Findings) {
        for parent in parents {
            let pointer = match parent.side {
                ParentSide::Seed => "/seed_parent".to_owned(),
                ParentSide::Pollen => format!("/pollen_parents/{}", parent.place - 1),
            };
            let missing = |what: &str, detail: &str, found: &mut Findings| {
                found.add(&format!("{pointer}/{what}"), "not-found", detail);
            };
            if parent.cultivar_id.is_some_and(|id| !self.names.contains_key(&id)) {
                missing(
                    "cultivar_id",
                    "is not a cultivar of this society that you may see; enter it first",
                    found,
                );
            }
            if parent.plant_id.is_some_and(|id| !self.plants.contains_key(&id)) {
                missing("plant_id", "is not a plant that you may see", found);
            }
            if parent.seedling_id.is_some_and(|id| !self.seedlings.contains_key(&id)) {
                missing("seedling_id", "is not a seedling that you may see", found);
            }
        }
    }

    /// The parent as it is told; nothing of what the asker may not see.
    pub fn told(&self, parent: &Parent) -> ParentOut {
        let plant = parent.plant_id.and_then(|id| self.plants.get(&id).copied());
        let seedling = parent.seedling_id.and_then(|id| self.seedlings.get(&id));
        let cultivar_id = parent.cultivar_id.or(plant).filter(|id| self.names.contains_key(id));
        let name = seedling
            .map(|(label, _)| label.clone())
            .or_else(|| cultivar_id.and_then(|id| self.names.get(&id).cloned()));
        ParentOut {
            cultivar_id,
            seedling_id: parent.seedling_id.filter(|_| seedling.is_some()),
            plant_id: parent.plant_id.filter(|_| plant.is_some()),
            undisclosed: name.is_none(),
            name,
            share_thousandths: parent.share,
        }
    }

    /// Pollen parents that are one clone with the seed parent.
    pub fn selfings(&self, parents: &[Parent]) -> Vec<WarningOut> {
        let Some(seed) = parents.iter().find(|parent| parent.side == ParentSide::Seed) else {
            return Vec::new();
        };
        let Some(clone) = self.clone_of(seed) else { return Vec::new() };
        let pollen = parents.iter().filter(|parent| parent.side == ParentSide::Pollen);
        pollen
            .filter(|parent| self.clone_of(parent) == Some(clone))
            .map(|parent| {
                let [one, other] = [seed, parent].map(|of| self.told(of).name.unwrap_or_default());
                let is = if parent.share < 1_000 { "may be" } else { "is" };
                let words = if one == other {
                    format!("{one} stands on both sides, so this {is} a selfing.")
                } else {
                    format!("{one} and {other} are one clone, by sports of it, so this {is} a selfing.")
                };
                WarningOut::new(CrossWarning::Selfing, words)
            })
            .collect()
    }

    /// Pollen parents with which seedlings would have an odd number of chromosome sets, as far as those of both are
    /// recorded.
    pub fn odd_sets(&self, parents: &[Parent], gametes: [Option<Gamete>; 2]) -> Option<WarningOut> {
        let brings = |parent: &Parent, gamete: Option<Gamete>| {
            let Clone::Cultivar(cultivar) = self.own_clone(parent)? else { return None };
            let sets = *self.sets.get(&cultivar)?;
            let all = gamete == Some(Gamete::Unreduced);
            let half = (sets % 2 == 0).then_some(sets / 2);
            Some((sets, if all { sets } else { half? }))
        };
        let seed = parents.iter().find(|parent| parent.side == ParentSide::Seed)?;
        let (seed_sets, from_seed) = brings(seed, gametes[0])?;
        let pollen = parents.iter().filter(|parent| parent.side == ParentSide::Pollen);
        let (pollen_sets, sets) = pollen
            .filter_map(|parent| brings(parent, gametes[1]))
            .map(|(sets, brings)| (sets, from_seed + brings))
            .find(|(_, sets)| sets % 2 == 1)?;
        let words = format!(
            "The seed parent has {seed_sets} sets of chromosomes and the pollen parent {pollen_sets}: seedlings are likely to have {sets}, an odd number, and to be sterile."
        );
        Some(WarningOut::new(CrossWarning::OddPloidy, words))
    }

    /// The cultivar itself, or the seedling while it has no name.
    fn own_clone(&self, parent: &Parent) -> Option<Clone> {
        if let Some(id) = parent.seedling_id {
            let named = self.seedlings.get(&id).and_then(|(_, cultivar)| *cultivar);
            return Some(named.map_or(Clone::Seedling(id), Clone::Cultivar));
        }
        let plant = parent.plant_id.and_then(|id| self.plants.get(&id).copied());
        parent.cultivar_id.or(plant).map(Clone::Cultivar)
    }

    fn clone_of(&self, parent: &Parent) -> Option<Clone> {
        self.own_clone(parent).map(|clone| match clone {
            Clone::Cultivar(cultivar) => self.at_last(cultivar),
            seedling @ Clone::Seedling(_) => seedling,
        })
    }

    fn at_last(&self, cultivar: CultivarId) -> Clone {
        Clone::Cultivar(self.clones.get(&cultivar).copied().unwrap_or(cultivar))
    }
}

/// What each of these cultivars at last sported from: a look-up for all of them at each step up.
fn clones_of(conn: &mut Conn, ids: &[CultivarId]) -> Result<BTreeMap<CultivarId, CultivarId>, Problem> {
    let mut source: BTreeMap<CultivarId, CultivarId> = BTreeMap::new();
    let mut front = ids.to_vec();
    while !front.is_empty() {
        let found = cultivars::sports_among(conn, &front)?;
        front = Vec::new();
        for (sport, from) in found {
            if let Some(from) = from
                && source.insert(sport, from).is_none()
                && !source.contains_key(&from)
            {
                front.push(from);
            }
        }
    }
    let root = |id: &CultivarId| {
        let mut at = *id;
        // No cultivar is its own ancestor, so this ends; the bound holds should a record say otherwise.
        for _ in 0..=source.len() {
            match source.get(&at) {
                Some(from) => at = *from,
                None => break,
            }
        }
        at
    };
    Ok(ids.iter().map(|id| (*id, root(id))).collect())
}
