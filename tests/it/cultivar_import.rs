//! Cultivars from tables: all lines or none.

use std::fmt::Write;

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_tests::{Actor, Answer, TestApp};

const CULTIVARS: &str = "/api/v1/cultivars";
const IMPORT: &str = "/api/v1/cultivars/import";
const EXPORT: &str = "/api/v1/pedigrees/export.csv?kind=cultivar";

async fn import(actor: &Actor, csv: &str) -> Answer {
    actor.send_csv(Method::POST, IMPORT, csv).await
}

async fn dry(actor: &Actor, csv: &str) -> Answer {
    actor.send_csv(Method::POST, &format!("{IMPORT}?dry_run=true"), csv).await
}

fn counts(answer: &Answer) -> [u64; 3] {
    let report = answer.json();
    ["created", "updated", "unchanged"].map(|count| report[count].as_u64().unwrap())
}

async fn enter(actor: &Actor, name: &str, more: Value) -> String {
    let mut body = json!({"name": name, "plant_group": "regal", "status": "seedling"});
    for (field, value) in more.as_object().unwrap() {
        body[field] = value.clone();
    }
    actor.post(CULTIVARS, body).await.expect(201).id()
}

async fn named(actor: &Actor, name: &str) -> Value {
    let found = actor.walk(&format!("{CULTIVARS}?name={}", name.replace(' ', "%20"))).await;
    let fitting: Vec<&Value> = found.iter().filter(|cultivar| cultivar["name"] == name).collect();
    assert_eq!(fitting.len(), 1, "{name}: {found:#?}");
    fitting[0].clone()
}

/// What a refusal names: `line column code`, sorted.
fn faults(answer: &Answer) -> Vec<String> {
    let problem = answer.json();
    let mut all: Vec<String> = problem["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|e| {
            let [pointer, detail, code] = ["pointer", "detail", "code"].map(|key| e[key].as_str().unwrap());
            format!("{} {} {code}", pointer.trim_start_matches("line "), detail.split(':').next().unwrap())
        })
        .collect();
    all.sort();
    all
}

fn detail_of(answer: &Answer, code: &str) -> String {
    let problem = answer.json();
    let all = problem["errors"].as_array().unwrap();
    all.iter().find(|e| e["code"] == code).unwrap()["detail"].as_str().unwrap().to_owned()
}

#[tokio::test]
async fn a_whole_pedigree_is_entered_at_once_and_in_any_order() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let kept = enter(&edda, "Quay Lass", json!({})).await;
    enter(&edda, "Twin Light", json!({})).await;
    let angel = enter(&edda, "Twin Light", json!({"plant_group": "angel"})).await;
    let csv = format!(
        "name,plant_group,status,seed_parent,seed_parent_id,pollen_parent,source,reverts_to,pollen_candidates,\
         seed_gamete,sport_layers,raised_year,sets,chromosomes_about\n\
         Tor Sport,regal,on_trial,,,,Tor Child,Tor Mutant,,,L1,,,\n\
         Tor Mutant,regal,seedling,,,,Tor Child,,,,,,,\n\
         Tor Child,regal,seedling,TOR one,,Twin Light (angel),,,,stated sets=2 lambda=0.25,,2024,4,true\n\
         Tor One,regal,seedling,,{kept},,,,Tor Two=400; {angel}=350; ?=250,,,,,\n\
         Tor Two,regal,seedling,,,,,,,,,,,\n"
    );
    assert_eq!(counts(&dry(&edda, &csv).await.expect(200)), [5, 0, 0]);
    assert_eq!(edda.walk(CULTIVARS).await.len(), 3);
    let done = import(&edda, &csv).await.expect(200);
    assert_eq!((counts(&done), &done.json()["dry_run"]), ([5, 0, 0], &json!(false)));
    let (one, two) = (named(&edda, "Tor One").await, named(&edda, "Tor Two").await);
    let (child, mutant) = (named(&edda, "Tor Child").await, named(&edda, "Tor Mutant").await);
    let sport = named(&edda, "Tor Sport").await;
    assert_eq!((&one["seed_parent_id"], &one["origin"]), (&json!(kept), &json!("cross")));
    let candidate =
        |id: Value, share: i32| json!({"cultivar_id": id, "undisclosed": false, "share_thousandths": share});
    assert_eq!(
        one["pollen_candidates"],
        json!([candidate(two["id"].clone(), 400), candidate(json!(angel), 350), candidate(Value::Null, 250)])
    );
    assert_eq!((&child["seed_parent_id"], &child["pollen_parent_id"]), (&one["id"], &json!(angel)));
    assert_eq!(child["seed_gamete"], json!({"form": "stated", "sets": 2, "lambda": 0.25}));
    assert_eq!((&child["sets"], &child["chromosomes_about"]), (&json!(4), &json!(true)));
    assert_eq!((&child["entered_by"], &child["version"]), (&json!(edda.id()), &json!(1)));
    assert_eq!((&sport["source_id"], &sport["reverts_to_id"]), (&child["id"], &mutant["id"]));
    assert_eq!((&sport["origin"], &sport["sport_layers"]), (&json!("sport"), &json!("L1")));
    // The pedigree knows it at the next question.
    let path = format!(
        "/api/v1/pedigrees/{}/kinship/{}",
        sport["id"].as_str().unwrap(),
        child["id"].as_str().unwrap()
    );
    assert_eq!(edda.get(&path).await.expect(200).json()["same_clone"], true);
    // Who stands above others sorts before them.
    let id = |cultivar: &Value| cultivar["id"].as_str().unwrap().to_owned();
    assert!(id(&two) < id(&one) && id(&one) < id(&child) && id(&child) < id(&sport));
}

