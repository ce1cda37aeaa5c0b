//! Days and moments of shows. The arithmetic of months is that of RFC 5545 (Desruisseaux, 2009) only where a month
//! has the day; otherwise the month's last day stands in (common practice of schedules that ask for "two months").
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

mod support;

use chrono::{DateTime, Utc};
use storksbill_domain::shows::{
    AgeRule, Answer, Exhibit, Holding, Micrometres, NoSuchMoment, Period, ProtestsUntil, ReasonCode, age_on,
    eligibility, in_time, instant, protests_close, season_start,
};
use support::{class, day, member, moment, plant, plants, rules, show, told};

#[test]
fn months_before_a_show_stop_at_the_months_end() {
    for (held_on, period, expected) in [
        ("2027-06-12", Period::Months(3), "2027-03-12"),
        ("2027-05-31", Period::Months(3), "2027-02-28"),
        ("2028-04-30", Period::Months(2), "2028-02-29"),
        ("2027-08-31", Period::Months(6), "2027-02-28"),
        ("2027-06-12", Period::Weeks(8), "2027-04-17"),
        ("2027-06-12", Period::Months(2), "2027-04-12"),
        ("2027-01-15", Period::Months(12), "2026-01-15"),
    ] {
        assert_eq!(period.before(day(held_on)), Some(day(expected)), "{period} before {held_on}");
    }
}

/// Held for two months (Royal Horticultural Society, show rules, rule 3, as reprinted), eight weeks (Billericay
/// Horticultural Society, show rules) and, for seedlings, less: the last day itself counts.
#[test]
fn a_plant_got_on_the_last_day_was_held_long_enough() {
    let asked = |period, since: Option<&str>, from_own_seed| {
        let mut rules = rules(vec![plants(1)]);
        rules.held_for = Some(Holding { period, unless_from_seed: true });
        let mut potted = plant(1);
        potted.held_since = since.map(day);
        potted.from_own_seed = from_own_seed;
        told(&eligibility(&class(1, "1", rules), &show(), &member(), Exhibit::Plant(&potted)))
    };
    let too_short = (Answer::No, vec![ReasonCode::OwnedTooShort]);
    assert_eq!(asked(Period::Months(2), Some("2027-04-12"), false), (Answer::Yes, vec![]));
    assert_eq!(asked(Period::Months(2), Some("2027-04-13"), false), too_short);
    assert_eq!(asked(Period::Weeks(8), Some("2027-04-17"), false), (Answer::Yes, vec![]));
    assert_eq!(asked(Period::Weeks(8), Some("2027-04-18"), false), too_short);
    assert_eq!(asked(Period::Months(2), Some("2027-05-20"), true), (Answer::Yes, vec![]));
    assert_eq!(asked(Period::Months(2), None, false), (Answer::Depends, vec![ReasonCode::OwnedUnknown]));
}

/// Sunday 28 March 2027 is the day the clocks go forward in the United Kingdom (Summer Time Order 2002, from memory: the
/// last Sunday in March, at one in the morning Greenwich mean time).
#[test]
fn closing_follows_the_wall_clock_through_the_change_of_clocks() {
    use chrono::Datelike;
    assert_eq!(day("2027-03-28").weekday(), chrono::Weekday::Sun);
    let at = |wall: &str| -> Result<DateTime<Utc>, NoSuchMoment> {
        instant(wall.parse().unwrap(), "Europe/London")
    };
    assert_eq!(at("2027-03-28T00:59:59"), Ok(moment("2027-03-28T00:59:59Z")));
    assert_eq!(at("2027-03-28T01:00:00"), Err(NoSuchMoment::SkippedByTheClocks));
    assert_eq!(at("2027-03-28T02:00:00"), Ok(moment("2027-03-28T01:00:00Z")));
    assert_eq!(at("2027-03-28T10:00:00"), Ok(moment("2027-03-28T09:00:00Z")));
    // From nine at night on the Friday to nine on the Sunday are 47 hours.
    let hours = (at("2027-03-28T21:00:00").unwrap() - at("2027-03-26T21:00:00").unwrap()).num_hours();
    assert_eq!(hours, 47);
}

