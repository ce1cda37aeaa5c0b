//! One forecast: the requirement met by the weather seen and the weather of past years ahead.

use chrono::{Datelike, NaiveDate};
use storksbill_domain::ids::{CultivarId, PlantId, RegionId};
use storksbill_domain::words::{Environment, PlantGroup};
use storksbill_forecast::pool::{self, Requirement};
use storksbill_forecast::predict::ready_date;
use storksbill_forecast::series::HeatTable;
use storksbill_forecast::traces::Future;

use super::dto::{About, Basis, ForecastOut, RequirementOut, WeatherOut};
use super::pooled::{LONGEST_WAIT, Pooled, date_of, epoch_day};
use crate::http::problem::{Code, Problem};
use crate::season::reckon::days_late;

/// Days ahead that are reckoned, from today or the stop, whichever is later.
const HORIZON: i32 = 250;

/// A plant to forecast, one that is held or one that is imagined.
#[derive(Debug, Clone)]
pub(super) struct Subject {
    pub(super) plant_id: Option<PlantId>,
    pub(super) cultivar: Option<(CultivarId, String)>,
    pub(super) plant_group: PlantGroup,
    pub(super) region_id: RegionId,
    pub(super) environment: Environment,
    pub(super) heated_to_c: Option<f64>,
    pub(super) stopped_on: NaiveDate,
    pub(super) ready_on: Option<NaiveDate>,
}

/// The forecast for `subject` as of `as_of`.
pub(super) fn forecast(pooled: &Pooled, subject: Subject, as_of: NaiveDate) -> Result<ForecastOut, Problem> {
    if as_of - subject.stopped_on > LONGEST_WAIT {
        return Err(Problem::new(
            Code::NoForecast,
            "It was last stopped too long ago to tell. Record this season's stopping in its diary, or ask with `stopped_on`.",
        ));
    }
    let table = pooled.table(subject.region_id, subject.environment, subject.heated_to_c)?;
    let requirement =
        pooled.requirement(subject.plant_group, subject.cultivar.as_ref().map(|(id, _)| *id))?;
    let (stop, today) = (epoch_day(subject.stopped_on), epoch_day(as_of));
    let future = Future::ahead(&table, stop, today, today.max(stop) + HORIZON).map_err(|error| {
        Problem::new(Code::NoWeather, format!("The days ahead cannot be laid out: {error}."))
    })?;
    let dates = ready_date(&future, requirement.mean_log, requirement.sd_log)
        .map_err(|error| Problem::new(Code::NoForecast, format!("No date can be given: {error}.")))?;
    let day = |day: Option<i32>| day.and_then(date_of).filter(|_| subject.ready_on.is_none());
    let (p10, p50, p90) = (day(dates.p10), day(dates.p50), day(dates.p90));
    let season_days_late = days_late(&table, today).map(|standing| standing.days_late);
    Ok(ForecastOut {
        words: words(&subject, p10, p50, p90, &requirement),
        plant_id: subject.plant_id,
        cultivar_id: subject.cultivar.as_ref().map(|(id, _)| *id),
        cultivar_name: subject.cultivar.map(|(_, name)| name),
        plant_group: subject.plant_group,
        region_id: subject.region_id,
        environment: subject.environment,
        heated_to_c: subject.heated_to_c,
        stopped_on: subject.stopped_on,
        as_of,
        ready_on: subject.ready_on,
        p10,
        p50,
        p90,
        beyond: if subject.ready_on.is_some() { 0.0 } else { dates.beyond_horizon.clamp(0.0, 1.0) },
        weather: weather(&table, &future),
        requirement: requirement_out(&requirement),
        season_days_late,
    })
}

fn weather(table: &HeatTable, future: &Future) -> WeatherOut {
    let observed_to = table.last_day().min(future.as_of);
    WeatherOut {
        observed_to: date_of(observed_to).unwrap_or_default(),
        years_ahead: future.traces.len(),
        filled_days: future.filled_days,
        heat_so_far: (future.stop_day..=observed_to).filter_map(|day| table.day_heat(day)).sum(),
    }
}

fn requirement_out(requirement: &Requirement) -> RequirementOut {
    let (basis, support) = match requirement.basis {
        pool::Basis::Cultivar => (Basis::Cultivar, requirement.cultivar),
        pool::Basis::Group => (Basis::Group, requirement.group),
        pool::Basis::Handbook => (Basis::Handbook, requirement.group),
    };
    RequirementOut {
        degree_days: requirement.degree_days,
        spread_factor: requirement.sd_log.exp(),
        basis,
        cultivar_weight: requirement.cultivar_weight,
        records: About::of(support.records),
        growers: About::of(support.growers),
    }
}

fn words(
    subject: &Subject,
    p10: Option<NaiveDate>,
    p50: Option<NaiveDate>,
    p90: Option<NaiveDate>,
    requirement: &Requirement,
) -> String {
    if let Some(day) = subject.ready_on {
        return format!("Its diary has it show-ready on {}.", plain(day));
    }
    let grounds = match requirement.basis {
        pool::Basis::Cultivar => "members' records of this cultivar",
        pool::Basis::Group => "members' records of its plant group",
        pool::Basis::Handbook => "growers' rules of thumb, for want of members' records",
    };
    let when = match (p10, p50, p90) {
        (Some(p10), Some(p50), Some(p90)) if p10 == p90 => {
            format!("Show-ready about {}", plain(p50))
        }
        (Some(p10), Some(p50), Some(p90)) => {
            format!("Show-ready about {}, most likely between {} and {}", plain(p50), plain(p10), plain(p90))
        }
        (Some(p10), Some(p50), None) => {
            format!("Show-ready about {}, hardly before {}", plain(p50), plain(p10))
        }
        (Some(p10), None, _) => {
            format!("Hardly show-ready before {}, and perhaps not this season", plain(p10))
        }
        (None, _, _) => "Not show-ready within the days that can be reckoned".to_owned(),
    };
    format!("{when}; from {grounds}.")
}

/// `12 June 2026`.
pub(super) fn plain(day: NaiveDate) -> String {
    format!("{} {} {}", day.day(), day.format("%B"), day.year())
}
