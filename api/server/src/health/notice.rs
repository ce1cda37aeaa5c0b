//! Tell everybody who received cuttings of a plant what was seen on it.

use std::fmt::Write;

use actix_web::{post, web};
use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::health::{self, Traced};
use storksbill_db::rows::notices::{self, Notice};
use storksbill_db::rows::plants::Plant;
use storksbill_domain::ids::{MemberId, PlantId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{NoticeKind, Standing, SubjectKind};

use super::dto::{HealthNoticeIn, HealthNoticeOut, by_grower};
use super::holds::hold_now;
use super::{CAUTION, trace};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Plants of one grower that a notice names one by one.
const NAMED: usize = 5;

/// Send a health notice
///
/// Its grower or an officer: holds the plant, and tells every grower in its line (see the trace) what was seen,
/// each of their own plants alone and without naming anybody. Where the plant is held already, that hold stands.
///
/// A suspected quarantine pest or disease is to be reported to the plant-health authority of the place; local
/// rules decide.
#[utoipa::path(
    tag = "health",
    security(("session" = [])),
    request_body = HealthNoticeIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Held, and told", body = HealthNoticeOut, headers(("Location" = String, description = "The hold"))))
)]
#[post("/plants/{plant_id}/health-notice")]
pub async fn send(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<PlantId>,
    body: Valid<HealthNoticeIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let plant = trace::guarded(conn, &auth, id)?;
                let told = tell(conn, &auth, &plant, &value, now)?;
                Reply::created(format!("/api/v1/health/holds/{}", told.hold_id), 1, &told)
            })
        })
        .await
}

fn tell(
    conn: &mut Conn,
    actor: &Actor,
    plant: &Plant,
    value: &HealthNoticeIn,
    now: DateTime<Utc>,
) -> Result<HealthNoticeOut, Problem> {
    let hold = match health::in_force_on(conn, plant.id)? {
        Some(hold) => hold,
        None => hold_now(conn, actor, plant.owner_id, Some(plant.id), &value.what, now)?,
    };
    // Everybody is told, however long the line.
    let line = health::descent(conn, plant.id, i64::MAX)?;
    let growers = by_grower(&line, plant.owner_id);
    let active = |rows: &&Vec<&Traced>| rows.iter().all(|row| row.standing == Standing::Active);
    let told: Vec<Notice> = growers
        .iter()
        .filter(|(_, rows)| active(rows))
        .map(|(grower, rows)| notice_for(*grower, rows, value, now))
        .collect();
    notices::insert_all(conn, &told)?;
    let not_told = growers.len() - told.len();
    Ok(HealthNoticeOut { hold_id: hold.id, told: told.len(), not_told, caution: CAUTION })
}

fn notice_for(grower: MemberId, rows: &[&Traced], value: &HealthNoticeIn, now: DateTime<Utc>) -> Notice {
    let subject = rows.first().and_then(|row| {
        let plant = row.plant_id.as_ref().map(|id| (SubjectKind::Plant, id.as_str()));
        plant.or_else(|| row.hand_over_id.as_ref().map(|id| (SubjectKind::HandOver, id.as_str())))
    });
    let words = words_for(rows, value);
    Notice::fresh(grower, NoticeKind::HealthNotice, now.date_naive(), words, subject, now.naive_utc())
}

/// Names the grower's own plants and nobody.
fn words_for(rows: &[&Traced], value: &HealthNoticeIn) -> String {
    let mut words = format!("On a plant that yours came from this was seen: {}", value.what.trim());
    let mut own: Vec<String> = rows
        .iter()
        .take(NAMED)
        .map(|row| match (&row.label, row.plant_id) {
            (Some(label), _) => format!("{} ({label})", row.cultivar_name),
            (None, Some(_)) => row.cultivar_name.clone(),
            (None, None) => format!("a cutting of {} by the swap", row.cultivar_name),
        })
        .collect();
    if rows.len() > NAMED {
        own.push(format!("{} more", rows.len() - NAMED));
    }
    // Writing to a string cannot fail.
    let _ = write!(words, "\nYours: {}.", own.join("; "));
    if let Some(advice) = value.advice.as_deref().map(str::trim).filter(|advice| !advice.is_empty()) {
        let _ = write!(words, "\n{advice}");
    }
    let _ = write!(words, "\n{CAUTION}");
    words
}
