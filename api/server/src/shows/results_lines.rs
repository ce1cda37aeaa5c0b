//! One line of a table of results: which exhibit or class it is about, and what it says.

use std::collections::BTreeMap;
use std::str::FromStr;

use storksbill_db::rows::entries::Entry;
use storksbill_domain::shows::{ClassLabel, Commendation, EntryNumber, ScheduleClass, ShowSchedule, Verdict};

use crate::http::patch::Patch;
use crate::tables::sheet::Line;

/// The columns, in the order in which they are written.
pub(super) const COLUMNS: [&str; 5] = ["class", "entry", "staged", "result", "words"];
/// Not according to schedule.
pub(super) const NOT_AS_SCHEDULE: &str = "NAS";
/// Put out for another reason.
pub(super) const PUT_OUT: &str = "OUT";
pub(super) const WITHHELD: &str = "withheld";
pub(super) const REMARK: &str = "remark";
pub(super) const JUDGE: &str = "judge";

/// What may stand in `result`, and what it means.
pub(super) const RESULT_CODES: [(&str, &str); 9] = [
    ("1", "first; 2 for second, and so on"),
    ("2=", "second, shared on purpose with another exhibit that has 2= too"),
    ("VHC", "very highly commended"),
    ("HC", "highly commended"),
    ("C", "commended"),
    (NOT_AS_SCHEDULE, "not according to schedule; why stands in `words`"),
    (PUT_OUT, "put out for another reason, which stands in `words`"),
    ("withheld 2", "without an entry: the second place is withheld"),
    (
        JUDGE,
        "without an entry: the judge has signed the sheet; `words` is the judge's name. `remark`: a remark",
    ),
];

/// What one line says.
pub(super) enum Saying {
    /// Nothing but where it stands.
    Nothing,
    /// Of an exhibit, and whether its place is shared.
    Exhibit(EntryNumber, Verdict, bool),
    /// A place of the class is withheld.
    Withheld(u32),
    Remark(String),
    Judge(String),
}

pub(super) fn entry_of(line: &mut Line<'_>) -> Option<EntryNumber> {
    match line.id::<EntryNumber>("entry") {
        Patch::Value(number) => Some(number),
        Patch::Absent | Patch::Null => None,
    }
}

/// The class that a line is about: that of its exhibit, or the one it names.
pub(super) fn class_of<'k>(
    line: &mut Line<'_>,
    schedule: &'k ShowSchedule,
    entries: &BTreeMap<EntryNumber, Entry>,
    number: Option<EntryNumber>,
) -> Option<&'k ScheduleClass> {
    let named = match line.id::<ClassLabel>("class") {
        Patch::Value(label) => {
            let found = schedule.classes.iter().find(|class| class.label == label);
            if found.is_none() {
                line.faults.add("class", "not-found", format!("{label} is not a class of this show"));
            }
            found
        }
        Patch::Absent | Patch::Null => None,
    };
    let Some(number) = number else {
        if named.is_none() && line.faults.is_clean("entry") {
            line.faults.add("class", "required", "must have a value where no entry is named");
        }
        return named.filter(|_| line.faults.is_clean("entry"));
    };
    let Some(entry) = entries.get(&number) else {
        line.faults.add("entry", "not-found", format!("{number} is not an exhibit that stands at this show"));
        return None;
    };
    let own = schedule.classes.iter().find(|class| class.id == entry.class_id)?;
    if let Some(named) = named
        && named.id != own.id
    {
        let detail = format!("is {}, but {number} stands in class {}; move it first", named.label, own.label);
        line.faults.add("class", "other-class", detail);
        return None;
    }
    Some(own)
}

pub(super) fn staging_of(line: &mut Line<'_>) -> Option<bool> {
    let Patch::Value(text) = line.text("staged") else { return None };
    match text.to_ascii_lowercase().as_str() {
        "yes" => Some(true),
        "no" => Some(false),
        _ => {
            line.faults.add("staged", "unknown-word", format!("`{text}` is not `yes` or `no`"));
            None
        }
    }
}

pub(super) fn saying_of(line: &mut Line<'_>, number: Option<EntryNumber>) -> Saying {
    if !line.faults.is_clean("entry") && number.is_none() {
        // It is about an exhibit, of which the number cannot be read.
        return Saying::Nothing;
    }
    let Patch::Value(result) = line.text("result") else { return Saying::Nothing };
    let words = line.text("words").value().cloned();
    let saying = match number {
        Some(number) => exhibit_saying(&result, number, words),
        None => class_saying(&result, words.as_deref()),
    };
    saying.unwrap_or_else(|(column, code, detail)| {
        line.faults.add(column, code, detail);
        Saying::Nothing
    })
}

type Fault = (&'static str, &'static str, String);

fn exhibit_saying(result: &str, number: EntryNumber, words: Option<String>) -> Result<Saying, Fault> {
    let upper = result.to_ascii_uppercase();
    if let Ok(code) = Commendation::from_str(&upper) {
        return Ok(Saying::Exhibit(number, Verdict::Commended(code), false));
    }
    if upper == NOT_AS_SCHEDULE || upper == PUT_OUT {
        let Some(reason) = words.filter(|words| (4..=500).contains(&words.chars().count())) else {
            return Err(("words", "required", format!("must say why it is {upper}, in 4 to 500 characters")));
        };
        let verdict = if upper == PUT_OUT {
            Verdict::Disqualified { reason }
        } else {
            Verdict::NotAsSchedule { reason }
        };
        return Ok(Saying::Exhibit(number, verdict, false));
    }
    let (place, shared) = match upper.strip_suffix('=') {
        Some(place) => (place, true),
        None => (upper.as_str(), false),
    };
    match place.trim().parse::<u32>() {
        Ok(place @ 1..=99) => Ok(Saying::Exhibit(number, Verdict::Placed(place), shared)),
        _ => Err((
            "result",
            "unknown-word",
            format!("`{result}` is not a place such as 1 or 2=, nor VHC, HC, C, NAS or OUT"),
        )),
    }
}

fn class_saying(result: &str, words: Option<&str>) -> Result<Saying, Fault> {
    let lower = result.to_ascii_lowercase();
    if let Some(place) = lower.strip_prefix(WITHHELD) {
        return match place.trim().parse::<u32>() {
            Ok(place @ 1..=99) => Ok(Saying::Withheld(place)),
            _ => Err(("result", "unknown-word", "names the place that is withheld: `withheld 2`".to_owned())),
        };
    }
    let wanted = |what: &str, most: usize| {
        words
            .filter(|words| (2..=most).contains(&words.chars().count()))
            .ok_or_else(|| ("words", "required", format!("must have the {what}, in 2 to {most} characters")))
    };
    match lower.as_str() {
        REMARK => wanted("remark", 500).map(|words| Saying::Remark(words.to_owned())),
        JUDGE => wanted("judge's name", 120).map(|name| Saying::Judge(name.to_owned())),
        _ => Err((
            "result",
            "unknown-word",
            format!(
                "`{result}` is not `withheld 2`, `remark` or `judge`, which a line without an entry may have"
            ),
        )),
    }
}
