//! Weather that comes in: uploads in every format, sources fetched by the timetable or by hand, growers' own
//! houses.

use std::fmt::Write;
use std::net::TcpListener;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use actix_web::{App as Site, HttpRequest, HttpResponse, HttpServer, web};
use chrono::TimeDelta;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill::jobs;
use storksbill::regions::fetch::Fetching;
use storksbill::serve::Front;
use storksbill_db::Db;
use storksbill_db::rows::{jobs as job_rows, weather_sources};
use storksbill_domain::ids::{RegionId, StationId};
use storksbill_domain::words::JobKind;
use storksbill_tests::process::{Process, create_administrator};
use storksbill_tests::{Actor, Answer, TestApp, TestDatabase};

// ---- another server ----

/// What was asked: path with query, and the headers that let it answer 304.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Asked {
    path: String,
    if_none_match: Option<String>,
    if_modified_since: Option<String>,
}

/// Answers the n-th request, counted from 0.
type Script = dyn Fn(usize, &Asked) -> HttpResponse + Send + Sync;

/// A weather service on a free port of this machine.
pub(crate) struct Service {
    pub(crate) address: String,
    asked: Arc<Mutex<Vec<Asked>>>,
    handle: actix_web::dev::ServerHandle,
}

impl Drop for Service {
    fn drop(&mut self) {
        drop(self.handle.stop(false));
    }
}

impl Service {
    pub(crate) fn start(script: impl Fn(usize, &Asked) -> HttpResponse + Send + Sync + 'static) -> Self {
        let script: Arc<Script> = Arc::new(script);
        let asked = Arc::new(Mutex::new(Vec::new()));
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = format!("http://{}", listener.local_addr().unwrap());
        let (send, receive) = std::sync::mpsc::channel();
        let log = Arc::clone(&asked);
        std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            runtime.block_on(async move {
                let server = HttpServer::new(move || {
                    let (script, log) = (Arc::clone(&script), Arc::clone(&log));
                    Site::new().default_service(web::to(move |request: HttpRequest| {
                        let header = |name: &str| {
                            request.headers().get(name).map(|value| value.to_str().unwrap().to_owned())
                        };
                        let asked = Asked {
                            path: request.uri().to_string(),
                            if_none_match: header("if-none-match"),
                            if_modified_since: header("if-modified-since"),
                        };
                        let mut log = log.lock().unwrap();
                        let response = script(log.len(), &asked);
                        log.push(asked);
                        // A pause is asked for in a header, so that nothing is held meanwhile.
                        let pause = response
                            .headers()
                            .get("x-pause-ms")
                            .map(|ms| Duration::from_millis(ms.to_str().unwrap().parse().unwrap()));
                        async move {
                            tokio::time::sleep(pause.unwrap_or_default()).await;
                            response
                        }
                    }))
                })
                .workers(1)
                .listen(listener)
                .unwrap()
                .run();
                send.send(server.handle()).unwrap();
                server.await.unwrap();
            });
        });
        Self { address, asked, handle: receive.recv().unwrap() }
    }

    fn asked(&self) -> Vec<Asked> {
        self.asked.lock().unwrap().clone()
    }

    pub(crate) fn paths(&self) -> Vec<String> {
        self.asked().into_iter().map(|asked| asked.path).collect()
    }
}

pub(crate) fn csv(body: &str) -> HttpResponse {
    HttpResponse::Ok().content_type("text/csv").body(format!("day,min_c,max_c\n{body}"))
}

// ---- the society ----

/// Fetches as the server does, but without long pauses.
fn quick() -> Fetching {
    Fetching {
        private_hosts: true,
        connect_within: Duration::from_secs(2),
        within: Duration::from_secs(5),
        most_bytes: 64 * 1024,
        pause: Duration::from_millis(5),
    }
}

async fn society(how: Fetching) -> TestApp {
    TestApp::start_with(|society| society.weather = how, Front { workers: Some(1), ..Front::default() }).await
}

/// A station's path.
async fn station(society: &TestApp, una: &Actor) -> String {
    let region = society.region("The Vale").await;
    let body = json!({"name": "Quay Town", "latitude": 53.1, "longitude": -8.2, "elevation_m": 6,
                      "source": "The harbour office"});
    una.post(&format!("/api/v1/regions/{region}/stations"), body).await.expect(201).header("location")
}

