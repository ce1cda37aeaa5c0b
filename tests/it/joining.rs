//! Joining the society: by invitation, or by a request that an officer decides.

use chrono::TimeDelta;
use serde_json::{Value, json};
use storksbill_db::rows::members;
use storksbill_domain::ids::ClubId;
use storksbill_domain::words::Standing;
use storksbill_tests::{Actor, Answer, TestApp};

use crate::members::proved;

const PASSWORD: &str = "nine small red pots";

async fn invite(officer: &Actor, email: &str, club: Option<ClubId>) -> Answer {
    officer.post("/api/v1/invitations", json!({"email": email, "club_id": club})).await
}

async fn take_up(society: &TestApp, token: &Value, name: &str) -> Answer {
    let body = json!({"token": token, "name": name, "password": PASSWORD});
    society.visitor().post("/api/v1/invitations/acceptance", body).await
}

async fn log_in(society: &TestApp, email: &str, password: &str) -> Answer {
    society.visitor().post("/api/v1/sessions", json!({"email": email, "password": password})).await
}

async fn ask_to_join(society: &TestApp, email: &str, club: Option<ClubId>) -> Answer {
    let body = json!({"email": email, "name": "Edda Wick", "password": PASSWORD, "club_id": club, "note": "I grow regals"});
    society.visitor().post("/api/v1/members/requests", body).await
}

#[tokio::test]
async fn a_secretary_invites_to_their_own_club_and_the_guest_is_a_member_at_once() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let (here, there) = (society.club("Quay Town", region).await, society.club("High Moor", region).await);
    let bram = society.secretary_of("Bram Oake", here).await;
    assert_eq!(invite(&bram, "edda@merrow.example", Some(there)).await.problem(403), "not-allowed");
    assert_eq!(invite(&bram, "edda@merrow.example", None).await.problem(403), "not-allowed");
    let invited = invite(&bram, "Edda@merrow.example", Some(here)).await.expect(201).json();
    assert_eq!(invited["expires_at"], "2026-05-24T12:00:00Z");
    let edda = take_up(&society, &invited["token"], " Edda  Wick ").await.expect(201).json();
    assert_eq!((&edda["name"], &edda["standing"]), (&json!("Edda Wick"), &json!("active")));
    assert_eq!(edda["region_id"], region.as_str());
    assert_eq!(edda["clubs"], json!([{"club_id": here, "club_name": "Quay Town", "role": "member"}]));
    log_in(&society, "edda@merrow.example", PASSWORD).await.expect(201);
}

#[tokio::test]
async fn the_secret_of_an_invitation_is_shown_once_and_kept_nowhere() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let body = json!({"email": "edda@merrow.example"});
    let first = una.post_once("/api/v1/invitations", "key", body.clone()).await.expect(201).json();
    let secret = first["token"].as_str().unwrap().to_owned();
    assert!(secret.len() >= 43, "256 bits are 43 characters of base64");
    let again = una.post_once("/api/v1/invitations", "key", body).await.expect(201).json();
    assert_eq!((&again["id"], &again["token"]), (&first["id"], &Value::Null));
    let list = una.get("/api/v1/invitations").await.expect(200);
    assert_eq!(list.json().as_array().unwrap().len(), 1);
    assert!(!list.text().contains(&secret));
    // Not with the answers kept for repeats either.
    let id = una.id();
    let kept = society
        .read(move |conn| storksbill_db::rows::idempotency::find(conn, id, "key"))
        .await
        .expect("the answer is kept");
    assert!(kept.body.contains("edda@merrow.example") && !kept.body.contains(&secret));
    take_up(&society, &json!(secret), "Edda Wick").await.expect(201);
}

#[tokio::test]
async fn an_invitation_is_taken_up_once_and_in_time() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let body = json!({"email": "edda@merrow.example", "days": 2});
    let used = una.post("/api/v1/invitations", body).await.expect(201).json();
    let late = invite(&una, "lise@merrow.example", None).await.expect(201).json();
    take_up(&society, &used["token"], "Edda Wick").await.expect(201);
    let twice = take_up(&society, &used["token"], "Edda Wick").await;
    assert_eq!(
        (twice.problem(422).as_str(), twice.fields()),
        ("invalid-fields", vec!["/token not-found".to_owned()])
    );
    society.clock.advance(TimeDelta::days(14));
    assert_eq!(take_up(&society, &late["token"], "Lise Tarn").await.fields(), ["/token not-found"]);
    assert_eq!(take_up(&society, &json!("made up"), "Lise Tarn").await.fields(), ["/token not-found"]);
    let una = society.administrator("Una Marsh").await;
    assert_eq!(una.get("/api/v1/invitations").await.expect(200).json(), json!([]));
}

