//! The cutting swap: offers, wants, rounds and rings.

use chrono::TimeDelta;
use diesel::prelude::*;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill::jobs::run_waiting;
use storksbill::rounds::{freeze_due, timer};
use storksbill::serve::Front;
use storksbill_db::schema::{
    cultivars, members, plants, regions, swap_hand_overs, swap_offers, swap_rings, swap_terms, swap_wants,
};
use storksbill_domain::ids::{CultivarId, OfferId, PlantId, RegionId, WantId};
use storksbill_domain::names;
use storksbill_domain::words::RingState;
use storksbill_tests::{Actor, TestApp};
use tokio::task::JoinSet;

const OFFERS: &str = "/api/v1/swaps/offers";
const WANTS: &str = "/api/v1/swaps/wants";
const ROUNDS: &str = "/api/v1/swaps/rounds";
const RINGS: &str = "/api/v1/swaps/rings";

/// A cultivar, entered past the API.
pub(crate) async fn cultivar(society: &TestApp, name: &str) -> CultivarId {
    enter_cultivar(society, name, false).await
}

pub(crate) async fn enter_cultivar(society: &TestApp, name: &str, protected: bool) -> CultivarId {
    let (id, name) = (CultivarId::fresh(), name.to_owned());
    let now = society.clock.now().naive_utc();
    society
        .write(move |conn| {
            diesel::insert_into(cultivars::table)
                .values((
                    cultivars::id.eq(id),
                    cultivars::name.eq(name.clone()),
                    cultivars::name_key.eq(names::search_key(&name)),
                    cultivars::plant_group.eq("zonal"),
                    cultivars::status.eq("named"),
                    cultivars::protected.eq(protected),
                    cultivars::version.eq(1),
                    cultivars::created_at.eq(now),
                ))
                .execute(conn)?;
            Ok(())
        })
        .await;
    id
}

/// A plant of a member, entered past the API.
async fn plant(society: &TestApp, owner: &Actor, cultivar: CultivarId) -> PlantId {
    let (id, owner) = (PlantId::fresh(), owner.id());
    let region = society.region(&format!("Region of {id}")).await;
    let now = society.clock.now().naive_utc();
    society
        .write(move |conn| {
            diesel::insert_into(plants::table)
                .values((
                    plants::id.eq(id),
                    plants::owner_id.eq(owner),
                    plants::cultivar_id.eq(cultivar),
                    plants::region_id.eq(region),
                    plants::how_many.eq(2),
                    plants::environment.eq("frost_free"),
                    plants::form.eq("bush"),
                    plants::visibility.eq("private"),
                    plants::version.eq(1),
                    plants::created_at.eq(now),
                ))
                .execute(conn)?;
            Ok(())
        })
        .await;
    id
}

/// A member who grows where all the others do and is ready to post.
pub(crate) async fn swapper(society: &TestApp, name: &str) -> Actor {
    let actor = society.member(name).await;
    swap_with(society, &actor).await;
    actor
}

/// Lets a member grow where all the others do and be ready to post.
pub(crate) async fn swap_with(society: &TestApp, actor: &Actor) {
    let known =
        society.read(|conn| Ok(regions::table.select(regions::id).first::<RegionId>(conn).optional()?)).await;
    let region = match known {
        Some(region) => region,
        None => society.region("The Vale").await,
    };
    let member = actor.id();
    society
        .write(move |conn| {
            diesel::update(members::table.find(member)).set(members::region_id.eq(region)).execute(conn)?;
            let terms = (
                swap_terms::member_id.eq(member),
                swap_terms::give_most.eq(5),
                swap_terms::receive_most.eq(5),
                swap_terms::by_post.eq(true),
                swap_terms::version.eq(1),
            );
            diesel::insert_into(swap_terms::table).values(terms).execute(conn)?;
            Ok(())
        })
        .await;
}

pub(crate) async fn offers(actor: &Actor, cultivar: CultivarId, how_many: i32) -> String {
    actor
        .post(OFFERS, json!({"cultivar_id": cultivar, "how_many": how_many, "healthy": true}))
        .await
        .expect(201)
        .id()
}

pub(crate) async fn wants(actor: &Actor, cultivar: CultivarId, rank: i32) -> String {
    actor.post(WANTS, json!({"cultivar_id": cultivar, "rank": rank})).await.expect(201).id()
}

/// Opens a round as asked, freezes it and lets the jobs that wait be done; the round and its rings.
pub(crate) async fn round_of(society: &TestApp, officer: &Actor, asked: Value) -> Value {
    let opened = officer.post(ROUNDS, asked).await.expect(201);
    frozen(society, officer, &opened.header("location")).await
}

