//! Draws the comparison of forecasts with past seasons that a running demonstration serves:
//! `cargo run --release -p seed-demo --example backtest_plot -- http://127.0.0.1:8080 > seed-demo/backtest.svg`
#![allow(clippy::print_stdout, reason = "the drawing is the purpose")]

use std::fmt::Write;

use serde_json::Value;

/// As served, as called in the drawing, how the line is drawn, and how far below its end its name stands.
const METHODS: [(&str, &str, &str, f64); 3] = [
    ("forecast", "forecast", "stroke=\"#0b4f6c\" stroke-width=\"3\"", 16.0),
    ("fixed_heat", "a fixed heat sum", "stroke=\"#9a5b00\" stroke-width=\"2\" stroke-dasharray=\"8 4\"", 0.0),
    (
        "mean_days",
        "mean days from the stop",
        "stroke=\"#555\" stroke-width=\"2\" stroke-dasharray=\"2 4\"",
        4.5,
    ),
];
const LEFT: f64 = 56.0;
const RIGHT: f64 = 420.0;
const TOP: f64 = 64.0;
const BOTTOM: f64 = 300.0;
const MOST_WEEKS: f64 = 13.0;
const MOST_DAYS: f64 = 24.0;

fn at(weeks: f64, days: f64) -> (f64, f64) {
    let x = LEFT + (MOST_WEEKS - weeks) / MOST_WEEKS * (RIGHT - LEFT);
    (x, BOTTOM - days / MOST_DAYS * (BOTTOM - TOP))
}

#[tokio::main(flavor = "current_thread")]
async fn main() -> Result<(), Box<dyn std::error::Error>> {
    let server = std::env::args().nth(1).unwrap_or_else(|| "http://127.0.0.1:8080".to_owned());
    storksbill::tls::settle();
    let told: Value = reqwest::get(format!("{server}/api/v1/forecasts/backtest")).await?.json().await?;
    let of_seasons = |scheme: &&Value| scheme.get("left_out").and_then(Value::as_str) == Some("season");
    let schemes = told.get("schemes").and_then(Value::as_array).ok_or("no comparison was made yet")?;
    let scheme = schemes.iter().find(of_seasons).ok_or("no seasons were left out")?;
    let leads = scheme.get("leads").and_then(Value::as_array).ok_or("nothing was forecast")?;
    let error = |lead: &Value, method: &str| -> Option<(f64, f64)> {
        let methods = lead.get("methods")?.as_array()?;
        let own = methods.iter().find(|own| own.get("method").and_then(Value::as_str) == Some(method))?;
        Some((lead.get("weeks_ahead")?.as_f64()?, own.get("mean_absolute_error")?.as_f64()?))
    };

    let mut svg = String::from(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 640 350\" role=\"img\" \
         aria-labelledby=\"title desc\" font-family=\"sans-serif\" font-size=\"13\" fill=\"#111\">\n\
         <title id=\"title\">How far forecasts of the day of show condition were out</title>\n\
         <desc id=\"desc\">Mean absolute error in days against weeks ahead, seasons left out one by one, generated \
         records of the demonstration.</desc>\n<rect width=\"640\" height=\"350\" fill=\"#fff\"/>\n\
         <text x=\"16\" y=\"24\" font-size=\"15\" font-weight=\"bold\">Days out, on average</text>\n\
         <text x=\"16\" y=\"43\" fill=\"#444\">each season forecast from the others; records of the demonstration, \
         generated</text>\n",
    );
    for days in (0..=24_i32).step_by(4) {
        let (x, y) = at(MOST_WEEKS, days.into());
        writeln!(svg, "<path d=\"M{x:.1} {y:.1}H{RIGHT}\" stroke=\"#ddd\"/>")?;
        writeln!(svg, "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{days}</text>", x - 8.0, y + 4.5)?;
    }
    for lead in leads {
        let Some((weeks, _)) = error(lead, "forecast") else { continue };
        let (x, y) = at(weeks, 0.0);
        writeln!(svg, "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{weeks}</text>", y + 18.0)?;
    }
    writeln!(svg, "<text x=\"{LEFT}\" y=\"338\">weeks before the day it was ready</text>")?;
    for (method, name, line, below) in METHODS {
        let points: Vec<(f64, f64)> = leads.iter().filter_map(|lead| error(lead, method)).collect();
        let path: Vec<String> = points
            .iter()
            .map(|(weeks, days)| at(*weeks, *days))
            .map(|(x, y)| format!("{x:.1} {y:.1}"))
            .collect();
        writeln!(svg, "<path d=\"M{}\" fill=\"none\" {line}/>", path.join("L"))?;
        if let Some((weeks, days)) = points.last() {
            let (x, y) = at(*weeks, *days);
            writeln!(svg, "<text x=\"{:.1}\" y=\"{:.1}\">{name}, {days:.1}</text>", x + 10.0, y + below)?;
        }
    }
    svg.push_str("</svg>");
    println!("{svg}");
    Ok(())
}
