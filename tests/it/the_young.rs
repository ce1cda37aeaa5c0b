//! The young and others who are shielded: by whatever road they come into a show, nobody but officers reads their names,
//! at this show and the next; and a name that was published is taken back whenever its owner wishes.
#![allow(
    clippy::too_many_lines,
    clippy::format_push_string,
    reason = "three shows are told from the first entry to the last print"
)]

use std::collections::BTreeMap;

use diesel::prelude::*;
use diesel::sql_types::Text;
use reqwest::Method;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use storksbill_db::Conn;
use storksbill_domain::ids::MemberId;
use storksbill_domain::shows::canonical_json;
use storksbill_tests::{Actor, Contract, TestApp};

use crate::show_kit::{Held, class_id, send};
use crate::swaps::{cultivar, offers, swap_with, wants};

/// The young, each with a name that nobody else has, by the road on which they come.
const WREN: &str = "Wren Fellgate";
const ROADS: [(&str, &str); 8] = [
    ("enters herself, and says when she was born", WREN),
    ("is entered by an officer who vouches for her age", "Pip Marlowe"),
    ("is a guest, whose day of birth an officer gives", "Tansy Quillfeather"),
    ("is a guest in a class for the young, with no day of birth", "Corin Applegarth"),
    ("is moved into a class for the young", "Linnet Harbourne"),
    ("stands in a class that an amendment keeps for the young", "Jory Penhallow"),
    ("is shielded by the secretary of a club of theirs", "Bryony Saltmarsh"),
    ("shields himself, without a day of birth", "Kit Tregarth"),
];

#[derive(QueryableByName)]
struct Key {
    #[diesel(sql_type = Text)]
    id: String,
}

fn keys(conn: &mut Conn, sql: &str) -> Vec<String> {
    let found: Vec<Key> = match conn {
        Conn::Sqlite(sqlite) => diesel::sql_query(sql).load(sqlite),
        Conn::Postgres(pg) => diesel::sql_query(sql).load(pg),
    }
    .unwrap_or_else(|error| panic!("{sql}: {error}"));
    found.into_iter().map(|key| key.id).collect()
}

/// What stands for each part of an address: every record that there is of the kind, a few at most.
async fn parts(society: &TestApp) -> BTreeMap<&'static str, Vec<String>> {
    let tables = [
        ("club_id", "clubs"),
        ("cultivar_id", "cultivars"),
        ("individual_id", "cultivars"),
        ("other_id", "cultivars"),
        ("germplasmDbId", "cultivars"),
        ("cross_id", "crosses"),
        ("diary_id", "diary"),
        ("plant_id", "plants"),
        ("region_id", "regions"),
        ("hold_id", "health_holds"),
        ("job_id", "jobs"),
        ("member_id", "members"),
        ("registration_id", "registrations"),
        ("seedling_id", "seedlings"),
        ("show_id", "shows"),
        ("entry_id", "show_entries"),
        ("station_id", "stations"),
        ("offer_id", "swap_offers"),
        ("ring_id", "swap_rings"),
        ("round_id", "swap_rounds"),
        ("want_id", "swap_wants"),
        ("trophy_id", "trophies"),
    ];
    let mut all: BTreeMap<&'static str, Vec<String>> = society
        .read(move |conn| {
            Ok(tables
                .map(|(part, table)| {
                    let table = if table == "diary" { "diary_entries" } else { table };
                    (part, keys(conn, &format!("select id from {table} order by id limit 12")))
                })
                .into_iter()
                .collect())
        })
        .await;
    all.insert("class_id", (1..=4).map(class_id).collect());
    all.insert("calendar_secret", vec!["nobody-knows".to_owned()]);
    all.insert("year", vec!["2026".to_owned()]);
    all.insert("version_no", vec!["1".to_owned()]);
    all
}

