//! Slow tests, run by `.ci/run slow`: the real program killed, doubled, stopped, starved of room and cut off in the
//! middle of its migrations. Whatever was acknowledged is kept, nothing is doubled, and it always comes back.
#![allow(clippy::cast_possible_truncation, reason = "small counts")]

use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use chrono::Utc;
use diesel::connection::SimpleConnection;
use diesel::prelude::*;
use diesel::sql_types::Text;
use reqwest::{Client, Method};
use serde_json::{Value, json};
use storksbill_db::Conn;
use storksbill_db::schema::diary_entries;
use storksbill_tests::process::{Process, Running, create_administrator, run};
use storksbill_tests::{Actor, TestDatabase, on_postgres};

use crate::databases::schema_of;
use crate::weather_in::{Service, csv};

const EMAIL: &str = "una@merrow.example";
const PASSWORD: &str = "nine small red pots";

/// A society of one grower with one plant, whose diary is written to.
struct Society {
    url: String,
    diary: String,
    station: String,
}

impl Society {
    /// Made through a server that is stopped again.
    async fn on(url: &str) -> Self {
        create_administrator(url, EMAIL, PASSWORD);
        let server = Process::serve(url, &[]);
        let una = logged_in(&server).await;
        let body = json!({"name": "The Vale", "latitude": 53.0, "longitude": -8.0, "elevation_m": 40});
        let region = una.post("/api/v1/regions", body).await.expect(201).id();
        let body = json!({"name": "Harbour Light", "plant_group": "regal", "status": "named"});
        let cultivar = una.post("/api/v1/cultivars", body).await.expect(201).id();
        let body = json!({
            "cultivar_id": cultivar, "region_id": region, "how_many": 1, "environment": "frost_free", "form": "bush",
        });
        let plant = una.post("/api/v1/plants", body).await.expect(201).header("location");
        let body = json!({"name": "Quay Town", "latitude": 53.1, "longitude": -8.2, "elevation_m": 6,
                          "source": "The harbour office"});
        let stations = format!("/api/v1/regions/{region}/stations");
        let station = una.post(&stations, body).await.expect(201).header("location");
        assert_eq!(server.terminate().code, Some(0));
        Self { url: url.to_owned(), diary: format!("{plant}/diary"), station }
    }

    /// The notes that are kept, with the id of each record.
    fn kept(&self) -> Vec<(String, String)> {
        let mut conn = connect(&self.url);
        let rows = diary_entries::table.select((diary_entries::id, diary_entries::note.assume_not_null()));
        rows.load(&mut conn).unwrap()
    }
}

fn connect(url: &str) -> Conn {
    if storksbill_db::is_postgres(url) {
        Conn::Postgres(PgConnection::establish(url).unwrap())
    } else {
        Conn::Sqlite(SqliteConnection::establish(url).unwrap())
    }
}

async fn logged_in(server: &Process) -> Actor {
    let log_in = json!({"email": EMAIL, "password": PASSWORD});
    let tokens = server.visitor().post("/api/v1/sessions", log_in).await.expect(201).json();
    server.visitor().with_token(tokens["access_token"].as_str().unwrap())
}

/// What came of a note that was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Sent {
    /// Kept under this id.
    Acknowledged(String),
    /// Not taken, with this status.
    Refused(u16),
    /// Nobody knows.
    Unanswered,
}

/// Sends a note under its own key.
async fn send(client: &Client, address: &str, token: &str, diary: &str, note: &str) -> Sent {
    let key: String = note.split(' ').next().unwrap().to_owned();
    let answer = client
        .post(format!("{address}{diary}"))
        .bearer_auth(token)
        .header("idempotency-key", key)
        .json(&json!({"day": Utc::now().date_naive(), "kind": "note", "note": note}))
        .send()
        .await;
    let Ok(answer) = answer else { return Sent::Unanswered };
    let status = answer.status().as_u16();
    match answer.json::<Value>().await {
        Err(_) => Sent::Unanswered,
        Ok(body) if status == 201 => Sent::Acknowledged(body["id"].as_str().unwrap().to_owned()),
        Ok(_) => Sent::Refused(status),
    }
}

/// Writers that send notes of different names until they are told to stop.
struct Writers {
    stop: Arc<AtomicBool>,
    acknowledged: Arc<AtomicUsize>,
    tasks: Vec<tokio::task::JoinHandle<Vec<(String, Sent)>>>,
}