fn source(url: &str, format: &str) -> Value {
    json!({"url": url, "format": format, "every_hours": 24, "enabled": true})
}

/// Has it fetched now; gives the job as it ended.
async fn fetch(society: &TestApp, una: &Actor, station: &str) -> Value {
    let taken =
        una.request(Method::POST, &format!("{station}/weather-source/fetch")).send().await.expect(202);
    assert_eq!(jobs::run_waiting(&society.app).await.unwrap(), 1);
    una.get(&taken.header("location")).await.expect(200).json()
}

async fn seen(una: &Actor, station: &str) -> Value {
    una.get(&format!("{station}/weather-source")).await.expect(200).json()
}

/// `day min max` of each day from 2024 on.
async fn days(una: &Actor, station: &str) -> Vec<String> {
    let list = una.get(&format!("{station}/readings?from=2024-01-01&to=2026-12-31")).await.expect(200).json();
    let rows = list["readings"].as_array().unwrap();
    rows.iter().map(|r| format!("{} {} {}", r["day"].as_str().unwrap(), r["min_c"], r["max_c"])).collect()
}

// ---- fetched ----

#[tokio::test]
async fn a_station_is_fetched_and_taken_in_as_an_upload_is() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let service = Service::start(|_, _| csv("2026-05-08,1,12\n2026-05-09,2.5,13\n"));
    let entered = una
        .put(
            &format!("{quay}/weather-source"),
            source(&format!("{}/daily?from={{from}}&to={{to}}", service.address), "csv"),
        )
        .await
        .expect(201);
    assert_eq!(entered.header("location"), format!("{quay}/weather-source"));
    assert_eq!(entered.json()["last_ok_at"], json!(null));
    let job = fetch(&society, &una, &quay).await;
    assert_eq!((&job["state"], &job["kind"]), (&json!("done"), &json!("weather_fetch")), "{job}");
    assert_eq!(job["subject"].as_str(), quay.rsplit('/').next());
    let result = &job["result"];
    assert_eq!(
        (&result["written"], &result["skipped"], &result["first_day"], &result["last_day"]),
        (&json!(2), &json!(0), &json!("2026-05-08"), &json!("2026-05-09"))
    );
    assert_eq!(days(&una, &quay).await, ["2026-05-08 1.0 12.0", "2026-05-09 2.5 13.0"]);
    let source = seen(&una, &quay).await;
    assert_eq!((&source["last_problem"], &source["last_ok_at"]), (&json!(null), &source["last_tried_at"]));
    assert_eq!(source["last_ok_at"], json!("2026-05-10T12:00:00Z"));
    // Two years the first time, then from two weeks before the newest day on.
    assert_eq!(job["state"], "done");
    fetch(&society, &una, &quay).await;
    assert_eq!(
        service.paths(),
        ["/daily?from=2024-05-10&to=2026-05-10", "/daily?from=2026-04-25&to=2026-05-10"]
    );
}

#[tokio::test]
async fn what_is_not_newer_is_not_sent_again() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let service = Service::start(|_, asked| {
        if asked.if_none_match.as_deref() == Some("\"v1\"") {
            return HttpResponse::NotModified().finish();
        }
        HttpResponse::Ok()
            .insert_header(("etag", "\"v1\""))
            .insert_header(("last-modified", "Sun, 10 May 2026 06:00:00 GMT"))
            .body("day,min_c,max_c\n2026-05-09,2,13\n")
    });
    let url = format!("{}/quay.csv", service.address);
    una.put(&format!("{quay}/weather-source"), source(&url, "csv")).await.expect(201);
    let first = fetch(&society, &una, &quay).await;
    assert_eq!(first["result"]["unchanged"], json!(false), "{first}");
    let second = fetch(&society, &una, &quay).await;
    assert_eq!(
        (&second["state"], &second["result"]),
        (&json!("done"), &json!({"unchanged": true, "written": 0}))
    );
    let asked = service.asked();
    assert_eq!((&asked[0].if_none_match, &asked[0].if_modified_since), (&None, &None));
    assert_eq!(asked[1].if_none_match.as_deref(), Some("\"v1\""));
    assert_eq!(asked[1].if_modified_since.as_deref(), Some("Sun, 10 May 2026 06:00:00 GMT"));
    // Another address is asked without condition.
    let etag = una.get(&format!("{quay}/weather-source")).await.expect(200).etag();
    una.request(Method::PUT, &format!("{quay}/weather-source"))
        .header("if-match", &etag)
        .json(&source(&format!("{url}?2"), "csv"))
        .send()
        .await
        .expect(200);
    fetch(&society, &una, &quay).await;
    assert_eq!(service.asked()[2].if_none_match, None);
}

