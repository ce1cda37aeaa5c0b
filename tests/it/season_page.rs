//! The season's page, by its markup and in a real browser.

use chrono::NaiveDateTime;
use serde_json::{Value, json};
use storksbill_db::rows::fits::{self, Backtest, Fit};
use storksbill_domain::ids::{BacktestId, FitId};
use storksbill_tests::TestApp;

use crate::forecasts::weather;

async fn page(society: &TestApp) -> String {
    society.visitor().get("/season").await.expect(200).text()
}

#[tokio::test]
async fn a_society_without_regions_or_comparisons_says_so() {
    let society = TestApp::start().await;
    let answer = society.visitor().get("/season").await.expect(200);
    assert_eq!(answer.header("content-type"), "text/html; charset=utf-8");
    assert!(answer.header("content-security-policy").contains("default-src 'none'"));
    let text = answer.text();
    assert!(text.contains("No region has been entered yet."), "{text}");
    assert!(text.contains("No comparison with past seasons has been made yet."));
    assert!(!text.contains("<script"), "the page works without scripts");
    assert!(society.visitor().get("/").await.text().contains("href=\"/season\""));
}

#[tokio::test]
async fn each_region_has_its_words_its_drawing_and_what_to_do() {
    let society = TestApp::start().await;
    let vale = society.region("The <Vale>").await;
    let bare = society.region("High Moor").await;
    weather(&society, vale, society.clock.today(), |year| if year == 2026 { 3.5 } else { 0.0 }).await;
    let text = page(&society).await;
    let told: Value =
        society.visitor().get(&format!("/api/v1/season/regions/{vale}")).await.expect(200).json();
    assert!(text.contains("The &lt;Vale&gt;") && !text.contains("<Vale>"));
    let sections: Vec<&str> = text.split("<section class=\"region\"").skip(1).collect();
    assert_eq!(sections.len(), 2);
    // Regions stand in the order of their names.
    let [moor, warm] = [sections[0], sections[1]];
    assert!(moor.contains(&bare.to_string()) && moor.contains("No weather readings for this region yet."));
    assert!(!moor.contains("<svg"), "nothing to draw");
    assert!(warm.contains(told["words"].as_str().unwrap()), "{warm}");
    for part in
        ["class=\"band\"", "class=\"mean\"", "class=\"this\"", "10 May 2026", "the mean of 6 past years"]
    {
        assert!(text.contains(part), "{part}");
    }
    let advice = told["advice"][0]["sentence"].as_str().unwrap();
    assert!(warm.contains(advice) && warm.contains("<span class=\"mark\">common practice</span>"), "{warm}");
    assert!(warm.contains("None of the last 14 days with readings wetted flowers"), "{warm}");
    assert!(warm.contains("humidity estimated"), "{warm}");
    assert!(warm.contains(told["frost"]["words"].as_str().unwrap()));
    assert_eq!(warm.matches("<tr><th scope=\"row\">").count(), 12, "every plant group");
    // The policy forbids styles in the page.
    assert!(!text.contains(" style=") && !text.contains("<style"));
}

fn method(name: &str, error: f64, cover50: f64, cover90: f64) -> Value {
    json!({
        "method": name, "n": 321, "mean_error": 0.1, "mean_absolute_error": error, "crps": error / 1.4,
        "cover50": cover50, "cover90": cover90, "tenths": [0, 0, 0, 0, 0, 0, 0, 0, 0, 0], "brier": null,
        "reliability": []
    })
}

#[tokio::test]
async fn the_last_comparison_is_shown_against_both_references() {
    let society = TestApp::start().await;
    let made_at: NaiveDateTime = society.clock.now().naive_utc();
    let leads: Vec<Value> = [(12, 9.25, 0.46), (4, 6.75, 0.53)]
        .into_iter()
        .map(|(weeks, error, half)| {
            json!({
                "weeks_ahead": weeks,
                "methods": [
                    method("forecast", error, half, 0.88),
                    method("mean_days", 16.5, 0.44, 0.85),
                    method("fixed_heat", 11.5, 0.48, 0.87)
                ],
                "skill_over_mean_days": 0.4,
                "skill_over_fixed_heat": 0.2
            })
        })
        .collect();
    let report = json!({
        "fit": 1,
        "made_at": made_at.and_utc(),
        "schemes": [{"left_out": "season", "parts": 5, "leads": leads}],
        "words": "Better than <both> references."
    });
    society
        .write(move |conn| {
            let fit = Fit {
                id: FitId::fresh(),
                version_no: 1,
                made_at,
                fingerprint: "0".repeat(64),
                records: 321,
                growers: 20,
                parameters: "{}".to_owned(),
                notes: String::new(),
            };
            fits::insert_fit(conn, &fit)?;
            let report = report.to_string();
            fits::insert_backtest(
                conn,
                &Backtest { id: BacktestId::fresh(), fit_id: fit.id, made_at, report },
            )
        })
        .await;
    let text = page(&society).await;
    assert!(text.contains("Better than &lt;both&gt; references."), "{text}");
    let row = "<tr><th scope=\"row\">12</th><td>321</td><td>9.2</td><td>16.5</td><td>11.5</td><td>46</td>\
               <td>88</td></tr>";
    assert!(text.contains(row), "{text}");
    assert_eq!(text.matches("<circle").count(), 2);
    assert_eq!(text.matches("<rect").count(), 2);
    assert!(text.contains(">4 weeks</text>"));
}
