//! Slips of a schedule that are found before it is published.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use storksbill_domain::ids::ClassId;
use storksbill_domain::shows::{
    AgeRule, AsOf, Bound, ClassRules, ClassSet, ClassSlot, CountedResults, Distinctness, EntryFee,
    ExhibitUnit, FindingWeight, FlowerRule, HistoryCondition, JudgingScale, LabelRange, LastClass, LevelRule,
    Micrometres, Pence, PointsScheme, PublishingFacts, Reach, ScaleCriterion, ScheduleClass, ScheduleCode,
    ShowSchedule, ShowSection, ShowTrophy, SizeLimit, TieBreak, TrophyAward, before_publishing, may_publish,
};
use storksbill_domain::words::PlantGroup;
use support::{class, id, plants, rules, schedule};

/// A class without a slip: free of charge, scored 3-2-1.
fn sound(slots: Vec<ClassSlot>) -> ClassRules {
    ClassRules {
        fee: Some(EntryFee { member: Pence(0), other: Pence(50), junior: None }),
        points: Some("321".to_owned()),
        ..rules(slots)
    }
}

fn found_in(schedule: &ShowSchedule) -> Vec<ScheduleCode> {
    let judged = schedule.classes.iter().map(|class| class.id).collect();
    let facts = PublishingFacts { judged, ..PublishingFacts::default() };
    before_publishing(schedule, &facts).into_iter().map(|finding| finding.code).collect()
}

fn with(classes: Vec<ScheduleClass>) -> ShowSchedule {
    let scheme = PointsScheme { key: "321".to_owned(), places: vec![3, 2, 1], ..PointsScheme::default() };
    ShowSchedule { schemes: vec![scheme], ..schedule(classes) }
}

fn one(rules: ClassRules) -> ShowSchedule {
    with(vec![class(1, "1", rules)])
}

fn potted(limit: SizeLimit) -> ClassRules {
    sound(vec![ClassSlot { pot: Some(limit), ..plants(1) }])
}

fn um(text: &str) -> Micrometres {
    text.parse().unwrap()
}

#[test]
fn a_sound_schedule_has_no_findings() {
    let schedule = with(vec![class(1, "1", sound(vec![plants(1)])), class(2, "2", sound(vec![plants(3)]))]);
    assert_eq!(found_in(&schedule), []);
    assert!(may_publish(&[]));
}

#[test]
fn a_class_without_judge_or_fee_is_a_warning() {
    let schedule = one(ClassRules { fee: None, ..sound(vec![plants(1)]) });
    let found = before_publishing(&schedule, &PublishingFacts::default());
    let told: Vec<_> = found.iter().map(|f| (f.code, f.weight, f.classes[0].to_string())).collect();
    assert_eq!(
        told,
        [
            (ScheduleCode::FeeMissing, FindingWeight::Warning, "1".to_owned()),
            (ScheduleCode::JudgeMissing, FindingWeight::Warning, "1".to_owned()),
        ]
    );
    assert!(may_publish(&found));
    assert_eq!(found[0].detail, "Class 1: no fee is settled");
    assert_eq!(found[0].fix, "Settle the fee; nought is one.");
}

