//! Epithets that the guides give as allowed or refused: "Summary of ICNCP rules and guidelines for grex and
//! cultivar epithets", 2017; Royal Horticultural Society, "Plant naming" (both for the 9th edition of the Code,
//! Scripta Horticulturae 18, 2016); a hibiscus society's guide; FAO, the poplar names of
//! the Code of 1995. Numbers of articles are left out because they were not checked.
#![allow(clippy::unwrap_used, reason = "test code")]

use chrono::NaiveDate;
use storksbill_domain::nomenclature::{
    Context, Finding, GenusProfile, NameIndex, Rule, Severity, bars, check,
};

fn genus(json: &str) -> GenusProfile {
    serde_json::from_str(json).unwrap()
}

fn pelargonium() -> GenusProfile {
    genus(include_str!("../genera/pelargonium.json"))
}

fn published(epithet: &str, year: Option<i32>) -> Vec<Finding> {
    let taken = NameIndex::default();
    let published = year.map(|year| NaiveDate::from_ymd_opt(year, 6, 1).unwrap());
    check(epithet, &Context { genus: &pelargonium(), published, taken: &taken })
}

/// The findings of a new name that bear on it, as `RULE:severity`.
fn told(epithet: &str) -> Vec<String> {
    let findings = published(epithet, None);
    findings.iter().map(|finding| format!("{}:{:?}", finding.rule.id(), finding.severity)).collect()
}

#[test]
fn allowed() {
    for epithet in [
        "King Edward",
        "Golden Wonder",
        "Akebono",
        "Hillside Weeper",
        "Cloth of Gold",
        "Super 5",
        "100th Battalion",
        "Aurora Borealis",
        "T. Rex",
        "Lignum Vitae",
        "Million Dollars",
        "Half Pint",
        "H.P. Norton",
        "Taisuco",
        "Penelope D. Krige",
        "Loderi King George",
        "Commander-in-Chief",
        "Madame A. Meilland",
        "Crimson Pygmy",
        "Koster",
        "Lena",
        "Blauschwanz",
        "King of the Pippins",
        "Mère de Ménage",
        "Fire Work Roze",
        "Timor",
        "Snow-white and the Seven Dwarfs",
    ] {
        let findings = published(epithet, None);
        assert!(!bars(&findings), "{epithet}: {findings:?}");
        // Nothing but the question about persons, and that Latin needs a person.
        let odd: Vec<&Finding> = findings
            .iter()
            .filter(|finding| finding.severity > Severity::Info && finding.rule != Rule::Living)
            .collect();
        assert!(odd.is_empty(), "{epithet}: {odd:?}");
    }
    assert_eq!(told("Super 5"), [""; 0]);
    assert_eq!(told("H.P. Norton"), ["LIVING:Warning"]);
}

#[test]
fn allowed_if_published_before_1959() {
    for epithet in ["Elegans", "Aureomarginata", "Marilandica", "Robusta", "Serotina Erecta"] {
        assert_eq!(told(epithet), ["LATIN1959:Warning"], "{epithet}");
        assert_eq!(published(epithet, Some(1958)), [], "{epithet}");
        assert_eq!(published(epithet, Some(1959)).len(), 1, "{epithet}");
    }
    assert_eq!(told("I-214"), ["CODE10:Info"]);
    // Words of other languages are not Latin for being like it.
    for epithet in ["Rose", "Compact", "Superb", "Intense", "Alpine", "Major Tom", "Maxim", "Robust"] {
        assert_eq!(told(epithet), [""; 0], "{epithet}");
    }
}

#[test]
fn refused() {
    for (epithet, finding) in [
        ("$1,000,000", "PUNCT:Error"),
        ("$Million", "PUNCT:Error"),
        ("½ Pint", "PUNCT:Error"),
        ("Best of All", "MERIT:Error"),
        ("Longest Possible", "MERIT:Error"),
        ("Earliest of All", "MERIT:Error"),
        ("Best Ever", "MERIT:Error"),
        ("The Greatest", "MERIT:Error"),
        ("Tastiest of All", "MERIT:Error"),
        ("Apricot Variety", "BANNED:Error"),
        ("Rita Scheen Improved", "BANNED:Error"),
        ("Hottentottententententoonstellingsterrein", "LEN30:Error"),
        ("A", "ONE_LETTER:Error"),
        ("12345", "NUM_ONLY:Error"),
        // Typed so, it can be mended.
        ("\"Elegans\"", "QUOTES:Warning"),
        ("cv. Crimson Pygmy", "QUOTES:Warning"),
    ] {
        let told = told(epithet);
        assert!(told.iter().any(|other| other == finding), "{epithet}: {told:?}");
    }
    assert_eq!(told("½ Pint"), ["PUNCT:Error"]);
    assert_eq!(told("Hottentottententententoonstellingsterrein"), ["LEN30:Error", "CLUMSY:Warning"]);
    let fixes: Vec<Option<String>> =
        published("cv. Crimson Pygmy", None).into_iter().map(|finding| finding.fix).collect();
    assert_eq!(fixes, [Some("Crimson Pygmy".to_owned())]);
}

