//! The society's whole pedigree, kept in memory and never older than the asker's view of the records.
//!
//! The first question reads everybody: for 100,000 about a second. Later ones read what changed since, which the
//! records number (`rows::lines::touch`): a new seedling costs one evaluation, an edited record a renumbering and
//! its descendants, one that went away a reading of everybody.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::{PoisonError, RwLock};

use storksbill_db::Conn;
use storksbill_db::rows::lines::{self, Descent, Line};
use storksbill_domain::ids::IndividualId;
use storksbill_pedigree::{Individual, Pedigree, Problem as Unsound, UnknownId};

use super::asker::Asker;
use super::individuals::{Numbers, about, individual, parentless, plain};
use crate::http::problem::{Code, Problem};

/// So many edits at once are dearer than building anew from what is in memory.
const MANY_EDITS: usize = 3;

/// Everybody's pedigree.
#[derive(Default)]
pub struct Pedigrees(RwLock<Option<Whole>>);

impl fmt::Debug for Pedigrees {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Pedigrees")
    }
}

impl Pedigrees {
    /// Asks the pedigree as it stands in this view of the records, or later.
    pub(crate) fn ask<T>(
        &self,
        conn: &mut Conn,
        ask: impl FnOnce(&Whole) -> Result<T, Problem>,
    ) -> Result<T, Problem> {
        let now = lines::version(conn)?;
        {
            let kept = self.0.read().unwrap_or_else(PoisonError::into_inner);
            if let Some(whole) = kept.as_ref().filter(|whole| whole.version >= now) {
                return ask(whole);
            }
        }
        let mut kept = self.0.write().unwrap_or_else(PoisonError::into_inner);
        // What fails half-way is not put back.
        let whole = match kept.take() {
            Some(whole) if whole.version >= now => whole,
            Some(whole) => whole.brought_to(conn, now)?,
            None => Whole::load(conn, now)?,
        };
        ask(kept.insert(whole))
    }
}

/// The pedigree and what is known of its individuals, who are numbered from 0 on.
pub(crate) struct Whole {
    version: i64,
    lines: Vec<Line>,
    numbers: Numbers,
    pub(crate) pedigree: Pedigree,
    /// Records whose sets and gametes contradict each other, or that are their own ancestors, and how.
    contradictions: BTreeMap<u64, String>,
    /// Some of them were cut from their parents in [`Self::lines`], so that these are not the records any more.
    cut: bool,
}

impl Whole {
    fn load(conn: &mut Conn, version: i64) -> Result<Self, Problem> {
        let lines = lines::everybody(conn)?;
        Self::build(lines, version)
    }

    fn build(mut lines: Vec<Line>, version: i64) -> Result<Self, Problem> {
        let numbers: Numbers = lines.iter().map(|line| line.id).zip(0..).collect();
        let mut records: Vec<Individual> =
            (0..).zip(&lines).map(|(number, line)| individual(line, number, &numbers)).collect();
        let mut contradictions = BTreeMap::new();
        let mut any_cut = false;
        loop {
            let faults = match Pedigree::build(&records) {
                Ok(pedigree) => {
                    return Ok(Self { version, lines, numbers, pedigree, contradictions, cut: any_cut });
                }
                Err(faults) => faults,
            };
            let before = records.clone();
            for fault in faults {
                // No write makes a loop; one that is in old records is cut, so that it keeps nobody from the rest.
                let cut = if let Unsound::Loop { ids } = &fault { ids.as_slice() } else { &[] };
                any_cut |= !cut.is_empty();
                let wrong = about(&fault).into_iter().chain(cut.iter().copied());
                for number in wrong {
                    let Some(record) = place(number).and_then(|at| records.get_mut(at)) else {
                        return Err(unsound(&fault));
                    };
                    *record = if cut.is_empty() { plain(record) } else { parentless(record) };
                    contradictions.insert(number, words(&fault, &lines));
                    let line = place(number).and_then(|at| lines.get_mut(at));
                    if let Some(line) = line.filter(|_| !cut.is_empty()) {
                        line.descent = Descent::Unknown;
                    }
                }
            }
            // A record that was made plain has no faults left but a loop, and one without parents none at all, so
            // every turn finds others.
            if records == before {
                return Err(Problem::new(Code::Internal, "The records make no pedigree.".to_owned()));
            }
        }
    }

