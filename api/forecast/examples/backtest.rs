//! Backtests the forecasts on any series of dated events with daily minima and maxima.
//!
//! ```text
//! cargo run --release -p storksbill-forecast --example backtest -- --weather weather.csv --events events.csv
//!     [--start-day N] [--base auto|C] [--cap C] [--issue-day N] [--scheme leave-one-year-out|forward]
//! ```
//!
//! `weather.csv`: `station,date,tmin_c,tmax_c`. `events.csv`: `station,group,season,start_date,event_date`;
//! a blank start is day N of the season (1 January is day 1). Every fold estimates everything anew from its
//! own training seasons. Without `--issue-day` the season's own weather is used to the end; with it, what
//! was known on that day of the year. Prints one JSON line: n, mae, rmse, crps (over whole days), cover50,
//! cover80, cover90, base (mean over folds), seconds.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "a program's output")]

use std::collections::{BTreeMap, HashMap};
use std::process::ExitCode;
use std::time::Instant;

use storksbill_forecast::backtest::{ANY_HEAT, Issue, Method, Plan, Scheme, run};
use storksbill_forecast::calendar;
use storksbill_forecast::degree_days::HeatRule;
use storksbill_forecast::fit::{BaseSearch, Enough, Settings, Spreads};
use storksbill_forecast::glass::{Gain, House};
use storksbill_forecast::records::{Place, Wait};
use storksbill_forecast::series::{Reading, RegionSeries, Station};
use storksbill_forecast::stages::{STAGES, Stage};

fn main() -> ExitCode {
    match Question::from_arguments(std::env::args().skip(1)).and_then(|question| question.answer()) {
        Ok(line) => {
            println!("{line}");
            ExitCode::SUCCESS
        }
        Err(message) => {
            eprintln!("backtest: {message}");
            ExitCode::from(2)
        }
    }
}

struct Question {
    weather: String,
    events: String,
    start_day: i32,
    /// `None` to look for it.
    base: Option<f64>,
    cap: f64,
    issue: Issue,
    scheme: Scheme,
}

impl Question {
    fn from_arguments(mut arguments: impl Iterator<Item = String>) -> Result<Question, String> {
        let (mut weather, mut events) = (None, None);
        let mut question = Question {
            weather: String::new(),
            events: String::new(),
            start_day: 1,
            base: None,
            cap: HeatRule::default().cap_c,
            issue: Issue::OwnWeather,
            scheme: Scheme::LeaveSeasonOut,
        };
        while let Some(name) = arguments.next() {
            let value = arguments.next().ok_or_else(|| format!("{name} wants a value"))?;
            let number = |text: &str| text.parse::<f64>().map_err(|error| format!("{name} {text}: {error}"));
            let day = |text: &str| text.parse::<i32>().map_err(|error| format!("{name} {text}: {error}"));
            match name.as_str() {
                "--weather" => weather = Some(value),
                "--events" => events = Some(value),
                "--start-day" => question.start_day = day(&value)?,
                "--base" if value == "auto" => question.base = None,
                "--base" => question.base = Some(number(&value)?),
                "--cap" => question.cap = number(&value)?,
                "--issue-day" => question.issue = Issue::DayOfSeason(day(&value)?),
                "--scheme" => {
                    question.scheme = match value.as_str() {
                        "leave-one-year-out" => Scheme::LeaveSeasonOut,
                        "forward" => Scheme::Forward,
                        other => return Err(format!("--scheme {other}: leave-one-year-out or forward")),
                    };
                }
                other => return Err(format!("{other} is not known")),
            }
        }
        question.weather = weather.ok_or("--weather is missing")?;
        question.events = events.ok_or("--events is missing")?;
        Ok(question)
    }

    fn answer(&self) -> Result<String, String> {
        let began = Instant::now();
        let read = |path: &str| std::fs::read_to_string(path).map_err(|error| format!("{path}: {error}"));
        let mut stations = Names::default();
        let readings = weather(&read(&self.weather)?, &mut stations)?;
        let mut groups = Names::default();
        let waits = events(&read(&self.events)?, self.start_day, &mut stations, &mut groups)?;
        let series = (0..stations.count())
            .map(|station| {
                let readings = readings.get(&station).map(Vec::as_slice).unwrap_or_default();
                RegionSeries::build(0.0, &[Station { height_m: 0.0, readings }])
                    .map_err(|error| format!("station {}: {error}", stations.name(station)))
            })
            .collect::<Result<Vec<_>, _>>()?;
        let places: Vec<Place<'_>> = series
            .iter()
            .map(|series| Place { series, house: House::Outdoors, gain: Gain::default() })
            .collect();
        let settings = self.settings(groups.count(), stations.count());
        let plan = Plan { scheme: self.scheme, issues: vec![self.issue], horizon: 365 };
        let report =
            run(&places, &waits, &settings, &plan, &mut |_| {}).map_err(|error| error.to_string())?;
        let scores = report
            .lines
            .iter()
            .find(|line| line.method == Method::Engine)
            .map(|line| &line.scores)
            .ok_or("no event could be forecast: too few seasons, or weather is missing")?;
        let base = report.bases.values().sum::<f64>() / report.bases.len() as f64;
        Ok(format!(
            "{{\"n\":{},\"mae\":{:.4},\"rmse\":{:.4},\"crps\":{:.4},\"cover50\":{:.4},\"cover80\":{:.4},\"cover90\":{:.4},\"base\":{:.2},\"seconds\":{:.3}}}",
            scores.n,
            scores.mae,
            scores.rmse,
            scores.crps,
            scores.cover50,
            scores.cover80,
            scores.cover90,
            base,
            began.elapsed().as_secs_f64()
        ))
    }

