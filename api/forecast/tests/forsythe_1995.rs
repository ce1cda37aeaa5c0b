//! Day length from sunrise to sunset after Forsythe, Rykiel, Stahl, Wu & Schoolfield 1995, Ecological
//! Modelling 80:87-95, with the sun 0.8333 degrees below the horizon. The values were computed apart from
//! this crate.

use storksbill_forecast::sun::{SUNRISE_DEG, day_length, day_length_with_twilight};

#[test]
fn two_northern_latitudes_through_the_year() {
    for (latitude, day, length) in [
        (52.0, 80, 12.166),
        (52.0, 135, 15.631),
        (52.0, 172, 16.735),
        (52.0, 227, 14.741),
        (52.0, 355, 7.740),
        (57.0, 80, 12.187),
        (57.0, 172, 17.891),
        (57.0, 355, 6.709),
    ] {
        let own = day_length_with_twilight(latitude, day, SUNRISE_DEG);
        assert!((own - length).abs() <= 0.0005, "{latitude} on {day}: {own}, expected {length}");
        // Refraction and the sun's width lengthen the day, twilight more so.
        assert!(own > day_length(latitude, day));
        assert!(day_length_with_twilight(latitude, day, 6.0) > own);
    }
}

#[test]
fn polar_day_and_night() {
    assert!((day_length_with_twilight(75.0, 172, SUNRISE_DEG) - 24.0).abs() < 1e-12);
    assert!(day_length_with_twilight(75.0, 355, SUNRISE_DEG).abs() < 1e-12);
    assert!(day_length_with_twilight(-100.0, 355, SUNRISE_DEG).is_nan());
}