#[tokio::test]
async fn a_source_that_fails_in_passing_is_asked_again() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let service = Service::start(|n, _| match n {
        0 => HttpResponse::InternalServerError().finish(),
        1 => HttpResponse::ServiceUnavailable().finish(),
        _ => csv("2026-05-09,2,13\n"),
    });
    una.put(&format!("{quay}/weather-source"), source(&service.address, "csv")).await.expect(201);
    let job = fetch(&society, &una, &quay).await;
    assert_eq!((&job["state"], &job["result"]["written"]), (&json!("done"), &json!(1)), "{job}");
    assert_eq!(service.asked().len(), 3);
}

/// (answer, how often it is asked, what is said of it).
#[tokio::test]
async fn a_source_that_fails_says_why_and_writes_nothing() {
    type Case = (fn() -> HttpResponse, usize, &'static str);
    let cases: [Case; 10] = [
        (|| HttpResponse::BadGateway().finish(), 3, "127.0.0.1 answered 502 Bad Gateway, asked 3 times."),
        (|| HttpResponse::NotFound().finish(), 1, "127.0.0.1 answered 404 Not Found."),
        (|| HttpResponse::Forbidden().finish(), 1, "127.0.0.1 answered 403 Forbidden."),
        (|| csv(&"2026-05-09,2,13\n".repeat(5000)), 1, "127.0.0.1 sent more than the 64 KiB that are taken."),
        (
            || HttpResponse::Ok().insert_header(("x-pause-ms", "1500")).body("day,min_c,max_c\n"),
            3,
            "127.0.0.1 did not answer within 0.3 s, asked 3 times.",
        ),
        (|| HttpResponse::Ok().body("<html>Please log in</html>"), 1, "The first line names the columns"),
        (
            || csv("2026-05-09,20,13\n"),
            1,
            "None of the 1 rows could be used: line 2: min_c 20 is above max_c 13.",
        ),
        (
            || HttpResponse::Found().insert_header(("location", "file:///etc/passwd")).finish(),
            1,
            "127.0.0.1 answered 302 Found.",
        ),
        (
            || HttpResponse::Found().insert_header(("location", "ftp://127.0.0.1/quay.csv")).finish(),
            1,
            "127.0.0.1 was not followed: it redirects from http to ftp.",
        ),
        (
            || HttpResponse::Found().insert_header(("location", "/again")).finish(),
            6,
            "127.0.0.1 was not followed: it redirects more than 5 times.",
        ),
    ];
    let society = society(Fetching { within: Duration::from_millis(300), ..quick() }).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    for (answer, asked, words) in cases {
        let service = Service::start(move |_, _| answer());
        una.delete(&format!("{quay}/weather-source")).await;
        una.put(&format!("{quay}/weather-source"), source(&service.address, "csv")).await.expect(201);
        let job = fetch(&society, &una, &quay).await;
        assert_eq!((&job["state"], &job["result"]), (&json!("failed"), &json!(null)), "{words}: {job}");
        let problem = job["problem"].as_str().unwrap();
        assert!(problem.contains(words), "{words}: {problem}");
        let source = seen(&una, &quay).await;
        assert_eq!((&source["last_problem"], &source["last_ok_at"]), (&job["problem"], &json!(null)));
        assert_eq!(source["last_tried_at"], json!("2026-05-10T12:00:00Z"));
        assert_eq!(service.asked().len(), asked, "{words}");
        assert!(days(&una, &quay).await.is_empty(), "{words}");
    }
    // A port where nobody listens.
    let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    una.delete(&format!("{quay}/weather-source")).await.expect(204);
    una.put(&format!("{quay}/weather-source"), source(&format!("http://{port}/"), "csv")).await.expect(201);
    let job = fetch(&society, &una, &quay).await;
    assert!(job["problem"].as_str().unwrap().starts_with("127.0.0.1 could not be reached: "), "{job}");
}

#[tokio::test]
async fn a_failure_after_a_success_keeps_what_was_there() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let service = Service::start(|n, _| match n {
        0 => csv("2026-05-09,2,13\n"),
        1 => HttpResponse::Gone().finish(),
        _ => csv("2026-05-09,3,13\n"),
    });
    una.put(&format!("{quay}/weather-source"), source(&service.address, "csv")).await.expect(201);
    fetch(&society, &una, &quay).await;
    society.clock.advance(TimeDelta::minutes(10));
    assert_eq!(fetch(&society, &una, &quay).await["state"], "failed");
    let source = seen(&una, &quay).await;
    assert_eq!(source["last_problem"], json!("127.0.0.1 answered 410 Gone."));
    assert_eq!(
        (&source["last_ok_at"], &source["last_tried_at"]),
        (&json!("2026-05-10T12:00:00Z"), &json!("2026-05-10T12:10:00Z"))
    );
    assert_eq!(days(&una, &quay).await, ["2026-05-09 2.0 13.0"]);
    // The next one mends the day and the note.
    fetch(&society, &una, &quay).await;
    assert_eq!(days(&una, &quay).await, ["2026-05-09 3.0 13.0"]);
    assert_eq!(seen(&una, &quay).await["last_problem"], json!(null));
}

