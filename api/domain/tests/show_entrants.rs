//! May this exhibitor enter? Limits, households, levels and seedlings as printed schedules have them.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use storksbill_domain::ids::ClassId;
use storksbill_domain::shows::{
    Answer, AsOf, ClassRules, CountedResults, EntryFee, ExhibitorFacts, HistoryCondition, HouseholdRule,
    LevelRule, PastResult, Pence, PlantFacts, Reach, ReasonCode, SeedlingRule,
};
use storksbill_domain::words::PlantGroup;
use support::{ask, day, entered, first_places, id, member, plant, plants, rules};

/// One entry a class in most schedules; two on trial (wscfpsociety.btck.co.uk, general rules, 2016); any number, each of another cultivar (ADS sample schedules, docsbay.net, 5 to 7).
#[test]
fn classes_limit_how_often_one_exhibitor_enters() {
    let limited = |per_exhibitor, each_different| {
        let mut rules = rules(vec![plants(1)]);
        rules.entries.per_exhibitor = per_exhibitor;
        rules.entries.each_different = each_different;
        rules
    };
    let has = |count: u128| ExhibitorFacts {
        entered: (0..count).map(|n| entered(1, true, &[(10 + n, 1)])).collect(),
        ..member()
    };
    assert_eq!(
        ask(limited(Some(1), false), &has(1), &plant(1)),
        (Answer::No, vec![ReasonCode::ClassLimitReached])
    );
    assert_eq!(ask(limited(Some(2), false), &has(1), &plant(1)), (Answer::Yes, vec![]));
    assert_eq!(ask(limited(None, true), &has(5), &plant(1)), (Answer::Yes, vec![]));
    let another = PlantFacts { plant: id(50), ..plant(10) };
    assert_eq!(
        ask(limited(None, true), &has(5), &another),
        (Answer::No, vec![ReasonCode::CultivarAlreadyEntered])
    );
}

/// Two people of one garden enter one class jointly (Royal Horticultural Society, show rules, rule 4, as reprinted);
/// elsewhere each may (Groombridge Horticultural Society, show rules, 5). Joint names in open classes alone (wscfpsociety.btck.co.uk,
/// general rules, 6).
#[test]
fn households_and_joint_names_follow_the_class() {
    let of = |household, no_joint_names| {
        let mut rules = rules(vec![plants(1)]);
        rules.entrants.household = household;
        rules.entrants.no_joint_names = no_joint_names;
        rules
    };
    let partner_in = ExhibitorFacts { entered: vec![entered(1, false, &[(7, 1)])], ..member() };
    assert_eq!(
        ask(of(Some(HouseholdRule::Jointly), false), &partner_in, &plant(1)),
        (Answer::No, vec![ReasonCode::HouseholdConflict])
    );
    assert_eq!(ask(of(Some(HouseholdRule::MayEach), false), &partner_in, &plant(1)), (Answer::Yes, vec![]));
    let joint = ExhibitorFacts { is_joint: true, ..member() };
    assert_eq!(ask(of(None, true), &joint, &plant(1)), (Answer::No, vec![ReasonCode::JointNames]));
    assert_eq!(ask(of(None, false), &joint, &plant(1)), (Answer::Yes, vec![]));
}

#[test]
fn judges_traders_and_those_in_a_shutting_class_stay_out() {
    let mut demands = rules(vec![plants(1)]);
    demands.entrants.amateurs_only = true;
    demands.entrants.not_entered_in = vec![id(2)];
    let exhibitor = ExhibitorFacts {
        in_the_trade: true,
        judges: vec![id::<ClassId>(1)],
        entered: vec![entered(2, true, &[(8, 1)])],
        ..member()
    };
    assert_eq!(
        ask(demands, &exhibitor, &plant(1)),
        (
            Answer::No,
            vec![ReasonCode::NotAnAmateur, ReasonCode::JudgeConflict, ReasonCode::OtherClassEntered]
        )
    );
}

fn first(on: &str, reach: Reach, level: &str) -> PastResult {
    PastResult {
        on: day(on),
        reach,
        section: None,
        group: Some(PlantGroup::Regal),
        level: Some(level.to_owned()),
        place: Some(1),
        awards: vec![],
    }
}

fn level(counts: CountedResults, reach: Reach, at_most: u32) -> HistoryCondition {
    HistoryCondition { counts, ..first_places(reach, at_most) }
}

fn confined(as_of: AsOf, conditions: Vec<HistoryCondition>) -> ClassRules {
    let mut rules = rules(vec![plants(1)]);
    rules.entrants.level = Some(LevelRule { name: "novice".to_owned(), as_of, conditions });
    rules
}

