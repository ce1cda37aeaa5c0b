//! Points by the schemes that societies print, and prize money among equals. Every table was reckoned by hand.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use storksbill_domain::shows::{
    ClassResult, NextPlace, OddPence, Pence, Points, PointsScheme, ResultRules, SizeStep, ThinClass,
    TiedShare,
};
use support::bench_hall::{Hall, letter, scheme};

/// Seven classes, four exhibitors:
///
/// | class | 1st | 2nd | 3rd | HC |
/// |---|---|---|---|---|
/// | 1  | A | B | C | D |
/// | 2  | B | A | D | C |
/// | 3  | C | D | B |   |
/// | 4  | A | C | B | D |
/// | 5  | B | D |   |   |
/// | 5A | D | C | A | B |
/// | 6  | withheld | C | | |
///
/// So A has 2 firsts, 1 second, 1 third, 0 HC; B 2, 1, 2, 1; C 1, 3, 1, 1; D 1, 2, 1, 2.
fn seven_classes(scheme: PointsScheme) -> Hall {
    let mut hall = Hall::scored(scheme);
    hall.judge("1", "A B C hc:D")
        .judge("2", "B A D hc:C")
        .judge("3", "C D B")
        .judge("4", "A C B hc:D")
        .judge("5", "B D")
        .judge("5A", "D C A hc:B")
        .judge("6", "- C");
    hall
}

#[test]
fn places_are_counted() {
    let results = seven_classes(scheme(&[3, 2, 1], 0)).results();
    let told: Vec<_> = results
        .exhibitors
        .iter()
        .map(|t| (letter(t.exhibitor), t.firsts, t.seconds, t.thirds, t.commended))
        .collect();
    assert_eq!(told, [('A', 2, 1, 1, 0), ('B', 2, 1, 2, 1), ('C', 1, 3, 1, 1), ('D', 1, 2, 1, 2)]);
}

/// The schemes: 3-2-1, Otterton and District Garden Club, Old Milverton, Lambeth Horticultural Society; 5-3-1, Salford and
/// Bolton Fuchsia Society; 5-2-1, fedaga.org.uk; 5-3-2 and 1 for HC, Billericay Horticultural Society; 4-3-2 and 1 for
/// HC, Great Baddow Horticultural Society. By hand for A: 3-2-1: 2×3 + 2 + 1 = 9; 5-3-1: 10 + 3 + 1 = 14; 5-2-1:
/// 10 + 2 + 1 = 13; 5-3-2-1: 10 + 3 + 2 + 0 = 15; 4-3-2-1: 8 + 3 + 2 + 0 = 13. For C: 3 + 6 + 1 = 10; 5 + 9 + 1 = 15;
/// 5 + 6 + 1 = 12; 5 + 9 + 2 + 1 = 17; 4 + 9 + 2 + 1 = 16.
#[test]
fn published_schemes_give_the_totals_reckoned_by_hand() {
    for (places, highly_commended, expected) in [
        ([3, 2, 1], 0, "A 9, B 10, C 10, D 8"),
        ([5, 3, 1], 0, "A 14, B 15, C 15, D 12"),
        ([5, 2, 1], 0, "A 13, B 14, C 12, D 10"),
        ([5, 3, 2], 1, "A 15, B 18, C 17, D 15"),
        ([4, 3, 2], 1, "A 13, B 16, C 16, D 14"),
    ] {
        assert_eq!(seven_classes(scheme(&places, highly_commended)).points(), expected, "{places:?}");
    }
}

/// Class 1: A and B equal first, C third. Class 2: A first, B, C and D equal second. Class 3: A to E all equal first.
///
/// Shared, next place skipped, 3-2-1: class 1: (3 + 2) / 2 = 2½ each, C has the third's 1. Class 2: A 3; places 2, 3
/// and 4 carry 2 + 1 + 0 = 3, so 1 each. Class 3: 3 + 2 + 1 + 0 + 0 = 6 among five: 1 1/5 each.
/// A: 2½ + 3 + 1 1/5 = 6 7/10. B: 2½ + 1 + 1 1/5 = 4 7/10. C: 1 + 1 + 1 1/5 = 3 1/5. D: 1 + 1 1/5 = 2 1/5. E: 1 1/5.
///
/// Full: class 1: A 3, B 3, C 1. Class 2: A 3, B, C, D 2. Class 3: 3 each. A 9, B 8, C 6, D 5, E 3.
#[test]
fn equals_share_or_have_each_the_full_points() {
    let with = |tied| {
        let mut hall = Hall::scored(PointsScheme { tied, ..scheme(&[3, 2, 1], 0) });
        hall.judge("1", "AB C").judge("2", "A BCD").judge("3", "ABCDE");
        hall.points()
    };
    assert_eq!(with(TiedShare::Shared), "A 6 7/10, B 4 7/10, C 3 1/5, D 2 1/5, E 1 1/5");
    assert_eq!(with(TiedShare::Full), "A 9, B 8, C 6, D 5, E 3");
}