pub(crate) async fn frozen(society: &TestApp, officer: &Actor, path: &str) -> Value {
    let freeze =
        officer.request(Method::POST, &format!("{path}/freeze")).header("if-match", "*").send().await;
    let job = freeze.expect(202).json()["id"].as_str().unwrap().to_owned();
    run_waiting(&society.app).await.unwrap();
    let job = officer.get(&format!("/api/v1/jobs/{job}")).await.expect(200).json();
    assert_eq!(job["state"], "done", "{job:#}");
    officer.get(path).await.expect(200).json()
}

async fn round(society: &TestApp, officer: &Actor) -> Value {
    round_of(society, officer, json!({})).await
}

pub(crate) async fn answers(actor: &Actor, ring: &str, answer: &str) -> storksbill_tests::Answer {
    actor.post(&format!("{RINGS}/{ring}/answer"), json!({"answer": answer})).await
}

fn texts(rows: &[Value], field: &str) -> Vec<String> {
    rows.iter().map(|row| row[field].as_str().unwrap().to_owned()).collect()
}

/// The law of the swap, read from the records themselves: what an offer says is promised is what stands in
/// its proposed and accepted rings, and never more than it has; a want stands in one such ring at most.
/// Gives the number of cuttings promised.
async fn promised_once(society: &TestApp) -> i64 {
    society
        .read(|conn| {
            let live = swap_hand_overs::table
                .inner_join(swap_rings::table)
                .filter(swap_rings::state.eq_any(vec![
                    RingState::Proposed,
                    RingState::Accepted,
                    RingState::HandedOver,
                ]))
                .select((swap_hand_overs::offer_id, swap_hand_overs::want_id))
                .load::<(OfferId, WantId)>(conn)?;
            let all_offers = swap_offers::table
                .select((swap_offers::id, swap_offers::how_many, swap_offers::promised))
                .load::<(OfferId, i32, i32)>(conn)?;
            let all_wants = swap_wants::table
                .select((swap_wants::id, swap_wants::promised))
                .load::<(WantId, bool)>(conn)?;
            for (id, how_many, promised) in all_offers {
                let standing = live.iter().filter(|(offer, _)| *offer == id).count();
                assert_eq!(i32::try_from(standing).unwrap(), promised, "{id:?} counts its promises");
                assert!(promised <= how_many, "{id:?} promises what it has");
            }
            for (id, promised) in all_wants {
                let standing = live.iter().filter(|(_, want)| *want == id).count();
                assert_eq!(standing, usize::from(promised), "{id:?} stands in one ring or none");
            }
            Ok(i64::try_from(live.len()).unwrap())
        })
        .await
}

/// Una gives to Bram, Bram to Edda, Edda to Una, and no shorter ring closes.
struct Three {
    society: TestApp,
    officer: Actor,
    una: Actor,
    bram: Actor,
    edda: Actor,
    offers: [String; 3],
    wants: [String; 3],
}

async fn three() -> Three {
    let society = TestApp::start().await;
    let light = cultivar(&society, "Harbour Light").await;
    let rose = cultivar(&society, "Quay Rose").await;
    let loft = cultivar(&society, "Net Loft").await;
    let una = swapper(&society, "Una Marsh").await;
    let bram = swapper(&society, "Bram Oake").await;
    let edda = swapper(&society, "Edda Wick").await;
    let offers = [offers(&una, light, 3).await, offers(&bram, rose, 1).await, offers(&edda, loft, 2).await];
    let wants = [wants(&una, loft, 1).await, wants(&bram, light, 1).await, wants(&edda, rose, 2).await];
    let officer = society.registrar("Ines Holm").await;
    Three { society, officer, una, bram, edda, offers, wants }
}

#[tokio::test]
async fn three_members_swap_in_a_ring_from_offer_to_acceptance() {
    let Three { society, officer, una, bram, edda, offers, wants } = three().await;
    let round = round(&society, &officer).await;
    let counts = ["offers", "wants", "wants_served", "wants_bound"].map(|f| round["round"][f].as_i64());
    assert_eq!(counts, [Some(3); 4]);
    assert_eq!(round["round"]["answer_by"], "2026-05-17T12:00:00Z");
    let ring = &round["rings"][0];
    assert_eq!(round["rings"].as_array().unwrap().len(), 1);
    assert_eq!(ring["state"], "proposed");
    let mut gifts: Vec<String> = ring["hand_overs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|h| {
            format!("{}: {} to {}", h["giver_name"], h["cultivar_name"], h["receiver_name"]).replace('"', "")
        })
        .collect();
    gifts.sort();
    assert_eq!(
        gifts,
        [
            "Bram Oake: Quay Rose to Edda Wick",
            "Edda Wick: Net Loft to Una Marsh",
            "Una Marsh: Harbour Light to Bram Oake"
        ]
    );
    // Set aside while the ring waits.
    let offer = una.get(&format!("{OFFERS}/{}", offers[0])).await.expect(200).json();
    assert_eq!([&offer["how_many"], &offer["promised"], &offer["free"]], [3, 1, 2]);
    assert_eq!(una.get(&format!("{WANTS}/{}", wants[0])).await.expect(200).json()["promised"], true);
    assert_eq!(promised_once(&society).await, 3);

    let id = ring["id"].as_str().unwrap();
    for (actor, state) in [(&una, "proposed"), (&bram, "proposed"), (&edda, "accepted")] {
        let told = answers(actor, id, "accepted").await.expect(200).json();
        assert_eq!(told["state"], state);
    }
    // Una has two left, Bram and Edda had one and two: Bram's offer is wholly given.
    for (actor, offer, listing, free) in
        [(&una, &offers[0], "open", 2), (&bram, &offers[1], "fulfilled", 0), (&edda, &offers[2], "open", 1)]
    {
        let offer = actor.get(&format!("{OFFERS}/{offer}")).await.expect(200).json();
        assert_eq!((offer["listing"].as_str(), offer["free"].as_i64()), (Some(listing), Some(free)));
        assert_eq!(offer["promised"], 1);
    }
    for (actor, want) in [&una, &bram, &edda].into_iter().zip(&wants) {
        let want = actor.get(&format!("{WANTS}/{want}")).await.expect(200).json();
        assert_eq!((want["listing"].as_str(), want["promised"].as_bool()), (Some("fulfilled"), Some(true)));
    }
    assert_eq!(promised_once(&society).await, 3);
    // Nothing is left to swap.
    let next = round_of(&society, &officer, json!({})).await["round"].clone();
    assert_eq!((next["wants"].as_i64(), next["wants_served"].as_i64()), (Some(0), Some(0)));
}

