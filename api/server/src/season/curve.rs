//! The heat of a season as it gathers, against that of past years.

use storksbill_forecast::calendar;
use storksbill_forecast::season::ReferencePlant;
use storksbill_forecast::series::HeatTable;

/// Days from the stop that are drawn: to the end of August.
pub const DRAWN_DAYS: i32 = 174;
/// Past years that are looked at.
const MOST_YEARS: i32 = 30;

/// Degree-days from the start of the stop to the end of each day, the stop's own first.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Of this season, epoch days.
    pub stop_day: i32,
    /// This season, as far as there are readings.
    pub this: Vec<f64>,
    /// Least, mean and most of past years, [`DRAWN_DAYS`] of each.
    pub past: Vec<(f64, f64, f64)>,
    /// Past years without a gap.
    pub years: usize,
}

impl Curve {
    /// As of `today`; none before there is weather of a past year.
    pub fn of(table: &HeatTable, plant: &ReferencePlant, today: i32) -> Option<Self> {
        let year = calendar::date(today).year;
        let stop_in = |year: i32| calendar::epoch_day(year, plant.stop_month, plant.stop_day);
        let stop_day = stop_in(year).filter(|stop| *stop <= today).or_else(|| stop_in(year - 1))?;
        let gathered = |stop: i32, until: i32| -> Vec<f64> {
            (stop..=until).map_while(|day| table.between(stop, day)).collect()
        };
        let drawn = DRAWN_DAYS - 1;
        let this = gathered(stop_day, today.min(stop_day + drawn));
        let whole = usize::try_from(DRAWN_DAYS).ok()?;
        let years: Vec<Vec<f64>> = (1..=MOST_YEARS)
            .filter_map(|back| calendar::years_back(stop_day, back))
            .map(|stop| gathered(stop, stop + drawn))
            .filter(|year| year.len() == whole)
            .collect();
        if years.is_empty() {
            return None;
        }
        let on = |day: usize| years.iter().filter_map(move |year| year.get(day).copied());
        let past = (0..whole)
            .map(|day| {
                let least = on(day).fold(f64::INFINITY, f64::min);
                let most = on(day).fold(f64::NEG_INFINITY, f64::max);
                (least, on(day).sum::<f64>() / years.len() as f64, most)
            })
            .collect();
        Some(Self { stop_day, this, past, years: years.len() })
    }
}
