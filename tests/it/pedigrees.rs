//! Pedigrees: ancestors, kinship and inbreeding, through the API.

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_tests::{Actor, TestApp};

const NOBODY: &str = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f";

/// Enters cultivars named by their numbers, each with the numbers of its seed and pollen parent; 0 is unknown.
async fn raised(actor: &Actor, parents: &[(usize, usize)]) -> Vec<String> {
    let mut ids: Vec<String> = vec![String::new()];
    for (number, (seed_parent, pollen_parent)) in (1..).zip(parents) {
        let id = |parent: usize| if parent == 0 { Value::Null } else { json!(ids[parent]) };
        let body = json!({
            "name": format!("Merrow {number}"), "plant_group": "regal", "status": "seedling",
            "seed_parent_id": id(*seed_parent), "pollen_parent_id": id(*pollen_parent)
        });
        ids.push(actor.post("/api/v1/cultivars", body).await.expect(201).id());
    }
    ids
}

async fn sport(actor: &Actor, name: &str, of: &str) -> String {
    let body = json!({"name": name, "plant_group": "regal", "status": "seedling", "sport_of_id": of});
    actor.post("/api/v1/cultivars", body).await.expect(201).id()
}

#[track_caller]
fn close(found: &Value, expected: f64) {
    let found = found.as_f64().unwrap();
    assert!((found - expected).abs() < 1e-12, "{found} is not {expected}");
}

/// R. A. Mrode, "Linear Models for the Prediction of Animal Breeding Values", 3rd edition, CABI 2014, table
/// 2.1 and the relationship matrix worked from it (twice the kinship).
const MRODE_2_1: [(usize, usize); 6] = [(0, 0), (0, 0), (1, 2), (1, 0), (4, 3), (5, 2)];
const RELATIONSHIP: [[f64; 6]; 6] = [
    [1.0, 0.0, 0.5, 0.5, 0.5, 0.25],
    [0.0, 1.0, 0.5, 0.0, 0.25, 0.625],
    [0.5, 0.5, 1.0, 0.25, 0.625, 0.5625],
    [0.5, 0.0, 0.25, 1.0, 0.625, 0.3125],
    [0.5, 0.25, 0.625, 0.625, 1.125, 0.6875],
    [0.25, 0.625, 0.5625, 0.3125, 0.6875, 1.125],
];

#[tokio::test]
async fn mrodes_table_2_1_is_met_through_the_api() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &MRODE_2_1).await;
    let number = |id: &Value| ids.iter().position(|known| id == known).unwrap();
    let pedigree = edda.get(&format!("/api/v1/pedigrees/{}", ids[6])).await.expect(200).json();
    assert_eq!((&pedigree["name"], &pedigree["generations"]), (&json!("Merrow 6"), &json!(5)));
    close(&pedigree["inbreeding"], 0.125);
    let found: Vec<_> = pedigree["ancestors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|a| {
            let share = a["share"].as_f64().unwrap();
            (number(&a["cultivar_id"]), a["generation"].as_u64().unwrap(), a["relation"].clone(), share)
        })
        .collect();
    // The published row of T for 6 is .25 .625 .25 .25 .5 1.
    let expected = [
        (2, 1, json!(["pollen_parent"]), 0.625),
        (5, 1, json!(["seed_parent"]), 0.5),
        (3, 2, json!(["seed_parent", "pollen_parent"]), 0.25),
        (4, 2, json!(["seed_parent", "seed_parent"]), 0.25),
        (1, 3, json!(["seed_parent", "seed_parent", "seed_parent"]), 0.25),
    ];
    assert_eq!(found, expected);
    let of_five = pedigree["ancestors"].as_array().unwrap().iter().find(|a| a["name"] == "Merrow 5").unwrap();
    close(&of_five["inbreeding"], 0.125);
    assert_eq!((&of_five["seed_parent_id"], &of_five["pollen_parent_id"]), (&json!(ids[4]), &json!(ids[3])));
    for i in 1..=6 {
        for j in i..=6 {
            let path = format!("/api/v1/pedigrees/{}/kinship/{}", ids[i], ids[j]);
            let kinship = edda.get(&path).await.expect(200).json();
            close(&kinship["kinship"], RELATIONSHIP[i - 1][j - 1] / 2.0);
            close(&kinship["prospective_inbreeding"], RELATIONSHIP[i - 1][j - 1] / 2.0);
            assert_eq!(kinship["same_clone"], json!(i == j));
        }
    }
}

#[tokio::test]
async fn a_pedigree_is_cut_at_the_generations_asked_and_its_inbreeding_is_not() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &MRODE_2_1).await;
    let path = format!("/api/v1/pedigrees/{}", ids[6]);
    let parents = edda.get(&format!("{path}?generations=1")).await.expect(200).json();
    let shares: Vec<_> =
        parents["ancestors"].as_array().unwrap().iter().map(|a| a["share"].as_f64().unwrap()).collect();
    assert_eq!(shares, [0.5, 0.5]);
    close(&parents["inbreeding"], 0.125);
    for wrong in ["0", "11", "many"] {
        let refused = edda.get(&format!("{path}?generations={wrong}")).await;
        assert_eq!(refused.problem(422), "invalid-query", "{wrong}");
    }
}

