//! The diary of a plant: one record at a time and as a table.

use std::fmt::Write;

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_domain::ids::{DiaryId, PlantId};
use storksbill_tests::{Actor, Answer, TestApp};

use crate::plants::{entered, grower};

fn diary_of(plant: PlantId) -> String {
    format!("/api/v1/plants/{plant}/diary")
}

async fn labelled(member: &Actor, cultivar: impl serde::Serialize, label: &str) -> PlantId {
    let body = json!({
        "cultivar_id": cultivar, "how_many": 3, "environment": "frost_free", "form": "bush", "label": label,
    });
    member.post("/api/v1/plants", body).await.expect(201).id().parse().unwrap()
}

#[tokio::test]
async fn a_grower_keeps_a_diary_and_all_who_see_the_plant_read_it() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let bram = society.member("Bram Oake").await;
    let plant = entered(&edda, cultivar).await;
    let made = edda
        .post(
            &diary_of(plant),
            json!({"day": "2026-03-01", "kind": "potting", "how_many": 3, "pot_mm": 114.3, "note": " grit "}),
        )
        .await
        .expect(201);
    let id = made.id();
    assert_eq!(made.header("location"), format!("/api/v1/diary/{id}"));
    let expected = json!({
        "id": id, "plant_id": plant, "day": "2026-03-01", "kind": "potting", "how_many": 3, "pot_mm": 114.3,
        "note": "grit", "version": 1,
    });
    assert_eq!(made.json(), expected);
    let seen = bram.get(&made.header("location")).await.expect(200);
    assert_eq!(seen.json(), expected.clone());
    assert!(seen.etag().starts_with("\"1-"), "{}", seen.etag());
    let known = bram
        .request(Method::GET, &made.header("location"))
        .header("if-none-match", &seen.etag())
        .send()
        .await;
    assert_eq!(known.status, 304);
    assert_eq!(bram.walk(&diary_of(plant)).await, [expected]);
    // A record tells and does not change the plant.
    assert_eq!(edda.get(&format!("/api/v1/plants/{plant}")).await.expect(200).json()["pot_mm"], Value::Null);
}

#[tokio::test]
async fn the_diary_is_listed_by_day_and_walked_page_by_page() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let plant = entered(&edda, cultivar).await;
    let enter = async |day: &str, kind: &str| {
        edda.post(&diary_of(plant), json!({"day": day, "kind": kind})).await.expect(201).id()
    };
    let late = enter("2026-04-20", "show_ready").await;
    let twin = enter("2026-03-01", "stopping").await;
    let twin_after = enter("2026-03-01", "disbudding").await;
    let early = enter("2025-12-31", "stopping").await;
    let first = edda.get(&format!("{}?limit=2", diary_of(plant))).await.expect(200);
    let ids =
        |rows: &[Value]| rows.iter().map(|row| row["id"].as_str().unwrap().to_owned()).collect::<Vec<_>>();
    assert_eq!(ids(first.json()["items"].as_array().unwrap()), [early, twin]);
    // One before and one after the place reached: only the latter is still to come.
    enter("2026-02-01", "pest_or_disease").await;
    let between = enter("2026-03-02", "first_colour").await;
    let rest = edda.walk(&first.next_link().unwrap()).await;
    assert_eq!(ids(&rest), [twin_after, between, late]);
    // A cursor of another list.
    let plants = edda.post(
        "/api/v1/plants",
        json!({
            "cultivar_id": cultivar, "how_many": 1, "environment": "outdoors", "form": "bush",
        }),
    );
    plants.await.expect(201);
    let cursor = edda.get("/api/v1/plants?limit=1").await.expect(200).json()["next_cursor"].clone();
    let strange = edda.get(&format!("{}?cursor={}", diary_of(plant), cursor.as_str().unwrap())).await;
    assert_eq!(strange.problem(400), "bad-cursor");
}

