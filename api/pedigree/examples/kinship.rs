//! Kinship, inbreeding and founders of a pedigree written as a table.
//!
//! ```text
//! kinship pedigree.csv                    id,f
//! kinship pedigree.csv --matrix           id, then the kinship to everybody
//! kinship pedigree.csv --founders A,B     contributions to the group A, B; then fe, fg, fa
//! kinship pedigree.csv --bench            {"n":..,"seconds":..,"peak_memory_bytes":..,"visits":..}
//! ```
//!
//! The table has the columns `id,seed_parent,seed_sets,seed_lambda,pollen_parent,pollen_sets,pollen_lambda` and
//! perhaps `share`, in any order; only `id` must be there. Rows may stand in any order. A blank parent is not
//! known; blank sets are 1, a blank lambda 0. A clone has one parent with all the sets, and nothing or 0 sets on
//! the other side. Several rows of one id with a share each are possible pollen parents of it.
//!
//! Faults are told by line, all at once, and end the program with 2. Warnings go to the error output.
#![allow(
    missing_docs,
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::indexing_slicing,
    reason = "a program for the command line"
)]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::Write as _;
use std::time::Instant;

use storksbill_pedigree::{
    Candidate, Founder, Gamete, Individual, Origin, Parent, Pedigree, Problem, Warning, Who,
    effective_ancestors, effective_founders, founder_genomes,
};

const USAGE: &str = "usage: kinship pedigree.csv [--matrix | --founders ID,ID,.. | --bench]";
/// Draws for founders whose fate is not worked out, and their seed.
const DRAWS: u32 = 10_000;
const SEED: u64 = 1;

enum Wanted {
    Inbreeding,
    Matrix,
    Founders(String),
    Bench,
}

fn main() {
    if let Err(faults) = run() {
        eprint!("{faults}");
        std::process::exit(2);
    }
}

fn run() -> Result<(), String> {
    let (path, wanted) = arguments()?;
    let started = Instant::now();
    let text = std::fs::read_to_string(&path).map_err(|fault| format!("{path}: {fault}\n"))?;
    let table = Table::read(&text).map_err(|faults| by_line(&path, faults))?;
    drop(text);
    let read = started.elapsed().as_secs_f64();
    let started = Instant::now();
    let (records, table) = table.records();
    let pedigree = Pedigree::build(records)
        .map_err(|problems| by_line(&path, problems.iter().map(|problem| table.told(problem)).collect()))?;
    let seconds = started.elapsed().as_secs_f64();
    for warning in pedigree.warnings() {
        if let Some((line, warned)) = table.warned(warning) {
            eprintln!("{path}:{line}: warning: {warned}");
        }
    }
    let answer = match wanted {
        Wanted::Inbreeding => table.inbreeding(&pedigree),
        Wanted::Matrix => table.matrix(&pedigree),
        Wanted::Founders(reference) => table.founders(&pedigree, &reference)?,
        Wanted::Bench => format!(
            "{{\"n\":{},\"seconds\":{seconds:.6},\"read_seconds\":{read:.6},\"peak_memory_bytes\":{},\"visits\":{}}}\n",
            pedigree.len(),
            peak_memory(),
            pedigree.visits()
        ),
    };
    match std::io::stdout().lock().write_all(answer.as_bytes()) {
        // Whoever reads the answer may have seen enough.
        Err(fault) if fault.kind() != std::io::ErrorKind::BrokenPipe => Err(format!("{fault}\n")),
        _ => Ok(()),
    }
}

fn arguments() -> Result<(String, Wanted), String> {
    let (mut path, mut wanted) = (None, None);
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        let asked = match argument.as_str() {
            "--matrix" => Wanted::Matrix,
            "--bench" => Wanted::Bench,
            "--founders" => {
                Wanted::Founders(arguments.next().ok_or(format!("--founders wants ids\n{USAGE}\n"))?)
            }
            other if path.is_none() && !other.starts_with("--") => {
                path = Some(other.to_owned());
                continue;
            }
            other => return Err(format!("{other}: not understood\n{USAGE}\n")),
        };
        if wanted.replace(asked).is_some() {
            return Err(format!("one of --matrix, --founders and --bench at a time\n{USAGE}\n"));
        }
    }
    Ok((path.ok_or(format!("{USAGE}\n"))?, wanted.unwrap_or(Wanted::Inbreeding)))
}

