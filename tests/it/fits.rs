//! Fits made by jobs, kept and named; backtests; records set aside.

use chrono::{NaiveDate, TimeDelta};
use reqwest::Method;
use serde_json::Value;
use storksbill::jobs::run_waiting;
use storksbill_domain::ids::PlantId;
use storksbill_domain::words::{DiaryKind, PlantGroup, Visibility};
use storksbill_tests::{Actor, TestApp};

use crate::forecasts::{cultivar, day, plant, record, weather};

/// A society with finished seasons: `growers` growers of two plants each, ready after about as many days as
/// their number says, and first open floret a fortnight before.
async fn society_with_seasons(growers: i64) -> (TestApp, Vec<PlantId>, Vec<Actor>) {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    weather(&society, region, society.clock.today(), |year| f64::from(year % 3) - 1.0).await;
    let kind = cultivar(&society, "Harbour Light", PlantGroup::Zonal).await;
    let (mut plants, mut people) = (Vec::new(), Vec::new());
    for n in 0..growers {
        let grower = society.member(&format!("Grower {n}")).await;
        for which in 0..2 {
            let id = plant(&society, &grower, kind, region, Visibility::Society).await;
            for year in 2021..=2025 {
                let stop = NaiveDate::from_ymd_opt(year, 3, 1).unwrap() + TimeDelta::days(5 * which);
                let ready = stop + TimeDelta::days(115 + (n * 7 + i64::from(year)) % 9);
                record(&society, id, stop, DiaryKind::Stopping).await;
                record(&society, id, ready - TimeDelta::days(14), DiaryKind::FirstOpenFloret).await;
                record(&society, id, ready, DiaryKind::ShowReady).await;
                record(&society, id, ready + TimeDelta::days(12), DiaryKind::PastBest).await;
            }
            plants.push(id);
        }
        people.push(grower);
    }
    (society, plants, people)
}

async fn finished(asker: &Actor, answer: &Value) -> Value {
    let job = answer["id"].as_str().unwrap();
    let job = asker.get(&format!("/api/v1/jobs/{job}")).await.expect(200).json();
    assert_eq!(job["state"], "done", "{job:#}");
    job
}

#[tokio::test]
async fn a_fit_is_made_by_a_job_and_forecasts_name_it() {
    let (society, plants, _) = society_with_seasons(6).await;
    let keeper = society.administrator("Ada Quill").await;
    let ask = format!("/api/v1/forecasts/plants/{}?stopped_on=2026-03-01", plants[0]);
    assert_eq!(keeper.get(&ask).await.expect(200).json()["fit"], Value::Null);
    let job = keeper.request(Method::POST, "/api/v1/forecasts/fits").send().await.expect(202).json();
    assert_eq!(run_waiting(&society.app).await.unwrap(), 1);
    let job = finished(&keeper, &job).await;
    assert_eq!(job["result"]["fit"], 1);
    assert_eq!(job["result"]["changed"], true);

    let fit = keeper.get("/api/v1/forecasts/fits/1").await.expect(200).json();
    assert_eq!(fit["records"], 60);
    assert_eq!(fit["growers"], 6);
    assert_eq!(fit["fingerprint"].as_str().unwrap().len(), 64);
    // Sixty records: means move, spreads do not.
    assert_eq!(fit["parameters"]["regime"], "means");
    assert_eq!(keeper.get(&ask).await.expect(200).json()["fit"], 1);
    assert_eq!(keeper.get("/api/v1/forecasts/fits/2").await.problem(404), "not-found");

    // Nothing changed: the same fit stays.
    let again = keeper.request(Method::POST, "/api/v1/forecasts/fits").send().await.expect(202).json();
    run_waiting(&society.app).await.unwrap();
    assert_eq!(finished(&keeper, &again).await["result"]["changed"], false);
    // A record more: a fit more.
    record(&society, plants[0], day("2026-03-01"), DiaryKind::Stopping).await;
    let more = keeper.request(Method::POST, "/api/v1/forecasts/fits").send().await.expect(202).json();
    run_waiting(&society.app).await.unwrap();
    assert_eq!(finished(&keeper, &more).await["result"]["fit"], 2);
    let page = keeper.get("/api/v1/forecasts/fits?limit=1").await.expect(200).json();
    assert_eq!(page["items"][0]["version_no"], 2);
    let cursor = page["next_cursor"].as_str().unwrap();
    let next =
        keeper.get(&format!("/api/v1/forecasts/fits?limit=1&cursor={cursor}")).await.expect(200).json();
    assert_eq!(next["items"][0]["version_no"], 1);
    assert_eq!(next["next_cursor"], Value::Null);
}

