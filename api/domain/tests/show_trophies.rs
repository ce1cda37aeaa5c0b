//! Trophies: who wins, who cannot, and how equals are told apart.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use storksbill_domain::shows::{
    AsOf, ClassSet, CountedResults, HistoryCondition, JudgesChoice, LabelRange, LevelRule, OutOfRunning,
    PastResult, PastWinner, Pence, Points, Reach, ResultCode, ShowExhibitor, ShowSection, ShowTrophy,
    TieBreak, TrophyAward, TrophyChoice, TrophyOutcome, TrophyResult, in_the_running, past_results,
};
use storksbill_domain::words::PlantGroup;
use support::bench_hall::{Hall, letter, number, scheme};
use support::day;

fn trophy(award: TrophyAward, tie_breaks: &[TieBreak]) -> ShowTrophy {
    ShowTrophy {
        key: "bowl".to_owned(),
        title: "The Harbour Bowl".to_owned(),
        classes: ClassSet::all(),
        award,
        members_only: false,
        level: None,
        barred_years: 0,
        not_with: vec![],
        tie_breaks: tie_breaks.to_vec(),
    }
}

/// The seven classes of the points tests, with exhibits without a place so that the classes that A won have 6 and 5
/// exhibits and those that B won 4 and 2.
fn hall() -> Hall {
    let mut hall = Hall::scored(scheme(&[3, 2, 1], 0));
    hall.judge("1", "A B C hc:D +EF")
        .judge("2", "B A D hc:C")
        .judge("3", "C D B")
        .judge("4", "A C B hc:D +E")
        .judge("5", "B D")
        .judge("5A", "D C A hc:B")
        .judge("6", "- C");
    hall
}

fn decided(hall: &Hall) -> TrophyResult {
    let results = hall.results();
    assert_eq!(results.findings, []);
    results.trophies.last().unwrap().clone()
}

fn won(letter: char) -> TrophyOutcome {
    TrophyOutcome::Won { exhibitor: number(letter), entry: None }
}

/// B and C have 10 points each by 3-2-1, A 9 and D 8; B has two firsts and C one (most firsts: Great Baddow, Lambeth,
/// Salford and Bolton show rules).
#[test]
fn most_firsts_tell_equals_on_points_apart_and_the_working_is_shown() {
    let mut hall = hall();
    hall.schedule.trophies =
        vec![trophy(TrophyAward::MostPoints(None), &[TieBreak::Firsts, TieBreak::Judge])];
    let result = decided(&hall);
    assert_eq!(result.outcome, won('B'));
    let table: Vec<_> = result
        .scores
        .iter()
        .map(|s| (letter(s.exhibitor), s.score.to_string(), s.firsts, s.seconds, s.thirds, s.parts.len()))
        .collect();
    assert_eq!(
        table,
        [
            ('B', "10".to_owned(), 2, 1, 2, 5),
            ('C', "10".to_owned(), 1, 3, 1, 5),
            ('A', "9".to_owned(), 2, 1, 1, 4),
            ('D', "8".to_owned(), 1, 2, 1, 4),
        ]
    );
    assert_eq!(result.steps.len(), 1);
    assert_eq!(result.steps[0].by, TieBreak::Firsts);
    let values: Vec<_> =
        result.steps[0].values.iter().map(|value| (letter(value.exhibitor), value.value)).collect();
    assert_eq!(values, [('B', 2), ('C', 1)]);
    assert_eq!(result.steps[0].left, [number('B')]);
    // The parts of a score sum to it.
    for score in &result.scores {
        assert_eq!(score.parts.iter().map(|part| part.score).sum::<Points>(), score.score);
    }
}

