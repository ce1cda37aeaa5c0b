//! From judgments to results: places, points and prize money, class by class and exhibitor by exhibitor.
//!
//! Results are a pure function of the schedule, what was staged and what was judged, so that anybody can reckon them
//! again. Exhibits are known by their entry numbers, exhibitors by their numbers at the show. Cost: linear in the
//! exhibits, and for each trophy linear in the exhibits of its classes.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::class::ScheduleClass;
use super::entry_number::EntryNumber;
use super::label::ClassLabel;
use super::level::PastResult;
use super::measure::Pence;
use super::points::{Equals, Points, PointsScheme, ResultRules};
use super::result_check::{ResultFinding, judgment_findings};
use super::schedule::{ClassSet, ShowSchedule};
use super::trophies::decide_trophies;
use super::trophy_working::{PastWinner, TrophyChoice, TrophyResult};
use super::words::{Commendation, Reach};
use crate::ids::ClassId;
use crate::words::PlantGroup;

/// An exhibitor's number at one show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, ToSchema)]
#[serde(transparent)]
pub struct ExhibitorNumber(pub u32);

/// An exhibit entered at the show. Withdrawn entries are left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShownExhibit {
    /// Its number.
    pub entry: EntryNumber,
    /// Where it stands now; moved exhibits stand where they were moved to.
    pub class: ClassId,
    /// Whose it is.
    pub exhibitor: ExhibitorNumber,
    /// Whether it was staged in time.
    pub staged: bool,
}

/// An exhibitor, as far as trophies ask.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShowExhibitor {
    /// The number at this show.
    pub number: ExhibitorNumber,
    /// A member of the society.
    pub is_member: bool,
    /// Past results, declared ones of other shows among them.
    pub history: Vec<PastResult>,
    /// Has declared the results at other shows.
    pub outside_declared: bool,
}

/// What a judge says of one exhibit.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// A place: 1 for first.
    Placed(u32),
    /// A commendation.
    Commended(Commendation),
    /// Not according to schedule; the reason is written on the card.
    NotAsSchedule {
        /// Why.
        reason: String,
    },
    /// Put out for another reason.
    Disqualified {
        /// Why.
        reason: String,
    },
}

/// One exhibit judged.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct JudgedExhibit {
    /// Which.
    pub entry: EntryNumber,
    /// What was said.
    pub verdict: Verdict,
}

/// What a judge says of one class. Exhibits that are not named have no place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassJudgment {
    /// Which.
    pub class: ClassId,
    /// The exhibits that something was said of.
    pub judged: Vec<JudgedExhibit>,
    /// Places that are shared on purpose; a place given twice without standing here is a slip.
    #[serde(default)]
    pub equal: Vec<u32>,
    /// Places withheld for want of merit or competition.
    #[serde(default)]
    pub withheld: Vec<u32>,
}

/// All that results follow from.
#[derive(Debug, Clone, Copy)]
pub struct ShowDay<'a> {
    /// The schedule in force.
    pub schedule: &'a ShowSchedule,
    /// The first day of the season that the show belongs to.
    pub season_start: NaiveDate,
    /// The exhibits.
    pub exhibits: &'a [ShownExhibit],
    /// The exhibitors; one who is not here is a guest without a past.
    pub exhibitors: &'a [ShowExhibitor],
    /// What was judged.
    pub judgments: &'a [ClassJudgment],
    /// What judges chose or decided for trophies.
    pub choices: &'a [TrophyChoice],
    /// Who won the trophies in years before.
    pub past_winners: &'a [PastWinner],
}

/// One exhibit in the results.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ResultLine {
    /// Its number.
    pub entry: EntryNumber,
    /// Whose it is.
    pub exhibitor: ExhibitorNumber,
    /// Whether it was staged.
    pub staged: bool,
    /// What was said of it.
    pub verdict: Option<Verdict>,
    /// How many share its place; 1 alone, 0 without a place.
    pub sharing: u32,
    /// Its points, if they carry.
    pub points: Points,
    /// Its prize.
    pub prize: Pence,
}

impl ResultLine {
    /// Its place, if it was staged and has one.
    pub fn place(&self) -> Option<u32> {
        match self.verdict {
            Some(Verdict::Placed(place)) if self.staged && place > 0 => Some(place),
            _ => None,
        }
    }

    /// Whether it was put out.
    pub fn is_put_out(&self) -> bool {
        matches!(self.verdict, Some(Verdict::NotAsSchedule { .. } | Verdict::Disqualified { .. }))
    }

    fn commended(&self) -> Option<Commendation> {
        match self.verdict {
            Some(Verdict::Commended(code)) if self.staged => Some(code),
            _ => None,
        }
    }
}

