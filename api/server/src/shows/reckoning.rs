//! What results follow from, read at once, and what comes of them.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Datelike, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Entry, Exhibitor, MemberResult};
use storksbill_db::rows::judging::{self as rows, Judgment};
use storksbill_db::rows::notices::{self, Notice};
use storksbill_db::rows::shows::Show;
use storksbill_db::rows::trophies;
use storksbill_domain::ids::{ClassId, MemberResultId};
use storksbill_domain::shows::{
    ClassJudgment, EntryNumber, ExhibitorNumber, PastResult, PastWinner, Reach, ShowDay, ShowExhibitor,
    ShowResults, ShowSchedule, ShownExhibit, TrophyChoice, TrophyOutcome, Verdict, past_results,
    show_results,
};
use storksbill_domain::words::{NoticeKind, ResultState, SubjectKind};

use super::judging::staged_number;
use super::naming::Told;
use super::result_dto::{PublishedClass, PublishedLine, PublishedOut, PublishedTrophy};
use super::{documents, facts};
use crate::http::problem::Problem;
use crate::trophies::Winner;

/// All that results follow from, read at once.
pub(super) struct Day {
    pub(super) schedule: ShowSchedule,
    entries: Vec<Entry>,
    exhibitors: Vec<Exhibitor>,
    exhibits: Vec<ShownExhibit>,
    people: Vec<ShowExhibitor>,
    judged: BTreeMap<ClassId, Judgment>,
    judgments: Vec<ClassJudgment>,
    choices: Vec<TrophyChoice>,
    past_winners: Vec<PastWinner>,
}

impl Day {
    pub(super) fn load(conn: &mut Conn, show: &Show) -> Result<Self, Problem> {
        let (_, schedule) = documents::in_force(conn, show)?;
        let exhibitors = entries::exhibitors(conn, show.id)?;
        let numbers: BTreeMap<_, _> = exhibitors.iter().map(|one| (one.id, exhibitor_number(one))).collect();
        let entries = entries::standing(conn, show.id)?;
        let exhibits = entries
            .iter()
            .filter_map(|entry| {
                let number = u32::try_from(entry.number).ok()?;
                Some(ShownExhibit {
                    entry: number.try_into().ok()?,
                    class: entry.class_id,
                    exhibitor: *numbers.get(&entry.exhibitor_id)?,
                    staged: staged_number(entry).is_some(),
                })
            })
            .collect();
        let people = exhibitors
            .iter()
            .zip(facts::pasts(conn, show, &exhibitors)?)
            .map(|(exhibitor, history)| ShowExhibitor {
                number: exhibitor_number(exhibitor),
                is_member: exhibitor.member_id.is_some(),
                history,
                outside_declared: exhibitor.outside_declared,
            })
            .collect();
        let judged: BTreeMap<ClassId, Judgment> =
            rows::judgments(conn, show.id)?.into_iter().map(|row| (row.class_id, row)).collect();
        let judgments =
            judged.values().map(|row| documents::part(&row.document)).collect::<Result<Vec<_>, _>>()?;
        let last: BTreeMap<String, String> =
            rows::choices(conn, show.id)?.into_iter().map(|row| (row.trophy_key, row.document)).collect();
        let choices =
            last.values().map(|document| documents::part(document)).collect::<Result<Vec<_>, _>>()?;
        let past_winners = past_winners(conn, show, &schedule, &exhibitors)?;
        Ok(Self { schedule, entries, exhibitors, exhibits, people, judged, judgments, choices, past_winners })
    }

    pub(super) fn results(&self) -> ShowResults {
        show_results(ShowDay {
            schedule: &self.schedule,
            season_start: facts::season(&self.schedule),
            exhibits: &self.exhibits,
            exhibitors: &self.people,
            judgments: &self.judgments,
            choices: &self.choices,
            past_winners: &self.past_winners,
        })
    }

    /// An exhibitor's own name, for tables that officers alone get.
    pub(super) fn full_name(&self, number: ExhibitorNumber) -> &str {
        self.exhibitor(number).map_or("", |one| &one.name)
    }

    /// An exhibitor as told to everybody: for lists on paper, which lie open to whoever signs.
    pub(super) fn told_name(&self, told: &Told, number: ExhibitorNumber) -> String {
        self.exhibitor(number).map(|one| told.name(one.id)).unwrap_or_default()
    }

    fn exhibitor(&self, number: ExhibitorNumber) -> Option<&Exhibitor> {
        self.exhibitors.iter().find(|one| exhibitor_number(one) == number)
    }

    /// How its exhibitors are told.
    pub(super) fn told(&self, conn: &mut Conn, show: &Show) -> Result<Told, Problem> {
        Told::of(conn, show, &self.exhibitors)
    }

