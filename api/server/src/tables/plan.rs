//! What a table would do: its lines beside what is kept.
//!
//! Every line is settled whatever is wrong with the others, and the refusal names them all.

use std::collections::{HashMap, HashSet};
use std::hash::Hash;

use serde::Serialize;
use utoipa::ToSchema;

use super::sheet::Faults;
use crate::http::patch::Patch;

/// What a table did, or in a dry run would do.
#[derive(Debug, Serialize, ToSchema)]
pub struct TableReport {
    /// Whether nothing was written because only the outcome was asked for.
    pub dry_run: bool,
    /// Lines that made a new record.
    pub created: usize,
    /// Lines that changed a record.
    pub updated: usize,
    /// Lines that say what is kept already.
    pub unchanged: usize,
}

/// What a table without faults comes to.
#[derive(Debug)]
pub struct Plan<T> {
    /// New records.
    pub created: Vec<T>,
    /// Records that are kept, as they are to be.
    pub changed: Vec<T>,
    unchanged: usize,
}

impl<T> Plan<T> {
    /// What all lines come to together.
    pub fn of(outcomes: impl Iterator<Item = Outcome<T>>) -> Self {
        let mut plan = Self { created: Vec::new(), changed: Vec::new(), unchanged: 0 };
        for outcome in outcomes {
            match outcome {
                Outcome::Created(record) => plan.created.push(record),
                Outcome::Changed(record) => plan.changed.push(record),
                Outcome::Unchanged => plan.unchanged += 1,
            }
        }
        plan
    }

    /// The plan in numbers.
    pub fn report(&self, dry_run: bool) -> TableReport {
        TableReport {
            dry_run,
            created: self.created.len(),
            updated: self.changed.len(),
            unchanged: self.unchanged,
        }
    }
}

/// What one line comes to.
#[derive(Debug)]
pub enum Outcome<T> {
    /// A new record.
    Created(T),
    /// A record that is kept, as it is to be.
    Changed(T),
    /// It says what is kept already.
    Unchanged,
}

/// A line on its way from the table to the records.
#[derive(Debug)]
pub struct Draft<'k, L, T> {
    /// The line.
    pub line: &'k L,
    /// What is kept under the line's id; none for a new record, and where the id is at fault.
    pub before: Option<&'k T>,
    /// Whether it is to make a new record.
    pub is_new: bool,
    /// What is wrong with it.
    pub faults: Faults,
    /// What it comes to, once it is settled.
    pub outcome: Option<Outcome<T>>,
}

/// Finds what each line edits; notes ids that may not be edited and ids that come twice.
#[derive(Debug)]
pub struct Targets<'k, I, T> {
    kept: &'k HashMap<I, T>,
    met: HashSet<I>,
    what: &'static str,
}

impl<'k, I: Copy + Eq + Hash, T> Targets<'k, I, T> {
    /// Among what is kept; `what` says what an id has to be: `one of your plants`.
    pub fn new(kept: &'k HashMap<I, T>, what: &'static str) -> Self {
        Self { kept, met: HashSet::new(), what }
    }

    /// The draft of a line with this id and these faults so far.
    pub fn draft<L>(&mut self, line: &'k L, id: &Patch<I>, faults: &Faults) -> Draft<'k, L, T> {
        let mut faults = faults.clone();
        let mut before = None;
        if let Patch::Value(id) = id {
            before = self.kept.get(id);
            if before.is_none() {
                let detail = format!("is not {}; leave it empty for a new one", self.what);
                faults.add("id", "not-found", detail);
            } else if !self.met.insert(*id) {
                faults.add("id", "repeated", "stands on an earlier line too");
            }
        }
        // An id that cannot be read is a fault and not a new record.
        let is_new = !matches!(id, Patch::Value(_)) && faults.is_clean("id");
        Draft { line, before, is_new, faults, outcome: None }
    }
}

/// Notes where the record was changed since the version that was exported.
pub fn check_version(exported: Option<i32>, kept: i32, faults: &mut Faults) {
    if let Some(exported) = exported.filter(|exported| *exported != kept) {
        let detail =
            format!("is {exported}, but version {kept} is kept: somebody changed it; export it again");
        faults.add("version", "version-mismatch", detail);
    }
}
