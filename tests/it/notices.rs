//! Notices: a member's own, by the day they are about, ticked off.

use chrono::{NaiveDate, TimeDelta};
use reqwest::Method;
use storksbill_db::rows::notices::{self, Notice};
use storksbill_domain::words::{NoticeKind, SubjectKind};
use storksbill_tests::{Actor, TestApp};

const NOTICES: &str = "/api/v1/notices";

async fn given(society: &TestApp, to: &Actor, day: &str, words: &str) {
    let day: NaiveDate = day.parse().unwrap();
    let now = society.clock.now().naive_utc();
    let subject = Some((SubjectKind::Plant, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"));
    let notice = Notice::fresh(to.id(), NoticeKind::QuarantineOver, day, words.to_owned(), subject, now);
    society.write(move |conn| notices::insert(conn, &notice)).await;
}

fn words(rows: &[serde_json::Value]) -> Vec<&str> {
    rows.iter().map(|row| row["words"].as_str().unwrap()).collect()
}

async fn tick(actor: &Actor, id: &str, what: &str) -> storksbill_tests::Answer {
    actor.request(Method::POST, &format!("{NOTICES}/{id}/{what}")).send().await
}

#[tokio::test]
async fn a_member_lists_their_own_by_day_and_ticks_them_off() {
    let society = TestApp::start().await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    for (day, words) in [("2026-05-20", "C"), ("2026-05-10", "A"), ("2026-06-01", "D"), ("2026-05-10", "B")] {
        given(&society, &una, day, words).await;
    }
    given(&society, &bram, "2026-05-11", "Bram's").await;
    let own = una.walk(&format!("{NOTICES}?limit=1")).await;
    assert_eq!(words(&own), ["A", "B", "C", "D"]);
    assert_eq!(own[0]["kind"], "quarantine_over");
    assert_eq!(own[0]["subject"]["kind"], "plant");
    assert_eq!(words(&una.walk(&format!("{NOTICES}?due_by=2026-05-20")).await), ["A", "B", "C"]);

    let id = own[1]["id"].as_str().unwrap();
    assert_eq!(tick(&bram, id, "done").await.problem(404), "not-found");
    let seen = tick(&una, id, "seen").await.expect(200).json();
    assert_eq!((seen["seen_at"].as_str(), seen["done_at"].as_str()), (Some("2026-05-10T12:00:00Z"), None));
    society.clock.advance(TimeDelta::hours(20));
    let una = society.again(&una).await;
    let done = tick(&una, id, "done").await.expect(200).json();
    assert_eq!(done["seen_at"], "2026-05-10T12:00:00Z");
    assert_eq!(done["done_at"], "2026-05-11T08:00:00Z");
    society.clock.advance(TimeDelta::minutes(5));
    assert_eq!(tick(&una, id, "done").await.expect(200).json(), done, "a repeat changes nothing");
    // Done without having been seen is seen as well.
    let other = own[3]["id"].as_str().unwrap();
    assert_eq!(tick(&una, other, "done").await.expect(200).json()["seen_at"], "2026-05-11T08:05:00Z");
    assert_eq!(words(&una.walk(&format!("{NOTICES}?done=true&limit=1")).await), ["B", "D"]);
    assert_eq!(words(&una.walk(&format!("{NOTICES}?done=false")).await), ["A", "C"]);
}

#[tokio::test]
async fn what_cannot_be_read_of_a_question_is_told() {
    let society = TestApp::start().await;
    let una = society.member("Una Marsh").await;
    assert_eq!(una.get(&format!("{NOTICES}?due_by=soon")).await.problem(422), "invalid-query");
    for _ in 0..2 {
        given(&society, &una, "2026-05-20", "A").await;
    }
    let cursor =
        una.get(&format!("{NOTICES}?limit=1")).await.json()["next_cursor"].as_str().unwrap().to_owned();
    assert_eq!(una.get(&format!("/api/v1/swaps/rounds?cursor={cursor}")).await.problem(400), "bad-cursor");
    assert_eq!(society.visitor().get(NOTICES).await.problem(401), "not-logged-in");
}