#[tokio::test]
async fn bad_lines_of_a_source_are_kept_out_and_told() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let service = Service::start(|_, _| {
        csv("2026-05-07,1,12\n2026-05-08,-99,12\n2026-05-09,mild,13\n2026-05-10,3,14\n2027-01-01,1,2\n")
    });
    una.put(&format!("{quay}/weather-source"), source(&service.address, "csv")).await.expect(201);
    let job = fetch(&society, &una, &quay).await;
    assert_eq!((&job["result"]["written"], &job["result"]["skipped"]), (&json!(2), &json!(3)));
    let bad = job["result"]["bad"].as_array().unwrap();
    let told: Vec<String> = bad
        .iter()
        .map(|f| format!("{} {}", f["pointer"].as_str().unwrap(), f["code"].as_str().unwrap()))
        .collect();
    assert_eq!(told, ["line 3 out-of-range", "line 4 not-a-number", "line 6 in-the-future"]);
    assert_eq!(days(&una, &quay).await, ["2026-05-07 1.0 12.0", "2026-05-10 3.0 14.0"]);
}

/// A line of the climate network for one month, values in tenths.
fn month(of: &str, element: &str, values: &[i32]) -> String {
    let mut line = format!("MRW00000001{of}{element}");
    for day in 0..31 {
        write!(line, "{:>5}   ", values.get(day).copied().unwrap_or(-9999)).unwrap();
    }
    line + "\n"
}

#[tokio::test]
async fn a_file_a_year_is_fetched_year_by_year_and_years_without_a_file_are_passed_over() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let service = Service::start(|_, asked| match asked.path.as_str() {
        "/2025.dly" => HttpResponse::Ok()
            .body(month("202512", "TMAX", &[70, 80]) + &month("202512", "TMIN", &[-11, 5, 9])),
        "/2026.dly" => {
            HttpResponse::Ok().body(month("202601", "TMAX", &[60]) + &month("202601", "TMIN", &[-20]))
        }
        _ => HttpResponse::NotFound().finish(),
    });
    let url = format!("{}/{{year}}.dly", service.address);
    una.put(&format!("{quay}/weather-source"), source(&url, "ghcn_daily")).await.expect(201);
    let job = fetch(&society, &una, &quay).await;
    assert_eq!(service.paths(), ["/2024.dly", "/2025.dly", "/2026.dly"]);
    assert_eq!((&job["state"], &job["result"]["gaps"]), (&json!("done"), &json!(1)), "{job}");
    assert_eq!(days(&una, &quay).await, ["2025-12-01 -1.1 7.0", "2025-12-02 0.5 8.0", "2026-01-01 -2.0 6.0"]);
}

#[tokio::test]
async fn a_redirection_within_the_scheme_is_followed() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let service = Service::start(|_, asked| match asked.path.as_str() {
        "/old" => HttpResponse::MovedPermanently().insert_header(("location", "/new")).finish(),
        _ => HttpResponse::Ok().json(json!([{"day": "2026-05-09", "min_c": 2, "max_c": 13}])),
    });
    let url = format!("{}/old", service.address);
    una.put(&format!("{quay}/weather-source"), source(&url, "json")).await.expect(201);
    assert_eq!(fetch(&society, &una, &quay).await["result"]["written"], json!(1));
    assert_eq!(service.paths(), ["/old", "/new"]);
}

