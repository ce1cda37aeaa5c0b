//! Guessing and flooding: what a stranger may try, and that members are served meanwhile.
#![allow(
    clippy::type_complexity,
    clippy::format_push_string,
    clippy::single_match_else,
    reason = "statements made in a loop, and two outcomes side by side"
)]

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use chrono::TimeDelta;
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sql_types::BigInt;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill::http::client::{TrustedProxies, proxy};
use storksbill::serve::{self, Front};
use storksbill::sessions::guessing::{self, Purpose};
use storksbill::sessions::passwords::Passwords;
use storksbill::sessions::tidying;
use storksbill_db::rows::guessing::{self as rows, JoinAttempt};
use storksbill_db::rows::{members, sessions};
use storksbill_db::schema;
use storksbill_db::{Conn, Db};
use storksbill_domain::clock::Clock;
use storksbill_domain::words::Standing;
use storksbill_tests::process::{Process, create_administrator, run};
use storksbill_tests::{Actor, Answer, TestApp, TestDatabase};

use crate::sessions::{email_of, give_password, log_in};

const PASSWORD: &str = "nine small red pots";
const STRANGER: &str = "192.0.2.66";
const HOME: &str = "198.51.100.7";

/// The tests come by way of a proxy that is trusted, so that they can come from anywhere.
fn behind_a_proxy() -> Front {
    let proxies = TrustedProxies(vec![proxy("127.0.0.1").unwrap()]);
    Front { workers: Some(1), proxies, ..Front::default() }
}

async fn society() -> TestApp {
    TestApp::start_with(|_| {}, behind_a_proxy()).await
}

async fn post_from(actor: &Actor, address: &str, path: &str, body: &Value) -> Answer {
    actor.request(Method::POST, path).header("x-forwarded-for", address).json(body).send().await
}

async fn try_from(society: &TestApp, address: &str, email: &str, password: &str) -> Answer {
    let body = json!({"email": email, "password": password});
    post_from(&society.visitor(), address, "/api/v1/sessions", &body).await
}

async fn edda(society: &TestApp) -> (Actor, String) {
    let edda = society.member("Edda Wick").await;
    give_password(society, &edda, PASSWORD).await;
    let email = email_of(society, &edda).await;
    (edda, email)
}

/// A refusal for too many attempts.
pub async fn too_many(society: &TestApp) -> Answer {
    for _ in 0..guessing::MOST_FOR_ACCOUNT {
        let body = json!({"email": "lise@merrow.example", "password": "x"});
        society.visitor().post("/api/v1/sessions", body).await.expect(401);
    }
    let body = json!({"email": "lise@merrow.example", "password": "x"});
    society.visitor().post("/api/v1/sessions", body).await
}

#[track_caller]
fn waits(answer: &Answer) -> i64 {
    assert_eq!(answer.problem(429), "too-many-attempts");
    answer.header("retry-after").parse().expect("Retry-After is in seconds")
}

// ---- guessing ----

#[tokio::test]
async fn after_ten_wrong_passwords_a_stranger_waits_longer_each_time_and_the_owner_does_not() {
    let society = society().await;
    let (_, email) = edda(&society).await;
    try_from(&society, HOME, &email, PASSWORD).await.expect(201);
    let mut unknown = Vec::new();
    for (to, waited) in [(email.as_str(), None), ("nobody@merrow.example", Some(&mut unknown))] {
        let mut statuses = Vec::new();
        for n in 0..12 {
            let answer = try_from(&society, &format!("192.0.2.{n}"), to, "a wrong password").await;
            statuses.push(answer.status);
        }
        // Whatever addresses it comes from, and whether or not there is such an account.
        assert_eq!(statuses, [&[401; 10][..], &[429; 2]].concat(), "{to}");
        let mut seconds = Vec::new();
        for _ in 0..8 {
            let wait = waits(&try_from(&society, STRANGER, to, "a wrong password").await);
            seconds.push(wait);
            society.clock.advance(TimeDelta::seconds(wait));
            try_from(&society, STRANGER, to, "a wrong password").await.expect(401);
        }
        assert_eq!(seconds, [31, 61, 121, 241, 481, 901, 901, 901], "{to}");
        // Right or wrong, a stranger waits, and learns nothing by it.
        waits(&try_from(&society, STRANGER, to, PASSWORD).await);
        if let Some(unknown) = waited {
            unknown.extend(seconds);
        }
    }
    assert_eq!(unknown.len(), 8);
    // Home has a count of its own, which is as strict.
    try_from(&society, HOME, &email, PASSWORD).await.expect(201);
    for _ in 0..10 {
        try_from(&society, HOME, &email, "a wrong password").await.expect(401);
    }
    let wait = waits(&try_from(&society, HOME, &email, PASSWORD).await);
    society.clock.advance(TimeDelta::seconds(wait));
    try_from(&society, HOME, &email, PASSWORD).await.expect(201);
}

