//! Shows and their classes.

use diesel::prelude::*;
use serde_json::{Value, json};
use storksbill_db::schema::show_classes;
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

async fn enter_class(secretary: &Actor, show: &str, label: &str) -> Answer {
    let class = json!({"label": label, "title": "One regal pelargonium"});
    secretary.post(&format!("{show}/classes"), class).await
}

/// The summer show with class 1, published.
async fn published(secretary: &Actor, club: ClubId) -> String {
    let show = enter(secretary, club, summer_show()).await.expect(201).header("location");
    enter_class(secretary, &show, "1").await.expect(201);
    publish(secretary, &show).await.expect(200);
    show
}

async fn publish(secretary: &Actor, show: &str) -> Answer {
    secretary.request(reqwest::Method::POST, &format!("{show}/publication")).send().await
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
    assert_eq!(empty.problem(409), "wrong-state");
    let class = bram
        .post(
            &format!("{show}/classes"),
            json!({
                "label": "106a", "title": "One dwarf zonal", "plant_group": "dwarf", "max_pot_mm": 114.3,
                "requirements": "In a pot of at most four and a half inches."
            }),
        )
        .await
        .expect(201);
    assert_eq!(class.json()["label"], "106A");
    let out = publish(&bram, &show).await.expect(200);
    assert_eq!(
        (out.json()["state"].as_str(), out.json()["published_at"].as_str()),
        (Some("published"), Some("2026-05-10T12:00:00Z"))
    );
    assert_eq!(publish(&bram, &show).await.expect(200).json(), out.json(), "twice is once");
    let visitor = society.visitor();
    assert_eq!(visitor.get(&show).await.expect(200).json(), out.json());
    assert_eq!(visitor.walk(&format!("{show}/classes")).await, [class.json()]);
    assert_eq!(visitor.get(&class.header("location")).await.expect(200).json(), class.json());
    let known = visitor.request(reqwest::Method::GET, &show).header("if-none-match", "\"2\"").send().await;
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
    let class = enter_class(&bram, &show, "1").await.expect(201).header("location");
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
    assert_eq!(elsewhere.delete(&class).await.problem(404), "not-found");
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
    una.patch(&show, "*", json!({"place": "The old school"})).await.expect(200);
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
async fn a_published_schedule_stands_but_for_place_and_notes() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = published(&bram, club).await;
    let class = bram.walk(&format!("{show}/classes")).await[0]["id"].as_str().unwrap().to_owned();
    let class = format!("/api/v1/classes/{class}");
    let refused = bram
        .patch(
            &show,
            "*",
            json!({"closes_wall": "2026-06-12T21:00", "name": "Late Show", "place": "Elsewhere"}),
        )
        .await;
    assert_eq!(refused.problem(409), "wrong-state");
    assert_eq!(refused.fields(), ["/closes_wall published", "/name published"]);
    assert!(refused.json()["detail"].as_str().unwrap().contains("amendments"), "{}", refused.text());
    assert_eq!(bram.patch(&class, "*", json!({"title": "Two regals"})).await.problem(409), "wrong-state");
    assert_eq!(bram.delete(&class).await.problem(409), "wrong-state");
    assert_eq!(enter_class(&bram, &show, "2").await.problem(409), "wrong-state");
    // What is sent back unchanged is no change.
    let same = json!({"name": "Summer Show", "place": "The old school", "notes": "Parking on the quay."});
    let moved = bram.patch(&show, "\"2\"", same).await.expect(200);
    assert_eq!((moved.json()["place"].as_str(), moved.etag().as_str()), (Some("The old school"), "\"3\""));
    assert_eq!(bram.patch(&show, "\"2\"", json!({"place": "Lost"})).await.problem(412), "version-mismatch");
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
async fn pot_limits_are_kept_to_the_micrometre() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = enter(&bram, club, summer_show()).await.expect(201).header("location");
    let class = |label: &str, mm: f64| json!({"label": label, "title": "One zonal", "max_pot_mm": mm});
    // Two and a quarter, three and a half, four and a half inches: 25.4 mm each, exactly.
    for (label, mm, um) in
        [("1", 57.15, 57_150), ("2", 88.9, 88_900), ("3", 114.3, 114_300), ("4", 133.351, 133_351)]
    {
        let made = bram.post(&format!("{show}/classes"), class(label, mm)).await.expect(201);
        assert_eq!(made.json()["max_pot_mm"].as_f64(), Some(mm));
        let id = made.id();
        let kept: Option<i64> = society
            .read(move |conn| {
                Ok(show_classes::table
                    .filter(show_classes::id.eq(id))
                    .select(show_classes::max_pot_um)
                    .first(conn)?)
            })
            .await;
        assert_eq!(kept, Some(um));
    }
    for (mm, word) in [(114.3001, "too-many-decimals"), (9.999, "out-of-range"), (2000.001, "out-of-range")] {
        let refused = bram.post(&format!("{show}/classes"), class("5", mm)).await;
        assert_eq!(refused.fields(), [format!("/max_pot_mm {word}")]);
    }
}

