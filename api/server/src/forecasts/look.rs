//! Ask for a forecast.

use std::ops::RangeInclusive;

use actix_web::{get, web};
use chrono::{Datelike, NaiveDate, TimeDelta};
use storksbill_db::rows::pooled::PooledPlant;
use storksbill_db::rows::{places, pooled as rows, shares};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{PlantId, RegionId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::PlantGroup;

use super::ahead::{Desk, Subject, Wanted};
use super::dto::{ForecastOut, PlantQuestion, RegionForecastOut, RegionQuestion};
use super::pooled::PooledRecords;
use super::stops::{as_query, house};
use super::waits::{FLOWERING, Flowering, flowerings};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Findings;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::season::reckon::standing_of;

/// Most days between the first and the last for which show condition is told.
const MOST_DAYS: TimeDelta = TimeDelta::days(92);

/// When will this plant be ready?
///
/// From its last stopping and what its diary has seen since, where it grows, the region's readings up to
/// today, and the same calendar days of past years for the days ahead. The warmth it takes is learnt from
/// members' shared records of the cultivar and its plant group; figures that fewer than five growers stand
/// behind are never shown, and whose records they are is not told. Give `stopped_on` to ask what if.
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
    let question = question.into_inner();
    let wanted = Wanted { by_day: question.by_day.unwrap_or(false), condition: days_asked(&question)? };
    let asker = auth.actor.clone();
    let (plant, known) = app
        .db
        .read(move |conn| {
            let plant = visible_plant(conn, &asker, id)?.ok_or_else(|| Problem::not_found("plant"))?;
            Ok::<_, Problem>((plant, flowerings(&rows::events_of(conn, id, &FLOWERING)?)))
        })
        .await?;
    let today = app.clock.today();
    let imagined =
        question.stopped_on.map(|day| Flowering { stopped_on: day.into(), seen: Default::default() });
    // A stop that is written down for a day to come is of no account yet.
    let last = known.into_iter().rfind(|flowering| flowering.stopped_on <= today);
    let flowering = imagined.or(last).ok_or_else(|| {
        Problem::new(
            Code::NoForecast,
            "Its diary has no stopping yet. Record when it was last stopped, or ask with `stopped_on`.",
        )
    })?;
    let pooled = PooledRecords::of(&app).await?;
    let subject = Subject::of_plant(plant, flowering, auth.actor.member);
    Reply::ok(&Desk::new(&pooled, today).forecast(subject, &wanted)?)
}

/// The days of the question for which show condition is told.
fn days_asked(question: &PlantQuestion) -> Result<Option<RangeInclusive<NaiveDate>>, Problem> {
    let (Some(from), to) = (question.show_from.or(question.show_to), question.show_to) else {
        return Ok(None);
    };
    let to = to.unwrap_or(from);
    if to < from || *to - *from > MOST_DAYS {
        let detail = "give show_to on or after show_from, and at most 92 days later";
        return Err(Problem::new(Code::InvalidQuery, detail).at("show_to", "out-of-range", detail));
    }
    Ok(Some(*from..=*to))
}

fn visible_plant(conn: &mut Conn, asker: &Actor, id: PlantId) -> Result<Option<PooledPlant>, DbError> {
    let Some(plant) = rows::plant(conn, id)? else { return Ok(None) };
    Ok(shares::sees(conn, asker, plant.owner_id, plant.visibility)?.then_some(plant))
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
    auth: Auth,
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
                    let seen = rows::cultivar_visible_to(conn, &auth, cultivar)?;
                    Some(seen.ok_or_else(|| Problem::not_found("cultivar"))?)
                }
                None => None,
            };
            Ok::<_, Problem>((region, cultivar))
        })
        .await?;
    let mut found = Findings::default();
    let (environment, heated_to_c) = (question.environment, question.heated_to_c);
    let environment = house(environment, heated_to_c, &mut found);
    as_query(found)?;
    let today = app.clock.today();
    let stopped_on = question.stopped_on.map_or_else(|| usual_stop(today), NaiveDate::from);
    let pooled = PooledRecords::of(&app).await?;
    let groups = match (&cultivar, question.plant_group) {
        (Some((_, _, group)), _) => vec![*group],
        (None, Some(group)) => vec![group],
        (None, None) => PlantGroup::ALL.to_vec(),
    };
    let mut desk = Desk::new(&pooled, today);
    let forecasts = groups.into_iter().map(|plant_group| {
        let subject = Subject {
            plant_id: None,
            cultivar: cultivar.as_ref().map(|(id, name, _)| (*id, name.clone())),
            plant_group,
            region_id: id,
            environment,
            heated_to_c,
            grower: None,
            flowering: Flowering { stopped_on, seen: Default::default() },
        };
        desk.forecast(subject, &Wanted::default())
    });
    let forecasts = forecasts.collect::<Result<Vec<_>, _>>()?;
    let season = standing_of(&pooled, id, today).words();
    Reply::ok(&RegionForecastOut { region_id: id, region_name: region.name, season, forecasts })
}

/// 11 March of the season that `today` belongs to: sixteen weeks before a show on 1 July (common practice).
fn usual_stop(today: NaiveDate) -> NaiveDate {
    let of_year = |year| NaiveDate::from_ymd_opt(year, 3, 11).unwrap_or(today);
    let this_year = of_year(today.year());
    if this_year <= today { this_year } else { of_year(today.year() - 1) }
}