/// Up after eight firsts at each level (Western Australian society, in the robin of the International Geranium
/// Society, 1998).
#[test]
fn a_novice_moves_up_after_eight_firsts_as_a_novice() {
    let novice = || {
        let mut condition = level(CountedResults::PlacesTo(1), Reach::ThisSociety, 7);
        condition.levels = vec!["novice".to_owned()];
        confined(AsOf::ShowDay, vec![condition])
    };
    let with = |count: usize, level: &str| ExhibitorFacts {
        history: vec![first("2026-06-13", Reach::ThisShow, level); count],
        ..member()
    };
    assert_eq!(ask(novice(), &with(7, "novice"), &plant(1)), (Answer::Yes, vec![]));
    assert_eq!(
        ask(novice(), &with(8, "novice"), &plant(1)),
        (Answer::No, vec![ReasonCode::LevelNotEligible])
    );
    assert_eq!(ask(novice(), &with(8, "open"), &plant(1)), (Answer::Yes, vec![]));
    // Those of the intermediate level have outgrown the first, and not the second.
    let mut left = level(CountedResults::PlacesTo(1), Reach::ThisSociety, 7);
    left.levels = vec!["intermediate".to_owned()];
    let mut reached = HistoryCondition { at_most: None, at_least: Some(8), ..left.clone() };
    reached.levels = vec!["novice".to_owned()];
    let intermediate = || confined(AsOf::ShowDay, vec![reached.clone(), left.clone()]);
    assert_eq!(ask(intermediate(), &with(8, "novice"), &plant(1)), (Answer::Yes, vec![]));
    assert_eq!(
        ask(intermediate(), &with(7, "novice"), &plant(1)),
        (Answer::No, vec![ReasonCode::LevelNotEligible])
    );
    let rule = intermediate().entrants.level.unwrap();
    let standings = rule.standings(&with(8, "novice").history, day("2027-06-12"));
    assert_eq!(
        standings.iter().map(|standing| (standing.have, standing.left())).collect::<Vec<_>>(),
        [(8, None), (0, Some(7))]
    );
}

/// Never a first at any affiliated show, except in a beginners' class (Nottingham and Notts Fuchsia Society,
/// newsletter, April 2015). Results at other shows are as declared.
#[test]
fn results_at_other_shows_are_asked_for() {
    let novice = || {
        let mut condition = level(CountedResults::PlacesTo(1), Reach::Affiliated, 0);
        condition.levels_left_out = vec!["beginner".to_owned()];
        confined(AsOf::ShowDay, vec![condition])
    };
    let undeclared = ExhibitorFacts { outside_declared: false, ..member() };
    assert_eq!(ask(novice(), &undeclared, &plant(1)), (Answer::Depends, vec![ReasonCode::LevelUnknown]));
    assert_eq!(ask(novice(), &member(), &plant(1)), (Answer::Yes, vec![]));
    let with = |past| ExhibitorFacts { history: vec![past], outside_declared: false, ..member() };
    let not_eligible = (Answer::No, vec![ReasonCode::LevelNotEligible]);
    assert_eq!(ask(novice(), &with(first("2025-07-12", Reach::Affiliated, "open")), &plant(1)), not_eligible);
    let beginner =
        ExhibitorFacts { outside_declared: true, ..with(first("2025-07-12", Reach::Affiliated, "beginner")) };
    assert_eq!(ask(novice(), &beginner, &plant(1)), (Answer::Yes, vec![]));
    // A first on the day of the show itself is not of the past.
    let today =
        ExhibitorFacts { outside_declared: true, ..with(first("2027-06-12", Reach::Affiliated, "open")) };
    assert_eq!(ask(novice(), &today, &plant(1)), (Answer::Yes, vec![]));
    // Farther away than the rule looks.
    let elsewhere =
        ExhibitorFacts { outside_declared: true, ..with(first("2025-07-12", Reach::Elsewhere, "open")) };
    assert_eq!(ask(novice(), &elsewhere, &plant(1)), (Answer::Yes, vec![]));
}

/// The status at the start of the season stands for that year (auriculaandprimula.org.uk, show rules, 5: three firsts); a first since then counts only next year.
#[test]
fn a_level_fixed_at_the_start_of_the_season_stands() {
    let beginner = |as_of| confined(as_of, vec![level(CountedResults::PlacesTo(1), Reach::ThisSociety, 3)]);
    let history = [("2025-06-14"), ("2026-04-18"), ("2026-06-13"), ("2027-04-17")]
        .map(|on| first(on, Reach::ThisSociety, "open"))
        .to_vec();
    let exhibitor = ExhibitorFacts { history, ..member() };
    assert_eq!(ask(beginner(AsOf::SeasonStart), &exhibitor, &plant(1)), (Answer::Yes, vec![]));
    assert_eq!(
        ask(beginner(AsOf::EntryDay), &exhibitor, &plant(1)),
        (Answer::No, vec![ReasonCode::LevelNotEligible])
    );
}

