//! The cross book: crosses, pollinations, counts, seedlings, and who is told of them.

use chrono::TimeDelta;
use diesel::prelude::*;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill_db::schema::cultivars;
use storksbill_domain::ids::CultivarId;
use storksbill_domain::words::ClubRole;
use storksbill_tests::{Actor, Answer, TestApp};

use crate::swaps::cultivar;

const CROSSES: &str = "/api/v1/crosses";
const NOTICES: &str = "/api/v1/notices";

/// A society with a raiser and two cultivars to cross.
struct Bench {
    society: TestApp,
    una: Actor,
    light: CultivarId,
    tide: CultivarId,
}

impl Bench {
    async fn start() -> Self {
        let society = TestApp::start().await;
        let una = society.member("Una Marsh").await;
        let light = cultivar(&society, "Harbour Light").await;
        let tide = cultivar(&society, "Spring Tide").await;
        Self { society, una, light, tide }
    }

    fn body(&self, more: &Value) -> Value {
        let mut body = json!({
            "seed_parent": {"cultivar_id": self.light}, "pollen_parents": [{"cultivar_id": self.tide}],
        });
        for (field, value) in more.as_object().unwrap() {
            body[field] = value.clone();
        }
        body
    }

    /// A cross of Una's.
    async fn cross(&self, more: Value) -> Answer {
        self.una.post(CROSSES, self.body(&more)).await.expect(201)
    }

    /// So many days from the society's today.
    fn day(&self, days: i64) -> String {
        (self.society.clock.today() + TimeDelta::days(days)).to_string()
    }

    async fn counted(&self, cross: &str, kind: &str, how_many: i32) -> Answer {
        let body = json!({"day": self.day(0), "kind": kind, "how_many": how_many});
        self.una.post(&format!("{cross}/counts"), body).await
    }
}

async fn remove(actor: &Actor, path: &str) -> Answer {
    actor.request(Method::DELETE, path).header("if-match", "*").send().await
}

fn warnings(answer: &Answer) -> Vec<String> {
    let all = answer.json()["warnings"].as_array().unwrap().clone();
    all.iter().map(|warning| warning["code"].as_str().unwrap().to_owned()).collect()
}

fn numbers(rows: &[Value]) -> Vec<&str> {
    rows.iter().map(|row| row["number"].as_str().unwrap()).collect()
}

#[tokio::test]
async fn a_raiser_enters_a_cross_once_and_reads_it_back() {
    let bench = Bench::start().await;
    let una = &bench.una;
    let body = bench.body(&json!({"number": " 2026-017 ", "notes": "For a longer stem"}));
    let made = una.post_once(CROSSES, "first", body.clone()).await.expect(201);
    assert_eq!(una.post_once(CROSSES, "first", body.clone()).await.expect(201).id(), made.id());
    let cross = una.get(&made.header("location")).await.expect(200);
    assert!(cross.etag().starts_with("\"1-"), "{}", cross.etag());
    let told = cross.json();
    assert_eq!(told, made.json());
    assert_eq!(
        (told["number"].as_str(), told["raiser_name"].as_str()),
        (Some("2026-017"), Some("Una Marsh"))
    );
    assert_eq!((told["visibility"].as_str(), told["pooled"].as_bool()), (Some("private"), Some(false)));
    assert_eq!(told["seed_parent"]["name"], "Harbour Light");
    assert_eq!(told["pollen_parents"][0]["name"], "Spring Tide");
    assert_eq!(told["pollen_parents"][0]["share_thousandths"], 1000);
    assert_eq!(told["counts"]["florets"], Value::Null);
    assert_eq!(una.post(CROSSES, body.clone()).await.problem(409), "taken");
    // Another raiser has labels of their own.
    bench.society.member("Bram Oake").await.post(CROSSES, body).await.expect(201);
}

#[tokio::test]
async fn the_server_numbers_on_from_the_highest_of_the_year() {
    let bench = Bench::start().await;
    let year = &bench.day(0)[..4];
    assert_eq!(bench.cross(json!({})).await.json()["number"], format!("{year}-001"));
    bench.cross(json!({"number": format!("{year}-017")})).await;
    bench.cross(json!({"number": "Una's best"})).await;
    assert_eq!(bench.cross(json!({})).await.json()["number"], format!("{year}-018"));
}