#[tokio::test]
async fn addresses_are_told_to_partners_once_all_accept_and_to_nobody_else() {
    let Three { society, officer, una, bram, edda, .. } = three().await;
    let ring = round(&society, &officer).await["rings"][0]["id"].as_str().unwrap().to_owned();
    let path = format!("{RINGS}/{ring}");
    let told = |seen: &Value| -> usize {
        seen["partners"].as_array().unwrap().iter().filter(|partner| partner["email"].is_string()).count()
    };
    for actor in [&una, &bram, &edda] {
        assert_eq!(told(&actor.get(&path).await.expect(200).json()), 0);
        answers(actor, &ring, "accepted").await.expect(200);
    }
    for actor in [&una, &bram, &edda] {
        let seen = actor.get(&path).await.expect(200).json();
        assert_eq!(told(&seen), 3);
        assert!(seen["partners"][0]["email"].as_str().unwrap().ends_with("@merrow.example"));
        assert_eq!(told(&actor.walk(&format!("{RINGS}?state=accepted")).await[0]), 3);
    }
    assert_eq!(told(&officer.get(&path).await.expect(200).json()), 0);
}

#[tokio::test]
async fn a_ring_is_seen_by_its_members_and_officers_alone() {
    let Three { society, officer, una, .. } = three().await;
    let seen = round(&society, &officer).await;
    let ring = format!("{RINGS}/{}", seen["rings"][0]["id"].as_str().unwrap());
    let path = format!("{ROUNDS}/{}", seen["round"]["id"].as_str().unwrap());
    let stranger = society.member("Otto Fell").await;
    assert_eq!(stranger.get(&ring).await.problem(404), "not-found");
    let answer = stranger.post(&format!("{ring}/answer"), json!({"answer": "declined"})).await;
    assert_eq!(answer.problem(404), "not-found");
    // An officer sees every ring and still answers none of them for its members.
    let answer = officer.post(&format!("{ring}/answer"), json!({"answer": "accepted"})).await;
    assert_eq!(answer.problem(404), "not-found");
    assert_eq!(stranger.get(&path).await.expect(200).json()["rings"], json!([]));
    // The same, but that nobody else is told her own answer.
    let mut own = una.get(&path).await.expect(200).json()["rings"].clone();
    for partner in own[0]["partners"].as_array_mut().unwrap() {
        assert_eq!(partner["answer"].is_null(), partner["member_id"] != json!(una.id()), "{partner}");
        partner["answer"] = Value::Null;
    }
    assert_eq!(own, seen["rings"]);
    assert_eq!(stranger.walk(RINGS).await.len(), 0);
    assert_eq!(una.walk(&format!("{RINGS}?state=proposed")).await.len(), 1);
    assert_eq!(una.walk(&format!("{RINGS}?state=lapsed")).await.len(), 0);
    assert_eq!(una.get(&format!("{RINGS}?state=married")).await.problem(422), "invalid-query");
    let etag = una.get(&ring).await.expect(200).etag();
    let known = una.request(reqwest::Method::GET, &ring).header("if-none-match", &etag).send().await;
    assert_eq!(known.status, 304);
}