#[tokio::test]
async fn one_invitation_taken_up_ten_times_at_once_makes_one_member() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let invited = invite(&una, "edda@merrow.example", None).await.expect(201).json();
    let takers: Vec<_> = (0..10)
        .map(|_| {
            let visitor = society.visitor();
            let body = json!({"token": invited["token"], "name": "Edda Wick", "password": PASSWORD});
            tokio::spawn(async move { visitor.post("/api/v1/invitations/acceptance", body).await.status })
        })
        .collect();
    let mut made = 0;
    for taker in takers {
        match taker.await.unwrap() {
            201 => made += 1,
            status => assert!([409, 422].contains(&status), "{status}"),
        }
    }
    assert_eq!(made, 1);
    assert_eq!(una.walk("/api/v1/members").await.len(), 2);
}

#[tokio::test]
async fn nobody_is_invited_who_is_a_member_or_waits_for_a_decision() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let email = crate::sessions::email_of(&society, &una).await;
    let refused = invite(&una, &email.to_uppercase(), None).await;
    assert_eq!((refused.problem(409).as_str(), refused.fields()), ("taken", vec!["/email taken".to_owned()]));
    ask_to_join(&society, "edda@merrow.example", None).await.expect(202);
    assert_eq!(invite(&una, "edda@merrow.example", None).await.problem(409), "taken");
}

/// Who asked to join while the invitation was on its way gets in by the invitation, and with the password that was
/// given then: whoever holds the invitation is not known to be who asked.
#[tokio::test]
async fn an_invitation_settles_an_open_request_for_whoever_made_it() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let invited = invite(&una, "edda@merrow.example", None).await.expect(201).json();
    let asked = json!({"email": "edda@merrow.example", "name": "Edda W.", "password": "as it was asked for"});
    society.visitor().post("/api/v1/members/requests", asked).await.expect(202);
    assert_eq!(take_up(&society, &invited["token"], "Not Edda").await.problem(409), "proof-needed");
    let taken = |old: &str| {
        let token = &invited["token"];
        json!({"token": token, "name": "Edda Wick", "password": PASSWORD, "old_password": old})
    };
    let wrong = society.visitor().post("/api/v1/invitations/acceptance", taken("a guess")).await;
    assert_eq!(wrong.fields(), ["/old_password wrong"]);
    let right = society.visitor().post("/api/v1/invitations/acceptance", taken("as it was asked for")).await;
    assert_eq!(right.expect(201).json()["standing"], "active");
    log_in(&society, "edda@merrow.example", PASSWORD).await.expect(201);
    assert_eq!(una.walk("/api/v1/members/requests").await.len(), 0);
}

#[tokio::test]
async fn an_invitation_does_not_open_a_suspended_account() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let invited = invite(&una, "edda@merrow.example", None).await.expect(201).json();
    let second = invite(&una, "edda@merrow.example", None).await.expect(201).json();
    let edda = take_up(&society, &invited["token"], "Edda Wick").await.expect(201).json();
    let standing = format!("/api/v1/members/{}/standing", edda["id"].as_str().unwrap());
    una.put(&standing, proved(json!({"standing": "suspended"}))).await.expect(200);
    assert_eq!(take_up(&society, &second["token"], "Edda Wick").await.problem(409), "taken");
    assert_eq!(log_in(&society, "edda@merrow.example", PASSWORD).await.status, 401);
}

#[tokio::test]
async fn a_request_waits_for_the_clubs_secretary_or_the_registrar() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let (here, there) = (society.club("Quay Town", region).await, society.club("High Moor", region).await);
    ask_to_join(&society, "edda@merrow.example", Some(here)).await.expect(202);
    assert_eq!(log_in(&society, "edda@merrow.example", PASSWORD).await.problem(401), "wrong-credentials");

    let bram = society.secretary_of("Bram Oake", here).await;
    let other = society.secretary_of("Lise Tarn", there).await;
    let registrar = society.registrar("Oona Pike").await;
    let plain = society.member_of("Finn Reed", here).await;
    assert_eq!(other.walk("/api/v1/members/requests").await.len(), 0);
    assert_eq!(plain.get("/api/v1/members/requests").await.problem(403), "not-allowed");
    assert_eq!(registrar.walk("/api/v1/members/requests").await.len(), 1);
    let asked = bram.walk("/api/v1/members/requests").await.remove(0);
    assert_eq!(
        (&asked["name"], &asked["email"], &asked["note"], &asked["club_id"]),
        (&json!("Edda Wick"), &json!("edda@merrow.example"), &json!("I grow regals"), &json!(here))
    );
    let path = format!("/api/v1/members/requests/{}", asked["member_id"].as_str().unwrap());
    for verb in ["approval", "refusal"] {
        let refused = other.post(&format!("{path}/{verb}"), json!({})).await;
        assert_eq!(refused.problem(404), "not-found");
        assert_eq!(plain.post(&format!("{path}/{verb}"), json!({})).await.problem(403), "not-allowed");
    }
    let edda = bram.post(&format!("{path}/approval"), json!({})).await.expect(200).json();
    assert_eq!(edda["clubs"], json!([{"club_id": here, "club_name": "Quay Town", "role": "member"}]));
    log_in(&society, "edda@merrow.example", PASSWORD).await.expect(201);
    for verb in ["approval", "refusal"] {
        let again = bram.post(&format!("{path}/{verb}"), json!({})).await;
        assert_eq!(again.problem(409), "wrong-state");
    }
    assert_eq!(bram.walk("/api/v1/members/requests").await.len(), 0);
}