#[tokio::test]
async fn a_pollen_parent_is_known_unknown_or_one_of_several_whose_shares_make_the_whole() {
    let bench = Bench::start().await;
    let una = &bench.una;
    let unknown = bench.cross(json!({"pollen_parents": []})).await;
    assert_eq!(unknown.json()["pollen_parents"], json!([]));
    let [light, tide] = [bench.light, bench.tide];
    let several = |one: Value, other: Value| {
        bench.body(&json!({"pollen_parents": [
            {"cultivar_id": light, "share_thousandths": one},
            {"cultivar_id": tide, "share_thousandths": other},
        ]}))
    };
    let made = una.post(CROSSES, several(json!(250), json!(750))).await.expect(201);
    let shares: Vec<_> = made.json()["pollen_parents"].as_array().unwrap().clone();
    let shares: Vec<_> = shares.iter().map(|parent| parent["share_thousandths"].as_i64().unwrap()).collect();
    assert_eq!(shares, [250, 750]);
    for (one, other) in [(json!(250), json!(749)), (json!(1000), json!(null)), (json!(null), json!(null))] {
        assert_eq!(una.post(CROSSES, several(one, other)).await.fields(), ["/pollen_parents shares"]);
    }
    let wrong = bench.body(&json!({
        "seed_parent": {"cultivar_id": light, "plant_id": light},
        "pollen_parents": [{"seedling_id": light}, {}],
    }));
    let fields = una.post(CROSSES, wrong).await.fields();
    assert_eq!(fields, ["/pollen_parents shares", "/pollen_parents/1 one-of", "/seed_parent one-of"]);
    let strange = bench.body(&json!({
        "seed_parent": {"plant_id": light}, "pollen_parents": [{"seedling_id": light}],
    }));
    let fields = una.post(CROSSES, strange).await.fields();
    assert_eq!(fields, ["/pollen_parents/0/seedling_id not-found", "/seed_parent/plant_id not-found"]);
}

#[tokio::test]
async fn a_count_above_the_one_before_it_is_refused_once_and_names_both() {
    let bench = Bench::start().await;
    let cross = bench.cross(json!({})).await.header("location");
    let una = &bench.una;
    let pollinations = format!("{cross}/pollinations");
    let worked = json!({"day": bench.day(0), "florets": 6, "petals_removed": true});
    una.post(&pollinations, worked.clone()).await.expect(201);
    let pollination = una.post(&pollinations, worked).await.expect(201);
    let refused = bench.counted(&cross, "takes", 13).await;
    assert_eq!(
        (refused.problem(422).as_str(), refused.fields()),
        ("invalid-fields", vec!["/how_many more-than-before".to_owned()])
    );
    assert!(
        refused.text().contains("13 florets that took would be more than 12 florets worked"),
        "{}",
        refused.text()
    );
    for (kind, how_many) in [
        ("takes", 7),
        ("harvested", 20),
        ("harvested", 10),
        ("sown", 30),
        ("germinated", 21),
        ("lost", 4),
        ("pricked_out", 17),
        ("flowered", 15),
        ("kept", 2),
    ] {
        bench.counted(&cross, kind, how_many).await.expect(201);
    }
    for (kind, how_many, words) in [
        ("sown", 1, "31 seeds sown would be more than 30 seeds harvested"),
        ("germinated", 10, "31 seedlings germinated would be more than 30 seeds sown"),
        ("lost", 18, "22 seedlings lost would be more than 21 seedlings germinated"),
        ("kept", 14, "16 seedlings kept would be more than 15 seedlings flowered"),
    ] {
        let refused = bench.counted(&cross, kind, how_many).await;
        assert_eq!(refused.problem(422), "invalid-fields");
        assert!(refused.text().contains(words), "{}", refused.text());
    }
    let counts = una.get(&cross).await.json()["counts"].clone();
    let of = |kind: &str| counts[kind].as_i64().unwrap();
    assert_eq!(
        ["florets", "takes", "harvested", "sown", "germinated", "lost", "pricked_out", "flowered", "kept"]
            .map(of),
        [12, 7, 30, 30, 21, 4, 17, 15, 2]
    );
    // Nor does taking away leave a count larger than the one before it.
    assert_eq!(
        remove(una, &format!("{pollinations}/{}", pollination.id())).await.problem(409),
        "wrong-state"
    );
    let rows = una.walk(&format!("{cross}/counts?limit=4")).await;
    assert_eq!(rows.len(), 9);
    let path = |at: usize| format!("{cross}/counts/{}", rows[at]["id"].as_str().unwrap());
    assert_eq!(remove(una, &path(1)).await.problem(409), "wrong-state");
    remove(una, &path(8)).await.expect(204);
    assert_eq!(una.get(&cross).await.json()["counts"]["kept"], Value::Null);
    assert_eq!(remove(una, &path(8)).await.problem(404), "not-found");
    assert_eq!(remove(una, &cross).await.problem(409), "in-use");
}