#[tokio::test]
async fn a_decline_frees_everything_for_the_next_round() {
    let Three { society, officer, una, bram, edda, offers, .. } = three().await;
    let ring = round(&society, &officer).await["rings"][0]["id"].as_str().unwrap().to_owned();
    answers(&una, &ring, "accepted").await.expect(200);
    assert_eq!(answers(&bram, &ring, "declined").await.expect(200).json()["state"], "declined");
    assert_eq!(promised_once(&society).await, 0);
    let offer = una.get(&format!("{OFFERS}/{}", offers[0])).await.expect(200).json();
    assert_eq!((offer["free"].as_i64(), offer["listing"].as_str()), (Some(3), Some("open")));
    // The same answer again is no harm; another one comes too late.
    answers(&una, &ring, "accepted").await.expect(200);
    answers(&bram, &ring, "declined").await.expect(200);
    assert_eq!(answers(&bram, &ring, "accepted").await.problem(409), "wrong-state");
    assert_eq!(answers(&edda, &ring, "accepted").await.problem(409), "wrong-state");
    let next = round(&society, &officer).await;
    assert_eq!(next["round"]["wants_served"], 3);
    assert_eq!(promised_once(&society).await, 3);
}

#[tokio::test]
async fn an_answer_stands_and_must_be_one() {
    let Three { society, officer, una, .. } = three().await;
    let ring = round(&society, &officer).await["rings"][0]["id"].as_str().unwrap().to_owned();
    let waiting = answers(&una, &ring, "waiting").await;
    assert_eq!(waiting.problem(422), "invalid-fields");
    assert_eq!(waiting.fields(), ["/answer out-of-range"]);
    let first = answers(&una, &ring, "accepted").await.expect(200);
    let again = answers(&una, &ring, "accepted").await.expect(200);
    assert_eq!(first.json(), again.json());
    assert_eq!(again.etag(), "\"2\"");
    assert_eq!(answers(&una, &ring, "declined").await.problem(409), "wrong-state");
}

#[tokio::test]
async fn a_ring_that_is_not_answered_in_time_lapses_and_frees_everything() {
    let Three { society, officer, una, bram, .. } = three().await;
    let ring = round(&society, &officer).await["rings"][0]["id"].as_str().unwrap().to_owned();
    answers(&una, &ring, "accepted").await.expect(200);
    society.clock.advance(TimeDelta::days(7));
    assert_eq!(timer::lapse_overdue(&society.app).await.unwrap(), 0, "the last moment still counts");
    society.clock.advance(TimeDelta::seconds(1));
    let bram = society.again(&bram).await;
    assert_eq!(answers(&bram, &ring, "accepted").await.problem(409), "wrong-state");
    assert_eq!(promised_once(&society).await, 3);
    assert_eq!(timer::lapse_overdue(&society.app).await.unwrap(), 1);
    assert_eq!(timer::lapse_overdue(&society.app).await.unwrap(), 0);
    assert_eq!(promised_once(&society).await, 0);
    let seen = bram.get(&format!("{RINGS}/{ring}")).await.expect(200).json();
    assert_eq!(seen["state"], "lapsed");
    assert_eq!(answers(&bram, &ring, "accepted").await.problem(409), "wrong-state");
    let officer = society.again(&officer).await;
    assert_eq!(round(&society, &officer).await["round"]["wants_served"], 3);
}

#[tokio::test]
async fn only_officers_run_rounds() {
    let Three { society, officer, una, .. } = three().await;
    assert_eq!(una.post(ROUNDS, json!({})).await.problem(403), "not-allowed");
    // Refused before the body is looked at.
    assert_eq!(una.post(ROUNDS, json!({"answer_within_days": 99})).await.problem(403), "not-allowed");
    assert_eq!(society.visitor().post(ROUNDS, json!({})).await.problem(401), "not-logged-in");
    let wrong = officer.post(ROUNDS, json!({"answer_within_days": 99, "rings": 4})).await;
    assert_eq!(wrong.fields(), ["/answer_within_days out-of-range", "/rings unknown-field"]);
    let run = officer.post(ROUNDS, json!({"answer_within_days": 2})).await.expect(201);
    assert_eq!(run.json()["answer_days"], 2);
    assert_eq!(run.json()["opened_by"], json!(officer.id()));
    let frozen = frozen(&society, &officer, &run.header("location")).await;
    assert_eq!(frozen["round"]["answer_by"], "2026-05-12T12:00:00Z");
}

#[tokio::test]
async fn a_round_sent_again_is_opened_once() {
    let Three { society, officer, .. } = three().await;
    let first = officer.post_once(ROUNDS, "spring-round", json!({})).await.expect(201);
    let again = officer.post_once(ROUNDS, "spring-round", json!({})).await.expect(201);
    assert_eq!(first.json(), again.json());
    assert_eq!(officer.walk(ROUNDS).await, [first.json()]);
    assert_eq!(promised_once(&society).await, 0);
}

#[tokio::test]
async fn rounds_are_listed_newest_first_page_by_page() {
    let society = TestApp::start().await;
    let officer = society.registrar("Ines Holm").await;
    let mut ids = Vec::new();
    for _ in 0..5 {
        ids.push(officer.post(ROUNDS, json!({})).await.expect(201).id());
        society.clock.advance(TimeDelta::seconds(7));
    }
    ids.reverse();
    assert_eq!(texts(&officer.walk(&format!("{ROUNDS}?limit=2")).await, "id"), ids);
}

