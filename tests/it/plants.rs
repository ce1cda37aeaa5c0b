//! Plants: one by one and as a table.

use std::fmt::Write;

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_domain::ids::{CultivarId, MemberId, OfferId, PlantId, RegionId};
use storksbill_domain::words::{ClubRole, PlantGroup};
use storksbill_tests::{Actor, Answer, TestApp};

use crate::forecasts::cultivar;

/// A member who grows in the Vale, and a cultivar to grow.
pub async fn grower(society: &TestApp, name: &str) -> (Actor, CultivarId, RegionId) {
    let region = society.region(&format!("The Vale of {name}")).await;
    let member = society.member(name).await;
    society.grows_in(&member, region).await;
    (member, cultivar(society, &format!("Harbour {name}"), PlantGroup::Regal).await, region)
}

fn bush(cultivar: CultivarId) -> Value {
    json!({"cultivar_id": cultivar, "how_many": 3, "environment": "frost_free", "form": "bush"})
}

/// A bush of the member's.
pub async fn entered(member: &Actor, cultivar: CultivarId) -> PlantId {
    member.post("/api/v1/plants", bush(cultivar)).await.expect(201).id().parse().unwrap()
}

fn with(mut body: Value, field: &str, value: impl Into<Value>) -> Value {
    body[field] = value.into();
    body
}

async fn remove(member: &Actor, path: &str, etag: &str) -> Answer {
    member.request(Method::DELETE, path).header("if-match", etag).send().await
}

fn ids(rows: &[Value]) -> Vec<PlantId> {
    rows.iter().map(|row| row["id"].as_str().unwrap().parse().unwrap()).collect()
}

#[tokio::test]
async fn a_member_enters_a_plant_and_reads_it_back() {
    let society = TestApp::start().await;
    let (edda, cultivar, region) = grower(&society, "Edda Wick").await;
    let bram = society.member("Bram Oake").await;
    let source = entered(&edda, cultivar).await;
    let made = edda
        .post(
            "/api/v1/plants",
            json!({
                "cultivar_id": cultivar, "how_many": 2, "pot_mm": 114.3, "environment": "heated",
                "heated_to_c": 7.5, "form": "standard", "label": " bench  3 ", "source_plant_id": source,
                "source_member_id": bram.id(), "got_on": "2025-09-14", "visibility": "club",
            }),
        )
        .await
        .expect(201);
    let id = made.id();
    assert_eq!(made.header("location"), format!("/api/v1/plants/{id}"));
    assert_eq!(made.etag(), "\"1\"");
    let mut expected = json!({
        "id": id, "owner_id": edda.id(), "how_many": 2, "pot_mm": 114.3, "environment": "heated",
        "cultivar": {"id": cultivar, "name": "Harbour Edda Wick", "plant_group": "regal"},
        "heated_to_c": 7.5, "form": "standard", "label": "bench 3", "region_id": region,
        "source_plant_id": source, "source_member_id": bram.id(), "got_on": "2025-09-14",
        "visibility": "club", "latest_record": null, "version": 1,
    });
    expected["created_at"] = made.json()["created_at"].clone();
    assert_eq!(made.json(), expected);
    let seen = edda.get(&made.header("location")).await.expect(200);
    assert_eq!(seen.json(), expected);
    assert!(seen.etag().starts_with("\"1-"), "{}", seen.etag());
}

#[tokio::test]
async fn a_plant_is_the_societys_to_see_and_in_its_growers_region_when_nothing_is_said() {
    let society = TestApp::start().await;
    let (edda, cultivar, region) = grower(&society, "Edda Wick").await;
    let made = edda.post("/api/v1/plants", bush(cultivar)).await.expect(201).json();
    assert_eq!((&made["visibility"], &made["region_id"]), (&json!("society"), &json!(region)));
    let homeless = society.member("Bram Oake").await;
    let refused = homeless.post("/api/v1/plants", bush(cultivar)).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields(), ["/region_id required"]);
    homeless.post("/api/v1/plants", with(bush(cultivar), "region_id", json!(region))).await.expect(201);
}

