//! Logging in and out, refreshing, changing the password.

use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill::sessions::new_password::NewPassword;
use storksbill::sessions::turns::Asker;
use storksbill_db::rows::members;
use storksbill_domain::words::Standing;
use storksbill_tests::{Actor, TestApp};

const PASSWORD: &str = "nine small red pots";

/// Gives a member a password, past the API.
pub async fn give_password(society: &TestApp, actor: &Actor, password: &str) {
    let hash = {
        let password = NewPassword::of("/password", password.to_owned(), &[]).unwrap();
        society.app.passwords.hash(Asker::Member(actor.id()), password).await.unwrap()
    };
    let id = actor.id();
    society
        .write(move |conn| {
            let mut member = members::find(conn, id)?.unwrap();
            member.password_hash = Some(hash.clone());
            members::update(conn, &member)
        })
        .await;
}

pub async fn email_of(society: &TestApp, actor: &Actor) -> String {
    let id = actor.id();
    society.read(move |conn| Ok(members::find(conn, id)?.unwrap().email)).await
}

/// Logs in with a device of its own; the tokens.
pub async fn log_in(society: &TestApp, actor: &Actor, password: &str) -> Value {
    let email = email_of(society, actor).await;
    let body = json!({"email": email, "password": password, "device": "telephone"});
    society.visitor().post("/api/v1/sessions", body).await.expect(201).json()
}

fn with(society: &TestApp, tokens: &Value) -> Actor {
    society.visitor().with_token(tokens["access_token"].as_str().unwrap())
}

async fn refresh(society: &TestApp, tokens: &Value) -> storksbill_tests::Answer {
    let body = json!({"refresh_token": tokens["refresh_token"]});
    society.visitor().post("/api/v1/sessions/refresh", body).await
}

async fn member_with_password(society: &TestApp) -> Actor {
    let edda = society.member("Edda Wick").await;
    give_password(society, &edda, PASSWORD).await;
    edda
}

#[tokio::test]
async fn a_member_logs_in_and_sees_their_own_record() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let tokens = log_in(&society, &edda, PASSWORD).await;
    assert_eq!(tokens["member_id"], edda.id().as_str());
    assert_eq!(tokens["access_expires_at"], "2026-05-10T12:15:00Z");
    assert_eq!(tokens["refresh_expires_at"], "2026-06-09T12:00:00Z");
    let me = with(&society, &tokens).get("/api/v1/members/me").await.expect(200).json();
    assert_eq!(me["name"], "Edda Wick");
}

#[tokio::test]
async fn case_and_space_around_the_address_do_not_matter_and_those_of_the_password_do() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let email = email_of(&society, &edda).await;
    let visitor = society.visitor();
    let body = json!({"email": format!(" {} ", email.to_uppercase()), "password": PASSWORD});
    visitor.post("/api/v1/sessions", body).await.expect(201);
    for password in ["Nine small red pots", " nine small red pots", "nine small red pot"] {
        let refused = visitor.post("/api/v1/sessions", json!({"email": email, "password": password})).await;
        assert_eq!(refused.problem(401), "wrong-credentials");
    }
}

/// Whoever may not log in gets the same answer, so that it does not tell who is a member.
#[tokio::test]
async fn a_wrong_password_an_unknown_address_and_a_shut_account_look_alike() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let without = society.member("Bram Oake").await;
    let id = without.id();
    society
        .write(move |conn| {
            let mut member = members::find(conn, id)?.unwrap();
            member.password_hash = None;
            members::update(conn, &member)
        })
        .await;
    let mut answers = Vec::new();
    for (email, password) in [
        (email_of(&society, &edda).await, "a wrong password"),
        ("nobody@merrow.example".to_owned(), PASSWORD),
        (email_of(&society, &without).await, PASSWORD),
    ] {
        let body = json!({"email": email, "password": password});
        answers.push(society.visitor().post("/api/v1/sessions", body).await);
    }
    for standing in [Standing::Requested, Standing::Suspended, Standing::Left] {
        let shut = society.member("Lise Tarn").await;
        give_password(&society, &shut, PASSWORD).await;
        let id = shut.id();
        society
            .write(move |conn| {
                let mut member = members::find(conn, id)?.unwrap();
                member.standing = standing;
                members::update(conn, &member)
            })
            .await;
        let body = json!({"email": email_of(&society, &shut).await, "password": PASSWORD});
        answers.push(society.visitor().post("/api/v1/sessions", body).await);
    }
    let bodies: Vec<Value> = answers
        .iter()
        .map(|answer| {
            assert_eq!(answer.problem(401), "wrong-credentials");
            let mut body = answer.json();
            body["request_id"] = Value::Null;
            body
        })
        .collect();
    assert_eq!(bodies.len(), 6);
    for body in &bodies {
        assert_eq!(body, &bodies[0]);
    }
}

