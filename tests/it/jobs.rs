//! Work done aside from any request: done once, taken up again after a crash, seen by whoever asked.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use chrono::TimeDelta;
use serde_json::json;
use storksbill::app::App;
use storksbill::http::problem::{Code, Problem};
use storksbill::jobs::{self, Working};
use storksbill_db::Db;
use storksbill_db::rows::jobs::{self as rows, Job};
use storksbill_domain::ids::{JobId, MemberId};
use storksbill_domain::words::{JobKind, JobState};
use storksbill_tests::TestApp;

async fn put_in(society: &TestApp, kind: JobKind, subject: Option<&str>, by: Option<MemberId>) -> JobId {
    let (subject, now) = (subject.map(str::to_owned), society.clock.now());
    society.write(move |conn| jobs::enqueue(conn, kind, subject.as_deref(), by, now)).await.id
}

async fn job(society: &TestApp, id: JobId) -> Job {
    society.read(move |conn| rows::find(conn, id)).await.unwrap()
}

/// Work that does nothing and has this to show for it.
fn nothing<'a>(_: &'a App, _: &'a Job, _: &'a jobs::Progress) -> Working<'a> {
    Box::pin(async { Ok(json!({"done": true})) })
}

#[tokio::test(flavor = "multi_thread")]
async fn two_servers_on_one_database_do_each_job_once() {
    let society = TestApp::start().await;
    let mut ids = Vec::new();
    for n in 0..24 {
        ids.push(put_in(&society, JobKind::WeatherFetch, Some(&format!("station {n}")), None).await);
    }
    let second = App { db: Db::open(society.database_url(), 4).unwrap(), ..society.app.clone() };
    let done = Arc::new(Mutex::new(BTreeMap::<JobId, usize>::new()));
    let servers: Vec<_> = [society.app.clone(), second]
        .into_iter()
        .map(|app| {
            let done = Arc::clone(&done);
            tokio::spawn(async move {
                jobs::run_waiting_with(&app, &move |_: &App, job: &Job, _: &jobs::Progress| -> Working<'_> {
                    *done.lock().unwrap().entry(job.id).or_default() += 1;
                    Box::pin(async {
                        tokio::time::sleep(Duration::from_millis(5)).await;
                        Ok(json!(null))
                    })
                })
                .await
                .unwrap()
            })
        })
        .collect();
    let mut counts = Vec::new();
    for server in servers {
        counts.push(server.await.unwrap());
    }
    assert_eq!(counts.iter().sum::<usize>(), ids.len(), "{counts:?}");
    assert_eq!(*done.lock().unwrap(), ids.iter().map(|id| (*id, 1)).collect());
    for id in ids {
        let job = job(&society, id).await;
        assert_eq!((job.state, job.attempts, job.progress), (JobState::Done, 1, 1.0));
    }
}

/// Begins the next job and stops in the middle of it, as a killed server does.
async fn killed_at_it(society: &TestApp) {
    let app = society.app.clone();
    let begun = Arc::new(tokio::sync::Notify::new());
    let told = Arc::clone(&begun);
    let server = tokio::spawn(async move {
        jobs::run_waiting_with(&app, &move |_: &App, _: &Job, _: &jobs::Progress| -> Working<'_> {
            told.notify_one();
            Box::pin(std::future::pending())
        })
        .await
    });
    begun.notified().await;
    server.abort();
    assert!(server.await.unwrap_err().is_cancelled());
}

