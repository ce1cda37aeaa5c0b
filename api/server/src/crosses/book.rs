//! See, enter, change and take away crosses.

use std::collections::BTreeMap;

use actix_web::{delete, get, patch, post, web};
use chrono::Datelike;
use serde::Deserialize;
use storksbill_db::rows::crosses::{self, Cross, Filter, Parent};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{CrossId, CultivarId, MemberId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::ParentSide;
use utoipa::IntoParams;

use super::access;
use super::dto::{CountsOut, CrossIn, CrossOut, CrossPatch, ParentOut, seed_warning};
use super::parents::Known;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::etag::IfMatch;
use crate::http::json::{Findings, Valid};
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::pedigrees::individuals::loop_told;

/// Which crosses.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Which {
    /// Of one raiser; yours and all that you may see when not given.
    pub raiser_id: Option<MemberId>,
    /// That name this cultivar itself as a parent, not a plant or a seedling of it.
    pub cultivar_id: Option<CultivarId>,
}

/// List crosses
///
/// Yours, and those of others that you may see, the last entered first; each with sums of what was counted.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    params(Which, Page),
    responses((status = 200, description = "Crosses", body = List<CrossOut>))
)]
#[get("/crosses")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    which: web::Query<Which>,
    page: Page,
) -> Result<List<CrossOut>, Problem> {
    let filter = Filter { raiser: which.raiser_id, cultivar: which.cultivar_id };
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    let found = app
        .db
        .read(move |conn| {
            let rows = crosses::visible_to(conn, &auth, filter, after.as_deref(), limit)?;
            told(conn, &auth, rows)
        })
        .await?;
    Ok(page.list(found, |cross| Place(String::new(), cross.id.to_string()), |cross| cross))
}

/// See a cross
///
/// With its parents and sums of what was counted. A parent that you may not see is undisclosed.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    responses((status = 200, description = "The cross", body = CrossOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/crosses/{cross_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<CrossId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let cross = app
        .db
        .read(move |conn| {
            let row = access::visible(conn, &auth, id, "cross")?;
            told_one(conn, &auth, row)
        })
        .await?;
    Reply::versioned(cross.version, &cross)
}

/// Enter a cross
///
/// In your own book. Warnings come with the answer and hinder nothing. It is private until you release it.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    request_body = CrossIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses(
        (status = 201, description = "Entered", body = CrossOut),
        (status = 409, description = "You have a cross of this number", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[post("/crosses")]
pub async fn create(auth: Auth, app: web::Data<App>, body: Valid<CrossIn>) -> Result<Reply, Problem> {
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let number = match value.own_number() {
                    Some(number) => number,
                    None => next_number(now.year(), &crosses::numbers_of(conn, auth.member)?),
                };
                let (cross, parents) = value.clone().into_rows(auth.member, number, now);
                let mut found = Findings::default();
                Known::load(conn, &auth, &parents)?.check(&parents, &mut found);
                found.into_result()?;
                crosses::insert(conn, &cross).map_err(taken)?;
                crosses::set_parents(conn, cross.id, &parents)?;
                let id = cross.id;
                let row = access::own(conn, &auth, id, "cross")?;
                Reply::created(format!("/api/v1/crosses/{id}"), 1, &told_one(conn, &auth, row)?)
            })
        })
        .await
}

/// Change a cross
///
/// Your own. What you do not mention stays; null clears. Parents that would make the cross descend from itself
/// are refused.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    request_body = CrossPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses(
        (status = 200, description = "Changed", body = CrossOut),
        (status = 409, description = "You have a cross of this number, or it would descend from itself", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[patch("/crosses/{cross_id}")]
pub async fn change(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CrossId>,
    if_match: IfMatch,
    body: Valid<CrossPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            let (before, _) = access::own(conn, &auth, id, "cross")?;
            if_match.check(before.version)?;
            let named = patch.named_parents(id);
            let mut found = Findings::default();
            Known::load(conn, &auth, &named)?.check(&named, &mut found);
            found.into_result()?;
            let mut after = patch.applied_to(&before);
            after.version += 1;
            crosses::update(conn, &after, now).map_err(taken)?;
            if let Some(parents) = patch.parents_after(id, &crosses::parents_of(conn, &[id])?) {
                crosses::set_parents(conn, id, &parents).map_err(|error| loop_told(conn, &auth, error))?;
            }
            let row = access::own(conn, &auth, id, "cross")?;
            Reply::versioned(after.version, &told_one(conn, &auth, row)?)
        })
        .await
}

