//! How long forecasts take through HTTP on the demonstration, filled and fitted: a plant's, a region's, the days
//! to stop, the season, and the show plan of a member with sixty plants.
//!
//! `cargo bench -p storksbill-tests --bench forecasts [-- SECONDS]`
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a measurement prints its table, and stops where anything fails"
)]

mod load;

use std::time::Instant;

use clap::Parser;
use load::Table;
use reqwest::Client;
use seed_demo::Demonstration;
use seed_demo::api::{Api, id_of};
use seed_demo::options::Options;
use seed_demo::people::PASSWORD;
use serde_json::{Value, json};
use storksbill::jobs::run_waiting;

const PLANTS: usize = 60;

async fn token(address: &str, who: &str) -> String {
    let body = json!({"email": who, "password": PASSWORD});
    let answer = Client::new().post(format!("{address}/api/v1/sessions")).json(&body).send().await.unwrap();
    answer.json::<Value>().await.unwrap()["access_token"].as_str().unwrap().to_owned()
}

/// Fills the guide's bench up to sixty plants, all stopped this season.
async fn sixty_plants(guide: &Api) -> Vec<String> {
    let held = guide.get("/api/v1/plants?limit=100").await.unwrap();
    let mut plants: Vec<String> =
        held["items"].as_array().unwrap().iter().map(|p| id_of(p).unwrap()).collect();
    let cultivars = guide.get("/api/v1/cultivars?limit=100").await.unwrap();
    for n in plants.len()..PLANTS {
        let cultivar = id_of(&cultivars["items"][n]).unwrap();
        let plant = json!({
            "cultivar_id": cultivar, "how_many": 1, "environment": "frost_free", "form": "bush",
        });
        plants.push(id_of(&guide.post("/api/v1/plants", &plant).await.unwrap()).unwrap());
    }
    for (n, plant) in plants.iter().enumerate() {
        let stop = json!({"day": format!("2026-03-{:02}", 1 + n % 28), "kind": "stopping"});
        guide.post(&format!("/api/v1/plants/{plant}/diary"), &stop).await.unwrap();
    }
    plants
}

#[tokio::main]
async fn main() {
    let seconds = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(5.0);
    storksbill::tls::settle();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("demonstration.sqlite3");
    let options =
        Options::parse_from(["seed-demo", "--listen", "127.0.0.1:0", "--database", file.to_str().unwrap()]);
    let demonstration = Demonstration::open(&options, &|_: &str| ()).await.unwrap();
    let address = demonstration.address.clone();
    let guide =
        Api::visitor(&address).unwrap().logged_in("member@merrow.example", PASSWORD).await.unwrap().unwrap();
    let plants = sixty_plants(&guide).await;
    let plant = plants[0].clone();
    let regions = guide.get("/api/v1/regions").await.unwrap();
    let region = id_of(&regions["items"][0]).unwrap();
    let started = Instant::now();
    run_waiting(&demonstration.app).await.unwrap();
    println!("fit and comparison of the demonstration: {:.1} s", started.elapsed().as_secs_f64());
    let bearer = token(&address, "member@merrow.example").await;

    for connections in [1, 8] {
        let mut table = Table::head(seconds, connections);
        for (what, path) in [
            ("reference: own record", "members/me".to_owned()),
            (
                "a plant's forecast",
                format!("forecasts/plants/{plant}?show_from=2026-07-04&show_to=2026-07-05"),
            ),
            ("a region's forecasts", format!("forecasts/regions/{region}")),
            (
                "days to stop",
                format!("forecasts/stops?plant_group=zonal&region_id={region}&show_on=2026-08-29"),
            ),
            ("show plan of sixty plants", "forecasts/show-plan?show_on=2026-07-04".to_owned()),
            ("the season of a region", format!("season/regions/{region}")),
        ] {
            let (path, bearer) = (format!("{address}/api/v1/{path}"), bearer.clone());
            table.row(what, move |client, _| client.get(&path).bearer_auth(&bearer)).await;
        }
    }
    demonstration.stop().await.unwrap();
}
