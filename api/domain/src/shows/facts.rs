//! What is known of a show, an exhibitor and their plants when eligibility is asked. `None` is "not known".

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use super::level::PastResult;
use super::measure::Micrometres;
use super::words::{MeasuredFrom, MeasuredTo, Reach};
use crate::ids::{ClassId, CultivarId, PlantId};
use crate::words::{GrowthForm, PlantGroup};

/// The show, and the moment of asking.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShowFacts {
    /// The day of the show.
    pub held_on: NaiveDate,
    /// The first day of the season that the show belongs to.
    pub season_start: NaiveDate,
    /// Entries are taken from this moment on.
    pub opens_at: Option<DateTime<Utc>>,
    /// Entries are taken up to this moment and at it.
    pub closes_at: DateTime<Utc>,
    /// When the server received what is asked; never the asker's own clock.
    pub asked_at: DateTime<Utc>,
    /// The clock that the show goes by.
    pub zone: Tz,
    /// An officer takes this entry after closing, with a reason that the caller keeps.
    pub late_taken: bool,
    /// Given way at each end of every limit on size; 0 unless the show says otherwise.
    pub tolerance: Micrometres,
}

/// The exhibitor.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
#[allow(clippy::struct_excessive_bools, reason = "each is one fact")]
pub struct ExhibitorFacts {
    /// A member of the society.
    pub is_member: bool,
    /// Grows for the trade.
    pub in_the_trade: bool,
    /// Enters in joint names.
    pub is_joint: bool,
    /// Born on.
    pub born_on: Option<NaiveDate>,
    /// Past results, declared ones of other shows among them.
    pub history: Vec<PastResult>,
    /// The exhibitor has declared the results at other shows, or that there are none.
    pub outside_declared: bool,
    /// Classes of this show that the exhibitor judges.
    pub judges: Vec<ClassId>,
    /// What the exhibitor and their household have entered in this show. An entry that is being changed is left out.
    pub entered: Vec<EnteredExhibit>,
}

/// An exhibit entered already.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EnteredExhibit {
    /// Where.
    pub class: ClassId,
    /// Whether it is the exhibitor's own; another's of the household otherwise.
    pub own: bool,
    /// The plants that stand in it whole, and how many of each. What is cut from plants is left out.
    pub whole_plants: Vec<(PlantId, u32)>,
    /// The cultivars in it.
    pub cultivars: Vec<CultivarId>,
}

/// A height, and how it was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlantHeight {
    /// How high.
    pub um: Micrometres,
    /// From where.
    pub measured_from: MeasuredFrom,
    /// To where.
    pub measured_to: MeasuredTo,
}

/// A plant, or several of one batch.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlantFacts {
    /// Which.
    pub plant: PlantId,
    /// Of which cultivar.
    pub cultivar: CultivarId,
    /// How many there are.
    pub quantity: u32,
    /// The cultivar's group in the register.
    pub group: Option<PlantGroup>,
    /// The year in which the cultivar was introduced.
    pub introduced: Option<i32>,
    /// The year in which it was raised: it was introduced then or later.
    pub raised: Option<i32>,
    /// Whether a name can be put on the card: the cultivar's, or a seedling's number.
    pub has_name: bool,
    /// Grown to this form.
    pub form: Option<GrowthForm>,
    /// Held since this day.
    pub held_since: Option<NaiveDate>,
    /// Raised from seed by the exhibitor.
    pub from_own_seed: bool,
    /// Internal diameter of the pot at the rim.
    pub pot: Option<Micrometres>,
    /// Heights, each measured its own way.
    pub heights: Vec<PlantHeight>,
    /// Clear stem.
    pub clear_stem: Option<Micrometres>,
    /// Diameter of the basket.
    pub basket: Option<Micrometres>,
    /// Diameter of the bloom.
    pub bloom: Option<Micrometres>,
    /// Whether it is expected to be in flower on the day of the show.
    pub in_flower: Option<bool>,
    /// Whether the exhibitor raised the cultivar.
    pub raised_by_exhibitor: Option<bool>,
    /// Whether the cultivar has a name.
    pub is_named: Option<bool>,
    /// Whether the cultivar is in commerce.
    pub is_introduced: Option<bool>,
    /// Whether it was shown before.
    pub was_shown: Option<bool>,
    /// Where it took firsts.
    pub firsts: Option<Vec<Reach>>,
}

impl PlantFacts {
    /// One plant of a cultivar, of which nothing more is known.
    pub fn unknown(plant: PlantId, cultivar: CultivarId) -> Self {
        Self {
            plant,
            cultivar,
            quantity: 1,
            group: None,
            introduced: None,
            raised: None,
            has_name: true,
            form: None,
            held_since: None,
            from_own_seed: false,
            pot: None,
            heights: Vec::new(),
            clear_stem: None,
            basket: None,
            bloom: None,
            in_flower: None,
            raised_by_exhibitor: None,
            is_named: None,
            is_introduced: None,
            was_shown: None,
            firsts: None,
        }
    }
}

/// Units of one plant in an exhibit: plants of a batch, or stems or blooms cut from it.
#[derive(Debug, Clone, Copy)]
pub struct ExhibitItem<'a> {
    /// The plant.
    pub plant: &'a PlantFacts,
    /// How many units.
    pub count: u32,
}

/// What eligibility is asked of.
#[derive(Debug, Clone, Copy)]
pub enum Exhibit<'a> {
    /// One plant on the look-out for classes: what else an exhibit needs is left open.
    Plant(&'a PlantFacts),
    /// A whole exhibit to enter: its counts must be exact.
    Whole(&'a [ExhibitItem<'a>]),
}
