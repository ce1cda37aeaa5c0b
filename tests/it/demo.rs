//! The demonstration fills a server through the API, and finds it filled the next time.

use std::sync::Mutex;

use chrono::{Datelike, NaiveDate};
use clap::Parser;
use reqwest::Client;
use seed_demo::Demonstration;
use seed_demo::demo::Demo;
use seed_demo::options::Options;
use seed_demo::people::{GUIDES, PASSWORD};
use seed_demo::places::REGIONS;
use seed_demo::register::Ended;
use seed_demo::shows::Stage;
use serde_json::{Value, json};
use storksbill_forecast::calendar;
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::glass::House;
use storksbill_forecast::series::HeatTable;
use storksbill_tests::TestDatabase;
use tokio::sync::Notify;

/// What was told while it opened.
#[derive(Default)]
struct Told(Mutex<Vec<String>>);

impl Told {
    fn lines(&self) -> Vec<String> {
        self.0.lock().unwrap().clone()
    }

    async fn open(&self, options: &Options) -> Result<Demonstration, String> {
        let tell = |line: &str| self.0.lock().unwrap().push(line.to_owned());
        Demonstration::open(options, &tell).await
    }
}

fn options(database: &str, more: &[&str]) -> Options {
    let line = ["seed-demo", "--members", "12", "--years", "2", "--listen", "127.0.0.1:0"];
    Options::parse_from(line.iter().chain(&["--database", database]).chain(more))
}

/// One of the people whose log-ins are told.
struct Guide {
    client: Client,
    address: String,
    token: String,
}

impl Guide {
    async fn of(demonstration: &Demonstration, role: &str) -> Self {
        storksbill::tls::settle();
        let client = Client::new();
        let address = demonstration.address.clone();
        let body = json!({"email": format!("{role}@merrow.example"), "password": PASSWORD});
        let answer = client.post(format!("{address}/api/v1/sessions")).json(&body).send().await.unwrap();
        assert_eq!(answer.status(), 201, "{role}");
        let tokens: Value = answer.json().await.unwrap();
        Self { client, address, token: tokens["access_token"].as_str().unwrap().to_owned() }
    }

    async fn get(&self, path: &str) -> Value {
        let url = format!("{}{path}", self.address);
        let answer = self.client.get(url).bearer_auth(&self.token).send().await.unwrap();
        assert_eq!(answer.status(), 200, "{path}");
        answer.json().await.unwrap()
    }