fn by_line(path: &str, mut faults: Vec<(usize, String)>) -> String {
    faults.sort();
    let mut told = String::new();
    for (line, fault) in faults {
        let place = if line == 0 { path.to_owned() } else { format!("{path}:{line}") };
        // Writing into a string cannot fail.
        let _ = writeln!(told, "{place}: {fault}");
    }
    told
}

/// What a row says of the two gametes: sets and lambda, and whether a side is wholly blank.
#[derive(Clone, Copy, PartialEq)]
struct Gametes {
    sets: [u8; 2],
    lambda: [f64; 2],
    blank: [bool; 2],
}

/// One individual. Millions of them must fit.
#[derive(Clone, Copy)]
struct Row {
    /// `NOBODY` where not known.
    parents: [u32; 2],
    /// A place among the different `Gametes`.
    gametes: u32,
}

/// Ids in the order of the table, one behind the other.
struct Ids {
    text: String,
    ends: Vec<u32>,
    /// Places by id.
    sorted: Vec<u32>,
}

impl Ids {
    fn get(&self, at: u32) -> &str {
        let at = at as usize;
        let from = if at == 0 { 0 } else { self.ends[at - 1] as usize };
        &self.text[from..self.ends[at] as usize]
    }

    fn place(&self, id: &str) -> Option<u32> {
        let found = self.sorted.binary_search_by_key(&id, |&at| self.get(at));
        found.ok().map(|nth| self.sorted[nth])
    }

    fn all(&self) -> impl Iterator<Item = &str> {
        (0..).take(self.ends.len()).map(|at| self.get(at))
    }
}

const NOBODY: u32 = u32::MAX;

struct Table {
    ids: Ids,
    /// By place: where an id first stands.
    line: Vec<u32>,
    rows: Vec<Row>,
    gametes: Vec<Gametes>,
    /// By place: possible pollen parents where there are several rows, or a share.
    shares: BTreeMap<u32, Vec<(u32, f64)>>,
}

/// Where a quoted cell ends: at the first quotation mark that is not doubled.
fn closing(quoted: &str) -> Option<usize> {
    let mut from = 0;
    while let Some(at) = quoted[from..].find('"') {
        if !quoted[from + at + 1..].starts_with('"') {
            return Some(from + at);
        }
        from += at + 2;
    }
    None
}

/// Cells of a line of a table separated by commas, as RFC 4180 has it but for line breaks within quotes. Doubled
/// quotation marks stay doubled: an id is written as it was read.
fn cells(line: &str) -> Result<Vec<&str>, String> {
    let mut cells = Vec::new();
    let mut rest = Some(line);
    while let Some(text) = rest {
        if let Some(quoted) = text.trim_start().strip_prefix('"') {
            let end = closing(quoted).ok_or("a quotation mark is not closed")?;
            let behind = quoted[end + 1..].trim_start();
            cells.push(&quoted[..end]);
            match behind.strip_prefix(',') {
                Some(next) => rest = Some(next),
                None if behind.is_empty() => rest = None,
                None => return Err("there is text behind a closing quotation mark".to_owned()),
            }
        } else if let Some((cell, next)) = text.split_once(',') {
            cells.push(cell.trim());
            rest = Some(next);
        } else {
            cells.push(text.trim());
            rest = None;
        }
    }
    Ok(cells)
}

const COLUMNS: [&str; 8] = [
    "id",
    "seed_parent",
    "seed_sets",
    "seed_lambda",
    "pollen_parent",
    "pollen_sets",
    "pollen_lambda",
    "share",
];

/// Where each column stands.
struct Columns([Option<usize>; 8]);

