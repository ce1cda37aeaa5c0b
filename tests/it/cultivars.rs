//! Cultivars: the society's list of what there is to grow.

use diesel::RunQueryDsl;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill_db::rows::cultivars;
use storksbill_tests::{Actor, TestApp};

const CULTIVARS: &str = "/api/v1/cultivars";
const NOBODY: &str = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f";

fn seedling(name: &str) -> Value {
    json!({"name": name, "plant_group": "regal", "status": "seedling"})
}

async fn enter(actor: &Actor, body: Value) -> String {
    actor.post(CULTIVARS, body).await.expect(201).id()
}

fn names(rows: &[Value]) -> Vec<&str> {
    rows.iter().map(|row| row["name"].as_str().unwrap()).collect()
}

/// Deletes what was read with this entity tag.
async fn remove(actor: &Actor, path: &str, etag: &str) -> storksbill_tests::Answer {
    actor.request(Method::DELETE, path).header("if-match", etag).send().await
}

#[tokio::test]
async fn a_member_enters_a_seedling_with_its_parents() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let seed_parent = enter(&edda, seedling("Quay Lass")).await;
    let pollen_parent = enter(&edda, seedling("Tor Boy")).await;
    let made = edda
        .post(
            CULTIVARS,
            json!({
                "name": " Wick  2024-017/3 ", "plant_group": "angel", "raiser": "Edda Wick", "raised_year": 2024,
                "status": "on_trial", "protected": true, "seed_parent_id": seed_parent,
                "pollen_parent_id": pollen_parent, "notes": "Dark eye."
            }),
        )
        .await
        .expect(201);
    assert_eq!(
        made.json(),
        json!({
            "id": made.id(), "name": "Wick 2024-017/3", "plant_group": "angel", "raiser": "Edda Wick",
            "raised_year": 2024, "status": "on_trial", "protected": true, "seed_parent_id": seed_parent,
            "pollen_parent_id": pollen_parent, "source_id": null, "notes": "Dark eye.", "origin": "cross",
            "pollen_candidates": [], "undisclosed": [], "seed_gamete": null, "pollen_gamete": null,
            "sport_layers": null, "reverts_to_id": null, "sets": null, "chromosomes": null,
            "chromosomes_about": false, "visibility": "society", "merged_into_id": null, "entered_by": edda.id(), "version": 1
        })
    );
    let path = made.header("location");
    let seen = society.member("Bram Oake").await.get(&path).await.expect(200);
    assert_eq!(seen.json(), made.json());
    assert!(seen.etag().starts_with("\"1-"), "{}", seen.etag());
    let known = edda.request(Method::GET, &path).header("if-none-match", &seen.etag()).send().await;
    assert_eq!(known.status, 304);
    assert_eq!(society.visitor().get(&path).await.problem(401), "not-logged-in");
    assert_eq!(society.visitor().get(CULTIVARS).await.problem(401), "not-logged-in");
    assert_eq!(edda.get(&format!("{CULTIVARS}/{NOBODY}")).await.problem(404), "not-found");
}

#[tokio::test]
async fn everything_wrong_with_a_cultivar_is_said_at_once() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let refused = edda
        .post(
            CULTIVARS,
            json!({
                "name": "''", "plant_group": "rose", "raised_year": 1599, "status": "lost", "protected": "yes",
                "raiser": "r".repeat(121), "seed_parent_id": NOBODY, "source_id": NOBODY, "colour": "red"
            }),
        )
        .await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        [
            "/colour unknown-field",
            "/name no-letters",
            "/plant_group unknown-word",
            "/protected wrong-type",
            "/raised_year invalid-value",
            "/raiser too-long",
            "/source_id source-with-parents",
            "/status unknown-word"
        ]
    );
    let mut orphan = seedling("Orphan");
    orphan["seed_parent_id"] = json!(NOBODY);
    orphan["pollen_parent_id"] = json!("017f22e2-79b0-7cc3-98c4-dc0c0c073990");
    let refused = edda.post(CULTIVARS, orphan).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields(), ["/pollen_parent_id not-found", "/seed_parent_id not-found"]);
}

