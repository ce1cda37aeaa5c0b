//! Check characters of ISO/IEC 7064:2003, MOD 11-2, and the entry numbers that end in one.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

use std::collections::BTreeSet;

use storksbill_domain::shows::{EntryNumber, EntryNumbers, check_character};

/// Published examples: ORCID, Inc., "Structure of the ORCID Identifier": 0000-0002-1825-0097 and 0000-0002-1694-233X;
/// the standard's own example, 0794 with check character 0 (from memory).
#[test]
fn published_examples_are_met() {
    assert_eq!(check_character("000000021825009"), Some(7));
    assert_eq!(check_character("000000021694233"), Some(10));
    assert_eq!(check_character("0794"), Some(0));
    assert_eq!(check_character("12a4"), None);
}

fn numbers() -> EntryNumbers {
    EntryNumbers::new(b"sixteen bytes or more of secret", 9000)
}

#[test]
fn numbers_are_unique_short_and_read_back() {
    let numbers = numbers();
    let mut seen = BTreeSet::new();
    for sequence in 0..9000 {
        let number = numbers.number(sequence).unwrap();
        assert!(seen.insert(number), "{number} twice");
        assert_eq!(number.to_string().parse(), Ok(number));
        assert_eq!(number.to_string().len(), if sequence < 8182 { 5 } else { 6 }, "{sequence}");
    }
}

/// Every single wrong digit and every swap of two unlike neighbours, in 500 numbers.
#[test]
fn a_wrong_digit_and_swapped_neighbours_are_found() {
    let numbers = numbers();
    for sequence in 0..500 {
        let text = numbers.number(sequence).unwrap().to_string();
        let digits: Vec<u8> = text.bytes().collect();
        for at in 0..digits.len() {
            for wrong in (b'0'..=b'9').filter(|&wrong| wrong != digits[at]) {
                let mut slip = digits.clone();
                slip[at] = wrong;
                assert!(String::from_utf8(slip).unwrap().parse::<EntryNumber>().is_err());
            }
            if at > 0 && digits[at] != digits[at - 1] {
                let mut slip = digits.clone();
                slip.swap(at, at - 1);
                assert!(String::from_utf8(slip).unwrap().parse::<EntryNumber>().is_err());
            }
        }
    }
}

#[test]
fn what_is_no_number_is_refused() {
    // 7940 has the right check digit and is too short.
    assert_eq!(check_character("794"), Some(0));
    for text in ["", "7", "7940", "12345678901", "0", "+10", "1a345", "-1", "007940"] {
        assert!(text.parse::<EntryNumber>().is_err(), "{text}");
    }
    let number = numbers().number(3).unwrap();
    assert_eq!(serde_json::to_string(&number).unwrap(), number.to_string());
    assert_eq!(serde_json::from_str::<EntryNumber>(&number.to_string()).unwrap(), number);
    assert!(serde_json::from_str::<EntryNumber>(&(number.get() + 1).to_string()).is_err());
}

#[test]
fn the_secret_alone_orders_them() {
    let first = |secret: &[u8], most| -> Vec<EntryNumber> {
        let numbers = EntryNumbers::new(secret, most);
        (0..200).map(|sequence| numbers.number(sequence).unwrap()).collect()
    };
    let (one, other) = (first(b"one secret of the show", 200), first(b"another secret of the show", 200));
    assert_eq!(one, first(b"one secret of the show", 20_000));
    assert_ne!(one, other);
    // Neither rising nor falling: of 199 neighbours about half rise (this many by chance in all but one of ten
    // thousand shuffles, for their standard deviation is √(201/12) = 4.1).
    for order in [&one, &other] {
        let rises = order.windows(2).filter(|pair| pair[0] < pair[1]).count();
        assert!((84..=116).contains(&rises), "{rises}");
    }
    // Every shuffle is possible, those that leave a number in its place among them: one does on average. Twelve
    // shuffles leave none with a chance of e⁻¹², more than thirty with less.
    let in_place: usize = (0..12_u8)
        .map(|secret| {
            let numbers = EntryNumbers::new(&[secret; 16], 1);
            let order: Vec<EntryNumber> =
                (0..8182).map(|sequence| numbers.number(sequence).unwrap()).collect();
            let mut sorted = order.clone();
            sorted.sort_unstable();
            order.iter().zip(&sorted).filter(|(one, other)| one == other).count()
        })
        .sum();
    assert!((1..=30).contains(&in_place), "{in_place}");
    assert_eq!(format!("{:?}", EntryNumbers::new(b"x", 1)), "EntryNumbers { count: 8182, .. }");
}
