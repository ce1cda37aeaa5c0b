//! By rule, not by verb: no road to an entry, a judgment or a published fact leaves what the rules of a show forbid.

use std::collections::BTreeSet;

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_tests::{Answer, Contract};

use crate::show_kit::{Held, class_id, send};

/// The addresses that write an entry: (method, address, where its roads stand below).
const WRITE_ENTRIES: [&str; 6] = [
    "PATCH /api/v1/shows/{show_id}/entries/{entry_id}",
    "POST /api/v1/shows/{show_id}/entries",
    "POST /api/v1/shows/{show_id}/entries/{entry_id}/move",
    "POST /api/v1/shows/{show_id}/entries/{entry_id}/withdrawal",
    "POST /api/v1/shows/{show_id}/results-sheet",
    "PUT /api/v1/shows/{show_id}/entries/{entry_id}/staging",
];

/// Every road to an entry with what it would make otherwise: another class, other plants, another card, on the bench or
/// off it, withdrawn, or one more beside it.
async fn every_road(held: &Held, entry: &str, number: i64, staged: bool) -> Vec<(String, Answer)> {
    let bram = &held.secretary;
    let late = "It came late.";
    let plants = json!([{"name": "Harbour Light", "plant_group": "regal"}]);
    let mut all = Vec::new();
    for (road, method, path, body) in [
        ("staging", Method::PUT, format!("{entry}/staging"), json!({"staged": !staged})),
        ("moved", Method::POST, format!("{entry}/move"), json!({"class_id": class_id(2), "reason": late})),
        ("withdrawn", Method::POST, format!("{entry}/withdrawal"), json!({"reason": late})),
        ("class", Method::PATCH, entry.to_owned(), json!({"class_id": class_id(2), "late_reason": late})),
        ("plants", Method::PATCH, entry.to_owned(), json!({"items": plants, "late_reason": late})),
        ("card", Method::PATCH, entry.to_owned(), json!({"label": "Another", "late_reason": late})),
        (
            "one more",
            Method::POST,
            format!("{}/entries", held.show),
            json!({"class_id": class_id(1), "items": plants, "late_reason": late}),
        ),
    ] {
        all.push((road.to_owned(), send(bram, method, &path, body).await));
    }
    let word = if staged { "no" } else { "yes" };
    for (road, query) in [("table", ""), ("table with its reason", "?reason=It%20was%20keyed%20wrongly.")] {
        let csv = format!("class,entry,staged,result,words\n1,{number},{word},,\n");
        let path = format!("{}/results-sheet{query}", held.show);
        all.push((road.to_owned(), bram.send_csv(Method::POST, &path, &csv).await));
        let dry = format!("{path}{}dry_run=true", if query.is_empty() { "?" } else { "&" });
        all.push((format!("{road}, dry run"), bram.send_csv(Method::POST, &dry, &csv).await));
    }
    all
}

#[test]
fn every_address_that_writes_an_entry_is_tried_here() {
    let writes: BTreeSet<String> = Contract::of_the_server()
        .operations()
        .into_iter()
        .filter(|(method, path, _)| {
            method != "GET" && (path.contains("/entries") || path.ends_with("/results-sheet"))
        })
        .map(|(method, path, _)| format!("{method} {path}"))
        .collect();
    assert_eq!(writes, WRITE_ENTRIES.map(str::to_owned).into_iter().collect());
}

