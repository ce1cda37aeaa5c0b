//! A table taken: all lines or none. A dry run ends after the plan, so what it reports is what would happen.

use actix_web::web;
use chrono::{DateTime, Utc};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_domain::policy::Actor;
use utoipa::IntoParams;

use super::plan::Plan;
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

/// What lines come to beside what is kept.
type PlanLines<L, T> = fn(&mut Conn, &Actor, &[L], DateTime<Utc>) -> Result<Plan<T>, Problem>;
/// Stores that, by the actor, now.
type StorePlan<T> = fn(&mut Conn, &Actor, &Plan<T>, DateTime<Utc>) -> Result<(), Problem>;

/// How a table is read, planned against what is kept, and stored.
#[derive(Debug)]
pub struct Steps<L, T> {
    /// Reads the lines.
    pub read: fn(&[u8]) -> Result<Vec<L>, Problem>,
    /// What they come to.
    pub plan: PlanLines<L, T>,
    /// Stores that.
    pub store: StorePlan<T>,
}

/// Reads, plans and, but for a dry run, stores a table.
pub async fn import<L: Send + Sync + 'static, T: 'static>(
    auth: Auth,
    app: &App,
    how: &How,
    table: Table,
    steps: Steps<L, T>,
) -> Result<Reply, Problem> {
    let ticket = table.ticket.clone();
    let Steps { read, plan, store } = steps;
    let lines = lines_of(table, read).await?;
    let now = app.clock.now();
    if how.dry_run {
        return app.db.read(move |conn| Reply::ok(&plan(conn, &auth, &lines, now)?.report(true))).await;
    }
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let plan = plan(conn, &auth, &lines, now)?;
                store(conn, &auth, &plan, now)?;
                Reply::ok(&plan.report(false))
            })
        })
        .await
}

/// Reads a table off the threads that answer requests.
async fn lines_of<T: Send + 'static>(
    table: Table,
    read: fn(&[u8]) -> Result<Vec<T>, Problem>,
) -> Result<Vec<T>, Problem> {
    if table.format != TableFormat::Csv {
        return Err(Problem::new(
            Code::UnsupportedMediaType,
            "Send the table with `Content-Type: text/csv`.",
        ));
    }
    web::block(move || read(&table.bytes))
        .await
        .map_err(|_stopping| Problem::busy("The server is stopping. Nothing was written; try again."))?
}