#[tokio::test]
async fn addresses_that_must_not_be_asked_are_refused() {
    let society = society(Fetching { private_hosts: false, ..quick() }).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let path = format!("{quay}/weather-source");
    for (url, field) in [
        ("ftp://weather.example/{year}", "/url bad-scheme"),
        ("file:///etc/passwd", "/url bad-scheme"),
        ("http://127.0.0.1:5432/", "/url private-host"),
        ("http://localhost/", "/url private-host"),
        ("http://[::1]/", "/url private-host"),
        ("http://192.168.1.1/", "/url private-host"),
        ("https://a:b@weather.example/", "/url credentials"),
        ("https://weather.example/{day}", "/url unknown-placeholder"),
        ("not an address", "/url bad-address"),
        ("", "/url required"),
    ] {
        let refused = una.put(&path, source(url, "csv")).await;
        assert_eq!(refused.problem(422), "invalid-fields", "{url}");
        assert_eq!(refused.fields(), [field], "{url}");
    }
    let refused =
        una.put(&path, json!({"url": "", "format": "xml", "every_hours": 0, "enabled": 1, "key": 2})).await;
    assert_eq!(
        refused.fields(),
        [
            "/enabled wrong-type",
            "/every_hours out-of-range",
            "/format unknown-word",
            "/key unknown-field",
            "/url required"
        ]
    );
    assert_eq!(una.get(&path).await.problem(404), "not-found");
    // Entered when the server's settings allowed it.
    let service = Service::start(|_, _| csv("2026-05-09,2,13\n"));
    let (id, url) = (quay.rsplit('/').next().unwrap().parse::<StationId>().unwrap(), service.address.clone());
    una.put(&path, source("https://weather.example/", "csv")).await.expect(201);
    society
        .write(move |conn| {
            let mut source = weather_sources::find(conn, id)?.unwrap();
            source.url_template.clone_from(&url);
            weather_sources::update(conn, &source)
        })
        .await;
    let job = fetch(&society, &una, &quay).await;
    assert_eq!(job["problem"], json!("127.0.0.1 is on this machine or a private network."));
    assert!(service.asked().is_empty());
}

#[tokio::test]
async fn a_source_is_edited_with_the_version_that_was_read() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let path = format!("{quay}/weather-source");
    let put =
        |etag: &str, body: Value| una.request(Method::PUT, &path).header("if-match", etag).json(&body).send();
    assert_eq!(una.get(&path).await.problem(404), "not-found");
    assert_eq!(una.post(&format!("{path}/fetch"), json!({})).await.problem(404), "not-found");
    assert_eq!(una.delete(&path).await.problem(404), "not-found");
    let body = source("https://weather.example/quay.csv", "csv");
    assert_eq!(put("\"1\"", body.clone()).await.problem(412), "version-mismatch");
    let entered = una.put(&path, body.clone()).await.expect(201);
    assert_eq!(una.put(&path, body.clone()).await.problem(428), "precondition-required");
    let off = json!({"url": "https://weather.example/quay.json", "format": "json", "every_hours": 6, "enabled": false});
    let changed = put(&entered.etag(), off.clone()).await.expect(200);
    assert_eq!(changed.etag(), "\"2\"");
    for name in ["url", "format", "every_hours", "enabled"] {
        assert_eq!(changed.json()[name], off[name], "{name}");
    }
    assert_eq!(put(&entered.etag(), off).await.problem(412), "version-mismatch");
    let etag = una.get(&path).await.expect(200).etag();
    let known = una.request(Method::GET, &path).header("if-none-match", &etag).send().await;
    assert_eq!(known.status, 304);
    una.delete(&path).await.expect(204);
    assert_eq!(una.get(&path).await.problem(404), "not-found");
    let nowhere = format!("/api/v1/stations/{}/weather-source", StationId::fresh());
    assert_eq!(una.put(&nowhere, body).await.problem(404), "not-found");
    let edda = society.member("Edda Wick").await;
    assert_eq!(edda.get(&path).await.problem(403), "not-allowed");
    assert_eq!(edda.post(&format!("{path}/fetch"), json!({})).await.problem(403), "not-allowed");
}

