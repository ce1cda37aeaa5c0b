//! Rounds from open to handed over: snapshots, meetings, gifts, drop-outs, hindrances and reasons.

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill::jobs::run_waiting;
use storksbill::rounds::timer;
use storksbill_domain::ids::CultivarId;
use storksbill_tests::{Actor, Answer, TestApp};

use crate::swaps::{answers, cultivar, frozen, offers, round_of, swapper, wants};

const ROUNDS: &str = "/api/v1/swaps/rounds";
const HAND_OVERS: &str = "/api/v1/swaps/hand-overs";

/// Members in a circle, each wanting what the one before offers.
async fn circle(society: &TestApp, names: &[&str]) -> (Vec<Actor>, Vec<CultivarId>) {
    let (mut people, mut kinds) = (Vec::new(), Vec::new());
    for name in names {
        let actor = swapper(society, name).await;
        let kind = cultivar(society, &format!("Pride of {name}")).await;
        offers(&actor, kind, 1).await;
        people.push(actor);
        kinds.push(kind);
    }
    for (at, actor) in people.iter().enumerate() {
        wants(actor, kinds[(at + kinds.len() - 1) % kinds.len()], 1).await;
    }
    (people, kinds)
}

async fn post(actor: &Actor, path: &str) -> Answer {
    actor.request(Method::POST, path).send().await
}

async fn post_if(actor: &Actor, path: &str, etag: &str) -> Answer {
    actor.request(Method::POST, path).header("if-match", etag).send().await
}

fn path_of(round: &Value) -> String {
    format!("{ROUNDS}/{}", round["round"]["id"].as_str().unwrap())
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap()
}

/// What a member gives (or receives) in a ring.
fn hand_over<'r>(ring: &'r Value, member: &Actor, side: &str) -> &'r Value {
    let own = |hand_over: &&Value| hand_over[side] == json!(member.id());
    ring["hand_overs"].as_array().unwrap().iter().find(own).unwrap()
}

async fn all_accept(people: &[&Actor], ring: &Value) {
    for actor in people {
        answers(actor, text(&ring["id"]), "accepted").await.expect(200);
    }
}

