//! The standing of a region's season: one imagined plant, stopped on the same day each year, in this year's
//! weather and in every past year's.

use chrono::NaiveDate;
use storksbill_domain::ids::RegionId;
use storksbill_domain::words::Environment;
use storksbill_forecast::season::{ReferencePlant, SeasonError, Standing, standing};
use storksbill_forecast::series::HeatTable;

use crate::forecasts::pooled::{Pooled, epoch_day};

/// How a season stands, or why that cannot be told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SeasonStanding {
    /// Told.
    Known(Standing),
    /// No station of the region has readings.
    NoWeather,
    /// There are readings, but not enough.
    NotYet(SeasonError),
}

/// How the region's season stands on `today`.
pub fn standing_of(pooled: &Pooled, region: RegionId, today: NaiveDate) -> SeasonStanding {
    match pooled.table(region, Environment::FrostFree, None) {
        Err(_no_weather) => SeasonStanding::NoWeather,
        Ok(table) => match standing(&table, &reference(pooled, region), epoch_day(today)) {
            Ok(standing) => SeasonStanding::Known(standing),
            Err(error) => SeasonStanding::NotYet(error),
        },
    }
}

/// The reference plant of a region: stopped on 11 March, or on 11 September south of the equator.
pub fn reference(pooled: &Pooled, region: RegionId) -> ReferencePlant {
    let usual = ReferencePlant::default();
    if pooled.is_south(region) { ReferencePlant { stop_month: 9, ..usual } } else { usual }
}

/// The standing under another house's warmth.
pub fn days_late(table: &HeatTable, today: i32) -> Option<Standing> {
    standing(table, &ReferencePlant::default(), today).ok()
}

impl SeasonStanding {
    /// The standing in words that a grower would use.
    pub fn words(&self) -> String {
        match self {
            Self::NoWeather => "No weather readings for this region yet.".to_owned(),
            Self::NotYet(error) => format!("Cannot be told yet: {error}."),
            Self::Known(standing) => told(standing),
        }
    }
}

/// A standing in words.
pub fn told(standing: &Standing) -> String {
    let days = standing.days_late.abs().round();
    let past = match standing.years {
        1 => "last year".to_owned(),
        years => format!("the average of the past {years} years"),
    };
    if days < 2.0 {
        format!("About level with {past}.")
    } else if standing.days_late > 0.0 {
        format!("About {days:.0} days behind {past}.")
    } else {
        format!("About {days:.0} days ahead of {past}.")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known(days_late: f64, years: usize) -> SeasonStanding {
        SeasonStanding::Known(Standing {
            stop_day: 0,
            observed_to: 0,
            days_late,
            days_late_p10: 0.0,
            days_late_p90: 0.0,
            ready_day: 0.0,
            usual_ready_day: 0.0,
            years,
            heat: 0.0,
            usual_heat: 0.0,
            never_ready: 0,
        })
    }

    #[test]
    fn the_words_follow_the_days() {
        assert_eq!(known(6.4, 5).words(), "About 6 days behind the average of the past 5 years.");
        assert_eq!(known(-3.0, 1).words(), "About 3 days ahead of last year.");
        assert_eq!(known(1.2, 5).words(), "About level with the average of the past 5 years.");
        assert_eq!(SeasonStanding::NoWeather.words(), "No weather readings for this region yet.");
    }
}
