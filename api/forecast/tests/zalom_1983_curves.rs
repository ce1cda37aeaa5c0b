//! The closed forms of the sine and triangle methods against the areas they stand for.
//!
//! Source of the curves and cutoffs: Zalom, Goodell, Wilson, Barnett & Bentley, "Degree-days: the
//! calculation and use of heat units in pest management", University of California Leaflet 21373,
//! Davis 1983; Baskerville & Emin 1969, Ecology 50:514-517. The areas are integrated here point by point,
//! without the closed forms. The averages follow `McMaster` & Wilhelm 1997, Agricultural and Forest
//! Meteorology 87:291-300.

use storksbill_forecast::degree_days::{Cutoff, HeatRule, Method};

fn rule(method: Method, cutoff: Cutoff) -> HeatRule {
    HeatRule { method, base_c: 12.0, cap_c: 33.0, cutoff }
}

fn integrate(method: Method, cutoff: Cutoff, min: f64, max: f64) -> f64 {
    const POINTS: u32 = 20_000;
    let (mean, half) = (f64::midpoint(min, max), (max - min) / 2.0);
    let heat_at = |point: u32| {
        let phase = (f64::from(point) + 0.5) / f64::from(POINTS);
        let t = if method == Method::SingleSine {
            mean + half * (2.0 * std::f64::consts::PI * phase).sin()
        } else {
            min + (max - min) * (1.0 - (2.0 * phase - 1.0).abs())
        };
        let over = t - 12.0;
        let rate = match cutoff {
            Cutoff::Horizontal => over.min(21.0),
            Cutoff::Vertical if t > 33.0 => 0.0,
            Cutoff::None | Cutoff::Vertical => over,
        };
        rate.max(0.0)
    };
    (0..POINTS).map(heat_at).sum::<f64>() / f64::from(POINTS)
}

#[test]
fn closed_forms_are_the_areas() {
    let mut cases = 0;
    for low in (-6..40).step_by(3) {
        for range in (1..30).step_by(4) {
            let (min, max) = (f64::from(low) + 0.3, f64::from(low + range) + 0.7);
            for method in [Method::SingleSine, Method::SingleTriangle] {
                for cutoff in [Cutoff::None, Cutoff::Horizontal, Cutoff::Vertical] {
                    let (own, area) =
                        (rule(method, cutoff).day(min, max, None), integrate(method, cutoff, min, max));
                    // A step of the vertical cutoff is cut to within one point of the integration.
                    assert!(
                        (own - area).abs() < 3e-3,
                        "{method:?} {cutoff:?} {min}..{max}: {own}, area {area}"
                    );
                    cases += 1;
                }
            }
        }
    }
    assert_eq!(cases, 16 * 8 * 6);
}

#[test]
fn exact_values() {
    use Cutoff::{Horizontal, Vertical};
    use Method::{SingleSine, SingleTriangle};
    let cases = [
        (SingleSine, Horizontal, 7.0, 14.0, 0.468_059),
        (SingleTriangle, Horizontal, 7.0, 14.0, 0.285_714),
        (SingleSine, Horizontal, 13.0, 14.0, 1.5),
        (SingleTriangle, Horizontal, 13.0, 14.0, 1.5),
        (SingleSine, Horizontal, 35.0, 40.0, 21.0),
        (SingleSine, Vertical, 35.0, 40.0, 0.0),
        (SingleSine, Horizontal, 13.0, 40.0, 12.944_349),
        (SingleSine, Vertical, 13.0, 40.0, 5.802_273),
        (SingleTriangle, Horizontal, 13.0, 40.0, 13.592_593),
        (SingleTriangle, Vertical, 13.0, 40.0, 8.148_148),
        (SingleSine, Horizontal, 7.0, 40.0, 10.939_668),
        (SingleSine, Vertical, 7.0, 40.0, 4.540_817),
        (SingleTriangle, Horizontal, 7.0, 40.0, 11.136_364),
        (SingleTriangle, Vertical, 7.0, 40.0, 6.681_818),
        (SingleSine, Horizontal, 7.0, 20.0, 2.874_355),
        (SingleTriangle, Horizontal, 7.0, 20.0, 2.461_538),
        // A day of one temperature.
        (SingleSine, Horizontal, 20.0, 20.0, 8.0),
        (SingleTriangle, Vertical, 40.0, 40.0, 0.0),
        // Minimum and maximum exchanged.
        (SingleSine, Horizontal, 20.0, 7.0, 2.874_355),
    ];
    for (method, cutoff, min, max, exact) in cases {
        let heat = rule(method, cutoff).day(min, max, None);
        assert!((heat - exact).abs() < 5.1e-7, "{method:?} {cutoff:?} {min} {max}: {heat}, exact {exact}");
    }
}

#[test]
fn the_two_averages_differ_where_a_threshold_is_crossed() {
    let near = |a: f64, b: f64| (a - b).abs() < 1e-12;
    // Mean 10.5 is under the base; with the minimum first brought up to the base, (12+14)/2 - 12 = 1.
    assert!(near(rule(Method::Average1, Cutoff::Horizontal).day(7.0, 14.0, None), 0.0));
    assert!(near(rule(Method::Average2, Cutoff::Horizontal).day(7.0, 14.0, None), 1.0));
    // Mean 26.5 - 12; with the maximum brought down to the cap, (13+33)/2 - 12.
    assert!(near(rule(Method::Average1, Cutoff::Horizontal).day(13.0, 40.0, None), 14.5));
    assert!(near(rule(Method::Average2, Cutoff::Horizontal).day(13.0, 40.0, None), 11.0));
    assert!(near(rule(Method::Average2, Cutoff::None).day(13.0, 40.0, None), 14.5));
    assert!(near(rule(Method::Average1, Cutoff::Horizontal).day(35.0, 40.0, None), 21.0));
    assert!(near(rule(Method::Average1, Cutoff::Vertical).day(35.0, 40.0, None), 0.0));
    assert!(near(rule(Method::Average1, Cutoff::None).day(35.0, 40.0, None), 25.5));
}

#[test]
fn a_double_day_is_half_of_each_night() {
    let single = rule(Method::SingleSine, Cutoff::Horizontal);
    let double = rule(Method::DoubleSine, Cutoff::Horizontal);
    let expected = f64::midpoint(single.day(7.0, 20.0, None), single.day(13.0, 20.0, None));
    assert!((double.day(7.0, 20.0, Some(13.0)) - expected).abs() < 1e-12);
    // The last day of a series stands on its own minimum; so does a day before an equal night.
    assert!((double.day(7.0, 20.0, None) - single.day(7.0, 20.0, None)).abs() < 1e-12);
    // A next night warmer than this maximum.
    let rising = f64::midpoint(single.day(7.0, 11.0, None), single.day(11.0, 14.0, None));
    assert!(rising > 0.0 && (double.day(7.0, 11.0, Some(14.0)) - rising).abs() < 1e-12);
}
