//! One forecast: the requirement met by the weather seen and the weather of past years ahead.

use std::collections::HashMap;
use std::ops::RangeInclusive;
use std::sync::Arc;

use chrono::{Datelike, NaiveDate};
use storksbill_db::rows::pooled::PooledPlant;
use storksbill_domain::ids::{CultivarId, MemberId, PlantId, RegionId};
use storksbill_domain::words::{DiaryKind, Environment, PlantGroup};
use storksbill_forecast::condition::{ConditionDay, Seen, show_condition};
use storksbill_forecast::fit::{self, Requirement};
use storksbill_forecast::predict::{DateDistribution, PredictError, stage_date};
use storksbill_forecast::series::HeatTable;
use storksbill_forecast::stages::{Outlook, Stage};
use storksbill_forecast::traces::Future;

use super::cold;
use super::dto::{About, Basis, ConditionOut, DayChance, ForecastOut, RequirementOut, StageSeen, WeatherOut};
use super::pooled::{Kind, Pooled, date_of, epoch_day};
use super::waits::{FLOWERING, Flowering, LONGEST_WAIT, stage_of};
use crate::http::problem::{Code, Problem};
use crate::season::reckon::days_late;

/// Days ahead that are reckoned, from today or the stop, whichever is later.
pub(super) const HORIZON: i32 = 250;

/// A plant to forecast, one that is held or one that is imagined.
#[derive(Debug, Clone)]
pub(super) struct Subject {
    pub(super) plant_id: Option<PlantId>,
    pub(super) cultivar: Option<(CultivarId, String)>,
    pub(super) plant_group: PlantGroup,
    /// Its grower, where the grower asks.
    pub(super) grower: Option<MemberId>,
    pub(super) region_id: RegionId,
    pub(super) environment: Environment,
    pub(super) heated_to_c: Option<f64>,
    pub(super) flowering: Flowering,
}

impl Subject {
    /// A plant on the bench, as `asker` may know it.
    pub(super) fn of_plant(plant: PooledPlant, flowering: Flowering, asker: MemberId) -> Self {
        Self {
            plant_id: Some(plant.id),
            cultivar: Some((plant.cultivar_id, plant.cultivar_name)),
            plant_group: plant.plant_group,
            grower: Some(plant.owner_id).filter(|owner| *owner == asker),
            region_id: plant.region_id,
            environment: plant.environment,
            heated_to_c: plant.heated_to_c,
            flowering,
        }
    }

    pub(super) fn kind(&self) -> Kind {
        Kind {
            group: self.plant_group,
            cultivar: self.cultivar.as_ref().map(|(id, _)| *id),
            grower: self.grower,
            region: self.region_id,
            environment: self.environment,
        }
    }
}

/// What of a forecast is told.
#[derive(Debug, Clone, Default)]
pub(super) struct Wanted {
    pub(super) by_day: bool,
    pub(super) condition: Option<RangeInclusive<NaiveDate>>,
}

/// What forecasts of one question share: the days ahead of a place from a stop, and its season's standing.
#[derive(Debug)]
pub(super) struct Desk<'a> {
    pooled: &'a Pooled,
    as_of: NaiveDate,
    futures: HashMap<FutureKey, Arc<Future>>,
    standings: HashMap<(RegionId, Environment, Option<u64>), Option<f64>>,
}

/// Place, base and stop.
type FutureKey = (RegionId, Environment, Option<u64>, u64, i32);

/// What the model makes of one plant.
#[derive(Debug)]
pub(super) struct Reckoned {
    pub(super) requirement: Requirement,
    pub(super) table: Arc<HeatTable>,
    pub(super) future: Arc<Future>,
    pub(super) outlook: Outlook,
    pub(super) seen: Seen,
    /// Its group needs cold to set buds, and it was stopped before it had had enough.
    pub(super) cold_need_unmet: bool,
}

impl<'a> Desk<'a> {
    pub(super) fn new(pooled: &'a Pooled, as_of: NaiveDate) -> Self {
        Self { pooled, as_of, futures: HashMap::new(), standings: HashMap::new() }
    }