#[tokio::test]
async fn everything_wrong_with_a_plant_is_said_at_once() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let refused = edda
        .post(
            "/api/v1/plants",
            json!({
                "cultivar_id": cultivar, "how_many": -1, "pot_mm": 114.3001, "environment": "outdoors",
                "heated_to_c": 36, "form": "cone", "label": "x".repeat(121), "got_on": "soon", "colour": "red",
            }),
        )
        .await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        [
            "/colour unknown-field",
            "/form unknown-word",
            "/got_on invalid-value",
            "/heated_to_c must-be-empty",
            "/heated_to_c out-of-range",
            "/how_many out-of-range",
            "/label too-long",
            "/pot_mm too-precise",
        ]
    );
    let cold = edda.post("/api/v1/plants", with(bush(cultivar), "environment", "heated")).await;
    assert_eq!(cold.problem(422), "invalid-fields");
    assert_eq!(cold.fields(), ["/heated_to_c required"]);
    // What only the records can tell comes in one answer too.
    let refused = edda
        .post(
            "/api/v1/plants",
            json!({
                "cultivar_id": CultivarId::fresh(), "how_many": 1, "environment": "outdoors", "form": "bush",
                "region_id": RegionId::fresh(), "source_plant_id": PlantId::fresh(),
                "source_member_id": MemberId::fresh(), "got_on": "2099-01-01",
            }),
        )
        .await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        [
            "/cultivar_id not-found",
            "/got_on in-future",
            "/region_id not-found",
            "/source_member_id not-found",
            "/source_plant_id not-found",
        ]
    );
}

#[tokio::test]
async fn pots_by_the_inch_are_kept_exactly() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    for (pot_mm, um) in [(114.3, 114_300_i64), (57.15, 57_150), (133.35, 133_350), (110.0, 110_000)] {
        let made = edda.post("/api/v1/plants", with(bush(cultivar), "pot_mm", pot_mm)).await.expect(201);
        assert_eq!(made.json()["pot_mm"], json!(pot_mm));
        let id: PlantId = made.id().parse().unwrap();
        let kept = society.read(move |conn| storksbill_db::rows::plants::find(conn, id)).await.unwrap();
        assert_eq!(kept.pot_um, Some(um));
    }
}

#[tokio::test]
async fn a_plant_is_seen_as_widely_as_its_grower_chose() {
    let society = TestApp::start().await;
    let (_, cultivar, region) = grower(&society, "Una Marsh").await;
    let (here, there) = (society.club("Quay Town", region).await, society.club("High Moor", region).await);
    let edda = society.member_of("Edda Wick", here).await;
    let clubmate = society.member_of("Bram Oake", here).await;
    // Neither office nor another club opens what is not shared.
    let stranger = society
        .actor(
            "Tamsin Reed",
            &[storksbill_domain::words::SocietyRole::Administrator],
            &[(there, ClubRole::Secretary)],
        )
        .await;
    let clubless = society.member("Ivo Fenn").await;
    let mut paths = Vec::new();
    for visibility in ["private", "club", "society"] {
        let body = with(with(bush(cultivar), "visibility", visibility), "region_id", json!(region));
        paths.push(edda.post("/api/v1/plants", body).await.expect(201).header("location"));
    }
    for (who, expected) in [
        (&edda, [200, 200, 200]),
        (&clubmate, [404, 200, 200]),
        (&stranger, [404, 404, 200]),
        (&clubless, [404, 404, 200]),
    ] {
        let mut list = Vec::new();
        for (path, status) in paths.iter().zip(expected) {
            let seen = who.get(path).await.expect(status);
            if status == 200 {
                list.push(seen.id().parse().unwrap());
            }
            who.get(&format!("{path}/diary")).await.expect(status);
        }
        let listed = who.walk(&format!("/api/v1/plants?owner_id={}", edda.id())).await;
        // The list's rule is the same as the rule of the single plant.
        assert_eq!(ids(&listed), list);
    }
    society.visitor().get(&paths[2]).await.expect(401);
}