#[tokio::test]
async fn an_address_is_familiar_for_thirty_days() {
    let society = society().await;
    let (_, email) = edda(&society).await;
    try_from(&society, HOME, &email, PASSWORD).await.expect(201);
    for (days, status) in [(29, 201), (30, 429)] {
        society.clock.advance(TimeDelta::days(days));
        for _ in 0..10 {
            try_from(&society, STRANGER, &email, "a wrong password").await.expect(401);
        }
        assert_eq!(try_from(&society, HOME, &email, PASSWORD).await.status, status, "after {days} days");
        society.clock.advance(TimeDelta::hours(1));
    }
}

/// The count is kept before anything is verified, so haste gains nothing.
#[tokio::test]
async fn of_forty_guesses_at_once_ten_are_looked_at() {
    let society = Arc::new(society().await);
    let (_, email) = edda(&society).await;
    let guesses: Vec<_> = (0..40)
        .map(|n| {
            let (society, email) = (Arc::clone(&society), email.clone());
            tokio::spawn(async move {
                try_from(&society, &format!("192.0.2.{n}"), &email, "a wrong password").await.status
            })
        })
        .collect();
    let mut looked_at = 0;
    for guess in guesses {
        match guess.await.unwrap() {
            401 => looked_at += 1,
            status => assert!([429, 409, 503].contains(&status), "{status}"),
        }
    }
    assert!(looked_at <= 10, "{looked_at} guesses were looked at");
    waits(&try_from(&society, STRANGER, &email, PASSWORD).await);
}

#[tokio::test]
async fn an_address_that_fails_a_hundred_times_waits_whatever_the_account() {
    let society = society().await;
    let (_, email) = edda(&society).await;
    for n in 0..guessing::MOST_FROM_ADDRESS {
        try_from(&society, STRANGER, &format!("nobody{n}@merrow.example"), "x").await.expect(401);
    }
    assert_eq!(waits(&try_from(&society, STRANGER, &email, PASSWORD).await), 31);
    try_from(&society, HOME, &email, PASSWORD).await.expect(201);
    society.clock.advance(TimeDelta::seconds(31));
    try_from(&society, STRANGER, &email, PASSWORD).await.expect(201);
}

/// Every road that proves a password or a code: ten wrong ones close it. Whoever is logged in has a count of their own.
#[tokio::test]
async fn no_road_that_proves_a_password_can_be_guessed_at() {
    let society = society().await;
    let (edda, email) = edda(&society).await;
    let roads = [
        ("POST", "/api/v1/sessions", json!({"email": email, "password": "a wrong password"}), 401),
        (
            "PUT",
            "/api/v1/sessions/password",
            json!({"current_password": "a wrong password", "new_password": "ten small red pots"}),
            422,
        ),
        (
            "POST",
            "/api/v1/sessions/reset",
            json!({"email": email, "code": "2222-3333-4444-5555", "new_password": "ten small red pots"}),
            422,
        ),
    ];
    for (method, path, body, wrong) in &roads {
        society.clock.advance(TimeDelta::hours(1));
        let edda = society.again(&edda).await;
        let send = |path: &str, method: &str, body: &Value| {
            let ask = edda.request(method.parse().unwrap(), path).header("x-forwarded-for", STRANGER);
            ask.json(body).send()
        };
        for _ in 0..10 {
            send(path, method, body).await.expect(*wrong);
        }
        waits(&send(path, method, body).await);
        if *path == "/api/v1/sessions" {
            let (method, path, body, wrong) = &roads[1];
            send(path, method, body).await.expect(*wrong);
        }
    }
}

