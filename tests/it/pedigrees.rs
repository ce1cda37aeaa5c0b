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
    let body = json!({"name": name, "plant_group": "regal", "status": "seedling", "source_id": of});
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
    assert_eq!((&pedigree["individual"]["name"], &pedigree["generations"]), (&json!("Merrow 6"), &json!(5)));
    close(&pedigree["inbreeding"], 0.125);
    let found: Vec<_> = pedigree["ancestors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|a| {
            let share = a["share"].as_f64().unwrap();
            (number(&a["individual"]["id"]), a["generation"].as_u64().unwrap(), a["relation"].clone(), share)
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
    let of_five = pedigree["ancestors"]
        .as_array()
        .unwrap()
        .iter()
        .find(|a| a["individual"]["name"] == "Merrow 5")
        .unwrap();
    close(&of_five["inbreeding"], 0.125);
    let descent = &edda.get(&format!("/api/v1/pedigrees/{}", ids[5])).await.expect(200).json()["descent"];
    assert_eq!(
        (&descent["seed_parent"]["id"], &descent["pollen_parents"][0]["individual"]["id"]),
        (&json!(ids[4]), &json!(ids[3]))
    );
    // The published working of the modified method gives F of 5 as what 1, the one common ancestor, adds.
    let why = &edda.get(&format!("/api/v1/pedigrees/{}", ids[5])).await.expect(200).json()["why"];
    let common = why["common_ancestors"].as_array().unwrap();
    assert_eq!((common.len(), &common[0]["individual"]["id"]), (1, &json!(ids[1])));
    close(&common[0]["inbreeding"], 0.125);
    for i in 1..=6 {
        for j in i..=6 {
            let path = format!("/api/v1/pedigrees/{}/kinship/{}", ids[i], ids[j]);
            let kinship = edda.get(&path).await.expect(200).json();
            close(&kinship["kinship"], RELATIONSHIP[i - 1][j - 1] / 2.0);
            close(&kinship["prospect"]["inbreeding"], RELATIONSHIP[i - 1][j - 1] / 2.0);
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
        .map(|a| {
            (
                a["individual"]["name"].clone(),
                a["generation"].clone(),
                a["share"].clone(),
                a["relation"].clone(),
            )
        })
        .collect();
    let up = ["source", "source"];
    assert_eq!(
        found,
        [
            (json!("Merrow 3"), json!(0), json!(1.0), json!(up)),
            (json!("Merrow 3 White"), json!(0), json!(1.0), json!(["source"])),
            (json!("Merrow 1"), json!(1), json!(0.5), json!(["source", "source", "seed_parent"])),
            (json!("Merrow 2"), json!(1), json!(0.5), json!(["source", "source", "pollen_parent"])),
        ]
    );
    let path = format!("/api/v1/pedigrees/{cream}/kinship/{}", ids[3]);
    let kinship = edda.get(&path).await.expect(200).json();
    assert_eq!(kinship["same_clone"], json!(true));
    // A selfing of an outbred plant: F is a half.
    close(&kinship["prospect"]["inbreeding"], 0.5);
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

/// Enters a cultivar with the fields given.
async fn entered(actor: &Actor, name: &str, more: Value) -> String {
    let mut body = json!({"name": name, "plant_group": "regal", "status": "seedling"});
    for (field, value) in more.as_object().unwrap() {
        body[field] = value.clone();
    }
    actor.post("/api/v1/cultivars", body).await.expect(201).id()
}

async fn inbreeding(actor: &Actor, id: &str) -> Value {
    actor.get(&format!("/api/v1/pedigrees/{id}")).await.expect(200).json()["inbreeding"].clone()
}

fn codes(pedigree: &Value) -> Vec<&str> {
    pedigree["findings"].as_array().unwrap().iter().map(|finding| finding["code"].as_str().unwrap()).collect()
}

/// M. G. Hamilton, R. J. Kerr, Theoretical and Applied Genetics 131, 2018, 851-860, table 1: a diploid, a
/// tetraploid, its half-clone, a doubled egg by first division restitution, and their crosses. The figures are the
/// exact ones, which agree with those the authors' program prints.
#[tokio::test]
async fn mixed_ploidy_is_met_through_the_api() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let of = |lambda: f64| json!({"form": "reduced", "lambda": lambda});
    let one = entered(&edda, "H1", json!({"sets": 2})).await;
    let two = entered(
        &edda,
        "H2",
        json!({"sets": 4, "origin": "cross", "seed_gamete": of(0.167), "pollen_gamete": of(0.167)}),
    )
    .await;
    let three = entered(
        &edda,
        "H3",
        json!({"origin": "one_gamete", "seed_parent_id": two, "seed_gamete": of(0.167)}),
    )
    .await;
    let four =
        json!({"origin": "one_gamete", "seed_parent_id": one, "seed_gamete": {"form": "first_division"}});
    let four = entered(&edda, "H4", four).await;
    let five = entered(&edda, "H5", json!({"seed_parent_id": one, "pollen_parent_id": three})).await;
    let six = json!({
        "seed_parent_id": one, "pollen_parent_id": three, "seed_gamete": {"form": "second_division"},
        "pollen_gamete": {"form": "first_division"}
    });
    let six = entered(&edda, "H6", six).await;
    let seven = json!({
        "seed_parent_id": six, "pollen_parent_id": two, "seed_gamete": of(0.167), "pollen_gamete": of(0.167)
    });
    let seven = entered(&edda, "H7", seven.clone()).await;
    for (id, expected) in [
        (&one, 0.0),
        (&two, 167.0 / 2167.0),
        (&three, 501.0 / 2167.0),
        (&four, 0.041),
        (&five, 0.0),
        (&six, 639_653.0 / 3_250_500.0),
        (&seven, 3_828_164_449.0 / 19_503_000_000.0),
    ] {
        close(&inbreeding(&edda, id).await, expected);
    }
    let six = edda.get(&format!("/api/v1/pedigrees/{six}")).await.expect(200).json();
    assert_eq!((&six["sets"], codes(&six)), (&json!(4), vec![]));
}

#[tokio::test]
async fn a_doubled_plant_has_every_gene_twice() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let plain = entered(&edda, "Quay Lass", json!({"sets": 2})).await;
    let doubled = entered(&edda, "Quay Lass Twice", json!({"origin": "doubled", "source_id": plain})).await;
    let told = edda.get(&format!("/api/v1/pedigrees/{doubled}")).await.expect(200).json();
    // F of a doubled outbred diploid is a third (the documentation of sgkit 0.10, pedigree_inbreeding).
    close(&told["inbreeding"], 1.0 / 3.0);
    assert_eq!((&told["sets"], &told["descent"]["origin"]), (&json!(4), &json!("doubled")));
    let ancestors = told["ancestors"].as_array().unwrap();
    assert_eq!((&ancestors[0]["generation"], &ancestors[0]["relation"]), (&json!(1), &json!(["source"])));
    // Half of three sets is no number; the cross is recorded, counted plainly, and says so.
    let triploid =
        entered(&edda, "Tor Three", json!({"seed_parent_id": plain, "pollen_parent_id": doubled})).await;
    let told = edda.get(&format!("/api/v1/pedigrees/{triploid}")).await.expect(200).json();
    assert_eq!((&told["sets"], codes(&told)), (&json!(3), vec!["odd_sets"]));
    let child =
        entered(&edda, "Tor Four", json!({"seed_parent_id": triploid, "pollen_parent_id": plain})).await;
    let told = edda.get(&format!("/api/v1/pedigrees/{child}")).await.expect(200).json();
    assert!(codes(&told).contains(&"contradiction"), "{told}");
    let mate = edda.get(&format!("/api/v1/pedigrees/{triploid}/mates")).await.expect(200).json();
    let first = &mate["items"][0];
    assert!(
        first["prospect"].is_null() && first["no_prospect"].as_str().unwrap().contains("3 sets"),
        "{first}"
    );
}

#[tokio::test]
async fn one_of_several_pollen_parents_counts_by_its_share() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &[(0, 0), (0, 0), (1, 2)]).await;
    // Of the seed parent's own parent, a stranger, and its full sib's parent: C. R. Henderson, Journal of Animal
    // Science 66, 1988, 1614-1621: the kinship of the parents is the mean over who may be the sire, here
    // .6 x 1/4 + .4 x 0.
    let body = json!({
        "seed_parent_id": ids[3],
        "pollen_candidates": [
            {"cultivar_id": ids[1], "share_thousandths": 600}, {"cultivar_id": null, "share_thousandths": 400}
        ]
    });
    let child = entered(&edda, "Merrow 4", body).await;
    let told = edda.get(&format!("/api/v1/pedigrees/{child}")).await.expect(200).json();
    close(&told["inbreeding"], 0.15);
    assert!(codes(&told).contains(&"uncertain_pollen_parent"), "{told}");
    assert_eq!(told["descent"]["pollen_parents"][1]["individual"], Value::Null);
    let foreseen = json!({
        "seed_parent_id": ids[3],
        "pollen_parents": [
            {"individual_id": ids[1], "share_thousandths": 600}, {"share_thousandths": 400}
        ]
    });
    let foreseen = edda.post("/api/v1/pedigrees/prospect", foreseen).await.expect(200).json();
    close(&foreseen["prospect"]["inbreeding"], 0.15);
    let wrong = json!({
        "name": "Merrow 5", "plant_group": "regal", "status": "seedling", "pollen_parent_id": ids[1],
        "pollen_candidates": [
            {"cultivar_id": ids[2], "share_thousandths": 600}, {"cultivar_id": ids[2], "share_thousandths": 300}
        ]
    });
    let refused = edda.post("/api/v1/cultivars", wrong).await;
    assert_eq!(
        refused.fields(),
        ["/pollen_candidates not-taken", "/pollen_candidates shares", "/pollen_candidates/1 twice"]
    );
}

