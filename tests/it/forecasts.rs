//! Forecasts from pooled records and weather.

use chrono::{Datelike, NaiveDate, TimeDelta};
use diesel::prelude::*;
use serde_json::{Value, json};
use storksbill_db::rows::places::{self, Reading, Station};
use storksbill_db::schema::{cultivars, diary_entries, plants};
use storksbill_domain::ids::{CultivarId, DiaryId, PlantId, RegionId, StationId};
use storksbill_domain::names;
use storksbill_domain::words::{CultivarStatus, DiaryKind, Environment, GrowthForm, PlantGroup, Visibility};
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::series::{HeatTable, RegionSeries};
use storksbill_tests::{Actor, TestApp};

pub fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// A year's smooth course, coldest in late January, with `shift` degrees more or less in each year's spring.
fn outside(date: NaiveDate, shift: impl Fn(i32) -> f64) -> (f64, f64) {
    let phase = (f64::from(date.ordinal0()) - 26.0) / 365.25 * std::f64::consts::TAU;
    let spring = (60..182).contains(&date.ordinal0());
    let mean = 10.0 - 6.0 * phase.cos() + if spring { shift(date.year()) } else { 0.0 };
    (mean - 4.0, mean + 4.0)
}

/// Gives a region a station with smooth weather from 2020 to `to`; returns the readings.
pub async fn weather(
    society: &TestApp,
    region: RegionId,
    to: NaiveDate,
    shift: impl Fn(i32) -> f64 + Copy + Send + 'static,
) -> Vec<Reading> {
    let station = StationId::fresh();
    let mut rows = Vec::new();
    let mut date = day("2020-01-01");
    while date <= to {
        let (min_c, max_c) = outside(date, shift);
        rows.push(Reading {
            station_id: station,
            day: date,
            min_c,
            max_c,
            rain_mm: None,
            humidity_pct: None,
        });
        date += TimeDelta::days(1);
    }
    let now = society.clock.now().naive_utc();
    let kept = rows.clone();
    society
        .write(move |conn| {
            let name = format!("Station {station}");
            let station = Station {
                id: station,
                region_id: region,
                name_key: names::search_key(&name),
                name,
                latitude: 53.0,
                longitude: -8.0,
                // As high as the harness's regions, so that nothing is reduced.
                elevation_m: 40.0,
                source: "made for a test".to_owned(),
                version: 1,
                created_at: now,
            };
            places::insert_station(conn, &station)?;
            places::upsert_readings(conn, station.id, &kept)
        })
        .await;
    rows
}

pub async fn cultivar(society: &TestApp, name: &str, group: PlantGroup) -> CultivarId {
    let id = CultivarId::fresh();
    let (name, now) = (name.to_owned(), society.clock.now().naive_utc());
    society
        .write(move |conn| {
            diesel::insert_into(cultivars::table)
                .values((
                    cultivars::id.eq(id),
                    cultivars::name.eq(name.clone()),
                    cultivars::name_key.eq(names::search_key(&name)),
                    cultivars::plant_group.eq(group),
                    cultivars::status.eq(CultivarStatus::Named),
                    cultivars::protected.eq(false),
                    cultivars::version.eq(1),
                    cultivars::created_at.eq(now),
                ))
                .execute(conn)?;
            Ok(())
        })
        .await;
    id
}

pub async fn plant(
    society: &TestApp,
    owner: &Actor,
    cultivar: CultivarId,
    region: RegionId,
    visibility: Visibility,
) -> PlantId {
    let (id, owner, now) = (PlantId::fresh(), owner.id(), society.clock.now().naive_utc());
    society
        .write(move |conn| {
            diesel::insert_into(plants::table)
                .values((
                    plants::id.eq(id),
                    plants::owner_id.eq(owner),
                    plants::cultivar_id.eq(cultivar),
                    plants::region_id.eq(region),
                    plants::how_many.eq(1),
                    plants::environment.eq(Environment::FrostFree),
                    plants::form.eq(GrowthForm::Bush),
                    plants::visibility.eq(visibility),
                    plants::version.eq(1),
                    plants::created_at.eq(now),
                ))
                .execute(conn)?;
            Ok(())
        })
        .await;
    id
}

