//! A national show through HTTP: classes for one's plants, results, cards, and the last minute before closing.
//!
//! `cargo bench -p storksbill-tests --bench shows [-- SECONDS]`; with `TEST_DATABASE_URL` on `PostgreSQL`. 250 classes of
//! 10 sections, 400 exhibitors with a past of 5 firsts each, 3,000 entries. Beside each figure stands the rate of
//! `GET /members/me`, which asks nothing of the show.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_precision_loss,
    clippy::cast_sign_loss,
    reason = "a measurement prints its table, and stops where anything fails"
)]

mod load;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::time::Instant;

use load::Table;
use reqwest::{Client, Method};
use serde_json::{Value, json};
use storksbill_db::rows::entries::{self, MemberResult};
use storksbill_domain::ids::{ClassId, MemberId, MemberResultId};
use storksbill_domain::words::PlantGroup;
use storksbill_tests::{Actor, TestApp, moment};
use tokio::task::JoinSet;

const CLASSES: usize = 250;
const SECTIONS: usize = 10;
const EXHIBITORS: usize = 400;
const ENTRIES: usize = 3_000;
const PLANTS: usize = 60;
const LATE: usize = 50;

fn group(n: usize) -> PlantGroup {
    PlantGroup::ALL[n % PlantGroup::ALL.len()]
}

async fn act(actor: &Actor, method: Method, path: &str, body: Value) -> Value {
    let answer = actor.request(method, path).header("if-match", "*").json(&body).send().await;
    assert!(answer.status < 300, "{path}: {}", answer.text());
    answer.json()
}

/// Classes in bands of pot sizes, one group each; class n asks for group n.
fn schedule(mut draft: Value, ids: &[String]) -> Value {
    draft["sections"] =
        (0..SECTIONS).map(|n| json!({"key": n.to_string(), "title": format!("Section {n}")})).collect();
    draft["schemes"] =
        json!([{"key": "points", "places": [5, 3, 2], "commended": [{"code": "HC", "points": 1}]}]);
    draft["classes"] = ids
        .iter()
        .enumerate()
        .map(|(n, id)| {
            // Larger pots of the same group, class by class, without a gap.
            let band = (n / PlantGroup::ALL.len()) * 20_000;
            json!({
                "id": id, "label": (n + 1).to_string(), "section": (n * SECTIONS / CLASSES).to_string(),
                "title": format!("One {}, band {}", group(n).as_str(), n / PlantGroup::ALL.len()),
                "rules": {
                    "slots": [{
                        "count": 1, "unit": "pot", "taxa": {"groups": [group(n)]},
                        "pot": {"from": {"um": band, "inclusive": false}, "to": {"um": band + 20_000, "inclusive": true}}
                    }],
                    "points": "points", "prizes": [500, 300, 200], "fee": {"member": 30, "other": 50},
                    "entries": {"per_exhibitor": 3}
                }
            })
        })
        .collect();
    draft["trophies"] = (0..SECTIONS)
        .map(|n| {
            json!({
                "key": format!("cup-{n}"), "title": format!("Cup of section {n}"),
                "classes": {"sections": [n.to_string()]}, "award": {"most_points": null},
                "tie_breaks": ["firsts", "seconds", "shared"]
            })
        })
        .collect();
    draft["protests"] = json!({"minutes_after_opening": 60});
    draft
}

fn item(n: usize) -> Value {
    let band = (n / PlantGroup::ALL.len()) as f64 * 20.0;
    json!({"name": format!("Kind {n}"), "plant_group": group(n), "pot_mm": band + 10.0})
}

/// Firsts at an earlier show, so that histories are read.
async fn past(society: &TestApp, secretary: &Actor, club: &str, people: &[MemberId]) {
    let body = json!({
        "name": "National Show", "held_on": "2026-05-16", "place": "Quay Town Hall",
        "closes_wall": "2026-05-14T21:00", "zone": "Europe/London"
    });
    let earlier = secretary.post(&format!("/api/v1/clubs/{club}/shows"), body).await.expect(201).id();
    let show_id = earlier.parse().unwrap();
    let held_on = chrono::NaiveDate::from_ymd_opt(2025, 6, 14).unwrap();
    let rows: Vec<MemberResult> = people
        .iter()
        .flat_map(|member| [*member; 5])
        .map(|member_id| MemberResult {
            id: MemberResultId::fresh(),
            member_id,
            show_id,
            held_on,
            document: json!({"on": held_on, "reach": "this_society", "group": "zonal", "place": 1})
                .to_string(),
        })
        .collect();
    society.write(move |conn| entries::insert_results(conn, &rows)).await;
}

