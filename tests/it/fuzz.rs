//! Every field of every body, and every parameter of every question, set to its extremes, against a filled society:
//! no answer of the server's own fault, no connection closed, nothing slow, nothing large.
//!
//! Slow: some ten thousand requests. `.ci/run slow` runs it on both databases.
#![allow(
    clippy::cast_possible_truncation,
    clippy::too_many_lines,
    clippy::items_after_statements,
    reason = "bounds of a schema are small; a case is read from top to bottom"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::time::{Duration, Instant};

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use clap::Parser;
use diesel::prelude::*;
use diesel::sql_types::Text;
use reqwest::{Client, Method};
use seed_demo::Demonstration;
use seed_demo::options::Options;
use seed_demo::people::PASSWORD;
use serde_json::{Map, Value, json};
use storksbill::http::problem::MOST_BYTES;
use storksbill_db::Conn;
use storksbill_tests::{Contract, TestDatabase};

/// Most cases of one body: those of a schedule would be thousands.
const MOST_CASES: usize = 220;
/// Longest that one request may take.
const WITHIN: Duration = Duration::from_secs(5);
/// Largest answer that is no refusal.
const LARGEST: usize = 8 * 1024 * 1024;

#[derive(QueryableByName)]
struct Id {
    #[diesel(sql_type = Text)]
    id: String,
}

/// Real ids by what a path or a field calls them.
fn ids(conn: &mut Conn) -> BTreeMap<&'static str, Vec<String>> {
    let columns = [
        ("club_id", "clubs", "id"),
        ("cultivar_id", "cultivars", "id"),
        ("cross_id", "crosses", "id"),
        ("plant_id", "plants", "id"),
        ("diary_id", "diary_entries", "id"),
        ("show_id", "shows", "id"),
        ("region_id", "regions", "id"),
        ("station_id", "stations", "id"),
        ("member_id", "members", "id"),
        ("ring_id", "swap_rings", "id"),
        ("round_id", "swap_rounds", "id"),
        ("offer_id", "swap_offers", "id"),
        ("want_id", "swap_wants", "id"),
        ("hand_over_id", "swap_hand_overs", "id"),
        ("entry_id", "show_entries", "id"),
        ("exhibitor_id", "show_exhibitors", "id"),
        ("class_id", "show_entries", "class_id"),
        ("trophy_id", "trophies", "id"),
        ("award_id", "trophy_awards", "id"),
        ("official_id", "show_officials", "id"),
        ("seedling_id", "seedlings", "id"),
        ("registration_id", "registrations", "id"),
        ("hold_id", "health_holds", "id"),
        ("job_id", "jobs", "id"),
        ("notice_id", "notices", "id"),
        ("protest_id", "show_protests", "id"),
        ("name_id", "cultivar_names", "id"),
        ("count_id", "cross_counts", "id"),
        ("pollination_id", "pollinations", "id"),
    ];
    let mut all = BTreeMap::new();
    for (name, table, column) in columns {
        let sql = format!("select {column} as id from {table} order by {column} limit 12");
        let rows: Vec<Id> = diesel::sql_query(sql).load(conn).unwrap();
        all.insert(name, rows.into_iter().map(|row| row.id).collect());
    }
    all
}

/// A filled society, and the way to it.
struct Walk {
    client: Client,
    address: String,
    token: String,
    ids: BTreeMap<&'static str, Vec<String>>,
    turn: usize,
    faults: Vec<String>,
    sent: usize,
}

impl Walk {
    async fn of(demonstration: &Demonstration, database: &TestDatabase, role: &str) -> Self {
        storksbill::tls::settle();
        let (client, address) = (Client::new(), demonstration.address.clone());
        let body = json!({"email": format!("{role}@merrow.example"), "password": PASSWORD});
        let answer = client.post(format!("{address}/api/v1/sessions")).json(&body).send().await.unwrap();
        let token = answer.json::<Value>().await.unwrap()["access_token"].as_str().unwrap().to_owned();
        let ids = ids(&mut database.connect());
        Self { client, address, token, ids, turn: 0, faults: Vec::new(), sent: 0 }
    }

