//! The daily weather records of the Global Historical Climatology Network, as files of fixed-width lines.
//!
//! Source: National Oceanic and Atmospheric Administration, National Centers for Environmental
//! Information, Asheville, "readme.txt" of the Global Historical Climatology Network - Daily, version 3;
//! Menne, Durre, Vose, Gleason & Houston 2012, Journal of Atmospheric and Oceanic Technology 29:897-910.
//! The data are in the public domain.
//!
//! A line holds one station's element for one month:
//!
//! | columns | content |
//! |---|---|
//! | 1-11 | station |
//! | 12-15 | year |
//! | 16-17 | month |
//! | 18-21 | element |
//! | 22-269 | 31 times a value (5 columns), a measurement, a quality and a source flag (1 each) |
//!
//! Temperatures are tenths of a degree C, rain tenths of a millimetre, and -9999 is a missing value. A
//! quality flag other than a blank means that the value failed a check.

use std::collections::{BTreeMap, BTreeSet};

use crate::calendar;

/// A temperature further from nought than this is refused with its line; the records of the Earth lie
/// within.
pub const WIDEST_C: f64 = 60.0;

const HEAD: usize = 21;
const ENTRY: usize = 8;
const DAYS: u32 = 31;

/// One station's day with both extremes.
#[derive(Debug, Clone, PartialEq)]
pub struct DayReading {
    /// The network's own identifier, 11 characters.
    pub station: String,
    /// Epoch day.
    pub day: i32,
    pub min_c: f64,
    pub max_c: f64,
    /// `None` when the day's rain is missing or failed a check.
    pub rain_mm: Option<f64>,
}

/// Why a line was not used, or a day of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LineReason {
    /// A byte outside ASCII, which the format does not know.
    NotAscii,
    /// Fewer than 21 characters, or the station, year or month is not what the columns should hold.
    BadHead,
    /// The value of this day of the month is not a whole number of up to five characters.
    BadValue { day: u32 },
    /// A value stands on a day the month does not have.
    NoSuchDay { day: u32 },
    /// A temperature beyond [`WIDEST_C`], on this day of the month; none of the line is used.
    Impossible { day: u32, celsius: f64 },
    /// Rain below nought, on this day of the month; none of the line is used.
    NegativeRain { day: u32 },
    /// The station's month was given twice for the element; the first counts.
    Repeated,
    /// On this day of the month only the minimum passed; the day is not used.
    NoMaximum { day: u32 },
    /// On this day of the month only the maximum passed; the day is not used.
    NoMinimum { day: u32 },
    /// On this day of the month the minimum is above the maximum; the day is not used.
    Inverted { day: u32 },
}

/// A line, counted from one, and what is wrong with it. For a day wanting one extreme it is the line of
/// the other.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("line {line}: {reason}")]
pub struct LineError {
    pub line: usize,
    pub reason: LineReason,
}

impl std::fmt::Display for LineReason {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            LineReason::NotAscii => f.write_str("a character outside ASCII"),
            LineReason::BadHead => f.write_str("the station, year, month or element is not readable"),
            LineReason::BadValue { day } => write!(f, "the value of day {day} is not a whole number"),
            LineReason::NoSuchDay { day } => write!(f, "the month has no day {day}"),
            LineReason::Impossible { day, celsius } => write!(f, "{celsius} C on day {day} is impossible"),
            LineReason::NegativeRain { day } => write!(f, "rain below nought on day {day}"),
            LineReason::Repeated => f.write_str("the month was given before"),
            LineReason::NoMaximum { day } => write!(f, "day {day} has no usable maximum"),
            LineReason::NoMinimum { day } => write!(f, "day {day} has no usable minimum"),
            LineReason::Inverted { day } => write!(f, "the minimum of day {day} is above its maximum"),
        }
    }
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Element {
    Minimum,
    Maximum,
    Rain,
}

/// A value that passed, in tenths, with the line it stands on.
#[derive(Clone, Copy)]
struct Value {
    tenths: i32,
    line: usize,
    day_of_month: u32,
}

#[derive(Default)]
struct Day {
    minimum: Option<Value>,
    maximum: Option<Value>,
    rain: Option<Value>,
}