/// Every exhibitor enters in turn; the time of each entry.
async fn enter_all(people: &[Actor], show: &str, classes: &[String]) -> Vec<f64> {
    let mut times = Vec::with_capacity(ENTRIES);
    for n in 0..ENTRIES {
        let class = n * 37 % CLASSES;
        let body = json!({"class_id": classes[class], "items": [item(class)]});
        let sent = Instant::now();
        people[n % EXHIBITORS].post(&format!("{show}/entries"), body).await.expect(201);
        times.push(sent.elapsed().as_secs_f64() * 1e3);
    }
    times
}

fn report(what: &str, mut times: Vec<f64>) {
    times.sort_by(f64::total_cmp);
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize];
    println!("{what:<34} half within {:.2} ms, 99 of 100 within {:.2} ms", at(0.5), at(0.99));
}

/// Everything staged, the first three of each class placed and one commended.
fn table(entries: &[Value]) -> String {
    let mut by_class: BTreeMap<&str, Vec<i64>> = BTreeMap::new();
    for entry in entries {
        let label = entry["class"]["label"].as_str().unwrap();
        by_class.entry(label).or_default().push(entry["number"].as_i64().unwrap());
    }
    let mut csv = "class,entry,staged,result,words\n".to_owned();
    for (label, numbers) in by_class {
        for (nth, number) in numbers.iter().enumerate() {
            let result = ["1", "2", "3", "HC"].get(nth).copied().unwrap_or_default();
            writeln!(csv, "{label},{number},yes,{result},").unwrap();
        }
        writeln!(csv, "{label},,,judge,Nils Brand").unwrap();
    }
    csv
}

/// Fifty people enter three exhibits each, and send each twice, in the last minute; then it is closed.
async fn last_minute(society: &TestApp, people: &[Actor], secretary: &Actor, show: &str, classes: &[String]) {
    society.clock.advance(moment("2026-06-11T19:59:20Z") - society.clock.now());
    let before = society.again(secretary).await.walk(&format!("{show}/entries?limit=200")).await.len();
    let mut ready = Vec::new();
    for person in &people[..LATE] {
        ready.push(society.again(person).await);
    }
    let started = Instant::now();
    let mut calls = JoinSet::new();
    for (who, person) in ready.iter().cloned().enumerate() {
        for nth in 0..3 {
            let class = (who * 3 + nth) * 7 % CLASSES;
            let (person, path) = (person.clone(), format!("{show}/entries"));
            let body = json!({"class_id": classes[class], "items": [item(class)]});
            calls.spawn(async move {
                let sent = Instant::now();
                let key = format!("late-{nth}");
                let (one, two) = tokio::join!(
                    person.post_once(&path, &key, body.clone()),
                    person.post_once(&path, &key, body)
                );
                assert_eq!((one.status, one.text()), (201, two.text()));
                (one.json()["number"].as_i64().unwrap(), sent.elapsed().as_secs_f64() * 1e3)
            });
        }
    }
    let made: Vec<(i64, f64)> = calls.join_all().await;
    let whole = started.elapsed();
    let numbers: BTreeSet<i64> = made.iter().map(|(number, _)| *number).collect();
    assert_eq!(numbers.len(), LATE * 3, "an entry was doubled");
    let kept = society.again(secretary).await.walk(&format!("{show}/entries?limit=200")).await;
    assert_eq!(kept.len(), before + LATE * 3, "an entry was lost");
    let all: BTreeSet<i64> = kept.iter().map(|entry| entry["number"].as_i64().unwrap()).collect();
    assert!(all.len() == kept.len() && numbers.is_subset(&all));
    report("one of 150 entries at once, twice", made.into_iter().map(|(_, ms)| ms).collect());
    println!("{:<34} {:.2} s for all of them", "", whole.as_secs_f64());
    society.clock.advance(moment("2026-06-11T20:00:01Z") - society.clock.now());
    let body = json!({"class_id": classes[0], "items": [item(0)]});
    let late = society.again(&people[LATE]).await.post(&format!("{show}/entries"), body).await;
    assert_eq!(late.fields(), ["/class_id entries-closed"]);
}

