//! See how the season stands.

use actix_web::{get, web};
use storksbill_db::rows::places::{self, Region};

use super::dto::RegionGlance;
use super::reckon::{SeasonStanding, standing_of};
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

/// How every region's season stands, by name.
pub async fn glance(app: &App) -> Result<Vec<RegionGlance>, Problem> {
    let regions =
        app.db.read(|conn| Ok::<_, Problem>(places::regions_page(conn, &None, MOST_REGIONS)?)).await?;
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