#[tokio::test]
async fn more_than_five_seeds_a_floret_are_kept_with_a_warning() {
    let bench = Bench::start().await;
    let cross = bench.cross(json!({})).await.header("location");
    bench.counted(&cross, "takes", 6).await.expect(201);
    let full = bench.counted(&cross, "harvested", 30).await.expect(201);
    assert!(warnings(&full).is_empty());
    let more = bench.counted(&cross, "harvested", 1).await.expect(201);
    assert_eq!(warnings(&more), ["many_seeds"]);
    assert!(more.text().contains("31 seeds") && more.text().contains("there can be 30"), "{}", more.text());
    assert_eq!(warnings(&bench.una.get(&cross).await), ["many_seeds"]);
}

#[tokio::test]
async fn a_loss_has_a_cause_and_a_day_lies_not_ahead() {
    let bench = Bench::start().await;
    let cross = bench.cross(json!({})).await.header("location");
    let counts = format!("{cross}/counts");
    let lost = json!({"day": bench.day(0), "kind": "lost", "how_many": 3, "cause": "white"});
    let kept = bench.una.post(&counts, lost).await.expect(201);
    assert_eq!(kept.json()["count"]["cause"], "white");
    let wrong = json!({"day": bench.day(2), "kind": "sown", "how_many": 3});
    assert_eq!(bench.una.post(&counts, wrong).await.fields(), ["/day out-of-range"]);
    let wrong = json!({"day": bench.day(0), "kind": "sown", "how_many": -3, "cause": "frost"});
    assert_eq!(bench.una.post(&counts, wrong).await.fields(), ["/cause not-taken", "/how_many out-of-range"]);
}

#[tokio::test]
async fn a_cross_of_a_clone_with_its_sport_is_a_selfing() {
    let bench = Bench::start().await;
    let (una, light) = (&bench.una, bench.light);
    let [glow, ember] =
        [cultivar(&bench.society, "Harbour Glow").await, cultivar(&bench.society, "Harbour Ember").await];
    bench
        .society
        .write(move |conn| {
            for (sport, of) in [(glow, light), (ember, glow)] {
                diesel::update(cultivars::table.find(sport))
                    .set((cultivars::source_id.eq(of), cultivars::origin.eq("sport")))
                    .execute(conn)?;
            }
            Ok(())
        })
        .await;
    let region = bench.society.region("The Vale").await;
    let plant = json!({
        "cultivar_id": light, "how_many": 1, "environment": "frost_free", "form": "bush", "region_id": region,
    });
    let plant = una.post("/api/v1/plants", plant).await.expect(201).id();
    assert!(warnings(&bench.cross(json!({})).await).is_empty());
    for (pollen, words) in [
        (json!({"cultivar_id": ember}), "Harbour Light and Harbour Ember are one clone"),
        (json!({"plant_id": plant}), "Harbour Light stands on both sides"),
    ] {
        let cross = bench.cross(json!({"pollen_parents": [pollen]})).await;
        assert_eq!(warnings(&cross), ["selfing"]);
        assert!(cross.text().contains(words), "{}", cross.text());
    }
    // A plant that stands in the book is not taken away.
    assert_eq!(remove(una, &format!("/api/v1/plants/{plant}")).await.problem(409), "in-use");
    // Others are told the cross and not the reasons.
    let shown =
        bench.cross(json!({"pollen_parents": [{"cultivar_id": glow}], "visibility": "society"})).await;
    let seen = bench.society.member("Bram Oake").await.get(&shown.header("location")).await.expect(200);
    assert!(warnings(&seen).is_empty());
}

