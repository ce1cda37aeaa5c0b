//! Names are read, written properly and checked before they are proposed.

use serde_json::{Value, json};
use storksbill_tests::TestApp;

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
