//! The read-only adapter for the open standard `BrAPI` 2.1.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_tests::{Actor, Contract, TestApp};

const CULTIVARS: &str = "/api/v1/cultivars";
const PEDIGREE: &str = "/brapi/v2/pedigree";
const GERMPLASM: &str = "/brapi/v2/germplasm";

async fn enter(actor: &Actor, name: &str, more: Value) -> String {
    let mut body = json!({"name": name, "plant_group": "regal", "status": "seedling"});
    for (field, value) in more.as_object().unwrap() {
        body[field] = value.clone();
    }
    actor.post(CULTIVARS, body).await.expect(201).id()
}

async fn data(actor: &Actor, path: &str) -> Vec<Value> {
    let answer = actor.get(path).await.expect(200).json();
    answer["result"]["data"].as_array().unwrap().clone()
}

async fn result(actor: &Actor, path: &str) -> Value {
    actor.get(path).await.expect(200).json()["result"].clone()
}

fn field(rows: &[Value], name: &str) -> Vec<String> {
    rows.iter().map(|row| row[name].as_str().unwrap().to_owned()).collect()
}

/// The specification's own worked example: plantbreeding/BrAPI, `docs/docs/best_practices/Pedigree_Tree.rst`, as
/// published at commit 51c4a01aa685389c2bceab515b7d8d0873b5f65f and read on 2026-11-26: 13 germplasm over four
/// generations, each with its female and its male parent; the ninth is a selfing.
const TREE: [(u8, u8, u8); 9] =
    [(5, 2, 1), (6, 2, 1), (7, 4, 3), (8, 4, 3), (9, 5, 5), (10, 7, 6), (11, 7, 6), (12, 10, 9), (13, 8, 11)];

fn germ(number: u8) -> String {
    format!("Germplasm {number:02}")
}

/// The tree, entered through the API: children first, by the names of their parents.
async fn tree(actor: &Actor) -> BTreeMap<String, String> {
    let mut csv = "name,plant_group,status,seed_parent,pollen_parent\n".to_owned();
    for (child, female, male) in TREE.iter().rev() {
        writeln!(csv, "{},regal,seedling,{},{}", germ(*child), germ(*female), germ(*male)).unwrap();
    }
    for founder in 1..=4 {
        writeln!(csv, "{},regal,seedling,,", germ(founder)).unwrap();
    }
    actor.send_csv(Method::POST, "/api/v1/cultivars/import", &csv).await.expect(200);
    let all = data(actor, GERMPLASM).await;
    assert_eq!(all.len(), 13);
    field(&all, "germplasmName").into_iter().zip(field(&all, "germplasmDbId")).collect()
}

/// A node as `07: F04 M03 | F10 F11 | 08`: parents, progeny, siblings; `-` for an array that is left out.
fn in_short(node: &Value) -> String {
    let number =
        |of: &Value| of["germplasmName"].as_str().unwrap().trim_start_matches("Germplasm ").to_owned();
    let array = |name: &str| -> String {
        let Some(all) = node[name].as_array() else { return "-".to_owned() };
        let mut each: Vec<String> = all
            .iter()
            .map(|one| {
                let kind = one["parentType"].as_str().and_then(|kind| kind.get(..1)).unwrap_or_default();
                format!("{kind}{}", number(one))
            })
            .collect();
        each.sort();
        each.join(" ")
    };
    format!("{}: {} | {} | {}", number(node), array("parents"), array("progeny"), array("siblings"))
}

async fn shorts(actor: &Actor, path: &str) -> BTreeSet<String> {
    data(actor, path).await.iter().map(in_short).collect()
}

fn set(expected: &[&str]) -> BTreeSet<String> {
    expected.iter().map(|text| (*text).to_owned()).collect()
}