#[test]
fn an_entry_at_the_closing_moment_is_in_time_and_a_microsecond_later_is_not() {
    let closes = instant("2027-03-28T10:00:00".parse().unwrap(), "Europe/London").unwrap();
    assert!(in_time(closes, closes));
    assert!(!in_time(closes + chrono::TimeDelta::microseconds(1), closes));
    let open = class(1, "1", rules(vec![plants(1)]));
    let asked = |at: &str, late_taken| {
        let show = storksbill_domain::shows::ShowFacts {
            closes_at: closes,
            asked_at: moment(at),
            late_taken,
            ..show()
        };
        told(&eligibility(&open, &show, &member(), Exhibit::Plant(&plant(1))))
    };
    assert_eq!(asked("2027-03-28T09:00:00Z", false), (Answer::Yes, vec![]));
    assert_eq!(asked("2027-03-28T09:00:00.000001Z", false), (Answer::No, vec![ReasonCode::EntriesClosed]));
    assert_eq!(asked("2027-03-28T09:30:00Z", true), (Answer::Yes, vec![]));
    // Told by the show's clock, which stood an hour before UTC's on that day.
    let late = storksbill_domain::shows::ShowFacts {
        closes_at: closes,
        asked_at: moment("2027-03-28T09:30:00Z"),
        ..show()
    };
    let found = eligibility(&open, &late, &member(), Exhibit::Plant(&plant(1)));
    assert_eq!(found.reasons[0].told().detail, "Entries closed on 2027-03-28 at 10:00 BST");
}

/// Child classes: up to 12 on 1 April (witleygardening.org, general rules, 9), under 16 (dwcvhortsoc.org, rules, 4).
#[test]
fn a_juniors_age_is_told_on_the_stated_day() {
    assert_eq!(age_on(day("2014-04-01"), day("2027-04-01")), Some(13));
    assert_eq!(age_on(day("2014-04-02"), day("2027-04-01")), Some(12));
    assert_eq!(age_on(day("2012-02-29"), day("2027-02-28")), Some(14));
    assert_eq!(age_on(day("2012-02-29"), day("2027-03-01")), Some(15));
    assert_eq!(age_on(day("2028-01-01"), day("2027-03-01")), None);
    let asked = |born: Option<&str>| {
        let mut rules = rules(vec![plants(1)]);
        rules.entrants.age = Some(AgeRule { from: None, to: Some(12), on: day("2027-04-01") });
        let child = storksbill_domain::shows::ExhibitorFacts { born_on: born.map(day), ..member() };
        told(&eligibility(&class(1, "C1", rules), &show(), &child, Exhibit::Plant(&plant(1))))
    };
    assert_eq!(asked(Some("2014-04-02")), (Answer::Yes, vec![]));
    assert_eq!(asked(Some("2014-04-01")), (Answer::No, vec![ReasonCode::AgeOutOfRange]));
    assert_eq!(asked(None), (Answer::Depends, vec![ReasonCode::AgeUnknown]));
}

/// Within an hour of opening (Salford and Bolton Fuchsia Society, show rules); by three in the afternoon (Billericay
/// Horticultural Society, show rules).
#[test]
fn protests_are_taken_for_an_hour_or_until_three() {
    let opens = instant("2027-06-12T14:00:00".parse().unwrap(), "Europe/London").unwrap();
    assert_eq!(
        protests_close(&ProtestsUntil::MinutesAfterOpening(60), opens, "Europe/London"),
        Ok(moment("2027-06-12T14:00:00Z"))
    );
    let three = ProtestsUntil::WallClock("2027-06-12T15:00:00".parse().unwrap());
    assert_eq!(protests_close(&three, opens, "Europe/London"), Ok(moment("2027-06-12T14:00:00Z")));
    assert_eq!(protests_close(&three, opens, "Europe/Paris"), Ok(moment("2027-06-12T13:00:00Z")));
}

#[test]
fn a_season_begins_on_its_day_before_the_show() {
    assert_eq!(season_start(day("2027-06-12"), 9, 1), Some(day("2026-09-01")));
    assert_eq!(season_start(day("2027-09-01"), 9, 1), Some(day("2027-09-01")));
    assert_eq!(season_start(day("2027-06-12"), 2, 30), None);
    assert_eq!(Micrometres::mm(3), Micrometres(3000));
}
