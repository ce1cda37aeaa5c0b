//! Pot and plant sizes as schedules print them: the inch and its metric twin are two limits.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use storksbill_domain::shows::{
    Against, Answer, ClassSlot, Exhibit, HeightLimit, MeasuredFrom, MeasuredTo, Micrometres, PlantHeight,
    ReasonCode, SizeLimit, eligibility, lengths_in,
};
use storksbill_domain::words::PlantGroup;
use support::{class, member, plant, plants, rules, show, told};

fn um(text: &str) -> Micrometres {
    text.parse().unwrap()
}

/// One inch is 25.4 mm exactly (International yard and pound agreement, 1959). Exact millimetres of the sizes
/// that fuchsia and pelargonium schedules print.
#[test]
fn inches_are_whole_micrometres() {
    for (inches, micrometres) in [
        ("2 in", 50_800),
        ("2¼ in", 57_150),
        ("2½ in", 63_500),
        ("3 inches", 76_200),
        ("3½ in", 88_900),
        ("4 in", 101_600),
        ("4 1/2 in", 114_300),
        ("5\"", 127_000),
        ("5¼ in", 133_350),
        ("5½ in", 139_700),
        ("6.5 in", 165_100),
        ("8½ in", 215_900),
        ("16 in", 406_400),
        ("18 in", 457_200),
    ] {
        assert_eq!(um(inches), Micrometres(micrometres), "{inches}");
    }
    assert_eq!(um("11.5 cm"), Micrometres(115_000));
    assert_eq!(um("½ in"), Micrometres(12_700));
    assert_eq!(um("133 mm").to_string(), "133 mm");
    assert_eq!(um("4½ in").to_string(), "114.3 mm");
    assert_eq!(um("2¼ in").to_string(), "57.15 mm");
    for no_length in ["", "in", "4½", "P9", "1/0 in", "1/3 mm", "-4 in", "4,5 in", "1e3 mm"] {
        assert!(no_length.parse::<Micrometres>().is_err(), "{no_length}");
    }
}

#[test]
fn printed_words_give_up_their_lengths() {
    let found = |text: &str| -> Vec<i64> { lengths_in(text).into_iter().map(|(_, um)| um.0).collect() };
    assert_eq!(found("not exceeding 6 in (150 mm)"), [152_400, 150_000]);
    assert_eq!(found("over 4 1/2 in and not over 5½ inches"), [114_300, 139_700]);
    assert_eq!(found("three plants in 9 cm pots, class 12"), [90_000]);
    assert_eq!(found("any pot"), Vec::<i64>::new());
}

/// Salford and Bolton Fuchsia Society, show schedule: 4½ in stands beside 11 cm; the register of pelargoniums gives
/// dwarfs 11 cm. A pot of 112 mm passes the one and fails the other.
#[test]
fn four_and_a_half_inches_are_not_eleven_centimetres() {
    let pot = um("112 mm");
    assert_eq!(SizeLimit::up_to(um("4½ in")).against(pot, Micrometres(0)), Against::Within);
    assert_eq!(SizeLimit::up_to(um("11 cm")).against(pot, Micrometres(0)), Against::Over);
    assert!(um("3½ in") < um("9 cm"));
}

/// "6 in (152 mm)" in the schedule of the West Yorkshire Fuchsia Society, "6 in (150 mm)" in the classes of
/// wmgardenclub.org.uk: a pot of 152 mm passes the one and fails the other.
#[test]
fn a_152_mm_pot_is_within_six_inches_and_over_150_mm() {
    let pot = um("152 mm");
    assert_eq!(SizeLimit::up_to(um("152 mm")).against(pot, Micrometres(0)), Against::Within);
    assert_eq!(SizeLimit::up_to(um("6 in")).against(pot, Micrometres(0)), Against::Within);
    assert_eq!(SizeLimit::up_to(um("150 mm")).against(pot, Micrometres(0)), Against::Over);
    assert_eq!(SizeLimit::up_to(um("150 mm")).against(pot, um("2 mm")), Against::Within);
    let at_least = SizeLimit::between(um("154 mm"), um("200 mm"));
    assert_eq!(at_least.against(pot, Micrometres(0)), Against::Under);
    assert_eq!(at_least.against(pot, um("2 mm")), Against::Within);
}

/// Billericay Horticultural Society, schedule, classes 10, 11 and 18: "not exceeding" takes the length itself in,
/// "over" leaves it out.
#[test]
fn not_exceeding_is_inclusive_and_over_is_not() {
    let six = um("6 in");
    assert_eq!(SizeLimit::up_to(six).against(six, Micrometres(0)), Against::Within);
    assert_eq!(SizeLimit::over(six).against(six, Micrometres(0)), Against::Under);
    assert_eq!(SizeLimit::over(six).against(Micrometres(six.0 + 1), Micrometres(0)), Against::Within);
}

