//! Rarity watch: what few members hold, the conservation list, nudges to spread.

use chrono::TimeDelta;
use diesel::prelude::*;
use serde_json::{Value, json};
use storksbill_db::schema::{cultivars, members};
use storksbill_domain::ids::{CultivarId, RegionId};
use storksbill_tests::{Actor, TestApp};

use crate::swaps::cultivar;

const RARITY: &str = "/api/v1/rarity";
const LIST: &str = "/api/v1/conservation";
const NUDGES: &str = "/api/v1/conservation/nudges";
const NOTICES: &str = "/api/v1/notices";

/// So many plants of a cultivar, for everybody to see or not.
async fn holds(actor: &Actor, region: RegionId, cultivar: CultivarId, how_many: i32, visibility: &str) {
    let plant = json!({
        "cultivar_id": cultivar, "how_many": how_many, "environment": "outdoors", "form": "bush",
        "region_id": region, "visibility": visibility,
    });
    actor.post("/api/v1/plants", plant).await.expect(201);
}

fn told(rows: &[Value]) -> Vec<String> {
    let row = |row: &Value| {
        let held = if row["held_by_you"] == true { ", you" } else { "" };
        let listed = if row["on_conservation_list"] == true { ", listed" } else { "" };
        format!(
            "{}: {} of {}{held}{listed}",
            row["cultivar_name"].as_str().unwrap(),
            row["plants"],
            row["holders"]
        )
    };
    rows.iter().map(row).collect()
}

struct Rarities {
    society: TestApp,
    officer: Actor,
    una: Actor,
    bram: Actor,
    edda: Actor,
    region: RegionId,
    /// Held by Una; by Una and Bram; by all three; by nobody openly.
    cultivars: [CultivarId; 4],
}

async fn rarities() -> Rarities {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let officer = society.registrar("Ines Holm").await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    let edda = society.member("Edda Wick").await;
    let one = cultivar(&society, "Ångström").await;
    let two = cultivar(&society, "Harbour Light").await;
    let three = cultivar(&society, "Quay Rose").await;
    let hidden = cultivar(&society, "Net Loft").await;
    holds(&una, region, one, 2, "society").await;
    holds(&una, region, one, 3, "club").await;
    for actor in [&una, &bram] {
        holds(actor, region, two, 1, "society").await;
    }
    for actor in [&una, &bram, &edda] {
        holds(actor, region, three, 1, "club").await;
    }
    holds(&edda, region, hidden, 4, "private").await;
    holds(&edda, region, two, 9, "private").await;
    holds(&edda, region, one, 0, "society").await;
    Rarities { society, officer, una, bram, edda, region, cultivars: [one, two, three, hidden] }
}

#[tokio::test]
async fn rare_is_what_one_or_two_members_openly_hold() {
    let Rarities { society, officer, una, bram, edda, region, cultivars: [one, _, three, _] } =
        rarities().await;
    assert_eq!(
        told(&una.walk(&format!("{RARITY}?limit=1")).await),
        ["Ångström: 5 of 1, you", "Harbour Light: 2 of 2, you"]
    );
    // Edda's private plants count for nothing but her own view.
    assert_eq!(told(&edda.walk(RARITY).await), ["Ångström: 5 of 1", "Harbour Light: 2 of 2, you"]);
    assert_eq!(told(&bram.walk(&format!("{RARITY}?mine=true")).await), ["Harbour Light: 2 of 2, you"]);
    assert_eq!(society.visitor().get(RARITY).await.problem(401), "not-logged-in");

    // Numbered seedlings are with their raiser by nature; what nobody holds any more is not held by one or two.
    let seedling = cultivar(&society, "S 17").await;
    holds(&bram, region, seedling, 1, "society").await;
    society
        .write(move |conn| {
            let raised = cultivars::table.find(seedling);
            diesel::update(raised).set(cultivars::status.eq("seedling")).execute(conn)?;
            Ok(())
        })
        .await;
    assert_eq!(una.walk(RARITY).await.len(), 2);
    officer.put(&format!("{LIST}/{one}"), json!({"reason": "Raised on the quay"})).await.expect(201);
    let gone = bram.id();
    society
        .write(move |conn| {
            diesel::update(members::table.find(gone)).set(members::standing.eq("left")).execute(conn)?;
            Ok(())
        })
        .await;
    assert_eq!(
        told(&una.walk(RARITY).await),
        ["Ångström: 5 of 1, you, listed", "Harbour Light: 1 of 1, you", "Quay Rose: 2 of 2, you"]
    );
    assert_eq!(told(&una.walk(RARITY).await).len(), 3, "{three}");
}

