//! Plant health: holds, the trace of a plant's cuttings, health notices.

use diesel::prelude::*;
use serde_json::{Value, json};
use storksbill_db::rows::plants::{self as rows, Plant};
use storksbill_db::rows::{health, members};
use storksbill_db::schema::{members as people, plants};
use storksbill_domain::ids::{CultivarId, MemberId, PlantId, RegionId};
use storksbill_domain::words::{Environment, GrowthForm, Visibility};
use storksbill_tests::{Actor, TestApp};

use crate::swaps::{cultivar, round_of, swap_with, swapper};

const HOLDS: &str = "/api/v1/health/holds";
const PLANTS: &str = "/api/v1/plants";
const NOTICES: &str = "/api/v1/notices";

/// A society with a region and a cultivar.
struct Bench {
    society: TestApp,
    region: RegionId,
    light: CultivarId,
}

impl Bench {
    async fn start() -> Self {
        let society = TestApp::start().await;
        let region = society.region("The Vale").await;
        let light = cultivar(&society, "Harbour Light").await;
        Self { society, region, light }
    }

    fn body(&self, more: &Value) -> Value {
        let mut body = json!({
            "cultivar_id": self.light, "how_many": 1, "environment": "frost_free", "form": "bush",
            "region_id": self.region,
        });
        for (field, value) in more.as_object().unwrap() {
            body[field] = value.clone();
        }
        body
    }

    /// A plant, entered through the API.
    async fn plant(&self, owner: &Actor, more: Value) -> String {
        owner.post(PLANTS, self.body(&more)).await.expect(201).id()
    }

    /// Una's plant, Bram's of it, Edda's private one of Bram's, and Otto's of Edda's; and a plant Una sold
    /// nobody.
    async fn line(&self) -> Line {
        let una = self.society.member("Una Marsh").await;
        let bram = self.society.member("Bram Oake").await;
        let edda = self.society.member("Edda Wick").await;
        let otto = self.society.member("Otto Fell").await;
        let first = self.plant(&una, json!({"label": "U1"})).await;
        let of_bram = json!({"label": "B1", "source_plant_id": first, "got_on": "2026-03-01"});
        let second = self.plant(&bram, of_bram).await;
        let of_edda = json!({"label": "E1", "source_plant_id": second, "visibility": "society"});
        let third = self.plant(&edda, of_edda).await;
        let fourth = self.plant(&otto, json!({"source_plant_id": third, "how_many": 3})).await;
        edda.patch(&format!("{PLANTS}/{third}"), "*", json!({"visibility": "private"})).await.expect(200);
        self.plant(&una, json!({"label": "U2"})).await;
        Line { una, bram, edda, otto, plants: [first, second, third, fourth] }
    }
}

struct Line {
    una: Actor,
    bram: Actor,
    edda: Actor,
    otto: Actor,
    plants: [String; 4],
}

fn trace_of(plant: &str) -> String {
    format!("{PLANTS}/{plant}/trace")
}

fn line(trace: &Value) -> Vec<String> {
    let rows = trace["line"].as_array().unwrap();
    rows.iter().map(|row| format!("{} {}", row["depth"], row["member_name"].as_str().unwrap())).collect()
}

