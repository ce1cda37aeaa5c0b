//! Regions, weather stations and their daily readings.

use std::fmt::Write;

use chrono::{Days, NaiveDate};
use reqwest::Method;
use serde_json::{Value, json};
use storksbill_tests::{Actor, TestApp};

fn vale() -> Value {
    json!({"name": "The Vale", "latitude": 53.2, "longitude": -8.4, "elevation_m": 35})
}

/// A station for readings, with the path of its readings.
async fn station(administrator: &Actor) -> String {
    let region = administrator.post("/api/v1/regions", vale()).await.expect(201).id();
    let made = administrator
        .post(
            &format!("/api/v1/regions/{region}/stations"),
            json!({"name": "Mill Weir", "latitude": 53.1, "longitude": -8.3, "elevation_m": 30, "source": "own screen"}),
        )
        .await
        .expect(201);
    format!("/api/v1/stations/{}/readings", made.id())
}

/// Days on end from `start` as CSV.
fn days(start: &str, count: u64, min_c: f64) -> String {
    let start: NaiveDate = start.parse().unwrap();
    (0..count).fold("day,min_c,max_c\n".to_owned(), |mut table, n| {
        writeln!(table, "{},{min_c},{}", start + Days::new(n), min_c + 8.0).unwrap();
        table
    })
}

#[tokio::test]
async fn an_administrator_enters_a_region_and_everybody_sees_it() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let made = una.post("/api/v1/regions", vale()).await.expect(201);
    assert_eq!(made.etag(), "\"1\"");
    let seen = society.visitor().get(&made.header("location")).await.expect(200);
    assert_eq!(seen.json(), made.json());
    let known = society
        .visitor()
        .request(Method::GET, &made.header("location"))
        .header("if-none-match", &seen.etag())
        .send()
        .await;
    assert_eq!(known.status, 304);
    let nowhere = society.visitor().get("/api/v1/regions/017f22e2-79b0-7cc3-98c4-dc0c0c07398f").await;
    assert_eq!(nowhere.problem(404), "not-found");
}

#[tokio::test]
async fn everything_wrong_with_a_region_is_said_at_once() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let refused = una
        .post(
            "/api/v1/regions",
            json!({"name": "--", "latitude": 90.5, "longitude": "west", "elevation_m": -501, "soil": "peat"}),
        )
        .await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(
        refused.fields(),
        [
            "/elevation_m out-of-range",
            "/latitude out-of-range",
            "/longitude wrong-type",
            "/name no-letters",
            "/soil unknown-field"
        ]
    );
}

#[tokio::test]
async fn only_an_administrator_keeps_regions_and_stations() {
    let society = TestApp::start().await;
    let readings = station(&society.administrator("Una Marsh").await).await;
    let station = readings.trim_end_matches("/readings");
    let region = society.region("High Moor").await;
    for other in [society.member("Edda Wick").await, society.registrar("Ivo Reed").await] {
        for refused in [
            other.post("/api/v1/regions", json!({})).await,
            other.patch(&format!("/api/v1/regions/{region}"), "\"1\"", json!({})).await,
            other.post(&format!("/api/v1/regions/{region}/stations"), json!({})).await,
            other.patch(station, "\"1\"", json!({})).await,
            other.send_csv(Method::PUT, &readings, "x").await,
        ] {
            assert_eq!(refused.problem(403), "not-allowed", "{}", refused.asked);
        }
        other.get(station).await.expect(200);
        other.get(&readings).await.expect(200);
    }
    for path in [station, &readings, &format!("/api/v1/regions/{region}/stations")] {
        assert_eq!(society.visitor().get(path).await.problem(401), "not-logged-in", "{path}");
    }
}

#[tokio::test]
async fn an_edit_of_a_region_wants_the_version_that_was_read() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    society.region("High Moor").await;
    let made = una.post("/api/v1/regions", vale()).await.expect(201);
    let path = made.header("location");
    let blind = una.request(Method::PATCH, &path).json(&json!({"elevation_m": 40})).send().await;
    assert_eq!(blind.problem(428), "precondition-required");
    let changed = una.patch(&path, &made.etag(), json!({"elevation_m": 40})).await.expect(200);
    assert_eq!((changed.etag(), &changed.json()["elevation_m"]), ("\"2\"".to_owned(), &json!(40.0)));
    assert_eq!(changed.json()["name"], "The Vale");
    let stale = una.patch(&path, &made.etag(), json!({"elevation_m": 41})).await;
    assert_eq!(stale.problem(412), "version-mismatch");
    let cleared = una.patch(&path, "\"2\"", json!({"name": null, "latitude": null})).await;
    assert_eq!(cleared.fields(), ["/latitude required", "/name required"]);
    let taken = una.patch(&path, "\"2\"", json!({"name": "hígh moor"})).await;
    assert_eq!(taken.problem(409), "taken");
    assert_eq!(una.post("/api/v1/regions", vale()).await.problem(409), "taken");
}