#[tokio::test]
async fn a_stigma_that_is_still_closed_is_come_back_to_and_an_old_bloom_gives_no_pollen() {
    let bench = Bench::start().await;
    let cross = bench.cross(json!({})).await.header("location");
    let work = async |seed: &str, pollen: &str| {
        let body = json!({"day": bench.day(-1), "florets": 5, "seed_bloom": seed, "pollen_bloom": pollen});
        bench.una.post(&format!("{cross}/pollinations"), body).await.expect(201)
    };
    assert!(warnings(&work("stigma_open", "opening").await).is_empty());
    let early = work("opening", "opening").await;
    assert_eq!(warnings(&early), ["stigma_closed"]);
    assert_eq!(early.json()["warnings"][0]["come_back_on"], bench.day(2));
    assert_eq!(warnings(&work("open", "fading").await), ["stigma_closed", "no_pollen"]);
    assert_eq!(warnings(&work("fading", "bud").await), ["no_pollen"]);
    let rows = bench.una.walk(&format!("{cross}/pollinations?limit=3")).await;
    assert_eq!(rows.len(), 4);
    assert_eq!(rows[1]["worked_by"], json!(bench.una.id()));
}

#[tokio::test]
async fn harvest_sowing_and_germination_become_notices_where_they_are_still_to_come() {
    let bench = Bench::start().await;
    let una = &bench.una;
    let made = bench.cross(json!({"number": "2026-017"})).await;
    let cross = made.header("location");
    for days in [-43, 0] {
        let body = json!({"day": bench.day(days), "florets": 9});
        una.post(&format!("{cross}/pollinations"), body).await.expect(201);
    }
    for (kind, days) in [("harvested", 0), ("sown", 0), ("sown", -22)] {
        let body =
            json!({"day": bench.day(days), "kind": kind, "how_many": if kind == "sown" { 8 } else { 30 }});
        una.post(&format!("{cross}/counts"), body).await.expect(201);
    }
    let told = una.walk(NOTICES).await;
    let told: Vec<_> = told
        .iter()
        .map(|row| {
            assert_eq!(row["subject"], json!({"kind": "cross", "id": made.id()}));
            assert!(row["words"].as_str().unwrap().starts_with("Cross 2026-017: "));
            [row["kind"].as_str().unwrap().to_owned(), row["due_on"].as_str().unwrap().to_owned()]
        })
        .collect();
    let expected = [("sowing_due", 14), ("germination_due", 21), ("harvest_due", 42)]
        .map(|(kind, days)| [kind.to_owned(), bench.day(days)]);
    assert_eq!(told, expected);
}

#[tokio::test]
async fn seedlings_are_numbered_within_their_cross_and_named_with_their_cultivar() {
    let bench = Bench::start().await;
    let una = &bench.una;
    let cross = bench.cross(json!({"number": "2026-017"})).await.header("location");
    let seedlings = format!("{cross}/seedlings");
    bench.counted(&cross, "germinated", 3).await.expect(201);
    let first = una.post(&seedlings, json!({"notes": "Rose pink"})).await.expect(201);
    assert_eq!(
        (first.json()["label"].as_str(), first.json()["status"].as_str()),
        (Some("2026-017/1"), Some("on_trial"))
    );
    una.post(&seedlings, json!({"number": 7})).await.expect(201);
    assert_eq!(una.post(&seedlings, json!({"number": 7})).await.problem(409), "taken");
    assert_eq!(una.post(&seedlings, json!({})).await.expect(201).json()["label"], "2026-017/8");
    let refused = una.post(&seedlings, json!({})).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert!(refused.text().contains("4 seedlings numbered would be more than 3 seedlings germinated"));
    let rows = una.walk(&format!("{seedlings}?limit=1")).await;
    let labels: Vec<_> = rows.iter().map(|row| row["label"].as_str().unwrap()).collect();
    assert_eq!(labels, ["2026-017/1", "2026-017/7", "2026-017/8"]);

    let path = first.header("location");
    let etag = una.get(&path).await.expect(200).etag();
    let patch = async |body: Value| una.patch(&path, &etag, body).await;
    assert_eq!(patch(json!({"status": "named"})).await.fields(), ["/cultivar_id required"]);
    assert_eq!(patch(json!({"cultivar_id": bench.light})).await.fields(), ["/cultivar_id not-taken"]);
    let name = cultivar(&bench.society, "Merrow Dawn").await;
    let named = patch(json!({"status": "named", "cultivar_id": name})).await.expect(200);
    assert_eq!((named.json()["cultivar_id"].clone(), named.etag()), (json!(name), "\"2\"".to_owned()));
    assert_eq!(patch(json!({"notes": null})).await.problem(412), "version-mismatch");
}