impl Columns {
    fn read(number: usize, line: &str) -> Result<Self, Vec<(usize, String)>> {
        let cells = cells(line).map_err(|fault| vec![(number, fault)])?;
        let mut faults = Vec::new();
        for cell in &cells {
            if !COLUMNS.contains(cell) {
                faults.push((number, format!("no column is called {cell:?}")));
            } else if cells.iter().filter(|other| other == &cell).count() > 1 {
                faults.push((number, format!("there are two columns {cell}")));
            }
        }
        let found = COLUMNS.map(|name| cells.iter().position(|cell| *cell == name));
        if found[0].is_none() {
            faults.push((number, "there is no column id".to_owned()));
        }
        if faults.is_empty() { Ok(Self(found)) } else { Err(faults) }
    }

    fn cells<'a>(&self, line: &'a str) -> Result<[&'a str; 8], String> {
        let cells = cells(line)?;
        if cells.len() > self.0.iter().flatten().count() {
            return Err(format!("{} cells, more than there are columns", cells.len()));
        }
        let row = self.0.map(|at| at.and_then(|at| cells.get(at)).copied().unwrap_or(""));
        if row[0].is_empty() { Err("no id".to_owned()) } else { Ok(row) }
    }
}

/// The gametes of a row; faults are told and passed over.
fn gametes(row: &[&str; 8], mut fault: impl FnMut(String)) -> Gametes {
    let mut found = Gametes { sets: [1; 2], lambda: [0.0; 2], blank: [false; 2] };
    for (side, nth) in [(0, 1), (1, 4)] {
        let [parent, sets, lambda] = [row[nth], row[nth + 1], row[nth + 2]];
        found.blank[side] = parent.is_empty() && sets.is_empty() && lambda.is_empty();
        match sets.parse() {
            Ok(sets) => found.sets[side] = sets,
            Err(_) if sets.is_empty() => {}
            Err(_) => fault(format!("{} {sets:?} is not a whole number from 0 to 255", COLUMNS[nth + 1])),
        }
        match probability(lambda) {
            Some(lambda) => found.lambda[side] = lambda,
            None if lambda.is_empty() => {}
            None => fault(format!("{} {lambda:?} is not a number from 0 to 1", COLUMNS[nth + 2])),
        }
        if found.sets[side] < 2 {
            // One set has no homologues to be copies.
            found.lambda[side] = 0.0;
        }
    }
    found
}

fn probability(text: &str) -> Option<f64> {
    text.parse().ok().filter(|value| (0.0..=1.0).contains(value))
}

fn lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    (1..).zip(text.lines()).filter(|(_, line)| !line.trim().is_empty())
}

impl Table {
    /// Reads twice: parents may be named before their own row.
    fn read(text: &str) -> Result<Self, Vec<(usize, String)>> {
        let mut rows = lines(text);
        let Some((number, header)) = rows.next() else {
            return Err(vec![(0, "there is no line of column names".to_owned())]);
        };
        let columns = Columns::read(number, header)?;
        let mut faults = Vec::new();
        let mut named: Vec<(&str, u32)> = Vec::new();
        for (number, line) in rows {
            // More lines than 32 bits number are told by the pedigree.
            let number32 = u32::try_from(number).unwrap_or(NOBODY);
            match columns.cells(line) {
                Ok(row) => named.push((row[0], number32)),
                Err(fault) => faults.push((number, fault)),
            }
        }
        // Each id once, where it first stands.
        named.sort_unstable();
        named.dedup_by_key(|one| one.0);
        named.sort_unstable_by_key(|one| one.1);
        let mut ids = Ids { text: String::new(), ends: Vec::with_capacity(named.len()), sorted: Vec::new() };
        for (id, _) in &named {
            ids.text.push_str(id);
            let Ok(end) = u32::try_from(ids.text.len()) else {
                return Err(vec![(0, "the ids are longer than 4 GiB together".to_owned())]);
            };
            ids.ends.push(end);
        }
        let line: Vec<u32> = named.iter().map(|one| one.1).collect();
        drop(named);
        let mut sorted: Vec<u32> = (0..).take(line.len()).collect();
        sorted.sort_unstable_by_key(|&at| ids.get(at));
        ids.sorted = sorted;
        let rows = vec![Row { parents: [NOBODY; 2], gametes: NOBODY }; line.len()];
        let mut table = Self { ids, line, rows, gametes: Vec::new(), shares: BTreeMap::new() };
        table.fill(text, &columns, &mut faults);
        if !faults.is_empty() {
            return Err(faults);
        }
        table.leave_out_blank_sides();
        Ok(table)
    }

