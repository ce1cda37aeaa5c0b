//! From the air outside to the air the plant stands in.
//!
//! Common practice, from memory, no published source for the numbers: an unheated house is 2 C warmer
//! than outside by night and up to 5 C by day, and ventilators open at 27 C. Frost-free is kept at 2 C.
//! They are starting values; errors common to one kind of house end up in its requirement.

/// Degrees by which glass keeps the night warmer.
pub const NIGHT_LIFT_C: f64 = 2.0;
/// Degrees by which the sun warms a closed house by day.
pub const DAY_GAIN_C: f64 = 5.0;
/// Temperature at which the ventilators open.
pub const VENT_C: f64 = 27.0;
/// Night minimum of a house kept frost-free.
pub const FROST_FREE_C: f64 = 2.0;

/// Where a plant grows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum House {
    /// Heated so that it never falls below `at_least_c`.
    Heated {
        at_least_c: f64,
    },
    /// Heated just enough to keep frost out ([`FROST_FREE_C`]).
    FrostFree,
    /// Glass without heat.
    ColdGlass,
    Outdoors,
}

impl House {
    /// Minimum and maximum inside for those outside, degrees C:
    /// `min = max(min + 2, setting)`, `max = min(max + 5, max(27, max))`, never below the minimum.
    /// Outdoors is left as it is.
    pub fn inside(self, min_c: f64, max_c: f64) -> (f64, f64) {
        let setting = match self {
            House::Outdoors => return (min_c, max_c),
            House::Heated { at_least_c } => at_least_c,
            House::FrostFree => FROST_FREE_C,
            House::ColdGlass => f64::NEG_INFINITY,
        };
        let low = (min_c + NIGHT_LIFT_C).max(setting);
        let high = (max_c + DAY_GAIN_C).min(max_c.max(VENT_C));
        (low, high.max(low))
    }
}