#[tokio::test]
async fn a_parent_may_be_called_by_another_name_unless_something_is_called_so_now() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let registrar = society.registrar("Bram Oake").await;
    let lantern = enter(&edda, "Harbour Lantern", json!({})).await;
    let body = json!({"name": "Quay Lamp", "kind": "synonym"});
    registrar.post(&format!("{CULTIVARS}/{lantern}/names"), body).await.expect(201);
    let csv =
        |child: &str| format!("name,plant_group,status,seed_parent\n{child},regal,seedling,quay lamp\n");
    import(&edda, &csv("First")).await.expect(200);
    assert_eq!(named(&edda, "First").await["seed_parent_id"], json!(lantern));
    let now = enter(&edda, "Quay Lamp", json!({})).await;
    import(&edda, &csv("Second")).await.expect(200);
    assert_eq!(named(&edda, "Second").await["seed_parent_id"], json!(now));
}

#[tokio::test]
async fn what_was_exported_is_imported_without_a_change() {
    let society = TestApp::start().await;
    let (edda, bram) = (society.member("Edda Wick").await, society.member("Bram Oake").await);
    let one =
        enter(&edda, "=Tor \"One\", early", json!({"notes": " Two\nlines ", "raiser": " E. Wick "})).await;
    let hidden = enter(&edda, "Tor Hidden", json!({"visibility": "private"})).await;
    let gamete = json!({"form": "stated", "sets": 3, "lambda": 0.1});
    let either = json!([
        {"cultivar_id": hidden, "share_thousandths": 500}, {"cultivar_id": one, "share_thousandths": 500}
    ]);
    enter(
        &edda,
        "Tor Two",
        json!({"seed_parent_id": one, "seed_gamete": gamete, "pollen_candidates": either}),
    )
    .await;
    enter(&edda, "Tor Three", json!({"source_id": hidden, "sport_layers": "L1,L2", "reverts_to_id": hidden}))
        .await;
    let of_hidden =
        json!({"seed_parent_id": hidden, "pollen_parent_id": one, "chromosomes": 18, "protected": true});
    enter(&edda, "Tor Four", of_hidden).await;
    let body = json!({
        "number": "2026-1", "seed_parent": {"cultivar_id": one}, "pollen_parents": [{"cultivar_id": hidden}],
        "visibility": "society", "seed_gamete": "unreduced"
    });
    let cross = edda.post("/api/v1/crosses", body).await.expect(201).header("location");
    let seedling = edda.post(&format!("{cross}/seedlings"), json!({})).await.expect(201);
    let raised = enter(&edda, "Tor Raised", json!({})).await;
    let as_named = json!({"status": "named", "cultivar_id": raised});
    edda.patch(&seedling.header("location"), &seedling.etag(), as_named).await.expect(200);
    let before = edda.walk(CULTIVARS).await;
    for (actor, lines) in [(&edda, 6), (&bram, 5)] {
        let csv = actor.get(EXPORT).await.expect(200).text();
        assert_eq!(counts(&import(actor, &csv).await.expect(200)), [0, 0, lines]);
    }
    assert_eq!(edda.walk(CULTIVARS).await, before);
    // One cell edited is one record changed; what the table could not show stays.
    let csv = edda.get(EXPORT).await.expect(200).text().replace("Tor Four", "Tor Fourth");
    assert_eq!(counts(&import(&edda, &csv).await.expect(200)), [0, 1, 5]);
    let four = named(&edda, "Tor Fourth").await;
    assert_eq!((&four["version"], &four["seed_parent_id"]), (&json!(2), &json!(hidden)));
    // Sent again it is out of date.
    let stale = csv.replace("Tor Fourth", "Tor Fifth");
    let refused = import(&edda, &stale).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert!(faults(&refused)[0].ends_with("version version-mismatch"), "{:?}", faults(&refused));
    // Others may not change it, and undisclosed parents are not cleared by those who do.
    let ivo = society.registrar("Ivo Reed").await;
    let seen = bram.get(EXPORT).await.expect(200).text();
    let refused = import(&bram, &seen.replace("Tor Fourth", "Tor Mine")).await;
    assert!(faults(&refused)[0].ends_with("id not-allowed"), "{:?}", faults(&refused));
    let seen = ivo.get(EXPORT).await.expect(200).text();
    assert_eq!(counts(&import(&ivo, &seen.replace("Tor Fourth", "Tor Last")).await.expect(200)), [0, 1, 4]);
    let four = named(&edda, "Tor Last").await;
    assert_eq!((&four["seed_parent_id"], &four["pollen_parent_id"]), (&json!(hidden), &json!(one)));
}

