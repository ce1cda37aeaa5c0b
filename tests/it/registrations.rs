//! Names before the registrar: proposed, questioned, answered, registered, refused, withdrawn; and the register.

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_tests::{Actor, Answer, TestApp};

use crate::swaps::cultivar;

const QUEUE: &str = "/api/v1/registrations";

struct Desk {
    society: TestApp,
    una: Actor,
    registrar: Actor,
    seedling: String,
}

impl Desk {
    /// A society with a registrar, and a seedling of Una's entered under its number.
    async fn start() -> Self {
        let society = TestApp::start().await;
        let una = society.member("Una Marsh").await;
        let registrar = society.registrar("Bram Oake").await;
        let seedling = entered(&una, "2024-017/3").await;
        Self { society, una, registrar, seedling }
    }

    async fn propose(&self, name: &str) -> Answer {
        self.una.post(QUEUE, json!({"cultivar_id": self.seedling, "name": name})).await
    }
}

async fn entered(who: &Actor, name: &str) -> String {
    let body = json!({"name": name, "plant_group": "zonal", "status": "seedling"});
    who.post("/api/v1/cultivars", body).await.expect(201).id()
}

/// A step against the version that was read.
async fn step(who: &Actor, path: &str, what: &str, etag: &str, body: Value) -> Answer {
    let path = format!("{path}/{what}");
    who.request(Method::POST, &path).header("if-match", etag).json(&body).send().await
}

async fn steps(who: &Actor, path: &str) -> Vec<String> {
    let rows = who.walk(&format!("{path}/steps?limit=1")).await;
    rows.iter()
        .map(|row| {
            let [kind, name, by] = ["kind", "name", "member_name"].map(|field| row[field].as_str().unwrap());
            format!("{kind} {name} {by} {}", row["reason"].as_str().unwrap_or("-"))
        })
        .collect()
}

async fn notices(who: &Actor) -> Vec<String> {
    let rows = who.walk("/api/v1/notices").await;
    rows.iter()
        .map(|row| format!("{} {}", row["kind"].as_str().unwrap(), row["words"].as_str().unwrap()))
        .collect()
}

#[tokio::test]
async fn a_name_is_questioned_answered_and_registered_and_every_step_is_kept() {
    let desk = Desk::start().await;
    let (una, registrar) = (&desk.una, &desk.registrar);
    let proposal =
        json!({"cultivar_id": desk.seedling, "name": "'Skerravoe Lantern'", "words": "After the light"});
    let made = una.post_once(QUEUE, "first", proposal.clone()).await.expect(201);
    assert_eq!(una.post_once(QUEUE, "first", proposal.clone()).await.expect(201).id(), made.id());
    let path = made.header("location");
    let told = una.get(&path).await.expect(200);
    assert_eq!((told.json(), &told.etag()[..3]), (made.json(), "\"1-"));
    let told = told.json();
    assert_eq!(
        (&told["name"], &told["state"], &told["cultivar_name"], &told["proposer_name"]),
        (&json!("Skerravoe Lantern"), &json!("proposed"), &json!("2024-017/3"), &json!("Una Marsh"))
    );
    // One name of a cultivar at a time.
    assert_eq!(una.post(QUEUE, proposal).await.problem(409), "wrong-state");

    // The registrar decides, and nobody else; a question needs its words.
    let ask = json!({"reason": "Is there a photograph?"});
    assert_eq!(step(una, &path, "question", "*", ask.clone()).await.problem(403), "not-allowed");
    assert_eq!(
        step(registrar, &path, "question", "*", json!({"reason": " "})).await.fields(),
        ["/reason required"]
    );
    assert_eq!(
        step(registrar, &path, "question", "\"7\"", ask.clone()).await.problem(412),
        "version-mismatch"
    );
    let asked = step(registrar, &path, "question", "\"1\"", ask.clone()).await.expect(200);
    assert_eq!((&asked.json()["state"], asked.etag()), (&json!("questioned"), "\"2\"".to_owned()));
    assert_eq!(step(registrar, &path, "question", "*", ask).await.problem(409), "wrong-state");
    assert_eq!(step(registrar, &path, "registration", "*", json!({})).await.problem(409), "wrong-state");

    let answer = json!({"words": "Sent by post", "name": "Skerravoe Lamp"});
    assert_eq!(step(registrar, &path, "answer", "*", answer.clone()).await.problem(403), "not-allowed");
    let answered = step(una, &path, "answer", "\"2\"", answer).await.expect(200).json();
    assert_eq!((&answered["state"], &answered["name"]), (&json!("proposed"), &json!("Skerravoe Lamp")));

    let cultivar = format!("/api/v1/cultivars/{}", desk.seedling);
    let before = una.get(&cultivar).await.expect(200);
    let done = step(registrar, &path, "registration", "\"3\"", json!({})).await.expect(200).json();
    assert_eq!(
        (&done["state"], &done["registration_no"], &done["registered_on"]),
        (&json!("registered"), &json!(1), &json!("2026-05-10"))
    );
    let named = una.get(&cultivar).await.expect(200);
    assert_eq!(
        (&named.json()["name"], &named.json()["status"], named.etag() == before.etag()),
        (&json!("Skerravoe Lamp"), &json!("named"), false)
    );
    for what in ["question", "refusal", "registration"] {
        let body = if what == "registration" { json!({}) } else { json!({"reason": "Late"}) };
        assert_eq!(step(registrar, &path, what, "*", body).await.problem(409), "wrong-state");
    }
    assert_eq!(step(una, &path, "withdrawal", "*", json!({})).await.problem(409), "wrong-state");
    assert_eq!(
        steps(una, &path).await,
        [
            "proposed Skerravoe Lantern Una Marsh After the light",
            "questioned Skerravoe Lantern Bram Oake Is there a photograph?",
            "answered Skerravoe Lamp Una Marsh Sent by post",
            "registered Skerravoe Lamp Bram Oake -",
        ]
    );
    assert_eq!(
        notices(una).await,
        [
            "name_questioned The registrar asks about 'Skerravoe Lantern': Is there a photograph?",
            "name_registered 'Skerravoe Lamp' is registered as number 1.",
        ]
    );
    assert!(notices(registrar).await.is_empty());
    // A registered name is not proposed anew.
    assert_eq!(desk.propose("Skerravoe Beacon").await.problem(409), "wrong-state");
}