#[tokio::test]
#[allow(clippy::too_many_lines, reason = "a round is told from its first day to its last")]
async fn a_round_is_opened_frozen_answered_and_handed_over() {
    let society = TestApp::start().await;
    let (people, kinds) = circle(&society, &["Una", "Bram", "Edda"]).await;
    let [una, bram, edda] = people.as_slice() else { unreachable!() };
    let officer = society.registrar("Ines Holm").await;
    let opened = officer.post(ROUNDS, json!({"answer_within_days": 3})).await.expect(201);
    let path = opened.header("location");
    assert_eq!(opened.json()["state"], "open");
    assert_eq!(officer.get(&format!("{path}/why")).await.problem(409), "wrong-state");
    assert_eq!(post(&officer, &format!("{path}/rerun")).await.problem(409), "wrong-state");
    assert_eq!(post(&officer, &format!("{path}/freeze")).await.problem(428), "precondition-required");
    assert_eq!(post_if(&officer, &format!("{path}/freeze"), "\"7\"").await.problem(412), "version-mismatch");
    let round = frozen(&society, &officer, &path).await;
    assert_eq!((&round["round"]["state"], &round["round"]["wants_served"]), (&json!("proposed"), &json!(3)));
    assert_eq!(text(&round["round"]["snapshot_sha256"]).len(), 64);
    assert_eq!(post_if(&officer, &format!("{path}/freeze"), "*").await.problem(409), "wrong-state");
    assert_eq!(post_if(&officer, &format!("{path}/cancel"), "*").await.problem(409), "wrong-state");

    // Not closed while answers are waited for; not handed over before they are there.
    assert_eq!(post_if(&officer, &format!("{path}/close"), "*").await.problem(409), "wrong-state");
    let ring = round["rings"][0].clone();
    let gives = format!("{HAND_OVERS}/{}", text(&hand_over(&ring, una, "giver_id")["id"]));
    assert_eq!(post(una, &format!("{gives}/sent")).await.problem(409), "wrong-state");
    all_accept(&[una, bram, edda], &ring).await;

    // Una posts to Bram; nobody else may say so, and nobody outside sees it.
    assert_eq!(post(bram, &format!("{gives}/sent")).await.problem(403), "not-allowed");
    assert_eq!(post(edda, &format!("{gives}/sent")).await.problem(404), "not-found");
    for _ in 0..2 {
        let told = post(una, &format!("{gives}/sent")).await.expect(200).json();
        assert_eq!(hand_over(&told, una, "giver_id")["state"], "sent");
    }
    let receipt = json!({"condition": "limp", "note": "Perked up in water", "kept_under": "cold_glass"});
    assert_eq!(una.post(&format!("{gives}/received"), receipt.clone()).await.problem(403), "not-allowed");
    let told = bram.post(&format!("{gives}/received"), receipt.clone()).await.expect(200).json();
    let came = hand_over(&told, bram, "receiver_id");
    assert_eq!((&came["state"], &came["condition"]), (&json!("received"), &json!("limp")));
    assert_eq!(bram.post(&format!("{gives}/received"), receipt).await.problem(409), "wrong-state");
    // The giver does not learn under which record it is kept.
    let seen = una.get(&format!("/api/v1/swaps/rings/{}", text(&ring["id"]))).await.expect(200).json();
    assert_eq!(hand_over(&seen, bram, "receiver_id")["received_plant_id"], Value::Null);

    // It stands in Bram's collection with where it came from, and he is told when its two weeks are over.
    let plant =
        bram.get(&format!("/api/v1/plants/{}", text(&came["received_plant_id"]))).await.expect(200).json();
    assert_eq!(plant["cultivar"]["id"], json!(kinds[0]), "{plant:#}");
    assert_eq!(plant["source_member_id"], json!(una.id()));
    let notices = bram.walk("/api/v1/notices").await;
    assert_eq!((notices.len(), &notices[0]["kind"]), (1, &json!("quarantine_over")));
    assert_eq!(notices[0]["due_on"], "2026-05-24");

    // The others: one comes as it is, one is lost on the way.
    let bad = edda.post(&format!("{gives}/failed"), json!({"note": "x"})).await;
    assert_eq!(bad.problem(404), "not-found");
    let to_edda = format!("{HAND_OVERS}/{}", text(&hand_over(&ring, edda, "receiver_id")["id"]));
    let wrong =
        edda.post(&format!("{to_edda}/received"), json!({"condition": "dead", "kept_under": "heated"})).await;
    assert_eq!(wrong.fields(), ["/kept_under not-together", "/kept_under out-of-range"]);
    edda.post(&format!("{to_edda}/received"), json!({"condition": "good"})).await.expect(200);
    let to_una = format!("{HAND_OVERS}/{}", text(&hand_over(&ring, una, "receiver_id")["id"]));
    assert_eq!(
        una.post(&format!("{to_una}/failed"), json!({"note": ""})).await.problem(422),
        "invalid-fields"
    );
    let told =
        una.post(&format!("{to_una}/failed"), json!({"note": "Lost in the post"})).await.expect(200).json();
    assert_eq!(told["state"], "handed_over");
    assert_eq!(
        una.post(&format!("{to_una}/failed"), json!({"note": "Again"})).await.problem(409),
        "wrong-state"
    );

    // The ledger has no money in it: one given, none received.
    assert_eq!(una.get("/api/v1/swaps/balance").await.expect(200).json(), json!({"given": 1, "received": 0}));
    assert_eq!(
        bram.get("/api/v1/swaps/balance").await.expect(200).json(),
        json!({"given": 1, "received": 1})
    );
    let lines = una.walk("/api/v1/swaps/ledger").await;
    let told: Vec<String> = lines
        .iter()
        .map(|l| {
            format!(
                "{} {} {} {}",
                l["given"],
                text(&l["other_name"]),
                text(&l["cultivar_name"]),
                text(&l["state"])
            )
        })
        .collect();
    assert!(told.contains(&"true Bram Pride of Una received".to_owned()), "{told:?}");
    assert!(told.contains(&"false Edda Pride of Edda failed".to_owned()), "{told:?}");

    // With nothing left to do it closes by itself, and every step stands in its books.
    assert_eq!(timer::close_finished(&society.app).await.unwrap(), 1);
    assert_eq!(timer::close_finished(&society.app).await.unwrap(), 0);
    assert_eq!(officer.get(&path).await.expect(200).json()["round"]["state"], "closed");
    let steps = officer.walk(&format!("{path}/steps?limit=4")).await;
    let steps: Vec<&str> = steps.iter().map(|step| text(&step["what"])).collect();
    assert_eq!(
        steps,
        [
            "opened",
            "frozen",
            "proposed",
            "accepted",
            "accepted",
            "accepted",
            "locked",
            "sent",
            "received",
            "received",
            "failed",
            "handed_over",
            "closed"
        ]
    );
    assert_eq!(una.get(&format!("{path}/steps")).await.problem(403), "not-allowed");
}