/// The result of one class.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ClassResult {
    /// Which.
    pub class: ClassId,
    /// Its number.
    pub label: ClassLabel,
    /// How many exhibits were staged, those put out among them.
    pub staged: u32,
    /// Its exhibits: by place, then commended, then the others by number.
    pub lines: Vec<ResultLine>,
    /// Places withheld.
    pub withheld: Vec<u32>,
    /// Pence that equals could not share and the society keeps; below nought what it adds.
    pub odd_pence: Pence,
}

/// What one exhibitor has from the show.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ExhibitorTally {
    /// Whose.
    pub exhibitor: ExhibitorNumber,
    /// Points of all classes, each by its own scheme.
    pub points: Points,
    /// Firsts.
    pub firsts: u32,
    /// Seconds.
    pub seconds: u32,
    /// Thirds.
    pub thirds: u32,
    /// Commendations.
    pub commended: u32,
    /// Exhibits staged.
    pub exhibits: u32,
    /// Prize money.
    pub prize: Pence,
}

/// The results of a show.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ShowResults {
    /// Class by class, in the order of their numbers.
    pub classes: Vec<ClassResult>,
    /// Exhibitor by exhibitor, by number.
    pub exhibitors: Vec<ExhibitorTally>,
    /// Trophy by trophy, in the order of the schedule, each with its working.
    pub trophies: Vec<TrophyResult>,
    /// What does not add up.
    pub findings: Vec<ResultFinding>,
}

/// The results of a show.
pub fn show_results(day: ShowDay<'_>) -> ShowResults {
    let mut findings = judgment_findings(day);
    let mut by_class: BTreeMap<ClassId, Vec<&ShownExhibit>> = BTreeMap::new();
    for exhibit in day.exhibits {
        by_class.entry(exhibit.class).or_default().push(exhibit);
    }
    let judged: BTreeMap<ClassId, &ClassJudgment> =
        day.judgments.iter().map(|judgment| (judgment.class, judgment)).collect();
    let mut ordered: Vec<&ScheduleClass> = day.schedule.classes.iter().collect();
    ordered.sort_by(|a, b| a.printed_order(b));
    let classes: Vec<ClassResult> = ordered
        .iter()
        .map(|class| {
            let exhibits = by_class.get(&class.id).map(Vec::as_slice).unwrap_or_default();
            class_result(day.schedule, class, exhibits, judged.get(&class.id).copied())
        })
        .collect();
    let trophies = decide_trophies(day, &ordered, &classes, &mut findings);
    ShowResults { exhibitors: tallies(&classes), classes, trophies, findings }
}

fn class_result(
    schedule: &ShowSchedule,
    class: &ScheduleClass,
    exhibits: &[&ShownExhibit],
    judgment: Option<&ClassJudgment>,
) -> ClassResult {
    let said: BTreeMap<EntryNumber, &Verdict> = judgment
        .map(|judgment| judgment.judged.iter().map(|judged| (judged.entry, &judged.verdict)).collect())
        .unwrap_or_default();
    let mut lines: Vec<ResultLine> = exhibits
        .iter()
        .map(|exhibit| ResultLine {
            entry: exhibit.entry,
            exhibitor: exhibit.exhibitor,
            staged: exhibit.staged,
            verdict: said.get(&exhibit.entry).map(|verdict| (*verdict).clone()),
            sharing: 0,
            points: Points::NOUGHT,
            prize: Pence(0),
        })
        .collect();
    lines.sort_by_key(|line| {
        (line.place().unwrap_or(u32::MAX), line.commended().is_none(), line.commended(), line.entry)
    });
    let staged = count(lines.iter().filter(|line| line.staged));
    let mut result = ClassResult {
        class: class.id,
        label: class.label.clone(),
        staged,
        lines,
        withheld: judgment.map(|judgment| judgment.withheld.clone()).unwrap_or_default(),
        odd_pence: Pence(0),
    };
    let scheme =
        class.rules.points.as_ref().and_then(|key| schedule.schemes.iter().find(|scheme| scheme.key == *key));
    let points = scheme.map(|scheme| points_by(scheme, &schedule.results, &result)).unwrap_or_default();
    let placings = placings(&result);
    for (line, points) in result.lines.iter_mut().zip(points) {
        line.points = points;
    }
    let mut last = None;
    for (line, equals) in result.lines.iter_mut().zip(placings) {
        let Some(equals) = equals else { continue };
        let (prize, odd) = schedule.results.prize(&class.rules.prizes, equals);
        (line.sharing, line.prize) = (equals.how_many, prize);
        if last != Some(equals.place) {
            result.odd_pence = result.odd_pence + odd;
            last = Some(equals.place);
        }
    }
    result
}

pub(super) fn count<T>(items: impl Iterator<Item = T>) -> u32 {
    u32::try_from(items.count()).unwrap_or(u32::MAX)
}

