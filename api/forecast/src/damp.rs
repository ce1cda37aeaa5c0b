//! How damp the plants stand: hours of wet leaves and flowers, and the grey mould they invite.
//!
//! Day by day the air inside follows a sine from its minimum at 3 h to its maximum at 15 h; an hour is wet
//! when the relative humidity, by the day's dew point, is at least 0.90. A spell of wet hours, ended by four
//! dry ones, gathers a dose of `1/W(T)` an hour, `W(T)` being the hours of wetness infection needs at that
//! temperature.
//!
//! Sources: Magarey, Sutton & Russo 2005, Phytopathology 95:92-100 (the form of `W`); Sirjusingh & Sutton
//! 1996, Plant Disease 80:160-165 (grey mould on geranium flowers, to which its four constants are set);
//! Broome, English, Marois, Latorre & Aviles 1995, Phytopathology 85:97-102 (grape). The wet limit, the
//! levels, the estimate of the dew point without a hygrometer and the cold-damp rule are common practice and
//! this project's own starting values.

use std::f64::consts::TAU;

use crate::calendar;
use crate::glass::House;
use crate::humidity;

/// Hours of wetness infection needs at a temperature: infinite at and beyond the limits, least in between.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WetnessNeed {
    /// At and below this no infection, degrees C.
    pub min_c: f64,
    /// Where the least wetness is needed.
    pub best_c: f64,
    /// At and above this no infection.
    pub max_c: f64,
    /// Hours needed at the best temperature.
    pub least_hours: f64,
}

impl WetnessNeed {
    /// Set so that whole hours at 15, 21, 25 and 30 C are the 8, 4, 4 and 6 found on geranium flowers, and
    /// a wet day at 10 C is not enough (Sirjusingh & Sutton 1996).
    pub const GERANIUM_FLOWERS: WetnessNeed =
        WetnessNeed { min_c: 7.0, best_c: 24.0, max_c: 34.0, least_hours: 4.0 };

    /// `least / f(T)`, `f = (max-T)/(max-best) ((T-min)/(best-min))^((best-min)/(max-best))`.
    pub fn hours(&self, temperature_c: f64) -> f64 {
        if temperature_c.is_nan() || temperature_c <= self.min_c || temperature_c >= self.max_c {
            return f64::INFINITY;
        }
        let (below, above) = (self.best_c - self.min_c, self.max_c - self.best_c);
        let response =
            (self.max_c - temperature_c) / above * ((temperature_c - self.min_c) / below).powf(below / above);
        self.least_hours / response
    }
}

/// Logit of the share of grape flowers and berries infected after `wet_hours` at a mean temperature
/// (Broome et al. 1995): nought or less means next to no infection, one or more much. The temperature is
/// taken into 12 to 32 C; `None` with less than 4 hours or from 40 C on.
pub fn grape_logit(wet_hours: f64, temperature_c: f64) -> Option<f64> {
    if !(wet_hours >= 4.0 && temperature_c < 40.0) {
        return None;
    }
    let t = temperature_c.clamp(12.0, 32.0);
    Some(-2.647_866 - 0.374_927 * wet_hours + 0.061_601 * wet_hours * t - 0.001_511 * wet_hours * t * t)
}

/// An hour is wet from this relative humidity on.
const WET: f64 = 0.90;
/// So many dry hours end a spell.
const SPELL_ENDS: u32 = 4;
/// Days over which events and cold damp days are counted, this day included.
const FORTNIGHT: i64 = 14;
const EVENTS_IN_FORTNIGHT: usize = 3;
const COLD_DAMP_IN_FORTNIGHT: usize = 10;
const COLD_C: f64 = 10.0;
const COLD_DAMP: f64 = 0.85;
const RAINY_MM: f64 = 1.0;

/// The air outside on one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DampDay {
    pub day: i32,
    pub min_c: f64,
    pub max_c: f64,
    /// Mean relative humidity, above 0 to 100; anything else counts as not measured.
    pub humidity_pct: Option<f64>,
    /// Without it the day counts as dry.
    pub rain_mm: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// A dose below a half.
    Low,
    /// From a half to below one.
    Moderate,
    /// One and more: infection is to be expected.
    High,
}