#[tokio::test]
async fn errors_bar_a_name_each_by_its_rule_and_warnings_are_overridden_with_a_reason() {
    let desk = Desk::start().await;
    let (una, registrar) = (&desk.una, &desk.registrar);
    cultivar(&desk.society, "Harbour Light").await;
    // More than thirty letters, a symbol; barred words; a name in use (as told in the rules for names).
    let barred = desk.propose("Everlasting Remembrance Of Skerravoe $ Harbour").await;
    assert_eq!(barred.fields(), ["/name LEN30", "/name PUNCT"]);
    assert_eq!(desk.propose("Apricot Variety").await.fields(), ["/name BANNED"]);
    assert_eq!(desk.propose("harbour light").await.fields(), ["/name UNIQUE"]);
    assert_eq!(una.walk(QUEUE).await, Vec::<Value>::new());
    // Close to another name: a warning, which hinders nothing but is to be answered for.
    let made = desk.propose("Harbor Light").await.expect(201);
    let rules: Vec<_> =
        made.json()["findings"].as_array().unwrap().iter().map(|f| f["rule"].clone()).collect();
    assert_eq!((rules, &made.json()["near"][0]["name"]), (vec![json!("NEAR")], &json!("Harbour Light")));
    let path = made.header("location");
    let refused = step(registrar, &path, "registration", "*", json!({"reason": " "})).await;
    assert_eq!(refused.fields(), ["/reason required"]);
    assert_eq!(una.get(&path).await.json()["state"], "proposed", "nothing was kept");
    let reason = json!({"reason": "Its raiser holds both"});
    step(registrar, &path, "registration", "*", reason).await.expect(200);
    assert_eq!(
        steps(una, &path).await,
        ["proposed Harbor Light Una Marsh -", "registered Harbor Light Bram Oake Its raiser holds both"]
    );
}

