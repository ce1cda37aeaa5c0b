//! What cultivars' records were, and two records made one.

use std::collections::BTreeMap;

use chrono::Datelike;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Text};
use reqwest::Method;
use serde_json::{Value, json};
use storksbill_db::Conn;
use storksbill_db::rows::merging::REFERENCES;
use storksbill_db::rows::reversions::{self, Report};
use storksbill_tests::{Actor, Answer, TestApp};

const CULTIVARS: &str = "/api/v1/cultivars";

struct Desk {
    society: TestApp,
    una: Actor,
    registrar: Actor,
}

impl Desk {
    async fn start() -> Self {
        let society = TestApp::start().await;
        let una = society.member("Una Marsh").await;
        let registrar = society.registrar("Bram Oake").await;
        Self { society, una, registrar }
    }

    /// A cultivar of Una's.
    async fn entered(&self, name: &str, more: Value) -> String {
        entered(&self.una, name, more).await
    }

    async fn merge(&self, from: &str, into: &str) -> Answer {
        merge(&self.registrar, from, into, "*").await
    }

    /// How many rows of each column that a merge moves still name the cultivar.
    async fn naming(&self, id: &str) -> BTreeMap<String, i64> {
        let id = id.to_owned();
        self.society
            .read(move |conn| {
                let moved = REFERENCES.iter().filter(|(.., moved)| *moved);
                Ok(moved
                    .map(|(table, column, _)| (format!("{table}.{column}"), count(conn, table, column, &id)))
                    .collect())
            })
            .await
    }
}

#[derive(QueryableByName)]
struct Count {
    #[diesel(sql_type = BigInt)]
    n: i64,
}

fn count(conn: &mut Conn, table: &str, column: &str, id: &str) -> i64 {
    let asked = diesel::sql_query(format!("select count(*) as n from {table} where {column} = $1"));
    asked.bind::<Text, _>(id.to_owned()).get_result::<Count>(conn).unwrap().n
}

async fn entered(who: &Actor, name: &str, more: Value) -> String {
    let mut body = json!({"name": name, "plant_group": "zonal", "status": "on_trial"});
    for (field, value) in more.as_object().unwrap() {
        body[field] = value.clone();
    }
    who.post(CULTIVARS, body).await.expect(201).id()
}

async fn merge(who: &Actor, from: &str, into: &str, etag: &str) -> Answer {
    let body = json!({"into": into, "reason": "Grown side by side for two years"});
    let path = format!("{CULTIVARS}/{from}/merge");
    who.request(Method::POST, &path).header("if-match", etag).json(&body).send().await
}

async fn read(who: &Actor, id: &str) -> Value {
    who.get(&format!("{CULTIVARS}/{id}")).await.expect(200).json()
}

async fn past(who: &Actor, id: &str) -> Vec<Value> {
    who.walk(&format!("{CULTIVARS}/{id}/history?limit=1")).await
}

#[tokio::test]
async fn each_change_keeps_what_the_record_was() {
    let desk = Desk::start().await;
    let light = desk.entered("Harbour Light", json!({})).await;
    let id = desk.entered("2024-017/3", json!({"seed_parent_id": light, "notes": "Salmon"})).await;
    let path = format!("{CULTIVARS}/{id}");
    assert!(past(&desk.una, &id).await.is_empty());
    desk.una.patch(&path, "\"1\"", json!({"notes": null})).await.expect(200);
    desk.registrar.patch(&path, "\"2\"", json!({"seed_parent_id": null})).await.expect(200);
    assert_eq!(
        desk.una.patch(&path, "\"1\"", json!({"notes": "Late"})).await.problem(412),
        "version-mismatch"
    );
    let told = past(&desk.una, &id).await;
    let told: Vec<_> = told
        .iter()
        .map(|past| {
            let record = &past["record"];
            json!([
                record["version"],
                record["notes"],
                record["seed_parent_id"],
                past["changed_by_name"],
                past["why"]
            ])
        })
        .collect();
    assert_eq!(
        told,
        [json!([2, null, light, "Bram Oake", null]), json!([1, "Salmon", light, "Una Marsh", null])]
    );
    assert_eq!(past(&desk.registrar, &id).await.len(), 2);
    let edda = desk.society.member("Edda Wick").await;
    assert_eq!(edda.get(&format!("{path}/history")).await.problem(403), "not-allowed");
    // A removed record takes its past with it.
    let gone = desk.registrar.request(Method::DELETE, &path).header("if-match", "*").send().await;
    gone.expect(204);
    assert_eq!(desk.una.get(&format!("{path}/history")).await.problem(404), "not-found");
}