#[tokio::test]
async fn the_worked_example_of_the_specification_is_read_back() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = tree(&edda).await;
    let ask = |number: u8, more: &str| format!("{PEDIGREE}?germplasmDbId={}{more}", ids[&germ(number)]);
    // Siblings are given here when they are asked for.
    assert_eq!(
        shorts(&edda, &ask(1, "&includeSiblings=true")).await,
        set(&["01:  | M05 M06 | ", "05: F02 M01 | S09 | 06", "06: F02 M01 | M10 M11 | 05"])
    );
    // The example asks for two plants by a study; here one by one.
    let mut of_two = shorts(&edda, &ask(3, "&includeSiblings=true")).await;
    of_two.extend(shorts(&edda, &ask(4, "&includeSiblings=true")).await);
    assert_eq!(
        of_two,
        set(&[
            "03:  | M07 M08 | ",
            "04:  | F07 F08 | ",
            "07: F04 M03 | F10 F11 | 08",
            "08: F04 M03 | F13 | 07"
        ])
    );
    assert_eq!(
        shorts(&edda, &ask(12, "&pedigreeDepth=2&includeSiblings=true")).await,
        set(&[
            "12: F10 M09 |  | ",
            "09: S05 | M12 | ",
            "10: F07 M06 | F12 | 11",
            "05: F02 M01 | S09 | 06",
            "06: F02 M01 | M10 M11 | 05",
            "07: F04 M03 | F10 F11 | 08",
        ])
    );
    assert_eq!(
        shorts(&edda, &ask(3, "&progenyDepth=2&includeSiblings=false")).await,
        set(&[
            "03:  | M07 M08 | -",
            "07: F04 M03 | F10 F11 | -",
            "08: F04 M03 | F13 | -",
            "10: F07 M06 | F12 | -",
            "11: F07 M06 | M13 | -",
            "13: F08 M11 |  | -",
        ])
    );
    let full = "&progenyDepth=0&includeFullTree=true&includeProgeny=false&includeSiblings=false";
    assert_eq!(
        shorts(&edda, &ask(7, full)).await,
        set(&[
            "03:  | - | -",
            "04:  | - | -",
            "07: F04 M03 | - | -",
            "10: F07 M06 | - | -",
            "11: F07 M06 | - | -",
            "12: F10 M09 | - | -",
            "13: F08 M11 | - | -",
        ])
    );
    let parents_left_out = shorts(&edda, &ask(13, "&includeParents=false&pedigreeDepth=0")).await;
    assert_eq!(parents_left_out, set(&["13: - |  | -"]));
    assert_eq!(shorts(&edda, PEDIGREE).await.len(), 13);
}

#[tokio::test]
async fn inbreeding_and_kinship_are_told_as_texts() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = tree(&edda).await;
    let nodes = data(&edda, &format!("{PEDIGREE}?germplasmDbId={}", ids[&germ(5)])).await;
    let of = |number: u8| nodes.iter().find(|node| node["germplasmName"] == germ(number).as_str()).unwrap();
    // The child of a selfing of an outbred plant: F is a half; with its parent it shares a half, the parent with
    // itself a half, with each of its own parents a quarter (S. Wright, American Naturalist 56, 1922).
    assert_eq!(of(9)["additionalInfo"], json!({"inbreeding": "0.5", "kinship": "0.5"}));
    assert_eq!(of(5)["additionalInfo"], json!({"inbreeding": "0", "kinship": "0.5"}));
    assert_eq!(of(1)["additionalInfo"], json!({"inbreeding": "0", "kinship": "0.25"}));
    assert_eq!(
        (&of(9)["pedigreeString"], &of(9)["breedingMethodDbId"]),
        (&json!("Germplasm 05/Germplasm 05"), &json!("selfing"))
    );
    assert_eq!(
        (&of(5)["pedigreeString"], &of(5)["breedingMethodDbId"]),
        (&json!("Germplasm 02/Germplasm 01"), &json!("cross"))
    );
    assert_eq!((&of(1)["pedigreeString"], &of(1)["breedingMethodDbId"]), (&Value::Null, &Value::Null));
}

