//! What members are ready to do in the swap, with whom they do not, and what an offer or want may say.

use chrono::{NaiveDate, TimeDelta};
use reqwest::Method;
use serde_json::{Value, json};
use storksbill_db::rows::{swap_terms, swaps as rows};
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_tests::{Actor, Answer, TestApp};

use crate::swaps::{cultivar, enter_cultivar};

const TERMS: &str = "/api/v1/swaps/terms";
const REFUSALS: &str = "/api/v1/swaps/refusals";
const OFFERS: &str = "/api/v1/swaps/offers";
const WANTS: &str = "/api/v1/swaps/wants";

async fn put_known(actor: &Actor, path: &str, etag: &str, body: Value) -> Answer {
    actor.request(Method::PUT, path).header("if-match", etag).json(&body).send().await
}

#[tokio::test]
async fn the_usual_terms_hold_until_a_member_sets_others() {
    let society = TestApp::start().await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    let usual = una.get(TERMS).await.expect(200);
    let five = json!({"give_most": 5, "receive_most": 5, "by_post": false, "within_km": null, "version": 0});
    assert_eq!((usual.json(), usual.etag().as_str()), (five, ""));
    let set = una.put(TERMS, json!({"give_most": 2, "by_post": true, "within_km": 40})).await.expect(201);
    assert_eq!(set.json()["receive_most"], 5);
    assert_eq!((set.etag().as_str(), una.get(TERMS).await.json()), ("\"1\"", set.json()));
    assert_eq!(una.put(TERMS, json!({})).await.problem(428), "precondition-required");
    assert_eq!(put_known(&una, TERMS, "\"2\"", json!({})).await.problem(412), "version-mismatch");
    assert_eq!(put_known(&bram, TERMS, "\"1\"", json!({})).await.problem(412), "version-mismatch");
    let back = put_known(&una, TERMS, "\"1\"", json!({"receive_most": 0})).await.expect(200);
    let told = back.json();
    assert_eq!([&told["give_most"], &told["receive_most"], &told["version"]], [5, 0, 2]);
    let refused =
        bram.put(TERMS, json!({"give_most": 51, "receive_most": -1, "within_km": 0, "price": 3})).await;
    assert_eq!(
        refused.fields(),
        [
            "/give_most out-of-range",
            "/price unknown-field",
            "/receive_most out-of-range",
            "/within_km out-of-range"
        ]
    );
    let all = society.read(swap_terms::all).await;
    assert_eq!(
        all.iter().map(|terms| (terms.member_id, terms.receive_most)).collect::<Vec<_>>(),
        [(una.id(), 0)]
    );
}

