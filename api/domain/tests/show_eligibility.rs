//! May this exhibitor enter this exhibit? The rules asked here are those of printed schedules; each names its source.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use storksbill_domain::ids::{ClassId, PlantId};
use storksbill_domain::shows::{
    Answer, AsOf, Bearing, ClassRules, ClassSlot, CountedResults, Distinctness, EnteredExhibit, Exhibit,
    ExhibitItem, ExhibitUnit, ExhibitorFacts, FlowerRule, HistoryCondition, HouseholdRule, LevelRule,
    Micrometres, NamingRule, PastResult, PlantFacts, Reach, Reason, ReasonCode, ScheduleClass, SeedlingRule,
    ShowFacts, SizeLimit, eligibility, find_classes,
};
use storksbill_domain::words::{GrowthForm, PlantGroup};
use support::{class, codes, day, id, member, moment, plant, plants, rules, show, told};

fn ask(rules: ClassRules, exhibitor: &ExhibitorFacts, plant: &PlantFacts) -> (Answer, Vec<ReasonCode>) {
    told(&eligibility(&class(1, "1", rules), &show(), exhibitor, Exhibit::Plant(plant)))
}

fn enter(rules: ClassRules, items: &[(&PlantFacts, u32)]) -> (Answer, Vec<ReasonCode>) {
    let items: Vec<ExhibitItem<'_>> =
        items.iter().map(|&(plant, count)| ExhibitItem { plant, count }).collect();
    told(&eligibility(&class(1, "1", rules), &show(), &member(), Exhibit::Whole(&items)))
}

#[test]
fn every_reason_is_given_at_once_with_what_would_make_it_fit() {
    let mut slot = ClassSlot { pot: Some(SizeLimit::up_to("5 in".parse().unwrap())), ..plants(1) };
    slot.taxa.groups = vec![PlantGroup::Zonal, PlantGroup::Stellar];
    slot.forms = vec![GrowthForm::Bush];
    slot.flowers = Some(FlowerRule::Needed);
    let mut demands = rules(vec![slot]);
    demands.entrants.members_only = true;
    demands.naming = Some(NamingRule::Must);
    let mut regal = plant(4);
    regal.group = Some(PlantGroup::Regal);
    regal.pot = Some(Micrometres::mm(140));
    regal.form = Some(GrowthForm::Standard);
    regal.has_name = false;
    let guest = ExhibitorFacts::default();
    let found = eligibility(&class(1, "12", demands), &show(), &guest, Exhibit::Plant(&regal));
    assert_eq!(found.answer, Answer::No);
    assert!(found.is_barred());
    let told: Vec<(ReasonCode, Bearing, Option<PlantId>, Option<String>)> = found
        .reasons
        .iter()
        .map(Reason::told)
        .map(|told| (told.code, told.bearing, told.plant_id, told.remedy))
        .collect();
    let of_plant = Some(regal.plant);
    assert_eq!(
        told,
        [
            (ReasonCode::NotAMember, Bearing::Bars, None, Some("Join the society.".to_owned())),
            (ReasonCode::KindMismatch, Bearing::Bars, of_plant, None),
            (ReasonCode::FormMismatch, Bearing::Doubts, of_plant, Some("A plant grown as bush.".to_owned())),
            (
                ReasonCode::OverSize,
                Bearing::Doubts,
                of_plant,
                Some("A pot of no more than 127 mm.".to_owned())
            ),
            (
                ReasonCode::FlowersUnknown,
                Bearing::Opens,
                of_plant,
                Some("A plant in flower on the day of the show.".to_owned())
            ),
            (
                ReasonCode::NameMissing,
                Bearing::Doubts,
                of_plant,
                Some("Give the plant's name for its card.".to_owned())
            ),
        ]
    );
    assert_eq!(found.reasons[1].why.to_string(), "It is regal; the class takes zonal or stellar");
    assert_eq!(found.reasons[3].why.to_string(), "A pot of 140 mm; the class asks for no more than 127 mm");
}