#[tokio::test]
async fn a_round_solved_again_from_its_snapshot_gives_the_same_answer() {
    let society = TestApp::start().await;
    let (people, _) = circle(&society, &["Una", "Bram", "Edda"]).await;
    let officer = society.registrar("Ines Holm").await;
    let round = round_of(&society, &officer, json!({})).await;
    // What becomes of offers and wants since does not matter.
    answers(&people[0], text(&round["rings"][0]["id"]), "declined").await.expect(200);
    let late = cultivar(&society, "Latecomer").await;
    offers(&people[1], late, 3).await;
    let job = post(&officer, &format!("{}/rerun", path_of(&round))).await.expect(202).json();
    run_waiting(&society.app).await.unwrap();
    let job = officer.get(&format!("/api/v1/jobs/{}", text(&job["id"]))).await.expect(200).json();
    assert_eq!((&job["state"], &job["result"]["same"]), (&json!("done"), &json!(true)), "{job:#}");
    assert_eq!(post(&people[0], &format!("{}/rerun", path_of(&round))).await.problem(403), "not-allowed");
}

#[tokio::test]
async fn a_round_is_given_up_before_anything_is_proposed() {
    let society = TestApp::start().await;
    let officer = society.registrar("Ines Holm").await;
    let opened = officer.post(ROUNDS, json!({})).await.expect(201);
    let path = opened.header("location");
    let told = post_if(&officer, &format!("{path}/cancel"), &opened.etag()).await.expect(200).json();
    assert_eq!(told["state"], "cancelled");
    assert_eq!(post_if(&officer, &format!("{path}/cancel"), "*").await.problem(409), "wrong-state");
    let wrong = json!({"mode": "meeting", "max_chain": 9, "drop_out_per_mille": 901});
    let wrong = officer.post(ROUNDS, wrong).await;
    assert_eq!(
        wrong.fields(),
        ["/drop_out_per_mille out-of-range", "/max_chain out-of-range", "/meets_on required"]
    );
    let wrong = officer.post(ROUNDS, json!({"meets_on": "2026-06-01", "club_id": CultivarId::fresh()})).await;
    assert_eq!(wrong.fields(), ["/club_id not-together", "/meets_on not-together"]);
    let wrong = json!({"mode": "meeting", "meets_on": "2026-06-01", "club_id": CultivarId::fresh()});
    assert_eq!(officer.post(ROUNDS, wrong).await.fields(), ["/club_id not-found"]);
    let past = officer.post(ROUNDS, json!({"freezes_at": "2026-05-10T12:00:00Z"})).await;
    assert_eq!(past.fields(), ["/freezes_at out-of-range"]);
}

/// Five in a circle: too long a ring for the post, and the very thing for a meeting.
#[tokio::test]
async fn at_a_meeting_rings_are_as_long_as_they_need_to_be() {
    let society = TestApp::start().await;
    let (people, _) = circle(&society, &["Una", "Bram", "Edda", "Otto", "Lise"]).await;
    let officer = society.registrar("Ines Holm").await;
    assert_eq!(round_of(&society, &officer, json!({})).await["round"]["wants_served"], 0);
    let asked = json!({"mode": "meeting", "meets_on": "2026-05-16"});
    let path = officer.post(ROUNDS, asked).await.expect(201).header("location");
    for (at, actor) in people.iter().enumerate() {
        let table = json!({"table": format!("{}", at % 2 + 1)});
        actor.put(&format!("{path}/attendance/me"), table).await.expect(204);
    }
    let stranger = swapper(&society, "Stay Away").await;
    stranger.put(&format!("{path}/attendance/me"), json!({})).await.expect(204);
    stranger.delete(&format!("{path}/attendance/me")).await.expect(204);
    stranger.delete(&format!("{path}/attendance/me")).await.expect(204);
    let come = stranger.get(&format!("{path}/attendance")).await.expect(200).json();
    assert_eq!(come.as_array().unwrap().len(), 5);
    assert_eq!((&come[0]["name"], &come[0]["table"]), (&json!("Bram"), &json!("2")));
    let round = frozen(&society, &officer, &path).await;
    assert_eq!((&round["round"]["wants_served"], &round["round"]["wants_bound"]), (&json!(5), &json!(5)));
    let late = stranger.put(&format!("{path}/attendance/me"), json!({})).await;
    assert_eq!(late.problem(409), "wrong-state");
    let ring = &round["rings"][0];
    assert_eq!((ring["hand_overs"].as_array().unwrap().len(), &ring["kind"]), (5, &json!("ring")));
    let everybody: Vec<&Actor> = people.iter().collect();
    all_accept(&everybody, ring).await;

    // The list is printed by table; a member prints their own.
    let sheet = officer.get(&format!("{path}/sheet")).await.expect(200).text();
    for name in ["Una, table 1", "Bram, table 2", "Pride of Lise", "plant-health rules"] {
        assert!(sheet.contains(name), "{name} in {sheet}");
    }
    assert!(!sheet.contains("@merrow.example"));
    let own = people[0].get(&format!("{path}/sheet")).await.expect(200).text();
    assert!(own.contains("Una, table 1") && !own.contains("Edda, table"), "{own}");
    let by_post = round_of(&society, &officer, json!({"max_chain": 0})).await;
    let none = people[0].put(&format!("{}/attendance/me", path_of(&by_post)), json!({})).await;
    assert_eq!(none.problem(409), "wrong-state");
}

