//! What differs between two versions of a schedule, and whom it concerns. Classes are matched by id: a new number is
//! a change of the class, not another class.

use std::collections::BTreeSet;
use std::fmt;

use serde::{Deserialize, Serialize};
use serde_json::Value;
use utoipa::ToSchema;

use super::canonical::canonical_json;
use super::class::ScheduleClass;
use super::label::ClassLabel;
use super::schedule::ShowSchedule;
use crate::ids::ClassId;

/// What a change is about.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ChangedThing {
    /// The show itself.
    Show,
    /// A section, by its key.
    Section(String),
    /// A class: by the number it had, or has if it is new.
    Class {
        /// Identity.
        id: ClassId,
        /// The number.
        label: ClassLabel,
    },
    /// A points scheme, by its key.
    Scheme(String),
    /// A trophy, by its key.
    Trophy(String),
}

/// One change. Added: `old` is null and `field` empty; removed: `new` is null and `field` empty.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ScheduleChange {
    /// Of what.
    pub thing: ChangedThing,
    /// The field, as a JSON pointer (RFC 6901); empty for the whole thing.
    pub field: String,
    /// What it was.
    pub old: Value,
    /// What it is.
    pub new: Value,
    /// The classes whose entrants are concerned.
    pub concerns: Vec<ClassId>,
}

/// `class 106A, /rules/slots/0/pot/to/um: 114300, now 110000`.
impl fmt::Display for ScheduleChange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.thing {
            ChangedThing::Show => f.write_str("show")?,
            ChangedThing::Section(key) => write!(f, "section {key}")?,
            ChangedThing::Class { label, .. } => write!(f, "class {label}")?,
            ChangedThing::Scheme(key) => write!(f, "points scheme {key}")?,
            ChangedThing::Trophy(key) => write!(f, "trophy {key}")?,
        }
        match (self.field.is_empty(), self.old.is_null()) {
            (true, true) => f.write_str(" added"),
            (true, false) => f.write_str(" removed"),
            (false, _) => write!(
                f,
                ", {}: {}, now {}",
                self.field,
                canonical_json(&self.old),
                canonical_json(&self.new)
            ),
        }
    }
}

impl ShowSchedule {
    /// The text whose hash stands for this version: canonical JSON, the classes in the order of their numbers. The
    /// order of all other lists is a part of it.
    ///
    /// # Errors
    /// None is known: every part of a schedule has a JSON form.
    pub fn canonical(&self) -> Result<String, serde_json::Error> {
        let mut sorted = self.clone();
        sorted.classes.sort_by(ScheduleClass::printed_order);
        Ok(canonical_json(&serde_json::to_value(&sorted)?))
    }
}