    /// As it would be with these exhibits staged or not, and these classes judged so.
    pub(super) fn supposing(
        mut self,
        staged: &BTreeMap<EntryNumber, bool>,
        said: Vec<ClassJudgment>,
    ) -> Self {
        for exhibit in &mut self.exhibits {
            exhibit.staged = staged.get(&exhibit.entry).copied().unwrap_or(exhibit.staged);
        }
        self.judgments.retain(|known| said.iter().all(|new| new.class != known.class));
        self.judgments.extend(said);
        self
    }

    /// As it would be with one more choice.
    pub(super) fn chosen(mut self, choice: TrophyChoice) -> Self {
        self.choices.retain(|known| known.trophy != choice.trophy);
        self.choices.push(choice);
        self
    }

    /// What stands on an exhibit's card beside its number.
    pub(super) fn label(&self, entry: EntryNumber) -> &str {
        let known = self.entries.iter().find(|known| known.number == i64::from(entry.get()));
        known.and_then(|known| known.label.as_deref()).unwrap_or_default()
    }

    /// The numbers of classes with exhibits in them that their judge has not signed off.
    pub(super) fn unsigned(&self) -> Vec<String> {
        let staged: BTreeSet<ClassId> =
            self.exhibits.iter().filter(|exhibit| exhibit.staged).map(|exhibit| exhibit.class).collect();
        let open = |class: ClassId| self.judged.get(&class).is_none_or(|row| !row.signed_off);
        let classes =
            self.schedule.classes.iter().filter(|class| staged.contains(&class.id) && open(class.id));
        classes.map(|class| class.label.to_string()).collect()
    }

    /// The titles of trophies that judges have still to decide.
    pub(super) fn undecided(&self, results: &ShowResults) -> Vec<String> {
        let open = results.trophies.iter().filter(|trophy| {
            matches!(trophy.outcome, TrophyOutcome::JudgesChoose | TrophyOutcome::JudgeDecides(_))
        });
        let title = |key: &str| {
            let known = self.schedule.trophies.iter().find(|known| known.key == key);
            known.map_or_else(|| key.to_owned(), |known| known.title.clone())
        };
        open.map(|trophy| title(&trophy.trophy)).collect()
    }

    /// As everybody reads them, exhibitors by their numbers; [`super::published`] tells their names.
    pub(super) fn published(&self, results: &ShowResults) -> PublishedOut {
        let number = |number: ExhibitorNumber| i32::try_from(number.0).unwrap_or(i32::MAX);
        let labels: BTreeMap<i64, Option<String>> =
            self.entries.iter().map(|entry| (entry.number, entry.label.clone())).collect();
        let titles: BTreeMap<ClassId, &str> =
            self.schedule.classes.iter().map(|class| (class.id, class.title.as_str())).collect();
        let classes = results
            .classes
            .iter()
            .map(|class| PublishedClass {
                class_id: class.class,
                label: class.label.to_string(),
                title: titles.get(&class.class).copied().unwrap_or_default().to_owned(),
                staged: class.staged,
                withheld: class.withheld.clone(),
                remark: self.judged.get(&class.class).and_then(|row| row.remark.clone()),
                lines: class
                    .lines
                    .iter()
                    .filter(|line| line.staged && line.verdict.is_some())
                    .map(|line| {
                        let entry = i64::from(line.entry.get());
                        let place = line.place();
                        let said = line.verdict.as_ref().filter(|said| !matches!(said, Verdict::Placed(_)));
                        PublishedLine {
                            entry,
                            exhibitor: (!line.is_put_out()).then(|| number(line.exhibitor)),
                            label: labels.get(&entry).cloned().flatten().filter(|_| !line.is_put_out()),
                            place,
                            sharing: line.sharing,
                            verdict: said.and_then(|said| serde_json::to_value(said).ok()),
                            points: serde_json::to_value(line.points).unwrap_or_default(),
                        }
                    })
                    .collect(),
            })
            .collect();
        let trophies = results
            .trophies
            .iter()
            .map(|trophy| {
                let known = self.schedule.trophies.iter().find(|known| known.key == trophy.trophy);
                let (winners, entry) = match &trophy.outcome {
                    TrophyOutcome::Won { exhibitor, entry } => (vec![number(*exhibitor)], *entry),
                    TrophyOutcome::Shared(all) => (all.iter().map(|one| number(*one)).collect(), None),
                    _ => (Vec::new(), None),
                };
                PublishedTrophy {
                    key: trophy.trophy.clone(),
                    title: known.map(|known| known.title.clone()).unwrap_or_default(),
                    winners,
                    entry: entry.map(|entry| i64::from(entry.get())),
                    outcome: serde_json::to_value(&trophy.outcome).unwrap_or_default(),
                }
            })
            .collect();
        PublishedOut { classes, trophies }
    }