#[tokio::test]
async fn a_sport_is_its_source_but_for_the_sport() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &[(0, 0), (0, 0), (1, 2)]).await;
    let white = sport(&edda, "Merrow 3 White", &ids[3]).await;
    let cream = sport(&edda, "Merrow 3 Cream", &white).await;
    let pedigree = edda.get(&format!("/api/v1/pedigrees/{cream}")).await.expect(200).json();
    let found: Vec<_> = pedigree["ancestors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|a| (a["name"].clone(), a["generation"].clone(), a["share"].clone(), a["relation"].clone()))
        .collect();
    let up = ["sport_of", "sport_of"];
    assert_eq!(
        found,
        [
            (json!("Merrow 3"), json!(0), json!(1.0), json!(up)),
            (json!("Merrow 3 White"), json!(0), json!(1.0), json!(["sport_of"])),
            (json!("Merrow 1"), json!(1), json!(0.5), json!(["sport_of", "sport_of", "seed_parent"])),
            (json!("Merrow 2"), json!(1), json!(0.5), json!(["sport_of", "sport_of", "pollen_parent"])),
        ]
    );
    let path = format!("/api/v1/pedigrees/{cream}/kinship/{}", ids[3]);
    let kinship = edda.get(&path).await.expect(200).json();
    assert_eq!(kinship["same_clone"], json!(true));
    // A selfing of an outbred plant: F is a half.
    close(&kinship["prospective_inbreeding"], 0.5);
}

#[tokio::test]
async fn a_changed_parent_changes_the_kinship() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &[(0, 0), (0, 0), (1, 2), (1, 0)]).await;
    let path = format!("/api/v1/pedigrees/{}/kinship/{}", ids[3], ids[4]);
    // Half sibs: an eighth. Full sibs: a quarter (S. Wright, American Naturalist 56, 1922).
    close(&edda.get(&path).await.expect(200).json()["kinship"], 0.125);
    let changed = json!({"pollen_parent_id": ids[2]});
    edda.patch(&format!("/api/v1/cultivars/{}", ids[4]), "\"1\"", changed).await.expect(200);
    close(&edda.get(&path).await.expect(200).json()["kinship"], 0.25);
}

#[tokio::test]
async fn pedigrees_are_for_members_and_of_cultivars_that_are_there() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &[(0, 0)]).await;
    let own = format!("/api/v1/pedigrees/{}", ids[1]);
    let founder = edda.get(&own).await.expect(200).json();
    assert_eq!((&founder["ancestors"], &founder["inbreeding"]), (&json!([]), &json!(0.0)));
    for path in [own.clone(), format!("{own}/kinship/{}", ids[1])] {
        assert_eq!(society.visitor().get(&path).await.problem(401), "not-logged-in");
        assert_eq!(edda.request(Method::POST, &path).send().await.problem(405), "method-not-allowed");
    }
    for path in [
        format!("/api/v1/pedigrees/{NOBODY}"),
        format!("{own}/kinship/{NOBODY}"),
        format!("/api/v1/pedigrees/{NOBODY}/kinship/{}", ids[1]),
        "/api/v1/pedigrees/x".to_owned(),
    ] {
        assert_eq!(edda.get(&path).await.problem(404), "not-found", "{path}");
    }
}

#[tokio::test]
async fn ancestors_are_drawn_and_told_in_an_outline() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    // The third is a full sib of the fourth; the fifth is their child.
    let ids = raised(&edda, &[(0, 0), (0, 0), (1, 2), (1, 2), (3, 4)]).await;
    let path = format!("/api/v1/pedigrees/{}/chart", ids[5]);
    let svg = edda.get(&path).await.expect(200);
    assert_eq!(svg.header("content-type"), "image/svg+xml");
    let svg = svg.text();
    assert!(svg.starts_with("<svg") && svg.contains("<title") && svg.contains("role=\"img\""), "{svg}");
    // F of a child of full sibs is a quarter (S. Wright, American Naturalist 56, 1922).
    assert!(svg.contains("inbreeding 25 %") && !svg.contains("<script"), "{svg}");
    let outline = edda.get(&format!("{path}?as=outline&generations=3")).await.expect(200).text();
    assert_eq!(outline.lines().count(), 7, "{outline}");
    assert!(outline.contains("inbreeding 25 %"), "{outline}");
    assert_eq!(edda.get(&format!("{path}?generations=9")).await.problem(422), "invalid-query");
    assert_eq!(edda.get(&format!("/api/v1/pedigrees/{NOBODY}/chart")).await.problem(404), "not-found");
}