    /// The plant's requirement, its weather, and what the stages already seen make of it.
    pub(super) fn reckon(&mut self, subject: &Subject) -> Result<Reckoned, Problem> {
        if self.as_of - subject.flowering.stopped_on > LONGEST_WAIT {
            return Err(Problem::new(
                Code::NoForecast,
                "It was last stopped too long ago to tell. Record this season's stopping in its diary, or ask with `stopped_on`.",
            ));
        }
        let stop = epoch_day(subject.flowering.stopped_on);
        let cold_need_unmet = self.cold_need_unmet(subject, stop);
        let requirement = self.pooled.requirement(&subject.kind(), Some(subject.flowering.stopped_on))?;
        let requirement = if cold_need_unmet { cold::widened(requirement) } else { requirement };
        let (table, future) = self.future(subject, requirement.base_c, stop)?;
        let today = epoch_day(self.as_of);
        let stages = self.pooled.stages(subject.plant_group);
        let outlook = Outlook::new(requirement.mean_log, requirement.sd_log(), &stages)
            .map_err(|error| no_date(&error))?;
        let outlook = after_sightings(outlook, &subject.flowering, &table, today);
        let ready = subject.flowering.seen_on(Stage::ShowReady).is_some_and(|day| day <= self.as_of);
        let seen = if ready { Seen::InCondition } else { Seen::NotReady };
        Ok(Reckoned { requirement, table, future, outlook, seen, cold_need_unmet })
    }

    /// The heat of the subject's place above a base, and the days ahead of a stop there.
    pub(super) fn future(
        &mut self,
        subject: &Subject,
        base_c: f64,
        stop: i32,
    ) -> Result<(Arc<HeatTable>, Arc<Future>), Problem> {
        let (region, environment, heated) = (subject.region_id, subject.environment, subject.heated_to_c);
        let table = self.pooled.table_above(region, environment, heated, base_c)?;
        let key = (region, environment, heated.map(f64::to_bits), base_c.to_bits(), stop);
        if let Some(future) = self.futures.get(&key) {
            return Ok((table, Arc::clone(future)));
        }
        let today = epoch_day(self.as_of);
        let future = Future::ahead(&table, stop, today, today.max(stop) + HORIZON).map_err(|error| {
            Problem::new(Code::NoWeather, format!("The days ahead cannot be laid out: {error}."))
        })?;
        let future = Arc::new(future);
        self.futures.insert(key, Arc::clone(&future));
        Ok((table, future))
    }

    /// Whether a plant of the subject's group and place lacks the cold it needs if it is stopped on `stop`.
    pub(super) fn cold_need_unmet(&self, subject: &Subject, stop: i32) -> bool {
        let place = (subject.region_id, subject.environment, subject.heated_to_c);
        cold::unmet(self.pooled, subject.plant_group, place, epoch_day(self.as_of), stop)
    }

    /// The forecast for `subject`.
    pub(super) fn forecast(&mut self, subject: Subject, wanted: &Wanted) -> Result<ForecastOut, Problem> {
        let as_of = self.as_of;
        let reckoned = self.reckon(&subject)?;
        let Reckoned { requirement, table, future, outlook, seen, cold_need_unmet } = &reckoned;
        let ready_on = subject.flowering.seen_on(Stage::ShowReady).filter(|day| *day <= as_of);
        let over_on = subject.flowering.seen_on(Stage::PastBest).filter(|day| *day <= as_of);
        let dates = match (ready_on, over_on) {
            (None, None) => {
                Some(stage_date(future, outlook, Stage::ShowReady).map_err(|error| no_date(&error))?)
            }
            _ => None,
        };
        let past_best = over_on.or_else(|| {
            // A date that the model gives no chance is not told.
            let dates: Result<DateDistribution, PredictError> = stage_date(future, outlook, Stage::PastBest);
            dates.ok()?.p50.and_then(date_of)
        });
        let condition = match (&wanted.condition, over_on) {
            (Some(days), None) => condition(future, outlook, *seen, days, as_of)?,
            _ => Vec::new(),
        };
        let day = |of: fn(&DateDistribution) -> Option<i32>| dates.as_ref().and_then(of).and_then(date_of);
        let (p10, p50, p90) = (day(|dates| dates.p10), day(|dates| dates.p50), day(|dates| dates.p90));
        let (p25, p75) = (day(|dates| dates.p25), day(|dates| dates.p75));
        let mut words = words(ready_on, over_on, past_best, [p10, p50, p90], requirement);
        if *cold_need_unmet && ready_on.is_none() && over_on.is_none() {
            words.push_str(cold::STOPPED_TOO_WARM);
        }
        Ok(ForecastOut {
            words,
            cold_need_unmet: *cold_need_unmet,
            plant_id: subject.plant_id,
            cultivar_id: subject.cultivar.as_ref().map(|(id, _)| *id),
            plant_group: subject.plant_group,
            region_id: subject.region_id,
            environment: subject.environment,
            heated_to_c: subject.heated_to_c,
            stopped_on: subject.flowering.stopped_on,
            as_of,
            ready_on,
            p10,
            p25,
            p50,
            p75,
            p90,
            beyond: dates.as_ref().map_or(0.0, |dates| dates.beyond_horizon.clamp(0.0, 1.0)),
            past_best_p50: past_best,
            last_seen: last_seen(&subject.flowering, as_of),
            by_day: dates.as_ref().filter(|_| wanted.by_day).map(by_day).unwrap_or_default(),
            condition,
            weather: weather(table, future),
            requirement: self.requirement_out(requirement, &subject),
            season_days_late: self.season_days_late(&subject),
            fit: self.pooled.fit_version,
            cultivar_name: subject.cultivar.map(|(_, name)| name),
        })
    }

