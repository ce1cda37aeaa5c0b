//! A national show of 250 classes and 3 000 entries: find the classes of 60 plants, look through the schedule before it
//! is published, tell two versions apart, reckon all results.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench may fail")]

use std::hint::black_box;

use chrono::{DateTime, NaiveDate, Utc};
use criterion::{Criterion, criterion_group, criterion_main};
use storksbill_domain::shows::{
    AsOf, ClassJudgment, ClassRules, ClassSet, ClassSlot, Commendation, CommendationPoints, CountedResults,
    EnteredExhibit, EntryNumbers, ExhibitUnit, ExhibitorFacts, ExhibitorNumber, FlowerRule, HeightLimit,
    HistoryCondition, Holding, JudgedExhibit, LevelRule, MeasuredFrom, MeasuredTo, Micrometres, NamingRule,
    PastResult, Pence, Period, PlantFacts, PointsScheme, PublishingFacts, Reach, ResultRules, ScheduleClass,
    ShowDay, ShowExhibitor, ShowFacts, ShowSchedule, ShowTrophy, ShownExhibit, SizeLimit, TieBreak,
    TrophyAward, Verdict, before_publishing, find_classes, schedule_changes, show_results,
};
use storksbill_domain::words::{GrowthForm, PlantGroup};
use uuid::Uuid;

fn id<T: From<Uuid>>(n: usize) -> T {
    Uuid::from_u128(n as u128).into()
}

fn group(n: usize) -> PlantGroup {
    *PlantGroup::ALL.get(n % PlantGroup::ALL.len()).unwrap()
}

fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

fn show() -> ShowFacts {
    let at = |text: &str| -> DateTime<Utc> { text.parse().unwrap() };
    ShowFacts {
        held_on: day("2027-06-12"),
        season_start: day("2027-01-01"),
        opens_at: None,
        closes_at: at("2027-06-10T20:00:00Z"),
        asked_at: at("2027-06-01T12:00:00Z"),
        zone: chrono_tz::Europe::London,
        late_taken: false,
        tolerance: Micrometres(0),
    }
}

/// Classes that ask for much: group, pot, height, form, flowers, holding, a name, every fourth a level.
fn class(n: usize) -> ScheduleClass {
    let mut slot = ClassSlot::of(1 + u32::try_from(n % 3).unwrap(), ExhibitUnit::Plant);
    slot.taxa.groups = vec![group(n), group(n + 1)];
    slot.pot = Some(
        SizeLimit::up_to(Micrometres::mm(90 + 10 * i64::try_from(n % 12).unwrap()))
            .printed("not exceeding so many centimetres"),
    );
    slot.height = n.is_multiple_of(2).then(|| HeightLimit {
        limit: SizeLimit::up_to(Micrometres::mm(200)),
        measured_from: MeasuredFrom::Compost,
        measured_to: MeasuredTo::TopLeaf,
    });
    slot.forms = vec![GrowthForm::Bush];
    slot.flowers = Some(FlowerRule::Needed);
    let mut rules = ClassRules { slots: vec![slot], ..ClassRules::default() };
    rules.naming = Some(NamingRule::Must);
    rules.held_for = Some(Holding { period: Period::Months(2), unless_from_seed: true });
    rules.entries.per_exhibitor = Some(1);
    rules.entrants.level = n.is_multiple_of(4).then(|| LevelRule {
        name: "novice".to_owned(),
        as_of: AsOf::SeasonStart,
        conditions: vec![HistoryCondition {
            counts: CountedResults::PlacesTo(1),
            reach: Reach::Affiliated,
            sections: vec![],
            groups: vec![group(n)],
            levels: vec![],
            levels_left_out: vec![],
            at_least: None,
            at_most: Some(8),
        }],
    });
    ScheduleClass {
        id: id(n),
        label: format!("{}", n + 1).parse().unwrap(),
        section: None,
        follows: None,
        title: format!("Class {n}"),
        rules,
    }
}

fn plant(n: usize) -> PlantFacts {
    PlantFacts {
        group: Some(group(n)),
        pot: (!n.is_multiple_of(3)).then(|| Micrometres::mm(80 + i64::try_from(n).unwrap())),
        form: Some(GrowthForm::Bush),
        held_since: Some(day("2027-01-10")),
        ..PlantFacts::unknown(id(n), id(n))
    }
}

/// A keen exhibitor: 400 past results, 40 entries.
fn exhibitor() -> ExhibitorFacts {
    let history = (0..400)
        .map(|n| PastResult {
            on: day("2025-06-14"),
            reach: Reach::ThisSociety,
            section: None,
            group: Some(group(n)),
            level: None,
            place: Some(1 + u32::try_from(n % 3).unwrap()),
            awards: vec![],
        })
        .collect();
    let entered = (0..40)
        .map(|n| EnteredExhibit {
            class: id(n),
            own: true,
            whole_plants: vec![(id(n), 1)],
            cultivars: vec![id(n)],
        })
        .collect();
    ExhibitorFacts { is_member: true, history, entered, ..ExhibitorFacts::default() }
}