/// A and B have two firsts and one second each. Thirds: B has two, A one. The classes won: A 6 + 5 = 11 exhibits, B
/// 4 + 2 = 6 (ordered tie-breaks: British Beekeepers' Association, questions on show awards, 14).
#[test]
fn the_order_of_tie_breaks_decides() {
    let by = |tie_breaks: &[TieBreak]| {
        let mut hall = hall();
        hall.schedule.trophies = vec![trophy(TrophyAward::MostFirsts, tie_breaks)];
        decided(&hall)
    };
    let thirds = by(&[TieBreak::Firsts, TieBreak::Seconds, TieBreak::Thirds, TieBreak::Judge]);
    assert_eq!(thirds.outcome, won('B'));
    let steps: Vec<_> = thirds.steps.iter().map(|step| (step.by, step.left.len())).collect();
    assert_eq!(steps, [(TieBreak::Firsts, 2), (TieBreak::Seconds, 2), (TieBreak::Thirds, 1)]);
    let sizes = by(&[TieBreak::Seconds, TieBreak::WonClassSizes, TieBreak::Judge]);
    assert_eq!(sizes.outcome, won('A'));
    let values: Vec<_> =
        sizes.steps[1].values.iter().map(|value| (letter(value.exhibitor), value.value)).collect();
    assert_eq!(values, [('A', 11), ('B', 6)]);
    let equals = || vec![number('A'), number('B')];
    assert_eq!(by(&[TieBreak::Seconds, TieBreak::Shared]).outcome, TrophyOutcome::Shared(equals()));
    assert_eq!(by(&[TieBreak::Seconds, TieBreak::Judge]).outcome, TrophyOutcome::JudgeDecides(equals()));
    assert_eq!(by(&[]).outcome, TrophyOutcome::JudgeDecides(equals()));
}

#[test]
fn a_judge_decides_between_equals_and_nobody_else() {
    let with = |choice| {
        let mut hall = hall();
        hall.schedule.trophies = vec![trophy(TrophyAward::MostFirsts, &[TieBreak::Judge])];
        hall.choices = vec![TrophyChoice { trophy: "bowl".to_owned(), choice }];
        let results = hall.results();
        let codes: Vec<ResultCode> = results.findings.iter().map(|finding| finding.code).collect();
        (results.trophies[0].outcome.clone(), codes)
    };
    assert_eq!(with(JudgesChoice::Exhibitor(number('A'))), (won('A'), vec![]));
    let equals = TrophyOutcome::JudgeDecides(vec![number('A'), number('B')]);
    assert_eq!(with(JudgesChoice::Exhibitor(number('C'))), (equals, vec![ResultCode::ChoiceNotInRunning]));
    assert_eq!(with(JudgesChoice::Withheld), (TrophyOutcome::Withheld, vec![]));
}

#[test]
fn a_trophy_may_have_its_own_points_and_its_own_classes() {
    let mut hall = hall();
    let mut own = scheme(&[5, 2, 1], 0);
    own.key = "521".to_owned();
    hall.schedule.schemes.push(own);
    // By 5-2-1 over all classes: A 13, B 14, C 12, D 10.
    hall.schedule.trophies =
        vec![trophy(TrophyAward::MostPoints(Some("521".to_owned())), &[TieBreak::Judge])];
    let scores: Vec<_> =
        decided(&hall).scores.iter().map(|s| (letter(s.exhibitor), s.score.to_string())).collect();
    let expected = [('B', "14"), ('A', "13"), ('C', "12"), ('D', "10")].map(|(l, s)| (l, s.to_owned()));
    assert_eq!(scores, expected);
    // Classes 3 to 5A but for 5, by 3-2-1: class 3 C 3, D 2, B 1; 4 A 3, C 2, B 1; 5A D 3, C 2, A 1. C has 7.
    hall.schedule.trophies[0].award = TrophyAward::MostPoints(None);
    hall.schedule.trophies[0].classes = ClassSet {
        ranges: vec![LabelRange { from: "3".parse().unwrap(), to: "5A".parse().unwrap() }],
        except: vec![hall.schedule.classes[4].id],
        ..ClassSet::default()
    };
    assert_eq!(hall.schedule.classes[4].label.to_string(), "5");
    let result = decided(&hall);
    assert_eq!(result.outcome, won('C'));
    let scores: Vec<_> = result.scores.iter().map(|s| (letter(s.exhibitor), s.score.to_string())).collect();
    let expected = [('C', "7"), ('D', "5"), ('A', "4"), ('B', "2")].map(|(l, s)| (l, s.to_owned()));
    assert_eq!(scores, expected);
}