    /// One of the ids that something of this name may be.
    fn pick(&mut self, name: &str) -> String {
        let name = match name {
            "id" | "other_id" | "individual_id" | "seed_parent_id" | "pollen_parent_id" | "germplasmDbId"
            | "into_id" | "seed_cultivar_id" | "pollen_cultivar_id" | "with" => "cultivar_id",
            "source_plant_id" => "plant_id",
            "source_member_id" | "owner_id" => "member_id",
            "from_show_id" => "show_id",
            "requested_club_id" => "club_id",
            other => other,
        };
        self.turn += 1;
        match name {
            "year" => "2026".to_owned(),
            "version_no" | "version" | "number" | "fit_id" => "1".to_owned(),
            _ => match self.ids.get(name) {
                Some(ids) if !ids.is_empty() => ids[self.turn % ids.len()].clone(),
                _ => "00000000-0000-7000-8000-000000000000".to_owned(),
            },
        }
    }

    fn filled(&mut self, path: &str) -> String {
        let mut path = path.to_owned();
        while let (Some(from), Some(to)) = (path.find('{'), path.find('}')) {
            let id = self.pick(&path[from + 1..to]);
            path.replace_range(from..=to, &id);
        }
        path
    }

    /// Sends it, holds the answer against the bounds, and gives its status.
    async fn send(&mut self, method: &Method, path: &str, body: Option<&Value>) -> u16 {
        self.sent += 1;
        let started = Instant::now();
        let mut ask = self
            .client
            .request(method.clone(), format!("{}{path}", self.address))
            .bearer_auth(&self.token)
            .header("if-match", "*")
            .timeout(Duration::from_secs(30));
        if let Some(body) = body {
            ask = ask.json(body);
        }
        let said: String = body.map(Value::to_string).unwrap_or_default().chars().take(300).collect();
        let short: String = path.chars().take(200).collect();
        let mut fault = |what: String| self.faults.push(format!("{method} {short}: {what}\n    {said}"));
        let answer = match ask.send().await {
            Ok(answer) => answer,
            Err(error) => {
                fault(format!("no answer: {error:?}"));
                return 0;
            }
        };
        let status = answer.status().as_u16();
        let size = answer.bytes().await.map_or(0, |bytes| bytes.len());
        let took = started.elapsed();
        if status >= 500 {
            fault(format!("{status}"));
        }
        let most = if status >= 400 { MOST_BYTES } else { LARGEST };
        if size > most {
            fault(format!("{status} of {size} bytes"));
        }
        if took > WITHIN {
            fault(format!("{status} after {took:?}"));
        }
        status
    }

    #[track_caller]
    fn end(&self) {
        let shown = self.faults.iter().take(25).cloned().collect::<Vec<_>>().join("\n");
        assert!(self.faults.is_empty(), "{} of {} requests:\n{shown}", self.faults.len(), self.sent);
    }