/// Not with the process: another server on the same records, or the same after a restart, knows the count.
#[tokio::test]
async fn a_count_is_shared_by_every_server_and_outlives_them() {
    let society = society().await;
    for _ in 0..10 {
        try_from(&society, STRANGER, "nobody@merrow.example", "x").await.expect(401);
    }
    let db = Db::open(society.database_url(), 2).unwrap();
    let clock = Clock::stopped_at(society.clock.now());
    let settings = (*society.app.society).clone();
    let other = serve::state(db, clock, Passwords::new(1, 8, 1).unwrap(), settings).await.unwrap();
    let address = HOME.parse().unwrap();
    let refused = guessing::attempt(&other, Purpose::LogIn, "nobody@merrow.example", address, None).await;
    assert_eq!(refused.unwrap_err().code.as_str(), "too-many-attempts");
    guessing::attempt(&other, Purpose::LogIn, "somebody@merrow.example", address, None).await.unwrap();
}

#[tokio::test]
async fn a_refused_log_in_is_one_line_of_the_log_without_what_was_tried() {
    let database = TestDatabase::fresh();
    create_administrator(&database.url, "una@merrow.example", PASSWORD);
    let server = Process::serve(&database.url, &["--trusted-proxy", "127.0.0.0/8"]);
    let visitor = server.visitor();
    for email in ["una@merrow.example", "nobody@merrow.example"] {
        let body = json!({"email": email, "password": "rather secret guess"});
        post_from(&visitor, STRANGER, "/api/v1/sessions", &body).await.expect(401);
    }
    let body = json!({"email": "una@merrow.example", "password": PASSWORD});
    let tokens = post_from(&visitor, STRANGER, "/api/v1/sessions", &body).await.expect(201).json();
    let log = server.terminate().stderr;
    let lines: Vec<&str> = log.lines().filter(|line| line.contains("refused")).collect();
    assert_eq!(lines.len(), 2, "{log}");
    assert!(lines.iter().all(|line| line.contains(STRANGER) && line.contains("wrong password")), "{log}");
    let una = tokens["member_id"].as_str().unwrap();
    assert_eq!(lines.iter().map(|line| line.contains(una)).collect::<Vec<_>>(), [true, false], "{log}");
    for secret in ["rather secret", "merrow.example", PASSWORD, tokens["refresh_token"].as_str().unwrap()] {
        assert!(!log.contains(secret), "{secret} in {log}");
    }
}

// ---- turns ----

#[tokio::test]
async fn a_member_is_served_within_a_few_turns_while_a_hundred_junk_log_ins_wait() {
    // One hash at a time, some tenths of a second each.
    let slow = Passwords::new(1, 32 * 1024, 8).unwrap();
    let society = Arc::new(TestApp::start_hashing(slow, |_| {}, behind_a_proxy()).await);
    let (_, email) = edda(&society).await;
    let (refused, looked_at) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
    let junk: Vec<_> = (0..100)
        .map(|n| {
            let (society, refused, looked_at) =
                (Arc::clone(&society), Arc::clone(&refused), Arc::clone(&looked_at));
            tokio::spawn(async move {
                let email = format!("nobody{n}@merrow.example");
                let answer = try_from(&society, STRANGER, &email, "junk").await;
                match answer.status {
                    401 => looked_at.fetch_add(1, Ordering::SeqCst),
                    _ => {
                        assert!(!answer.header("retry-after").is_empty(), "{}", answer.text());
                        refused.fetch_add(1, Ordering::SeqCst)
                    }
                };
            })
        })
        .collect();
    // Those that wait for nothing are told so at once.
    while refused.load(Ordering::SeqCst) < 60 {
        tokio::time::sleep(std::time::Duration::from_millis(5)).await;
    }
    let before = looked_at.load(Ordering::SeqCst);
    try_from(&society, HOME, &email, PASSWORD).await.expect(201);
    let turns = looked_at.load(Ordering::SeqCst) - before;
    assert!(turns <= 4, "{turns} junk log-ins went before the member");
    assert!(looked_at.load(Ordering::SeqCst) < 12, "the junk was still waiting when the member was served");
    for one in junk {
        one.await.unwrap();
    }
}

// ---- requests to join ----

async fn ask_from(society: &TestApp, address: &str, email: &str) -> Answer {
    let body = json!({"email": email, "name": "Edda Wick", "password": PASSWORD});
    post_from(&society.visitor(), address, "/api/v1/members/requests", &body).await
}

