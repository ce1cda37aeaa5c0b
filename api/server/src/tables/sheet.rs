//! Tables as CSV (RFC 4180): a header line that names the columns, in any order, and cells by column.
//!
//! Reading never stops at a bad cell: it is noted with its line, and the reading goes on, so that a caller
//! hears of everything at once.

use std::fmt::Display;
use std::str::FromStr;

use chrono::NaiveDate;
use csv::{ReaderBuilder, StringRecord, Terminator, WriterBuilder};
use storksbill_domain::day::{Day, Year};
use storksbill_domain::words::UnknownWord;

use crate::http::json::Findings;
use crate::http::patch::Patch;
use crate::http::problem::{Code, FieldError, MOST_FINDINGS, Problem, cut};
use crate::http::upload::{plain_cell, safe_cell};

/// Most lines of one table: one write holds all others up while it runs.
pub const MOST_LINES: usize = 50_000;

/// A table that was split into lines and cells.
#[derive(Debug)]
pub struct Sheet {
    columns: Vec<&'static str>,
    lines: Vec<(u64, StringRecord)>,
}

impl Sheet {
    /// Splits a table whose columns are among `known`. Empty lines are passed over.
    ///
    /// # Errors
    /// 400 `malformed-csv` for text that is not UTF-8, for lines of more cells than the table could have, and for
    /// a header with unknown or repeated columns; 413 for too many lines.
    pub fn read(bytes: &[u8], known: &[&'static str]) -> Result<Self, Problem> {
        let text = std::str::from_utf8(bytes).map_err(|error| {
            let before = bytes.iter().take(error.valid_up_to());
            let line = before.filter(|byte| **byte == b'\n').count() + 1;
            malformed(&format!("Line {line} is not UTF-8; save the table as CSV in UTF-8."))
        })?;
        // Before anything is kept of a line: a cell costs more to keep than to send.
        let most = 2 * known.len();
        if let Some(line) = line_of_too_many(bytes, most) {
            let words = format!(
                "Line {line} has more than {most} cells; this table has the columns: {}.",
                known.join(", ")
            );
            return Err(malformed(&words));
        }
        let mut reader = ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
        let mut columns = None;
        let mut lines = Vec::new();
        let mut counted = Lines { text, upto: 0, line: 1 };
        let mut record = StringRecord::new();
        while reader.read_record(&mut record).map_err(|error| malformed(&format!("{error}.")))? {
            let start = record.position().map_or(0, csv::Position::byte);
            let line = counted.at(start);
            if record.iter().all(|cell| cell.trim().is_empty()) {
                continue;
            }
            if columns.is_none() {
                columns = Some(header(&record, known)?);
                continue;
            }
            if lines.len() == MOST_LINES {
                let detail =
                    format!("At most {MOST_LINES} lines are taken at once; send the table in parts.");
                return Err(Problem::new(Code::BodyTooLarge, detail));
            }
            lines.push((line, record.clone()));
        }
        let columns = columns.ok_or_else(|| {
            malformed(&format!("The table is empty; its first line names the columns: {}.", known.join(", ")))
        })?;
        Ok(Self { columns, lines })
    }

    /// The lines after the header.
    pub fn lines(&self) -> impl Iterator<Item = Line<'_>> {
        self.lines.iter().map(|(number, cells)| {
            let mut line = Line { columns: &self.columns, number: *number, cells, faults: Faults::default() };
            if cells.len() != self.columns.len() {
                let detail = format!("has {}, the header names {}", cells.len(), self.columns.len());
                line.faults.add("cells", "wrong-count", detail);
            }
            line
        })
    }
}

/// Finds the line of an offset; the offsets only grow. A record's own line number is that of the end of the
/// record before it, which is wrong after empty lines.
struct Lines<'t> {
    text: &'t str,
    upto: usize,
    line: u64,
}

impl Lines<'_> {
    fn at(&mut self, start: u64) -> u64 {
        let bytes = self.text.as_bytes();
        let mut start = usize::try_from(start).unwrap_or(usize::MAX).min(bytes.len());
        while bytes.get(start).is_some_and(|byte| matches!(byte, b'\r' | b'\n')) {
            start += 1;
        }
        let passed = bytes.get(self.upto..start).unwrap_or_default();
        self.line += passed.iter().map(|byte| u64::from(*byte == b'\n')).sum::<u64>();
        self.upto = start;
        self.line
    }
}

