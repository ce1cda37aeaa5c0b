//! The diary of a plant: as visible as the plant, written by its grower.

use actix_web::{delete, get, patch, post, web};
use chrono::NaiveDate;
use storksbill_db::Conn;
use storksbill_db::rows::plants::{self, DiaryEntry, Plant};
use storksbill_domain::day::Day;
use storksbill_domain::ids::{DiaryId, PlantId};

use super::dto::{DiaryIn, DiaryOut, DiaryPatch};
use super::{access, rules};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List a plant's diary
///
/// By day, the oldest first; to everybody who may see the plant.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Records by day", body = List<DiaryOut>))
)]
#[get("/plants/{plant_id}/diary")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<PlantId>,
    page: Page,
) -> Result<List<DiaryOut>, Problem> {
    let id = path.into_inner();
    let after = page.after.as_ref().map(place_of).transpose()?;
    let limit = page.probe();
    let diary = app
        .db
        .glance(move |conn| {
            let plant = plants::find(conn, id)?.ok_or_else(|| Problem::not_found("plant"))?;
            access::may_see(conn, &auth, &plant, "plant")?;
            Ok::<_, Problem>(plants::diary(conn, id, after.as_ref(), limit)?)
        })
        .await?;
    Ok(page.list(diary, |entry| Place(entry.day.to_string(), entry.id.to_string()), DiaryOut::of))
}

fn place_of(place: &Place) -> Result<(NaiveDate, String), Problem> {
    let Place(day, id) = place;
    let day: Day = day.parse().map_err(|_not_a_day| {
        Problem::new(Code::BadCursor, "Send `next_cursor` of this list's page before, unchanged.")
    })?;
    Ok((day.into(), id.clone()))
}

/// See a diary record
///
/// To everybody who may see its plant.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    responses((status = 200, description = "The record", body = DiaryOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/diary/{diary_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<DiaryId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let entry = app
        .db
        .glance(move |conn| {
            let (entry, plant) = found(conn, id)?;
            access::may_see(conn, &auth, &plant, "diary record")?;
            Ok::<_, Problem>(entry)
        })
        .await?;
    let version = entry.version;
    Reply::versioned(version, &DiaryOut::of(entry))
}

/// Enter a diary record
///
/// Of your own plant. A record tells what happened and changes nothing else: after a `loss` set the plant's
/// `how_many`, after a `potting` its `pot_mm`, yourself.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    request_body = DiaryIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = DiaryOut))
)]
#[post("/plants/{plant_id}/diary")]
pub async fn create(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<PlantId>,
    body: Valid<DiaryIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let (now, today) = (app.clock.now(), app.clock.today());
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let plant = plants::find(conn, id)?.ok_or_else(|| Problem::not_found("plant"))?;
                access::may_change(conn, &auth, &plant, "plant")?;
                let entry = value.clone().into_entry(id, now);
                let mut found = Findings::default();
                rules::entry(None, &entry, &plant, today, &mut found);
                found.into_result()?;
                plants::insert_diary_entry(conn, &entry)?;
                Reply::created(format!("/api/v1/diary/{}", entry.id), 1, &DiaryOut::of(entry))
            })
        })
        .await
}

/// Change a diary record
///
/// Of your own plant. What you do not mention stays; null clears.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    request_body = DiaryPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = DiaryOut))
)]
#[patch("/diary/{diary_id}")]
pub async fn change(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<DiaryId>,
    if_match: IfMatch,
    body: Valid<DiaryPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    let today = app.clock.today();
    app.db
        .write(move |conn| {
            let (before, plant) = found(conn, id)?;
            access::may_change(conn, &auth, &plant, "diary record")?;
            if_match.check(before.version)?;
            let mut after = patch.applied_to(&before);
            let mut found = Findings::default();
            rules::entry(Some(&before), &after, &plant, today, &mut found);
            found.into_result()?;
            after.version += 1;
            plants::update_diary_entry(conn, &after)?;
            Reply::versioned(after.version, &DiaryOut::of(after))
        })
        .await
}

/// Take a diary record away
///
/// Of your own plant.
#[utoipa::path(
    tag = "plants",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 204, description = "Taken away"))
)]
#[delete("/diary/{diary_id}")]
pub async fn remove(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<DiaryId>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            let (entry, plant) = found(conn, id)?;
            access::may_change(conn, &auth, &plant, "diary record")?;
            if_match.check(entry.version)?;
            plants::delete_diary_entry(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}

fn found(conn: &mut Conn, id: DiaryId) -> Result<(DiaryEntry, Plant), Problem> {
    plants::diary_entry(conn, id)?.ok_or_else(|| Problem::not_found("diary record"))
}