#[tokio::test]
async fn a_cross_is_foreseen_with_its_common_ancestors_and_cautions() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &[(0, 0), (0, 0), (1, 2), (1, 2)]).await;
    let asked = |seed: &str, pollen: &str| json!({"seed_parent_id": seed, "pollen_parents": [{"individual_id": pollen}]});
    let sibs = edda.post("/api/v1/pedigrees/prospect", asked(&ids[3], &ids[4])).await.expect(200).json();
    // Full sibs: F is a quarter, an eighth by each parent (S. Wright, American Naturalist 56, 1922, 330-338).
    close(&sibs["prospect"]["inbreeding"], 0.25);
    let common = sibs["common_ancestors"].as_array().unwrap();
    assert_eq!(common.len(), 2);
    for one in common {
        close(&one["kinship"], 0.125);
        close(&one["of_first"], 0.5);
    }
    let white = sport(&edda, "Merrow 3 White", &ids[3]).await;
    let selfed = edda.post("/api/v1/pedigrees/prospect", asked(&ids[3], &white)).await.expect(200).json();
    assert_eq!((&selfed["prospect"]["selfing"], codes(&selfed).contains(&"selfing")), (&json!(true), true));
    let nobody = edda.post("/api/v1/pedigrees/prospect", asked(&ids[3], NOBODY)).await;
    assert_eq!(nobody.fields(), ["/pollen_parents/0/individual_id not-found"]);
    let open = json!({"seed_parent_id": ids[3]});
    let open = edda.post("/api/v1/pedigrees/prospect", open).await.expect(200).json();
    close(&open["prospect"]["inbreeding"], 0.0);
}

