//! Trophies and awards as they are taken and sent.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use storksbill_db::rows::trophies::{Award, Trophy};
use storksbill_domain::day::{Day, Year};
use storksbill_domain::ids::{ClubId, MemberId, ShowId, TrophyAwardId, TrophyId};
use storksbill_domain::policy::Actor;
use utoipa::ToSchema;

use crate::http::json::{Check, Findings};
use crate::http::patch::Patch;

/// The first year of an award that is taken.
const FIRST_YEAR: i32 = 1800;
/// The last.
const LAST_YEAR: i32 = 2200;

/// A trophy to enter.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TrophyIn {
    /// What schedules know it by from year to year, 1 to 60 characters, unlike that of any other of the club.
    pub key: String,
    /// As printed, 2 to 120 characters.
    pub title: String,
    /// Who gave it, what is engraved on it, up to 1,000 characters.
    #[serde(default)]
    pub notes: Option<String>,
}

impl Check for TrophyIn {
    fn check(&self, found: &mut Findings) {
        found.text("/key", &self.key, 1, 60);
        found.text("/title", &self.title, 2, 120);
        found.optional_text("/notes", self.notes.as_deref(), 1_000);
    }
}

/// Changes to a trophy. Its key stays: schedules refer to it.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TrophyPatch {
    /// As printed.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub title: Patch<String>,
    /// Who gave it, what is engraved on it.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub notes: Patch<String>,
}

impl Check for TrophyPatch {
    fn check(&self, found: &mut Findings) {
        match &self.title {
            Patch::Value(title) => found.text("/title", title, 2, 120),
            Patch::Null => found.add("/title", "required", "cannot be cleared"),
            Patch::Absent => {}
        }
        found.optional_text("/notes", self.notes.value().map(String::as_str), 1_000);
    }
}

/// A trophy, and where it is.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrophyOut {
    /// Identity.
    pub id: TrophyId,
    /// Whose.
    pub club_id: ClubId,
    /// What schedules know it by.
    pub key: String,
    /// As printed.
    pub title: String,
    /// Who gave it, what is engraved on it.
    pub notes: Option<String>,
    /// The awards of the last year in which it was won; several where it is shared.
    pub last_won: Vec<TrophyAwardOut>,
    /// The awards for which it was handed over and did not come back.
    pub out: Vec<TrophyAwardOut>,
    /// Whether one of those is past the day on which it is due back.
    pub is_overdue: bool,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl TrophyOut {
    /// With its awards, the latest first.
    pub(super) fn of(trophy: Trophy, awards: &[Award], asker: &Actor, today: NaiveDate) -> Self {
        let told =
            |award: &&Award| TrophyAwardOut::of((*award).clone(), sees_members(asker, trophy.club_id, award));
        let last = awards.first().map(|award| award.year);
        let out: Vec<&Award> = awards
            .iter()
            .filter(|award| award.handed_over_on.is_some() && award.returned_on.is_none())
            .collect();
        Self {
            last_won: awards
                .iter()
                .filter(|award| Some(award.year) == last)
                .map(|award| told(&award))
                .collect(),
            is_overdue: out.iter().any(|award| award.due_back_on.is_some_and(|due| due < today)),
            out: out.iter().map(told).collect(),
            id: trophy.id,
            club_id: trophy.club_id,
            key: trophy.trophy_key,
            title: trophy.title,
            notes: trophy.notes,
            version: trophy.version,
        }
    }
}

/// Whether the member behind an award is told: to officers of the club, and to the winner.
pub(super) fn sees_members(asker: &Actor, club: ClubId, award: &Award) -> bool {
    asker.acts_for(club) || award.member_id == Some(asker.member)
}

