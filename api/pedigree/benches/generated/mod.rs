//! Made-up pedigrees.
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    reason = "code of benches and tests"
)]

use storksbill_pedigree::{Individual, Origin};

/// G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
pub(crate) struct SplitMix(pub(crate) u64);

impl SplitMix {
    pub(crate) fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }
}

/// A society: 20 generations, parents from the two before with a few favourites, a quarter without pollen parent,
/// one in twenty a sport.
pub(crate) fn society(count: u64) -> impl Iterator<Item = Individual> {
    let mut random = SplitMix(1);
    let generation = (count / 20).max(1);
    (0..count).map(move |id| {
        let upto = (id / generation) * generation;
        let from = upto.saturating_sub(2 * generation);
        let mut parent = || from + (random.unit().powi(3) * (upto - from) as f64) as u64;
        let (seed, pollen) = (parent(), parent());
        let kind = random.unit();
        Individual::new(
            id,
            if upto == 0 {
                Origin::Founder
            } else if kind < 0.05 {
                Origin::sport(seed)
            } else {
                Origin::cross(Some(seed), (kind > 0.30).then_some(pollen))
            },
        )
    })
}

/// Parents uniform over all earlier.
pub(crate) fn uniform(count: u64) -> impl Iterator<Item = Individual> {
    window_of(count, count)
}

/// Parents uniform over the twentieth part before: soon everybody descends from everybody.
pub(crate) fn window(count: u64) -> impl Iterator<Item = Individual> {
    window_of(count, (count / 20).max(2))
}

fn window_of(count: u64, width: u64) -> impl Iterator<Item = Individual> {
    let mut random = SplitMix(1);
    (0..count).map(move |id| {
        let from = id.saturating_sub(width);
        let mut parent = || from + (random.unit() * (id - from) as f64) as u64;
        let origin = if id < 2 { Origin::Founder } else { Origin::cross(Some(parent()), Some(parent())) };
        Individual::new(id, origin)
    })
}
