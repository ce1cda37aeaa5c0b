//! May this exhibit be entered in this class? The rules asked here are those of printed schedules; each names its source.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use storksbill_domain::ids::PlantId;
use storksbill_domain::shows::{
    Answer, AsOf, Bearing, ClassRules, ClassSlot, Distinctness, EnteredExhibit, Exhibit, ExhibitItem,
    ExhibitUnit, ExhibitorFacts, FlowerRule, Holding, LevelRule, Micrometres, NamingRule, Period, PlantFacts,
    Reach, Reason, ReasonCode, ScheduleClass, ShowFacts, SizeLimit, eligibility, find_classes, staged_fit,
};
use storksbill_domain::words::{GrowthForm, PlantGroup};
use support::{
    ask, class, codes, day, entered, first_places, id, member, moment, plant, plants, rules, show, told,
};

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
    // Of cultivars that must differ a batch gives one.
    assert_eq!(ask(of_three(), &member(), &batch), (Answer::Depends, vec![ReasonCode::MoreNeeded]));
    assert_eq!(ask(rules(vec![plants(3)]), &member(), &batch), (Answer::Yes, vec![]));
    // Stems are cut from one plant as many as are wanted.
    assert_eq!(
        ask(rules(vec![ClassSlot::of(6, ExhibitUnit::Stem)]), &member(), &plant(1)),
        (Answer::Yes, vec![])
    );
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
    assert_eq!(ask(one(), &has(vec![entered(1, true, &[(1, 1)])]), &pair), (Answer::Yes, vec![]));
    assert_eq!(ask(one(), &has(vec![entered(2, false, &[(1, 1)])]), &plant(1)), (Answer::Yes, vec![]));
    let stems = rules(vec![ClassSlot::of(3, ExhibitUnit::Stem)]);
    assert_eq!(ask(stems, &has(vec![entered(2, true, &[(1, 1)])]), &plant(1)), (Answer::Yes, vec![]));
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
    let mut demands = rules(vec![slot]);
    demands.entrants.level = Some(LevelRule {
        name: "novice".to_owned(),
        as_of: AsOf::SeasonStart,
        conditions: vec![first_places(Reach::Affiliated, 3)],
    });
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

/// Law: the answer is the best that any way of standing the plants in the slots gives, over exhibits drawn with a fixed
/// seed: all without a doubt, else all that fit or may fit, else no.
#[test]
fn the_answer_is_that_of_the_best_way_to_fill_the_slots() {
    let mut state = 42_u64;
    let mut draw = |below: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::try_from((state >> 33) % below).unwrap()
    };
    let mut met = [0_usize; 3];
    for _ in 0..2000 {
        let slots: Vec<ClassSlot> = (0..=draw(3))
            .map(|_| {
                let low = 80 + 10 * draw(5);
                let pot = SizeLimit::between(Micrometres::mm(low), Micrometres::mm(low + 10 + 10 * draw(3)));
                ClassSlot { pot: Some(pot), ..plants(u32::try_from(1 + draw(2)).unwrap()) }
            })
            .collect();
        let places: Vec<&SizeLimit> = slots
            .iter()
            .flat_map(|slot| {
                std::iter::repeat_n(slot.pot.as_ref().unwrap(), usize::try_from(slot.count).unwrap())
            })
            .collect();
        let potted: Vec<PlantFacts> = (0..places.len() as u128)
            .map(|n| PlantFacts {
                pot: (draw(5) > 0).then(|| Micrometres::mm(75 + 10 * draw(8))),
                ..plant(n)
            })
            .collect();
        // 2 fits, 1 may fit, 0 does not; the best way is the one whose worst place is best.
        let fit = |plant: &PlantFacts, limit: &SizeLimit| match plant.pot {
            None => 1,
            Some(pot) if limit.against(pot, Micrometres(0)) == storksbill_domain::shows::Against::Within => 2,
            Some(_) => 0,
        };
        let worst = |order: &[usize]| -> usize {
            order.iter().zip(&places).map(|(&at, limit)| fit(&potted[at], limit)).min().unwrap()
        };
        let best = permutations(potted.len()).iter().map(|order| worst(order)).max().unwrap();
        met[best] += 1;
        let items: Vec<ExhibitItem<'_>> =
            potted.iter().map(|plant| ExhibitItem { plant, count: 1 }).collect();
        let class = class(1, "1", rules(slots.clone()));
        let found = eligibility(&class, &show(), &member(), Exhibit::Whole(&items));
        let expected = [Answer::No, Answer::Depends, Answer::Yes][best];
        assert_eq!(
            found.answer,
            expected,
            "{slots:?} {:?}",
            potted.iter().map(|p| p.pot).collect::<Vec<_>>()
        );
        assert_eq!(staged_fit(&class, &show(), &items), found);
    }
    assert!(met.iter().all(|&count| count > 100), "{met:?}");
}