#[tokio::test]
async fn the_list_is_ones_own_filtered_and_walked_page_by_page() {
    let society = TestApp::start().await;
    let (edda, regal, _) = grower(&society, "Edda Wick").await;
    let (bram, _, _) = grower(&society, "Bram Oake").await;
    let zonal = cultivar(&society, "Quay Lamp", PlantGroup::Zonal).await;
    entered(&bram, zonal).await;
    let mut own = Vec::new();
    for n in 0..7 {
        let body = bush(if n % 2 == 0 { regal } else { zonal });
        let body = with(body, "form", if n < 3 { "fan" } else { "bush" });
        let body = with(body, "environment", if n == 6 { "outdoors" } else { "cold_glass" });
        own.push(edda.post("/api/v1/plants", body).await.expect(201).id().parse::<PlantId>().unwrap());
    }
    let first = edda.get("/api/v1/plants?limit=3").await.expect(200);
    assert_eq!(ids(first.json()["items"].as_array().unwrap()), own[..3]);
    let late = entered(&edda, zonal).await;
    let rest = edda.walk(&first.next_link().unwrap()).await;
    assert_eq!(ids(&rest), [&own[3..], &[late]].concat());
    for (query, expected) in [
        (format!("cultivar_id={zonal}&form=bush&limit=1"), vec![own[3], own[5], late]),
        ("environment=outdoors".to_owned(), vec![own[6]]),
        ("form=fan".to_owned(), own[..3].to_vec()),
        (format!("cultivar_id={}", CultivarId::fresh()), vec![]),
    ] {
        assert_eq!(ids(&edda.walk(&format!("/api/v1/plants?{query}")).await), expected, "{query}");
    }
    assert_eq!(edda.get("/api/v1/plants?form=cone").await.problem(422), "invalid-query");
    assert_eq!(edda.get("/api/v1/plants?owner_id=7").await.problem(422), "invalid-query");
}

#[tokio::test]
async fn each_plant_comes_with_the_latest_record_of_its_own_diary() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let plants =
        [entered(&edda, cultivar).await, entered(&edda, cultivar).await, entered(&edda, cultivar).await];
    let mut latest = Vec::new();
    for (plant, records) in plants.iter().zip([
        &[("2026-03-01", "stopping"), ("2026-04-02", "potting"), ("2026-02-01", "disbudding")][..],
        // Two of one day: the last entered counts.
        &[("2026-04-01", "first_colour"), ("2026-04-01", "first_open_floret")],
        &[],
    ]) {
        let mut ids = Vec::new();
        for (day, kind) in records {
            let path = format!("/api/v1/plants/{plant}/diary");
            ids.push(edda.post(&path, json!({"day": day, "kind": kind})).await.expect(201).json());
        }
        latest.push(if ids.is_empty() { Value::Null } else { ids[1].clone() });
    }
    let listed = edda.walk("/api/v1/plants").await;
    let shown: Vec<_> = listed.iter().map(|plant| plant["latest_record"].clone()).collect();
    assert_eq!(shown, latest);
    for (plant, listed) in plants.iter().zip(&listed) {
        assert_eq!(edda.get(&format!("/api/v1/plants/{plant}")).await.expect(200).json(), *listed);
    }
}