#[tokio::main(flavor = "multi_thread", worker_threads = 2)]
async fn main() {
    let seconds = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(3.0);
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let club = society.club("Quay Town", region).await;
    let secretary = society.secretary_of("Bram Oake", club).await;
    let mut people = Vec::with_capacity(EXHIBITORS);
    for n in 0..EXHIBITORS {
        people.push(society.member(&format!("Grower {n}")).await);
    }
    let members: Vec<MemberId> = people.iter().map(Actor::id).collect();
    past(&society, &secretary, club.as_str(), &members).await;
    let registrar = society.registrar("Ines Holm").await;
    for n in 0..PLANTS {
        let kind = json!({"name": format!("Kind {n}"), "plant_group": group(n), "status": "named"});
        let kind = registrar.post("/api/v1/cultivars", kind).await.expect(201).id();
        let plant = json!({
            "cultivar_id": kind, "how_many": 1, "pot_mm": 10.0 + (n / 13) as f64 * 20.0, "environment": "frost_free",
            "form": "bush", "region_id": region
        });
        people[0].post("/api/v1/plants", plant).await.expect(201);
    }
    let body = json!({
        "name": "National Show", "held_on": "2026-06-13", "place": "Quay Town Hall",
        "closes_wall": "2026-06-11T21:00", "zone": "Europe/London", "hall_opens_at": "2026-06-13T12:00:00Z"
    });
    let show = secretary.post(&format!("/api/v1/clubs/{club}/shows"), body).await.expect(201);
    let show = show.header("location");
    let classes: Vec<String> = (0..CLASSES).map(|_| ClassId::fresh().to_string()).collect();
    let draft = secretary.get(&format!("{show}/draft")).await.expect(200).json()["schedule"].take();
    act(&secretary, Method::PUT, &format!("{show}/draft"), schedule(draft, &classes)).await;
    act(&secretary, Method::POST, &format!("{show}/publication"), json!({})).await;
    report("an entry", enter_all(&people, &show, &classes).await);

    let ask = |society: &TestApp, path: String, who: &Actor| {
        let (address, token) = (society.address.clone(), who.token().to_owned());
        move |client: &Client, _: u64| client.get(format!("{address}{path}")).bearer_auth(&token)
    };
    let mut rows = Table::head(seconds, 1);
    rows.row("GET /members/me", ask(&society, "/api/v1/members/me".to_owned(), &people[0])).await;
    let mine = format!("{show}/my-classes?limit=200");
    let found = people[0].get(&mine).await.expect(200).json();
    assert_eq!(found["items"].as_array().unwrap().len(), PLANTS);
    rows.row("classes for 60 plants", ask(&society, mine, &people[0])).await;
    let with_no = format!("{show}/my-classes?limit=200&with_no=true");
    rows.row("the same with every no", ask(&society, with_no, &people[0])).await;
    last_minute(&society, &people, &secretary, &show, &classes).await;

    society.clock.advance(moment("2026-06-13T09:00:00Z") - society.clock.now());
    let secretary = society.again(&secretary).await;
    let csv = table(&secretary.walk(&format!("{show}/entries?limit=200")).await);
    let sent = Instant::now();
    secretary.send_csv(Method::POST, &format!("{show}/results-sheet"), &csv).await.expect(200);
    println!("{:<34} {:.2} s", "the table of results taken", sent.elapsed().as_secs_f64());
    let mut rows = Table::head(seconds, 1);
    rows.row("GET /members/me", ask(&society, "/api/v1/members/me".to_owned(), &secretary)).await;
    for (what, end) in [
        ("results with their working", "results/working"),
        ("cards, name hidden", "print/cards"),
        ("cards, number alone", "print/cards?layout=number_only"),
        ("stewards' sheets", "print/stewards"),
        ("judges' sheets", "print/judges"),
        ("prize list", "print/prizes"),
        ("day pack", "day-pack"),
    ] {
        rows.row(what, ask(&society, format!("{show}/{end}"), &secretary)).await;
    }
    let given = Instant::now();
    act(&secretary, Method::POST, &format!("{show}/results"), json!({"state": "provisional"})).await;
    println!("{:<34} {:.2} s", "results given out", given.elapsed().as_secs_f64());
}