#[tokio::test]
async fn sources_are_fetched_when_they_are_due() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let path = format!("{quay}/weather-source");
    let service = Service::start(|_, _| csv("2026-05-09,2,13\n"));
    let entered = una.put(&path, source(&service.address, "csv")).await.expect(201);
    let due = || jobs::enqueue_due_weather(&society.app);
    assert_eq!(due().await.unwrap(), 1);
    // It waits already.
    assert_eq!(due().await.unwrap(), 0);
    assert_eq!(entered.etag(), "\"1\"");
    jobs::run_waiting(&society.app).await.unwrap();
    assert_eq!(service.asked().len(), 1);
    society.clock.advance(TimeDelta::hours(23));
    assert_eq!(due().await.unwrap(), 0);
    society.clock.advance(TimeDelta::hours(1));
    assert_eq!(due().await.unwrap(), 1);
    let asked_by = society.read(|conn| job_rows::page(conn, None, None, 1)).await[0].asked_by;
    assert_eq!(asked_by, None);
    jobs::run_waiting(&society.app).await.unwrap();
    // Switched off it is fetched by hand alone.
    let una = society.administrator("Una Marsh").await;
    let etag = una.get(&path).await.expect(200).etag();
    let mut off = source(&service.address, "csv");
    off["enabled"] = json!(false);
    una.request(Method::PUT, &path).header("if-match", &etag).json(&off).send().await.expect(200);
    society.clock.advance(TimeDelta::days(9));
    assert_eq!(due().await.unwrap(), 0);
    let una = society.administrator("Una Marsh").await;
    assert_eq!(fetch(&society, &una, &quay).await["state"], "done");
}

#[tokio::test]
async fn two_that_ask_for_a_fetch_at_once_get_one_job() {
    let society = society(quick()).await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    una.put(&format!("{quay}/weather-source"), source("https://weather.example/", "csv")).await.expect(201);
    let fetch = format!("{quay}/weather-source/fetch");
    let asks: Vec<_> = (0..4).map(|_| una.request(Method::POST, &fetch).send()).collect();
    let mut ids = Vec::new();
    for ask in asks.into_iter().map(tokio::spawn).collect::<Vec<_>>() {
        let taken: Answer = ask.await.unwrap().expect(202);
        assert_eq!(taken.header("location"), format!("/api/v1/jobs/{}", taken.id()));
        ids.push(taken.id());
    }
    ids.dedup();
    assert_eq!(ids.len(), 1, "{ids:?}");
    let all = society.read(|conn| job_rows::page(conn, None, None, 9)).await;
    assert_eq!((all.len(), all[0].kind, all[0].asked_by), (1, JobKind::WeatherFetch, Some(una.id())));
}