/// A trophy won in a year.
#[derive(Debug, Serialize, ToSchema)]
pub struct TrophyAwardOut {
    /// Identity.
    pub id: TrophyAwardId,
    /// Which trophy.
    pub trophy_id: TrophyId,
    /// At which show, where its results are here.
    pub show_id: Option<ShowId>,
    /// The year.
    pub year: i32,
    /// The member; told to officers of the club and to the winner.
    pub member_id: Option<MemberId>,
    /// As the winner chose to be published.
    pub name: String,
    /// When the winner signed for it.
    pub handed_over_on: Option<NaiveDate>,
    /// When it is wanted back.
    pub due_back_on: Option<NaiveDate>,
    /// When it came back.
    pub returned_on: Option<NaiveDate>,
    /// Counts up at each edit; also the `ETag`.
    pub version: i32,
}

impl TrophyAwardOut {
    pub(super) fn of(award: Award, with_member: bool) -> Self {
        Self {
            id: award.id,
            trophy_id: award.trophy_id,
            show_id: award.show_id,
            year: award.year,
            member_id: award.member_id.filter(|_| with_member),
            name: award.name,
            handed_over_on: award.handed_over_on,
            due_back_on: award.due_back_on,
            returned_on: award.returned_on,
            version: award.version,
        }
    }
}

/// A winner of a year whose results are not here.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TrophyAwardIn {
    /// The year, 1800 to 2200.
    pub year: Year,
    /// The member, where it is one: who won it too short a time ago is told by this.
    #[serde(default)]
    pub member_id: Option<MemberId>,
    /// As engraved, 2 to 120 characters.
    pub name: String,
    /// When the winner signed for it.
    #[serde(default)]
    pub handed_over_on: Option<Day>,
    /// When it is wanted back.
    #[serde(default)]
    pub due_back_on: Option<Day>,
    /// When it came back.
    #[serde(default)]
    pub returned_on: Option<Day>,
}

impl Check for TrophyAwardIn {
    fn check(&self, found: &mut Findings) {
        found.range("/year", *self.year, FIRST_YEAR, LAST_YEAR);
        found.text("/name", &self.name, 2, 120);
        let day = |day: Option<Day>| day.map(NaiveDate::from);
        in_order(found, day(self.handed_over_on), day(self.due_back_on), day(self.returned_on));
    }
}

/// Changes to an award: what is not given stays, null clears.
#[derive(Debug, Clone, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct TrophyAwardPatch {
    /// As engraved.
    #[serde(default)]
    #[schema(value_type = Option<String>)]
    pub name: Patch<String>,
    /// The member, where it is one.
    #[serde(default)]
    #[schema(value_type = Option<MemberId>)]
    pub member_id: Patch<MemberId>,
    /// When the winner signed for it.
    #[serde(default)]
    #[schema(value_type = Option<Day>)]
    pub handed_over_on: Patch<Day>,
    /// When it is wanted back.
    #[serde(default)]
    #[schema(value_type = Option<Day>)]
    pub due_back_on: Patch<Day>,
    /// When it came back.
    #[serde(default)]
    #[schema(value_type = Option<Day>)]
    pub returned_on: Patch<Day>,
}

impl Check for TrophyAwardPatch {
    fn check(&self, found: &mut Findings) {
        match &self.name {
            Patch::Value(name) => found.text("/name", name, 2, 120),
            Patch::Null => found.add("/name", "required", "cannot be cleared"),
            Patch::Absent => {}
        }
    }
}

/// A trophy is handed over before it is due back and before it comes back.
pub(super) fn in_order(
    found: &mut Findings,
    handed_over: Option<NaiveDate>,
    due_back: Option<NaiveDate>,
    returned: Option<NaiveDate>,
) {
    for (pointer, day) in [("/due_back_on", due_back), ("/returned_on", returned)] {
        match (handed_over, day) {
            (Some(handed), Some(day)) if day < handed => {
                found.add(pointer, "out-of-order", format!("is before {handed}, when it was handed over"));
            }
            (None, Some(_)) => found.add(
                pointer,
                "out-of-order",
                "is given though it was not handed over; set `handed_over_on` too",
            ),
            _ => {}
        }
    }
}