/// Where the next place is kept, two firsts are followed by a second, and equals share their own place's points alone.
/// Class 1: A and B equal first: 3 / 2 = 1½ each; C second: 2; D third: 1.
#[test]
fn the_next_place_may_be_kept() {
    let with = |tied| {
        let mut hall = Hall::scored(PointsScheme { tied, ..scheme(&[3, 2, 1], 0) });
        hall.schedule.results.next_place = NextPlace::Kept;
        hall.judge("1", "AB C D");
        hall.points()
    };
    assert_eq!(with(TiedShare::Shared), "A 1 1/2, B 1 1/2, C 2, D 1");
    assert_eq!(with(TiedShare::Full), "A 3, B 3, C 2, D 1");
}

/// From six staged exhibits on 6-4-2, from ten on 10-7-4; below 3-2-1. Class 1 has 5 exhibits: A 3, B 2, C 1. Class 2
/// has 6: B 6, A 4, C 2. Class 3 has 10: C 10, A 7, B 4. A: 3 + 4 + 7 = 14; B: 2 + 6 + 4 = 12; C: 1 + 2 + 10 = 13.
#[test]
fn points_may_go_by_the_number_of_exhibits() {
    let step = |from_exhibits, places: [u32; 3]| SizeStep { from_exhibits, places: places.to_vec() };
    let mut hall = Hall::scored(PointsScheme {
        steps: vec![step(10, [10, 7, 4]), step(6, [6, 4, 2])],
        ..scheme(&[3, 2, 1], 0)
    });
    hall.judge("1", "A B C +DE").judge("2", "B A C +DEF").judge("3", "C A B +DEFGHIJ");
    assert_eq!(hall.points().split(", D").next().unwrap(), "A 14, B 12, C 13");
}

/// A point for each staged exhibit below, beside 3-2-1. Class 1 of 6: A first with 5 below: 3 + 5 = 8; B and C equal
/// second with 3 below: (2 + 1) / 2 + 3 = 4½ each; D to F without a place: nothing.
#[test]
fn points_may_count_the_exhibits_below() {
    let mut hall = Hall::scored(PointsScheme { for_each_below: 1, ..scheme(&[3, 2, 1], 0) });
    hall.judge("1", "A BC +DEF");
    assert_eq!(hall.points(), "A 8, B 4 1/2, C 4 1/2, D 0, E 0, F 0");
}

/// The best of several entries carries (southwales.bcss.org.uk, monthly table): A has first, second and third of class
/// 1; by best of one A has 3 and B none, by best of two 3 + 2 = 5, without the rule 3 + 2 + 1 = 6.
#[test]
fn only_the_best_of_an_exhibitors_exhibits_may_carry() {
    let with = |best_of| {
        let mut hall = Hall::scored(PointsScheme { best_of, ..scheme(&[3, 2, 1], 0) });
        hall.judge("1", "A A A +B");
        hall.points()
    };
    assert_eq!(with(Some(1)), "A 3, B 0");
    assert_eq!(with(Some(2)), "A 5, B 0");
    assert_eq!(with(None), "A 6, B 0");
}

/// Salford and Bolton Fuchsia Society, show rules: equals for first halve first and second prize, equals for second halve
/// second and third. Prizes of £1.50, £1 and 75p (Lambeth Horticultural Society, programme): (150 + 100) / 2 = 125 each;
/// (100 + 75) / 2 = 87½, so 87 each and one penny over.
#[test]
fn equals_share_prize_money_and_the_odd_penny_has_a_rule() {
    let paid = |placed: &str, odd_pence| -> (String, Pence) {
        let mut hall = Hall::scored(scheme(&[3, 2, 1], 0));
        hall.judge("1", placed);
        hall.schedule.results.odd_pence = odd_pence;
        hall.schedule.classes[0].rules.prizes = vec![Pence(150), Pence(100), Pence(75)];
        let results = hall.results();
        assert_eq!(results.findings, []);
        let class: &ClassResult = &results.classes[0];
        // Equals stand in the order of their numbers, which tells nothing.
        let mut told: Vec<String> =
            class.lines.iter().map(|line| format!("{} {}", letter(line.exhibitor), line.prize)).collect();
        told.sort();
        (told.join(", "), class.odd_pence)
    };
    assert_eq!(paid("A B C", OddPence::WithSociety), ("A £1.50, B £1.00, C £0.75".to_owned(), Pence(0)));
    assert_eq!(paid("AB C", OddPence::WithSociety), ("A £1.25, B £1.25, C £0.75".to_owned(), Pence(0)));
    assert_eq!(paid("A BC", OddPence::WithSociety), ("A £1.50, B £0.87, C £0.87".to_owned(), Pence(1)));
    assert_eq!(paid("A BC", OddPence::MadeUp), ("A £1.50, B £0.88, C £0.88".to_owned(), Pence(-1)));
    // All four equal: 325 among four is 81, one penny over.
    assert_eq!(
        paid("ABCD", OddPence::WithSociety),
        ("A £0.81, B £0.81, C £0.81, D £0.81".to_owned(), Pence(1))
    );
    // A withheld first is not paid, and nobody moves up.
    assert_eq!(paid("- B C", OddPence::WithSociety), ("B £1.00, C £0.75".to_owned(), Pence(0)));
}

