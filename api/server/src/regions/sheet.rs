//! A table of days, read: pure, row by row, in one pass.
//!
//! Every cell is a date or a number, so a CSV line is a row and no cell holds a comma or a line break. The
//! faults of a row are all found; the good rows are kept whatever the others are.

use std::collections::{BTreeSet, HashMap};
use std::fmt::Write;

use chrono::{NaiveDate, TimeDelta};
use serde::Deserialize;
use serde::de::{Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};
use storksbill_db::rows::places::Reading;
use storksbill_domain::ids::StationId;
use storksbill_domain::words::WeatherFormat;
use storksbill_forecast::calendar;
use storksbill_forecast::ghcn::{self, LineReason};

use super::dto::ReadingRow;
use crate::http::problem::{Code, FieldError, Problem, cut};
use crate::tables::sheet::line_of_too_many;

/// Most faults that are listed one by one.
pub(super) const LISTED: usize = 1000;

/// The columns a station's table may have, in the order they are written.
pub(super) const OUTSIDE: &[&str] = &COLUMNS;
/// The columns that a house's table has.
pub(super) const INSIDE: &[&str] = &["day", "min_c", "max_c"];
/// The columns of any table; each table has the first of them.
const COLUMNS: [&str; 5] = ["day", "min_c", "max_c", "rain_mm", "humidity_pct"];
/// The first of them cannot be left out.
const REQUIRED: usize = 3;
/// Lowest and highest of each column of numbers; the schema has the same.
const LIMITS: [(f64, f64); 4] = [(-60.0, 60.0), (-60.0, 60.0), (0.0, 2000.0), (0.0, 100.0)];
/// No thermometer record is older: an earlier year is a slip of the pen.
const OLDEST_YEAR: i32 = 1650;

/// What a table came to.
#[derive(Debug, Default)]
pub(super) struct Sheet {
    /// The days that can be written.
    pub(super) good: Vec<ReadingRow>,
    /// How many rows have a fault.
    pub(super) bad_rows: usize,
    /// The first [`LISTED`] faults, in the order of the rows.
    pub(super) faults: Vec<FieldError>,
    /// How many faults there are beyond those.
    pub(super) unlisted: usize,
    /// Days of which the file has one extreme alone: no fault of the file, and nothing to write.
    pub(super) gaps: usize,
}

impl Sheet {
    /// The good rows as a station's.
    pub(super) fn readings(&self, station_id: StationId) -> Vec<Reading> {
        let reading = |row: &ReadingRow| Reading {
            station_id,
            day: row.day,
            min_c: row.min_c,
            max_c: row.max_c,
            rain_mm: row.rain_mm,
            humidity_pct: row.humidity_pct,
        };
        self.good.iter().map(reading).collect()
    }

    /// The first good day.
    pub(super) fn first_day(&self) -> Option<NaiveDate> {
        self.good.iter().map(|row| row.day).min()
    }

    /// The last good day.
    pub(super) fn last_day(&self) -> Option<NaiveDate> {
        self.good.iter().map(|row| row.day).max()
    }

    /// Adds the rows of another; of a day that both have, the other's are written last.
    pub(super) fn join(&mut self, other: Self) {
        self.good.extend(other.good);
        self.bad_rows += other.bad_rows;
        self.faults.extend(other.faults);
        self.unlisted += other.unlisted;
        self.gaps += other.gaps;
    }

    /// The refusal of a table with bad rows, each named.
    pub(super) fn refusal(&self) -> Problem {
        let rows = self.bad_rows + self.good.len();
        let detail = format!(
            "{} of {rows} rows need correcting; nothing was written. Send skip_bad=true to write the others.",
            self.bad_rows
        );
        let problem = Problem::new(Code::InvalidFields, detail);
        self.faults
            .iter()
            .fold(problem, |problem, fault| problem.at(&fault.pointer, &fault.code, fault.detail.clone()))
            .and_more(self.unlisted)
    }
}