#[tokio::test]
async fn an_edit_wants_the_version_that_was_read_and_the_grower() {
    let society = TestApp::start().await;
    let (edda, cultivar, region) = grower(&society, "Edda Wick").await;
    let bram = society.administrator("Bram Oake").await;
    let path = format!("/api/v1/plants/{}", entered(&edda, cultivar).await);
    let blind = edda.request(Method::PATCH, &path).json(&json!({"how_many": 2})).send().await;
    assert_eq!(blind.problem(428), "precondition-required");
    let changed = edda
        .patch(&path, "\"1\"", json!({"how_many": 2, "label": "a", "pot_mm": 90, "got_on": "2026-01-01"}))
        .await
        .expect(200);
    assert_eq!((changed.etag().as_str(), &changed.json()["how_many"]), ("\"2\"", &json!(2)));
    let stale = edda.patch(&path, "\"1\"", json!({"how_many": 1})).await;
    assert_eq!(stale.problem(412), "version-mismatch");
    let cleared =
        edda.patch(&path, "\"2\"", json!({"label": null, "pot_mm": null, "got_on": null})).await.expect(200);
    for field in ["label", "pot_mm", "got_on"] {
        assert_eq!(cleared.json()[field], Value::Null, "{field}");
    }
    assert_eq!(cleared.json()["how_many"], 2);
    // Seen by all, the grower's alone to change: not even an administrator's.
    assert_eq!(bram.patch(&path, "\"3\"", json!({"how_many": 0})).await.problem(403), "not-allowed");
    edda.patch(&path, "\"3\"", json!({"visibility": "private"})).await.expect(200);
    assert_eq!(bram.patch(&path, "\"4\"", json!({"how_many": 0})).await.problem(404), "not-found");
    let wrong = edda
        .patch(
            &path,
            "\"4\"",
            json!({
                "cultivar_id": null, "how_many": 100_001, "environment": null, "form": null, "region_id": null,
                "visibility": null, "pot_mm": 5,
            }),
        )
        .await;
    assert_eq!(wrong.problem(422), "invalid-fields");
    assert_eq!(
        wrong.fields(),
        [
            "/cultivar_id required",
            "/environment required",
            "/form required",
            "/how_many out-of-range",
            "/pot_mm out-of-range",
            "/region_id required",
            "/visibility required",
        ]
    );
    let kept = edda.get(&path).await.expect(200).json();
    assert_eq!((&kept["region_id"], &kept["version"]), (&json!(region), &json!(4)));
}

#[tokio::test]
async fn an_edit_leaves_a_plant_that_holds_together() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let (mother, daughter) = (entered(&edda, cultivar).await, entered(&edda, cultivar).await);
    let path = format!("/api/v1/plants/{mother}");
    edda.post(&format!("{path}/diary"), json!({"day": "2026-03-01", "kind": "stopping"})).await.expect(201);
    for (body, fields) in [
        (json!({"environment": "heated"}), "/heated_to_c required"),
        (json!({"heated_to_c": 5}), "/heated_to_c must-be-empty"),
        (json!({"got_on": "2026-03-02"}), "/got_on after-diary"),
        (json!({"got_on": "2099-03-02"}), "/got_on in-future"),
        (json!({"source_plant_id": mother}), "/source_plant_id own-source"),
        (json!({"cultivar_id": CultivarId::fresh()}), "/cultivar_id not-found"),
    ] {
        let refused = edda.patch(&path, "\"1\"", body.clone()).await;
        assert_eq!(refused.problem(422), "invalid-fields", "{body}");
        assert_eq!(refused.fields(), [fields], "{body}");
    }
    edda.patch(&path, "\"1\"", json!({"environment": "heated", "heated_to_c": 5})).await.expect(200);
    edda.patch(&path, "\"2\"", json!({"environment": "outdoors", "heated_to_c": null})).await.expect(200);
    edda.patch(&path, "\"3\"", json!({"got_on": "2026-03-01"})).await.expect(200);
    let daughters = format!("/api/v1/plants/{daughter}");
    edda.patch(&daughters, "\"1\"", json!({"source_plant_id": mother})).await.expect(200);
    let ring = edda.patch(&path, "\"4\"", json!({"source_plant_id": daughter})).await;
    assert_eq!(ring.problem(422), "invalid-fields");
    assert_eq!(ring.fields(), ["/source_plant_id own-source"]);
}

#[tokio::test]
async fn a_source_must_be_visible_when_it_is_named_and_may_be_hidden_later() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let (bram, _, _) = grower(&society, "Bram Oake").await;
    let hidden = bram
        .post("/api/v1/plants", with(bush(cultivar), "visibility", "private"))
        .await
        .expect(201)
        .header("location");
    let source = hidden.rsplit('/').next().unwrap();
    let body = with(bush(cultivar), "source_plant_id", source);
    assert_eq!(edda.post("/api/v1/plants", body.clone()).await.fields(), ["/source_plant_id not-found"]);
    bram.patch(&hidden, "\"1\"", json!({"visibility": "society"})).await.expect(200);
    let cutting = edda.post("/api/v1/plants", body).await.expect(201).header("location");
    bram.patch(&hidden, "\"2\"", json!({"visibility": "private"})).await.expect(200);
    edda.patch(&cutting, "\"1\"", json!({"source_plant_id": source, "how_many": 1})).await.expect(200);
}

