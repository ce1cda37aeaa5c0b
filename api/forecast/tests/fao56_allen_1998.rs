//! The worked examples of Allen, Pereira, Raes & Smith 1998, "Crop evapotranspiration", FAO Irrigation and
//! Drainage Paper 56, Rome, to the digits printed there.
//!
//! The digits of examples 6 and 18 are from memory of the print. Where the print rounds on the way, the
//! tolerance is half a unit of its last digit and what that rounding makes of the result.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use storksbill_forecast::calendar::epoch_day;
use storksbill_forecast::humidity;
use storksbill_forecast::sun;

fn printed(own: f64, value: f64, half_unit: f64) {
    assert!((own - value).abs() <= half_unit, "{own}, printed {value}");
}

fn dms(degrees: f64, minutes: f64) -> f64 {
    degrees + minutes / 60.0
}

#[test]
fn example_2_pressure_and_psychrometric_constant() {
    let pressure = humidity::pressure(1_800.0);
    printed(pressure, 81.8, 0.05);
    printed(humidity::psychrometric_constant(pressure), 0.054, 0.0005);
}

#[test]
fn example_3_saturation() {
    printed(humidity::saturation(24.5), 3.075, 0.0005);
    printed(humidity::saturation(15.0), 1.705, 0.0005);
    printed(humidity::mean_saturation(15.0, 24.5), 2.39, 0.005);
    // That of the mean temperature is less.
    printed(humidity::saturation(19.75), 2.30, 0.005);
}

#[test]
fn example_4_wet_bulb() {
    let pressure = humidity::pressure(1_200.0);
    printed(pressure, 87.9, 0.05);
    printed(humidity::saturation(19.5), 2.267, 0.0005);
    printed(humidity::vapour_by_wet_bulb(25.6, 19.5, pressure), 1.91, 0.005);
}

#[test]
fn example_5_vapour_by_relative_humidity() {
    printed(humidity::saturation(18.0), 2.064, 0.0005);
    printed(humidity::saturation(25.0), 3.168, 0.0005);
    printed(humidity::vapour_by_extremes(18.0, 25.0, 54.0, 82.0), 1.70, 0.005);
    printed(humidity::vapour_by_highest(18.0, 82.0), 1.69, 0.005);
    printed(humidity::vapour_by_mean(18.0, 25.0, 68.0), 1.78, 0.005);
}

#[test]
fn example_6_deficit() {
    let deficit =
        humidity::mean_saturation(18.0, 25.0) - humidity::vapour_by_extremes(18.0, 25.0, 54.0, 82.0);
    printed(deficit, 0.91, 0.005);
}

#[test]
fn examples_8_and_9_twenty_degrees_south_on_3_september() {
    let day = sun::day_of_year(epoch_day(2015, 9, 3).unwrap());
    assert_eq!(day, 246);
    printed(sun::inverse_distance(day), 0.985, 0.0005);
    printed(sun::declination(day), 0.120, 0.0005);
    printed(sun::sunset_angle(-20.0, day), 1.527, 0.0005);
    let above = sun::extraterrestrial(-20.0, day);
    printed(above, 32.2, 0.05);
    // In mm of water a day (equation 20).
    printed(0.408 * above, 13.1, 0.05);
    printed(sun::day_length(-20.0, day), 11.7, 0.05);
    // The same by another implementation, to more digits.
    printed(sun::day_length(-20.0, day), 11.665_59, 0.000_05);
}

#[test]
fn example_10_sunshine_at_rio_de_janeiro() {
    let (latitude, day) = (-dms(22.0, 54.0), 135);
    let (above, length) = (sun::extraterrestrial(latitude, day), sun::day_length(latitude, day));
    printed(length, 10.9, 0.05);
    printed(above, 25.1, 0.05);
    // The print multiplies the rounded 25.1 by the rounded share: 14.5 to one digit.
    printed(sun::radiation_by_sunshine(above, 7.1, length), 14.5, 0.05);
}