#[tokio::test]
async fn a_refusal_is_known_to_the_member_alone() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let mut others = Vec::new();
    for name in ["Ödön Fell", "Bram Oake", "Zita Pike"] {
        others.push(society.member(name).await);
    }
    let path = |actor: &Actor| format!("{REFUSALS}/{}", actor.id());
    let put = |actor: &Actor, path: String| actor.request(Method::PUT, &path).send();
    for other in &others {
        assert_eq!(una.get(&path(other)).await.problem(404), "not-found");
        put(&una, path(other)).await.expect(204);
        put(&una, path(other)).await.expect(204);
    }
    let names = |rows: Vec<Value>| -> Vec<String> {
        rows.iter().map(|row| row["member_name"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(
        names(una.walk(&format!("{REFUSALS}?limit=1")).await),
        ["Bram Oake", "Ödön Fell", "Zita Pike"]
    );
    assert_eq!(una.get(&path(&others[1])).await.expect(200).json()["member_name"], "Bram Oake");
    assert_eq!(put(&una, path(&una)).await.problem(422), "invalid-fields");
    assert_eq!(put(&una, format!("{REFUSALS}/{}", MemberId::fresh())).await.problem(404), "not-found");
    // Neither the other nor an officer is told.
    for actor in [&others[1], &society.administrator("Ines Holm").await] {
        assert_eq!(actor.walk(REFUSALS).await.len(), 0);
        assert_eq!(actor.get(&path(&una)).await.problem(404), "not-found");
        let card = actor.get(&format!("/api/v1/members/{}", una.id())).await.expect(200).text();
        assert!(!card.contains("refus"), "{card}");
    }
    assert_eq!(society.read(swap_terms::refused_pairs).await.len(), 3);
    una.delete(&path(&others[1])).await.expect(204);
    assert_eq!(una.delete(&path(&others[1])).await.problem(404), "not-found");
    let mut left: Vec<_> = [&others[0], &others[2]].map(|other| (una.id(), other.id())).into();
    left.sort_unstable();
    assert_eq!(society.read(swap_terms::refused_pairs).await, left);
}

#[tokio::test]
async fn a_region_lies_in_a_zone_of_plant_health() {
    let society = TestApp::start().await;
    let admin = society.administrator("Ines Holm").await;
    let body = |name: &str| json!({"name": name, "latitude": 54.1, "longitude": -12.5, "elevation_m": 5});
    let vale = admin.post("/api/v1/regions", body("The Vale")).await.expect(201);
    assert_eq!(vale.json()["plant_health_zone"], "home");
    let mut isle = body("The Isle");
    isle["plant_health_zone"] = json!("  Outer  Isles ");
    let isle = admin.post("/api/v1/regions", isle).await.expect(201);
    assert_eq!(isle.json()["plant_health_zone"], "Outer Isles");
    let path = vale.header("location");
    let moved =
        admin.patch(&path, &vale.etag(), json!({"plant_health_zone": "OUTER isles"})).await.expect(200);
    assert_eq!(moved.json()["plant_health_zone"], "OUTER isles");
    let refused = admin.patch(&path, "*", json!({"plant_health_zone": null})).await;
    assert_eq!(refused.fields(), ["/plant_health_zone required"]);
    let mut wrong = body("The Hill");
    wrong["plant_health_zone"] = json!("-".repeat(61));
    let refused = admin.post("/api/v1/regions", wrong).await;
    assert_eq!(refused.fields(), ["/plant_health_zone no-letters", "/plant_health_zone too-long"]);

    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    society.member("Nowhere Yet").await;
    for (actor, region) in [(&una, &vale), (&bram, &isle)] {
        society.grows_in(actor, region.id().parse().unwrap()).await;
    }
    let places = society.read(swap_terms::whereabouts).await;
    assert_eq!(places.len(), 2);
    // Two spellings are one zone.
    assert!(
        places.iter().all(|place| place.zone_key == "outer isles" && place.longitude < -12.0),
        "{places:?}"
    );
}

#[tokio::test]
async fn a_protected_cultivar_changes_hands_while_its_permission_is_in_force() {
    let society = TestApp::start().await;
    let officer = society.registrar("Ines Holm").await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    let flame = enter_cultivar(&society, "Guarded Flame", true).await;
    let path = format!("/api/v1/cultivars/{flame}/permission");
    let refused = una.post(OFFERS, json!({"cultivar_id": flame, "how_many": 1, "healthy": true})).await;
    assert_eq!(refused.fields(), ["/cultivar_id protected"]);
    assert!(refused.json()["detail"].as_str().unwrap().contains("an officer"), "{}", refused.text());
    assert_eq!(una.put(&path, json!({"words": "x"})).await.problem(403), "not-allowed");
    let words = "Gifts between members, by the raiser's letter of 3 May 2026";
    let body = json!({"words": words, "until": "2026-05-11"});
    let unknown = format!("/api/v1/cultivars/{}/permission", CultivarId::fresh());
    assert_eq!(officer.put(&unknown, body.clone()).await.problem(404), "not-found");
    assert_eq!(officer.put(&path, json!({"words": " "})).await.fields(), ["/words required"]);
    let recorded = officer.put(&path, body.clone()).await.expect(201);
    assert_eq!((&recorded.json()["words"], &recorded.json()["until"]), (&json!(words), &json!("2026-05-11")));
    assert_eq!(una.get(&path).await.expect(200).json(), recorded.json());
    assert_eq!(officer.put(&path, body).await.problem(428), "precondition-required");

    una.post(OFFERS, json!({"cultivar_id": flame, "how_many": 1, "healthy": true})).await.expect(201);
    bram.post(WANTS, json!({"cultivar_id": flame, "rank": 1})).await.expect(201);
    let today: NaiveDate = "2026-05-11".parse().unwrap();
    let free = |day: NaiveDate| society.read(move |conn| rows::free_offers(conn, day));
    assert_eq!((free(today).await.len(), free(today + TimeDelta::days(1)).await.len()), (1, 0));
    assert_eq!(bram.walk(OFFERS).await.len(), 1);
    // Its last day is over.
    society.clock.advance(TimeDelta::days(2));
    let (una, bram) = (society.again(&una).await, society.again(&bram).await);
    let officer = society.again(&officer).await;
    assert_eq!(bram.walk(OFFERS).await.len(), 0);
    let late = bram.post(OFFERS, json!({"cultivar_id": flame, "how_many": 1})).await;
    assert_eq!(late.fields(), ["/cultivar_id protected"]);
    let open = put_known(&officer, &path, "\"1\"", json!({"words": words})).await.expect(200);
    assert_eq!((open.etag().as_str(), &open.json()["until"]), ("\"2\"", &Value::Null));
    assert_eq!(bram.walk(OFFERS).await.len(), 1);
    officer.delete(&path).await.expect(204);
    assert_eq!(officer.delete(&path).await.problem(404), "not-found");
    assert_eq!(una.get(&path).await.problem(404), "not-found");
    assert_eq!(bram.walk(OFFERS).await.len(), 0);
}

#[tokio::test]
async fn an_offer_tells_when_its_grower_declared_it_healthy() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    let light = cultivar(&society, "Harbour Light").await;
    let bare = una.post(OFFERS, json!({"cultivar_id": light, "how_many": 1})).await.expect(201);
    assert_eq!(bare.json()["health_declared_on"], Value::Null);
    let path = bare.header("location");
    let sound =
        una.post(OFFERS, json!({"cultivar_id": light, "how_many": 1, "healthy": true})).await.expect(201);
    assert_eq!(sound.json()["health_declared_on"], "2026-05-10");
    society.clock.advance(TimeDelta::days(3));
    let una = society.again(&una).await;
    let looked = una.patch(&path, "\"1\"", json!({"healthy": true})).await.expect(200);
    assert_eq!(looked.json()["health_declared_on"], "2026-05-13");
    let noted = una.patch(&path, "\"2\"", json!({"note": "Tip cuttings"})).await.expect(200);
    assert_eq!(noted.json()["health_declared_on"], "2026-05-13");
    let taken_back = una.patch(&path, "\"3\"", json!({"healthy": false})).await.expect(200);
    assert_eq!(taken_back.json()["health_declared_on"], Value::Null);
    assert_eq!(una.patch(&path, "*", json!({"healthy": null})).await.fields(), ["/healthy required"]);
    let bram = society.member("Bram Oake").await;
    let seen = bram.get(&sound.header("location")).await.expect(200).json();
    assert_eq!(seen["health_declared_on"], "2026-05-10");
}

/// What would meet each open want, by the name of its rank.
async fn choices(society: &TestApp) -> Vec<(i32, Vec<CultivarId>)> {
    let wants = society.read(rows::wants_with_choices).await;
    wants.into_iter().map(|(want, choices)| (want.want_rank, choices)).collect()
}

#[tokio::test]
async fn a_want_may_be_of_any_of_several_or_of_a_group() {
    let society = TestApp::start().await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    let mut zonals = Vec::new();
    for name in ["Harbour Light", "Quay Rose", "Net Loft"] {
        zonals.push(cultivar(&society, name).await);
    }
    let [light, rose, loft] = zonals[..] else { unreachable!() };
    let guarded = enter_cultivar(&society, "Guarded Flame", true).await;
    for (body, fields) in [
        (json!({"rank": 1}), vec!["/cultivar_id required"]),
        (json!({"rank": 1, "cultivar_id": light, "plant_group": "zonal"}), vec!["/plant_group not-both"]),
        (
            json!({"rank": 1, "cultivar_id": light, "any_of": [rose, loft], "plant_group": "regal"}),
            vec!["/any_of not-both", "/plant_group not-both"],
        ),
        (json!({"rank": 1, "any_of": [light]}), vec!["/any_of out-of-range"]),
        (json!({"rank": 1, "any_of": [light, rose, light]}), vec!["/any_of/2 repeated"]),
        (
            json!({"rank": 1, "any_of": (0..51).map(|_| CultivarId::fresh()).collect::<Vec<_>>()}),
            vec!["/any_of out-of-range"],
        ),
        (json!({"rank": 1, "any_of": [light, guarded]}), vec!["/any_of/1 protected"]),
        (json!({"rank": 1, "any_of": [CultivarId::fresh(), rose]}), vec!["/any_of/0 not-found"]),
    ] {
        let refused = una.post(WANTS, body).await;
        assert_eq!(refused.problem(422), "invalid-fields");
        assert_eq!(refused.fields(), fields);
    }
    let any =
        una.post(WANTS, json!({"rank": 2, "any_of": [loft, light], "note": "a white"})).await.expect(201);
    let told = any.json();
    assert_eq!(
        (&told["form"], &told["cultivar_id"], &told["plant_group"]),
        (&json!("any_of"), &Value::Null, &Value::Null)
    );
    let names: Vec<&str> = told["any_of"]
        .as_array()
        .unwrap()
        .iter()
        .map(|choice| choice["cultivar_name"].as_str().unwrap())
        .collect();
    assert_eq!(names, ["Net Loft", "Harbour Light"], "the dearest first");
    // More than one such want may be open, and one of a single cultivar beside them.
    una.post(WANTS, json!({"rank": 3, "any_of": [loft, light]})).await.expect(201);
    let group = una.post(WANTS, json!({"rank": 4, "plant_group": "zonal"})).await.expect(201);
    assert_eq!((&group.json()["form"], &group.json()["any_of"]), (&json!("group"), &json!([])));
    una.post(WANTS, json!({"rank": 1, "cultivar_id": rose})).await.expect(201);
    let listed = una.walk(&format!("{WANTS}?limit=1")).await;
    let forms: Vec<&str> = listed.iter().map(|want| want["form"].as_str().unwrap()).collect();
    assert_eq!(forms, ["cultivar", "any_of", "any_of", "group"]);
    assert_eq!((&listed[0]["cultivar_name"], &listed[0]["any_of"]), (&json!("Quay Rose"), &json!([])));
    let path = any.header("location");
    let moved = una.patch(&path, "\"1\"", json!({"rank": 7})).await.expect(200).json();
    assert_eq!((&moved["rank"], &moved["any_of"]), (&json!(7), &told["any_of"]));

    // Nobody offers a zonal: nothing would meet the group yet.
    let expect = |any: Vec<CultivarId>, group: Vec<CultivarId>| {
        vec![(7, any.clone()), (3, any), (4, group), (1, vec![rose])]
    };
    assert_eq!(choices(&society).await, expect(vec![loft, light], vec![]));
    for cultivar in [light, loft, rose] {
        bram.post(OFFERS, json!({"cultivar_id": cultivar, "how_many": 1})).await.expect(201);
    }
    assert_eq!(choices(&society).await, expect(vec![loft, light], vec![light, rose, loft]));
    // What she offers and what she grows is passed over; the want stays.
    una.post(OFFERS, json!({"cultivar_id": light, "how_many": 1})).await.expect(201);
    let region = society.region("The Vale").await;
    let plant = json!({
        "cultivar_id": rose, "how_many": 1, "environment": "outdoors", "form": "bush", "region_id": region,
    });
    una.post("/api/v1/plants", plant).await.expect(201);
    assert_eq!(choices(&society).await, expect(vec![loft], vec![loft]));
    una.delete(&path).await.expect(204);
    assert_eq!(choices(&society).await.len(), 3);
}