pub async fn record(society: &TestApp, plant: PlantId, date: NaiveDate, kind: DiaryKind) {
    let now = society.clock.now().naive_utc();
    society
        .write(move |conn| {
            diesel::insert_into(diary_entries::table)
                .values((
                    diary_entries::id.eq(DiaryId::fresh()),
                    diary_entries::plant_id.eq(plant),
                    diary_entries::day.eq(date),
                    diary_entries::kind.eq(kind),
                    diary_entries::version.eq(1),
                    diary_entries::created_at.eq(now),
                ))
                .execute(conn)?;
            Ok(())
        })
        .await;
}

/// The first day on which a frost-free plant stopped on `stop` has had `need` degree-days.
pub fn met_on(rows: &[Reading], stop: NaiveDate, need: f64) -> NaiveDate {
    let readings: Vec<_> = rows
        .iter()
        .map(|row| storksbill_forecast::series::Reading {
            day: row.day.to_epoch_days(),
            min_c: row.min_c,
            max_c: row.max_c,
        })
        .collect();
    let station = storksbill_forecast::series::Station { height_m: 40.0, readings: &readings };
    let series = RegionSeries::build(40.0, &[station]).unwrap();
    let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
    let mut date = stop;
    while table.between(stop.to_epoch_days(), date.to_epoch_days()).unwrap() < need {
        date += TimeDelta::days(1);
    }
    date
}

/// `growers` members who each grew so many plants of the cultivar to readiness at `need` degree-days in 2023,
/// 2024 and 2025.
pub async fn history(
    society: &TestApp,
    rows: &[Reading],
    region: RegionId,
    cultivar: CultivarId,
    (growers, plants): (usize, usize),
    need: f64,
    visibility: Visibility,
) {
    for n in 0..growers {
        let grower = society.member(&format!("Grower {n}")).await;
        for _ in 0..plants {
            let id = plant(society, &grower, cultivar, region, visibility).await;
            for year in 2023..=2025 {
                let stop = NaiveDate::from_ymd_opt(year, 3, 1).unwrap();
                record(society, id, stop, DiaryKind::Stopping).await;
                record(society, id, met_on(rows, stop, need), DiaryKind::ShowReady).await;
            }
        }
    }
}

fn date_of(forecast: &Value, field: &str) -> NaiveDate {
    day(forecast[field].as_str().unwrap_or_else(|| panic!("no {field} in {forecast:#}")))
}

#[tokio::test]
async fn records_of_enough_growers_move_the_forecast_to_what_the_cultivar_takes() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let rows = weather(&society, region, society.clock.today(), |_| 0.0).await;
    let quick = cultivar(&society, "Harbour Light", PlantGroup::Zonal).await;
    // Thirty records over three seasons: fewer would leave the rules of thumb.
    history(&society, &rows, region, quick, (10, 1), 900.0, Visibility::Society).await;
    let una = society.member("Una Marsh").await;
    let hers = plant(&society, &una, quick, region, Visibility::Private).await;
    record(&society, hers, day("2026-03-01"), DiaryKind::Stopping).await;
    let forecast = una.get(&format!("/api/v1/forecasts/plants/{hers}")).await.expect(200).json();
    assert_eq!(forecast["requirement"]["basis"], "cultivar");
    assert_eq!(forecast["requirement"]["growers"], json!({"at_least": 10, "at_most": 19}));
    assert_eq!(forecast["requirement"]["records"], json!({"at_least": 20, "at_most": 49}));
    let degree_days = forecast["requirement"]["degree_days"].as_f64().unwrap();
    assert!((880.0..960.0).contains(&degree_days), "{degree_days}");
    let (p10, p50, p90) = (date_of(&forecast, "p10"), date_of(&forecast, "p50"), date_of(&forecast, "p90"));
    assert!(p10 < p50 && p50 < p90, "{p10} {p50} {p90}");
    // Smooth weather: the same stop and need come to the same day of the year.
    let expected = met_on(&rows, day("2025-03-01"), degree_days).with_year(2026).unwrap();
    assert!((p50 - expected).num_days().abs() <= 2, "{p50} for {expected}");
    assert!(forecast["words"].as_str().unwrap().contains("records of this cultivar"));
}