#[tokio::test]
async fn a_new_record_moves_the_next_answer_without_a_fit() {
    let (society, plants, _) = society_with_seasons(6).await;
    let keeper = society.administrator("Ada Quill").await;
    keeper.request(Method::POST, "/api/v1/forecasts/fits").send().await.expect(202);
    run_waiting(&society.app).await.unwrap();
    let ask = format!("/api/v1/forecasts/plants/{}?stopped_on=2026-03-01", plants[0]);
    let before = keeper.get(&ask).await.expect(200).json();
    // Every plant of last season turns out a month later than was written before.
    for plant in &plants {
        record(&society, *plant, day("2019-03-01"), DiaryKind::Stopping).await;
        record(&society, *plant, day("2020-03-01"), DiaryKind::Stopping).await;
        record(&society, *plant, day("2020-08-10"), DiaryKind::ShowReady).await;
    }
    society.clock.advance(society.app.society.pooled_for + TimeDelta::seconds(1));
    let after = keeper.get(&ask).await.expect(200).json();
    assert_eq!(after["fit"], before["fit"]);
    let need = |forecast: &Value| forecast["requirement"]["degree_days"].as_f64().unwrap();
    assert!(need(&after) > need(&before), "{} {}", need(&after), need(&before));
}

#[tokio::test]
async fn what_this_season_shows_of_a_region_says_nothing_of_the_next() {
    let (society, plants, people) = society_with_seasons(6).await;
    let keeper = society.administrator("Ada Quill").await;
    let asker = &people[0];
    let plant = keeper.get(&format!("/api/v1/plants/{}", plants[0])).await.expect(200).json();
    let region = plant["region_id"].as_str().unwrap().to_owned();
    let need = async |show: &str| {
        let ask = format!(
            "/api/v1/forecasts/stops?plant_group=zonal&region_id={region}&environment=frost_free&show_on={show}"
        );
        asker.get(&ask).await.expect(200).json()["requirement"]["degree_days"].as_f64().unwrap()
    };
    let before = (need("2026-07-20").await, need("2027-07-20").await);
    assert!((before.0 - before.1).abs() < 1e-9, "{before:?}");
    // Every plant is ready with less heat than in any year before.
    let ready = society.clock.today() - TimeDelta::days(1);
    for plant in &plants {
        record(&society, *plant, ready - TimeDelta::days(110), DiaryKind::Stopping).await;
        record(&society, *plant, ready, DiaryKind::ShowReady).await;
    }
    society.clock.advance(society.app.society.pooled_for + TimeDelta::seconds(1));
    let after = (need("2026-07-20").await, need("2027-07-20").await);
    assert!(after.0 < 0.99 * before.0, "{after:?} after {before:?}");
    assert!((after.1 - before.1).abs() < 1e-6 * before.1, "{after:?} after {before:?}");
}

#[tokio::test]
async fn the_backtest_is_public_and_stands_beside_its_references() {
    let (society, ..) = society_with_seasons(8).await;
    let keeper = society.administrator("Ada Quill").await;
    assert_eq!(society.visitor().get("/api/v1/forecasts/backtest").await.problem(404), "not-found");
    let early = keeper.request(Method::POST, "/api/v1/forecasts/backtests").send().await.expect(202).json();
    run_waiting(&society.app).await.unwrap();
    let job = keeper.get(&format!("/api/v1/jobs/{}", early["id"].as_str().unwrap())).await.expect(200).json();
    assert_eq!(job["state"], "failed");
    assert_eq!(job["problem"], "There is no fit yet: ask for one first.");

    keeper.request(Method::POST, "/api/v1/forecasts/fits").send().await.expect(202);
    run_waiting(&society.app).await.unwrap();
    let asked = keeper.request(Method::POST, "/api/v1/forecasts/backtests").send().await.expect(202).json();
    run_waiting(&society.app).await.unwrap();
    finished(&keeper, &asked).await;
    let backtest = society.visitor().get("/api/v1/forecasts/backtest").await.expect(200).json();
    assert_eq!(backtest["fit"], 1);
    let season = &backtest["schemes"][0];
    assert_eq!(season["left_out"], "season");
    assert_eq!(season["parts"], 5);
    let weeks: Vec<i64> = season["leads"]
        .as_array()
        .unwrap()
        .iter()
        .map(|lead| lead["weeks_ahead"].as_i64().unwrap())
        .collect();
    assert_eq!(weeks, [12, 8, 4, 2]);
    for lead in season["leads"].as_array().unwrap() {
        let methods = lead["methods"].as_array().unwrap();
        assert_eq!(methods.len(), 3);
        assert_eq!(methods[0]["method"], "forecast");
        assert_eq!(methods[0]["n"], methods[1]["n"]);
        let tenths: i64 = methods[0]["tenths"].as_array().unwrap().iter().map(|n| n.as_i64().unwrap()).sum();
        assert_eq!(tenths, methods[0]["n"].as_i64().unwrap());
        let crps = |at: usize| methods[at]["crps"].as_f64().unwrap();
        let skill = lead["skill_over_mean_days"].as_f64().unwrap();
        assert!((skill - (1.0 - crps(0) / crps(1))).abs() < 1e-12);
    }
    // Growers in tenths; eight growers fill eight parts.
    assert_eq!(backtest["schemes"].as_array().unwrap().last().unwrap()["left_out"], "growers");
}

