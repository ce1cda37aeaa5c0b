//! What crosses give: the exact test of 200 seedlings in four classes, a ratio of four tetraploid loci, and the fit
//! in three levels of 60 seed parents with five crosses each.
#![allow(missing_docs, clippy::unwrap_used, reason = "bench code")]

use criterion::{Criterion, criterion_group, criterion_main};
use storksbill_pedigree::beta_binomial::{BetaBinomial, Trials};
use storksbill_pedigree::multinomial::{MOST_OUTCOMES, exact};
use storksbill_pedigree::nested::Nested;
use storksbill_pedigree::segregation::{Dose, Genotype, Meiosis, Parent, Rule, Stock, predict};
use storksbill_pedigree::{Fraction, Ratio};

fn crosses(c: &mut Criterion) {
    let ratio = Ratio::new(&[9, 3, 3, 1]).unwrap();
    c.bench_function("exact/200 of 4", |b| {
        b.iter(|| exact(&[110, 41, 38, 11], &ratio, MOST_OUTCOMES, 1).unwrap());
    });

    let parent = Parent {
        stock: Stock::Uniform(vec![Genotype::new("AAaa").unwrap(); 4]),
        meiosis: Meiosis::tetraploid(Fraction::new(1, 7).unwrap()),
    };
    let rules: Vec<Rule> = (0..4)
        .map(|locus| Rule::class(vec![Dose::exactly(0, 'A', locus)], "recessive"))
        .chain([Rule::class(vec![], "dominant")])
        .collect();
    c.bench_function("predict/4 tetraploid loci", |b| b.iter(|| predict(&parent, &parent, &rules).unwrap()));

    let mut state = 1u64;
    let mut below = |most: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) % most
    };
    let seed_parents: Vec<Vec<Trials>> = (0..60)
        .map(|_| {
            let most = 4 + below(30);
            (0..5).map(|_| Trials::new(below(most), 36).unwrap()).collect()
        })
        .collect();
    let start = BetaBinomial { alpha: 1.0, beta: 2.0 };
    let mut slow = c.benchmark_group("fit");
    slow.sample_size(10);
    slow.bench_function("three levels/60x5", |b| b.iter(|| Nested::fit(&seed_parents, start)));
    slow.finish();
}

criterion_group!(benches, crosses);
criterion_main!(benches);