/// Where each line stands; lines are sorted by place.
fn placings(result: &ClassResult) -> Vec<Option<Equals>> {
    let mut placings = Vec::with_capacity(result.lines.len());
    let mut above = 0;
    for equals in result.lines.chunk_by(|a, b| a.place() == b.place()) {
        let how_many = count(equals.iter());
        let place = equals.first().and_then(ResultLine::place);
        let one = place.map(|place| Equals { place, how_many, staged: result.staged, above });
        placings.extend(std::iter::repeat_n(one, equals.len()));
        above += how_many;
    }
    placings
}

/// The points of each line of a class by a scheme.
pub(super) fn points_by(scheme: &PointsScheme, rules: &ResultRules, result: &ClassResult) -> Vec<Points> {
    let mut carried: BTreeMap<ExhibitorNumber, u32> = BTreeMap::new();
    let placed = |line: &ResultLine, equals: Option<Equals>| match equals {
        Some(equals) => scheme.place_points(equals, rules.next_place),
        None => line.commended().map_or(Points::NOUGHT, |code| scheme.commended_points(code)),
    };
    let mut points: Vec<(usize, ExhibitorNumber, Points)> = result
        .lines
        .iter()
        .zip(placings(result))
        .enumerate()
        .map(|(at, (line, equals))| (at, line.exhibitor, placed(line, equals)))
        .collect();
    if let Some(best) = scheme.best_of {
        points.sort_by_key(|&(at, _, points)| (std::cmp::Reverse(points), at));
        for (_, exhibitor, points) in &mut points {
            let carries = carried.entry(*exhibitor).or_default();
            *carries += 1;
            if *carries > best {
                *points = Points::NOUGHT;
            }
        }
        points.sort_by_key(|&(at, ..)| at);
    }
    points.into_iter().map(|(_, _, points)| points).collect()
}

fn tallies(classes: &[ClassResult]) -> Vec<ExhibitorTally> {
    let mut tallies: BTreeMap<ExhibitorNumber, ExhibitorTally> = BTreeMap::new();
    for line in classes.iter().flat_map(|class| &class.lines) {
        let tally = tallies.entry(line.exhibitor).or_insert_with(|| ExhibitorTally {
            exhibitor: line.exhibitor,
            points: Points::NOUGHT,
            firsts: 0,
            seconds: 0,
            thirds: 0,
            commended: 0,
            exhibits: 0,
            prize: Pence(0),
        });
        match line.place() {
            Some(1) => tally.firsts += 1,
            Some(2) => tally.seconds += 1,
            Some(3) => tally.thirds += 1,
            _ => {}
        }
        tally.commended += u32::from(line.commended().is_some());
        tally.exhibits += u32::from(line.staged);
        tally.points = tally.points + line.points;
        tally.prize = tally.prize + line.prize;
    }
    tallies.into_values().collect()
}

/// The exhibits in the running for the best of a set of classes: its firsts, in the order of the schedule.
pub fn in_the_running(schedule: &ShowSchedule, classes: &[ClassResult], set: &ClassSet) -> Vec<EntryNumber> {
    let held: BTreeMap<ClassId, bool> =
        schedule.classes.iter().map(|class| (class.id, set.holds(class))).collect();
    let within = classes.iter().filter(|result| held.get(&result.class) == Some(&true));
    let firsts = within.flat_map(|result| result.lines.iter().filter(|line| line.place() == Some(1)));
    firsts.map(|line| line.entry).collect()
}

/// What an exhibitor's history gains by this show: the places of each class with its section's title, its level, and
/// its plant group where the class takes one alone.
pub fn past_results(
    schedule: &ShowSchedule,
    results: &ShowResults,
    exhibitor: ExhibitorNumber,
    reach: Reach,
) -> Vec<PastResult> {
    let classes: BTreeMap<ClassId, &ScheduleClass> =
        schedule.classes.iter().map(|class| (class.id, class)).collect();
    let mut gained = Vec::new();
    for result in &results.classes {
        let Some(class) = classes.get(&result.class) else { continue };
        let section = schedule.sections.iter().find(|section| class.section.as_ref() == Some(&section.key));
        let lines = result.lines.iter().filter(|line| line.exhibitor == exhibitor && line.place().is_some());
        gained.extend(lines.map(|line| PastResult {
            on: schedule.held_on,
            reach,
            section: section.map(|section| section.title.clone()),
            group: only_group(class),
            level: class.rules.entrants.level.as_ref().map(|level| level.name.clone()),
            place: line.place(),
            awards: Vec::new(),
        }));
    }
    gained
}

fn only_group(class: &ScheduleClass) -> Option<PlantGroup> {
    let mut groups = class.rules.slots.iter().map(|slot| slot.taxa.groups.as_slice());
    let first = groups.next()?;
    match first {
        [group] if groups.all(|others| others == first) => Some(*group),
        _ => None,
    }
}