    /// No handbook, no cultivars; stations in the growers' place where there are several.
    fn settings(&self, groups: u32, stations: u32) -> Settings {
        let base_c = self.base.unwrap_or(4.0);
        Settings {
            spreads: Spreads {
                cultivar: 0.0,
                grower: if stations > 1 { Spreads::default().grower } else { 0.0 },
                ..Spreads::default()
            },
            rule: HeatRule { base_c, cap_c: self.cap, ..HeatRule::default() },
            believed: ANY_HEAT,
            bases: self.base.is_none().then(|| BaseSearch {
                grid: (-10..=24).map(|step| f64::from(step) / 2.0).collect(),
                prior_mean: 4.0,
                prior_sd: 3.0,
                enough: Enough { records: 8, seasons: 5 },
            }),
            means_from: Enough { records: 2, seasons: 2 },
            spreads_from: Enough { records: 8, seasons: 5 },
            calibration_from: Enough { records: 20, seasons: 8 },
            ..Settings::new(vec![None; groups as usize], i32::MAX - 1000, i32::MAX)
        }
    }
}

#[derive(Default)]
struct Names {
    known: BTreeMap<String, u32>,
}

impl Names {
    fn of(&mut self, name: &str) -> u32 {
        let next = self.count();
        *self.known.entry(name.to_owned()).or_insert(next)
    }

    fn count(&self) -> u32 {
        u32::try_from(self.known.len()).unwrap_or(u32::MAX)
    }

    fn name(&self, number: u32) -> &str {
        self.known.iter().find(|(_, known)| **known == number).map_or("", |(name, _)| name)
    }
}

/// The fields of each line after the heading, with the line's number.
fn lines<'a, const N: usize>(
    text: &'a str,
    heading: [&str; N],
) -> Result<Vec<(usize, [&'a str; N])>, String> {
    let mut lines = text.lines().enumerate();
    let first = lines.next().map_or("", |(_, line)| line).trim_start_matches('\u{feff}').trim_end();
    if first.split(',').map(str::trim).ne(heading) {
        return Err(format!("the first line is {first:?}, not {:?}", heading.join(",")));
    }
    lines
        .filter(|(_, line)| !line.trim().is_empty())
        .map(|(at, line)| {
            let fields: Vec<&str> = line.split(',').map(|field| field.trim().trim_matches('"')).collect();
            <[&str; N]>::try_from(fields)
                .map(|fields| (at + 1, fields))
                .map_err(|fields| format!("line {} has {} fields, not {N}", at + 1, fields.len()))
        })
        .collect()
}

fn day(text: &str) -> Option<i32> {
    let mut parts = text.splitn(3, '-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    calendar::epoch_day(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?)
}

fn weather(text: &str, stations: &mut Names) -> Result<HashMap<u32, Vec<Reading>>, String> {
    let mut readings: HashMap<u32, Vec<Reading>> = HashMap::new();
    for (at, [station, date, min_c, max_c]) in lines(text, ["station", "date", "tmin_c", "tmax_c"])? {
        // A day without one of the two is a gap.
        if min_c.is_empty() || max_c.is_empty() {
            continue;
        }
        let number = |text: &str| text.parse::<f64>().map_err(|error| format!("line {at}: {text}: {error}"));
        let day = day(date).ok_or_else(|| format!("line {at}: {date} is not a date"))?;
        let reading = Reading { day, min_c: number(min_c)?, max_c: number(max_c)? };
        readings.entry(stations.of(station)).or_default().push(reading);
    }
    Ok(readings)
}

fn events(text: &str, start_day: i32, stations: &mut Names, groups: &mut Names) -> Result<Vec<Wait>, String> {
    let heading = ["station", "group", "season", "start_date", "event_date"];
    lines(text, heading)?
        .into_iter()
        .zip(0..)
        .map(|((at, [station, group, season, start, event]), number)| {
            let season: i32 = season.parse().map_err(|error| format!("line {at}: {season}: {error}"))?;
            let stop_day = if start.is_empty() {
                calendar::epoch_day(season, 1, 1).map(|first| first + start_day - 1)
            } else {
                day(start)
            };
            let mut seen = [None; STAGES];
            let event = day(event).ok_or_else(|| format!("line {at}: {event} is not a date"))?;
            for (stage, seen) in Stage::ALL.into_iter().zip(&mut seen) {
                *seen = (stage == Stage::ShowReady).then_some(event);
            }
            Ok(Wait {
                plant: number,
                group: groups.of(group),
                cultivar: 0,
                grower: stations.of(station),
                region: stations.of(station),
                environment: 0,
                place: stations.of(station),
                season,
                stop_day: stop_day.ok_or_else(|| format!("line {at}: {start} is not a date"))?,
                seen,
                looked_until: None,
            })
        })
        .collect()
}
