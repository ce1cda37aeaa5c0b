//! How the season stands.

use chrono::{Datelike, NaiveDate, TimeDelta};
use serde_json::{Value, json};
use storksbill_db::rows::places::{self, Reading, Station};
use storksbill_domain::ids::{RegionId, StationId};
use storksbill_domain::names;
use storksbill_domain::words::{DiaryKind, PlantGroup, Visibility};
use storksbill_tests::TestApp;

use crate::forecasts::{cultivar, day, met_on, plant, record, weather};

#[tokio::test]
async fn a_region_without_readings_says_so_and_one_with_too_few_says_why() {
    let society = TestApp::start().await;
    society.region("High Moor").await;
    let vale = society.region("The Vale").await;
    // Nothing since the reference plant's stop on 11 March 2026.
    weather(&society, vale, day("2026-02-01"), |_| 0.0).await;
    let season = society.visitor().get("/api/v1/season").await.expect(200).json();
    assert_eq!(season[0]["words"], "No weather readings for this region yet.");
    assert_eq!(season[0]["days_late"], serde_json::Value::Null);
    assert_eq!(season[1]["name"], "The Vale");
    assert!(season[1]["words"].as_str().unwrap().starts_with("Cannot be told yet: no weather"), "{season:#}");
}

#[tokio::test]
async fn a_warm_spring_is_ahead() {
    let society = TestApp::start().await;
    let vale = society.region("The Vale").await;
    weather(&society, vale, society.clock.today(), |year| if year == 2026 { 2.5 } else { 0.0 }).await;
    let season = society.visitor().get("/api/v1/season").await.expect(200).json();
    let ahead = season[0]["days_late"].as_f64().unwrap();
    assert!(ahead < -3.0, "{ahead}");
    assert!(season[0]["words"].as_str().unwrap().contains("days ahead of"), "{season:#}");
    assert!(season[0]["heat"].as_f64() > season[0]["usual_heat"].as_f64());
}

/// One station with a reading for every day from `from` to `to`.
async fn station(
    society: &TestApp,
    region: RegionId,
    (from, to): (NaiveDate, NaiveDate),
    reading: impl Fn(NaiveDate) -> (f64, f64, Option<f64>, Option<f64>),
) {
    let id = StationId::fresh();
    let days = from.iter_days().take_while(|date| *date <= to);
    let rows: Vec<Reading> = days
        .map(|day| {
            let (min_c, max_c, rain_mm, humidity_pct) = reading(day);
            Reading { station_id: id, day, min_c, max_c, rain_mm, humidity_pct }
        })
        .collect();
    let now = society.clock.now().naive_utc();
    society
        .write(move |conn| {
            let name = format!("Station {id}");
            let station = Station {
                id,
                region_id: region,
                name_key: names::search_key(&name),
                name,
                latitude: 53.0,
                longitude: -8.0,
                elevation_m: 40.0,
                source: "made for a test".to_owned(),
                version: 1,
                created_at: now,
            };
            places::insert_station(conn, &station)?;
            places::upsert_readings(conn, id, &rows)
        })
        .await;
}

async fn report(society: &TestApp, region: RegionId) -> Value {
    society.visitor().get(&format!("/api/v1/season/regions/{region}")).await.expect(200).json()
}

#[tokio::test]
async fn a_region_without_readings_has_a_report_that_tells_nothing() {
    let society = TestApp::start().await;
    let told = report(&society, society.region("High Moor").await).await;
    assert_eq!(told["name"], "High Moor");
    assert_eq!(told["words"], "No weather readings for this region yet.");
    let groups = told["plant_groups"].as_array().unwrap();
    assert_eq!(groups.len(), 12);
    assert!(groups.iter().all(|group| group["words"] == "Cannot be told yet." && group["weather"].is_null()));
    assert!(told["damp"].is_null() && told["frost"].is_null() && told["advice"] == json!([]), "{told:#}");
    assert_eq!(told["troubles"][0], json!({"trouble": "damping_off", "now": null, "usual": null}));
}

#[tokio::test]
async fn a_region_that_is_not_there_and_a_day_that_is_none_are_refused() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    let gone = format!("/api/v1/season/regions/{}", RegionId::fresh());
    assert_eq!(visitor.get(&gone).await.problem(404), "not-found");
    let vale = society.region("The Vale").await;
    let asked = format!("/api/v1/season/regions/{vale}?frost_after=soon");
    assert_eq!(visitor.get(&asked).await.problem(422), "invalid-query");
}