#[tokio::test]
async fn rounds_run_by_themselves_as_often_as_the_society_says() {
    let weekly = |society: &mut storksbill::app::Society| society.round_every = TimeDelta::days(7);
    let society = TestApp::start_with(weekly, Front { workers: Some(1), ..Front::default() }).await;
    assert_eq!(freeze_due(&society.app).await.unwrap(), 1);
    assert_eq!(freeze_due(&society.app).await.unwrap(), 0);
    society.clock.advance(TimeDelta::days(7) - TimeDelta::seconds(1));
    assert_eq!(freeze_due(&society.app).await.unwrap(), 0);
    society.clock.advance(TimeDelta::seconds(1));
    // Several servers on one database find it due at once; one of them opens and freezes it.
    let mut servers = JoinSet::new();
    for _ in 0..4 {
        let app = society.app.clone();
        servers.spawn(async move { freeze_due(&app).await.unwrap() });
    }
    let run = servers.join_all().await;
    assert_eq!(run.iter().sum::<usize>(), 1, "{run:?}");
    assert_eq!(run_waiting(&society.app).await.unwrap(), 2);
    let una = society.member("Una Marsh").await;
    let listed = una.walk(ROUNDS).await;
    assert_eq!(listed.len(), 2);
    assert_eq!((&listed[0]["opened_by"], &listed[0]["state"]), (&Value::Null, &json!("proposed")));

    let manual = TestApp::start().await;
    assert_eq!(freeze_due(&manual.app).await.unwrap(), 0);
}

/// Growers with `partners` friends each: every friend wants the grower's one cultivar, of which there is a
/// cutting for each, and the grower wants what each friend has. So all cuttings of a grower come from one
/// offer, and every ring is a pair.
async fn growers(society: &TestApp, growers: usize, partners: usize) -> Vec<Actor> {
    let mut all = Vec::new();
    for g in 0..growers {
        let grower = swapper(society, &format!("Grower {g}")).await;
        let common = cultivar(society, &format!("Common {g}")).await;
        offers(&grower, common, i32::try_from(partners).unwrap()).await;
        all.push(grower.clone());
        for p in 0..partners {
            let friend = swapper(society, &format!("Friend {g} {p}")).await;
            let rare = cultivar(society, &format!("Rare {g} {p}")).await;
            offers(&friend, rare, 1).await;
            wants(&friend, common, 1).await;
            wants(&grower, rare, 1).await;
            all.push(friend);
        }
    }
    all
}

#[tokio::test]
async fn fifty_answers_at_once_promise_nothing_twice_and_lose_none() {
    let society = TestApp::start().await;
    let everybody = growers(&society, 5, 5).await;
    let officer = society.registrar("Ines Holm").await;
    let round = round(&society, &officer).await;
    let rings = round["rings"].as_array().unwrap();
    assert_eq!((rings.len(), round["round"]["wants_served"].as_i64()), (25, Some(50)));
    assert_eq!(promised_once(&society).await, 50);

    // In every third ring one of the two declines, in some the one who gives first, in some the other.
    let mut calls = JoinSet::new();
    for (n, ring) in rings.iter().enumerate() {
        for (place, partner) in ring["partners"].as_array().unwrap().iter().enumerate() {
            let who = partner["member_id"].as_str().unwrap();
            let actor = everybody.iter().find(|actor| actor.id().as_str() == who).unwrap().clone();
            let answer = if n % 3 == 0 && place == n % 2 { "declined" } else { "accepted" };
            let ring = ring["id"].as_str().unwrap().to_owned();
            calls.spawn(async move { (answer, answers(&actor, &ring, answer).await) });
        }
    }
    let outcome = calls.join_all().await;
    assert_eq!(outcome.len(), 50);
    for (answer, reply) in outcome {
        // An acceptance that comes after the partner's refusal is told so; nothing else may fail.
        let late = answer == "accepted" && reply.status == 409 && reply.problem(409) == "wrong-state";
        assert!(reply.status == 200 || late, "{answer}: {}", reply.text());
    }
    assert_eq!(promised_once(&society).await, 32);
    let rings = officer.get(&format!("{ROUNDS}/{}", round["round"]["id"].as_str().unwrap())).await.json();
    for (n, ring) in rings["rings"].as_array().unwrap().iter().enumerate() {
        assert_eq!(ring["state"], if n % 3 == 0 { "declined" } else { "accepted" });
    }
}

