//! What a show is kept from: names of the young in print, results that change unseen, entries that lose their class.

use reqwest::Method;
use serde_json::{Value, json};

use crate::show_kit::{Held, class_id, send};

/// A schedule's classes, less the nth.
fn without(mut schedule: Value, n: usize) -> Value {
    schedule["classes"].as_array_mut().unwrap().remove(n - 1);
    schedule
}

#[tokio::test]
async fn those_under_age_are_told_by_initials_whatever_they_say_and_their_age_must_be_known() {
    let mut held = Held::publish(Held::society().await, "2026-06-13", 2, json!({})).await;
    let mut schedule =
        held.secretary.get(&format!("{}/draft", held.show)).await.expect(200).json()["schedule"].clone();
    schedule["classes"][0]["rules"]["entrants"] = json!({"age": {"to": 15, "on": "2026-06-13"}});
    send(&held.secretary, Method::PUT, &format!("{}/draft", held.show), schedule).await.expect(200);
    let why = json!({"reason": "The class is for the young."});
    send(&held.secretary, Method::POST, &format!("{}/publication", held.show), why).await.expect(200);

    let wren = held.society.member("Wren Fell").await;
    let entry = json!({"class_id": class_id(1), "items": [{"name": "Quay Lass", "plant_group": "regal"}]});
    let refused = wren.post(&format!("{}/entries", held.show), entry).await;
    assert_eq!(refused.fields(), ["/class_id age-unknown"]);
    let me = format!("{}/exhibitors/me", held.show);
    wren.put(&me, json!({"born_on": "2014-05-01", "publish_as": "name"})).await.expect(201);
    let (address, number) = held.enter(&wren, 1).await;
    // What was said of the birth is not unsaid by leaving it out.
    let told = send(&wren, Method::PUT, &me, json!({})).await.expect(200).json();
    assert_eq!((&told["born_on"], &told["publish_as"]), (&json!("2014-05-01"), &json!("initials")));

    held.at("2026-06-13T09:00:00Z").await;
    held.stage(&[&address]).await;
    held.judge(1, &[(number, 1)]).await;
    held.finish("2026-06-13T13:30:00Z").await;
    let visitor = held.society.visitor();
    let results = visitor.get(&format!("{}/results", held.show)).await.expect(200).text();
    assert!(results.contains("W. F.") && !results.contains("Wren"), "{results}");
}

#[tokio::test]
async fn once_entries_are_closed_only_how_one_is_published_changes() {
    let mut held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let (una, otto) = (held.society.member("Una Fell").await, held.society.member("Otto Reed").await);
    let (address, number) = held.enter(&una, 1).await;
    held.at("2026-06-13T09:00:00Z").await;
    let (una, otto) = (held.society.again(&una).await, held.society.again(&otto).await);
    let me = format!("{}/exhibitors/me", held.show);
    assert_eq!(otto.put(&me, json!({})).await.problem(409), "wrong-state");
    let trade = send(&una, Method::PUT, &me, json!({"in_the_trade": true})).await;
    assert_eq!(trade.problem(409), "wrong-state");
    let hidden = send(&una, Method::PUT, &me, json!({"publish_as": "withheld"})).await.expect(200).json();
    assert_eq!(hidden["publish_as"], "withheld");
    // Who has nothing in the show raises no protest.
    held.stage(&[&address]).await;
    held.judge(1, &[(number, 1)]).await;
    let results = format!("{}/results", held.show);
    send(&held.secretary, Method::POST, &results, json!({"state": "provisional"})).await.expect(201);
    let protest = json!({"words": "The pot is too wide.", "deposit_pence": 100});
    let refused = otto.post(&format!("{}/protests", held.show), protest).await;
    assert_eq!(refused.problem(403), "not-allowed");
}

