//! How often sports go back: a grower's own reports, and the pooled rate.

use chrono::Datelike;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill_domain::ids::CultivarId;
use storksbill_tests::{Actor, Answer, TestApp};

use crate::swaps::cultivar;

/// A sport of a cultivar, both in the list.
async fn sport(society: &TestApp, who: &Actor) -> (String, CultivarId) {
    let plain = cultivar(society, "Harbour Light").await;
    let body = json!({
        "name": "Harbour Frost", "plant_group": "zonal", "status": "on_trial", "source_id": plain,
    });
    (who.post("/api/v1/cultivars", body).await.expect(201).id(), plain)
}

async fn report(who: &Actor, sport: &str, year: i32, plants: i32, reverted: i32) -> Answer {
    let body = json!({"plants": plants, "reverted": reverted});
    who.put(&format!("/api/v1/cultivars/{sport}/reversions/{year}"), body).await
}

async fn stability(who: &Actor, sport: &str) -> Value {
    who.get(&format!("/api/v1/cultivars/{sport}/stability")).await.expect(200).json()
}

#[tokio::test]
async fn a_grower_reports_a_year_once_and_changes_it_against_the_version_read() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let (sport, plain) = sport(&society, &una).await;
    let this = society.clock.today().year();
    let path = format!("/api/v1/cultivars/{sport}/reversions/{this}");
    assert_eq!(una.get(&path).await.problem(404), "not-found");
    let body = json!({"plants": 12, "reverted": 2, "went_back_to_id": plain});
    let made = una.put(&path, body.clone()).await.expect(201);
    assert_eq!((made.header("location"), made.etag()), (path.clone(), "\"1\"".to_owned()));
    assert_eq!(una.put(&path, body.clone()).await.problem(428), "precondition-required");
    let change = async |etag: &str, body: Value| {
        una.request(Method::PUT, &path).header("if-match", etag).json(&body).send().await
    };
    let words = json!({"plants": 12, "reverted": 3, "went_back_to": "  the plain  pink"});
    let changed = change("\"1\"", words.clone()).await.expect(200).json();
    assert_eq!((&changed["went_back_to"], &changed["version"]), (&json!("the plain pink"), &json!(2)));
    assert_eq!(changed["went_back_to_id"], Value::Null);
    assert_eq!(change("\"1\"", words).await.problem(412), "version-mismatch");
    report(&una, &sport, this - 1, 10, 0).await.expect(201);
    let years: Vec<_> = una
        .walk("/api/v1/members/me/reversions?limit=1")
        .await
        .iter()
        .map(|row| row["year"].clone())
        .collect();
    assert_eq!(years, [json!(this - 1), json!(this)]);
    // Nobody else is shown them, whatever their office.
    let keeper = society.administrator("Oona Pike").await;
    assert_eq!(keeper.get(&path).await.problem(404), "not-found");
    assert!(keeper.walk("/api/v1/members/me/reversions").await.is_empty());

    let remove = async |who: &Actor, etag: &str| {
        who.request(Method::DELETE, &path).header("if-match", etag).send().await
    };
    assert_eq!(remove(&keeper, "*").await.problem(404), "not-found");
    assert_eq!(remove(&una, "\"1\"").await.problem(412), "version-mismatch");
    remove(&una, "\"2\"").await.expect(204);
    assert_eq!(una.walk("/api/v1/members/me/reversions").await.len(), 1);
}

#[tokio::test]
async fn what_cannot_be_is_refused_and_only_sports_go_back() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let (sport, plain) = sport(&society, &una).await;
    let this = society.clock.today().year();
    assert_eq!(report(&una, &plain.to_string(), this, 10, 1).await.problem(409), "wrong-state");
    assert_eq!(una.get(&format!("/api/v1/cultivars/{plain}/stability")).await.problem(409), "wrong-state");
    let nowhere = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f";
    assert_eq!(report(&una, nowhere, this, 10, 1).await.problem(404), "not-found");
    assert_eq!(report(&una, &sport, this, 10, 11).await.fields(), ["/reverted more-than-before"]);
    assert_eq!(report(&una, &sport, this + 1, 10, 1).await.fields(), ["year out-of-range"]);
    let path = format!("/api/v1/cultivars/{sport}/reversions/{this}");
    for (body, field) in [
        (json!({"plants": 0, "reverted": 0}), "/plants out-of-range"),
        (json!({"plants": 4, "reverted": 0, "went_back_to": "pink"}), "/went_back_to not-taken"),
        (json!({"plants": 4, "reverted": 1, "went_back_to_id": nowhere}), "/went_back_to_id not-found"),
        (
            json!({"plants": 4, "reverted": 1, "went_back_to": "pink", "went_back_to_id": plain}),
            "/went_back_to one-of",
        ),
    ] {
        assert_eq!(una.put(&path, body).await.fields(), [field]);
    }
}

/// The intervals of one grower are Wilson's: 0 of 20 has the upper bound 0.1611251581 (R. G. Newcombe, Statistics
/// in Medicine 17, 1998, 857-872, table I, with more digits).
#[tokio::test]
async fn the_rate_is_pooled_from_five_growers_on_and_ones_own_is_always_told() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let (sport, _) = sport(&society, &una).await;
    let this = society.clock.today().year();
    let none = stability(&una, &sport).await;
    assert_eq!(
        (&none["pooled"], &none["own"], &none["least_growers"]),
        (&Value::Null, &Value::Null, &json!(5))
    );
    report(&una, &sport, this, 20, 0).await.expect(201);
    let told = stability(&una, &sport).await;
    assert_eq!((&told["pooled"], &told["own"]["rate"]), (&Value::Null, &json!(0.0)));
    assert!((told["own"]["high"].as_f64().unwrap() - 0.161_125_158_1).abs() < 1e-9, "{told}");
    for (at, name) in ["Ash Low", "Bo Fen", "Cy Hay", "Di Orr"].into_iter().enumerate() {
        assert!(stability(&una, &sport).await["pooled"].is_null(), "after {at} others");
        let grower = society.member(name).await;
        // Two years of one grower are one grower.
        report(&grower, &sport, this, 20, 0).await.expect(201);
        report(&grower, &sport, this - 1, 20, 2).await.expect(201);
    }
    let told = stability(&una, &sport).await;
    let pooled = &told["pooled"];
    assert_eq!(
        (&pooled["growers"], &pooled["years"], &pooled["reports"], &pooled["plants"]),
        (&json!(5), &json!(2), &json!(9), &json!(180))
    );
    // Alike in size, each report counts alike: 8 of 180.
    assert!((pooled["rate"].as_f64().unwrap() - 8.0 / 180.0).abs() < 1e-12, "{pooled}");
    let [low, high] = ["low", "high"].map(|bound| pooled[bound].as_f64().unwrap());
    assert!(low > 0.0 && low < 8.0 / 180.0 && high > 8.0 / 180.0 && high < 0.161, "{pooled}");
    assert_eq!(told["own"]["growers"], 1);
    let stranger = stability(&society.member("Edda Wick").await, &sport).await;
    assert_eq!((&stranger["pooled"], &stranger["own"]), (pooled, &Value::Null));
}
