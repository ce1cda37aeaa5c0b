//! Shows and their classes.

use serde_json::{Value, json};
use storksbill_domain::ids::ClubId;
use storksbill_tests::{Actor, Answer, TestApp};
use tokio::task::JoinSet;

fn summer_show() -> Value {
    json!({
        "name": "Summer Show",
        "held_on": "2026-06-13",
        "place": "Quay Town Hall",
        "closes_wall": "2026-06-11T21:00",
        "zone": "Europe/London",
        "notes": "Staging from 7 until 9.30."
    })
}

/// A club with its secretary.
async fn quay_town(society: &TestApp) -> (ClubId, Actor) {
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    (club, society.secretary_of("Bram Oake", club).await)
}

async fn enter(secretary: &Actor, club: ClubId, show: Value) -> Answer {
    secretary.post(&format!("/api/v1/clubs/{club}/shows"), show).await
}

fn one_regal(label: &str) -> Value {
    json!({
        "label": label, "title": "One regal pelargonium",
        "rules": {"slots": [{"count": 1, "unit": "pot", "taxa": {"groups": ["regal"]}}]}
    })
}

async fn enter_class(secretary: &Actor, show: &str, label: &str) -> Answer {
    secretary.post(&format!("{show}/draft/classes"), one_regal(label)).await
}

/// The summer show with class 1, published.
async fn published(secretary: &Actor, club: ClubId) -> String {
    let show = enter(secretary, club, summer_show()).await.expect(201).header("location");
    enter_class(secretary, &show, "1").await.expect(201);
    publish(secretary, &show).await.expect(200);
    show
}

async fn publish(secretary: &Actor, show: &str) -> Answer {
    let path = format!("{show}/publication");
    secretary.request(reqwest::Method::POST, &path).header("if-match", "*").json(&json!({})).send().await
}

async fn amend(secretary: &Actor, show: &str, reason: &str) -> Answer {
    let path = format!("{show}/publication");
    let body = json!({"reason": reason});
    secretary.request(reqwest::Method::POST, &path).header("if-match", "*").json(&body).send().await
}

async fn delete(secretary: &Actor, path: &str) -> Answer {
    secretary.request(reqwest::Method::DELETE, path).header("if-match", "*").send().await
}

/// The address of a class of the draft, as it is read.
fn class_path(show: &str, id: &str) -> String {
    format!("{show}/classes/{id}")
}

fn texts(rows: &[Value], field: &str) -> Vec<String> {
    rows.iter().map(|row| row[field].as_str().unwrap().to_owned()).collect()
}

#[tokio::test]
async fn a_secretary_enters_a_show_and_publishes_it_with_its_classes() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let made = enter(&bram, club, summer_show()).await.expect(201);
    assert_eq!((made.json()["state"].as_str(), made.etag().as_str()), (Some("draft"), "\"1\""));
    // British Summer Time: an hour ahead of UTC.
    assert_eq!(made.json()["closes_at"], "2026-06-11T20:00:00Z");
    let show = made.header("location");
    let empty = publish(&bram, &show).await;
    assert_eq!(
        (empty.problem(422).as_str(), empty.fields()),
        ("invalid-fields", vec!["/ no-classes".to_owned()])
    );
    let class = bram
        .post(
            &format!("{show}/draft/classes"),
            json!({
                "label": "106a", "title": "One dwarf zonal",
                "rules": {
                    "slots": [{
                        "count": 1, "unit": "pot", "taxa": {"groups": ["dwarf"]},
                        "pot": {"to": {"um": 114_300, "inclusive": true}, "words": "not exceeding 4½ in"}
                    }],
                    "words": "In a pot of at most four and a half inches.", "fee": {"member": 20, "other": 30}
                }
            }),
        )
        .await
        .expect(201);
    assert_eq!(class.json()["label"], "106A");
    let out = publish(&bram, &show).await.expect(200).json();
    assert_eq!((&out["number"], &out["changes"], &out["reason"]), (&json!(1), &json!([]), &Value::Null));
    assert_eq!(out["published_at"], "2026-05-10T12:00:00Z");
    // Twice is once: nothing differs.
    assert_eq!(publish(&bram, &show).await.problem(409), "wrong-state");
    let visitor = society.visitor();
    let seen = visitor.get(&show).await.expect(200);
    assert_eq!((&seen.json()["state"], &seen.json()["schedule_number"]), (&json!("published"), &json!(1)));
    let listed = visitor.walk(&format!("{show}/classes")).await;
    assert_eq!(
        (listed.len(), &listed[0]["id"], &listed[0]["rules"]),
        (1, &class.json()["id"], &class.json()["rules"])
    );
    let path = class_path(&show, &class.id());
    assert_eq!(visitor.get(&path).await.expect(200).json(), listed[0]);
    let known =
        visitor.request(reqwest::Method::GET, &show).header("if-none-match", &seen.etag()).send().await;
    assert_eq!(known.status, 304);
}

