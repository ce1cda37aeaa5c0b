//! All of a member's plants before a show.

use std::cmp::Ordering;
use std::collections::{BTreeMap, HashMap};

use actix_web::{get, web};
use chrono::NaiveDate;
use storksbill_db::rows::pooled::{self as rows, PooledPlant};
use storksbill_domain::ids::{MemberId, PlantId, RegionId};
use storksbill_domain::words::{DiaryKind, Environment, PlantGroup};
use storksbill_forecast::condition::Seen;
use storksbill_forecast::predict::stage_date;
use storksbill_forecast::several_plants::{SharedChances, at_least};
use storksbill_forecast::stages::Stage;

use super::ahead::{Desk, HORIZON, Reckoned, Subject, condition, last_seen, plain};
use super::dto::{ConditionOut, GroupPlan, PlanState, PlannedPlant, ShowPlanOut, ShowQuestion};
use super::pooled::{Pooled, PooledRecords, date_of, epoch_day};
use super::stops::{USUAL_CHANCE, as_query, backwards, percent, show_day, stopping};
use super::waits::{FLOWERING, Flowering, LONGEST_WAIT, by_plant};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Findings;
use crate::http::problem::{Code, Problem, ProblemOut};
use crate::http::reply::Reply;

/// Plants told at most.
const MOST_PLANTS: i64 = 500;
/// A stop with a smaller chance is not advised.
const WORTH_STOPPING: f64 = 0.1;

