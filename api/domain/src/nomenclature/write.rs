use super::parse::{PlantName, is_name_word};

/// How a name is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// Latin names in `<i>`, the trade designation in a `span` of the class `trade-designation`; escaped.
    Html,
    Text,
}

/// Writes a name: `Pelargonium ×hortorum (Zonal Group) 'Happy Thought'`. A trade designation stands before the
/// epithet it is sold for, in capitals and without quotation marks; a cross is written seed parent first.
pub fn format(name: &PlantName, style: Style) -> String {
    let mut written = one(name, style);
    for other in &name.crossed_with {
        written.push_str(" \u{d7} ");
        written.push_str(&one(other, style));
    }
    written
}

fn one(name: &PlantName, style: Style) -> String {
    let sign = |hybrid: bool| if hybrid { "\u{d7}" } else { "" };
    let latin = |word: &str| match style {
        Style::Html => format!("<i>{}</i>", escaped(word)),
        Style::Text => word.to_owned(),
    };
    let plain = |text: String| match style {
        Style::Html => escaped(&text),
        Style::Text => text,
    };
    let mut parts: Vec<String> = Vec::new();
    if let Some(genus) = &name.genus {
        parts.push(format!("{}{}", sign(name.hybrid_genus), latin(genus)));
    }
    if let Some(species) = &name.species {
        parts.push(format!("{}{}", sign(name.hybrid_species), latin(species)));
    }
    for below in &name.infraspecific {
        parts.push(below.rank.as_str().to_owned());
        parts.push(latin(&below.epithet));
    }
    if let Some(grex) = &name.grex {
        parts.push(plain(format!("{grex} grex")));
    }
    if let Some(group) = &name.group {
        let plain_words =
            group.split(' ').all(|word| is_name_word(word) && Some(word) != name.genus.as_deref());
        let alone = name.genus.is_some() && name.epithet.is_none() && name.trade_designation.is_none();
        let alone = alone && plain_words;
        parts.push(plain(if alone { format!("{group} Group") } else { format!("({group} Group)") }));
    }
    if let Some(trade) = &name.trade_designation {
        parts.push(match style {
            Style::Html => format!("<span class=\"trade-designation\">{}</span>", escaped(trade)),
            Style::Text => trade.clone(),
        });
        if name.epithet.is_some() {
            parts.push("=".to_owned());
        }
    }
    if let Some(epithet) = &name.epithet {
        parts.push(plain(format!("'{epithet}'")));
    }
    parts.join(" ")
}

fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            c => safe.push(c),
        }
    }
    safe
}
