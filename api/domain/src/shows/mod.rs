//! Shows: what classes demand, whether an exhibit may be entered, and what comes of the judging.
//!
//! * [`ClassLabel`]: the printed number of a class and its order. Dates and closing: [`instant`], [`Period`].
//! * [`ClassRules`]: what a class demands, as data; lengths in whole [`Micrometres`], money in whole [`Pence`].
//! * [`eligibility()`]: may this exhibitor enter this exhibit in this class? Every reason at once;
//!   [`find_classes`] asks it of every plant and class.
//! * [`ShowSchedule`]: a whole schedule. [`before_publishing`] finds its slips, [`schedule_changes`] tells two versions
//!   apart, [`ShowSchedule::canonical`] is the text to hash.
//! * [`EntryNumbers`]: numbers that tell neither who entered nor when.
//! * [`conflicts()`]: interests that judges and stewards may not have.
//! * [`show_results`]: from judgments to places, points, prize money and trophies, with the working.
//!
//! The vocabulary follows printed schedules of British and North American societies; where a figure comes from one
//! source, it stands beside the figure.

mod asked_in_words;
mod canonical;
mod changes;
mod class;
mod codes;
mod conflicts;
mod dates;
mod eligibility;
mod entry_number;
mod facts;
mod fitting;
mod label;
mod level;
mod measure;
mod points;
mod pot_bands;
mod printed;
mod publishing;
mod reason;
mod result_check;
mod results;
mod schedule;
mod shielding;
mod sound_class;
mod trophies;
mod trophy_working;
mod wording;
mod words;

pub use canonical::canonical_json;
pub use changes::{ChangedThing, ScheduleChange, concerned_classes, schedule_changes};
pub use class::{
    AgeRule, ClassRules, ClassSlot, Distinctness, EntrantRule, EntryFee, EntryLimit, HeightLimit, Holding,
    JudgingScale, ScaleCriterion, ScheduleClass, SeedlingRule, TaxonFilter,
};
pub use codes::{Answer, Bearing, ConflictCode, FindingWeight, ReasonCode, ResultCode, ScheduleCode};
pub use conflicts::{ConflictFinding, EntryOwners, JudgeRules, ShowJudge, ShowSteward, conflicts};
pub use dates::{
    NoSuchMoment, Period, ProtestsUntil, age_on, in_time, instant, protests_close, season_start,
};
pub use eligibility::{Eligibility, FoundClass, eligibility, find_classes, staged_fit};
pub use entry_number::{EntryNumber, EntryNumbers, NotAnEntryNumber, check_character};
pub use facts::{EnteredExhibit, Exhibit, ExhibitItem, ExhibitorFacts, PlantFacts, PlantHeight, ShowFacts};
pub use label::{ClassLabel, NotAClassLabel};
pub use level::{CountedResults, HistoryCondition, LevelJudgement, LevelRule, LevelStanding, PastResult};
pub use measure::{Against, Bound, Micrometres, NotALength, Pence, SizeLimit, lengths_in};
pub use points::{CommendationPoints, Equals, Points, PointsScheme, ResultRules, SizeStep, ThinClass};
pub use printed::{PrintedNames, named_cultivars, printed_rules};
pub use publishing::{LastClass, PublishingFacts, ScheduleFinding, before_publishing, may_publish};
pub use reason::{Reason, ReasonTold, SeedlingPoint, Why};
pub use result_check::ResultFinding;
pub use results::{
    ClassJudgment, ClassResult, ExhibitorNumber, ExhibitorTally, JudgedExhibit, ResultLine, ShowDay,
    ShowExhibitor, ShowResults, ShownExhibit, Verdict, in_the_running, past_results, show_results,
};
pub use schedule::{ClassSet, LabelRange, ShowSchedule, ShowSection, ShowTrophy, TrophyAward};
pub use shielding::Shielded;
pub use trophy_working::{
    JudgesChoice, OutOfRunning, PastWinner, TieStep, TieValue, TrophyChoice, TrophyOutcome, TrophyPart,
    TrophyResult, TrophyScore,
};
pub use words::{
    AsOf, Commendation, ExhibitUnit, FlowerRule, HouseholdRule, Measure, MeasuredFrom, MeasuredTo,
    NamingRule, NextPlace, OddPence, Reach, TieBreak, TiedShare,
};
