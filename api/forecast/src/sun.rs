//! The sun over a day: day length, radiation, and the light a plant gets of it.
//!
//! Sources: Allen, Pereira, Raes & Smith 1998, "Crop evapotranspiration", FAO Irrigation and Drainage Paper
//! 56, Rome (equations 21 to 25, 34, 35 and 50); Forsythe, Rykiel, Stahl, Wu & Schoolfield 1995, Ecological
//! Modelling 80:87-95 (day length with refraction).
//!
//! Latitudes are degrees, north positive; a latitude beyond 90 degrees gives what is not a number. A day of
//! the year runs from 1 to 366. Where the sun does not set or not rise the day has 24 or 0 hours; above
//! about 55 degrees the radiation is less certain.

use std::f64::consts::{PI, TAU};

use crate::calendar;

/// Solar constant, MJ a square metre and minute.
const SOLAR_CONSTANT: f64 = 0.0820;

/// Hargreaves coefficient of an inland place; 0.19 on a coast (Allen et al. 1998, equation 50).
pub const INLAND: f64 = 0.16;

/// Light of the photosynthetic range in a MJ of solar radiation, mol: 0.45 of the energy, 4.57 micromol a
/// joule (common practice, from memory).
const MOL_PER_MJ: f64 = 2.06;

/// Share of the light that glass lets through (common practice, from memory: 0.6 to 0.7).
pub const GLASS_TRANSMISSION: f64 = 0.65;

/// The day of the year of an epoch day, 1 to 366.
pub fn day_of_year(day: i32) -> u32 {
    let first = calendar::epoch_day(calendar::date(day).year, 1, 1);
    // Every day but those beyond a million years has a first of January.
    first.and_then(|first| u32::try_from(day - first).ok()).map_or(1, |since| since + 1)
}

fn year_angle(day_of_year: u32) -> f64 {
    TAU * f64::from(day_of_year) / 365.0
}

/// Inverse relative distance from the earth to the sun (equation 23).
pub fn inverse_distance(day_of_year: u32) -> f64 {
    1.0 + 0.033 * year_angle(day_of_year).cos()
}

/// Solar declination in radians (equation 24).
pub fn declination(day_of_year: u32) -> f64 {
    0.409 * (year_angle(day_of_year) - 1.39).sin()
}

fn radians(latitude_deg: f64) -> f64 {
    if latitude_deg.abs() <= 90.0 { latitude_deg.to_radians() } else { f64::NAN }
}

/// Hour angle of sunset in radians, 0 to pi (equation 25).
pub fn sunset_angle(latitude_deg: f64, day_of_year: u32) -> f64 {
    (-radians(latitude_deg).tan() * declination(day_of_year).tan()).clamp(-1.0, 1.0).acos()
}

/// Hours of possible sunshine, the sun taken as a point and the air as empty (equation 34).
pub fn day_length(latitude_deg: f64, day_of_year: u32) -> f64 {
    sunset_angle(latitude_deg, day_of_year) * 24.0 / PI
}

/// The sun's upper edge on the horizon, seen through the air: sunrise and sunset of the almanacs, degrees.
pub const SUNRISE_DEG: f64 = 0.8333;

/// Hours from the sun's rise to its set, for a sun `below_deg` under the horizon at both ([`SUNRISE_DEG`],
/// or 6 for civil twilight), after Forsythe et al. 1995.
pub fn day_length_with_twilight(latitude_deg: f64, day_of_year: u32, below_deg: f64) -> f64 {
    let revolution =
        0.216_310_8 + 2.0 * (0.967_139_6 * (0.008_60 * (f64::from(day_of_year) - 186.0)).tan()).atan();
    let declination = (0.397_95 * revolution.cos()).asin();
    let latitude = radians(latitude_deg);
    let cosine = (below_deg.to_radians().sin() + latitude.sin() * declination.sin())
        / (latitude.cos() * declination.cos());
    24.0 - 24.0 / PI * cosine.clamp(-1.0, 1.0).acos()
}

/// Radiation on a level square metre above the air, MJ a day (equation 21).
pub fn extraterrestrial(latitude_deg: f64, day_of_year: u32) -> f64 {
    let (latitude, declination) = (radians(latitude_deg), declination(day_of_year));
    let sunset = sunset_angle(latitude_deg, day_of_year);
    let height =
        sunset * latitude.sin() * declination.sin() + latitude.cos() * declination.cos() * sunset.sin();
    // Clamped, where max would turn what is not a number into nought.
    (24.0 * 60.0 / PI * SOLAR_CONSTANT * inverse_distance(day_of_year) * height).clamp(0.0, f64::MAX)
}

/// Solar radiation on the ground, MJ a square metre and day, from the hours of sunshine of a day
/// `day_length_h` long (equation 35, with its 0.25 and 0.50). More sunshine than day counts as a clear day.
pub fn radiation_by_sunshine(extraterrestrial: f64, sunshine_h: f64, day_length_h: f64) -> f64 {
    let share = if day_length_h > 0.0 { (sunshine_h / day_length_h).clamp(0.0, 1.0) } else { 0.0 };
    (0.25 + 0.50 * share) * extraterrestrial
}

/// Solar radiation on the ground, MJ a square metre and day, from the day's range of temperature where
/// nothing better is measured (equation 50); `coefficient` is [`INLAND`] or 0.19 on a coast. Never more
/// than the 0.75 of a clear day near sea level (equation 36).
pub fn radiation_by_range(extraterrestrial: f64, min_c: f64, max_c: f64, coefficient: f64) -> f64 {
    (coefficient * (max_c - min_c).max(0.0).sqrt()).min(0.75) * extraterrestrial
}

/// Daily light integral, mol of photosynthetic photons on a square metre, behind glass that lets the share
/// `transmission` through (one outdoors).
pub fn light_integral(radiation: f64, transmission: f64) -> f64 {
    MOL_PER_MJ * radiation * transmission
}

/// Factor on the rate of development for a daily light integral: `min(1, 0.6 + 0.4 light / 8)`.
///
/// From memory, without a published source for cuttings brought on in spring, and so not used unless asked
/// for ([`crate::series::HeatTable::build_lit`]).
pub fn rate_factor(light: f64) -> f64 {
    0.6 + 0.4 * light.clamp(0.0, 8.0) / 8.0
}
