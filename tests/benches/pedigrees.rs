//! Pedigrees of a large society through HTTP: what a cross would give, charts, and edits seen in the next answer.
//!
//! `cargo bench -p storksbill-tests --bench pedigrees [-- CULTIVARS]`; with `TEST_DATABASE_URL` on `PostgreSQL`.
//! 100,000 cultivars of 20 generations when not given: parents from the two generations before with a few
//! favourites, a quarter without pollen parent, one in twenty a sport. Beside each figure stands the time of
//! `GET /members/me`, which asks nothing of the pedigree.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    reason = "a measurement prints its table, and stops where anything fails"
)]

use std::time::Instant;

use serde_json::json;
use storksbill_db::rows::cultivars::{self, Cultivar};
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_domain::words::{CultivarStatus, Origin, PlantGroup, Visibility};
use storksbill_tests::{Actor, TestApp};

const GENERATIONS: usize = 20;
const ASKED: usize = 400;

/// G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
struct SplitMix(u64);

impl SplitMix {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, count: usize) -> usize {
        (self.unit() * count as f64) as usize
    }
}

fn raised(count: usize, by: MemberId, now: chrono::NaiveDateTime) -> Vec<Cultivar> {
    let mut random = SplitMix(1);
    let ids: Vec<CultivarId> = (0..count).map(|_| CultivarId::fresh()).collect();
    let generation = (count / GENERATIONS).max(1);
    (0..count)
        .map(|n| {
            let upto = (n / generation) * generation;
            let from = upto.saturating_sub(2 * generation);
            let mut parent = || ids[from + (random.unit().powi(3) * (upto - from) as f64) as usize];
            let (one, other) = if upto == 0 { (None, None) } else { (Some(parent()), Some(parent())) };
            let kind = random.unit();
            let sport = kind < 0.05 && upto > 0;
            let (seed, pollen) = (one.filter(|_| !sport), other.filter(|_| !sport && kind > 0.30));
            Cultivar {
                id: ids[n],
                name: format!("Merrow {n}"),
                name_key: format!("merrow {n}"),
                plant_group: PlantGroup::ALL[n % PlantGroup::ALL.len()],
                raiser: None,
                raised_year: Some(1900 + (n / generation) as i32 * 6),
                status: CultivarStatus::Named,
                protected: false,
                visibility: Visibility::Society,
                origin: match (sport, seed) {
                    (true, _) => Origin::Sport,
                    (false, Some(_)) => Origin::Cross,
                    (false, None) => Origin::Unknown,
                },
                seed_parent_id: seed,
                pollen_parent_id: pollen,
                source_id: one.filter(|_| sport),
                seed_gamete: None,
                seed_gamete_sets: None,
                seed_gamete_lambda: None,
                pollen_gamete: None,
                pollen_gamete_sets: None,
                pollen_gamete_lambda: None,
                sport_layers: None,
                reverts_to_id: None,
                sets: None,
                chromosomes: None,
                chromosomes_about: false,
                merged_into_id: None,
                notes: None,
                entered_by: Some(by),
                version: 1,
                created_at: now,
            }
        })
        .collect()
}

async fn timed(actor: &Actor, what: &str, paths: &[String]) {
    let mut times = Vec::new();
    for path in paths {
        let sent = Instant::now();
        actor.get(path).await.expect(200);
        times.push(sent.elapsed().as_secs_f64() * 1e3);
    }
    report(what, times);
}

fn report(what: &str, mut times: Vec<f64>) {
    times.sort_by(f64::total_cmp);
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize];
    println!("{what:42} half within {:6.2} ms, 99 of 100 within {:6.2} ms", at(0.5), at(0.99));
}

#[tokio::main]
async fn main() {
    let count = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(100_000);
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("{count} cultivars; load before: {}", load.trim());
    let society = TestApp::start().await;
    let edda = society.registrar("Edda Wick").await;
    let all = raised(count, edda.id(), society.clock.now().naive_utc());
    let ids: Vec<CultivarId> = all.iter().map(|cultivar| cultivar.id).collect();
    for part in all.chunks(5_000) {
        let part = part.to_vec();
        society.write(move |conn| cultivars::store_all(conn, &part, &[], &[])).await;
    }
    let first = Instant::now();
    edda.get(&format!("/api/v1/pedigrees/{}", ids[0])).await.expect(200);
    println!("first question, which reads everybody: {:.2} s", first.elapsed().as_secs_f64());
    let mut random = SplitMix(7);
    let mut one = || ids[random.below(ids.len())];
    let pairs: Vec<(CultivarId, CultivarId)> = (0..ASKED).map(|_| (one(), one())).collect();
    let of =
        |address: &dyn Fn(&(CultivarId, CultivarId)) -> String| pairs.iter().map(address).collect::<Vec<_>>();
    timed(&edda, "GET /members/me, for comparison", &vec!["/api/v1/members/me".to_owned(); ASKED]).await;
    let mut times = Vec::new();
    for (seed, pollen) in &pairs {
        let asked = json!({"seed_parent_id": seed, "pollen_parents": [{"individual_id": pollen}]});
        let sent = Instant::now();
        edda.post("/api/v1/pedigrees/prospect", asked).await.expect(200);
        times.push(sent.elapsed().as_secs_f64() * 1e3);
    }
    report("what a cross would give", times);
    timed(&edda, "kinship of two", &of(&|(a, b)| format!("/api/v1/pedigrees/{a}/kinship/{b}"))).await;
    timed(&edda, "chart of five generations", &of(&|(a, _)| format!("/api/v1/pedigrees/{a}/chart"))).await;
    timed(&edda, "pedigree of five generations", &of(&|(a, _)| format!("/api/v1/pedigrees/{a}"))).await;
    let few = &pairs[..20];
    let some =
        |address: &dyn Fn(&(CultivarId, CultivarId)) -> String| few.iter().map(address).collect::<Vec<_>>();
    timed(&edda, "relatives", &some(&|(a, _)| format!("/api/v1/pedigrees/{a}/kinship"))).await;
    timed(&edda, "mates among all", &some(&|(a, _)| format!("/api/v1/pedigrees/{a}/mates"))).await;
    timed(
        &edda,
        "descendants in an outline",
        &some(&|(a, _)| format!("/api/v1/pedigrees/{a}/descendants?as=dot")),
    )
    .await;
    let mut times = Vec::new();
    for (n, (seed, pollen)) in few.iter().enumerate() {
        let body = json!({
            "name": format!("New {n}"), "plant_group": "regal", "status": "seedling", "seed_parent_id": seed,
            "pollen_parent_id": pollen
        });
        let id = edda.post("/api/v1/cultivars", body).await.expect(201).id();
        let sent = Instant::now();
        edda.get(&format!("/api/v1/pedigrees/{id}")).await.expect(200);
        times.push(sent.elapsed().as_secs_f64() * 1e3);
    }
    report("first answer after a new seedling", times);
    let mut times = Vec::new();
    // Children of founders: half the society descends from each.
    for n in 0..10 {
        let id = ids[ids.len() / GENERATIONS + n];
        let path = format!("/api/v1/cultivars/{id}");
        let body = json!({"pollen_parent_id": ids[n], "seed_parent_id": ids[n + 1], "source_id": null});
        edda.patch(&path, "\"1\"", body).await.expect(200);
        let sent = Instant::now();
        edda.get(&format!("/api/v1/pedigrees/{}", ids[ids.len() - 1])).await.expect(200);
        times.push(sent.elapsed().as_secs_f64() * 1e3);
    }
    report("first answer after the edit of an old cross", times);
}