#[tokio::test]
async fn a_cross_never_descends_from_itself() {
    let bench = Bench::start().await;
    let una = &bench.una;
    let first = bench.cross(json!({})).await.header("location");
    let child = una.post(&format!("{first}/seedlings"), json!({})).await.expect(201);
    let second = bench.cross(json!({"seed_parent": {"seedling_id": child.id()}})).await.header("location");
    let grandchild = una.post(&format!("{second}/seedlings"), json!({})).await.expect(201);
    let seed_parent = json!({"seed_parent": {"seedling_id": grandchild.id()}});
    for cross in [&first, &second] {
        assert_eq!(una.patch(cross, "*", seed_parent.clone()).await.problem(409), "pedigree-loop");
    }
    assert_eq!(una.get(&first).await.json()["seed_parent"]["name"], "Harbour Light", "nothing was kept");
    // Nor by the name of a seedling: the cultivar it is named as is the first cross's seed parent.
    let named = json!({"status": "named", "cultivar_id": bench.light});
    let refused = una.patch(&grandchild.header("location"), "*", named).await;
    assert_eq!(refused.problem(409), "pedigree-loop");
    una.patch(&second, "*", json!({"pollen_parents": [], "notes": "Open pollinated"})).await.expect(200);
}

#[tokio::test]
async fn a_cross_is_changed_by_its_raiser_alone_and_against_the_version_read() {
    let bench = Bench::start().await;
    let una = &bench.una;
    let bram = bench.society.member("Bram Oake").await;
    let made = bench.cross(json!({"visibility": "society", "notes": "Plain"})).await;
    let path = made.header("location");
    let edit = json!({"number": "B-1", "notes": null, "pollen_gamete": "unreduced", "pooled": true});
    assert_eq!(bram.patch(&path, "*", edit.clone()).await.problem(403), "not-allowed");
    assert_eq!(remove(&bram, &path).await.problem(403), "not-allowed");
    for sub in ["pollinations", "counts", "seedlings"] {
        assert!(bram.walk(&format!("{path}/{sub}")).await.is_empty());
    }
    let body = json!({"day": bench.day(0), "kind": "takes", "how_many": 1});
    assert_eq!(bram.post(&format!("{path}/counts"), body).await.problem(403), "not-allowed");
    let told = una.patch(&path, &made.etag(), edit.clone()).await.expect(200);
    assert_eq!(told.etag(), "\"2\"");
    let told = told.json();
    assert_eq!((told["number"].as_str(), &told["notes"]), (Some("B-1"), &Value::Null));
    assert_eq!((told["pollen_gamete"].as_str(), told["pooled"].as_bool()), (Some("unreduced"), Some(true)));
    assert_eq!(una.patch(&path, &made.etag(), edit).await.problem(412), "version-mismatch");
    assert_eq!(
        una.patch(&path, "*", json!({"number": null, "seed_parent": null})).await.fields(),
        ["/number required", "/seed_parent required"]
    );
    remove(una, &path).await.expect(204);
    assert_eq!(una.get(&path).await.problem(404), "not-found");
}

