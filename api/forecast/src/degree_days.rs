//! The heat of one day: the area of its temperature curve above a base and below a cap.
//!
//! Sources: Baskerville & Emin 1969, Ecology 50:514-517 (sine); Allen 1976, Environmental Entomology
//! 5:388-396 (double sine); Zalom et al. 1983, University of California Leaflet 21373 (triangle,
//! cutoffs); `McMaster` & Wilhelm 1997, Agricultural and Forest Meteorology 87:291-300 (the averages).

use std::f64::consts::{FRAC_PI_2, PI};

/// The curve drawn through a day's minimum and maximum.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Mean of the two extremes, cap applied to the mean (`McMaster` & Wilhelm's method 1).
    Average1,
    /// Each extreme is first brought into the range from base to cap (`McMaster` & Wilhelm's method 2).
    Average2,
    SingleTriangle,
    SingleSine,
    /// The second half of the day falls to the next day's minimum.
    DoubleTriangle,
    /// The second half of the day falls to the next day's minimum.
    DoubleSine,
}

/// What happens above the cap.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cutoff {
    /// The cap is ignored.
    None,
    /// Development goes on at the rate it has at the cap.
    Horizontal,
    /// Development stops while it is warmer than the cap. The averages know no hours: for them a day
    /// whose mean is above the cap gives nothing.
    Vertical,
}

/// How a day's minimum and maximum become degree-days.
///
/// The default is the single sine from 4 C, horizontal cutoff at 26 C. Those two temperatures are
/// this project's own default (growth nearly stops below 10 C and falls off above 27 C, by growers'
/// pages), not a published pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatRule {
    pub method: Method,
    pub base_c: f64,
    pub cap_c: f64,
    pub cutoff: Cutoff,
}

impl Default for HeatRule {
    fn default() -> Self {
        HeatRule { method: Method::SingleSine, base_c: 4.0, cap_c: 26.0, cutoff: Cutoff::Horizontal }
    }
}

#[derive(Clone, Copy)]
enum Curve {
    Sine,
    Triangle,
}

impl HeatRule {
    /// Degree-days of one day, never negative. The unit is that of the temperatures given.
    ///
    /// `next_min` is the next day's minimum, used by the double methods only; without it the day's own
    /// minimum stands in, as on the last day of a series. A minimum above its maximum is taken as the two
    /// exchanged. A temperature that is not a number gives a heat that is not a number.
    pub fn day(&self, min: f64, max: f64, next_min: Option<f64>) -> f64 {
        let (min, max) = if min > max { (max, min) } else { (min, max) };
        if min.is_nan() || max.is_nan() {
            return f64::NAN;
        }
        match self.method {
            Method::Average1 => self.average(f64::midpoint(min, max), min, max),
            Method::Average2 => {
                let top = if self.cutoff == Cutoff::Horizontal { self.cap_c } else { f64::INFINITY };
                let clip = |t: f64| t.min(top).max(self.base_c);
                self.average(f64::midpoint(clip(min), clip(max)), min, max)
            }
            Method::SingleTriangle => self.area(Curve::Triangle, min, max),
            Method::SingleSine => self.area(Curve::Sine, min, max),
            Method::DoubleTriangle => self.halves(Curve::Triangle, min, max, next_min),
            Method::DoubleSine => self.halves(Curve::Sine, min, max, next_min),
        }
    }

    fn average(&self, counted: f64, min: f64, max: f64) -> f64 {
        let counted = match self.cutoff {
            Cutoff::Vertical if f64::midpoint(min, max) > self.cap_c => self.base_c,
            Cutoff::Horizontal => counted.min(self.cap_c),
            Cutoff::None | Cutoff::Vertical => counted,
        };
        (counted - self.base_c).max(0.0)
    }

    fn halves(&self, curve: Curve, min: f64, max: f64, next_min: Option<f64>) -> f64 {
        let next = next_min.unwrap_or(min);
        // After a sudden rise the next minimum may lie above this maximum: the curve runs between the two.
        let (low, high) = if next > max { (max, next) } else { (next, max) };
        f64::midpoint(self.area(curve, min, max), self.area(curve, low, high))
    }

    fn area(&self, curve: Curve, min: f64, max: f64) -> f64 {
        let whole = above(curve, min, max, self.base_c);
        let heat = match self.cutoff {
            Cutoff::None => whole,
            Cutoff::Horizontal => whole - above(curve, min, max, self.cap_c),
            Cutoff::Vertical => {
                whole
                    - above(curve, min, max, self.cap_c)
                    - (self.cap_c - self.base_c) * share_above(curve, min, max, self.cap_c)
            }
        };
        heat.max(0.0)
    }
}

/// Area of the day's curve above the threshold, in degree-days.
fn above(curve: Curve, min: f64, max: f64, threshold: f64) -> f64 {
    let mean = f64::midpoint(min, max);
    if max <= threshold {
        return 0.0;
    }
    if min >= threshold {
        return mean - threshold;
    }
    match curve {
        Curve::Triangle => (max - threshold).powi(2) / (2.0 * (max - min)),
        Curve::Sine => {
            let amplitude = (max - min) / 2.0;
            let th = ((threshold - mean) / amplitude).clamp(-1.0, 1.0).asin();
            ((mean - threshold) * (FRAC_PI_2 - th) + amplitude * th.cos()) / PI
        }
    }
}

/// Share of the day, 0 to 1, that the curve spends above the threshold.
fn share_above(curve: Curve, min: f64, max: f64, threshold: f64) -> f64 {
    if max <= threshold {
        return 0.0;
    }
    if min >= threshold {
        return 1.0;
    }
    match curve {
        Curve::Triangle => (max - threshold) / (max - min),
        Curve::Sine => {
            let (mean, amplitude) = (f64::midpoint(min, max), (max - min) / 2.0);
            0.5 - ((threshold - mean) / amplitude).clamp(-1.0, 1.0).asin() / PI
        }
    }
}