#[tokio::test]
async fn a_class_number_is_unique_in_its_show_and_can_be_changed_while_a_draft() {
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
    let clash = bram.patch(&path, "\"1\"", json!({"label": "10A"})).await;
    assert_eq!(clash.problem(409), "taken");
    let moved =
        bram.patch(&path, "\"1\"", json!({"label": "9", "plant_group": "regal", "max_pot_mm": 127})).await;
    let moved = moved.expect(200);
    assert_eq!(
        (moved.json()["label"].as_str(), moved.json()["max_pot_mm"].as_f64()),
        (Some("9"), Some(127.0))
    );
    let cleared =
        bram.patch(&path, "\"2\"", json!({"max_pot_mm": null, "plant_group": null})).await.expect(200);
    assert_eq!((&cleared.json()["max_pot_mm"], &cleared.json()["plant_group"]), (&Value::Null, &Value::Null));
    assert_eq!(texts(&bram.walk(&format!("{show}/classes")).await, "label"), ["9", "10A"]);
    assert_eq!(bram.patch(&path, "\"1\"", json!({"title": "Lost"})).await.problem(412), "version-mismatch");
    let faulty = bram.patch(&path, "\"3\"", json!({"label": "1-2", "title": null, "max_pot_mm": 1})).await;
    assert_eq!(faulty.fields(), ["/label not-a-class-number", "/max_pot_mm out-of-range", "/title required"]);
    bram.delete(&first.header("location")).await.expect(204);
    assert_eq!(bram.delete(&first.header("location")).await.problem(404), "not-found");
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
    let classes = format!("{}/classes", first.header("location"));
    let class = json!({"label": "1", "title": "One regal pelargonium"});
    let made = bram.post_once(&classes, "class-1", class.clone()).await.expect(201);
    publish(&bram, &first.header("location")).await.expect(200);
    // The answer was lost and the show published since: it is the answer of then that is given.
    assert_eq!(bram.post_once(&classes, "class-1", class).await.expect(201).json(), made.json());
}

#[tokio::test]
async fn no_class_slips_into_a_show_while_it_is_published() {
    let society = TestApp::start().await;
    let (club, bram) = quay_town(&society).await;
    let show = enter(&bram, club, summer_show()).await.expect(201).header("location");
    enter_class(&bram, &show, "1").await.expect(201);
    let mut calls = JoinSet::new();
    for n in 2..12 {
        let (bram, show) = (bram.clone(), show.clone());
        calls.spawn(async move {
            if n == 7 {
                return publish(&bram, &show).await.expect(200).status;
            }
            let entered = enter_class(&bram, &show, &n.to_string()).await;
            assert!(entered.status == 201 || entered.problem(409) == "wrong-state", "{}", entered.text());
            entered.status
        });
    }
    let entered = calls.join_all().await.into_iter().filter(|status| *status == 201).count();
    assert_eq!(society.visitor().walk(&format!("{show}/classes")).await.len(), 1 + entered);
    assert_eq!(enter_class(&bram, &show, "20").await.problem(409), "wrong-state");
}
