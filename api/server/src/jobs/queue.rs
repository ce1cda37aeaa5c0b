//! The queue: jobs put in, taken up under a lease, reported on, ended.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::Value;
use storksbill_db::rows::jobs::{self, Job};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{JobId, MemberId};
use storksbill_domain::words::{JobKind, JobState};

use crate::app::App;
use crate::http::problem::{Code, Problem};

/// How long a job stays with the server that took it up, unless it is heard of again.
pub(super) const LEASE: TimeDelta = TimeDelta::seconds(60);
/// How often a job is taken up at most.
const ATTEMPTS: i32 = 3;

/// Puts a job in, inside a transaction of the caller's. Where one of the same kind and subject waits already,
/// that one is given instead, and is theirs to see as well: doing the work twice in a row would change nothing.
pub fn enqueue(
    conn: &mut Conn,
    kind: JobKind,
    subject: Option<&str>,
    asked_by: Option<MemberId>,
    now: DateTime<Utc>,
) -> Result<Job, DbError> {
    if let Some(waiting) = jobs::waiting(conn, kind, subject)? {
        if let Some(member) = asked_by.filter(|member| waiting.asked_by != Some(*member)) {
            jobs::add_asker(conn, waiting.id, member)?;
        }
        return Ok(waiting);
    }
    let job = Job {
        id: JobId::fresh(),
        kind,
        state: JobState::Waiting,
        progress: 0.0,
        words: "Waits for its turn.".to_owned(),
        subject: subject.map(str::to_owned),
        result: None,
        problem: None,
        asked_by,
        lease_until: None,
        attempts: 0,
        created_at: now.naive_utc(),
        started_at: None,
        ended_at: None,
    };
    jobs::insert(conn, &job)?;
    Ok(job)
}

/// Takes up the next job, if there is one. Two servers never hold the same: of two that try at once the
/// database lets one write first, and the other looks again.
pub(super) async fn take_up(app: &App) -> Result<Option<Job>, Problem> {
    let now = app.clock.now();
    // A look first: most of the time there is nothing to write.
    let next = app.db.glance(move |conn| Ok::<_, Problem>(jobs::next(conn, now.naive_utc())?)).await?;
    if next.is_none() {
        return Ok(None);
    }
    app.db
        .write(move |conn| {
            while let Some(mut job) = jobs::next(conn, now.naive_utc())? {
                if job.attempts < ATTEMPTS {
                    job.state = JobState::Running;
                    job.progress = 0.0;
                    "Begun.".clone_into(&mut job.words);
                    job.lease_until = Some((now + LEASE).naive_utc());
                    job.attempts += 1;
                    job.started_at.get_or_insert(now.naive_utc());
                    jobs::update(conn, &job)?;
                    return Ok(Some(job));
                }
                let words = format!("The server stopped at it {} times.", job.attempts);
                end(&mut job, JobState::Failed, now);
                job.problem = Some(words);
                jobs::update(conn, &job)?;
            }
            Ok::<_, Problem>(None)
        })
        .await
}

fn end(job: &mut Job, state: JobState, now: DateTime<Utc>) {
    job.state = state;
    job.lease_until = None;
    job.ended_at = Some(now.naive_utc());
}

/// Reports how far one attempt at a job has come; clones report on the same attempt.
#[derive(Debug, Clone)]
pub struct Progress {
    app: App,
    job: JobId,
    attempt: i32,
}

impl Progress {
    pub(super) fn of(app: &App, job: &Job) -> Self {
        Self { app: app.clone(), job: job.id, attempt: job.attempts }
    }

    /// How far it is, 0 to 1, and at what, in one line. Renews the lease.
    ///
    /// # Errors
    /// 409 where the job was given to another server meanwhile: stop, and write nothing more.
    pub async fn report(&self, fraction: f64, words: impl Into<String>) -> Result<(), Problem> {
        let (fraction, words) = (fraction.clamp(0.0, 1.0), words.into());
        self.change(move |job| {
            job.progress = fraction;
            job.words.clone_from(&words);
        })
        .await
    }

    /// Renews the lease.
    pub(super) async fn renew(&self) -> Result<(), Problem> {
        self.change(|_| {}).await
    }

    /// Ends the lease, so that the next server may take the job up at once.
    pub(super) async fn give_up(&self) -> Result<(), Problem> {
        let now = self.app.clock.now().naive_utc();
        self.change(move |job| {
            job.lease_until = Some(now);
            "The server stopped; another takes it up.".clone_into(&mut job.words);
        })
        .await
    }

    /// Ends the attempt with what came of it.
    pub(super) async fn finish(&self, outcome: Result<Value, Problem>) -> Result<(), Problem> {
        let now = self.app.clock.now();
        self.change(move |job| match &outcome {
            Ok(result) => {
                end(job, JobState::Done, now);
                job.progress = 1.0;
                job.result = Some(result.to_string());
            }
            Err(problem) => {
                end(job, JobState::Failed, now);
                job.problem = Some(problem.detail().to_owned());
            }
        })
        .await
    }

    /// Changes the job, if it is still with this attempt.
    async fn change(&self, change: impl Fn(&mut Job) + Send + 'static) -> Result<(), Problem> {
        let (id, attempt) = (self.job, self.attempt);
        let lease_until = (self.app.clock.now() + LEASE).naive_utc();
        self.app
            .db
            .write(move |conn| {
                let mut job = jobs::find(conn, id)?.ok_or_else(|| Problem::not_found("job"))?;
                if job.state != JobState::Running || job.attempts != attempt {
                    return Err(Problem::new(Code::WrongState, "Another server has taken this job up."));
                }
                job.lease_until = Some(lease_until);
                change(&mut job);
                Ok(jobs::update(conn, &job)?)
            })
            .await
    }
}
