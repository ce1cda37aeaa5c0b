//! A round by post of a large society on a dense market, and what is told of it afterwards: 500 members who
//! offer four cultivars, one and two cuttings in turn, and want six, drawn from 300 with few favourites and many
//! rarities; everybody posts to everybody, so there are millions of rings of three.
//!
//! `cargo bench -p storksbill-exchange --bench society [-- MEMBERS]`. Every round is run once: it is work that is
//! counted and must not differ; the time is told beside it.
#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout, reason = "bench code")]
#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::indexing_slicing,
    reason = "bench code"
)]

use std::time::Instant;

use storksbill_exchange::{
    Giver, Market, MaxRing, Member, Offer, Plan, Preset, Rules, Want, Why, Work, Worth, check, count_rings,
    explain_ring, explain_want, rank_weight, replan, solve, unlock_by_post,
};

const CULTIVARS: usize = 300;
/// Cuttings a member gives and receives at most.
const MOST: u16 = 5;
const WORK: Work = Work { rings: 100_000, search: 40_000_000, tie_searches: 50 };
/// Work of one look at a ring, a want or a cultivar.
const CASE: Work = Work { rings: 20_000, search: 200_000, tie_searches: 0 };
/// Rings, wants and cultivars looked into.
const CASES: usize = 60;

/// Linear congruential generator with the multiplier of Knuth, The Art of Computer Programming 2, 3.3.4.
struct Generator(u64);

impl Generator {
    fn cultivar(&mut self) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let unit = (self.0 >> 11) as f64 / (1_u64 << 53) as f64;
        (unit * unit * CULTIVARS as f64) as u64
    }

    /// So many different ones.
    fn cultivars(&mut self, count: usize) -> Vec<u64> {
        let mut drawn = Vec::with_capacity(count);
        while drawn.len() < count {
            let one = self.cultivar();
            if !drawn.contains(&one) {
                drawn.push(one);
            }
        }
        drawn
    }
}

/// With `gifts`, every tenth member offers what they have as gifts: through a second self who receives nothing.
fn market(count: u64, gifts: bool) -> Market {
    let mut generator = Generator(2026);
    let (mut members, mut offers, mut wants, mut givers) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for member in 0..count {
        members.push(Member::new(member, MOST, MOST));
        let drawn = generator.cultivars(10);
        let gives = if gifts && member % 10 == 0 { member + count } else { member };
        for (quantity, &item) in [1, 2, 1, 2].into_iter().zip(&drawn[..4]) {
            offers.push(Offer { id: offers.len() as u64, member: gives, item, quantity });
        }
        if gives != member {
            members.push(Member::new(gives, 6, 0));
            givers.push(Giver { member: gives, starts: 6 });
        }
        for (rank, &item) in (1..).zip(&drawn[4..]) {
            wants.push(Want::one(wants.len() as u64, member, item, rank));
        }
    }
    let mut holders = [0u32; CULTIVARS];
    for offer in &offers {
        holders[offer.item as usize] += 1;
    }
    let worth = |offer: &Offer, want: &Want| {
        let rarity = match holders[offer.item as usize] {
            ..=1 => 6,
            2 => 3,
            3..=5 => 1,
            _ => 0,
        };
        Ok(Worth { weight: rank_weight(want.rank_of(offer.item).unwrap()), rarity })
    };
    Market::build(&members, &offers, &wants, worth).and_then(|market| market.with_givers(&givers)).unwrap()
}

fn told(name: &str, started: Instant, plan: &Plan) {
    println!("{name}: {:.2} s, {:?} {:?}", started.elapsed().as_secs_f64(), plan.stopped, plan.spent);
    for level in &plan.levels {
        let gap = 100.0 * (level.bound - level.value) as f64 / level.bound.abs().max(1) as f64;
        println!(
            "  {:?}: {} of at most {} ({gap:.3} %), proved: {}",
            level.name, level.value, level.bound, level.proved
        );
    }
}

fn main() {
    let count = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(500);
    for gifts in [false, true] {
        let started = Instant::now();
        let market = market(count, gifts);
        println!(
            "{count} members, gifts: {gifts}: {} hand-overs, built in {:.2} s",
            market.hand_overs(),
            started.elapsed().as_secs_f64()
        );
        let started = Instant::now();
        let rings = count_rings(&market, MaxRing::Three);
        println!("{rings} rings, counted in {:.2} s", started.elapsed().as_secs_f64());
        let rules = Rules { preset: Preset::Society, max_chain: 4, work: WORK, ..Rules::default() };
        let started = Instant::now();
        let plan = solve(&market, &rules);
        told("round", started, &plan);
        let started = Instant::now();
        println!("check {:?} in {:.2} s", check(&market, &plan), started.elapsed().as_secs_f64());
        looked_into(&market, &plan);
    }
}

fn looked_into(market: &Market, plan: &Plan) {
    let rules = Rules { work: CASE, ..plan.rules };
    let started = Instant::now();
    let dropped: Vec<u64> = market.members().iter().map(|member| member.id).step_by(50).collect();
    let again = replan(market, plan, &dropped, &plan.rules, &mut || false);
    told(&format!("replan, {} kept", again.kept.len() + again.kept_chains.len()), started, &again.fresh);
    let started = Instant::now();
    let rings = plan.rings.len().min(CASES);
    let needed =
        (0..rings).filter(|&at| explain_ring(market, plan, at, &CASE).unwrap().without.is_some()).count();
    println!("{rings} rings explained in {:.2} s, {needed} missed", started.elapsed().as_secs_f64());
    let started = Instant::now();
    let open = plan.unmet.iter().filter(|unmet| unmet.why == Why::BetterRing).take(CASES);
    let cases: Vec<_> =
        open.map(|unmet| explain_want(market, plan, unmet.want, &CASE).unwrap().forced).collect();
    println!("{} wants explained in {:.2} s", cases.len(), started.elapsed().as_secs_f64());
    let started = Instant::now();
    let items: Vec<u64> = (0..CASES as u64).collect();
    let unlocks = unlock_by_post(market, &rules, &items).unwrap();
    println!(
        "{} of {CASES} cultivars of use, told in {:.2} s",
        unlocks.len(),
        started.elapsed().as_secs_f64()
    );
}
