//! Inbreeding of all in a made-up society: 20 generations, parents from the two generations before with a few
//! favourites, a quarter without pollen parent, one in twenty a sport.
#![allow(missing_docs, clippy::unwrap_used, clippy::cast_possible_truncation, reason = "bench code")]
#![allow(clippy::cast_sign_loss, reason = "bench code")]

use criterion::{Criterion, criterion_group, criterion_main};
use storksbill_pedigree::{Individual, Origin, Pedigree};

struct Lcg(u64);

impl Lcg {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

fn society(count: u64) -> Vec<Individual> {
    let mut lcg = Lcg(1);
    let generation = (count / 20).max(1);
    (0..count)
        .map(|id| {
            let upto = (id / generation) * generation;
            let from = upto.saturating_sub(2 * generation);
            let mut parent = || from + (lcg.unit().powi(3) * (upto - from) as f64) as u64;
            let (seed, pollen) = (parent(), parent());
            let kind = lcg.unit();
            let origin = if upto == 0 {
                Origin::Founder
            } else if kind < 0.05 {
                Origin::sport(seed)
            } else {
                Origin::cross(Some(seed), (kind > 0.30).then_some(pollen))
            };
            Individual::new(id, origin)
        })
        .collect()
}

fn benches(c: &mut Criterion) {
    let records = society(10_000);
    let mut group = c.benchmark_group("pedigree of 10000");
    group.sample_size(10);
    group.bench_function("inbreeding of all", |b| b.iter(|| Pedigree::build(&records).unwrap()));
    let pedigree = Pedigree::build(&records).unwrap();
    let last = 9_999;
    group.bench_function("one kinship", |b| b.iter(|| pedigree.kinship(last, last - 1).unwrap()));
    group.bench_function("one to all", |b| b.iter(|| pedigree.kinship_to_all(last).unwrap()));
    group.finish();
}

criterion_group!(all, benches);
criterion_main!(all);
