//! Rain and humidity of a region: day by day the median of the stations that measured them.
//!
//! Apart from the temperatures, since most stations measure only one of the three, and neither rain nor
//! humidity is interpolated: a day without is a day without.

use std::collections::BTreeMap;

/// More rain than has ever been measured in a day is a slip of the pen, mm.
pub const MOST_RAIN_MM: f64 = 2_000.0;

/// Rain and mean relative humidity of one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Moisture {
    pub day: i32,
    /// Nought to [`MOST_RAIN_MM`]; anything else is passed over.
    pub rain_mm: Option<f64>,
    /// Above nought to 100 per cent; anything else is passed over.
    pub humidity_pct: Option<f64>,
}

/// One station's readings per element; a region's by day.
#[derive(Default)]
struct Values {
    rain_mm: Vec<f64>,
    humidity_pct: Vec<f64>,
}

/// The region's medians in the order of the days, for the days on which any station had a usable value. Of
/// several values of a station for one day the last given counts.
///
/// Cost: values x log(values).
pub fn of_region(stations: &[&[Moisture]]) -> Vec<Moisture> {
    let mut by_day: BTreeMap<i32, Values> = BTreeMap::new();
    for station in stations {
        let mut own: BTreeMap<i32, (Option<f64>, Option<f64>)> = BTreeMap::new();
        for reading in *station {
            let values = own.entry(reading.day).or_default();
            let rain = reading.rain_mm.filter(|rain| (0.0..=MOST_RAIN_MM).contains(rain));
            let humidity = reading.humidity_pct.filter(|&pct| pct > 0.0 && pct <= 100.0);
            *values = (rain.or(values.0), humidity.or(values.1));
        }
        for (day, (rain, humidity)) in own {
            let values = by_day.entry(day).or_default();
            values.rain_mm.extend(rain);
            values.humidity_pct.extend(humidity);
        }
    }
    by_day
        .into_iter()
        .map(|(day, values)| Moisture {
            day,
            rain_mm: median(values.rain_mm),
            humidity_pct: median(values.humidity_pct),
        })
        .filter(|day| day.rain_mm.is_some() || day.humidity_pct.is_some())
        .collect()
}

fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let (lower, upper) = (values.get(values.len().checked_sub(1)? / 2)?, values.get(values.len() / 2)?);
    Some(f64::midpoint(*lower, *upper))
}