#[tokio::test]
async fn a_parent_that_the_registrar_may_not_see_is_undisclosed_in_the_past_too() {
    let desk = Desk::start().await;
    let secret = desk.entered("Secret Line", json!({"visibility": "private"})).await;
    let id = desk.entered("2024-017/3", json!({"seed_parent_id": secret})).await;
    desk.una.patch(&format!("{CULTIVARS}/{id}"), "*", json!({"notes": "Late"})).await.expect(200);
    assert_eq!(past(&desk.una, &id).await[0]["record"]["seed_parent_id"], json!(secret));
    let told = past(&desk.registrar, &id).await;
    assert_eq!(told[0]["record"]["seed_parent_id"], Value::Null);
    assert_eq!(told[0]["record"]["undisclosed"], json!(["seed_parent_id"]));
    let hidden = desk.registrar.get(&format!("{CULTIVARS}/{secret}/history")).await;
    assert_eq!(hidden.problem(404), "not-found");
}

#[tokio::test]
async fn a_registered_name_keeps_the_number_it_had() {
    let desk = Desk::start().await;
    let id = desk.entered("2024-017/3", json!({})).await;
    let proposal = json!({"cultivar_id": id, "name": "Skerravoe Lantern"});
    let path = desk.una.post("/api/v1/registrations", proposal).await.expect(201).header("location");
    let decide = desk.registrar.request(Method::POST, &format!("{path}/registration"));
    decide.header("if-match", "*").json(&json!({})).send().await.expect(200);
    let told = past(&desk.una, &id).await;
    assert_eq!(
        (&told[0]["record"]["name"], &told[0]["why"]),
        (&json!("2024-017/3"), &json!("Registered as number 1."))
    );
}

#[tokio::test]
async fn a_cultivar_is_found_by_its_other_names() {
    let desk = Desk::start().await;
    let light = desk.entered("Harbour Light", json!({})).await;
    desk.entered("Quay Lamp", json!({})).await;
    for (name, kind) in [("Père Lampe", "synonym"), ("Lamplight", "misspelling")] {
        let body = json!({"name": name, "kind": kind});
        desk.registrar.post(&format!("{CULTIVARS}/{light}/names"), body).await.expect(201);
    }
    for (asked, expected) in [
        ("lamp", vec!["Harbour Light", "Quay Lamp"]),
        ("pere", vec!["Harbour Light"]),
        ("light", vec!["Harbour Light"]),
        ("beacon", vec![]),
    ] {
        let rows = desk.una.walk(&format!("{CULTIVARS}?name={asked}&limit=1")).await;
        let names: Vec<_> = rows.iter().map(|row| row["name"].as_str().unwrap()).collect();
        assert_eq!(names, expected, "{asked}");
    }
}