/// Reads a whole file: the days with both extremes by station and day, and what was not used by line.
///
/// Elements other than `TMIN`, `TMAX` and `PRCP` are passed over. Lines may end in a line feed, with or
/// without a carriage return; blank lines are passed over, and a last line cut short wants its last days
/// only, if its values are whole. Values that failed a quality check count as missing and are no error.
/// Nothing in the bytes makes it panic.
///
/// Cost: one pass, and values x log(days) for the days kept in order; about 150 bytes a station-day while
/// it runs.
pub fn parse(bytes: &[u8]) -> (Vec<DayReading>, Vec<LineError>) {
    let mut days: BTreeMap<(&str, i32), Day> = BTreeMap::new();
    let mut seen: BTreeSet<(&str, i32, Element)> = BTreeSet::new();
    let mut errors = Vec::new();
    for (number, line) in bytes.split(|&byte| byte == b'\n').enumerate() {
        let number = number + 1;
        if let Err(reason) = read_line(line, number, &mut days, &mut seen) {
            errors.push(LineError { line: number, reason });
        }
    }
    let mut readings = Vec::with_capacity(days.len());
    for ((station, day), values) in days {
        match (values.minimum, values.maximum) {
            (Some(low), Some(high)) if low.tenths > high.tenths => {
                let reason = LineReason::Inverted { day: low.day_of_month };
                errors.push(LineError { line: low.line, reason });
            }
            (Some(low), Some(high)) => readings.push(DayReading {
                station: station.to_owned(),
                day,
                min_c: f64::from(low.tenths) / 10.0,
                max_c: f64::from(high.tenths) / 10.0,
                rain_mm: values.rain.map(|rain| f64::from(rain.tenths) / 10.0),
            }),
            (Some(low), None) => {
                let reason = LineReason::NoMaximum { day: low.day_of_month };
                errors.push(LineError { line: low.line, reason });
            }
            (None, Some(high)) => {
                let reason = LineReason::NoMinimum { day: high.day_of_month };
                errors.push(LineError { line: high.line, reason });
            }
            // Rain alone is a rain gauge, not a slip.
            (None, None) => {}
        }
    }
    errors.sort_by_key(|error| error.line);
    (readings, errors)
}

fn read_line<'a>(
    line: &'a [u8],
    number: usize,
    days: &mut BTreeMap<(&'a str, i32), Day>,
    seen: &mut BTreeSet<(&'a str, i32, Element)>,
) -> Result<(), LineReason> {
    if !line.is_ascii() {
        return Err(LineReason::NotAscii);
    }
    let line = str::from_utf8(line).map_err(|_not_ascii| LineReason::NotAscii)?.trim_end();
    if line.is_empty() {
        return Ok(());
    }
    let column = |from: usize, to: usize| line.get(from..to).ok_or(LineReason::BadHead);
    let (station, element) = (column(0, 11)?, column(17, HEAD)?);
    // Blanks would pass for two stations that differ only in them.
    if !station.bytes().all(|byte| byte.is_ascii_graphic()) {
        return Err(LineReason::BadHead);
    }
    let digits = |text: &str| -> Result<u32, LineReason> {
        if text.bytes().all(|byte| byte.is_ascii_digit()) {
            text.parse().map_err(|_too_long| LineReason::BadHead)
        } else {
            Err(LineReason::BadHead)
        }
    };
    let (year, month) = (digits(column(11, 15)?)?.cast_signed(), digits(column(15, 17)?)?);
    let first = calendar::epoch_day(year, month, 1).ok_or(LineReason::BadHead)?;
    let element = match element {
        "TMIN" => Element::Minimum,
        "TMAX" => Element::Maximum,
        "PRCP" => Element::Rain,
        _ => return Ok(()),
    };
    let values = read_values(line, number, element, (year, month))?;
    if !seen.insert((station, first, element)) {
        return Err(LineReason::Repeated);
    }
    for value in values {
        let day = first.saturating_add(value.day_of_month.cast_signed() - 1);
        let entry = days.entry((station, day)).or_default();
        match element {
            Element::Minimum => entry.minimum = Some(value),
            Element::Maximum => entry.maximum = Some(value),
            Element::Rain => entry.rain = Some(value),
        }
    }
    Ok(())
}

/// The values of a line that are there and passed the checks of the network.
fn read_values(
    line: &str,
    number: usize,
    element: Element,
    (year, month): (i32, u32),
) -> Result<Vec<Value>, LineReason> {
    let mut values = Vec::new();
    let starts = (HEAD..).step_by(ENTRY);
    for (day_of_month, start) in (1..=DAYS).zip(starts) {
        // Blanks at the end of a line may have been cut off, flags of the last value among them.
        let Some(text) = line.get(start..(start + 5).min(line.len())).filter(|text| !text.is_empty()) else {
            break;
        };
        let bad = LineReason::BadValue { day: day_of_month };
        if text.len() < 5 {
            return Err(bad);
        }
        // A plus sign would parse but is not of the format.
        let text = text.trim_start_matches(' ');
        if !text.strip_prefix('-').unwrap_or(text).bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(bad);
        }
        let tenths: i32 = text.parse().map_err(|_not_a_number| bad)?;
        let failed = line.as_bytes().get(start + 6).is_some_and(|&flag| flag != b' ');
        if tenths == -9999 || failed {
            continue;
        }
        if calendar::epoch_day(year, month, day_of_month).is_none() {
            return Err(LineReason::NoSuchDay { day: day_of_month });
        }
        let celsius = f64::from(tenths) / 10.0;
        if element == Element::Rain {
            if tenths < 0 {
                return Err(LineReason::NegativeRain { day: day_of_month });
            }
        } else if celsius.abs() > WIDEST_C {
            return Err(LineReason::Impossible { day: day_of_month, celsius });
        }
        values.push(Value { tenths, line: number, day_of_month });
    }
    Ok(values)
}
