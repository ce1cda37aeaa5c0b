//! The worker: takes up what waits, one job after another.

use std::panic::AssertUnwindSafe;
use std::pin::pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use futures_util::FutureExt;
use futures_util::future::{Either, select};
use serde_json::Value;
use storksbill_db::rows::jobs::Job;
use tokio::time::MissedTickBehavior;

use super::queue::{self, Progress};
use super::timetable;
use super::work::{Work, Working, by_kind};
use crate::app::App;
use crate::http::problem::{Code, Problem};

/// How often it is looked whether something waits.
const EVERY: Duration = Duration::from_secs(2);
/// How often the timetable is looked at, in looks.
const LOOKS_A_TIMETABLE: u32 = 30;
/// How often a lease is renewed by itself: a third of what it lasts.
const RENEWED_EVERY: Duration = Duration::from_secs(20);

/// The job that a worker is at, for whoever stops the server.
#[derive(Debug, Clone, Default)]
pub struct Held(Arc<Mutex<Option<Progress>>>);

impl Held {
    fn set(&self, progress: Option<Progress>) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = progress;
    }

    /// Gives the job up that a worker was at and is not any more, so that another server need not wait until its
    /// lease has run out.
    pub async fn give_up(&self) {
        let held = self.0.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some(progress) = held
            && let Err(problem) = progress.give_up().await
        {
            tracing::warn!(%problem, "a job could not be given up");
        }
    }
}

/// Works until it is dropped; a job it is at is then taken up again when its lease has run out, or is given up.
pub async fn keep_working(app: App, held: Held) {
    let mut ticks = tokio::time::interval(EVERY);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let mut looks = 0;
    loop {
        ticks.tick().await;
        if looks % LOOKS_A_TIMETABLE == 0
            && let Err(problem) = timetable::enqueue_due(&app).await
        {
            tracing::error!(%problem, "what is due could not be put in");
        }
        looks = (looks + 1) % LOOKS_A_TIMETABLE;
        if let Err(problem) = run_waiting_holding(&app, &by_kind, &held).await {
            tracing::error!(%problem, "the jobs that wait could not be looked at");
        }
    }
}

/// Does every job that waits, now; gives their number.
///
/// # Errors
/// What the database says; what goes wrong within a job is kept with the job.
pub async fn run_waiting(app: &App) -> Result<usize, Problem> {
    run_waiting_with(app, &by_kind).await
}

/// [`run_waiting`] with other work.
///
/// # Errors
/// As [`run_waiting`].
pub async fn run_waiting_with(app: &App, work: &Work<'_>) -> Result<usize, Problem> {
    run_waiting_holding(app, work, &Held::default()).await
}

async fn run_waiting_holding(app: &App, work: &Work<'_>, held: &Held) -> Result<usize, Problem> {
    let mut count = 0;
    while let Some(job) = queue::take_up(app).await? {
        count += 1;
        let progress = Progress::of(app, &job);
        held.set(Some(progress.clone()));
        run(app, &job, &progress, work).await;
        held.set(None);
    }
    Ok(count)
}

async fn run(app: &App, job: &Job, progress: &Progress, work: &Work<'_>) {
    let Some(outcome) = with_lease(progress, work(app, job, progress)).await else {
        tracing::warn!(job = %job.id, "a job was lost to another server");
        return;
    };
    if let Err(problem) = &outcome {
        tracing::warn!(job = %job.id, kind = %job.kind, %problem, "a job failed");
    }
    if let Err(problem) = progress.finish(outcome).await {
        tracing::error!(job = %job.id, %problem, "what came of a job could not be kept");
    }
}

/// Waits for the work's outcome and keeps the lease meanwhile; nothing where the lease was lost.
async fn with_lease(progress: &Progress, work: Working<'_>) -> Option<Result<Value, Problem>> {
    // A job that panics must not end the worker.
    let mut work = pin!(AssertUnwindSafe(work).catch_unwind());
    loop {
        let pause = pin!(tokio::time::sleep(RENEWED_EVERY));
        match select(work, pause).await {
            Either::Left((Ok(outcome), _)) => return Some(outcome),
            Either::Left((Err(_panic), _)) => {
                return Some(Err(Problem::new(Code::Internal, "The server failed at it.")));
            }
            Either::Right(((), unfinished)) => {
                work = unfinished;
                match progress.renew().await {
                    Err(problem) if problem.code == Code::WrongState => return None,
                    Err(problem) => tracing::warn!(%problem, "a lease could not be renewed"),
                    Ok(()) => {}
                }
            }
        }
    }
}