#[tokio::test]
async fn a_grower_holds_a_plant_and_lifts_the_hold() {
    let bench = Bench::start().await;
    let (una, bram) = (bench.society.member("Una Marsh").await, bench.society.member("Bram Oake").await);
    let plant = bench.plant(&una, json!({"label": "U1"})).await;
    let body = json!({"plant_id": plant, "reason": "Rust on two leaves"});
    assert_eq!(bram.post(HOLDS, body.clone()).await.fields(), ["/plant_id not-found"]);
    let placed = una.post_once(HOLDS, "rust", body.clone()).await.expect(201);
    assert_eq!(una.post_once(HOLDS, "rust", body).await.expect(201).id(), placed.id());
    let told = placed.json();
    assert_eq!(told["placed_by"], json!(una.id()));
    let names = ["member_name", "plant_label", "cultivar_name", "reason"].map(|field| told[field].as_str());
    assert_eq!(names, [Some("Una Marsh"), Some("U1"), Some("Harbour Light"), Some("Rust on two leaves")]);
    let id: PlantId = plant.parse().unwrap();
    let held = bench.society.read(health::held).await;
    assert!(held.holds(una.id(), Some(id)) && !held.holds(una.id(), None) && !held.holds(bram.id(), None));

    let path = placed.header("location");
    assert_eq!(bram.get(&path).await.problem(404), "not-found");
    assert_eq!(bram.post(&format!("{path}/lift"), json!({})).await.problem(404), "not-found");
    // The record of the hold keeps its plant.
    let plant_path = format!("{PLANTS}/{plant}");
    let etag = una.get(&plant_path).await.etag();
    let gone = una.request(reqwest::Method::DELETE, &plant_path).header("if-match", &etag).send().await;
    assert_eq!(gone.problem(409), "in-use");
    let lifted = una.post(&format!("{path}/lift"), json!({"note": "Clean for a month"})).await.expect(200);
    assert_eq!(lifted.json()["lift_note"], "Clean for a month");
    assert_eq!(una.get(&path).await.expect(200).json(), lifted.json());
    assert_eq!(una.post(&format!("{path}/lift"), json!({})).await.problem(409), "wrong-state");
    let held = bench.society.read(health::held).await;
    assert_eq!(held, health::Held::default());
    assert_eq!(una.walk(NOTICES).await.len(), 0, "nobody tells themselves");
}

#[tokio::test]
async fn an_officer_holds_anybodys_plants_and_officers_alone_lift_that() {
    let bench = Bench::start().await;
    let society = &bench.society;
    let una = society.member("Una Marsh").await;
    let officer = society.secretary_of("Ines Holm", society.club("Quay", bench.region).await).await;
    let private = bench.plant(&una, json!({"visibility": "private"})).await;
    let one =
        officer.post(HOLDS, json!({"plant_id": private, "reason": "Wilting at the show"})).await.expect(201);
    let all = officer.post(HOLDS, json!({"member_id": una.id(), "reason": "Visited"})).await.expect(201);
    assert_eq!(all.json()["plant_id"], Value::Null);
    let held = society.read(health::held).await;
    assert!(held.holds(una.id(), None));
    // The grower is told, and cannot lift what an officer placed.
    let told = una.walk(NOTICES).await;
    assert_eq!(told.len(), 2);
    assert_eq!(told[0]["kind"], "health_notice");
    assert!(told[0]["words"].as_str().unwrap().contains("Wilting at the show"), "{}", told[0]);
    assert_eq!(told[0]["subject"], json!({"kind": "plant", "id": private}));
    let path = one.header("location");
    assert_eq!(una.post(&format!("{path}/lift"), json!({})).await.problem(403), "not-allowed");
    officer.post(&format!("{path}/lift"), json!({})).await.expect(200);

    una.post(HOLDS, json!({"reason": "Moving house"})).await.expect(201);
    let reasons = |rows: Vec<Value>| -> Vec<String> {
        rows.iter().map(|row| row["reason"].as_str().unwrap().to_owned()).collect()
    };
    let newest_first = ["Moving house", "Visited", "Wilting at the show"];
    assert_eq!(reasons(una.walk(&format!("{HOLDS}?limit=1")).await), newest_first);
    assert_eq!(reasons(officer.walk(HOLDS).await), newest_first);
    assert_eq!(reasons(officer.walk(&format!("{HOLDS}?lifted=true")).await), ["Wilting at the show"]);
    assert_eq!(
        reasons(officer.walk(&format!("{HOLDS}?lifted=false&member_id={}", officer.id())).await).len(),
        0
    );
    // Others see none, whatever they ask for.
    let bram = society.member("Bram Oake").await;
    assert_eq!(bram.walk(&format!("{HOLDS}?member_id={}", una.id())).await.len(), 0);
    for (body, fields) in [
        (json!({"member_id": una.id(), "reason": "x"}), vec!["/member_id not-found"]),
        (json!({"plant_id": PlantId::fresh(), "reason": "x"}), vec!["/plant_id not-found"]),
        (
            json!({"plant_id": private, "member_id": una.id(), "reason": " "}),
            vec!["/member_id not-both", "/reason required"],
        ),
        (json!({"reason": "Ask ines@merrow.example"}), vec!["/reason e-mail-address"]),
    ] {
        let refused = bram.post(HOLDS, body).await;
        assert_eq!(refused.problem(422), "invalid-fields");
        assert_eq!(refused.fields(), fields);
    }
}

