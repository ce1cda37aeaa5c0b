//! Planning backwards from a show: when to take off buds for it.

use std::collections::{BTreeMap, HashMap, HashSet};

use actix_web::{get, web};
use chrono::NaiveDate;
use storksbill_db::rows::pooled::{self as rows, PooledPlant};
use storksbill_domain::ids::{MemberId, PlantId};
use storksbill_domain::words::DiaryKind;
use storksbill_forecast::fit::{Requirement, Spreads, Support};
use storksbill_forecast::stages::{Stage, StageModel};
use storksbill_forecast::stops::{Need, days_to_stop, window};

use super::ahead::{Desk, no_date};
use super::dto::{About, BackwardsQuestion, DisbuddingNeed, DisbuddingOut};
use super::pooled::{Pooled, PooledRecords, date_of, epoch_day};
use super::stops::{Act, Asked, spread_out, stopping, window_out, words};
use super::waits::{FLOWERING, Flowering, by_plant};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem, ProblemOut};
use crate::http::reply::Reply;

/// When should plants be disbudded for a show?
///
/// As for stops, counted from the day buds are taken off. The warmth from the last disbudding before show-ready
/// is learnt from members' shared diaries of the plant group. Growers weigh by their number of records, the less
/// the more they have; the spread of plants is drawn to that of the forecasts as if by eight records. Where
/// fewer than five growers or eight records stand behind it, or one grower holds more than two fifths of them,
/// nothing is told. A cultivar asked for stands for its group. Days nearer to the show than 35 days are not
/// considered.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    params(BackwardsQuestion),
    responses(
        (status = 200, description = "When to disbud", body = DisbuddingOut),
        (status = 404, description = "There is no such show, region or cultivar, or you may not see it.", body = ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/forecasts/disbudding")]
pub async fn disbudding(
    auth: Auth,
    app: web::Data<App>,
    question: web::Query<BackwardsQuestion>,
) -> Result<Reply, Problem> {
    let asked = Asked::of(&app, &auth.actor, question.into_inner()).await?;
    let group = asked.plant_group;
    let diaries = app
        .db
        .read(move |conn| {
            Ok::<_, Problem>(Diaries {
                plants: rows::shared_plants_of_group(conn, group)?,
                flowering: rows::shared_events_of_group(conn, group, &FLOWERING)?,
                disbudded: rows::shared_events_of_group(conn, group, &[DiaryKind::Disbudding])?,
            })
        })
        .await?;
    let pooled = PooledRecords::of(&app).await?;
    let told =
        web::block(move || told(&pooled, &asked, &diaries)).await.map_err(|_stopping| stopping())??;
    Reply::ok(&told)
}

/// What growers shared of a group.
#[derive(Debug)]
struct Diaries {
    plants: Vec<PooledPlant>,
    flowering: Vec<(PlantId, NaiveDate, DiaryKind)>,
    disbudded: Vec<(PlantId, NaiveDate, DiaryKind)>,
}

fn told(pooled: &Pooled, asked: &Asked, diaries: &Diaries) -> Result<DisbuddingOut, Problem> {
    let subject = asked.subject(asked.as_of);
    let (today, show) = (epoch_day(asked.as_of), epoch_day(asked.show_on));
    let first = days_to_stop(today, show)
        .map(|days| *days.start())
        .ok_or_else(|| Problem::new(Code::NoForecast, "No day is left to disbud a plant for this show."))?;
    let whole = pooled.requirement(&subject.kind(), date_of(first))?;
    let waits = waits(pooled, diaries, whole.base_c, asked.as_of);
    let support = support(&waits);
    if !pooled.may_show(&support) {
        return Err(Problem::new(
            Code::NoForecast,
            "Too few members' shared diaries tell of disbudding in this plant group to say how long it takes.",
        ));
    }
    let need = learn(&waits, &pooled.parameters().spreads)
        .ok_or_else(|| Problem::new(Code::NoForecast, "The diaries give no usable figure."))?;
    let (_, future) = Desk::new(pooled, asked.as_of).future(&subject, whole.base_c, first)?;
    let model = since_disbudding(&pooled.stages(asked.plant_group), &whole, &need);
    let found = window(&future, show, &need, &model, asked.at_least).map_err(|error| no_date(&error))?;
    let spread = spread_out(&future, show, &need, &model, asked.numbers)?;
    let window = window_out(&found, asked.at_least)?;
    Ok(DisbuddingOut {
        show_id: asked.show_id,
        show_on: asked.show_on,
        as_of: asked.as_of,
        plant_group: asked.plant_group,
        region_id: asked.region_id,
        environment: asked.environment,
        heated_to_c: asked.heated_to_c,
        words: words(&window, spread.as_ref(), asked.show_on, Act::Disbud),
        window,
        spread,
        requirement: DisbuddingNeed {
            degree_days: need.mean_log.exp(),
            spread_factor: need.sd_log().exp(),
            base_c: whole.base_c,
            records: About::of(support.records),
            growers: About::of(support.growers),
        },
        years_ahead: future.traces.len(),
    })
}

/// One plant from its disbudding to show-ready.
#[derive(Debug, Clone, Copy)]
struct Wait {
    grower: MemberId,
    season: i32,
    /// Natural log of the degree-days.
    log_heat: f64,
}

/// Every flowering with a disbudding between its last stop and show-ready, counted from the last one. Flowerings
/// that take no part in the forecasts take none here.
fn waits(pooled: &Pooled, diaries: &Diaries, base_c: f64, today: NaiveDate) -> Vec<Wait> {
    let plants: HashMap<PlantId, &PooledPlant> =
        diaries.plants.iter().map(|plant| (plant.id, plant)).collect();
    let mut disbudded: HashMap<PlantId, Vec<NaiveDate>> = HashMap::new();
    for (plant, day, _) in &diaries.disbudded {
        disbudded.entry(*plant).or_default().push(*day);
    }
    let doubted: HashSet<(PlantId, NaiveDate)> =
        pooled.doubted().into_iter().map(|(plant, stopped_on, _)| (plant, stopped_on)).collect();
    let mut found = Vec::new();
    for (id, flowerings) in by_plant(&diaries.flowering) {
        let (Some(plant), Some(days)) = (plants.get(&id), disbudded.get(&id)) else { continue };
        let table = pooled.table_above(plant.region_id, plant.environment, plant.heated_to_c, base_c);
        let Ok(table) = table else { continue };
        let taken = flowerings.iter().filter(|flowering| !doubted.contains(&(id, flowering.stopped_on)));
        found.extend(taken.filter_map(|flowering| {
            let (from, ready) = last_before_ready(flowering, days).filter(|(_, ready)| *ready <= today)?;
            let heat = table.to_midday(epoch_day(from), epoch_day(ready)).filter(|heat| *heat > 0.0)?;
            Some(Wait {
                grower: plant.owner_id,
                season: pooled.season_of(plant.region_id, flowering.stopped_on),
                log_heat: heat.ln(),
            })
        }));
    }
    found
}

fn last_before_ready(flowering: &Flowering, disbudded: &[NaiveDate]) -> Option<(NaiveDate, NaiveDate)> {
    let ready = flowering.seen_on(Stage::ShowReady)?;
    let from = disbudded.iter().filter(|day| **day >= flowering.stopped_on && **day < ready).max()?;
    Some((*from, ready))
}

fn support(waits: &[Wait]) -> Support {
    let mut by_grower: HashMap<MemberId, usize> = HashMap::new();
    for wait in waits {
        *by_grower.entry(wait.grower).or_default() += 1;
    }
    let seasons: HashSet<i32> = waits.iter().map(|wait| wait.season).collect();
    let most = by_grower.values().max().copied().unwrap_or(0);
    Support {
        records: waits.len(),
        growers: by_grower.len(),
        seasons: seasons.len(),
        largest_grower_share: most as f64 / waits.len().max(1) as f64,
    }
}

/// The spread of plants weighs beside the records' own as so many of them.
const SPREAD_WEIGHT: f64 = 8.0;

/// The heat from disbudding to show-ready of one more plant, of a grower and season not known.
///
/// With `g` and `s` the forecasts' standard deviations of growers and of plants, a grower's mean of `n` records
/// has variance `g^2 + s^2 / n` about the group's, and growers weigh by its inverse. The variance of plants is
/// that within growers, drawn to `s^2` as if by [`SPREAD_WEIGHT`] records. Nothing is known of the mean
/// beforehand, so it is drawn nowhere.
fn learn(waits: &[Wait], spreads: &Spreads) -> Option<Need> {
    // Ordered, so that sums and answers are the same each time.
    let mut by_grower: BTreeMap<MemberId, Vec<f64>> = BTreeMap::new();
    for wait in waits {
        by_grower.entry(wait.grower).or_default().push(wait.log_heat);
    }
    let (grower, plant) = (spreads.grower.powi(2), spreads.residual.powi(2));
    let (mut weighted, mut weights, mut within, mut free) = (0.0, 0.0, 0.0, 0.0);
    for logs in by_grower.values() {
        let count = logs.len() as f64;
        let mean = logs.iter().sum::<f64>() / count;
        let weight = 1.0 / (grower + plant / count);
        weighted += weight * mean;
        weights += weight;
        within += logs.iter().map(|log| (log - mean).powi(2)).sum::<f64>();
        free += count - 1.0;
    }
    let own = (within + SPREAD_WEIGHT * plant) / (free + SPREAD_WEIGHT);
    let shared = 1.0 / weights + grower + spreads.region_season.powi(2);
    let need = Need { mean_log: weighted / weights, shared_sd: shared.sqrt(), own_sd: own.sqrt() };
    (need.mean_log.is_finite() && need.sd_log().is_finite()).then_some(need)
}

/// The stages counted from disbudding. From show-ready on the plant takes the same warmth whatever it is counted
/// from: with `W` degree-days from the stop to show-ready and `H` from disbudding,
/// `d' = ln(1 + W/H (exp d - 1))`, and a small change of `d` moves `d'` by `W/H exp d / (1 + W/H (exp d - 1))`.
fn since_disbudding(model: &StageModel, whole: &Requirement, need: &Need) -> StageModel {
    let ratio = (whole.mean_log - need.mean_log).exp();
    let mut model = model.clone();
    let past = Stage::PastBest.index();
    let Some(offset) = model.offset.get_mut(past) else { return model };
    let stretched = 1.0 + ratio * offset.exp_m1();
    // A learnt step so far below nought that no warmth is left is left as it is.
    if stretched <= 0.0 {
        return model;
    }
    let slope = ratio * offset.exp() / stretched;
    *offset = stretched.ln();
    for (at, row) in model.covariance.iter_mut().enumerate() {
        for (other, entry) in row.iter_mut().enumerate() {
            for stage in [at, other] {
                if stage == past {
                    *entry *= slope;
                }
            }
        }
    }
    if let Some(with_ready) = model.with_ready.get_mut(past) {
        *with_ready *= slope;
    }
    model
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test fails by panicking")]

    use storksbill_forecast::stages::Outlook;

    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn the_last_disbudding_between_stop_and_ready_counts() {
        let mut flowering = Flowering { stopped_on: day("2025-03-01"), seen: Default::default() };
        let days = ["2025-02-01", "2025-04-01", "2025-04-20", "2025-07-01"].map(day);
        assert_eq!(last_before_ready(&flowering, &days), None);
        flowering.seen[Stage::ShowReady.index()] = Some(day("2025-06-20"));
        assert_eq!(last_before_ready(&flowering, &days), Some((day("2025-04-20"), day("2025-06-20"))));
        assert_eq!(last_before_ready(&flowering, &days[..1]), None);
    }

    #[test]
    fn a_grower_with_many_records_does_not_outweigh_the_others() {
        let growers: Vec<MemberId> = (0..5).map(|_| MemberId::fresh()).collect();
        let wait = |grower: MemberId, heat: f64| Wait { grower, season: 2025, log_heat: heat.ln() };
        let mut waits: Vec<Wait> = growers[1..].iter().map(|grower| wait(*grower, 600.0)).collect();
        waits.extend((0..100).map(|_| wait(growers[0], 900.0)));
        let spreads = Spreads::default();
        let need = learn(&waits, &spreads).unwrap();
        // With 0.06 and 0.12: four weights of 1/0.018 and one of 1/(0.0036 + 0.0144/100).
        let (few, many) = (1.0 / 0.018, 1.0 / 0.003_744);
        let expected = (4.0 * few * 600_f64.ln() + many * 900_f64.ln()) / (4.0 * few + many);
        assert!((need.mean_log - expected).abs() < 1e-12, "{} for {expected}", need.mean_log);
        // Records that agree leave of the variance 8 / (99 + 8).
        assert!((need.own_sd.powi(2) - 0.0144 * 8.0 / 107.0).abs() < 1e-12, "{}", need.own_sd);
    }

    #[test]
    fn past_best_comes_after_the_same_warmth_whatever_it_is_counted_from() {
        let model = StageModel::default();
        let need = Need { mean_log: 500_f64.ln(), shared_sd: 0.1, own_sd: 0.1 };
        let whole = Requirement {
            mean_log: 1285_f64.ln(),
            shared_sd: 0.1,
            own_sd: 0.1,
            base_c: 4.0,
            basis: storksbill_forecast::fit::Basis::Group,
            cultivar: Support::default(),
            group: Support::default(),
        };
        let ours = since_disbudding(&model, &whole, &need);
        let past = Stage::PastBest.index();
        let from_stop = 1285.0 * model.offset[past].exp() - 1285.0;
        let from_disbudding = 500.0 * ours.offset[past].exp() - 500.0;
        assert!((from_stop - from_disbudding).abs() < 1e-9, "{from_stop} {from_disbudding}");
        // The spread about it, in degree-days, is the same to first order.
        let spread = |model: &StageModel, ready: f64| {
            ready * model.offset[past].exp() * model.covariance[past][past].sqrt()
        };
        assert!((spread(&model, 1285.0) - spread(&ours, 500.0)).abs() < 1e-9);
        Outlook::new(need.mean_log, need.sd_log(), &ours).unwrap();
    }
}