#[tokio::test]
async fn relatives_and_mates_are_ranked_and_walked() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &[(0, 0), (0, 0), (1, 2), (1, 2), (1, 0), (0, 0)]).await;
    let path = format!("/api/v1/pedigrees/{}", ids[3]);
    let relatives = edda.walk(&format!("{path}/kinship?limit=2")).await;
    let found: Vec<_> = relatives
        .iter()
        .map(|row| (row["individual"]["id"].as_str().unwrap().to_owned(), row["kinship"].as_f64().unwrap()))
        .collect();
    // Parents and full sib a quarter, half sib an eighth; the unrelated sixth is left out.
    let expected = [(1, 0.25), (2, 0.25), (4, 0.25), (5, 0.125)];
    assert_eq!(found, expected.map(|(number, kinship): (usize, f64)| (ids[number].clone(), kinship)));
    let mates = edda.walk(&format!("{path}/mates?limit=2")).await;
    let found: Vec<_> =
        mates.iter().map(|row| row["individual"]["id"].as_str().unwrap().to_owned()).collect();
    assert_eq!(found, [6, 5, 1, 2, 4].map(|number: usize| ids[number].clone()));
    assert_eq!(edda.walk(&format!("{path}/mates?among=mine")).await, Vec::<Value>::new());
    assert_eq!(edda.walk(&format!("{path}/mates?plant_group=zonal")).await, Vec::<Value>::new());
    assert_eq!(edda.get(&format!("{path}/mates?among=friends")).await.problem(422), "invalid-query");
}