#[tokio::test]
async fn no_road_changes_what_a_judge_saw() {
    let mut held = Held::publish(Held::society().await, "2026-06-13", 2, json!({})).await;
    let (una, edda) = (held.society.member("Una Fell").await, held.society.member("Edda Wick").await);
    let (winner, without) = (held.enter(&una, 1).await, held.enter(&edda, 1).await);
    // Came, and was never staged.
    let absent = held.enter(&held.society.member("Otto Reed").await, 1).await;
    held.at("2026-06-13T09:00:00Z").await;
    held.stage(&[&winner.0, &without.0]).await;
    held.judge(1, &[(winner.1, 1)]).await;
    let stood = async || {
        let mut all = held.secretary.walk(&format!("{}/entries", held.show)).await;
        all.sort_by_key(|entry| entry["number"].as_i64());
        all
    };
    let before = stood().await;
    for (entry, staged) in [(&winner, true), (&without, true), (&absent, false)] {
        for (road, answer) in every_road(&held, &entry.0, entry.1, staged).await {
            assert!(matches!(answer.status, 409 | 422), "{road}: {} {}", answer.status, answer.text());
            assert_eq!(stood().await, before, "{road}");
        }
    }
    // Nor does any when results are out.
    let results = format!("{}/results", held.show);
    send(&held.secretary, Method::POST, &results, json!({"state": "provisional"})).await.expect(201);
    for (road, answer) in every_road(&held, &winner.0, winner.1, true).await {
        assert!(matches!(answer.status, 409 | 422), "{road}: {} {}", answer.status, answer.text());
        assert_eq!(stood().await, before, "{road}");
    }
}

fn findings(told: &Value) -> Vec<String> {
    told["findings"].as_array().unwrap().iter().map(|one| one["code"].as_str().unwrap().to_owned()).collect()
}

#[tokio::test]
async fn a_dry_run_says_what_the_table_and_the_giving_out_will_say() {
    let mut held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let (una, edda) = (held.society.member("Una Fell").await, held.society.member("Edda Wick").await);
    let (first, second) = (held.enter(&una, 1).await, held.enter(&edda, 1).await);
    held.at("2026-06-13T09:00:00Z").await;
    let path = format!("{}/results-sheet", held.show);
    for (results, expected) in [
        (["1", "1"], vec!["place-twice"]),
        (["1=", "1="], vec![]),
        (["1", "3"], vec!["place-missing"]),
        (["1", "2"], vec![]),
    ] {
        let csv = format!(
            "class,entry,staged,result,words\n1,{},yes,{},\n1,{},yes,{},\n1,,,judge,Nils Brand\n",
            first.1, results[0], second.1, results[1]
        );
        let send_csv = async |query: &str| {
            held.secretary.send_csv(Method::POST, &format!("{path}{query}"), &csv).await.expect(200).json()
        };
        let dry = send_csv("?dry_run=true").await;
        assert_eq!(findings(&dry), expected, "{results:?}");
        let real = send_csv("?reason=Keyed%20anew.").await;
        for field in ["findings", "classes", "staging", "needs_reason"] {
            assert_eq!(dry[field], real[field], "{field}");
        }
        let working = held.secretary.get(&format!("{}/results/working", held.show)).await.expect(200).json();
        assert_eq!(working["findings"], dry["findings"], "{results:?}");
    }
    let results = format!("{}/results", held.show);
    send(&held.secretary, Method::POST, &results, json!({"state": "provisional"})).await.expect(201);
}

#[tokio::test]
async fn what_is_not_in_the_running_is_refused_when_it_is_chosen() {
    let best = json!({"trophies": [
        {"key": "best", "title": "The Rosette", "classes": {"all": true}, "award": "best_exhibit"}
    ]});
    let mut held = Held::publish(Held::society().await, "2026-06-13", 1, best).await;
    let (una, edda) = (held.society.member("Una Fell").await, held.society.member("Edda Wick").await);
    let (first, second) = (held.enter(&una, 1).await, held.enter(&edda, 1).await);
    held.at("2026-06-13T09:00:00Z").await;
    held.stage(&[&first.0, &second.0]).await;
    let path = format!("{}/choices/best", held.show);
    let choose = async |choice: Value| {
        held.secretary.put(&path, json!({"choice": choice, "judge": "Nils Brand"})).await
    };
    // Nothing is judged, so nothing is in the running.
    assert_eq!(choose(json!({"exhibit": first.1})).await.fields(), ["/choice choice-not-in-running"]);
    held.judge(1, &[(first.1, 1), (second.1, 2)]).await;
    assert_eq!(choose(json!({"exhibit": second.1})).await.fields(), ["/choice choice-not-in-running"]);
    choose(json!({"exhibit": first.1})).await.expect(204);
    choose(json!("withheld")).await.expect(204);
}

