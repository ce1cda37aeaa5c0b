//! Planning backwards from a show: when to stop plants for it.

use std::ops::RangeInclusive;

use actix_web::{get, web};
use chrono::{NaiveDate, TimeDelta};
use storksbill_db::Conn;
use storksbill_db::rows::{places, pooled as rows, shows};
use storksbill_domain::ids::{CultivarId, MemberId, RegionId, ShowId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{Environment, PlantGroup};
use storksbill_forecast::fit::Requirement;
use storksbill_forecast::stages::StageModel;
use storksbill_forecast::stops::{
    EARLIEST_STOP, LATEST_STOP, Need, Spread, StopDay, StopWindow, days_to_stop, spread, window,
};
use storksbill_forecast::traces::Future;

use super::ahead::{Desk, Subject, no_date, plain};
use super::cold;
use super::dto::{BackwardsQuestion, DayRange, SpreadOut, StartChances, StartCount, StopsOut, WindowOut};
use super::pooled::{Pooled, PooledRecords, date_of, epoch_day};
use super::waits::Flowering;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Findings;
use crate::http::problem::{Code, Problem, ProblemOut};
use crate::http::reply::Reply;

/// A show may lie so many days ahead.
const FURTHEST_SHOW: i64 = 730;
/// Spreads are told for at most so many plants: the work grows with about their cube.
const MOST_PLANTS: usize = 20;
/// The chance asked for where none is given.
pub(super) const USUAL_CHANCE: f64 = 0.3;

/// When should plants be stopped for a show?
///
/// For each day that is left for the last stop, from today or 200 days before the show to 35 days before it, the
/// chance that a plant stopped on it is in show condition on the day of the show; the best day, and the days
/// about it that are good enough. With `plants` and `wanted`, on which days to stop so many plants so that at
/// least so many of them are in condition together, and the chance of that beside stopping all on one day. What
/// the plant takes is told as in the forecasts, and the asker's own pace counts.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    params(BackwardsQuestion),
    responses(
        (status = 200, description = "When to stop", body = StopsOut),
        (status = 404, description = "There is no such show, region or cultivar, or you may not see it.", body = ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/forecasts/stops")]
pub async fn when_to_stop(
    auth: Auth,
    app: web::Data<App>,
    question: web::Query<BackwardsQuestion>,
) -> Result<Reply, Problem> {
    let asked = Asked::of(&app, &auth.actor, question.into_inner()).await?;
    let pooled = PooledRecords::of(&app).await?;
    let told = web::block(move || told(&pooled, asked)).await.map_err(|_stopping| stopping())??;
    Reply::ok(&told)
}

pub(super) fn stopping() -> Problem {
    Problem::busy("The server is stopping; try again.")
}

/// A question that can be answered.
#[derive(Debug)]
pub(super) struct Asked {
    pub(super) show_id: Option<ShowId>,
    pub(super) show_on: NaiveDate,
    pub(super) as_of: NaiveDate,
    pub(super) region_id: RegionId,
    pub(super) environment: Environment,
    pub(super) heated_to_c: Option<f64>,
    pub(super) plant_group: PlantGroup,
    pub(super) cultivar: Option<(CultivarId, String)>,
    pub(super) at_least: f64,
    /// Plants, and how many of them are wanted.
    pub(super) numbers: Option<(usize, usize)>,
    asker: MemberId,
}

impl Asked {
    /// The question with what it names looked up. What cannot be asked is told all at once.
    pub(super) async fn of(app: &App, asker: &Actor, question: BackwardsQuestion) -> Result<Self, Problem> {
        let (as_of, asker) = (app.clock.today(), asker.clone());
        app.db.read(move |conn| Self::read(conn, &asker, as_of, &question)).await
    }

    fn read(
        conn: &mut Conn,
        asker: &Actor,
        as_of: NaiveDate,
        question: &BackwardsQuestion,
    ) -> Result<Self, Problem> {
        let mut found = Findings::default();
        let days = i64::from(LATEST_STOP)..=FURTHEST_SHOW;
        let show_on = show_day(
            conn,
            asker,
            (question.show_on.map(NaiveDate::from), question.show_id),
            (as_of, days),
            &mut found,
        )?;
        let region_id = region(conn, asker.member, question.region_id, &mut found)?;
        let cultivar = match question.cultivar_id {
            Some(id) => {
                let seen = rows::cultivar_visible_to(conn, asker, id)?;
                Some(seen.ok_or_else(|| Problem::not_found("cultivar"))?)
            }
            None => None,
        };
        let plant_group = cultivar.as_ref().map(|(_, _, group)| *group).or(question.plant_group);
        if plant_group.is_none() {
            found.add("plant_group", "required", "give plant_group or cultivar_id");
        }
        let environment = house(question.environment, question.heated_to_c, &mut found);
        let at_least = question.at_least.unwrap_or(USUAL_CHANCE);
        if !(at_least > 0.0 && at_least < 1.0) {
            found.add("at_least", "out-of-range", "must be above 0 and below 1");
        }
        let numbers = numbers(question, &mut found);
        as_query(found)?;
        let (Some(show_on), Some(region_id), Some(plant_group)) = (show_on, region_id, plant_group) else {
            return Err(Problem::new(Code::InvalidQuery, "Give show, region and plant group."));
        };
        Ok(Self {
            show_id: question.show_id,
            show_on,
            as_of,
            region_id,
            environment,
            heated_to_c: question.heated_to_c,
            plant_group,
            cultivar: cultivar.map(|(id, name, _)| (id, name)),
            at_least,
            numbers,
            asker: asker.member,
        })
    }

    /// Such a plant, stopped on a day.
    pub(super) fn subject(&self, stopped_on: NaiveDate) -> Subject {
        Subject {
            plant_id: None,
            cultivar: self.cultivar.clone(),
            plant_group: self.plant_group,
            grower: Some(self.asker),
            region_id: self.region_id,
            environment: self.environment,
            heated_to_c: self.heated_to_c,
            flowering: Flowering { stopped_on, seen: Default::default() },
        }
    }
}

/// The day of the show asked for, if it can be told from the question; a day that does not lie so many days
/// after `as_of` is noted.
pub(super) fn show_day(
    conn: &mut Conn,
    asker: &Actor,
    (show_on, show_id): (Option<NaiveDate>, Option<ShowId>),
    (as_of, days): (NaiveDate, RangeInclusive<i64>),
    found: &mut Findings,
) -> Result<Option<NaiveDate>, Problem> {
    let named = if show_id.is_some() { "show_id" } else { "show_on" };
    let held_on = match show_id {
        None => show_on,
        Some(id) => {
            let show = shows::find(conn, id)?
                .filter(|show| show.published_at.is_some() || asker.acts_for(show.club_id))
                .ok_or_else(|| Problem::not_found("show"))?;
            Some(show.held_on)
        }
    };
    match held_on {
        None => found.add("show_on", "required", "give the day of the show, or show_id"),
        Some(_) if show_on.is_some() && show_id.is_some() => {
            found.add("show_on", "not-together", "give show_on or show_id, not both");
        }
        Some(day) if !days.contains(&(day - as_of).num_days()) => {
            let [first, last] = [days.start(), days.end()].map(|days| as_of + TimeDelta::days(*days));
            let detail = format!("the show must be from {first} to {last}; it is on {day}");
            found.add(named, "out-of-range", detail);
        }
        Some(_) => {}
    }
    Ok(held_on)
}

fn region(
    conn: &mut Conn,
    asker: MemberId,
    named: Option<RegionId>,
    found: &mut Findings,
) -> Result<Option<RegionId>, Problem> {
    if let Some(id) = named {
        let known = places::region(conn, id)?.ok_or_else(|| Problem::not_found("region"))?;
        return Ok(Some(known.id));
    }
    if let [one] = rows::own_regions(conn, asker)?.as_slice() {
        return Ok(Some(*one));
    }
    found.add("region_id", "required", "say where: your own plants do not all stand in one region");
    Ok(None)
}

/// Where such plants stand: frost-free where that is not said. The temperature kept belongs to a heated house,
/// from 0 to 35 degrees C.
pub(super) fn house(
    environment: Option<Environment>,
    heated_to_c: Option<f64>,
    found: &mut Findings,
) -> Environment {
    let environment = environment.unwrap_or(Environment::FrostFree);
    match (environment, heated_to_c) {
        (Environment::Heated, None) => found.add("heated_to_c", "required", "goes with environment=heated"),
        (Environment::Heated, Some(least)) => found.range("heated_to_c", least, 0.0, 35.0),
        (_, None) => {}
        (_, Some(_)) => found.add("heated_to_c", "out-of-range", "goes with environment=heated alone"),
    }
    environment
}

fn numbers(question: &BackwardsQuestion, found: &mut Findings) -> Option<(usize, usize)> {
    match (question.plants, question.wanted) {
        (None, None) => None,
        (None, Some(_)) => {
            found.add("plants", "required", "say of how many plants so many are wanted");
            None
        }
        (Some(plants), wanted) => {
            let wanted = wanted.unwrap_or(1);
            found.range("plants", plants, 1, MOST_PLANTS);
            found.range("wanted", wanted, 1, plants.clamp(1, MOST_PLANTS));
            Some((plants, wanted))
        }
    }
}

/// All findings as those of a query, or none.
pub(super) fn as_query(found: Findings) -> Result<(), Problem> {
    found.into_result().map_err(|mut problem| {
        problem.code = Code::InvalidQuery;
        problem
    })
}

/// When to stop one plant of a kind, and what that was reckoned from.
#[derive(Debug)]
pub(super) struct Backwards {
    pub(super) requirement: Requirement,
    pub(super) cold_need_unmet: bool,
    pub(super) window: StopWindow,
    future: std::sync::Arc<Future>,
    model: StageModel,
}

/// When to stop such a plant for a show.
pub(super) fn backwards(
    desk: &mut Desk<'_>,
    pooled: &Pooled,
    subject: &Subject,
    (today, show): (i32, i32),
    at_least: f64,
) -> Result<Backwards, Problem> {
    let first = days_to_stop(today, show)
        .map(|days| *days.start())
        .ok_or_else(|| Problem::new(Code::NoForecast, "No day is left to stop a plant for this show."))?;
    let requirement = pooled.requirement(&subject.kind(), date_of(first))?;
    let (_, future) = desk.future(subject, requirement.base_c, first)?;
    let model = pooled.stages(subject.plant_group);
    let reckon = |requirement: &Requirement| {
        window(&future, show, &need(requirement), &model, at_least).map_err(|error| no_date(&error))
    };
    let plain = reckon(&requirement)?;
    // The cold is looked for at the best stop alone: it counts for all days or for none.
    let cold_need_unmet = desk.cold_need_unmet(subject, plain.best.stop_day);
    let (requirement, window) = if cold_need_unmet {
        let requirement = cold::widened(requirement);
        (requirement, reckon(&requirement)?)
    } else {
        (requirement, plain)
    };
    Ok(Backwards { requirement, cold_need_unmet, window, future, model })
}

fn need(requirement: &Requirement) -> Need {
    Need { mean_log: requirement.mean_log, shared_sd: requirement.shared_sd, own_sd: requirement.own_sd }
}

fn told(pooled: &Pooled, asked: Asked) -> Result<StopsOut, Problem> {
    let mut desk = Desk::new(pooled, asked.as_of);
    let subject = asked.subject(asked.as_of);
    let (today, show) = (epoch_day(asked.as_of), epoch_day(asked.show_on));
    let found = backwards(&mut desk, pooled, &subject, (today, show), asked.at_least)?;
    let spread = spread_out(&found.future, show, &need(&found.requirement), &found.model, asked.numbers)?;
    let window = window_out(&found.window, asked.at_least)?;
    let mut words = words(&window, spread.as_ref(), asked.show_on, Act::Stop);
    if found.cold_need_unmet {
        words.push_str(cold::STOP_TOO_WARM);
    }
    let (cultivar_id, cultivar_name) = asked.cultivar.unzip();
    Ok(StopsOut {
        show_id: asked.show_id,
        show_on: asked.show_on,
        as_of: asked.as_of,
        plant_group: asked.plant_group,
        cultivar_id,
        cultivar_name,
        region_id: asked.region_id,
        environment: asked.environment,
        heated_to_c: asked.heated_to_c,
        window,
        spread,
        requirement: desk.requirement_out(&found.requirement, &subject),
        cold_need_unmet: found.cold_need_unmet,
        years_ahead: found.future.traces.len(),
        fit: pooled.fit_version,
        words,
    })
}

/// A day that the calendar has; every day reckoned is one.
fn calendar_day(day: i32) -> Result<NaiveDate, Problem> {
    date_of(day).ok_or_else(|| Problem::new(Code::NoForecast, "That lies beyond the calendar."))
}

fn chances(told: &StopDay) -> Result<StartChances, Problem> {
    let day = calendar_day(told.stop_day)?;
    Ok(StartChances { day, too_early: told.too_early, ready: told.ready, over: told.over.max(0.0) })
}

pub(super) fn window_out(window: &StopWindow, at_least: f64) -> Result<WindowOut, Problem> {
    let range = |(first, last): (i32, i32)| {
        Ok::<_, Problem>(DayRange { first: calendar_day(first)?, last: calendar_day(last)? })
    };
    Ok(WindowOut {
        best: chances(&window.best)?,
        at_least,
        chosen: window.chosen.map(range).transpose()?,
        near_best: range(window.near_best)?,
        one_plant_is_enough: window.one_plant_is_enough,
        days: window.days.iter().map(chances).collect::<Result<_, _>>()?,
    })
}

/// The spread of so many plants, where it is asked.
pub(super) fn spread_out(
    future: &Future,
    show: i32,
    need: &Need,
    model: &StageModel,
    numbers: Option<(usize, usize)>,
) -> Result<Option<SpreadOut>, Problem> {
    let Some((plants, wanted)) = numbers else { return Ok(None) };
    let Spread { stops, at_least_wanted, expected_ready, one_day, one_day_at_least_wanted } =
        spread(future, show, need, model, plants, wanted).map_err(|error| no_date(&error))?;
    let starts = stops
        .into_iter()
        .map(|(day, plants)| Ok(StartCount { day: calendar_day(day)?, plants }))
        .collect::<Result<_, Problem>>()?;
    Ok(Some(SpreadOut {
        plants,
        wanted,
        starts,
        at_least_wanted,
        expected_ready,
        one_day: calendar_day(one_day)?,
        one_day_at_least_wanted,
    }))
}

/// What is done on the day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Act {
    Stop,
    Disbud,
}

impl Act {
    fn verb(self) -> &'static str {
        match self {
            Self::Stop => "Stop",
            Self::Disbud => "Disbud",
        }
    }

    fn noun(self) -> &'static str {
        match self {
            Self::Stop => "stop",
            Self::Disbud => "disbudding",
        }
    }
}

