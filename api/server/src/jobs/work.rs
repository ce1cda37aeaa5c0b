//! What each kind of job does.

use futures_util::future::BoxFuture;
use serde_json::Value;
use storksbill_db::rows::jobs::Job;
use storksbill_domain::words::JobKind;

use super::queue::Progress;
use crate::app::App;
use crate::http::problem::{Code, Problem};
use crate::{fits, regions, rounds};

/// A job being worked on: its result in JSON, or why it failed, whose detail is shown to whoever asked.
pub type Working<'a> = BoxFuture<'a, Result<Value, Problem>>;

/// What does jobs.
pub type Work<'w> = dyn for<'a> Fn(&'a App, &'a Job, &'a Progress) -> Working<'a> + Send + Sync + 'w;

/// The work of every kind of job.
pub(super) fn by_kind<'a>(app: &'a App, job: &'a Job, progress: &'a Progress) -> Working<'a> {
    match job.kind {
        JobKind::WeatherFetch => Box::pin(regions::fetch::work(app, job, progress)),
        JobKind::Refit => Box::pin(fits::jobs::refit(app, job, progress)),
        JobKind::Backtest => Box::pin(fits::jobs::backtest(app, job, progress)),
        JobKind::SwapRound => Box::pin(rounds::jobs::round(app, job, progress)),
        JobKind::SwapRecourse => Box::pin(rounds::jobs::recourse(app, job, progress)),
        JobKind::SwapRerun => Box::pin(rounds::jobs::rerun(app, job, progress)),
    }
}

/// Runs heavy thinking aside from the requests.
pub async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    tokio::task::spawn_blocking(work)
        .await
        .map_err(|error| Problem::new(Code::Internal, format!("The work was broken off: {error}.")))?
}