/// Whatever of a published show members were told: it changes with a reason, and they are told.
#[tokio::test]
async fn what_was_told_of_a_published_show_changes_with_a_reason_and_a_notice() {
    let held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let una = held.society.member("Una Fell").await;
    held.enter(&una, 1).await;
    let told = json!({"opens_at": "2026-05-01T08:00:00Z", "notes": "Parking on the quay."});
    // What nobody was told yet is told without a reason.
    send(&held.secretary, Method::PATCH, &held.show, told).await.expect(200);
    let patch = Contract::of_the_server().spec()["components"]["schemas"]["ShowPatch"]["properties"].clone();
    let facts: BTreeSet<&str> = patch.as_object().unwrap().keys().map(String::as_str).collect();
    let tried = [
        ("place", json!("The old school")),
        ("notes", json!("No parking.")),
        ("notes", json!(null)),
        ("opens_at", json!("2026-05-02T08:00:00Z")),
        ("opens_at", json!(null)),
        ("hall_opens_at", json!("2026-06-13T13:00:00Z")),
        ("hall_opens_at", json!(null)),
        ("name", json!("Autumn Show")),
        ("held_on", json!("2026-06-14")),
        ("closes_wall", json!("2026-06-12T20:00")),
        ("zone", json!("Europe/Dublin")),
    ];
    let names: BTreeSet<&str> = tried.iter().map(|(fact, _)| *fact).chain(["reason"]).collect();
    assert_eq!(names, facts, "a fact of a show that is not tried here");
    let news = async || una.walk("/api/v1/notices").await.len();
    for (fact, value) in tried {
        let (before, had) = (held.secretary.get(&held.show).await.expect(200).json(), news().await);
        let silent = send(&held.secretary, Method::PATCH, &held.show, json!({fact: value})).await;
        assert!(matches!(silent.status, 409 | 422), "{fact}: {}", silent.text());
        assert_eq!(held.secretary.get(&held.show).await.expect(200).json(), before, "{fact}");
        let by_reason = json!({fact: value, "reason": "The hall is flooded."});
        let with = send(&held.secretary, Method::PATCH, &held.show, by_reason).await;
        if silent.status == 409 {
            // By an amendment alone.
            assert_eq!(with.problem(409), "wrong-state", "{fact}");
            continue;
        }
        assert_eq!(silent.fields(), ["/reason required"], "{fact}");
        with.expect(200);
        let all = una.walk("/api/v1/notices").await;
        assert_eq!(all.len(), had + 1, "{fact}");
        assert!(
            all.iter().any(|one| one["words"].as_str().unwrap().contains("The hall is flooded.")),
            "{all:?}"
        );
        // As it was, for the next.
        let back = json!({fact: before[fact], "reason": "It is dry again."});
        send(&held.secretary, Method::PATCH, &held.show, back).await.expect(200);
    }
}

#[tokio::test]
async fn money_is_bounded_and_never_wraps() {
    let held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let una = held.society.member("Una Fell").await;
    held.enter(&una, 1).await;
    let exhibitor = held.secretary.walk(&format!("{}/exhibitors", held.show)).await[0]["id"].clone();
    let take = async |pence: i64| {
        let receipt = json!({"exhibitor_id": exhibitor, "pence": pence, "how": "cash"});
        held.secretary.post(&format!("{}/receipts", held.show), receipt).await
    };
    for pence in [i64::MIN, i64::MIN + 1, -10_000_001, 0, 10_000_001, i64::MAX] {
        assert_eq!(take(pence).await.status, 422, "{pence}");
    }
    for _ in 0..10 {
        take(10_000_000).await.expect(201);
    }
    assert_eq!(take(1).await.fields(), ["/pence out-of-range"]);
    let paid = held.secretary.walk(&format!("{}/exhibitors", held.show)).await[0]["paid_pence"].clone();
    assert_eq!(paid, json!(100_000_000));
}

