//! The pedigree and the cross book as tables, lines of JSON and a graph.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use storksbill_tests::{Actor, TestApp};

const CULTIVARS: &str = "/api/v1/cultivars";
const TABLE: &str = "/api/v1/pedigrees/export.csv";
const LINES: &str = "/api/v1/pedigrees/export.jsonl";
const GRAPH: &str = "/api/v1/pedigrees/export.dot";

async fn enter(actor: &Actor, name: &str, more: Value) -> String {
    let mut body = json!({"name": name, "plant_group": "regal", "status": "seedling"});
    for (field, value) in more.as_object().unwrap() {
        body[field] = value.clone();
    }
    actor.post(CULTIVARS, body).await.expect(201).id()
}

/// The rows of a table without quoted cells, each by column.
fn rows(csv: &str) -> Vec<BTreeMap<String, String>> {
    assert!(!csv.contains('"'), "{csv}");
    let mut lines = csv.split("\r\n").filter(|line| !line.is_empty());
    let columns: Vec<&str> = lines.next().unwrap().split(',').collect();
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            assert_eq!(cells.len(), columns.len(), "{line}");
            columns.iter().zip(cells).map(|(column, cell)| ((*column).to_owned(), cell.to_owned())).collect()
        })
        .collect()
}

async fn table(actor: &Actor, path: &str) -> Vec<BTreeMap<String, String>> {
    let answer = actor.get(path).await.expect(200);
    assert_eq!(answer.header("content-type"), "text/csv; charset=utf-8; header=present");
    rows(&answer.text())
}

async fn lines(actor: &Actor) -> Vec<Value> {
    let answer = actor.get(LINES).await.expect(200);
    assert_eq!(answer.header("content-type"), "application/jsonl");
    answer.text().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn column(rows: &[BTreeMap<String, String>], name: &str) -> Vec<String> {
    rows.iter().map(|row| row[name].clone()).collect()
}

fn by_name<'a>(rows: &'a [BTreeMap<String, String>], name: &str) -> &'a BTreeMap<String, String> {
    rows.iter().find(|row| row["name"] == name).unwrap_or_else(|| panic!("no {name}"))
}

#[tokio::test]
async fn parents_stand_before_their_children_whichever_was_entered_first() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let child = enter(&edda, "Tor Child", json!({})).await;
    let one = enter(&edda, "Tor One", json!({})).await;
    let other = enter(&edda, "Tor Other", json!({})).await;
    let grandchild =
        enter(&edda, "Tor Grandchild", json!({"seed_parent_id": child, "pollen_parent_id": child})).await;
    let sport = enter(&edda, "Tor Sport", json!({"source_id": grandchild, "sport_layers": "L1,L2"})).await;
    let parents = json!({"seed_parent_id": one, "pollen_parent_id": other, "raised_year": 2019});
    edda.patch(&format!("{CULTIVARS}/{child}"), "\"1\"", parents).await.expect(200);
    let csv = edda.get(TABLE).await.expect(200);
    assert_eq!(csv.header("content-disposition"), "attachment; filename=\"pedigree.csv\"");
    // The layers hold a comma.
    let text = csv.text().replace("\"L1,L2\"", "L1 L2");
    let rows = rows(&text);
    assert_eq!(column(&rows, "name"), ["Tor One", "Tor Other", "Tor Child", "Tor Grandchild", "Tor Sport"]);
    assert_eq!(column(&rows, "inbreeding"), ["0", "0", "0", "0.5", "0.5"]);
    assert_eq!(column(&rows, "origin"), ["unknown", "unknown", "cross", "cross", "sport"]);
    assert_eq!(column(&rows, "parents_from"), ["", "", "record", "record", "record"]);
    let child_row = by_name(&rows, "Tor Child");
    assert_eq!((&child_row["seed_parent_id"], &child_row["pollen_parent_id"]), (&one, &other));
    assert_eq!((child_row["raised_year"].as_str(), child_row["version"].as_str()), ("2019", "2"));
    let sport_row = by_name(&rows, "Tor Sport");
    assert_eq!((&sport_row["id"], &sport_row["source_id"]), (&sport, &grandchild));
    assert_eq!(sport_row["sport_layers"], "L1 L2");
}

