//! A swap round of many members through HTTP: from frozen to proposed, and the time an answer takes.
//!
//! `cargo bench -p storksbill-tests --bench rounds [-- MEMBERS]`; with `TEST_DATABASE_URL` on `PostgreSQL`.
//! Members offer four cuttings of cultivars drawn with few favourites and many rarities, and want six; everybody
//! posts, so any two may meet.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a measurement prints its table, and stops where anything fails"
)]

use std::time::{Duration, Instant};

use diesel::prelude::*;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill::jobs::run_waiting;
use storksbill_db::rows::swap_terms::{self, Terms};
use storksbill_db::rows::swaps::{self, Offer, Want};
use storksbill_db::schema::{cultivars, members};
use storksbill_domain::ids::{CultivarId, MemberId, OfferId, WantId};
use storksbill_domain::words::{Listing, WantForm};
use storksbill_tests::{Actor, TestApp};

const CULTIVARS: usize = 300;

/// Linear congruential generator with the multiplier of Knuth, The Art of Computer Programming 2, 3.3.4.
struct Generator(u64);

impl Generator {
    fn cultivar(&mut self) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let unit = (self.0 >> 11) as f64 / (1_u64 << 53) as f64;
        (unit * unit * CULTIVARS as f64) as usize
    }

    /// So many different ones.
    fn cultivars(&mut self, count: usize) -> Vec<usize> {
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

async fn society_of(count: usize) -> (TestApp, Vec<Actor>) {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let mut people = Vec::with_capacity(count);
    for n in 0..count {
        people.push(society.member(&format!("Grower {n}")).await);
    }
    let ids: Vec<MemberId> = people.iter().map(Actor::id).collect();
    let (now, today) = (society.clock.now().naive_utc(), society.clock.today());
    society
        .write(move |conn| {
            diesel::update(members::table).set(members::region_id.eq(region)).execute(conn)?;
            let kinds: Vec<CultivarId> = (0..CULTIVARS).map(|_| CultivarId::fresh()).collect();
            for (n, id) in kinds.iter().enumerate() {
                let kind = (
                    cultivars::id.eq(*id),
                    cultivars::name.eq(format!("Kind {n}")),
                    cultivars::name_key.eq(format!("kind {n}")),
                    cultivars::plant_group.eq("zonal"),
                    cultivars::status.eq("named"),
                    cultivars::protected.eq(false),
                    cultivars::visibility.eq("society"),
                    cultivars::origin.eq("unknown"),
                    cultivars::chromosomes_about.eq(false),
                    cultivars::version.eq(1),
                    cultivars::created_at.eq(now),
                );
                diesel::insert_into(cultivars::table).values(kind).execute(conn)?;
            }
            let mut generator = Generator(2026);
            for member_id in &ids {
                swap_terms::insert(conn, &Terms { by_post: true, version: 1, ..Terms::usual(*member_id) })?;
                let drawn = generator.cultivars(10);
                for (how_many, kind) in [1, 2, 1, 2].into_iter().zip(&drawn[..4]) {
                    let offer = Offer {
                        id: OfferId::fresh(),
                        member_id: *member_id,
                        cultivar_id: kinds[*kind],
                        plant_id: None,
                        how_many,
                        promised: 0,
                        note: None,
                        listing: Listing::Open,
                        version: 1,
                        created_at: now,
                        health_declared_on: Some(today),
                        gift: false,
                    };
                    swaps::insert_offer(conn, &offer)?;
                }
                for (rank, kind) in (1..).zip(&drawn[4..]) {
                    let want = Want {
                        id: WantId::fresh(),
                        member_id: *member_id,
                        cultivar_id: Some(kinds[*kind]),
                        plant_group: None,
                        form: WantForm::Cultivar,
                        want_rank: rank,
                        promised: false,
                        note: None,
                        listing: Listing::Open,
                        version: 1,
                        created_at: now,
                    };
                    swaps::insert_want(conn, &want)?;
                }
            }
            Ok(())
        })
        .await;
    (society, people)
}

#[tokio::main]
async fn main() {
    let count = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(500);
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("{count} members, {CULTIVARS} cultivars; load before: {}", load.trim());
    for (mode, asked) in [
        ("meeting", json!({"mode": "meeting", "meets_on": "2026-05-16"})),
        ("by post", json!({"mode": "by_post"})),
    ] {
        let (society, people) = society_of(count).await;
        let officer = society.registrar("Ines Holm").await;
        let path = officer.post("/api/v1/swaps/rounds", asked).await.expect(201).header("location");
        if mode == "meeting" {
            for actor in &people {
                actor.put(&format!("{path}/attendance/me"), json!({})).await.expect(204);
            }
        }
        let started = Instant::now();
        let freeze = officer.request(Method::POST, &format!("{path}/freeze")).header("if-match", "*");
        freeze.send().await.expect(202);
        let frozen = started.elapsed();
        let app = society.app.clone();
        let work = tokio::spawn(async move { run_waiting(&app).await.unwrap() });
        let round = loop {
            let round = officer.get(&path).await.expect(200).json();
            if round["round"]["state"] == "proposed" {
                break round;
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        };
        let proposed = started.elapsed();
        work.await.unwrap();
        let told = &round["round"];
        println!(
            "{mode}: frozen in {:.2} s, proposed after {:.2} s, reasons after {:.2} s; {} of {} wants served, bound {}",
            frozen.as_secs_f64(),
            proposed.as_secs_f64(),
            started.elapsed().as_secs_f64(),
            told["wants_served"],
            told["wants"],
            told["wants_bound"],
        );
        let why = officer.get(&format!("{path}/why")).await.expect(200).json();
        for aim in why["aims"].as_array().unwrap() {
            println!("  {}: {} of at most {}", aim["aim"], aim["value"], aim["bound"]);
        }
        answers(&society, &people, &round).await;
    }
}

/// Every party of every ring accepts, one after another.
async fn answers(society: &TestApp, people: &[Actor], round: &Value) {
    let mut times = Vec::new();
    for ring in round["rings"].as_array().unwrap() {
        let path = format!("/api/v1/swaps/rings/{}/answer", ring["id"].as_str().unwrap());
        for partner in ring["partners"].as_array().unwrap() {
            let who = partner["member_id"].as_str().unwrap();
            let actor = people.iter().find(|actor| actor.id().as_str() == who).unwrap();
            let actor = society.again(actor).await;
            let sent = Instant::now();
            actor.post(&path, json!({"answer": "accepted"})).await.expect(200);
            times.push(sent.elapsed().as_secs_f64() * 1e3);
        }
    }
    times.sort_by(f64::total_cmp);
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize];
    println!("{} answers: half within {:.2} ms, 99 % within {:.2} ms", times.len(), at(0.5), at(0.99));
}
