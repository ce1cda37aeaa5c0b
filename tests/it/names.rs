//! Names are read, written properly and checked before they are proposed.

use serde_json::{Value, json};
use storksbill_tests::{Actor, TestApp};

use crate::swaps::cultivar;

const CHECK: &str = "/api/v1/names/check";

fn rules(told: &Value) -> Vec<&str> {
    told["findings"].as_array().unwrap().iter().map(|finding| finding["rule"].as_str().unwrap()).collect()
}

#[tokio::test]
async fn a_good_name_is_written_properly_and_may_be_proposed() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let told = una.post(CHECK, json!({"name": "Pelargonium Skerravoe Lantern"})).await.expect(200).json();
    assert_eq!(told["written"], "Pelargonium 'Skerravoe Lantern'", "{told:#}");
    assert_eq!(told["html"], "<i>Pelargonium</i> &#39;Skerravoe Lantern&#39;", "{told:#}");
    assert_eq!(
        (&told["may_be_proposed"], &told["parts"]["epithet"]),
        (&json!(true), &json!("Skerravoe Lantern"))
    );
    assert_eq!(told["near"], json!([]));
}

/// Over thirty letters: barred since 1 January 1996, and not before (ICNCP, as told in the society's rules).
#[tokio::test]
async fn rules_bind_names_published_after_them_alone() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let long = "Everlasting Remembrance Of Skerravoe Harbour";
    let new = una.post(CHECK, json!({"name": long})).await.expect(200).json();
    assert_eq!(new["may_be_proposed"], false, "{new:#}");
    let finding = new["findings"].as_array().unwrap().iter().find(|f| f["severity"] == "error").unwrap();
    assert_eq!(finding["span"][0], 0);
    let old = una.post(CHECK, json!({"name": long, "published_on": "1950-06-01"})).await.expect(200).json();
    assert!(!rules(&old).contains(&finding["rule"].as_str().unwrap()), "{old:#}");
}

#[tokio::test]
async fn names_close_to_those_of_the_register_are_told_and_not_held_against_themselves() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let own = cultivar(&society, "Harbour Lantern").await;
    let told = una.post(CHECK, json!({"name": "Harbor Lantern"})).await.expect(200).json();
    assert_eq!(told["near"][0]["cultivar_id"], json!(own), "{told:#}");
    assert_eq!(told["near"][0]["likeness"], "one letter apart");
    let same = una.post(CHECK, json!({"name": "Harbour Lantern"})).await.expect(200).json();
    assert_eq!(same["may_be_proposed"], false, "{same:#}");
    let itself = json!({"name": "Harbour Lantern", "cultivar_id": own});
    let itself = una.post(CHECK, itself).await.expect(200).json();
    assert_eq!((&itself["near"], &itself["may_be_proposed"]), (&json!([]), &json!(true)));
    let refused = una.post(CHECK, json!({"name": "x".repeat(301)})).await;
    assert_eq!(refused.fields(), ["/name too-long"]);
}

async fn other_name(who: &Actor, cultivar: &str, name: &str, kind: &str) {
    let path = format!("/api/v1/cultivars/{cultivar}/names");
    who.post(&path, json!({"name": name, "kind": kind})).await.expect(201);
}

#[tokio::test]
async fn the_registrar_keeps_the_other_names_of_a_cultivar() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let registrar = society.registrar("Bram Oake").await;
    let own = cultivar(&society, "Harbour Lantern").await;
    let path = format!("/api/v1/cultivars/{own}/names");
    let body = json!({"name": " Quay  Lamp ", "kind": "synonym", "note": "In the list of 1998"});
    assert_eq!(una.post(&path, body.clone()).await.problem(403), "not-allowed");
    let made = registrar.post_once(&path, "first", body.clone()).await.expect(201);
    assert_eq!(registrar.post_once(&path, "first", body.clone()).await.expect(201).id(), made.id());
    assert_eq!(registrar.post(&path, body).await.problem(409), "taken");
    let itself = json!({"name": "harbour lantern", "kind": "misspelling"});
    assert_eq!(registrar.post(&path, itself).await.problem(409), "taken");
    let strange = json!({"name": "%", "kind": "nickname"});
    assert_eq!(registrar.post(&path, strange).await.fields(), ["/kind unknown-word", "/name no-letters"]);
    other_name(&registrar, &own.to_string(), "Beacon", "trade_designation").await;
    let rows = una.walk(&format!("{path}?limit=1")).await;
    let names: Vec<_> = rows.iter().map(|row| row["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["Beacon", "Quay Lamp"]);
    assert_eq!((&rows[1]["note"], &rows[1]["kind"]), (&json!("In the list of 1998"), &json!("synonym")));
    let other = cultivar(&society, "Spring Tide").await;
    let [here, elsewhere] = [own, other].map(|of| format!("/api/v1/cultivars/{of}/names/{}", made.id()));
    assert_eq!(una.delete(&here).await.problem(403), "not-allowed");
    assert_eq!(registrar.delete(&elsewhere).await.problem(404), "not-found");
    registrar.delete(&here).await.expect(204);
    assert_eq!(una.walk(&path).await.len(), 1);
}

#[tokio::test]
async fn a_name_is_held_against_synonyms_and_what_was_never_given_bars_nothing() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let registrar = society.registrar("Bram Oake").await;
    let own = cultivar(&society, "Harbour Lantern").await;
    let id = own.to_string();
    for (name, kind) in [
        ("Quay Lamplight", "synonym"),
        ("Evening Beacon", "trade_designation"),
        ("Harber Lanten", "misspelling"),
    ] {
        other_name(&registrar, &id, name, kind).await;
    }
    let told = async |body: Value| una.post(CHECK, body).await.expect(200).json();
    let synonym = told(json!({"name": "Quay Lamplight"})).await;
    assert_eq!(synonym["may_be_proposed"], false, "{synonym:#}");
    assert!(rules(&synonym).contains(&"UNIQUE"), "{synonym:#}");
    assert_eq!(
        synonym["near"],
        json!([{
            "cultivar_id": own, "name": "Quay Lamplight", "likeness": "the same name",
            "other_name_of": "Harbour Lantern",
        }])
    );
    let sold_as = told(json!({"name": "Evening Beacon"})).await;
    assert_eq!(sold_as["may_be_proposed"], true, "{sold_as:#}");
    assert!(!rules(&sold_as).contains(&"UNIQUE"), "{sold_as:#}");
    assert_eq!(sold_as["near"][0]["other_name_of"], "Harbour Lantern");
    // Nor against what it is called itself.
    let itself = told(json!({"name": "Quay Lamplight", "cultivar_id": own})).await;
    assert_eq!((&itself["near"], &itself["may_be_proposed"]), (&json!([]), &json!(true)));
}