#[tokio::test]
async fn everything_wrong_with_a_record_is_said_at_once() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let plant = entered(&edda, cultivar).await;
    let refused = edda
        .post(
            &diary_of(plant),
            json!({"day": "soon", "kind": "stopping", "how_many": -1, "pot_mm": 3, "note": "x".repeat(2001)}),
        )
        .await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        [
            "/day invalid-value",
            "/how_many out-of-range",
            "/note too-long",
            "/pot_mm must-be-empty",
            "/pot_mm out-of-range",
        ]
    );
    let refused =
        edda.post(&diary_of(plant), json!({"day": "2099-01-01", "kind": "loss", "how_many": 4})).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields(), ["/day in-future", "/how_many too-many"]);
    let refused =
        edda.post(&diary_of(plant), json!({"day": "2026-01-01", "kind": "note", "note": " "})).await;
    assert_eq!(refused.fields(), ["/note required"]);
}

#[tokio::test]
async fn a_record_is_not_older_than_the_plant_and_at_most_of_tomorrow() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let plant = entered(&edda, cultivar).await;
    edda.patch(&format!("/api/v1/plants/{plant}"), "\"1\"", json!({"got_on": "2026-02-01"}))
        .await
        .expect(200);
    let today = society.clock.today();
    for (day, status) in [
        ("2026-01-31".to_owned(), 422),
        ("2026-02-01".to_owned(), 201),
        (today.succ_opt().unwrap().to_string(), 201),
        (today.succ_opt().unwrap().succ_opt().unwrap().to_string(), 422),
    ] {
        // Ready for the bench without any stopping on record: nothing is wrong with that.
        edda.post(&diary_of(plant), json!({"day": day, "kind": "show_ready"})).await.expect(status);
    }
}

#[tokio::test]
async fn a_loss_is_at_most_what_is_held_and_the_count_stays_the_growers_to_change() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let plant = entered(&edda, cultivar).await;
    let path = format!("/api/v1/plants/{plant}");
    let loss = |how_many: i32| json!({"day": "2026-03-01", "kind": "loss", "how_many": how_many});
    assert_eq!(edda.post(&diary_of(plant), loss(4)).await.fields(), ["/how_many too-many"]);
    assert_eq!(edda.post(&diary_of(plant), loss(0)).await.fields(), ["/how_many out-of-range"]);
    let lost = edda.post(&diary_of(plant), loss(3)).await.expect(201).header("location");
    let kept = edda.get(&path).await.expect(200);
    assert_eq!((&kept.json()["how_many"], &kept.etag()[..3]), (&json!(3), "\"1-"));
    edda.patch(&path, "\"1\"", json!({"how_many": 0})).await.expect(200);
    // What was right when it was recorded may still be annotated; a new number is held against the count.
    edda.patch(&lost, "\"1\"", json!({"note": "frost"})).await.expect(200);
    assert_eq!(edda.patch(&lost, "\"2\"", json!({"how_many": 2})).await.fields(), ["/how_many too-many"]);
    edda.post(&diary_of(plant), json!({"day": "2026-03-02", "kind": "loss"})).await.expect(201);
}

#[tokio::test]
async fn a_record_is_changed_by_its_grower_who_read_it() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let bram = society.administrator("Bram Oake").await;
    let plant = entered(&edda, cultivar).await;
    let body = json!({"day": "2026-03-01", "kind": "potting", "pot_mm": 90});
    let path = edda.post(&diary_of(plant), body.clone()).await.expect(201).header("location");
    let blind = edda.request(Method::PATCH, &path).json(&json!({"note": "x"})).send().await;
    assert_eq!(blind.problem(428), "precondition-required");
    let changed = edda.patch(&path, "\"1\"", json!({"note": "x", "day": "2026-03-02"})).await.expect(200);
    assert_eq!((changed.etag().as_str(), &changed.json()["day"]), ("\"2\"", &json!("2026-03-02")));
    assert_eq!(edda.patch(&path, "\"1\"", json!({"note": "y"})).await.problem(412), "version-mismatch");
    let wrong = edda.patch(&path, "\"2\"", json!({"kind": "stopping"})).await;
    assert_eq!(wrong.fields(), ["/pot_mm must-be-empty"]);
    assert_eq!(
        edda.patch(&path, "\"2\"", json!({"kind": null, "day": null})).await.fields(),
        ["/day required", "/kind required"]
    );
    edda.patch(&path, "\"2\"", json!({"kind": "stopping", "pot_mm": null})).await.expect(200);
    let remove =
        |who: &Actor, etag: &'static str| who.request(Method::DELETE, &path).header("if-match", etag);
    assert_eq!(bram.patch(&path, "\"3\"", json!({"note": "y"})).await.problem(403), "not-allowed");
    assert_eq!(bram.post(&diary_of(plant), body).await.problem(403), "not-allowed");
    assert_eq!(remove(&bram, "\"3\"").send().await.problem(403), "not-allowed");
    assert_eq!(edda.delete(&path).await.problem(428), "precondition-required");
    assert_eq!(remove(&edda, "\"1\"").send().await.problem(412), "version-mismatch");
    remove(&edda, "\"3\"").send().await.expect(204);
    assert_eq!(edda.get(&path).await.problem(404), "not-found");
}