/// The medal for most prize money, not for the winners of the two years before (Old Milverton, Lambeth and other show
/// schedules). Prizes of 300, 200 and 100 pence in class 1 alone: A 300, B 200, C 100.
#[test]
fn past_winners_are_barred_and_the_next_takes_the_medal() {
    let with = |years_ago, barred_years| {
        let mut hall = hall();
        hall.schedule.classes[0].rules.prizes = vec![Pence(300), Pence(200), Pence(100)];
        let mut medal = trophy(TrophyAward::MostPrizeMoney, &[TieBreak::Judge]);
        medal.barred_years = barred_years;
        hall.schedule.trophies = vec![medal];
        hall.past_winners = vec![PastWinner { trophy: "bowl".to_owned(), exhibitor: number('A'), years_ago }];
        decided(&hall)
    };
    let result = with(2, 2);
    assert_eq!(result.outcome, won('B'));
    assert_eq!((letter(result.scores[0].exhibitor), result.scores[0].score), ('A', Points::whole(300)));
    assert_eq!(result.scores[0].out, Some(OutOfRunning::WonBefore { years_ago: 2 }));
    assert_eq!(with(3, 2).outcome, won('A'));
    assert_eq!(with(1, 0).outcome, won('A'));
}

/// The winner of one cup may not win another in the section (hortsoc.co.uk, show rules).
#[test]
fn trophies_that_cannot_be_had_together_go_on_to_the_next() {
    let mut hall = hall();
    let first = trophy(TrophyAward::MostPoints(None), &[TieBreak::Firsts]);
    let mut second = trophy(TrophyAward::MostPoints(None), &[TieBreak::Firsts]);
    (second.key, second.not_with) = ("cup".to_owned(), vec!["bowl".to_owned()]);
    hall.schedule.trophies = vec![first, second];
    let results = hall.results();
    assert_eq!(results.trophies[0].outcome, won('B'));
    assert_eq!(results.trophies[1].outcome, won('C'));
    let out = OutOfRunning::WinsOther { trophy: "bowl".to_owned() };
    assert_eq!(results.trophies[1].scores[0].out, Some(out));
}

fn person(letter: char, is_member: bool, history: Vec<PastResult>) -> ShowExhibitor {
    ShowExhibitor { number: number(letter), is_member, history, outside_declared: true }
}

/// Members alone may win trophies (auriculaandprimula.org.uk, show rules, 1); most points by one who never won a first
/// (American Primrose Society, awards).
#[test]
fn members_and_novices_have_trophies_of_their_own() {
    let first = PastResult {
        on: day("2026-06-13"),
        reach: Reach::ThisSociety,
        section: None,
        group: None,
        level: None,
        place: Some(1),
        awards: vec![],
    };
    let mut hall = hall();
    hall.exhibitors =
        vec![person('B', false, vec![]), person('C', true, vec![first]), person('A', true, vec![])];
    let mut members = trophy(TrophyAward::MostPoints(None), &[TieBreak::Firsts]);
    members.members_only = true;
    let mut novices = members.clone();
    novices.key = "novice".to_owned();
    novices.level = Some(LevelRule {
        name: "novice".to_owned(),
        as_of: AsOf::ShowDay,
        conditions: vec![HistoryCondition {
            counts: CountedResults::PlacesTo(1),
            reach: Reach::Affiliated,
            sections: vec![],
            groups: vec![],
            levels: vec![],
            levels_left_out: vec![],
            at_least: None,
            at_most: Some(0),
        }],
    });
    hall.schedule.trophies = vec![members, novices];
    let results = hall.results();
    assert_eq!(results.trophies[0].outcome, won('C'));
    assert_eq!(results.trophies[1].outcome, won('A'));
    let out: Vec<_> =
        results.trophies[1].scores.iter().map(|s| (letter(s.exhibitor), s.out.clone())).collect();
    assert_eq!(
        out,
        [
            ('B', Some(OutOfRunning::NotAMember)),
            ('C', Some(OutOfRunning::OtherLevel)),
            ('A', None),
            ('D', Some(OutOfRunning::NotAMember)),
        ]
    );
    // Not declared is not known.
    hall.exhibitors[2].outside_declared = false;
    let results = hall.results();
    assert_eq!(results.trophies[1].outcome, TrophyOutcome::NobodyEligible);
    assert_eq!(results.trophies[1].scores[2].out, Some(OutOfRunning::LevelUnknown));
}