/// Every address of this template, with records that are there.
fn addresses(template: &str, parts: &BTreeMap<&'static str, Vec<String>>) -> Vec<String> {
    let mut all = vec![template.to_owned()];
    for part in template.split('/').filter_map(|part| part.strip_prefix('{')?.strip_suffix('}')) {
        let known = parts.get(part).unwrap_or_else(|| panic!("{template}: what stands for {part}?"));
        let fresh = vec![MemberId::fresh().to_string()];
        let known = if known.is_empty() { &fresh } else { known };
        all = all
            .iter()
            .flat_map(|path| known.iter().map(|id| path.replace(&format!("{{{part}}}"), id)))
            .collect();
    }
    all
}

/// Every answer that this asker gets, from every address of the description and the pages: (what was asked, its text).
async fn everything(society: &TestApp, asker: &Actor) -> Vec<(String, String)> {
    let parts = parts(society).await;
    let mut paths: Vec<String> =
        ["/", "/season", "/api/v1/members?name=fellgate", "/api/v1/members?limit=200"]
            .map(str::to_owned)
            .to_vec();
    for (method, template, _) in Contract::of_the_server().operations() {
        if method == "GET" {
            paths.extend(addresses(&template, &parts));
        }
    }
    let mut told = Vec::new();
    for path in paths {
        let answer = asker.get(&path).await;
        assert!(answer.status < 500, "{}: {}", answer.asked, answer.text());
        told.push((answer.asked.clone(), answer.text()));
    }
    assert!(told.len() > 150, "only {} addresses were asked", told.len());
    told
}

/// Whoever reads any of these names in anything.
fn readers<'n>(told: &[(String, String)], names: &[&'n str]) -> Vec<(String, &'n str)> {
    let mut found = Vec::new();
    for (asked, text) in told {
        let text = text.to_lowercase();
        for name in names {
            // The family name alone gives somebody away.
            let family = name.rsplit(' ').next().unwrap().to_lowercase();
            if text.contains(&family) {
                found.push((asked.clone(), *name));
            }
        }
    }
    found
}

async fn nobody_reads(society: &TestApp, names: &[&str], when: &str) {
    let other = society.member(&format!("Otto Reed {}", names.len())).await;
    for asker in [society.visitor(), other] {
        let told = everything(society, &asker).await;
        assert_eq!(readers(&told, names), [], "{when}");
    }
}

/// The schedule of a show with one class more for the young.
async fn keep_for_the_young(held: &Held, class: usize, reason: &str) {
    let draft = format!("{}/draft", held.show);
    let mut schedule = held.secretary.get(&draft).await.expect(200).json()["schedule"].clone();
    schedule["classes"][class - 1]["rules"]["entrants"] =
        json!({"age": {"to": 15, "on": schedule["held_on"]}});
    send(&held.secretary, Method::PUT, &draft, schedule).await.expect(200);
    let publication = format!("{}/publication", held.show);
    send(&held.secretary, Method::POST, &publication, json!({"reason": reason})).await.expect(200);
}

async fn enter_for(held: &Held, exhibitor: &str, class: u32, vouched: bool) -> (String, i64) {
    let mut body = json!({
        "class_id": class_id(class), "exhibitor_id": exhibitor, "items": [{"name": "Quay Lass", "plant_group": "regal"}]
    });
    if vouched {
        body["acknowledged"] = json!(["age-unknown"]);
    }
    let made = held.secretary.post(&format!("{}/entries", held.show), body).await.expect(201);
    (made.header("location"), made.json()["number"].as_i64().unwrap())
}

async fn exhibitor(held: &Held, body: Value) -> String {
    held.secretary.post(&format!("{}/exhibitors", held.show), body).await.expect(201).id()
}