/// The order whose sources stand beside `storksbill_domain::shows::ClassLabel`; here through the database's own
/// sorting, in pages.
#[tokio::test]
async fn classes_are_listed_as_a_schedule_prints_them() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = enter(&bram, club, summer_show()).await.expect(201).header("location");
    let printed = ["1", "2", "9", "10", "10A", "11", "106", "106A", "107", "113A", "A801"];
    let entered = ["A801", "11", "107", "1", "106A", "10", "113A", "2", "10A", "106", "9"];
    for label in entered {
        enter_class(&bram, &show, label).await.expect(201);
    }
    assert_eq!(texts(&bram.walk(&format!("{show}/classes?limit=3")).await, "label"), printed);
}

#[tokio::test]
async fn closing_follows_the_wall_clock_through_the_clock_change() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    // The clocks go forward on the last Sunday of March, here 28 March 2027, and back on the last of October,
    // here the 31st, both at 01:00 UTC (United Kingdom, Summer Time Order 2002; from memory).
    for (held_on, closes_wall, closes_at) in [
        ("2027-03-28", "2027-03-27T21:00", "2027-03-27T21:00:00Z"),
        ("2027-03-28", "2027-03-28T07:30", "2027-03-28T06:30:00Z"),
        // Twice that night; the later one holds.
        ("2027-10-31", "2027-10-31T01:30", "2027-10-31T01:30:00Z"),
        ("2027-10-31", "2027-10-31T23:59", "2027-10-31T23:59:00Z"),
    ] {
        let mut show = summer_show();
        show["held_on"] = json!(held_on);
        show["closes_wall"] = json!(closes_wall);
        assert_eq!(
            enter(&bram, club, show).await.expect(201).json()["closes_at"],
            closes_at,
            "{closes_wall}"
        );
    }
    let mut skipped = summer_show();
    skipped["held_on"] = json!("2027-03-28");
    skipped["closes_wall"] = json!("2027-03-28T01:30");
    assert_eq!(enter(&bram, club, skipped).await.fields(), ["/closes_wall skipped-by-the-clocks"]);
}

#[tokio::test]
async fn everything_wrong_with_a_show_is_said_at_once() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let refused = enter(
        &bram,
        club,
        json!({
            "name": "x", "held_on": "2026-06-13", "place": "", "closes_wall": "2026-06-14T00:00",
            "zone": "Merrow/Quay", "fee": 1
        }),
    )
    .await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        [
            "/closes_wall out-of-range",
            "/fee unknown-field",
            "/name too-short",
            "/place required",
            "/zone unknown-zone"
        ]
    );
    for time in ["2026-06-11 21:00", "2026-06-11T25:00", "2026-06-11T21:00:00Z", "soon"] {
        let mut show = summer_show();
        show["closes_wall"] = json!(time);
        assert_eq!(enter(&bram, club, show).await.fields(), ["/closes_wall not-a-time"], "{time}");
    }
}