#[tokio::test]
async fn a_plant_goes_only_while_nothing_depends_on_it() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let (bram, _, _) = grower(&society, "Bram Oake").await;
    let [noted, mother, offered, free] = [
        entered(&edda, cultivar).await,
        entered(&edda, cultivar).await,
        entered(&edda, cultivar).await,
        entered(&edda, cultivar).await,
    ];
    let path = |plant: PlantId| format!("/api/v1/plants/{plant}");
    edda.post(&format!("{}/diary", path(noted)), json!({"day": "2026-03-01", "kind": "stopping"}))
        .await
        .expect(201);
    bram.post("/api/v1/plants", with(bush(cultivar), "source_plant_id", json!(mother))).await.expect(201);
    offer(&society, edda.id(), cultivar, offered).await;
    for plant in [noted, mother, offered] {
        let refused = remove(&edda, &path(plant), "\"1\"").await;
        assert_eq!(refused.problem(409), "in-use");
        assert!(refused.text().contains("how_many to 0"), "{}", refused.text());
        edda.patch(&path(plant), "\"1\"", json!({"how_many": 0})).await.expect(200);
    }
    assert_eq!(edda.delete(&path(free)).await.problem(428), "precondition-required");
    assert_eq!(remove(&edda, &path(free), "\"9\"").await.problem(412), "version-mismatch");
    assert_eq!(remove(&bram, &path(free), "\"1\"").await.problem(403), "not-allowed");
    remove(&edda, &path(free), "\"1\"").await.expect(204);
    assert_eq!(edda.get(&path(free)).await.problem(404), "not-found");
}

async fn offer(society: &TestApp, member: MemberId, cultivar: CultivarId, plant: PlantId) {
    use diesel::prelude::*;
    use storksbill_db::schema::swap_offers;
    let now = society.clock.now().naive_utc();
    society
        .write(move |conn| {
            diesel::insert_into(swap_offers::table)
                .values((
                    swap_offers::id.eq(OfferId::fresh()),
                    swap_offers::member_id.eq(member),
                    swap_offers::cultivar_id.eq(cultivar),
                    swap_offers::plant_id.eq(plant),
                    swap_offers::how_many.eq(2),
                    swap_offers::promised.eq(0),
                    swap_offers::listing.eq(storksbill_domain::words::Listing::Withdrawn),
                    swap_offers::version.eq(1),
                    swap_offers::created_at.eq(now),
                ))
                .execute(conn)?;
            Ok(())
        })
        .await;
}

#[tokio::test]
async fn a_create_sent_again_makes_one_plant() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let first = edda.post_once("/api/v1/plants", "key-1", bush(cultivar)).await.expect(201);
    let again = edda.post_once("/api/v1/plants", "key-1", bush(cultivar)).await.expect(201);
    assert_eq!((first.json(), first.header("location")), (again.json(), again.header("location")));
    assert_eq!(edda.walk("/api/v1/plants").await.len(), 1);
    let other = edda.post_once("/api/v1/plants", "key-1", with(bush(cultivar), "how_many", 9)).await;
    assert_eq!(other.problem(422), "idempotency-key-reused");
}

fn counts(answer: &Answer) -> [u64; 3] {
    let report = answer.json();
    ["created", "updated", "unchanged"].map(|count| report[count].as_u64().unwrap())
}

async fn import(member: &Actor, csv: &str) -> Answer {
    member.send_csv(Method::POST, "/api/v1/plants/import", csv).await
}

