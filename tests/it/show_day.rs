//! A show from schedule to final results, as the day itself goes.

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_tests::{Actor, TestApp, moment};

use crate::show_kit::send;

fn codes(rows: &Value) -> Vec<String> {
    rows.as_array().unwrap().iter().map(|row| row["code"].as_str().unwrap().to_owned()).collect()
}

/// Points 5, 3, 2 and 1 for a commendation; prizes of 3, 2 and 1 pounds. Class 1 (small pots) and 2 (larger ones).
///
/// On the day: Edda is first in 1; Una and Otto share second, so each has half of 3 + 2 points, 2 1/2, and half of
/// 2 + 1 pounds, 1.50; Una is first in 2 with 5. So Una has 7 1/2 points, Edda 5, Otto 2 1/2, and the trophy for most
/// points is Una's. After the protest Otto's exhibit in 1 is not as schedule, Una is second alone with 3: 8 points.
#[tokio::test]
#[allow(clippy::too_many_lines, reason = "a day at the hall is long")]
async fn a_show_is_held_from_the_schedule_to_the_final_results() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let club = society.club("Quay Town", region).await;
    let bram = society.secretary_of("Bram Oake", club).await;
    let (edda, una, otto) = (
        society.member("Edda Wick").await,
        society.member("Una Fell").await,
        society.member("Otto Reed").await,
    );
    let (judge, steward) = (society.member("Nils Brand").await, society.member("Ida Moss").await);

    // The secretary writes the schedule and publishes it.
    let show = json!({
        "name": "Summer Show", "held_on": "2026-06-13", "place": "Quay Town Hall",
        "closes_wall": "2026-06-11T21:00", "zone": "Europe/London", "hall_opens_at": "2026-06-13T12:00:00Z"
    });
    let show = bram.post(&format!("/api/v1/clubs/{club}/shows"), show).await.expect(201).header("location");
    let mut schedule = bram.get(&format!("{show}/draft")).await.expect(200).json()["schedule"].clone();
    let id = |n: u32| format!("017f22e2-79b0-7cc3-98c4-dc0c0c07000{n}");
    let class = |n: u32, title: &str, pot: Value| {
        json!({
            "id": id(n), "label": n.to_string(), "section": "A", "title": title,
            "rules": {
                "slots": [{"count": 1, "unit": "pot", "pot": pot}], "points": "five", "prizes": [300, 200, 100],
                "fee": {"member": 20, "other": 30}
            }
        })
    };
    schedule["sections"] = json!([{"key": "A", "title": "Regals"}]);
    schedule["classes"] = json!([
        class(1, "One regal, pot to 114.3 mm", json!({"to": {"um": 114_300, "inclusive": true}})),
        class(2, "One regal, larger pot", json!({"from": {"um": 114_300, "inclusive": false}})),
    ]);
    schedule["schemes"] =
        json!([{"key": "five", "places": [5, 3, 2], "commended": [{"code": "HC", "points": 1}]}]);
    schedule["trophies"] = json!([{
        "key": "quay-cup", "title": "The Quay Cup", "classes": {"sections": ["A"]}, "award": {"most_points": null},
        "tie_breaks": ["firsts"]
    }]);
    schedule["protests"] = json!({"minutes_after_opening": 60});
    send(&bram, Method::PUT, &format!("{show}/draft"), schedule).await.expect(200);
    for (role, member) in [("judge", &judge), ("steward", &steward)] {
        let official = json!({"role": role, "member_id": member.id(), "classes": {"all": true}});
        bram.post(&format!("{show}/officials"), official).await.expect(201);
    }
    send(&bram, Method::POST, &format!("{show}/publication"), json!({})).await.expect(200);

    // Exhibitors enter.
    let enter = |who: &Actor, n: u32, mm: f64| {
        let (who, path) = (who.clone(), format!("{show}/entries"));
        let body = json!({"class_id": id(n), "items": [{"name": "Quay Lass", "plant_group": "regal", "pot_mm": mm}]});
        async move {
            let made = who.post(&path, body).await.expect(201);
            (made.header("location"), made.json()["number"].as_i64().unwrap())
        }
    };
    let (edda_1, edda_1_no) = enter(&edda, 1, 100.0).await;
    let (una_1, una_1_no) = enter(&una, 1, 114.3).await;
    let (otto_1, otto_1_no) = enter(&otto, 1, 110.0).await;
    let (una_2, una_2_no) = enter(&una, 2, 130.0).await;
    let withheld = json!({"publish_as": "withheld"});
    send(&otto, Method::PUT, &format!("{show}/exhibitors/me"), withheld).await.expect(200);

    // The day: the steward takes exhibits in, measures, and the secretary moves what fits another class.
    society.clock.advance(moment("2026-06-13T07:30:00Z") - society.clock.now());
    let (bram, edda, una) =
        (society.again(&bram).await, society.again(&edda).await, society.again(&una).await);
    let (judge, steward) = (society.again(&judge).await, society.again(&steward).await);
    let stage = |path: &str| format!("{path}/staging");
    let too_large = json!({"measured": [{"pot_mm": 127.0}]});
    let taken_in = send(&steward, Method::PUT, &stage(&edda_1), too_large).await.expect(200).json();
    assert_eq!(
        (&taken_in["answer"], codes(&taken_in["reasons"])),
        (&json!("no"), vec!["over-size".to_owned()])
    );
    let repotted = json!({"staged": true, "measured": [{"pot_mm": 114.3}]});
    let staged = send(&steward, Method::PUT, &stage(&edda_1), repotted).await.expect(200).json();
    assert_eq!(staged["answer"], "yes");
    for path in [&una_1, &otto_1, &una_2] {
        send(&steward, Method::PUT, &stage(path), json!({"staged": true})).await.expect(200);
    }
    assert_eq!(
        send(&edda, Method::PUT, &stage(&una_1), json!({"staged": true})).await.problem(404),
        "not-found"
    );
    // Moved away and back again, with a reason each time.
    let away = json!({"class_id": id(2), "reason": "The pot measures 127 mm."});
    let moved = send(&bram, Method::POST, &format!("{otto_1}/move"), away).await.expect(200).json();
    assert_eq!((&moved["class"]["label"], &moved["moved_from_class_id"]), (&json!("2"), &json!(id(1))));
    let back = json!({"class_id": id(1), "reason": "Repotted in time."});
    send(&bram, Method::POST, &format!("{otto_1}/move"), back).await.expect(200);

    // The judge sees numbers and no names.
    let sheets = judge.get(&format!("{show}/judging")).await.expect(200);
    for name in ["Edda", "Una", "Otto", "Quay Lass"] {
        assert!(!sheets.text().contains(name), "{name}: {}", sheets.text());
    }
    assert_eq!(sheets.json()[0]["staged"].as_array().unwrap().len(), 3);
    assert_eq!(edda.get(&format!("{show}/judging")).await.expect(200).json(), json!([]));
    let say = |n: u32| format!("{show}/judging/{}", id(n));
    let first = json!({
        "judged": [
            {"entry": edda_1_no, "verdict": {"placed": 1}}, {"entry": una_1_no, "verdict": {"placed": 2}},
            {"entry": otto_1_no, "verdict": {"placed": 2}}
        ],
        "remark": "A strong class.", "signed_off": true
    });
    // A place given twice by a slip is found before anything is given out.
    judge.put(&say(1), first.clone()).await.expect(201);
    judge
        .put(&say(2), json!({"judged": [{"entry": una_2_no, "verdict": {"placed": 1}}], "signed_off": true}))
        .await
        .expect(201);
    let slip = send(&bram, Method::POST, &format!("{show}/results"), json!({"state": "provisional"})).await;
    assert_eq!(slip.problem(422), "invalid-fields");
    let mut meant = first.clone();
    meant["equal"] = json!([2]);
    assert_eq!(send(&judge, Method::PUT, &say(1), meant.clone()).await.fields(), ["/reason required"]);
    meant["reason"] = json!("Second place is shared on purpose.");
    send(&judge, Method::PUT, &say(1), meant.clone()).await.expect(200);
    let outsider = judge.put(&say(2), json!({"judged": []})).await;
    assert_eq!(outsider.problem(428), "precondition-required");
    assert_eq!(send(&edda, Method::PUT, &say(2), json!({"judged": []})).await.problem(403), "not-allowed");
    let wrong = json!({"reason": "Keyed anew.", "judged": [{"entry": una_2_no, "verdict": {"placed": 1}}]});
    assert_eq!(send(&judge, Method::PUT, &say(1), wrong).await.fields(), ["/judged/0/entry not-found"]);

    // Results: the working, then provisional.
    let working = bram.get(&format!("{show}/results/working")).await.expect(200).json();
    let points: Vec<_> = working["results"]["exhibitors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| (one["points"].as_str().unwrap().to_owned(), one["prize"].as_i64().unwrap()))
        .collect();
    // By the exhibitors' numbers: Edda, Una, Otto.
    let owned = |text: &str, pence: i64| (text.to_owned(), pence);
    assert_eq!(points, [owned("5", 300), owned("7 1/2", 450), owned("2 1/2", 150)]);
    assert_eq!(edda.get(&format!("{show}/results/working")).await.problem(403), "not-allowed");
    let visitor = society.visitor();
    assert_eq!(visitor.get(&format!("{show}/results")).await.problem(404), "not-found");
    let early = json!({"state": "final"});
    assert_eq!(
        send(&bram, Method::POST, &format!("{show}/results"), early).await.problem(409),
        "wrong-state"
    );
    let out = send(&bram, Method::POST, &format!("{show}/results"), json!({"state": "provisional"})).await;
    let out = out.expect(201).json();
    assert_eq!((&out["number"], &out["protests_until"]), (&json!(1), &json!("2026-06-13T13:00:00Z")));
    assert_eq!(out["results"]["trophies"][0]["winners"], json!([2]));
    assert_eq!(out["names"][1], json!({"exhibitor": 2, "name": "Una Fell"}));
    let seen = visitor.get(&format!("{show}/results")).await.expect(200);
    assert!(seen.text().contains("Exhibitor 3") && !seen.text().contains("Otto Reed"), "{}", seen.text());
    assert_eq!(seen.json()["results"]["classes"][0]["remark"], "A strong class.");

    // A protest, heard and upheld; the judgment is corrected and the results are given out anew.
    let held =
        json!({"class_id": id(1), "words": "Exhibit 3 stands in a pot of 127 mm.", "deposit_pence": 500});
    let protest = edda.post(&format!("{show}/protests"), held).await.expect(201).json();
    assert_eq!(una.get(&format!("{show}/protests")).await.expect(200).json(), json!([]));
    society.clock.advance(moment("2026-06-13T13:30:00Z") - society.clock.now());
    let (bram, judge, una) =
        (society.again(&bram).await, society.again(&judge).await, society.again(&una).await);
    let late = json!({"words": "I should have been first."});
    assert_eq!(una.post(&format!("{show}/protests"), late).await.problem(409), "wrong-state");
    let open = send(&bram, Method::POST, &format!("{show}/results"), json!({"state": "final"})).await;
    assert!(open.problem(409) == "wrong-state" && open.text().contains("protests"), "{}", open.text());
    let decision = json!({
        "state": "upheld", "sat": "The show committee.", "outcome": "The pot measures 127 mm.", "deposit_returned": true
    });
    let path = format!("{show}/protests/{}/decision", protest["id"].as_str().unwrap());
    send(&bram, Method::PUT, &path, decision.clone()).await.expect(200);
    assert_eq!(send(&bram, Method::PUT, &path, decision).await.problem(409), "wrong-state");
    let corrected = json!({
        "judged": [
            {"entry": edda_1_no, "verdict": {"placed": 1}}, {"entry": una_1_no, "verdict": {"placed": 2}},
            {"entry": otto_1_no, "verdict": {"not_as_schedule": {"reason": "The pot measures 127 mm."}}}
        ],
        "remark": "A strong class.", "reason": "After a protest.", "signed_off": true
    });
    send(&judge, Method::PUT, &say(1), corrected).await.expect(200);
    let versions = judge.get(&format!("{}/versions", say(1))).await.expect(200).json();
    assert_eq!(versions.as_array().unwrap().len(), 3);
    let anew = json!({"state": "provisional", "reason": "After a protest."});
    send(&bram, Method::POST, &format!("{show}/results"), anew).await.expect(201);
    let last = send(&bram, Method::POST, &format!("{show}/results"), json!({"state": "final"})).await;
    let last = last.expect(201).json();
    assert_eq!((&last["number"], &last["state"]), (&json!(3), &json!("final")));
    // Results as they were given out the first time stay as they were, for officers; others read the last.
    assert_eq!(visitor.get(&format!("{show}/results?number=1")).await.problem(404), "not-found");
    let first_time = bram.get(&format!("{show}/results?number=1")).await.expect(200).json();
    assert_eq!(first_time["sha256"], out["sha256"]);
    let working = bram.get(&format!("{show}/results/working")).await.expect(200).json();
    assert_eq!(working["results"]["exhibitors"][1]["points"], "8");
    // What was won is history: a class for those without a first is shut to Edda next year.
    let history = society
        .read(move |conn| {
            Ok(storksbill_db::rows::entries::histories(conn, &[edda.id()])?
                .remove(&edda.id())
                .map_or(0, |won| won.len()))
        })
        .await;
    assert_eq!(history, 1);
    assert_eq!(
        send(&bram, Method::POST, &format!("{show}/results"), json!({"state": "final"})).await.problem(409),
        "wrong-state"
    );

    // Everything is printed, the judges' sheets without a name.
    for (what, holds) in [
        ("schedule", "no more than 114.3 mm"),
        ("cards", "Edda Wick"),
        ("stewards", "Una Fell"),
        ("judges", "Place"),
        ("results", "A strong class."),
        ("prizes", "£5.00"),
    ] {
        let page = bram.get(&format!("{show}/print/{what}")).await.expect(200);
        assert_eq!(page.header("content-type"), "text/html; charset=utf-8");
        assert!(page.text().contains(holds), "{what}: {}", page.text());
    }
    let booklet = visitor.get(&format!("{show}/print/schedule")).await.expect(200).text();
    for words in [
        "size: A5",
        "Judged by Nils Brand.",
        "Entry £0.20, others £0.30; prizes £3.00, £2.00, £1.00",
        "Points: 5, 3, 2 for first and so on; HC 1.",
        "after two firsts comes a third",
        "Protests are taken until 60 minutes after the hall opens",
    ] {
        assert!(booklet.contains(words), "{words}: {booklet}");
    }
    let judges = judge.get(&format!("{show}/print/judges")).await.expect(200).text();
    let numbers = bram.get(&format!("{show}/print/cards?layout=number_only")).await.expect(200).text();
    for name in ["Edda", "Una", "Otto"] {
        assert!(!judges.contains(name) && !numbers.contains(name), "{name}");
    }
    let first = visitor.get("/").await.text();
    let link = format!("<a href=\"{show}/print/results\">Summer Show, 13 June 2026</a>: final");
    assert!(first.contains(&link), "{first}");
    // The feeds tell of the show, its amendments and its results.
    let calendar = visitor.get("/api/v1/shows.ics").await.expect(200).text();
    assert!(calendar.contains("DTSTART;VALUE=DATE:20260613\r\n"), "{calendar}");
    assert!(calendar.contains("DTSTART:20260611T200000Z\r\n"), "{calendar}");
    let news = visitor.get("/api/v1/shows.atom").await.expect(200).text();
    assert!(news.contains("Schedule published") && news.contains("Results (final)"), "{news}");
    let table = bram.get(&format!("{show}/entries.csv")).await.expect(200).text();
    assert_eq!(table.lines().count(), 5, "{table}");
}
