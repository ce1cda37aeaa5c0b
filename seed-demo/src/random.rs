//! Random numbers that are the same on every machine for the same seed.
//!
//! The generator is `SplitMix64` (Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators",
//! OOPSLA). Each part of the demonstration draws from its own stream, named in words, so that more members do
//! not change the weather and more years do not change the members.
#![allow(clippy::indexing_slicing, reason = "every index is below the length it was drawn for")]

/// A stream of random numbers.
#[derive(Debug, Clone)]
pub struct Random {
    state: u64,
}

const STEP: u64 = 0x9E37_79B9_7F4A_7C15;

fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Random {
    /// The stream called `name` with the numbers `parts`, of `seed`.
    pub fn stream(seed: u64, name: &str, parts: &[i64]) -> Self {
        let named = name
            .bytes()
            .fold(mix(seed.wrapping_add(STEP)), |hash, byte| mix(hash.wrapping_add(STEP) ^ u64::from(byte)));
        let state =
            parts.iter().fold(named, |hash, part| mix(hash.wrapping_add(STEP) ^ part.cast_unsigned()));
        Self { state }
    }

    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.state = self.state.wrapping_add(STEP);
        mix(self.state)
    }

    /// Uniform in `[0, 1)`.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in `0..n`; 0 where `n` is 0.
    pub fn below(&mut self, n: usize) -> usize {
        // The high half of a 64 x 64 bit product is the number scaled down; its bias is below n / 2^64.
        let wide = u128::from(self.bits()) * n as u128;
        usize::try_from(wide >> 64).unwrap_or(0)
    }

    /// Uniform in `low..=high`.
    pub fn between(&mut self, low: i32, high: i32) -> i32 {
        let span = usize::try_from(i64::from(high) - i64::from(low) + 1).unwrap_or(0);
        low + i32::try_from(self.below(span)).unwrap_or(0)
    }

    /// True with this probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// Normal, by Box and Muller (1958); one of the pair is thrown away.
    pub fn normal(&mut self, mean: f64, sd: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        mean + sd * radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// Exponential with this mean.
    pub fn exponential(&mut self, mean: f64) -> f64 {
        -mean * (1.0 - self.unit()).ln()
    }

    /// One of a list.
    ///
    /// # Panics
    /// Where the list is empty.
    pub fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        let at = self.below(from.len());
        &from[at]
    }

    /// One of a list of things and their weights.
    ///
    /// # Panics
    /// Where the list is empty.
    pub fn weighted<'a, T>(&mut self, from: &'a [(T, f64)]) -> &'a T {
        let mut left = self.unit() * from.iter().map(|(_, weight)| weight).sum::<f64>();
        for (thing, weight) in from {
            left -= weight;
            if left < 0.0 {
                return thing;
            }
        }
        &from[from.len() - 1].0
    }

    /// Brings a list into random order (Fisher and Yates).
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for end in (1..list.len()).rev() {
            let at = self.below(end + 1);
            list.swap(at, end);
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    /// The first outputs of `SplitMix64` for seed 1234567, as given with the algorithm's public-domain
    /// reference source (Vigna 2015, splitmix64.c) and widely repeated.
    #[test]
    fn the_reference_sequence_is_met() {
        let mut random = Random { state: 1_234_567 };
        let drawn: Vec<u64> = (0..5).map(|_| random.bits()).collect();
        assert_eq!(
            drawn,
            [
                6_457_827_717_110_365_317,
                3_203_168_211_198_807_973,
                9_817_491_932_198_370_423,
                4_593_380_528_125_082_431,
                16_408_922_859_458_223_821
            ]
        );
    }

    #[test]
    fn streams_of_other_names_numbers_or_seeds_differ() {
        let first = |seed, name, parts: &[i64]| Random::stream(seed, name, parts).bits();
        assert_eq!(first(1, "weather", &[2]), first(1, "weather", &[2]));
        let all = [
            first(1, "weather", &[2]),
            first(1, "weather", &[3]),
            first(1, "weather", &[2, 0]),
            first(1, "people", &[2]),
            first(2, "weather", &[2]),
        ];
        for (at, one) in all.iter().enumerate() {
            assert!(!all[..at].contains(one), "{all:?}");
        }
    }

    #[test]
    fn the_normal_draws_have_the_mean_and_spread_asked_for() {
        let mut random = Random::stream(7, "normal", &[]);
        let draws: Vec<f64> = (0..40_000).map(|_| random.normal(3.0, 0.5)).collect();
        let n = draws.len() as f64;
        let mean = draws.iter().sum::<f64>() / n;
        let sd = (draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt();
        // Four standard errors: 0.5 / 200 for the mean, 0.5 / sqrt(2 x 40000) for the spread.
        assert!((mean - 3.0).abs() < 4.0 * 0.0025, "{mean}");
        assert!((sd - 0.5).abs() < 4.0 * 0.001_77, "{sd}");
    }

    #[test]
    fn draws_stay_within_their_bounds_and_reach_them() {
        let mut random = Random::stream(7, "bounds", &[]);
        let mut seen = [0; 7];
        for _ in 0..7_000 {
            seen[usize::try_from(random.between(-3, 3) + 3).unwrap()] += 1;
        }
        assert!(seen.iter().all(|&count| (850..1150).contains(&count)), "{seen:?}");
        let mut list: Vec<usize> = (0..50).collect();
        random.shuffle(&mut list);
        assert!(!list.is_sorted());
        list.sort_unstable();
        assert!(list.into_iter().eq(0..50));
    }
}