const COLUMNS: [&str; 12] = [
    "id",
    "name",
    "plant_group",
    "status",
    "seed_parent_id",
    "seed_parent",
    "pollen_parent",
    "source",
    "pollen_candidates",
    "pollen_gamete",
    "visibility",
    "kind",
];

/// A line of a regal seedling, but for what is said otherwise.
fn row(id: &str, name: &str, more: &[(&str, &str)]) -> String {
    let cell = |column: &&str| match *column {
        "id" => id.to_owned(),
        "name" => name.to_owned(),
        column => {
            let usual = match column {
                "plant_group" => "regal",
                "status" => "seedling",
                _ => "",
            };
            more.iter().find(|(named, _)| *named == column).map_or(usual, |(_, value)| *value).to_owned()
        }
    };
    COLUMNS.iter().map(cell).collect::<Vec<_>>().join(",")
}

#[tokio::test]
async fn every_bad_line_is_named_and_nothing_is_written() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let bram = society.member("Bram Oake").await;
    let kept = enter(&edda, "Quay Lass", json!({})).await;
    let shared = enter(&edda, "Quay Lad", json!({})).await;
    enter(&edda, "Quay Lord", json!({})).await;
    enter(&edda, "Twin Light", json!({})).await;
    enter(&edda, "Twin Light", json!({"plant_group": "angel"})).await;
    let hidden = enter(&bram, "Bram Secret", json!({"visibility": "private"})).await;
    let theirs = enter(&bram, "Bram Open", json!({})).await;
    let nobody = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f";
    let rows = [
        row("", "New 1", &[("plant_group", "rose")]),
        row("", "", &[("status", "")]),
        row("", "New 3", &[("status", "named")]),
        row("", "Quay Lord", &[]),
        row("", "New 5", &[("seed_parent_id", &hidden), ("pollen_parent", "Bram Secret")]),
        row("", "New 6", &[("seed_parent", "Nobody"), ("pollen_parent", "Twin Light")]),
        row("", "New 7", &[("seed_parent", "Quay Lass"), ("source", "Quay Lad")]),
        row("", "New 8", &[("pollen_candidates", "Quay Lass=600; Quay Lad=300")]),
        row("", "New 9", &[("pollen_candidates", "Quay Lass")]),
        row(
            "",
            "New 10",
            &[("seed_parent_id", &kept), ("seed_parent", "Quay Lass"), ("pollen_gamete", "half")],
        ),
        row(
            "",
            "New 11",
            &[
                ("seed_parent", "Twin Light (angel)"),
                ("pollen_candidates", "Quay Lass=500; ?=500"),
                ("pollen_gamete", "first_division lambda=0.5"),
            ],
        ),
        row("", "new 11", &[]),
        row(&theirs, "Bram Opener", &[("visibility", "society")]),
        row(nobody, "X", &[("visibility", "society")]),
        row(&hidden, "X", &[("visibility", "society")]),
        row(&shared, "Quay Lad", &[("visibility", "private")]),
        row(&shared, "Quay Lad", &[("kind", "seedling")]),
    ];
    let head = COLUMNS.join(",");
    let csv = format!("{head}\n{}\n", rows.join("\n"));
    for answer in [dry(&edda, &csv).await, import(&edda, &csv).await] {
        assert_eq!(answer.problem(422), "invalid-fields");
        let expected = [
            "10 pollen_candidates invalid-value",
            "11 pollen_gamete invalid-value",
            "11 seed_parent twice",
            "12 pollen_gamete/lambda not-taken",
            "13 name taken",
            "14 id not-allowed",
            "15 id not-found",
            "16 id not-found",
            "17 visibility released",
            "18 id repeated",
            "18 kind not-taken",
            "18 visibility required",
            "2 plant_group unknown-word",
            "3 name required",
            "3 status required",
            "4 status not-allowed",
            "5 name taken",
            "6 pollen_parent not-found",
            "6 seed_parent_id not-found",
            "7 pollen_parent ambiguous",
            "7 seed_parent not-found",
            "8 source_id source-with-parents",
            "9 pollen_candidates shares",
        ];
        assert_eq!(faults(&answer), expected);
        assert!(detail_of(&answer, "ambiguous").contains("Twin Light (regal, "));
    }
    assert_eq!(edda.walk(CULTIVARS).await.len(), 6);
}

