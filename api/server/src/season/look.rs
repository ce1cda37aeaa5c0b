//! See how the season stands.

use actix_web::{get, web};
use chrono::NaiveDate;
use storksbill_db::rows::places::{self, Region};
use storksbill_domain::ids::RegionId;

use super::dto::{RegionGlance, RegionSeasonOut, SeasonQuestion};
use super::reckon::{SeasonStanding, standing_of};
use super::report;
use crate::app::App;
use crate::forecasts::pooled::{Pooled, PooledRecords, date_of};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Most regions that are shown at once; a society has a handful.
const MOST_REGIONS: i64 = 200;

/// How does the season stand?
///
/// For every region, by its weather alone: how many days a frost-free plant stopped on 11 March is behind or
/// ahead of the mean of past years. No log-in needed.
#[utoipa::path(
    tag = "season",
    responses((status = 200, description = "The regions by name", body = Vec<RegionGlance>))
)]
#[get("/season")]
pub async fn all(app: web::Data<App>) -> Result<Reply, Problem> {
    Reply::ok(&glance(&app).await?)
}

/// How does one region's season stand?
///
/// For every plant group, by the weather alone and with members' pooled records; how damp the last fortnight
/// was under frost-free glass; what growers report of their blooms against the same weeks of past years; the
/// odds of a frost; and what a grower would do about it. Figures that fewer than five growers stand behind are
/// left out. No log-in needed.
#[utoipa::path(
    tag = "season",
    params(SeasonQuestion),
    responses((status = 200, description = "The region's season", body = RegionSeasonOut))
)]
#[get("/season/regions/{region_id}")]
pub async fn one(
    app: web::Data<App>,
    path: web::Path<RegionId>,
    question: web::Query<SeasonQuestion>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let region = app
        .db
        .read(move |conn| places::region(conn, id)?.ok_or_else(|| Problem::not_found("region")))
        .await?;
    Reply::ok(&report::of_region(&app, region, question.frost_after.map(NaiveDate::from)).await?)
}

/// The regions by name, as many as are shown at once.
pub async fn regions(app: &App) -> Result<Vec<Region>, Problem> {
    app.db.read(|conn| Ok::<_, Problem>(places::regions_page(conn, &None, MOST_REGIONS)?)).await
}

/// How every region's season stands, by name.
pub async fn glance(app: &App) -> Result<Vec<RegionGlance>, Problem> {
    let regions = regions(app).await?;
    let pooled = PooledRecords::of(app).await?;
    let as_of = app.clock.today();
    Ok(regions.into_iter().map(|region| of_region(&pooled, region, as_of)).collect())
}

fn of_region(pooled: &Pooled, region: Region, as_of: chrono::NaiveDate) -> RegionGlance {
    let standing = standing_of(pooled, region.id, as_of);
    let known = match &standing {
        SeasonStanding::Known(known) => Some(known),
        SeasonStanding::NoWeather | SeasonStanding::NotYet(_) => None,
    };
    RegionGlance {
        region_id: region.id,
        name: region.name,
        as_of,
        observed_to: known.and_then(|known| date_of(known.observed_to)),
        days_late: known.map(|known| known.days_late),
        days_late_p10: known.map(|known| known.days_late_p10),
        days_late_p90: known.map(|known| known.days_late_p90),
        years: known.map_or(0, |known| known.years),
        heat: known.map(|known| known.heat),
        usual_heat: known.map(|known| known.usual_heat),
        words: standing.words(),
    }
}