/// A gift to Bram lets Bram give to Edda, who has nothing that anybody wants.
#[tokio::test]
async fn a_gift_starts_a_chain() {
    let society = TestApp::start().await;
    let (una, bram, edda) =
        (swapper(&society, "Una").await, swapper(&society, "Bram").await, swapper(&society, "Edda").await);
    let (light, rose) = (cultivar(&society, "Harbour Light").await, cultivar(&society, "Quay Rose").await);
    let gift = json!({"cultivar_id": light, "how_many": 1, "healthy": true, "gift": true});
    una.post("/api/v1/swaps/offers", gift).await.expect(201);
    offers(&bram, rose, 1).await;
    wants(&bram, light, 1).await;
    wants(&edda, rose, 1).await;
    let officer = society.registrar("Ines Holm").await;
    assert_eq!(round_of(&society, &officer, json!({"max_chain": 0})).await["round"]["wants_served"], 0);
    let round = round_of(&society, &officer, json!({})).await;
    assert_eq!((&round["round"]["wants_served"], &round["rings"][0]["kind"]), (&json!(2), &json!("chain")));
    let partners: Vec<&str> =
        round["rings"][0]["partners"].as_array().unwrap().iter().map(|p| text(&p["name"])).collect();
    assert_eq!(partners, ["Una", "Bram", "Edda"]);
    all_accept(&[&una, &bram, &edda], &round["rings"][0]).await;
    let sheet = edda.get(&format!("{}/sheet", path_of(&round))).await.expect(200).text();
    assert!(sheet.contains("from Bram (") && sheet.contains("@merrow.example"), "{sheet}");
}

/// Edda drops out of a ring of three whose other two can swap with each other; another ring stays as it is.
#[tokio::test]
async fn after_a_refusal_only_the_hurt_ring_is_solved_again() {
    let society = TestApp::start().await;
    let (people, kinds) = circle(&society, &["Una", "Bram", "Edda"]).await;
    let (pair, _) = circle(&society, &["Otto", "Lise"]).await;
    // Una would take Bram's too, less dearly than Edda's.
    wants(&people[0], kinds[1], 5).await;
    let officer = society.registrar("Ines Holm").await;
    let round = round_of(&society, &officer, json!({})).await;
    let rings = round["rings"].as_array().unwrap();
    let of =
        |size: usize| rings.iter().find(|ring| ring["partners"].as_array().unwrap().len() == size).unwrap();
    let (three, two) = (of(3), of(2));
    answers(&people[0], text(&three["id"]), "accepted").await.expect(200);
    answers(&people[2], text(&three["id"]), "declined").await.expect(200);
    run_waiting(&society.app).await.unwrap();
    let now = officer.get(&path_of(&round)).await.expect(200).json();
    let rings = now["rings"].as_array().unwrap();
    assert_eq!(rings.len(), 3, "{now:#}");
    assert!(rings.contains(two), "the other ring is untouched");
    let mended = rings.iter().find(|ring| ring["replaces_id"] == three["id"]).unwrap();
    let mut names: Vec<&str> =
        mended["partners"].as_array().unwrap().iter().map(|partner| text(&partner["name"])).collect();
    names.sort_unstable();
    assert_eq!((names, &mended["state"]), (vec!["Bram", "Una"], &json!("proposed")));
    all_accept(&[&people[0], &people[1]], mended).await;
    all_accept(&[&pair[0], &pair[1]], two).await;
    assert_eq!(people[2].walk("/api/v1/swaps/rings?state=proposed").await.len(), 0);
}

