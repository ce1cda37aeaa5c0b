//! A member's own calendar at a secret address.

use serde_json::json;

use crate::show_kit::Held;

#[tokio::test]
async fn a_secret_calendar_tells_ones_own_dates_until_it_is_revoked() {
    let held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let una = held.society.member("Una Fell").await;
    let other = held.society.member("Edda Wick").await;
    assert_eq!(una.get("/api/v1/members/me/calendar").await.expect(200).json(), json!({"since": null}));
    let path = una.put("/api/v1/members/me/calendar", json!({})).await.expect(200).json()["path"].clone();
    let path = path.as_str().unwrap();
    let visitor = held.society.visitor();
    let read = |text: String| text.replace("\r\n ", "");
    let empty = visitor.get(path).await.expect(200);
    assert_eq!(empty.header("content-type"), "text/calendar; charset=utf-8");
    assert!(!empty.text().contains("BEGIN:VEVENT"), "{}", empty.text());

    held.enter(&una, 1).await;
    let trophies = format!("/api/v1/clubs/{}/trophies", held.club);
    let cup =
        held.secretary.post(&trophies, json!({"key": "cup", "title": "The Quay Cup"})).await.expect(201);
    let award = json!({
        "year": 2025, "member_id": una.id(), "name": "Una Fell", "handed_over_on": "2025-06-14",
        "due_back_on": "2026-05-30"
    });
    held.secretary.post(&format!("/api/v1/trophies/{}/awards", cup.id()), award).await.expect(201);
    let dates = read(visitor.get(path).await.expect(200).text());
    for line in [
        "SUMMARY:Summer Show\r\n",
        "SUMMARY:Entries close: Summer Show\r\n",
        "DTSTART;VALUE=DATE:20260613\r\n",
        "SUMMARY:The Quay Cup is due back\r\n",
        "DTSTART;VALUE=DATE:20260530\r\n",
    ] {
        assert!(dates.contains(line), "{line}: {dates}");
    }
    let others = other.put("/api/v1/members/me/calendar", json!({})).await.expect(200).json()["path"].clone();
    let others = visitor.get(others.as_str().unwrap()).await.expect(200).text();
    assert!(!others.contains("BEGIN:VEVENT"), "{others}");

    // A new address takes the place of the old one, and none is left after it is revoked.
    let anew = una.put("/api/v1/members/me/calendar", json!({})).await.expect(200).json()["path"].clone();
    assert_eq!(visitor.get(path).await.problem(404), "not-found");
    visitor.get(anew.as_str().unwrap()).await.expect(200);
    una.delete("/api/v1/members/me/calendar").await.expect(204);
    assert_eq!(visitor.get(anew.as_str().unwrap()).await.problem(404), "not-found");
}
