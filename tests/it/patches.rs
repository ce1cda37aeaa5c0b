//! By rule, over the whole description: an edit that mentions nothing changes nothing.

use std::collections::{BTreeMap, BTreeSet};

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_tests::{Actor, Contract};

use crate::show_kit::{Held, class_id, send};
use crate::swaps::{cultivar, offers, swap_with, wants};

/// A record with everything in it that can be, and who may edit it.
struct Record {
    path: String,
    actor: Actor,
}

fn record(path: impl Into<String>, actor: &Actor) -> Record {
    Record { path: path.into(), actor: actor.clone() }
}

/// One record for every address that takes an edit.
async fn records(held: &Held) -> BTreeMap<&'static str, Record> {
    let society = &held.society;
    let (una, keeper) =
        (society.member_of("Una Fell", held.club).await, society.administrator("Ivo Reed").await);
    swap_with(society, &una).await;
    let (light, tide) = (cultivar(society, "Harbour Light").await, cultivar(society, "Spring Tide").await);
    let made = async |actor: &Actor, path: &str, body: Value| {
        record(actor.post(path, body).await.expect(201).header("location"), actor)
    };
    let mut all = BTreeMap::new();

    all.insert("/api/v1/members/me", record("/api/v1/members/me", &una));
    let region = json!({"name": "The Moor", "latitude": 53.2, "longitude": -8.4, "elevation_m": 35, "plant_health_zone": "moor"});
    let region = made(&keeper, "/api/v1/regions", region).await;
    let station = json!({
        "name": "Moor Farm", "latitude": 53.1, "longitude": -8.3, "elevation_m": 60, "source": "Kept by the farm."
    });
    all.insert(
        "/api/v1/stations/{station_id}",
        made(&keeper, &format!("{}/stations", region.path), station).await,
    );
    let club = json!({
        "name": "High Moor", "region_id": region.path.rsplit('/').next(), "meeting_place": "The school, at eight"
    });
    all.insert("/api/v1/clubs/{club_id}", made(&keeper, "/api/v1/clubs", club).await);
    all.insert("/api/v1/regions/{region_id}", region);

    let seedling = json!({
        "name": "2024-1/3", "plant_group": "zonal", "status": "seedling", "raiser": "Una Fell", "raised_year": 2024,
        "seed_parent_id": light, "pollen_parent_id": tide, "notes": "Pink.", "visibility": "club", "chromosomes": 18
    });
    all.insert("/api/v1/cultivars/{cultivar_id}", made(&una, "/api/v1/cultivars", seedling).await);
    let plant = json!({
        "cultivar_id": light, "how_many": 3, "environment": "heated", "form": "fan", "label": "By the door",
        "got_on": "2025-03-01", "pot_mm": 127.0, "visibility": "society", "heated_to_c": 7.0
    });
    let plant = made(&una, "/api/v1/plants", plant).await;
    let diary = json!({"day": "2026-04-01", "kind": "potting", "pot_mm": 127.0, "note": "Into the old mix."});
    all.insert("/api/v1/diary/{diary_id}", made(&una, &format!("{}/diary", plant.path), diary).await);
    all.insert("/api/v1/plants/{plant_id}", plant);
    let cross = json!({
        "number": "B-1", "seed_parent": {"cultivar_id": light}, "pollen_parents": [{"cultivar_id": tide}],
        "visibility": "society", "notes": "For its leaf.", "pollen_gamete": "unreduced"
    });
    let cross = made(&una, "/api/v1/crosses", cross).await;
    let child = json!({"number": 4, "notes": "Kept for its habit."});
    all.insert(
        "/api/v1/seedlings/{seedling_id}",
        made(&una, &format!("{}/seedlings", cross.path), child).await,
    );
    all.insert("/api/v1/crosses/{cross_id}", cross);
    let offer = offers(&una, light, 2).await;
    all.insert("/api/v1/swaps/offers/{offer_id}", record(format!("/api/v1/swaps/offers/{offer}"), &una));
    let want = wants(&una, tide, 3).await;
    all.insert("/api/v1/swaps/wants/{want_id}", record(format!("/api/v1/swaps/wants/{want}"), &una));

    let bram = &held.secretary;
    all.insert("/api/v1/shows/{show_id}", record(held.show.clone(), bram));
    all.insert("/api/v1/shows/{show_id}/entries/{entry_id}", record(held.enter(&una, 1).await.0, &una));
    let guest = json!({"exhibitor": {
        "name": "Nora Pell", "is_joint": true, "in_the_trade": true, "household": "quay", "born_on": "2012-03-01",
        "publish_as": "initials", "outside_results": []
    }});
    all.insert(
        "/api/v1/shows/{show_id}/exhibitors/{exhibitor_id}",
        made(bram, &format!("{}/exhibitors", held.show), guest).await,
    );
    let judge = json!({
        "role": "judge", "member_id": keeper.id(), "name": "I. Reed, of the Moor", "classes": {"classes": [class_id(1)]}
    });
    all.insert(
        "/api/v1/shows/{show_id}/officials/{official_id}",
        made(bram, &format!("{}/officials", held.show), judge).await,
    );
    let cup = json!({"key": "quay-cup", "title": "The Quay Cup", "notes": "Given by the harbour master."});
    let cup = made(bram, &format!("/api/v1/clubs/{}/trophies", held.club), cup).await;
    let award = json!({
        "year": 2025, "member_id": una.id(), "name": "Una Fell", "handed_over_on": "2025-06-14",
        "due_back_on": "2026-05-01", "returned_on": "2026-04-30"
    });
    all.insert(
        "/api/v1/trophies/{trophy_id}/awards/{award_id}",
        made(bram, &format!("{}/awards", cup.path), award).await,
    );
    all.insert("/api/v1/trophies/{trophy_id}", cup);
    all
}

