//! Time of a meeting on generated markets (made up: members in a unit square and three zones of plant health,
//! 1 to 6 offers of 1 to 3 cuttings and 1 to 10 wants drawn from a Zipf-like list of twice as many cultivars
//! as members, caps of 1 to 4, no hand-over further than 0.6 or to a stricter zone). `circulation` is one aim
//! (weight) on the network alone, `meeting` everything, `leximin` with fairness, `unlock` the worth of one
//! more offer.
//!
//! With `CIRCULATIONS=DIRECTORY` the networks are also written there, to be solved by others: `nodes arcs`,
//! then `from to capacity cost` for each arc, the cost being minus the profit.
#![allow(missing_docs, clippy::unwrap_used, clippy::cast_possible_truncation, reason = "bench code")]
#![allow(clippy::indexing_slicing, clippy::cast_sign_loss, reason = "bench code")]

use std::collections::BTreeMap;
use std::fmt::Write;

use criterion::{BatchSize, BenchmarkId, Criterion, criterion_group, criterion_main};
use storksbill_exchange::circulation::{Channel, Circulation};
use storksbill_exchange::{Market, MeetingRules, Member, Offer, Reason, Want, Worth, meet, unlock_meeting};

/// `SplitMix64` (Steele, Lea & Flood, OOPSLA 2014).
struct SplitMix(u64);

impl SplitMix {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn between(&mut self, low: u16, high: u16) -> u16 {
        low + (self.unit() * f64::from(high - low + 1)) as u16
    }
}

/// A member's place, their offers (item, quantity) and their wants in order of rank.
struct Grower {
    at: (f64, f64),
    zone: u8,
    offers: Vec<(u64, u16)>,
    wants: Vec<u64>,
    give: u16,
    receive: u16,
}

fn growers(members: u64) -> Vec<Grower> {
    let mut random = SplitMix(members);
    let kinds = (2 * members).max(60);
    let mut cumulative = Vec::new();
    let mut sum = 0.0;
    for kind in 1..=kinds {
        sum += (kind as f64).powf(-0.8);
        cumulative.push(sum);
    }
    let mut one = || {
        let kind = |random: &mut SplitMix| {
            let place = random.unit() * sum;
            cumulative.partition_point(|&upto| upto < place) as u64
        };
        let at = (random.unit(), random.unit());
        let zone = match random.unit() {
            place if place < 0.8 => 0,
            place if place < 0.95 => 1,
            _ => 2,
        };
        let mut offers: BTreeMap<u64, u16> = BTreeMap::new();
        for _ in 0..random.between(1, 6) {
            let item = kind(&mut random);
            offers.insert(item, random.between(1, 3));
        }
        let mut wants = Vec::new();
        for _ in 0..random.between(1, 10) {
            let item = kind(&mut random);
            if !wants.contains(&item) && !offers.contains_key(&item) {
                wants.push(item);
            }
        }
        let (give, receive) = (random.between(1, 4), random.between(1, 4));
        Grower { at, zone, offers: offers.into_iter().collect(), wants, give, receive }
    };
    (0..members).map(|_| one()).collect()
}

fn may_give(from: &Grower, to: &Grower) -> bool {
    let apart = (from.at.0 - to.at.0).powi(2) + (from.at.1 - to.at.1).powi(2);
    from.zone <= to.zone && apart <= 0.36
}

fn market(growers: &[Grower]) -> Market {
    let (mut members, mut offers, mut wants) = (Vec::new(), Vec::new(), Vec::new());
    for (id, grower) in (0..).zip(growers) {
        members.push(Member::new(id, grower.give, grower.receive));
        for &(item, quantity) in &grower.offers {
            offers.push(Offer { id: offers.len() as u64, member: id, item, quantity });
        }
        for (rank, &item) in (1..).zip(&grower.wants) {
            wants.push(Want::one(wants.len() as u64, id, item, rank));
        }
    }
    Market::build(&members, &offers, &wants, |offer, want| {
        let (from, to) = (&growers[offer.member as usize], &growers[want.member as usize]);
        if may_give(from, to) { Ok(Worth::by_rank(offer, want)) } else { Err(Reason(1)) }
    })
    .unwrap()
}

/// The network of a balanced meeting with the weights as profits; offers and wants nobody matches left out.
fn network(growers: &[Grower]) -> (usize, Vec<Channel>, Vec<i64>) {
    let mut by_item: BTreeMap<u64, Vec<(usize, u16)>> = BTreeMap::new();
    for (from, grower) in growers.iter().enumerate() {
        for &(item, quantity) in &grower.offers {
            by_item.entry(item).or_default().push((from, quantity));
        }
    }
    let mut arcs = Vec::new();
    let mut profits = Vec::new();
    let mut add = |from: usize, to: usize, capacity: u16, profit: i64| {
        arcs.push(Channel { from: from as u32, to: to as u32, capacity: i64::from(capacity) });
        profits.push(profit);
    };
    for (member, grower) in growers.iter().enumerate() {
        add(2 * member, 2 * member + 1, grower.give.min(grower.receive), 0);
    }
    let mut nodes = 2 * growers.len();
    let mut offer_nodes = BTreeMap::new();
    for (to, grower) in growers.iter().enumerate() {
        for (rank, item) in (0..).zip(&grower.wants) {
            let mut want = None;
            for &(from, quantity) in by_item.get(item).into_iter().flatten() {
                if from == to || !may_give(&growers[from], grower) {
                    continue;
                }
                let offer = *offer_nodes.entry((from, item)).or_insert_with(|| {
                    add(2 * from + 1, nodes, quantity, 0);
                    nodes += 1;
                    nodes - 1
                });
                let want = *want.get_or_insert_with(|| {
                    add(nodes, 2 * to, 1, 0);
                    nodes += 1;
                    nodes - 1
                });
                add(offer, want, 1, (100 - 5 * rank).max(5));
            }
        }
    }
    (nodes, arcs, profits)
}

fn write(members: u64, (nodes, arcs, profits): &(usize, Vec<Channel>, Vec<i64>)) {
    let Ok(directory) = std::env::var("CIRCULATIONS") else { return };
    let mut text = format!("{nodes} {}\n", arcs.len());
    for (arc, profit) in arcs.iter().zip(profits) {
        writeln!(text, "{} {} {} {}", arc.from, arc.to, arc.capacity, -profit).unwrap();
    }
    std::fs::write(format!("{directory}/{members}.txt"), text).unwrap();
}

fn meetings(c: &mut Criterion) {
    let mut group = c.benchmark_group("meeting");
    group.sample_size(10);
    for members in [64, 256, 512, 1024, 2048] {
        let growers = growers(members);
        let network = network(&growers);
        write(members, &network);
        let (nodes, arcs, profits) = network;
        group.bench_function(BenchmarkId::new("circulation", members), |b| {
            b.iter_batched(
                || arcs.clone(),
                |arcs| Circulation::new(nodes, arcs).unwrap().maximise(&profits).unwrap(),
                BatchSize::LargeInput,
            );
        });
        let market = market(&growers);
        group.bench_function(BenchmarkId::new("meeting", members), |b| {
            b.iter(|| meet(&market, MeetingRules::default()).unwrap());
        });
        group.bench_function(BenchmarkId::new("leximin", members), |b| {
            b.iter(|| meet(&market, MeetingRules { leximin: true }).unwrap());
        });
        group.bench_function(BenchmarkId::new("unlock", members), |b| {
            b.iter(|| unlock_meeting(&market).unwrap());
        });
    }
    group.finish();
}

criterion_group!(benches, meetings);
criterion_main!(benches);
