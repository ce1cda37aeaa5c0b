//! What is taken and sent.

use std::collections::BTreeSet;

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::rows::swap_terms::{NamedRefusal, Terms, USUAL_MOST};
use storksbill_db::rows::swaps::{NamedOffer, NamedWant};
use storksbill_domain::ids::{CultivarId, MemberId, OfferId, PlantId, WantId};
use storksbill_domain::words::{Listing, PlantGroup, WantForm};
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

const MOST_CUTTINGS: i32 = 1000;
const LAST_RANK: i32 = 100;
const LONGEST_NOTE: usize = 1000;
/// Fewest and most cultivars of a want of any of several; the schema has the most too.
const ANY_OF: std::ops::RangeInclusive<usize> = 2..=50;

/// Cuttings to offer.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OfferIn {
    /// The cultivar; not needed where you name one of your plants.
    #[serde(default)]
    pub cultivar_id: Option<CultivarId>,
    /// The plant of yours they will be taken from; it says which cultivar they are.
    #[serde(default)]
    pub plant_id: Option<PlantId>,
    /// How many cuttings, 1 to 1000.
    pub how_many: i32,
    /// Anything the receiver should know; every member can read it.
    #[serde(default)]
    pub note: Option<String>,
    /// "I looked it over today and saw no pest or disease." An offer that was not declared healthy within the
    /// last 30 days takes part in no round.
    #[serde(default)]
    pub healthy: bool,
    /// Given freely: such cuttings start chains and ask for nothing back. False when not given.
    #[serde(default)]
    pub gift: bool,
}

impl Check for OfferIn {
    fn check(&self, found: &mut Findings) {
        match (self.cultivar_id, self.plant_id) {
            (None, None) => found.add("/cultivar_id", "required", "name a cultivar, or a plant of yours"),
            (Some(_), Some(_)) => {
                found.add(
                    "/cultivar_id",
                    "not-both",
                    "the plant says which cultivar it is; give one of the two",
                );
            }
            _ => {}
        }
        found.range("/how_many", self.how_many, 1, MOST_CUTTINGS);
        found.optional_text("/note", self.note.as_deref(), LONGEST_NOTE);
    }
}

/// Changes to an offer.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct OfferPatch {
    /// How many cuttings in all, 1 to 1000, those promised already among them.
    #[serde(default)]
    #[schema(value_type = Option<i32>)]
    pub how_many: Patch<i32>,
    /// Anything the receiver should know.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub note: Patch<String>,
    /// True: "I looked it over today and saw no pest or disease." False takes the declaration back.
    #[serde(default)]
    #[schema(value_type = Option<bool>)]
    pub healthy: Patch<bool>,
}

impl Check for OfferPatch {
    fn check(&self, found: &mut Findings) {
        match &self.how_many {
            Patch::Value(how_many) => found.range("/how_many", *how_many, 1, MOST_CUTTINGS),
            Patch::Null => found.add("/how_many", "required", "cannot be cleared"),
            Patch::Absent => {}
        }
        if self.healthy == Patch::Null {
            found.add("/healthy", "required", "cannot be cleared; say true or false");
        }
        found.optional_text("/note", self.note.value().map(String::as_str), LONGEST_NOTE);
    }
}

/// Cuttings that a member offers.
#[derive(Debug, Serialize, ToSchema)]
pub struct OfferOut {
    /// Identity.
    pub id: OfferId,
    /// Who offers.
    pub member_id: MemberId,
    /// Who offers, by name.
    pub member_name: String,
    /// What.
    pub cultivar_id: CultivarId,
    /// What, by name.
    pub cultivar_name: String,
    /// The plant they will be taken from; told to its grower alone.
    pub plant_id: Option<PlantId>,
    /// Given freely: such cuttings start chains and ask for nothing back.
    pub gift: bool,
    /// Cuttings offered in all.
    pub how_many: i32,
    /// Of these, cuttings in rings that are proposed or accepted.
    pub promised: i32,
    /// The rest: what the next round can draw on.
    pub free: i32,
    /// The member's words.
    pub note: Option<String>,
    /// The day its grower last looked the plant over and declared it healthy; null where that was not done.
    /// Where it is 30 days old or not there, the offer takes part in no round.
    pub health_declared_on: Option<NaiveDate>,
    /// `open`, `withdrawn`, or `fulfilled` once every cutting is promised for good.
    pub listing: Listing,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Counts up at each edit and each promise; also the `ETag`.
    pub version: i32,
}

