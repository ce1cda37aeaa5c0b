//! How the season stands.

use storksbill_tests::TestApp;

use crate::forecasts::{day, weather};

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
