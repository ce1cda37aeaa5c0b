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

/// What glass does to the air outside, degrees C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// The unheated night inside is so much warmer.
    pub night_lift_c: f64,
    /// The closed house is so much warmer by day.
    pub day_gain_c: f64,
    /// The ventilators hold the day to this, or to the air outside if that is warmer.
    pub vent_c: f64,
}

impl Default for Gain {
    fn default() -> Self {
        Gain { night_lift_c: NIGHT_LIFT_C, day_gain_c: DAY_GAIN_C, vent_c: VENT_C }
    }
}

impl House {
    /// Minimum and maximum inside for those outside, degrees C, with the default [`Gain`]:
    /// `min = max(min + 2, setting)`, `max = min(max + 5, max(27, max))`, never below the minimum.
    /// Outdoors is left as it is.
    pub fn inside(self, min_c: f64, max_c: f64) -> (f64, f64) {
        self.inside_with(Gain::default(), min_c, max_c)
    }

    /// The same with a gain of the house's own.
    pub fn inside_with(self, gain: Gain, min_c: f64, max_c: f64) -> (f64, f64) {
        let Some(setting) = self.setting() else { return (min_c, max_c) };
        let low = (min_c + gain.night_lift_c).max(setting);
        let high = (max_c + gain.day_gain_c).min(max_c.max(gain.vent_c));
        (low, high.max(low))
    }

    /// The night minimum the heating holds, minus infinity without heat; `None` outdoors.
    fn setting(self) -> Option<f64> {
        match self {
            House::Outdoors => None,
            House::Heated { at_least_c } => Some(at_least_c),
            House::FrostFree => Some(FROST_FREE_C),
            House::ColdGlass => Some(f64::NEG_INFINITY),
        }
    }
}

/// One day's extremes outside and inside, degrees C: (outside minimum, outside maximum, inside minimum,
/// inside maximum).
pub type LoggedDay = (f64, f64, f64, f64);

/// Fewer usable days than this say nothing.
pub const LEAST_LOGGED_DAYS: usize = 20;
/// The default counts as so many days beside those logged.
const DEFAULT_WEIGHT: f64 = 20.0;

/// The gain of one house from days logged inside and outside it.
///
/// The night lift is the median difference of the minima on days whose minimum outside was above the
/// setting, so that the heating was off. The day gain is the median difference of the maxima on days too
/// cool for the ventilators to open, whose temperature is that with the least sum of absolute errors; the two
/// are found in turn. Days are chosen by the air outside only, so that the choice does not favour a result.
/// Each of the three is pulled to its default by the weight `n / (n + 20)` of its `n` days, and is the
/// default with fewer than 20. `None` outdoors, and when neither difference has 20 days. Values that are not
/// finite are passed over.
///
/// Cost: days x 400.
pub fn estimate(pairs: &[LoggedDay], house: House) -> Option<Gain> {
    let setting = house.setting()?;
    let finite = |day: &&LoggedDay| [day.0, day.1, day.2, day.3].into_iter().all(f64::is_finite);
    let days: Vec<LoggedDay> = pairs.iter().filter(finite).copied().collect();

    let nights = days.iter().filter(|day| day.0 > setting).map(|day| day.2 - day.0).collect();
    let night = median_of_enough(nights);

    let start = Gain::default();
    let (mut closed, mut vent) = (None, start.vent_c);
    let mut vented = 0;
    for _ in 0..4 {
        let gain = closed.map_or(start.day_gain_c, |(gain, _)| gain);
        // A degree of room, and a day warm enough that the heating does not make the maximum.
        let days_closed = days
            .iter()
            .filter(|day| day.1 + gain + 1.0 < vent && day.1 + gain > setting)
            .map(|day| day.3 - day.1);
        closed = median_of_enough(days_closed.collect());
        let gain = closed.map_or(start.day_gain_c, |(gain, _)| gain);
        vent = vent_of_least_error(&days, gain);
        vented = days.iter().filter(|day| day.1 + gain > vent).count();
    }
    if night.is_none() && closed.is_none() {
        return None;
    }
    let pulled = |estimate: Option<(f64, usize)>, default: f64| {
        estimate.map_or(default, |(value, count)| {
            let count = count as f64;
            default + count / (count + DEFAULT_WEIGHT) * (value - default)
        })
    };
    let vent = (vented >= LEAST_LOGGED_DAYS && closed.is_some()).then_some((vent, vented));
    Some(Gain {
        night_lift_c: pulled(night, start.night_lift_c),
        day_gain_c: pulled(closed, start.day_gain_c),
        vent_c: pulled(vent, start.vent_c),
    })
}

/// The median and the number of values; `None` with too few.
fn median_of_enough(mut values: Vec<f64>) -> Option<(f64, usize)> {
    let count = values.len();
    if count < LEAST_LOGGED_DAYS {
        return None;
    }
    values.sort_unstable_by(f64::total_cmp);
    let upper = values.get(count / 2)?;
    let lower = values.get((count - 1) / 2)?;
    Some((f64::midpoint(*lower, *upper), count))
}

/// The ventilation temperature, 15 to 40 C by half degrees, whose maxima miss those logged least; of equals
/// the one nearest the default.
fn vent_of_least_error(days: &[LoggedDay], gain: f64) -> f64 {
    let error = |vent: f64| -> f64 {
        days.iter().map(|day| ((day.1 + gain).min(day.1.max(vent)) - day.3).abs()).sum()
    };
    (30..=80)
        .map(|half| f64::from(half) / 2.0)
        .map(|vent| (error(vent), (vent - VENT_C).abs(), vent))
        .min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map_or(VENT_C, |(_, _, vent)| vent)
}