#[tokio::test]
async fn plants_are_listed_in_pages_and_found_by_what_is_asked() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ids = tree(&edda).await;
    let page = edda.get(&format!("{GERMPLASM}?page=2&pageSize=5")).await.expect(200).json();
    assert_eq!(
        page["metadata"]["pagination"],
        json!({"currentPage": 2, "pageSize": 5, "totalCount": 13, "totalPages": 3})
    );
    assert_eq!((page["result"]["data"].as_array().unwrap().len(), &page["@context"]), (3, &json!([])));
    let whole = edda.get(GERMPLASM).await.expect(200).json();
    assert_eq!(whole["metadata"]["pagination"]["pageSize"], 1000);
    let ask = async |query: String| {
        let found = data(&edda, &format!("{GERMPLASM}?{query}")).await;
        field(&found, "germplasmName").into_iter().collect::<BTreeSet<_>>()
    };
    assert_eq!(ask("germplasmName=germplasm%2007".to_owned()).await, set(&["Germplasm 07"]));
    assert_eq!(ask(format!("germplasmDbId={}", ids[&germ(3)])).await, set(&["Germplasm 03"]));
    assert_eq!(ask(format!("parentDbId={}", ids[&germ(6)])).await, set(&["Germplasm 10", "Germplasm 11"]));
    assert_eq!(ask(format!("progenyDbId={}", ids[&germ(13)])).await, set(&["Germplasm 08", "Germplasm 11"]));
    assert_eq!(ask("commonCropName=pelargonium".to_owned()).await.len(), 13);
    for nothing in ["commonCropName=maize", "germplasmDbId=germ01", "germplasmName=x", "parentDbId=germ01"] {
        assert!(ask(nothing.to_owned()).await.is_empty(), "{nothing}");
    }
    // A filter that would be passed over is refused.
    for wrong in ["studyDbId=1", "page=-1", "pageSize=0", "pageSize=10001", "page=first"] {
        assert_eq!(edda.get(&format!("{GERMPLASM}?{wrong}")).await.problem(422), "invalid-query", "{wrong}");
        assert_eq!(edda.get(&format!("{PEDIGREE}?{wrong}")).await.problem(422), "invalid-query", "{wrong}");
    }
    for path in [GERMPLASM, PEDIGREE, "/brapi/v2/crosses", "/brapi/v2/serverinfo"] {
        for method in [Method::POST, Method::PUT] {
            assert_eq!(edda.request(method, path).send().await.problem(405), "method-not-allowed", "{path}");
        }
    }
}

#[tokio::test]
async fn clones_uncertain_parents_and_passports_have_their_words() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let ivo = society.registrar("Ivo Reed").await;
    let more =
        json!({"status": "named", "raiser": "Una Marsh", "raised_year": 1931, "sets": 2, "chromosomes": 18});
    let one = enter(&ivo, "Tor One", more).await;
    let wild = enter(&edda, "Merrow Wild", json!({"plant_group": "species"})).await;
    let either = json!([
        {"cultivar_id": one, "share_thousandths": 600}, {"cultivar_id": wild, "share_thousandths": 300},
        {"cultivar_id": null, "share_thousandths": 100}
    ]);
    let child = enter(&edda, "Tor Child", json!({"seed_parent_id": one, "pollen_candidates": either})).await;
    let sport = enter(&edda, "Tor Sport", json!({"source_id": one})).await;
    let cutting = enter(&edda, "Tor Cutting", json!({"source_id": one, "origin": "cutting"})).await;
    let half = enter(&edda, "Tor Half", json!({"seed_parent_id": one, "origin": "one_gamete"})).await;
    let node = async |id: &str| {
        let found =
            data(&edda, &format!("{PEDIGREE}?germplasmDbId={id}&pedigreeDepth=0&progenyDepth=0")).await;
        found[0].clone()
    };
    let parents = async |id: &str| {
        let node = node(id).await;
        let all = node["parents"].as_array().unwrap().clone();
        field(&all, "germplasmName").into_iter().zip(field(&all, "parentType")).collect::<Vec<_>>()
    };
    let pair = |name: &str, kind: &str| (name.to_owned(), kind.to_owned());
    assert_eq!(
        parents(&child).await,
        [pair("Tor One", "FEMALE"), pair("Tor One", "MALE"), pair("Merrow Wild", "MALE")]
    );
    assert_eq!(node(&child).await["additionalInfo"]["pollenShares"], format!("{one}=600; {wild}=300"));
    assert_eq!(node(&child).await["pedigreeString"], "Tor One/?");
    for clone in [&sport, &cutting] {
        assert_eq!(parents(clone).await, [pair("Tor One", "CLONAL")]);
    }
    assert_eq!(parents(&half).await, [pair("Tor One", "FEMALE")]);
    let progeny = node(&one).await["progeny"].as_array().unwrap().len();
    assert_eq!(progeny, 5, "twice of the child, once of each other");
    for (id, status, ancestry) in [
        (&one, "500", Value::Null),
        (&wild, "100", Value::Null),
        (&child, "415", json!("Tor One/?")),
        (&sport, "421", json!("mutation found in Tor One")),
        (&cutting, "416", json!("selection from Tor One")),
        (&half, "400", json!("from one egg of Tor One")),
    ] {
        let passport = result(&edda, &format!("{GERMPLASM}/{id}/mcpd")).await;
        assert_eq!(passport["biologicalStatusOfAccessionCode"], status);
        assert_eq!(passport["ancestralData"], ancestry);
        let told = result(&edda, &format!("{GERMPLASM}/{id}")).await;
        assert_eq!(told["biologicalStatusOfAccessionCode"], status);
    }
    let told = result(&edda, &format!("{GERMPLASM}/{one}")).await;
    assert_eq!(
        (&told["germplasmPUI"], &told["genus"]),
        (&json!(format!("urn:uuid:{one}")), &json!("Pelargonium"))
    );
    assert_eq!(told["instituteName"], "Una Marsh");
    assert_eq!(
        told["additionalInfo"],
        json!({"inbreeding": "0", "plantGroup": "regal", "sets": "2", "chromosomes": "18", "raisedYear": "1931"})
    );
    let passport = result(&edda, &format!("{GERMPLASM}/{one}/mcpd")).await;
    assert_eq!(passport["breedingInstitutes"], json!([{"instituteName": "Una Marsh"}]));
    assert_eq!(passport["accessionNames"], json!(["Tor One"]));
}