async fn export(member: &Actor) -> String {
    let answer = member.get("/api/v1/plants/export.csv").await.expect(200);
    assert_eq!(answer.header("content-type"), "text/csv; charset=utf-8; header=present");
    assert_eq!(answer.header("content-disposition"), "attachment; filename=\"plants.csv\"");
    answer.text()
}

#[tokio::test]
async fn a_table_enters_plants_by_the_names_of_their_cultivars() {
    let society = TestApp::start().await;
    let (edda, _, region) = grower(&society, "Edda Wick").await;
    let mere = cultivar(&society, "Mère de Ménage", PlantGroup::Zonal).await;
    cultivar(&society, "Twin Light", PlantGroup::Regal).await;
    let angel = cultivar(&society, "Twin Light", PlantGroup::Angel).await;
    let csv = format!(
        "cultivar,plant_group,cultivar_id,how_many,environment,heated_to_c,form,pot_mm,label,got_on,visibility\n\
         mere de menage,,,3,heated,10,bush,114.3,\"bench 1, left\",2026-01-02,club\n\
         Twin Light,angel,,1,outdoors,,basket,,,,\n\
         ,,{mere},0,cold_glass,,young,,,,private\n"
    );
    let dry = edda.send_csv(Method::POST, "/api/v1/plants/import?dry_run=true", &csv).await.expect(200);
    assert_eq!((counts(&dry), &dry.json()["dry_run"]), ([3, 0, 0], &json!(true)));
    assert!(edda.walk("/api/v1/plants").await.is_empty());
    let done = import(&edda, &csv).await.expect(200);
    assert_eq!((counts(&done), &done.json()["dry_run"]), ([3, 0, 0], &json!(false)));
    let plants = edda.walk("/api/v1/plants").await;
    let cultivars: Vec<_> = plants.iter().map(|plant| plant["cultivar"]["id"].clone()).collect();
    assert_eq!(cultivars, [json!(mere), json!(angel), json!(mere)]);
    let first = &plants[0];
    for (field, value) in [
        ("how_many", json!(3)),
        ("heated_to_c", json!(10.0)),
        ("pot_mm", json!(114.3)),
        ("label", json!("bench 1, left")),
        ("got_on", json!("2026-01-02")),
        ("visibility", json!("club")),
        ("region_id", json!(region)),
        ("version", json!(1)),
    ] {
        assert_eq!(first[field], value, "{field}");
    }
    assert_eq!(plants[1]["visibility"], "society");
}

#[tokio::test]
async fn what_was_exported_is_imported_without_a_change() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let (bram, _, _) = grower(&society, "Bram Oake").await;
    let source = entered(&bram, cultivar).await;
    entered(&edda, cultivar).await;
    for (label, pot_mm) in
        [("=HYPERLINK(1)", 57.15), ("'quoted", 114.3), ("-3 \"x\", y", 2000.0), ("Mère", 10.0)]
    {
        let body = json!({
            "cultivar_id": cultivar, "how_many": 1, "environment": "heated", "heated_to_c": 12.25,
            "form": "hanging_pot", "label": label, "pot_mm": pot_mm, "source_plant_id": source,
            "source_member_id": bram.id(), "got_on": "2020-02-29", "visibility": "private",
        });
        edda.post("/api/v1/plants", body).await.expect(201);
    }
    let csv = export(&edda).await;
    assert!(
        csv.lines().count() == 6 && csv.contains(",'=HYPERLINK(1),") && csv.contains(",''quoted,"),
        "{csv}"
    );
    let before = edda.walk("/api/v1/plants").await;
    // The source was hidden and the giver left meanwhile: what was said stays said.
    bram.patch(&format!("/api/v1/plants/{source}"), "\"1\"", json!({"visibility": "private"}))
        .await
        .expect(200);
    let report = import(&edda, &csv).await.expect(200);
    assert_eq!(counts(&report), [0, 0, 5]);
    assert_eq!(edda.walk("/api/v1/plants").await, before);
    assert_eq!(export(&edda).await, csv);
}

