//! Epoch days against dates fixed elsewhere.
//!
//! Sources: day 0 and 2000-03-01 = 11017 from the POSIX definition of seconds since the Epoch (IEEE Std
//! 1003.1, 4.16); Julian day 2451545 is 1 January 2000 and 2400001 is 17 November 1858 (Explanatory
//! Supplement to the Astronomical Almanac, Mill Valley 1992), day 0 being 2440588.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::{Date, date, epoch_day, years_back};

#[test]
fn fixed_dates() {
    for (day, year, month, of_month) in [
        (0, 1970, 1, 1),
        (11_017, 2000, 3, 1),
        (2_451_545 - 2_440_588, 2000, 1, 1),
        (2_400_001 - 2_440_588, 1858, 11, 17),
        (-1, 1969, 12, 31),
    ] {
        assert_eq!(epoch_day(year, month, of_month), Some(day));
        assert_eq!(date(day), Date { year, month, day: of_month });
    }
}

#[test]
fn every_day_of_eight_centuries_there_and_back() {
    let mut before = date(-150_000);
    for day in -149_999..150_000 {
        let today = date(day);
        assert!(today > before);
        assert_eq!(epoch_day(today.year, today.month, today.day), Some(day));
        before = today;
    }
}

#[test]
fn dates_that_are_none() {
    for (year, month, day) in [
        (2023, 2, 29),
        (1900, 2, 29),
        (2024, 2, 30),
        (2024, 4, 31),
        (2024, 0, 1),
        (2024, 13, 1),
        (2024, 1, 0),
    ] {
        assert_eq!(epoch_day(year, month, day), None, "{year}-{month}-{day}");
    }
    assert_eq!(epoch_day(i32::MAX, 1, 1), None);
    assert_eq!(years_back(i32::MIN, 1), None);
}

#[test]
fn the_leap_day_of_a_common_year_is_the_28th() {
    let leap = epoch_day(2024, 2, 29).unwrap();
    assert_eq!(years_back(leap, 1), epoch_day(2023, 2, 28));
    assert_eq!(years_back(leap, 4), epoch_day(2020, 2, 29));
    assert_eq!(years_back(leap, -1), epoch_day(2025, 2, 28));
    assert_eq!(years_back(leap + 1, 1), epoch_day(2023, 3, 1));
    assert_eq!(years_back(epoch_day(2023, 2, 28).unwrap(), -1), epoch_day(2024, 2, 28));
}