    fn fill(&mut self, text: &str, columns: &Columns, faults: &mut Vec<(usize, String)>) {
        let mut different = BTreeMap::new();
        for (number, line) in lines(text).skip(1) {
            let Ok(row) = columns.cells(line) else { continue };
            let Some(at) = self.ids.place(row[0]) else { continue };
            let found = gametes(&row, |fault| faults.push((number, fault)));
            let parents = [row[1], row[4]].map(|name| self.ids.place(name).unwrap_or(NOBODY));
            for (name, nth) in [(row[1], 1), (row[4], 4)] {
                if !name.is_empty() && self.ids.place(name).is_none() {
                    faults.push((number, format!("{} {name:?} is not an id of this table", COLUMNS[nth])));
                }
            }
            let share = probability(row[7]);
            if share.is_none() && !row[7].is_empty() {
                faults.push((number, format!("share {:?} is not a number from 0 to 1", row[7])));
            }
            let known = self.rows[at as usize];
            if known.gametes == NOBODY {
                let key = (found.sets, found.lambda.map(f64::to_bits), found.blank);
                let gametes = *different.entry(key).or_insert_with(|| {
                    self.gametes.push(found);
                    u32::try_from(self.gametes.len() - 1).unwrap_or(NOBODY - 1)
                });
                self.rows[at as usize] = Row { parents, gametes };
                if let Some(share) = share {
                    self.shares.insert(at, vec![(parents[1], share)]);
                }
                continue;
            }
            let mut fault = |what: &str| {
                faults.push((
                    number,
                    format!("{:?} is on line {} already{what}", row[0], self.line[at as usize]),
                ));
            };
            let first = self.gametes[known.gametes as usize];
            match (self.shares.get_mut(&at), share) {
                (Some(shares), Some(share)) => {
                    let same_seed = parents[0] == known.parents[0]
                        && (found.sets[0], found.lambda[0]) == (first.sets[0], first.lambda[0]);
                    if !found.blank[0] && !same_seed {
                        fault(", with another seed side");
                    }
                    if (found.sets[1], found.lambda[1]) != (first.sets[1], first.lambda[1]) {
                        fault(", with another pollen_sets or pollen_lambda");
                    }
                    shares.push((parents[1], share));
                }
                _ => fault(", and not both have a share"),
            }
        }
        for (&at, shares) in &self.shares {
            let sum: f64 = shares.iter().map(|one| one.1).sum();
            // Shares are written with a few decimals.
            if (sum - 1.0).abs() > 1e-6 {
                let fault = format!("the shares of {:?} add up to {sum}, not to 1", self.ids.get(at));
                faults.push((self.line[at as usize] as usize, fault));
            }
        }
    }

    /// A parent with all its sets, or more, and a side left wholly blank: a clone, or a doubling. It has no
    /// second gamete.
    fn leave_out_blank_sides(&mut self) {
        let mut sets: Vec<Option<u16>> = Vec::with_capacity(self.rows.len());
        for at in 0..self.rows.len() {
            let both = self.gametes[self.rows[at].gametes as usize].sets.map(u16::from);
            sets.push(if self.alone(at).is_some() { None } else { Some(both[0] + both[1]) });
        }
        let mut one_sided: BTreeMap<[u32; 2], u32> = BTreeMap::new();
        for start in 0..self.rows.len() {
            let mut line = Vec::new();
            let mut at = start;
            // A loop is told when the pedigree is built.
            while sets[at].is_none() && line.len() <= self.rows.len() {
                line.push(at);
                let Some((parent, _)) = self.alone(at) else { break };
                at = parent as usize;
            }
            while let Some(at) = line.pop() {
                let Some((parent, side)) = self.alone(at) else { continue };
                let number = self.rows[at].gametes;
                let mut gametes = self.gametes[number as usize];
                let given = u16::from(gametes.sets[side]);
                if sets[parent as usize].is_none_or(|sets| given >= sets) {
                    gametes.sets[1 - side] = 0;
                    // The side is settled, and no longer blank.
                    gametes.blank = [false; 2];
                    let next = u32::try_from(self.gametes.len()).unwrap_or(NOBODY - 1);
                    let key = [number, u32::from(side == 1)];
                    self.rows[at].gametes = *one_sided.entry(key).or_insert(next);
                    if self.rows[at].gametes == next {
                        self.gametes.push(gametes);
                    }
                }
                let both = gametes.sets.map(u16::from);
                sets[at] = Some(both[0] + both[1]);
            }
        }
    }

