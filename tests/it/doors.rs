//! Small doors: what a file, a header, a name, a link or a day from outside must not open.
#![allow(clippy::items_after_statements, reason = "a row stands beside the query it is for")]

use std::time::{Duration, Instant};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use reqwest::Method;
use serde_json::json;
use storksbill::http::problem::{Code, Problem};
use storksbill::jobs::enqueue;
use storksbill::serve::Front;
use storksbill_db::rows::notices::{self as rows_of_notices, Notice};
use storksbill_db::schema::{notices, show_receipts, shows};
use storksbill_db::{Db, DbError};
use storksbill_domain::limits;
use storksbill_domain::words::{JobKind, NoticeKind, SubjectKind};
use storksbill_tests::process::{Process, create_administrator, run};
use storksbill_tests::{TestApp, TestDatabase, on_postgres};

use crate::show_kit::Held;

#[tokio::test]
async fn every_answer_is_what_its_type_says_and_in_no_frame() {
    let society = TestApp::start().await;
    let (una, visitor) = (society.administrator("Una Marsh").await, society.visitor());
    let mut answers = Vec::new();
    for path in [
        "/",
        "/docs",
        "/login",
        "/season",
        "/problems",
        "/health",
        "/health/ready",
        "/openapi.json",
        "/assets/style.css",
        "/nothing",
        "/api/v1/nothing",
        "/api/v1/clubs",
        "/api/v1/clubs?limit=0",
        "/api/v1/members/me",
        "/api/v1/plants/export.csv",
        "/api/v1/pedigrees/export.csv",
        "/api/v1/shows.ics",
        "/api/v1/shows.atom",
        "/brapi/v2/serverinfo",
    ] {
        answers.push(visitor.request(Method::GET, path).send().await);
        answers.push(una.request(Method::GET, path).send().await);
    }
    answers.push(una.post("/api/v1/clubs", json!({})).await);
    answers.push(una.send_csv(Method::POST, "/api/v1/plants/import", "x\n").await);
    for answer in answers {
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{}", answer.asked);
        let policy = answer.header("content-security-policy");
        assert!(policy.contains("frame-ancestors 'none'"), "{}: {policy}", answer.asked);
        assert_eq!(answer.header("strict-transport-security"), "", "{}", answer.asked);
    }
    let front = Front { workers: Some(1), hsts_seconds: Some(31_536_000), ..Front::default() };
    let sealed = TestApp::start_with(|_| {}, front).await;
    let told = sealed.visitor().get("/api/v1/clubs").await.header("strict-transport-security");
    assert_eq!(told, "max-age=31536000");
}

#[tokio::test]
async fn links_that_leave_the_server_are_never_the_askers_own() {
    for public_url in [None, Some("https://merrow.example".to_owned())] {
        let own = public_url.clone();
        let front = Front { workers: Some(1), ..Front::default() };
        let society = TestApp::start_with(move |society| society.public_url = own, front).await;
        let club = society.club("Quay Town", society.region("The Vale").await).await;
        let bram = society.secretary_of("Bram Oake", club).await;
        let held = Held::publish((society, club, bram), "2026-06-13", 1, json!({})).await;
        for path in ["/api/v1/shows.atom", "/api/v1/shows.ics", "/", "/api/v1/shows", "/docs"] {
            let ask = held.society.visitor().request(Method::GET, path);
            let answer = ask
                .header("host", "evil.example")
                .header("x-forwarded-host", "evil.example")
                .header("x-forwarded-proto", "javascript")
                .header("forwarded", "host=evil.example;proto=javascript")
                .send()
                .await
                .expect(200);
            let told = format!("{}{:?}", answer.text(), answer.headers);
            assert!(!told.contains("evil") && !told.contains("javascript://"), "{path}: {told}");
        }
        let news = held.society.visitor().get("/api/v1/shows.atom").await.text();
        let link = format!("<link href=\"{}/api/v1/shows/", public_url.unwrap_or_default());
        assert!(news.contains("<id>urn:uuid:") && news.contains(&link), "{news}");
    }
}

#[tokio::test]
async fn marks_that_turn_the_writing_are_in_no_name_and_no_text() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let una = society.administrator("Una Marsh").await;
    for mark in ['\u{202e}', '\u{202a}', '\u{2066}', '\u{2069}', '\u{200f}', '\u{200e}', '\u{61c}'] {
        let name = format!("Quay {mark}Town");
        let refused = una.post("/api/v1/clubs", json!({"name": name, "region_id": region})).await;
        assert_eq!(refused.fields(), ["/name control-character"], "{}", refused.text());
        let plant = json!({"cultivar_id": region, "label": name, "how_many": 1, "environment": "outdoors",
            "form": "bush", "visibility": "private"});
        let refused = una.post("/api/v1/plants", plant).await;
        assert!(refused.fields().contains(&"/label control-character".to_owned()), "{}", refused.text());
    }
}