/// Reads a table of days with the columns `known`, [`OUTSIDE`] or [`INSIDE`]; a day may be one ahead of `today`, since zones differ.
///
/// # Errors
/// 400 where it is no table at all: not UTF-8, a wrong header line, not a JSON array. 422 where a climate
/// network's file is of several stations.
pub(super) fn read(
    known: &'static [&'static str],
    format: WeatherFormat,
    bytes: &[u8],
    today: NaiveDate,
) -> Result<Sheet, Problem> {
    let reader = Reader {
        known,
        format,
        newest: today + TimeDelta::days(1),
        seen: HashMap::new(),
        sheet: Sheet::default(),
    };
    match format {
        WeatherFormat::Csv => reader.csv(bytes),
        WeatherFormat::GhcnDaily => reader.ghcn_daily(bytes),
        WeatherFormat::Json => {
            let mut json = serde_json::Deserializer::from_slice(bytes);
            let read = json.deserialize_seq(reader).and_then(|sheet| json.end().map(|()| sheet));
            read.map_err(|error| {
                Problem::new(Code::MalformedJson, format!("The body is not a JSON array of rows: {error}."))
            })
        }
    }
}

/// A cell as it was sent.
#[derive(Debug, Clone, Copy)]
enum Cell<'a> {
    Empty,
    Text(&'a str),
    Number(f64),
    /// JSON of a type that the column does not have.
    Other,
}

/// What is wrong with a cell: a stable word and what to do.
type Fault = (&'static str, String);

struct Reader {
    known: &'static [&'static str],
    format: WeatherFormat,
    newest: NaiveDate,
    /// The row that has a day first.
    seen: HashMap<NaiveDate, usize>,
    sheet: Sheet,
}

impl Reader {
    fn csv(mut self, bytes: &[u8]) -> Result<Sheet, Problem> {
        let text = std::str::from_utf8(bytes).map_err(|_other_encoding| {
            Problem::new(Code::MalformedCsv, "The table is not UTF-8 text; save it as CSV UTF-8.")
        })?;
        // The mark that some programs put before UTF-8.
        let text = text.trim_start_matches('\u{feff}');
        // Before anything is noted of a line.
        let most = 2 * COLUMNS.len();
        if let Some(line) = line_of_too_many(bytes, most) {
            let words = format!("Line {line} has more than {most} cells; a table has {}.", self.known());
            return Err(Problem::new(Code::MalformedCsv, words));
        }
        let mut lines = (1..).zip(text.lines()).filter(|(_, line)| cells(line).any(|cell| !cell.is_empty()));
        let (number, header) = lines.next().ok_or_else(|| {
            Problem::new(Code::MalformedCsv, format!("The table is empty; it starts with {}.", self.known()))
        })?;
        let columns = self.columns(number, header)?;
        for (number, line) in lines {
            let mut row = [Cell::Empty; COLUMNS.len()];
            let mut count = 0;
            for cell in cells(line) {
                if let Some(place) = columns.get(count).and_then(|column| row.get_mut(*column))
                    && !cell.is_empty()
                {
                    *place = Cell::Text(cell);
                }
                count += 1;
            }
            if count > columns.len() {
                let words = format!("has {count} cells, the header line {}", columns.len());
                self.fault_of(number, &mut vec![("too-many-cells", words)]);
            } else {
                self.row(number, row, Vec::new());
            }
        }
        Ok(self.sheet)
    }