    /// The one parent of a row that leaves the other side blank and gives several sets, and its side.
    fn alone(&self, at: usize) -> Option<(u32, usize)> {
        let row = self.rows[at];
        let gametes = self.gametes[row.gametes as usize];
        let side = (0..2).find(|&side| gametes.blank[1 - side] && gametes.sets[side] > 1)?;
        let place = u32::try_from(at).unwrap_or(NOBODY);
        (row.parents[side] != NOBODY && !self.shares.contains_key(&place))
            .then_some((row.parents[side], side))
    }

    /// The records, and what is left of the table: rows are let go as soon as they are read.
    fn records(self) -> (impl Iterator<Item = Individual>, Names) {
        let Self { ids, line, rows, gametes, shares } = self;
        let records = (0..)
            .zip(rows)
            .map(move |(at, row)| Individual::new(at.into(), origin(&row, &gametes, shares.get(&at))));
        (records, Names { ids, line })
    }
}

fn origin(row: &Row, gametes: &[Gametes], shares: Option<&Vec<(u32, f64)>>) -> Origin {
    let Gametes { sets, lambda, .. } = gametes[row.gametes as usize];
    let who = |place: u32| if place == NOBODY { Who::Unknown } else { Who::Known(place.into()) };
    let [seed, mut pollen] = [0, 1].map(|side| Parent {
        who: who(row.parents[side]),
        gamete: Gamete::Stated { sets: sets[side], lambda: lambda[side] },
    });
    if let Some(shares) = shares {
        let candidate = |&(place, share): &(u32, f64)| Candidate {
            who: (place != NOBODY).then_some(place.into()),
            share,
        };
        pollen.who = Who::OneOf(shares.iter().map(candidate).collect());
    }
    match sets {
        [_, 0] if seed.who != Who::Unknown => Origin::OneGamete(seed),
        [0, _] if pollen.who != Who::Unknown => Origin::OneGamete(pollen),
        _ => Origin::Cross { seed, pollen },
    }
}

/// What individuals are called, and where they stand in the table.
struct Names {
    ids: Ids,
    line: Vec<u32>,
}

impl Names {
    /// A warning by line, of those that a table with all sets stated can give.
    fn warned(&self, warning: Warning) -> Option<(u32, String)> {
        let at = |id: u64| u32::try_from(id).ok().filter(|&at| (at as usize) < self.line.len());
        let name = |id: u64| at(id).map_or("", |at| self.ids.get(at));
        let (id, warned) = match warning {
            Warning::OwnSport { id, seed, pollen } => {
                let parents = format!("{:?} and {:?}", name(seed), name(pollen));
                (id, format!("{:?} is a selfing: {parents} are one clone", name(id)))
            }
            Warning::LowLambda { id } => {
                let more = "a gamete with more sets than its parent needs a larger lambda";
                (id, format!("{:?}: {more}", name(id)))
            }
            Warning::AssumedSets { .. } | Warning::OddSets { .. } => return None,
        };
        Some((self.line[at(id)? as usize], warned))
    }