#[cfg(unix)]
#[test]
fn a_new_database_is_its_owners_alone_and_whole_in_one_file() {
    use std::os::unix::fs::PermissionsExt;
    if on_postgres().is_some() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("society.sqlite3");
    let url = file.to_str().unwrap();
    let modes = || -> Vec<(String, u32)> {
        let files = std::fs::read_dir(folder.path()).unwrap().map(Result::unwrap);
        files
            .map(|f| {
                (f.file_name().into_string().unwrap(), f.metadata().unwrap().permissions().mode() & 0o777)
            })
            .collect()
    };
    assert_eq!(run(&["migrate", "--database", url], "").code, Some(0));
    create_administrator(url, "una@merrow.example", "nine small red pots");
    assert!(modes().iter().all(|(_, mode)| *mode == 0o600), "{:?}", modes());
    // The one file by itself is the whole society.
    let copy = folder.path().join("copy.sqlite3");
    std::fs::copy(&file, &copy).unwrap();
    #[derive(QueryableByName)]
    struct Count {
        #[diesel(sql_type = diesel::sql_types::BigInt)]
        n: i64,
    }
    let mut conn = SqliteConnection::establish(copy.to_str().unwrap()).unwrap();
    let count: Count = diesel::sql_query("select count(*) as n from members").get_result(&mut conn).unwrap();
    assert_eq!(count.n, 1);

    let server = Process::serve(url, &[]);
    assert!(modes().iter().filter(|(name, _)| name.starts_with("society")).count() > 1, "{:?}", modes());
    assert!(modes().iter().filter(|(n, _)| n.starts_with("society")).all(|(_, mode)| *mode == 0o600));
    assert_eq!(server.terminate().stderr, "");
    // Of a file that others may read it warns.
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o644)).unwrap();
    let said = Process::serve(url, &[]).terminate().stderr;
    assert!(said.contains("may read the database") && said.contains("chmod 600"), "{said}");
    // A log that is no terminal has no colours.
    assert!(!said.contains('\u{1b}'), "{said:?}");
}

#[test]
fn the_signing_key_may_stand_in_a_file() {
    let database = TestDatabase::bare();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("key");
    std::fs::write(&file, "too short\n").unwrap();
    let with_key = ["--signing-key-file", file.to_str().unwrap()];
    let serve = |more: &[&str]| {
        let all = [&["serve", "--listen", "127.0.0.1:0", "--database", &database.url][..], more].concat();
        run(&all, "")
    };
    let ended = serve(&with_key);
    assert_eq!(ended.code, Some(1));
    assert!(ended.stderr.contains("the signing key has 9 characters and needs 32"), "{}", ended.stderr);
    std::fs::write(&file, "nine small red pots on a long grey bench\n").unwrap();
    assert_eq!(Process::serve(&database.url, &with_key).terminate().code, Some(0));
    #[derive(QueryableByName)]
    struct Kept {
        #[diesel(sql_type = diesel::sql_types::BigInt)]
        n: i64,
    }
    let sql = "select count(*) as n from server_settings where name = 'signing_secret'";
    let kept: Kept = diesel::sql_query(sql).get_result(&mut database.connect()).unwrap();
    assert_eq!(kept.n, 0, "the database holds a key that nobody needs");
}

#[tokio::test]
async fn a_server_whose_database_is_held_is_not_ready() {
    let society = TestApp::start().await;
    let ready = || async { society.visitor().request(Method::GET, "/health/ready").send().await };
    assert_eq!(ready().await.expect(200).text(), "ready\n");
    let mut conn = if storksbill_db::is_postgres(society.database_url()) {
        let mut conn = PgConnection::establish(society.database_url()).unwrap();
        conn.batch_execute("begin; lock table server_settings in access exclusive mode").unwrap();
        storksbill_db::Conn::Postgres(conn)
    } else {
        let mut conn = SqliteConnection::establish(society.database_url()).unwrap();
        conn.batch_execute("begin immediate").unwrap();
        storksbill_db::Conn::Sqlite(conn)
    };
    let started = Instant::now();
    let held = ready().await.expect(503);
    assert!(held.text().contains("the database"), "{}", held.text());
    assert!(started.elapsed() < Duration::from_secs(8), "{:?}", started.elapsed());
    // The process answers all the same.
    society.visitor().request(Method::GET, "/health").send().await.expect(200);
    conn.batch_execute("rollback").unwrap();
    assert_eq!(ready().await.expect(200).text(), "ready\n");
}

