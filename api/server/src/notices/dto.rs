//! What is sent.

use chrono::{DateTime, NaiveDate, Utc};
use serde::Serialize;
use storksbill_db::rows::notices::Notice;
use storksbill_domain::ids::NoticeId;
use storksbill_domain::words::{NoticeKind, SubjectKind};
use utoipa::ToSchema;

use crate::http::json::Findings;

/// The record a notice is about.
#[derive(Debug, Serialize, ToSchema)]
pub struct SubjectOut {
    /// What sort of record.
    pub kind: SubjectKind,
    /// Its id.
    pub id: String,
}

/// Something you are told.
#[derive(Debug, Serialize, ToSchema)]
pub struct NoticeOut {
    /// Identity.
    pub id: NoticeId,
    /// What it asks for.
    pub kind: NoticeKind,
    /// The day it is about.
    pub due_on: NaiveDate,
    /// In words.
    pub words: String,
    /// The record it is about; null where there is none.
    pub subject: Option<SubjectOut>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When you said that you had seen it.
    pub seen_at: Option<DateTime<Utc>>,
    /// When you said that it is done.
    pub done_at: Option<DateTime<Utc>>,
}

impl NoticeOut {
    pub(super) fn of(notice: Notice) -> Self {
        Self {
            id: notice.id,
            kind: notice.kind,
            due_on: notice.due_on,
            words: notice.words,
            subject: notice.subject_kind.zip(notice.subject_id).map(|(kind, id)| SubjectOut { kind, id }),
            created_at: notice.created_at.and_utc(),
            seen_at: notice.seen_at.map(|moment| moment.and_utc()),
            done_at: notice.done_at.map(|moment| moment.and_utc()),
        }
    }
}

/// Text of 1 to `most` characters that other members will be told: without e-mail addresses.
pub fn check_words(found: &mut Findings, pointer: &str, text: &str, most: usize) {
    found.text(pointer, text, 1, most);
    let address = |word: &str| {
        word.split_once('@').is_some_and(|(before, after)| {
            before.ends_with(char::is_alphanumeric) && after.starts_with(char::is_alphanumeric)
        })
    };
    if text.split_whitespace().any(address) {
        found.add(pointer, "e-mail-address", "is told to other members; leave e-mail addresses out");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_for_others_hold_no_address() {
        for (text, good) in [
            ("Rust on two leaves @ the base, 3@ a time", true),
            ("Ask una@merrow.example about it", false),
            ("(una@merrow.example)", false),
            ("  ", false),
            ("rust", true),
        ] {
            let mut found = Findings::default();
            check_words(&mut found, "/what", text, 50);
            assert_eq!(found.into_result().is_ok(), good, "{text}");
        }
    }
}