/// The changes from one version to the next: the show, then sections, classes by number, schemes, trophies.
///
/// Cost: one walk over both versions as JSON.
///
/// # Errors
/// None is known: every part of a schedule has a JSON form.
pub fn schedule_changes(
    old: &ShowSchedule,
    new: &ShowSchedule,
) -> Result<Vec<ScheduleChange>, serde_json::Error> {
    let mut changes = Vec::new();
    let every: BTreeSet<ClassId> = old.classes.iter().map(|class| class.id).collect();
    let head = |schedule: &ShowSchedule| -> Result<Value, serde_json::Error> {
        let bare = ShowSchedule {
            sections: vec![],
            classes: vec![],
            schemes: vec![],
            trophies: vec![],
            ..schedule.clone()
        };
        serde_json::to_value(bare)
    };
    for (field, before, after) in differences(&head(old)?, &head(new)?) {
        // A new title of the show changes nothing that an exhibitor entered by.
        let concerns = if field == "/title" { Vec::new() } else { every.iter().copied().collect() };
        changes.push(ScheduleChange { thing: ChangedThing::Show, field, old: before, new: after, concerns });
    }
    let sections = pair(&old.sections, &new.sections, |section| section.key.clone());
    for (key, before, after) in sections {
        push(&mut changes, &ChangedThing::Section(key), &json(before)?, &json(after)?, &[]);
    }
    let mut classes = pair(&old.classes, &new.classes, |class| class.id);
    classes.sort_by_key(|(id, before, after)| (before.or(*after).map(|class| class.label.clone()), *id));
    for (id, before, after) in classes {
        let Some(named) = before.or(after) else { continue };
        let concerned = if before.is_some() { vec![id] } else { vec![] };
        let thing = ChangedThing::Class { id, label: named.label.clone() };
        push(&mut changes, &thing, &json(before)?, &json(after)?, &concerned);
    }
    for (key, before, after) in pair(&old.schemes, &new.schemes, |scheme| scheme.key.clone()) {
        let scored = old.classes.iter().filter(|class| class.rules.points.as_ref() == Some(&key));
        let concerned: Vec<ClassId> = scored.map(|class| class.id).collect();
        push(&mut changes, &ChangedThing::Scheme(key), &json(before)?, &json(after)?, &concerned);
    }
    for (key, before, after) in pair(&old.trophies, &new.trophies, |trophy| trophy.key.clone()) {
        push(&mut changes, &ChangedThing::Trophy(key), &json(before)?, &json(after)?, &[]);
    }
    Ok(changes)
}

/// Every class whose entrants a list of changes concerns.
pub fn concerned_classes(changes: &[ScheduleChange]) -> BTreeSet<ClassId> {
    changes.iter().flat_map(|change| change.concerns.iter().copied()).collect()
}

fn json<T: Serialize>(thing: Option<&T>) -> Result<Value, serde_json::Error> {
    thing.map_or(Ok(Value::Null), serde_json::to_value)
}

/// Things of both versions under one key, those of the old version first.
fn pair<'a, T, K: PartialEq>(
    old: &'a [T],
    new: &'a [T],
    key: impl Fn(&T) -> K,
) -> Vec<(K, Option<&'a T>, Option<&'a T>)> {
    let mut pairs: Vec<(K, Option<&T>, Option<&T>)> = Vec::new();
    for before in old {
        let after = new.iter().find(|after| key(after) == key(before));
        pairs.push((key(before), Some(before), after));
    }
    for after in new.iter().filter(|after| !old.iter().any(|before| key(before) == key(after))) {
        pairs.push((key(after), None, Some(after)));
    }
    pairs
}

fn push(
    changes: &mut Vec<ScheduleChange>,
    thing: &ChangedThing,
    old: &Value,
    new: &Value,
    concerns: &[ClassId],
) {
    for (field, old, new) in differences(old, new) {
        changes.push(ScheduleChange { thing: thing.clone(), field, old, new, concerns: concerns.to_vec() });
    }
}

/// The smallest parts that differ, each with its pointer. Lists of other lengths differ as a whole.
fn differences(old: &Value, new: &Value) -> Vec<(String, Value, Value)> {
    let mut found = Vec::new();
    walk(String::new(), old, new, &mut found);
    found
}

fn walk(at: String, old: &Value, new: &Value, found: &mut Vec<(String, Value, Value)>) {
    match (old, new) {
        (Value::Object(before), Value::Object(after)) => {
            let names: BTreeSet<&String> = before.keys().chain(after.keys()).collect();
            for name in names {
                let (old, new) =
                    (before.get(name).unwrap_or(&Value::Null), after.get(name).unwrap_or(&Value::Null));
                let escaped = name.replace('~', "~0").replace('/', "~1");
                walk(format!("{at}/{escaped}"), old, new, found);
            }
        }
        (Value::Array(before), Value::Array(after)) if before.len() == after.len() => {
            for (index, (old, new)) in before.iter().zip(after).enumerate() {
                walk(format!("{at}/{index}"), old, new, found);
            }
        }
        _ if old == new => {}
        _ => found.push((at, old.clone(), new.clone())),
    }
}
