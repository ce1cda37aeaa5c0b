//! The daily readings of a weather station.

use std::fmt::Write;

use actix_web::http::header::{Accept, CACHE_CONTROL, Header, HeaderValue, VARY};
use actix_web::{HttpRequest, HttpResponse, Responder, get, put, web};
use chrono::{Days, NaiveDate};
use serde::Deserialize;
use storksbill_db::rows::places::{self, Reading};
use storksbill_domain::day::Day;
use storksbill_domain::ids::StationId;
use storksbill_domain::words::WeatherFormat;
use utoipa::IntoParams;

use super::dto::{ReadingRow, ReadingsOut, UploadOut};
use super::sheet::{self, OUTSIDE, Sheet};
use crate::app::App;
use crate::http::auth::{Administrator, Auth};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::http::upload::Upload;

/// Most days of one answer in JSON.
const JSON_DAYS: i64 = 4000;
/// Days of an answer when the caller does not say: a year.
const USUAL_DAYS: u64 = 365;

/// How to take an upload.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct Taking {
    /// `true` writes the good rows and leaves the bad ones out; else one bad row keeps all from being written.
    #[serde(default)]
    #[param(required = false)]
    skip_bad: bool,
    /// How the body is written, whatever its `Content-Type` says; must be given for `ghcn_daily`.
    format: Option<WeatherFormat>,
}

/// Upload a station's readings
///
/// Administrators only. One row a day, tens of thousands at a time, as CSV, as a JSON array, or with
/// `format=ghcn_daily` as one station's `.dly` file of the Global Historical Climatology Network. A CSV table
/// starts with a line that names its columns, in any order: `day,min_c,max_c` and, where measured,
/// `rain_mm,humidity_pct`. A day that was there already is replaced; days that are not mentioned stay; so
/// the same upload can be sent again. All is written, or nothing: every bad row is reported at once, as
/// `line 17` of the CSV table or file, or `/16` of the JSON array (the first 50 faults; the rest are counted).
/// With `skip_bad=true` the good rows are written and the bad ones reported with the answer, the first
/// 1,000 of them.
///
/// A row is bad where a date is no date, is more than a day ahead or stands in an earlier row too; where a
/// number is no number; where a temperature is not within −60 to 60, rain 0 to 2000, humidity 0 to 100; or
/// where the lowest temperature is above the highest.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    params(Taking),
    request_body(content((Vec<ReadingRow> = "application/json"), (String = "text/csv"), (String = "text/plain"))),
    responses((status = 200, description = "Written", body = UploadOut))
)]
#[put("/stations/{station_id}/readings")]
pub async fn upload(
    _administrator: Administrator,
    app: web::Data<App>,
    path: web::Path<StationId>,
    taking: web::Query<Taking>,
    sent: Upload,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let format = format_of(taking.format, &sent)?;
    let sheet = read(&app, OUTSIDE, format, sent).await?;
    let skip_bad = taking.skip_bad;
    app.db
        .write(move |conn| {
            places::station(conn, id)?.ok_or_else(|| Problem::not_found("station"))?;
            if sheet.bad_rows > 0 && !skip_bad {
                return Err(sheet.refusal());
            }
            places::upsert_readings(conn, id, &sheet.readings(id))?;
            Reply::ok(&UploadOut::of(&sheet))
        })
        .await
}

/// How an upload is written: as was said, or as its type says.
pub(super) fn format_of(given: Option<WeatherFormat>, sent: &Upload) -> Result<WeatherFormat, Problem> {
    match (given, sent.essence.as_str()) {
        (Some(format), _) => Ok(format),
        (None, "text/csv") => Ok(WeatherFormat::Csv),
        (None, "application/json") => Ok(WeatherFormat::Json),
        (None, _) => Err(Problem::new(
            Code::UnsupportedMediaType,
            "Send the table with `Content-Type: text/csv` or `application/json`, or say its `format` in the query.",
        )),
    }
}