    /// A problem by line, with the ids of the table.
    fn told(&self, problem: &Problem) -> (usize, String) {
        let name = |id: u64| {
            let at = u32::try_from(id).ok().filter(|&at| (at as usize) < self.line.len());
            at.map_or((0, ""), |at| (self.line[at as usize] as usize, self.ids.get(at)))
        };
        match problem {
            Problem::Loop { ids } => {
                let line = ids.first().map_or(0, |&id| name(id).0);
                let around: Vec<&str> = ids.iter().chain(ids.first()).map(|&id| name(id).1).collect();
                (line, format!("individuals are their own ancestors: {}", around.join(" <- ")))
            }
            Problem::Sets { id, seed, pollen, .. } => {
                let (line, id) = name(*id);
                (line, format!("{id:?} has {seed} and {pollen} sets from its parents"))
            }
            other => (0, other.to_string()),
        }
    }

    fn inbreeding(&self, pedigree: &Pedigree) -> String {
        let mut text = String::from("id,f\n");
        for (at, f) in pedigree.inbreeding_all() {
            let id = u32::try_from(at).map_or("", |at| self.ids.get(at));
            let _ = writeln!(text, "{},{}", cell(id), number(f));
        }
        text
    }

    fn matrix(&self, pedigree: &Pedigree) -> String {
        let mut text = String::from("id");
        for id in self.ids.all() {
            let _ = write!(text, ",{}", cell(id));
        }
        text.push('\n');
        for (at, id) in (0..).zip(self.ids.all()) {
            let _ = write!(text, "{}", cell(id));
            // Every id of the table is in the pedigree.
            for (_, phi) in pedigree.kinship_to_all(at).unwrap_or_default() {
                let _ = write!(text, ",{}", number(phi));
            }
            text.push('\n');
        }
        text
    }

    fn founders(&self, pedigree: &Pedigree, reference: &str) -> Result<String, String> {
        let mut group = Vec::new();
        for id in cells(reference).map_err(|fault| format!("--founders: {fault}\n"))? {
            match self.ids.place(id) {
                Some(at) => group.push(u64::from(at)),
                None => return Err(format!("--founders: {id:?} is not an id of this table\n")),
            }
        }
        let unknown = |unknown: storksbill_pedigree::UnknownId| format!("{unknown}\n");
        let contributions = pedigree.contributions(&group).map_err(unknown)?;
        let retention = pedigree.retention(&group, DRAWS, SEED).map_err(unknown)?;
        let ancestors = pedigree.marginal_contributions(&group).map_err(unknown)?;
        let mut text = String::from("id,contribution\n");
        for one in &contributions {
            let named = |at: u64| u32::try_from(at).map_or("", |at| self.ids.get(at));
            let id = match one.founder {
                Founder::Individual(id) => named(id).to_owned(),
                Founder::SeedParentOf(id) => format!("seed parent of {}", named(id)),
                Founder::PollenParentOf(id) => format!("pollen parent of {}", named(id)),
            };
            let _ = writeln!(text, "{},{}", cell(&id), number(one.share));
        }
        let fg = founder_genomes(&contributions, &retention, 0.5 / f64::from(DRAWS));
        let _ = writeln!(text, "fe,{}", number(effective_founders(&contributions)));
        let _ = writeln!(text, "fg,{}", number(fg));
        let _ = writeln!(text, "fa,{}", number(effective_ancestors(&ancestors)));
        let drawn = retention.iter().filter(|one| !one.exact).count();
        if drawn > 0 {
            eprintln!("fg: the retention of {drawn} founders is from {DRAWS} draws with seed {SEED}");
        }
        Ok(text)
    }
}

/// Up to 15 significant digits, without zeros at the end.
fn number(value: f64) -> String {
    let exponent: i32 =
        format!("{value:.14e}").split_once('e').and_then(|(_, exponent)| exponent.parse().ok()).unwrap_or(0);
    let places = usize::try_from(14 - exponent).unwrap_or(0);
    let text = format!("{value:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

/// An id as a cell.
fn cell(id: &str) -> String {
    if id.contains(',') || id.contains("\"\"") || id.trim() != id {
        format!("\"{id}\"")
    } else {
        id.to_owned()
    }
}

/// The most memory this process has held, in bytes; 0 where the system does not tell.
fn peak_memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|line| line.trim().trim_end_matches("kB").trim().parse::<u64>().ok());
    kilobytes.unwrap_or(0) * 1024
}