#[tokio::test]
async fn what_is_not_released_is_left_out() {
    let society = TestApp::start().await;
    let (edda, bram) = (society.member("Edda Wick").await, society.member("Bram Oake").await);
    let one = enter(&edda, "Tor One", json!({})).await;
    let hidden = enter(&edda, "Tor Hidden", json!({"seed_parent_id": one, "visibility": "private"})).await;
    let child = enter(&edda, "Tor Child", json!({"seed_parent_id": hidden, "pollen_parent_id": one})).await;
    let body = json!({
        "number": "2026-1", "seed_parent": {"cultivar_id": hidden}, "pollen_parents": [{"cultivar_id": one}],
        "visibility": "society"
    });
    edda.post("/api/v1/crosses", body).await.expect(201);
    let private = json!({"number": "2026-2", "seed_parent": {"cultivar_id": one}, "pollen_parents": []});
    edda.post("/api/v1/crosses", private).await.expect(201);
    let full = format!("{PEDIGREE}?germplasmDbId={one}&includeFullTree=true&includeSiblings=true");
    for path in [GERMPLASM, PEDIGREE, &full, "/brapi/v2/crosses"] {
        let text = bram.get(path).await.expect(200).text();
        assert!(!text.contains("Hidden") && !text.contains(&hidden), "{path}: {text}");
        assert!(edda.get(path).await.expect(200).text().contains("Tor Hidden"), "{path}");
    }
    for path in [format!("{GERMPLASM}/{hidden}"), format!("{GERMPLASM}/{hidden}/mcpd")] {
        assert_eq!(bram.get(&path).await.problem(404), "not-found");
        edda.get(&path).await.expect(200);
    }
    assert!(data(&bram, &format!("{PEDIGREE}?germplasmDbId={hidden}")).await.is_empty());
    assert!(data(&bram, &format!("{GERMPLASM}?parentDbId={hidden}")).await.is_empty());
    let nodes = data(&bram, &format!("{PEDIGREE}?germplasmDbId={child}")).await;
    let told = nodes.iter().find(|node| node["germplasmDbId"] == child.as_str()).unwrap();
    assert_eq!(
        (told["parents"].as_array().unwrap().len(), &told["pedigreeString"]),
        (1, &json!("?/Tor One"))
    );
    // It counts all the same: the seed parent is a child of the pollen parent.
    assert_eq!(told["additionalInfo"]["inbreeding"], "0.25");
    let crosses = data(&bram, "/brapi/v2/crosses").await;
    assert_eq!(field(&crosses, "crossName"), ["2026-1"]);
    assert_eq!((&crosses[0]["parent1"], &crosses[0]["additionalInfo"]), (&Value::Null, &json!({})));
    for path in [GERMPLASM, PEDIGREE, "/brapi/v2/crosses", "/brapi/v2/crossingprojects"] {
        assert_eq!(society.visitor().get(path).await.problem(401), "not-logged-in");
    }
}