    /// A file of the climate network: fixed columns, a line for a month of one element.
    fn ghcn_daily(mut self, bytes: &[u8]) -> Result<Sheet, Problem> {
        let (readings, errors) = ghcn::parse(bytes);
        let stations: BTreeSet<&str> = readings.iter().map(|reading| reading.station.as_str()).collect();
        if stations.len() > 1 {
            let names = stations.into_iter().take(5).collect::<Vec<_>>().join(", ");
            let words = format!("holds several stations ({names}); send one station's file");
            return Err(Problem::field("", "several-stations", words));
        }
        for error in errors {
            let code = match error.reason {
                LineReason::NoMaximum { .. } | LineReason::NoMinimum { .. } => {
                    self.sheet.gaps += 1;
                    continue;
                }
                LineReason::NotAscii | LineReason::BadHead => "unreadable",
                LineReason::BadValue { .. } => "not-a-number",
                LineReason::NoSuchDay { .. } => "bad-date",
                LineReason::Impossible { .. } | LineReason::NegativeRain { .. } => "out-of-range",
                LineReason::Repeated => "duplicate-month",
                LineReason::Inverted { .. } => "min-above-max",
            };
            self.fault_of(error.line, &mut vec![(code, error.reason.to_string())]);
        }
        let lines = lines_of_minima(bytes);
        for reading in readings {
            let date = calendar::date(reading.day);
            let text = format!("{:04}-{:02}-{:02}", date.year, date.month, date.day);
            let line = text.get(..7).and_then(|month| lines.get(&month.replace('-', ""))).copied();
            let rain = reading.rain_mm.map_or(Cell::Empty, Cell::Number);
            let (min, max) = (Cell::Number(reading.min_c), Cell::Number(reading.max_c));
            self.row(line.unwrap_or_default(), [Cell::Text(&text), min, max, rain, Cell::Empty], Vec::new());
        }
        Ok(self.sheet)
    }

    fn json_row(&mut self, number: usize, sent: &RowSent) {
        let RowSent::Fields(fields) = sent else {
            let words = match sent {
                RowSent::TooMany => format!("has more than {MOST_FIELDS} fields; a row has {}", self.known()),
                _ => format!("must be an object with the fields {}", self.known()),
            };
            self.fault_of(number, &mut vec![("wrong-type", words)]);
            return;
        };
        let mut row = [Cell::Empty; COLUMNS.len()];
        let mut faults = Vec::new();
        for (name, value) in fields {
            let column = self.known.iter().position(|known| known == name);
            let Some((place, column)) = column.and_then(|c| Some((row.get_mut(c)?, c))) else {
                faults.push(("unknown-field", format!("{name} is not one of {}", self.known())));
                continue;
            };
            *place = match value {
                CellSent::Null => Cell::Empty,
                CellSent::Text(text) if column == 0 => Cell::Text(text),
                CellSent::Number(number) if column > 0 => Cell::Number(*number),
                _ => Cell::Other,
            };
        }
        self.row(number, row, faults);
    }