#[tokio::test]
async fn only_the_registrar_names_a_cultivar() {
    let society = TestApp::start().await;
    let (edda, ivo) = (society.member("Edda Wick").await, society.registrar("Ivo Reed").await);
    let mut named = seedling("Merrow Glow");
    named["status"] = json!("named");
    assert_eq!(edda.post(CULTIVARS, named.clone()).await.problem(403), "not-allowed");
    enter(&ivo, named).await;
    let made = edda.post(CULTIVARS, seedling("Wick 7")).await.expect(201);
    let path = made.header("location");
    let refused = edda.patch(&path, "\"1\"", json!({"status": "named"})).await;
    assert_eq!(refused.problem(403), "not-allowed");
    edda.patch(&path, "\"1\"", json!({"status": "on_trial"})).await.expect(200);
    let done = ivo.patch(&path, "\"2\"", json!({"status": "named", "name": "Weir Song"})).await.expect(200);
    assert_eq!(done.json()["entered_by"], json!(edda.id()));
    // From now on it is the register's.
    assert_eq!(edda.patch(&path, "\"3\"", json!({"notes": "mine"})).await.problem(403), "not-allowed");
}

#[tokio::test]
async fn a_seedling_is_changed_by_the_member_who_entered_it_and_no_other() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let made = edda.post(CULTIVARS, seedling("Wick 7")).await.expect(201);
    let path = made.header("location");
    let other = society.member("Bram Oake").await;
    assert_eq!(other.patch(&path, "\"1\"", json!({"notes": "mine"})).await.problem(403), "not-allowed");
    let blind = edda.request(Method::PATCH, &path).json(&json!({"notes": "late"})).send().await;
    assert_eq!(blind.problem(428), "precondition-required");
    let changed = edda
        .patch(
            &path,
            "\"1\"",
            json!({"notes": "late", "raised_year": 2023, "plant_group": "dwarf", "protected": true}),
        )
        .await
        .expect(200);
    assert_eq!(changed.etag(), "\"2\"");
    let stale = edda.patch(&path, "\"1\"", json!({"notes": "early"})).await;
    assert_eq!(stale.problem(412), "version-mismatch");
    let cleared = edda.patch(&path, "\"2\"", json!({"notes": null})).await.expect(200).json();
    assert_eq!((&cleared["notes"], &cleared["raised_year"]), (&Value::Null, &json!(2023)));
    assert_eq!((&cleared["plant_group"], &cleared["protected"]), (&json!("dwarf"), &json!(true)));
    let nulls = json!({"name": null, "plant_group": null, "status": null, "protected": null});
    let refused = edda.patch(&path, "\"3\"", nulls).await;
    assert_eq!(
        refused.fields(),
        ["/name required", "/plant_group required", "/protected required", "/status required"]
    );
}

#[tokio::test]
async fn a_name_is_taken_once_in_a_group() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    enter(&edda, seedling("Mère de Ménage")).await;
    let refused = edda.post(CULTIVARS, seedling("'mere de menage'")).await;
    assert_eq!(refused.problem(409), "taken");
    assert_eq!(refused.fields(), ["/name taken"]);
    let elsewhere = json!({"name": "Mere de Menage", "plant_group": "zonal", "status": "seedling"});
    let made = edda.post(CULTIVARS, elsewhere).await.expect(201);
    let moved = edda.patch(&made.header("location"), "\"1\"", json!({"plant_group": "regal"})).await;
    assert_eq!(moved.problem(409), "taken");
}

#[tokio::test]
async fn a_cultivar_sent_again_is_entered_once() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let first = edda.post_once(CULTIVARS, "c-1", seedling("Wick 7")).await.expect(201);
    let again = edda.post_once(CULTIVARS, "c-1", seedling("Wick 7")).await.expect(201);
    assert_eq!((first.json(), first.header("location")), (again.json(), again.header("location")));
    let other = edda.post_once(CULTIVARS, "c-1", seedling("Wick 8")).await;
    assert_eq!(other.problem(422), "idempotency-key-reused");
    assert_eq!(edda.walk(CULTIVARS).await.len(), 1);
}

