//! Who wins the trophies, with the working: every exhibitor's score with the exhibits it comes from, who is out of the
//! running and why, and each step by which equals were told apart.

use std::collections::BTreeMap;

use super::class::ScheduleClass;
use super::codes::ResultCode;
use super::entry_number::EntryNumber;
use super::measure::Pence;
use super::points::Points;
use super::result_check::ResultFinding;
use super::results::{ClassResult, ExhibitorNumber, ResultLine, ShowDay, ShowExhibitor, points_by};
use super::schedule::{ShowTrophy, TrophyAward};
use super::trophy_working::{
    JudgesChoice, OutOfRunning, PastWinner, TieStep, TieValue, TrophyOutcome, TrophyPart, TrophyResult,
    TrophyScore,
};
use super::words::TieBreak;

/// Decides the trophies in the order of the schedule. `ordered` and `results` are the classes, in one order.
pub(super) fn decide_trophies(
    day: ShowDay<'_>,
    ordered: &[&ScheduleClass],
    results: &[ClassResult],
    findings: &mut Vec<ResultFinding>,
) -> Vec<TrophyResult> {
    let people: BTreeMap<ExhibitorNumber, &ShowExhibitor> =
        day.exhibitors.iter().map(|exhibitor| (exhibitor.number, exhibitor)).collect();
    let mut decided: Vec<TrophyResult> = Vec::new();
    for trophy in &day.schedule.trophies {
        let held: Vec<&ClassResult> = ordered
            .iter()
            .zip(results)
            .filter(|(class, _)| trophy.classes.holds(class))
            .map(|(_, result)| result)
            .collect();
        let mut scores = scores(day, trophy, &held);
        for score in &mut scores {
            score.out =
                out_of_running(day, trophy, people.get(&score.exhibitor).copied(), score.exhibitor, &decided);
        }
        scores.sort_by_key(|score| (std::cmp::Reverse(score.score), score.exhibitor));
        let choice =
            day.choices.iter().rev().find(|choice| choice.trophy == trophy.key).map(|choice| choice.choice);
        let result = if trophy.award == TrophyAward::BestExhibit {
            best_exhibit(trophy, scores, &held, choice, findings)
        } else {
            most(trophy, scores, choice, findings)
        };
        decided.push(result);
    }
    for choice in
        day.choices.iter().filter(|choice| !decided.iter().any(|result| result.trophy == choice.trophy))
    {
        let detail = format!("A choice names the trophy {}, which is not in the schedule", choice.trophy);
        let finding = ResultFinding::new(ResultCode::TrophyUnknown, detail);
        findings.push(ResultFinding { trophy: Some(choice.trophy.clone()), ..finding });
    }
    decided
}

/// What each exhibitor has toward a trophy.
fn scores(day: ShowDay<'_>, trophy: &ShowTrophy, held: &[&ClassResult]) -> Vec<TrophyScore> {
    let scheme = match &trophy.award {
        TrophyAward::MostPoints(Some(key)) => day.schedule.schemes.iter().find(|scheme| scheme.key == *key),
        _ => None,
    };
    let mut scores: BTreeMap<ExhibitorNumber, TrophyScore> = BTreeMap::new();
    for result in held {
        let by_scheme = scheme.map(|scheme| points_by(scheme, &day.schedule.results, result));
        for (at, line) in result.lines.iter().enumerate().filter(|(_, line)| line.staged) {
            let place = line.place();
            let part = match &trophy.award {
                TrophyAward::MostPoints(Some(_)) => {
                    by_scheme.as_ref().and_then(|points| points.get(at).copied()).unwrap_or_default()
                }
                TrophyAward::MostPoints(None) => line.points,
                TrophyAward::MostPrizeMoney => pence(line.prize),
                TrophyAward::MostFirsts | TrophyAward::BestExhibit | TrophyAward::ClassWinner => {
                    Points::whole(u32::from(place == Some(1)))
                }
            };
            if part == Points::NOUGHT && place.is_none() {
                continue;
            }
            let score = scores.entry(line.exhibitor).or_insert_with(|| nothing(line.exhibitor));
            score.score = score.score + part;
            add_place(score, line, result.staged);
            score.parts.push(TrophyPart { class: result.class, entry: line.entry, place, score: part });
        }
    }
    scores.into_values().collect()
}