#[test]
fn what_is_not_known_makes_it_depend() {
    let mut slot = ClassSlot { pot: Some(SizeLimit::up_to(Micrometres::mm(127))), ..plants(1) };
    slot.taxa.other_than_groups = vec![PlantGroup::Regal];
    slot.taxa.introduced_before = Some(1938);
    slot.forms = vec![GrowthForm::Bush, GrowthForm::Fan];
    let unknown = ask(rules(vec![slot.clone()]), &member(), &plant(1));
    assert_eq!(
        unknown,
        (
            Answer::Depends,
            vec![
                ReasonCode::KindUnknown,
                ReasonCode::IntroductionUnknown,
                ReasonCode::FormUnknown,
                ReasonCode::SizeUnknown
            ]
        )
    );
    let mut known = plant(1);
    known.group = Some(PlantGroup::Angel);
    known.introduced = Some(1937);
    known.form = Some(GrowthForm::Fan);
    known.pot = Some(Micrometres::mm(127));
    assert_eq!(ask(rules(vec![slot.clone()]), &member(), &known), (Answer::Yes, vec![]));
    known.introduced = Some(1938);
    known.group = Some(PlantGroup::Regal);
    assert_eq!(
        ask(rules(vec![slot]), &member(), &known),
        (Answer::No, vec![ReasonCode::KindMismatch, ReasonCode::IntroducedTooLate])
    );
}

#[test]
fn listed_cultivars_are_in_and_those_left_out_are_not() {
    let mut listed = plants(1);
    listed.taxa.cultivars = vec![id(1), id(2)];
    let mut left_out = plants(1);
    left_out.taxa.other_than_cultivars = vec![id(1)];
    assert_eq!(ask(rules(vec![listed.clone()]), &member(), &plant(2)), (Answer::Yes, vec![]));
    assert_eq!(ask(rules(vec![listed]), &member(), &plant(3)), (Answer::No, vec![ReasonCode::NotListed]));
    assert_eq!(ask(rules(vec![left_out.clone()]), &member(), &plant(2)), (Answer::Yes, vec![]));
    assert_eq!(ask(rules(vec![left_out]), &member(), &plant(1)), (Answer::No, vec![ReasonCode::LeftOut]));
}

/// Flowers are taken off scented and coloured-leaved plants (Billericay Horticultural Society, schedule).
#[test]
fn flowers_to_take_off_are_a_note() {
    let slot = ClassSlot { flowers: Some(FlowerRule::Removed), ..plants(1) };
    let mut scented = plant(1);
    assert_eq!(
        ask(rules(vec![slot.clone()]), &member(), &scented),
        (Answer::Yes, vec![ReasonCode::FlowersToRemove])
    );
    scented.in_flower = Some(false);
    assert_eq!(ask(rules(vec![slot]), &member(), &scented), (Answer::Yes, vec![]));
    let slot = ClassSlot { flowers: Some(FlowerRule::Needed), ..plants(1) };
    assert_eq!(ask(rules(vec![slot]), &member(), &scented), (Answer::No, vec![ReasonCode::FlowersMissing]));
}

/// "Must be named" puts an unnamed exhibit out, "should" does not (schedules of dahlia and rock garden societies:
/// Scottish Rock Garden Club, 2015, rule 4).
#[test]
fn should_be_named_lets_a_plant_without_a_name_in() {
    let mut nameless = plant(1);
    nameless.has_name = false;
    let named = |naming| ClassRules { naming: Some(naming), ..rules(vec![plants(1)]) };
    assert_eq!(
        ask(named(NamingRule::Should), &member(), &nameless),
        (Answer::Yes, vec![ReasonCode::NameWanted])
    );
    assert_eq!(
        ask(named(NamingRule::Must), &member(), &nameless),
        (Answer::No, vec![ReasonCode::NameMissing])
    );
    assert_eq!(ask(named(NamingRule::Free), &member(), &nameless), (Answer::Yes, vec![]));
}

