//! Who descends from whom, by every road that changes it: no answer is out of date afterwards, nobody becomes their
//! own ancestor, and what old records say keeps nobody from the rest.

use diesel::prelude::*;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill_db::schema::{cultivars, plants};
use storksbill_domain::ids::{CultivarId, PlantId};
use storksbill_tests::{Actor, Answer, TestApp};

const CULTIVARS: &str = "/api/v1/cultivars";
const PLANTS: &str = "/api/v1/plants";
const CROSSES: &str = "/api/v1/crosses";

/// A registrar who grows `Ash`, has crossed her plant of it with `Bay`, and raised a seedling that is named `Child`.
struct Line {
    society: TestApp,
    una: Actor,
    ash: String,
    bay: String,
    child: String,
    plant: String,
    cross: String,
    seedling: String,
}

impl Line {
    async fn start() -> Self {
        let society = TestApp::start().await;
        let una = society.registrar("Una Marsh").await;
        society.grows_in(&una, society.region("Merrow Sound").await).await;
        let [ash, bay, child] =
            [entered(&una, "Ash").await, entered(&una, "Bay").await, entered(&una, "Child").await];
        let plant = una.post(PLANTS, planted(&ash, "by the door")).await.expect(201).id();
        let body = json!({
            "number": "M-1", "visibility": "society",
            "seed_parent": {"plant_id": plant}, "pollen_parents": [{"cultivar_id": bay}],
        });
        let cross = una.post(CROSSES, body).await.expect(201).id();
        let made = una.post(&format!("{CROSSES}/{cross}/seedlings"), json!({"number": 1})).await.expect(201);
        let seedling = made.id();
        let line = Self { society, una, ash, bay, child, plant, cross, seedling };
        line.named(&line.seedling, Some(&line.child)).await.expect(200);
        line
    }

    async fn named(&self, seedling: &str, cultivar: Option<&str>) -> Answer {
        let status = if cultivar.is_some() { "named" } else { "on_trial" };
        let path = format!("/api/v1/seedlings/{seedling}");
        self.una.patch(&path, "*", json!({"status": status, "cultivar_id": cultivar})).await
    }

    async fn edited(&self, cultivar: &str, body: Value) -> Answer {
        self.una.patch(&format!("{CULTIVARS}/{cultivar}"), "*", body).await
    }

    async fn table(&self, path: &str, csv: &str) -> Answer {
        self.una.send_csv(Method::POST, path, csv).await
    }
}

async fn entered(una: &Actor, name: &str) -> String {
    let body = json!({"name": name, "plant_group": "regal", "status": "on_trial"});
    una.post(CULTIVARS, body).await.expect(201).id()
}

fn planted(cultivar: &str, label: &str) -> Value {
    json!({
        "cultivar_id": cultivar, "how_many": 1, "environment": "frost_free", "form": "bush",
        "visibility": "society", "label": label,
    })
}

/// Everything that is told of descent: each line's ancestors, and the kinship of each with each.
async fn told(asker: &Actor) -> Vec<Value> {
    let all = asker.get("/api/v1/pedigrees/export.csv").await.expect(200).text();
    let ids: Vec<&str> = all.lines().skip(1).filter_map(|line| line.split(',').next()).collect();
    let mut told = vec![json!(all)];
    for (at, one) in ids.iter().enumerate() {
        told.push(asker.get(&format!("/api/v1/pedigrees/{one}")).await.expect(200).json());
        for other in &ids[at..] {
            let path = format!("/api/v1/pedigrees/{one}/kinship/{other}");
            told.push(asker.get(&path).await.expect(200).json());
        }
    }
    told
}

/// What this server tells is what one tells that has just been started.
async fn is_up_to_date(line: &Line, road: &str) {
    let fresh = line.una.at(&line.society.freshly_started());
    assert_eq!(told(&line.una).await, told(&fresh).await, "after {road}");
}

