//! Clubs and who belongs to them.

use serde_json::json;
use storksbill_tests::TestApp;

#[tokio::test]
async fn an_administrator_enters_a_club_and_everybody_sees_it() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let una = society.administrator("Una Marsh").await;
    let made = una
        .post(
            "/api/v1/clubs",
            json!({"name": " Quay  Town ", "region_id": region, "meeting_place": "Old net loft"}),
        )
        .await
        .expect(201);
    assert_eq!(made.json()["name"], "Quay Town");
    assert_eq!(made.etag(), "\"1\"");
    let seen = society.visitor().get(&made.header("location")).await.expect(200);
    assert_eq!(seen.json(), made.json());
}

#[tokio::test]
async fn a_second_club_of_the_same_name_is_refused_whatever_its_accents() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let una = society.administrator("Una Marsh").await;
    una.post("/api/v1/clubs", json!({"name": "Ménage Hill", "region_id": region})).await.expect(201);
    let refused = una.post("/api/v1/clubs", json!({"name": "menage hill", "region_id": region})).await;
    assert_eq!(refused.problem(409), "taken");
    assert_eq!(refused.fields(), ["/name taken"]);
}

#[tokio::test]
async fn everything_wrong_with_a_club_is_said_at_once() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let refused = una
        .post(
            "/api/v1/clubs",
            json!({"name": "x", "region_id": 7, "meeting_place": "y".repeat(301), "town": "z"}),
        )
        .await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        ["/meeting_place too-long", "/name too-short", "/region_id wrong-type", "/town unknown-field"]
    );
}

#[tokio::test]
async fn an_edit_wants_the_version_that_was_read() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let path = format!("/api/v1/clubs/{club}");
    let secretary = society.secretary_of("Bram Oake", club).await;
    let blind = secretary.request(reqwest::Method::PATCH, &path).json(&json!({"name": "Quay"})).send().await;
    assert_eq!(blind.problem(428), "precondition-required");
    let changed = secretary.patch(&path, "\"1\"", json!({"meeting_place": "Net loft"})).await.expect(200);
    assert_eq!(changed.etag(), "\"2\"");
    let stale = secretary.patch(&path, "\"1\"", json!({"name": "Quay"})).await;
    assert_eq!(stale.problem(412), "version-mismatch");
    let cleared = secretary.patch(&path, "\"2\"", json!({"meeting_place": null})).await.expect(200);
    assert_eq!(cleared.json()["meeting_place"], serde_json::Value::Null);
    assert_eq!(cleared.json()["name"], "Quay Town");
}

#[tokio::test]
async fn a_secretary_keeps_their_own_club_and_no_other() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let (here, there) = (society.club("Quay Town", region).await, society.club("High Moor", region).await);
    let secretary = society.secretary_of("Bram Oake", here).await;
    let edda = society.member("Edda Wick").await;
    let role = json!({"role": "member"});
    let asked = secretary.put(&format!("/api/v1/clubs/{here}/members/{}", edda.id()), role.clone()).await;
    assert_eq!(asked.expect(202).json()["state"], "asked");
    edda.post(&format!("/api/v1/members/me/club-invitations/{here}/acceptance"), json!({})).await.expect(200);
    let refused = secretary.put(&format!("/api/v1/clubs/{there}/members/{}", edda.id()), role).await;
    assert_eq!(refused.problem(403), "not-allowed");
    let roll = edda.walk(&format!("/api/v1/clubs/{here}/members")).await;
    let names: Vec<_> = roll.iter().map(|row| row["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["Bram Oake", "Edda Wick"]);
    secretary.delete(&format!("/api/v1/clubs/{here}/members/{}", edda.id())).await.expect(204);
    assert_eq!(edda.walk(&format!("/api/v1/clubs/{here}/members")).await.len(), 1);
}

#[tokio::test]
async fn a_list_is_walked_page_by_page_while_it_grows() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    for n in 0..7 {
        society.club(&format!("Club {n}"), region).await;
    }
    let visitor = society.visitor();
    let first = visitor.get("/api/v1/clubs?limit=3").await.expect(200);
    assert_eq!(first.json()["items"].as_array().unwrap().len(), 3);
    // One before and one after the place reached: only the latter is still to come.
    society.club("Club 0a", region).await;
    society.club("Club 5a", region).await;
    let rest = visitor.walk(&first.next_link().unwrap()).await;
    let names: Vec<_> = rest.iter().map(|row| row["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["Club 3", "Club 4", "Club 5", "Club 5a", "Club 6"]);
    assert_eq!(visitor.get("/api/v1/clubs?limit=0").await.problem(422), "invalid-query");
    assert_eq!(visitor.get("/api/v1/clubs?cursor=nonsense").await.problem(400), "bad-cursor");
}

#[tokio::test]
async fn a_create_sent_again_makes_one_club() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let una = society.administrator("Una Marsh").await;
    let body = json!({"name": "Quay Town", "region_id": region});
    let first = una.post_once("/api/v1/clubs", "key-1", body.clone()).await.expect(201);
    let again = una.post_once("/api/v1/clubs", "key-1", body).await.expect(201);
    assert_eq!(first.json(), again.json());
    assert_eq!(first.header("location"), again.header("location"));
    let other = una.post_once("/api/v1/clubs", "key-1", json!({"name": "Other", "region_id": region})).await;
    assert_eq!(other.problem(422), "idempotency-key-reused");
    assert_eq!(una.walk("/api/v1/clubs").await.len(), 1);
}

#[tokio::test]
async fn a_reader_who_has_the_version_is_told_so() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let visitor = society.visitor();
    let path = format!("/api/v1/clubs/{club}");
    let tag = format!("W/{}", visitor.get(&path).await.expect(200).etag());
    let known = visitor.request(reqwest::Method::GET, &path).header("if-none-match", &tag).send().await;
    assert_eq!((known.status, known.body.len()), (304, 0));
    let new = visitor.request(reqwest::Method::GET, &path).header("if-none-match", "\"9\"").send().await;
    assert_eq!(new.status, 200);
}