/// R. C. Lacy, Zoo Biology 8, 1989, 111-123, appendix A: three founders, two pairs of sibs; and the kinship of the
/// group is 9/32, so that 1 / (2 x 9/32) equivalents remain by mean kinship.
#[tokio::test]
async fn founders_of_the_published_example_are_met_through_the_api() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &[(0, 0), (0, 0), (0, 0), (1, 2), (1, 2), (5, 3), (5, 3)]).await;
    for id in &ids[4..] {
        let year = json!({"raised_year": 2024});
        edda.patch(&format!("/api/v1/cultivars/{id}"), "\"1\"", year).await.expect(200);
    }
    let told = edda.get("/api/v1/pedigrees/founders?raised_since=2024").await.expect(200).json();
    assert_eq!((&told["plants"], &told["founder_count"]), (&json!(4), &json!(3)));
    close(&told["effective_founders"], 32.0 / 11.0);
    close(&told["founder_genomes"], 24.0 / 11.0);
    close(&told["mean_kinship"], 9.0 / 32.0);
    close(&told["genome_equivalents"], 16.0 / 9.0);
    let shares: Vec<_> =
        told["founders"].as_array().unwrap().iter().map(|one| one["share"].as_f64().unwrap()).collect();
    assert_eq!(shares, [0.375, 0.375, 0.25]);
}

