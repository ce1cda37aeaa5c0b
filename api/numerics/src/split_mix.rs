//! Numbers that look random and are the same for the same seed.
//!
//! Source: G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.

/// `SplitMix64`; the seed is its state.
#[derive(Debug, Clone)]
pub struct SplitMix(pub u64);

impl SplitMix {
    /// The next 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 up to but not including 1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// From 0 up to but not including `bound`. The bias of the remainder is below 2^-55 for bounds as small as
    /// counts of things.
    pub fn below(&mut self, bound: usize) -> usize {
        usize::try_from(self.bits() % bound.max(1) as u64).unwrap_or(0)
    }
}
