//! Charts: 31 boxes of ancestors (goal 0.5 ms), 1,000 plants with their relations (goal 50 ms).
#![allow(missing_docs, clippy::unwrap_used, reason = "bench code")]

use criterion::{Criterion, criterion_group, criterion_main};
use storksbill_pedigree::drawing::{Descent, Plant, ancestor_chart, descendant_chart};

fn plant(at: usize, descent: Descent) -> Plant {
    Plant {
        label: format!("Merrow Seedling {at}"),
        detail: "zonal, 1987".to_owned(),
        inbreeding_per_mille: Some(125),
        descent,
    }
}

fn cross(seed_parent: usize, pollen_parent: usize) -> Descent {
    Descent::Cross { seed_parent: Some(seed_parent), pollen_parent: Some(pollen_parent) }
}

/// Parents among the 100 plants before, in steps of no pattern.
fn society(count: usize) -> Vec<Plant> {
    let mut state = 1u64;
    let mut below = |most: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from((state >> 33) % most as u64).unwrap()
    };
    let mut parent = |at: usize| at - 1 - below(at.min(100));
    (0..count)
        .map(|at| plant(at, if at < 20 { Descent::Unknown } else { cross(parent(at), parent(at)) }))
        .collect()
}

fn charts(c: &mut Criterion) {
    let full: Vec<Plant> = (0..31)
        .map(|at| plant(at, if at < 15 { cross(2 * at + 1, 2 * at + 2) } else { Descent::Unknown }))
        .collect();
    c.bench_function("ancestors/31", |b| b.iter(|| ancestor_chart(&full, 0, 5).unwrap()));
    let all = society(1_000);
    c.bench_function("descendants/1000", |b| b.iter(|| descendant_chart(&all, "All").unwrap()));
}

criterion_group!(benches, charts);
criterion_main!(benches);