#[tokio::test]
async fn records_of_too_few_growers_are_never_shown() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let rows = weather(&society, region, society.clock.today(), |_| 0.0).await;
    let rare = cultivar(&society, "Harbour Light", PlantGroup::Zonal).await;
    // Records enough, growers too few.
    history(&society, &rows, region, rare, (4, 10), 900.0, Visibility::Society).await;
    let path = format!("/api/v1/forecasts/regions/{region}?cultivar_id={rare}&stopped_on=2026-03-01");
    let una = society.member("Una Marsh").await;
    let few = una.get(&path).await.expect(200).json();
    assert_eq!(few["forecasts"][0]["requirement"]["basis"], "handbook");
    // Private records do not count however many there are.
    history(&society, &rows, region, rare, (6, 1), 900.0, Visibility::Private).await;
    assert_eq!(una.get(&path).await.expect(200).json(), few);
}

#[tokio::test]
async fn a_cold_spring_is_later_and_is_said_to_be() {
    let society = TestApp::start().await;
    let (mild, cold) = (society.region("The Vale").await, society.region("High Moor").await);
    let today = society.clock.today();
    weather(&society, mild, today, |_| 0.0).await;
    // The same place as the Vale but for this spring, which is three degrees colder.
    weather(&society, cold, today, |year| if year == 2026 { -3.0 } else { 0.0 }).await;
    let una = society.member("Una Marsh").await;
    let ask = |region| format!("/api/v1/forecasts/regions/{region}?plant_group=zonal&stopped_on=2026-03-11");
    let usual = una.get(&ask(mild)).await.expect(200).json();
    let late = una.get(&ask(cold)).await.expect(200).json();
    let days = (date_of(&late["forecasts"][0], "p50") - date_of(&usual["forecasts"][0], "p50")).num_days();
    assert!(days >= 5, "only {days} days later");
    let season = society.visitor().get("/api/v1/season").await.expect(200).json();
    assert_eq!(season[0]["name"], "High Moor");
    let behind = season[0]["days_late"].as_f64().unwrap();
    assert!((behind - f64::from(i32::try_from(days).unwrap())).abs() < 4.0, "{behind} for {days}");
    assert_eq!(season[0]["words"], format!("About {behind:.0} days behind the average of the past 6 years."));
    assert_eq!(late["season"], season[0]["words"]);
    assert_eq!(season[1]["words"], "About level with the average of the past 6 years.");
}

#[tokio::test]
async fn a_later_stop_is_never_ready_earlier() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    weather(&society, region, society.clock.today(), |_| 0.0).await;
    let una = society.member("Una Marsh").await;
    let mut last = day("2000-01-01");
    for stop in ["2026-02-01", "2026-02-20", "2026-03-10", "2026-04-01", "2026-05-10", "2026-06-01"] {
        let path = format!("/api/v1/forecasts/regions/{region}?plant_group=dwarf&stopped_on={stop}");
        let forecast = una.get(&path).await.expect(200).json();
        let p50 = date_of(&forecast["forecasts"][0], "p50");
        assert!(p50 >= last, "stopped on {stop}: {p50} before {last}");
        last = p50;
    }
}