/// West Yorkshire Fuchsia Society, schedule: pots of 100 to 114 mm and of 127 to 140 mm; 120 mm fits neither.
#[test]
fn pots_between_two_bands_are_found() {
    let bands = |second: SizeLimit| {
        with(vec![
            class(1, "1", potted(SizeLimit::between(um("100 mm"), um("114 mm")))),
            class(2, "2", potted(second)),
        ])
    };
    let gap = bands(SizeLimit::between(um("127 mm"), um("140 mm")));
    let found =
        before_publishing(&gap, &PublishingFacts { judged: vec![id(1), id(2)], ..Default::default() });
    assert_eq!(found.len(), 1);
    assert_eq!((found[0].code, found[0].weight), (ScheduleCode::PotGap, FindingWeight::Warning));
    assert_eq!(
        found[0].detail,
        "A pot of more than 114 mm and less than 127 mm fits neither class 1 nor class 2"
    );
    // "Over 114 mm" begins where "not exceeding 114 mm" ends.
    let mut joined = SizeLimit::over(um("114 mm"));
    joined.to = Some(Bound { um: um("140 mm"), inclusive: true });
    assert_eq!(found_in(&bands(joined.clone())), []);
    // Both taking 114 mm in is an overlap of one size.
    let overlap = bands(SizeLimit::between(um("114 mm"), um("140 mm")));
    let found =
        before_publishing(&overlap, &PublishingFacts { judged: vec![id(1), id(2)], ..Default::default() });
    assert_eq!((found[0].code, found[0].weight), (ScheduleCode::PotOverlap, FindingWeight::Note));
    assert_eq!(found[0].detail, "A pot from 114 mm to 114 mm fits both class 1 and class 2");
    // Classes that differ in more than the pot are no siblings, and prizes do not part them.
    let mut other = gap.clone();
    other.classes[1].rules.slots[0].taxa.groups = vec![PlantGroup::Regal];
    assert_eq!(found_in(&other), []);
    let mut richer = gap;
    richer.classes[1].rules.prizes = vec![Pence(300)];
    assert_eq!(found_in(&richer), [ScheduleCode::PotGap]);
    let mut elsewhere = richer;
    elsewhere.sections = vec![ShowSection { key: "B".to_owned(), title: "Pots".to_owned() }];
    elsewhere.classes[1].section = Some("B".to_owned());
    assert_eq!(found_in(&elsewhere), []);
}

#[test]
fn a_band_within_a_wide_one_hides_no_gap() {
    let band =
        |n, label: &str, from: &str, to: &str| class(n, label, potted(SizeLimit::between(um(from), um(to))));
    // 50 to 200 holds 60 to 70; the gap lies between 200 and 210, not between 70 and 210.
    let schedule = with(vec![
        band(1, "1", "50 mm", "200 mm"),
        band(2, "2", "60 mm", "70 mm"),
        band(3, "3", "210 mm", "300 mm"),
    ]);
    let facts = PublishingFacts { judged: vec![id(1), id(2), id(3)], ..PublishingFacts::default() };
    let found = before_publishing(&schedule, &facts);
    let told: Vec<&str> = found.iter().map(|finding| finding.detail.as_str()).collect();
    assert_eq!(
        told,
        [
            "A pot from 60 mm to 70 mm fits both class 1 and class 2",
            "A pot of more than 200 mm and less than 210 mm fits neither class 1 nor class 3",
        ]
    );
}

/// "6 in (150 mm)": wmgardenclub.org.uk, classes. "4½ in" beside "11 cm": Salford and Bolton Fuchsia Society, schedule.
#[test]
fn printed_words_that_are_another_length_are_found() {
    let printed =
        |limit: &str, words: &str| found_in(&one(potted(SizeLimit::up_to(um(limit)).printed(words))));
    assert_eq!(printed("6 in", "not exceeding 6 in (150 mm)"), [ScheduleCode::WordsDisagree]);
    assert_eq!(printed("4½ in", "4½ in (11 cm)"), [ScheduleCode::WordsDisagree]);
    assert_eq!(printed("4½ in", "4½ in (114.3 mm)"), []);
    assert_eq!(printed("3½ in", "9 cm"), [ScheduleCode::WordsDisagree]);
    assert_eq!(printed("3½ in", "three and a half inches"), []);
}

fn last(label: &str, number: u128, title: &str) -> LastClass {
    LastClass { label: label.parse().unwrap(), id: id(number), title: title.to_owned() }
}

#[test]
fn numbers_are_not_used_twice_nor_again() {
    let twice = with(vec![class(1, "12", sound(vec![plants(1)])), class(2, "12", sound(vec![plants(3)]))]);
    assert_eq!(found_in(&twice), [ScheduleCode::LabelTwice]);
    let mut schedule = one(sound(vec![plants(1)]));
    let mut facts = PublishingFacts {
        judged: vec![id(1)],
        withdrawn_labels: vec!["1".parse().unwrap()],
        last_classes: vec![last("1", 77, "Three in five inch pots"), last("2", 78, "One basket")],
    };
    let codes = |schedule: &ShowSchedule, facts: &PublishingFacts| -> Vec<(ScheduleCode, FindingWeight)> {
        before_publishing(schedule, facts).into_iter().map(|finding| (finding.code, finding.weight)).collect()
    };
    assert_eq!(
        codes(&schedule, &facts),
        [
            (ScheduleCode::LabelWithdrawn, FindingWeight::Error),
            (ScheduleCode::LabelNewMeaning, FindingWeight::Note)
        ]
    );
    facts.withdrawn_labels.clear();
    schedule.classes[0].follows = Some(id(77));
    assert_eq!(codes(&schedule, &facts), []);
    schedule.classes[0].follows = Some(id(78));
    assert_eq!(codes(&schedule, &facts), [(ScheduleCode::LabelNewMeaning, FindingWeight::Note)]);
    // Copied from a show before the last: it goes on from that one's class, and means what it meant at the last.
    facts.last_classes[0].title = schedule.classes[0].title.to_uppercase();
    assert_eq!(codes(&schedule, &facts), []);
}

