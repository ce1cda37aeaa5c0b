//! Counts of a cross, from the florets that took to the seedlings kept.

use actix_web::{delete, get, post, web};
use storksbill_db::rows::crosses;
use storksbill_domain::ids::{CrossCountId, CrossId};

use super::dto::{CountIn, CountOut, CountedOut, CountsOut, seed_warning};
use super::{access, pollinated};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::{Findings, Valid};
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// List the counts of a cross
///
/// In the order of their entering, to everybody who may see the cross, which has their sums.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Counts", body = List<CountOut>))
)]
#[get("/crosses/{cross_id}/counts")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CrossId>,
    page: Page,
) -> Result<List<CountOut>, Problem> {
    let id = path.into_inner();
    let after = page.after.clone().map(|Place(_, id)| id);
    let limit = page.probe();
    let rows = app
        .db
        .read(move |conn| {
            access::visible(conn, &auth, id, "cross")?;
            Ok::<_, Problem>(crosses::counts_by_day(conn, id, after.as_deref(), limit)?)
        })
        .await?;
    Ok(page.list(rows, |row| Place(String::new(), row.id.to_string()), |row| CountOut::of(&row)))
}

/// Enter a count
///
/// Of your own cross. Counts of a kind add up, so that a harvest or a sowing may come in several. No sum may be
/// more than the nearest known one before it: takes of florets, sown of harvested, germinated of sown, lost and
/// pricked out of germinated, flowered of pricked out, kept of flowered. More seeds than the florets can hold is
/// a warning. Notices tell when to sow a harvest and when to look for seedlings, where that is still to come and as
/// long as it is not done by what is counted.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    request_body = CountIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = CountedOut, headers(("Location" = String, description = "The cross"))))
)]
#[post("/crosses/{cross_id}/counts")]
pub async fn create(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CrossId>,
    body: Valid<CountIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let (now, today) = (app.clock.now(), app.clock.today());
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                access::own(conn, &auth, id, "cross")?;
                let row = value.clone().into_row(id, now);
                let mut found = Findings::default();
                access::day(row.day, today, &mut found);
                let mut counts = crosses::counts_of(conn, &[id])?.remove(&id).unwrap_or_default();
                counts.add(row.kind, row.how_many.into());
                if let Err(exceeds) = counts.check() {
                    found.add("/how_many", "more-than-before", exceeds.to_string());
                }
                found.into_result()?;
                crosses::insert_count(conn, &row)?;
                let told = CountedOut {
                    id: row.id,
                    warnings: seed_warning(&counts).into_iter().collect(),
                    totals: CountsOut::of(counts),
                    count: CountOut::of(&row),
                };
                Reply::created(format!("/api/v1/crosses/{id}"), 1, &told)
            })
        })
        .await
}

/// Take a count away
///
/// Of your own cross, where it was entered in error; what follows it must not be more than what is left.
/// Notices that were made of it go with it, but for those that you said are done.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    responses(
        (status = 204, description = "Taken away"),
        (status = 409, description = "A count would be more than the one before it", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[delete("/crosses/{cross_id}/counts/{count_id}")]
pub async fn remove(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(CrossId, CrossCountId)>,
) -> Result<Reply, Problem> {
    let (cross, id) = path.into_inner();
    let now = app.clock.now().naive_utc();
    app.db
        .write(move |conn| {
            access::own(conn, &auth, cross, "count")?;
            let row = crosses::count(conn, cross, id)?.ok_or_else(|| Problem::not_found("count"))?;
            crosses::delete_count(conn, &row, now)?;
            pollinated::still_sound(conn, cross)?;
            Ok(Reply::no_content())
        })
        .await
}