#[tokio::test]
async fn a_private_cross_is_not_there_for_others_and_a_clubs_is_for_clubmates() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let (quay, hill) = (society.club("Quay Town", region).await, society.club("Hill Town", region).await);
    let una = society.member_of("Una Marsh", quay).await;
    let bram = society.member_of("Bram Oake", quay).await;
    let edda = society.actor("Edda Wick", &[], &[(hill, ClubRole::Secretary)]).await;
    let keeper = society.administrator("Oona Pike").await;
    let bench = Bench {
        light: cultivar(&society, "Harbour Light").await,
        tide: cultivar(&society, "Spring Tide").await,
        una,
        society,
    };
    let mut paths = Vec::new();
    for visibility in ["private", "club", "society"] {
        let made = bench.cross(json!({"number": visibility, "visibility": visibility})).await;
        paths.push(made.header("location"));
    }
    let seedling = bench.una.post(&format!("{}/seedlings", paths[0]), json!({})).await.expect(201);
    let listed = async |who: &Actor| {
        let rows = who.walk(&format!("{CROSSES}?limit=1")).await;
        numbers(&rows).join(" ")
    };
    assert_eq!(listed(&bench.una).await, "society club private");
    assert_eq!(listed(&bram).await, "society club");
    assert_eq!(listed(&edda).await, "society");
    assert_eq!(listed(&keeper).await, "society");
    let of_una = format!("{CROSSES}?raiser_id={}&cultivar_id={}", bench.una.id(), bench.light);
    assert_eq!(numbers(&bram.walk(&of_una).await), ["society", "club"]);
    // What may not be seen answers as what is not there, word for word.
    let nowhere = format!("{CROSSES}/017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    let body = json!({"day": bench.day(0), "kind": "takes", "how_many": 1});
    for who in [&bram, &edda, &keeper] {
        for sub in ["", "/pollinations", "/counts", "/seedlings"] {
            let [hidden, absent] = [&paths[0], &nowhere].map(|path| format!("{path}{sub}"));
            let [hidden, absent] = [who.get(&hidden).await, who.get(&absent).await];
            assert_eq!(
                (hidden.problem(404), &hidden.json()["detail"]),
                (absent.problem(404), &absent.json()["detail"])
            );
        }
        assert_eq!(who.patch(&paths[0], "*", json!({})).await.problem(404), "not-found");
        assert_eq!(remove(who, &paths[0]).await.problem(404), "not-found");
        assert_eq!(who.post(&format!("{}/counts", paths[0]), body.clone()).await.problem(404), "not-found");
        assert_eq!(who.get(&seedling.header("location")).await.problem(404), "not-found");
        assert_eq!(who.patch(&seedling.header("location"), "*", json!({})).await.problem(404), "not-found");
        let named = bench.body(&json!({"seed_parent": {"seedling_id": seedling.id()}}));
        assert_eq!(who.post(CROSSES, named).await.fields(), ["/seed_parent/seedling_id not-found"]);
    }
}

#[tokio::test]
async fn a_private_parent_of_a_cross_that_others_see_is_undisclosed() {
    let bench = Bench::start().await;
    let una = &bench.una;
    let region = bench.society.region("The Vale").await;
    let plant = json!({
        "cultivar_id": bench.tide, "how_many": 1, "environment": "frost_free", "form": "bush",
        "region_id": region, "visibility": "private",
    });
    let plant = una.post("/api/v1/plants", plant).await.expect(201).id();
    let line = bench.cross(json!({"number": "L"})).await.header("location");
    let seedling = una.post(&format!("{line}/seedlings"), json!({})).await.expect(201).id();
    let shown = bench
        .cross(json!({
            "seed_parent": {"seedling_id": seedling}, "pollen_parents": [{"plant_id": plant}],
            "visibility": "society",
        }))
        .await;
    assert_eq!(shown.json()["seed_parent"]["name"], "L/1");
    assert_eq!(shown.json()["pollen_parents"][0]["cultivar_id"], json!(bench.tide));
    let bram = bench.society.member("Bram Oake").await;
    let seen = bram.get(&shown.header("location")).await.expect(200);
    let undisclosed = json!({
        "cultivar_id": null, "seedling_id": null, "plant_id": null, "name": null,
        "share_thousandths": 1000, "undisclosed": true,
    });
    assert_eq!(seen.json()["seed_parent"], undisclosed);
    assert_eq!(seen.json()["pollen_parents"], json!([undisclosed]));
    for secret in [&seedling, &plant, &bench.tide.to_string()] {
        assert!(!seen.text().contains(secret), "{}", seen.text());
        assert!(!bram.get(CROSSES).await.text().contains(secret));
    }
    assert!(bram.walk(&format!("{CROSSES}?cultivar_id={}", bench.tide)).await.is_empty());
}

