//! What is sent.

use chrono::{DateTime, Utc};
use serde::Serialize;
use serde_json::Value;
use storksbill_db::rows::jobs::Job;
use storksbill_domain::ids::{JobId, MemberId};
use storksbill_domain::words::{JobKind, JobState};
use utoipa::ToSchema;

/// Work done aside from any request.
#[derive(Debug, Serialize, ToSchema)]
pub struct JobOut {
    /// Identity.
    pub id: JobId,
    /// What it does.
    pub kind: JobKind,
    /// Where it stands.
    pub state: JobState,
    /// How far it has come, from 0 to 1.
    pub progress: f64,
    /// What it is at, or what came of it, in one line.
    pub words: String,
    /// The id of the record it works on: for fetched weather the station's.
    pub subject: Option<String>,
    /// What came of it in figures; null until it is done.
    #[schema(value_type = Option<Object>)]
    pub result: Option<Value>,
    /// Why it failed, in one line; null unless it did.
    pub problem: Option<String>,
    /// Who asked for it; null where the timetable did.
    pub asked_by: Option<MemberId>,
    /// How often a server has taken it up; more than once where one was stopped at it.
    pub attempts: i32,
    /// When it was asked for.
    pub created_at: DateTime<Utc>,
    /// When it was first taken up.
    pub started_at: Option<DateTime<Utc>>,
    /// When it was done or failed.
    pub ended_at: Option<DateTime<Utc>>,
}

impl JobOut {
    /// As it stands.
    pub fn of(job: Job) -> Self {
        Self {
            id: job.id,
            kind: job.kind,
            state: job.state,
            progress: job.progress,
            words: job.words,
            subject: job.subject,
            result: job.result.and_then(|json| serde_json::from_str(&json).ok()),
            problem: job.problem,
            asked_by: job.asked_by,
            attempts: job.attempts,
            created_at: job.created_at.and_utc(),
            started_at: job.started_at.map(|at| at.and_utc()),
            ended_at: job.ended_at.map(|at| at.and_utc()),
        }
    }
}