impl OfferOut {
    pub(super) fn of(named: NamedOffer, asker: MemberId) -> Self {
        let NamedOffer { offer, cultivar_name, member_name, cultivar_key: _ } = named;
        Self {
            id: offer.id,
            member_id: offer.member_id,
            member_name,
            cultivar_id: offer.cultivar_id,
            cultivar_name,
            plant_id: offer.plant_id.filter(|_| offer.member_id == asker),
            gift: offer.gift,
            how_many: offer.how_many,
            promised: offer.promised,
            free: offer.free(),
            note: offer.note,
            health_declared_on: offer.health_declared_on,
            listing: offer.listing,
            created_at: offer.created_at.and_utc(),
            version: offer.version,
        }
    }
}

/// A want: one cutting of one cultivar, of any one of several, or of any cultivar of a group. Name exactly one
/// of the three.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WantIn {
    /// The one cultivar.
    #[serde(default)]
    pub cultivar_id: Option<CultivarId>,
    /// 2 to 50 cultivars of which any one will do, the dearest first. Those that you offer yourself are passed
    /// over.
    #[serde(default)]
    #[schema(min_items = 2, max_items = 50)]
    pub any_of: Option<Vec<CultivarId>>,
    /// Any cultivar of this group that you neither hold nor offer.
    #[serde(default)]
    pub plant_group: Option<PlantGroup>,
    /// 1 for the dearest wish, up to 100; several wants may share a rank.
    pub rank: i32,
    /// Your own reminder; nobody else reads it.
    #[serde(default)]
    pub note: Option<String>,
}

impl Check for WantIn {
    fn check(&self, found: &mut Findings) {
        let given: Vec<&str> = [
            (self.cultivar_id.is_some(), "/cultivar_id"),
            (self.any_of.is_some(), "/any_of"),
            (self.plant_group.is_some(), "/plant_group"),
        ]
        .into_iter()
        .filter_map(|(given, pointer)| given.then_some(pointer))
        .collect();
        if given.is_empty() {
            found.add("/cultivar_id", "required", "name a cultivar, several in any_of, or a plant_group");
        }
        for pointer in given.iter().skip(1) {
            found.add(pointer, "not-both", "give one of cultivar_id, any_of and plant_group");
        }
        if let Some(any_of) = &self.any_of {
            if !ANY_OF.contains(&any_of.len()) {
                found.add("/any_of", "out-of-range", "takes 2 to 50 cultivars");
            }
            let mut met = BTreeSet::new();
            for (at, cultivar) in any_of.iter().enumerate() {
                if !met.insert(cultivar) {
                    found.add(&format!("/any_of/{at}"), "repeated", "is named before; each cultivar once");
                }
            }
        }
        found.range("/rank", self.rank, 1, LAST_RANK);
        found.optional_text("/note", self.note.as_deref(), LONGEST_NOTE);
    }
}

/// Changes to a want.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct WantPatch {
    /// 1 for the dearest wish, up to 100.
    #[serde(default)]
    #[schema(value_type = Option<i32>)]
    pub rank: Patch<i32>,
    /// Your own reminder.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub note: Patch<String>,
}

impl Check for WantPatch {
    fn check(&self, found: &mut Findings) {
        match &self.rank {
            Patch::Value(rank) => found.range("/rank", *rank, 1, LAST_RANK),
            Patch::Null => found.add("/rank", "required", "cannot be cleared"),
            Patch::Absent => {}
        }
        found.optional_text("/note", self.note.value().map(String::as_str), LONGEST_NOTE);
    }
}

/// A cultivar that would meet a want.
#[derive(Debug, Serialize, ToSchema)]
pub struct ChoiceOut {
    /// What.
    pub cultivar_id: CultivarId,
    /// What, by name.
    pub cultivar_name: String,
}