#[test]
fn classes_without_a_judge_are_one_finding() {
    let classes: Vec<_> =
        (1..=32_u32).map(|n| class(u128::from(n), &n.to_string(), sound(vec![plants(n)]))).collect();
    let schedule = with(classes);
    let missing = |judged: Vec<ClassId>| -> Vec<(String, usize)> {
        let facts = PublishingFacts { judged, ..PublishingFacts::default() };
        let found = before_publishing(&schedule, &facts).into_iter();
        let missing = found.filter(|finding| finding.code == ScheduleCode::JudgeMissing);
        missing.map(|finding| (finding.detail, finding.classes.len())).collect()
    };
    assert_eq!(missing(Vec::new()), [("No class has a judge yet".to_owned(), 32)]);
    assert_eq!(missing(vec![id(3)]), [("31 classes of 32 have no judge".to_owned(), 31)]);
    let all_but_one = (1..32).map(id).collect();
    assert_eq!(missing(all_but_one), [("Class 32 has no judge".to_owned(), 1)]);
    assert_eq!(missing((1..=32).map(id).collect()), []);
}

#[test]
fn what_cannot_be_met_is_an_error() {
    let slot = |change: &dyn Fn(&mut ClassSlot)| {
        let mut slot = plants(1);
        change(&mut slot);
        sound(vec![slot])
    };
    let impossible = SizeLimit::between(um("140 mm"), um("100 mm"));
    let mut at_an_end = SizeLimit::between(um("5 in"), um("5 in"));
    assert_eq!(found_in(&one(potted(at_an_end.clone()))), []);
    at_an_end.from = Some(Bound { um: um("5 in"), inclusive: false });
    for (demands, code) in [
        (potted(impossible), ScheduleCode::SizeImpossible),
        (potted(at_an_end), ScheduleCode::SizeImpossible),
        (sound(vec![]), ScheduleCode::SlotMissing),
        (sound(vec![plants(0)]), ScheduleCode::SlotMissing),
        (
            ClassRules { distinct: Distinctness::AtLeast(4), ..sound(vec![plants(3)]) },
            ScheduleCode::DistinctImpossible,
        ),
        (
            ClassRules {
                distinct: Distinctness::AllDifferent,
                ..slot(&|slot| {
                    slot.count = 3;
                    slot.taxa.cultivars = vec![id(1), id(2)];
                })
            },
            ScheduleCode::DistinctImpossible,
        ),
        (
            slot(&|slot| {
                slot.taxa.groups = vec![PlantGroup::Regal];
                slot.taxa.other_than_groups = vec![PlantGroup::Regal];
            }),
            ScheduleCode::TaxaImpossible,
        ),
        (
            slot(&|slot| {
                slot.taxa.cultivars = vec![id(1)];
                slot.taxa.other_than_cultivars = vec![id(1)];
            }),
            ScheduleCode::TaxaImpossible,
        ),
        (
            slot(&|slot| {
                slot.unit = ExhibitUnit::Truss;
                slot.flowers = Some(FlowerRule::Removed);
            }),
            ScheduleCode::FlowersContradict,
        ),
    ] {
        let schedule = one(demands);
        assert_eq!(found_in(&schedule), [code]);
        assert!(!may_publish(&before_publishing(&schedule, &PublishingFacts::default())), "{code}");
    }
}