#[tokio::test]
async fn no_road_to_another_descent_leaves_an_answer_out_of_date() {
    let line = Line::start().await;
    let Line { una, ash, bay, child, plant, cross, seedling, .. } = &line;
    is_up_to_date(&line, "the first entries").await;
    macro_rules! road {
        ($what:literal, $answer:expr, $status:literal) => {
            let before = told(una).await;
            $answer.await.expect($status);
            is_up_to_date(&line, $what).await;
            assert_ne!(told(una).await, before, "{} is to change what is told", $what);
        };
    }
    let other = entered(una, "Other").await;
    is_up_to_date(&line, "a cultivar entered").await;
    let plant_path = format!("{PLANTS}/{plant}");
    let cross_path = format!("{CROSSES}/{cross}");
    road!("a plant changed", una.patch(&plant_path, "*", json!({"cultivar_id": other})), 200);
    road!(
        "a table of plants",
        line.table("/api/v1/plants/import", &format!("id,cultivar_id\n{plant},{ash}\n")),
        200
    );
    let seed = json!({"seed_parent": {"cultivar_id": other}});
    road!("a cross changed", una.patch(&cross_path, "*", seed), 200);
    road!("a seedling numbered", una.post(&format!("{cross_path}/seedlings"), json!({"number": 2})), 201);
    road!("a name taken back", line.named(seedling, None), 200);
    road!("a seedling named", line.named(seedling, Some(child)), 200);
    road!("a record's parents", line.edited(bay, json!({"seed_parent_id": ash})), 200);
    let may_be = json!({"pollen_candidates": [
        {"cultivar_id": other, "share_thousandths": 400}, {"share_thousandths": 600}
    ]});
    road!("a record's candidates", line.edited(bay, may_be), 200);
    road!("a record's source", line.edited(&other, json!({"source_id": ash})), 200);
    let csv =
        format!("id,name,plant_group,status,seed_parent_id\n,Young,regal,on_trial,{child}\n{bay},,,,\n");
    let csv = csv.replace(&format!("{bay},,,,"), &format!("{bay},Bay,regal,on_trial,{other}"));
    road!("a table of cultivars", line.table("/api/v1/cultivars/import", &csv), 200);
    let third = entered(una, "Third").await;
    is_up_to_date(&line, "one more entered").await;
    road!(
        "a cross of another pollen parent",
        una.patch(&cross_path, "*", json!({"pollen_parents": [{"cultivar_id": third}]})),
        200
    );
    let merge = json!({"into": ash, "reason": "One plant under two labels"});
    let merge =
        una.request(Method::POST, &format!("{CULTIVARS}/{third}/merge")).header("if-match", "*").json(&merge);
    road!("two records made one", merge.send(), 200);
    let gone = entered(una, "Gone").await;
    is_up_to_date(&line, "another entered").await;
    let remove = una.request(Method::DELETE, &format!("{CULTIVARS}/{gone}")).header("if-match", "*");
    road!("a cultivar removed", remove.send(), 204);
}

#[tokio::test]
async fn no_road_to_a_descent_makes_somebody_their_own_ancestor() {
    let line = Line::start().await;
    let Line { society, una, ash, bay, child, plant, cross, .. } = &line;
    let grandchild = entered(una, "Grandchild").await;
    line.edited(&grandchild, json!({"seed_parent_id": child})).await.expect(200);
    let cross_path = format!("{CROSSES}/{cross}");
    let more = una.post(&format!("{cross_path}/seedlings"), json!({"number": 2})).await.expect(201).id();
    let bram = society.member("Bram Oake").await;
    let before = told(&bram).await;
    let csv = format!("id,cultivar_id\n{plant},{grandchild}\n");
    let cultivars =
        format!("id,name,plant_group,status,seed_parent_id\n{bay},Bay,regal,on_trial,{grandchild}\n");
    let merged = |into: &str| {
        let body = json!({"into": into, "reason": "One plant under two labels"});
        una.request(Method::POST, &format!("{CULTIVARS}/{ash}/merge")).header("if-match", "*").json(&body)
    };
    let plant_path = format!("{PLANTS}/{plant}");
    let roads = [
        ("a plant of what it bore", una.patch(&plant_path, "*", json!({"cultivar_id": child})).await),
        ("a plant of a grandchild", una.patch(&plant_path, "*", json!({"cultivar_id": grandchild})).await),
        ("a cross", una.patch(&cross_path, "*", json!({"seed_parent": {"cultivar_id": grandchild}})).await),
        ("pollen", una.patch(&cross_path, "*", json!({"pollen_parents": [{"cultivar_id": child}]})).await),
        ("a record's parent", line.edited(ash, json!({"pollen_parent_id": grandchild})).await),
        ("a record's source", line.edited(bay, json!({"source_id": child})).await),
        ("a seedling's name", line.named(&more, Some(bay)).await),
        ("two records made one", merged(&grandchild).send().await),
    ];
    for (road, answer) in roads {
        assert_eq!(answer.problem(409), "pedigree-loop", "{road}");
        assert!(answer.text().contains("It would be its own ancestor: '"), "{road}: {}", answer.text());
        assert_eq!(told(&bram).await, before, "{road}");
    }
    for dry in ["?dry_run=true", ""] {
        let refused = line.table(&format!("/api/v1/plants/import{dry}"), &csv).await;
        assert_eq!(refused.problem(422), "invalid-fields", "{dry}");
        assert_eq!(refused.fields(), ["line 2 pedigree-loop"], "{}", refused.text());
        let refused = line.table(&format!("/api/v1/cultivars/import{dry}"), &cultivars).await;
        assert_eq!(refused.problem(422), "invalid-fields", "{dry}");
        assert_eq!(told(&bram).await, before, "a table");
    }
    is_up_to_date(&line, "refusals").await;
}