    fn row(&mut self, number: usize, row: [Cell<'_>; COLUMNS.len()], mut faults: Vec<Fault>) {
        let [day, min, max, rain, humidity] = row;
        let day = self.day(number, day, &mut faults);
        let min_c = amount(1, min, &mut faults);
        let max_c = amount(2, max, &mut faults);
        let rain_mm = amount(3, rain, &mut faults);
        let humidity_pct = amount(4, humidity, &mut faults);
        if let (Some(min), Some(max)) = (min_c, max_c)
            && min > max
        {
            faults.push(("min-above-max", format!("min_c {min} is above max_c {max}")));
        }
        match (day, min_c, max_c) {
            (Some(day), Some(min_c), Some(max_c)) if faults.is_empty() => {
                self.sheet.good.push(ReadingRow { day, min_c, max_c, rain_mm, humidity_pct });
            }
            _ => self.fault_of(number, &mut faults),
        }
    }

    fn day(&mut self, number: usize, cell: Cell<'_>, faults: &mut Vec<Fault>) -> Option<NaiveDate> {
        let day = match cell {
            Cell::Empty => {
                faults.push(("required", "day is required".to_owned()));
                return None;
            }
            Cell::Text(text) => date(text),
            Cell::Number(_) | Cell::Other => None,
        };
        let Some(day) = day else {
            faults.push(("bad-date", format!("day{} is not a date such as 2026-05-31", shown(cell))));
            return None;
        };
        if day > self.newest {
            faults.push((
                "in-the-future",
                format!("day {day} has not come; the newest taken is {}", self.newest),
            ));
        } else if chrono::Datelike::year(&day) < OLDEST_YEAR {
            faults.push(("out-of-range", format!("day {day} is before {OLDEST_YEAR}")));
        }
        if let Some(first) = self.seen.get(&day) {
            faults.push(("duplicate-day", format!("{} has the day {day} already", self.pointer(*first))));
        } else {
            self.seen.insert(day, number);
        }
        Some(day)
    }

    fn fault_of(&mut self, number: usize, faults: &mut Vec<Fault>) {
        self.sheet.bad_rows += 1;
        for (code, detail) in faults.drain(..) {
            if self.sheet.faults.len() < LISTED {
                let pointer = self.pointer(number);
                self.sheet.faults.push(FieldError::new(&pointer, code, &detail));
            } else {
                self.sheet.unlisted += 1;
            }
        }
    }

    fn pointer(&self, number: usize) -> String {
        match self.format {
            WeatherFormat::Csv | WeatherFormat::GhcnDaily => format!("line {number}"),
            WeatherFormat::Json => format!("/{number}"),
        }
    }
}

impl Reader {
    /// For each column of the header line its place among those known.
    fn columns(&self, number: usize, header: &str) -> Result<Vec<usize>, Problem> {
        let mut faults: Vec<Fault> = Vec::new();
        let mut columns = Vec::new();
        for name in cells(header) {
            match self.known.iter().position(|column| column.eq_ignore_ascii_case(name)) {
                None => faults
                    .push(("unknown-column", format!("`{}` is not one of {}", cut(name, 60), self.known()))),
                Some(column) if columns.contains(&column) => {
                    faults.push(("duplicate-column", format!("`{name}` stands twice")));
                }
                Some(column) => columns.push(column),
            }
        }
        for (column, name) in COLUMNS.iter().enumerate().take(REQUIRED) {
            if !columns.contains(&column) {
                faults.push(("missing-column", format!("`{name}` is missing")));
            }
        }
        if faults.is_empty() {
            return Ok(columns);
        }
        let optional = self.known.get(REQUIRED..).unwrap_or_default().join(", ");
        let may = if optional.is_empty() { String::new() } else { format!(" ({optional} may be left out)") };
        let detail = format!(
            "The first line names the columns, separated by commas, in any order: {}{may}.",
            self.known()
        );
        let problem = Problem::new(Code::MalformedCsv, detail);
        let pointer = format!("line {number}");
        Err(faults.into_iter().fold(problem, |problem, (code, detail)| problem.at(&pointer, code, detail)))
    }

    fn known(&self) -> String {
        self.known.join(",")
    }
}

/// Takes the rows of a JSON array one by one, so that only the good ones are ever held.
impl<'de> Visitor<'de> for Reader {
    type Value = Sheet;

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("an array of rows")
    }

    fn visit_seq<A: SeqAccess<'de>>(mut self, mut rows: A) -> Result<Sheet, A::Error> {
        let mut number = 0;
        while let Some(row) = rows.next_element::<RowSent>()? {
            self.json_row(number, &row);
            number += 1;
        }
        Ok(self.sheet)
    }
}

/// Most fields of a row that are looked at.
const MOST_FIELDS: usize = 2 * COLUMNS.len();

/// A row of JSON as it was sent, so far as it can be one: what no row has is read over and not kept, since
/// JSON costs many times more to keep than to send.
enum RowSent {
    Fields(Vec<(String, CellSent)>),
    TooMany,
    Other,
}

enum CellSent {
    Null,
    Text(String),
    Number(f64),
    Other,
}