fn nothing(exhibitor: ExhibitorNumber) -> TrophyScore {
    TrophyScore {
        exhibitor,
        score: Points::NOUGHT,
        firsts: 0,
        seconds: 0,
        thirds: 0,
        won_class_sizes: 0,
        out: None,
        parts: Vec::new(),
    }
}

fn add_place(score: &mut TrophyScore, line: &ResultLine, staged: u32) {
    match line.place() {
        Some(1) => {
            score.firsts += 1;
            score.won_class_sizes = score.won_class_sizes.saturating_add(staged);
        }
        Some(2) => score.seconds += 1,
        Some(3) => score.thirds += 1,
        _ => {}
    }
}

fn pence(prize: Pence) -> Points {
    Points::whole(u32::try_from(prize.0.max(0)).unwrap_or(u32::MAX))
}

fn out_of_running(
    day: ShowDay<'_>,
    trophy: &ShowTrophy,
    person: Option<&ShowExhibitor>,
    exhibitor: ExhibitorNumber,
    decided: &[TrophyResult],
) -> Option<OutOfRunning> {
    if trophy.members_only && !person.is_some_and(|person| person.is_member) {
        return Some(OutOfRunning::NotAMember);
    }
    let won = |winner: &&PastWinner| {
        winner.trophy == trophy.key
            && winner.exhibitor == exhibitor
            && (1..=trophy.barred_years).contains(&winner.years_ago)
    };
    if let Some(winner) = day.past_winners.iter().find(won) {
        return Some(OutOfRunning::WonBefore { years_ago: winner.years_ago });
    }
    let other = decided.iter().find(|other| {
        trophy.not_with.contains(&other.trophy)
            && match &other.outcome {
                TrophyOutcome::Won { exhibitor: winner, .. } => *winner == exhibitor,
                TrophyOutcome::Shared(winners) => winners.contains(&exhibitor),
                _ => false,
            }
    });
    if let Some(other) = other {
        return Some(OutOfRunning::WinsOther { trophy: other.trophy.clone() });
    }
    let level = trophy.level.as_ref()?;
    // Trophies have no entry day: the day of the show stands for it.
    let held_on = day.schedule.held_on;
    let as_of = level.looked_at_on(day.season_start, held_on, held_on);
    let history = person.map(|person| person.history.as_slice()).unwrap_or_default();
    let declared = person.is_some_and(|person| person.outside_declared);
    let judgement = level.judge(history, as_of, declared);
    if judgement.failing.is_empty() {
        judgement.is_open.then_some(OutOfRunning::LevelUnknown)
    } else {
        Some(OutOfRunning::OtherLevel)
    }
}

fn best_exhibit(
    trophy: &ShowTrophy,
    scores: Vec<TrophyScore>,
    held: &[&ClassResult],
    choice: Option<JudgesChoice>,
    findings: &mut Vec<ResultFinding>,
) -> TrophyResult {
    let is_in = |line: &&ResultLine| {
        let score = scores.iter().find(|score| score.exhibitor == line.exhibitor);
        line.place() == Some(1) && score.is_some_and(|score| score.out.is_none())
    };
    let firsts: Vec<&ResultLine> = held.iter().flat_map(|result| result.lines.iter().filter(is_in)).collect();
    let running: Vec<EntryNumber> = firsts.iter().map(|line| line.entry).collect();
    let outcome = match choice {
        Some(JudgesChoice::Withheld) => TrophyOutcome::Withheld,
        Some(JudgesChoice::Exhibit(entry)) => {
            if let Some(line) = firsts.iter().find(|line| line.entry == entry) {
                TrophyOutcome::Won { exhibitor: line.exhibitor, entry: Some(entry) }
            } else {
                let detail =
                    format!("Exhibit {entry} was chosen for {}, and is not in the running", trophy.title);
                let finding = ResultFinding::new(ResultCode::ChoiceNotInRunning, detail);
                findings.push(ResultFinding {
                    trophy: Some(trophy.key.clone()),
                    entry: Some(entry),
                    ..finding
                });
                TrophyOutcome::JudgesChoose
            }
        }
        _ if running.is_empty() => TrophyOutcome::NobodyEligible,
        _ => TrophyOutcome::JudgesChoose,
    };
    TrophyResult { trophy: trophy.key.clone(), outcome, scores, steps: Vec::new(), running }
}

