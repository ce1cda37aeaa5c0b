//! A station's readings fetched from its source: asked for, within limits, and taken in as an upload is.

use std::error::Error;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};
use reqwest::dns::{Addrs, Name, Resolve, Resolving};
use reqwest::header::{ETAG, HeaderMap, IF_MODIFIED_SINCE, IF_NONE_MATCH, LAST_MODIFIED};
use reqwest::redirect::{Attempt, Policy};
use reqwest::{Client, StatusCode, Url};
use serde_json::{Value, json};
use storksbill_db::rows::jobs::Job;
use storksbill_db::rows::places;
use storksbill_db::rows::weather_sources::{self, WeatherSource};
use storksbill_domain::ids::StationId;

use super::address;
use super::sheet::{self, Sheet};
use crate::app::App;
use crate::http::problem::{Code, FieldError, Problem};
use crate::jobs::Progress;
use crate::tls;

/// How often an address is asked that fails in passing.
const TRIES: u32 = 3;
/// Redirections followed from one address.
const REDIRECTIONS: usize = 5;
/// Days fetched again: weather services mend their newest days.
const MENDED_DAYS: u64 = 14;
/// Days fetched where a station has none.
const FIRST_DAYS: u64 = 730;
/// Faults kept with a job.
const LISTED: usize = 20;

/// How weather is fetched.
#[derive(Debug, Clone)]
pub struct Fetching {
    /// Whether sources may be on this machine or its private network.
    pub private_hosts: bool,
    /// Longest wait for a connection.
    pub connect_within: Duration,
    /// Longest time a request may take in all.
    pub within: Duration,
    /// Largest file taken, bytes.
    pub most_bytes: usize,
    /// The pause before the second try; four times as long before the third.
    pub pause: Duration,
}

impl Default for Fetching {
    fn default() -> Self {
        Self {
            private_hosts: false,
            connect_within: Duration::from_secs(10),
            within: Duration::from_secs(60),
            most_bytes: 32 * 1024 * 1024,
            pause: Duration::from_secs(2),
        }
    }
}

/// Fetches the readings of the station that the job names, and says with the source how it went.
pub(crate) async fn work(app: &App, job: &Job, progress: &Progress) -> Result<Value, Problem> {
    let id = job.subject.as_deref().unwrap_or_default().parse::<StationId>();
    let id = id.map_err(|_no_station| Problem::not_found("station"))?;
    let source = begin(app, id).await?;
    let outcome = fetch(app, &source, progress).await;
    keep(app, source, outcome).await
}

/// Notes that the source is tried, before anything can go wrong: the timetable counts from here.
async fn begin(app: &App, id: StationId) -> Result<WeatherSource, Problem> {
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let mut source = weather_sources::find(conn, id)?
                .ok_or_else(|| failed("The station has no source of readings any more."))?;
            source.last_tried_at = Some(now);
            source.version += 1;
            weather_sources::update(conn, &source)?;
            Ok::<_, Problem>(source)
        })
        .await
}

/// What came of asking.
enum Fetched {
    /// The other server has nothing newer.
    Unchanged,
    New(Taken),
}

/// What was sent, read.
struct Taken {
    sheet: Sheet,
    etag: Option<String>,
    last_modified: Option<String>,
}

async fn fetch(app: &App, source: &WeatherSource, progress: &Progress) -> Result<Fetched, Problem> {
    let (id, now) = (source.station_id, app.clock.now());
    let last = app.db.read(move |conn| Ok::<_, Problem>(places::last_day_of(conn, id)?)).await?;
    let from = first_day(last, now.date_naive());
    let urls = address::fill(&source.url_template, from, now.date_naive())
        .map_err(|error| failed(format!("The address cannot be read: {error}.")))?;
    let how = &app.society.weather;
    let client = client(how)?;
    let (etag, last_modified) = (source.etag.clone(), source.last_modified.clone());
    let mut taken = Taken { sheet: Sheet::default(), etag, last_modified };
    let (mut changed, mut unchanged, mut absent) = (false, false, None);
    let count = urls.len();
    for (at, url) in urls.into_iter().enumerate() {
        let host = url.host_str().unwrap_or_default().to_owned();
        let is_last = at + 1 == count;
        progress.report(0.8 * at as f64 / count as f64, format!("Asks {host}.")).await?;
        // The setting may have changed since the address was entered.
        if !how.private_hosts && !address::may_be_asked(&url) {
            return Err(failed(format!("{host} is on this machine or a private network.")));
        }
        let known = if is_last { known_headers(source, now) } else { HeaderMap::new() };
        let file = match ask(&client, how, &url, &known).await? {
            Answer::File(file) => file,
            Answer::Unchanged => {
                unchanged = true;
                continue;
            }
            Answer::Absent(words) => {
                if is_last {
                    (taken.etag, taken.last_modified) = (None, None);
                }
                absent = Some(words);
                continue;
            }
        };
        changed = true;
        let (format, today) = (source.format, now.date_naive());
        let bytes = file.bytes;
        let read = tokio::task::spawn_blocking(move || sheet::read(sheet::OUTSIDE, format, &bytes, today));
        let sheet = read.await.map_err(|_stopping| Problem::busy("The server is stopping."))??;
        taken.sheet.join(sheet);
        // Only the last file is asked for on condition.
        (taken.etag, taken.last_modified) = (file.etag, file.last_modified);
    }
    match absent {
        _ if changed => {}
        Some(words) if !unchanged => return Err(failed(words)),
        _ => return Ok(Fetched::Unchanged),
    }
    if taken.sheet.good.is_empty() && taken.sheet.bad_rows > 0 {
        let first = taken.sheet.faults.first();
        let first = first.map(|fault| format!(": {}: {}", fault.pointer, fault.detail)).unwrap_or_default();
        return Err(failed(format!("None of the {} rows could be used{first}.", taken.sheet.bad_rows)));
    }
    Ok(Fetched::New(taken))
}