#[tokio::test]
async fn a_warm_spring_is_ahead_for_every_plant_group_and_advice_says_so() {
    let society = TestApp::start().await;
    let vale = society.region("The Vale").await;
    weather(&society, vale, society.clock.today(), |year| if year == 2026 { 3.5 } else { 0.0 }).await;
    let told = report(&society, vale).await;
    for group in told["plant_groups"].as_array().unwrap() {
        assert!(group["weather"]["days_late"].as_f64().unwrap() < -5.0, "{group:#}");
        assert!(group["words"].as_str().unwrap().ends_with("By the weather alone."), "{group:#}");
        assert!(group["records"].is_null(), "nobody wrote anything");
    }
    // A plant that needs more is as far ahead as one that needs less, or further: it has more spring.
    let advice = &told["advice"][0];
    assert_eq!((&advice["code"], &advice["source"]), (&json!("early-season"), &json!("common practice")));
    assert!(advice["value"].as_f64().unwrap() < -5.0);
    // The smooth course has no rain and no humidity.
    assert_eq!(told["damp"]["humidity"], "estimated");
    assert_eq!(told["damp"]["days"], 14);
}

#[tokio::test]
async fn damp_days_are_told_with_where_the_humidity_comes_from() {
    let society = TestApp::start().await;
    let (dry, wet) = (society.region("Dry Vale").await, society.region("Wet Vale").await);
    let today = society.clock.today();
    let days = (today - TimeDelta::days(400), today);
    station(&society, dry, days, |_| (12.0, 20.0, Some(0.0), Some(55.0))).await;
    let wet_from = today - TimeDelta::days(4);
    let reading = move |date: NaiveDate| {
        let measured = if date < wet_from { 55.0 } else { 96.0 };
        (10.0, 20.0, Some(0.0), Some(measured).filter(|_| date != today))
    };
    station(&society, wet, days, reading).await;
    let told = report(&society, dry).await;
    let expected =
        json!({"days": 14, "damp_days": 0, "infection_days": 0, "cold_damp": false, "humidity": "measured"});
    assert_eq!(told["damp"], expected);
    let told = report(&society, wet).await;
    assert_eq!(told["damp"]["humidity"], "partly_measured");
    assert!((3..=5).contains(&told["damp"]["damp_days"].as_u64().unwrap()), "{:#}", told["damp"]);
    let damping = told["advice"].as_array().unwrap().iter().find(|piece| piece["code"] == "damping-off");
    assert_eq!(damping.unwrap()["value"].as_f64(), told["damp"]["damp_days"].as_f64());
}

/// The last frost of ten years falls on 20 April to 29 April, one day later each year.
#[tokio::test]
async fn the_odds_of_a_frost_follow_the_years_that_had_one() {
    let society = TestApp::start().await;
    let vale = society.region("The Vale").await;
    let frost = |date: NaiveDate| {
        let last = NaiveDate::from_ymd_opt(date.year(), 4, 20).unwrap()
            + TimeDelta::days(i64::from(date.year() - 2016));
        let min = if date == last || date.ordinal() < 60 { -1.0 } else { 4.0 };
        (min, 14.0, None, None)
    };
    station(&society, vale, (day("2016-01-01"), society.clock.today()), frost).await;
    let visitor = society.visitor();
    let after = |date: &'static str| {
        let path = format!("/api/v1/season/regions/{vale}?frost_after={date}");
        let visitor = &visitor;
        async move { visitor.get(&path).await.expect(200).json()["frost"].clone() }
    };
    let told = after("2026-04-10").await;
    assert_eq!((told["years"].as_u64(), told["years_with_frost"].as_u64()), (Some(10), Some(10)));
    let middle = told["last_p50"].as_str().unwrap();
    assert!(("2026-04-23"..="2026-04-26").contains(&middle), "{told:#}");
    assert!(told["last_p10"].as_str().unwrap() < middle && middle < told["last_p90"].as_str().unwrap());
    let chance = |frost: &Value| frost["chance"].as_f64().unwrap();
    let (early, half, late) = (told, after("2026-04-24").await, after("2026-05-20").await);
    assert!(chance(&early) > 0.99 && (0.3..0.7).contains(&chance(&half)) && chance(&late) < 0.01);
    assert!(half["words"].as_str().unwrap().contains("A frost after 24 April"), "{half:#}");
    // In autumn there is no last frost of spring to come.
    assert!(after("2026-08-01").await["chance"].is_null());
    assert_eq!(
        report(&society, vale).await["frost"]["after"],
        "2026-05-11",
        "tomorrow where nothing is said"
    );
}

