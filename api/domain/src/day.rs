//! Days, moments and years as people write them: within bounds that every calendar, both databases and every sum of
//! days can hold.
//!
//! No record of cultivated plants is older than 1600, and a year after 2400 is a slip of the pen. What is beyond is
//! refused where it comes in, in a sentence.

use std::fmt;
use std::ops::Deref;
use std::str::FromStr;

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, Utc};
use serde::{Deserialize, Deserializer, Serialize};
use utoipa::openapi::RefOr;
use utoipa::openapi::schema::{KnownFormat, ObjectBuilder, Schema, SchemaFormat, Type};

/// The first year that is taken.
pub const FIRST_YEAR: i32 = 1600;
/// The last.
pub const LAST_YEAR: i32 = 2400;

/// A day, moment or year is beyond those that are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Beyond;

impl fmt::Display for Beyond {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "must be of the years {FIRST_YEAR} to {LAST_YEAR}")
    }
}

impl std::error::Error for Beyond {}

fn within(year: i32) -> Result<(), Beyond> {
    if (FIRST_YEAR..=LAST_YEAR).contains(&year) { Ok(()) } else { Err(Beyond) }
}

macro_rules! bounded {
    ($(#[$doc:meta])* $name:ident, $inner:ty, $year:expr, $schema:expr) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        #[serde(transparent)]
        pub struct $name($inner);

        impl TryFrom<$inner> for $name {
            type Error = Beyond;
            fn try_from(inner: $inner) -> Result<Self, Beyond> {
                let year: fn(&$inner) -> i32 = $year;
                within(year(&inner)).map(|()| Self(inner))
            }
        }

        impl From<$name> for $inner {
            fn from(bounded: $name) -> Self {
                bounded.0
            }
        }

        impl Deref for $name {
            type Target = $inner;
            fn deref(&self) -> &$inner {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl FromStr for $name {
            type Err = Beyond;
            fn from_str(text: &str) -> Result<Self, Beyond> {
                // What is no such thing at all is beyond the bounds as well.
                let inner: $inner = text.parse().map_err(|_not_one| Beyond)?;
                Self::try_from(inner)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                Self::try_from(<$inner>::deserialize(from)?).map_err(serde::de::Error::custom)
            }
        }

        impl utoipa::PartialSchema for $name {
            fn schema() -> RefOr<Schema> {
                RefOr::T($schema)
            }
        }

        impl utoipa::ToSchema for $name {
            fn name() -> std::borrow::Cow<'static, str> {
                std::borrow::Cow::Borrowed(stringify!($name))
            }
        }
    };
}

/// Digits of the years 1600 to 2400, as a regular expression.
macro_rules! years {
    () => {
        "(1[6-9][0-9]{2}|2[0-3][0-9]{2}|2400)"
    };
}

fn text(format: KnownFormat, pattern: &'static str, description: &'static str) -> Schema {
    ObjectBuilder::new()
        .schema_type(Type::String)
        .format(Some(SchemaFormat::KnownFormat(format)))
        .pattern(Some(pattern))
        .description(Some(description))
        .build()
        .into()
}

bounded!(
    /// A day of the years 1600 to 2400.
    Day,
    NaiveDate,
    Datelike::year,
    text(
        KnownFormat::Date,
        concat!("^", years!(), "-[0-9]{2}-[0-9]{2}$"),
        "A day of the years 1600 to 2400, such as 2026-06-13."
    )
);

bounded!(
    /// A moment of the years 1600 to 2400, with its offset from UTC.
    Moment,
    DateTime<Utc>,
    Datelike::year,
    text(
        KnownFormat::DateTime,
        concat!("^", years!(), "-[0-9]{2}-[0-9]{2}[Tt ]"),
        "A moment of the years 1600 to 2400, such as 2026-06-13T14:00:00Z."
    )
);

bounded!(
    /// A year from 1600 to 2400.
    Year,
    i32,
    |year| *year,
    ObjectBuilder::new()
        .schema_type(Type::Integer)
        .minimum(Some(FIRST_YEAR))
        .maximum(Some(LAST_YEAR))
        .description(Some("A year from 1600 to 2400."))
        .build()
        .into()
);

/// Reads a day for a field that keeps it as the calendar's own type: for documents that are kept as they are written.
///
/// # Errors
/// What is no day, and a day that is beyond the years kept.
pub fn day<'de, D: Deserializer<'de>>(from: D) -> Result<NaiveDate, D::Error> {
    Day::deserialize(from).map(NaiveDate::from)
}

/// As [`day`], for a field that may be empty.
///
/// # Errors
/// As [`day`].
pub fn optional_day<'de, D: Deserializer<'de>>(from: D) -> Result<Option<NaiveDate>, D::Error> {
    Ok(Option::<Day>::deserialize(from)?.map(NaiveDate::from))
}

/// As [`day`], for a moment on the clock of the place.
///
/// # Errors
/// As [`day`].
pub fn wall<'de, D: Deserializer<'de>>(from: D) -> Result<NaiveDateTime, D::Error> {
    let wall = NaiveDateTime::deserialize(from)?;
    within(wall.year()).map(|()| wall).map_err(serde::de::Error::custom)
}

/// As [`day`], for a year that may be empty.
///
/// # Errors
/// As [`day`].
pub fn optional_year<'de, D: Deserializer<'de>>(from: D) -> Result<Option<i32>, D::Error> {
    Ok(Option::<Year>::deserialize(from)?.map(i32::from))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    #[test]
    fn days_beyond_are_refused_in_a_sentence_and_the_last_are_taken() {
        for good in ["1600-01-01", "2400-12-31", "2026-02-28"] {
            let day: Day = serde_json::from_value(good.into()).unwrap();
            assert_eq!(serde_json::to_value(day).unwrap(), good);
        }
        for bad in ["1599-12-31", "2401-01-01", "0206-06-13", "+262142-12-31", "-262143-01-01"] {
            let error = serde_json::from_value::<Day>(bad.into()).unwrap_err().to_string();
            assert_eq!(error, "must be of the years 1600 to 2400", "{bad}");
            assert!(bad.parse::<Day>().is_err());
        }
        assert!(serde_json::from_value::<Day>("2026-02-29".into()).is_err());
    }

    #[test]
    fn moments_and_years_have_the_same_bounds() {
        let moment = |text: &str| serde_json::from_value::<Moment>(text.into());
        assert!(moment("2400-12-31T23:59:59Z").is_ok());
        // By UTC, in which it is kept.
        assert!(moment("2400-12-31T23:59:59-01:00").is_err());
        assert!(moment("+262142-12-31T00:00:00Z").is_err());
        assert!(serde_json::from_value::<Year>(1600.into()).is_ok());
        assert!(serde_json::from_value::<Year>(2401.into()).is_err());
        assert!(serde_json::from_value::<Year>(i64::MAX.into()).is_err());
    }
}