    fn brought_to(mut self, conn: &mut Conn, now: i64) -> Result<Self, Problem> {
        if self.cut {
            return Self::load(conn, now);
        }
        let changed = lines::changed_since(conn, self.version)?;
        let found = lines::of_ids(conn, &changed)?;
        if found.len() < changed.len() {
            return Self::load(conn, now);
        }
        let mut edited = Vec::new();
        let mut added = Vec::new();
        for line in found {
            match self.numbers.get(&line.id) {
                Some(&number) => edited.push((number, line)),
                None => added.push(line),
            }
        }
        for line in &added {
            let number = u64::try_from(self.numbers.len()).unwrap_or(u64::MAX);
            self.numbers.insert(line.id, number);
        }
        let first_new = self.lines.len();
        self.lines.extend(added);
        let mut changed = Vec::new();
        for (number, line) in edited {
            let record = individual(&line, number, &self.numbers);
            let before = place(number).and_then(|at| self.lines.get_mut(at));
            if let Some(before) = before {
                *before = line;
            }
            if self.pedigree.record(number).ok() != Some(record.clone()) {
                changed.push(record);
            }
        }
        // A contradiction may be mended by a change elsewhere.
        let sound = self.contradictions.is_empty()
            && changed.len() <= MANY_EDITS
            && self.add_from(first_new)
            && changed.into_iter().all(|record| self.pedigree.edit(record).is_ok());
        if !sound {
            return Self::build(self.lines, now);
        }
        self.version = now;
        Ok(self)
    }

    /// Adds the individuals from this number on, parents first; whether all fitted.
    fn add_from(&mut self, first: usize) -> bool {
        let fresh = self.lines.iter().enumerate().skip(first);
        let mut waiting: Vec<Individual> = fresh
            .filter_map(|(at, line)| Some(individual(line, u64::try_from(at).ok()?, &self.numbers)))
            .collect();
        while !waiting.is_empty() {
            let before = waiting.len();
            waiting.retain(|record| self.pedigree.add(record.clone()).is_err());
            if waiting.len() == before {
                return false;
            }
        }
        true
    }

    pub(crate) fn number(&self, id: IndividualId) -> Option<u64> {
        self.numbers.get(&id).copied()
    }

    /// The number of an individual that the asker may see.
    ///
    /// # Errors
    /// 404.
    pub(crate) fn seen(&self, asker: &Asker, id: IndividualId) -> Result<u64, Problem> {
        let number = self.number(id).ok_or_else(|| Problem::not_found("cultivar or seedling"))?;
        if asker.sees(self.line(number)?) {
            Ok(number)
        } else {
            Err(Problem::not_found("cultivar or seedling"))
        }
    }

    /// # Errors
    /// 500 where there is no such number, which no record names.
    pub(crate) fn line(&self, number: u64) -> Result<&Line, Problem> {
        place(number).and_then(|at| self.lines.get(at)).ok_or_else(|| unnumbered(UnknownId(number)))
    }

    /// Everybody whom the asker may see.
    pub(crate) fn all_seen<'a>(&'a self, asker: &'a Asker) -> impl Iterator<Item = (u64, &'a Line)> {
        (0..).zip(&self.lines).filter(|(_, line)| asker.sees(line))
    }

    /// What is wrong with the record of an individual.
    pub(crate) fn contradiction(&self, number: u64) -> Option<&str> {
        self.contradictions.get(&number).map(String::as_str)
    }
}

pub(crate) fn unnumbered(unknown: UnknownId) -> Problem {
    Problem::new(Code::Internal, format!("The pedigree has no individual {}.", unknown.0))
}

fn unsound(fault: &Unsound) -> Problem {
    Problem::new(Code::Internal, format!("The records make no pedigree: {fault}."))
}

fn place(number: u64) -> Option<usize> {
    usize::try_from(number).ok()
}

/// What is wrong with a record, in words that name nobody else.
fn words(fault: &Unsound, lines: &[Line]) -> String {
    let rest = "it is counted with two sets of chromosomes, one from each parent";
    match fault {
        Unsound::Loop { .. } => {
            "By the records it is its own ancestor; until they are mended it is counted as if \
            nobody knew its parents."
                .to_owned()
        }
        Unsound::Sets { recorded: Some(recorded), seed, pollen, .. } => format!(
            "It is recorded with {recorded} sets of chromosomes, and its parents' gametes bring {seed} and {pollen}; {rest}."
        ),
        Unsound::Sets { seed, pollen, .. } => {
            format!("Its parents' gametes bring {seed} and {pollen} sets of chromosomes; {rest}.")
        }
        Unsound::OddParent { sets, .. } => format!(
            "A parent has {sets} sets of chromosomes, so half of them is not a number: state how many its gamete brought; until then {rest}."
        ),
        Unsound::MixedSets { .. } => format!(
            "Those that may be its pollen parent would bring different numbers of sets: state how many; until then {rest}."
        ),
        Unsound::NoRestitution { sets, .. } => format!(
            "For unreduced gametes of a parent with {sets} sets nobody has published a figure: state lambda; until then {rest}."
        ),
        Unsound::CloneSets { recorded, of_source: source, .. } => format!(
            "It is recorded with {recorded} sets of chromosomes and its source with {source}: that is a doubling; it is counted with its source's."
        ),
        other => {
            let name =
                about(other).and_then(place).and_then(|at| lines.get(at)).map(|line| line.name.as_str());
            format!("The record of {} is not sound; {rest}.", name.unwrap_or("this plant"))
        }
    }
}