#[tokio::test]
async fn rounds_run_at_once_promise_nothing_twice() {
    let society = TestApp::start().await;
    growers(&society, 2, 5).await;
    let officer = society.registrar("Ines Holm").await;
    let mut calls = JoinSet::new();
    for _ in 0..4 {
        let officer = officer.clone();
        calls.spawn(async move {
            let opened = officer.post(ROUNDS, json!({})).await.expect(201);
            let path = opened.header("location");
            let freeze = officer.request(Method::POST, &format!("{path}/freeze"));
            freeze.header("if-match", "*").send().await.expect(202);
            path
        });
    }
    let rounds = calls.join_all().await;
    // Two servers do the jobs between them.
    let (one, other) = tokio::join!(run_waiting(&society.app), run_waiting(&society.app));
    assert_eq!(one.unwrap() + other.unwrap(), 4);
    let mut served = 0;
    for round in rounds {
        served += officer.get(&round).await.expect(200).json()["round"]["wants_served"].as_i64().unwrap();
    }
    // Between them they serve every want once.
    assert_eq!(served, 20);
    assert_eq!(promised_once(&society).await, 20);
}

#[tokio::test]
async fn nobody_stands_in_more_than_five_rings_of_a_round() {
    let society = TestApp::start().await;
    let everybody = growers(&society, 1, 7).await;
    let officer = society.registrar("Ines Holm").await;
    assert_eq!(round(&society, &officer).await["rings"].as_array().unwrap().len(), 5);
    assert_eq!(everybody[0].walk(RINGS).await.len(), 5);
    assert_eq!(round(&society, &officer).await["rings"].as_array().unwrap().len(), 2);
    assert_eq!(promised_once(&society).await, 14);
}

#[tokio::test]
async fn who_has_left_and_what_is_protected_stays_out_of_a_round() {
    let Three { society, officer, edda, una, .. } = three().await;
    let set_protected = |protected: bool| {
        move |conn: &mut storksbill_db::Conn| {
            let rose = cultivars::table.filter(cultivars::name.eq("Quay Rose"));
            diesel::update(rose).set(cultivars::protected.eq(protected)).execute(conn)?;
            Ok(())
        }
    };
    society.write(set_protected(true)).await;
    assert_eq!(round(&society, &officer).await["round"]["wants_served"], 0);
    assert_eq!(una.walk(OFFERS).await.len(), 2);
    society.write(set_protected(false)).await;
    let gone = edda.id();
    let set_standing = |standing: &'static str| {
        move |conn: &mut storksbill_db::Conn| {
            diesel::update(members::table.find(gone)).set(members::standing.eq(standing)).execute(conn)?;
            Ok(())
        }
    };
    society.write(set_standing("left")).await;
    let seen = round(&society, &officer).await;
    assert_eq!(
        (seen["round"]["offers"].as_i64(), seen["round"]["wants_served"].as_i64()),
        (Some(2), Some(0))
    );
    assert_eq!(una.walk(OFFERS).await.len(), 2);
    society.write(set_standing("active")).await;
    assert_eq!(round(&society, &officer).await["round"]["wants_served"], 3);
}

#[tokio::test]
async fn promised_cuttings_can_neither_be_taken_back_nor_cut_short() {
    let Three { society, officer, una, bram, edda, offers, wants } = three().await;
    let ring = round(&society, &officer).await["rings"][0]["id"].as_str().unwrap().to_owned();
    let (offer, want) = (format!("{OFFERS}/{}", offers[2]), format!("{WANTS}/{}", wants[2]));
    assert_eq!(edda.delete(&offer).await.problem(409), "already-promised");
    assert_eq!(edda.delete(&want).await.problem(409), "already-promised");
    for actor in [&una, &bram] {
        answers(actor, &ring, "accepted").await.expect(200);
    }
    let before = edda.get(&offer).await.expect(200);
    let none = edda.patch(&offer, &before.etag(), json!({"how_many": 0})).await;
    assert_eq!(none.fields(), ["/how_many out-of-range"]);
    // Down to what is promised, and no further; fulfilled once that is for good.
    let just = edda.patch(&offer, &before.etag(), json!({"how_many": 1})).await.expect(200);
    assert_eq!((just.json()["free"].as_i64(), just.json()["listing"].as_str()), (Some(0), Some("open")));
    answers(&edda, &ring, "accepted").await.expect(200);
    assert_eq!(edda.get(&offer).await.expect(200).json()["listing"], "fulfilled");
    let stale = edda.patch(&offer, &before.etag(), json!({"note": "Rooted"})).await;
    assert_eq!(stale.problem(412), "version-mismatch");
    let late = edda.patch(&offer, "*", json!({"note": "Rooted"})).await;
    assert_eq!(late.problem(409), "wrong-state");
    let late = edda.patch(&want, "*", json!({"rank": 3})).await;
    assert_eq!(late.problem(409), "wrong-state");
    assert_eq!(promised_once(&society).await, 3);
}

