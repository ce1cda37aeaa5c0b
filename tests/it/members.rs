//! Members' own records, their roles, and who sees what of them.

use reqwest::Method;
use serde_json::{Value, json};
use storksbill_domain::words::SocietyRole;
use storksbill_tests::{Actor, PASSWORD, TestApp};

use crate::sessions::email_of;

/// The body with the password of whoever sends it.
pub fn proved(mut body: Value) -> Value {
    body["current_password"] = json!(PASSWORD);
    body
}

fn path(actor: &Actor, what: &str) -> String {
    format!("/api/v1/members/{}/{what}", actor.id())
}

#[tokio::test]
async fn a_member_changes_what_they_mention_clears_what_is_null_and_keeps_the_rest() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let edda = society.member("Edda Wick").await;
    let me = "/api/v1/members/me";
    let email = email_of(&society, &edda).await;
    let first = edda.get(me).await.expect(200);
    let blind = edda.request(Method::PATCH, me).json(&json!({})).send().await;
    assert_eq!(blind.problem(428), "precondition-required");
    let placed = edda.patch(me, &first.etag(), json!({"region_id": region})).await.expect(200);
    assert_eq!(placed.json()["region_id"], region.as_str());
    assert_eq!(placed.json()["name"], "Edda Wick");
    let renamed = edda.patch(me, &placed.etag(), json!({"name": " Edda   Reed "})).await.expect(200);
    assert_eq!(
        (&renamed.json()["name"], &renamed.json()["region_id"]),
        (&json!("Edda Reed"), &json!(region))
    );
    let cleared = edda.patch(me, &renamed.etag(), json!({"region_id": null})).await.expect(200);
    assert_eq!((&cleared.json()["region_id"], &cleared.json()["email"]), (&Value::Null, &json!(email)));
    let stale = edda.patch(me, &first.etag(), json!({"name": "Old"})).await;
    assert_eq!(stale.problem(412), "version-mismatch");
    let again = edda.get(me).await.expect(200);
    assert_eq!(again.json(), cleared.json());
    let known = edda.request(Method::GET, me).header("if-none-match", &again.etag()).send().await;
    assert_eq!(known.status, 304);
}

#[tokio::test]
async fn what_a_member_must_have_cannot_be_cleared() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let body = json!({"name": null, "email": null, "region_id": "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"});
    let refused = edda.patch("/api/v1/members/me", "\"1\"", body).await;
    assert_eq!(refused.fields(), ["/email required", "/name required"]);
    let body = json!({"region_id": "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"});
    let unknown = edda.patch("/api/v1/members/me", "\"1\"", body).await;
    assert_eq!(unknown.fields(), ["/region_id not-found"]);
    let body = proved(json!({"standing": "active", "roles": ["administrator"], "version": 9}));
    let beyond = edda.patch("/api/v1/members/me", "\"1\"", body).await;
    assert_eq!(
        beyond.fields(),
        ["/roles unknown-field", "/standing unknown-field", "/version unknown-field"]
    );
}

#[tokio::test]
async fn an_address_belongs_to_one_member() {
    let society = TestApp::start().await;
    let (edda, bram) = (society.member("Edda Wick").await, society.member("Bram Oake").await);
    let theirs = email_of(&society, &bram).await.to_uppercase();
    let refused = edda.patch("/api/v1/members/me", "\"1\"", proved(json!({"email": theirs}))).await;
    assert_eq!((refused.problem(409).as_str(), refused.fields()), ("taken", vec!["/email taken".to_owned()]));
    // One's own in other letters is no other's.
    let own = email_of(&society, &edda).await.to_uppercase();
    let kept = edda.patch("/api/v1/members/me", "\"1\"", proved(json!({"email": own}))).await.expect(200);
    assert_eq!(kept.json()["email"], own);
}

#[tokio::test]
async fn addresses_are_seen_by_nobody_else() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let edda = society.member_of("Edda Wick", club).await;
    let everybody = [
        society.member_of("Finn Reed", club).await,
        society.secretary_of("Bram Oake", club).await,
        society.registrar("Oona Pike").await,
        society.administrator("Una Marsh").await,
    ];
    for actor in everybody {
        for path in [
            "/api/v1/members".to_owned(),
            "/api/v1/members?name=edda".to_owned(),
            format!("/api/v1/members/{}", edda.id()),
            format!("/api/v1/clubs/{club}/members"),
        ] {
            let seen = actor.get(&path).await.expect(200).text();
            assert!(seen.contains("Edda Wick"), "{path}: {seen}");
            assert!(!seen.contains('@') && !seen.contains("email"), "{path}: {seen}");
        }
    }
}

