//! Ask the holders of what is in danger to strike cuttings and spread them.

use std::collections::BTreeSet;

use actix_web::{post, web};
use chrono::{DateTime, TimeDelta, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::conservation::{self, Keeper};
use storksbill_db::rows::notices::{self, Notice};
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_domain::words::{NoticeKind, SubjectKind};

use super::dto::{NudgesIn, NudgesOut};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::json::Valid;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// A member is nudged about a cultivar once in so long.
const ONCE_IN: TimeDelta = TimeDelta::days(60);
/// By when the cuttings had best be struck.
const WITHIN: TimeDelta = TimeDelta::days(30);

/// Nudge the holders of what is in danger
///
/// Officers only. Every holder of a rare cultivar, and of one on the conservation list that fewer hold than are
/// wanted, gets a notice to strike cuttings and spread them: one a cultivar, and none about a cultivar of which
/// they had one in the last 60 days. Send `{}`.
#[utoipa::path(
    tag = "conservation",
    security(("session" = [])),
    request_body = NudgesIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 200, description = "Who was asked to spread what", body = NudgesOut))
)]
#[post("/conservation/nudges")]
pub async fn send(officer: Officer, app: web::Data<App>, body: Valid<NudgesIn>) -> Result<Reply, Problem> {
    let ticket = body.ticket;
    let now = app.clock.now();
    app.db
        .write(move |conn| ticket.once(conn, officer.member, now, |conn| Reply::ok(&nudge(conn, now)?)))
        .await
}

fn nudge(conn: &mut Conn, now: DateTime<Utc>) -> Result<NudgesOut, Problem> {
    let since = (now - ONCE_IN).naive_utc();
    let told: BTreeSet<(MemberId, String)> =
        notices::given_since(conn, NoticeKind::StrikeAndSpread, since)?.into_iter().collect();
    let keepers = conservation::keepers(conn)?;
    let all = keepers.len();
    let due: Vec<Keeper> = keepers
        .into_iter()
        .filter(|keeper| !told.contains(&(keeper.member_id, keeper.cultivar_id.to_string())))
        .collect();
    let fresh: Vec<Notice> = due.iter().map(|keeper| notice_for(keeper, now)).collect();
    notices::insert_all(conn, &fresh)?;
    let members: BTreeSet<MemberId> = due.iter().map(|keeper| keeper.member_id).collect();
    let cultivars: BTreeSet<CultivarId> = due.iter().map(|keeper| keeper.cultivar_id).collect();
    Ok(NudgesOut {
        notices: due.len(),
        members: members.len(),
        cultivars: cultivars.len(),
        already_told: all - due.len(),
    })
}

fn notice_for(keeper: &Keeper, now: DateTime<Utc>) -> Notice {
    let name = &keeper.cultivar_name;
    let alone = match keeper.holders {
        1 => format!("As far as the society knows, nobody but you holds {name}."),
        n => format!("As far as the society knows, {n} members hold {name}, you among them."),
    };
    let listed = match &keeper.reason {
        Some(reason) => format!(" It is on the conservation list: {reason}"),
        None => String::new(),
    };
    let words = format!(
        "{alone}{listed}\nStrike a few cuttings and offer them in the swap, so that one bad winter does not lose it."
    );
    let subject = Some((SubjectKind::Cultivar, keeper.cultivar_id.as_str()));
    let due_on = (now + WITHIN).date_naive();
    Notice::fresh(keeper.member_id, NoticeKind::StrikeAndSpread, due_on, words, subject, now.naive_utc())
}