#[tokio::test]
async fn a_draft_is_seen_by_those_who_act_for_its_club_alone() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let other = society.club("High Moor", society.region("The Moor").await).await;
    let show = enter(&bram, club, summer_show()).await.expect(201).header("location");
    let class = class_path(&show, &enter_class(&bram, &show, "1").await.expect(201).id());
    let una = society.administrator("Una Marsh").await;
    let elsewhere = society.secretary_of("Otto Fell", other).await;
    let clubmate = society.member_of("Edda Wick", club).await;
    for insider in [&bram, &una] {
        insider.get(&show).await.expect(200);
        insider.get(&class).await.expect(200);
        assert_eq!(insider.walk("/api/v1/shows").await.len(), 1);
    }
    for outsider in [&elsewhere, &clubmate, &society.visitor()] {
        assert_eq!(outsider.get(&show).await.problem(404), "not-found");
        assert_eq!(outsider.get(&class).await.problem(404), "not-found");
        assert_eq!(outsider.get(&format!("{show}/classes")).await.problem(404), "not-found");
        assert_eq!(outsider.walk("/api/v1/shows").await.len(), 0);
    }
    // Another club's secretary is not even told that it is there.
    assert_eq!(elsewhere.patch(&show, "*", json!({"place": "The Moor"})).await.problem(404), "not-found");
    assert_eq!(elsewhere.get(&format!("{show}/draft")).await.problem(404), "not-found");
    assert_eq!(publish(&elsewhere, &show).await.problem(404), "not-found");
}

#[tokio::test]
async fn shows_are_entered_and_changed_for_ones_own_club_only() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let other = society.club("High Moor", society.region("The Moor").await).await;
    let elsewhere = society.secretary_of("Otto Fell", other).await;
    let clubmate = society.member_of("Edda Wick", club).await;
    assert_eq!(enter(&clubmate, club, summer_show()).await.problem(403), "not-allowed");
    assert_eq!(enter(&elsewhere, club, summer_show()).await.problem(403), "not-allowed");
    assert_eq!(enter(&society.visitor(), club, json!({})).await.problem(401), "not-logged-in");
    let una = society.administrator("Una Marsh").await;
    assert_eq!(enter(&una, ClubId::fresh(), summer_show()).await.problem(404), "not-found");
    let show = published(&bram, club).await;
    for (outsider, problem) in [(&clubmate, 403), (&elsewhere, 403), (&society.visitor(), 401)] {
        outsider.patch(&show, "*", json!({"place": "The Moor"})).await.problem(problem);
        enter_class(outsider, &show, "2").await.problem(problem);
        publish(outsider, &show).await.problem(problem);
    }
    let moved = json!({"place": "The old school", "reason": "The hall is flooded."});
    una.patch(&show, "*", moved).await.expect(200);
}

#[tokio::test]
async fn a_draft_is_changed_by_who_read_its_version() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = enter(&bram, club, summer_show()).await.expect(201).header("location");
    let blind = bram.request(reqwest::Method::PATCH, &show).json(&json!({"name": "Show"})).send().await;
    assert_eq!(blind.problem(428), "precondition-required");
    let later = json!({"held_on": "2026-11-14", "closes_wall": "2026-11-12T21:00", "notes": null});
    let moved = bram.patch(&show, "\"1\"", later).await.expect(200);
    assert_eq!(moved.json()["closes_at"], "2026-11-12T21:00:00Z");
    assert_eq!((&moved.json()["notes"], moved.json()["name"].as_str()), (&Value::Null, Some("Summer Show")));
    assert_eq!(bram.patch(&show, "\"1\"", json!({"name": "Show"})).await.problem(412), "version-mismatch");
    // Day and closing time are held against each other, whichever of them is changed.
    let before = bram.patch(&show, "\"2\"", json!({"held_on": "2026-11-11"})).await;
    assert_eq!(before.fields(), ["/closes_wall out-of-range"]);
    let cleared = bram.patch(&show, "\"2\"", json!({"zone": null, "held_on": null, "name": null})).await;
    assert_eq!(cleared.fields(), ["/held_on required", "/name required", "/zone required"]);
}