#[tokio::test]
async fn cultivars_are_found_by_part_of_a_name_whatever_its_accents_and_case() {
    let society = TestApp::start().await;
    let ivo = society.registrar("Ivo Reed").await;
    for (name, group, status) in [
        ("Mère de Ménage", "regal", "named"),
        ("Ménage Hill", "angel", "on_trial"),
        ("Harbour Light", "regal", "named"),
        ("Merrow’s Pride", "zonal", "seedling"),
    ] {
        enter(&ivo, json!({"name": name, "plant_group": group, "status": status})).await;
    }
    for (query, expected) in [
        ("", vec!["Harbour Light", "Ménage Hill", "Mère de Ménage", "Merrow’s Pride"]),
        ("name=MENAGE", vec!["Ménage Hill", "Mère de Ménage"]),
        ("name=m%C3%A9nag%C3%A9", vec!["Ménage Hill", "Mère de Ménage"]),
        ("name=merrows", vec!["Merrow’s Pride"]),
        ("name=%25", vec!["Harbour Light", "Ménage Hill", "Mère de Ménage", "Merrow’s Pride"]),
        ("name=quay", vec![]),
        ("plant_group=regal", vec!["Harbour Light", "Mère de Ménage"]),
        ("status=named&name=light", vec!["Harbour Light"]),
        ("plant_group=angel&status=named", vec![]),
    ] {
        let found = ivo.walk(&format!("{CULTIVARS}?{query}")).await;
        assert_eq!(names(&found), expected, "{query}");
    }
    assert_eq!(ivo.get(&format!("{CULTIVARS}?plant_group=rose")).await.problem(422), "invalid-query");
}

#[tokio::test]
async fn a_narrowed_list_is_walked_to_the_end() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    for n in 0..9 {
        let group = if n % 3 == 0 { "zonal" } else { "regal" };
        let body = json!({"name": format!("Wick {n}"), "plant_group": group, "status": "seedling"});
        enter(&edda, body).await;
    }
    // Two of one name, so that a page ends between them.
    enter(&edda, json!({"name": "Wick 4", "plant_group": "zonal", "status": "seedling"})).await;
    let all = edda.walk(&format!("{CULTIVARS}?limit=1&name=wick")).await;
    assert_eq!(all.len(), 10);
    assert_eq!(names(&all)[4..6], ["Wick 4", "Wick 4"]);
    let regals = edda.walk(&format!("{CULTIVARS}?plant_group=regal&limit=2")).await;
    assert_eq!(names(&regals), ["Wick 1", "Wick 2", "Wick 4", "Wick 5", "Wick 7", "Wick 8"]);
}

#[tokio::test]
async fn no_cultivar_becomes_its_own_ancestor() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let first = enter(&edda, seedling("Quay Lass")).await;
    let mut child = seedling("Tor Boy");
    child["pollen_parent_id"] = json!(first);
    let child = enter(&edda, child).await;
    let mut sport = seedling("Tor Boy Pink");
    sport["source_id"] = json!(child);
    let sport = enter(&edda, sport).await;
    let path = format!("{CULTIVARS}/{first}");
    let looped = edda.patch(&path, "\"1\"", json!({"seed_parent_id": sport})).await;
    assert_eq!(looped.problem(409), "pedigree-loop");
    let detail = looped.json()["detail"].as_str().unwrap().to_owned();
    assert!(detail.contains("'Quay Lass' from 'Tor Boy Pink' from 'Tor Boy' from 'Quay Lass'"), "{detail}");
    let own = edda.patch(&path, "\"1\"", json!({"source_id": first})).await;
    assert_eq!(own.problem(409), "pedigree-loop");
    assert!(own.text().contains("'Quay Lass' from 'Quay Lass'"), "{}", own.text());
    // What was refused left no trace, and a sound parent is still taken.
    let other = enter(&edda, seedling("Bog Star")).await;
    let sound = edda.patch(&path, "\"1\"", json!({"seed_parent_id": other})).await.expect(200);
    assert_eq!(sound.json()["seed_parent_id"], json!(other));
    // Where an ancestor was entered does not matter: a younger record may be the parent of an older one.
    let again =
        edda.patch(&format!("{CULTIVARS}/{other}"), "\"1\"", json!({"pollen_parent_id": sport})).await;
    assert_eq!(again.problem(409), "pedigree-loop");
}