/// The first day to ask for.
fn first_day(last: Option<NaiveDate>, today: NaiveDate) -> NaiveDate {
    let first = match last {
        Some(last) => last.min(today).checked_sub_days(Days::new(MENDED_DAYS)),
        None => today.checked_sub_days(Days::new(FIRST_DAYS)),
    };
    first.unwrap_or(today)
}

/// What lets the other server answer 304. Only of use where the address is the one last asked: not where it
/// holds days, and not in the first fetch of a year where it may hold the year.
fn known_headers(source: &WeatherSource, now: DateTime<Utc>) -> HeaderMap {
    let mut headers = HeaderMap::new();
    let same_year = source.last_ok_at.is_some_and(|ok| ok.date().year() == now.year());
    if !same_year || address::changes_daily(&source.url_template) {
        return headers;
    }
    for (name, value) in [(IF_NONE_MATCH, &source.etag), (IF_MODIFIED_SINCE, &source.last_modified)] {
        if let Some(value) = value.as_ref().and_then(|value| value.parse().ok()) {
            headers.insert(name, value);
        }
    }
    headers
}

/// Takes in what was fetched, and notes with the source how it went.
async fn keep(app: &App, asked: WeatherSource, outcome: Result<Fetched, Problem>) -> Result<Value, Problem> {
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let id = asked.station_id;
            let Some(mut source) = weather_sources::find(conn, id)?.filter(|source| is_same(source, &asked))
            else {
                return Ok(Err(
                    "The source was changed or taken away meanwhile; nothing was written.".to_owned()
                ));
            };
            source.version += 1;
            let told = match &outcome {
                Ok(fetched) => {
                    source.last_ok_at = Some(now);
                    source.last_problem = None;
                    if let Fetched::New(taken) = fetched {
                        places::upsert_readings(conn, id, &taken.sheet.readings(id))?;
                        source.etag.clone_from(&taken.etag);
                        source.last_modified.clone_from(&taken.last_modified);
                    }
                    Ok(result(fetched))
                }
                Err(problem) => {
                    source.last_problem = Some(problem.detail().to_owned());
                    Err(problem.detail().to_owned())
                }
            };
            weather_sources::update(conn, &source)?;
            Ok::<_, Problem>(told)
        })
        .await?
        .map_err(failed)
}

fn is_same(source: &WeatherSource, asked: &WeatherSource) -> bool {
    source.url_template == asked.url_template && source.format == asked.format
}

/// What a job tells of it.
fn result(fetched: &Fetched) -> Value {
    let Fetched::New(Taken { sheet, .. }) = fetched else {
        return json!({ "unchanged": true, "written": 0 });
    };
    let bad: &[FieldError] = sheet.faults.get(..LISTED).unwrap_or(&sheet.faults);
    json!({
        "unchanged": false,
        "written": sheet.good.len(),
        "skipped": sheet.bad_rows,
        "gaps": sheet.gaps,
        "first_day": sheet.first_day(),
        "last_day": sheet.last_day(),
        "bad": bad,
        "bad_not_listed": sheet.faults.len() - bad.len() + sheet.unlisted,
    })
}

fn failed(words: impl Into<String>) -> Problem {
    Problem::new(Code::Unavailable, words)
}

// ---- asking ----

fn client(how: &Fetching) -> Result<Client, Problem> {
    tls::settle();
    let private_hosts = how.private_hosts;
    let mut builder = Client::builder()
        .user_agent(concat!("storksbill/", env!("CARGO_PKG_VERSION")))
        .connect_timeout(how.connect_within)
        .timeout(how.within)
        .no_proxy()
        .redirect(Policy::custom(move |attempt| redirected(attempt, private_hosts)));
    if !private_hosts {
        builder = builder.dns_resolver(Arc::new(PublicOnly));
    }
    builder.build().map_err(|error| failed(format!("No request can be made: {}.", innermost(&error))))
}