#[tokio::test]
async fn an_offer_of_many_is_not_cut_below_its_promises() {
    let society = TestApp::start().await;
    let everybody = growers(&society, 1, 3).await;
    round(&society, &society.registrar("Ines Holm").await).await;
    let offer = everybody[0].walk(&format!("{OFFERS}?mine=true")).await[0].clone();
    assert_eq!(offer["promised"], 3);
    let path = format!("{OFFERS}/{}", offer["id"].as_str().unwrap());
    let short = everybody[0].patch(&path, "*", json!({"how_many": 2})).await;
    assert_eq!(short.problem(409), "already-promised");
    assert_eq!(short.fields(), ["/how_many promised"]);
    let more =
        everybody[0].patch(&path, "*", json!({"how_many": 8, "note": "Rooted in April"})).await.expect(200);
    assert_eq!(
        (more.json()["free"].as_i64(), more.json()["note"].as_str()),
        (Some(5), Some("Rooted in April"))
    );
}

#[tokio::test]
async fn an_offer_names_a_known_unprotected_cultivar_or_a_plant_of_ones_own() {
    let society = TestApp::start().await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    let light = cultivar(&society, "Harbour Light").await;
    let guarded = enter_cultivar(&society, "Guarded Flame", true).await;
    let (own, other) = (plant(&society, &una, light).await, plant(&society, &bram, light).await);
    let guarded_plant = plant(&society, &una, guarded).await;
    for (body, fields) in [
        (json!({}), vec!["/cultivar_id required", "/how_many required"]),
        (
            json!({"cultivar_id": light, "plant_id": own, "how_many": 0}),
            vec!["/cultivar_id not-both", "/how_many out-of-range"],
        ),
        (json!({"cultivar_id": CultivarId::fresh(), "how_many": 1}), vec!["/cultivar_id not-found"]),
        (json!({"cultivar_id": guarded, "how_many": 1}), vec!["/cultivar_id protected"]),
        (json!({"plant_id": other, "how_many": 1}), vec!["/plant_id not-found"]),
        (json!({"plant_id": guarded_plant, "how_many": 1}), vec!["/plant_id protected"]),
        (
            json!({"cultivar_id": light, "how_many": 1001, "note": "n".repeat(1001), "price": 2}),
            vec!["/how_many out-of-range", "/note too-long", "/price unknown-field"],
        ),
    ] {
        let refused = una.post(OFFERS, body).await;
        assert_eq!(refused.problem(422), "invalid-fields");
        assert_eq!(refused.fields(), fields);
    }
    let caution = una.post(OFFERS, json!({"cultivar_id": guarded, "how_many": 1})).await.json();
    assert!(caution["detail"].as_str().unwrap().contains("breeders' rights"), "{caution}");
    let made = una.post_once(OFFERS, "k1", json!({"plant_id": own, "how_many": 4})).await.expect(201);
    assert_eq!(made.json()["cultivar_name"], "Harbour Light");
    assert_eq!(made.json()["plant_id"], json!(own));
    let again = una.post_once(OFFERS, "k1", json!({"plant_id": own, "how_many": 4})).await.expect(201);
    assert_eq!(again.id(), made.id());
    // Which plant it is stays with its grower.
    let seen = bram.get(&made.header("location")).await.expect(200).json();
    assert_eq!((&seen["plant_id"], seen["member_name"].as_str()), (&Value::Null, Some("Una Marsh")));
}

#[tokio::test]
async fn offers_are_listed_by_cultivar_and_changed_by_who_made_them() {
    let society = TestApp::start().await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    let names = ["Zephyr", "Ångström", "mole end", "Harbour Light"];
    let mut made = Vec::new();
    let mut light = CultivarId::fresh();
    for name in names {
        light = cultivar(&society, name).await;
        made.push(offers(&una, light, 2).await);
    }
    offers(&bram, light, 1).await;
    let all = society.member("Edda Wick").await.walk(&format!("{OFFERS}?limit=2")).await;
    assert_eq!(
        texts(&all, "cultivar_name"),
        ["Ångström", "Harbour Light", "Harbour Light", "mole end", "Zephyr"]
    );
    let of_light = una.walk(&format!("{OFFERS}?cultivar_id={light}")).await;
    assert_eq!(texts(&of_light, "member_name"), ["Una Marsh", "Bram Oake"]);
    let path = format!("{OFFERS}/{}", made[0]);
    assert_eq!(bram.patch(&path, "*", json!({"how_many": 1})).await.problem(403), "not-allowed");
    assert_eq!(bram.delete(&path).await.problem(403), "not-allowed");
    una.delete(&path).await.expect(204);
    una.delete(&path).await.expect(204);
    assert_eq!(bram.get(&path).await.problem(404), "not-found");
    assert_eq!(bram.delete(&path).await.problem(404), "not-found");
    assert_eq!(bram.walk(OFFERS).await.len(), 4);
    let mine = una.walk(&format!("{OFFERS}?mine=true")).await;
    assert_eq!(texts(&mine, "listing"), ["open", "open", "open", "withdrawn"]);
    assert_eq!(society.visitor().get(OFFERS).await.problem(401), "not-logged-in");
}