#[tokio::test]
async fn members_are_found_by_part_of_a_name_whatever_accents_and_case() {
    let society = TestApp::start().await;
    for name in ["Maëlle Órla", "Bram Oake", "Anna Maelsen", "100% Reed"] {
        society.member(name).await;
    }
    let edda = society.member("Edda Wick").await;
    for (part, expected) in [
        ("MAEL", vec!["Anna Maelsen", "Maëlle Órla"]),
        ("mäel", vec!["Anna Maelsen", "Maëlle Órla"]),
        ("le%20o", vec!["Maëlle Órla"]),
        ("orla", vec!["Maëlle Órla"]),
        // A pattern's own signs are no pattern here.
        ("100%25", vec!["100% Reed"]),
        ("b_am", vec![]),
        ("nobody", vec![]),
    ] {
        let found = edda.walk(&format!("/api/v1/members?name={part}&limit=1")).await;
        let names: Vec<_> = found.iter().map(|row| row["name"].as_str().unwrap()).collect();
        assert_eq!(names, expected, "{part}");
    }
}

#[tokio::test]
async fn a_role_given_or_taken_holds_from_the_next_request() {
    let society = TestApp::start().await;
    let (una, edda) = (society.administrator("Una Marsh").await, society.member("Edda Wick").await);
    assert_eq!(edda.get("/api/v1/invitations").await.problem(403), "not-allowed");
    let set = una.put(&path(&edda, "roles"), proved(json!({"roles": ["registrar"]}))).await.expect(200);
    assert_eq!((&set.json()["roles"], set.etag().as_str()), (&json!(["registrar"]), "\"2\""));
    edda.get("/api/v1/invitations").await.expect(200);
    una.put(&path(&edda, "roles"), proved(json!({"roles": []}))).await.expect(200);
    assert_eq!(edda.get("/api/v1/invitations").await.problem(403), "not-allowed");
    let both = proved(json!({"roles": ["administrator", "registrar", "registrar"]}));
    let set = una.put(&path(&edda, "roles"), both).await.expect(200);
    assert_eq!(set.json()["roles"], json!(["administrator", "registrar"]));
    let refused = una.put(&path(&edda, "roles"), proved(json!({"roles": ["judge"]}))).await;
    assert_eq!(refused.fields(), ["/roles/0 unknown-word"]);
}

#[tokio::test]
async fn a_club_role_given_or_taken_holds_from_the_next_request() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let (una, edda) = (society.administrator("Una Marsh").await, society.member("Edda Wick").await);
    let place = format!("/api/v1/clubs/{club}/members/{}", edda.id());
    let own_club = format!("/api/v1/clubs/{club}");
    una.put(&place, proved(json!({"role": "secretary"}))).await.expect(202);
    assert_eq!(edda.patch(&own_club, "\"1\"", json!({})).await.problem(403), "not-allowed");
    edda.post(&format!("/api/v1/members/me/club-invitations/{club}/acceptance"), json!({})).await.expect(200);
    edda.patch(&own_club, "\"1\"", json!({"meeting_place": "Net loft"})).await.expect(200);
    una.put(&place, json!({"role": "member"})).await.expect(204);
    assert_eq!(edda.patch(&own_club, "\"2\"", json!({})).await.problem(403), "not-allowed");
    una.delete(&place).await.expect(204);
    assert_eq!(una.delete(&place).await.problem(404), "not-found");
}

