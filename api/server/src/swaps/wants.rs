//! What members want. A member's wants are the member's own: nobody else lists them.

use actix_web::{delete, get, patch, post, web};
use chrono::{DateTime, NaiveDate, Utc};
use serde::Deserialize;
use storksbill_db::rows::swaps::{self, NamedWant, Want};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{MemberId, WantId};
use storksbill_domain::words::{Listing, WantForm};
use utoipa::IntoParams;

use super::dto::{WantIn, WantOut, WantPatch};
use super::offers::may_change_hands;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Which wants to list.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct WantSearch {
    /// `open`, `withdrawn` or `fulfilled`; all when not given.
    pub listing: Option<Listing>,
}

/// List your wants
///
/// Dearest first.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(WantSearch, Page),
    responses((status = 200, description = "Your wants by rank", body = List<WantOut>))
)]
#[get("/swaps/wants")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    search: web::Query<WantSearch>,
    page: Page,
) -> Result<List<WantOut>, Problem> {
    let after = page
        .after
        .clone()
        .map(|Place(rank, id)| rank.parse().map(|rank| (rank, id)))
        .transpose()
        .map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let listing = search.listing;
    let wants = app
        .db
        .read(move |conn| {
            Ok::<_, Problem>(swaps::own_wants_page(conn, auth.member, listing, after.as_ref(), limit)?)
        })
        .await?;
    let place = |named: &NamedWant| Place(named.want.want_rank.to_string(), named.want.id.to_string());
    Ok(page.list(wants, place, WantOut::of))
}

/// See a want
///
/// One of your own.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "The want", body = WantOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/swaps/wants/{want_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<WantId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let want = app.db.glance(move |conn| own(conn, auth.member, id)).await?;
    let version = want.want.version;
    Reply::versioned(version, &WantOut::of(want))
}

/// Want a cutting
///
/// One: of a cultivar, of any one of several (`any_of`, the dearest first), or of any cultivar of a group. You can
/// have one open want of a single cultivar, and none of what you offer yourself; of several or of a group, what
/// you offer yourself is passed over.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = WantIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Wanted", body = WantOut))
)]
#[post("/swaps/wants")]
pub async fn create(auth: Auth, app: web::Data<App>, body: Valid<WantIn>) -> Result<Reply, Problem> {
    let Valid { value, ticket } = body;
    let (now, today) = (app.clock.now(), app.clock.today());
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                may_be_wanted(conn, auth.member, &value, today)?;
                let want = fresh(auth.member, &value, now);
                let any_of = value.any_of.as_deref().unwrap_or_default();
                swaps::insert_want_of_any(conn, &want, any_of).map_err(taken)?;
                let told = WantOut::of(own(conn, auth.member, want.id)?);
                Reply::created(format!("/api/v1/swaps/wants/{}", want.id), 1, &told)
            })
        })
        .await
}

/// Refuses cultivars that are not known or may not change hands, and a single one that the member offers.
fn may_be_wanted(conn: &mut Conn, member: MemberId, value: &WantIn, today: NaiveDate) -> Result<(), Problem> {
    for (at, cultivar) in value.any_of.iter().flatten().enumerate() {
        may_change_hands(conn, &format!("/any_of/{at}"), *cultivar, today)?;
    }
    let Some(cultivar) = value.cultivar_id else { return Ok(()) };
    may_change_hands(conn, "/cultivar_id", cultivar, today)?;
    if swaps::offers_already(conn, member, cultivar)? {
        return Err(Problem::field(
            "/cultivar_id",
            "offered",
            "is what you offer yourself; withdraw the offer before you want it",
        ));
    }
    Ok(())
}

fn fresh(member_id: MemberId, value: &WantIn, now: DateTime<Utc>) -> Want {
    let form = match (value.cultivar_id, value.plant_group) {
        (Some(_), _) => WantForm::Cultivar,
        (None, Some(_)) => WantForm::Group,
        (None, None) => WantForm::AnyOf,
    };
    Want {
        id: WantId::fresh(),
        member_id,
        want_rank: value.rank,
        promised: false,
        note: value.note.clone(),
        listing: Listing::Open,
        version: 1,
        created_at: now.naive_utc(),
        cultivar_id: value.cultivar_id,
        plant_group: value.plant_group,
        form,
    }
}

/// Change a want
///
/// Your own, while it is open. The new rank counts from the next round; for another cultivar make another want. What you do not mention stays; null
/// clears.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = WantPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = WantOut))
)]
#[patch("/swaps/wants/{want_id}")]
pub async fn change(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<WantId>,
    if_match: IfMatch,
    body: Valid<WantPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            let NamedWant { mut want, cultivars } = own(conn, auth.member, id)?;
            if_match.check(want.version)?;
            if want.listing != Listing::Open {
                return Err(Problem::new(Code::WrongState, format!("This want is {}.", want.listing)));
            }
            if let Some(rank) = patch.rank.value() {
                want.want_rank = *rank;
            }
            patch.note.clone().apply(&mut want.note);
            want.version += 1;
            swaps::update_want(conn, &want)?;
            let version = want.version;
            Reply::versioned(version, &WantOut::of(NamedWant { want, cultivars }))
        })
        .await
}

/// Withdraw a want
///
/// Your own, while it stands in no ring. Repeating it changes nothing.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses(
        (status = 204, description = "Withdrawn"),
        (status = 409, description = "It stands in a ring", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[delete("/swaps/wants/{want_id}")]
pub async fn withdraw(auth: Auth, app: web::Data<App>, path: web::Path<WantId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            let mut want = own(conn, auth.member, id)?.want;
            if want.promised {
                return Err(Problem::new(
                    Code::AlreadyPromised,
                    "It stands in a ring. Decline the ring first, while it is still proposed.",
                ));
            }
            if want.listing == Listing::Open {
                want.listing = Listing::Withdrawn;
                want.version += 1;
                swaps::update_want(conn, &want)?;
            }
            Ok(Reply::no_content())
        })
        .await
}

fn own(conn: &mut Conn, member: MemberId, id: WantId) -> Result<NamedWant, Problem> {
    swaps::own_want(conn, member, id)?.ok_or_else(|| Problem::not_found("want"))
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "You want this cultivar already; change that want.").at(
        "/cultivar_id",
        "taken",
        "is wanted by you already",
    );
    Problem::from(error).on_constraint("swap_wants_member_id_cultivar_id_key", taken)
}