#[tokio::test]
async fn a_killed_servers_job_is_taken_up_again_when_its_lease_has_run_out() {
    let society = TestApp::start().await;
    let id = put_in(&society, JobKind::Refit, None, None).await;
    killed_at_it(&society).await;
    assert_eq!(job(&society, id).await.state, JobState::Running);
    society.clock.advance(TimeDelta::seconds(60));
    assert_eq!(jobs::run_waiting_with(&society.app, &nothing).await.unwrap(), 0);
    society.clock.advance(TimeDelta::seconds(1));
    assert_eq!(jobs::run_waiting_with(&society.app, &nothing).await.unwrap(), 1);
    let done = job(&society, id).await;
    assert_eq!((done.state, done.attempts), (JobState::Done, 2));
    assert_eq!(done.result.as_deref(), Some(r#"{"done":true}"#));
    assert_eq!(done.lease_until, None);
}

#[tokio::test]
async fn a_job_that_three_servers_died_of_is_given_up() {
    let society = TestApp::start().await;
    let id = put_in(&society, JobKind::Refit, None, None).await;
    for _ in 0..3 {
        killed_at_it(&society).await;
        society.clock.advance(TimeDelta::seconds(61));
    }
    assert_eq!(jobs::run_waiting_with(&society.app, &nothing).await.unwrap(), 0);
    let failed = job(&society, id).await;
    assert_eq!((failed.state, failed.attempts), (JobState::Failed, 3));
    assert_eq!(failed.problem.as_deref(), Some("The server stopped at it 3 times."));
    assert!(failed.ended_at.is_some());
}

#[tokio::test]
async fn a_report_renews_the_lease_and_is_seen() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let id = put_in(&society, JobKind::Backtest, None, Some(una.id())).await;
    let (clock, asker) = (society.clock.clone(), una.clone());
    jobs::run_waiting_with(&society.app, &move |app: &App,
                                                _: &Job,
                                                progress: &jobs::Progress|
          -> Working<'_> {
        let (clock, asker) = (clock.clone(), asker.clone());
        let (app, progress) = (app.clone(), progress.clone());
        Box::pin(async move {
            clock.advance(TimeDelta::seconds(50));
            progress.report(0.25, "Season 2024.").await?;
            clock.advance(TimeDelta::seconds(50));
            // Nobody else takes it: it was heard of 50 seconds ago.
            assert_eq!(jobs::run_waiting_with(&app, &nothing).await?, 0);
            let seen = asker.get(&format!("/api/v1/jobs/{id}")).await.expect(200).json();
            assert_eq!(
                (&seen["state"], &seen["progress"], &seen["words"], &seen["result"]),
                (&json!("running"), &json!(0.25), &json!("Season 2024."), &json!(null))
            );
            Ok(json!({"seasons": 3}))
        })
    })
    .await
    .unwrap();
    let seen = una.get(&format!("/api/v1/jobs/{id}")).await.expect(200).json();
    assert_eq!((&seen["state"], &seen["result"]), (&json!("done"), &json!({"seasons": 3})));
    assert_eq!(seen["problem"], json!(null));
}

#[tokio::test]
async fn what_a_server_reports_that_lost_its_lease_is_not_taken() {
    let society = TestApp::start().await;
    let id = put_in(&society, JobKind::Refit, None, None).await;
    let clock = society.clock.clone();
    jobs::run_waiting_with(&society.app, &move |app: &App,
                                                _: &Job,
                                                progress: &jobs::Progress|
          -> Working<'_> {
        let (clock, app, progress) = (clock.clone(), app.clone(), progress.clone());
        Box::pin(async move {
            clock.advance(TimeDelta::seconds(61));
            assert_eq!(jobs::run_waiting_with(&app, &nothing).await?, 1);
            let lost = progress.report(0.5, "Late.").await.unwrap_err();
            assert_eq!(lost.code, Code::WrongState);
            Ok(json!("too late"))
        })
    })
    .await
    .unwrap();
    let done = job(&society, id).await;
    assert_eq!((done.result.as_deref(), done.attempts), (Some(r#"{"done":true}"#), 2));
}

#[tokio::test]
async fn a_job_that_fails_or_panics_says_so_and_the_next_is_done() {
    let society = TestApp::start().await;
    let mut ids = Vec::new();
    for subject in ["fails", "panics", "goes well"] {
        ids.push(put_in(&society, JobKind::WeatherFetch, Some(subject), None).await);
    }
    let count =
        jobs::run_waiting_with(&society.app, &|_: &App, job: &Job, _: &jobs::Progress| -> Working<'_> {
            let subject = job.subject.clone().unwrap();
            Box::pin(async move {
                assert!(subject != "panics", "as this test wants it to");
                if subject == "fails" {
                    Err(Problem::new(Code::NoWeather, "There are no readings."))
                } else {
                    Ok(json!(1))
                }
            })
        });
    assert_eq!(count.await.unwrap(), 3);
    let mut ends = Vec::new();
    for id in ids {
        let job = job(&society, id).await;
        ends.push((job.state, job.problem));
    }
    let failed = |words: &str| (JobState::Failed, Some(words.to_owned()));
    let expected =
        [failed("There are no readings."), failed("The server failed at it."), (JobState::Done, None)];
    assert_eq!(ends, expected);
}

#[tokio::test]
async fn a_job_that_waits_already_is_not_put_in_twice() {
    let society = TestApp::start().await;
    let first = put_in(&society, JobKind::WeatherFetch, Some("quay"), None).await;
    assert_eq!(put_in(&society, JobKind::WeatherFetch, Some("quay"), None).await, first);
    let others = [
        put_in(&society, JobKind::WeatherFetch, Some("moor"), None).await,
        put_in(&society, JobKind::Refit, None, None).await,
        put_in(&society, JobKind::Backtest, None, None).await,
    ];
    assert!(!others.contains(&first));
    assert_eq!(put_in(&society, JobKind::Refit, None, None).await, others[1]);
    jobs::run_waiting_with(&society.app, &nothing).await.unwrap();
    // What is done does not stand in the way.
    assert_ne!(put_in(&society, JobKind::WeatherFetch, Some("quay"), None).await, first);
}

#[tokio::test]
async fn jobs_are_done_in_the_order_they_were_asked_for() {
    let society = TestApp::start().await;
    let mut ids = Vec::new();
    for n in 0..5 {
        ids.push(put_in(&society, JobKind::WeatherFetch, Some(&n.to_string()), None).await);
    }
    let done = Mutex::new(Vec::new());
    jobs::run_waiting_with(&society.app, &|_: &App, job: &Job, _: &jobs::Progress| -> Working<'_> {
        done.lock().unwrap().push(job.id);
        Box::pin(async { Ok(json!(null)) })
    })
    .await
    .unwrap();
    assert_eq!(done.into_inner().unwrap(), ids);
}