#[test]
fn entrants_that_cannot_be_are_found() {
    let mut old = sound(vec![plants(1)]);
    old.entrants.age = Some(AgeRule { from: Some(16), to: Some(12), on: "2027-04-01".parse().unwrap() });
    assert_eq!(found_in(&one(old)), [ScheduleCode::EntrantImpossible]);
    let mut level = sound(vec![plants(1)]);
    level.entrants.level = Some(LevelRule {
        name: "novice".to_owned(),
        as_of: AsOf::ShowDay,
        conditions: vec![HistoryCondition {
            counts: CountedResults::PlacesTo(1),
            reach: Reach::ThisShow,
            sections: vec![],
            groups: vec![],
            levels: vec![],
            levels_left_out: vec![],
            at_least: Some(9),
            at_most: Some(7),
        }],
    });
    assert_eq!(found_in(&one(level)), [ScheduleCode::EntrantImpossible]);
    let mut shut = sound(vec![plants(1)]);
    shut.entrants.not_entered_in = vec![id(1)];
    assert_eq!(found_in(&one(shut)), [ScheduleCode::ClassUnknown]);
    let mut none = sound(vec![plants(1)]);
    none.entries.per_exhibitor = Some(0);
    assert_eq!(found_in(&one(none)), [ScheduleCode::EntryLimitNought]);
}

#[test]
fn money_points_and_scales_are_checked() {
    let prizes = |prizes: &[i64]| {
        let prizes = prizes.iter().copied().map(Pence).collect();
        found_in(&one(ClassRules { prizes, ..sound(vec![plants(1)]) }))
    };
    // Lambeth Horticultural Society, programme: £1.50, £1, 75p.
    assert_eq!(prizes(&[150, 100, 75]), []);
    assert_eq!(prizes(&[100, 100]), []);
    assert_eq!(prizes(&[100, 150]), [ScheduleCode::PrizesRise]);
    assert_eq!(prizes(&[100, -1]), [ScheduleCode::MoneyNegative]);
    let points = Some("5321".to_owned());
    assert_eq!(
        found_in(&one(ClassRules { points, ..sound(vec![plants(1)]) })),
        [ScheduleCode::PointsUnknown]
    );
    // African violets: 25 + 25 + 25 + 15 + 10 = 100 (Journal of the American Rhododendron Society 64:2, on judging).
    let scale = |total| {
        let criteria = [
            ("leaf pattern", 25),
            ("condition", 25),
            ("quantity of bloom", 25),
            ("size and type", 15),
            ("colour", 10),
        ]
        .map(|(title, most)| ScaleCriterion { title: title.to_owned(), most })
        .to_vec();
        found_in(&one(ClassRules { scale: Some(JudgingScale { criteria, total }), ..sound(vec![plants(1)]) }))
    };
    assert_eq!(scale(100), []);
    assert_eq!(scale(105), [ScheduleCode::ScaleSum]);
    let mut doubled = one(sound(vec![plants(1)]));
    doubled.schemes.push(doubled.schemes[0].clone());
    assert_eq!(found_in(&doubled), [ScheduleCode::PointsTwice]);
}

#[test]
fn sections_and_like_classes_are_checked() {
    let section = |key: &str| ShowSection { key: key.to_owned(), title: format!("Section {key}") };
    let mut schedule = one(sound(vec![plants(1)]));
    schedule.sections = vec![section("A")];
    assert_eq!(found_in(&schedule), [ScheduleCode::SectionEmpty]);
    schedule.classes[0].section = Some("B".to_owned());
    assert_eq!(found_in(&schedule), [ScheduleCode::SectionEmpty, ScheduleCode::SectionUnknown]);
    schedule.classes[0].section = Some("A".to_owned());
    assert_eq!(found_in(&schedule), []);
    schedule.sections.push(section("A"));
    assert_eq!(found_in(&schedule), [ScheduleCode::SectionTwice]);
    let mut twin = class(2, "2", sound(vec![plants(1)]));
    twin.title = "Class 1".to_owned();
    assert_eq!(
        found_in(&with(vec![class(1, "1", sound(vec![plants(1)])), twin])),
        [ScheduleCode::ClassesAlike]
    );
    assert_eq!(found_in(&with(vec![])), [ScheduleCode::NoClasses]);
    let stems = ClassSlot { pot: Some(SizeLimit::up_to(um("9 cm"))), ..ClassSlot::of(3, ExhibitUnit::Stem) };
    assert_eq!(found_in(&one(sound(vec![stems]))), [ScheduleCode::PotOfCut]);
}