#[tokio::test]
async fn impossible_records_are_listed_to_officers_and_change_nothing() {
    let (society, plants, _) = society_with_seasons(6).await;
    let secretary_of = society.club("North Bay", society.region("North").await).await;
    let secretary = society.secretary_of("Sel Marr", secretary_of).await;
    let member = society.member("Una Marsh").await;
    // Ready six days after the stop.
    record(&society, plants[0], day("2020-03-01"), DiaryKind::Stopping).await;
    record(&society, plants[0], day("2020-03-07"), DiaryKind::ShowReady).await;
    let listed = secretary.get("/api/v1/forecasts/set-aside").await.expect(200).json();
    assert_eq!(listed["items"].as_array().unwrap().len(), 1, "{listed:#}");
    assert_eq!(listed["items"][0]["plant_id"], plants[0].to_string());
    assert_eq!(listed["items"][0]["stopped_on"], "2020-03-01");
    assert_eq!(listed["items"][0]["rule"], "too_little_heat");
    assert_eq!(member.get("/api/v1/forecasts/set-aside").await.problem(403), "not-allowed");
}

#[tokio::test]
async fn a_grower_alone_is_told_their_own_pace() {
    let (society, plants, growers) = society_with_seasons(6).await;
    let keeper = society.administrator("Ada Quill").await;
    let ask = format!("/api/v1/forecasts/plants/{}?stopped_on=2026-03-01&by_day=true", plants[0]);
    let others = keeper.get(&ask).await.expect(200).json();
    assert_eq!(others["requirement"]["own_pace"], Value::Null);
    let own = growers[0].get(&ask).await.expect(200).json();
    let pace = own["requirement"]["own_pace"].as_f64().unwrap();
    assert!((0.8..1.2).contains(&pace), "{pace}");
    let chances = others["by_day"].as_array().unwrap();
    assert!(chances.len() > 100);
    assert!(chances.windows(2).all(|pair| pair[0]["ready_by"].as_f64() <= pair[1]["ready_by"].as_f64()));
}

#[tokio::test]
async fn the_chance_of_show_condition_sums_to_one_and_days_are_checked() {
    let (society, plants, _) = society_with_seasons(6).await;
    let keeper = society.administrator("Ada Quill").await;
    let ask = format!("/api/v1/forecasts/plants/{}?stopped_on=2026-03-01", plants[0]);
    let told = keeper.get(&format!("{ask}&show_from=2026-06-20&show_to=2026-07-10")).await.expect(200).json();
    let days = told["condition"].as_array().unwrap();
    assert_eq!(days.len(), 21);
    for day in days {
        let sum: f64 = ["too_early", "ready", "over"].iter().map(|key| day[key].as_f64().unwrap()).sum();
        assert!((sum - 1.0).abs() < 1e-9, "{day}");
    }
    let first = days[0]["too_early"].as_f64().unwrap();
    assert!(first > days[20]["too_early"].as_f64().unwrap());
    let refused = keeper.get(&format!("{ask}&show_from=2026-06-20&show_to=2026-06-01")).await;
    assert_eq!(refused.problem(422), "invalid-query");
}