/// Follows only to where the address itself might have led, and never from https to http.
fn redirected(attempt: Attempt<'_>, private_hosts: bool) -> reqwest::redirect::Action {
    let before = attempt.previous().last().map(Url::scheme).unwrap_or_default().to_owned();
    let scheme = attempt.url().scheme();
    let refusal = if attempt.previous().len() > REDIRECTIONS {
        Some(format!("it redirects more than {REDIRECTIONS} times"))
    } else if scheme != before && (before.as_str(), scheme) != ("http", "https") {
        Some(format!("it redirects from {before} to {scheme}"))
    } else if !private_hosts && !address::may_be_asked(attempt.url()) {
        Some("it redirects to a private network".to_owned())
    } else {
        None
    };
    match refusal {
        Some(words) => attempt.error(words),
        None => attempt.follow(),
    }
}

/// Resolves names to public addresses alone. It stands in the client and not before it, so that the address
/// that was looked at is the one that is asked.
struct PublicOnly;

impl Resolve for PublicOnly {
    fn resolve(&self, name: Name) -> Resolving {
        Box::pin(async move {
            let found = tokio::net::lookup_host((name.as_str(), 0)).await?;
            let public: Vec<SocketAddr> = found.filter(|found| address::is_public(found.ip())).collect();
            if public.is_empty() {
                return Err("its name leads to this machine or a private network".into());
            }
            let addresses: Addrs = Box::new(public.into_iter());
            Ok(addresses)
        })
    }
}

/// What an address gave.
enum Answer {
    File(File),
    /// It has nothing newer.
    Unchanged,
    /// It has no such file. Of a file a year, those before a station's first are wanting, and the new one at
    /// New Year.
    Absent(String),
}

/// A file as it was sent.
struct File {
    bytes: Vec<u8>,
    etag: Option<String>,
    last_modified: Option<String>,
}

/// Why an address gave nothing.
enum Failure {
    /// It may go better next time.
    Passing(String),
    Lasting(String),
}

/// Asks, again where it fails in passing.
async fn ask(client: &Client, how: &Fetching, url: &Url, known: &HeaderMap) -> Result<Answer, Problem> {
    let host = url.host_str().unwrap_or_default();
    let mut pause = how.pause;
    let mut tried = 1;
    loop {
        match ask_once(client, how, url, known).await {
            Ok(Answer::Absent(words)) => return Ok(Answer::Absent(format!("{host} {words}."))),
            Ok(answer) => return Ok(answer),
            Err(Failure::Passing(_)) if tried < TRIES => {}
            Err(Failure::Passing(words)) => {
                return Err(failed(format!("{host} {words}, asked {tried} times.")));
            }
            Err(Failure::Lasting(words)) => return Err(failed(format!("{host} {words}."))),
        }
        tokio::time::sleep(pause).await;
        pause *= 4;
        tried += 1;
    }
}

async fn ask_once(client: &Client, how: &Fetching, url: &Url, known: &HeaderMap) -> Result<Answer, Failure> {
    let broken = |error: reqwest::Error| broken(&error, how);
    let mut response = client.get(url.clone()).headers(known.clone()).send().await.map_err(broken)?;
    let status = response.status();
    if status == StatusCode::NOT_MODIFIED && !known.is_empty() {
        return Ok(Answer::Unchanged);
    }
    if status.is_server_error() {
        return Err(Failure::Passing(format!("answered {status}")));
    }
    if status == StatusCode::NOT_FOUND {
        return Ok(Answer::Absent(format!("answered {status}")));
    }
    if status != StatusCode::OK {
        return Err(Failure::Lasting(format!("answered {status}")));
    }
    let text = |name| response.headers().get(name)?.to_str().ok().map(str::to_owned);
    let (etag, last_modified) = (text(ETAG), text(LAST_MODIFIED));
    let mut bytes = Vec::new();
    while let Some(part) = response.chunk().await.map_err(broken)? {
        if bytes.len() + part.len() > how.most_bytes {
            let most = how.most_bytes / 1024;
            return Err(Failure::Lasting(format!("sent more than the {most} KiB that are taken")));
        }
        bytes.extend_from_slice(&part);
    }
    Ok(Answer::File(File { bytes, etag, last_modified }))
}

fn broken(error: &reqwest::Error, how: &Fetching) -> Failure {
    if error.is_timeout() {
        return Failure::Passing(format!("did not answer within {} s", how.within.as_secs_f64()));
    }
    let why = innermost(error);
    Failure::Lasting(if error.is_redirect() {
        format!("was not followed: {why}")
    } else if error.is_connect() {
        format!("could not be reached: {why}")
    } else {
        format!("did not answer in full: {why}")
    })
}

/// The last of an error's reasons: the one that says what happened.
fn innermost(error: &dyn Error) -> String {
    let mut last = error;
    while let Some(next) = last.source() {
        last = next;
    }
    last.to_string()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    #[tokio::test]
    async fn a_name_that_leads_to_this_machine_is_not_resolved() {
        let refused = PublicOnly.resolve("localhost".parse().unwrap()).await.err().unwrap();
        assert!(refused.to_string().contains("this machine"), "{refused}");
    }
}
