//! Any text at all: reading and checking never fail, places are within the text, and what was read of a name is
//! read again from the written name.
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_domain::nomenclature::{
    Context, GenusProfile, NameIndex, PlantName, Style, check, format, parse,
};

const PIECES: [&str; 66] = [
    "Pelargonium",
    "P.",
    "Rosa",
    "Rhododendron",
    "hortorum",
    "peltatum",
    "×",
    "x",
    "X",
    "×hortorum",
    "×Rosa",
    "'",
    "\"",
    "‘",
    "’",
    "“",
    "”",
    "«",
    "'Lena'",
    "'Mrs",
    "Pollock'",
    "'Ladies'",
    "Choice'",
    "(",
    ")",
    "(Teller",
    "Group)",
    "Group",
    "Gp.",
    "grex",
    "gx",
    "Atlantis",
    "PEACE",
    "PEACE®",
    "=",
    "var.",
    "subsp.",
    "f.",
    "cv.",
    "cv",
    "of",
    "the",
    "Crimson",
    "pygmy",
    "½",
    "$",
    "&",
    "!",
    "-",
    "/",
    ",",
    ";",
    "5",
    "IV",
    "é",
    "e\u{301}",
    "ß",
    "ǅ",
    "İ",
    "王",
    "🌺",
    "\u{0}",
    "\u{2028}",
    "\u{200d}",
    "<b>",
    "l'",
];

struct Random(u64);

impl Random {
    fn below(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        usize::try_from((z ^ (z >> 31)) % most as u64).unwrap()
    }

    fn text(&mut self) -> String {
        let mut text = String::new();
        for _ in 0..self.below(9) {
            text.push_str(PIECES.get(self.below(PIECES.len())).unwrap());
            if self.below(4) > 0 {
                text.push(' ');
            }
        }
        text
    }
}

#[test]
fn reading_and_checking_any_text() {
    let home: GenusProfile = serde_json::from_str(include_str!("../genera/pelargonium.json")).unwrap();
    let mut taken = NameIndex::default();
    let mut random = Random(1);
    for id in 0..40 {
        taken.insert(id, &random.text());
    }
    let context = Context { genus: &home, published: None, taken: &taken };
    let (mut read, mut crosses) = (0, 0);
    for _ in 0..20_000 {
        let text = random.text();
        for home in [None, Some(&home)] {
            let parsed = parse(&text, home);
            for finding in &parsed.findings {
                assert!(text.get(finding.span.clone()).is_some(), "{text:?} {finding:?}");
            }
            let written = format(&parsed.name, Style::Text);
            let again = parse(&written, home);
            assert_eq!(again.name, parsed.name, "{text:?} written {written:?}");
            assert_eq!(format(&again.name, Style::Text), written);
            let html = format(&parsed.name, Style::Html);
            assert!(!html.contains("<b>"), "{html}");
            read += usize::from(parsed.name != PlantName::default());
            crosses += usize::from(!parsed.name.crossed_with.is_empty());
        }
        for finding in check(&text, &context) {
            assert!(text.get(finding.span.clone()).is_some(), "{text:?} {finding:?}");
        }
    }
    // The pieces do make names.
    assert!(read > 30_000 && crosses > 500, "{read} {crosses}");
}

#[test]
fn a_mended_name_is_not_found_fault_with_again() {
    let home: GenusProfile = serde_json::from_str(include_str!("../genera/pelargonium.json")).unwrap();
    let taken = NameIndex::default();
    let context = Context { genus: &home, published: None, taken: &taken };
    let mut random = Random(2);
    let mut mended = 0;
    for _ in 0..4_000 {
        let text = random.text();
        for finding in check(&text, &context) {
            let Some(fix) = &finding.fix else { continue };
            mended += 1;
            let again = check(fix, &context);
            let same =
                again.iter().filter(|other| other.rule == finding.rule && other.message == finding.message);
            let before = check(&text, &context);
            let had =
                before.iter().filter(|other| other.rule == finding.rule && other.message == finding.message);
            assert!(same.count() < had.count(), "{text:?} mended {fix:?}");
        }
    }
    assert!(mended > 500, "{mended}");
}