#[tokio::test]
async fn a_published_schedule_changes_by_an_amendment_alone() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = published(&bram, club).await;
    let refused = bram
        .patch(
            &show,
            "*",
            json!({"closes_wall": "2026-06-12T21:00", "name": "Late Show", "place": "Elsewhere"}),
        )
        .await;
    assert_eq!(refused.problem(409), "wrong-state");
    assert_eq!(refused.fields(), ["/closes_wall published", "/name published"]);
    assert!(refused.json()["detail"].as_str().unwrap().contains("amendment"), "{}", refused.text());
    // What is sent back unchanged is no change.
    let notes = "Staging from 7 until 9.30.";
    let same = json!({"name": "Summer Show", "place": "Quay Town Hall", "notes": notes});
    bram.patch(&show, "*", same).await.expect(200);
    // The draft goes on beside the version in force.
    let first = society.visitor().get(&format!("{show}/schedule")).await.expect(200).json();
    enter_class(&bram, &show, "2").await.expect(201);
    assert_eq!(society.visitor().walk(&format!("{show}/classes")).await.len(), 1);
    let draft = bram.get(&format!("{show}/draft")).await.expect(200).json();
    assert_eq!(draft["changes"].as_array().unwrap().len(), 1);
    assert_eq!(publish(&bram, &show).await.fields(), ["/reason required"]);
    society.clock.advance(chrono::TimeDelta::days(1));
    let bram = bram.with_token(&fresh_token(&society, &bram).await);
    let second = amend(&bram, &show, "A class was left out by the printer.").await.expect(200).json();
    assert_eq!((&second["number"], second["changes"].as_array().unwrap().len()), (&json!(2), 1));
    assert_eq!(society.visitor().walk(&format!("{show}/classes")).await.len(), 2);
    let versions = society.visitor().get(&format!("{show}/schedule/versions")).await.expect(200).json();
    assert_eq!(texts(versions.as_array().unwrap(), "sha256").len(), 2);
    // As it was on any day, and by its number.
    let visitor = society.visitor();
    for query in ["at=2026-05-10T13:00:00Z", "number=1"] {
        assert_eq!(
            visitor.get(&format!("{show}/schedule?{query}")).await.expect(200).json(),
            first,
            "{query}"
        );
    }
    assert_eq!(
        visitor.get(&format!("{show}/schedule?at=2026-05-09T00:00:00Z")).await.problem(404),
        "not-found"
    );
    // A class that was published and is taken out leaves its number behind.
    let class = &visitor.walk(&format!("{show}/classes")).await[1];
    let path = format!("{show}/draft/classes/{}", class["id"].as_str().unwrap());
    delete(&bram, &path).await.expect(204);
    enter_class(&bram, &show, "2").await.expect(201);
    let again = amend(&bram, &show, "Another class altogether.").await;
    assert_eq!(again.fields(), ["classes 2 label-withdrawn"]);
}

/// A token of the clock's now.
async fn fresh_token(society: &TestApp, actor: &Actor) -> String {
    use diesel::prelude::*;
    use storksbill_db::schema::sessions;
    let id = actor.id();
    let session: storksbill_domain::ids::SessionId = society
        .read(move |conn| {
            let own = sessions::table.filter(sessions::member_id.eq(id)).select(sessions::id);
            Ok(own.first(conn)?)
        })
        .await;
    society.token(actor.id(), session)
}

/// The hash is that of the text itself: RFC 8785 (2020), canonical JSON.
#[tokio::test]
async fn a_version_is_known_by_the_hash_of_its_text() {
    use sha2::{Digest, Sha256};
    use storksbill_db::rows::shows;
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = published(&bram, club).await;
    let told = society.visitor().get(&format!("{show}/schedule")).await.expect(200).json();
    let id: storksbill_domain::ids::ShowId = show.rsplit('/').next().unwrap().parse().unwrap();
    let kept = society.read(move |conn| Ok(shows::version(conn, id, 1)?.unwrap())).await;
    let hash = Sha256::digest(kept.document.as_bytes());
    let hash = hash.iter().fold(String::new(), |hash, byte| hash + &format!("{byte:02x}"));
    assert_eq!(told["version"]["sha256"], json!(hash));
    assert_eq!(serde_json::from_str::<Value>(&kept.document).unwrap(), told["schedule"]);
}