/// A record as its edit tells it, less the version, which counts edits.
async fn edited(record: &Record, body: Value) -> Value {
    let mut told = send(&record.actor, Method::PATCH, &record.path, body).await.expect(200).json();
    told.as_object_mut().unwrap().remove("version");
    told
}

#[tokio::test]
async fn an_edit_that_mentions_nothing_changes_nothing() {
    let held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let records = records(&held).await;
    let edits: BTreeSet<String> = Contract::of_the_server()
        .operations()
        .into_iter()
        .filter(|(method, ..)| method == "PATCH")
        .map(|(_, path, _)| path)
        .collect();
    let known: BTreeSet<String> = records.keys().map(|path| (*path).to_owned()).collect();
    assert_eq!(known, edits, "an address that takes an edit has no record here");
    for (path, record) in &records {
        let before = match record.actor.get(&record.path).await {
            told if told.status == 200 => {
                let mut told = told.json();
                told.as_object_mut().unwrap().remove("version");
                Some(told)
            }
            // Some records stand in lists alone: the first edit tells them, the second is held against it.
            _ => None,
        };
        let first = edited(record, json!({})).await;
        if let Some(before) = before {
            assert_eq!(first, before, "{path}");
        }
        assert_eq!(edited(record, json!({})).await, first, "{path}");
    }
    // Those that stand in lists alone hold what was said when they were made.
    let guest =
        edited(&records["/api/v1/shows/{show_id}/exhibitors/{exhibitor_id}"], json!({"household": "vale"}))
            .await;
    assert_eq!(
        (&guest["born_on"], &guest["publish_as"]),
        (&json!("2012-03-01"), &json!("initials")),
        "{guest}"
    );
    assert_eq!((&guest["is_joint"], &guest["in_the_trade"]), (&json!(true), &json!(true)), "{guest}");
    assert_eq!((&guest["outside_declared"], &guest["household"]), (&json!(true), &json!("vale")), "{guest}");
    let judge =
        edited(&records["/api/v1/shows/{show_id}/officials/{official_id}"], json!({"role": "steward"})).await;
    assert_eq!(judge["name"], "I. Reed, of the Moor", "{judge}");
    assert_eq!(judge["classes"]["classes"], json!([class_id(1)]), "{judge}");
    let award = edited(&records["/api/v1/trophies/{trophy_id}/awards/{award_id}"], json!({})).await;
    assert_eq!(
        (&award["name"], &award["returned_on"]),
        (&json!("Una Fell"), &json!("2026-04-30")),
        "{award}"
    );
}

#[tokio::test]
async fn saying_how_one_shows_leaves_what_is_not_mentioned() {
    let held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let una = held.society.member("Una Fell").await;
    let me = format!("{}/exhibitors/me", held.show);
    let all = json!({
        "name": "Una and Otto Fell", "is_joint": true, "in_the_trade": true, "household": "quay",
        "born_on": "1990-01-02", "publish_as": "withheld", "outside_results": []
    });
    let strip = |mut told: Value| {
        told.as_object_mut().unwrap().remove("version");
        told
    };
    let first = strip(una.put(&me, all).await.expect(201).json());
    assert_eq!(strip(send(&una, Method::PUT, &me, json!({})).await.expect(200).json()), first);
    // A day of birth that was said stays; the secretary puts it right.
    for born in [json!(null), json!("1990-02-01")] {
        let refused = send(&una, Method::PUT, &me, json!({"born_on": born})).await;
        assert_eq!(refused.fields(), ["/born_on stands"]);
    }
    for slip in ["2105-03-01", "1899-12-31", "2026-05-11"] {
        let path = format!("{}/exhibitors/{}", held.show, first["id"].as_str().unwrap());
        let refused = send(&held.secretary, Method::PATCH, &path, json!({"born_on": slip})).await;
        assert_eq!(refused.fields(), ["/born_on out-of-range"], "{slip}");
        let guest = json!({"exhibitor": {"name": "Nora Pell", "born_on": slip}});
        let refused = held.secretary.post(&format!("{}/exhibitors", held.show), guest).await;
        assert_eq!(refused.fields(), ["/exhibitor/born_on out-of-range"], "{slip}");
        let edda = held.society.member("Edda Wick").await;
        assert_eq!(
            edda.put(&me, json!({"born_on": slip})).await.fields(),
            ["/born_on out-of-range"],
            "{slip}"
        );
    }
    let cleared = json!({"household": null, "publish_as": null, "name": null, "is_joint": null});
    let told = send(&una, Method::PUT, &me, cleared).await.expect(200).json();
    assert_eq!(
        (&told["household"], &told["publish_as"], &told["name"], &told["is_joint"]),
        (&json!(null), &json!("name"), &json!("Una Fell"), &json!(false))
    );
}
