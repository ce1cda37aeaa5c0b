//! The wetness a generic infection model needs: Magarey, Sutton & Russo 2005, Phytopathology 95:92-100.
//! Values for limits 7 and 30 C, best 18 C, 10 hours as computed by `magarey.model` of the R package `ZeBook`
//! (Wallach, Makowski, Jones & Brun, "Working with Dynamic Crop Models").

use storksbill_forecast::damp::WetnessNeed;

#[test]
fn hours_at_seven_temperatures() {
    let need = WetnessNeed { min_c: 7.0, best_c: 18.0, max_c: 30.0, least_hours: 10.0 };
    for (temperature, hours) in [
        (10.0, 19.7424),
        (12.0, 13.7340),
        (15.0, 10.7119),
        (18.0, 10.0),
        (20.0, 10.2962),
        (25.0, 15.2811),
        (28.0, 33.1686),
    ] {
        let own = need.hours(temperature);
        assert!((own - hours).abs() <= 0.000_05, "{temperature}: {own}, published {hours}");
    }
    for outside in [7.0, 30.0, -5.0, 45.0, f64::NAN] {
        assert!(need.hours(outside).is_infinite());
    }
}