impl Writers {
    fn start(count: usize, address: &str, token: &str, diary: &str, name: &str, padding: usize) -> Self {
        storksbill::tls::settle();
        let (stop, acknowledged) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicUsize::new(0)));
        let tasks = (0..count)
            .map(|writer| {
                let (stop, acknowledged) = (Arc::clone(&stop), Arc::clone(&acknowledged));
                let (address, token, diary) = (address.to_owned(), token.to_owned(), diary.to_owned());
                let name = format!("{name}-{writer}");
                tokio::spawn(async move {
                    let client = Client::builder().timeout(Duration::from_secs(20)).build().unwrap();
                    let mut sent = Vec::new();
                    for n in 0.. {
                        if stop.load(Ordering::SeqCst) {
                            break;
                        }
                        let note = format!("{name}-{n} {}", "x".repeat(padding));
                        let note = note.trim_end().to_owned();
                        let came = send(&client, &address, &token, &diary, &note).await;
                        if matches!(came, Sent::Acknowledged(_)) {
                            acknowledged.fetch_add(1, Ordering::SeqCst);
                        } else {
                            tokio::time::sleep(Duration::from_millis(20)).await;
                        }
                        sent.push((note, came));
                    }
                    sent
                })
            })
            .collect();
        Self { stop, acknowledged, tasks }
    }

    async fn until_acknowledged(&self, count: usize) {
        let started = Instant::now();
        while self.acknowledged.load(Ordering::SeqCst) < count {
            assert!(started.elapsed() < Duration::from_secs(60), "the writers get nowhere");
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
    }

    async fn stopped(self) -> Vec<(String, Sent)> {
        self.stop.store(true, Ordering::SeqCst);
        let mut all = Vec::new();
        for task in self.tasks {
            all.extend(task.await.unwrap());
        }
        all
    }
}

/// Holds what was sent against what is kept: nothing acknowledged is lost, nothing refused is kept, nothing doubled.
fn held_against(society: &Society, sent: &[(String, Sent)]) {
    let kept = society.kept();
    let ids: BTreeMap<&str, &str> = kept.iter().map(|(id, note)| (id.as_str(), note.as_str())).collect();
    let notes: BTreeSet<&str> = kept.iter().map(|(_, note)| note.as_str()).collect();
    assert_eq!(kept.len(), notes.len(), "notes were doubled");
    for (note, came) in sent {
        match came {
            Sent::Acknowledged(id) => assert_eq!(ids.get(id.as_str()), Some(&note.as_str()), "lost"),
            Sent::Refused(status) => {
                assert!(!notes.contains(note.as_str()), "{status}, and kept all the same: {note}");
            }
            Sent::Unanswered => {}
        }
    }
}

fn sound(url: &str) {
    #[derive(QueryableByName)]
    struct Line {
        #[diesel(sql_type = Text)]
        line: String,
    }
    if !storksbill_db::is_postgres(url) {
        let check = diesel::sql_query("select integrity_check as line from pragma_integrity_check");
        let found: Vec<Line> = check.load(&mut connect(url)).unwrap();
        let found: Vec<String> = found.into_iter().map(|found| found.line).collect();
        assert_eq!(found, ["ok"]);
    }
}

#[tokio::test(flavor = "multi_thread")]
#[ignore = "slow: kills the server again and again"]
async fn killed_again_and_again_under_writers_it_loses_and_doubles_nothing() {
    let database = TestDatabase::fresh();
    let society = Society::on(&database.url).await;
    let mut sent = Vec::new();
    for round in 0..5 {
        let mut server = Process::serve(&society.url, &[]);
        let una = logged_in(&server).await;
        let name = format!("round-{round}");
        let writers = Writers::start(16, &server.address, una.token(), &society.diary, &name, 0);
        writers.until_acknowledged(150 + 70 * round).await;
        server.kill();
        sent.extend(writers.stopped().await);
        held_against(&society, &sent);
        sound(&society.url);
    }
    // Sent again under their keys, they are answered with the same records, and the unanswered are made once.
    let server = Process::serve(&society.url, &[]);
    let una = logged_in(&server).await;
    let client = Client::new();
    let unanswered = sent.iter().filter(|(_, came)| *came == Sent::Unanswered);
    let some = sent.iter().filter(|(_, came)| matches!(came, Sent::Acknowledged(_))).step_by(7);
    for (note, came) in unanswered.chain(some) {
        let again = send(&client, &server.address, una.token(), &society.diary, note).await;
        assert!(matches!(again, Sent::Acknowledged(_)), "{note}: {again:?}");
        assert!(*came == Sent::Unanswered || again == *came, "{note}: {came:?} and {again:?}");
    }
    held_against(&society, &sent);
}

