//! Pot sizes: the inner diameter at the rim, kept as whole micrometres.
//!
//! An inch is 25.4 mm exactly (international yard and pound agreement, 1959), so inches and millimetres
//! alike are whole micrometres: a 4½ in pot is 114.3 mm = 114 300 µm, and is not an 11 cm one.

/// Smallest pot, millimetres.
pub const LEAST_MM: f64 = 10.0;
/// Largest pot, millimetres.
pub const MOST_MM: f64 = 2000.0;

/// Millimetres as whole micrometres; none where the number is finer than that, or no pot's.
pub fn micrometres(mm: f64) -> Option<i64> {
    if !(LEAST_MM..=MOST_MM).contains(&mm) {
        return None;
    }
    let um = (mm * 1000.0).round();
    // A number of at most three decimals is off by its rounding to binary alone.
    if (mm * 1000.0 - um).abs() > 1e-6 {
        return None;
    }
    #[allow(clippy::cast_possible_truncation, reason = "a whole number up to two million")]
    Some(um as i64)
}

/// Micrometres as millimetres: the nearest number, which reads as it was typed.
pub fn millimetres(um: i64) -> f64 {
    um as f64 / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Pots by the inch; each product with 25.4 worked by hand.
    #[test]
    fn inches_are_whole_micrometres() {
        for (inches, mm, um) in [
            (2.0, 50.8, 50_800),
            (2.25, 57.15, 57_150),
            (3.5, 88.9, 88_900),
            (4.5, 114.3, 114_300),
            (5.25, 133.35, 133_350),
            (6.0, 152.4, 152_400),
            (12.0, 304.8, 304_800),
        ] {
            assert_eq!(micrometres(mm), Some(um), "{inches} in");
            assert!((inches * 25.4 - mm).abs() < 1e-9, "{inches} in");
        }
        // The pot sold as 11 cm beside 4½ in is another pot.
        assert_eq!(micrometres(110.0), Some(110_000));
    }

    #[test]
    fn every_micrometre_reads_back_as_it_was_kept() {
        for um in 10_000..=2_000_000 {
            assert_eq!(micrometres(millimetres(um)), Some(um));
        }
    }

    #[test]
    fn what_is_finer_or_no_pot_is_refused() {
        for mm in [114.3001, 9.999, 2000.001, 0.0, -114.3, f64::NAN, f64::INFINITY] {
            assert_eq!(micrometres(mm), None, "{mm}");
        }
    }
}