#[tokio::test]
async fn a_region_sent_again_is_entered_once() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let first = una.post_once("/api/v1/regions", "r-1", vale()).await.expect(201);
    let again = una.post_once("/api/v1/regions", "r-1", vale()).await.expect(201);
    assert_eq!(first.json(), again.json());
    let stations = format!("/api/v1/regions/{}/stations", first.id());
    let body =
        json!({"name": "Weir", "latitude": 53, "longitude": -8, "elevation_m": 3, "source": "own screen"});
    let first = una.post_once(&stations, "s-1", body.clone()).await.expect(201);
    let again = una.post_once(&stations, "s-1", body.clone()).await.expect(201);
    assert_eq!(first.json(), again.json());
    let mut other = body;
    other["name"] = json!("Weir Bridge");
    assert_eq!(una.post_once(&stations, "s-1", other).await.problem(422), "idempotency-key-reused");
    assert_eq!(una.walk("/api/v1/regions").await.len(), 1);
    assert_eq!(una.walk(&stations).await.len(), 1);
}

#[tokio::test]
async fn regions_and_stations_are_walked_by_name_to_the_end() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    for name in ["Óran Bay", "Lee Shore", "West Isle", "High Moor", "The Vale"] {
        society.region(name).await;
    }
    let regions = society.visitor().walk("/api/v1/regions?limit=2").await;
    let names: Vec<_> = regions.iter().map(|r| r["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["High Moor", "Lee Shore", "Óran Bay", "The Vale", "West Isle"]);
    let stations = format!("/api/v1/regions/{}/stations", regions[0]["id"].as_str().unwrap());
    for name in ["Tor", "Bog Road", "Ánner", "Crag"] {
        let body = json!({"name": name, "latitude": 53, "longitude": -8, "elevation_m": 300, "source": "own screen"});
        una.post(&stations, body).await.expect(201);
    }
    let found = una.walk(&format!("{stations}?limit=1")).await;
    let names: Vec<_> = found.iter().map(|s| s["name"].as_str().unwrap()).collect();
    assert_eq!(names, ["Ánner", "Bog Road", "Crag", "Tor"]);
    let other = regions[1]["id"].as_str().unwrap();
    assert!(una.walk(&format!("/api/v1/regions/{other}/stations")).await.is_empty());
}

#[tokio::test]
async fn a_station_is_entered_changed_and_named_once() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let region = society.region("High Moor").await;
    let stations = format!("/api/v1/regions/{region}/stations");
    let refused = una
        .post(
            &stations,
            json!({"name": "T", "latitude": 91, "longitude": 181, "elevation_m": 9001, "source": ""}),
        )
        .await;
    assert_eq!(
        refused.fields(),
        [
            "/elevation_m out-of-range",
            "/latitude out-of-range",
            "/longitude out-of-range",
            "/name too-short",
            "/source required"
        ]
    );
    let tor =
        json!({"name": "Tor", "latitude": 53, "longitude": -8, "elevation_m": 300, "source": "generated"});
    let made = una.post(&stations, tor.clone()).await.expect(201);
    assert_eq!(made.json()["region_id"], json!(region));
    let path = made.header("location");
    assert_eq!(una.get(&path).await.expect(200).json(), made.json());
    let blind = una.request(Method::PATCH, &path).json(&json!({"source": "own screen"})).send().await;
    assert_eq!(blind.problem(428), "precondition-required");
    let changed = una.patch(&path, "\"1\"", json!({"source": "own screen"})).await.expect(200);
    assert_eq!(changed.json()["source"], "own screen");
    assert_eq!(una.patch(&path, "\"1\"", json!({})).await.problem(412), "version-mismatch");
    assert_eq!(una.post(&stations, tor).await.problem(409), "taken");
    let nowhere = "/api/v1/regions/017f22e2-79b0-7cc3-98c4-dc0c0c07398f/stations";
    assert_eq!(una.get(nowhere).await.problem(404), "not-found");
}

