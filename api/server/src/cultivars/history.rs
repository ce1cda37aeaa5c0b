//! What a cultivar's record was before each change.

use actix_web::{get, web};
use chrono::NaiveDateTime;
use storksbill_db::Conn;
use storksbill_db::rows::cultivars::{self, Cultivar};
use storksbill_db::rows::history::{self, Past};
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_domain::policy::Actor;

use super::dto::{CultivarOut, PastOut};
use super::origin;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};

/// Keeps a record that is about to be changed: whole, whoever may see its parents.
pub(crate) fn keep(
    conn: &mut Conn,
    cultivar: &Cultivar,
    by: MemberId,
    now: NaiveDateTime,
    why: Option<&str>,
) -> Result<(), Problem> {
    let candidates = cultivars::candidates_of(conn, &[cultivar.id])?;
    let all = origin::named(cultivar, &candidates).into_iter().collect();
    let record = serde_json::to_string(&CultivarOut::of(cultivar.clone(), &candidates, &all))
        .map_err(|error| Problem::new(Code::Internal, format!("The record cannot be kept: {error}.")))?;
    let past = Past {
        cultivar_id: cultivar.id,
        version: cultivar.version,
        record,
        changed_by: by,
        changed_at: now,
        why: why.map(str::to_owned),
    };
    Ok(history::keep(conn, &past)?)
}

/// See what a cultivar's record was
///
/// Each version before the last, the latest first: to the member who entered it, and to the registrar. A record
/// that was merged into another keeps its own history, and so does the other.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Past versions", body = List<PastOut>))
)]
#[get("/cultivars/{cultivar_id}/history")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    page: Page,
) -> Result<List<PastOut>, Problem> {
    let id = path.into_inner();
    let before = page.after.as_ref().map(|Place(version, _)| version.parse::<i32>()).transpose();
    let before = before
        .map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let rows = app
        .db
        .read(move |conn| {
            let seen = cultivars::find_visible_to(conn, &auth, id)?;
            let cultivar = seen.ok_or_else(|| Problem::not_found("cultivar"))?;
            if !auth.is_registrar() && cultivar.entered_by != Some(auth.member) {
                let words = "Its history is for the member who entered it, and for the registrar.";
                return Err(Problem::new(Code::NotAllowed, words));
            }
            let rows = history::page(conn, id, before, limit)?;
            told(conn, &auth, rows)
        })
        .await?;
    Ok(page.list(rows, |past| Place(past.record.version.to_string(), String::new()), |past| past))
}

fn told(conn: &mut Conn, actor: &Actor, rows: Vec<(Past, String)>) -> Result<Vec<PastOut>, Problem> {
    let mut all = Vec::with_capacity(rows.len());
    for (past, changed_by_name) in rows {
        let record: CultivarOut = serde_json::from_str(&past.record)
            .map_err(|error| Problem::new(Code::Internal, format!("The record cannot be read: {error}.")))?;
        let seen = cultivars::seen_among(conn, actor, &record.names())?;
        all.push(PastOut {
            record: record.shown(&seen),
            changed_by: past.changed_by,
            changed_by_name,
            changed_at: past.changed_at.and_utc(),
            why: past.why,
        });
    }
    Ok(all)
}