#[tokio::test]
async fn results_are_final_only_as_they_were_open_to_protest_and_with_every_trophy_chosen() {
    let trophies = json!({"trophies": [
        {"key": "best", "title": "The Quay Rosette", "classes": {"all": true}, "award": "best_exhibit"}
    ]});
    let mut held = Held::publish(Held::society().await, "2026-06-13", 1, trophies).await;
    let una = held.society.member("Una Fell").await;
    let edda = held.society.member("Edda Wick").await;
    let ((una_at, una_no), (edda_at, edda_no)) = (held.enter(&una, 1).await, held.enter(&edda, 1).await);
    held.at("2026-06-13T09:00:00Z").await;
    held.stage(&[&una_at, &edda_at]).await;
    held.judge(1, &[(una_no, 1), (edda_no, 2)]).await;

    // The time for protests runs from the opening of the hall.
    send(
        &held.secretary,
        Method::PATCH,
        &held.show,
        json!({"hall_opens_at": null, "reason": "The hour is not settled."}),
    )
    .await
    .expect(200);
    let results = format!("{}/results", held.show);
    let give = |state: Value| {
        let (secretary, results) = (held.secretary.clone(), results.clone());
        async move { send(&secretary, Method::POST, &results, state).await }
    };
    assert_eq!(give(json!({"state": "provisional"})).await.fields(), ["/hall_opens_at required"]);
    let opens = json!({"hall_opens_at": "2026-06-13T12:00:00Z"});
    send(&held.secretary, Method::PATCH, &held.show, opens).await.expect(200);
    give(json!({"state": "provisional"})).await.expect(201);
    let later = json!({"hall_opens_at": "2026-06-13T08:00:00Z", "reason": "The hall was open at eight."});
    let moved = send(&held.secretary, Method::PATCH, &held.show, later).await;
    assert_eq!(moved.problem(409), "wrong-state");
    let page = held.society.visitor().get(&format!("{}/print/results", held.show)).await.expect(200).text();
    assert!(page.contains("still to be chosen"), "{page}");

    held.at("2026-06-13T13:30:00Z").await;
    let results = format!("{}/results", held.show);
    let give = |state: Value| {
        let (secretary, results) = (held.secretary.clone(), results.clone());
        async move { send(&secretary, Method::POST, &results, state).await }
    };
    let open = give(json!({"state": "final"})).await;
    assert!(open.text().contains("The Quay Rosette"), "{}", open.text());
    assert_eq!(open.problem(409), "wrong-state");
    let choice = json!({"choice": {"exhibit": una_no}, "judge": "Nils Brand"});
    held.secretary.put(&format!("{}/choices/best", held.show), choice).await.expect(204);
    // Not as it was given out: nobody could protest.
    assert_eq!(give(json!({"state": "final"})).await.problem(409), "wrong-state");
    give(json!({"state": "provisional", "reason": "The best exhibit was chosen."})).await.expect(201);
    give(json!({"state": "final"})).await.expect(201);
}

#[tokio::test]
async fn a_deadline_by_the_clock_holds_without_an_opening() {
    let by_clock = json!({"protests": {"wall_clock": "2026-06-13T15:00:00"}});
    let mut held = Held::publish(Held::society().await, "2026-06-13", 1, by_clock).await;
    let una = held.society.member("Una Fell").await;
    let (address, number) = held.enter(&una, 1).await;
    send(
        &held.secretary,
        Method::PATCH,
        &held.show,
        json!({"hall_opens_at": null, "reason": "The hour is not settled."}),
    )
    .await
    .expect(200);
    held.at("2026-06-13T09:00:00Z").await;
    held.stage(&[&address]).await;
    held.judge(1, &[(number, 1)]).await;
    let results = format!("{}/results", held.show);
    let out =
        send(&held.secretary, Method::POST, &results, json!({"state": "provisional"})).await.expect(201);
    assert_eq!(out.json()["protests_until"], "2026-06-13T14:00:00Z");
    let early = send(&held.secretary, Method::POST, &results, json!({"state": "final"})).await;
    assert_eq!(early.problem(409), "wrong-state");
}

