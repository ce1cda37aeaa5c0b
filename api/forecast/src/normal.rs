//! The normal distribution function.

/// `P(Z <= z)` of a standard normal `Z`, with full relative accuracy in the lower tail
/// (through the complementary error function, Abramowitz & Stegun 1964, 7.1.2 and 26.2.29).
pub fn cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// `P(Z > z)`, with full relative accuracy in the upper tail.
pub fn survival(z: f64) -> f64 {
    cdf(-z)
}