#[tokio::test]
async fn what_keeps_cuttings_apart_is_told_and_whose_wish_it_is_is_not() {
    let society = TestApp::start().await;
    let (una, bram) = (swapper(&society, "Una").await, swapper(&society, "Bram").await);
    let (light, rose) = (cultivar(&society, "Harbour Light").await, cultivar(&society, "Quay Rose").await);
    let offer = offers(&una, light, 1).await;
    let offer = format!("/api/v1/swaps/offers/{offer}");
    offers(&bram, rose, 1).await;
    wants(&una, rose, 1).await;
    let want = wants(&bram, light, 1).await;
    let officer = society.registrar("Ines Holm").await;
    let why = async |what: &str| {
        let round = round_of(&society, &officer, json!({})).await;
        assert_eq!(round["round"]["wants_served"], 0, "{what}");
        let told = bram.get(&format!("{}/why", path_of(&round))).await.expect(200).json();
        let own = told["unmet"].as_array().unwrap();
        assert_eq!((own.len(), text(&own[0]["want_id"])), (1, want.as_str()), "{told:#}");
        assert_eq!(own[0]["cultivar_name"], "Harbour Light");
        let all = officer.get(&format!("{}/why", path_of(&round))).await.expect(200).json();
        assert_eq!((all["unmet"].as_array().unwrap().len(), &all["unmet"][0]["want_id"]), (2, &Value::Null));
        text(&own[0]["words"]).to_owned()
    };
    una.patch(&offer, "*", json!({"healthy": false})).await.expect(200);
    assert!(why("not declared").await.contains("1 not declared healthy in the last 30 days"));
    una.patch(&offer, "*", json!({"healthy": true})).await.expect(200);
    let hold = json!({"reason": "Rust on the lower leaves"});
    let hold = una.post("/api/v1/health/holds", hold).await.expect(201).header("location");
    assert!(why("held").await.contains("1 held back for plant health"));
    una.post(&format!("{hold}/lift"), json!({})).await.expect(200);
    // In person alone, and no club in common.
    let terms = json!({"give_most": 5, "receive_most": 5, "by_post": false});
    una.request(Method::PUT, "/api/v1/swaps/terms")
        .header("if-match", "*")
        .json(&terms)
        .send()
        .await
        .expect(200);
    assert!(why("no club").await.contains("1 with somebody who neither meets you at a club nor posts"));
    let terms = json!({"give_most": 5, "receive_most": 5, "by_post": true});
    una.request(Method::PUT, "/api/v1/swaps/terms")
        .header("if-match", "*")
        .json(&terms)
        .send()
        .await
        .expect(200);
    // Una does not swap with Bram: he is not told whose wish it is.
    let refusal = format!("/api/v1/swaps/refusals/{}", bram.id());
    una.put(&refusal, json!({})).await;
    let words = why("refused").await;
    assert!(words.contains("1 not to be brought together with you") && !words.contains("Una"), "{words}");
    una.delete(&refusal).await.expect(204);
    let round = round_of(&society, &officer, json!({})).await;
    assert_eq!(round["round"]["wants_served"], 2);
}

#[tokio::test]
async fn an_answer_tells_how_good_it_is_and_what_one_more_offer_would_bring() {
    let society = TestApp::start().await;
    let (people, kinds) = circle(&society, &["Una", "Bram", "Edda"]).await;
    let missing = cultivar(&society, "Nobody's Own").await;
    for actor in &people[..2] {
        wants(actor, missing, 2).await;
    }
    let officer = society.registrar("Ines Holm").await;
    let round = round_of(&society, &officer, json!({})).await;
    let told = people[0].get(&format!("{}/why", path_of(&round))).await.expect(200).json();
    let first = &told["aims"][0];
    assert_eq!(
        (&first["aim"], &first["value"], &first["bound"]),
        (&json!("wants met"), &json!(3), &json!(3))
    );
    assert_eq!((&first["proved"], &told["gap"]), (&json!(true), &json!(0.0)));
    let why = text(&told["rings"][0]["why"]);
    assert!(why.contains("3 less of"), "{why}");
    assert_eq!(told["unmet"][0]["why"], "nobody_offers");
    let unlock = &told["unlocks"][0];
    assert_eq!((&unlock["cultivar_name"], &unlock["more"]), (&json!("Nobody's Own"), &json!(1)), "{told:#}");
    assert_ne!(kinds[0], missing);
}

