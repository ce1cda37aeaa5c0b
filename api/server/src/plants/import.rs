//! Many plants or diary records at once, from CSV: all lines or none.

use actix_web::{post, web};
use storksbill_db::rows::plants as rows;

use super::{diary_rows, plan, plant_rows};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;
use crate::http::upload::Table;
use crate::pedigrees::individuals::loop_told;
use crate::tables::import::{How, Steps, import};
use crate::tables::plan::TableReport;

/// Import plants
///
/// A CSV table in UTF-8 whose first line names the columns, in any order, from among `id`, `version`,
/// `cultivar_id`, `cultivar`, `plant_group`, `how_many`, `label`, `pot_mm`, `environment`, `heated_to_c`,
/// `form`, `region_id`, `source_plant_id`, `source_member_id`, `got_on`, `visibility`: the fields of a plant,
/// as in an export.
///
/// A line with an `id` changes your plant of that id: a blank cell clears, a column that is not in the table
/// leaves the field as it is. A line without one enters a new plant. The cultivar is named by `cultivar_id`, or
/// by `cultivar` (accents and case do not matter) with its `plant_group` where several groups have that name.
/// Where `version` is filled, a plant that was changed since that version is not overwritten.
///
/// All lines are taken or none: the refusal names every bad line, with up to 50 reasons and the count of the others.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    request_body(content = String, content_type = "text/csv", description = "The table"),
    params(How, ("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 200, description = "What was done, or would be", body = TableReport))
)]
#[post("/plants/import")]
pub async fn plants(
    auth: Auth,
    app: web::Data<App>,
    how: web::Query<How>,
    table: Table,
) -> Result<Reply, Problem> {
    let steps = Steps {
        read: plant_rows::read,
        plan: plan::plants,
        store: |conn, actor, plan, _| {
            rows::insert_all(conn, &plan.created)?;
            rows::update_all(conn, &plan.changed).map_err(|error| loop_told(conn, actor, error))
        },
    };
    import(auth, &app, &how, table, steps).await
}

/// Import diary records
///
/// A CSV table in UTF-8 whose first line names the columns, in any order, from among `id`, `version`,
/// `plant_id`, `plant_label`, `day`, `kind`, `how_many`, `pot_mm`, `note`: the fields of a record, as in an
/// export.
///
/// A line with an `id` changes the record of that id, of a plant of yours: a blank cell clears, a column that is
/// not in the table leaves the field as it is. A line without one enters a new record. The plant is named by
/// `plant_id`, or by `plant_label` where no other plant of yours has that label. Where `version` is filled, a
/// record that was changed since that version is not overwritten. As with single records, nothing is changed
/// on the plants.
///
/// All lines are taken or none: the refusal names every bad line, with up to 50 reasons and the count of the others.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    request_body(content = String, content_type = "text/csv", description = "The table"),
    params(How, ("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 200, description = "What was done, or would be", body = TableReport))
)]
#[post("/diary/import")]
pub async fn diary(
    auth: Auth,
    app: web::Data<App>,
    how: web::Query<How>,
    table: Table,
) -> Result<Reply, Problem> {
    let steps = Steps {
        read: diary_rows::read,
        plan: plan::diary,
        store: |conn, _, plan, _| {
            rows::insert_diary(conn, &plan.created)?;
            Ok(rows::update_diary(conn, &plan.changed)?)
        },
    };
    import(auth, &app, &how, table, steps).await
}
