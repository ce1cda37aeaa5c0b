//! Lines made by hand after the documented layout: National Oceanic and Atmospheric Administration,
//! National Centers for Environmental Information, Asheville, "readme.txt" of the Global Historical
//! Climatology Network - Daily, version 3, section III. Stations and weather are invented.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

use std::fmt::Write as _;

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::ghcn::{LineReason, parse};

const STATION: &str = "ME000012345";

/// A line of 269 characters; days not given are missing.
fn line(year: i32, month: u32, element: &str, days: &[(u32, i32, &str)]) -> String {
    let mut line = format!("{STATION}{year:04}{month:02}{element}");
    for day in 1..=31 {
        let (value, flags) =
            days.iter().find(|given| given.0 == day).map_or((-9999, "   "), |given| (given.1, given.2));
        write!(line, "{value:>5}{flags}").unwrap();
    }
    assert_eq!(line.len(), 269);
    line
}

fn reasons(text: &[u8]) -> Vec<(usize, LineReason)> {
    parse(text).1.into_iter().map(|error| (error.line, error.reason)).collect()
}

#[test]
fn a_day_with_all_three_elements() {
    let text = [
        line(2024, 2, "TMAX", &[(1, 101, "  a"), (29, 147, "  a")]),
        line(2024, 2, "TMIN", &[(1, -12, "  a"), (29, 38, "  a")]),
        line(2024, 2, "PRCP", &[(1, 254, "B a"), (2, 8, "  a")]),
        line(2024, 2, "SNWD", &[(1, 30, "  a")]),
    ]
    .join("\n");
    let (days, errors) = parse(text.as_bytes());
    assert!(errors.is_empty(), "{errors:?}");
    assert_eq!(days.len(), 2);
    assert_eq!(days[0].station, STATION);
    assert_eq!(days[0].day, epoch_day(2024, 2, 1).unwrap());
    assert!((days[0].min_c + 1.2).abs() < 1e-12 && (days[0].max_c - 10.1).abs() < 1e-12);
    assert!((days[0].rain_mm.unwrap() - 25.4).abs() < 1e-12);
    assert_eq!((days[1].day, days[1].rain_mm), (epoch_day(2024, 2, 29).unwrap(), None));
}

#[test]
fn every_quality_flag_keeps_a_value_out() {
    // The checks the readme lists; measurement and source flags keep nothing out.
    for flag in "DGIKLMNORSTWXZ".chars() {
        let flags = format!(" {flag}E");
        let text = [
            line(1999, 7, "TMAX", &[(5, 999, &flags), (6, 250, "H S")]),
            line(1999, 7, "TMIN", &[(5, 100, "  E"), (6, 120, "L 0")]),
            line(1999, 7, "PRCP", &[(6, 9000, &flags)]),
        ]
        .join("\n");
        let (days, errors) = parse(text.as_bytes());
        assert_eq!(days.len(), 1, "{flag}");
        assert_eq!((days[0].day, days[0].rain_mm), (epoch_day(1999, 7, 6).unwrap(), None));
        assert_eq!(errors.len(), 1);
        assert_eq!((errors[0].line, errors[0].reason), (2, LineReason::NoMaximum { day: 5 }));
    }
}

#[test]
fn days_with_one_extreme_are_reported() {
    let text = [
        line(2001, 4, "TMAX", &[(1, 150, "  a"), (2, 150, "  a")]),
        line(2001, 4, "TMIN", &[(2, 40, "  a"), (3, 50, "  a"), (4, 90, "  a")]),
        line(2001, 4, "PRCP", &[(9, 1, "  a")]),
    ]
    .join("\n");
    assert_eq!(parse(text.as_bytes()).0.len(), 1);
    assert_eq!(
        reasons(text.as_bytes()),
        [
            (1, LineReason::NoMinimum { day: 1 }),
            (2, LineReason::NoMaximum { day: 3 }),
            (2, LineReason::NoMaximum { day: 4 }),
        ]
    );
}

#[test]
fn impossible_values_refuse_their_line() {
    let text = [
        line(2001, 4, "TMAX", &[(1, 150, "  a"), (2, 601, "  a")]),
        line(2001, 4, "TMIN", &[(1, 40, "  a")]),
        line(2001, 5, "TMIN", &[(30, -601, "  a")]),
        line(2001, 6, "PRCP", &[(3, -1, "  a")]),
    ]
    .join("\n");
    assert!(parse(text.as_bytes()).0.is_empty());
    assert_eq!(
        reasons(text.as_bytes()),
        [
            (1, LineReason::Impossible { day: 2, celsius: 60.1 }),
            (2, LineReason::NoMaximum { day: 1 }),
            (3, LineReason::Impossible { day: 30, celsius: -60.1 }),
            (4, LineReason::NegativeRain { day: 3 }),
        ]
    );
    // Sixty itself is within the bound.
    let text =
        [line(2001, 4, "TMAX", &[(2, 600, "  a")]), line(2001, 4, "TMIN", &[(2, -600, "  a")])].join("\n");
    assert_eq!(parse(text.as_bytes()).0.len(), 1);
}