/// Neither more nor fewer than stated (Royal Horticultural Society, show rules, rule 5, as reprinted).
#[test]
fn counts_are_exact() {
    let three = || rules(vec![plants(3)]);
    let (a, b, c, d) = (plant(1), plant(2), plant(3), plant(4));
    assert_eq!(enter(three(), &[(&a, 1), (&b, 1), (&c, 1)]), (Answer::Yes, vec![]));
    assert_eq!(enter(three(), &[(&a, 1), (&b, 1)]), (Answer::No, vec![ReasonCode::CountMismatch]));
    assert_eq!(
        enter(three(), &[(&a, 1), (&b, 1), (&c, 1), (&d, 1)]),
        (Answer::No, vec![ReasonCode::CountMismatch])
    );
    // Three of a batch of three are an exhibit; three of a batch of two are not there.
    let batch = PlantFacts { quantity: 3, ..plant(5) };
    assert_eq!(enter(three(), &[(&batch, 3)]), (Answer::Yes, vec![]));
    let pair = PlantFacts { quantity: 2, ..plant(6) };
    assert_eq!(enter(three(), &[(&pair, 3)]), (Answer::No, vec![ReasonCode::CountMismatch]));
    assert_eq!(enter(three(), &[]), (Answer::No, vec![ReasonCode::CountMismatch]));
    assert_eq!(enter(three(), &[(&batch, u32::MAX), (&a, u32::MAX)]).0, Answer::No);
}

/// Distinct is different; "not necessarily distinct" asks for nothing (Tanunda Show, dahlia schedule; National Begonia
/// Society, show judging rules, 2011).
#[test]
fn distinctness_counts_cultivars() {
    let of = |distinct| ClassRules { distinct, ..rules(vec![plants(3)]) };
    let mut twin = plant(2);
    twin.plant = id(9);
    let (a, b, c) = (plant(1), plant(2), plant(3));
    let all = [(&a, 1), (&b, 1), (&c, 1)];
    let twins = [(&a, 1), (&b, 1), (&twin, 1)];
    assert_eq!(enter(of(Distinctness::AllDifferent), &all), (Answer::Yes, vec![]));
    assert_eq!(enter(of(Distinctness::AllDifferent), &twins), (Answer::No, vec![ReasonCode::NotDistinct]));
    assert_eq!(enter(of(Distinctness::AtLeast(2)), &twins), (Answer::Yes, vec![]));
    assert_eq!(enter(of(Distinctness::AtLeast(3)), &twins), (Answer::No, vec![ReasonCode::NotDistinct]));
    assert_eq!(enter(of(Distinctness::Free), &twins), (Answer::Yes, vec![]));
    assert_eq!(enter(of(Distinctness::AllSame), &twins), (Answer::No, vec![ReasonCode::NotAlike]));
    let batch = PlantFacts { quantity: 3, ..plant(5) };
    assert_eq!(enter(of(Distinctness::AllSame), &[(&batch, 3)]), (Answer::Yes, vec![]));
    assert_eq!(
        enter(of(Distinctness::AllDifferent), &[(&batch, 3)]),
        (Answer::No, vec![ReasonCode::NotDistinct])
    );
}

/// Three plants, one each in pots of 9, 11 and 13 cm (Salford and Bolton Fuchsia Society, schedule). Which plant goes
/// where is found, not asked: the 8 cm pot would also fit the larger slots and must leave them to the others.
#[test]
fn plants_find_their_slots() {
    let slot = |mm| ClassSlot { pot: Some(SizeLimit::up_to(Micrometres::mm(mm))), ..plants(1) };
    let demands = || rules(vec![slot(130), slot(110), slot(90)]);
    let potted = |n, mm| PlantFacts { pot: Some(Micrometres::mm(mm)), ..plant(n) };
    let (small, middle, large) = (potted(1, 80), potted(2, 105), potted(3, 125));
    assert_eq!(enter(demands(), &[(&small, 1), (&middle, 1), (&large, 1)]), (Answer::Yes, vec![]));
    assert_eq!(enter(demands(), &[(&large, 1), (&middle, 1), (&small, 1)]), (Answer::Yes, vec![]));
    // Two of 105 mm: one has to stand where 90 mm is the limit.
    let other = potted(4, 106);
    assert_eq!(
        enter(demands(), &[(&other, 1), (&middle, 1), (&large, 1)]),
        (Answer::No, vec![ReasonCode::OverSize])
    );
    // One that is not measured depends.
    let unmeasured = plant(5);
    assert_eq!(
        enter(demands(), &[(&unmeasured, 1), (&middle, 1), (&large, 1)]),
        (Answer::Depends, vec![ReasonCode::SizeUnknown])
    );
}