#[test]
fn example_15_range_of_temperature_at_lyon() {
    let above = sun::extraterrestrial(dms(45.0, 43.0), 196);
    // The print interpolates 40.6 in a table for mid-July.
    printed(above, 40.6, 0.06);
    printed(sun::radiation_by_range(above, 14.8, 26.6, sun::INLAND), 22.3, 0.05);
}

#[test]
fn example_18_uccle_on_6_july() {
    let (latitude, day) = (dms(50.0, 48.0), sun::day_of_year(epoch_day(2015, 7, 6).unwrap()));
    assert_eq!(day, 187);
    printed(humidity::mean_saturation(12.3, 21.5), 1.997, 0.0005);
    printed(humidity::vapour_by_extremes(12.3, 21.5, 63.0, 84.0), 1.409, 0.0005);
    printed(sun::extraterrestrial(latitude, day), 41.09, 0.005);
    printed(sun::day_length(latitude, day), 16.1, 0.05);
}

#[test]
fn example_20_dew_at_the_minimum() {
    printed(humidity::saturation(14.8), 1.68, 0.005);
}

#[test]
fn the_dew_point_undoes_saturation() {
    for temperature in [-15.0, -0.3, 0.0, 4.2, 14.8, 33.0] {
        // The print rounds the constants of the inverse to two decimals: a hundredth of a degree at 33 C.
        printed(humidity::dew_point(humidity::saturation(temperature)), temperature, 0.012);
    }
    assert!(humidity::dew_point(-1.0).is_nan());
}

#[test]
fn two_northern_latitudes_through_the_year() {
    // Computed apart from this crate by the equations of the paper: latitude, day of the year, hours, MJ.
    for (latitude, day, length, above) in [
        (52.0, 80, 11.949, 23.041),
        (52.0, 135, 15.453, 38.167),
        (52.0, 172, 16.493, 41.695),
        (52.0, 227, 14.422, 33.774),
        (52.0, 355, 7.507, 6.288),
        (57.0, 80, 11.938, 20.339),
        (57.0, 172, 17.583, 41.449),
        (57.0, 355, 6.418, 3.569),
    ] {
        printed(sun::day_length(latitude, day), length, 0.0005);
        printed(sun::extraterrestrial(latitude, day), above, 0.0005);
    }
}

#[test]
fn the_poles_have_a_day_of_24_hours_and_one_of_none() {
    for latitude in [90.0, 80.0, -85.0] {
        let (lit, dark) = if latitude > 0.0 { (172, 355) } else { (355, 172) };
        printed(sun::day_length(latitude, lit), 24.0, 1e-12);
        printed(sun::day_length(latitude, dark), 0.0, 1e-12);
        printed(sun::extraterrestrial(latitude, dark), 0.0, 1e-12);
        assert!(sun::extraterrestrial(latitude, lit) > 30.0);
        printed(sun::radiation_by_sunshine(0.0, 0.0, 0.0), 0.0, 1e-12);
    }
    assert!(sun::day_length(90.5, 100).is_nan() && sun::extraterrestrial(f64::NAN, 100).is_nan());
}

#[test]
fn the_hemispheres_mirror_each_other() {
    for day in [1, 80, 172, 300] {
        let sum = sun::day_length(35.0, day) + sun::day_length(-35.0, day);
        printed(sum, 24.0, 1e-9);
    }
}

#[test]
fn days_of_the_year() {
    for (year, month, day, number) in
        [(2023, 1, 1, 1), (2023, 12, 31, 365), (2024, 12, 31, 366), (1900, 3, 1, 60)]
    {
        assert_eq!(sun::day_of_year(epoch_day(year, month, day).unwrap()), number);
    }
}

#[test]
fn no_radiation_beyond_a_clear_sky() {
    printed(sun::radiation_by_range(40.0, 0.0, 40.0, sun::INLAND), 30.0, 1e-12);
    printed(sun::radiation_by_sunshine(40.0, 20.0, 16.0), 30.0, 1e-12);
    printed(sun::radiation_by_range(40.0, 5.0, 4.0, sun::INLAND), 0.0, 1e-12);
}
