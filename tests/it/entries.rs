//! Entries: what fits which class, what is refused and why, closing, and numbers that tell nothing.

use std::collections::BTreeSet;

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_domain::ids::{ClubId, RegionId};
use storksbill_tests::{Actor, Answer, TestApp, moment};
use tokio::task::JoinSet;

/// A club with a show that takes entries until 11 June 2026, 21:00 British Summer Time.
struct Hall {
    society: TestApp,
    club: ClubId,
    region: RegionId,
    bram: Actor,
    show: String,
    regal: String,
}

fn slot(more: &Value) -> Value {
    let mut slot = json!({"count": 1, "unit": "pot"});
    for (field, value) in more.as_object().unwrap() {
        slot[field] = value.clone();
    }
    slot
}

impl Hall {
    async fn open(classes: &[(&str, Value)]) -> Self {
        let society = TestApp::start().await;
        let region = society.region("The Vale").await;
        let club = society.club("Quay Town", region).await;
        let bram = society.secretary_of("Bram Oake", club).await;
        let show = json!({
            "name": "Summer Show", "held_on": "2026-06-13", "place": "Quay Town Hall",
            "closes_wall": "2026-06-11T21:00", "zone": "Europe/London"
        });
        let show =
            bram.post(&format!("/api/v1/clubs/{club}/shows"), show).await.expect(201).header("location");
        for (label, rules) in classes {
            let class = json!({"label": label, "title": format!("Class {label}"), "rules": rules});
            bram.post(&format!("{show}/draft/classes"), class).await.expect(201);
        }
        let registrar = society.registrar("Ines Holm").await;
        let regal = json!({"name": "Quay Lass", "plant_group": "regal", "status": "named"});
        let regal = registrar.post("/api/v1/cultivars", regal).await.expect(201).id();
        let hall = Self { society, club, region, bram, show, regal };
        hall.publish(&json!({})).await.expect(200);
        hall
    }

    async fn publish(&self, body: &Value) -> Answer {
        let path = format!("{}/publication", self.show);
        self.bram.request(Method::POST, &path).header("if-match", "*").json(body).send().await
    }

    async fn class(&self, label: &str) -> String {
        let all = self.society.visitor().walk(&format!("{}/classes", self.show)).await;
        let class = all.iter().find(|class| class["label"] == label).unwrap();
        class["id"].as_str().unwrap().to_owned()
    }

    async fn plant(&self, grower: &Actor, more: Value) -> String {
        let mut body = json!({
            "cultivar_id": self.regal, "region_id": self.region, "how_many": 1, "environment": "outdoors",
            "form": "bush", "visibility": "private"
        });
        for (field, value) in more.as_object().unwrap() {
            body[field] = value.clone();
        }
        grower.post("/api/v1/plants", body).await.expect(201).id()
    }

    async fn enter(&self, who: &Actor, class: &str, items: Value, more: Value) -> Answer {
        let mut body = json!({"class_id": self.class(class).await, "items": items});
        for (field, value) in more.as_object().unwrap() {
            body[field] = value.clone();
        }
        who.post(&format!("{}/entries", self.show), body).await
    }

    /// The same person with a token of the clock's now.
    fn wait_until(&self, text: &str) {
        let clock = &self.society.clock;
        clock.advance(moment(text) - clock.now());
    }
}

/// A limit of four and a half inches at the rim: 114.3 mm exactly.
fn four_and_a_half() -> Value {
    json!({"to": {"um": 114_300, "inclusive": true}, "words": "not exceeding 4½ in"})
}

async fn act(actor: &Actor, method: Method, path: &str, body: Value) -> Answer {
    actor.request(method, path).header("if-match", "*").json(&body).send().await
}

fn reasons(fitting: &Value) -> Vec<&str> {
    fitting["reasons"].as_array().unwrap().iter().map(|reason| reason["code"].as_str().unwrap()).collect()
}