/// The program itself, whose timetable and worker no test moves.
#[tokio::test]
async fn a_running_server_fetches_when_asked_and_when_it_is_due() {
    const EMAIL: &str = "una@merrow.example";
    const PASSWORD: &str = "nine small red pots";
    let database = TestDatabase::fresh();
    create_administrator(&database.url, EMAIL, PASSWORD);
    let server = Process::serve(&database.url, &["--weather-private", "--today", "2026-05-10"]);
    let visitor = server.visitor();
    let log_in = json!({"email": EMAIL, "password": PASSWORD});
    let tokens = visitor.post("/api/v1/sessions", log_in).await.expect(201).json();
    let una = visitor.with_token(tokens["access_token"].as_str().unwrap());
    let vale = json!({"name": "The Vale", "latitude": 53, "longitude": -8, "elevation_m": 40});
    let region = una.post("/api/v1/regions", vale).await.expect(201).id();
    let body = json!({"name": "Quay Town", "latitude": 53.1, "longitude": -8.2, "elevation_m": 6,
                      "source": "The harbour office"});
    let made = una.post(&format!("/api/v1/regions/{region}/stations"), body).await.expect(201);
    let quay = made.header("location");
    let service = Service::start(|_, _| csv("2026-05-09,2,13\n"));
    una.put(&format!("{quay}/weather-source"), source(&service.address, "csv")).await.expect(201);
    // By hand, within a few seconds; the timetable is looked at once a minute.
    let taken = una.request(Method::POST, &format!("{quay}/weather-source/fetch")).send().await.expect(202);
    let started = Instant::now();
    loop {
        let job = una.get(&taken.header("location")).await.expect(200).json();
        if job["state"] == "done" {
            break assert_eq!(job["result"]["written"], json!(1));
        }
        assert!(started.elapsed() < Duration::from_secs(30), "not done: {job}");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert_eq!(days(&una, &quay).await, ["2026-05-09 2.0 13.0"]);
    drop(server);
    // A source that is due when a server starts is fetched without anybody asking.
    let id = quay.rsplit('/').next().unwrap().parse::<StationId>().unwrap();
    let db = Db::open(&database.url, 1).unwrap();
    db.write(move |conn| {
        let mut source = weather_sources::find(conn, id)?.unwrap();
        source.last_tried_at = None;
        weather_sources::update(conn, &source)
    })
    .await
    .unwrap();
    let _server = Process::serve(&database.url, &["--weather-private", "--today", "2026-05-10"]);
    while service.asked().len() < 2 {
        assert!(started.elapsed() < Duration::from_secs(60), "not fetched");
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
}

// ---- uploaded ----

#[tokio::test]
async fn the_same_days_may_be_uploaded_in_every_format_and_again() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let readings = format!("{quay}/readings");
    let dly = month("202605", "TMAX", &[120, 130])
        + &month("202605", "TMIN", &[-15, 20, 30])
        + &month("202605", "PRCP", &[2]);
    let uploads = [
        ("text/csv", "", "day,min_c,max_c,rain_mm\n2026-05-01,-1.5,12,0.2\n2026-05-02,2,13,\n".to_owned()),
        (
            "application/json",
            "",
            json!([{"day": "2026-05-01", "min_c": -1.5, "max_c": 12, "rain_mm": 0.2},
                   {"day": "2026-05-02", "min_c": 2, "max_c": 13}])
            .to_string(),
        ),
        ("text/plain", "?format=ghcn_daily", dly.clone()),
        ("text/csv", "?format=ghcn_daily", dly),
    ];
    let mut seen = None;
    for (kind, query, body) in uploads {
        for _ in 0..2 {
            let path = format!("{readings}{query}");
            let taken = una.request(Method::PUT, &path).body(kind, body.clone()).send().await.expect(200);
            assert_eq!(taken.json()["written"], json!(2), "{kind} {query}");
            assert_eq!(taken.json()["gaps"], json!(i32::from(!query.is_empty())), "{kind} {query}");
            let list = una.get(&readings).await.expect(200).json();
            assert_eq!(list["readings"].as_array().unwrap().len(), 2);
            assert_eq!(*seen.get_or_insert_with(|| list.clone()), list, "{kind} {query}");
        }
    }
    let unknown = una.request(Method::PUT, &readings).body("text/plain", "x").send().await;
    assert_eq!(unknown.problem(415), "unsupported-media-type");
    let format =
        una.request(Method::PUT, &format!("{readings}?format=xml")).body("text/csv", "x").send().await;
    assert_eq!(format.problem(422), "invalid-query");
}

#[tokio::test]
async fn impossible_values_of_a_climate_network_file_are_refused_by_line() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let quay = station(&society, &una).await;
    let dly = month("202604", "TMAX", &[120, 130])
        + &month("202604", "TMIN", &[-15, 140])
        + &month("202605", "TMAX", &[120])
        + &month("202605", "TMIN", &[-700]);
    let put = |query: &str| {
        let path = format!("{quay}/readings?format=ghcn_daily{query}");
        una.request(Method::PUT, &path).body("text/plain", dly.clone()).send()
    };
    let refused = put("").await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields(), ["line 2 min-above-max", "line 4 out-of-range"]);
    assert!(days(&una, &quay).await.is_empty());
    let taken = put("&skip_bad=true").await.expect(200).json();
    assert_eq!((&taken["written"], &taken["skipped"]), (&json!(1), &json!(2)));
    assert_eq!(days(&una, &quay).await, ["2026-04-01 -1.5 12.0"]);
}

// ---- the growers' own houses ----

const INSIDE: &str = "/api/v1/members/me/inside-readings";

async fn measured(grower: &Actor, region: RegionId, house: &str, rows: &str) -> Answer {
    let path = format!("{INSIDE}?region_id={region}&{house}");
    grower.send_csv(Method::PUT, &path, &format!("day,min_c,max_c\n{rows}")).await
}

/// `day environment heated min max` of each.
async fn own(grower: &Actor) -> Vec<String> {
    let rows = grower.walk(&format!("{INSIDE}?limit=2")).await;
    let mut rows: Vec<String> = rows
        .iter()
        .map(|r| {
            let word = |name: &str| r[name].as_str().unwrap().to_owned();
            let (day, house) = (word("day"), word("environment"));
            format!("{day} {house} {} {} {}", r["heated_to_c"], r["min_c"], r["max_c"])
        })
        .collect();
    rows.sort();
    rows
}