#[tokio::test]
async fn a_diary_is_as_visible_as_its_plant() {
    let society = TestApp::start().await;
    let (una, cultivar, region) = grower(&society, "Una Marsh").await;
    let club = society.club("Quay Town", region).await;
    let edda = society.member_of("Edda Wick", club).await;
    let clubmate = society.member_of("Bram Oake", club).await;
    for (visibility, expected) in
        [("private", [200, 404, 404]), ("club", [200, 200, 404]), ("society", [200, 200, 200])]
    {
        let body = json!({
            "cultivar_id": cultivar, "how_many": 1, "environment": "outdoors", "form": "bush",
            "visibility": visibility, "region_id": region,
        });
        let plant: PlantId = edda.post("/api/v1/plants", body).await.expect(201).id().parse().unwrap();
        let record = json!({"day": "2026-03-01", "kind": "stopping"});
        let path = edda.post(&diary_of(plant), record.clone()).await.expect(201).header("location");
        for (who, status) in [&edda, &clubmate, &una].into_iter().zip(expected) {
            who.get(&path).await.expect(status);
            who.get(&diary_of(plant)).await.expect(status);
        }
        // What one may not see one is not told of either.
        for (who, seen) in [(&clubmate, expected[1]), (&una, expected[2])] {
            let refused = if seen == 200 { 403 } else { 404 };
            who.patch(&path, "\"1\"", json!({"note": "x"})).await.expect(refused);
            who.post(&diary_of(plant), record.clone()).await.expect(refused);
        }
    }
    una.get(&format!("/api/v1/diary/{}", DiaryId::fresh())).await.expect(404);
}

#[tokio::test]
async fn a_record_sent_again_is_kept_once() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let plant = entered(&edda, cultivar).await;
    let body = json!({"day": "2026-03-01", "kind": "stopping"});
    let first = edda.post_once(&diary_of(plant), "key-1", body.clone()).await.expect(201);
    let again = edda.post_once(&diary_of(plant), "key-1", body).await.expect(201);
    assert_eq!(first.json(), again.json());
    assert_eq!(edda.walk(&diary_of(plant)).await.len(), 1);
    // The same body for another plant is another request.
    let other = entered(&edda, cultivar).await;
    let body = json!({"day": "2026-03-01", "kind": "stopping"});
    assert_eq!(edda.post_once(&diary_of(other), "key-1", body).await.problem(422), "idempotency-key-reused");
}

fn counts(answer: &Answer) -> [u64; 3] {
    let report = answer.json();
    ["created", "updated", "unchanged"].map(|count| report[count].as_u64().unwrap())
}

async fn import(member: &Actor, csv: &str) -> Answer {
    member.send_csv(Method::POST, "/api/v1/diary/import", csv).await
}

async fn export(member: &Actor) -> String {
    member.get("/api/v1/diary/export.csv").await.expect(200).text()
}