#[tokio::test(flavor = "multi_thread")]
#[ignore = "slow: runs two servers"]
async fn two_servers_on_one_database_make_one_record_under_one_key() {
    let database = TestDatabase::fresh();
    let society = Society::on(&database.url).await;
    let servers = [Process::serve(&society.url, &[]), Process::serve(&society.url, &[])];
    // A log-in at one is good at the other.
    let una = logged_in(&servers[0]).await;
    storksbill::tls::settle();
    let tasks: Vec<_> = (0..8)
        .map(|at| {
            let addresses = servers.each_ref().map(|server| server.address.clone());
            let (token, diary) = (una.token().to_owned(), society.diary.clone());
            tokio::spawn(async move {
                let client = Client::new();
                let mut keys = 0;
                for n in 0..40 {
                    let note = format!("both-{at}-{n}");
                    let [one, other] =
                        addresses.each_ref().map(|to| send(&client, to, &token, &diary, &note));
                    let (one, other) = tokio::join!(one, other);
                    let ids: BTreeSet<String> = [one, other]
                        .into_iter()
                        .filter_map(|came| match came {
                            Sent::Acknowledged(id) => Some(id),
                            Sent::Refused(status) => {
                                // Both wrote at once again and again; neither has it half done.
                                assert!([409, 503].contains(&status), "{note}: {status}");
                                None
                            }
                            Sent::Unanswered => panic!("{note}: no answer"),
                        })
                        .collect();
                    assert!(ids.len() < 2, "{note} has two records");
                    keys += ids.len();
                }
                keys
            })
        })
        .collect();
    let mut keys = 0;
    for task in tasks {
        keys += task.await.unwrap();
    }
    assert!(keys > 300, "nearly all are taken: {keys} of 320");
    let kept = society.kept();
    let notes: BTreeSet<&str> = kept.iter().map(|(_, note)| note.as_str()).collect();
    assert_eq!((kept.len(), notes.len()), (keys, keys));
}