/// With three exhibits or fewer one prize alone (dwcvhortsoc.org, rules, 9).
#[test]
fn thin_classes_pay_fewer_prizes() {
    let paid = |placed: &str| -> Vec<i64> {
        let mut hall = Hall::scored(scheme(&[3, 2, 1], 0));
        hall.judge("1", placed);
        hall.schedule.results =
            ResultRules { thin_class: Some(ThinClass { exhibits: 3, prizes: 1 }), ..ResultRules::default() };
        hall.schedule.classes[0].rules.prizes = vec![Pence(150), Pence(100)];
        hall.results().classes[0].lines.iter().map(|line| line.prize.0).collect()
    };
    assert_eq!(paid("A B C"), [150, 0, 0]);
    assert_eq!(paid("A B C +D"), [150, 100, 0, 0]);
    assert_eq!(paid("AB C"), [75, 75, 0]);
}

#[test]
fn points_add_exactly() {
    let third = Points::shared(1, 3);
    assert_eq!(third + third + third, Points::whole(1));
    assert_eq!((Points::shared(5, 2) + Points::shared(7, 10)).to_string(), "3 1/5");
    assert!(Points::shared(1, 3) > Points::shared(33, 100));
    assert_eq!(Points::shared(7, 0), Points::whole(7));
    assert_eq!(Points::NOUGHT.to_string(), "0");
    assert_eq!(serde_json::to_string(&Points::shared(5, 2)).unwrap(), "\"2 1/2\"");
    // Shares among the first thirty primes: no fraction of 64 bits holds their sum, which stays right to a 5040th each.
    let primes =
        [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83, 89, 97, 101];
    let exact: f64 = primes.iter().map(|&prime| 1.0 / f64::from(prime)).sum();
    let (above, below) = primes.iter().map(|&prime| Points::shared(1, prime)).sum::<Points>().fraction();
    let error = exact - above as f64 / below as f64;
    assert!((0.0..26.0 / 5040.0).contains(&error), "{error}");
}

/// Laws over halls drawn with a fixed seed: points and pence are neither made nor lost by sharing, and the order in
/// which exhibits and judgments are given changes nothing.
#[test]
fn sharing_neither_makes_nor_loses_anything() {
    let mut state = 20_270_612_u64;
    let mut draw = |below: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % below
    };
    let mut ties = 0;
    for _ in 0..300 {
        let mut hall = Hall::scored(scheme(&[7, 5, 3, 2, 1], 0));
        let prizes: Vec<Pence> = [500, 333, 250, 101, 50].map(Pence).to_vec();
        for label in 1..=4 {
            let mut letters: Vec<char> = ('A'..='J').collect();
            let mut placed = String::new();
            while letters.len() > 4 && draw(4) > 0 {
                let equals = 1 + usize::try_from(draw(3)).unwrap();
                ties += usize::from(equals > 1);
                placed.extend(letters.drain(..equals.min(letters.len() - 1)));
                placed.push(' ');
            }
            placed.push('+');
            placed.extend(letters);
            hall.judge(&label.to_string(), &placed);
            hall.schedule.classes.last_mut().unwrap().rules.prizes.clone_from(&prizes);
        }
        let results = hall.results();
        assert_eq!(results.findings, []);
        for class in &results.classes {
            let placed = class.lines.iter().filter(|line| line.place().is_some()).count();
            let points: Points = class.lines.iter().map(|line| line.points).sum();
            assert_eq!(
                points,
                [7, 5, 3, 2, 1].iter().take(placed).map(|&points| Points::whole(points)).sum()
            );
            let paid: Pence = class.lines.iter().map(|line| line.prize).sum();
            assert_eq!(paid + class.odd_pence, prizes.iter().take(placed).copied().sum());
        }
        hall.exhibits.reverse();
        hall.judgments.reverse();
        hall.judgments.iter_mut().for_each(|judgment| judgment.judged.reverse());
        hall.schedule.classes.reverse();
        assert_eq!(hall.results(), results);
    }
    assert!(ties > 300, "{ties} ties were drawn");
}