    /// What members won is a part of their history from now on.
    pub(super) fn enter_histories(
        &self,
        conn: &mut Conn,
        show: &Show,
        results: &ShowResults,
    ) -> Result<(), Problem> {
        entries::forget_results(conn, show.id)?;
        let mut gained = Vec::new();
        for exhibitor in &self.exhibitors {
            let Some(member_id) = exhibitor.member_id else { continue };
            let won = past_results(&self.schedule, results, exhibitor_number(exhibitor), Reach::ThisSociety);
            for result in won {
                gained.push(MemberResult {
                    id: MemberResultId::fresh(),
                    member_id,
                    show_id: show.id,
                    held_on: self.schedule.held_on,
                    document: documents::written::<PastResult>(&result)?,
                });
            }
        }
        Ok(entries::insert_results(conn, &gained)?)
    }

    /// Who won the trophies, as they are told.
    pub(super) fn winners(&self, results: &ShowResults, told: &Told) -> Vec<Winner> {
        let people: BTreeMap<ExhibitorNumber, &Exhibitor> =
            self.exhibitors.iter().map(|one| (exhibitor_number(one), one)).collect();
        let mut winners = Vec::new();
        for trophy in &results.trophies {
            let all = match &trophy.outcome {
                TrophyOutcome::Won { exhibitor, .. } => vec![*exhibitor],
                TrophyOutcome::Shared(all) => all.clone(),
                _ => Vec::new(),
            };
            let known = self.schedule.trophies.iter().find(|known| known.key == trophy.trophy);
            for exhibitor in all.iter().filter_map(|number| people.get(number)) {
                winners.push(Winner {
                    key: trophy.trophy.clone(),
                    title: known.map(|known| known.title.clone()).unwrap_or_default(),
                    member_id: exhibitor.member_id,
                    exhibitor_id: exhibitor.id,
                    name: told.name(exhibitor.id),
                });
            }
        }
        winners
    }

    /// Tells them that results are out.
    pub(super) fn tell_exhibitors(
        &self,
        conn: &mut Conn,
        show: &Show,
        state: ResultState,
        now: DateTime<Utc>,
    ) -> Result<(), Problem> {
        let subject = show.id.to_string();
        let rows: Vec<Notice> = self
            .exhibitors
            .iter()
            .filter_map(|exhibitor| exhibitor.member_id)
            .map(|member| {
                let words = match state {
                    ResultState::Provisional => {
                        format!("The results of {} are out, open to protest.", documents::title(show))
                    }
                    ResultState::Final => format!("The results of {} are final.", documents::title(show)),
                };
                let subject = Some((SubjectKind::Show, subject.as_str()));
                Notice::fresh(member, NoticeKind::ShowNews, now.date_naive(), words, subject, now.naive_utc())
            })
            .collect();
        Ok(notices::insert_all(conn, &rows)?)
    }
}

/// Who of these exhibitors won a trophy of the schedule in a year before, by the club's register.
fn past_winners(
    conn: &mut Conn,
    show: &Show,
    schedule: &ShowSchedule,
    exhibitors: &[Exhibitor],
) -> Result<Vec<PastWinner>, Problem> {
    if schedule.trophies.iter().all(|trophy| trophy.barred_years == 0) {
        return Ok(Vec::new());
    }
    let awards = trophies::awards_of_club(conn, show.club_id)?;
    let guests: Vec<_> = awards.iter().filter_map(|(_, award)| award.exhibitor_id).collect();
    let guests: BTreeMap<_, String> =
        entries::exhibitors_of_ids(conn, &guests)?.into_iter().map(|one| (one.id, one.name)).collect();
    let mut found = Vec::new();
    for (trophy, award) in awards {
        let Ok(years_ago) = u32::try_from(schedule.held_on.year() - award.year) else { continue };
        // A guest is known by the name alone.
        let name = award.exhibitor_id.and_then(|id| guests.get(&id)).unwrap_or(&award.name);
        let same = |one: &&Exhibitor| {
            one.member_id == award.member_id && (award.member_id.is_some() || one.name == *name)
        };
        if let Some(exhibitor) = exhibitors.iter().find(same) {
            found.push(PastWinner { trophy, exhibitor: exhibitor_number(exhibitor), years_ago });
        }
    }
    Ok(found)
}

fn exhibitor_number(exhibitor: &Exhibitor) -> ExhibitorNumber {
    ExhibitorNumber(u32::try_from(exhibitor.number).unwrap_or(0))
}