/// With the lowest and highest temperature alike the single sine is a straight line: 14 C all day is 10
/// degree-days above 4 C (Zalom et al. 1983, UC Leaflet 21373, the case of a day wholly above the base).
#[tokio::test]
async fn the_heat_so_far_is_the_sum_of_the_days_since_the_stop() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let rows = weather(&society, region, society.clock.today(), |_| 0.0).await;
    let station = rows[0].station_id;
    let flat: Vec<Reading> = (0..10)
        .map(|n| Reading {
            station_id: station,
            day: day("2026-05-01") + TimeDelta::days(n),
            min_c: 14.0,
            max_c: 14.0,
            rain_mm: None,
            humidity_pct: None,
        })
        .collect();
    society.write(move |conn| places::upsert_readings(conn, station, &flat)).await;
    let una = society.member("Una Marsh").await;
    let path = format!(
        "/api/v1/forecasts/regions/{region}?plant_group=zonal&stopped_on=2026-05-01&environment=outdoors"
    );
    let forecast = una.get(&path).await.expect(200).json();
    let heat = forecast["forecasts"][0]["weather"]["heat_so_far"].as_f64().unwrap();
    assert!((heat - 100.0).abs() < 1e-9, "{heat}");
    assert_eq!(forecast["forecasts"][0]["weather"]["observed_to"], "2026-05-10");
}

#[tokio::test]
async fn what_its_diary_tells_goes_before_any_forecast() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    weather(&society, region, society.clock.today(), |_| 0.0).await;
    let kind = cultivar(&society, "Harbour Light", PlantGroup::Miniature).await;
    let una = society.member("Una Marsh").await;
    let hers = plant(&society, &una, kind, region, Visibility::Society).await;
    let path = format!("/api/v1/forecasts/plants/{hers}");
    assert_eq!(una.get(&path).await.problem(422), "no-forecast");
    record(&society, hers, day("2025-01-05"), DiaryKind::Stopping).await;
    assert_eq!(una.get(&path).await.problem(422), "no-forecast");
    let imagined = una.get(&format!("{path}?stopped_on=2026-02-10")).await.expect(200).json();
    assert_eq!(imagined["stopped_on"], "2026-02-10");
    record(&society, hers, day("2026-01-20"), DiaryKind::Stopping).await;
    record(&society, hers, day("2026-05-08"), DiaryKind::ShowReady).await;
    let ready = una.get(&path).await.expect(200).json();
    assert_eq!(ready["ready_on"], "2026-05-08");
    assert_eq!(ready["p50"], Value::Null);
    let past_best = date_of(&ready, "past_best_p50");
    assert!(past_best > day("2026-05-10") && past_best < day("2026-06-15"), "{past_best}");
    let words = ready["words"].as_str().unwrap();
    assert!(words.starts_with("Its diary has it show-ready on 8 May 2026. Past its best about"), "{words}");
    let again = una.get(&format!("{path}?stopped_on=2026-05-09")).await.expect(200).json();
    assert_eq!(again["ready_on"], Value::Null);
}

#[tokio::test]
async fn a_plant_that_may_not_be_seen_has_no_forecast_and_a_region_without_weather_says_so() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let kind = cultivar(&society, "Harbour Light", PlantGroup::Regal).await;
    let (una, bram) = (society.member("Una Marsh").await, society.member("Bram Oake").await);
    let hers = plant(&society, &una, kind, region, Visibility::Private).await;
    let path = format!("/api/v1/forecasts/plants/{hers}?stopped_on=2026-03-01");
    assert_eq!(bram.get(&path).await.problem(404), "not-found");
    assert_eq!(una.get(&path).await.problem(422), "no-weather");
    assert_eq!(society.visitor().get(&path).await.problem(401), "not-logged-in");
}

#[tokio::test]
async fn a_question_that_makes_no_sense_is_refused() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    weather(&society, region, society.clock.today(), |_| 0.0).await;
    let una = society.member("Una Marsh").await;
    for query in [
        "heated_to_c=7",
        "environment=heated",
        "environment=heated&heated_to_c=90",
        "plant_group=rose",
        "stopped_on=soon",
    ] {
        let refused = una.get(&format!("/api/v1/forecasts/regions/{region}?{query}")).await;
        assert_eq!(refused.problem(422), "invalid-query", "{query}");
    }
    let missing = una.get(&format!("/api/v1/forecasts/regions/{}", RegionId::fresh())).await;
    assert_eq!(missing.problem(404), "not-found");
}