#[test]
fn the_name_of_the_genus() {
    let disa = genus(r#"{ "genus": "Disa", "vernaculars": [], "ovules": 1 }"#);
    let taken = NameIndex::default();
    let context = Context { genus: &disa, published: None, taken: &taken };
    let found = |epithet: &str| -> Vec<(Rule, Severity)> {
        check(epithet, &context).iter().map(|finding| (finding.rule, finding.severity)).collect()
    };
    assert_eq!(found("Penelope Disa Krige"), [(Rule::Genus, Severity::Warning)]);
    assert_eq!(found("Penelope Disa"), [(Rule::Genus, Severity::Error)]);
    assert_eq!(found("Disaster"), []);
    assert_eq!(told("Merrow Storksbill"), ["GENUS:Error"]);
    assert_eq!(told("Stork's Bill Bay"), ["GENUS:Warning"]);
}

#[test]
fn barred_words_are_whole_words() {
    for epithet in ["Sportsman", "Formosa", "Groupie", "Serieus"] {
        assert!(told(epithet).iter().all(|finding| !finding.starts_with("BANNED")), "{epithet}");
    }
    for (epithet, finding) in [
        ("Red Sport", "BANNED:Error"),
        ("Merrow Hybrids", "BANNED:Error"),
        // Full-width letters are letters.
        ("Merrow ＨＹＢＲＩＤ", "BANNED:Error"),
        ("Neue Sorte", "BANNED:Warning"),
        ("Rose Variété", "BANNED:Warning"),
        ("Nieuw Ras", "BANNED:Warning"),
        ("Röd Förbättrad", "BANNED:Warning"),
    ] {
        assert!(told(epithet).iter().any(|other| other == finding), "{epithet}: {:?}", told(epithet));
    }
}

#[test]
fn capitals() {
    let fix = |epithet: &str| published(epithet, None).into_iter().find_map(|finding| finding.fix);
    assert_eq!(fix("cloth of gold"), Some("Cloth of Gold".to_owned()));
    assert_eq!(fix("Half pint"), Some("Half Pint".to_owned()));
    assert_eq!(fix("élan"), Some("Élan".to_owned()));
    assert_eq!(told("Pomme d'Or"), [""; 0]);
    assert_eq!(told("SEA FRET"), ["TRADE:Warning"]);
    let finding = published("  'Half pint' ", None).pop().unwrap();
    assert_eq!((finding.rule, finding.span), (Rule::Case, 8..12));
}

#[test]
fn marks() {
    assert_eq!(told("Wow! Look Here!"), [""; 0]);
    assert_eq!(told("Wow!!"), ["PUNCT:Error"]);
    assert_eq!(told("Oh! My! Word!"), ["PUNCT:Error"]);
    assert_eq!(told("Red, White/Blue\\Green"), [""; 0]);
    assert_eq!(told("Lady’s Choice"), [""; 0]);
    let found = published("Salt & Pepper", None);
    assert_eq!(found.first().unwrap().fix.as_deref(), Some("Salt and Pepper"));
    assert_eq!(found.first().unwrap().span, 5..6);
    assert_eq!(told("×Merrow"), ["NOTHO:Error"]);
    for empty in ["", "   ", "''", "!", "…"] {
        assert_eq!(told(empty), ["EMPTY:Error"], "{empty}");
    }
}

/// 27 characters without spaces, and the limit of 30 binds from 1996 on.
#[test]
fn length() {
    let thirty = "Abcde Fghij Klmno Pqrst Uvwxy Zabcd";
    assert_eq!(told(thirty), [""; 0]);
    assert_eq!(told(&format!("{thirty}e")), ["LEN30:Error"]);
    let findings = published(&format!("{thirty}e"), Some(1995));
    assert_eq!(findings, []);
}

#[test]
fn names_taken() {
    let mut taken = NameIndex::default();
    for (id, name) in (1..).zip(["Frank Headley", "Happy Thought", "Mr Henry Cox", "Irène", "Black Vesuvius"])
    {
        taken.insert(id, name);
    }
    let profile = pelargonium();
    let context = Context { genus: &profile, published: None, taken: &taken };
    let found = |epithet: &str| -> Vec<Rule> {
        check(epithet, &context)
            .iter()
            .map(|finding| finding.rule)
            .filter(|rule| matches!(rule, Rule::Unique | Rule::Near))
            .collect()
    };
    assert_eq!(found("Frank Headly"), [Rule::Near]);
    assert_eq!(found("'A Happy Thought'"), [Rule::Unique]);
    assert_eq!(found("Irene"), [Rule::Unique]);
    // Two persons: flagged, never one.
    assert_eq!(found("Mrs Henry Cox"), [Rule::Near]);
    assert_eq!(found("Red Black Vesuvius"), []);
    taken.insert(1, "Another");
    taken.remove(2);
    assert_eq!(taken.near("Frank Headley"), []);
    assert_eq!(taken.near("Happy Thought"), []);
}
