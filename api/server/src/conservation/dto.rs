//! What is taken and sent.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::conservation::{Counted, Rare};
use storksbill_domain::ids::CultivarId;
use storksbill_domain::words::PlantGroup;
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::notices::check_words;

/// A rare cultivar: named, and held by one or two members.
#[derive(Debug, Serialize, ToSchema)]
pub struct RareOut {
    /// Which.
    pub cultivar_id: CultivarId,
    /// Its name.
    pub cultivar_name: String,
    /// Its group.
    pub plant_group: PlantGroup,
    /// Members who hold it, 1 or 2; private plants are not counted.
    pub holders: i64,
    /// Plants they hold; private plants are not counted.
    pub plants: i64,
    /// Whether you hold it, privately or not.
    pub held_by_you: bool,
    /// Whether the society's conservation list has it.
    pub on_conservation_list: bool,
}

impl RareOut {
    pub(super) fn of(rare: Rare) -> Self {
        Self {
            cultivar_id: rare.cultivar_id,
            cultivar_name: rare.cultivar_name,
            plant_group: rare.plant_group,
            holders: rare.holders,
            plants: rare.plants,
            held_by_you: rare.held_by_asker,
            on_conservation_list: rare.listed,
        }
    }
}

/// A cultivar to list for conservation.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ConservationIn {
    /// Why the society does not want to lose it, 1 to 1,000 characters. Everybody can read it; leave e-mail addresses
    /// out.
    pub reason: String,
    /// Holders at which it is no longer in danger, 1 to 1,000; 5 when not given.
    #[serde(default = "five")]
    #[schema(minimum = 1, maximum = 1000)]
    pub wanted_holders: i32,
}

fn five() -> i32 {
    5
}

impl Check for ConservationIn {
    fn check(&self, found: &mut Findings) {
        check_words(found, "/reason", &self.reason, 1000);
        found.range("/wanted_holders", self.wanted_holders, 1, 1000);
    }
}

/// A cultivar of the society's conservation list.
#[derive(Debug, Serialize, ToSchema)]
pub struct ConservationOut {
    /// Which.
    pub cultivar_id: CultivarId,
    /// Its name.
    pub cultivar_name: String,
    /// Its group.
    pub plant_group: PlantGroup,
    /// Why the society does not want to lose it.
    pub reason: String,
    /// Holders at which it is no longer in danger.
    pub wanted_holders: i32,
    /// Members who hold it now, private plants not counted; told to members alone, null to others.
    pub holders: Option<i64>,
    /// When it was listed.
    pub listed_at: DateTime<Utc>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl ConservationOut {
    pub(super) fn of(counted: Counted, to_member: bool) -> Self {
        Self {
            cultivar_id: counted.cultivar_id,
            cultivar_name: counted.cultivar_name,
            plant_group: counted.plant_group,
            reason: counted.reason,
            wanted_holders: counted.wanted_holders,
            holders: to_member.then_some(counted.holders),
            listed_at: counted.listed_at.and_utc(),
            version: counted.version,
        }
    }
}

/// Asking the holders of what is in danger to spread it; nothing to say.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NudgesIn {}

impl Check for NudgesIn {
    fn check(&self, _: &mut Findings) {}
}

/// Who was asked to spread what.
#[derive(Debug, Clone, Copy, Serialize, ToSchema)]
pub struct NudgesOut {
    /// Notices given: one a member and cultivar.
    pub notices: usize,
    /// Members who got any.
    pub members: usize,
    /// Cultivars they are about.
    pub cultivars: usize,
    /// Left out, since the member had one about that cultivar in the last 60 days.
    pub already_told: usize,
}