/// Below this the best chance is not worth a recommendation.
const POOR: f64 = 0.05;
/// A spread that gains less than this is not worth the trouble.
const WORTH_SPREADING: f64 = 0.005;

/// The answer in words.
pub(super) fn words(window: &WindowOut, spread: Option<&SpreadOut>, show_on: NaiveDate, act: Act) -> String {
    let (verb, noun) = (act.verb(), act.noun());
    let (best, chance) = (plain(window.best.day), percent(window.best.ready));
    let show = plain(show_on);
    let mut words = if window.best.ready < POOR {
        format!("No {noun} that is left gives a fair chance for {show}: the best, {best}, gives {chance}.")
    } else if window.one_plant_is_enough {
        let DayRange { first, last } = window.near_best;
        let near = if first == last {
            String::new()
        } else {
            format!(" From {} to {} the chance is nearly as good.", plain(first), plain(last))
        };
        format!("{verb} about {best}: its chance of show condition on {show} is then {chance}.{near}")
    } else {
        format!(
            "One plant cannot be timed well: at the best {noun}, {best}, its chance on {show} is {chance}. {verb} several, some days apart."
        )
    };
    if window.chosen.is_none() {
        let asked = percent(window.at_least);
        words.extend([" No ", noun, " that is left gives the ", &asked, " asked for."]);
    }
    if let Some(spread) = spread {
        words.push_str(&spread_words(spread, act));
    }
    words
}

