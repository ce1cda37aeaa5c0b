//! One's own plants and diary as CSV.

use actix_web::{HttpResponse, get, web};
use storksbill_db::rows::plants as rows;

use super::{diary_rows, plant_rows};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::tables::{download, sheet};

/// Export your plants
///
/// All of them as CSV, a line a plant, with the columns that `POST /api/v1/plants/import` takes. Cells that a
/// spreadsheet would run as a formula start with an apostrophe; the import takes it off again.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    responses((status = 200, description = "Your plants", body = String, content_type = "text/csv"))
)]
#[get("/plants/export.csv")]
pub async fn plants(auth: Auth, app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let csv = app
        .db
        .read(move |conn| {
            let plants = rows::own_all(conn, auth.member)?;
            sheet::write(&plant_rows::COLUMNS, plants.into_iter().map(plant_rows::written))
        })
        .await?;
    Ok(download("plants.csv", csv))
}

/// Export your diary
///
/// All records of your plants as CSV, plant by plant and by day, with the columns that
/// `POST /api/v1/diary/import` takes. Cells that a spreadsheet would run as a formula start with an
/// apostrophe; the import takes it off again.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    responses((status = 200, description = "Your diary", body = String, content_type = "text/csv"))
)]
#[get("/diary/export.csv")]
pub async fn diary(auth: Auth, app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let csv = app
        .db
        .read(move |conn| {
            let diary = rows::own_diary(conn, auth.member)?;
            sheet::write(&diary_rows::COLUMNS, diary.into_iter().map(diary_rows::written))
        })
        .await?;
    Ok(download("diary.csv", csv))
}
