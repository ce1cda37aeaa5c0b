//! Water in the air: vapour pressures in kPa, dew point in degrees C, relative humidity in per cent.
//!
//! Source: Allen, Pereira, Raes & Smith 1998, "Crop evapotranspiration", FAO Irrigation and Drainage Paper
//! 56, Rome, equations 7, 8, 11, 12 and 14 to 19 and Annex 3.

/// Saturation vapour pressure at an air temperature (equation 11).
pub fn saturation(temperature_c: f64) -> f64 {
    0.6108 * (17.27 * temperature_c / (temperature_c + 237.3)).exp()
}

/// Mean saturation vapour pressure of a day (equation 12). Not that of the mean temperature, which is less.
pub fn mean_saturation(min_c: f64, max_c: f64) -> f64 {
    f64::midpoint(saturation(min_c), saturation(max_c))
}

/// Dew point of air with the actual vapour pressure `vapour` (Annex 3, equation 3-11). Not a number unless
/// `vapour` is positive.
pub fn dew_point(vapour: f64) -> f64 {
    let log = vapour.ln();
    (116.91 + 237.3 * log) / (16.78 - log)
}

/// Atmospheric pressure, kPa, at a height above the sea in metres (equation 7).
pub fn pressure(height_m: f64) -> f64 {
    101.3 * ((293.0 - 0.0065 * height_m) / 293.0).powf(5.26)
}

/// Psychrometric constant, kPa a degree C, at a pressure in kPa (equation 8).
pub fn psychrometric_constant(pressure: f64) -> f64 {
    0.665e-3 * pressure
}

/// Actual vapour pressure from dry and wet bulb of a ventilated psychrometer (equations 15 and 16).
pub fn vapour_by_wet_bulb(dry_c: f64, wet_c: f64, pressure: f64) -> f64 {
    saturation(wet_c) - 0.000_662 * pressure * (dry_c - wet_c)
}

/// Actual vapour pressure of a day from its extremes of temperature and relative humidity (equation 17).
pub fn vapour_by_extremes(min_c: f64, max_c: f64, min_pct: f64, max_pct: f64) -> f64 {
    f64::midpoint(saturation(min_c) * max_pct / 100.0, saturation(max_c) * min_pct / 100.0)
}

/// Actual vapour pressure of a day from its minimum temperature and highest relative humidity (equation 18).
pub fn vapour_by_highest(min_c: f64, max_pct: f64) -> f64 {
    saturation(min_c) * max_pct / 100.0
}

/// Actual vapour pressure of a day from its mean relative humidity (equation 19); the least good of the
/// three.
pub fn vapour_by_mean(min_c: f64, max_c: f64, mean_pct: f64) -> f64 {
    mean_saturation(min_c, max_c) * mean_pct / 100.0
}
