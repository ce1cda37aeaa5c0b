//! Ask for a forecast.

use actix_web::{get, web};
use chrono::{Datelike, NaiveDate};
use storksbill_db::rows::pooled::PooledPlant;
use storksbill_db::rows::{places, pooled as rows};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{PlantId, RegionId};
use storksbill_domain::policy::{Actor, may_see_plant};
use storksbill_domain::words::{DiaryKind, Environment, PlantGroup};

use super::ahead::{Subject, forecast};
use super::dto::{ForecastOut, PlantQuestion, RegionForecastOut, RegionQuestion};
use super::pooled::PooledRecords;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::season::reckon::standing_of;

/// When will this plant be ready?
///
/// From its last stopping, where it grows, the region's readings up to today, and the same calendar days of
/// past years for the days ahead. The warmth it takes is learnt from members' shared records of the cultivar
/// and its plant group; figures that fewer than five growers stand behind are never shown, and whose records
/// they are is not told. Give `stopped_on` to ask what if.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    params(PlantQuestion),
    responses((status = 200, description = "When it will be show-ready", body = ForecastOut))
)]
#[get("/forecasts/plants/{plant_id}")]
pub async fn of_plant(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<PlantId>,
    question: web::Query<PlantQuestion>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let asker = auth.actor.clone();
    let stopped_on = question.stopped_on;
    let (plant, stop, ready_on) = app
        .db
        .read(move |conn| {
            let plant = visible_plant(conn, &asker, id)?.ok_or_else(|| Problem::not_found("plant"))?;
            let events = rows::events_of(conn, id, &[DiaryKind::Stopping, DiaryKind::ShowReady])?;
            let (stop, ready_on) = last_wait(&events);
            Ok::<_, Problem>((plant, stop, ready_on))
        })
        .await?;
    let imagined = stopped_on.is_some();
    let stopped_on = stopped_on.or(stop).ok_or_else(|| {
        Problem::new(
            Code::NoForecast,
            "Its diary has no stopping yet. Record when it was last stopped, or ask with `stopped_on`.",
        )
    })?;
    let pooled = PooledRecords::of(&app).await?;
    let subject = Subject {
        plant_id: Some(plant.id),
        cultivar: Some((plant.cultivar_id, plant.cultivar_name)),
        plant_group: plant.plant_group,
        region_id: plant.region_id,
        environment: plant.environment,
        heated_to_c: plant.heated_to_c,
        stopped_on,
        ready_on: ready_on.filter(|_| !imagined),
    };
    Reply::ok(&forecast(&pooled, subject, app.clock.today())?)
}

fn visible_plant(conn: &mut Conn, asker: &Actor, id: PlantId) -> Result<Option<PooledPlant>, DbError> {
    let Some(plant) = rows::plant(conn, id)? else { return Ok(None) };
    let clubs = rows::clubs_of(conn, plant.owner_id)?;
    Ok(may_see_plant(asker, plant.owner_id, &clubs, plant.visibility).then_some(plant))
}

/// The last stop, and the readiness that came after it.
fn last_wait(events: &[(NaiveDate, DiaryKind)]) -> (Option<NaiveDate>, Option<NaiveDate>) {
    let stop = events.iter().rposition(|(_, kind)| *kind == DiaryKind::Stopping);
    let ready = stop.and_then(|at| events.get(at + 1..)).into_iter().flatten().next();
    (stop.and_then(|at| events.get(at)).map(|(day, _)| *day), ready.map(|(day, _)| *day))
}

/// When will plants be ready in this region?
///
/// For plants last stopped on one day, plant group by plant group: the forecast of a plant that nobody has
/// in particular.
#[utoipa::path(
    tag = "forecasts",
    security(("session" = [])),
    params(RegionQuestion),
    responses((status = 200, description = "When they will be show-ready", body = RegionForecastOut))
)]
#[get("/forecasts/regions/{region_id}")]
pub async fn of_region(
    _auth: Auth,
    app: web::Data<App>,
    path: web::Path<RegionId>,
    question: web::Query<RegionQuestion>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let question = question.into_inner();
    let cultivar_id = question.cultivar_id;
    let (region, cultivar) = app
        .db
        .read(move |conn| {
            let region = places::region(conn, id)?.ok_or_else(|| Problem::not_found("region"))?;
            let cultivar = match cultivar_id {
                Some(cultivar) => {
                    Some(rows::cultivar(conn, cultivar)?.ok_or_else(|| Problem::not_found("cultivar"))?)
                }
                None => None,
            };
            Ok::<_, Problem>((region, cultivar))
        })
        .await?;
    let (environment, heated_to_c) = place_of(&question)?;
    let today = app.clock.today();
    let stopped_on = question.stopped_on.unwrap_or_else(|| usual_stop(today));
    let pooled = PooledRecords::of(&app).await?;
    let groups = match (&cultivar, question.plant_group) {
        (Some((_, _, group)), _) => vec![*group],
        (None, Some(group)) => vec![group],
        (None, None) => PlantGroup::ALL.to_vec(),
    };
    let forecasts = groups.into_iter().map(|plant_group| {
        let subject = Subject {
            plant_id: None,
            cultivar: cultivar.as_ref().map(|(id, name, _)| (*id, name.clone())),
            plant_group,
            region_id: id,
            environment,
            heated_to_c,
            stopped_on,
            ready_on: None,
        };
        forecast(&pooled, subject, today)
    });
    let forecasts = forecasts.collect::<Result<Vec<_>, _>>()?;
    let season = standing_of(&pooled, id, today).words();
    Reply::ok(&RegionForecastOut { region_id: id, region_name: region.name, season, forecasts })
}

fn place_of(question: &RegionQuestion) -> Result<(Environment, Option<f64>), Problem> {
    let environment = question.environment.unwrap_or(Environment::FrostFree);
    let wrong = |detail: &str| {
        Problem::new(Code::InvalidQuery, detail.to_owned()).at("heated_to_c", "out-of-range", detail)
    };
    match (environment, question.heated_to_c) {
        (Environment::Heated, Some(least)) if (0.0..=35.0).contains(&least) => Ok((environment, Some(least))),
        (Environment::Heated, _) => Err(wrong("give heated_to_c, from 0 to 35, with environment=heated")),
        (_, None) => Ok((environment, None)),
        (_, Some(_)) => Err(wrong("heated_to_c goes with environment=heated alone")),
    }
}

/// 11 March of the season that `today` belongs to: sixteen weeks before a show on 1 July (common practice).
fn usual_stop(today: NaiveDate) -> NaiveDate {
    let of_year = |year| NaiveDate::from_ymd_opt(year, 3, 11).unwrap_or(today);
    let this_year = of_year(today.year());
    if this_year <= today { this_year } else { of_year(today.year() - 1) }
}