    /// A body of a schema: what it requires, or with `whole` all that it may have.
    fn body(&mut self, schema: &Value, name: &str, whole: bool, depth: usize) -> Value {
        let spec = Contract::of_the_server().spec();
        if let Some(name_of) = schema["$ref"].as_str().and_then(|path| path.rsplit('/').next()) {
            return self.body(&spec["components"]["schemas"][name_of], name, whole, depth + 1);
        }
        for part in ["oneOf", "anyOf"] {
            if let Some(choices) = schema[part].as_array() {
                let real = choices.iter().find(|choice| choice["type"] != "null").unwrap_or(&Value::Null);
                return self.body(real, name, whole, depth + 1);
            }
        }
        if let Some(parts) = schema["allOf"].as_array() {
            let mut fields = Map::new();
            for part in parts {
                match self.body(part, name, whole, depth + 1) {
                    Value::Object(more) => fields.extend(more),
                    other => return other,
                }
            }
            return fields.into();
        }
        if let Some(word) = schema["enum"].as_array().and_then(|words| words.first()) {
            return word.clone();
        }
        let kind = match &schema["type"] {
            Value::Array(kinds) => kinds.iter().filter_map(Value::as_str).find(|kind| *kind != "null"),
            kind => kind.as_str(),
        };
        match kind {
            Some("object") if depth < 9 => {
                let required: BTreeSet<&str> =
                    schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
                let mut fields = Map::new();
                for (field, kind) in schema["properties"].as_object().into_iter().flatten() {
                    if whole || required.contains(field.as_str()) {
                        fields.insert(field.clone(), self.body(kind, field, whole, depth + 1));
                    }
                }
                fields.into()
            }
            Some("array") if depth < 9 => {
                let name = name.strip_suffix('s').unwrap_or(name).to_owned();
                let least = schema["minItems"].as_u64().unwrap_or(1).clamp(1, 3);
                (0..least).map(|_| self.body(&schema["items"], &name, whole, depth + 1)).collect()
            }
            Some("object") => json!({}),
            Some("array") => json!([]),
            Some("integer" | "number") => {
                json!(schema["minimum"].as_f64().map_or(1, |least| least.max(1.0) as i64))
            }
            Some("boolean") => json!(true),
            _ => match schema["format"].as_str() {
                Some("uuid") => self.pick(name).into(),
                Some("date") => "2026-05-09".into(),
                Some("date-time") if name.ends_with("wall") => "2026-05-08T20:00:00".into(),
                Some("date-time") => "2026-06-09T10:00:00Z".into(),
                _ if name.ends_with("_id") => self.pick(name).into(),
                _ => match name {
                    "zone" => "Europe/London".into(),
                    "closes_wall" => "2026-05-08T20:00".into(),
                    "email" => format!("somebody{}@merrow.example", self.turn).into(),
                    _ => schema["example"]
                        .as_str()
                        .map_or_else(|| format!("Quay Words {}", self.turn).into(), Value::from),
                },
            },
        }
    }
}

/// Where the leaves of a body are, lists among them.
fn leaves(body: &Value, at: &str, found: &mut Vec<String>) {
    match body {
        Value::Object(fields) => {
            for (name, value) in fields {
                leaves(value, &format!("{at}/{}", name.replace('~', "~0").replace('/', "~1")), found);
            }
        }
        Value::Array(items) => {
            found.push(at.to_owned());
            for (n, item) in items.iter().enumerate() {
                leaves(item, &format!("{at}/{n}"), found);
            }
        }
        _ => found.push(at.to_owned()),
    }
}

/// What a leaf of this kind can be at its worst.
fn extremes(leaf: &Value) -> Vec<Value> {
    let looks_like_day =
        |text: &str| text.len() >= 10 && text.starts_with("20") && text.as_bytes()[4] == b'-';
    match leaf {
        Value::Number(_) => vec![
            json!(0),
            json!(-1),
            json!(i32::MAX),
            json!(i32::MIN),
            json!(i64::from(i32::MAX) + 1),
            json!(i64::MAX),
            json!(i64::MIN),
            json!(u64::MAX),
            json!(1e308),
            json!(1e-320),
            json!(0.1),
        ],
        Value::Array(items) => {
            let many = items.first().map(|item| Value::from(vec![item.clone(); 300]));
            [Some(json!([])), Some(json!([null])), many].into_iter().flatten().collect()
        }
        Value::String(text) if text.len() == 36 && text.matches('-').count() == 4 => {
            vec![json!("ffffffff-ffff-ffff-ffff-ffffffffffff"), json!(text.to_uppercase()), json!("x")]
        }
        Value::String(text) if looks_like_day(text) && text.len() == 10 => [
            "+262142-12-31",
            "-262143-01-01",
            "0000-01-01",
            "9999-12-31",
            "1600-01-01",
            "2400-12-31",
            "2026-02-29",
        ]
        .map(Value::from)
        .to_vec(),
        Value::String(text) if looks_like_day(text) => [
            "+262142-12-31T23:59:59Z",
            "-262143-01-01T00:00:00Z",
            "2400-12-31T23:59:59Z",
            "1600-01-01T00:00:00Z",
            "2026-03-29T01:30",
            "2026-12-31T23:59:60Z",
            "9999-12-31T23:59:59",
            "+262142-12-31T23:59",
        ]
        .map(Value::from)
        .to_vec(),
        Value::String(_) => vec![
            json!(""),
            json!("a\u{0}b"),
            json!("\u{feff}\u{202e}\u{2028}"),
            json!("' or 1=1 --"),
            json!("%_\\"),
            json!("x".repeat(5000)),
            json!("💥".repeat(40)),
            json!("=1+1"),
            json!("a\u{301}".repeat(200)),
            json!("1/0"),
            json!("1e400"),
        ],
        _ => vec![Value::Null, json!(0), json!("x")],
    }
}