#[tokio::test]
async fn success_is_told_by_stage_where_five_growers_stand_behind_it() {
    let bench = Bench::start().await;
    let [light, tide] = [bench.light, bench.tide];
    let asked = |seed: CultivarId, pollen: CultivarId| {
        format!("{CROSSES}/outcomes?seed_cultivar_id={seed}&pollen_cultivar_id={pollen}")
    };
    let stage = |told: &Value, at: usize, level: &str| told["stages"][at][level].clone();
    // Of the six, the third lets a private cross be pooled and the fourth does not.
    for (at, name) in ["Ash Low", "Bo Fen", "Cy Hay", "Di Orr", "Ed Pym", "Fay Tor"].into_iter().enumerate() {
        let raiser = bench.society.member(name).await;
        let private = at == 2 || at == 3;
        let more = json!({
            "visibility": if private { "private" } else { "club" }, "pooled": at == 2,
        });
        let path = raiser.post(CROSSES, bench.body(&more)).await.expect(201).header("location");
        let work = json!({"day": bench.day(0), "florets": 10});
        raiser.post(&format!("{path}/pollinations"), work).await.expect(201);
        for (kind, how_many) in [("takes", if at == 3 { 10 } else { 6 }), ("harvested", 12)] {
            let body = json!({"day": bench.day(0), "kind": kind, "how_many": how_many});
            raiser.post(&format!("{path}/counts"), body).await.expect(201);
        }
        let told = bench.una.get(&asked(light, tide)).await.expect(200).json();
        assert_eq!((told["least_growers"].as_u64(), told["seed_group"].as_str()), (Some(5), Some("zonal")));
        for level in ["group", "seed_parent", "cross"] {
            assert_eq!(stage(&told, 0, level).is_null(), at < 5, "{at} {level}: {told}");
        }
    }
    let told = bench.una.get(&asked(light, tide)).await.json();
    // One pair of parents is too little to learn from: Beta(1, 1) and 30 of 50 florets, 60 of 150 ovules.
    for (at, mean) in [(0, 31.0 / 52.0), (1, 61.0 / 152.0)] {
        let cross = stage(&told, at, "cross");
        assert!((cross["mean"].as_f64().unwrap() - mean).abs() < 1e-12, "{cross}");
        assert!(cross["low"].as_f64().unwrap() < mean && mean < cross["high"].as_f64().unwrap());
        assert_eq!((cross["own_records"].as_u64(), cross["basis"].as_str()), (Some(5), Some("weak_prior")));
    }
    // Nothing was sown, and the other direction is another cross.
    assert!(stage(&told, 2, "group").is_null());
    let other_way = bench.una.get(&asked(tide, light)).await.expect(200).json();
    let of_group = stage(&other_way, 0, "group");
    assert_eq!((of_group["records"].as_u64(), of_group["own_records"].as_u64()), (Some(5), Some(5)));
    assert!(stage(&other_way, 0, "seed_parent").is_null() && stage(&other_way, 0, "cross").is_null());
    let nobody = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f".parse().unwrap();
    assert_eq!(bench.una.get(&asked(nobody, tide)).await.problem(404), "not-found");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn counts_entered_at_once_do_not_exceed_together_what_was_worked() {
    let bench = Bench::start().await;
    let cross = bench.cross(json!({})).await.header("location");
    let work = json!({"day": bench.day(0), "florets": 12});
    bench.una.post(&format!("{cross}/pollinations"), work).await.expect(201);
    let mut tasks = tokio::task::JoinSet::new();
    for _ in 0..8 {
        let (una, path) = (bench.una.clone(), format!("{cross}/counts"));
        let body = json!({"day": bench.day(0), "kind": "takes", "how_many": 3});
        tasks.spawn(async move {
            // A conflict says that nothing was written and asks for another try.
            loop {
                let status = una.post(&path, body.clone()).await.status;
                if status != 409 {
                    return status;
                }
            }
        });
    }
    let mut statuses = tasks.join_all().await;
    statuses.sort_unstable();
    assert_eq!(statuses, [201, 201, 201, 201, 422, 422, 422, 422]);
    assert_eq!(bench.una.get(&cross).await.json()["counts"]["takes"], 12);
}

/// What Una is told of her crosses and has not ticked off, as kind, day and words without the cross's number.
async fn asked(una: &Actor) -> Vec<String> {
    let rows = una.walk(&format!("{NOTICES}?done=false")).await;
    let text = |row: &Value, field: &str| row[field].as_str().unwrap().to_owned();
    let mut all: Vec<String> = rows
        .iter()
        .map(|row| {
            let words = text(row, "words");
            let words = words.split_once(": ").unwrap().1.to_owned();
            format!("{} {} {words}", text(row, "kind"), text(row, "due_on"))
        })
        .collect();
    all.sort();
    all
}

#[tokio::test]
async fn by_whatever_road_a_cross_came_to_its_counts_its_notices_are_those_of_its_counts() {
    // (pollinations, counts), each with the days from today.
    type Book = (Vec<(i64, i32)>, Vec<(i64, &'static str, i32)>);
    let books: [Book; 4] = [
        (vec![(0, 9)], vec![]),
        (vec![(-40, 9), (-3, 4)], vec![(0, "harvested", 29)]),
        (vec![(-40, 9)], vec![(-9, "harvested", 29), (-1, "harvested", 6), (0, "sown", 30)]),
        (vec![(-60, 9)], vec![(-9, "harvested", 29), (0, "sown", 29), (0, "germinated", 20)]),
    ];
    for (worked, counted) in books {
        // Straight, and with slips that are taken away again in between.
        let mut told = Vec::new();
        for slips in [false, true] {
            let bench = Bench::start().await;
            let cross = bench.cross(json!({"number": "M-7"})).await.header("location");
            let work = async |days: i64, florets: i32| {
                let body = json!({"day": bench.day(days), "florets": florets});
                bench.una.post(&format!("{cross}/pollinations"), body).await.expect(201).id()
            };
            let count = async |days: i64, kind: &str, how_many: i32| {
                let body = json!({"day": bench.day(days), "kind": kind, "how_many": how_many});
                bench.una.post(&format!("{cross}/counts"), body).await.expect(201).id()
            };
            for (days, florets) in &worked {
                if slips {
                    let slip = work(-1, 7).await;
                    bench.una.delete(&format!("{cross}/pollinations/{slip}")).await.expect(204);
                }
                work(*days, *florets).await;
            }
            for (days, kind, how_many) in &counted {
                if slips {
                    let slip = count(0, kind, 1).await;
                    bench.una.delete(&format!("{cross}/counts/{slip}")).await.expect(204);
                }
                count(*days, kind, *how_many).await;
            }
            if slips {
                bench.una.patch(&cross, "*", json!({"number": "M-8"})).await.expect(200);
                for row in bench.una.walk(NOTICES).await {
                    assert!(row["words"].as_str().unwrap().starts_with("Cross M-8: "), "{row}");
                }
            }
            told.push(asked(&bench.una).await);
        }
        assert_eq!(told[0], told[1], "{worked:?} {counted:?}");
    }
}

#[tokio::test]
async fn a_notice_of_a_cross_goes_when_it_is_done_and_says_its_day() {
    let bench = Bench::start().await;
    let una = &bench.una;
    let cross = bench.cross(json!({"number": "2026-017"})).await.header("location");
    una.post(&format!("{cross}/pollinations"), json!({"day": bench.day(0), "florets": 9})).await.expect(201);
    let ripe = asked(una).await.remove(0);
    assert!(ripe.contains(&format!("should be ripe about {}", bench.day(42))), "{ripe}");
    assert!(!ripe.contains("now"), "{ripe}");
    let slip = bench.counted(&cross, "harvested", 60).await.expect(201).id();
    una.delete(&format!("{cross}/counts/{slip}")).await.expect(204);
    bench.counted(&cross, "harvested", 29).await.expect(201);
    let told = asked(una).await;
    assert_eq!(told.len(), 1, "{told:#?}");
    assert!(told[0].starts_with(&format!("sowing_due {} the 29 seeds", bench.day(14))), "{told:#?}");
    bench.counted(&cross, "sown", 20).await.expect(201);
    let told = asked(una).await;
    assert!(told[1].contains("the 9 seeds harvested") && told[0].contains("the 20 seeds sown"), "{told:#?}");
    // What is ticked off stays so, whatever is counted later.
    let first = una.walk(&format!("{NOTICES}?done=false")).await[0]["id"].as_str().unwrap().to_owned();
    una.post(&format!("{NOTICES}/{first}/done"), json!({})).await.expect(200);
    bench.counted(&cross, "sown", 9).await.expect(201);
    let told = asked(una).await;
    assert_eq!(told.len(), 1, "{told:#?}");
    assert!(told[0].contains("the 29 seeds sown"), "{told:#?}");
    bench.counted(&cross, "germinated", 29).await.expect(201);
    assert_eq!(asked(una).await, [""; 0]);
}