#[tokio::test]
async fn tables_that_cannot_be_read_are_refused_and_hidden_names_are_free() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let bram = society.member("Bram Oake").await;
    enter(&bram, "Bram Secret", json!({"visibility": "private"})).await;
    // The name of a line that is not released is not taken for others.
    let free = "name,plant_group,status\nBram Secret,regal,seedling\n";
    assert_eq!(counts(&import(&edda, free).await.expect(200)), [1, 0, 0]);
    for csv in ["", "name,colour\n", "name,name\n"] {
        assert_eq!(import(&edda, csv).await.problem(400), "malformed-csv", "{csv}");
    }
    let json = edda.request(Method::POST, IMPORT).body("application/json", "[]").send().await;
    assert_eq!(json.problem(415), "unsupported-media-type");
    assert_eq!(import(&society.visitor(), "name\n").await.problem(401), "not-logged-in");
}

#[tokio::test]
async fn a_loop_is_refused_with_its_lines() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let among_new = "name,plant_group,status,seed_parent,source\n\
                     Tor One,regal,seedling,Tor Three,\n\
                     Tor Two,regal,seedling,Tor One,\n\
                     Tor Three,regal,seedling,,Tor Two\n\
                     Tor Self,regal,seedling,Tor Self,\n";
    for answer in [dry(&edda, among_new).await, import(&edda, among_new).await] {
        assert_eq!(answer.problem(422), "invalid-fields");
        assert_eq!(faults(&answer), ["2 origin pedigree-loop", "5 origin pedigree-loop"]);
        let around = detail_of(&answer, "pedigree-loop");
        for named in ["'Tor One' (line 2)", "'Tor Two' (line 3)", "'Tor Three' (line 4)"] {
            assert!(around.contains(named), "{around}");
        }
    }
    // Through what is kept: each line by itself would be sound.
    let one = enter(&edda, "Quay One", json!({})).await;
    let two = enter(&edda, "Quay Two", json!({"seed_parent_id": one})).await;
    let three = enter(&edda, "Quay Three", json!({})).await;
    let csv = format!("id,seed_parent_id\n{one},{three}\n{three},{two}\n");
    let refused = import(&edda, &csv).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    let around = detail_of(&refused, "pedigree-loop");
    assert!(around.contains("'Quay One' (line 2)") && around.contains("'Quay Two' from"), "{around}");
    import(&edda, &format!("id,seed_parent_id\n{one},{three}\n")).await.expect(200);
    // A table that turns a line round makes none.
    let turned = format!("id,seed_parent_id\n{two},\n{one},{two}\n{three},{one}\n");
    assert_eq!(counts(&import(&edda, &turned).await.expect(200)), [0, 3, 0]);
}