fn finding(c: &mut Criterion) {
    let classes: Vec<ScheduleClass> = (0..250).map(class).collect();
    let plants: Vec<PlantFacts> = (0..60).map(plant).collect();
    let (show, exhibitor) = (show(), exhibitor());
    c.bench_function("find the classes of 60 plants among 250", |b| {
        b.iter(|| find_classes(black_box(&classes), &show, &exhibitor, black_box(&plants)));
    });
    c.bench_function("the same, told in words", |b| {
        b.iter(|| {
            let found = find_classes(black_box(&classes), &show, &exhibitor, black_box(&plants));
            found
                .iter()
                .flat_map(|one| &one.eligibility.reasons)
                .map(|reason| reason.told().detail.len())
                .sum::<usize>()
        });
    });
}

fn trophy(n: usize) -> ShowTrophy {
    ShowTrophy {
        key: format!("trophy {n}"),
        title: format!("Trophy {n}"),
        classes: ClassSet { all: true, except: vec![id(n)], ..ClassSet::default() },
        award: match n % 4 {
            0 => TrophyAward::MostPoints(None),
            1 => TrophyAward::MostFirsts,
            2 => TrophyAward::MostPrizeMoney,
            _ => TrophyAward::BestExhibit,
        },
        members_only: n.is_multiple_of(2),
        level: None,
        barred_years: 2,
        not_with: if n > 4 { vec!["trophy 0".to_owned()] } else { vec![] },
        tie_breaks: vec![TieBreak::Firsts, TieBreak::Seconds, TieBreak::WonClassSizes, TieBreak::Judge],
    }
}

fn schedule() -> ShowSchedule {
    let scheme = PointsScheme {
        key: "5321".to_owned(),
        places: vec![5, 3, 2],
        commended: vec![CommendationPoints { code: Commendation::Highly, points: 1 }],
        ..PointsScheme::default()
    };
    let classes = (0..250)
        .map(|n| {
            let mut class = class(n);
            class.rules.points = Some("5321".to_owned());
            class.rules.prizes = vec![Pence(150), Pence(100), Pence(75)];
            class
        })
        .collect();
    ShowSchedule {
        title: "National Show".to_owned(),
        held_on: day("2027-06-12"),
        zone: "Europe/London".to_owned(),
        closes_wall: "2027-06-10T21:00:00".parse().unwrap(),
        tolerance_um: Micrometres(0),
        protests: None,
        sections: vec![],
        classes,
        schemes: vec![scheme],
        trophies: (0..24).map(trophy).collect(),
        results: ResultRules::default(),
    }
}

/// Twelve exhibits a class of 400 exhibitors: a first, two equal seconds, a fourth, a highly commended.
fn reckoning(c: &mut Criterion) {
    let schedule = schedule();
    let numbers = EntryNumbers::new(b"a bench of three thousand", 3000);
    let exhibits: Vec<ShownExhibit> = (0..3000)
        .map(|n| ShownExhibit {
            entry: numbers.number(n).unwrap(),
            class: id(n / 12),
            exhibitor: ExhibitorNumber(u32::try_from(n * 7 % 400).unwrap()),
            staged: n % 120 != 11,
        })
        .collect();
    let verdicts = [
        Verdict::Placed(1),
        Verdict::Placed(2),
        Verdict::Placed(2),
        Verdict::Placed(4),
        Verdict::Commended(Commendation::Highly),
    ];
    let judgments: Vec<ClassJudgment> = exhibits
        .chunks(12)
        .enumerate()
        .map(|(class, exhibits)| {
            let judged = exhibits.iter().zip(&verdicts);
            ClassJudgment {
                class: id(class),
                judged: judged.map(|(e, v)| JudgedExhibit { entry: e.entry, verdict: v.clone() }).collect(),
                equal: vec![2],
                withheld: vec![],
            }
        })
        .collect();
    let exhibitors: Vec<ShowExhibitor> = (0..400)
        .map(|n| ShowExhibitor {
            number: ExhibitorNumber(n),
            is_member: !n.is_multiple_of(5),
            history: vec![],
            outside_declared: true,
        })
        .collect();
    let day = ShowDay {
        schedule: &schedule,
        season_start: day("2027-01-01"),
        exhibits: &exhibits,
        exhibitors: &exhibitors,
        judgments: &judgments,
        choices: &[],
        past_winners: &[],
    };
    let results = show_results(day);
    assert_eq!((results.classes.len(), results.trophies.len(), results.findings.len()), (250, 24, 0));
    c.bench_function("results of 250 classes, 3 000 entries, 24 trophies", |b| {
        b.iter(|| show_results(black_box(day)));
    });
}

fn publishing(c: &mut Criterion) {
    let old = schedule();
    let mut new = old.clone();
    for class in new.classes.iter_mut().step_by(10) {
        class.title.push('.');
    }
    c.bench_function("findings of 250 classes before publishing", |b| {
        b.iter(|| before_publishing(black_box(&old), &PublishingFacts::default()));
    });
    c.bench_function("changes between two versions of 250 classes", |b| {
        b.iter(|| schedule_changes(black_box(&old), black_box(&new)));
    });
    c.bench_function("canonical text of 250 classes", |b| b.iter(|| black_box(&old).canonical()));
    c.bench_function("shuffle of the entry numbers of a show", |b| {
        b.iter(|| EntryNumbers::new(black_box(b"a bench of three thousand"), 3000));
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = finding, reckoning, publishing
}
criterion_main!(benches);