/// Traces of a member in everything else that members read of each other.
async fn leave_traces(held: &Held, who: &Actor) {
    let society = &held.society;
    swap_with(society, who).await;
    let (light, tide) = (cultivar(society, "Harbour Light").await, cultivar(society, "Spring Tide").await);
    let plant = json!({
        "cultivar_id": light, "how_many": 3, "environment": "frost_free", "form": "bush", "visibility": "society"
    });
    let plant = who.post("/api/v1/plants", plant).await.expect(201);
    let diary = json!({"day": "2026-04-01", "kind": "potting", "pot_mm": 127.0});
    who.post(&format!("{}/diary", plant.header("location")), diary).await.expect(201);
    offers(who, light, 2).await;
    wants(who, tide, 1).await;
    let cross = json!({
        "number": "B-1", "seed_parent": {"cultivar_id": light}, "pollen_parents": [{"cultivar_id": tide}],
        "visibility": "society"
    });
    who.post("/api/v1/crosses", cross).await.expect(201);
    let seedling =
        json!({"name": "2024-1/3", "plant_group": "zonal", "status": "seedling", "visibility": "society"});
    let seedling = who.post("/api/v1/cultivars", seedling).await.expect(201);
    let proposal = json!({"cultivar_id": seedling.id(), "name": "Tor Beacon"});
    who.post("/api/v1/registrations", proposal).await.expect(201);
    let renamed = json!({"notes": "Pink, with a white eye."});
    send(who, Method::PATCH, &seedling.header("location"), renamed).await.expect(200);
}