#[tokio::test]
async fn the_conservation_list_is_everybodys_to_read_and_officers_to_keep() {
    let Rarities { society, officer, una, cultivars: [one, two, three, hidden], .. } = rarities().await;
    let path = |id: CultivarId| format!("{LIST}/{id}");
    assert_eq!(una.put(&path(one), json!({"reason": "x"})).await.problem(403), "not-allowed");
    assert_eq!(society.visitor().get(&path(one)).await.problem(404), "not-found");
    let listed = officer.put(&path(three), json!({"reason": " Raised on the quay "})).await.expect(201);
    assert_eq!(listed.json()["wanted_holders"], 5);
    assert_eq!(
        (&listed.json()["reason"], &listed.json()["holders"]),
        (&json!("Raised on the quay"), &json!(3))
    );
    for cultivar in [one, hidden] {
        officer.put(&path(cultivar), json!({"reason": "Old", "wanted_holders": 2})).await.expect(201);
    }
    let names = |rows: &[Value]| -> Vec<(String, Value)> {
        let row = |row: &Value| (row["cultivar_name"].as_str().unwrap().to_owned(), row["holders"].clone());
        rows.iter().map(row).collect()
    };
    let expected = |counts: [Value; 3]| -> Vec<(String, Value)> {
        ["Ångström", "Net Loft", "Quay Rose"].map(str::to_owned).into_iter().zip(counts).collect()
    };
    // Who is not a member learns of no counts; a private plant is in none.
    let walked = society.visitor().walk(&format!("{LIST}?limit=1")).await;
    assert_eq!(names(&walked), expected([Value::Null, Value::Null, Value::Null]));
    assert_eq!(names(&una.walk(LIST).await), expected([json!(1), json!(0), json!(3)]));

    let change = json!({"reason": "Raised on the quay in 1931", "wanted_holders": 8});
    assert_eq!(officer.put(&path(three), change.clone()).await.problem(428), "precondition-required");
    let put = |etag: &'static str, id: CultivarId, body: Value| {
        let request = officer.request(reqwest::Method::PUT, &path(id)).header("if-match", etag);
        async move { request.json(&body).send().await }
    };
    assert_eq!(put("\"7\"", three, change.clone()).await.problem(412), "version-mismatch");
    assert_eq!(put("\"1\"", two, change.clone()).await.problem(412), "version-mismatch");
    let changed = put("\"1\"", three, change).await.expect(200);
    assert_eq!((changed.etag().as_str(), &changed.json()["wanted_holders"]), ("\"2\"", &json!(8)));
    assert_eq!(una.get(&path(three)).await.expect(200).json(), changed.json());
    let refused =
        officer.put(&path(two), json!({"reason": "ines@merrow.example knows", "wanted_holders": 0})).await;
    assert_eq!(refused.fields(), ["/reason e-mail-address", "/wanted_holders out-of-range"]);
    let unknown = officer.put(&path(CultivarId::fresh()), json!({"reason": "x"})).await;
    assert_eq!(unknown.problem(404), "not-found");
    // A listed cultivar stays in the register.
    let cultivar_path = format!("/api/v1/cultivars/{hidden}");
    let removed =
        officer.request(reqwest::Method::DELETE, &cultivar_path).header("if-match", "*").send().await;
    assert_eq!(removed.problem(409), "in-use");
    assert_eq!(una.delete(&path(three)).await.problem(403), "not-allowed");
    officer.delete(&path(three)).await.expect(204);
    assert_eq!(officer.delete(&path(three)).await.problem(404), "not-found");
    assert_eq!(una.walk(LIST).await.len(), 2);
}

#[tokio::test]
async fn holders_of_what_is_in_danger_are_nudged_once_in_sixty_days() {
    let Rarities { society, officer, una, bram, edda, region, cultivars: [one, two, three, _] } =
        rarities().await;
    assert_eq!(una.post(NUDGES, json!({})).await.problem(403), "not-allowed");
    // Una: the two rare ones. Bram: one. Edda holds none of them openly.
    let first = officer.post_once(NUDGES, "may", json!({})).await.expect(200).json();
    assert_eq!(first, json!({"notices": 3, "members": 2, "cultivars": 2, "already_told": 0}));
    assert_eq!(officer.post_once(NUDGES, "may", json!({})).await.expect(200).json(), first);
    let own = una.walk(NOTICES).await;
    assert_eq!(own.len(), 2);
    let alone = own.iter().find(|notice| notice["subject"]["id"] == json!(one)).unwrap();
    assert!(alone["words"].as_str().unwrap().contains("nobody but you holds Ångström"), "{alone}");
    assert_eq!((&alone["kind"], &alone["due_on"]), (&json!("strike_and_spread"), &json!("2026-06-09")));
    assert!(bram.walk(NOTICES).await[0]["words"].as_str().unwrap().contains("2 members hold Harbour Light"));

    // Listed, and three of the four that are wanted hold it: all three are told, and why.
    let listed = json!({"reason": "Raised on the quay.", "wanted_holders": 4});
    officer.put(&format!("{LIST}/{three}"), listed).await.expect(201);
    let second = officer.post(NUDGES, json!({})).await.expect(200).json();
    assert_eq!(second, json!({"notices": 3, "members": 3, "cultivars": 1, "already_told": 3}));
    let words = edda.walk(NOTICES).await[0]["words"].as_str().unwrap().to_owned();
    assert!(words.contains("on the conservation list: Raised on the quay."), "{words}");

    society.clock.advance(TimeDelta::days(59));
    let officer = society.again(&officer).await;
    assert_eq!(officer.post(NUDGES, json!({})).await.expect(200).json()["notices"], 0);
    society.clock.advance(TimeDelta::days(1));
    let officer = society.again(&officer).await;
    // A third holder of one, a fourth of the other: neither is in danger now.
    let (edda, otto) = (society.again(&edda).await, society.member("Otto Fell").await);
    holds(&edda, region, two, 1, "society").await;
    holds(&otto, region, three, 1, "society").await;
    let third = officer.post(NUDGES, json!({})).await.expect(200).json();
    assert_eq!(third, json!({"notices": 1, "members": 1, "cultivars": 1, "already_told": 0}));
    assert_eq!(otto.walk(NOTICES).await.len(), 0);
}