#[tokio::test]
async fn an_upload_writes_the_days_and_a_second_replaces_them() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let readings = station(&una).await;
    let done = una
        .send_csv(
            Method::PUT,
            &readings,
            "max_c,day,min_c,humidity_pct,rain_mm\n11,2026-05-02,3.5,,0.4\n12,2026-05-01,-1,81.5,\n",
        )
        .await
        .expect(200);
    assert_eq!(
        done.json(),
        json!({"written": 2, "skipped": 0, "gaps": 0, "first_day": "2026-05-01", "last_day": "2026-05-02", "bad": [], "bad_not_listed": 0})
    );
    let again = una
        .put(&readings, json!([{"day": "2026-05-02", "min_c": 4, "max_c": 15}, {"day": "2026-05-03", "min_c": 5, "max_c": 16}]))
        .await
        .expect(200);
    assert_eq!(again.json()["written"], 2);
    let seen = una.get(&format!("{readings}?from=2026-05-01&to=2026-05-31")).await.expect(200).json();
    assert_eq!(
        seen["readings"],
        json!([
            {"day": "2026-05-01", "min_c": -1.0, "max_c": 12.0, "rain_mm": null, "humidity_pct": 81.5},
            {"day": "2026-05-02", "min_c": 4.0, "max_c": 15.0, "rain_mm": null, "humidity_pct": null},
            {"day": "2026-05-03", "min_c": 5.0, "max_c": 16.0, "rain_mm": null, "humidity_pct": null}
        ])
    );
}

#[tokio::test]
async fn every_bad_row_is_told_and_nothing_is_written() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let readings = station(&una).await;
    let table = "day,min_c,max_c,rain_mm,humidity_pct\n\
        2026-05-01,1,9,,\n\
        2026-05-32,1,9,,\n\
        2026-05-03,9,1,,\n\
        2026-05-04,-61,9,,\n\
        2026-05-05,1,9,-1,101\n\
        2026-05-01,2,9,,\n\
        2026-05-11,1,9,,\n\
        2026-05-12,1,9,,\n";
    let refused = una.send_csv(Method::PUT, &readings, table).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    let mut expected = [
        "line 3 bad-date",
        "line 4 min-above-max",
        "line 5 out-of-range",
        "line 6 out-of-range",
        "line 6 out-of-range",
        "line 7 duplicate-day",
        "line 9 in-the-future",
    ];
    expected.sort_unstable();
    assert_eq!(refused.fields(), expected);
    assert!(refused.json()["detail"].as_str().unwrap().starts_with("6 of 8 rows"), "{}", refused.text());
    let seen = una.get(&readings).await.expect(200).json();
    assert_eq!(seen["readings"], json!([]));
    let skipping = una.send_csv(Method::PUT, &format!("{readings}?skip_bad=true"), table).await.expect(200);
    let report = skipping.json();
    assert_eq!((&report["written"], &report["skipped"]), (&json!(2), &json!(6)));
    assert_eq!((&report["first_day"], &report["last_day"]), (&json!("2026-05-01"), &json!("2026-05-11")));
    assert_eq!(report["bad"], refused.json()["errors"]);
    let seen = una.get(&format!("{readings}?to=2026-05-31")).await.expect(200).json();
    assert_eq!(seen["readings"].as_array().unwrap().len(), 2);
    assert_eq!(seen["readings"][0]["min_c"], 1.0);
}

#[tokio::test]
async fn rows_of_json_are_named_by_pointer() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let readings = station(&una).await;
    let refused = una
        .put(
            &readings,
            json!([
                {"day": "2026-05-01", "min_c": 1, "max_c": 9},
                {"day": "2026-05-02", "min_c": "cold", "max_c": 9, "wind": 3},
                {"day": "2026-05-01", "max_c": 9}
            ]),
        )
        .await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields(), ["/1 not-a-number", "/1 unknown-field", "/2 duplicate-day", "/2 required"]);
}

#[tokio::test]
async fn a_report_of_faults_is_cut_and_says_so() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let readings = station(&una).await;
    let table = "day,min_c,max_c\n".to_owned() + &"soon,1,2\n".repeat(1200);
    let refused = una.send_csv(Method::PUT, &readings, &table).await;
    assert_eq!(refused.problem(422), "invalid-fields");
    assert_eq!(refused.fields().len(), 50);
    let detail = refused.json()["detail"].as_str().unwrap().to_owned();
    assert!(detail.contains("1200 of 1200 rows"), "{detail}");
    assert!(refused.fields().iter().any(|field| field.ends_with(" more")), "{:?}", refused.fields());
    let skipping = una.send_csv(Method::PUT, &format!("{readings}?skip_bad=true"), &table).await.expect(200);
    assert_eq!(skipping.json()["bad"].as_array().unwrap().len(), 1000);
    assert_eq!(skipping.json()["bad_not_listed"], 200);
    assert_eq!(skipping.json()["first_day"], Value::Null);
}