#[tokio::test]
async fn a_table_edits_plants_by_id_and_leaves_columns_it_does_not_have() {
    let society = TestApp::start().await;
    let (edda, regal, _) = grower(&society, "Edda Wick").await;
    let zonal = cultivar(&society, "Quay Lamp", PlantGroup::Zonal).await;
    let labelled = with(with(bush(regal), "label", "a"), "pot_mm", 90);
    let [one, two] = [
        edda.post("/api/v1/plants", labelled.clone()).await.expect(201).id(),
        edda.post("/api/v1/plants", labelled).await.expect(201).id(),
    ];
    let csv = format!("label,id,how_many,cultivar\n,{one},0,Quay lamp\na,{two},3,\nnew,,1,Quay Lamp\n");
    let refused = import(&edda, &csv).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    // A blank cell in the only column that names the cultivar; a new plant that lacks what it needs.
    assert_eq!(refused.fields(), ["line 3 required", "line 4 required", "line 4 required"]);
    let csv = format!("label,id,how_many,cultivar\n,{one},0,Quay lamp\na,{two},3,Harbour Edda wick\n");
    assert_eq!(counts(&import(&edda, &csv).await.expect(200)), [0, 1, 1]);
    let plants = edda.walk("/api/v1/plants").await;
    let first = &plants[0];
    assert_eq!(
        (&first["how_many"], &first["label"], &first["pot_mm"], &first["cultivar"]["id"], &first["version"]),
        (&json!(0), &Value::Null, &json!(90.0), &json!(zonal), &json!(2))
    );
    assert_eq!(plants[1]["version"], 1);
    // The same table again says nothing new.
    assert_eq!(counts(&import(&edda, &csv).await.expect(200)), [0, 0, 2]);
}

#[tokio::test]
async fn every_bad_line_of_a_table_is_named_and_nothing_is_written() {
    let society = TestApp::start().await;
    let (edda, own, _) = grower(&society, "Edda Wick").await;
    let (bram, _, _) = grower(&society, "Bram Oake").await;
    cultivar(&society, "Twin Light", PlantGroup::Regal).await;
    cultivar(&society, "Twin Light", PlantGroup::Angel).await;
    let (foreign, mine) = (entered(&bram, own).await, entered(&edda, own).await);
    let csv = format!(
        "id,version,cultivar_id,cultivar,plant_group,how_many,environment,heated_to_c,form,got_on,source_plant_id\n\
         ,,,Twin Light,,1,outdoors,,bush,,\n\
         ,,,Nobody's Own,,x,outdoors,,cone,,\n\
         {foreign},,{own},,,1,outdoors,,bush,,\n\
         {mine},7,{own},,,2,outdoors,,bush,,\n\
         {mine},,{own},,,2,heated,,bush,2099-01-01,\n\
         ,,{own},Twin Light,,1,outdoors,3,bush,,\n\
         ,,,Harbour Edda Wick,zonal,1,outdoors,,bush,,{}\n\
         ,,,Harbour Edda Wick,,1,outdoors,,bush\n\
         ,,,Harbour Edda Wick,,1,outdoors,,bush,,\n",
        PlantId::fresh()
    );
    let refused = import(&edda, &csv).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        [
            "line 2 ambiguous",
            "line 3 not-found",
            "line 3 unknown-word",
            "line 3 wrong-type",
            "line 4 not-found",
            "line 5 version-mismatch",
            "line 6 in-future",
            "line 6 repeated",
            "line 6 required",
            "line 7 disagrees",
            "line 7 must-be-empty",
            "line 8 not-found",
            "line 8 not-found",
            "line 9 wrong-count",
        ]
    );
    let text = refused.text();
    assert!(text.contains("14 things need correcting on 8 lines"), "{text}");
    assert!(text.contains("Twin Light (regal, ") && text.contains("Twin Light (angel, "), "{text}");
    let dry = edda.send_csv(Method::POST, "/api/v1/plants/import?dry_run=true", &csv).await;
    assert_eq!((dry.problem(422), dry.fields()), ("invalid-fields".to_owned(), refused.fields()));
    assert_eq!(edda.walk("/api/v1/plants").await.len(), 1);
    let kept = edda.get(&format!("/api/v1/plants/{mine}")).await.expect(200);
    assert_eq!(kept.json()["version"], 1);
}

