//! What growers measure in their own houses.

use actix_web::{delete, get, put, web};
use serde::Deserialize;
use storksbill_db::rows::fits::{self, House, InsideReading};
use storksbill_db::rows::places;
use storksbill_domain::day::Day;
use storksbill_domain::ids::{InsideReadingId, MemberId, RegionId};
use storksbill_domain::words::Environment;
use utoipa::IntoParams;

use super::dto::{InsideReadingOut, InsideRow, UploadOut};
use super::readings::{self, Span};
use super::sheet::{INSIDE, Sheet};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::http::upload::Upload;

/// Which house, and how to take an upload.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct Taking {
    /// The region the house stands in.
    region_id: RegionId,
    /// What kind of house; not `outdoors`.
    environment: Environment,
    /// Kept at least this warm, degrees C, 0 to 35: for `heated` houses, and for them alone.
    #[param(minimum = 0, maximum = 35)]
    heated_to_c: Option<f64>,
    /// `true` writes the good rows and leaves the bad ones out; else one bad row keeps all from being written.
    #[serde(default)]
    #[param(required = false)]
    skip_bad: bool,
}

impl Taking {
    fn house(&self) -> Result<House, Problem> {
        let fault = if self.environment == Environment::Outdoors {
            Some(("environment", "outdoors", "must be a kind of house"))
        } else {
            match (self.environment == Environment::Heated, self.heated_to_c) {
                (true, None) => Some(("heated_to_c", "required", "is required for a heated house")),
                (false, Some(_)) => Some(("heated_to_c", "must-be-empty", "is for heated houses alone")),
                (true, Some(kept)) if !(0.0..=35.0).contains(&kept) => {
                    Some(("heated_to_c", "out-of-range", "must be from 0 to 35"))
                }
                _ => None,
            }
        };
        match fault {
            Some((name, code, detail)) => {
                Err(Problem::new(Code::InvalidQuery, format!("{name} {detail}.")).at(name, code, detail))
            }
            None => Ok(House {
                region_id: self.region_id,
                environment: self.environment,
                heated_to_c: self.heated_to_c,
            }),
        }
    }
}

/// Upload what you measured in your house
///
/// One row a day, as CSV with the columns `day,min_c,max_c` or as a JSON array of the same. Nobody else sees
/// these days; pooled with those of others they teach the forecasts how much warmer than the open air a kind
/// of house is. A day that was there already is replaced, so the same upload can be sent again. All is
/// written, or nothing: every bad row is reported at once, as `line 17` of the CSV table or `/16` of the JSON
/// array.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    params(Taking),
    request_body(content((Vec<InsideRow> = "application/json"), (String = "text/csv"))),
    responses((status = 200, description = "Written", body = UploadOut))
)]
#[put("/members/me/inside-readings")]
pub async fn upload(
    auth: Auth,
    app: web::Data<App>,
    taking: web::Query<Taking>,
    sent: Upload,
) -> Result<Reply, Problem> {
    let house = taking.house()?;
    let format = readings::format_of(None, &sent)?;
    let sheet = readings::read(&app, INSIDE, format, sent).await?;
    let skip_bad = taking.skip_bad;
    app.db
        .write(move |conn| {
            places::region(conn, house.region_id)?.ok_or_else(|| {
                Problem::new(Code::InvalidQuery, "region_id is not a region's.").at(
                    "region_id",
                    "not-found",
                    "is not a region's",
                )
            })?;
            if sheet.bad_rows > 0 && !skip_bad {
                return Err(sheet.refusal());
            }
            let rows = rows_of(&sheet, auth.member, &house);
            fits::replace_inside_readings(conn, auth.member, &house, &rows)?;
            Reply::ok(&UploadOut::of(&sheet))
        })
        .await
}

fn rows_of(sheet: &Sheet, member_id: MemberId, house: &House) -> Vec<InsideReading> {
    let row = |row: &super::dto::ReadingRow| InsideReading {
        id: InsideReadingId::fresh(),
        member_id,
        region_id: house.region_id,
        environment: house.environment,
        heated_to_c: house.heated_to_c,
        day: row.day,
        min_c: row.min_c,
        max_c: row.max_c,
    };
    sheet.good.iter().map(row).collect()
}

/// List what you measured in your houses
///
/// Your own days alone, oldest first, from one day to another, both included.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    params(Span, Page),
    responses((status = 200, description = "Days, oldest first", body = List<InsideReadingOut>))
)]
#[get("/members/me/inside-readings")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    span: web::Query<Span>,
    page: Page,
) -> Result<List<InsideReadingOut>, Problem> {
    let (from, to) = span.days(app.clock.today())?;
    let after = page
        .after
        .clone()
        .map(|Place(day, id)| day.parse::<Day>().map(|day| (day.into(), id)))
        .transpose()
        .map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let days = app
        .db
        .read(move |conn| {
            let after = after.as_ref();
            Ok::<_, Problem>(fits::own_inside_readings_page(conn, auth.member, from, to, after, limit)?)
        })
        .await?;
    Ok(page.list(
        days,
        |row| Place(row.day.to_string(), row.id.to_string()),
        |row| InsideReadingOut::of(&row),
    ))
}

/// Which days to forget.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub struct Forgetting {
    /// First day.
    from: Day,
    /// Last day.
    to: Day,
}

/// Forget what you measured in your houses
///
/// Your own days from one day to another, both included, of all your houses.
#[utoipa::path(
    tag = "regions",
    security(("session" = [])),
    params(Forgetting),
    responses((status = 204, description = "Forgotten"))
)]
#[delete("/members/me/inside-readings")]
pub async fn forget(auth: Auth, app: web::Data<App>, days: web::Query<Forgetting>) -> Result<Reply, Problem> {
    let (from, to) = (days.from, days.to);
    if from > to {
        return Err(readings::bad_span("from", "must not be after `to`"));
    }
    app.db
        .write(move |conn| {
            fits::delete_own_inside_readings(conn, auth.member, from.into(), to.into())?;
            Ok(Reply::no_content())
        })
        .await
}
