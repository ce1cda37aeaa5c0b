//! The envelope of every answer, and pages.

use serde::Serialize;
use utoipa::ToSchema;

use crate::http::problem::{Code, Problem};

/// Rows of a page when the caller does not say.
const USUAL_ROWS: usize = 1_000;
/// Most rows of a page.
const MOST_ROWS: usize = 10_000;

/// What every call answers.
#[derive(Debug, Serialize, ToSchema)]
pub struct BrapiAnswer<T: ToSchema> {
    /// Definitions of JSON-LD; none are given.
    #[serde(rename = "@context")]
    context: Vec<String>,
    /// Which page this is.
    metadata: BrapiMetadata,
    /// What was asked for.
    result: T,
}

/// Rows of a page.
#[derive(Debug, Serialize, ToSchema)]
pub struct BrapiRows<T: ToSchema> {
    /// The rows.
    data: Vec<T>,
}

/// What is to be known of an answer.
#[derive(Debug, Serialize, ToSchema)]
pub struct BrapiMetadata {
    /// Files that belong to it; there are none.
    datafiles: Vec<String>,
    /// Which page this is.
    pagination: BrapiPagination,
    /// Messages; there are none.
    status: Vec<String>,
}

/// Which page this is.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct BrapiPagination {
    /// The page, from 0.
    current_page: usize,
    /// Rows of a full page.
    page_size: usize,
    /// Rows of all pages.
    total_count: usize,
    /// Pages.
    total_pages: usize,
}

/// Which page is asked for.
#[derive(Debug, Clone, Copy)]
pub struct Wanted {
    page: usize,
    size: usize,
}

impl Wanted {
    /// From the query.
    ///
    /// # Errors
    /// 422 `invalid-query` for a page of no rows or of too many.
    pub fn of(page: Option<usize>, size: Option<usize>) -> Result<Self, Problem> {
        let size = size.unwrap_or(USUAL_ROWS);
        if !(1..=MOST_ROWS).contains(&size) {
            return Err(out_of_range("pageSize", 1, MOST_ROWS));
        }
        Ok(Self { page: page.unwrap_or(0), size })
    }

    /// The rows of the page, and the metadata that go with them.
    pub fn cut<T>(self, all: Vec<T>) -> (Vec<T>, Cut) {
        let total = all.len();
        let skipped = self.page.saturating_mul(self.size);
        (all.into_iter().skip(skipped).take(self.size).collect(), Cut { wanted: self, total })
    }
}

/// How a page was cut.
#[derive(Debug, Clone, Copy)]
pub struct Cut {
    wanted: Wanted,
    total: usize,
}

impl Cut {
    /// The answer with these rows.
    pub fn answer<T: ToSchema>(self, data: Vec<T>) -> BrapiAnswer<BrapiRows<T>> {
        let Self { wanted: Wanted { page, size }, total } = self;
        BrapiAnswer::of(page, size, total, BrapiRows { data })
    }
}

impl<T: ToSchema> BrapiAnswer<T> {
    /// The answer that tells of one thing.
    pub fn one(result: T) -> Self {
        Self::of(0, 1, 1, result)
    }

    fn of(current_page: usize, page_size: usize, total_count: usize, result: T) -> Self {
        let total_pages = total_count.div_ceil(page_size);
        let pagination = BrapiPagination { current_page, page_size, total_count, total_pages };
        let metadata = BrapiMetadata { datafiles: Vec::new(), pagination, status: Vec::new() };
        Self { context: Vec::new(), metadata, result }
    }
}

/// The refusal of a number of the query.
pub fn out_of_range(name: &str, least: usize, most: usize) -> Problem {
    let detail = format!("must be from {least} to {most}");
    let problem = Problem::new(Code::InvalidQuery, format!("{name} {detail}."));
    problem.at(name, "out-of-range", detail)
}

#[cfg(test)]
mod tests {
    use super::Wanted;

    #[test]
    fn pages_are_counted_from_nought() {
        let cut =
            |page, size| Wanted::of(Some(page), Some(size)).map(|wanted| wanted.cut((0..5).collect()).0);
        assert_eq!(cut(0, 2).ok(), Some(vec![0, 1]));
        assert_eq!(cut(2, 2).ok(), Some(vec![4]));
        assert_eq!(cut(3, 2).ok(), Some(Vec::new()));
        assert_eq!(cut(usize::MAX, 2).ok(), Some(Vec::new()));
        assert!(Wanted::of(None, Some(0)).is_err() && Wanted::of(None, Some(10_001)).is_err());
    }
}