#[tokio::test]
async fn a_trace_follows_the_cuttings_from_grower_to_grower() {
    let bench = Bench::start().await;
    let Line { una, bram, edda, otto, plants } = bench.line().await;
    let officer = bench.society.registrar("Ines Holm").await;
    let trace = officer.get(&trace_of(&plants[0])).await.expect(200).json();
    assert_eq!(line(&trace), ["0 Una Marsh", "1 Bram Oake", "2 Edda Wick", "3 Otto Fell"]);
    assert_eq!(trace["line"][1]["from_plant_id"], json!(plants[0]));
    assert_eq!(trace["line"][1]["got_on"], "2026-03-01");
    assert_eq!(
        (&trace["growers"], &trace["hidden"], &trace["cut_short"]),
        (&json!(4), &json!(0), &json!(false))
    );
    assert!(trace["caution"].as_str().unwrap().contains("local rules decide"));

    // To the grower a private plant of somebody else's is counted and no more.
    let trace = una.get(&trace_of(&plants[0])).await.expect(200).json();
    assert_eq!(line(&trace), ["0 Una Marsh", "1 Bram Oake", "3 Otto Fell"]);
    assert_eq!((&trace["growers"], &trace["hidden"]), (&json!(4), &json!(1)));
    assert_eq!(trace["line"][2]["from_plant_id"], Value::Null);
    assert!(!trace.to_string().contains(&plants[2]), "{trace}");
    // From the middle on, and from its origin on.
    let trace = bram.get(&trace_of(&plants[1])).await.expect(200).json();
    assert_eq!(line(&trace), ["0 Bram Oake", "2 Otto Fell"]);
    let trace = bram.get(&format!("{}?sources=true", trace_of(&plants[1]))).await.expect(200).json();
    assert_eq!(line(&trace), ["0 Una Marsh", "1 Bram Oake", "3 Otto Fell"]);
    assert_eq!(trace["origin_plant_id"], json!(plants[0]));
    // Nobody else's.
    assert_eq!(otto.get(&trace_of(&plants[0])).await.problem(404), "not-found");
    assert_eq!(edda.get(&trace_of(&plants[3])).await.problem(404), "not-found");
}