#[tokio::test]
async fn the_registrar_names_cultivars_by_the_table() {
    let society = TestApp::start().await;
    let (edda, ivo) = (society.member("Edda Wick").await, society.registrar("Ivo Reed").await);
    let private = enter(&edda, "Tor One", json!({"visibility": "private"})).await;
    let open = enter(&edda, "Tor Two", json!({})).await;
    let csv = format!("id,status\n{open},named\n");
    assert_eq!(faults(&import(&edda, &csv).await), ["2 status not-allowed"]);
    assert_eq!(counts(&import(&ivo, &csv).await.expect(200)), [0, 1, 0]);
    assert_eq!(faults(&import(&edda, &format!("id,notes\n{open},mine\n")).await), ["2 id not-allowed"]);
    // A named cultivar is everybody's, and who may not see a line cannot name it.
    assert_eq!(faults(&import(&ivo, &format!("id,status\n{private},named\n")).await), ["2 id not-found"]);
    let new = "name,plant_group,status,visibility\nTor Three,regal,named,private\n";
    assert_eq!(faults(&import(&ivo, new).await), ["2 visibility named"]);
}

#[tokio::test]
async fn an_import_sent_again_is_done_once() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let csv = "name,plant_group,status\nTor One,regal,seedling\n";
    for _ in 0..2 {
        let sent = edda.request(Method::POST, IMPORT).header("idempotency-key", "tor").body("text/csv", csv);
        assert_eq!(counts(&sent.send().await.expect(200)), [1, 0, 0]);
    }
    assert_eq!(edda.walk(CULTIVARS).await.len(), 1);
}

/// Twenty lines of descent of a hundred generations, children first: the worst order.
#[tokio::test]
async fn two_thousand_lines_are_taken_in_the_worst_order() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let mut csv = "name,plant_group,status,seed_parent,pollen_parent\n".to_owned();
    for generation in (0..100).rev() {
        for line in 0..20 {
            let parent = |line: i32| {
                if generation == 0 { String::new() } else { format!("Tor {}-{}", generation - 1, line % 20) }
            };
            writeln!(csv, "Tor {generation}-{line},regal,seedling,{},{}", parent(line), parent(line + 1))
                .unwrap();
        }
    }
    assert_eq!(counts(&import(&edda, &csv).await.expect(200)), [2000, 0, 0]);
    let exported = edda.get(EXPORT).await.expect(200).text();
    assert_eq!(exported.lines().count(), 2001);
    assert_eq!(counts(&import(&edda, &exported).await.expect(200)), [0, 0, 2000]);
    let grown = exported.replace(",regal,seedling,", ",regal,on_trial,");
    assert_eq!(counts(&import(&edda, &grown).await.expect(200)), [0, 2000, 0]);
    let last = named(&edda, "Tor 99-0").await;
    let inbreeding =
        edda.get(&format!("/api/v1/pedigrees/{}", last["id"].as_str().unwrap())).await.expect(200);
    let inbreeding = inbreeding.json()["inbreeding"].as_f64().unwrap();
    assert!(inbreeding > 0.5 && inbreeding < 1.0, "{inbreeding}");
}
