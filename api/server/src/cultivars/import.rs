//! Many cultivars at once, from CSV: all lines or none.

use std::collections::BTreeSet;

use actix_web::{post, web};
use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::cultivars;
use storksbill_domain::ids::CultivarId;
use storksbill_domain::policy::Actor;

use super::edit::taken;
use super::history::keep;
use super::plan::{self, Record};
use super::table_line;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;
use crate::http::upload::Table;
use crate::pedigrees::individuals::loop_told;
use crate::tables::import::{How, Steps, import};
use crate::tables::plan::{Plan, TableReport};

/// Import cultivars
///
/// A CSV table in UTF-8 whose first line names the columns, in any order, from among `id`, `version`, `name`,
/// `plant_group`, `raiser`, `raised_year`, `status`, `protected`, `origin`, `seed_parent_id`, `seed_parent`,
/// `pollen_parent_id`, `pollen_parent`, `pollen_candidates`, `source_id`, `source`, `reverts_to_id`, `reverts_to`,
/// `seed_gamete`, `pollen_gamete`, `sport_layers`, `sets`, `chromosomes`, `chromosomes_about`, `visibility`, `notes`:
/// the fields of a cultivar, written as in `GET /api/v1/pedigrees/export.csv?kind=cultivar`.
///
/// A line with an `id` changes the cultivar of that id: a blank cell clears, a column that is not in the table leaves
/// the field as it is. A line without one enters a new cultivar, which needs `name`, `plant_group` and `status`. Who
/// may enter, change and name what is as with one cultivar at a time. Where `version` is filled, a cultivar that was
/// changed since that version is not overwritten.
///
/// A parent is named by its id, or in the column without `_id` by its name (accents and case do not matter), with
/// its group in parentheses where several groups have that name: `Quay Lass (regal)`. It may be on the society's list
/// or on any line of this table, so that a whole pedigree can be entered at once and in any order. A table that would
/// make a cultivar its own ancestor is refused with the shortest loop and its lines. Two cultivars cannot exchange
/// their names in one table.
///
/// Of an export `kind`, `parents_from`, `undisclosed`, `entered_by` and `inbreeding` are taken too: origins that a
/// cross tells, and parents that are undisclosed, stay as they are; the rest says nothing new.
///
/// All lines are taken or none: the refusal names every bad line, with up to 50 reasons and the count of the others.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    request_body(content = String, content_type = "text/csv", description = "The table"),
    params(How, ("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 200, description = "What was done, or would be", body = TableReport))
)]
#[post("/cultivars/import")]
pub async fn table(
    auth: Auth,
    app: web::Data<App>,
    how: web::Query<How>,
    table: Table,
) -> Result<Reply, Problem> {
    let steps = Steps { read: table_line::read, plan: plan::cultivars, store };
    import(auth, &app, &how, table, steps).await
}

fn store(conn: &mut Conn, actor: &Actor, plan: &Plan<Record>, now: DateTime<Utc>) -> Result<(), Problem> {
    for record in &plan.changed {
        if let Some(before) = cultivars::find(conn, record.cultivar.id)? {
            keep(conn, &before, actor.member, now.naive_utc(), Some("imported"))?;
        }
    }
    let new: BTreeSet<CultivarId> = plan.created.iter().map(|record| record.cultivar.id).collect();
    // What a sport goes back to may be entered after it.
    let (mut first, mut later) = (Vec::with_capacity(plan.created.len()), Vec::new());
    for record in &plan.created {
        let mut cultivar = record.cultivar.clone();
        if cultivar.reverts_to_id.is_some_and(|id| new.contains(&id)) {
            later.push(cultivar.clone());
            cultivar.reverts_to_id = None;
        }
        first.push(cultivar);
    }
    later.extend(plan.changed.iter().map(|record| record.cultivar.clone()));
    let all = plan.created.iter().chain(&plan.changed);
    let candidates: Vec<_> = all.flat_map(|record| record.candidates.iter().copied()).collect();
    cultivars::store_all(conn, &first, &later, &candidates)
        .map_err(|error| loop_told(conn, actor, error))
        .map_err(taken)
}
