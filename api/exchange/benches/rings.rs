//! Time of a round and of listing rings on generated markets (made up: members in a unit square, 1 to 6 offers
//! and 1 to 10 wants drawn from a Zipf-like list of cultivars, no hand-over further than 0.6).
#![allow(missing_docs, clippy::unwrap_used, clippy::cast_possible_truncation, reason = "bench code")]
#![allow(clippy::indexing_slicing, clippy::cast_sign_loss, reason = "bench code")]

use std::time::Instant;

use criterion::{Criterion, SamplingMode, criterion_group, criterion_main};
use storksbill_exchange::{
    Giver, Market, MaxRing, Member, Offer, Preset, Reason, Rules, Want, Worth, count_rings, solve,
};

struct Lcg(u64);

impl Lcg {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, low: u16, high: u16) -> u16 {
        low + (self.unit() * f64::from(high - low + 1)) as u16
    }
}

fn market(members: u64, seed: u64, single: bool) -> Market {
    let mut lcg = Lcg(seed);
    let kinds = (2 * members).max(60);
    let mut cumulative = Vec::new();
    let mut sum = 0.0;
    for kind in 1..=kinds {
        sum += (kind as f64).powf(-0.8);
        cumulative.push(sum);
    }
    let (mut people, mut offers, mut wants, mut at) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for member in 0..members {
        at.push((lcg.unit(), lcg.unit()));
        let mut seen: Vec<u64> = Vec::new();
        let mut kind = |lcg: &mut Lcg| {
            let place = lcg.unit() * sum;
            let kind = cumulative.partition_point(|&upto| upto < place) as u64;
            let new = !seen.contains(&kind);
            seen.push(kind);
            new.then_some(kind)
        };
        for _ in 0..lcg.between(1, 6) {
            let quantity = if single { 1 } else { lcg.between(1, 3) };
            if let Some(item) = kind(&mut lcg) {
                offers.push(Offer { id: offers.len() as u64, member, item, quantity });
            }
        }
        let mut rank = 0;
        for _ in 0..lcg.between(1, 10) {
            if let Some(item) = kind(&mut lcg) {
                rank += 1;
                wants.push(Want::one(wants.len() as u64, member, item, rank));
            }
        }
        let (give, receive) = if single { (1, 1) } else { (lcg.between(1, 4), lcg.between(1, 4)) };
        people.push(Member::new(member, give, receive));
    }
    Market::build(&people, &offers, &wants, |offer, want| {
        let (a, b) = (at[offer.member as usize], at[want.member as usize]);
        if (a.0 - b.0).powi(2) + (a.1 - b.1).powi(2) > 0.36 {
            Err(Reason(1))
        } else {
            Ok(Worth::by_rank(offer, want))
        }
    })
    .unwrap()
}

/// Dearest wishes first: one linear level to compare with any solver, and one more.
fn rules(max_chain: u8) -> Rules {
    Rules { preset: Preset::Wishes, max_chain, ..Rules::default() }
}

/// Small sizes many times, large ones once: their results, and the time of each.
fn rounds(c: &mut Criterion) {
    let mut group = c.benchmark_group("round");
    group.sample_size(10).sampling_mode(SamplingMode::Flat);
    for single in [true, false] {
        let market = market(64, 1, single);
        let name = format!("64 {}", kind(single));
        report(&name, &market, &rules(0));
        group.bench_function(&name, |b| b.iter(|| solve(&market, &rules(0))));
    }
    group.finish();
    for members in [256, 512, 1024] {
        for single in [true, false] {
            let market = market(members, 1, single);
            report(&format!("{members} {}", kind(single)), &market, &rules(0));
            let count = Rules { preset: Preset::Count, ..rules(0) };
            report(&format!("{members} {}, count", kind(single)), &market, &count);
        }
    }
    let givers: Vec<Giver> = (0..8).map(|at| Giver { member: 31 * at + 5, starts: 1 }).collect();
    let market = market(256, 1, false).with_givers(&givers).unwrap();
    report("256 several each, chains of 4", &market, &rules(4));
}

fn kind(single: bool) -> &'static str {
    if single { "one each" } else { "several each" }
}

#[allow(clippy::print_stdout, reason = "the result beside its time")]
fn report(name: &str, market: &Market, rules: &Rules) {
    let started = Instant::now();
    let plan = solve(market, rules);
    println!("{name}: {:.2} s, {} rings", started.elapsed().as_secs_f64(), plan.spent.rings);
    for level in &plan.levels {
        let gap = 100.0 * (level.bound - level.value) as f64 / level.bound.max(1) as f64;
        println!("  {:?} {} of at most {} ({gap:.3} %)", level.name, level.value, level.bound);
    }
}

fn listing(c: &mut Criterion) {
    for members in [1024, 2048] {
        let market = market(members, 1, true);
        c.bench_function(&format!("list rings {members}"), |b| {
            b.iter(|| count_rings(&market, MaxRing::Three));
        });
    }
}

criterion_group!(benches, rounds, listing);
criterion_main!(benches);