/// A station whose weather is fetched by a job that hangs at its first attempt.
async fn hanging(society: &Society, server: &Process) -> (Service, String) {
    let una = logged_in(server).await;
    let service = Service::start(|n, _| {
        let mut answer = csv("2026-05-08,1,12\n");
        if n == 0 {
            let name = "x-pause-ms".parse().unwrap();
            answer.headers_mut().insert(name, "200000".parse().unwrap());
        }
        answer
    });
    let path = format!("{}/weather-source", society.station);
    let body = json!({"url": format!("{}/daily", service.address), "format": "csv", "every_hours": 8784,
                      "enabled": false});
    una.put(&path, body).await.expect(201);
    let taken = una.request(Method::POST, &format!("{path}/fetch")).send().await.expect(202);
    let started = Instant::now();
    while service.paths().is_empty() {
        assert!(started.elapsed() < Duration::from_secs(30), "the job is not begun");
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    (service, taken.header("location"))
}

/// The job once it has ended, and how long that took.
async fn ended(una: &Actor, job: &str) -> (Value, Duration) {
    let started = Instant::now();
    loop {
        let now = una.get(job).await.expect(200).json();
        if now["state"] != "running" && now["state"] != "waiting" {
            return (now, started.elapsed());
        }
        assert!(started.elapsed() < Duration::from_secs(150), "nobody does it: {now}");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

const FETCHES: [&str; 3] = ["--weather-private", "--weather-seconds", "300"];

#[tokio::test(flavor = "multi_thread")]
#[ignore = "slow: waits for a lease to run out"]
async fn a_job_killed_in_the_middle_is_done_by_the_other_server() {
    let database = TestDatabase::fresh();
    let society = Society::on(&database.url).await;
    let mut first = Process::serve(&society.url, &FETCHES);
    let (service, job) = hanging(&society, &first).await;
    let second = Process::serve(&society.url, &FETCHES);
    let una = logged_in(&second).await;
    first.kill();
    let (done, took) = ended(&una, &job).await;
    assert_eq!((&done["state"], &done["attempts"]), (&json!("done"), &json!(2)), "{done}");
    assert_eq!(service.paths().len(), 2);
    assert!(took > Duration::from_secs(20), "the lease was the killed server's: {took:?}");
}

#[tokio::test(flavor = "multi_thread")]
#[ignore = "slow: runs two servers"]
async fn a_job_of_a_server_that_is_stopped_is_taken_up_at_once() {
    let database = TestDatabase::fresh();
    let society = Society::on(&database.url).await;
    let first = Process::serve(&society.url, &FETCHES);
    let (_service, job) = hanging(&society, &first).await;
    let second = Process::serve(&society.url, &FETCHES);
    let una = logged_in(&second).await;
    assert_eq!(first.terminate().code, Some(0));
    let (done, took) = ended(&una, &job).await;
    assert_eq!((&done["state"], &done["attempts"]), (&json!("done"), &json!(2)), "{done}");
    assert!(took < Duration::from_secs(15), "nobody waits for a lease: {took:?}");
}

/// A small file system in memory, gone with the value.
struct Room {
    folder: tempfile::TempDir,
}

impl Room {
    /// None where nobody may mount one.
    fn of(mib: u32) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        mounted(&format!("size={mib}m"), folder.path()).then(|| Self { folder })
    }
}

fn mounted(options: &str, at: &Path) -> bool {
    let mut mount = Command::new("mount");
    mount.args(["-t", "tmpfs", "-o", options, "tmpfs"]).arg(at).status().is_ok_and(|done| done.success())
}

impl Drop for Room {
    fn drop(&mut self) {
        drop(Command::new("umount").arg("-l").arg(self.folder.path()).status());
    }
}

/// On SQLite whatever database the other tests run on: a file is what a disk can be too small for.
#[tokio::test(flavor = "multi_thread")]
#[ignore = "slow: fills a small disk, which root mounts"]
async fn on_a_full_disk_nothing_acknowledged_is_lost_and_room_mends_it() {
    let Some(room) = Room::of(12) else {
        // Past what the test runner holds back, so that it is read.
        let words = "\nSKIPPED on_a_full_disk: a file system in memory can be mounted by root alone\n";
        std::io::stderr().write_all(words.as_bytes()).unwrap();
        return;
    };
    let url = room.folder.path().join("society.sqlite3").display().to_string();
    let society = Society::on(&url).await;
    let server = Process::serve(&url, &[]);
    let una = logged_in(&server).await;
    let writers = Writers::start(8, &server.address, una.token(), &society.diary, "full", 1_400);
    let started = Instant::now();
    let mut before = usize::MAX;
    // Full when nothing more was acknowledged for some seconds.
    loop {
        tokio::time::sleep(Duration::from_secs(3)).await;
        let now = writers.acknowledged.load(Ordering::SeqCst);
        if now == before {
            break;
        }
        before = now;
        assert!(started.elapsed() < Duration::from_secs(120), "the disk does not fill: {now}");
    }
    let sent = writers.stopped().await;
    assert!(sent.iter().any(|(_, came)| matches!(came, Sent::Refused(_))), "somebody was refused");
    assert!(before > 50, "{before} were acknowledged");
    // What is there can still be read.
    una.get("/api/v1/members/me").await.expect(200);
    held_against(&society, &sent);
    assert!(mounted("remount,size=60m", room.folder.path()));
    let client = Client::new();
    let after = send(&client, &server.address, una.token(), &society.diary, "room-again").await;
    assert!(matches!(after, Sent::Acknowledged(_)), "{after:?}");
    assert_eq!(server.terminate().code, Some(0));
    let mut sent = sent;
    sent.push(("room-again".to_owned(), after));
    held_against(&society, &sent);
    sound(&url);
}

/// Numbers that look drawn, the same in every run.
fn drawn(n: u64) -> u64 {
    let mut z = n.wrapping_add(1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z ^ (z >> 31)
}

#[test]
#[ignore = "slow: migrates again and again"]
fn migrations_killed_at_any_instant_are_finished_by_the_next() {
    let reference = TestDatabase::bare();
    let started = Instant::now();
    assert_eq!(run(&["migrate", "--database", &reference.url], "").code, Some(0));
    let whole = started.elapsed();
    let expected = schema_of(&mut reference.connect());
    assert!(expected.len() > 50, "{} tables", expected.len());
    let kills = if on_postgres().is_some() { 10 } else { 25 };
    let mut in_the_middle = 0;
    for n in 0..kills {
        let database = TestDatabase::bare();
        let running = Running::start(&["migrate", "--database", &database.url]);
        let micros = u64::try_from(whole.as_micros()).unwrap();
        std::thread::sleep(Duration::from_micros(drawn(n) % micros));
        in_the_middle += usize::from(running.killed());
        let finished = run(&["migrate", "--database", &database.url], "");
        assert_eq!(finished.code, Some(0), "kill {n}: {}", finished.stderr);
        assert_eq!(schema_of(&mut database.connect()), expected, "kill {n}");
        database.connect().batch_execute("select 1 from members").unwrap();
    }
    assert!(in_the_middle > kills as usize / 4, "{in_the_middle} of {kills} kills met it at work");
}

#[test]
#[ignore = "slow: migrates six times at once"]
fn six_that_migrate_at_once_leave_one_whole_schema() {
    let reference = TestDatabase::bare();
    assert_eq!(run(&["migrate", "--database", &reference.url], "").code, Some(0));
    let database = TestDatabase::bare();
    let all: Vec<Running> =
        (0..6).map(|_| Running::start(&["migrate", "--database", &database.url])).collect();
    for running in all {
        let outcome = running.finished();
        assert_eq!(outcome.code, Some(0), "{}", outcome.stderr);
    }
    assert_eq!(schema_of(&mut database.connect()), schema_of(&mut reference.connect()));
}
