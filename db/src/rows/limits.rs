//! Holds what is kept against [`storksbill_domain::limits`], in the functions that write.

use storksbill_domain::limits::Limit;

use crate::DbError;

/// Whether `more` may be added to so many that are kept.
///
/// # Errors
/// [`DbError::TooMany`].
pub(super) fn hold(limit: Limit, kept: i64, more: usize) -> Result<(), DbError> {
    let more = i64::try_from(more).unwrap_or(i64::MAX);
    if kept.saturating_add(more) > limit.most { Err(DbError::TooMany(limit)) } else { Ok(()) }
}