#[tokio::test]
async fn lines_of_json_hold_all_that_is_on_record() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let one =
        enter(&edda, "=Tor One", json!({"sets": 4, "chromosomes": 36, "chromosomes_about": true})).await;
    let other = enter(&edda, "Tor Other", json!({})).await;
    let made = json!({
        "plant_group": "angel", "status": "on_trial", "raiser": "Edda Wick", "raised_year": 2021, "protected": true,
        "seed_parent_id": one, "visibility": "club", "notes": "Dark eye,\nlate.",
        "pollen_candidates": [
            {"cultivar_id": other, "share_thousandths": 700}, {"cultivar_id": null, "share_thousandths": 300}
        ],
        "seed_gamete": {"form": "stated", "sets": 3, "lambda": 0.125}, "pollen_gamete": {"form": "unreduced"}
    });
    let child = enter(&edda, "Tor Child", made).await;
    let told = lines(&edda).await;
    assert_eq!(told.len(), 3);
    assert_eq!(
        told[2],
        json!({
            "schema_version": 1, "id": child, "kind": "cultivar", "name": "Tor Child", "plant_group": "angel",
            "status": "on_trial", "origin": "cross", "parents_from": "record", "seed_parent_id": one,
            "pollen_parent_id": null,
            "pollen_candidates": [
                {"id": other, "undisclosed": false, "share_thousandths": 700},
                {"id": null, "undisclosed": false, "share_thousandths": 300}
            ],
            "source_id": null, "seed_gamete": {"form": "stated", "sets": 3, "lambda": 0.125},
            "pollen_gamete": {"form": "unreduced", "sets": null, "lambda": null}, "sport_layers": null,
            "reverts_to_id": null, "undisclosed": [], "sets": null, "chromosomes": null, "chromosomes_about": false,
            "raised_year": 2021, "raiser": "Edda Wick", "protected": true, "visibility": "club",
            "notes": "Dark eye,\nlate.", "entered_by": edda.id(), "cross_id": null, "version": 1,
            "inbreeding": told[2]["inbreeding"]
        })
    );
    let known = edda.get(&format!("/api/v1/pedigrees/{child}")).await.expect(200).json();
    assert_eq!(told[2]["inbreeding"], known["inbreeding"]);
    assert_eq!((&told[0]["sets"], &told[0]["chromosomes_about"]), (&json!(4), &json!(true)));
    let csv = edda.get(TABLE).await.expect(200).text();
    // A cell that starts a formula is made safe, and the candidates and gametes have one cell each.
    assert!(csv.contains(",'=Tor One,"), "{csv}");
    assert!(csv.contains(&format!(",{other}=700; ?=300,,stated sets=3 lambda=0.125,unreduced,")), "{csv}");
}