#[tokio::test]
async fn a_sport_has_a_source_and_no_parents() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let (one, other) = (enter(&edda, seedling("Quay Lass")).await, enter(&edda, seedling("Tor Boy")).await);
    let mut sport = seedling("Quay Lass White");
    sport["source_id"] = json!(one);
    let sport = enter(&edda, sport).await;
    let path = format!("{CULTIVARS}/{sport}");
    let refused = edda.patch(&path, "\"1\"", json!({"seed_parent_id": other})).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields(), ["/source_id source-with-parents"]);
    let missing = edda.patch(&path, "\"1\"", json!({"source_id": NOBODY})).await;
    assert_eq!(missing.fields(), ["/source_id not-found"]);
    let raised = json!({"source_id": null, "seed_parent_id": other, "pollen_parent_id": one});
    let raised = edda.patch(&path, "\"1\"", raised).await.expect(200).json();
    assert_eq!((&raised["source_id"], &raised["pollen_parent_id"]), (&Value::Null, &json!(one)));
}

#[tokio::test]
async fn the_registrar_removes_what_nothing_depends_on() {
    let society = TestApp::start().await;
    let (edda, ivo) = (society.member("Edda Wick").await, society.registrar("Ivo Reed").await);
    let parent = enter(&edda, seedling("Quay Lass")).await;
    let mut child = seedling("Tor Boy");
    child["seed_parent_id"] = json!(parent);
    let child = enter(&edda, child).await;
    let (parent, child) = (format!("{CULTIVARS}/{parent}"), format!("{CULTIVARS}/{child}"));
    assert_eq!(remove(&edda, &child, "\"1\"").await.problem(403), "not-allowed");
    assert_eq!(ivo.delete(&parent).await.problem(428), "precondition-required");
    assert_eq!(remove(&ivo, &parent, "\"1\"").await.problem(409), "in-use");
    assert_eq!(remove(&ivo, &child, "\"9\"").await.problem(412), "version-mismatch");
    remove(&ivo, &child, "\"1\"").await.expect(204);
    remove(&ivo, &parent, "\"1\"").await.expect(204);
    assert_eq!(ivo.get(&parent).await.problem(404), "not-found");
    assert_eq!(remove(&ivo, &parent, "\"1\"").await.problem(404), "not-found");
}

#[tokio::test]
async fn a_cultivar_that_is_grown_is_not_removed() {
    let society = TestApp::start().await;
    let ivo = society.registrar("Ivo Reed").await;
    let region = society.region("The Vale").await;
    let id = enter(&ivo, seedling("Quay Lass")).await;
    let cultivar = id.parse().unwrap();
    let plant = format!(
        "insert into plants (id, owner_id, cultivar_id, region_id, how_many, environment, form, visibility, \
         version, created_at) values ('{NOBODY}', '{}', '{id}', '{region}', 1, 'outdoors', 'bush', 'private', \
         1, '2026-05-10 12:00:00')",
        ivo.id()
    );
    society.write(move |conn| Ok(diesel::sql_query(plant.clone()).execute(conn)?)).await;
    let used = society.read(move |conn| cultivars::uses(conn, cultivar)).await;
    assert_eq!((used.offspring, used.plants, used.swaps), (0, 1, 0));
    let refused = remove(&ivo, &format!("{CULTIVARS}/{id}"), "\"1\"").await;
    assert_eq!(refused.problem(409), "in-use");
    assert!(refused.text().contains("by 1 plants"), "{}", refused.text());
}