fn permutations(of: usize) -> Vec<Vec<usize>> {
    if of == 0 {
        return vec![vec![]];
    }
    let shorter = permutations(of - 1);
    let insert = |order: &Vec<usize>, at: usize| {
        let mut longer = order.clone();
        longer.insert(at, of - 1);
        longer
    };
    shorter.iter().flat_map(|order| (0..of).map(move |at| insert(order, at))).collect()
}

/// Figures at the ends of their types come to an answer, not to an overflow.
#[test]
fn extreme_figures_are_answered() {
    let slot = ClassSlot {
        pot: Some(SizeLimit::between(Micrometres(i64::MIN), Micrometres(i64::MAX))),
        ..plants(u32::MAX)
    };
    let mut demands = rules(vec![slot.clone(), slot]);
    demands.held_for = Some(Holding { period: Period::Weeks(u32::MAX), unless_from_seed: false });
    let old = PlantFacts {
        quantity: u32::MAX,
        pot: Some(Micrometres(i64::MIN)),
        held_since: Some(day("1900-01-01")),
        ..plant(1)
    };
    let wide = ShowFacts { tolerance: Micrometres(i64::MAX), ..show() };
    let class = class(1, "1", demands);
    let found = eligibility(&class, &wide, &member(), Exhibit::Plant(&old));
    assert_eq!(codes(&found), [ReasonCode::OwnedTooShort]);
    let items = [ExhibitItem { plant: &old, count: u32::MAX }, ExhibitItem { plant: &old, count: u32::MAX }];
    let found = eligibility(&class, &wide, &member(), Exhibit::Whole(&items));
    assert_eq!(found.answer, Answer::No);
    assert!(found.reasons.iter().all(|reason| !reason.told().detail.is_empty()));
}

/// What the title or the words ask and no rule asks as data: whatever plant it is, a person judges.
#[test]
fn what_words_alone_ask_is_never_a_yes() {
    let asked = |title: &str, demands: ClassRules, plant: &PlantFacts| {
        let class = ScheduleClass { title: title.to_owned(), ..class(1, "1", demands) };
        let found = eligibility(&class, &show(), &member(), Exhibit::Plant(plant));
        let words: Vec<String> = found
            .reasons
            .iter()
            .filter(|reason| reason.why.code() == ReasonCode::WordsToJudge)
            .map(|reason| reason.why.to_string().rsplit(": ").next().unwrap().to_owned())
            .collect();
        (found.answer, words)
    };
    let words = |text: &str| ClassRules { words: Some(text.to_owned()), ..rules(vec![plants(1)]) };
    let (depends, yes) = (Answer::Depends, Answer::Yes);
    let basket = PlantFacts { form: Some(GrowthForm::Basket), ..plant(1) };
    for title in
        ["One fan or pyramid", "One sport", "Two PILLARS", "One hanging basket", "One of the club's cuttings"]
    {
        assert_eq!(asked(title, rules(vec![plants(1)]), &basket), (depends, vec![title.to_owned()]));
    }
    let march = "Struck from the cuttings given out in March.";
    assert_eq!(asked("One plant", words(march), &basket), (depends, vec![march.to_owned()]));
    assert_eq!(asked("One plant", words("  "), &basket), (yes, vec![]));
    assert_eq!(asked("One plant", rules(vec![plants(1)]), &basket), (yes, vec![]));
    // Asked as data, a program answers.
    let mut shaped = plants(1);
    shaped.forms = vec![GrowthForm::Fan, GrowthForm::Pyramid];
    let shaped = rules(vec![shaped]);
    assert_eq!(asked("One fan or pyramid", shaped.clone(), &basket), (Answer::No, vec![]));
    let fan = PlantFacts { form: Some(GrowthForm::Fan), ..plant(1) };
    assert_eq!(asked("One fan or pyramid", shaped, &fan), (yes, vec![]));
}

/// A cultivar is introduced in the year it was raised or later.
#[test]
fn the_year_of_raising_answers_for_that_of_introduction() {
    let mut slot = plants(1);
    slot.taxa.introduced_before = Some(1950);
    let demands = rules(vec![slot]);
    for (introduced, raised, expected) in [
        (None, Some(2019), (Answer::No, vec![ReasonCode::IntroducedTooLate])),
        (None, Some(1950), (Answer::No, vec![ReasonCode::IntroducedTooLate])),
        (None, Some(1949), (Answer::Depends, vec![ReasonCode::IntroductionUnknown])),
        (None, None, (Answer::Depends, vec![ReasonCode::IntroductionUnknown])),
        (Some(1931), Some(1929), (Answer::Yes, vec![])),
        (Some(1960), Some(1929), (Answer::No, vec![ReasonCode::IntroducedTooLate])),
    ] {
        let plant = PlantFacts { introduced, raised, ..plant(1) };
        assert_eq!(enter(demands.clone(), &[(&plant, 1)]), expected, "{introduced:?} {raised:?}");
    }
}