#[tokio::test]
async fn a_line_that_is_not_released_is_left_out_and_its_children_say_so() {
    let society = TestApp::start().await;
    let (edda, bram) = (society.member("Edda Wick").await, society.member("Bram Oake").await);
    let one = enter(&edda, "Tor One", json!({})).await;
    let other = enter(&edda, "Tor Other", json!({})).await;
    let parents = json!({"seed_parent_id": one, "pollen_parent_id": other, "visibility": "private"});
    let hidden = enter(&edda, "Tor Hidden", parents).await;
    enter(&edda, "Tor Child", json!({"seed_parent_id": hidden, "pollen_parent_id": one})).await;
    let either = json!([
        {"cultivar_id": hidden, "share_thousandths": 500}, {"cultivar_id": other, "share_thousandths": 500}
    ]);
    enter(&edda, "Tor Either", json!({"seed_parent_id": one, "pollen_candidates": either})).await;
    enter(&edda, "Tor Sport", json!({"source_id": hidden, "reverts_to_id": hidden})).await;
    let seen = table(&bram, TABLE).await;
    let mut names = column(&seen, "name");
    names.sort();
    assert_eq!(names, ["Tor Child", "Tor Either", "Tor One", "Tor Other", "Tor Sport"]);
    let undisclosed: Vec<_> = ["Tor Child", "Tor Either", "Tor Sport"]
        .map(|name| by_name(&seen, name)["undisclosed"].clone())
        .into();
    assert_eq!(undisclosed, ["seed_parent_id", "pollen_candidates", "source_id reverts_to_id"]);
    let child = by_name(&seen, "Tor Child");
    assert_eq!((child["seed_parent_id"].as_str(), &child["pollen_parent_id"]), ("", &one));
    // The hidden parent counts all the same.
    assert_eq!(child["inbreeding"], "0.25");
    for path in [TABLE, LINES, GRAPH] {
        let text = bram.get(path).await.expect(200).text();
        assert!(!text.contains(&hidden) && !text.contains("Hidden"), "{path}: {text}");
        assert!(edda.get(path).await.expect(200).text().contains("Tor Hidden"), "{path}");
        assert_eq!(society.visitor().get(path).await.problem(401), "not-logged-in");
    }
    let graph = bram.get(GRAPH).await.expect(200);
    assert_eq!(graph.header("content-type"), "text/vnd.graphviz; charset=utf-8");
    let graph = graph.text();
    assert!(graph.starts_with("digraph pedigree {") && graph.contains("[label=\"undisclosed\"]"), "{graph}");
    assert!(graph.contains("style=dashed"), "{graph}");
    let own = lines(&edda).await;
    assert!(own.iter().all(|line| line["undisclosed"] == json!([])), "{own:#?}");
}

#[tokio::test]
async fn seedlings_stand_under_their_numbers_with_the_parents_of_their_cross() {
    let society = TestApp::start().await;
    let (edda, bram) = (society.member("Edda Wick").await, society.member("Bram Oake").await);
    let one = enter(&edda, "Tor One", json!({})).await;
    let other = enter(&edda, "Tor Other", json!({})).await;
    let body = json!({
        "number": "2026-017", "seed_parent": {"cultivar_id": one}, "pollen_parents": [{"cultivar_id": other}],
        "pollen_gamete": "unreduced", "visibility": "society"
    });
    let cross = edda.post("/api/v1/crosses", body).await.expect(201);
    let path = cross.header("location");
    edda.post(&format!("{path}/seedlings"), json!({"notes": "Pale"})).await.expect(201);
    let second = edda.post(&format!("{path}/seedlings"), json!({})).await.expect(201);
    let named = enter(&edda, "Tor Named", json!({})).await;
    let as_named = json!({"status": "named", "cultivar_id": named});
    edda.patch(&second.header("location"), &second.etag(), as_named).await.expect(200);
    let seen = table(&bram, TABLE).await;
    assert_eq!(column(&seen, "name"), ["Tor One", "Tor Other", "2026-017/1", "Tor Named"]);
    let seedling = by_name(&seen, "2026-017/1");
    assert_eq!((seedling["kind"].as_str(), seedling["status"].as_str()), ("seedling", "on_trial"));
    assert_eq!((seedling["plant_group"].as_str(), seedling["notes"].as_str()), ("", "Pale"));
    for row in [seedling, by_name(&seen, "Tor Named")] {
        assert_eq!((&row["seed_parent_id"], &row["pollen_parent_id"]), (&one, &other));
        assert_eq!((row["parents_from"].as_str(), row["pollen_gamete"].as_str()), ("cross", "unreduced"));
    }
    let cultivars = table(&bram, &format!("{TABLE}?kind=cultivar")).await;
    assert_eq!(column(&cultivars, "name"), ["Tor One", "Tor Other", "Tor Named"]);
    let seedlings = table(&bram, &format!("{TABLE}?kind=seedling")).await;
    assert_eq!(column(&seedlings, "name"), ["2026-017/1"]);
    assert_eq!(bram.get(&format!("{TABLE}?kind=plant")).await.problem(422), "invalid-query");
    // Of a private cross nothing is told: neither its seedlings nor where the named one comes from.
    let private = json!({
        "number": "2026-018", "seed_parent": {"cultivar_id": one}, "pollen_parents": [{"cultivar_id": other}]
    });
    let cross = edda.post("/api/v1/crosses", private).await.expect(201);
    let seedling = edda.post(&format!("{}/seedlings", cross.header("location")), json!({})).await.expect(201);
    let quiet = enter(&edda, "Tor Quiet", json!({})).await;
    edda.post(&format!("{}/seedlings", cross.header("location")), json!({})).await.expect(201);
    let as_quiet = json!({"status": "named", "cultivar_id": quiet});
    edda.patch(&seedling.header("location"), &seedling.etag(), as_quiet).await.expect(200);
    let seen = table(&bram, TABLE).await;
    assert_eq!(seen.len(), 5);
    let quiet = by_name(&seen, "Tor Quiet");
    for column in ["parents_from", "seed_parent_id", "pollen_parent_id", "seed_gamete", "undisclosed"] {
        assert_eq!(quiet[column], "", "{column}");
    }
    assert_eq!(table(&edda, TABLE).await.len(), 6);
}