#[tokio::test]
async fn a_trace_tells_of_cuttings_promised_in_an_accepted_ring_alone() {
    let bench = Bench::start().await;
    let Line { una, bram, plants, .. } = bench.line().await;
    let officer = bench.society.registrar("Ines Holm").await;
    let rose = cultivar(&bench.society, "Quay Rose").await;
    let carol = swapper(&bench.society, "Carol Pike").await;
    swap_with(&bench.society, &bram).await;
    let (offers, wants) = ("/api/v1/swaps/offers", "/api/v1/swaps/wants");
    bram.post(offers, json!({"plant_id": plants[1], "how_many": 2, "healthy": true})).await.expect(201);
    carol.post(offers, json!({"cultivar_id": rose, "how_many": 1, "healthy": true})).await.expect(201);
    bram.post(wants, json!({"cultivar_id": rose, "rank": 1})).await.expect(201);
    carol.post(wants, json!({"cultivar_id": bench.light, "rank": 1})).await.expect(201);
    let round = round_of(&bench.society, &officer, json!({})).await;
    let ring = format!("/api/v1/swaps/rings/{}/answer", round["rings"][0]["id"].as_str().unwrap());
    bram.post(&ring, json!({"answer": "accepted"})).await.expect(200);
    let trace = una.get(&trace_of(&plants[0])).await.expect(200).json();
    assert_eq!(line(&trace).len(), 3, "only proposed: {trace}");
    bench.society.clock.advance(chrono::TimeDelta::minutes(2));
    carol.post(&ring, json!({"answer": "accepted"})).await.expect(200);
    let trace = una.get(&trace_of(&plants[0])).await.expect(200).json();
    assert!(line(&trace).contains(&"2 Carol Pike".to_owned()), "{trace}");
    let cutting = trace["line"].as_array().unwrap().iter().find(|row| row["member_name"] == "Carol Pike");
    let cutting = cutting.unwrap();
    assert_eq!((&cutting["plant_id"], &cutting["from_plant_id"]), (&Value::Null, &json!(plants[1])));
    assert_eq!(cutting["accepted_at"], "2026-05-10T12:02:00Z");
    // And she is told of it.
    let path = format!("{PLANTS}/{}/health-notice", plants[0]);
    let told = una.post(&path, json!({"what": "Rust"})).await.expect(201).json();
    assert_eq!(told["told"], 4);
    let notice = &carol.walk(NOTICES).await[0];
    assert_eq!(notice["subject"]["kind"], "hand_over");
    assert!(notice["words"].as_str().unwrap().contains("a cutting of Harbour Light by the swap"), "{notice}");
}

#[tokio::test]
async fn plants_that_name_each_other_in_error_are_met_once() {
    let bench = Bench::start().await;
    let Line { una, plants: ids, .. } = bench.line().await;
    let officer = bench.society.registrar("Ines Holm").await;
    // The first is said to come from the third: first, second and third stand in a ring.
    let (first, third) = (ids[0].clone(), ids[2].clone());
    bench
        .society
        .write(move |conn| {
            let first: PlantId = first.parse().unwrap();
            let third: PlantId = third.parse().unwrap();
            diesel::update(plants::table.find(first)).set(plants::source_plant_id.eq(third)).execute(conn)?;
            Ok(())
        })
        .await;
    for plant in &ids[..3] {
        for sources in [false, true] {
            let path = format!("{}?sources={sources}", trace_of(plant));
            let trace = officer.get(&path).await.expect(200).json();
            assert_eq!(
                (&trace["growers"], trace["line"].as_array().unwrap().len()),
                (&json!(4), 4),
                "{trace}"
            );
        }
    }
    // Otto's stands at the foot of the ring; from its source on everything is met.
    let trace = officer.get(&format!("{}?sources=true", trace_of(&ids[3]))).await.expect(200).json();
    assert_eq!(trace["growers"], 4, "{trace}");
    let path = format!("{PLANTS}/{}/health-notice", ids[0]);
    assert_eq!(una.post(&path, json!({"what": "Rust"})).await.expect(201).json()["told"], 3);
}

#[tokio::test]
async fn a_very_long_line_is_cut_short_and_says_so() {
    let bench = Bench::start().await;
    let (una, bram) = (bench.society.member("Una Marsh").await, bench.society.member("Bram Oake").await);
    let first: PlantId = bench.plant(&una, json!({})).await.parse().unwrap();
    let (light, region, owner, now) = (bench.light, bench.region, bram.id(), bench.society.clock.now());
    let of = move |source: PlantId| Plant {
        id: PlantId::fresh(),
        owner_id: owner,
        cultivar_id: light,
        region_id: region,
        label: None,
        how_many: 1,
        pot_um: None,
        environment: Environment::Outdoors,
        heated_to_c: None,
        form: GrowthForm::Young,
        source_plant_id: Some(source),
        source_member_id: None,
        got_on: None,
        visibility: Visibility::Society,
        version: 1,
        created_at: now.naive_utc(),
    };
    // A hundred generations one after another, and a great brood of the last.
    let mut brood = vec![of(first)];
    for _ in 1..100 {
        brood.push(of(brood.last().unwrap().id));
    }
    let last = brood.last().unwrap().id;
    brood.extend((0..9_900).map(|_| of(last)));
    bench.society.write(move |conn| rows::insert_all(conn, &brood)).await;
    let path = trace_of(first.as_str());
    let trace = una.get(&path).await.expect(200).json();
    assert_eq!((trace["line"].as_array().unwrap().len(), &trace["cut_short"]), (10_000, &json!(true)));
    assert_eq!(trace["line"][9_999]["depth"], 101);
    let told = una.post(&format!("{PLANTS}/{first}/health-notice"), json!({"what": "Rust"})).await;
    assert_eq!(told.expect(201).json()["told"], 1);
    assert!(bram.walk(NOTICES).await[0]["words"].as_str().unwrap().contains("9995 more"));
}