#[tokio::test]
async fn a_loop_of_old_records_is_told_of_them_and_keeps_nobody_from_the_rest() {
    let line = Line::start().await;
    let Line { society, una, ash, bay, child, plant, .. } = &line;
    let bram = society.member("Bram Oake").await;
    let others = [format!("/api/v1/pedigrees/{bay}"), format!("/api/v1/pedigrees/{bay}/kinship/{ash}")];
    let mut before = Vec::new();
    for path in &others {
        before.push(bram.get(path).await.expect(200).json());
    }
    // Written past the rules: the plant that bore the child is of the child.
    let (of, id): (CultivarId, PlantId) = (child.parse().unwrap(), plant.parse().unwrap());
    let written = move |conn: &mut storksbill_db::Conn| {
        diesel::update(plants::table.find(id)).set(plants::cultivar_id.eq(of)).execute(conn)?;
        Ok(())
    };
    society.write(written).await;
    let fresh = bram.at(&society.freshly_started());
    for (path, before) in others.iter().zip(&before) {
        assert_eq!(&fresh.get(path).await.expect(200).json(), before, "{path}");
    }
    let of_it = fresh.get(&format!("/api/v1/pedigrees/{child}")).await.expect(200).json();
    let words: Vec<&str> =
        of_it["findings"].as_array().unwrap().iter().map(|f| f["words"].as_str().unwrap()).collect();
    assert!(words.iter().any(|words| words.contains("its own ancestor")), "{words:?}");
    for path in ["chart", "mates", "founders", "descendants"] {
        let answer = fresh.get(&format!("/api/v1/pedigrees/{child}/{path}")).await;
        assert!(answer.status < 500, "{path}: {}", answer.text());
    }
    fresh.get("/api/v1/pedigrees/export.csv").await.expect(200);
    for path in ["germplasm", "pedigree", "crosses", "progeny"] {
        assert!(fresh.get(&format!("/brapi/v2/{path}")).await.status < 500, "{path}");
    }
    // The rest of such a record can be edited, and the loop mended.
    line.edited(child, json!({"notes": "Sweet"})).await.expect(200);
    una.patch(&format!("{PLANTS}/{plant}"), "*", json!({"cultivar_id": ash})).await.expect(200);
    is_up_to_date(&line, "the loop was mended").await;
    let mended = una.get(&format!("/api/v1/pedigrees/{child}")).await.expect(200).json();
    assert!(!mended["findings"].to_string().contains("its own ancestor"), "{mended:#}");
    // One of a record alone, straight and through another.
    for parent in [bay, child] {
        let (of, parent): (CultivarId, CultivarId) = (bay.parse().unwrap(), parent.parse().unwrap());
        let written = move |conn: &mut storksbill_db::Conn| {
            let own = cultivars::table.find(of);
            diesel::update(own)
                .set((cultivars::seed_parent_id.eq(parent), cultivars::origin.eq("cross")))
                .execute(conn)?;
            Ok(())
        };
        society.write(written).await;
        let fresh = bram.at(&society.freshly_started());
        fresh.get(&format!("/api/v1/pedigrees/{ash}")).await.expect(200);
        fresh.get(&format!("/api/v1/pedigrees/{bay}")).await.expect(200);
    }
}