#[test]
fn a_plant_that_fits_no_slot_says_why_and_its_gap_is_not_told_again() {
    let of = |count, groups: &[PlantGroup]| {
        let mut slot = plants(count);
        slot.taxa.groups = groups.to_vec();
        slot
    };
    let demands = || rules(vec![of(2, &[PlantGroup::Regal]), of(1, &[PlantGroup::Angel])]);
    let kind = |n, group| PlantFacts { group: Some(group), ..plant(n) };
    let (regal, second, angel, zonal) = (
        kind(1, PlantGroup::Regal),
        kind(2, PlantGroup::Regal),
        kind(3, PlantGroup::Angel),
        kind(4, PlantGroup::Zonal),
    );
    assert_eq!(enter(demands(), &[(&angel, 1), (&regal, 1), (&second, 1)]), (Answer::Yes, vec![]));
    assert_eq!(
        enter(demands(), &[(&zonal, 1), (&regal, 1), (&second, 1)]),
        (Answer::No, vec![ReasonCode::KindMismatch])
    );
    let third = kind(5, PlantGroup::Regal);
    assert_eq!(
        enter(demands(), &[(&regal, 1), (&second, 1), (&third, 1)]),
        (Answer::No, vec![ReasonCode::CountMismatch])
    );
}

#[test]
fn on_the_look_out_a_plant_hears_what_its_exhibit_still_needs() {
    let of_three = || ClassRules { distinct: Distinctness::AllDifferent, ..rules(vec![plants(3)]) };
    let found = eligibility(&class(1, "1", of_three()), &show(), &member(), Exhibit::Plant(&plant(1)));
    assert_eq!(told(&found), (Answer::Depends, vec![ReasonCode::MoreNeeded]));
    assert_eq!(found.reasons[0].told().remedy.unwrap(), "Add 2 plants, each of another cultivar.");
    let batch = PlantFacts { quantity: 5, ..plant(2) };
    assert_eq!(ask(rules(vec![plants(3)]), &member(), &batch), (Answer::Yes, vec![]));
    // Stems are cut from one plant as many as are wanted.
    assert_eq!(
        ask(rules(vec![ClassSlot::of(6, ExhibitUnit::Stem)]), &member(), &plant(1)),
        (Answer::Yes, vec![])
    );
}

fn entered(class: u128, own: bool, plants: &[(u128, u32)]) -> EnteredExhibit {
    EnteredExhibit {
        class: id(class),
        own,
        whole_plants: plants.iter().map(|&(n, count)| (id(n), count)).collect(),
        cultivars: plants.iter().map(|&(n, _)| id(n)).collect(),
    }
}

#[test]
fn a_plant_stands_in_one_place_only() {
    let has = |entries: Vec<EnteredExhibit>| ExhibitorFacts { entered: entries, ..member() };
    let one = || rules(vec![plants(1)]);
    assert_eq!(
        ask(one(), &has(vec![entered(1, true, &[(1, 1)])]), &plant(1)),
        (Answer::No, vec![ReasonCode::EntryDuplicate])
    );
    assert_eq!(
        ask(one(), &has(vec![entered(2, true, &[(1, 1)])]), &plant(1)),
        (Answer::No, vec![ReasonCode::PlantAlreadyEntered])
    );
    // A second of the batch may; and another exhibitor's entry uses none of this one's.
    let pair = PlantFacts { quantity: 2, ..plant(1) };
    assert_eq!(ask(one(), &has(vec![entered(2, true, &[(1, 1)])]), &pair), (Answer::Yes, vec![]));
    assert_eq!(ask(one(), &has(vec![entered(2, false, &[(1, 1)])]), &plant(1)), (Answer::Yes, vec![]));
    let stems = rules(vec![ClassSlot::of(3, ExhibitUnit::Stem)]);
    assert_eq!(ask(stems, &has(vec![entered(2, true, &[(1, 1)])]), &plant(1)), (Answer::Yes, vec![]));
}

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
    HistoryCondition {
        counts,
        reach,
        sections: vec![],
        groups: vec![],
        levels: vec![],
        levels_left_out: vec![],
        at_least: None,
        at_most: Some(at_most),
    }
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
    let earlier = ClassRules { no_earlier_first: Some(Reach::ThisSociety), ..rules(vec![plants(1)]) };
    assert_eq!(ask(earlier.clone(), &member(), &seedling), (Answer::No, vec![ReasonCode::EarlierFirst]));
    assert_eq!(ask(earlier, &member(), &plant(2)), (Answer::Depends, vec![ReasonCode::EarlierFirstUnknown]));
}