fn most(
    trophy: &ShowTrophy,
    scores: Vec<TrophyScore>,
    choice: Option<JudgesChoice>,
    findings: &mut Vec<ResultFinding>,
) -> TrophyResult {
    let in_running = || scores.iter().filter(|score| score.out.is_none() && score.score > Points::NOUGHT);
    let best = in_running().map(|score| score.score).max();
    let equals: Vec<&TrophyScore> = in_running().filter(|score| Some(score.score) == best).collect();
    let (left, steps, shared) = break_ties(trophy, equals);
    let outcome = match (choice, left.as_slice()) {
        (Some(JudgesChoice::Withheld), _) => TrophyOutcome::Withheld,
        (_, []) => TrophyOutcome::NobodyEligible,
        (_, [one]) => TrophyOutcome::Won { exhibitor: *one, entry: None },
        (_, equals) if shared => TrophyOutcome::Shared(equals.to_vec()),
        (Some(JudgesChoice::Exhibitor(chosen)), equals) if equals.contains(&chosen) => {
            TrophyOutcome::Won { exhibitor: chosen, entry: None }
        }
        (_, equals) => TrophyOutcome::JudgeDecides(equals.to_vec()),
    };
    if let Some(JudgesChoice::Exhibitor(chosen)) = choice
        && !matches!(&outcome, TrophyOutcome::Won { exhibitor, .. } if *exhibitor == chosen)
    {
        let detail =
            format!("Exhibitor {} was chosen for {}, and is not one of the equals", chosen.0, trophy.title);
        let finding = ResultFinding::new(ResultCode::ChoiceNotInRunning, detail);
        findings.push(ResultFinding { trophy: Some(trophy.key.clone()), ..finding });
    }
    TrophyResult { trophy: trophy.key.clone(), outcome, scores, steps, running: Vec::new() }
}

/// Tells equals apart, step by step; and whether those left share.
fn break_ties(
    trophy: &ShowTrophy,
    mut left: Vec<&TrophyScore>,
) -> (Vec<ExhibitorNumber>, Vec<TieStep>, bool) {
    let mut steps = Vec::new();
    let mut shared = false;
    for &by in &trophy.tie_breaks {
        if left.len() < 2 {
            break;
        }
        let value = |score: &TrophyScore| match by {
            TieBreak::Firsts => Some(score.firsts),
            TieBreak::Seconds => Some(score.seconds),
            TieBreak::Thirds => Some(score.thirds),
            TieBreak::WonClassSizes => Some(score.won_class_sizes),
            TieBreak::Judge | TieBreak::Shared => None,
        };
        let most = left.iter().filter_map(|score| value(score)).max();
        let values = left
            .iter()
            .filter_map(|score| Some(TieValue { exhibitor: score.exhibitor, value: value(score)? }))
            .collect();
        if most.is_some() {
            left.retain(|score| value(score) == most);
        }
        let who = left.iter().map(|score| score.exhibitor).collect();
        steps.push(TieStep { by, values, left: who });
        if most.is_none() {
            shared = by == TieBreak::Shared;
            break;
        }
    }
    (left.into_iter().map(|score| score.exhibitor).collect(), steps, shared)
}
