//! Many plants or diary records at once, from CSV: all lines or none.
//!
//! A table is read (pure), then planned against what is kept, then stored. A dry run ends after the plan, so
//! what it reports is what would happen.

use actix_web::{post, web};
use chrono::{DateTime, Utc};
use serde::Deserialize;
use storksbill_db::rows::plants::{self as rows, DiaryEntry, Plant};
use storksbill_db::{Conn, DbError};
use storksbill_domain::policy::Actor;
use utoipa::IntoParams;

use super::dto::TableReport;
use super::plan::{self, Plan};
use super::{diary_rows, plant_rows};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::http::upload::{Table, TableFormat};

/// How to import.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct How {
    /// Only say what would happen; false when not given.
    #[serde(default)]
    #[param(required = false)]
    pub dry_run: bool,
}

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
/// All lines are taken or none: the refusal names every bad line, with up to 1,000 reasons.
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
    let store = |conn: &mut Conn, plan: &Plan<Plant>| {
        rows::insert_all(conn, &plan.created)?;
        rows::update_all(conn, &plan.changed)
    };
    import(auth, &app, how.dry_run, table, (plant_rows::read, plan::plants, store)).await
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
/// All lines are taken or none: the refusal names every bad line, with up to 1,000 reasons.
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
    let store = |conn: &mut Conn, plan: &Plan<DiaryEntry>| {
        rows::insert_diary(conn, &plan.created)?;
        rows::update_diary(conn, &plan.changed)
    };
    import(auth, &app, how.dry_run, table, (diary_rows::read, plan::diary, store)).await
}

/// How a table is read, planned against what is kept, and stored.
type Steps<L, T> = (
    fn(&[u8]) -> Result<Vec<L>, Problem>,
    fn(&mut Conn, &Actor, &[L], DateTime<Utc>) -> Result<Plan<T>, Problem>,
    fn(&mut Conn, &Plan<T>) -> Result<(), DbError>,
);

async fn import<L: Send + Sync + 'static, T: 'static>(
    auth: Auth,
    app: &App,
    dry_run: bool,
    table: Table,
    (lines_of, plan, store): Steps<L, T>,
) -> Result<Reply, Problem> {
    let ticket = table.ticket.clone();
    let lines = read(table, lines_of).await?;
    let now = app.clock.now();
    if dry_run {
        return app.db.read(move |conn| Reply::ok(&plan(conn, &auth, &lines, now)?.report(true))).await;
    }
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let plan = plan(conn, &auth, &lines, now)?;
                store(conn, &plan)?;
                Reply::ok(&plan.report(false))
            })
        })
        .await
}

/// Reads a table off the threads that answer requests.
async fn read<T: Send + 'static>(
    table: Table,
    lines: fn(&[u8]) -> Result<Vec<T>, Problem>,
) -> Result<Vec<T>, Problem> {
    if table.format != TableFormat::Csv {
        return Err(Problem::new(
            Code::UnsupportedMediaType,
            "Send the table with `Content-Type: text/csv`.",
        ));
    }
    web::block(move || lines(&table.bytes))
        .await
        .map_err(|_stopping| Problem::busy("The server is stopping. Nothing was written; try again."))?
}