#[tokio::test]
async fn a_table_does_not_make_plants_their_own_source() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let (one, two) = (entered(&edda, cultivar).await, entered(&edda, cultivar).await);
    let refused = import(&edda, &format!("id,source_plant_id\n{one},{two}\n{two},{one}\n")).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields(), ["line 2 own-source", "line 3 own-source"]);
    import(&edda, &format!("id,source_plant_id\n{one},{two}\n")).await.expect(200);
    // Turned round in one table, no ring is left.
    let turned = import(&edda, &format!("id,source_plant_id\n{one},\n{two},{one}\n")).await.expect(200);
    assert_eq!(counts(&turned), [0, 2, 0]);
}

#[tokio::test]
async fn what_is_not_a_table_of_plants_is_refused() {
    let society = TestApp::start().await;
    let (edda, _, _) = grower(&society, "Edda Wick").await;
    for csv in ["", "cultivar;how_many\n", "cultivar,colour\n", "cultivar,cultivar\n"] {
        assert_eq!(import(&edda, csv).await.problem(400), "malformed-csv", "{csv}");
    }
    let path = "/api/v1/plants/import";
    assert_eq!(edda.post(path, json!([])).await.problem(415), "unsupported-media-type");
    assert_eq!(society.visitor().send_csv(Method::POST, path, "id\n").await.problem(401), "not-logged-in");
    let unclear = edda.send_csv(Method::POST, "/api/v1/plants/import?dry_run=maybe", "id\n").await;
    assert_eq!(unclear.problem(422), "invalid-query");
    assert_eq!(counts(&import(&edda, "\u{feff}id\r\n").await.expect(200)), [0, 0, 0]);
}

#[tokio::test]
async fn an_import_sent_again_is_done_once() {
    let society = TestApp::start().await;
    let (edda, _, _) = grower(&society, "Edda Wick").await;
    let csv = "cultivar,how_many,environment,form\nHarbour Edda Wick,2,outdoors,bush\n";
    let send = |key: &'static str| {
        edda.request(Method::POST, "/api/v1/plants/import")
            .header("idempotency-key", key)
            .body("text/csv", csv)
            .send()
    };
    let first = send("key-1").await.expect(200);
    assert_eq!(send("key-1").await.expect(200).json(), first.json());
    assert_eq!(edda.walk("/api/v1/plants").await.len(), 1);
    send("key-2").await.expect(200);
    assert_eq!(edda.walk("/api/v1/plants").await.len(), 2);
}

#[tokio::test]
async fn two_thousand_plants_go_in_out_and_in_again() {
    let society = TestApp::start().await;
    let (edda, own, _) = grower(&society, "Edda Wick").await;
    let mut csv = "cultivar,how_many,environment,form,label\n".to_owned();
    for n in 0..2000 {
        writeln!(csv, "Harbour Edda Wick,{n},outdoors,bush,no. {n}").unwrap();
    }
    assert_eq!(counts(&import(&edda, &csv).await.expect(200)), [2000, 0, 0]);
    let exported = export(&edda).await;
    assert_eq!(counts(&import(&edda, &exported).await.expect(200)), [0, 0, 2000]);
    let moved = exported.replace(",outdoors,", ",cold_glass,");
    assert_eq!(counts(&import(&edda, &moved).await.expect(200)), [0, 2000, 0]);
    let plants =
        edda.walk(&format!("/api/v1/plants?limit=200&environment=cold_glass&cultivar_id={own}")).await;
    assert_eq!(plants.len(), 2000);
    assert!(plants.iter().all(|plant| plant["version"] == 2));
    // More faults than are named are still counted.
    let refused = import(&edda, &moved.replace(",bush,", ",cone,")).await;
    assert_eq!((refused.problem(422).as_str(), refused.fields().len()), ("invalid-fields", 50));
    assert!(refused.json()["detail"].as_str().unwrap().starts_with("2000 things"));
}
