//! Work done aside from any request, and who has taken it up.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use storksbill_domain::ids::{JobId, MemberId};
use storksbill_domain::words::{JobKind, JobState};

use crate::schema::{job_askers, jobs};
use crate::{Conn, DbError};

/// A piece of work.
#[derive(Debug, Clone, PartialEq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = jobs, treat_none_as_null = true)]
pub struct Job {
    /// Identity.
    pub id: JobId,
    /// What it does.
    pub kind: JobKind,
    /// Where it stands.
    pub state: JobState,
    /// How far it has come, 0 to 1.
    pub progress: f64,
    /// What it is at, or what came of it, in one line.
    pub words: String,
    /// The id of the record it works on, where there is one.
    pub subject: Option<String>,
    /// JSON, once it is done.
    pub result: Option<String>,
    /// Why it failed, in one line.
    pub problem: Option<String>,
    /// Who asked; nobody where the timetable did.
    pub asked_by: Option<MemberId>,
    /// While it runs: when the next server may take it, unless progress is reported before.
    pub lease_until: Option<NaiveDateTime>,
    /// How often it was taken up.
    pub attempts: i32,
    /// When it was asked for.
    pub created_at: NaiveDateTime,
    /// When it was first taken up.
    pub started_at: Option<NaiveDateTime>,
    /// When it was done or given up.
    pub ended_at: Option<NaiveDateTime>,
}

/// Adds a job.
pub fn insert(conn: &mut Conn, job: &Job) -> Result<(), DbError> {
    diesel::insert_into(jobs::table).values(job.clone()).execute(conn)?;
    Ok(())
}

/// Stores a job that was changed.
pub fn update(conn: &mut Conn, job: &Job) -> Result<(), DbError> {
    diesel::update(jobs::table.find(job.id)).set(job.clone()).execute(conn)?;
    Ok(())
}

/// The job of this id.
pub fn find(conn: &mut Conn, id: JobId) -> Result<Option<Job>, DbError> {
    Ok(jobs::table.find(id).select(Job::as_select()).first(conn).optional()?)
}

/// Notes who else asked for a job.
pub fn add_asker(conn: &mut Conn, job: JobId, member: MemberId) -> Result<(), DbError> {
    if !is_asker(conn, job, member)? {
        let row = (job_askers::job_id.eq(job), job_askers::member_id.eq(member));
        diesel::insert_into(job_askers::table).values(row).execute(conn)?;
    }
    Ok(())
}

/// Whether a member asked for a job that another had asked for before.
pub fn is_asker(conn: &mut Conn, job: JobId, member: MemberId) -> Result<bool, DbError> {
    let row = job_askers::table.find((job, member)).select(job_askers::job_id);
    Ok(row.first::<JobId>(conn).optional()?.is_some())
}

/// Jobs, newest first.
pub fn page(
    conn: &mut Conn,
    state: Option<JobState>,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<Job>, DbError> {
    // Ids sort by the moment of their making.
    let mut query = jobs::table.order(jobs::id.desc()).limit(limit).select(Job::as_select()).into_boxed();
    if let Some(state) = state {
        query = query.filter(jobs::state.eq(state));
    }
    if let Some(id) = after {
        query = query.filter(jobs::id.lt(id.to_owned()));
    }
    Ok(query.load(conn)?)
}

/// The job of this kind and subject that nobody has taken up yet.
pub fn waiting(conn: &mut Conn, kind: JobKind, subject: Option<&str>) -> Result<Option<Job>, DbError> {
    let mut query = jobs::table
        .filter(jobs::state.eq(JobState::Waiting))
        .filter(jobs::kind.eq(kind))
        .order(jobs::id)
        .select(Job::as_select())
        .into_boxed();
    query = match subject {
        Some(subject) => query.filter(jobs::subject.eq(subject.to_owned())),
        None => query.filter(jobs::subject.is_null()),
    };
    Ok(query.first(conn).optional()?)
}

/// Whether a job of this kind and subject waits or runs.
pub fn is_unfinished(conn: &mut Conn, kind: JobKind, subject: &str) -> Result<bool, DbError> {
    let unfinished = jobs::table
        .filter(jobs::kind.eq(kind))
        .filter(jobs::subject.eq(subject.to_owned()))
        .filter(jobs::state.eq_any([JobState::Waiting, JobState::Running]))
        .limit(1)
        .select(jobs::id);
    Ok(unfinished.first::<JobId>(conn).optional()?.is_some())
}

/// The job to take up next: the oldest that waits, or that runs without having been heard of until `now`.
pub fn next(conn: &mut Conn, now: NaiveDateTime) -> Result<Option<Job>, DbError> {
    let free = jobs::state
        .eq(JobState::Waiting)
        .or(jobs::state.eq(JobState::Running).and(jobs::lease_until.lt(now)));
    Ok(jobs::table.filter(free).order(jobs::id).select(Job::as_select()).first(conn).optional()?)
}

/// When a job of this kind was last asked for.
pub fn last_asked_at(conn: &mut Conn, kind: JobKind) -> Result<Option<NaiveDateTime>, DbError> {
    let last =
        jobs::table.filter(jobs::kind.eq(kind)).order(jobs::created_at.desc()).select(jobs::created_at);
    Ok(last.first(conn).optional()?)
}