impl<'de> Deserialize<'de> for RowSent {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Visit;
        impl<'de> Visitor<'de> for Visit {
            type Value = RowSent;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a row")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<RowSent, A::Error> {
                let mut fields: Vec<(String, CellSent)> = Vec::new();
                let mut more = false;
                while let Some(name) = map.next_key::<String>()? {
                    if fields.len() == MOST_FIELDS {
                        more = true;
                        map.next_value::<IgnoredAny>()?;
                    } else {
                        fields.push((cut(&name, 60), map.next_value()?));
                    }
                }
                Ok(if more { RowSent::TooMany } else { RowSent::Fields(fields) })
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<RowSent, A::Error> {
                while seq.next_element::<IgnoredAny>()?.is_some() {}
                Ok(RowSent::Other)
            }
            fn visit_unit<E>(self) -> Result<RowSent, E> {
                Ok(RowSent::Other)
            }
            fn visit_bool<E>(self, _: bool) -> Result<RowSent, E> {
                Ok(RowSent::Other)
            }
            fn visit_i64<E>(self, _: i64) -> Result<RowSent, E> {
                Ok(RowSent::Other)
            }
            fn visit_u64<E>(self, _: u64) -> Result<RowSent, E> {
                Ok(RowSent::Other)
            }
            fn visit_f64<E>(self, _: f64) -> Result<RowSent, E> {
                Ok(RowSent::Other)
            }
            fn visit_str<E>(self, _: &str) -> Result<RowSent, E> {
                Ok(RowSent::Other)
            }
        }
        from.deserialize_any(Visit)
    }
}

impl<'de> Deserialize<'de> for CellSent {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Visit;
        impl<'de> Visitor<'de> for Visit {
            type Value = CellSent;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a cell")
            }
            fn visit_unit<E>(self) -> Result<CellSent, E> {
                Ok(CellSent::Null)
            }
            fn visit_bool<E>(self, _: bool) -> Result<CellSent, E> {
                Ok(CellSent::Other)
            }
            fn visit_i64<E>(self, number: i64) -> Result<CellSent, E> {
                Ok(CellSent::Number(number as f64))
            }
            fn visit_u64<E>(self, number: u64) -> Result<CellSent, E> {
                Ok(CellSent::Number(number as f64))
            }
            fn visit_f64<E>(self, number: f64) -> Result<CellSent, E> {
                Ok(CellSent::Number(number))
            }
            fn visit_str<E>(self, text: &str) -> Result<CellSent, E> {
                Ok(CellSent::Text(cut(text, 40)))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<CellSent, A::Error> {
                while seq.next_element::<IgnoredAny>()?.is_some() {}
                Ok(CellSent::Other)
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<CellSent, A::Error> {
                while map.next_entry::<IgnoredAny, IgnoredAny>()?.is_some() {}
                Ok(CellSent::Other)
            }
        }
        from.deserialize_any(Visit)
    }
}

/// The line of each month's minima, by year and month as the file writes them.
fn lines_of_minima(bytes: &[u8]) -> HashMap<String, usize> {
    let mut lines = HashMap::new();
    for (number, line) in (1..).zip(bytes.split(|byte| *byte == b'\n')) {
        if line.get(17..21) == Some(b"TMIN")
            && let Some(Ok(month)) = line.get(11..17).map(std::str::from_utf8)
        {
            lines.entry(month.to_owned()).or_insert(number);
        }
    }
    lines
}

fn cells(line: &str) -> impl Iterator<Item = &str> {
    line.split(',').map(|cell| {
        let cell = cell.trim();
        let inner = cell.strip_prefix('"').and_then(|cell| cell.strip_suffix('"'));
        inner.unwrap_or(cell).trim()
    })
}

/// A date in the one form of RFC 3339, `2026-05-31`.
fn date(text: &str) -> Option<NaiveDate> {
    let shape = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    if shape { text.parse().ok() } else { None }
}

