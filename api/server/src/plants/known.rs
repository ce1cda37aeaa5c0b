//! Whether the records that a plant names are there: many plants at once, by a few questions.

use std::collections::{HashMap, HashSet};
use std::hash::Hash;

use storksbill_db::Conn;
use storksbill_db::rows::cultivars;
use storksbill_db::rows::plants::{self, CultivarName, Plant};
use storksbill_domain::ids::{CultivarId, MemberId, PlantId, RegionId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::Visibility;

use super::dto::{PlantIn, PlantPatch};
use crate::http::json::Findings;
use crate::http::problem::Problem;

/// What a plant names anew. What it named before is not asked again: its source may have been hidden since.
#[derive(Debug, Clone, Copy, Default)]
pub struct References {
    cultivar: Option<CultivarId>,
    region: Option<RegionId>,
    source_plant: Option<PlantId>,
    source_member: Option<MemberId>,
}

impl References {
    /// Of a plant to enter.
    pub fn of(plant: &PlantIn) -> Self {
        Self {
            cultivar: Some(plant.cultivar_id),
            region: plant.region_id,
            source_plant: plant.source_plant_id,
            source_member: plant.source_member_id,
        }
    }

    /// Of an edit, as far as it differs from the plant before it.
    pub fn of_patch(patch: &PlantPatch, before: Option<&Plant>) -> Self {
        fn news<T: Copy + PartialEq>(value: Option<&T>, before: Option<T>) -> Option<T> {
            value.copied().filter(|value| before != Some(*value))
        }
        Self {
            cultivar: news(patch.cultivar_id.value(), before.map(|plant| plant.cultivar_id)),
            region: news(patch.region_id.value(), before.map(|plant| plant.region_id)),
            source_plant: news(patch.source_plant_id.value(), before.and_then(|plant| plant.source_plant_id)),
            source_member: news(
                patch.source_member_id.value(),
                before.and_then(|plant| plant.source_member_id),
            ),
        }
    }
}

/// Those of the named records that are there and that the asker may see.
#[derive(Debug)]
pub struct Known {
    cultivars: HashMap<CultivarId, CultivarName>,
    regions: HashSet<RegionId>,
    source_plants: HashSet<PlantId>,
    source_members: HashSet<MemberId>,
}

fn distinct<T: Eq + Hash>(all: impl Iterator<Item = T>) -> Vec<T> {
    all.collect::<HashSet<_>>().into_iter().collect()
}

impl Known {
    /// Looks up what all of `references` name.
    pub fn load(conn: &mut Conn, actor: &Actor, references: &[References]) -> Result<Self, Problem> {
        let named = distinct(references.iter().filter_map(|r| r.cultivar));
        let regions = distinct(references.iter().filter_map(|r| r.region));
        let source_plants = distinct(references.iter().filter_map(|r| r.source_plant));
        let source_members = distinct(references.iter().filter_map(|r| r.source_member));
        Ok(Self {
            cultivars: cultivars::visible_among(conn, actor, &named)?
                .into_iter()
                .map(|c| (c.id, c))
                .collect(),
            regions: plants::regions_among(conn, &regions)?.into_iter().collect(),
            source_plants: plants::visible_among(conn, actor, &source_plants)?.into_iter().collect(),
            source_members: plants::active_members_among(conn, &source_members)?.into_iter().collect(),
        })
    }

    /// The cultivar of this id, where it was asked for and is there.
    pub fn cultivar(&self, id: CultivarId) -> Option<&CultivarName> {
        self.cultivars.get(&id)
    }

    /// Notes each reference to what is not there.
    pub fn check(&self, references: &References, found: &mut Findings) {
        let References { cultivar, region, source_plant, source_member } = references;
        if cultivar.is_some_and(|id| !self.cultivars.contains_key(&id)) {
            found.add("/cultivar_id", "not-found", "is not a cultivar of the society's list");
        }
        if region.is_some_and(|id| !self.regions.contains(&id)) {
            found.add("/region_id", "not-found", "is not a region of this society");
        }
        if source_plant.is_some_and(|id| !self.source_plants.contains(&id)) {
            found.add("/source_plant_id", "not-found", "is not a plant that you may see");
        }
        if source_member.is_some_and(|id| !self.source_members.contains(&id)) {
            found.add("/source_member_id", "not-found", "is not a member of this society");
        }
    }
}

/// Notes a plant that others could see, of a cultivar that its owner has not released to the society: it would
/// tell of it.
pub fn no_wider(visibility: Visibility, cultivar: &CultivarName, found: &mut Findings) {
    if cultivar.visibility != Visibility::Society && visibility != Visibility::Private {
        found.add(
            "/visibility",
            "wider-than-cultivar",
            "must be `private` while the cultivar is not released to the society",
        );
    }
}

/// Notes where a plant would become its own source. `sources` holds the sources that are about to change,
/// the plant's own among them.
pub fn no_ring(
    conn: &mut Conn,
    plant: PlantId,
    sources: &HashMap<PlantId, Option<PlantId>>,
    found: &mut Findings,
) -> Result<(), Problem> {
    let mut passed = HashSet::from([plant]);
    let mut at = plant;
    loop {
        let source = match sources.get(&at) {
            Some(source) => *source,
            None => plants::source_of(conn, at)?,
        };
        match source {
            None => return Ok(()),
            Some(source) if source == plant => {
                found.add("/source_plant_id", "own-source", "would make the plant its own source");
                return Ok(());
            }
            // A ring that the plant is not in is another plant's finding.
            Some(source) if !passed.insert(source) => return Ok(()),
            Some(source) => at = source,
        }
    }
}
