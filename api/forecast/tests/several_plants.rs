//! Several plants before one show, against coins, closed forms and the laws they obey.

use storksbill_forecast::several_plants::{SharedChances, at_least};

fn plant(too_early: f64, ready: f64, shared: f64) -> SharedChances {
    SharedChances::new(1.0 - too_early - ready, ready, shared)
}

#[test]
fn plants_that_share_nothing_are_counted_as_coins_are() {
    let [one, two, three] = at_least(&[plant(0.3, 0.5, 0.0); 4]);
    for (told, sixteenths) in [(one, 15.0), (two, 11.0), (three, 5.0)] {
        assert!((told - sixteenths / 16.0).abs() < 1e-9, "{told} for {sixteenths}/16");
    }
}

#[test]
fn each_plant_alone_keeps_its_chance_however_much_it_shares() {
    for (too_early, ready) in [(0.3, 0.5), (0.9, 0.1), (0.0, 0.2), (0.05, 0.9)] {
        for shared in [0.0, 0.3, 0.7, 0.95] {
            let [one, two, _] = at_least(&[plant(too_early, ready, shared)]);
            assert!((one - ready).abs() < 1e-6, "{one} for {ready} sharing {shared}");
            assert!(two.abs() < 1e-9, "{two}");
        }
    }
}

#[test]
fn the_more_plants_share_the_less_one_of_many_is_sure() {
    let told = |shared| at_least(&[plant(0.4, 0.4, shared); 6]);
    let mut last = told(0.0);
    for shared in [0.3, 0.6, 0.9] {
        let now = told(shared);
        assert!(now[0] < last[0], "{now:?} after {last:?}");
        last = now;
    }
    let whole = told(0.999);
    // Alike in all things, all six are ready or none.
    assert!((whole[0] - 0.4).abs() < 0.02 && (whole[2] - 0.4).abs() < 0.02, "{whole:?}");
    // A plant that is over adds nothing.
    assert!(at_least(&[plant(0.0, 0.0, 0.0); 3])[0].abs() < 1e-9);
}
