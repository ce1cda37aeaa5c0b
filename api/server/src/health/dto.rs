//! What is taken and sent.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::health::{NamedHold, Traced};
use storksbill_domain::ids::{CultivarId, HandOverId, HoldId, MemberId, PlantId};
use utoipa::ToSchema;

use super::CAUTION;
use crate::http::json::{Check, Findings};
use crate::notices::check_words;

const LONGEST: usize = 1000;

/// A hold to place.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HoldIn {
    /// The plant to hold: one of yours, or to an officer anybody's.
    #[serde(default)]
    pub plant_id: Option<PlantId>,
    /// For officers: hold every plant of this member. Where neither is given, all your own plants are held.
    #[serde(default)]
    pub member_id: Option<MemberId>,
    /// Why, 1 to 1,000 characters. Its grower and officers read it; leave e-mail addresses out.
    pub reason: String,
}

impl Check for HoldIn {
    fn check(&self, found: &mut Findings) {
        if self.plant_id.is_some() && self.member_id.is_some() {
            found.add("/member_id", "not-both", "the plant says whose it is; give one of the two");
        }
        check_words(found, "/reason", &self.reason, LONGEST);
    }
}

/// Lifting a hold.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LiftIn {
    /// What was found, up to 1,000 characters.
    #[serde(default)]
    pub note: Option<String>,
}

impl Check for LiftIn {
    fn check(&self, found: &mut Findings) {
        found.optional_text("/note", self.note.as_deref(), LONGEST);
    }
}

/// A hold on a plant, or on every plant of a member.
#[derive(Debug, Serialize, ToSchema)]
pub struct HoldOut {
    /// Identity.
    pub id: HoldId,
    /// Whose plants.
    pub member_id: MemberId,
    /// Whose plants, by name.
    pub member_name: String,
    /// Which plant; null for every plant of the member.
    pub plant_id: Option<PlantId>,
    /// The plant's label.
    pub plant_label: Option<String>,
    /// The plant's cultivar.
    pub cultivar_name: Option<String>,
    /// Why.
    pub reason: String,
    /// Who placed it.
    pub placed_by: MemberId,
    /// When.
    pub placed_at: DateTime<Utc>,
    /// Who lifted it; null while it is in force.
    pub lifted_by: Option<MemberId>,
    /// When.
    pub lifted_at: Option<DateTime<Utc>>,
    /// What was said when it was lifted.
    pub lift_note: Option<String>,
}

impl HoldOut {
    pub(super) fn of(named: NamedHold) -> Self {
        let NamedHold { hold, member_name, plant_label, cultivar_name } = named;
        Self {
            id: hold.id,
            member_id: hold.member_id,
            member_name,
            plant_id: hold.plant_id,
            plant_label,
            cultivar_name,
            reason: hold.reason,
            placed_by: hold.placed_by,
            placed_at: hold.placed_at.and_utc(),
            lifted_by: hold.lifted_by,
            lifted_at: hold.lifted_at.map(|moment| moment.and_utc()),
            lift_note: hold.lift_note,
        }
    }
}

/// A plant of the line, or a cutting of one that was promised to somebody.
#[derive(Debug, Serialize, ToSchema)]
pub struct TracedOut {
    /// Steps from the plant where the line starts, which has 0.
    pub depth: i32,
    /// The plant; null for a cutting of an accepted ring.
    pub plant_id: Option<PlantId>,
    /// The plant it was taken from; null at the start, and where you may not see that plant.
    pub from_plant_id: Option<PlantId>,
    /// The hand-over, for a cutting of an accepted ring.
    pub hand_over_id: Option<HandOverId>,
    /// Who grows the plant, or receives the cutting.
    pub member_id: MemberId,
    /// The same by name.
    pub member_name: String,
    /// What it is.
    pub cultivar_id: CultivarId,
    /// What it is, by name.
    pub cultivar_name: String,
    /// The day the plant was got, where its grower said.
    pub got_on: Option<NaiveDate>,
    /// When everybody had accepted the ring of the cutting.
    pub accepted_at: Option<DateTime<Utc>>,
}

/// Where the cuttings of a plant went.
#[derive(Debug, Serialize, ToSchema)]
pub struct TraceOut {
    /// The plant asked for.
    pub plant_id: PlantId,
    /// The plant where the line starts: the one asked for, or with `sources` the oldest it came from; null where
    /// you may not see that one.
    pub origin_plant_id: Option<PlantId>,
    /// Growers in the line, the first among them; those whose plants you may not see are counted too.
    pub growers: usize,
    /// The plants and cuttings of the line, by depth.
    pub line: Vec<TracedOut>,
    /// Plants of the line that you may not see.
    pub hidden: usize,
    /// Whether the line is longer than the 10,000 rows that are looked at.
    pub cut_short: bool,
    /// What to do first, and who decides.
    pub caution: &'static str,
}

impl TraceOut {
    /// The line as somebody may see it who sees just these plants; `None` sees all.
    pub(super) fn of(
        plant_id: PlantId,
        origin: PlantId,
        rows: Vec<Traced>,
        visible: Option<&BTreeSet<PlantId>>,
        cut_short: bool,
    ) -> Self {
        let may_see = |plant: PlantId| visible.is_none_or(|visible| visible.contains(&plant));
        let growers: BTreeSet<MemberId> = rows.iter().map(|row| row.member_id).collect();
        let total = rows.len();
        let line: Vec<TracedOut> = rows
            .into_iter()
            .filter(|row| row.plant_id.is_none_or(may_see))
            .map(|row| TracedOut {
                depth: row.depth,
                plant_id: row.plant_id,
                from_plant_id: row.from_plant_id.filter(|plant| may_see(*plant)),
                hand_over_id: row.hand_over_id,
                member_id: row.member_id,
                member_name: row.member_name,
                cultivar_id: row.cultivar_id,
                cultivar_name: row.cultivar_name,
                got_on: row.got_on,
                accepted_at: row.accepted_at.map(|moment| moment.and_utc()),
            })
            .collect();
        Self {
            plant_id,
            origin_plant_id: Some(origin).filter(|plant| may_see(*plant)),
            growers: growers.len(),
            hidden: total - line.len(),
            line,
            cut_short,
            caution: CAUTION,
        }
    }
}

/// What was seen on a plant.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct HealthNoticeIn {
    /// What was seen, 1 to 1,000 characters. Other members are told; leave e-mail addresses out.
    pub what: String,
    /// What they should do, up to 1,000 characters.
    #[serde(default)]
    pub advice: Option<String>,
}

impl Check for HealthNoticeIn {
    fn check(&self, found: &mut Findings) {
        check_words(found, "/what", &self.what, LONGEST);
        if let Some(advice) = &self.advice {
            check_words(found, "/advice", advice, LONGEST);
        }
    }
}

/// What a health notice came to.
#[derive(Debug, Serialize, ToSchema)]
pub struct HealthNoticeOut {
    /// The hold on the plant.
    pub hold_id: HoldId,
    /// Growers who were told, each of their own plants.
    pub told: usize,
    /// Growers in the line who are not active members any more, and so were not told; officers may know where they
    /// are.
    pub not_told: usize,
    /// What to do first, and who decides.
    pub caution: &'static str,
}

/// The rows of each grower but `own`, in the order of their ids.
pub(super) fn by_grower(rows: &[Traced], own: MemberId) -> BTreeMap<MemberId, Vec<&Traced>> {
    let mut growers: BTreeMap<MemberId, Vec<&Traced>> = BTreeMap::new();
    for row in rows.iter().filter(|row| row.member_id != own) {
        growers.entry(row.member_id).or_default().push(row);
    }
    growers
}