#[tokio::test]
async fn five_requests_from_one_address_wait_at_a_time_whether_or_not_they_are_of_members() {
    let society = society().await;
    let una = society.administrator("Una Marsh").await;
    let known = email_of(&society, &una).await;
    for (address, emails) in [
        (STRANGER, (0..6).map(|n| format!("fresh{n}@merrow.example")).collect::<Vec<_>>()),
        (HOME, vec![known; 6]),
    ] {
        for email in &emails[..5] {
            ask_from(&society, address, email).await.expect(202);
        }
        assert!(waits(&ask_from(&society, address, &emails[5]).await) > 3600);
    }
    ask_from(&society, "203.0.113.5", "lise@merrow.example").await.expect(202);
    // One that is decided makes room.
    let asking = una.walk("/api/v1/members/requests").await;
    assert_eq!(asking.len(), 6);
    let first = asking.iter().find(|row| row["email"] == "fresh0@merrow.example").unwrap();
    let path = format!("/api/v1/members/requests/{}/approval", first["member_id"].as_str().unwrap());
    una.request(Method::POST, &path).send().await.expect(200);
    ask_from(&society, STRANGER, "fresh5@merrow.example").await.expect(202);
    waits(&ask_from(&society, STRANGER, "fresh6@merrow.example").await);
}

#[tokio::test]
async fn two_hundred_requests_wait_in_all() {
    let society = society().await;
    let now = society.clock.now().naive_utc();
    society
        .write(move |conn| {
            for n in 0..199 {
                let (id, address) = (format!("id {n}"), format!("hash of an address {n}"));
                rows::note_join(conn, &JoinAttempt { id, address, member_id: None, asked_at: now })?;
            }
            Ok(())
        })
        .await;
    ask_from(&society, STRANGER, "edda@merrow.example").await.expect(202);
    waits(&ask_from(&society, HOME, "bram@merrow.example").await);
}

#[tokio::test]
async fn a_note_with_a_request_holds_five_hundred_characters() {
    let society = society().await;
    let note = |length: usize| json!({"email": "a@merrow.example", "name": "Lise Tarn", "password": PASSWORD, "note": "x".repeat(length)});
    let path = "/api/v1/members/requests";
    post_from(&society.visitor(), HOME, path, &note(500)).await.expect(202);
    assert_eq!(post_from(&society.visitor(), HOME, path, &note(501)).await.fields(), ["/note too-long"]);
}

#[derive(QueryableByName)]
struct Tally {
    #[diesel(sql_type = BigInt)]
    n: i64,
}

fn written(conn: &mut Conn) -> i64 {
    let ask = diesel::sql_query("select count(*) as n from written");
    let rows: Vec<Tally> = match conn {
        Conn::Sqlite(sqlite) => ask.load(sqlite),
        Conn::Postgres(pg) => ask.load(pg),
    }
    .unwrap();
    rows[0].n
}

/// Time is not asked, which tells little on a busy machine: what takes time is what is written, and that is counted.
#[tokio::test]
async fn a_request_writes_as_much_for_a_known_address_as_for_a_fresh_one() {
    let society = society().await;
    let una = society.administrator("Una Marsh").await;
    let known = email_of(&society, &una).await;
    society
        .write(|conn| {
            let mut sql = "create table written (what text);".to_owned();
            if matches!(conn, Conn::Postgres(_)) {
                sql += "create function tally() returns trigger language plpgsql as \
                        $$ begin insert into written values (tg_table_name); return null; end $$;";
            }
            for table in ["members", "join_attempts", "login_attempts", "sessions", "club_members"] {
                for verb in ["insert", "update", "delete"] {
                    let body = match conn {
                        Conn::Sqlite(_) => format!("begin insert into written values ('{table}'); end"),
                        Conn::Postgres(_) => "for each row execute function tally()".to_owned(),
                    };
                    sql += &format!("create trigger {verb}_{table} after {verb} on {table} {body};");
                }
            }
            match conn {
                Conn::Sqlite(sqlite) => sqlite.batch_execute(&sql)?,
                Conn::Postgres(pg) => pg.batch_execute(&sql)?,
            }
            Ok(())
        })
        .await;
    let mut counts = Vec::new();
    for (email, address) in [
        (known.as_str(), "192.0.2.1"),
        ("fresh@merrow.example", "192.0.2.2"),
        ("fresh@merrow.example", "192.0.2.3"),
    ] {
        let before = society.read(|conn| Ok(written(conn))).await;
        ask_from(&society, address, email).await.expect(202);
        counts.push(society.read(|conn| Ok(written(conn))).await - before);
    }
    assert_eq!(counts, [2, 2, 2]);
    let id = una.id();
    let member = society.read(move |conn| members::find(conn, id)).await.unwrap();
    assert_eq!((member.standing, member.name.as_str(), member.version), (Standing::Active, "Una Marsh", 1));
}

