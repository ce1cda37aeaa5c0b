//! Likeness of names. The 21 pairs of the table of W. E. Winkler, "String comparator metrics and enhanced decision
//! rules in the Fellegi-Sunter model of record linkage", 1990, from memory, and reproduced by three libraries; the
//! distances of F. J. Damerau's and V. I. Levenshtein's textbook examples; names of pelargoniums.

use storksbill_domain::nomenclature::{Likeness, NameIndex, jaro_winkler, key, optimal_string_alignment};

#[test]
fn table_of_likeness() {
    for (a, b, likeness) in [
        ("MARTHA", "MARHTA", 0.961),
        ("DIXON", "DICKSONX", 0.813),
        ("DWAYNE", "DUANE", 0.840),
        ("JONES", "JOHNSON", 0.832),
        ("SHACKLEFORD", "SHACKELFORD", 0.982),
        ("DUNNINGHAM", "CUNNIGHAM", 0.896),
        ("NICHLESON", "NICHULSON", 0.956),
        ("MASSEY", "MASSIE", 0.933),
        ("ABROMS", "ABRAMS", 0.922),
        ("JERALDINE", "GERALDINE", 0.926),
        ("MICHELLE", "MICHAEL", 0.921),
        ("JULIES", "JULIUS", 0.933),
        ("TANYA", "TONYA", 0.880),
        ("SEAN", "SUSAN", 0.805),
        ("JON", "JOHN", 0.933),
        ("BROOKHAVEN", "BRROKHAVEN", 0.947),
        ("DECATUR", "DECATIR", 0.943),
        ("FITZRUREITER", "FITZENREITER", 0.913),
        ("HIGBEE", "HIGHEE", 0.922),
        ("LACURA", "LOCURA", 0.900),
        ("IOWA", "IONA", 0.867),
        // Below, computed elsewhere: Winkler's own program prints 0 for low ones.
        ("HARDIN", "MARTINEZ", 0.722),
        ("ITMAN", "SMITH", 0.467),
    ] {
        assert!((jaro_winkler(a, b) - likeness).abs() < 0.000_51, "{a} {b}: {}", jaro_winkler(a, b));
    }
}

#[test]
fn edits() {
    for (a, b, edits) in [
        ("CA", "ABC", 3),
        ("a cat", "an abct", 4),
        ("kitten", "sitting", 3),
        ("Saturday", "Sunday", 3),
        ("teh", "the", 1),
        ("Mrs Pollock", "Mrs Polock", 1),
        ("Apple Blossom Rosebud", "Appleblossom Rosebud", 2),
        ("Frank Headley", "Frank Headly", 1),
        ("Dolly Varden", "Dolly Vardon", 1),
        ("Red Black Vesuvius", "Black Vesuvius", 4),
    ] {
        assert_eq!(optimal_string_alignment(a, b), edits, "{a} {b}");
    }
    assert!((jaro_winkler("Mrs Pollock", "Mrs Polock") - 0.982).abs() < 0.000_51);
    assert!((jaro_winkler("Red Black Vesuvius", "Black Vesuvius") - 0.83).abs() < 0.005_1);
}

#[test]
fn keys() {
    for (name, other) in [
        ("Apple Blossom Rosebud", "Appleblossom Rosebud"),
        ("Irene", "Irène"),
        ("A Happy Thought", "Happy Thought"),
        ("Salt & Pepper", "Salt and Pepper"),
        ("Doctor Muriel", "Dr. Muriel"),
        ("King George V", "King George 5"),
        ("Merrow’s Pride", "Merrows Pride"),
    ] {
        assert_eq!(key(name), key(other));
    }
    assert_ne!(key("Mr Henry Cox"), key("Mrs Henry Cox"));
    assert_ne!(key("Vivid"), key("4d"));
    assert_eq!(key("The"), "the");
}

#[test]
fn near() {
    let mut taken = NameIndex::default();
    let names = ["Mrs Pollock", "Frank Headley", "Dolly Varden", "Irene", "Black Vesuvius", "Mr Henry Cox"];
    for (id, name) in (1..).zip(names) {
        taken.insert(id, name);
    }
    let found = |name: &str| -> Vec<(u64, Likeness)> {
        taken.near(name).into_iter().map(|near| (near.id, near.likeness)).collect()
    };
    assert_eq!(found("Mrs Polock"), [(1, Likeness::Edits(1))]);
    assert_eq!(found("Frank Headly"), [(2, Likeness::Edits(1))]);
    assert_eq!(found("Dolly Vardon"), [(3, Likeness::Edits(1))]);
    assert_eq!(found("Irène"), [(4, Likeness::Same)]);
    assert_eq!(found("Red Black Vesuvius"), []);
    assert_eq!(found("Mrs Henry Cox"), [(6, Likeness::Edits(1))]);
    // In sound alone.
    assert_eq!(found("Ireenie"), [(4, Likeness::Sound)]);
    assert_eq!(found(""), []);
}

/// The index leaves nothing out that plain comparison of all pairs would find.
#[test]
fn near_by_comparing_all() {
    let parts = ["sea", "fret", "har", "bour", "light", "mar", "low", "dawn", "ness", "tide", "é", "5"];
    let mut state = 1u64;
    let mut below = |most: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((state >> 33) % most as u64).unwrap_or(0)
    };
    let names: Vec<String> = (0..400)
        .map(|_| (0..=below(3)).filter_map(|_| parts.get(below(parts.len())).copied()).collect())
        .collect();
    let mut taken = NameIndex::default();
    for (id, name) in (0..).zip(&names) {
        taken.insert(id, name);
    }
    let mut pairs = 0;
    for name in &names {
        let found: Vec<u64> = taken.near(name).iter().map(|near| near.id).collect();
        let own = key(name);
        for (id, other) in (0u64..).zip(&names) {
            let other = key(other);
            let shorter = own.chars().count().min(other.chars().count());
            let most = if shorter >= 10 { 2 } else { 1 };
            let close = own == other
                || shorter >= 5
                    && (optimal_string_alignment(&own, &other) <= most || jaro_winkler(&own, &other) >= 0.93);
            // Keys more than a third longer are not looked at.
            let (count, others) = (own.chars().count(), other.chars().count());
            if close && count.abs_diff(others) <= count / 3 {
                assert!(found.contains(&id), "{own} {other}");
                pairs += 1;
            }
        }
    }
    assert!(pairs > 1_000, "{pairs}");
}
