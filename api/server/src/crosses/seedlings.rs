//! Numbered seedlings.

use actix_web::{get, patch, post, web};
use storksbill_db::rows::crosses::{self, Cross, Seedling};
use storksbill_db::rows::cultivars;
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{CrossId, CultivarId, SeedlingId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::SeedlingStatus;

use super::access;
use super::dto::{SeedlingIn, SeedlingOut, SeedlingPatch};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::pedigrees::individuals::loop_told;

/// List the seedlings of a cross
///
/// By number, to everybody who may see the cross.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Seedlings by number", body = List<SeedlingOut>))
)]
#[get("/crosses/{cross_id}/seedlings")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CrossId>,
    page: Page,
) -> Result<List<SeedlingOut>, Problem> {
    let id = path.into_inner();
    let after = page.after.as_ref().map(|Place(number, _)| number.parse::<i32>()).transpose();
    let after =
        after.map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let (number, rows) = app
        .db
        .read(move |conn| {
            let (cross, _) = access::visible(conn, &auth, id, "cross")?;
            let mut rows = crosses::seedlings_of(conn, id, after, limit)?;
            only_seen(conn, &auth, &mut rows)?;
            Ok::<_, Problem>((cross.number, rows))
        })
        .await?;
    let place = |row: &Seedling| Place(row.number.to_string(), row.id.to_string());
    Ok(page.list(rows, place, |row| SeedlingOut::of(row, &number)))
}

/// See a seedling
///
/// To everybody who may see its cross.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    responses((status = 200, description = "The seedling", body = SeedlingOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/seedlings/{seedling_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<SeedlingId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let (seedling, cross) = app
        .db
        .read(move |conn| {
            let (seedling, cross) = visible(conn, &auth, id)?;
            let mut rows = vec![seedling];
            only_seen(conn, &auth, &mut rows)?;
            let seedling = rows.pop().ok_or_else(|| Problem::not_found("seedling"))?;
            Ok::<_, Problem>((seedling, cross))
        })
        .await?;
    Reply::versioned(seedling.version, &SeedlingOut::of(seedling, &cross.number))
}

/// Number a seedling
///
/// Of your own cross; it is on trial. No more are numbered than germinated, where those were counted.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    request_body = SeedlingIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses(
        (status = 201, description = "Numbered", body = SeedlingOut),
        (status = 409, description = "The cross has a seedling of this number", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[post("/crosses/{cross_id}/seedlings")]
pub async fn create(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CrossId>,
    body: Valid<SeedlingIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let (cross, _) = access::own(conn, &auth, id, "cross")?;
                let number = match value.number {
                    Some(number) => number,
                    None => crosses::last_number(conn, id)?.unwrap_or(0).saturating_add(1),
                };
                let row = value.clone().into_row(id, number, now);
                let mut counts = crosses::counts_of(conn, &[id])?.remove(&id).unwrap_or_default();
                counts.numbered = Some(counts.numbered.unwrap_or(0) + 1);
                let mut found = Findings::default();
                found.range("/number", number, 1, 100_000);
                if let Err(exceeds) = counts.check() {
                    found.add("", "more-than-before", exceeds.to_string());
                }
                found.into_result()?;
                crosses::insert_seedling(conn, &row).map_err(taken)?;
                let location = format!("/api/v1/seedlings/{}", row.id);
                Reply::created(location, 1, &SeedlingOut::of(row, &cross.number))
            })
        })
        .await
}

/// Change a seedling
///
/// Of your own cross. To name it, enter the cultivar and send `named` with its id; a cultivar that the cross
/// itself descends from is refused.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    request_body = SeedlingPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses(
        (status = 200, description = "Changed", body = SeedlingOut),
        (status = 409, description = "The cross would descend from itself", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[patch("/seedlings/{seedling_id}")]
pub async fn change(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<SeedlingId>,
    if_match: IfMatch,
    body: Valid<SeedlingPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            let (before, cross) = visible(conn, &auth, id)?;
            access::own(conn, &auth, cross.id, "seedling")?;
            if_match.check(before.version)?;
            let mut after = patch.applied_to(&before);
            sound_name(conn, &auth, &before, &after)?;
            after.version += 1;
            crosses::update_seedling(conn, &after).map_err(|error| loop_told(conn, &auth, error))?;
            Reply::versioned(after.version, &SeedlingOut::of(after, &cross.number))
        })
        .await
}

/// Leaves out what seedlings were named as where the asker may not see that.
fn only_seen(conn: &mut Conn, actor: &Actor, rows: &mut [Seedling]) -> Result<(), Problem> {
    let named: Vec<CultivarId> = rows.iter().filter_map(|row| row.cultivar_id).collect();
    let seen = cultivars::visible_among(conn, actor, &named)?;
    for row in rows {
        row.cultivar_id = row.cultivar_id.filter(|id| seen.iter().any(|known| known.id == *id));
    }
    Ok(())
}

/// The seedling with its cross; 404 where the asker may not see it.
fn visible(conn: &mut Conn, actor: &Actor, id: SeedlingId) -> Result<(Seedling, Cross), Problem> {
    let found = crosses::seedlings_of_ids(conn, &[id])?.pop();
    let (seedling, cross) = found.ok_or_else(|| Problem::not_found("seedling"))?;
    if access::sees(conn, actor, &cross)? {
        Ok((seedling, cross))
    } else {
        Err(Problem::not_found("seedling"))
    }
}

fn sound_name(conn: &mut Conn, actor: &Actor, before: &Seedling, after: &Seedling) -> Result<(), Problem> {
    let mut found = Findings::default();
    match (after.status == SeedlingStatus::Named, after.cultivar_id) {
        (true, None) => found.add("/cultivar_id", "required", "a named seedling has its cultivar"),
        (false, Some(_)) => found.add("/cultivar_id", "not-taken", "goes with the status `named` alone"),
        (_, Some(id))
            if after.cultivar_id != before.cultivar_id
                && cultivars::find_visible_to(conn, actor, id)?.is_none() =>
        {
            found.add("/cultivar_id", "not-found", "is not a cultivar of this society; enter it first");
        }
        _ => {}
    }
    found.into_result()
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "The cross has a seedling of this number already.").at(
        "/number",
        "taken",
        "is the number of another seedling of the cross",
    );
    Problem::from(error).on_constraint("seedlings_cross_id_number_key", taken)
}