#[tokio::test]
async fn an_undisclosed_line_counts_and_is_told_to_nobody() {
    let society = TestApp::start().await;
    let (edda, bram) = (society.member("Edda Wick").await, society.member("Bram Oake").await);
    let ids = raised(&edda, &[(0, 0), (0, 0)]).await;
    let hidden = json!({"seed_parent_id": ids[1], "pollen_parent_id": ids[2], "visibility": "private"});
    let hidden = entered(&edda, "Secret Tor", hidden).await;
    let child =
        entered(&edda, "Open Tor", json!({"seed_parent_id": hidden, "pollen_parent_id": ids[1]})).await;
    // For its owner it is there.
    close(&inbreeding(&edda, &child).await, 0.25);
    // For others it counts, and is not there.
    let told = bram.get(&format!("/api/v1/pedigrees/{child}")).await.expect(200);
    let text = told.text();
    assert!(!text.contains("Secret") && !text.contains(&hidden), "{text}");
    let told = told.json();
    close(&told["inbreeding"], 0.25);
    let ancestors = told["ancestors"].as_array().unwrap();
    // Its parents are not told behind it: 2 is no ancestor that Bram may know of.
    let shown: Vec<_> =
        ancestors.iter().map(|a| (&a["individual"]["undisclosed"], &a["individual"]["id"])).collect();
    assert_eq!(shown, [(&json!(false), &json!(ids[1])), (&json!(true), &Value::Null)]);
    assert_eq!(told["descent"]["seed_parent"]["undisclosed"], json!(true));
    let record = bram.get(&format!("/api/v1/cultivars/{child}")).await.expect(200).json();
    assert_eq!(
        (&record["seed_parent_id"], &record["undisclosed"]),
        (&Value::Null, &json!(["seed_parent_id"]))
    );
    for path in [
        format!("/api/v1/cultivars/{hidden}"),
        format!("/api/v1/pedigrees/{hidden}"),
        format!("/api/v1/pedigrees/{hidden}/chart"),
        format!("/api/v1/pedigrees/{hidden}/descendants"),
        format!("/api/v1/pedigrees/{hidden}/kinship"),
        format!("/api/v1/pedigrees/{hidden}/mates"),
        format!("/api/v1/pedigrees/{}/kinship/{hidden}", ids[1]),
    ] {
        assert_eq!(bram.get(&path).await.problem(404), "not-found", "{path}");
        edda.get(&path).await.expect(200);
    }
    for path in [
        "/api/v1/cultivars".to_owned(),
        "/api/v1/cultivars?name=secret".to_owned(),
        format!("/api/v1/pedigrees/{}/kinship", ids[1]),
        format!("/api/v1/pedigrees/{}/mates", ids[1]),
        format!("/api/v1/pedigrees/{}/descendants?as=outline", ids[1]),
        format!("/api/v1/pedigrees/{child}/chart?as=dot"),
        format!("/api/v1/pedigrees/{child}/kinship/{}", ids[2]),
        "/api/v1/pedigrees/founders".to_owned(),
    ] {
        let text = bram.get(&path).await.expect(200).text();
        assert!(!text.contains("Secret") && !text.contains(&hidden), "{path}: {text}");
    }
    let outline = bram.get(&format!("/api/v1/pedigrees/{child}/chart?as=outline")).await.expect(200).text();
    assert!(outline.contains("undisclosed") && outline.contains("inbreeding 25 %"), "{outline}");
    // It cannot be named as a parent, a plant or in a cross by others, nor is its name taken for them.
    let stolen = json!({
        "name": "Tor Thief", "plant_group": "regal", "status": "seedling", "seed_parent_id": hidden
    });
    assert_eq!(bram.post("/api/v1/cultivars", stolen).await.fields(), ["/seed_parent_id not-found"]);
    entered(&bram, "Secret Tor", json!({})).await;
    // Released, it is everywhere, once and for all; but its name is another's now.
    let path = format!("/api/v1/cultivars/{hidden}");
    let taken = edda.patch(&path, "\"1\"", json!({"visibility": "society"})).await;
    assert_eq!(taken.problem(409), "taken");
    edda.patch(&path, "\"1\"", json!({"visibility": "society", "name": "Secret Tor II"})).await.expect(200);
    let text = bram.get(&format!("/api/v1/pedigrees/{child}")).await.expect(200).text();
    assert!(text.contains("Secret Tor II"), "{text}");
    let back = edda.patch(&path, "\"2\"", json!({"visibility": "private"})).await;
    assert_eq!(back.fields(), ["/visibility released"]);
}

#[tokio::test]
async fn a_line_for_a_club_is_seen_by_clubmates_alone_and_its_plants_stay_private() {
    let society = TestApp::start().await;
    let region = society.region("Vale").await;
    let club = society.club("Wick Growers", region).await;
    let edda = society.member_of("Edda Wick", club).await;
    let mate = society.member_of("Una Fell", club).await;
    let other = society.member("Bram Oake").await;
    let line = entered(&edda, "Club Tor", json!({"visibility": "club"})).await;
    mate.get(&format!("/api/v1/pedigrees/{line}")).await.expect(200);
    assert_eq!(other.get(&format!("/api/v1/pedigrees/{line}")).await.problem(404), "not-found");
    let plant = |visibility: &str| {
        json!({
            "cultivar_id": line, "region_id": region, "how_many": 1, "environment": "outdoors", "form": "bush",
            "visibility": visibility
        })
    };
    let refused = edda.post("/api/v1/plants", plant("society")).await;
    assert_eq!(refused.fields(), ["/visibility wider-than-cultivar"]);
    edda.post("/api/v1/plants", plant("private")).await.expect(201);
    let offer = json!({"cultivar_id": line, "how_many": 1});
    assert_eq!(edda.post("/api/v1/swaps/offers", offer).await.fields(), ["/cultivar_id not-found"]);
}