#[tokio::test]
async fn a_table_enters_records_by_the_plants_label_or_id() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let one = labelled(&edda, cultivar, "bench 1").await;
    let two = labelled(&edda, cultivar, "bench 2").await;
    let csv = format!(
        "plant_label,plant_id,day,kind,how_many,pot_mm,note\n\
         bench  1,,2026-03-01,stopping,,,\n\
         ,{two},2026-03-02,potting,3,57.15,\"grit,\nand chalk\"\n\
         bench 1,{one},2026-04-01,first_colour,,,\n"
    );
    let dry = edda.send_csv(Method::POST, "/api/v1/diary/import?dry_run=true", &csv).await.expect(200);
    assert_eq!((counts(&dry), &dry.json()["dry_run"]), ([3, 0, 0], &json!(true)));
    assert!(edda.walk(&diary_of(one)).await.is_empty());
    assert_eq!(counts(&import(&edda, &csv).await.expect(200)), [3, 0, 0]);
    let kinds = |rows: Vec<Value>| rows.iter().map(|row| row["kind"].clone()).collect::<Vec<_>>();
    assert_eq!(kinds(edda.walk(&diary_of(one)).await), ["stopping", "first_colour"]);
    let potted = edda.walk(&diary_of(two)).await;
    assert_eq!(
        (&potted[0]["pot_mm"], &potted[0]["how_many"], &potted[0]["note"]),
        (&json!(57.15), &json!(3), &json!("grit,\nand chalk"))
    );
}

#[tokio::test]
async fn what_was_exported_is_imported_without_a_change() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let (bram, _, _) = grower(&society, "Bram Oake").await;
    let plant = labelled(&edda, cultivar, "=bench").await;
    let bare = entered(&edda, cultivar).await;
    for (kind, how_many, pot_mm, note) in [
        ("note", None, None, Some("=1+1")),
        ("note", None, None, Some("'two\r\nlines\" @")),
        ("loss", Some(3), None, None),
        ("potting", Some(0), Some(133.35), Some("+")),
    ] {
        let body =
            json!({"day": "2026-03-01", "kind": kind, "how_many": how_many, "pot_mm": pot_mm, "note": note});
        edda.post(&diary_of(plant), body).await.expect(201);
    }
    edda.post(&diary_of(bare), json!({"day": "2026-03-01", "kind": "show_ready"})).await.expect(201);
    bram.post(&diary_of(entered(&bram, cultivar).await), json!({"day": "2026-03-01", "kind": "stopping"}))
        .await
        .expect(201);
    // All of them were lost since: what was recorded stays right.
    edda.patch(&format!("/api/v1/plants/{plant}"), "\"1\"", json!({"how_many": 0})).await.expect(200);
    let csv = export(&edda).await;
    assert!(csv.contains(",'=bench,2026-03-01,note,,,'=1+1\r\n"), "{csv}");
    assert_eq!(counts(&import(&edda, &csv).await.expect(200)), [0, 0, 5]);
    assert_eq!(export(&edda).await, csv);
}

#[tokio::test]
async fn a_table_edits_records_by_id() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let plant = labelled(&edda, cultivar, "bench 1").await;
    let body = json!({"day": "2026-03-01", "kind": "stopping", "how_many": 2, "note": "first"});
    let [one, two] = [
        edda.post(&diary_of(plant), body.clone()).await.expect(201).id(),
        edda.post(&diary_of(plant), body).await.expect(201).id(),
    ];
    let csv = format!("note,id,day\n,{one},2026-03-05\nfirst,{two},2026-03-01\n");
    assert_eq!(counts(&import(&edda, &csv).await.expect(200)), [0, 1, 1]);
    let changed = edda.get(&format!("/api/v1/diary/{one}")).await.expect(200).json();
    let [day, note, how_many, version] = ["day", "note", "how_many", "version"].map(|f| changed[f].clone());
    assert_eq!([day, note, how_many, version], [json!("2026-03-05"), Value::Null, json!(2), json!(2)]);
}