impl Level {
    pub fn of(dose: f64) -> Level {
        if dose >= 1.0 {
            Level::High
        } else if dose >= 0.5 {
            Level::Moderate
        } else {
            Level::Low
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DampOutcome {
    pub day: i32,
    /// Of the day's 24.
    pub wet_hours: u32,
    /// The most any spell had gathered in an hour of this day, hours of the days before included.
    pub dose: f64,
    pub level: Level,
    /// At least three of the last 14 days were [`Level::High`].
    pub damp_fortnight: bool,
    /// At least ten of the last 14 days had a mean below 10 C and a mean relative humidity of 85 % or more
    /// inside: the season of rots, when water should be given sparingly.
    pub cold_damp: bool,
}

/// Dew point of a day without a hygrometer, degrees C: the minimum on a day with rain of 1 mm and more, and
/// on a dry day 2.5 C less from March to May, 0.75 C less from June to September, 1.5 C less otherwise.
///
/// Months are those of the northern hemisphere. A starting value, to be re-estimated where humidity is
/// measured: dew points of dry days were found 0.5 to 2.9 C below the minimum.
pub fn estimated_dew_point(day: i32, min_c: f64, rain_mm: Option<f64>) -> f64 {
    if rain_mm.is_some_and(|rain| rain >= RAINY_MM) {
        return min_c;
    }
    min_c
        - match calendar::date(day).month {
            3..=5 => 2.5,
            6..=9 => 0.75,
            _ => 1.5,
        }
}

fn dew_point(day: &DampDay) -> f64 {
    match day.humidity_pct.filter(|&pct| pct > 0.0 && pct <= 100.0) {
        None => estimated_dew_point(day.day, day.min_c, day.rain_mm),
        Some(pct) => {
            let measured = humidity::dew_point(humidity::vapour_by_mean(day.min_c, day.max_c, pct));
            let rainy = day.rain_mm.is_some_and(|rain| rain >= RAINY_MM);
            if rainy { measured.min(day.min_c) } else { measured }
        }
    }
}

/// Temperature at an hour of a day: a sine, lowest at 3 h and highest at 15 h.
pub fn hourly_temperature(min_c: f64, max_c: f64, hour: u32) -> f64 {
    f64::midpoint(min_c, max_c) - 0.5 * (max_c - min_c) * (TAU * (f64::from(hour) - 3.0) / 24.0).cos()
}

/// A run of wet hours not yet ended.
#[derive(Default)]
struct Spell {
    dose: f64,
    dry_hours: u32,
}

/// Wetness and dose day after day inside a house, by the air outside: the same water in the air, at the
/// temperatures of [`House::inside`].
///
/// The outcome is in the order of the days, whatever that of the input; of several entries for one day the
/// last counts. A day whose temperatures are not finite is left out, and like a day not given ends a spell.
///
/// Cost: days x 24 exponentials.
pub fn damp_days(days: &[DampDay], house: House) -> Vec<DampOutcome> {
    let mut sorted: Vec<&DampDay> =
        days.iter().filter(|day| day.min_c.is_finite() && day.max_c.is_finite()).collect();
    sorted.sort_by_key(|day| day.day);
    let mut outcomes: Vec<DampOutcome> = Vec::with_capacity(sorted.len());
    let mut cold_days: Vec<i32> = Vec::new();
    let mut spell = Spell::default();
    for (at, day) in sorted.iter().enumerate() {
        if sorted.get(at + 1).is_some_and(|next| next.day == day.day) {
            continue;
        }
        if outcomes.last().is_some_and(|before| before.day.checked_add(1) != Some(day.day)) {
            spell = Spell::default();
        }
        let inside = Inside::over(day, house, &mut spell);
        if inside.mean_c < COLD_C && inside.mean_humidity >= COLD_DAMP {
            cold_days.push(day.day);
        }
        let recent = |other: i32| i64::from(day.day) - i64::from(other) < FORTNIGHT;
        let level = Level::of(inside.dose);
        let events = usize::from(level == Level::High)
            + outcomes
                .iter()
                .rev()
                .take_while(|before| recent(before.day))
                .filter(|before| before.level == Level::High)
                .count();
        let cold = cold_days.iter().rev().take_while(|&&cold| recent(cold)).count();
        outcomes.push(DampOutcome {
            day: day.day,
            wet_hours: inside.wet_hours,
            dose: inside.dose,
            level,
            damp_fortnight: events >= EVENTS_IN_FORTNIGHT,
            cold_damp: cold >= COLD_DAMP_IN_FORTNIGHT,
        });
    }
    outcomes
}

/// What one day did inside.
struct Inside {
    wet_hours: u32,
    dose: f64,
    mean_c: f64,
    mean_humidity: f64,
}

impl Inside {
    fn over(day: &DampDay, house: House, spell: &mut Spell) -> Inside {
        let vapour = humidity::saturation(dew_point(day));
        let (low, high) = house.inside(day.min_c.min(day.max_c), day.max_c.max(day.min_c));
        let mut inside =
            Inside { wet_hours: 0, dose: 0.0, mean_c: f64::midpoint(low, high), mean_humidity: 0.0 };
        for hour in 0..24 {
            let temperature = hourly_temperature(low, high, hour);
            let relative = (vapour / humidity::saturation(temperature)).min(1.0);
            inside.mean_humidity += relative / 24.0;
            if relative >= WET {
                inside.wet_hours += 1;
                spell.dry_hours = 0;
                spell.dose += 1.0 / WetnessNeed::GERANIUM_FLOWERS.hours(temperature);
                inside.dose = inside.dose.max(spell.dose);
            } else {
                spell.dry_hours += 1;
                if spell.dry_hours >= SPELL_ENDS {
                    spell.dose = 0.0;
                }
            }
        }
        inside
    }
}