/// It would end the walk's own log-in or rights, or set the server to long work.
fn is_left_out(path: &str) -> bool {
    [
        "/sessions",
        "/standing",
        "/roles",
        "/members/me",
        "weather-source",
        "forecasts/fits",
        "forecasts/backtests",
    ]
    .iter()
    .any(|part| path.contains(part))
        && !path.starts_with("/api/v1/members/me/")
}

fn filled_options(database: &TestDatabase) -> Options {
    let line = ["seed-demo", "--members", "12", "--years", "2", "--listen", "127.0.0.1:0", "--database"];
    Options::parse_from(line.iter().copied().chain([database.url.as_str()]))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "slow: thousands of requests"]
async fn every_field_of_every_body_at_its_extremes() {
    let database = TestDatabase::bare();
    let demonstration = Demonstration::open(&filled_options(&database), &|_| {}).await.unwrap();
    let mut walk = Walk::of(&demonstration, &database, "administrator").await;
    let (mut operations, mut taken) = (0, BTreeSet::new());
    for (method, path, operation) in Contract::of_the_server().operations() {
        let schema = &operation["requestBody"]["content"]["application/json"]["schema"];
        if schema.is_null() || schema["type"] == "array" || is_left_out(&path) {
            continue;
        }
        operations += 1;
        let method: Method = method.parse().unwrap();
        for whole in [false, true] {
            let base = walk.body(schema, "", whole, 0);
            let mut cases = vec![base.clone()];
            let mut places = Vec::new();
            leaves(&base, "", &mut places);
            for place in places.iter().filter(|place| !place.is_empty()) {
                for extreme in extremes(base.pointer(place).unwrap()) {
                    let mut case = base.clone();
                    *case.pointer_mut(place).unwrap() = extreme;
                    cases.push(case);
                }
            }
            // Of too many every so-many-th, so that all fields have their turn.
            let step = cases.len().div_ceil(MOST_CASES);
            for case in cases.iter().step_by(step) {
                let filled = walk.filled(&path);
                let status = walk.send(&method, &filled, Some(case)).await;
                if (200..300).contains(&status) {
                    taken.insert(format!("{method} {path}"));
                }
            }
        }
    }
    demonstration.stop().await.unwrap();
    walk.end();
    eprintln!("{} requests; {} of {operations} operations took a body", walk.sent, taken.len());
    // Else it would all have ended at the door.
    assert!(
        walk.sent > 4000 && taken.len() * 100 >= operations * 40,
        "{} of {operations}: {taken:#?}",
        taken.len()
    );
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "slow: thousands of requests"]
async fn every_parameter_of_every_question_at_its_extremes() {
    let database = TestDatabase::bare();
    let demonstration = Demonstration::open(&filled_options(&database), &|_| {}).await.unwrap();
    let forged = |place: &[&str]| URL_SAFE_NO_PAD.encode(serde_json::to_vec(place).unwrap());
    let id = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f";
    let mut extremes: Vec<String> = [
        "",
        "%00",
        "a%00b",
        "%27%20or%201=1--",
        "%25_%5C",
        "%2B262142-12-31",
        "-262143-01-01",
        "0000-01-01",
        "9999-12-31",
        "1600-01-01",
        "2400-12-31",
        "%2B262142-12-31T00:00:00Z",
        "-1",
        "0",
        "9223372036854775807",
        "-9223372036854775808",
        "18446744073709551615",
        "1e308",
        "NaN",
        "inf",
        "0.1",
        "true",
        "%FF%FE",
        "ffffffff-ffff-ffff-ffff-ffffffffffff",
        "1/0",
        "2147483647",
        "eyJ4Ijoi",
    ]
    .map(str::to_owned)
    .to_vec();
    extremes.push("x".repeat(3000));
    extremes.push("%F0%9F%92%A5".repeat(30));
    for place in [
        ["+262142-12-31", id],
        ["-262143-01-01", id],
        ["+262142-12-31T00:00:00", id],
        ["-5000-01-01T00:00:00.000000", id],
        ["99999999999999999999", id],
        ["9223372036854775807", id],
        ["2147483648", ""],
        ["aa", id],
        ["2026-01-01", "x"],
        ["\u{0}", id],
        [id, "+262142-12-31"],
    ] {
        extremes.push(forged(&place));
    }
    for role in ["administrator", "member"] {
        let mut walk = Walk::of(&demonstration, &database, role).await;
        let (mut questions, mut answered) = (0, BTreeSet::new());
        for (method, path, operation) in Contract::of_the_server().operations() {
            if method != "GET" {
                continue;
            }
            questions += 1;
            let parameters: Vec<(String, bool)> = operation["parameters"]
                .as_array()
                .into_iter()
                .flatten()
                .filter(|parameter| parameter["in"] == "query")
                .map(|p| (p["name"].as_str().unwrap().to_owned(), p["required"] == true))
                .collect();
            let mut needed = Vec::new();
            for (name, _) in parameters.iter().filter(|(_, required)| *required) {
                let value = match name.as_str() {
                    "environment" => "frost_free".to_owned(),
                    "plant_group" => "zonal".to_owned(),
                    _ if name.ends_with("_id") => walk.pick(name),
                    _ if name.ends_with("_on") || name == "from" || name == "to" => "2026-06-20".to_owned(),
                    _ => walk.pick("cultivar_id"),
                };
                needed.push(format!("{name}={value}"));
            }
            let needed = needed.join("&");
            let mut asked: Vec<String> = (0..4).map(|_| format!("{}?{needed}", walk.filled(&path))).collect();
            for (name, _) in &parameters {
                let filled = walk.filled(&path);
                asked.extend(extremes.iter().map(|extreme| format!("{filled}?{needed}&{name}={extreme}")));
            }
            if path.contains('{') {
                for extreme in extremes.iter().filter(|extreme| !extreme.is_empty()).take(20) {
                    let (from, to) = (path.find('{').unwrap(), path.find('}').unwrap());
                    let rest = walk.filled(&path[to + 1..]);
                    asked.push(format!("{}{}{rest}?{needed}", &path[..from], extreme.replace('/', "%2F")));
                }
            }
            for ask in asked {
                if walk.send(&Method::GET, &ask, None).await == 200 {
                    answered.insert(path.clone());
                }
            }
        }
        walk.end();
        eprintln!(
            "{role}: {} requests; {} of {questions} questions were answered",
            walk.sent,
            answered.len()
        );
        assert!(
            walk.sent > 3000 && answered.len() * 100 >= questions * 50,
            "{} of {questions}",
            answered.len()
        );
    }
    demonstration.stop().await.unwrap();
}