#[tokio::test]
async fn a_request_for_no_club_is_the_registrars_to_decide() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    ask_to_join(&society, "edda@merrow.example", None).await.expect(202);
    let bram = society.secretary_of("Bram Oake", club).await;
    assert_eq!(bram.walk("/api/v1/members/requests").await.len(), 0);
    let registrar = society.registrar("Oona Pike").await;
    let asked = registrar.walk("/api/v1/members/requests").await.remove(0);
    let path = format!("/api/v1/members/requests/{}", asked["member_id"].as_str().unwrap());
    assert_eq!(bram.post(&format!("{path}/refusal"), json!({})).await.problem(404), "not-found");
    registrar.post(&format!("{path}/refusal"), json!({})).await.expect(204);
    assert_eq!(log_in(&society, "edda@merrow.example", PASSWORD).await.problem(401), "wrong-credentials");
    assert_eq!(registrar.walk("/api/v1/members/requests").await.len(), 0);
}

/// The answer to a request does not tell whose address is known, and a known account is left alone.
#[tokio::test]
async fn a_request_with_a_members_address_changes_nothing_and_looks_the_same() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let email = crate::sessions::email_of(&society, &una).await;
    let id = una.id();
    let before = society.read(move |conn| members::find(conn, id)).await.unwrap();
    let (known, fresh) = (
        ask_to_join(&society, &email, None).await.expect(202),
        ask_to_join(&society, "edda@merrow.example", None).await.expect(202),
    );
    assert_eq!(known.body, fresh.body);
    let member = society.read(move |conn| members::find(conn, id)).await.unwrap();
    assert_eq!((member.standing, member.name.as_str(), member.version), (Standing::Active, "Una Marsh", 1));
    assert_eq!(member.password_hash, before.password_hash);
}

#[tokio::test]
async fn everything_wrong_with_a_request_is_said_at_once() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    let body = json!({"email": "edda at merrow", "name": "E", "password": "short", "note": "x".repeat(1001), "club_id": 3});
    let refused = visitor.post("/api/v1/members/requests", body).await;
    assert_eq!(
        refused.fields(),
        [
            "/club_id wrong-type",
            "/email not-an-email",
            "/name too-short",
            "/note too-long",
            "/password too-short"
        ]
    );
    let unknown = ask_to_join(&society, "edda@merrow.example", Some(ClubId::fresh())).await;
    assert_eq!(unknown.fields(), ["/club_id not-found"]);
    let una = society.administrator("Una Marsh").await;
    let refused = una.post("/api/v1/invitations", json!({"email": "x", "days": 61})).await;
    assert_eq!(refused.fields(), ["/days out-of-range", "/email not-an-email"]);
}

#[tokio::test]
async fn a_secretary_sees_the_invitations_to_their_own_club() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let (here, there) = (society.club("Quay Town", region).await, society.club("High Moor", region).await);
    let una = society.administrator("Una Marsh").await;
    for (n, club) in [Some(here), Some(there), None].into_iter().enumerate() {
        invite(&una, &format!("guest-{n}@merrow.example"), club).await.expect(201);
    }
    let bram = society.secretary_of("Bram Oake", here).await;
    let seen = bram.get("/api/v1/invitations").await.expect(200).json();
    let seen: Vec<_> = seen.as_array().unwrap().iter().map(|row| row["email"].clone()).collect();
    assert_eq!(seen, ["guest-0@merrow.example"]);
    assert_eq!(una.get("/api/v1/invitations").await.expect(200).json().as_array().unwrap().len(), 3);
}