#[tokio::test]
async fn a_round_freezes_by_itself_at_its_time() {
    let society = TestApp::start().await;
    circle(&society, &["Una", "Bram"]).await;
    let officer = society.registrar("Ines Holm").await;
    let asked = json!({"freezes_at": "2026-05-11T12:00:00Z"});
    let path = officer.post(ROUNDS, asked).await.expect(201).header("location");
    assert_eq!(storksbill::rounds::freeze_due(&society.app).await.unwrap(), 0);
    society.clock.advance(TimeDelta::days(1));
    assert_eq!(storksbill::rounds::freeze_due(&society.app).await.unwrap(), 1);
    run_waiting(&society.app).await.unwrap();
    let officer = society.again(&officer).await;
    assert_eq!(officer.get(&path).await.expect(200).json()["round"]["wants_served"], 2);
}

/// Those who gave more than they received come first where two are equal in all else.
#[tokio::test]
async fn who_gave_more_comes_first_among_equals() {
    let society = TestApp::start().await;
    let (una, bram, edda) =
        (swapper(&society, "Una").await, swapper(&society, "Bram").await, swapper(&society, "Edda").await);
    let officer = society.registrar("Ines Holm").await;
    // A first round: Edda makes Una a gift, which comes.
    let gift = cultivar(&society, "First Gift").await;
    let asked = json!({"cultivar_id": gift, "how_many": 1, "healthy": true, "gift": true});
    edda.post("/api/v1/swaps/offers", asked).await.expect(201);
    wants(&una, gift, 1).await;
    let round = round_of(&society, &officer, json!({})).await;
    let ring = &round["rings"][0];
    all_accept(&[&una, &edda], ring).await;
    let came = format!("{HAND_OVERS}/{}/received", text(&ring["hand_overs"][0]["id"]));
    una.post(&came, json!({"condition": "good"})).await.expect(200);
    // Now both Bram and Edda want Una's one cutting, and Una wants either of theirs as dearly.
    let light = cultivar(&society, "Harbour Light").await;
    offers(&una, light, 1).await;
    for (actor, name) in [(&bram, "Quay Rose"), (&edda, "Net Loft")] {
        let kind = cultivar(&society, name).await;
        offers(actor, kind, 1).await;
        wants(actor, light, 1).await;
        wants(&una, kind, 1).await;
    }
    let round = round_of(&society, &officer, json!({})).await;
    assert_eq!(round["round"]["wants_served"], 2);
    assert_eq!(edda.walk("/api/v1/swaps/rings?state=proposed").await.len(), 1);
    assert_eq!(bram.walk("/api/v1/swaps/rings?state=proposed").await.len(), 0);
}

/// The receiver has not said where they grow: the plant is not entered, and nothing is half-written.
#[tokio::test]
async fn a_receipt_that_cannot_be_entered_changes_nothing() {
    let society = TestApp::start().await;
    let (people, _) = circle(&society, &["Una", "Bram"]).await;
    let officer = society.registrar("Ines Holm").await;
    let round = round_of(&society, &officer, json!({})).await;
    let ring = &round["rings"][0];
    all_accept(&[&people[0], &people[1]], ring).await;
    let me = people[0].get("/api/v1/members/me").await.expect(200);
    people[0].patch("/api/v1/members/me", &me.etag(), json!({"region_id": null})).await.expect(200);
    let path = format!("{HAND_OVERS}/{}/received", text(&hand_over(ring, &people[0], "receiver_id")["id"]));
    let refused = people[0].post(&path, json!({"condition": "good", "kept_under": "frost_free"})).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields(), ["/kept_under no-region"]);
    assert_eq!(people[0].walk("/api/v1/plants").await.len(), 0);
    let told = people[0].post(&path, json!({"condition": "good"})).await.expect(200).json();
    assert_eq!(hand_over(&told, &people[0], "receiver_id")["state"], "received");
}