/// West Yorkshire Fuchsia Society, schedule: bands of 100 to 114 mm and 127 to 140 mm leave 120 mm without a class.
#[test]
fn a_pot_between_two_bands_fits_neither_and_each_says_what_would_fit() {
    let slot =
        |from: &str, to: &str| ClassSlot { pot: Some(SizeLimit::between(um(from), um(to))), ..plants(1) };
    let mut potted = plant(1);
    potted.pot = Some(um("120 mm"));
    let small = class(1, "1", rules(vec![slot("100 mm", "114 mm")]));
    let large = class(2, "2", rules(vec![slot("127 mm", "140 mm")]));
    let in_small = eligibility(&small, &show(), &member(), Exhibit::Plant(&potted));
    let in_large = eligibility(&large, &show(), &member(), Exhibit::Plant(&potted));
    assert_eq!(told(&in_small), (Answer::No, vec![ReasonCode::OverSize]));
    assert_eq!(told(&in_large), (Answer::No, vec![ReasonCode::UnderSize]));
    let remedy = |found: &storksbill_domain::shows::Eligibility| found.reasons[0].told().remedy.unwrap();
    assert_eq!(remedy(&in_small), "A pot of at least 100 mm and no more than 114 mm.");
    assert_eq!(remedy(&in_large), "A pot of at least 127 mm and no more than 140 mm.");
    // The steward measures when it is staged: it may be entered by those who have read it.
    assert!(!in_small.is_barred());
    assert_eq!(in_small.to_acknowledge().count(), 1);
}

/// Heights: geraniumsonline.com, "Dwarf and miniature" (2016): miniature up to 5 in, dwarf from 5 in; Western
/// Australian society, in the robin of the International Geranium Society (1998): miniature under 5 in, dwarf from
/// 5 in. A plant of exactly 5 in is a miniature by the one and not by the other.
#[test]
fn a_plant_of_exactly_five_inches_is_a_miniature_by_one_rule_only() {
    let limit = |inclusive: bool| {
        let mut limit = SizeLimit::up_to(um("5 in"));
        limit.to = limit.to.map(|bound| storksbill_domain::shows::Bound { inclusive, ..bound });
        HeightLimit { limit, measured_from: MeasuredFrom::Compost, measured_to: MeasuredTo::TopLeaf }
    };
    let slot = |inclusive| {
        let mut slot = ClassSlot { height: Some(limit(inclusive)), ..plants(1) };
        slot.taxa.groups = vec![PlantGroup::Miniature];
        slot
    };
    let mut small = plant(1);
    small.group = Some(PlantGroup::Miniature);
    let asked = |small: &storksbill_domain::shows::PlantFacts, inclusive| {
        told(&eligibility(
            &class(1, "7", rules(vec![slot(inclusive)])),
            &show(),
            &member(),
            Exhibit::Plant(small),
        ))
    };
    assert_eq!(asked(&small, true), (Answer::Depends, vec![ReasonCode::HeightUnknown]));
    small.heights.push(PlantHeight {
        um: um("5 in"),
        measured_from: MeasuredFrom::Rim,
        measured_to: MeasuredTo::TopLeaf,
    });
    // Measured from the rim it tells nothing of the height from the compost.
    assert_eq!(asked(&small, true), (Answer::Depends, vec![ReasonCode::HeightUnknown]));
    small.heights.push(PlantHeight {
        um: um("5 in"),
        measured_from: MeasuredFrom::Compost,
        measured_to: MeasuredTo::TopLeaf,
    });
    assert_eq!(asked(&small, true), (Answer::Yes, vec![]));
    assert_eq!(asked(&small, false), (Answer::No, vec![ReasonCode::HeightOutOfRange]));
    // What it is registered as and what it measures are two facts: registered as a dwarf it is let in with a note.
    small.group = Some(PlantGroup::Dwarf);
    assert_eq!(asked(&small, true), (Answer::Yes, vec![ReasonCode::RegisterGroup]));
    let unmeasured = {
        let mut slot = plants(1);
        slot.taxa.groups = vec![PlantGroup::Miniature];
        class(1, "7", rules(vec![slot]))
    };
    // Where the class measures nothing, what it is registered as is all there is.
    assert_eq!(
        told(&eligibility(&unmeasured, &show(), &member(), Exhibit::Plant(&small))),
        (Answer::No, vec![ReasonCode::KindMismatch])
    );
    small.group = Some(PlantGroup::Regal);
    assert_eq!(asked(&small, true), (Answer::No, vec![ReasonCode::KindMismatch]));
}

/// Salford and Bolton Fuchsia Society, notes on standards: clear stems of 10 to 18 in are quarter, 18 to 30 in half,
/// 30 to 42 in full standards; the ends meet, and a plant at an end satisfies both forms.
#[test]
fn a_clear_stem_where_two_forms_meet_satisfies_both() {
    let form = |from: &str, to: &str| {
        let slot = ClassSlot { clear_stem: Some(SizeLimit::between(um(from), um(to))), ..plants(1) };
        class(1, "30", rules(vec![slot]))
    };
    let fits = |stem: &str| -> Vec<Answer> {
        let mut standard = plant(1);
        standard.clear_stem = Some(um(stem));
        [form("10 in", "18 in"), form("18 in", "30 in"), form("30 in", "42 in")]
            .iter()
            .map(|class| eligibility(class, &show(), &member(), Exhibit::Plant(&standard)).answer)
            .collect()
    };
    assert_eq!(fits("18 in"), [Answer::Yes, Answer::Yes, Answer::No]);
    assert_eq!(fits("30 in"), [Answer::No, Answer::Yes, Answer::Yes]);
    assert_eq!(fits("24 in"), [Answer::No, Answer::Yes, Answer::No]);
}
