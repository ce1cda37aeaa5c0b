//! The normal distribution.

/// `P(Z <= z)` of a standard normal `Z`, with full relative accuracy in the lower tail
/// (through the complementary error function, Abramowitz & Stegun 1964, 7.1.2 and 26.2.29).
pub fn cdf(z: f64) -> f64 {
    0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2)
}

/// `P(Z > z)`, with full relative accuracy in the upper tail.
pub fn survival(z: f64) -> f64 {
    cdf(-z)
}

/// The density of a standard normal at `z`.
pub fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// The `z` with `cdf(z) = p`, to about 1 part in 10^15 (Wichura 1988, Applied Statistics 37:477-484,
/// algorithm AS 241, routine PPND16).
///
/// Minus and plus infinity at 0 and 1; not a number when `p` is no probability.
pub fn quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    let q = p - 0.5;
    if q.abs() <= 0.425 {
        let r = 0.180_625 - q * q;
        return q * polynomial(&CENTRE_ABOVE, r) / polynomial(&CENTRE_BELOW, r);
    }
    let tail = if q < 0.0 { p } else { 1.0 - p };
    if tail <= 0.0 {
        return f64::INFINITY.copysign(q);
    }
    let r = (-tail.ln()).sqrt();
    let z = if r <= 5.0 {
        polynomial(&TAIL_ABOVE, r - 1.6) / polynomial(&TAIL_BELOW, r - 1.6)
    } else {
        polynomial(&FAR_ABOVE, r - 5.0) / polynomial(&FAR_BELOW, r - 5.0)
    };
    z.copysign(q)
}

/// The deviate `z >= 0` with `P(|Z| <= z) = coverage`.
pub fn two_sided(coverage: f64) -> f64 {
    -quantile(0.5 * (1.0 - coverage))
}

/// Coefficients from the constant upwards.
fn polynomial(coefficients: &[f64], x: f64) -> f64 {
    coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c)
}

const CENTRE_ABOVE: [f64; 8] = [
    3.387_132_872_796_366_5,
    133.141_667_891_784_38,
    1_971.590_950_306_551_3,
    13_731.693_765_509_46,
    45_921.953_931_549_87,
    67_265.770_927_008_7,
    33_430.575_583_588_13,
    2_509.080_928_730_122_7,
];
const CENTRE_BELOW: [f64; 8] = [
    1.0,
    42.313_330_701_600_91,
    687.187_007_492_057_9,
    5_394.196_021_424_751,
    21_213.794_301_586_597,
    39_307.895_800_092_71,
    28_729.085_735_721_943,
    5_226.495_278_852_854,
];
const TAIL_ABOVE: [f64; 8] = [
    1.423_437_110_749_683_5,
    4.630_337_846_156_546,
    5.769_497_221_460_691,
    3.647_848_324_763_204_5,
    1.270_458_252_452_368_4,
    0.241_780_725_177_450_6,
    0.022_723_844_989_269_184,
    7.745_450_142_783_414e-4,
];
const TAIL_BELOW: [f64; 8] = [
    1.0,
    2.053_191_626_637_759,
    1.676_384_830_183_803_8,
    0.689_767_334_985_1,
    0.148_103_976_427_480_08,
    0.015_198_666_563_616_457,
    5.475_938_084_995_345e-4,
    1.050_750_071_644_416_9e-9,
];
const FAR_ABOVE: [f64; 8] = [
    6.657_904_643_501_103,
    5.463_784_911_164_114,
    1.784_826_539_917_291_3,
    0.296_560_571_828_504_87,
    0.026_532_189_526_576_124,
    1.242_660_947_388_078_4e-3,
    2.711_555_568_743_487_6e-5,
    2.010_334_399_292_288_1e-7,
];
const FAR_BELOW: [f64; 8] = [
    1.0,
    0.599_832_206_555_887_9,
    0.136_929_880_922_735_8,
    0.014_875_361_290_850_615,
    7.868_691_311_456_133e-4,
    1.846_318_317_510_054_8e-5,
    1.421_511_758_316_446e-7,
    2.044_263_103_389_939_8e-15,
];