#[tokio::test]
async fn a_health_notice_holds_the_plant_and_tells_each_grower_of_their_own_alone() {
    let bench = Bench::start().await;
    let Line { una, bram, edda, otto, plants } = bench.line().await;
    let path = format!("{PLANTS}/{}/health-notice", plants[0]);
    let body = json!({"what": "Rust under the leaves.", "advice": "Pick off spotted leaves and burn them."});
    assert_eq!(bram.post(&path, body.clone()).await.problem(404), "not-found");
    for (body, fields) in [
        (json!({}), vec!["/what required"]),
        (
            json!({"what": "See una@merrow.example", "advice": "x".repeat(1001)}),
            vec!["/advice too-long", "/what e-mail-address"],
        ),
    ] {
        assert_eq!(una.post(&path, body).await.fields(), fields);
    }
    let left: MemberId = otto.id();
    bench
        .society
        .write(move |conn| {
            diesel::update(people::table.find(left)).set(people::standing.eq("left")).execute(conn)?;
            Ok(())
        })
        .await;
    let sent = una.post_once(&path, "rust", body.clone()).await.expect(201);
    assert_eq!(una.post_once(&path, "rust", body).await.expect(201).json(), sent.json());
    assert_eq!((&sent.json()["told"], &sent.json()["not_told"]), (&json!(2), &json!(1)));
    let hold = una.get(&sent.header("location")).await.expect(200).json();
    assert_eq!((&hold["plant_id"], &hold["reason"]), (&json!(plants[0]), &json!("Rust under the leaves.")));

    let emails =
        bench.society.read(|conn| Ok(people::table.select(people::email).load::<String>(conn)?)).await;
    for (actor, label, plant) in [(&bram, "B1", &plants[1]), (&edda, "E1", &plants[2])] {
        let told = actor.walk(NOTICES).await;
        assert_eq!(told.len(), 1);
        let words = told[0]["words"].as_str().unwrap();
        assert_eq!(told[0]["subject"], json!({"kind": "plant", "id": plant}));
        for part in ["Rust under the leaves.", "burn them", "Harbour Light", label, "plant-health authority"]
        {
            assert!(words.contains(part), "{words}");
        }
        // Nobody's name, address or other plant.
        let others = ["U1", "B1", "E1", "Marsh", "Oake", "Wick", "Fell"];
        for other in
            others.into_iter().filter(|other| *other != label).chain(emails.iter().map(String::as_str))
        {
            assert!(!words.contains(other), "{words} tells {other}");
        }
    }
    assert_eq!(una.walk(NOTICES).await.len(), 0);
    // An officer's second notice finds the hold there already.
    let officer = bench.society.administrator("Ines Holm").await;
    let second = officer.post(&path, json!({"what": "It spreads"})).await.expect(201);
    assert_eq!(second.json()["hold_id"], hold["id"]);
    assert_eq!(bram.walk(NOTICES).await.len(), 2);
    let standing = bench.society.read(move |conn| members::find(conn, left)).await.unwrap().standing;
    assert_eq!(standing.as_str(), "left");
}
