//! The members' pooled records, read from the database when they are old and shared by all requests.

/// Pooled records and when they were read.
#[derive(Debug, Default)]
pub struct PooledRecords {}