#[tokio::test]
async fn last_years_schedule_is_copied_with_its_links() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let old = published(&bram, club).await;
    let mut next = summer_show();
    next["held_on"] = json!("2027-06-12");
    next["closes_wall"] = json!("2027-06-10T21:00");
    let new = enter(&bram, club, next).await.expect(201).header("location");
    let from = json!({"from_show_id": old.rsplit('/').next().unwrap()});
    let path = format!("{new}/draft/copy");
    let copied = bram
        .request(reqwest::Method::POST, &path)
        .header("if-match", "\"1\"")
        .json(&from)
        .send()
        .await
        .expect(200);
    let (before, after) =
        (&bram.walk(&format!("{old}/classes")).await[0], &copied.json()["schedule"]["classes"][0]);
    assert_eq!((&after["follows"], &after["label"]), (&before["id"], &before["label"]));
    assert_ne!(after["id"], before["id"]);
    assert_eq!(copied.json()["schedule"]["held_on"], "2027-06-12");
    let other = json!({"from_show_id": new.rsplit('/').next().unwrap()});
    let refused =
        bram.request(reqwest::Method::POST, &path).header("if-match", "*").json(&other).send().await;
    assert_eq!(refused.fields(), ["/from_show_id not-found"]);
}

#[tokio::test]
async fn a_show_that_is_called_off_stays_on_record() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = published(&bram, club).await;
    let path = format!("{show}/cancellation");
    let off = json!({"reason": "The hall is flooded."});
    let done = bram.request(reqwest::Method::POST, &path).header("if-match", "*").json(&off).send().await;
    assert_eq!(done.expect(200).json()["state"], "cancelled");
    assert_eq!(society.visitor().get(&show).await.expect(200).json()["state"], "cancelled");
    assert_eq!(enter_class(&bram, &show, "9").await.problem(409), "wrong-state");
}

#[tokio::test]
async fn shows_are_listed_by_day_and_found_by_club_and_dates() {
    let society = TestApp::start().await;
    let (here, bram) = quay_town(&society).await;
    let there = society.club("High Moor", society.region("The Moor").await).await;
    let otto = society.secretary_of("Otto Fell", there).await;
    for (secretary, club, day) in [
        (&bram, here, "2026-09-05"),
        (&otto, there, "2026-04-18"),
        (&bram, here, "2026-06-13"),
        (&otto, there, "2026-06-13"),
        (&otto, there, "2026-12-01"),
    ] {
        let mut show = summer_show();
        show["held_on"] = json!(day);
        show["closes_wall"] = json!(format!("{day}T08:00"));
        let show = enter(secretary, club, show).await.expect(201).header("location");
        if day != "2026-12-01" {
            enter_class(secretary, &show, "1").await.expect(201);
            publish(secretary, &show).await.expect(200);
        }
    }
    let visitor = society.visitor();
    let days = texts(&visitor.walk("/api/v1/shows?limit=1").await, "held_on");
    assert_eq!(days, ["2026-04-18", "2026-06-13", "2026-06-13", "2026-09-05"]);
    let found = |query: &'static str| {
        let visitor = visitor.clone();
        async move { texts(&visitor.walk(&format!("/api/v1/shows?{query}")).await, "held_on") }
    };
    assert_eq!(found("from=2026-06-13&to=2026-06-13").await.len(), 2);
    assert_eq!(found("from=2026-06-14").await, ["2026-09-05"]);
    assert_eq!(found("to=2026-06-12").await, ["2026-04-18"]);
    let here_only = visitor.walk(&format!("/api/v1/shows?club_id={here}")).await;
    assert_eq!(texts(&here_only, "held_on"), ["2026-06-13", "2026-09-05"]);
    assert_eq!(otto.walk("/api/v1/shows").await.len(), 5, "with the draft of their own");
    assert_eq!(bram.walk("/api/v1/shows").await.len(), 4);
    assert_eq!(visitor.get("/api/v1/shows?from=spring").await.problem(422), "invalid-query");
    assert_eq!(visitor.with_token("x.y.z").get("/api/v1/shows").await.problem(401), "bad-token");
}