/// Every table that names cultivars has rows of the one that is merged, and of both where they can clash.
#[allow(clippy::too_many_lines, reason = "one record of every kind that names a cultivar")]
#[tokio::test]
async fn whatever_named_the_merged_record_names_the_kept_one() {
    let desk = Desk::start().await;
    let Desk { society, una, registrar } = &desk;
    let from = desk.entered("Harbour Beacon", json!({})).await;
    let into = desk.entered("Harbour Light", json!({})).await;
    let tide = desk.entered("Spring Tide", json!({})).await;
    let merged_before = desk.entered("Harbor Becon", json!({})).await;
    desk.merge(&merged_before, &from).await.expect(200);

    let seedling = desk.entered("Child", json!({"seed_parent_id": tide, "pollen_parent_id": from})).await;
    let child = desk.entered("Seed Child", json!({"seed_parent_id": from})).await;
    let sport = desk.entered("Frost", json!({"source_id": from, "reverts_to_id": from})).await;
    let shares = |one: i32, other: i32| {
        json!([
            {"cultivar_id": from, "share_thousandths": one},
            {"cultivar_id": into, "share_thousandths": other},
        ])
    };
    let one_left = desk.entered("One Left", json!({"pollen_candidates": shares(400, 600)})).await;
    let mut three = shares(300, 500);
    three.as_array_mut().unwrap().push(json!({"cultivar_id": tide, "share_thousandths": 200}));
    let two_left = desk.entered("Two Left", json!({"pollen_candidates": three})).await;

    let region = society.region("The Vale").await;
    let plant = json!({
        "cultivar_id": from, "how_many": 2, "environment": "frost_free", "form": "bush", "region_id": region,
        "visibility": "society",
    });
    una.post("/api/v1/plants", plant).await.expect(201);
    let offer = json!({"cultivar_id": from, "how_many": 3, "healthy": true});
    let offer = una.post("/api/v1/swaps/offers", offer).await.expect(201).header("location");
    let edda = society.member("Edda Wick").await;
    let mut wants = Vec::new();
    for body in [
        json!({"cultivar_id": from, "rank": 1}),
        json!({"cultivar_id": into, "rank": 2}),
        json!({"any_of": [tide, from, into], "rank": 3}),
    ] {
        wants.push(edda.post("/api/v1/swaps/wants", body).await.expect(201).header("location"));
    }
    let alone = json!({"cultivar_id": from, "rank": 1});
    let alone = registrar.post("/api/v1/swaps/wants", alone).await.expect(201).header("location");
    for (id, words) in [(&from, "The other leave"), (&into, "The kept leave")] {
        registrar.put(&format!("{CULTIVARS}/{id}/permission"), json!({"words": words})).await.expect(201);
    }
    registrar.put(&format!("/api/v1/conservation/{from}"), json!({"reason": "Rare"})).await.expect(201);

    let crossed = json!({
        "seed_parent": {"cultivar_id": tide},
        "pollen_parents": [
            {"cultivar_id": from, "share_thousandths": 250}, {"cultivar_id": into, "share_thousandths": 750},
        ],
    });
    let cross = una.post("/api/v1/crosses", crossed).await.expect(201).header("location");
    let giving = json!({"seed_parent": {"cultivar_id": tide}, "pollen_parents": []});
    let giving = una.post("/api/v1/crosses", giving).await.expect(201).header("location");
    let raised = una.post(&format!("{giving}/seedlings"), json!({})).await.expect(201).header("location");
    una.patch(&raised, "*", json!({"status": "named", "cultivar_id": from})).await.expect(200);

    let this = society.clock.today().year();
    let (member, now) = (una.id(), society.clock.now().naive_utc());
    let [gone, kept] = [&from, &into].map(|id| id.parse().unwrap());
    society
        .write(move |conn| {
            for (cultivar_id, year, plants, reverted) in
                [(gone, this, 10, 2), (kept, this, 20, 1), (gone, this - 1, 5, 5)]
            {
                let report = Report {
                    member_id: member,
                    cultivar_id,
                    year,
                    plants,
                    reverted,
                    went_back_to_id: None,
                    went_back_to: None,
                    version: 1,
                    created_at: now,
                };
                reversions::insert(conn, &report)?;
            }
            Ok(())
        })
        .await;
    let went_back = json!({"plants": 4, "reverted": 1, "went_back_to_id": from});
    una.put(&format!("{CULTIVARS}/{sport}/reversions/{this}"), went_back).await.expect(201);
    for (id, name) in
        [(&from, "Old Beacon"), (&into, "Old Beacon"), (&from, "Harbour Light"), (&from, "Quay Lamp")]
    {
        let body = json!({"name": name, "kind": "former_name"});
        registrar.post(&format!("{CULTIVARS}/{id}/names"), body).await.expect(201);
    }
    let propose = async |id: &str, name: &str| {
        let body = json!({"cultivar_id": id, "name": name});
        una.post("/api/v1/registrations", body).await.expect(201).header("location")
    };
    let (other_name, kept_name) = (propose(&from, "Ebb Tide").await, propose(&into, "Neap Tide").await);

    let naming = desk.naming(&from).await;
    // No ring was made here.
    let never: Vec<_> =
        naming.iter().filter(|(_, rows)| **rows == 0).map(|(column, _)| column.as_str()).collect();
    assert_eq!(never, ["swap_hand_overs.cultivar_id"], "{naming:?}");

    let etag = una.get(&format!("{CULTIVARS}/{from}")).await.etag();
    assert_eq!(merge(una, &from, &into, &etag).await.problem(403), "not-allowed");
    assert_eq!(merge(registrar, &from, &into, "\"99\"").await.problem(412), "version-mismatch");
    let told = merge(registrar, &from, &into, &etag).await.expect(200).json();
    assert_eq!((&told["merged"]["merged_into_id"], &told["kept"]["id"]), (&json!(into), &json!(into)));
    assert_eq!((&told["moved"]["plants"], &told["moved"]["swaps"]), (&json!(1), &json!(4)));
    let naming = desk.naming(&from).await;
    assert!(naming.values().all(|rows| *rows == 0), "{naming:?}");

    // The tombstone says where it went, and is neither listed nor changed.
    assert_eq!(read(una, &from).await["merged_into_id"], json!(into));
    assert_eq!(read(una, &merged_before).await["merged_into_id"], json!(into));
    let listed = una.walk(&format!("{CULTIVARS}?name=harbour")).await;
    assert_eq!(listed.iter().map(|row| row["id"].clone()).collect::<Vec<_>>(), [json!(into)]);
    assert_ne!(una.patch(&format!("{CULTIVARS}/{from}"), "*", json!({"notes": "x"})).await.status, 200);
    assert_eq!(desk.merge(&from, &tide).await.problem(409), "wrong-state");
    assert_eq!(desk.merge(&tide, &from).await.problem(409), "wrong-state");

    assert_eq!(read(una, &seedling).await["pollen_parent_id"], json!(into));
    assert_eq!(read(una, &child).await["seed_parent_id"], json!(into));
    assert_eq!(past(una, &child).await[0]["record"]["seed_parent_id"], json!(from));
    let frost = read(una, &sport).await;
    assert_eq!((&frost["source_id"], &frost["reverts_to_id"]), (&json!(into), &json!(into)));
    let left = read(una, &one_left).await;
    assert_eq!((&left["pollen_parent_id"], &left["pollen_candidates"]), (&json!(into), &json!([])));
    let left = read(una, &two_left).await["pollen_candidates"].clone();
    assert_eq!(
        (&left[0]["cultivar_id"], &left[0]["share_thousandths"], &left[1]["cultivar_id"]),
        (&json!(into), &json!(800), &json!(tide))
    );
    let parents = una.get(&cross).await.json()["pollen_parents"].clone();
    assert_eq!(
        (&parents[0]["cultivar_id"], &parents[0]["share_thousandths"], parents.as_array().unwrap().len()),
        (&json!(into), &json!(1000), 1)
    );
    assert_eq!(una.get(&raised).await.json()["cultivar_id"], json!(into));

    assert_eq!(una.get(&offer).await.json()["cultivar_id"], json!(into));
    let listing = async |who: &Actor, want: &str| who.get(want).await.json()["listing"].clone();
    assert_eq!(listing(&edda, &wants[0]).await, "withdrawn");
    assert_eq!(listing(&edda, &wants[1]).await, "open");
    assert_eq!(registrar.get(&alone).await.json()["cultivar_id"], json!(into));
    let choices = edda.get(&wants[2]).await.json();
    assert!(choices.to_string().contains(&into) && !choices.to_string().contains(&from), "{choices}");
    let leave = una.get(&format!("{CULTIVARS}/{into}/permission")).await.expect(200).json();
    assert_eq!(leave["words"], "The kept leave");
    assert_eq!(una.get(&format!("/api/v1/conservation/{into}")).await.expect(200).json()["reason"], "Rare");

    let reports: Vec<_> = una
        .walk("/api/v1/members/me/reversions")
        .await
        .iter()
        .filter(|row| row["cultivar_id"] == json!(into))
        .map(|row| json!([row["year"], row["plants"], row["reverted"]]))
        .collect();
    assert_eq!(reports, [json!([this - 1, 5, 5]), json!([this, 30, 3])]);
    let names: Vec<_> = una
        .walk(&format!("{CULTIVARS}/{into}/names"))
        .await
        .iter()
        .map(|row| format!("{} {}", row["name"].as_str().unwrap(), row["kind"].as_str().unwrap()))
        .collect();
    assert_eq!(
        names,
        ["Harbor Becon synonym", "Harbour Beacon synonym", "Old Beacon former_name", "Quay Lamp former_name"]
    );
    let state = async |path: &str| una.get(path).await.json()["state"].clone();
    assert_eq!((state(&other_name).await, state(&kept_name).await), (json!("refused"), json!("proposed")));
    let steps = una.walk(&format!("{other_name}/steps")).await;
    assert!(steps[1]["reason"].as_str().unwrap().starts_with("Its cultivar was found to be 'Harbour Light'"));

    // Both histories are readable, each with the reason.
    let why = |rows: &[Value]| rows[0]["why"].as_str().unwrap().to_owned();
    assert_eq!(why(&past(una, &from).await), "Merged into 'Harbour Light': Grown side by side for two years");
    assert_eq!(
        why(&past(una, &into).await),
        "'Harbour Beacon' was merged into it: Grown side by side for two years"
    );
    // The name may not be given to another, and is not held against the kept one.
    let other = json!({"cultivar_id": tide, "name": "Harbour Beacon"});
    assert_eq!(una.post("/api/v1/registrations", other).await.fields(), ["/name UNIQUE"]);
}