#[tokio::test]
async fn whoever_asked_and_administrators_see_a_job_and_nobody_else() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let edda = society.member("Edda Wick").await;
    let bram = society.member("Bram Oake").await;
    let id = put_in(&society, JobKind::Backtest, None, Some(edda.id())).await;
    let path = format!("/api/v1/jobs/{id}");
    let seen = edda.get(&path).await.expect(200).json();
    assert_eq!((&seen["kind"], &seen["state"]), (&json!("backtest"), &json!("waiting")));
    assert_eq!(seen["asked_by"], json!(edda.id()));
    una.get(&path).await.expect(200);
    assert_eq!(bram.get(&path).await.problem(404), "not-found");
    assert_eq!(society.visitor().get(&path).await.problem(401), "not-logged-in");
    let unasked = put_in(&society, JobKind::Refit, None, None).await;
    assert_eq!(edda.get(&format!("/api/v1/jobs/{unasked}")).await.problem(404), "not-found");
    assert_eq!(edda.get("/api/v1/jobs").await.problem(403), "not-allowed");
}

#[tokio::test]
async fn administrators_walk_the_jobs_newest_first() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let mut ids = Vec::new();
    for n in 0..5 {
        ids.push(put_in(&society, JobKind::WeatherFetch, Some(&n.to_string()), None).await.to_string());
    }
    let done = AtomicUsize::new(0);
    jobs::run_waiting_with(&society.app, &|_: &App, _: &Job, _: &jobs::Progress| -> Working<'_> {
        let fails = done.fetch_add(1, Ordering::SeqCst) < 2;
        Box::pin(
            async move { if fails { Err(Problem::new(Code::Unavailable, "No.")) } else { Ok(json!(null)) } },
        )
    })
    .await
    .unwrap();
    let list = |rows: Vec<serde_json::Value>| -> Vec<String> {
        rows.iter().map(|row| row["id"].as_str().unwrap().to_owned()).collect()
    };
    let newest_first: Vec<String> = ids.iter().rev().cloned().collect();
    assert_eq!(list(una.walk("/api/v1/jobs?limit=2").await), newest_first);
    assert_eq!(list(una.walk("/api/v1/jobs?limit=1&state=failed").await), newest_first[3..]);
    assert_eq!(una.get("/api/v1/jobs?state=stuck").await.problem(422), "invalid-query");
}

#[tokio::test]
async fn the_nightly_job_is_put_in_once_a_night() {
    let society = TestApp::start().await;
    // Noon: it struck two this morning, and nobody has asked since.
    let nightly = || jobs::enqueue_if_none_since(&society.app, JobKind::Refit, 2);
    let first = nightly().await.unwrap().unwrap();
    assert_eq!(nightly().await.unwrap(), None);
    jobs::run_waiting_with(&society.app, &nothing).await.unwrap();
    society.clock.advance(TimeDelta::hours(13) + TimeDelta::minutes(59));
    assert_eq!(nightly().await.unwrap(), None);
    society.clock.advance(TimeDelta::minutes(1));
    let second = nightly().await.unwrap().unwrap();
    assert_ne!(second, first);
    // Asked for by somebody in the night: not again.
    jobs::run_waiting_with(&society.app, &nothing).await.unwrap();
    society.clock.advance(TimeDelta::hours(24));
    put_in(&society, JobKind::Refit, None, None).await;
    jobs::run_waiting_with(&society.app, &nothing).await.unwrap();
    assert_eq!(nightly().await.unwrap(), None);
}