/// The first line whose record has more than `most` cells (RFC 4180: quotes count at the start of a cell).
pub fn line_of_too_many(bytes: &[u8], most: usize) -> Option<u64> {
    #[derive(Clone, Copy, PartialEq)]
    enum At {
        Start,
        Plain,
        Quoted,
        Closed,
    }
    let (mut at, mut line, mut cells) = (At::Start, 1, 1);
    for byte in bytes {
        line += u64::from(*byte == b'\n');
        at = match (at, byte) {
            (At::Quoted, b'"') => At::Closed,
            (At::Start | At::Closed, b'"') | (At::Quoted, _) => At::Quoted,
            (_, b',') => {
                cells += 1;
                if cells > most {
                    return Some(line);
                }
                At::Start
            }
            (_, b'\n' | b'\r') => {
                cells = 1;
                At::Start
            }
            _ => At::Plain,
        };
    }
    None
}

fn malformed(detail: &str) -> Problem {
    Problem::new(Code::MalformedCsv, detail)
}

fn header(record: &StringRecord, known: &[&'static str]) -> Result<Vec<&'static str>, Problem> {
    let mut columns: Vec<&'static str> = Vec::new();
    let mut faults = Vec::new();
    for cell in record {
        let name = cell.trim().to_ascii_lowercase();
        match known.iter().find(|column| **column == name) {
            None => {
                let name = cut(cell.trim(), 60);
                faults.push(("unknown-column", format!("`{name}` is not a column of this table")));
            }
            Some(column) if columns.contains(column) => {
                faults.push(("duplicate-column", format!("`{name}` is named twice")));
            }
            Some(column) => columns.push(column),
        }
    }
    if faults.is_empty() {
        return Ok(columns);
    }
    let problem = malformed(&format!("The first line names the columns, from among: {}.", known.join(", ")));
    Err(faults.into_iter().fold(problem, |problem, (code, detail)| problem.at("line 1", code, detail)))
}

/// What is wrong with one line: at most one fault a column, the first that was found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Faults(Vec<FieldError>);

impl Faults {
    /// Notes one thing wrong with a column.
    pub fn add(&mut self, column: &str, code: &str, detail: impl Into<String>) {
        if self.is_clean(column) {
            self.0.push(FieldError::new(column, code, &detail.into()));
        }
    }

    /// Runs a check of a body's fields; a pointer `/label` is the column `label`.
    pub fn of(&mut self, check: impl FnOnce(&mut Findings)) {
        let mut found = Findings::default();
        check(&mut found);
        if let Err(problem) = found.into_result() {
            for error in problem.errors() {
                self.add(error.pointer.trim_start_matches('/'), &error.code, error.detail.clone());
            }
        }
    }

    /// Whether nothing is wrong with a column.
    pub fn is_clean(&self, column: &str) -> bool {
        !self.0.iter().any(|fault| fault.pointer == column)
    }

    /// Whether nothing is wrong.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

/// One line of a table.
#[derive(Debug)]
pub struct Line<'s> {
    columns: &'s [&'static str],
    /// Where in the file, from 1.
    pub number: u64,
    cells: &'s StringRecord,
    /// What was wrong with the cells read so far.
    pub faults: Faults,
}

impl Line<'_> {
    /// The text of a cell, as it was before it was made safe for spreadsheets: absent where the table has no
    /// such column or the line not as many cells as the header, null where the cell is blank.
    pub fn text(&self, column: &str) -> Patch<String> {
        if self.cells.len() != self.columns.len() {
            return Patch::Absent;
        }
        let Some(at) = self.columns.iter().position(|name| *name == column) else { return Patch::Absent };
        match self.cells.get(at).map(|cell| plain_cell(cell).trim()) {
            None => Patch::Absent,
            Some("") => Patch::Null,
            Some(text) => Patch::Value(text.to_owned()),
        }
    }

    fn parsed<T>(&mut self, column: &str, read: impl Fn(&str) -> Result<T, (&str, String)>) -> Patch<T> {
        match self.text(column) {
            Patch::Absent => Patch::Absent,
            Patch::Null => Patch::Null,
            Patch::Value(text) => match read(&text) {
                Ok(value) => Patch::Value(value),
                Err((code, detail)) => {
                    self.faults.add(column, code, detail);
                    Patch::Absent
                }
            },
        }
    }

    /// An id.
    pub fn id<T: FromStr<Err: Display>>(&mut self, column: &str) -> Patch<T> {
        self.parsed(column, |text| text.parse().map_err(|error: T::Err| ("invalid-value", error.to_string())))
    }

    /// A word of a vocabulary.
    pub fn word<T: FromStr<Err = UnknownWord>>(&mut self, column: &str) -> Patch<T> {
        self.parsed(column, |text| {
            text.parse().map_err(|error: UnknownWord| ("unknown-word", error.to_string()))
        })
    }

    /// A whole number.
    pub fn whole(&mut self, column: &str) -> Patch<i32> {
        self.parsed(column, |text| {
            let bad = |_error| ("wrong-type", format!("`{}` is not a whole number", cut(text, 60)));
            text.parse().map_err(bad)
        })
    }

    /// A number with a decimal point.
    pub fn number(&mut self, column: &str) -> Patch<f64> {
        self.parsed(column, |text| {
            text.parse()
                .ok()
                .filter(|number: &f64| number.is_finite())
                .ok_or_else(|| ("wrong-type", format!("`{}` is not a number such as 114.3", cut(text, 60))))
        })
    }

    /// Whether something is so.
    pub fn truth(&mut self, column: &str) -> Patch<bool> {
        self.parsed(column, |text| match text.to_ascii_lowercase().as_str() {
            "true" => Ok(true),
            "false" => Ok(false),
            _ => Err(("wrong-type", format!("`{}` is not true or false", cut(text, 60)))),
        })
    }

    /// A day.
    pub fn day(&mut self, column: &str) -> Patch<Day> {
        self.parsed(column, |text| {
            let day = NaiveDate::parse_from_str(text, "%Y-%m-%d").map_err(|_error| {
                ("invalid-value", format!("`{}` is not a day such as 2026-06-13", cut(text, 60)))
            })?;
            Day::try_from(day).map_err(|beyond| ("out-of-range", format!("`{text}` {beyond}")))
        })
    }

    /// A year.
    pub fn year(&mut self, column: &str) -> Patch<Year> {
        let year = self.whole(column).map(Year::try_from);
        match year {
            Patch::Value(Err(beyond)) => {
                self.faults.add(column, "out-of-range", beyond.to_string());
                Patch::Absent
            }
            Patch::Value(Ok(year)) => Patch::Value(year),
            Patch::Null => Patch::Null,
            Patch::Absent => Patch::Absent,
        }
    }

    /// Notes where a new record lacks one of these columns. A line that could not be split has its fault.
    pub fn require(&mut self, columns: &[&'static str]) {
        if self.cells.len() != self.columns.len() {
            return;
        }
        for column in columns {
            // A cell that could not be read has its fault already, which stands.
            if !matches!(self.text(column), Patch::Value(_)) {
                self.faults.add(column, "required", "must have a value");
            }
        }
    }
}

/// The faults of all lines as one refusal: all that are wrong at once, the first [`MOST_FINDINGS`] named.
///
/// # Errors
/// 422 `invalid-fields` where any line has a fault.
pub fn refuse<'f>(lines: impl Iterator<Item = (u64, &'f Faults)>) -> Result<(), Problem> {
    let (mut bad_lines, mut all, mut named) = (0_usize, 0_usize, Vec::new());
    for (number, faults) in lines.filter(|(_, faults)| !faults.is_empty()) {
        bad_lines += 1;
        all += faults.0.len();
        for fault in faults.0.iter().take(MOST_FINDINGS - named.len()) {
            named.push((number, fault));
        }
    }
    if all == 0 {
        return Ok(());
    }
    let unnamed = all - named.len();
    let detail = format!("{all} things need correcting on {bad_lines} lines; nothing was written.");
    let problem =
        named.into_iter().fold(Problem::new(Code::InvalidFields, detail), |problem, (number, fault)| {
            problem.at(&format!("line {number}"), &fault.code, format!("{}: {}", fault.pointer, fault.detail))
        });
    Err(problem.and_more(unnamed))
}