#[tokio::test]
async fn crosses_are_exported_with_their_sums() {
    let society = TestApp::start().await;
    let (edda, bram) = (society.member("Edda Wick").await, society.member("Bram Oake").await);
    let one = enter(&edda, "Tor One", json!({})).await;
    let other = enter(&edda, "Tor Other", json!({"visibility": "private"})).await;
    let cross = async |number: &str, pollen: Value, visibility: &str| {
        let body = json!({
            "number": number, "seed_parent": {"cultivar_id": one}, "pollen_parents": pollen, "visibility": visibility
        });
        edda.post("/api/v1/crosses", body).await.expect(201).header("location")
    };
    let shared = cross("2026-001", json!([{"cultivar_id": other}]), "society").await;
    cross("2026-002", json!([]), "private").await;
    let several = json!([
        {"cultivar_id": one, "share_thousandths": 250}, {"cultivar_id": other, "share_thousandths": 750}
    ]);
    cross("2026-003", several, "society").await;
    let today = society.clock.today();
    edda.post(&format!("{shared}/pollinations"), json!({"day": today, "florets": 12})).await.expect(201);
    for (kind, how_many) in [("takes", 8), ("harvested", 20), ("harvested", 3)] {
        let body = json!({"day": today, "kind": kind, "how_many": how_many});
        edda.post(&format!("{shared}/counts"), body).await.expect(201);
    }
    let path = "/api/v1/crosses/export.csv";
    let own = table(&edda, path).await;
    assert_eq!(column(&own, "number"), ["2026-003", "2026-002", "2026-001"]);
    assert_eq!(column(&own, "pollen_parents"), ["Tor One=250; Tor Other=750", "", "Tor Other"]);
    assert_eq!(own[0]["pollen_parent_ids"], format!("{one}=250; {other}=750"));
    let counted: Vec<&str> =
        ["florets", "takes", "harvested", "sown", "kept"].iter().map(|name| own[2][*name].as_str()).collect();
    assert_eq!(counted, ["12", "8", "23", "", ""]);
    let seen = table(&bram, path).await;
    assert_eq!(column(&seen, "number"), ["2026-003", "2026-001"]);
    assert_eq!(
        column(&seen, "pollen_parent_ids"),
        [format!("{one}=250; undisclosed=750"), "undisclosed".to_owned()]
    );
    assert_eq!(column(&seen, "raiser"), ["Edda Wick", "Edda Wick"]);
    assert_eq!(society.visitor().get(path).await.problem(401), "not-logged-in");
}