fn amount(column: usize, cell: Cell<'_>, faults: &mut Vec<Fault>) -> Option<f64> {
    let name = COLUMNS.get(column).copied().unwrap_or_default();
    let number = match cell {
        Cell::Empty => {
            if column < REQUIRED {
                faults.push(("required", format!("{name} is required")));
            }
            return None;
        }
        Cell::Number(number) => Some(number),
        Cell::Text(text) => text.parse().ok(),
        Cell::Other => None,
    };
    let Some(number) = number else {
        faults.push(("not-a-number", format!("{name}{} is not a number such as -3.5", shown(cell))));
        return None;
    };
    let (least, most) = LIMITS.get(column - 1).copied().unwrap_or_default();
    // Written so that a float that is no number fails too.
    if !(number >= least && number <= most) {
        faults.push(("out-of-range", format!("{name} {number} must be from {least} to {most}")));
        return None;
    }
    Some(number)
}

/// A cell in a message, cut short.
fn shown(cell: Cell<'_>) -> String {
    let mut text = String::new();
    match cell {
        Cell::Text(cell) => {
            text.push_str(" `");
            text.extend(cell.chars().take(30));
            text.push('`');
        }
        Cell::Number(number) => {
            // Writing to a string cannot fail.
            let _ = write!(text, " {number}");
        }
        Cell::Empty | Cell::Other => {}
    }
    text
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

    use super::*;

    fn sheet(format: WeatherFormat, text: &str) -> Result<Sheet, Problem> {
        let today = NaiveDate::from_ymd_opt(2026, 5, 10).unwrap();
        read(OUTSIDE, format, text.as_bytes(), today)
    }

    fn csv(text: &str) -> Sheet {
        sheet(WeatherFormat::Csv, text).unwrap()
    }

    fn faults(sheet: &Sheet) -> Vec<String> {
        sheet.faults.iter().map(|fault| format!("{} {}", fault.pointer, fault.code)).collect()
    }

    fn days(sheet: &Sheet) -> Vec<String> {
        let day = |r: &ReadingRow| {
            format!("{} {} {} {:?} {:?}", r.day, r.min_c, r.max_c, r.rain_mm, r.humidity_pct)
        };
        sheet.good.iter().map(day).collect()
    }

    #[test]
    fn columns_may_stand_in_any_order_and_the_last_two_be_left_out() {
        let plain = csv("day,min_c,max_c\n2026-05-01,-1.5,12\n");
        assert_eq!(days(&plain), ["2026-05-01 -1.5 12 None None"]);
        let mixed = csv(
            "Rain_mm, max_c ,day,min_c,humidity_pct\r\n0.2,12,2026-05-01,-1.5,\r\n,13,\"2026-05-02\",0,88\r\n",
        );
        let expected = ["2026-05-01 -1.5 12 Some(0.2) None", "2026-05-02 0 13 None Some(88.0)"];
        assert_eq!(days(&mixed), expected);
        assert!(mixed.faults.is_empty() && plain.faults.is_empty());
    }

    #[test]
    fn json_reads_as_csv_does() {
        let json = sheet(
            WeatherFormat::Json,
            r#"[{"day":"2026-05-01","min_c":-1.5,"max_c":12,"rain_mm":0.2},
                {"max_c":13,"min_c":0,"day":"2026-05-02","humidity_pct":88,"rain_mm":null}]"#,
        )
        .unwrap();
        let csv = csv("day,min_c,max_c,rain_mm,humidity_pct\n2026-05-01,-1.5,12,.2,\n2026-05-02,0,13,,88");
        assert_eq!(days(&json), days(&csv));
        assert_eq!(json.good.len(), 2);
    }

    /// (row, faults): every rule, at its border on both sides.
    #[test]
    fn each_rule_is_told_by_its_own_word() {
        let rows: [(&str, &[&str]); 26] = [
            ("2026-05-01,1,2,,", &[]),
            ("2026-05-11,1,2,,", &[]),
            ("2026-05-12,1,2,,", &["in-the-future"]),
            ("1650-01-01,1,2,,", &[]),
            ("1649-12-31,1,2,,", &["out-of-range"]),
            ("2026-02-29,1,2,,", &["bad-date"]),
            ("2024-02-29,1,2,,", &[]),
            ("1.5.2026,1,2,,", &["bad-date"]),
            ("2026-5-1,1,2,,", &["bad-date"]),
            ("+026-05-1,1,2,,", &["bad-date"]),
            (",1,2,,", &["required"]),
            ("2026-05-01,2,2,,", &[]),
            ("2026-05-01,2.1,2,,", &["min-above-max"]),
            ("2026-05-01,-60,60,,", &[]),
            ("2026-05-01,-60.1,60,,", &["out-of-range"]),
            ("2026-05-01,-60,60.1,,", &["out-of-range"]),
            ("2026-05-01,,,,", &["required", "required"]),
            ("2026-05-01,mild,2,,", &["not-a-number"]),
            ("2026-05-01,NaN,inf,,", &["out-of-range", "out-of-range"]),
            ("2026-05-01,1,2,0,0", &[]),
            ("2026-05-01,1,2,2000,100", &[]),
            ("2026-05-01,1,2,-0.1,-0.1", &["out-of-range", "out-of-range"]),
            ("2026-05-01,1,2,2000.1,100.1", &["out-of-range", "out-of-range"]),
            ("2026-05-01,1,2", &[]),
            ("2026-05-01,1,2,,,7", &["too-many-cells"]),
            ("soon,9,8,-1,x", &["bad-date", "out-of-range", "not-a-number", "min-above-max"]),
        ];
        for (row, expected) in rows {
            let sheet = csv(&format!("day,min_c,max_c,rain_mm,humidity_pct\n{row}\n"));
            let found: Vec<&str> = sheet.faults.iter().map(|fault| fault.code.as_str()).collect();
            assert_eq!(found, expected, "{row}");
            assert_eq!(sheet.good.len(), usize::from(expected.is_empty()), "{row}");
            assert_eq!(sheet.bad_rows, usize::from(!expected.is_empty()), "{row}");
            assert!(sheet.faults.iter().all(|fault| fault.pointer == "line 2"), "{row}");
        }
    }

    #[test]
    fn lines_are_counted_as_an_editor_counts_them() {
        let text = "\n\nday,min_c,max_c\n2026-05-01,1,2\n\n,,\n2026-05-02,3,2\n2026-05-01,1,2\n";
        for text in [text.to_owned(), text.replace('\n', "\r\n")] {
            let sheet = csv(&text);
            assert_eq!(faults(&sheet), ["line 7 min-above-max", "line 8 duplicate-day"]);
            assert_eq!(sheet.faults[1].detail, "line 4 has the day 2026-05-01 already");
        }
    }

    #[test]
    fn rows_of_json_are_named_by_pointer() {
        let sheet = sheet(
            WeatherFormat::Json,
            r#"[{"day":"2026-05-01","min_c":1,"max_c":2}, 7, {"day":"2026-05-01","min_c":"1","max_c":2},
                {"day":20260503,"min_c":1,"max_c":2,"wind":3}]"#,
        )
        .unwrap();
        assert_eq!(
            faults(&sheet),
            ["/1 wrong-type", "/2 duplicate-day", "/2 not-a-number", "/3 unknown-field", "/3 bad-date"]
        );
        assert_eq!((sheet.good.len(), sheet.bad_rows), (1, 3));
    }

    #[test]
    fn a_wrong_header_is_told_in_full_with_the_columns_there_are() {
        let problem = sheet(WeatherFormat::Csv, "day,low,max_c,max_c\n2026-05-01,1,2,3\n").unwrap_err();
        assert_eq!(problem.code, Code::MalformedCsv);
        let found: Vec<&str> = problem.errors().iter().map(|e| e.code.as_str()).collect();
        assert_eq!(found, ["unknown-column", "duplicate-column", "missing-column"]);
        assert!(problem.errors()[0].detail.contains("day,min_c,max_c,rain_mm,humidity_pct"));
    }

    #[test]
    fn what_is_no_table_is_refused_whole() {
        for text in ["", "\n,,\n", "day;min_c;max_c\n"] {
            assert_eq!(sheet(WeatherFormat::Csv, text).unwrap_err().code, Code::MalformedCsv, "{text}");
        }
        for text in ["", "{}", "[{\"day\":\"2026-05-01\"", "[] []", "7"] {
            assert_eq!(sheet(WeatherFormat::Json, text).unwrap_err().code, Code::MalformedJson, "{text}");
        }
        let latin = read(OUTSIDE, WeatherFormat::Csv, b"day,min_c,max_c\n\xE9", NaiveDate::MIN);
        assert_eq!(latin.unwrap_err().code, Code::MalformedCsv);
    }

    /// A month's line of the climate network: its values in tenths from the first day on.
    fn month(of: &str, element: &str, values: &[i32]) -> String {
        let mut line = format!("MRW00000001{of}{element}");
        for day in 0..31 {
            // Writing to a string cannot fail.
            let _ = write!(line, "{:>5}   ", values.get(day).copied().unwrap_or(-9999));
        }
        line + "\n"
    }

    #[test]
    fn a_file_of_the_climate_network_reads_as_a_table_does() {
        let text = month("202604", "TMAX", &[120, 131, -9999, 90])
            + &month("202604", "TMIN", &[-15, 0, 20, 95])
            + &month("202604", "PRCP", &[2, -9999])
            + &month("202605", "TMIN", &[601])
            + &month("202605", "TMAX", &[0; 20])
            + &month("164912", "TMIN", &[0])
            + &month("164912", "TMAX", &[10]);
        let file = sheet(WeatherFormat::GhcnDaily, &text).unwrap();
        assert_eq!(days(&file), ["2026-04-01 -1.5 12 Some(0.2) None", "2026-04-02 0 13.1 None None"]);
        // The third has a lowest alone, and so the days of May whose line of lowest ones is refused.
        assert_eq!((file.gaps, file.bad_rows), (21, 3));
        assert_eq!(faults(&file), ["line 2 min-above-max", "line 4 out-of-range", "line 6 out-of-range"]);
    }

    #[test]
    fn a_file_of_two_stations_of_the_climate_network_is_refused() {
        let one = month("202604", "TMAX", &[120]) + &month("202604", "TMIN", &[-15]);
        let text = one.clone() + &one.replace("MRW00000001", "MRW00000002");
        let refused = sheet(WeatherFormat::GhcnDaily, &text).unwrap_err();
        assert_eq!(refused.errors()[0].code, "several-stations");
    }

    #[test]
    fn a_house_has_no_rain() {
        let today = NaiveDate::from_ymd_opt(2026, 5, 10).unwrap();
        let inside = |text: &str| read(INSIDE, WeatherFormat::Csv, text.as_bytes(), today);
        assert_eq!(
            days(&inside("day,max_c,min_c\n2026-05-01,20,8\n").unwrap()),
            ["2026-05-01 8 20 None None"]
        );
        let refused = inside("day,min_c,max_c,rain_mm\n2026-05-01,8,20,0\n").unwrap_err();
        assert_eq!(refused.errors()[0].code, "unknown-column");
    }

    #[test]
    fn a_thousand_faults_are_listed_and_the_others_counted() {
        let mut text = "day,min_c,max_c\n".to_owned();
        for _ in 0..700 {
            text.push_str("x,y,1\n");
        }
        let sheet = csv(&text);
        assert_eq!((sheet.faults.len(), sheet.unlisted, sheet.bad_rows), (LISTED, 400, 700));
        assert_eq!(sheet.faults[999].pointer, "line 501");
    }
}