#[tokio::test]
async fn a_child_is_read_of_by_nobody_through_three_shows_by_every_road() {
    let (society, club, bram) = Held::society().await;
    let cup = |key: &str, class: u32| json!({"key": key, "title": format!("The {key}"), "classes": {"classes": [class_id(class)]}, "award": "class_winner"});
    let trophies =
        json!({"trophies": [cup("lantern", 1), cup("bowl", 2), cup("salver", 3), cup("tankard", 4)]});
    let mut held = Held::publish((society, club, bram), "2026-06-13", 4, trophies.clone()).await;
    keep_for_the_young(&held, 3, "The class is for the young.").await;
    let edda = held.society.member_of("Edda Wick", club).await;

    // By every road into the show.
    let wren = held.society.member_of(WREN, club).await;
    leave_traces(&held, &wren).await;
    let me = format!("{}/exhibitors/me", held.show);
    wren.put(&me, json!({"born_on": "2014-05-01", "publish_as": "name"})).await.expect(201);
    let wren_in = [held.enter(&wren, 1).await, held.enter(&wren, 3).await];
    let pip = held.society.member_of("Pip Marlowe", club).await;
    let pip_at = exhibitor(&held, json!({"member_id": pip.id(), "exhibitor": {"publish_as": "name"}})).await;
    let pip_in = enter_for(&held, &pip_at, 3, true).await;
    let tansy = json!({"exhibitor": {"name": "Tansy Quillfeather", "born_on": "2013-02-01"}});
    let tansy = exhibitor(&held, tansy).await;
    let tansy_in = enter_for(&held, &tansy, 2, false).await;
    let corin = exhibitor(&held, json!({"exhibitor": {"name": "Corin Applegarth"}})).await;
    let corin_in = enter_for(&held, &corin, 3, true).await;
    let linnet = held.society.member_of("Linnet Harbourne", club).await;
    let linnet_in = held.enter(&linnet, 1).await;
    let jory = held.society.member_of("Jory Penhallow", club).await;
    let jory_in = held.enter(&jory, 4).await;
    keep_for_the_young(&held, 4, "And so is class 4.").await;
    let bryony = held.society.member_of("Bryony Saltmarsh", club).await;
    let bryony_in = held.enter(&bryony, 1).await;
    let protection = format!("/api/v1/members/{}/protection", bryony.id());
    held.secretary.put(&protection, json!({"is_protected": true})).await.expect(200);
    let kit = held.society.member_of("Kit Tregarth", club).await;
    let kit_in = held.enter(&kit, 2).await;
    send(&kit, Method::PUT, &me, json!({"is_protected": true, "publish_as": "name"})).await.expect(200);
    let edda_in = held.enter(&edda, 1).await;

    // The day: moved, staged, judged at the desk and by a table, corrected, protested, final.
    held.at("2026-06-13T09:00:00Z").await;
    let moved = json!({"class_id": class_id(3), "reason": "Her pot fits the class for the young."});
    send(&held.secretary, Method::POST, &format!("{}/move", linnet_in.0), moved).await.expect(200);
    for (address, _) in
        [&wren_in[0], &wren_in[1], &pip_in, &tansy_in, &corin_in, &linnet_in, &jory_in, &bryony_in]
    {
        held.stage(&[address]).await;
    }
    held.stage(&[&edda_in.0]).await;
    held.judge(1, &[(wren_in[0].1, 1), (edda_in.1, 2), (bryony_in.1, 3)]).await;
    held.judge(3, &[(pip_in.1, 1), (corin_in.1, 2), (linnet_in.1, 3), (wren_in[1].1, 4)]).await;
    let table = format!(
        "class,entry,staged,result,words\n2,{},yes,2,\n2,{},yes,1,\n2,,,judge,Nils Brand\n4,{},yes,1,\n4,,,judge,Nils Brand\n",
        tansy_in.1, kit_in.1, jory_in.1
    );
    held.secretary.send_csv(Method::POST, &format!("{}/results-sheet", held.show), &table).await.expect(200);
    let corrected = json!({
        "judged": [
            {"entry": wren_in[0].1, "verdict": {"placed": 1}}, {"entry": edda_in.1, "verdict": {"placed": 3}},
            {"entry": bryony_in.1, "verdict": {"placed": 4}}
        ],
        "judge": "Nils Brand", "signed_off": true, "reason": "Keyed wrongly.", "withheld": [2]
    });
    send(&held.secretary, Method::PUT, &format!("{}/judging/{}", held.show, class_id(1)), corrected)
        .await
        .expect(200);
    let results = format!("{}/results", held.show);
    send(&held.secretary, Method::POST, &results, json!({"state": "provisional"})).await.expect(201);
    let edda = held.society.again(&edda).await;
    let words = json!({"words": "The pot of the first is too wide.", "class_id": class_id(1)});
    let protest = edda.post(&format!("{}/protests", held.show), words).await.expect(201).id();
    let names: Vec<&str> = ROADS.iter().map(|(_, name)| *name).collect();
    nobody_reads(&held.society, &names, "while results are provisional").await;
    let decision = json!({
        "state": "dismissed", "sat": "The committee", "outcome": "It fits.", "deposit_returned": true
    });
    let decide = format!("{}/protests/{protest}/decision", held.show);
    send(&held.secretary, Method::PUT, &decide, decision).await.expect(200);
    held.at("2026-06-13T13:30:00Z").await;
    send(&held.secretary, Method::POST, &results, json!({"state": "final"})).await.expect(201);
    // They are told, by initials: the young have won what they won.
    let told = held.society.visitor().get(&results).await.expect(200).json();
    let told: Vec<&str> =
        told["names"].as_array().unwrap().iter().map(|one| one["name"].as_str().unwrap()).collect();
    for initials in ["W. F.", "P. M.", "T. Q.", "C. A.", "L. H.", "J. P.", "B. S.", "K. T.", "Edda Wick"] {
        assert!(told.contains(&initials), "{initials}: {told:?}");
    }
    nobody_reads(&held.society, &names, "when results are final").await;
    // Officers read on: who keeps the desk has to know whom to call.
    let desk = held.secretary.get(&format!("{}/exhibitors", held.show)).await.expect(200).text();
    assert!(desk.contains(WREN), "{desk}");
    let roll = held.secretary.get(&format!("/api/v1/clubs/{club}/members")).await.expect(200).text();
    assert!(roll.contains(WREN) && roll.contains("Bryony Saltmarsh"), "{roll}");
    let paper = ["cards", "results", "prizes", "trophies", "stewards"];
    for page in paper {
        let page = held.secretary.get(&format!("{}/print/{page}", held.show)).await.expect(200);
        assert_eq!(readers(&[(page.asked.clone(), page.text())], &names), [], "what lies open in the hall");
    }

    // The next two shows: entered as anybody is, nothing said of an age.
    let mut held =
        Held::publish((held.society, club, held.secretary), "2027-06-12", 4, trophies.clone()).await;
    let (wren, pip) = (held.society.again(&wren).await, held.society.again(&pip).await);
    let (bryony, kit) = (held.society.again(&bryony).await, held.society.again(&kit).await);
    let by_name = json!({"publish_as": "name"});
    wren.put(&format!("{}/exhibitors/me", held.show), by_name.clone()).await.expect(201);
    let mut placed = Vec::new();
    for who in [&wren, &pip, &bryony, &kit] {
        placed.push(held.enter(who, 1).await);
    }
    held.at("2027-06-12T09:00:00Z").await;
    for (address, _) in &placed {
        held.stage(&[address]).await;
    }
    let places: Vec<(i64, u32)> = placed.iter().map(|(_, number)| *number).zip(1..).collect();
    held.judge(1, &places).await;
    held.finish("2027-06-12T13:30:00Z").await;
    nobody_reads(&held.society, &names, "at the next show").await;

    let mut held = Held::publish((held.society, club, held.secretary), "2028-06-10", 4, trophies).await;
    let mut placed = Vec::new();
    for who in [&wren, &pip, &bryony, &kit] {
        let at = exhibitor(&held, json!({"member_id": who.id(), "exhibitor": {"publish_as": "name"}})).await;
        placed.push(enter_for(&held, &at, 2, false).await);
    }
    held.at("2028-06-10T09:00:00Z").await;
    let mut table = "class,entry,staged,result,words\n2,,,judge,Nils Brand\n".to_owned();
    for (place, (_, number)) in (1..).zip(&placed) {
        table += &format!("2,{number},yes,{place},\n");
    }
    held.secretary.send_csv(Method::POST, &format!("{}/results-sheet", held.show), &table).await.expect(200);
    held.finish("2028-06-10T13:30:00Z").await;
    nobody_reads(&held.society, &names, "at the third show").await;
}

