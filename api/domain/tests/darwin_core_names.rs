//! Full names, taken apart and put together. The examples are those of Darwin Core (`cultivarEpithet`, version
//! 2023-06-28), of the Dutch register of names (Group before the epithet, grex in orchids), and of the guides to
//! trade designations; the hybrid sign as in the International Code of Nomenclature for algae, fungi and plants.
#![allow(clippy::unwrap_used, reason = "test code")]

use storksbill_domain::nomenclature::{
    GenusProfile, PlantName, QuotesSeen, Rank, Rule, Severity, Style, format, parse,
};

fn pelargonium() -> GenusProfile {
    serde_json::from_str(include_str!("../genera/pelargonium.json")).unwrap()
}

fn text(name: &PlantName) -> String {
    format(name, Style::Text)
}

#[test]
fn full_names() {
    let name = parse("Hydrangea macrophylla (Teller Group) 'Fire Work Roze'", None).name;
    assert_eq!(
        name,
        PlantName {
            genus: Some("Hydrangea".to_owned()),
            species: Some("macrophylla".to_owned()),
            group: Some("Teller".to_owned()),
            epithet: Some("Fire Work Roze".to_owned()),
            ..PlantName::default()
        }
    );
    let name = parse("Rhododendron boothii Mishmiense Group", None).name;
    assert_eq!((name.group.as_deref(), name.epithet.as_deref()), (Some("Mishmiense"), None));
    let name = parse("Paphiopedilum Atlantis grex", None).name;
    assert_eq!((name.genus.as_deref(), name.grex.as_deref()), (Some("Paphiopedilum"), Some("Atlantis")));
    let name = parse("Paphiopedilum Sorel grex 'Baby Doll'", None).name;
    assert_eq!((name.grex.as_deref(), name.epithet.as_deref()), (Some("Sorel"), Some("Baby Doll")));
    let name = parse("Rosa PEACE = 'Madame A. Meilland'", None).name;
    assert_eq!(
        (name.trade_designation.as_deref(), name.epithet.as_deref()),
        (Some("PEACE"), Some("Madame A. Meilland"))
    );
    let name = parse("Berberis thunbergii var. atropurpurea 'Crimson Pygmy'", None).name;
    assert_eq!(
        name.infraspecific.first().map(|below| (below.rank, below.epithet.as_str())),
        Some((Rank::Variety, "atropurpurea"))
    );
}

#[test]
fn written_again_they_are_the_same() {
    for name in [
        "Hydrangea macrophylla (Teller Group) 'Fire Work Roze'",
        "Rhododendron boothii Mishmiense Group",
        "Paphiopedilum Atlantis grex",
        "Rosa PEACE = 'Madame A. Meilland'",
        "Pelargonium ×hortorum 'Happy Thought'",
        "Pelargonium acetosum × peltatum",
        "Pelargonium 'Lady's Choice'",
        "×Graptoveria 'Fred Ives'",
        "Berberis thunbergii f. atropurpurea 'Koster'",
        "Pelargonium 'Sea Fret' × 'Harbour Light'",
    ] {
        assert_eq!(text(&parse(name, None).name), name);
    }
}

#[test]
fn as_html() {
    let written = |name: &str| format(&parse(name, None).name, Style::Html);
    assert_eq!(
        written("Pelargonium x hortorum 'Salt & Pepper'"),
        "<i>Pelargonium</i> ×<i>hortorum</i> &#39;Salt &amp; Pepper&#39;"
    );
    assert_eq!(
        written("Rosa PEACE = 'Madame A. Meilland'"),
        "<i>Rosa</i> <span class=\"trade-designation\">PEACE</span> = &#39;Madame A. Meilland&#39;"
    );
    assert!(!written("Rosa '<script>alert(1)</script>'").contains("<script"));
}

#[test]
fn the_hybrid_sign() {
    for given in ["Pelargonium x hortorum", "Pelargonium × hortorum", "Pelargonium ×hortorum"] {
        let parsed = parse(given, None);
        assert_eq!(text(&parsed.name), "Pelargonium ×hortorum");
        assert!(parsed.name.hybrid_species && parsed.name.crossed_with.is_empty());
        let reported: Vec<Rule> = parsed.findings.iter().map(|finding| finding.rule).collect();
        assert_eq!(reported, if given.contains('x') { vec![Rule::Notho] } else { vec![] });
    }
    // Between names it is a cross, written seed parent first.
    let parsed = parse("'Sea Fret' x 'Harbour Light' × 'Lena'", None);
    let said: Vec<(Rule, Severity)> = parsed.findings.iter().map(|f| (f.rule, f.severity)).collect();
    assert_eq!(said, [(Rule::SeedParent, Severity::Info)]);
    let parsed = parsed.name;
    assert_eq!(parsed.epithet.as_deref(), Some("Sea Fret"));
    let others: Vec<Option<&str>> = parsed.crossed_with.iter().map(|name| name.epithet.as_deref()).collect();
    assert_eq!(others, [Some("Harbour Light"), Some("Lena")]);
}

#[test]
fn names_as_growers_type_them() {
    let home = pelargonium();
    for (given, written, quotes, rules) in [
        ("Crimson Pygmy", "'Crimson Pygmy'", QuotesSeen::None, vec![Rule::Quotes]),
        ("cloth of gold", "'cloth of gold'", QuotesSeen::None, vec![Rule::Quotes]),
        ("P. Crimson Pygmy", "P. 'Crimson Pygmy'", QuotesSeen::None, vec![Rule::Quotes]),
        ("pelargonium 'Lena'", "Pelargonium 'Lena'", QuotesSeen::Single, vec![]),
        ("Pelargonium \u{201c}Lena\u{201d}", "Pelargonium 'Lena'", QuotesSeen::Double, vec![Rule::Quotes]),
        ("Pelargonium cv. Lena", "Pelargonium 'Lena'", QuotesSeen::None, vec![Rule::Quotes, Rule::Quotes]),
        ("‘Lady’s Choice’", "'Lady’s Choice'", QuotesSeen::Single, vec![]),
        ("Pelargonium", "Pelargonium", QuotesSeen::None, vec![]),
        ("Million dollars", "'Million dollars'", QuotesSeen::None, vec![Rule::Quotes]),
        ("Miss USA", "'Miss USA'", QuotesSeen::None, vec![Rule::Quotes]),
        ("Pelargonium 'Lena' pink", "Pelargonium 'Lena'", QuotesSeen::Single, vec![Rule::Unread]),
        (
            "Pelargonium Merrow Gp. 'Lena'",
            "Pelargonium (Merrow Group) 'Lena'",
            QuotesSeen::Single,
            vec![Rule::Group],
        ),
        ("", "", QuotesSeen::None, vec![]),
    ] {
        let parsed = parse(given, Some(&home));
        assert_eq!(text(&parsed.name), written, "{given}");
        assert_eq!(parsed.quotes_seen, quotes, "{given}");
        let reported: Vec<Rule> = parsed.findings.iter().map(|finding| finding.rule).collect();
        assert_eq!(reported, rules, "{given}");
        for finding in &parsed.findings {
            assert!(given.get(finding.span.clone()).is_some_and(|span| !span.is_empty()), "{given}");
        }
    }
}