#[tokio::test]
async fn what_is_no_table_is_refused_before_anything_is_read() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let readings = station(&una).await;
    let unknown = una.send_csv(Method::PUT, &readings, "day,min_c,max_c,wind\n2026-05-01,1,2,3\n").await;
    assert_eq!(unknown.problem(400), "malformed-csv");
    assert_eq!(unknown.fields(), ["line 1 unknown-column"]);
    assert!(unknown.text().contains("day,min_c,max_c,rain_mm,humidity_pct"));
    assert_eq!(una.put(&readings, json!({"day": "2026-05-01"})).await.problem(400), "malformed-json");
    let xml = una.request(Method::PUT, &readings).body("text/xml", "<days/>").send().await;
    assert_eq!(xml.problem(415), "unsupported-media-type");
    let query = una.send_csv(Method::PUT, &format!("{readings}?skip=true"), "day,min_c,max_c\n").await;
    assert_eq!(query.problem(422), "invalid-query");
    let nowhere = "/api/v1/stations/017f22e2-79b0-7cc3-98c4-dc0c0c07398f/readings";
    assert_eq!(una.send_csv(Method::PUT, nowhere, "day,min_c,max_c\n").await.problem(404), "not-found");
}

#[tokio::test]
async fn twenty_thousand_days_are_taken_in_one_request_and_given_back() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let readings = station(&una).await;
    let table = days("1971-08-08", 20_000, 2.5);
    let done = una.send_csv(Method::PUT, &readings, &table).await.expect(200);
    assert_eq!(done.json()["written"], 20_000);
    assert_eq!(
        (&done.json()["first_day"], &done.json()["last_day"]),
        (&json!("1971-08-08"), &json!("2026-05-10"))
    );
    let all = format!("{readings}?from=1971-01-01");
    let refused = una.get(&all).await;
    assert_eq!(refused.problem(422), "invalid-query");
    assert_eq!(refused.fields(), ["from out-of-range"]);
    let as_csv =
        una.request(Method::GET, &all).header("accept", "text/csv, application/json;q=0.5").send().await;
    let csv = as_csv.expect(200).text();
    assert_eq!(csv.lines().count(), 20_001);
    assert!(
        csv.starts_with("day,min_c,max_c,rain_mm,humidity_pct\r\n1971-08-08,2.5,10.5,,\r\n"),
        "{}",
        &csv[..90]
    );
    // What was given back is taken again, and another table takes the place of every day.
    una.send_csv(Method::PUT, &readings, &csv).await.expect(200);
    una.send_csv(Method::PUT, &readings, &days("1971-08-08", 20_000, -4.0)).await.expect(200);
    let most = una.get(&format!("{readings}?from=2015-05-29&to=2026-05-10")).await.expect(200).json();
    let most = most["readings"].as_array().unwrap();
    assert_eq!(most.len(), 4000);
    assert!(most.iter().all(|day| day["min_c"] == -4.0 && day["max_c"] == 4.0));
}

#[tokio::test]
async fn readings_are_of_the_past_year_unless_days_are_given() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let readings = station(&una).await;
    una.send_csv(Method::PUT, &readings, &days("2025-01-01", 496, 3.0)).await.expect(200);
    let year = una.get(&readings).await.expect(200).json();
    assert_eq!((&year["from"], &year["to"]), (&json!("2025-05-11"), &json!("2026-05-10")));
    assert_eq!(year["readings"].as_array().unwrap().len(), 365);
    let json = una
        .request(Method::GET, &readings)
        .header("accept", "application/json, text/csv;q=0.9")
        .send()
        .await
        .expect(200);
    assert_eq!(json.header("content-type"), "application/json");
    let one = una.get(&format!("{readings}?from=2026-05-10&to=2026-05-10")).await.expect(200).json();
    assert_eq!(one["readings"].as_array().unwrap().len(), 1);
    for wrong in ["from=2026-05-10&to=2026-05-09", "from=soon", "to=%2B11111-01-01"] {
        assert_eq!(una.get(&format!("{readings}?{wrong}")).await.problem(422), "invalid-query", "{wrong}");
    }
}