/// Of an adult everybody reads the name, until it is taken back; what was hashed stands.
#[tokio::test]
async fn a_name_is_taken_back_from_final_results_and_the_hash_stands() {
    for road in ["the exhibitor", "an officer", "publish_as", "protection", "leaving"] {
        let cup = json!({"trophies": [{
            "key": "lantern", "title": "The Lantern", "classes": {"all": true}, "award": "most_firsts"
        }]});
        let mut held = Held::publish(Held::society().await, "2026-06-13", 2, cup).await;
        let una = held.society.member("Una Goodbody").await;
        let edda = held.society.member("Edda Wick").await;
        let (first, second) = (held.enter(&una, 1).await, held.enter(&una, 2).await);
        let other = held.enter(&edda, 1).await;
        held.at("2026-06-13T09:00:00Z").await;
        held.stage(&[&first.0, &second.0, &other.0]).await;
        held.judge(1, &[(first.1, 1), (other.1, 2)]).await;
        held.judge(2, &[(second.1, 1)]).await;
        held.finish("2026-06-13T13:30:00Z").await;
        let visitor = held.society.visitor();
        let results = format!("{}/results", held.show);
        let before = visitor.get(&results).await.expect(200).json();
        assert!(before["names"].to_string().contains("Una Goodbody"), "{before}");
        assert_eq!(before["is_as_hashed"], true);
        let hash = Sha256::digest(canonical_json(&before["results"]).as_bytes());
        let hash = hash.iter().fold(String::new(), |hash, byte| hash + &format!("{byte:02x}"));
        assert_eq!(before["sha256"], json!(hash), "what is hashed is what is told");

        let una = held.society.again(&una).await;
        let own = una.get(&format!("{}/exhibitors/me", held.show)).await.expect(200).id();
        let name = format!("{results}/names/{own}");
        let edda = held.society.again(&edda).await;
        assert_eq!(edda.delete(&name).await.problem(403), "not-allowed");
        match road {
            "the exhibitor" => drop(una.delete(&name).await.expect(204)),
            "an officer" => drop(held.secretary.delete(&name).await.expect(204)),
            "publish_as" => {
                let withheld = json!({"publish_as": "withheld"});
                send(&una, Method::PUT, &format!("{}/exhibitors/me", held.show), withheld).await.expect(200);
            }
            "protection" => {
                let path = format!("/api/v1/members/{}/protection", una.id());
                una.put(&path, json!({"is_protected": true})).await.expect(200);
            }
            _ => {
                let keeper = held.society.administrator("Ivo Reed").await;
                let path = format!("/api/v1/members/{}/standing", una.id());
                keeper.put(&path, crate::members::proved(json!({"standing": "left"}))).await.expect(200);
            }
        }
        let other = held.society.member("Otto Reed").await;
        for asker in [&visitor, &other] {
            let told = everything(&held.society, asker).await;
            let of_shows = told.into_iter().filter(|(asked, _)| {
                ["/shows", "/trophies", "GET /"].iter().any(|part| asked.contains(part))
                    && !asked.contains("/members")
            });
            assert_eq!(readers(&of_shows.collect::<Vec<_>>(), &["Una Goodbody"]), [], "{road}");
        }
        let table =
            held.secretary.get(&format!("/api/v1/clubs/{}/trophies.csv", held.club)).await.expect(200);
        assert!(!table.text().contains("Goodbody"), "{road}: {}", table.text());
        let after = visitor.get(&results).await.expect(200).json();
        assert_eq!((&after["sha256"], &after["results"]), (&before["sha256"], &before["results"]), "{road}");
        // Officers do not put back what a member took away.
        if road == "publish_as" {
            let path = format!("{}/exhibitors/{own}", held.show);
            let back = send(&held.secretary, Method::PATCH, &path, json!({"publish_as": "name"})).await;
            assert_eq!(back.fields(), ["/publish_as chosen"]);
        }
    }
}