#[tokio::test]
async fn a_class_number_is_unique_in_its_show() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = enter(&bram, club, summer_show()).await.expect(201).header("location");
    let other = enter(&bram, club, summer_show()).await.expect(201).header("location");
    let first = enter_class(&bram, &show, "10A").await.expect(201);
    let twice = enter_class(&bram, &show, " 10a ").await;
    assert_eq!(twice.problem(409), "taken");
    assert_eq!(twice.fields(), ["/label taken"]);
    enter_class(&bram, &other, "10A").await.expect(201);
    let second = enter_class(&bram, &show, "11").await.expect(201);
    let path = second.header("location");
    let put = |body: Value, etag: &'static str| {
        let (bram, path) = (bram.clone(), path.clone());
        async move { bram.request(reqwest::Method::PUT, &path).header("if-match", etag).json(&body).send().await }
    };
    assert_eq!(put(one_regal("10A"), "*").await.problem(409), "taken");
    assert_eq!(put(one_regal("9"), "\"1\"").await.problem(412), "version-mismatch");
    let moved = put(one_regal("9"), "\"3\"").await.expect(200);
    assert_eq!((&moved.json()["id"], &moved.json()["label"]), (&second.json()["id"], &json!("9")));
    assert_eq!(texts(&bram.walk(&format!("{show}/classes")).await, "label"), ["9", "10A"]);
    let faulty = put(json!({"label": "1-2", "title": "x", "rules": {"slots": []}}), "*").await;
    assert_eq!(faulty.fields(), ["/label invalid-value", "/rules/slots required", "/title too-short"]);
    delete(&bram, &first.header("location")).await.expect(204);
    assert_eq!(delete(&bram, &first.header("location")).await.problem(404), "not-found");
    assert_eq!(texts(&bram.walk(&format!("{show}/classes")).await, "label"), ["9"]);
}

#[tokio::test]
async fn shows_and_classes_sent_again_are_entered_once() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let path = format!("/api/v1/clubs/{club}/shows");
    let first = bram.post_once(&path, "show-1", summer_show()).await.expect(201);
    let again = bram.post_once(&path, "show-1", summer_show()).await.expect(201);
    assert_eq!(first.json(), again.json());
    assert_eq!(bram.walk("/api/v1/shows").await.len(), 1);
    let classes = format!("{}/draft/classes", first.header("location"));
    let class = one_regal("1");
    let made = bram.post_once(&classes, "class-1", class.clone()).await.expect(201);
    publish(&bram, &first.header("location")).await.expect(200);
    // The answer was lost and the show published since: it is the answer of then that is given.
    assert_eq!(bram.post_once(&classes, "class-1", class).await.expect(201).json(), made.json());
}

#[tokio::test]
async fn no_class_slips_into_a_version_while_it_is_published() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = enter(&bram, club, summer_show()).await.expect(201).header("location");
    enter_class(&bram, &show, "1").await.expect(201);
    let mut calls = JoinSet::new();
    for n in 2..12 {
        let (bram, show) = (bram.clone(), show.clone());
        calls.spawn(async move {
            if n == 7 {
                publish(&bram, &show).await.expect(200);
            } else {
                enter_class(&bram, &show, &n.to_string()).await.expect(201);
            }
        });
    }
    calls.join_all().await;
    let draft = bram.get(&format!("{show}/draft")).await.expect(200).json();
    assert_eq!(draft["schedule"]["classes"].as_array().unwrap().len(), 10);
    let seen = society.visitor().walk(&format!("{show}/classes")).await.len();
    assert_eq!(seen + draft["changes"].as_array().unwrap().len(), 10);
}