// ---- what is thrown away ----

async fn refresh(society: &TestApp, tokens: &Value) -> Answer {
    let body = json!({"refresh_token": tokens["refresh_token"]});
    society.visitor().post("/api/v1/sessions/refresh", body).await
}

async fn tokens_kept(society: &TestApp) -> i64 {
    society.read(|conn| Ok(schema::refresh_tokens::table.count().get_result(conn)?)).await
}

#[tokio::test]
async fn two_hundred_refreshes_leave_few_tokens_and_a_copy_is_still_known() {
    let society = society().await;
    let (edda, _) = edda(&society).await;
    let mut tokens = vec![log_in(&society, &edda, PASSWORD).await];
    for _ in 0..200 {
        society.clock.advance(TimeDelta::minutes(14));
        let next = refresh(&society, tokens.last().unwrap()).await.expect(200).json();
        tokens.push(next);
    }
    assert_eq!(tokens_kept(&society).await, 21);
    // One from long ago is no token any more and ends nothing; a late copy of a recent one ends the log-in.
    assert_eq!(refresh(&society, &tokens[100]).await.problem(401), "session-ended");
    let mut last = refresh(&society, &tokens[200]).await.expect(200).json();
    society.clock.advance(TimeDelta::days(20));
    assert!(tidying::tidy(&society.app).await.is_empty());
    last = refresh(&society, &last).await.expect(200).json();
    assert_eq!(refresh(&society, &tokens[190]).await.problem(401), "refresh-token-reused");
    assert_eq!(refresh(&society, &last).await.problem(401), "session-ended");
}

#[tokio::test]
async fn twenty_log_ins_of_a_member_run_and_one_more_ends_the_oldest() {
    let society = society().await;
    let (edda, _) = edda(&society).await;
    let mut all = Vec::new();
    for _ in 0..23 {
        all.push(log_in(&society, &edda, PASSWORD).await);
    }
    let newest = society.visitor().with_token(all[22]["access_token"].as_str().unwrap());
    let running = newest.get("/api/v1/sessions").await.expect(200).json();
    assert_eq!(running.as_array().unwrap().len(), 20);
    for (n, tokens) in all.iter().enumerate() {
        assert_eq!(refresh(&society, tokens).await.status, if n < 3 { 401 } else { 200 }, "{n}");
    }
    let reasons: Vec<Option<String>> = society
        .read(|conn| {
            use schema::sessions::dsl;
            Ok(dsl::sessions.filter(dsl::ended_at.is_not_null()).select(dsl::end_reason).load(conn)?)
        })
        .await;
    // The harness's own log-in was the first.
    assert_eq!(reasons, vec![Some("too_many".to_owned()); 4]);
}

#[tokio::test]
async fn what_nobody_needs_any_more_is_thrown_away_and_nothing_else() {
    let society = society().await;
    let una = society.administrator("Una Marsh").await;
    let (edda, email) = edda(&society).await;
    log_in(&society, &edda, PASSWORD).await;
    log_in(&society, &edda, PASSWORD).await;
    let token =
        una.post("/api/v1/invitations", json!({"email": "bram@merrow.example"})).await.expect(201).json();
    let body = json!({"token": token["token"], "name": "Bram Oake", "password": PASSWORD});
    society.visitor().post("/api/v1/invitations/acceptance", body).await.expect(201);
    una.post("/api/v1/invitations", json!({"email": "lise@merrow.example", "days": 60})).await.expect(201);
    try_from(&society, STRANGER, &email, "a wrong password").await.expect(401);
    ask_from(&society, STRANGER, "fresh@merrow.example").await.expect(202);
    edda.delete("/api/v1/sessions").await.expect(204);

    let kept = async || {
        society
            .read(|conn| {
                Ok::<[i64; 6], storksbill_db::DbError>([
                    schema::refresh_tokens::table.count().get_result(conn)?,
                    schema::sessions::table.count().get_result(conn)?,
                    schema::invitations::table.count().get_result(conn)?,
                    schema::login_attempts::table.count().get_result(conn)?,
                    schema::join_attempts::table.count().get_result(conn)?,
                    schema::members::table.count().get_result(conn)?,
                ])
            })
            .await
    };
    // Una's log-in of ten years, Edda's three; counts of two addresses, one of an account, one of it at home.
    let mut days = 0;
    for (day, expected) in [
        (0, [2, 4, 2, 4, 1, 4]),
        (2, [0, 4, 2, 1, 1, 4]),
        (29, [0, 4, 2, 1, 1, 4]),
        (31, [0, 4, 1, 0, 1, 4]),
        (59, [0, 4, 1, 0, 1, 4]),
        (61, [0, 4, 1, 0, 0, 3]),
        (91, [0, 1, 0, 0, 0, 3]),
    ] {
        society.clock.advance(TimeDelta::days(day - days));
        days = day;
        assert!(tidying::tidy(&society.app).await.is_empty());
        assert_eq!(kept().await, expected, "on day {day}");
    }
}