#[test]
fn an_inverted_day_and_a_repeated_month() {
    let text = [
        line(2001, 4, "TMAX", &[(1, 50, "  a"), (2, 80, "  a")]),
        line(2001, 4, "TMIN", &[(1, 60, "  a"), (2, 20, "  a")]),
        line(2001, 4, "TMAX", &[(2, 300, "  a")]),
    ]
    .join("\n");
    let (days, _) = parse(text.as_bytes());
    assert_eq!(days.len(), 1);
    assert!((days[0].max_c - 8.0).abs() < 1e-12);
    assert_eq!(reasons(text.as_bytes()), [(2, LineReason::Inverted { day: 1 }), (3, LineReason::Repeated)]);
}

#[test]
fn line_ends_blank_lines_and_trimmed_blanks() {
    let (high, low) = (line(2010, 9, "TMAX", &[(30, 181, "  a")]), line(2010, 9, "TMIN", &[(30, 92, "   ")]));
    let plain = parse(format!("{high}\n{low}").as_bytes());
    assert_eq!((plain.0.len(), plain.1.len()), (1, 0));
    assert_eq!(parse(format!("{high}\r\n{low}\r\n\r\n").as_bytes()), plain);
    // Cut after the value of the 30th: its flags were blanks.
    let cut = &low[..21 + 29 * 8 + 5];
    assert_eq!(parse(format!("{high}\n{cut}").as_bytes()), plain);
    // Cut within the value: what is left of it is another number.
    let cut = &low[..21 + 29 * 8 + 4];
    assert_eq!(
        reasons(format!("{high}\n{cut}").as_bytes()),
        [(1, LineReason::NoMinimum { day: 30 }), (2, LineReason::BadValue { day: 30 })]
    );
}

#[test]
fn lines_that_are_not_of_the_format() {
    let good = line(2010, 9, "TMIN", &[(3, 92, "  a")]);
    for (from, to) in [
        ("ME000012345", "ME0000 2345"),
        ("201009", "20x009"),
        ("201009", "201013"),
        ("201009", "201000"),
        ("201009", "+01009"),
    ] {
        assert_eq!(reasons(good.replacen(from, to, 1).as_bytes()), [(1, LineReason::BadHead)], "{to}");
    }
    for value in ["9 2", "+92", "  -", "1.2", "---"] {
        let bad = good.replacen("   92  a", &format!("  {value}  a"), 1);
        assert_eq!(reasons(bad.as_bytes()), [(1, LineReason::BadValue { day: 3 })], "{value}");
    }
    assert_eq!(reasons(b"ME0000"), [(1, LineReason::BadHead)]);
    assert_eq!(
        reasons(line(2023, 2, "TMIN", &[(29, 10, "  a")]).as_bytes()),
        [(1, LineReason::NoSuchDay { day: 29 })]
    );
    assert_eq!(reasons(&[0xff, b'\n', b'x']), [(1, LineReason::NotAscii), (2, LineReason::BadHead)]);
    assert_eq!(reasons("ME00001234\u{e9}201009TMIN".as_bytes()), [(1, LineReason::NotAscii)]);
    assert_eq!(parse(b""), (Vec::new(), Vec::new()));
}

#[test]
fn no_cut_or_changed_byte_panics() {
    let whole = [
        line(2024, 2, "TMAX", &[(1, 101, "  a"), (29, 147, "  a")]),
        line(2024, 2, "TMIN", &[(1, -12, "  a"), (29, 38, "  a")]),
    ]
    .join("\n");
    let bytes = whole.as_bytes();
    for end in 0..bytes.len() {
        assert!(parse(&bytes[..end]).0.len() <= 2);
        for byte in [0, b' ', b'-', b'9', b'\n', 0x80, 0xff] {
            let mut changed = bytes.to_vec();
            changed[end] = byte;
            assert!(parse(&changed).0.len() <= 2);
        }
    }
}

#[test]
fn stations_come_in_order_with_their_days() {
    let first =
        line(2020, 12, "TMAX", &[(31, 50, "  a")]) + "\n" + &line(2020, 12, "TMIN", &[(31, 0, "  a")]);
    let other = first.replace(STATION, "MEA00000001");
    let (days, errors) = parse(format!("{other}\n{first}").as_bytes());
    assert!(errors.is_empty());
    let stations: Vec<&str> = days.iter().map(|day| day.station.as_str()).collect();
    assert_eq!(stations, [STATION, "MEA00000001"]);
}