#[tokio::test]
async fn an_access_token_is_good_for_fifteen_minutes() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let tokens = log_in(&society, &edda, PASSWORD).await;
    let phone = with(&society, &tokens);
    society.clock.advance(TimeDelta::seconds(899));
    phone.get("/api/v1/members/me").await.expect(200);
    society.clock.advance(TimeDelta::seconds(1));
    assert_eq!(phone.get("/api/v1/members/me").await.problem(401), "bad-token");
    let next = refresh(&society, &tokens).await.expect(200).json();
    with(&society, &next).get("/api/v1/members/me").await.expect(200);
}

#[tokio::test]
async fn a_refresh_token_is_exchanged_once_and_a_copy_of_it_ends_the_log_in() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let (first, other) = (log_in(&society, &edda, PASSWORD).await, log_in(&society, &edda, PASSWORD).await);
    let second = refresh(&society, &first).await.expect(200).json();
    assert_ne!(first["refresh_token"], second["refresh_token"]);
    let third = refresh(&society, &second).await.expect(200).json();
    with(&society, &third).get("/api/v1/members/me").await.expect(200);
    // Somebody kept a copy of the second.
    assert_eq!(refresh(&society, &second).await.problem(401), "refresh-token-reused");
    // At once: neither its owner nor the thief goes on, with whatever token of this log-in.
    for tokens in [&first, &second, &third] {
        let refused = with(&society, tokens).get("/api/v1/members/me").await;
        assert_eq!(refused.problem(401), "session-ended");
    }
    assert_eq!(refresh(&society, &third).await.problem(401), "session-ended");
    // Other log-ins are not concerned.
    with(&society, &other).get("/api/v1/members/me").await.expect(200);
    refresh(&society, &other).await.expect(200);
}

#[tokio::test]
async fn of_one_refresh_token_sent_twenty_times_at_once_one_is_exchanged() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let tokens = log_in(&society, &edda, PASSWORD).await;
    let sends: Vec<_> = (0..20)
        .map(|_| {
            let visitor = society.visitor();
            let body = json!({"refresh_token": tokens["refresh_token"]});
            tokio::spawn(async move { visitor.post("/api/v1/sessions/refresh", body).await.status })
        })
        .collect();
    let mut exchanged = 0;
    for send in sends {
        match send.await.unwrap() {
            200 => exchanged += 1,
            status => assert_eq!(status, 401),
        }
    }
    assert_eq!(exchanged, 1);
}

#[tokio::test]
async fn an_unknown_or_old_refresh_token_is_refused() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let unknown = json!({"refresh_token": "made up"});
    let refused = society.visitor().post("/api/v1/sessions/refresh", unknown).await;
    assert_eq!(refused.problem(401), "session-ended");
    let tokens = log_in(&society, &edda, PASSWORD).await;
    society.clock.advance(TimeDelta::days(30));
    assert_eq!(refresh(&society, &tokens).await.problem(401), "session-ended");
}

/// A log-in ends when it was not used for thirty days; one that is used goes on.
#[tokio::test]
async fn a_log_in_that_is_used_does_not_end() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let mut tokens = log_in(&society, &edda, PASSWORD).await;
    for _ in 0..4 {
        society.clock.advance(TimeDelta::days(20));
        tokens = refresh(&society, &tokens).await.expect(200).json();
        let phone = with(&society, &tokens);
        phone.get("/api/v1/members/me").await.expect(200);
        // What the list of log-ins says is what the token says.
        let listed = phone.get("/api/v1/sessions").await.expect(200).json();
        let this = listed.as_array().unwrap().iter().find(|row| row["this"] == true).unwrap();
        assert_eq!(this["expires_at"], tokens["refresh_expires_at"]);
    }
    society.clock.advance(TimeDelta::days(30));
    assert_eq!(refresh(&society, &tokens).await.problem(401), "session-ended");
}

#[tokio::test]
async fn logging_out_here_leaves_the_other_devices_and_everywhere_leaves_none() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let bram = society.member("Bram Oake").await;
    let (phone, desk, shed) = (
        log_in(&society, &edda, PASSWORD).await,
        log_in(&society, &edda, PASSWORD).await,
        log_in(&society, &edda, PASSWORD).await,
    );
    let devices = |tokens: &Value| {
        let actor = with(&society, tokens);
        async move { actor.get("/api/v1/sessions").await.expect(200).json().as_array().unwrap().len() }
    };
    // The harness's own log-in is the fourth.
    assert_eq!(devices(&phone).await, 4);
    with(&society, &phone).delete("/api/v1/sessions/current").await.expect(204);
    assert_eq!(with(&society, &phone).get("/api/v1/sessions").await.problem(401), "session-ended");
    assert_eq!(refresh(&society, &phone).await.problem(401), "session-ended");
    assert_eq!(devices(&desk).await, 3);
    with(&society, &desk).delete("/api/v1/sessions").await.expect(204);
    for tokens in [&desk, &shed] {
        assert_eq!(with(&society, tokens).get("/api/v1/sessions").await.problem(401), "session-ended");
        assert_eq!(refresh(&society, tokens).await.problem(401), "session-ended");
    }
    assert_eq!(edda.get("/api/v1/members/me").await.problem(401), "session-ended");
    bram.get("/api/v1/members/me").await.expect(200);
}