/// How will my plants stand on the day of a show?
///
/// Your own plants, private ones too: for each the chance that on that day it is still too early, in show
/// condition or past its best, and what to do. Those with the greatest chance come first; at most 500 are told.
/// For each plant group, the chance that at least one, two or three are in condition. Plants of a group share
/// the weather and what the model says they have in common, taken to be alike for all of them; an entry counts
/// as one plant. Stops are advised only for plants that were not stopped for this show.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    params(ShowQuestion),
    responses(
        (status = 200, description = "Your plants before the show", body = ShowPlanOut),
        (status = 404, description = "There is no such show, or you may not see it.", body = ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/forecasts/show-plan")]
pub async fn show_plan(
    auth: Auth,
    app: web::Data<App>,
    question: web::Query<ShowQuestion>,
) -> Result<Reply, Problem> {
    let (asker, as_of, question) = (auth.actor.clone(), app.clock.today(), question.into_inner());
    let show_id = question.show_id;
    let own = app
        .db
        .read(move |conn| {
            let mut found = Findings::default();
            let (named, days) = ((question.show_on, question.show_id), 1..=i64::from(HORIZON));
            let show_on = show_day(conn, &asker, named, (as_of, days), &mut found)?;
            as_query(found)?;
            let show_on =
                show_on.ok_or_else(|| Problem::new(Code::InvalidQuery, "Give the day of the show."))?;
            let plants = rows::own_plants(conn, asker.member, MOST_PLANTS + 1)?;
            let events = rows::own_events(conn, asker.member, &FLOWERING)?;
            Ok::<_, Problem>(Own { asker: asker.member, show_on, as_of, plants, events })
        })
        .await?;
    let pooled = PooledRecords::of(&app).await?;
    let told = web::block(move || told(&pooled, own, show_id)).await.map_err(|_stopping| stopping())?;
    Reply::ok(&told)
}

/// What the asker holds and has written down.
#[derive(Debug)]
struct Own {
    asker: MemberId,
    show_on: NaiveDate,
    as_of: NaiveDate,
    plants: Vec<(PooledPlant, Option<String>)>,
    events: Vec<(PlantId, NaiveDate, DiaryKind)>,
}

fn told(pooled: &Pooled, mut own: Own, show_id: Option<storksbill_domain::ids::ShowId>) -> ShowPlanOut {
    let most = usize::try_from(MOST_PLANTS).unwrap_or(usize::MAX);
    let more_plants = own.plants.len() > most;
    own.plants.truncate(most);
    let mut flowerings: HashMap<PlantId, Vec<Flowering>> = by_plant(&own.events).into_iter().collect();
    let mut bench = Bench {
        desk: Desk::new(pooled, own.as_of),
        pooled,
        asker: own.asker,
        show_on: own.show_on,
        as_of: own.as_of,
        stops: HashMap::new(),
    };
    let mut told: Vec<(PlannedPlant, f64)> = own
        .plants
        .into_iter()
        .map(|(plant, label)| {
            let known = flowerings.remove(&plant.id).unwrap_or_default();
            bench.plan(plant, label, &known)
        })
        .collect();
    let groups = groups(&told);
    told.sort_by(|(a, _), (b, _)| by_chance(a, b));
    let plants = told.into_iter().map(|(plant, _)| plant).collect();
    ShowPlanOut { show_id, show_on: own.show_on, as_of: own.as_of, plants, more_plants, groups }
}

/// The greatest chance first, those without one last, of equals the one entered first.
fn by_chance(a: &PlannedPlant, b: &PlannedPlant) -> Ordering {
    let ready = |plant: &PlannedPlant| plant.condition.map_or(-1.0, |condition| condition.ready);
    ready(b).total_cmp(&ready(a)).then_with(|| a.plant_id.cmp(&b.plant_id))
}

/// Whose stops are alike: a group in a place.
type KindKey = (PlantGroup, RegionId, Environment, Option<u64>);

/// The plants of one asker before one show.
#[derive(Debug)]
struct Bench<'a> {
    desk: Desk<'a>,
    pooled: &'a Pooled,
    asker: MemberId,
    show_on: NaiveDate,
    as_of: NaiveDate,
    /// What to do with a plant that was not stopped.
    stops: HashMap<KindKey, String>,
}

impl Bench<'_> {
    /// One plant, and the share of its spread that it has in common with the others.
    fn plan(
        &mut self,
        plant: PooledPlant,
        label: Option<String>,
        known: &[Flowering],
    ) -> (PlannedPlant, f64) {
        let mut out = PlannedPlant {
            plant_id: plant.id,
            label,
            cultivar_id: plant.cultivar_id,
            cultivar_name: plant.cultivar_name.clone(),
            plant_group: plant.plant_group,
            region_id: plant.region_id,
            environment: plant.environment,
            state: PlanState::NotStopped,
            condition: None,
            p50: None,
            stopped_on: None,
            last_seen: None,
            cold_need_unmet: false,
            advice: String::new(),
        };
        // A stop written down for a day to come is of no account yet; one too long before the show is of
        // another season.
        let last = known.iter().rfind(|flowering| {
            flowering.stopped_on <= self.as_of && self.show_on - flowering.stopped_on <= LONGEST_WAIT
        });
        let Some(flowering) = last else {
            out.advice = self.when_to_stop(&plant);
            return (out, 0.0);
        };
        out.stopped_on = Some(flowering.stopped_on);
        out.last_seen = last_seen(flowering, self.as_of);
        if flowering.seen_on(Stage::PastBest).is_some_and(|day| day <= self.as_of) {
            out.state = PlanState::Over;
            out.condition = Some(ConditionOut { day: self.show_on, too_early: 0.0, ready: 0.0, over: 1.0 });
            "It is past its best.".clone_into(&mut out.advice);
            return (out, 0.0);
        }
        let subject = Subject::of_plant(plant, *flowering, self.asker);
        match self.reckon(&subject, &mut out) {
            Ok(shared) => (out, shared),
            Err(problem) => {
                out.state = PlanState::Unknown;
                problem.detail().clone_into(&mut out.advice);
                (out, 0.0)
            }
        }
    }

    fn reckon(&mut self, subject: &Subject, out: &mut PlannedPlant) -> Result<f64, Problem> {
        let reckoned = self.desk.reckon(subject)?;
        let Reckoned { future, outlook, seen, .. } = &reckoned;
        let day = self.show_on..=self.show_on;
        let told = condition(future, outlook, *seen, &day, self.as_of)?;
        let condition = told.first().copied().ok_or_else(|| {
            Problem::new(Code::NoForecast, "The day of the show lies beyond the days reckoned.")
        })?;
        out.state = PlanState::Reckoned;
        out.condition = Some(condition);
        out.cold_need_unmet = reckoned.cold_need_unmet;
        out.p50 = match seen {
            Seen::InCondition => None,
            // Without a date the chances of the day stand all the same.
            Seen::NotReady => stage_date(future, outlook, Stage::ShowReady)
                .ok()
                .and_then(|dates| dates.p50)
                .and_then(date_of),
        };
        advice(&condition, *seen).clone_into(&mut out.advice);
        Ok(shared_part(&reckoned, epoch_day(self.show_on)))
    }

    /// Told for the plant's group, not its cultivar: a member may hold many cultivars that were not stopped, and
    /// each would cost a look at every day.
    fn when_to_stop(&mut self, plant: &PooledPlant) -> String {
        let place = (plant.region_id, plant.environment, plant.heated_to_c);
        let key = (plant.plant_group, place.0, place.1, place.2.map(f64::to_bits));
        if let Some(known) = self.stops.get(&key) {
            return known.clone();
        }
        let subject = Subject {
            plant_id: None,
            cultivar: None,
            plant_group: plant.plant_group,
            grower: Some(self.asker),
            region_id: place.0,
            environment: place.1,
            heated_to_c: place.2,
            flowering: Flowering { stopped_on: self.as_of, seen: Default::default() },
        };
        let days = (epoch_day(self.as_of), epoch_day(self.show_on));
        let found = backwards(&mut self.desk, self.pooled, &subject, days, USUAL_CHANCE);
        let best = found.map(|found| (date_of(found.window.best.stop_day), found.window.best.ready));
        let words = match best {
            Ok((Some(day), chance)) if chance >= WORTH_STOPPING => {
                let chance = percent(chance);
                format!(
                    "Not stopped for this show. For its group the best stop is {}: chance {chance}.",
                    plain(day)
                )
            }
            Err(problem) if problem.code == Code::NoWeather => {
                format!("Not stopped for this show. {}", problem.detail())
            }
            Ok(_) | Err(_) => "Not stopped for this show, and too late to stop now.".to_owned(),
        };
        self.stops.insert(key, words.clone());
        words
    }
}