/// What was given out when names still stood in what was hashed keeps its hash, and tells no names.
#[tokio::test]
async fn results_of_before_tell_by_number_what_they_held_by_name() {
    use storksbill_db::schema::show_results::dsl;
    let mut held = Held::publish(
        Held::society().await,
        "2026-06-13",
        1,
        json!({"trophies": [{
            "key": "lantern", "title": "The Lantern", "classes": {"all": true}, "award": "class_winner"
        }]}),
    )
    .await;
    let (una, edda) = (held.society.member("Una Goodbody").await, held.society.member("Edda Wick").await);
    let (first, out) = (held.enter(&una, 1).await, held.enter(&edda, 1).await);
    held.at("2026-06-13T09:00:00Z").await;
    held.stage(&[&first.0, &out.0]).await;
    let said = json!({
        "judged": [
            {"entry": first.1, "verdict": {"placed": 1}},
            {"entry": out.1, "verdict": {"not_as_schedule": {"reason": "Two plants in the pot."}}}
        ],
        "judge": "Nils Brand", "signed_off": true
    });
    held.secretary.put(&format!("{}/judging/{}", held.show, class_id(1)), said).await.expect(201);
    held.finish("2026-06-13T13:30:00Z").await;
    let results = format!("{}/results", held.show);
    let mut now = held.society.visitor().get(&results).await.expect(200).json();
    // As it was written before: names for numbers.
    let mut old = now["results"].clone();
    for line in old["classes"][0]["lines"].as_array_mut().unwrap() {
        line["exhibitor"] = json!(if line["place"] == 1 { "Una Goodbody" } else { "Edda Wick" });
        line["label"] = json!("Quay Lass");
    }
    old["trophies"][0]["winners"] = json!(["Una Goodbody"]);
    let old = canonical_json(&old);
    held.society
        .write(move |conn| {
            Ok(diesel::update(dsl::show_results).set(dsl::document.eq(old.clone())).execute(conn)?)
        })
        .await;
    let told = held.society.visitor().get(&results).await.expect(200).json();
    now["is_as_hashed"] = json!(false);
    assert_eq!(told, now);
}

