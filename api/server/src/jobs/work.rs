//! What each kind of job does.

use futures_util::future::BoxFuture;
use serde_json::Value;
use storksbill_db::rows::jobs::Job;
use storksbill_domain::words::JobKind;

use super::queue::Progress;
use crate::app::App;
use crate::http::problem::{Code, Problem};
use crate::regions;

/// A job being worked on: its result in JSON, or why it failed, whose detail is shown to whoever asked.
pub type Working<'a> = BoxFuture<'a, Result<Value, Problem>>;

/// What does jobs.
pub type Work<'w> = dyn for<'a> Fn(&'a App, &'a Job, &'a Progress) -> Working<'a> + Send + Sync + 'w;

/// The work of every kind of job.
pub(super) fn by_kind<'a>(app: &'a App, job: &'a Job, progress: &'a Progress) -> Working<'a> {
    match job.kind {
        JobKind::WeatherFetch => Box::pin(regions::fetch::work(app, job, progress)),
        // No address puts these in yet.
        JobKind::Refit | JobKind::Backtest => {
            let problem = Problem::new(Code::WrongState, format!("This server does no {} yet.", job.kind));
            Box::pin(std::future::ready(Err(problem)))
        }
    }
}
