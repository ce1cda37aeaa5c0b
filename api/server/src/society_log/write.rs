//! The one function that adds a line.

use std::net::IpAddr;

use chrono::NaiveDateTime;
use storksbill_db::Conn;
use storksbill_db::rows::society_log::{self, LogLine};
use storksbill_domain::ids::{ClubId, LogLineId, MemberId};
use storksbill_domain::words::SocietyAct;

use crate::http::problem::Problem;

/// Who asks for something, when, and from where.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    /// The member; none from the command line, or where nobody was logged in.
    pub by: Option<MemberId>,
    /// The network address, where there is one.
    pub from: Option<IpAddr>,
    /// When.
    pub at: NaiveDateTime,
}

/// What was done.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The kind of act.
    pub act: SocietyAct,
    /// The member it was done to.
    pub about: Option<MemberId>,
    /// The club it concerns.
    pub club: Option<ClubId>,
    /// A sentence without names of people: whom it is about stands beside it and is looked up when it is read.
    pub words: String,
}

/// Adds a line, in the transaction of what it tells of.
pub fn note(conn: &mut Conn, asked: Asked, entry: Entry) -> Result<(), Problem> {
    let line = LogLine {
        id: LogLineId::fresh(),
        at: asked.at,
        by_id: asked.by,
        from_address: asked.from.map(|address| address.to_string()),
        act: entry.act,
        about_id: entry.about,
        club_id: entry.club,
        words: entry.words,
    };
    Ok(society_log::insert(conn, &line)?)
}