#[tokio::test]
async fn the_list_of_log_ins_shows_ones_own_and_tells_which_asks() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    society.member("Bram Oake").await;
    let tokens = log_in(&society, &edda, PASSWORD).await;
    let rows = with(&society, &tokens).get("/api/v1/sessions").await.expect(200).json();
    let rows = rows.as_array().unwrap();
    assert_eq!(rows.len(), 2);
    assert_eq!((&rows[0]["device"], &rows[0]["this"]), (&json!("telephone"), &json!(true)));
    assert_eq!(rows[1]["this"], false);
}

#[tokio::test]
async fn a_new_password_ends_the_log_ins_on_other_devices() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let (desk, phone) = (log_in(&society, &edda, PASSWORD).await, log_in(&society, &edda, PASSWORD).await);
    let change = |current: &str, new: &str| {
        let body = json!({"current_password": current, "new_password": new});
        let actor = with(&society, &desk);
        async move { actor.put("/api/v1/sessions/password", body).await }
    };
    let wrong = change("not the password", "ten small red pots").await;
    assert_eq!(
        (wrong.problem(422).as_str(), wrong.fields()),
        ("invalid-fields", vec!["/current_password wrong".to_owned()])
    );
    let short = change(PASSWORD, "eleven char").await;
    assert_eq!(short.fields(), ["/new_password too-short"]);
    with(&society, &phone).get("/api/v1/members/me").await.expect(200);
    change(PASSWORD, "ten small red pots").await.expect(204);
    with(&society, &desk).get("/api/v1/members/me").await.expect(200);
    refresh(&society, &desk).await.expect(200);
    assert_eq!(with(&society, &phone).get("/api/v1/members/me").await.problem(401), "session-ended");
    assert_eq!(refresh(&society, &phone).await.problem(401), "session-ended");
    let old = json!({"email": email_of(&society, &edda).await, "password": PASSWORD});
    assert_eq!(society.visitor().post("/api/v1/sessions", old).await.problem(401), "wrong-credentials");
    log_in(&society, &edda, "ten small red pots").await;
}

#[tokio::test]
async fn a_token_of_one_member_does_not_open_another_members_session() {
    let society = TestApp::start().await;
    let (edda, bram) = (member_with_password(&society).await, society.member("Bram Oake").await);
    let tokens = log_in(&society, &edda, PASSWORD).await;
    let claims =
        society.app.keys.verify(tokens["access_token"].as_str().unwrap(), society.clock.now()).unwrap();
    // Signed by the server, but of nobody: the session is another's.
    let mixed = society.visitor().with_token(&society.token(bram.id(), claims.sid));
    assert_eq!(mixed.get("/api/v1/members/me").await.problem(401), "session-ended");
}

#[tokio::test]
async fn everything_wrong_with_a_log_in_is_said_at_once() {
    let society = TestApp::start().await;
    let refused = society
        .visitor()
        .post("/api/v1/sessions", json!({"password": "", "device": "x".repeat(81), "remember": true}))
        .await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        ["/device too-long", "/email required", "/password out-of-range", "/remember unknown-field"]
    );
}

/// Hashing is bounded, so a rush of log-ins waits its turn and does not starve other requests.
#[tokio::test]
async fn a_rush_of_log_ins_is_served() {
    let society = TestApp::start().await;
    let edda = member_with_password(&society).await;
    let email = email_of(&society, &edda).await;
    let logging_in: Vec<_> = (0..16)
        .map(|n| {
            let visitor = society.visitor();
            let password = if n % 2 == 0 { PASSWORD } else { "a wrong password" };
            // More than ten wrong ones for one account would have to wait.
            let to = if n % 2 == 0 { email.clone() } else { format!("nobody{n}@merrow.example") };
            let body = json!({"email": to, "password": password});
            tokio::spawn(async move { visitor.post("/api/v1/sessions", body).await.status })
        })
        .collect();
    for (n, log_in) in logging_in.into_iter().enumerate() {
        assert_eq!(log_in.await.unwrap(), if n % 2 == 0 { 201 } else { 401 });
    }
    let health = society.visitor().request(Method::GET, "/health").send().await;
    assert_eq!(health.status, 200);
}
