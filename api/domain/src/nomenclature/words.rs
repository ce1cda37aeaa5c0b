//! Word lists of the rules. Entries are lower case and without accents, as [`crate::names::search_key`] gives them.

/// Words the Code bars from epithets, and their plurals (summary).
pub(super) const BARRED: &[&str] = &[
    "cultivar", "cultivars", "form", "forms", "grex", "grexes", "group", "groups", "hybrid", "hybrids",
    "improved", "maintenance", "maintenances", "mixture", "mixtures", "selection", "selections", "series",
    "sport", "sports", "strain", "strains", "transformed", "varieties", "variety",
];

/// Their equivalents in German, French, Dutch and Swedish, from memory; no native reader has gone over them, so
/// they only warn.
pub(super) const BARRED_ELSEWHERE: &[&str] = &[
    // German
    "sorte", "sorten", "formen", "gruppe", "gruppen", "hybride", "hybriden", "mischung", "mischungen",
    "auslese", "auslesen", "selektion", "selektionen", "serie", "serien", "verbessert", "verbesserte",
    // French
    "variete", "varietes", "forme", "formes", "groupe", "groupes", "hybrides", "melange", "melanges",
    "amelioree", "ameliore", "ameliores",
    // Dutch
    "ras", "rassen", "vorm", "vormen", "groep", "groepen", "mengsel", "mengsels", "selectie", "selecties",
    "series", "verbeterd", "verbeterde",
    // Swedish
    "sort", "sorter", "former", "grupp", "grupper", "blandning", "blandningar", "urval", "forbattrad",
];

/// Superlatives. Alone they may be part of a saying (a person decides); with a word of `BOASTS` they exaggerate.
pub(super) const SUPERLATIVES: &[&str] = &[
    "best", "biggest", "brightest", "earliest", "fastest", "finest", "greatest", "hardiest", "largest",
    "latest", "longest", "loveliest", "prettiest", "reddest", "strongest", "sweetest", "tallest", "tastiest",
    "ultimate", "whitest",
];

/// Words that make a boast of a superlative: `of all`, `ever`, `possible`.
pub(super) const BOASTS: &[&str] = &[
    "all", "ever", "possible", "world",
];

/// Words that stay small inside a name, by the custom of their languages.
pub(super) const SMALL: &[&str] = &[
    "a", "an", "and", "as", "at", "au", "aus", "aux", "av", "by", "da", "das", "de", "degli", "dei", "del",
    "della", "den", "der", "des", "di", "die", "do", "dos", "du", "e", "el", "en", "et", "for", "from", "het",
    "i", "il", "im", "in", "into", "la", "las", "le", "les", "lo", "los", "of", "och", "on", "op", "or",
    "over", "sur", "ten", "ter", "the", "to", "und", "van", "vom", "von", "with", "y", "zu", "zum", "zur",
];

/// Titles of persons, and how they are written in a key. Different titles stay different.
pub(super) const TITLES: &[(&str, &str)] = &[
    ("doctor", "dr"), ("dr", "dr"), ("lady", "lady"), ("lord", "lord"), ("madame", "mme"), ("miss", "ms"),
    ("missis", "mrs"), ("missus", "mrs"), ("mister", "mr"), ("mme", "mme"), ("mr", "mr"), ("mrs", "mrs"),
    ("ms", "ms"), ("saint", "st"), ("sainte", "st"), ("sankt", "st"), ("sir", "sir"), ("st", "st"),
];

/// Articles that are dropped from the head of a key.
pub(super) const ARTICLES: &[&str] = &[
    "a", "an", "das", "de", "den", "der", "die", "el", "het", "il", "la", "las", "le", "les", "los", "the",
];

/// Latin words that are also words of common use, and so may be a whole epithet (summary; plant naming).
pub(super) const COMMON_LATIN: &[&str] = &[
    "aurora borealis", "lignum vitae", "t rex",
];

/// Latin adjectives of descriptions, without their endings.
pub(super) const LATIN_STEMS: &[&str] = &[
    "alb", "alpin", "angust", "argente", "atropurpure", "auranti", "aure", "caerule", "candid", "carne",
    "coccine", "compact", "cruent", "digit", "dissect", "erect", "fastigiat", "flav", "floribund", "foetid",
    "formos", "fragrantissim", "glabr", "glauc", "grandiflor", "lacin", "latifoli", "lute", "macranth",
    "magnific", "maxim", "microphyll", "minim", "multiflor", "nan", "nigr", "odorat", "pallid", "parviflor",
    "pendul", "plen", "procer", "prostrat", "pulcherrim", "pumil", "purpure", "pygmae", "ramos", "robust",
    "rose", "rotundifoli", "rubr", "sanguine", "serotin", "specios", "spectabil", "stellat", "strict",
    "superb", "tortuos", "virid", "vulgar", "zonal",
];

/// Latin adjectives with endings of other kinds.
pub(super) const LATIN_WORDS: &[&str] = &[
    "elegans", "gracilior", "nivale", "pubescens", "repens", "sempervirens", "simplex", "spectabile",
    "splendens", "virens", "viride", "vulgare",
];

/// Endings that make one of those stems a word.
pub(super) const LATIN_ENDINGS: &[&str] = &[
    "a", "us", "um", "is", "ea", "eus", "eum", "ia",
];

/// Endings of longer words that are Latin wherever they stand.
pub(super) const LATIN_TAILS: &[&str] = &[
    "marginata", "marginatus", "marginatum", "variegata", "variegatus", "variegatum", "maculata", "maculatum",
    "reticulata", "punctata", "undulata", "striata", "florum", "flora", "folium", "folia", "folius",
    "phyllum", "phylla", "ensis", "oides", "escens", "issima", "issimum",
];

/// Names that end so and are not Latin descriptions.
pub(super) const NOT_LATIN: &[&str] = &[
    "botanica", "electronica", "monica", "harmonica", "veronica", "titanica", "flora",
];

/// Titles that show that a person is meant.
pub(super) const HONORIFICS: &[&str] = &[
    "doctor", "dr", "lady", "lord", "madame", "miss", "mister", "mme", "mr", "mrs", "ms", "sir",
];