fn answers(found: &Value, label: &str) -> Vec<(String, Vec<String>)> {
    let all = found.as_array().unwrap().iter().flat_map(|plant| plant["classes"].as_array().unwrap());
    all.filter(|class| class["class"]["label"] == label)
        .map(|class| {
            let reasons = class["reasons"].as_array().unwrap().iter();
            let words = reasons.map(|reason| reason["detail"].as_str().unwrap().to_owned()).collect();
            (class["answer"].as_str().unwrap().to_owned(), words)
        })
        .collect()
}

/// What words alone ask is for a person to judge, and the words stand in the answer; what the register knows answers.
#[tokio::test]
async fn classes_for_a_plant_name_the_words_and_ask_the_register() {
    let (society, club, bram) = Held::society().await;
    let classes = [
        ("1", "One fan or pyramid", json!({})),
        (
            "2",
            "One plant of the club's own",
            json!({"words": "Struck from the cuttings given out in March."}),
        ),
        ("3", "One introduced before 1950", json!({"introduced_before": 1950})),
        ("4", "One plant", json!({})),
    ]
    .map(|(label, title, mut rules)| {
        let taxa = match rules.as_object_mut().unwrap().remove("introduced_before") {
            Some(year) => json!({"introduced_before": year}),
            None => json!({}),
        };
        rules["slots"] = json!([{"count": 1, "unit": "pot", "taxa": taxa}]);
        json!({"id": class_id(label.parse().unwrap()), "label": label, "title": title, "rules": rules})
    });
    let held = Held::publish((society, club, bram), "2026-06-13", 1, json!({"classes": classes})).await;
    let una = held.society.member("Una Fell").await;
    held.society.grows_in(&una, held.society.region("The Moor").await).await;
    let registrar = held.society.registrar("Oona Pike").await;
    let young = json!({"name": "Quay Lass", "plant_group": "regal", "status": "named", "raised_year": 2019});
    let young = registrar.post("/api/v1/cultivars", young).await.expect(201).id();
    let basket = json!({"cultivar_id": young, "how_many": 1, "environment": "outdoors", "form": "basket"});
    una.post("/api/v1/plants", basket).await.expect(201);
    let found =
        una.get(&format!("{}/my-classes?with_no=true", held.show)).await.expect(200).json()["items"].clone();
    let one = |label: &str| answers(&found, label).remove(0);
    let (answer, reasons) = one("1");
    assert!(
        answer == "depends" && reasons.iter().any(|words| words.contains("One fan or pyramid")),
        "{reasons:?}"
    );
    let (answer, reasons) = one("2");
    assert!(
        answer == "depends" && reasons.iter().any(|words| words.contains("given out in March")),
        "{reasons:?}"
    );
    let (answer, reasons) = one("3");
    assert!(answer == "no" && reasons.iter().any(|words| words.contains("raised in 2019")), "{reasons:?}");
    assert_eq!(one("4"), ("yes".to_owned(), Vec::new()));
}

/// A schedule copied from an older show than the latest raises no note where its numbers mean what they meant.
#[tokio::test]
async fn a_copied_schedule_raises_no_false_notes() {
    let mut held = Held::publish(Held::society().await, "2026-06-13", 30, json!({})).await;
    let oldest = held.show.rsplit('/').next().unwrap().to_owned();
    held.at("2026-07-01T09:00:00Z").await;
    let latest = Held::publish((held.society, held.club, held.secretary), "2027-06-12", 30, json!({})).await;
    let show = json!({
        "name": "Summer Show", "held_on": "2028-06-10", "place": "Quay Town Hall", "closes_wall": "2028-06-09T21:00",
        "zone": "Europe/London"
    });
    let path = format!("/api/v1/clubs/{}/shows", latest.club);
    let show = latest.secretary.post(&path, show).await.expect(201).header("location");
    let path = format!("{show}/draft/copy");
    let copied = send(&latest.secretary, Method::POST, &path, json!({"from_show_id": oldest})).await;
    let copied = copied.expect(200).json();
    let codes: Vec<&str> =
        copied["findings"].as_array().unwrap().iter().map(|one| one["code"].as_str().unwrap()).collect();
    assert!(!codes.contains(&"label-new-meaning"), "{codes:?}");
    assert_eq!(codes.iter().filter(|code| **code == "judge-missing").count(), 1, "{codes:?}");
}