#[tokio::test]
async fn crosses_stand_in_the_books_of_their_raisers() {
    let society = TestApp::start().await;
    let (edda, bram) = (society.member("Edda Wick").await, society.member("Bram Oake").await);
    let one = enter(&edda, "Tor One", json!({})).await;
    let other = enter(&edda, "Tor Other", json!({})).await;
    let sport = enter(&edda, "Tor Sport", json!({"source_id": one})).await;
    let cross = async |actor: &Actor, number: &str, pollen: Value| {
        let body = json!({
            "number": number, "seed_parent": {"cultivar_id": one}, "pollen_parents": pollen, "visibility": "society"
        });
        actor.post("/api/v1/crosses", body).await.expect(201).header("location")
    };
    let first = cross(&edda, "A1", json!([{"cultivar_id": other}])).await;
    cross(&edda, "A2", json!([])).await;
    cross(&edda, "A3", json!([{"cultivar_id": one}])).await;
    cross(&edda, "A4", json!([{"cultivar_id": sport}])).await;
    let several = json!([
        {"cultivar_id": other, "share_thousandths": 250}, {"cultivar_id": sport, "share_thousandths": 750}
    ]);
    cross(&bram, "B1", several).await;
    let today = society.clock.today();
    for florets in [7, 5] {
        edda.post(&format!("{first}/pollinations"), json!({"day": today, "florets": florets}))
            .await
            .expect(201);
    }
    edda.post(&format!("{first}/counts"), json!({"day": today, "kind": "takes", "how_many": 8}))
        .await
        .expect(201);
    let all = data(&bram, "/brapi/v2/crosses").await;
    assert_eq!(field(&all, "crossName"), ["B1", "A4", "A3", "A2", "A1"]);
    assert_eq!(field(&all, "crossType"), ["BIPARENTAL", "SELF", "SELF", "OPEN_POLLINATED", "BIPARENTAL"]);
    let types =
        |cross: &Value| [&cross["parent1"]["parentType"], &cross["parent2"]["parentType"]].map(Clone::clone);
    assert_eq!(types(&all[0]), [json!("FEMALE"), Value::Null]);
    assert_eq!(types(&all[1]), [json!("FEMALE"), json!("MALE")]);
    assert_eq!(types(&all[2]), [json!("SELF"), Value::Null]);
    assert_eq!(types(&all[3]), [json!("FEMALE"), Value::Null]);
    assert_eq!(types(&all[4]), [json!("FEMALE"), json!("MALE")]);
    assert_eq!(all[0]["additionalInfo"], json!({"pollenShares": format!("{other}=250; {sport}=750")}));
    assert_eq!(all[1]["additionalInfo"], json!({"inbreeding": "0.5", "kinship": "0.5"}));
    assert_eq!(all[4]["additionalInfo"], json!({"inbreeding": "0", "kinship": "0"}));
    assert_eq!(
        all[4]["crossAttributes"],
        json!([
            {"crossAttributeName": "florets", "crossAttributeValue": "12"},
            {"crossAttributeName": "takes", "crossAttributeValue": "8"}
        ])
    );
    let stamp = format!("{today}T00:00:00Z");
    assert_eq!(
        all[4]["pollinationEvents"],
        json!([
            {"pollinationNumber": "1", "pollinationTimeStamp": stamp, "pollinationSuccessful": null},
            {"pollinationNumber": "2", "pollinationTimeStamp": stamp, "pollinationSuccessful": null}
        ])
    );
    let books = data(&bram, "/brapi/v2/crossingprojects").await;
    assert_eq!(field(&books, "crossingProjectName"), ["Cross book of Edda Wick", "Cross book of Bram Oake"]);
    let own = format!("/brapi/v2/crosses?crossingProjectDbId={}&pageSize=1&page=1", edda.id());
    let page = edda.get(&own).await.expect(200).json();
    assert_eq!(page["metadata"]["pagination"]["totalCount"], 4);
    assert_eq!(page["result"]["data"][0]["crossName"], "A3");
    assert_eq!(field(&data(&edda, "/brapi/v2/crosses?crossName=B1").await, "crossName"), ["B1"]);
    assert_eq!(edda.get("/brapi/v2/crosses?programDbId=1").await.problem(422), "invalid-query");
}

#[tokio::test]
async fn the_server_says_which_calls_it_answers() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let info = result(&society.visitor(), "/brapi/v2/serverinfo").await;
    let told: BTreeSet<String> = field(info["calls"].as_array().unwrap(), "service").into_iter().collect();
    let described: BTreeSet<String> = Contract::of_the_server()
        .operations()
        .into_iter()
        .filter_map(|(method, path, _)| {
            let call = path.strip_prefix("/brapi/v2/")?.to_owned();
            assert_eq!(method, "GET", "{path}");
            Some(call)
        })
        .collect();
    assert_eq!(told, described);
    assert_eq!(result(&edda, "/brapi/v2/commoncropnames").await, json!({"data": ["Pelargonium"]}));
    let methods = data(&edda, "/brapi/v2/breedingmethods").await;
    assert_eq!(
        field(&methods, "breedingMethodDbId"),
        ["cross", "selfing", "sport", "cutting", "doubled", "one_gamete"]
    );
}