    /// All rows of a list.
    async fn all(&self, path: &str) -> Vec<Value> {
        let (mut rows, mut cursor) = (Vec::new(), String::new());
        loop {
            let mut page = self.get(&format!("{path}{cursor}")).await;
            rows.append(page["items"].as_array_mut().unwrap());
            let Some(next) = page["next_cursor"].as_str() else { return rows };
            let joint = if path.contains('?') { '&' } else { '?' };
            cursor = format!("{joint}cursor={next}");
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_first_start_fills_the_server_and_a_second_finds_it_filled() {
    let database = TestDatabase::bare();
    let options = options(&database.url, &[]);
    let told = Told::default();
    let demonstration = told.open(&options).await.unwrap();
    assert!(demonstration.filled);
    holds_what_was_made(&demonstration, &Demo::generate(options.scale()).unwrap()).await;
    let words = seed_demo::tour::words(&demonstration.address, options.today).await.unwrap();
    for (address, _) in GUIDES {
        assert!(words.contains(address), "{words}");
    }
    demonstration.stop().await.unwrap();

    let told = Told::default();
    let again = told.open(&options).await.unwrap();
    assert!(!again.filled);
    let lines = told.lines();
    assert!(lines.len() == 1 && lines[0].contains("holds the demonstration already"), "{lines:?}");
    assert_eq!(Guide::of(&again, "registrar").await.all("/api/v1/members").await.len(), 12);
    again.stop().await.unwrap();
}

/// The table of cultivars that somebody takes home says what is kept.
async fn takes_its_own_table_back(member: &Guide, cultivars: usize) {
    let url = |path: &str| format!("{}/api/v1{path}", member.address);
    let asked = member.client.get(url("/pedigrees/export.csv?kind=cultivar")).bearer_auth(&member.token);
    let csv = asked.send().await.unwrap().text().await.unwrap();
    let sent = member.client.post(url("/cultivars/import?dry_run=true")).bearer_auth(&member.token);
    let answer = sent.header("content-type", "text/csv").body(csv).send().await.unwrap();
    let report: Value = answer.json().await.unwrap();
    assert_eq!(report, json!({"dry_run": true, "created": 0, "updated": 0, "unchanged": cultivars}));
}

async fn holds_what_was_made(demonstration: &Demonstration, demo: &Demo) {
    let registrar = Guide::of(demonstration, "registrar").await;
    let members = registrar.all("/api/v1/members").await;
    assert_eq!(members.len(), demo.people.len());
    assert_eq!(registrar.all("/api/v1/regions").await.len(), 4);
    assert_eq!(registrar.all("/api/v1/clubs").await.len(), 5);
    assert_eq!(registrar.all("/api/v1/cultivars").await.len(), demo.cultivars.len());
    takes_its_own_table_back(&registrar, demo.cultivars.len()).await;
    assert_eq!(registrar.all("/api/v1/members/requests").await.len(), 2);
    let rounds = registrar.all("/api/v1/swaps/rounds").await;
    let states: Vec<&str> = rounds.iter().map(|round| round["state"].as_str().unwrap()).collect();
    // Of so small a society nothing may be left waiting in the first round.
    assert_eq!(states, ["open", "proposed", "proposed"]);

    let listed = registrar.all("/api/v1/conservation").await;
    assert_eq!(listed.len(), demo.care.endangered.len());
    for entry in &listed {
        assert!((1..=2).contains(&entry["holders"].as_i64().unwrap()), "{entry}");
    }
    assert_eq!(registrar.all("/api/v1/health/holds?lifted=false").await.len(), demo.care.holds.len());
    let zones: std::collections::BTreeSet<String> = registrar
        .all("/api/v1/regions")
        .await
        .iter()
        .map(|region| region["plant_health_zone"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(zones.len(), 2);
    let undeclared = registrar
        .all("/api/v1/swaps/offers")
        .await
        .into_iter()
        .filter(|offer| offer["health_declared_on"].is_null());
    assert_eq!(undeclared.count(), 0);
    let broad = demo.swaps.iter().map(|round| round.broad.len()).sum::<usize>();
    let (mut of_several, mut nudged) = (0, 0);

    // Each member's own view: their plants, and their diaries record by record.
    let (mut plants, mut records, mut crosses, mut to_harvest) = (0, 0, 0, 0);
    for person in &demo.people {
        let member = Guide::of(demonstration, person.email.split('@').next().unwrap()).await;
        let wants = member.all("/api/v1/swaps/wants").await;
        of_several += wants.iter().filter(|want| want["form"] != "cultivar").count();
        let notices = member.all("/api/v1/notices").await;
        nudged += notices.len();
        to_harvest += notices.iter().filter(|notice| notice["kind"] == "harvest_due").count();
        let book = member.all("/api/v1/crosses?limit=200").await;
        crosses += book.iter().filter(|cross| cross["raiser_name"] == person.name.as_str()).count();
        for plant in member.all("/api/v1/plants?limit=200").await {
            let path = format!("/api/v1/plants/{}/diary?limit=200", plant["id"].as_str().unwrap());
            records += member.all(&path).await.len();
            plants += 1;
        }
    }
    assert_eq!((plants, records), (demo.plants.len(), demo.diary.records.len()));
    assert_eq!(of_several, broad);
    assert_eq!(crosses, demo.crosses.len());
    assert!(to_harvest >= 1, "the member shown first worked a cross two days ago");
    assert!(nudged >= demo.care.endangered.len(), "{nudged}");

    let mut states: Vec<String> = registrar
        .all("/api/v1/registrations")
        .await
        .iter()
        .map(|row| row["state"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(states.len(), demo.register.proposals.len());
    states.sort();
    states.dedup();
    assert!(states.len() > 1, "{states:?}");
    let registered = demo.register.proposals.iter().filter(|name| name.ended == Ended::Registered).count();
    assert_eq!(registrar.all("/api/v1/register").await.len(), registered);
    for sport in registrar.all("/api/v1/cultivars?limit=200").await {
        let id = sport["id"].as_str().unwrap();
        let name = sport["name"].as_str().unwrap();
        let of =
            demo.register.reversions.iter().filter(|report| demo.cultivars[report.cultivar].name == name);
        let reports = of.count();
        if reports > 0 {
            let told = registrar.get(&format!("/api/v1/cultivars/{id}/stability")).await;
            assert_eq!(told["pooled"]["reports"], reports, "{told}");
        }
    }

    has_a_show_in_every_state(demonstration, demo).await;
    for region in registrar.all("/api/v1/regions").await {
        let stations = format!("/api/v1/regions/{}/stations", region["id"].as_str().unwrap());
        for station in registrar.all(&stations).await {
            assert!(station["source"].as_str().unwrap().starts_with("Generated"), "{station}");
            let path = format!(
                "/api/v1/stations/{}/readings?from=2023-09-01&to=2024-08-31",
                station["id"].as_str().unwrap()
            );
            let readings = registrar.get(&path).await;
            assert_eq!(readings["readings"].as_array().unwrap().len(), 366, "{station}");
        }
    }
    for region in registrar.get("/api/v1/season").await.as_array().unwrap() {
        assert!(region["days_late"].is_number(), "{region}");
    }
}

async fn has_a_show_in_every_state(demonstration: &Demonstration, demo: &Demo) {
    let member = Guide::of(demonstration, "member").await;
    let secretary = Guide::of(demonstration, "administrator").await;
    let listed = secretary.all("/api/v1/shows").await;
    assert_eq!(listed.len(), demo.shows.len());
    assert_eq!(
        member.all("/api/v1/shows").await.len(),
        demo.shows.len() - 1,
        "the draft is its officers' own"
    );
    for show in &demo.shows {
        let day = calendar::date(show.held_on);
        let day = NaiveDate::from_ymd_opt(day.year, day.month, day.day).unwrap().to_string();
        let row = listed.iter().find(|row| row["held_on"] == *day && row["name"] == *show.name).unwrap();
        let path = format!("/api/v1/shows/{}", row["id"].as_str().unwrap());
        let entries = secretary.all(&format!("{path}/entries")).await;
        let staged = entries.iter().filter(|entry| !entry["staged_at"].is_null()).count();
        let judged = || async {
            let classes = secretary.get(&format!("{path}/judging")).await;
            let said =
                classes.as_array().unwrap().iter().filter(|class| !class["judgment"].is_null()).count();
            (said, classes.as_array().unwrap().len())
        };
        let state = match show.stage {
            Stage::Draft => "draft",
            Stage::NotOpen | Stage::Entries | Stage::Staging => "published",
            Stage::Provisional => "provisional",
            Stage::Final => "final",
            Stage::CalledOff => "cancelled",
        };
        assert_eq!(row["state"], state, "{row}");
        match show.stage {
            Stage::Draft | Stage::NotOpen | Stage::CalledOff => assert_eq!(entries.len(), 0),
            Stage::Entries => {
                assert!(entries.len() > 5 && staged == 0, "{}", entries.len());
                let versions = member.get(&format!("{path}/schedule/versions")).await;
                assert_eq!(versions.as_array().unwrap().len(), 2);
                let follows = &member.get(&format!("{path}/classes?limit=1")).await["items"][0]["follows"];
                assert!(follows.is_string(), "a class of last year's");
            }
            Stage::Staging => {
                let (said, classes) = judged().await;
                assert!(staged > 0 && 0 < said && said < classes, "{staged} {said} {classes}");
            }
            Stage::Provisional => {
                let protests = secretary.get(&format!("{path}/protests")).await;
                assert_eq!(protests[0]["state"], "open", "{protests}");
            }
            Stage::Final => {
                let results = member.get(&format!("{path}/results")).await;
                let trophies = results["results"]["trophies"].as_array().unwrap();
                assert_eq!(trophies.len(), 3);
                assert!(trophies.iter().all(|trophy| !trophy["winners"].as_array().unwrap().is_empty()));
            }
        }
    }
    let held = demo.shows.iter().filter(|show| matches!(show.stage, Stage::Provisional | Stage::Final));
    assert_eq!(member.all("/api/v1/members/me/results").await.len(), held.count());
    // Of the club with two final shows, the trophies of the last are out and those of the one before are back.
    let club = listed.iter().find(|row| row["name"] == "Quillan Vale Summer Show").unwrap();
    let path = format!("/api/v1/clubs/{}/trophies", club["club_id"].as_str().unwrap());
    let trophies = secretary.get(&path).await;
    assert_eq!(trophies.as_array().unwrap().len(), 3, "{trophies}");
    for trophy in trophies.as_array().unwrap() {
        let year = demo.shows[1].held_on / 365 + 1970;
        let (out, last_won) = (trophy["out"].as_array().unwrap(), trophy["last_won"].as_array().unwrap());
        assert!(!out.is_empty() && out.len() == last_won.len(), "{trophy}");
        assert!(out.iter().chain(last_won).all(|award| award["year"] == year), "{trophy}");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_filling_that_was_broken_off_is_told_and_started_over_when_asked() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("demo.sqlite3").display().to_string();
    let usual = options(&file, &[]);
    // Broken off once there are clubs: the administrator is there, and nobody else.
    let seen = Notify::new();
    let tell = |line: &str| {
        if line.contains("clubs") {
            seen.notify_one();
        }
    };
    tokio::select! {
        opened = Demonstration::open(&usual, &tell) => panic!("it was not broken off: {opened:?}"),
        () = seen.notified() => {}
    }

    let told = Told::default();
    let line = told.open(&usual).await.unwrap_err();
    assert!(line.contains("--fresh") && !line.contains('\n'), "{line}");

    let demonstration = told.open(&options(&file, &["--fresh"])).await.unwrap();
    assert!(demonstration.filled);
    demonstration.stop().await.unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn another_societys_records_are_left_alone_even_when_asked_to_start_over() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("society.sqlite3").display().to_string();
    let db = storksbill_db::Db::open(&file, 1).unwrap();
    let password = "nine small red pots".to_owned();
    storksbill::members::create_administrator(&db, "ines@society.example", "Ines Tarn", password)
        .await
        .unwrap();
    drop(db);

    let told = Told::default();
    for more in [&[][..], &["--fresh"]] {
        let line = told.open(&options(&file, more)).await.unwrap_err();
        assert!(line.contains("holds another society"), "{line}");
    }
    let db = storksbill_db::Db::open(&file, 1).unwrap();
    assert!(storksbill::members::has_administrator(&db).await.unwrap());
}

/// The forecast made on 1 June of it is later than the one made
/// on 1 June of the warm spring, by the days that the generated weather itself says.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_cold_spring_is_forecast_later_by_the_days_its_weather_says() {
    let database = TestDatabase::bare();
    let options = Options::parse_from([
        "seed-demo",
        "--members",
        "8",
        "--listen",
        "127.0.0.1:0",
        "--database",
        &database.url,
    ]);
    let demonstration = Told::default().open(&options).await.unwrap();
    let demo = Demo::generate(options.scale()).unwrap();
    let (cold, warm) = (demo.weather.springs.cold.unwrap(), demo.weather.springs.warm.unwrap());
    let mut forecasts = Vec::new();
    let mut at = options.today;
    for year in [warm, cold] {
        let june = NaiveDate::from_ymd_opt(year, 6, 1).unwrap();
        demonstration.app.clock.advance(june - at);
        at = june;
        let registrar = Guide::of(&demonstration, "registrar").await;
        for (place, region) in REGIONS.iter().enumerate() {
            let known = registrar.all("/api/v1/regions").await;
            let id =
                known.iter().find(|r| r["name"] == region.name).unwrap()["id"].as_str().unwrap().to_owned();
            let answer = registrar.get(&format!("/api/v1/forecasts/regions/{id}?plant_group=zonal")).await;
            let forecast = &answer["forecasts"][0];
            assert_eq!(forecast["as_of"], june.to_string());
            let told: NaiveDate = forecast["p50"].as_str().unwrap().parse().unwrap();
            let requirement = forecast["requirement"]["degree_days"].as_f64().unwrap();
            let told_days = told.signed_duration_since(june).num_days();
            let usual = days_in_usual_weather(&demo, place, year, requirement);
            // The median over the forecast's weathers is not quite the weathers' median day; and that such a
            // plant is not ready yet, which the forecast knows, moves it later by a few days.
            assert!((-2..=5).contains(&(told_days - usual)), "{} {year}: {told_days}, {usual}", region.name);
            forecasts.push((place, year, told.ordinal(), ready(&demo, place, year, requirement)));
        }
    }
    for (region, place) in REGIONS.iter().enumerate() {
        let of = |year| forecasts.iter().find(|f| (f.0, f.1) == (region, year)).unwrap();
        let ((.., told_cold, true_cold), (.., told_warm, true_warm)) = (of(cold), of(warm));
        let told = i64::from(*told_cold) - i64::from(*told_warm);
        let meant = i64::from(*true_cold) - i64::from(*true_warm);
        // What is still to come of either season is not known on 1 June: only a part can be told.
        assert!(meant >= 10 && told > 0, "{}: {told} days later told, {meant} meant", place.name);
    }
    demonstration.stop().await.unwrap();
}

/// Days from 1 June of `year` until such a plant is ready, by the weather to 31 May and then that of each year
/// before: the middle one.
fn days_in_usual_weather(demo: &Demo, region: usize, year: i32, requirement: f64) -> i64 {
    let series = demo.weather.series(region).unwrap();
    let table = HeatTable::build(&series, House::FrostFree, HeatRule::default());
    let day = |year, month, day| calendar::epoch_day(year, month, day).unwrap();
    let left = requirement - table.between(day(year, 3, 11), day(year, 6, 1)).unwrap();
    let reached = |past: i32| {
        let june = day(past, 6, 1);
        (june..june + 200)
            .find(|&d| table.between(june, d).is_some_and(|heat| heat >= left))
            .map(|d| d - june)
    };
    let first = calendar::date(series.first_day).year + 1;
    let mut days: Vec<i32> = (first..year).filter_map(reached).collect();
    days.sort_unstable();
    i64::from(days[days.len() / 2])
}

/// The day of the year on which a plant of this need, stopped on 11 March under frost-free glass, was ready.
fn ready(demo: &Demo, region: usize, year: i32, requirement: f64) -> u32 {
    let table =
        HeatTable::build(&demo.weather.series(region).unwrap(), House::FrostFree, HeatRule::default());
    let day = |month, day| calendar::epoch_day(year, month, day).unwrap();
    let stop = day(3, 11);
    let reached = (stop..stop + 300).find(|&d| table.between(stop, d).unwrap() >= requirement).unwrap();
    u32::try_from(reached - day(1, 1) + 1).unwrap()
}