/// Take a cross away
///
/// Your own, and only while nothing belongs to it: no pollination, no count, no seedling.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses(
        (status = 204, description = "Taken away"),
        (status = 409, description = "Something belongs to it", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[delete("/crosses/{cross_id}")]
pub async fn remove(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CrossId>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            let (cross, _) = access::own(conn, &auth, id, "cross")?;
            if_match.check(cross.version)?;
            if crosses::in_use(conn, id)? {
                return Err(Problem::new(
                    Code::InUse,
                    "Pollinations, counts or seedlings belong to this cross; a cross that failed is kept too.",
                ));
            }
            crosses::delete(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "You have a cross of this number already.").at(
        "/number",
        "taken",
        "is the number of another cross of yours",
    );
    Problem::from(error).on_constraint("crosses_raiser_id_number_key", taken)
}

/// The number after the highest of the year among `taken`: 2026-017.
fn next_number(year: i32, taken: &[String]) -> String {
    let lead = format!("{year}-");
    let numbers = taken.iter().filter_map(|number| number.strip_prefix(&lead)?.parse::<u32>().ok());
    let next = numbers.max().unwrap_or(0).saturating_add(1);
    format!("{lead}{next:03}")
}

fn told_one(conn: &mut Conn, actor: &Actor, row: (Cross, String)) -> Result<CrossOut, Problem> {
    let mut told = told(conn, actor, vec![row])?;
    told.pop().ok_or_else(|| Problem::not_found("cross"))
}

/// Crosses as the asker is told of them, with one look-up of each sort for all.
pub(crate) fn told(
    conn: &mut Conn,
    actor: &Actor,
    rows: Vec<(Cross, String)>,
) -> Result<Vec<CrossOut>, Problem> {
    let ids: Vec<CrossId> = rows.iter().map(|(cross, _)| cross.id).collect();
    let all = crosses::parents_of(conn, &ids)?;
    let known = Known::load(conn, actor, &all)?;
    let counts = crosses::counts_of(conn, &ids)?;
    let mut parents: BTreeMap<CrossId, Vec<Parent>> = BTreeMap::new();
    for parent in all {
        parents.entry(parent.cross_id).or_default().push(parent);
    }
    rows.into_iter()
        .map(|(cross, raiser_name)| {
            let parents = parents.remove(&cross.id).unwrap_or_default();
            let counts = counts.get(&cross.id).copied().unwrap_or_default();
            let of = |side: ParentSide| -> Vec<ParentOut> {
                parents.iter().filter(|p| p.side == side).map(|parent| known.told(parent)).collect()
            };
            let seed_parent = of(ParentSide::Seed).pop().ok_or_else(|| Problem::not_found("cross"))?;
            // A reason may name a parent that others are not told of.
            let warnings = if cross.raiser_id == actor.member {
                let gametes = [cross.seed_gamete, cross.pollen_gamete];
                let of_parents =
                    known.selfings(&parents).into_iter().chain(known.odd_sets(&parents, gametes));
                of_parents.chain(seed_warning(&counts)).collect()
            } else {
                Vec::new()
            };
            Ok(CrossOut {
                id: cross.id,
                raiser_id: cross.raiser_id,
                raiser_name,
                number: cross.number,
                seed_parent,
                pollen_parents: of(ParentSide::Pollen),
                seed_gamete: cross.seed_gamete,
                pollen_gamete: cross.pollen_gamete,
                visibility: cross.visibility,
                pooled: cross.pooled,
                notes: cross.notes,
                counts: CountsOut::of(counts),
                warnings,
                version: cross.version,
                created_at: cross.created_at.and_utc(),
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_number_follows_the_highest_of_the_year() {
        let taken = ["2025-090", "2026-004", "2026-x", "Una 3", "2026-017"].map(str::to_owned);
        assert_eq!(next_number(2026, &taken), "2026-018");
        assert_eq!(next_number(2027, &taken), "2027-001");
        assert_eq!(next_number(2026, &["2026-999".to_owned()]), "2026-1000");
    }
}