#[tokio::test]
async fn a_job_asked_for_twice_is_seen_by_both() {
    let society = TestApp::start().await;
    let (una, edda, finn) = (
        society.member("Una Marsh").await,
        society.member("Edda Wick").await,
        society.member("Finn Reed").await,
    );
    let now = society.clock.now();
    let askers = [Some(una.id()), Some(edda.id()), Some(una.id()), Some(edda.id()), None];
    let jobs = society
        .write(move |conn| {
            let asked = askers.map(|asker| enqueue(conn, JobKind::Refit, None, asker, now));
            asked.into_iter().map(|job| job.map(|job| job.id)).collect::<Result<Vec<_>, _>>()
        })
        .await;
    assert!(jobs.iter().all(|job| *job == jobs[0]));
    let path = format!("/api/v1/jobs/{}", jobs[0]);
    for (asker, status) in [(&una, 200), (&edda, 200), (&finn, 404)] {
        asker.get(&path).await.expect(status);
    }
}

/// Days, cursors and sums from beyond are refused alike on both databases.
#[tokio::test]
async fn what_is_beyond_is_refused_at_the_door_and_by_the_schema() {
    use base64::Engine;
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let bram = society.secretary_of("Bram Oake", club).await;
    for (path, name) in [("/api/v1/shows", "from"), ("/api/v1/shows", "to"), ("/api/v1/notices", "due_by")] {
        for day in ["-262143-01-01", "%2B262142-12-31", "1599-12-31", "2401-01-01"] {
            let refused = bram.get(&format!("{path}?{name}={day}")).await;
            assert_eq!(refused.problem(422), "invalid-query", "{path} {day}");
        }
        bram.get(&format!("{path}?{name}=2400-12-31")).await.expect(200);
    }
    let forged = |key: &str| {
        let place = serde_json::to_vec(&[key, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"]).unwrap();
        base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(place)
    };
    for path in [
        "/api/v1/shows",
        "/api/v1/notices",
        "/api/v1/members/me/results",
        "/api/v1/members/me/inside-readings",
    ] {
        for key in ["+262142-12-31", "-262143-01-01", "2026-13-01", "x"] {
            let refused = bram.get(&format!("{path}?cursor={}", forged(key))).await;
            assert_eq!(refused.problem(400), "bad-cursor", "{path} {key}");
        }
    }
    for key in ["+262142-12-31T00:00:00", "-262143-01-01T00:00:00.000000", "x"] {
        let refused = bram.get(&format!("/api/v1/swaps/rounds?cursor={}", forged(key))).await;
        assert_eq!(refused.problem(400), "bad-cursor", "{key}");
    }
    let other = base64::engine::general_purpose::URL_SAFE_NO_PAD.encode(br#"["a","no id"]"#);
    assert_eq!(bram.get(&format!("/api/v1/clubs?cursor={other}")).await.problem(400), "bad-cursor");

    let show = |held_on: &str, opens_at: &str| {
        json!({"name": "Far Show", "held_on": held_on, "place": "Quay Town Hall", "opens_at": opens_at,
               "closes_wall": "2026-06-11T21:00", "zone": "Europe/London"})
    };
    let path = format!("/api/v1/clubs/{club}/shows");
    let refused = bram.post(&path, show("+262142-12-31", "+262142-12-31T00:00:00Z")).await;
    for field in ["/held_on invalid-value", "/opens_at invalid-value"] {
        assert!(refused.fields().contains(&field.to_owned()), "{}", refused.text());
    }
    assert!(refused.text().contains("must be of the years 1600 to 2400"), "{}", refused.text());

    // What finds another way in is stopped by the schema, under one name on both.
    let far = NaiveDate::from_ymd_opt(9999, 12, 31).unwrap();
    let held = Held::publish((society, club, bram), "2400-12-31", 1, json!({})).await;
    let calendar = held.society.visitor().get("/api/v1/shows.ics").await.expect(200).text();
    assert!(calendar.contains("DTSTART;VALUE=DATE:24001231\r\n"), "{calendar}");
    let broken = held
        .society
        .app
        .db
        .write(move |conn| {
            diesel::update(shows::table).set(shows::held_on.eq(far)).execute(conn)?;
            Ok::<_, DbError>(())
        })
        .await
        .unwrap_err();
    let DbError::Constraint(rule) = broken else { panic!("{broken}") };
    assert_eq!(rule.name(), "shows_held_on_bounds_check");
}

/// A sum that cannot be is refused, and what is paid is never more than what was paid.
#[tokio::test]
async fn money_does_not_wrap() {
    let held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let edda = held.society.member("Edda Wick").await;
    held.enter(&edda, 1).await;
    let exhibitors = held.secretary.walk(&format!("{}/exhibitors", held.show)).await;
    let id = exhibitors[0]["id"].as_str().unwrap();
    let path = format!("{}/receipts", held.show);
    let receipt = |pence: i64| json!({"exhibitor_id": id, "pence": pence, "how": "cash"});
    for pence in [i64::MIN, i64::MIN + 1, i64::MAX, -10_000_001, 10_000_001, 0] {
        let refused = held.secretary.post(&path, receipt(pence)).await;
        assert_eq!(refused.status, 422, "{pence}: {}", refused.text());
        assert!(refused.fields()[0].starts_with("/pence "), "{pence}: {}", refused.text());
    }
    for pence in [-1000, 1500] {
        held.secretary.post(&path, receipt(pence)).await.expect(201);
    }
    let paid: i64 = held
        .society
        .read(|conn| Ok(show_receipts::table.select(show_receipts::pence).load::<i64>(conn)?.iter().sum()))
        .await;
    assert_eq!(paid, 500);
    let draft = held.secretary.get(&format!("{}/draft", held.show)).await.expect(200);
    let mut schedule = draft.json()["schedule"].clone();
    schedule["classes"][0]["rules"]["prizes"] = json!([9_223_372_036_854_775_807_i64]);
    let refused =
        crate::show_kit::send(&held.secretary, Method::PUT, &format!("{}/draft", held.show), schedule).await;
    assert_eq!(refused.fields(), ["/classes/0/rules/prizes/0 invalid-value"]);
}

/// What was taken beyond the bounds before they stood is mended as they come.
#[test]
fn days_taken_before_the_bounds_stood_are_mended() {
    let database = TestDatabase::fresh();
    let mut conn = database.connect();
    while storksbill_db::applied(&mut conn).unwrap().last().is_some_and(|last| last.as_str() >= "0016") {
        storksbill_db::revert_last(&mut conn).unwrap();
    }
    let far = if storksbill_db::is_postgres(&database.url) { "9999-12-31" } else { "+262142-12-31" };
    conn.batch_execute(&format!(
        "insert into members (id, email, email_key, name, name_key, standing, version, created_at) values \
             ('m', 'a@merrow.example', 'a@merrow.example', 'Una', 'una', 'active', 1, '2026-01-01 00:00:00'); \
         insert into notices (id, member_id, kind, due_on, words, created_at) values \
             ('n', 'm', 'show_news', '{far}', 'x', '2026-01-01 00:00:00')"
    ))
    .unwrap();
    storksbill_db::migrate(&mut conn).unwrap();
    let due: NaiveDate = notices::table.select(notices::due_on).first(&mut conn).unwrap();
    assert_eq!(due, NaiveDate::from_ymd_opt(1600, 1, 1).unwrap());
    drop(Db::open(&database.url, 1).unwrap());
}

/// The limit stands in the function that writes, so that no road leads past it.
#[tokio::test]
async fn one_plant_is_told_of_so_often_a_day_and_no_more() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await.id();
    let now = society.clock.now();
    let tell = |kind: NoticeKind, at: DateTime<Utc>| {
        let subject = Some((SubjectKind::Plant, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"));
        let words = "Rust was seen.".to_owned();
        let notice = Notice::fresh(edda, kind, now.date_naive(), words, subject, at.naive_utc());
        society.app.db.write(move |conn| rows_of_notices::insert(conn, &notice))
    };
    for _ in 0..limits::HEALTH_NOTICES.most {
        tell(NoticeKind::HealthNotice, now).await.unwrap();
    }
    let refused = tell(NoticeKind::HealthNotice, now).await.unwrap_err();
    assert!(matches!(refused, DbError::TooMany(limit) if limit == limits::HEALTH_NOTICES), "{refused}");
    let problem = Problem::from(refused);
    assert_eq!(problem.code, Code::TooMuch);
    assert!(problem.detail().starts_with("At most 5 health notices about one plant in a day"), "{problem}");
    // Other news is not held up, nor the same news another day.
    tell(NoticeKind::ShowNews, now).await.unwrap();
    tell(NoticeKind::HealthNotice, now + TimeDelta::days(2)).await.unwrap();
}