#[tokio::test]
async fn a_merge_that_would_make_a_loop_or_a_selfing_is_refused_and_nothing_is_kept() {
    let desk = Desk::start().await;
    let una = &desk.una;
    let light = desk.entered("Harbour Light", json!({})).await;
    let child = desk.entered("Merrow Dawn", json!({"seed_parent_id": light})).await;
    let grandchild = desk.entered("Merrow Noon", json!({"source_id": child})).await;
    let tide = desk.entered("Spring Tide", json!({})).await;
    // The kept one would descend from itself.
    let refused = desk.merge(&light, &grandchild).await;
    assert_eq!(refused.problem(409), "pedigree-loop");
    for name in ["Merrow Noon", "Merrow Dawn"] {
        assert!(refused.text().contains(name), "{}", refused.text());
    }
    assert_eq!(read(una, &light).await["merged_into_id"], Value::Null);
    assert_eq!(read(una, &child).await["seed_parent_id"], json!(light), "nothing was kept");
    assert!(past(una, &light).await.is_empty());
    // By the cross books as well.
    let crossed = json!({"seed_parent": {"cultivar_id": tide}, "pollen_parents": []});
    let cross = una.post("/api/v1/crosses", crossed).await.expect(201).header("location");
    let raised = una.post(&format!("{cross}/seedlings"), json!({})).await.expect(201).header("location");
    let named = desk.entered("Noon Tide", json!({})).await;
    una.patch(&raised, "*", json!({"status": "named", "cultivar_id": named})).await.expect(200);
    assert_eq!(desk.merge(&tide, &named).await.problem(409), "pedigree-loop");

    // Crossed with each other, in the book or by a record.
    let private = json!({
        "seed_parent": {"cultivar_id": light}, "pollen_parents": [{"cultivar_id": tide}], "number": "U-9",
    });
    let private = una.post("/api/v1/crosses", private).await.expect(201);
    let refused = desk.merge(&light, &tide).await;
    assert_eq!(refused.problem(409), "in-use");
    // Private: counted, and not named.
    assert!(refused.text().contains("1 crosses") && !refused.text().contains("U-9"), "{}", refused.text());
    una.patch(&private.header("location"), "*", json!({"visibility": "society"})).await.expect(200);
    assert!(desk.merge(&tide, &light).await.text().contains("cross U-9 of Una Marsh"));
    let lamp = desk.entered("Quay Lamp", json!({})).await;
    desk.entered("Both", json!({"seed_parent_id": lamp, "pollen_parent_id": child})).await;
    let refused = desk.merge(&child, &lamp).await;
    assert_eq!(refused.problem(409), "in-use");
    assert!(refused.text().contains("Both"), "{}", refused.text());

    // A sport that was found to be no other than its source.
    desk.merge(&grandchild, &child).await.expect(200);
    // What not all may see, what is not there, and itself.
    let secret = desk.entered("Secret Line", json!({"visibility": "private"})).await;
    assert_eq!(desk.merge(&secret, &light).await.problem(404), "not-found");
    assert_eq!(desk.merge(&light, &secret).await.fields(), ["/into not-found"]);
    assert_eq!(desk.merge(&light, &light).await.fields(), ["/into itself"]);
    let own = entered(&desk.registrar, "Own Line", json!({"visibility": "private"})).await;
    assert_eq!(desk.merge(&own, &light).await.problem(409), "wrong-state");
    let body = json!({"into": tide, "reason": " "});
    let silent = desk.registrar.request(Method::POST, &format!("{CULTIVARS}/{light}/merge"));
    assert_eq!(silent.header("if-match", "*").json(&body).send().await.fields(), ["/reason required"]);
}