#[tokio::test]
async fn a_grower_keeps_days_of_each_house_and_sends_them_again() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let edda = society.member("Edda Wick").await;
    let bram = society.member("Bram Oake").await;
    let frost_free = "2026-05-01,6,24\n2026-05-02,7,25\n";
    let taken = measured(&edda, region, "environment=frost_free", frost_free).await.expect(200).json();
    assert_eq!((&taken["written"], &taken["last_day"]), (&json!(2), &json!("2026-05-02")));
    measured(&edda, region, "environment=heated&heated_to_c=10", "2026-05-01,10,26\n").await.expect(200);
    measured(&edda, region, "environment=heated&heated_to_c=12.5", "2026-05-01,12,27\n").await.expect(200);
    // Again, with a day mended and one more.
    measured(&edda, region, "environment=frost_free", "2026-05-02,7,26\n2026-05-03,8,20\n").await.expect(200);
    measured(&edda, region, "environment=heated&heated_to_c=10", "2026-05-01,11,26\n").await.expect(200);
    measured(&bram, region, "environment=frost_free", "2026-05-01,1,9\n").await.expect(200);
    assert_eq!(
        own(&edda).await,
        [
            "2026-05-01 frost_free null 6.0 24.0",
            "2026-05-01 heated 10.0 11.0 26.0",
            "2026-05-01 heated 12.5 12.0 27.0",
            "2026-05-02 frost_free null 7.0 26.0",
            "2026-05-03 frost_free null 8.0 20.0"
        ]
    );
    // Nobody's days are seen or forgotten by another.
    assert_eq!(own(&bram).await, ["2026-05-01 frost_free null 1.0 9.0"]);
    bram.delete(&format!("{INSIDE}?from=2026-01-01&to=2026-12-31")).await.expect(204);
    assert_eq!(own(&bram).await, Vec::<String>::new());
    edda.delete(&format!("{INSIDE}?from=2026-05-01&to=2026-05-01")).await.expect(204);
    assert_eq!(
        own(&edda).await,
        ["2026-05-02 frost_free null 7.0 26.0", "2026-05-03 frost_free null 8.0 20.0"]
    );
    let json = edda
        .put(
            &format!("{INSIDE}?region_id={region}&environment=cold_glass"),
            json!([{"day": "2026-05-04", "min_c": 3, "max_c": 19}]),
        )
        .await;
    assert_eq!(json.expect(200).json()["written"], json!(1));
}

#[tokio::test]
async fn faults_of_a_houses_table_are_told_and_nothing_is_written() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let edda = society.member("Edda Wick").await;
    let rows = "2026-05-01,6,24\n2026-05-02,25,7\n2026-05-03,x,7\n";
    let refused = measured(&edda, region, "environment=cold_glass", rows).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields(), ["line 3 min-above-max", "line 4 not-a-number"]);
    assert!(own(&edda).await.is_empty());
    let taken =
        measured(&edda, region, "environment=cold_glass&skip_bad=true", rows).await.expect(200).json();
    assert_eq!((&taken["written"], &taken["skipped"]), (&json!(1), &json!(2)));
    for (query, field) in [
        ("environment=outdoors", "environment outdoors"),
        ("environment=heated", "heated_to_c required"),
        ("environment=heated&heated_to_c=35.5", "heated_to_c out-of-range"),
        ("environment=heated&heated_to_c=NaN", "heated_to_c out-of-range"),
        ("environment=cold_glass&heated_to_c=5", "heated_to_c must-be-empty"),
    ] {
        let refused = measured(&edda, region, query, "2026-05-01,6,24\n").await;
        assert_eq!(refused.problem(422), "invalid-query", "{query}");
        assert_eq!(refused.fields(), [field], "{query}");
    }
    let nowhere = measured(&edda, RegionId::fresh(), "environment=cold_glass", "2026-05-01,6,24\n").await;
    assert_eq!(nowhere.fields(), ["region_id not-found"]);
    let backwards = edda.delete(&format!("{INSIDE}?from=2026-05-02&to=2026-05-01")).await;
    assert_eq!(backwards.problem(422), "invalid-query");
    assert_eq!(own(&edda).await, ["2026-05-01 cold_glass null 6.0 24.0"]);
}