/// Never won the novice award (wscfpsociety.btck.co.uk, general rules, 4); no place at all
/// (Nottingham and Notts Fuchsia Society, newsletter, April 2015).
#[test]
fn awards_and_any_place_can_be_what_counts() {
    let mut past = first("2026-06-13", Reach::ThisSociety, "novice");
    past.place = Some(3);
    past.awards = vec!["novice award".to_owned()];
    let exhibitor = ExhibitorFacts { history: vec![past], ..member() };
    let by = |counts| {
        ask(confined(AsOf::ShowDay, vec![level(counts, Reach::ThisSociety, 0)]), &exhibitor, &plant(1)).0
    };
    assert_eq!(by(CountedResults::PlacesTo(2)), Answer::Yes);
    assert_eq!(by(CountedResults::PlacesTo(3)), Answer::No);
    assert_eq!(by(CountedResults::Award("novice award".to_owned())), Answer::No);
    assert_eq!(by(CountedResults::Award("open award".to_owned())), Answer::Yes);
}

/// A plant in a seedling class has not won at an earlier show of the society (auriculaandprimula.org.uk, show rules, 6); raised by the exhibitor, not in commerce, first shown this year: common practice.
#[test]
fn a_seedling_class_asks_point_by_point() {
    let demands = || ClassRules {
        seedling: Some(SeedlingRule {
            raised_by_exhibitor: true,
            not_named: true,
            not_introduced: true,
            never_shown: false,
            no_first: Some(Reach::ThisSociety),
        }),
        ..rules(vec![plants(1)])
    };
    assert_eq!(ask(demands(), &member(), &plant(1)), (Answer::Depends, vec![ReasonCode::SeedlingUnknown; 4]));
    let mut seedling = PlantFacts {
        raised_by_exhibitor: Some(true),
        is_named: Some(false),
        is_introduced: Some(false),
        was_shown: Some(true),
        firsts: Some(vec![Reach::Elsewhere]),
        ..plant(1)
    };
    assert_eq!(ask(demands(), &member(), &seedling), (Answer::Yes, vec![]));
    seedling.firsts = Some(vec![Reach::ThisShow]);
    seedling.raised_by_exhibitor = Some(false);
    assert_eq!(ask(demands(), &member(), &seedling), (Answer::No, vec![ReasonCode::SeedlingNotEligible; 2]));
    // As far away as the rule looks, to the step.
    let edge = PlantFacts {
        firsts: Some(vec![Reach::ThisSociety]),
        raised_by_exhibitor: Some(true),
        ..seedling.clone()
    };
    assert_eq!(ask(demands(), &member(), &edge), (Answer::No, vec![ReasonCode::SeedlingNotEligible]));
    let earlier = ClassRules { no_earlier_first: Some(Reach::ThisSociety), ..rules(vec![plants(1)]) };
    assert_eq!(ask(earlier.clone(), &member(), &edge), (Answer::No, vec![ReasonCode::EarlierFirst]));
    let farther = PlantFacts { firsts: Some(vec![Reach::Affiliated]), ..edge };
    assert_eq!(ask(earlier.clone(), &member(), &farther), (Answer::Yes, vec![]));
    assert_eq!(ask(earlier.clone(), &member(), &seedling), (Answer::No, vec![ReasonCode::EarlierFirst]));
    assert_eq!(ask(earlier, &member(), &plant(2)), (Answer::Depends, vec![ReasonCode::EarlierFirstUnknown]));
}

/// Results that were not declared can only add: who has enough firsts for the open level has enough.
#[test]
fn enough_already_is_not_asked_further() {
    let open = || {
        let mut condition = first_places(Reach::Affiliated, 0);
        (condition.at_least, condition.at_most) = (Some(2), None);
        confined(AsOf::ShowDay, vec![condition])
    };
    let with = |count: usize| ExhibitorFacts {
        history: vec![first("2026-06-13", Reach::ThisShow, "open"); count],
        outside_declared: false,
        ..member()
    };
    assert_eq!(ask(open(), &with(2), &plant(1)), (Answer::Yes, vec![]));
    assert_eq!(ask(open(), &with(1), &plant(1)), (Answer::Depends, vec![ReasonCode::LevelUnknown]));
}

/// Fees of 25p for members and 35p for others (wscfpsociety.btck.co.uk, general rules); children free (thewhitchurchweb.org,
/// rules).
#[test]
fn fees_go_by_membership_and_age() {
    let fee = EntryFee { member: Pence(25), other: Pence(35), junior: Some(Pence(0)) };
    let due = [(true, false), (false, false), (true, true), (false, true)].map(|(m, j)| fee.due(m, j).0);
    assert_eq!(due, [25, 35, 0, 0]);
    assert_eq!(EntryFee { junior: None, ..fee }.due(false, true), Pence(35));
}