#[tokio::test]
async fn a_grower_is_told_which_classes_a_plant_fits_and_why_not() {
    let hall = Hall::open(&[
        ("1", json!({"slots": [slot(&json!({"taxa": {"groups": ["regal"]}, "pot": four_and_a_half()}))]})),
        ("2", json!({"slots": [slot(&json!({"taxa": {"groups": ["ivy_leaved"]}}))]})),
        ("3", json!({"slots": [slot(&json!({}))], "held_for": {"period": {"months": 3}}})),
        ("4", json!({"slots": [{"count": 3, "unit": "pot"}]})),
    ])
    .await;
    let edda = hall.society.member("Edda Wick").await;
    let plant = hall.plant(&edda, json!({"pot_mm": 127.0, "got_on": "2026-04-01"})).await;
    let found = edda.walk(&format!("{}/my-classes?with_no=true", hall.show)).await;
    assert_eq!(
        (found.len(), &found[0]["plant_id"], &found[0]["cultivar_name"]),
        (1, &json!(plant), &json!("Quay Lass"))
    );
    let classes = found[0]["classes"].as_array().unwrap();
    let told: Vec<_> = classes
        .iter()
        .map(|fitting| {
            (
                fitting["class"]["label"].as_str().unwrap(),
                fitting["answer"].as_str().unwrap(),
                reasons(fitting),
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            ("1", "no", vec!["over-size"]),
            ("2", "no", vec!["kind-mismatch"]),
            // Three months before 13 June is 13 March; held since April.
            ("3", "no", vec!["owned-too-short"]),
            ("4", "depends", vec!["more-needed"]),
        ]
    );
    let remedy = classes[0]["reasons"][0]["remedy"].as_str().unwrap();
    assert!(remedy.contains("114.3 mm"), "{remedy}");
    // Without those that it does not fit.
    let found = edda.walk(&format!("{}/my-classes?plant_id={plant}", hall.show)).await;
    assert_eq!(found[0]["classes"].as_array().unwrap().len(), 1);
    // Nobody else's plants are told of.
    let bram = edda.get(&format!("{}/my-classes?plant_id={}", hall.show, hall.regal)).await;
    assert_eq!(bram.problem(404), "not-found");
    assert_eq!(
        hall.society.visitor().get(&format!("{}/my-classes", hall.show)).await.problem(401),
        "not-logged-in"
    );
}

#[tokio::test]
async fn an_entry_is_refused_with_every_reason_and_taken_with_its_doubts_read() {
    let rules = json!({
        "slots": [slot(&json!({"taxa": {"groups": ["regal"]}, "pot": four_and_a_half()}))],
        "held_for": {"period": {"weeks": 8}}, "fee": {"member": 25, "other": 40}
    });
    let hall = Hall::open(&[("1", rules)]).await;
    let edda = hall.society.member("Edda Wick").await;
    let plant = hall.plant(&edda, json!({"pot_mm": 127.0, "got_on": "2026-05-01"})).await;
    let item = json!([{"plant_id": plant}]);
    let refused = hall.enter(&edda, "1", item.clone(), json!({})).await;
    assert_eq!(
        (refused.problem(422).as_str(), refused.fields()),
        ("invalid-fields", vec!["/items/0 over-size".to_owned(), "/items/0 owned-too-short".to_owned()])
    );
    // What bars is not taken with a word; what is only doubted is.
    let still = hall.enter(&edda, "1", item, json!({"acknowledged": ["over-size", "owned-too-short"]})).await;
    assert_eq!(still.fields(), ["/items/0 owned-too-short"]);
    let held = json!([{"plant_id": plant, "held_since": "2026-03-01"}]);
    let path = format!("{}/entries?dry_run=true", hall.show);
    let asked = json!({"class_id": hall.class("1").await, "items": held});
    let dry = edda.post(&path, asked).await.expect(200).json();
    assert_eq!(
        (&dry["answer"], reasons(&dry), &dry["fee_pence"]),
        (&json!("no"), vec!["over-size"], &json!(25))
    );
    assert_eq!(edda.get(&format!("{}/entries/mine", hall.show)).await.expect(200).json(), json!([]));
    let made = hall.enter(&edda, "1", held.clone(), json!({"acknowledged": ["over-size"]})).await.expect(201);
    let entry = made.json();
    assert_eq!(
        (&entry["acknowledged"], &entry["fee_pence"], &entry["label"]),
        (&json!(["over-size"]), &json!(25), &json!("Quay Lass"))
    );
    assert_eq!((&entry["exhibitor_name"], &entry["exhibitor_number"]), (&json!("Edda Wick"), &json!(1)));
    // One plant stands once.
    let twice = hall.enter(&edda, "1", held, json!({"acknowledged": ["over-size"]})).await;
    assert_eq!(twice.fields(), ["/items/0 entry-duplicate"]);
    // Nobody sees it but its exhibitor and the club's officers.
    let path = made.header("location");
    assert_eq!(edda.get(&path).await.expect(200).json(), entry);
    hall.bram.get(&path).await.expect(200);
    let other = hall.society.member("Una Fell").await;
    assert_eq!(other.get(&path).await.problem(404), "not-found");
    assert_eq!(other.get(&format!("{}/entries", hall.show)).await.problem(403), "not-allowed");
    assert_eq!(hall.bram.walk(&format!("{}/entries", hall.show)).await.len(), 1);
    // A steward's scale is the exhibitor's to mend: a smaller pot, and the doubt is gone.
    let smaller = json!({"items": [{"plant_id": plant, "held_since": "2026-03-01", "pot_mm": 114.3}]});
    let mended = edda.patch(&path, "\"1\"", smaller).await.expect(200).json();
    assert_eq!((&mended["acknowledged"], &mended["version"]), (&json!([]), &json!(2)));
    let gone = act(&edda, Method::POST, &format!("{path}/withdrawal"), json!({})).await.expect(200).json();
    assert_eq!(gone["state"], "withdrawn");
    assert_eq!(edda.patch(&path, "*", json!({"label": "again"})).await.problem(409), "wrong-state");
    let history = edda.get(&format!("{path}/history")).await.expect(200).json();
    let kinds: Vec<_> =
        history.as_array().unwrap().iter().map(|event| event["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["entered", "changed", "withdrawn"]);
    let me = edda.get(&format!("{}/exhibitors/me", hall.show)).await.expect(200).json();
    assert_eq!((&me["due_pence"], &me["paid_pence"]), (&json!(0), &json!(0)));
}

/// Closing is told by when the server received an entry: 21:00 of British Summer Time is 20:00 UTC.
#[tokio::test]
async fn entries_close_to_the_second_and_officers_alone_enter_late() {
    let hall = Hall::open(&[("1", json!({"slots": [slot(&json!({}))]}))]).await;
    let edda = hall.society.member("Edda Wick").await;
    let item = json!([{"cultivar_id": hall.regal}]);
    hall.wait_until("2026-06-11T20:00:00Z");
    let (edda, bram) = (hall.society.again(&edda).await, hall.society.again(&hall.bram).await);
    let path = hall.enter(&edda, "1", item.clone(), json!({})).await.expect(201).header("location");
    hall.wait_until("2026-06-11T20:00:01Z");
    assert_eq!(hall.enter(&edda, "1", item.clone(), json!({})).await.fields(), ["/class_id entries-closed"]);
    assert_eq!(edda.patch(&path, "*", json!({"label": "late"})).await.problem(409), "wrong-state");
    assert_eq!(
        act(&edda, Method::POST, &format!("{path}/withdrawal"), json!({})).await.problem(409),
        "wrong-state"
    );
    let excuse = json!({"late_reason": "The ferry did not run."});
    assert_eq!(hall.enter(&edda, "1", item.clone(), excuse.clone()).await.problem(403), "not-allowed");
    let me = edda.get(&format!("{}/exhibitors/me", hall.show)).await.expect(200).id();
    let mut late = excuse;
    late["exhibitor_id"] = json!(me);
    let taken = hall.enter(&bram, "1", item.clone(), late).await.expect(201).json();
    assert_eq!(
        (&taken["late_reason"], &taken["entered_by"]),
        (&json!("The ferry did not run."), &json!(bram.id()))
    );
    let blind = hall.enter(&bram, "1", item, json!({"exhibitor_id": me})).await;
    assert_eq!(blind.fields(), ["/class_id entries-closed"]);
    let reason = json!({"reason": "The plant was frosted."});
    act(&bram, Method::POST, &format!("{path}/withdrawal"), reason).await.expect(200);
}

#[tokio::test]
async fn fifty_enter_in_the_last_minute_and_nothing_is_lost_or_doubled() {
    let hall =
        Hall::open(&[("1", json!({"slots": [slot(&json!({}))], "entries": {"per_exhibitor": 1}}))]).await;
    let mut people = Vec::new();
    for n in 0..50 {
        people.push(hall.society.member(&format!("Grower {n}")).await);
    }
    hall.wait_until("2026-06-11T19:59:30Z");
    let body = json!({"class_id": hall.class("1").await, "items": [{"cultivar_id": hall.regal}]});
    let mut calls = JoinSet::new();
    for person in people {
        let (person, path, body) =
            (hall.society.again(&person).await, format!("{}/entries", hall.show), body.clone());
        calls.spawn(async move {
            // Sent twice, as an impatient finger does.
            let (one, two) = tokio::join!(
                person.post_once(&path, "tap", body.clone()),
                person.post_once(&path, "tap", body)
            );
            assert_eq!((one.status, one.text()), (201, two.text()));
            one.json()["number"].as_i64().unwrap()
        });
    }
    let numbers: BTreeSet<i64> = calls.join_all().await.into_iter().collect();
    assert_eq!(numbers.len(), 50);
    let bram = hall.society.again(&hall.bram).await;
    let kept = bram.walk(&format!("{}/entries", hall.show)).await;
    assert_eq!(kept.len(), 50);
    // Exhibitors have the numbers from 1 on, and entries numbers in no order of theirs.
    let exhibitors: BTreeSet<i64> =
        kept.iter().map(|row| row["exhibitor_number"].as_i64().unwrap()).collect();
    assert_eq!(exhibitors, (1..=50).collect());
    let by_number: Vec<i64> = kept.iter().map(|row| row["exhibitor_number"].as_i64().unwrap()).collect();
    assert!(!by_number.is_sorted(), "numbers follow the order of entering: {by_number:?}");
}

#[tokio::test]
async fn officers_enter_guests_take_money_and_appoint_judges() {
    let rules = json!({"slots": [slot(&json!({}))], "fee": {"member": 25, "other": 40}});
    let hall = Hall::open(&[("1", rules)]).await;
    let guest = json!({"exhibitor": {"name": "Nora Pell"}});
    let path = format!("{}/exhibitors", hall.show);
    let nora = hall.bram.post(&path, guest).await.expect(201).id();
    let item = json!([{"name": "Unknown", "plant_group": "zonal"}]);
    let made = hall.enter(&hall.bram, "1", item, json!({"exhibitor_id": nora})).await.expect(201);
    assert_eq!((&made.json()["fee_pence"], &made.json()["label"]), (&json!(40), &json!("Unknown")));
    let money = json!({"exhibitor_id": nora, "pence": 40, "how": "cash"});
    let receipt = hall.bram.post(&format!("{}/receipts", hall.show), money).await.expect(201).json();
    assert_eq!(receipt["number"], 1);
    let listed = hall.bram.walk(&path).await;
    assert_eq!((&listed[0]["due_pence"], &listed[0]["paid_pence"]), (&json!(40), &json!(40)));
    let edda = hall.society.member_of("Edda Wick", hall.club).await;
    hall.enter(&edda, "1", json!([{"cultivar_id": hall.regal}]), json!({})).await.expect(201);
    let judge = json!({"role": "judge", "member_id": edda.id(), "classes": {"all": true}});
    let officials = format!("{}/officials", hall.show);
    let judge = hall.bram.post(&officials, judge).await.expect(201);
    assert_eq!(judge.json()["name"], "Edda Wick");
    let found = hall.bram.get(&format!("{}/interests", hall.show)).await.expect(200).json();
    let codes: Vec<_> =
        found["findings"].as_array().unwrap().iter().map(|one| one["code"].as_str().unwrap()).collect();
    assert_eq!(codes, ["judge-own-exhibit"]);
    // And who judges a class is told so when they enter it.
    let refused = hall.enter(&edda, "1", json!([{"cultivar_id": hall.regal}]), json!({})).await;
    assert!(refused.fields().contains(&"/class_id judge-conflict".to_owned()), "{}", refused.text());
    assert_eq!(edda.get(&officials).await.problem(403), "not-allowed");
    act(&hall.bram, Method::DELETE, &judge.header("location"), json!({})).await.expect(204);
}

#[tokio::test]
async fn those_concerned_by_an_amendment_are_told_and_may_withdraw() {
    let hall = Hall::open(&[
        ("1", json!({"slots": [slot(&json!({}))]})),
        ("2", json!({"slots": [slot(&json!({}))]})),
    ])
    .await;
    let (edda, una) = (hall.society.member("Edda Wick").await, hall.society.member("Una Fell").await);
    let path = hall
        .enter(&edda, "1", json!([{"cultivar_id": hall.regal}]), json!({}))
        .await
        .expect(201)
        .header("location");
    hall.enter(&una, "2", json!([{"cultivar_id": hall.regal}]), json!({})).await.expect(201);
    let class = hall.class("1").await;
    let smaller = json!({"label": "1", "title": "Class 1", "rules": {"slots": [slot(&json!({"pot": four_and_a_half()}))]}});
    act(&hall.bram, Method::PUT, &format!("{}/draft/classes/{class}", hall.show), smaller).await.expect(200);
    let out = hall.publish(&json!({"reason": "The benches are narrow."})).await.expect(200).json();
    assert_eq!(out["number"], 2);
    let told = |rows: Vec<Value>| rows.iter().filter(|row| row["kind"] == "show_news").count();
    assert_eq!(told(edda.walk("/api/v1/notices").await), 1);
    assert_eq!(told(una.walk("/api/v1/notices").await), 0);
    act(&edda, Method::POST, &format!("{path}/withdrawal"), json!({})).await.expect(200);
    // A class with entries is not taken out.
    let two = hall.class("2").await;
    let refused =
        act(&hall.bram, Method::DELETE, &format!("{}/draft/classes/{two}", hall.show), json!({})).await;
    assert_eq!(
        (refused.problem(409).as_str(), refused.fields()),
        ("in-use", vec!["/classes has-entries".to_owned()])
    );
}