#[tokio::test]
async fn a_name_taken_meanwhile_is_not_registered() {
    let desk = Desk::start().await;
    let (una, registrar) = (&desk.una, &desk.registrar);
    let path = desk.propose("Spring Tide").await.expect(201).header("location");
    // Of another group: the rules know one genus.
    let body = json!({"name": "Spring Tide", "plant_group": "regal", "status": "named"});
    registrar.post("/api/v1/cultivars", body).await.expect(201);
    let refused = step(registrar, &path, "registration", "*", json!({"reason": "Why not"})).await;
    assert_eq!(refused.problem(409), "taken");
    assert_eq!(una.get(&format!("/api/v1/cultivars/{}", desk.seedling)).await.json()["status"], "seedling");
    assert_eq!(una.get(&path).await.json()["version"], 1, "nothing was kept");
    // Nor proposed again when questioned.
    step(registrar, &path, "question", "*", json!({"reason": "It is taken now"})).await.expect(200);
    assert_eq!(step(una, &path, "answer", "*", json!({"words": "Oh"})).await.fields(), ["/name UNIQUE"]);
    step(una, &path, "answer", "*", json!({"words": "Then this", "name": "Neap Tide"})).await.expect(200);
    let refusal = json!({"reason": "Write to una@merrow.example"});
    assert_eq!(step(registrar, &path, "refusal", "*", refusal).await.fields(), ["/reason e-mail-address"]);
    let told =
        step(registrar, &path, "refusal", "*", json!({"reason": "Not yet flowered"})).await.expect(200);
    assert_eq!(told.json()["state"], "refused");
    assert_eq!(
        notices(una).await.last().unwrap(),
        "name_refused The registrar refused 'Neap Tide': Not yet flowered"
    );
    // Refused, it may be proposed once more, and taken back.
    let again = desk.propose("Neap Tide").await.expect(201).header("location");
    let back = json!({"reason": "Another year"});
    assert_eq!(step(registrar, &again, "withdrawal", "*", back.clone()).await.problem(403), "not-allowed");
    step(una, &again, "withdrawal", "\"1\"", back).await.expect(200);
    assert_eq!(desk.propose("Ebb Tide").await.expect(201).json()["state"], "proposed");
}

#[tokio::test]
async fn a_member_proposes_for_what_they_entered_or_raised_alone() {
    let desk = Desk::start().await;
    let bram = desk.society.member("Edda Wick").await;
    let of = |cultivar: &str| json!({"cultivar_id": cultivar, "name": "Ebb Tide"});
    for who in [&bram, &desk.registrar] {
        assert_eq!(who.post(QUEUE, of(&desk.seedling)).await.fields(), ["/cultivar_id not-found"]);
    }
    assert_eq!(desk.una.post(QUEUE, json!({"name": "Ebb Tide"})).await.fields(), [" one-of"]);
    // Raised by Edda, entered by the registrar.
    let light = cultivar(&desk.society, "Harbour Light").await;
    let crossed = json!({"seed_parent": {"cultivar_id": light}, "pollen_parents": []});
    let cross = bram.post("/api/v1/crosses", crossed).await.expect(201).header("location");
    let seedling = bram.post(&format!("{cross}/seedlings"), json!({})).await.expect(201);
    let proposal = json!({"seedling_id": seedling.id(), "name": "Ebb Tide"});
    assert_eq!(bram.post(QUEUE, proposal.clone()).await.fields(), ["/seedling_id not-entered"]);
    assert_eq!(desk.una.post(QUEUE, proposal.clone()).await.fields(), ["/seedling_id not-found"]);
    let raised = entered(&desk.registrar, "E-1").await;
    let named = json!({"status": "named", "cultivar_id": raised});
    bram.patch(&seedling.header("location"), "*", named).await.expect(200);
    let made = bram.post(QUEUE, proposal).await.expect(201).json();
    assert_eq!(made["cultivar_id"], json!(raised));
    assert_eq!(bram.post(QUEUE, of(&raised)).await.problem(409), "wrong-state");
}