// ---- passwords ----

/// Every road that sets a password, each with what everybody knows of the person.
#[tokio::test]
async fn no_road_to_a_password_takes_one_that_anybody_would_try() {
    let society = society().await;
    let una = society.administrator("Una Marsh").await;
    let (edda, email) = edda(&society).await;
    let invited =
        una.post("/api/v1/invitations", json!({"email": "bram.oake@merrow.example"})).await.expect(201);
    let token = invited.json()["token"].clone();
    let easy =
        ["aaaaaaaaaaaa", "password1234", "abcdefghijklm", "qwertyuiop12", "The Merrow Pelargonium Society"];
    let visitor = society.visitor();
    let roads: [(&str, &str, &dyn Fn(&str) -> Value, [&str; 2]); 3] = [
        (
            "POST /api/v1/members/requests",
            "/password",
            &|password| json!({"email": "lise.tarn@merrow.example", "name": "Lise Tarn", "password": password}),
            ["lise.tarn@merrow.example", "Lise Tarn 2026"],
        ),
        (
            "POST /api/v1/invitations/acceptance",
            "/password",
            &|password| json!({"token": token, "name": "Bram Oake", "password": password}),
            ["bram.oake@merrow.example", "BramOake1234"],
        ),
        (
            "PUT /api/v1/sessions/password",
            "/new_password",
            &|password| json!({"current_password": PASSWORD, "new_password": password}),
            [email.as_str(), "Edda Wick 2026"],
        ),
    ];
    for (road, pointer, body, own) in roads {
        let (method, path) = road.split_once(' ').unwrap();
        let actor = if method == "PUT" { &edda } else { &visitor };
        for password in easy.iter().chain(&own) {
            let answer = actor.request(method.parse().unwrap(), path).json(&body(password)).send().await;
            assert_eq!(answer.status, 422, "{road}: {password}");
            assert_eq!(answer.fields(), [format!("{pointer} too-common")], "{road}: {password}");
        }
        let taken =
            actor.request(method.parse().unwrap(), path).json(&body("kettle gravel ninety")).send().await;
        assert!(taken.status < 300, "{road}: {}", taken.text());
    }
    let database = TestDatabase::fresh();
    for password in ["aaaaaaaaaaaa", "password1234", "una.marsh@merrow.example", "Una Marsh 2026"] {
        let who = ["--email", "una.marsh@merrow.example", "--name", "Una Marsh"];
        let command = [&["admin", "create", "--database", &database.url][..], &who].concat();
        let refused = run(&command, &format!("{password}\n"));
        assert_eq!(refused.code, Some(1), "{password}");
        assert!(refused.stderr.contains("the password is among the first"), "{}", refused.stderr);
        assert_eq!(refused.stderr.lines().count(), 1);
    }
    assert_eq!(sessions_of(&society).await, 2);
}

async fn sessions_of(society: &TestApp) -> usize {
    let now = society.clock.now().naive_utc();
    society
        .read(move |conn| {
            let everybody: Vec<storksbill_domain::ids::MemberId> =
                schema::members::table.select(schema::members::id).load(conn)?;
            let mut all = 0;
            for member in everybody {
                all += sessions::running_of(conn, member, now)?.len();
            }
            Ok(all)
        })
        .await
}