/// Reads an upload off the threads that answer requests.
pub(super) async fn read(
    app: &App,
    known: &'static [&'static str],
    format: WeatherFormat,
    sent: Upload,
) -> Result<Sheet, Problem> {
    let today = app.clock.today();
    let read = web::block(move || sheet::read(known, format, &sent.bytes, today));
    read.await.map_err(|_stopping| Problem::busy("The server is stopping."))?
}

/// Which days.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Span {
    /// First day; 365 days up to `to` when not given.
    from: Option<Day>,
    /// Last day; today when not given.
    to: Option<Day>,
}

/// List a station's readings
///
/// Oldest first, from one day to another, both included. As JSON at most 4,000 days; with
/// `Accept: text/csv` as many as there are, in the columns that an upload takes.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    params(Span),
    responses((status = 200, description = "The days that were read", content((ReadingsOut = "application/json"), (String = "text/csv"))))
)]
#[get("/stations/{station_id}/readings")]
pub async fn list(
    _auth: Auth,
    app: web::Data<App>,
    path: web::Path<StationId>,
    span: web::Query<Span>,
    request: HttpRequest,
) -> Result<HttpResponse, Problem> {
    let id = path.into_inner();
    let (from, to) = span.days(app.clock.today())?;
    let csv = wants_csv(&request);
    if !csv && (to - from).num_days() >= JSON_DAYS {
        return Err(bad_span(
            "from",
            format!("must leave at most {JSON_DAYS} days; ask for text/csv for more"),
        ));
    }
    let readings = app
        .db
        .read(move |conn| {
            places::station(conn, id)?.ok_or_else(|| Problem::not_found("station"))?;
            Ok::<_, Problem>(places::readings_between(conn, id, from, to, i64::MAX)?)
        })
        .await?;
    if csv {
        return Ok(HttpResponse::Ok()
            .content_type("text/csv; charset=utf-8; header=present")
            .insert_header((CACHE_CONTROL, "private, no-cache"))
            .insert_header((VARY, "accept"))
            .body(as_csv(&readings)));
    }
    let readings = readings.iter().map(ReadingRow::of).collect();
    let mut response = Reply::ok(&ReadingsOut { station_id: id, from, to, readings })?.respond_to(&request);
    response.headers_mut().insert(VARY, HeaderValue::from_static("accept"));
    Ok(response)
}

impl Span {
    pub(super) fn days(&self, today: NaiveDate) -> Result<(NaiveDate, NaiveDate), Problem> {
        let to = self.to.map_or(today, NaiveDate::from);
        let from = self
            .from
            .map(NaiveDate::from)
            .or_else(|| to.checked_sub_days(Days::new(USUAL_DAYS - 1)))
            .unwrap_or(to);
        if from > to {
            return Err(bad_span("from", "must not be after `to`"));
        }
        Ok((from, to))
    }
}

pub(super) fn bad_span(name: &str, detail: impl Into<String>) -> Problem {
    let detail = detail.into();
    Problem::new(Code::InvalidQuery, format!("{name} {detail}.")).at(name, "out-of-range", detail)
}

/// Whether the caller would rather have CSV than JSON.
fn wants_csv(request: &HttpRequest) -> bool {
    let Ok(accept) = Accept::parse(request) else { return false };
    let first = accept
        .ranked()
        .into_iter()
        .find(|kind| ["text/csv", "application/json", "application/*", "*/*"].contains(&kind.essence_str()));
    first.is_some_and(|kind| kind.essence_str() == "text/csv")
}

/// The table as an upload takes it. Its cells are dates and numbers, which no spreadsheet runs.
fn as_csv(readings: &[Reading]) -> String {
    let optional = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
    let mut csv = OUTSIDE.join(",") + "\r\n";
    for r in readings {
        let (rain_mm, humidity_pct) = (optional(r.rain_mm), optional(r.humidity_pct));
        // Writing to a string cannot fail.
        let _ = write!(csv, "{},{},{},{rain_mm},{humidity_pct}\r\n", r.day, r.min_c, r.max_c);
    }
    csv
}
