//! Inbreeding of all in made-up pedigrees, and questions to them.
#![allow(missing_docs, clippy::unwrap_used, reason = "bench code")]

mod generated;

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use storksbill_pedigree::{Gamete, Individual, Origin, Parent, Pedigree, Ploidy};

const COUNT: u64 = 100_000;

/// The same pedigree of tetraploids with double reduction, every pollen parent one of two.
fn tetraploid(records: impl Iterator<Item = Individual>) -> impl Iterator<Item = Individual> {
    records.map(|record| match record.origin {
        Origin::Founder => Individual { ploidy: Ploidy::sets(4), ..record },
        Origin::Cross { seed, pollen } => {
            let reduced =
                |parent: Parent| Parent { gamete: Gamete::Reduced { double_reduction: 0.1 }, ..parent };
            Individual::new(record.id, Origin::Cross { seed: reduced(seed), pollen: reduced(pollen) })
        }
        _ => record,
    })
}

fn benches(c: &mut Criterion) {
    let mut group = c.benchmark_group("inbreeding of all, 100000");
    group.sample_size(10);
    group.bench_function("society", |b| b.iter(|| Pedigree::build(generated::society(COUNT)).unwrap()));
    group.bench_function("society of tetraploids", |b| {
        b.iter(|| Pedigree::build(tetraploid(generated::society(COUNT))).unwrap());
    });
    group.bench_function("uniform", |b| b.iter(|| Pedigree::build(generated::uniform(COUNT)).unwrap()));
    group.bench_function("window", |b| b.iter(|| Pedigree::build(generated::window(COUNT)).unwrap()));
    group.finish();

    let pedigree = Pedigree::build(generated::society(COUNT)).unwrap();
    let last = COUNT - 1;
    let seedling = || Individual::new(COUNT, Origin::cross(Some(last), Some(last - 30)));
    let recent: Vec<u64> = (COUNT - 500..COUNT).collect();
    let mut group = c.benchmark_group("society of 100000");
    group.sample_size(20);
    group.bench_function("one kinship", |b| b.iter(|| pedigree.kinship(last, last - 1).unwrap()));
    group.bench_function("one to all", |b| b.iter(|| pedigree.kinship_to_all(last).unwrap()));
    group.bench_function("mates among 500", |b| b.iter(|| pedigree.mates(last, &recent).unwrap()));
    group.bench_function("ancestors that explain 500", |b| {
        b.iter(|| pedigree.marginal_contributions(&recent).unwrap());
    });
    // A first one makes room: copies are made without any.
    let with_room = || {
        let mut grown = pedigree.clone();
        grown.add(Individual::new(COUNT + 1, Origin::cross(Some(last - 1), Some(last - 2)))).unwrap();
        grown
    };
    group.bench_function("one seedling added", |b| {
        b.iter_batched_ref(with_room, |grown| grown.add(seedling()).unwrap(), BatchSize::LargeInput);
    });
    group.bench_function("an old cross edited", |b| {
        let edited = || Individual::new(COUNT / 2, Origin::cross(Some(3), Some(5)));
        b.iter_batched_ref(|| pedigree.clone(), |grown| grown.edit(edited()).unwrap(), BatchSize::LargeInput);
    });
    group.bench_function("would it be a loop", |b| b.iter(|| pedigree.would_cycle(5, &[last, last - 1])));
    group.finish();
}

criterion_group!(all, benches);
criterion_main!(all);