#[tokio::test]
async fn a_named_seedling_has_the_parents_of_its_cross() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let bram = society.member("Bram Oake").await;
    let ids = raised(&edda, &[(0, 0), (0, 0)]).await;
    let cross = json!({"seed_parent": {"cultivar_id": ids[1]}, "pollen_parents": [{"cultivar_id": ids[2]}]});
    let cross = edda.post("/api/v1/crosses", cross).await.expect(201).id();
    let seedling = edda.post(&format!("/api/v1/crosses/{cross}/seedlings"), json!({})).await.expect(201).id();
    // Under its number it has a pedigree and can be a parent.
    let told = edda.get(&format!("/api/v1/pedigrees/{seedling}")).await.expect(200).json();
    assert_eq!(
        (&told["individual"]["kind"], told["ancestors"].as_array().unwrap().len()),
        (&json!("seedling"), 2)
    );
    let path = format!("/api/v1/pedigrees/{}/kinship/{seedling}", ids[1]);
    close(&edda.get(&path).await.expect(200).json()["kinship"], 0.25);
    assert_eq!(bram.get(&path).await.problem(404), "not-found");
    let named = entered(&edda, "Wick Pride", json!({})).await;
    let naming = json!({"status": "named", "cultivar_id": named});
    edda.patch(&format!("/api/v1/seedlings/{seedling}"), "\"1\"", naming).await.expect(200);
    let told = edda.get(&format!("/api/v1/pedigrees/{named}")).await.expect(200).json();
    assert_eq!(told["descent"]["seed_parent"]["id"], json!(ids[1]));
    // The cross is still private: for others the cultivar is there, and where it comes from is not told.
    let told = bram.get(&format!("/api/v1/pedigrees/{named}")).await.expect(200).json();
    assert_eq!((&told["descent"]["origin"], &told["ancestors"]), (&Value::Null, &json!([])));
    assert_eq!(edda.get(&format!("/api/v1/pedigrees/{seedling}")).await.problem(404), "not-found");
}

#[tokio::test]
async fn an_edit_of_an_old_cross_shows_in_the_next_answer() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = raised(&edda, &MRODE_2_1).await;
    close(&inbreeding(&edda, &ids[6]).await, 0.125);
    // 4 from strangers: 5 is 4 x 3 with nothing in common, and 6 is 5 x 2, a child by its grandparent.
    edda.patch(&format!("/api/v1/cultivars/{}", ids[4]), "\"1\"", json!({"seed_parent_id": null}))
        .await
        .expect(200);
    close(&inbreeding(&edda, &ids[5]).await, 0.0);
    close(&inbreeding(&edda, &ids[6]).await, 0.125);
    let name = json!({"name": "Merrow Four"});
    edda.patch(&format!("/api/v1/cultivars/{}", ids[4]), "\"2\"", name).await.expect(200);
    let text = edda.get(&format!("/api/v1/pedigrees/{}", ids[6])).await.expect(200).text();
    assert!(text.contains("Merrow Four"), "{text}");
}

#[tokio::test]
async fn two_edits_at_once_make_no_loop_together() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    for turn in 0..8 {
        let one = entered(&edda, &format!("One {turn}"), json!({})).await;
        let two = entered(&edda, &format!("Two {turn}"), json!({})).await;
        let (paths, bodies) = (
            [&one, &two].map(|id| format!("/api/v1/cultivars/{id}")),
            [&two, &one].map(|id| json!({"seed_parent_id": id})),
        );
        let (a, b) = tokio::join!(
            edda.patch(&paths[0], "\"1\"", bodies[0].clone()),
            edda.patch(&paths[1], "\"1\"", bodies[1].clone())
        );
        let mut statuses = [a.status, b.status];
        statuses.sort_unstable();
        assert_eq!(statuses, [200, 409], "{turn}");
        edda.get(&format!("/api/v1/pedigrees/{one}")).await.expect(200);
    }
}
