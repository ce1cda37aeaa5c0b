//! A national show: find the classes of 60 plants among 250.
#![allow(clippy::unwrap_used, missing_docs, reason = "a bench may fail")]

use std::hint::black_box;

use chrono::{DateTime, NaiveDate, Utc};
use criterion::{Criterion, criterion_group, criterion_main};
use storksbill_domain::shows::{
    AsOf, ClassRules, ClassSlot, CountedResults, EnteredExhibit, ExhibitUnit, ExhibitorFacts, FlowerRule,
    HeightLimit, HistoryCondition, Holding, LevelRule, MeasuredFrom, MeasuredTo, Micrometres, NamingRule,
    PastResult, Period, PlantFacts, Reach, ScheduleClass, ShowFacts, SizeLimit, find_classes,
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
        today: day("2027-06-01"),
        late_taken: false,
        tolerance: Micrometres(0),
    }
}

/// Classes that ask for much: group, pot, height, form, flowers, holding, a name, every fourth a level.
fn class(n: usize) -> ScheduleClass {
    let mut slot = ClassSlot::of(1 + u32::try_from(n % 3).unwrap(), ExhibitUnit::Plant);
    slot.taxa.groups = vec![group(n), group(n + 1)];
    slot.pot = Some(SizeLimit::up_to(Micrometres::mm(90 + 10 * i64::try_from(n % 12).unwrap())));
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

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = finding
}
criterion_main!(benches);
