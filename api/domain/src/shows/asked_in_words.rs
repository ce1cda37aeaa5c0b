//! What a class asks in words alone: no program can hold a plant against it, so a person judges.

use super::class::ScheduleClass;
use super::reason::Why;
use super::words::ExhibitUnit;

/// Kinds of plant that titles name. Each is well asked for as data where a slot says what stands beside it.
const KINDS: [(&str, Data); 11] = [
    ("standard", Data::Form),
    ("fan", Data::Form),
    ("pyramid", Data::Form),
    ("pillar", Data::Form),
    ("climber", Data::Form),
    ("basket", Data::Basket),
    ("hanging", Data::Basket),
    ("seedling", Data::Seedling),
    ("sport", Data::Nothing),
    ("cutting", Data::Nothing),
    ("species", Data::Taxa),
];

/// What asks for a kind as data.
#[derive(Clone, Copy)]
enum Data {
    Form,
    Basket,
    Seedling,
    Taxa,
    Nothing,
}

/// The words that a person has to judge by: those printed beside the title, and a title that asks for a kind of plant of
/// which the rules say nothing.
pub(super) fn asked_in_words(class: &ScheduleClass) -> Vec<Why> {
    let mut whys = Vec::new();
    if title_asks_more(class) {
        whys.push(Why::WordsToJudge { words: class.title.clone() });
    }
    let words = class.rules.words.as_deref().map(str::trim).filter(|words| !words.is_empty());
    whys.extend(words.map(|words| Why::WordsToJudge { words: words.to_owned() }));
    whys
}

fn title_asks_more(class: &ScheduleClass) -> bool {
    let slots = &class.rules.slots;
    let as_data = |data: Data| match data {
        Data::Form => slots.iter().any(|slot| !slot.forms.is_empty()),
        Data::Basket => slots
            .iter()
            .any(|slot| slot.unit == ExhibitUnit::Basket || slot.basket.is_some() || !slot.forms.is_empty()),
        Data::Seedling => class.rules.seedling.is_some(),
        Data::Taxa => {
            slots.iter().any(|slot| !slot.taxa.groups.is_empty() || !slot.taxa.cultivars.is_empty())
        }
        Data::Nothing => false,
    };
    let title = class.title.to_lowercase();
    let words = || title.split(|c: char| !c.is_alphanumeric());
    KINDS.iter().any(|(kind, data)| {
        words().any(|word| word.strip_suffix('s').unwrap_or(word) == *kind || word == *kind)
            && !as_data(*data)
    })
}