#[tokio::test]
async fn every_bad_line_of_a_table_is_named_and_nothing_is_written() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let (bram, _, _) = grower(&society, "Bram Oake").await;
    let plant = labelled(&edda, cultivar, "bench 1").await;
    let twins = [labelled(&edda, cultivar, "twin").await, labelled(&edda, cultivar, "twin").await];
    let foreign = labelled(&bram, cultivar, "theirs").await;
    let record = json!({"day": "2026-03-01", "kind": "stopping"});
    let mine = edda.post(&diary_of(plant), record.clone()).await.expect(201).id();
    let theirs = bram.post(&diary_of(foreign), record).await.expect(201).id();
    let csv = format!(
        "id,version,plant_id,plant_label,day,kind,how_many,pot_mm,note\n\
         ,,,twin,2026-03-01,stopping,,,\n\
         ,,,theirs,2026-03-01,stopping,,,\n\
         ,,{foreign},,2026-03-01,stopping,,,\n\
         ,,{plant},twin,2026-03-01,stopping,,,\n\
         {theirs},,,,2026-03-01,stopping,,,\n\
         {mine},2,{},,2026-03-02,stopping,,,\n\
         {mine},,,,2026-03-03,stopping,,,\n\
         ,,,bench 1,2099-03-01,loss,4,90,\n\
         ,,,bench 1,1/3/26,pruning,few,,\n\
         ,,,bench 1,2026-03-01,note,,,\n\
         ,,,,,,,,\n\
         ,,,,2026-03-01,stopping,,,\n",
        twins[0]
    );
    let refused = import(&edda, &csv).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        [
            "line 10 invalid-value",
            "line 10 unknown-word",
            "line 10 wrong-type",
            "line 11 required",
            "line 13 required",
            "line 2 ambiguous",
            "line 3 not-found",
            "line 4 not-found",
            "line 5 disagrees",
            "line 6 not-found",
            "line 7 another-plant",
            "line 7 version-mismatch",
            "line 8 repeated",
            "line 9 in-future",
            "line 9 must-be-empty",
            "line 9 too-many",
        ]
    );
    assert!(twins.iter().all(|twin| refused.text().contains(twin.as_str())), "{}", refused.text());
    assert_eq!(edda.walk(&diary_of(plant)).await.len(), 1);
}

#[tokio::test]
async fn an_import_sent_again_is_done_once() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    let plant = labelled(&edda, cultivar, "bench 1").await;
    for _ in 0..2 {
        let answer = edda
            .request(Method::POST, "/api/v1/diary/import")
            .header("idempotency-key", "key-1")
            .body("text/csv", "plant_label,day,kind\nbench 1,2026-03-01,stopping\n")
            .send()
            .await
            .expect(200);
        assert_eq!(counts(&answer), [1, 0, 0]);
    }
    assert_eq!(edda.walk(&diary_of(plant)).await.len(), 1);
}

#[tokio::test]
async fn twenty_thousand_records_go_in_out_and_in_again() {
    let society = TestApp::start().await;
    let (edda, cultivar, _) = grower(&society, "Edda Wick").await;
    for n in 0..20 {
        labelled(&edda, cultivar, &format!("bench {n}")).await;
    }
    let mut csv = "plant_label,day,kind,note\n".to_owned();
    for n in 0..20_000 {
        let (plant, month, day) = (n % 20, n / 20 % 12 + 1, n / 240 % 28 + 1);
        writeln!(csv, "bench {plant},2025-{month:02}-{day:02},note,no. {n}").unwrap();
    }
    let start = std::time::Instant::now();
    assert_eq!(counts(&import(&edda, &csv).await.expect(200)), [20_000, 0, 0]);
    let entered = start.elapsed();
    let exported = export(&edda).await;
    assert_eq!(counts(&import(&edda, &exported).await.expect(200)), [0, 0, 20_000]);
    let compared = start.elapsed();
    let changed = exported.replace(",no. ", ",number ");
    assert_eq!(counts(&import(&edda, &changed).await.expect(200)), [0, 20_000, 0]);
    eprintln!("20,000 records: in {entered:?}, out and compared {compared:?}, changed {:?}", start.elapsed());
}