#[tokio::test]
async fn what_is_not_registered_is_seen_by_its_proposer_and_the_registrar_alone() {
    let desk = Desk::start().await;
    let edda = desk.society.member("Edda Wick").await;
    let path = desk.propose("Ebb Tide").await.expect(201).header("location");
    let nowhere = format!("{QUEUE}/017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    for sub in ["", "/steps"] {
        let [hidden, absent] = [&path, &nowhere].map(|path| format!("{path}{sub}"));
        let [hidden, absent] = [edda.get(&hidden).await, edda.get(&absent).await];
        assert_eq!(
            (hidden.problem(404), &hidden.json()["detail"]),
            (absent.problem(404), &absent.json()["detail"])
        );
    }
    for (what, body) in [("answer", json!({"words": "Hm"})), ("withdrawal", json!({}))] {
        assert_eq!(step(&edda, &path, what, "*", body).await.problem(404), "not-found");
    }
    assert!(edda.walk(QUEUE).await.is_empty());
    let other = entered(&edda, "E-2").await;
    edda.post(QUEUE, json!({"cultivar_id": other, "name": "Quay Lamp"})).await.expect(201);
    let names = async |who: &Actor, query: &str| -> Vec<String> {
        let rows = who.walk(&format!("{QUEUE}?limit=1{query}")).await;
        rows.iter().map(|row| row["name"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(names(&desk.registrar, "&state=proposed").await, ["Ebb Tide", "Quay Lamp"]);
    assert_eq!(names(&desk.registrar, "&state=refused").await, Vec::<String>::new());
    assert_eq!(names(&desk.registrar, "&mine=true").await, Vec::<String>::new());
    assert_eq!(names(&edda, "&mine=false").await, ["Quay Lamp"]);
    assert_eq!(desk.society.visitor().walk("/api/v1/register").await, Vec::<Value>::new());
}

#[tokio::test]
async fn the_register_runs_on_by_number_and_is_open_to_everybody() {
    let desk = Desk::start().await;
    let light = cultivar(&desk.society, "Harbour Light").await;
    let body = json!({
        "name": "2024-018/1", "plant_group": "regal", "status": "on_trial", "raiser": "Una Marsh",
        "seed_parent_id": light,
        "pollen_candidates": [{"cultivar_id": light, "share_thousandths": 600}, {"share_thousandths": 400}],
    });
    let second = desk.una.post("/api/v1/cultivars", body).await.expect(201).id();
    let first = desk.propose("Ebb Tide").await.expect(201).header("location");
    let later = json!({"cultivar_id": second, "name": "Quay Lamp"});
    let later = desk.una.post(QUEUE, later).await.expect(201).header("location");
    // In the order of registering, not of proposing.
    for path in [&later, &first] {
        step(&desk.registrar, path, "registration", "*", json!({})).await.expect(200);
    }
    let rows = desk.society.visitor().walk("/api/v1/register?limit=1").await;
    assert_eq!(
        rows,
        [
            json!({
                "number": 1, "name": "Quay Lamp", "current_name": "Quay Lamp", "cultivar_id": second, "plant_group": "regal",
                "raiser": "Una Marsh", "seed_parent": {"name": "Harbour Light", "undisclosed": false},
                "pollen_parent": null, "source": null, "registered_on": "2026-05-10",
                "pollen_candidates": [
                    {"parent": {"name": "Harbour Light", "undisclosed": false}, "share_thousandths": 600},
                    {"parent": null, "share_thousandths": 400}
                ],
            }),
            json!({
                "number": 2, "name": "Ebb Tide", "current_name": "Ebb Tide", "cultivar_id": desk.seedling, "plant_group": "zonal",
                "raiser": null, "seed_parent": null, "pollen_parent": null, "source": null,
                "pollen_candidates": [],
                "registered_on": "2026-05-10",
            }),
        ]
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn names_registered_at_once_get_numbers_of_their_own() {
    let desk = Desk::start().await;
    let mut paths = Vec::new();
    for name in ["Ebb Tide", "Quay Lamp", "Skerravoe Lantern", "Merrow Dawn"] {
        let id = entered(&desk.una, &format!("U {name}")).await;
        let made = desk.una.post(QUEUE, json!({"cultivar_id": id, "name": name})).await.expect(201);
        paths.push(made.header("location"));
    }
    let mut tasks = tokio::task::JoinSet::new();
    for path in paths {
        let registrar = desk.registrar.clone();
        tasks.spawn(async move {
            // A conflict says that nothing was written and asks for another try.
            loop {
                let answer = step(&registrar, &path, "registration", "*", json!({"reason": "Fine"})).await;
                if answer.status != 409 {
                    return answer.expect(200).json()["registration_no"].as_i64().unwrap();
                }
            }
        });
    }
    let mut numbers = tasks.join_all().await;
    numbers.sort_unstable();
    assert_eq!(numbers, [1, 2, 3, 4]);
}