fn advice(condition: &ConditionOut, seen: Seen) -> &'static str {
    let ConditionOut { too_early, ready, over, .. } = condition;
    match seen {
        Seen::InCondition if over > ready => "In condition now, and most likely over by then.",
        Seen::InCondition => "In condition now; leave it.",
        Seen::NotReady if ready >= too_early && ready >= over => "Leave it: most likely in condition then.",
        Seen::NotReady if too_early >= over => "Leave it: most likely still too early then.",
        Seen::NotReady => "Leave it: most likely over by then.",
    }
}

/// The share of the variance of the log heat that is not the plant's own: what its kind, grower and season have
/// in common, and the weather ahead. A sighting is taken to lessen both alike.
fn shared_part(reckoned: &Reckoned, show: i32) -> f64 {
    let Reckoned { requirement, future, .. } = reckoned;
    let at = usize::try_from(show - future.stop_day).unwrap_or(0);
    let logs: Vec<f64> =
        future.traces.iter().filter_map(|trace| Some(trace.cumulative.get(at)?.ln())).collect();
    let count = logs.len().max(1) as f64;
    let mean = logs.iter().sum::<f64>() / count;
    let weather = logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>() / count;
    let shared = requirement.shared_sd.powi(2) + weather;
    let whole = shared + requirement.own_sd.powi(2);
    // Warmth that is nought on the day leaves no number.
    if whole.is_finite() && whole > 0.0 { shared / whole } else { 0.0 }
}

fn groups(told: &[(PlannedPlant, f64)]) -> Vec<GroupPlan> {
    let mut by_group: BTreeMap<PlantGroup, (usize, Vec<SharedChances>)> = BTreeMap::new();
    for (plant, shared) in told {
        let (plants, chances) = by_group.entry(plant.plant_group).or_default();
        *plants += 1;
        chances.extend(
            plant.condition.map(|condition| SharedChances::new(condition.over, condition.ready, *shared)),
        );
    }
    by_group
        .into_iter()
        .map(|(plant_group, (plants, chances))| {
            let [one, two, three] = at_least(&chances);
            GroupPlan {
                plant_group,
                plants,
                reckoned: chances.len(),
                expected_ready: chances.iter().map(|chances| chances.ready).sum(),
                at_least_one: one,
                at_least_two: two,
                at_least_three: three,
            }
        })
        .collect()
}