/// Sunday 28 March 2027: half past one is skipped by the clocks of the United Kingdom.
#[test]
fn closing_is_a_moment_before_the_show() {
    let mut schedule = one(sound(vec![plants(1)]));
    schedule.held_on = "2027-03-28".parse().unwrap();
    schedule.closes_wall = "2027-03-28T01:30:00".parse().unwrap();
    assert_eq!(found_in(&schedule), [ScheduleCode::ClosingNoMoment]);
    schedule.closes_wall = "2027-03-29T09:00:00".parse().unwrap();
    assert_eq!(found_in(&schedule), [ScheduleCode::ClosingLate]);
    schedule.closes_wall = "2027-03-27T21:00:00".parse().unwrap();
    assert_eq!(found_in(&schedule), []);
    schedule.zone = "Merrow/Quay".to_owned();
    assert_eq!(found_in(&schedule), [ScheduleCode::ClosingNoMoment]);
}

fn trophy(key: &str, classes: ClassSet, award: TrophyAward) -> ShowTrophy {
    ShowTrophy {
        key: key.to_owned(),
        title: format!("The {key}"),
        classes,
        award,
        members_only: false,
        level: None,
        barred_years: 0,
        not_with: vec![],
        tie_breaks: vec![TieBreak::Firsts, TieBreak::Judge],
    }
}

#[test]
fn trophies_point_at_classes_that_carry_what_they_count() {
    let range = |from: &str, to: &str| ClassSet {
        ranges: vec![LabelRange { from: from.parse().unwrap(), to: to.parse().unwrap() }],
        ..ClassSet::default()
    };
    let codes = |trophies: Vec<ShowTrophy>| {
        let mut schedule =
            with(vec![class(1, "106", sound(vec![plants(1)])), class(2, "106A", sound(vec![plants(3)]))]);
        schedule.trophies = trophies;
        found_in(&schedule)
    };
    let points = || TrophyAward::MostPoints(None);
    assert_eq!(codes(vec![trophy("bowl", range("106", "107"), points())]), []);
    assert_eq!(
        codes(vec![trophy("bowl", range("80", "84"), points())]),
        [ScheduleCode::TrophyPointsNowhere, ScheduleCode::TrophyEmpty]
    );
    assert_eq!(codes(vec![trophy("bowl", ClassSet::default(), points())]), [ScheduleCode::TrophyEmpty]);
    let gone =
        ClassSet { sections: vec!["Z".to_owned()], classes: vec![id(1), id(9)], ..ClassSet::default() };
    assert_eq!(codes(vec![trophy("bowl", gone, points())]), [ScheduleCode::TrophyPointsNowhere; 2]);
    assert_eq!(
        codes(vec![trophy("cup", ClassSet::all(), TrophyAward::ClassWinner)]),
        [ScheduleCode::TrophyManyClasses]
    );
    assert_eq!(
        codes(vec![trophy("medal", ClassSet::all(), TrophyAward::MostPrizeMoney)]),
        [ScheduleCode::TrophyUncounted]
    );
    assert_eq!(
        codes(vec![trophy("bowl", ClassSet::all(), TrophyAward::MostPoints(Some("54".to_owned())))]),
        [ScheduleCode::PointsUnknown]
    );
    let open = ShowTrophy { tie_breaks: vec![TieBreak::Firsts], ..trophy("bowl", ClassSet::all(), points()) };
    assert_eq!(codes(vec![open]), [ScheduleCode::TrophyTieOpen]);
    let bowl = || trophy("bowl", ClassSet::all(), points());
    assert_eq!(codes(vec![bowl(), bowl()]), [ScheduleCode::TrophyTwice]);
    let after =
        |key: &str| ShowTrophy { not_with: vec![key.to_owned()], ..trophy("cup", ClassSet::all(), points()) };
    assert_eq!(codes(vec![bowl(), after("bowl")]), []);
    assert_eq!(codes(vec![after("bowl"), bowl()]), [ScheduleCode::TrophyPointsNowhere]);
    let mut unscored = with(vec![class(1, "1", ClassRules { points: None, ..sound(vec![plants(1)]) })]);
    unscored.trophies = vec![bowl()];
    assert_eq!(found_in(&unscored), [ScheduleCode::TrophyUncounted]);
}

#[test]
fn every_code_of_a_schedule_is_met_in_these_tests() {
    let here = include_str!("show_publishing.rs");
    for code in ScheduleCode::ALL {
        assert!(here.contains(&format!("ScheduleCode::{code:?}")), "{code:?}");
    }
}