/// Judges choose the best exhibit among the firsts (common practice); some classes are left out.
#[test]
fn the_best_exhibit_is_chosen_among_the_firsts() {
    let mut hall = hall();
    let mut best = trophy(TrophyAward::BestExhibit, &[]);
    best.classes.except = vec![hall.schedule.classes[0].id];
    hall.schedule.trophies = vec![best.clone()];
    let open = decided(&hall);
    assert_eq!(open.outcome, TrophyOutcome::JudgesChoose);
    let expected =
        [("2", 'B'), ("3", 'C'), ("4", 'A'), ("5", 'B'), ("5A", 'D')].map(|(l, e)| hall.entry(l, e));
    assert_eq!(open.running, expected);
    let results = hall.results();
    assert_eq!(in_the_running(&hall.schedule, &results.classes, &best.classes), expected);
    let chosen = hall.entry("5A", 'D');
    hall.choices = vec![TrophyChoice { trophy: "bowl".to_owned(), choice: JudgesChoice::Exhibit(chosen) }];
    assert_eq!(decided(&hall).outcome, TrophyOutcome::Won { exhibitor: number('D'), entry: Some(chosen) });
    // A second, and the first of a class left out, are not in the running.
    for (label, who) in [("2", 'A'), ("1", 'A')] {
        let choice = JudgesChoice::Exhibit(hall.entry(label, who));
        hall.choices = vec![TrophyChoice { trophy: "bowl".to_owned(), choice }];
        let results = hall.results();
        assert_eq!(results.findings.len(), 1);
        assert_eq!(results.findings[0].code, ResultCode::ChoiceNotInRunning);
        assert_eq!(results.trophies[0].outcome, TrophyOutcome::JudgesChoose);
    }
    hall.choices = vec![TrophyChoice { trophy: "vase".to_owned(), choice: JudgesChoice::Withheld }];
    assert_eq!(hall.results().findings[0].code, ResultCode::TrophyUnknown);
}

#[test]
fn the_winner_of_a_class_has_its_trophy_unless_the_first_is_withheld() {
    let of = |label: &str| {
        let mut hall = hall();
        let class = hall.schedule.classes.iter().find(|class| class.label.to_string() == label).unwrap().id;
        let mut cup = trophy(TrophyAward::ClassWinner, &[TieBreak::Shared]);
        cup.classes = ClassSet { classes: vec![class], ..ClassSet::default() };
        hall.schedule.trophies = vec![cup];
        decided(&hall).outcome
    };
    assert_eq!(of("5A"), won('D'));
    assert_eq!(of("6"), TrophyOutcome::NobodyEligible);
}

/// What an exhibitor has from this show counts toward the level of the next: B had six firsts as a novice, has two
/// more now and with eight has outgrown the level that allows seven.
#[test]
fn results_count_toward_the_next_level() {
    let mut hall = hall();
    hall.schedule.sections = vec![ShowSection { key: "A".to_owned(), title: "Novices".to_owned() }];
    let condition = HistoryCondition {
        counts: CountedResults::PlacesTo(1),
        reach: Reach::ThisSociety,
        sections: vec!["Novices".to_owned()],
        groups: vec![PlantGroup::Regal],
        levels: vec!["novice".to_owned()],
        levels_left_out: vec![],
        at_least: None,
        at_most: Some(7),
    };
    let novice =
        LevelRule { name: "novice".to_owned(), as_of: AsOf::ShowDay, conditions: vec![condition.clone()] };
    for class in &mut hall.schedule.classes {
        class.section = Some("A".to_owned());
        class.rules.slots[0].taxa.groups = vec![PlantGroup::Regal];
        class.rules.entrants.level = Some(novice.clone());
    }
    let results = hall.results();
    let gained = past_results(&hall.schedule, &results, number('B'), Reach::ThisShow);
    let places: Vec<_> = gained.iter().map(|result| result.place.unwrap()).collect();
    assert_eq!(places, [2, 1, 3, 3, 1]);
    let before = PastResult { on: day("2026-06-13"), ..gained[1].clone() };
    let mut history = vec![before; 6];
    let standing = |history: &[PastResult]| condition.standing(history, day("2028-06-10"));
    assert_eq!((standing(&history).have, standing(&history).left()), (6, Some(1)));
    history.extend(gained);
    assert_eq!((standing(&history).have, standing(&history).left()), (8, Some(0)));
    assert!(!standing(&history).holds());
}