/// One cutting that you want.
#[derive(Debug, Serialize, ToSchema)]
pub struct WantOut {
    /// Identity.
    pub id: WantId,
    /// Whether it names one cultivar, several, or a group.
    pub form: WantForm,
    /// What, where it names one cultivar.
    pub cultivar_id: Option<CultivarId>,
    /// The same by name.
    pub cultivar_name: Option<String>,
    /// The cultivars of which any will do, the dearest first; empty in the other forms.
    pub any_of: Vec<ChoiceOut>,
    /// The group of which any cultivar will do; null in the other forms.
    pub plant_group: Option<PlantGroup>,
    /// 1 for the dearest wish.
    pub rank: i32,
    /// Whether it stands in a ring that is proposed or accepted.
    pub promised: bool,
    /// Your own reminder.
    pub note: Option<String>,
    /// `open`, `withdrawn`, or `fulfilled` once its ring is accepted.
    pub listing: Listing,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Counts up at each edit and each promise; also the `ETag`.
    pub version: i32,
}

impl WantOut {
    pub(super) fn of(NamedWant { want, mut cultivars }: NamedWant) -> Self {
        let one = if want.form == WantForm::Cultivar { cultivars.pop() } else { None };
        let any_of = cultivars
            .into_iter()
            .map(|(cultivar_id, cultivar_name)| ChoiceOut { cultivar_id, cultivar_name })
            .collect();
        Self {
            id: want.id,
            form: want.form,
            cultivar_id: want.cultivar_id,
            cultivar_name: one.map(|(_, name)| name),
            any_of,
            plant_group: want.plant_group,
            rank: want.want_rank,
            promised: want.promised,
            note: want.note,
            listing: want.listing,
            created_at: want.created_at.and_utc(),
            version: want.version,
        }
    }
}

/// What you are ready to do in one round of the swap.
#[derive(Debug, Clone, Copy, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TermsIn {
    /// Cuttings you give at most in one round, 0 to 50; 5 when not given.
    #[serde(default = "usual_most")]
    #[schema(minimum = 0, maximum = 50)]
    pub give_most: i32,
    /// Cuttings you receive at most in one round, 0 to 50; 5 when not given.
    #[serde(default = "usual_most")]
    #[schema(minimum = 0, maximum = 50)]
    pub receive_most: i32,
    /// Whether you are ready to post and to receive by post; otherwise you swap in person alone. Posting plants can
    /// need a plant passport: ask what the plant-health rules of the place say.
    #[serde(default)]
    pub by_post: bool,
    /// How far away a partner may grow, 1 to 2,000 km; however far when not given.
    #[serde(default)]
    #[schema(minimum = 1, maximum = 2000)]
    pub within_km: Option<i32>,
}

fn usual_most() -> i32 {
    USUAL_MOST
}

impl Check for TermsIn {
    fn check(&self, found: &mut Findings) {
        found.range("/give_most", self.give_most, 0, 50);
        found.range("/receive_most", self.receive_most, 0, 50);
        if let Some(km) = self.within_km {
            found.range("/within_km", km, 1, 2000);
        }
    }
}

/// What you are ready to do in one round of the swap.
#[derive(Debug, Serialize, ToSchema)]
pub struct TermsOut {
    /// Cuttings you give at most in one round.
    pub give_most: i32,
    /// Cuttings you receive at most in one round.
    pub receive_most: i32,
    /// Whether you are ready to post and to receive by post; in person alone otherwise.
    pub by_post: bool,
    /// How far away a partner may grow, kilometres; null for however far.
    pub within_km: Option<i32>,
    /// Counts up at each edit, and is the `ETag`; 0, without one, while you have set nothing and the usual terms
    /// hold.
    pub version: i32,
}

impl TermsOut {
    pub(super) fn of(terms: &Terms) -> Self {
        Self {
            give_most: terms.give_most,
            receive_most: terms.receive_most,
            by_post: terms.by_post,
            within_km: terms.within_km,
            version: terms.version,
        }
    }
}

/// Somebody with whom you do not want to swap. Nobody but you is told.
#[derive(Debug, Serialize, ToSchema)]
pub struct RefusalOut {
    /// The other member.
    pub member_id: MemberId,
    /// The other member, by name.
    pub member_name: String,
    /// Since when.
    pub since: DateTime<Utc>,
}

impl RefusalOut {
    pub(super) fn of(named: NamedRefusal) -> Self {
        Self {
            member_id: named.refusal.other_id,
            member_name: named.other_name,
            since: named.refusal.created_at.and_utc(),
        }
    }
}