    fn season_days_late(&mut self, subject: &Subject) -> Option<f64> {
        let (region, environment, heated) = (subject.region_id, subject.environment, subject.heated_to_c);
        let (pooled, today) = (self.pooled, epoch_day(self.as_of));
        *self.standings.entry((region, environment, heated.map(f64::to_bits))).or_insert_with(|| {
            let table = pooled.table(region, environment, heated).ok()?;
            days_late(&table, today).map(|standing| standing.days_late)
        })
    }

    pub(super) fn requirement_out(&self, requirement: &Requirement, subject: &Subject) -> RequirementOut {
        let (basis, support) = match requirement.basis {
            fit::Basis::Cultivar => (Basis::Cultivar, requirement.cultivar),
            fit::Basis::Group => (Basis::Group, requirement.group),
            fit::Basis::Handbook => (Basis::Handbook, requirement.group),
        };
        RequirementOut {
            degree_days: requirement.degree_days(),
            spread_factor: requirement.sd_log().exp(),
            basis,
            base_c: requirement.base_c,
            own_pace: subject.grower.and_then(|grower| self.pooled.own_pace(grower)).map(f64::exp),
            records: About::of(support.records),
            growers: About::of(support.growers),
        }
    }
}

pub(super) fn no_date(error: &impl std::fmt::Display) -> Problem {
    Problem::new(Code::NoForecast, format!("No date can be given: {error}."))
}

/// The outlook after the stages the diary has, as far as the weather of those days is known.
fn after_sightings(outlook: Outlook, flowering: &Flowering, table: &HeatTable, today: i32) -> Outlook {
    let stop = epoch_day(flowering.stopped_on);
    Stage::ALL.into_iter().fold(outlook, |outlook, stage| {
        let day = flowering.seen_on(stage).map(epoch_day).filter(|day| *day <= today);
        let after = day.and_then(|day| {
            let before = table.between(stop, day - 1).filter(|heat| *heat > 0.0)?;
            outlook.given_day(stage, before.ln(), table.between(stop, day)?.ln()).ok()
        });
        after.unwrap_or(outlook)
    })
}

pub(super) fn last_seen(flowering: &Flowering, as_of: NaiveDate) -> Option<StageSeen> {
    let seen = |kind: &DiaryKind| {
        let day = flowering.seen_on(stage_of(*kind)?).filter(|day| *day <= as_of)?;
        Some(StageSeen { stage: *kind, day })
    };
    FLOWERING.iter().filter_map(seen).next_back()
}

fn by_day(dates: &DateDistribution) -> Vec<DayChance> {
    (dates.first_day..)
        .zip(&dates.cumulative)
        .filter_map(|(day, ready_by)| Some(DayChance { day: date_of(day)?, ready_by: *ready_by }))
        .collect()
}

/// The chances of the days asked for that are still to come and within the days reckoned.
pub(super) fn condition(
    future: &Future,
    outlook: &Outlook,
    seen: Seen,
    days: &RangeInclusive<NaiveDate>,
    as_of: NaiveDate,
) -> Result<Vec<ConditionOut>, Problem> {
    let first = epoch_day(*days.start()).max(epoch_day(as_of) + 1);
    let last = epoch_day(*days.end()).min(future.last_day);
    if last < first {
        return Ok(Vec::new());
    }
    let told = show_condition(future, outlook, seen, first..=last).map_err(|error| no_date(&error))?;
    Ok(told.iter().filter_map(condition_out).collect())
}

fn condition_out(told: &ConditionDay) -> Option<ConditionOut> {
    let day = date_of(told.day)?;
    Some(ConditionOut { day, too_early: told.too_early, ready: told.ready, over: told.over })
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

fn words(
    ready_on: Option<NaiveDate>,
    over_on: Option<NaiveDate>,
    past_best: Option<NaiveDate>,
    [p10, p50, p90]: [Option<NaiveDate>; 3],
    requirement: &Requirement,
) -> String {
    if let Some(day) = over_on {
        return format!("Its diary has it past its best since {}.", plain(day));
    }
    if let Some(day) = ready_on {
        let until = past_best.map_or(String::new(), |day| format!(" Past its best about {}.", plain(day)));
        return format!("Its diary has it show-ready on {}.{until}", plain(day));
    }
    let grounds = match requirement.basis {
        fit::Basis::Cultivar => "members' records of this cultivar",
        fit::Basis::Group => "members' records of its plant group",
        fit::Basis::Handbook => "growers' rules of thumb, for want of members' records",
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