#[tokio::test]
async fn a_class_stays_in_the_schedule_while_entries_stand_in_it_and_is_named_to_those_withdrawn() {
    let held = Held::publish(Held::society().await, "2026-06-13", 2, json!({})).await;
    let una = held.society.member("Una Fell").await;
    let draft = format!("{}/draft", held.show);
    let schedule = held.secretary.get(&draft).await.expect(200).json()["schedule"].clone();
    send(&held.secretary, Method::PUT, &draft, without(schedule, 2)).await.expect(200);
    // Entered after the draft was stored, before it is published.
    let (entry, _) = held.enter(&una, 2).await;
    let publication = format!("{}/publication", held.show);
    let why = json!({"reason": "Nobody enters class 2."});
    assert_eq!(send(&held.secretary, Method::POST, &publication, why.clone()).await.problem(409), "in-use");
    send(&una, Method::POST, &format!("{entry}/withdrawal"), json!({})).await.expect(200);
    send(&held.secretary, Method::POST, &publication, why).await.expect(200);
    for told in [
        una.get(&format!("{}/entries/mine", held.show)).await.expect(200).json()[0].clone(),
        held.secretary.walk(&format!("{}/entries", held.show)).await[0].clone(),
    ] {
        assert_eq!((&told["state"], &told["class"]["label"]), (&json!("withdrawn"), &json!("2")), "{told}");
    }
}

#[tokio::test]
async fn what_a_judge_saw_stays_and_stewards_find_what_they_stage() {
    let mut held = Held::publish(Held::society().await, "2026-06-13", 2, json!({})).await;
    let una = held.society.member("Una Fell").await;
    let ida = held.society.member("Ida Moss").await;
    let ((una_1, una_1_no), (una_2, _)) = (held.enter(&una, 1).await, held.enter(&una, 2).await);
    let steward = json!({"role": "steward", "member_id": ida.id(), "classes": {"classes": [class_id(1)]}});
    held.secretary.post(&format!("{}/officials", held.show), steward).await.expect(201);
    held.at("2026-06-13T09:00:00Z").await;
    let ida = held.society.again(&ida).await;
    let list = ida.get(&format!("{}/staging", held.show)).await.expect(200);
    assert!(!list.text().contains("Una"), "{}", list.text());
    let list = list.json();
    assert_eq!((list.as_array().unwrap().len(), &list[0]["number"]), (1, &json!(una_1_no)), "{list}");
    let path = format!("{}/entries/{}/staging", held.show, list[0]["entry_id"].as_str().unwrap());
    let etag = format!("\"{}\"", list[0]["version"]);
    let staged = ida.request(Method::PUT, &path).header("if-match", &etag).json(&json!({"staged": true}));
    staged.send().await.expect(200);
    assert_eq!(
        held.society.again(&una).await.get(&format!("{}/staging", held.show)).await.expect(200).json(),
        json!([])
    );
    held.stage(&[&una_2]).await;
    held.judge(1, &[(una_1_no, 1)]).await;
    let away = json!({"staged": false});
    assert_eq!(send(&ida, Method::PUT, &path, away).await.problem(409), "wrong-state");
    for (method, end, body) in [
        (Method::POST, "/withdrawal", json!({"reason": "It wilted."})),
        (Method::PATCH, "", json!({"class_id": class_id(2), "late_reason": "It fits better."})),
        (Method::POST, "/move", json!({"class_id": class_id(2), "reason": "It fits better."})),
    ] {
        let refused = send(&held.secretary, method, &format!("{una_1}{end}"), body).await;
        assert_eq!(refused.problem(409), "wrong-state", "{end}");
    }
}

#[tokio::test]
async fn money_given_back_is_a_number_in_the_table() {
    let held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let una = held.society.member("Una Fell").await;
    held.enter(&una, 1).await;
    let exhibitor = held.secretary.walk(&format!("{}/exhibitors", held.show)).await[0]["id"].clone();
    for pence in [500, -480] {
        let receipt = json!({"exhibitor_id": exhibitor, "pence": pence, "how": "cash"});
        held.secretary.post(&format!("{}/receipts", held.show), receipt).await.expect(201);
    }
    let table = held.secretary.get(&format!("{}/receipts.csv", held.show)).await.expect(200).text();
    let sum: i64 =
        table.lines().skip(1).map(|line| line.split(',').nth(4).unwrap().parse::<i64>().unwrap()).sum();
    assert_eq!(sum, 20, "{table}");
}