#[tokio::test]
async fn few_years_have_no_odds_of_a_frost() {
    let society = TestApp::start().await;
    let vale = society.region("The Vale").await;
    station(&society, vale, (day("2020-01-01"), society.clock.today()), |_| (-1.0, 8.0, None, None)).await;
    let frost = report(&society, vale).await["frost"].clone();
    assert!(frost["chance"].is_null() && frost["last_p50"].is_null(), "{frost:#}");
    assert!(frost["words"].as_str().unwrap().starts_with("Fewer than 8 of the 6 springs"), "{frost:#}");
}

#[tokio::test]
async fn troubles_of_the_blooms_are_told_when_enough_growers_stand_behind_them() {
    let society = TestApp::start().await;
    let (vale, head) = (society.region("The Vale").await, society.region("North Head").await);
    let regal = cultivar(&society, "Quillan Dusk", PlantGroup::Regal).await;
    let (floret, trouble) = (day("2026-04-28"), day("2026-05-06"));
    for n in 0..5 {
        let grower = society.member(&format!("Grower {n}")).await;
        for at in 0..2 {
            let id = plant(&society, &grower, regal, vale, Visibility::Society).await;
            record(&society, id, floret, DiaryKind::FirstOpenFloret).await;
            if at == 0 && n < 2 {
                record(&society, id, trouble, DiaryKind::DampingOff).await;
            }
        }
        // Private plants do not count, and the other region has but four growers.
        let hidden = plant(&society, &grower, regal, vale, Visibility::Private).await;
        record(&society, hidden, trouble, DiaryKind::DampingOff).await;
        if n < 4 {
            for _ in 0..3 {
                let id = plant(&society, &grower, regal, head, Visibility::Club).await;
                record(&society, id, trouble, DiaryKind::DampingOff).await;
            }
        }
    }
    let told = report(&society, vale).await["troubles"][0].clone();
    assert_eq!(told["trouble"], "damping_off");
    assert_eq!(told["now"]["share"], 0.2, "{told:#}");
    assert_eq!((&told["now"]["plants_at_least"], &told["now"]["growers_at_least"]), (&json!(10), &json!(5)));
    assert!(told["now"]["low"].as_f64().unwrap() < 0.2 && told["now"]["high"].as_f64().unwrap() > 0.2);
    assert!(told["usual"].is_null());
    assert!(report(&society, head).await["troubles"][0]["now"].is_null(), "four growers");
}

/// Plants of six growers took 500 degree-days in every past year; this year they open after 400.
#[tokio::test]
async fn records_of_this_season_move_the_index_where_enough_growers_wrote() {
    let society = TestApp::start().await;
    let (vale, head) = (society.region("The Vale").await, society.region("North Head").await);
    let rows = weather(&society, vale, society.clock.today(), |_| 0.0).await;
    weather(&society, head, society.clock.today(), |_| 0.0).await;
    let kind = cultivar(&society, "Thorrow Ember", PlantGroup::Zonal).await;
    for n in 0..6 {
        let grower = society.member(&format!("Grower {n}")).await;
        for _ in 0..3 {
            let id = plant(&society, &grower, kind, vale, Visibility::Society).await;
            for year in 2021..=2026 {
                let stop = NaiveDate::from_ymd_opt(year, 1, 20).unwrap();
                let need = if year == 2026 { 400.0 } else { 500.0 };
                record(&society, id, stop, DiaryKind::Stopping).await;
                record(&society, id, met_on(&rows, stop, need), DiaryKind::ShowReady).await;
            }
        }
    }
    let zonals = |told: Value| told["plant_groups"][0].clone();
    let told = zonals(report(&society, vale).await);
    assert_eq!(told["plant_group"], "zonal");
    let (weather, records) = (&told["weather"]["days_late"], &told["records"]["days_late"]);
    assert!(weather.as_f64().unwrap().abs() < 1.0, "{told:#}");
    assert!(records.as_f64().unwrap() < -2.0, "{told:#}");
    let edge = |name: &str| told["records"][name].as_f64().unwrap();
    assert!(edge("days_late_p10") < edge("days_late") && edge("days_late") < edge("days_late_p90"));
    assert!(told["words"].as_str().unwrap().contains("members' records"), "{told:#}");
    assert!(zonals(report(&society, head).await)["records"].is_null(), "nobody grows there");
}