#[tokio::test]
async fn a_suspended_member_is_shut_out_at_once_and_comes_back_when_let_in() {
    let society = TestApp::start().await;
    let (una, edda) = (society.administrator("Una Marsh").await, society.member("Edda Wick").await);
    crate::sessions::give_password(&society, &edda, "nine small red pots").await;
    let tokens = crate::sessions::log_in(&society, &edda, "nine small red pots").await;
    edda.get("/api/v1/members/me").await.expect(200);
    una.put(&path(&edda, "standing"), proved(json!({"standing": "suspended"}))).await.expect(200);
    assert_eq!(edda.get("/api/v1/members/me").await.problem(401), "session-ended");
    let refresh = json!({"refresh_token": tokens["refresh_token"]});
    let refused = society.visitor().post("/api/v1/sessions/refresh", refresh).await;
    assert_eq!(refused.problem(401), "session-ended");
    // Gone from what other members see.
    let seen = una.walk("/api/v1/members").await;
    assert!(seen.iter().all(|row| row["name"] != "Edda Wick"));
    let finn = society.member("Finn Reed").await;
    assert_eq!(finn.get(&format!("/api/v1/members/{}", edda.id())).await.problem(404), "not-found");
    una.put(&path(&edda, "standing"), proved(json!({"standing": "active"}))).await.expect(200);
    // The old log-in stays ended; a new one works.
    assert_eq!(edda.get("/api/v1/members/me").await.problem(401), "session-ended");
    crate::sessions::log_in(&society, &edda, "nine small red pots").await;
    let refused = una.put(&path(&edda, "standing"), proved(json!({"standing": "requested"}))).await;
    assert_eq!(refused.fields(), ["/standing out-of-range"]);
}

#[tokio::test]
async fn the_last_administrator_stays() {
    let society = TestApp::start().await;
    let (una, bram) = (society.administrator("Una Marsh").await, society.administrator("Bram Oake").await);
    una.put(&path(&bram, "roles"), proved(json!({"roles": []}))).await.expect(200);
    assert_eq!(
        una.put(&path(&una, "roles"), proved(json!({"roles": ["registrar"]}))).await.problem(409),
        "wrong-state"
    );
    for standing in ["suspended", "left"] {
        let refused = una.put(&path(&una, "standing"), proved(json!({"standing": standing}))).await;
        assert_eq!(refused.problem(409), "wrong-state");
    }
    una.put(&path(&una, "roles"), proved(json!({"roles": ["administrator", "registrar"]}))).await.expect(200);
    una.put(&path(&una, "standing"), proved(json!({"standing": "active"}))).await.expect(200);
    una.get("/api/v1/invitations").await.expect(200);
}

/// An administrator who is suspended cannot log in and so does not count.
#[tokio::test]
async fn a_suspended_administrator_does_not_count_as_another() {
    let society = TestApp::start().await;
    let (una, bram) = (society.administrator("Una Marsh").await, society.administrator("Bram Oake").await);
    una.put(&path(&bram, "standing"), proved(json!({"standing": "suspended"}))).await.expect(200);
    assert_eq!(una.put(&path(&una, "roles"), proved(json!({"roles": []}))).await.problem(409), "wrong-state");
}

#[tokio::test]
async fn two_administrators_who_take_each_other_away_at_once_leave_one() {
    for _ in 0..5 {
        let society = TestApp::start().await;
        let (una, bram) =
            (society.administrator("Una Marsh").await, society.administrator("Bram Oake").await);
        let (unas, brams) = (path(&una, "roles"), path(&bram, "roles"));
        let none = proved(json!({"roles": []}));
        let (a, b) = tokio::join!(una.put(&brams, none.clone()), bram.put(&unas, none.clone()));
        assert_eq!([a.status, b.status].iter().filter(|status| **status == 200).count(), 1, "{a:?} {b:?}");
        let left = society
            .read(|conn| storksbill_db::rows::members::holders(conn, SocietyRole::Administrator))
            .await;
        assert_eq!(left.len(), 1);
    }
}

#[tokio::test]
async fn only_an_administrator_sets_roles_and_standing() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    society.administrator("Una Marsh").await;
    let edda = society.member("Edda Wick").await;
    for actor in
        [society.registrar("Oona Pike").await, society.secretary_of("Bram Oake", club).await, edda.clone()]
    {
        let roles = actor.put(&path(&edda, "roles"), proved(json!({"roles": ["administrator"]}))).await;
        assert_eq!(roles.problem(403), "not-allowed");
        let standing = actor.put(&path(&edda, "standing"), proved(json!({"standing": "left"}))).await;
        assert_eq!(standing.problem(403), "not-allowed");
    }
    let me = edda.get("/api/v1/members/me").await.expect(200).json();
    assert_eq!((&me["roles"], &me["standing"]), (&json!([]), &json!("active")));
}