fn spread_words(spread: &SpreadOut, act: Act) -> String {
    let SpreadOut { plants, wanted, at_least_wanted, one_day, one_day_at_least_wanted, .. } = spread;
    let chance = percent(*at_least_wanted);
    if at_least_wanted - one_day_at_least_wanted < WORTH_SPREADING {
        let all = if *plants == 1 { "The plant" } else { "All of them" };
        let best = plain(*one_day);
        return format!(" {all} on {best}: at least {wanted} of {plants} ready with a chance of {chance}.");
    }
    let starts: Vec<String> =
        spread.starts.iter().map(|start| format!("{} on {}", start.plants, plain(start.day))).collect();
    let verb = act.verb();
    format!(
        " {verb} {}: at least {wanted} of {plants} are then ready together with a chance of {chance}, against {} with all on {}.",
        starts.join(", "),
        percent(*one_day_at_least_wanted),
        plain(*one_day)
    )
}

/// A chance as it is said: never as certain.
pub(super) fn percent(chance: f64) -> String {
    if chance < 0.005 {
        "under 1 %".to_owned()
    } else if chance >= 0.995 {
        "over 99 %".to_owned()
    } else {
        format!("{:.0} %", 100.0 * chance)
    }
}

// The words name the limits that the kernel keeps.
const _: () = assert!(EARLIEST_STOP == 200 && LATEST_STOP == 35);

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn best_of(ready: f64, chosen: bool) -> WindowOut {
        let best = StartChances { day: day("2026-03-12"), too_early: 0.0, ready, over: 1.0 - ready };
        let near_best = DayRange { first: day("2026-03-05"), last: day("2026-03-20") };
        WindowOut {
            best,
            at_least: 0.3,
            chosen: chosen.then_some(near_best),
            near_best,
            one_plant_is_enough: ready >= 0.5,
            days: vec![best],
        }
    }

    #[test]
    fn a_poor_best_day_is_called_so_and_a_middling_one_asks_for_several_plants() {
        let say = |window: &WindowOut| words(window, None, day("2026-07-04"), Act::Stop);
        assert_eq!(
            say(&best_of(0.43, true)),
            "One plant cannot be timed well: at the best stop, 12 March 2026, its chance on 4 July 2026 is 43 %. Stop several, some days apart."
        );
        assert_eq!(
            say(&best_of(0.62, true)),
            "Stop about 12 March 2026: its chance of show condition on 4 July 2026 is then 62 %. From 5 March 2026 to 20 March 2026 the chance is nearly as good."
        );
        assert_eq!(
            say(&best_of(0.002, false)),
            "No stop that is left gives a fair chance for 4 July 2026: the best, 12 March 2026, gives under 1 %. No stop that is left gives the 30 % asked for."
        );
    }

    #[test]
    fn a_spread_is_told_only_where_it_gains() {
        let spread = |one_day_at_least_wanted| SpreadOut {
            plants: 4,
            wanted: 2,
            starts: vec![
                StartCount { day: day("2026-03-05"), plants: 2 },
                StartCount { day: day("2026-03-14"), plants: 2 },
            ],
            at_least_wanted: 0.71,
            expected_ready: 1.9,
            one_day: day("2026-03-10"),
            one_day_at_least_wanted,
        };
        assert_eq!(
            spread_words(&spread(0.6), Act::Disbud),
            " Disbud 2 on 5 March 2026, 2 on 14 March 2026: at least 2 of 4 are then ready together with a chance of 71 %, against 60 % with all on 10 March 2026."
        );
        assert_eq!(
            spread_words(&spread(0.709), Act::Stop),
            " All of them on 10 March 2026: at least 2 of 4 ready with a chance of 71 %."
        );
    }

    #[test]
    fn no_chance_is_said_to_be_certain() {
        assert_eq!(
            [0.0, 0.004, 0.006, 0.5, 0.996, 1.0].map(percent),
            ["under 1 %", "under 1 %", "1 %", "50 %", "over 99 %", "over 99 %"]
        );
    }
}