/// Those put out are published by their entry numbers alone.
#[tokio::test]
async fn who_was_put_out_is_not_published() {
    let mut held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let (una, edda) = (held.society.member("Una Fell").await, held.society.member("Edda Goodbody").await);
    let otto = held.society.member("Otto Goodbody").await;
    let (first, out, bad) =
        (held.enter(&una, 1).await, held.enter(&edda, 1).await, held.enter(&otto, 1).await);
    held.at("2026-06-13T09:00:00Z").await;
    held.stage(&[&first.0, &out.0, &bad.0]).await;
    let said = json!({
        "judged": [
            {"entry": first.1, "verdict": {"placed": 1}},
            {"entry": out.1, "verdict": {"not_as_schedule": {"reason": "Two plants in the pot."}}},
            {"entry": bad.1, "verdict": {"disqualified": {"reason": "Wired blooms."}}}
        ],
        "judge": "Nils Brand", "signed_off": true
    });
    held.secretary.put(&format!("{}/judging/{}", held.show, class_id(1)), said).await.expect(201);
    held.finish("2026-06-13T13:30:00Z").await;
    for end in ["results", "results.csv", "print/results"] {
        let told = held.society.visitor().get(&format!("{}/{end}", held.show)).await.expect(200).text();
        assert!(!told.contains("Goodbody") && !told.contains("E. G."), "{told}");
        assert!(told.contains("Two plants in the pot.") && told.contains("Una Fell"), "{told}");
    }
    let told = held.society.visitor().get(&format!("{}/results", held.show)).await.expect(200).json();
    for line in told["results"]["classes"][0]["lines"].as_array().unwrap() {
        assert_eq!(line["exhibitor"].is_null(), line["place"].is_null(), "{line}");
    }
    assert_eq!(told["names"].as_array().unwrap().len(), 1, "{told}");
    // They see it themselves.
    let own = held.society.again(&edda).await.get("/api/v1/members/me/results").await.expect(200).text();
    assert!(own.contains("Two plants in the pot."), "{own}");
}

/// Who sets it and who ends it; and who finds the protected in lists.
#[tokio::test]
async fn many_may_shield_and_few_may_end_it() {
    let (society, club, bram) = Held::society().await;
    let other_club = society.club("High Moor", society.region("The Moor").await).await;
    let stranger = society.secretary_of("Otto Fell", other_club).await;
    let (registrar, keeper) = (society.registrar("Oona Pike").await, society.administrator("Ivo Reed").await);
    let mate = society.member_of("Edda Wick", club).await;
    let wren = society.member_of(WREN, club).await;
    let path = format!("/api/v1/members/{}/protection", wren.id());
    let say = async |who: &Actor, is_protected: bool| {
        who.put(&path, json!({"is_protected": is_protected})).await.status
    };
    // (who, may set, may end, finds in lists)
    for (who, sets, ends, finds) in [
        (&wren, 200, 403, true),
        (&bram, 200, 200, true),
        (&registrar, 200, 403, true),
        (&keeper, 200, 200, true),
        (&stranger, 403, 404, false),
        (&mate, 403, 404, false),
    ] {
        assert_eq!(say(&keeper, false).await, 200);
        assert_eq!(say(who, true).await, sets);
        assert_eq!(say(&keeper, true).await, 200);
        let one = who.get(&format!("/api/v1/members/{}", wren.id())).await.status;
        let lists = [
            who.walk("/api/v1/members?limit=2").await,
            who.walk("/api/v1/members?name=wren").await,
            who.walk(&format!("/api/v1/clubs/{club}/members?limit=2")).await,
        ];
        for list in lists {
            assert_eq!(list.iter().any(|row| row["name"] == WREN), finds, "{list:?}");
        }
        assert_eq!(one, if finds { 200 } else { 404 });
        assert_eq!(say(who, false).await, ends);
    }
}