/// Writes a table with CRLF line ends; cells that a spreadsheet would run as a formula are made safe.
///
/// # Errors
/// 500, which memory alone can cause.
pub fn write<const N: usize>(
    columns: &[&str; N],
    lines: impl Iterator<Item = [String; N]>,
) -> Result<Vec<u8>, Problem> {
    let failed =
        |error: &dyn Display| Problem::new(Code::Internal, format!("The table cannot be written: {error}."));
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(columns).map_err(|error| failed(&error))?;
    for line in lines {
        writer.write_record(line.iter().map(|cell| safe_cell(cell))).map_err(|error| failed(&error))?;
    }
    writer.into_inner().map_err(|error| failed(&error))
}

/// A cell of what may be missing.
pub fn cell(value: Option<impl Display>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use storksbill_domain::words::Environment;

    use super::*;

    const KNOWN: &[&str] = &["label", "how_many", "environment", "got_on"];

    fn sheet(text: &str) -> Sheet {
        Sheet::read(text.as_bytes(), KNOWN).unwrap()
    }

    /// RFC 4180 (2005), section 2: line breaks, commas and doubled quotes within quotes.
    #[test]
    fn quoted_cells_are_read_as_the_standard_writes_them() {
        let sheet = sheet("label,how_many\r\n\"a\r\nb, \"\"c\"\"\",3\r\nd,4\r\n");
        let read: Vec<_> = sheet.lines().map(|line| (line.number, line.text("label"))).collect();
        assert_eq!(read, [(2, Patch::Value("a\r\nb, \"c\"".to_owned())), (4, Patch::Value("d".to_owned()))]);
    }

    #[test]
    fn lines_are_counted_as_an_editor_counts_them() {
        let sheet = sheet("how_many,label\n\n1,a\n,\n\n2,b\r\n\r\n3,c");
        let numbers: Vec<_> = sheet.lines().map(|line| line.number).collect();
        assert_eq!(numbers, [3, 6, 8]);
    }

    #[test]
    fn a_column_that_is_not_there_and_a_blank_cell_are_told_apart() {
        let sheet = sheet(" Label ,HOW_MANY\nbench 3,\n");
        let mut line = sheet.lines().next().unwrap();
        assert_eq!(line.text("label"), Patch::Value("bench 3".to_owned()));
        assert_eq!(line.whole("how_many"), Patch::Null);
        assert_eq!(line.word::<Environment>("environment"), Patch::Absent);
        assert!(line.faults.is_empty());
    }

    #[test]
    fn every_bad_cell_is_named_with_its_line() {
        let sheet = sheet("label,how_many,environment,got_on\n'=1+1,three,attic,1/2/26\na,b\n");
        let faults: Vec<_> = sheet
            .lines()
            .map(|mut line| {
                assert_ne!(line.text("label"), Patch::Value("'=1+1".to_owned()));
                line.whole("how_many");
                line.word::<Environment>("environment");
                line.day("got_on");
                line.require(&["how_many", "label"]);
                (line.number, line.faults)
            })
            .collect();
        let problem = refuse(faults.iter().map(|(line, faults)| (*line, faults))).unwrap_err();
        let named: Vec<_> = problem.errors().iter().map(|e| (e.pointer.as_str(), e.code.as_str())).collect();
        assert_eq!(
            named,
            [
                ("line 2", "wrong-type"),
                ("line 2", "unknown-word"),
                ("line 2", "invalid-value"),
                ("line 3", "wrong-count"),
            ]
        );
        assert!(problem.errors().iter().any(|e| e.detail.starts_with("environment: `attic`")));
    }

    #[test]
    fn fifty_findings_are_named_and_all_are_counted() {
        let mut faults = Faults::default();
        faults.add("label", "too-long", "x");
        faults.add("how_many", "wrong-type", "x");
        let problem = refuse((2..802).map(|line| (line, &faults))).unwrap_err();
        assert_eq!(problem.errors().len(), MOST_FINDINGS);
        assert!(problem.to_string().contains("1600 things need correcting on 800 lines"), "{problem}");
        assert!(refuse([(2, &Faults::default())].into_iter()).is_ok());
    }

    #[test]
    fn a_line_of_more_cells_than_there_are_columns_is_refused_before_it_is_kept() {
        for (text, line) in [
            (",".repeat(3_000_000), 1),
            (format!("label\n{}\n", "x,".repeat(9)), 2),
            (format!("label\n\"a\nb\",\"c\"\"\n,,,,,,,,,\"{}", ",".repeat(9)), 4),
        ] {
            let problem = Sheet::read(text.as_bytes(), KNOWN).unwrap_err();
            assert!(problem.detail().starts_with(&format!("Line {line} has more than 8 cells")), "{problem}");
            assert!(problem.errors().is_empty());
        }
        // An inch sign within a cell opens no quotes, and commas within quotes are no cells.
        let sheet = sheet("label,how_many\n5\" pot,1\n\"a,b,c,d,e,f,g,h,i,j\",2\n");
        assert_eq!(sheet.lines().count(), 2);
    }

    #[test]
    fn a_strange_header_names_every_strange_column() {
        let problem = Sheet::read(b"label,colour,label\n", KNOWN).unwrap_err();
        let codes: Vec<_> = problem.errors().iter().map(|e| e.code.as_str()).collect();
        assert_eq!((problem.code, codes), (Code::MalformedCsv, vec!["unknown-column", "duplicate-column"]));
        for bytes in [&b""[..], b"\n\n", b"label\n\xff\xfe\n"] {
            assert_eq!(Sheet::read(bytes, KNOWN).unwrap_err().code, Code::MalformedCsv);
        }
    }

    #[test]
    fn what_is_written_is_read_back_and_runs_nowhere() {
        let texts = ["=cmd()", "'quoted", "+1", "two\nlines", "a \"b\", c", "Mère"];
        let bytes = write(&["label"], texts.iter().map(|text| [(*text).to_owned()])).unwrap();
        let text = String::from_utf8(bytes.clone()).unwrap();
        assert!(text.starts_with("label\r\n'=cmd()\r\n''quoted\r\n'+1\r\n\"two\nlines\"\r\n"), "{text}");
        let sheet = Sheet::read(&bytes, KNOWN).unwrap();
        let back: Vec<_> = sheet.lines().map(|line| line.text("label")).collect();
        assert_eq!(back, texts.map(|text| Patch::Value(text.to_owned())));
    }
}