#[tokio::test]
async fn a_member_wants_a_cultivar_once_and_never_what_they_offer() {
    let society = TestApp::start().await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    let light = cultivar(&society, "Harbour Light").await;
    let rose = cultivar(&society, "Quay Rose").await;
    let guarded = enter_cultivar(&society, "Guarded Flame", true).await;
    let want = wants(&una, light, 1).await;
    wants(&bram, light, 1).await;
    let twice = una.post(WANTS, json!({"cultivar_id": light, "rank": 2})).await;
    assert_eq!(twice.problem(409), "taken");
    assert_eq!(twice.fields(), ["/cultivar_id taken"]);
    for (body, fields) in [
        (json!({"cultivar_id": guarded, "rank": 1}), vec!["/cultivar_id protected"]),
        (json!({"cultivar_id": CultivarId::fresh(), "rank": 1}), vec!["/cultivar_id not-found"]),
        (json!({"cultivar_id": rose, "rank": 101}), vec!["/rank out-of-range"]),
    ] {
        assert_eq!(una.post(WANTS, body).await.fields(), fields);
    }
    let crossed = una.post(OFFERS, json!({"cultivar_id": light, "how_many": 1})).await;
    assert_eq!(crossed.problem(422), "invalid-fields");
    assert_eq!(crossed.fields(), ["/cultivar_id wanted"]);
    offers(&una, rose, 1).await;
    let crossed = una.post(WANTS, json!({"cultivar_id": rose, "rank": 1})).await;
    assert_eq!(crossed.fields(), ["/cultivar_id offered"]);
    // What was taken back may be wanted again.
    let path = format!("{WANTS}/{want}");
    una.delete(&path).await.expect(204);
    una.delete(&path).await.expect(204);
    wants(&una, light, 3).await;
    assert_eq!(una.walk(WANTS).await.len(), 2);
    assert_eq!(una.walk(&format!("{WANTS}?listing=withdrawn")).await.len(), 1);
}

#[tokio::test]
async fn wants_are_a_members_own_and_listed_dearest_first() {
    let society = TestApp::start().await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    for (name, rank) in [("A", 10), ("B", 2), ("C", 100), ("D", 2), ("E", 1)] {
        let cultivar = cultivar(&society, name).await;
        wants(&una, cultivar, rank).await;
    }
    let own = una.walk(&format!("{WANTS}?limit=2")).await;
    assert_eq!(texts(&own, "cultivar_name"), ["E", "B", "D", "A", "C"]);
    assert_eq!(bram.walk(WANTS).await.len(), 0);
    let path = format!("{WANTS}/{}", own[0]["id"].as_str().unwrap());
    assert_eq!(bram.get(&path).await.problem(404), "not-found");
    assert_eq!(bram.patch(&path, "*", json!({"rank": 9})).await.problem(404), "not-found");
    assert_eq!(bram.delete(&path).await.problem(404), "not-found");
    let moved = una.patch(&path, "\"1\"", json!({"rank": 50, "note": "for the bench"})).await.expect(200);
    assert_eq!((moved.json()["rank"].as_i64(), moved.etag().as_str()), (Some(50), "\"2\""));
    assert_eq!(una.patch(&path, "\"1\"", json!({"rank": 5})).await.problem(412), "version-mismatch");
    let cleared = una.patch(&path, "\"2\"", json!({"note": null, "rank": null})).await;
    assert_eq!(cleared.fields(), ["/rank required"]);
    // A cursor is good for the list it came from.
    let first = una.get(&format!("{WANTS}?limit=1")).await.json()["next_cursor"].as_str().unwrap().to_owned();
    assert_eq!(una.get(&format!("{ROUNDS}?cursor={first}")).await.problem(400), "bad-cursor");
}

#[tokio::test]
async fn a_dearer_wish_goes_first_where_one_cutting_must_choose() {
    let society = TestApp::start().await;
    let (una, bram, edda) = (
        swapper(&society, "Una Marsh").await,
        swapper(&society, "Bram Oake").await,
        swapper(&society, "Edda Wick").await,
    );
    let light = cultivar(&society, "Harbour Light").await;
    let rose = cultivar(&society, "Quay Rose").await;
    let loft = cultivar(&society, "Net Loft").await;
    // One cutting of Una's; Bram and Edda both want it, and she wants Edda's more.
    offers(&una, light, 1).await;
    offers(&bram, rose, 1).await;
    offers(&edda, loft, 1).await;
    for actor in [&bram, &edda] {
        wants(actor, light, 1).await;
    }
    wants(&una, rose, 9).await;
    wants(&una, loft, 2).await;
    let round = round(&society, &society.registrar("Ines Holm").await).await;
    assert_eq!(
        (round["round"]["wants_served"].as_i64(), round["round"]["wants_bound"].as_i64()),
        (Some(2), Some(2))
    );
    assert_eq!(bram.walk(RINGS).await.len(), 0);
    assert_eq!(edda.walk(RINGS).await.len(), 1);
}