#[test]
fn entries_before_opening_are_not_taken() {
    let show = ShowFacts { opens_at: Some(moment("2027-06-02T00:00:00Z")), ..show() };
    let found =
        eligibility(&class(1, "1", rules(vec![plants(1)])), &show, &member(), Exhibit::Plant(&plant(1)));
    assert_eq!(codes(&found), [ReasonCode::EntriesNotOpen]);
}

#[test]
fn finding_classes_is_asking_each_plant_and_class() {
    let classes: Vec<ScheduleClass> = (0..12)
        .map(|n| {
            let mut slot = plants(1 + u32::try_from(n % 3).unwrap());
            slot.taxa.groups = vec![PlantGroup::ALL[usize::try_from(n).unwrap() % PlantGroup::ALL.len()]];
            slot.pot = Some(SizeLimit::up_to(Micrometres::mm(90 + 10 * i64::try_from(n).unwrap())));
            class(n, &format!("{}", n + 1), rules(vec![slot]))
        })
        .collect();
    let all: Vec<PlantFacts> = (0..7)
        .map(|n| PlantFacts {
            group: Some(PlantGroup::ALL[usize::try_from(n).unwrap()]),
            pot: (n % 2 == 0).then(|| Micrometres::mm(100 + i64::try_from(n).unwrap())),
            ..plant(n)
        })
        .collect();
    let found = find_classes(&classes, &show(), &member(), &all);
    assert_eq!(found.len(), 7 * 12);
    let mut met = std::collections::BTreeSet::new();
    for (index, one) in found.iter().enumerate() {
        let (plant, class) = (&all[index / 12], &classes[index % 12]);
        assert_eq!((one.plant, one.class), (plant.plant, class.id));
        assert_eq!(one.eligibility, eligibility(class, &show(), &member(), Exhibit::Plant(plant)));
        met.insert(one.eligibility.answer);
    }
    assert_eq!(met.len(), 3, "all three answers are met");
}

#[test]
fn rules_read_back_from_json_and_strange_fields_are_refused() {
    let mut slot = ClassSlot {
        pot: Some(SizeLimit::up_to("4½ in".parse().unwrap()).printed("4½ in (11.4 cm)")),
        ..plants(1)
    };
    slot.taxa.groups = vec![PlantGroup::IvyLeaved];
    let mut demands =
        confined(AsOf::SeasonStart, vec![level(CountedResults::PlacesTo(1), Reach::Affiliated, 3)]);
    demands.slots = vec![slot];
    demands.distinct = Distinctness::AtLeast(2);
    let text = serde_json::to_string(&demands).unwrap();
    assert_eq!(serde_json::from_str::<ClassRules>(&text).unwrap(), demands);
    let short: ClassRules = serde_json::from_str(r#"{"slots":[{"count":1,"unit":"plant"}]}"#).unwrap();
    assert_eq!(short, rules(vec![plants(1)]));
    assert_eq!(serde_json::to_string(&short).unwrap(), r#"{"slots":[{"count":1,"unit":"plant"}]}"#);
    for strange in [
        r#"{"slots":[],"pots":3}"#,
        r#"{"slots":[{"count":1,"unit":"barrow"}]}"#,
        r#"{"slots":[{"count":-1,"unit":"plant"}]}"#,
        r#"{"slots":[{"count":1,"unit":"plant","pot":{"to":{"um":1.5,"inclusive":true}}}]}"#,
    ] {
        assert!(serde_json::from_str::<ClassRules>(strange).is_err(), "{strange}");
    }
}
