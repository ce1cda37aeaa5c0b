//! Epoch days and the Gregorian calendar.
//!
//! Source: the day-count algorithms of H. Hinnant, "chrono-Compatible Low-Level Date Algorithms", 2013.

/// A date of the proleptic Gregorian calendar.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date {
    pub year: i32,
    /// 1 to 12.
    pub month: u32,
    /// 1 to 31.
    pub day: u32,
}

/// Years outside this range are refused, so that day arithmetic cannot overflow.
const LARGEST_YEAR: i32 = 1_000_000;

pub fn is_leap(year: i32) -> bool {
    year % 4 == 0 && (year % 100 != 0 || year % 400 == 0)
}

/// The date of an epoch day.
pub fn date(day: i32) -> Date {
    // Years run from March, so that the leap day is the last day of a year.
    let z = i64::from(day) + 719_468;
    let era = z.div_euclid(146_097);
    let of_era = z.rem_euclid(146_097);
    let year_of_era = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let from_march = (5 * of_year + 2) / 153;
    let day_of_month = of_year - (153 * from_march + 2) / 5 + 1;
    let month = if from_march < 10 { from_march + 3 } else { from_march - 9 };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    // Every value is in range by construction; the fallbacks are never taken.
    Date {
        year: i32::try_from(year).unwrap_or(LARGEST_YEAR),
        month: u32::try_from(month).unwrap_or(1),
        day: u32::try_from(day_of_month).unwrap_or(1),
    }
}

/// The epoch day of a date; `None` when the calendar has no such date or the year is beyond
/// a million either way.
pub fn epoch_day(year: i32, month: u32, day: u32) -> Option<i32> {
    let length = match month {
        2 => 28 + u32::from(is_leap(year)),
        4 | 6 | 9 | 11 => 30,
        1..=12 => 31,
        _ => return None,
    };
    if day == 0 || day > length || year.unsigned_abs() > LARGEST_YEAR.unsigned_abs() {
        return None;
    }
    let (month, day) = (i64::from(month), i64::from(day));
    let year = i64::from(year) - i64::from(month <= 2);
    let era = year.div_euclid(400);
    let year_of_era = year.rem_euclid(400);
    let from_march = if month > 2 { month - 3 } else { month + 9 };
    let of_year = (153 * from_march + 2) / 5 + day - 1;
    let of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + of_year;
    i32::try_from(era * 146_097 + of_era - 719_468).ok()
}

/// The same calendar date `years` earlier (later when negative); 29 February becomes 28 February
/// in a year that has none.
///
/// ```
/// use storksbill_forecast::calendar::{epoch_day, years_back};
/// let leap_day = epoch_day(2024, 2, 29).unwrap();
/// assert_eq!(years_back(leap_day, 1), epoch_day(2023, 2, 28));
/// assert_eq!(years_back(leap_day, 4), epoch_day(2020, 2, 29));
/// ```
pub fn years_back(day: i32, years: i32) -> Option<i32> {
    let Date { year, month, day } = date(day);
    let year = year.checked_sub(years)?;
    epoch_day(year, month, day)
        .or_else(|| if (month, day) == (2, 29) { epoch_day(year, 2, 28) } else { None })
}
