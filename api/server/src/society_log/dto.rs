//! What is sent.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use serde::Serialize;
use storksbill_db::Conn;
use storksbill_db::rows::society_log::{self, LogLine};
use storksbill_domain::ids::{ClubId, LogLineId, MemberId};
use storksbill_domain::words::SocietyAct;
use utoipa::ToSchema;

use crate::http::problem::Problem;

/// A person a line names.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LogPerson {
    /// The member.
    pub id: MemberId,
    /// The name they go by today; none where the account is gone.
    pub name: Option<String>,
}

/// A line of the society's log.
#[derive(Debug, Serialize, ToSchema)]
pub struct LogLineOut {
    /// Identity; later lines have later ids.
    pub id: LogLineId,
    /// When it was done.
    pub at: DateTime<Utc>,
    /// Who did it; none where it came from the server's own command line or from somebody not logged in.
    pub by: Option<LogPerson>,
    /// The network address it was asked from. Left out for a member's own lines.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from_address: Option<String>,
    /// What kind of act it was.
    pub act: SocietyAct,
    /// The member it was done to.
    pub about: Option<LogPerson>,
    /// The club it concerns.
    pub club_id: Option<ClubId>,
    /// A sentence.
    pub words: String,
}

impl LogLineOut {
    /// The lines with the names of today.
    pub(super) fn load(conn: &mut Conn, lines: &[LogLine]) -> Result<Vec<Self>, Problem> {
        let ids: Vec<_> = lines.iter().flat_map(|line| [line.by_id, line.about_id]).flatten().collect();
        let names: HashMap<_, _> = society_log::names_of(conn, &ids)?.into_iter().collect();
        let person = |id: MemberId| LogPerson { id, name: names.get(&id).cloned() };
        let shown = lines.iter().map(|line| Self {
            id: line.id,
            at: line.at.and_utc(),
            by: line.by_id.map(person),
            from_address: line.from_address.clone(),
            act: line.act,
            about: line.about_id.map(person),
            club_id: line.club_id,
            words: line.words.clone(),
        });
        Ok(shown.collect())
    }
}
