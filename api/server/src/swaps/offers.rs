//! Cuttings that members offer.

use actix_web::{delete, get, patch, post, web};
use chrono::NaiveDate;
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::swaps::{self, Offer, Whose};
use storksbill_domain::ids::{CultivarId, MemberId, OfferId, PlantId};
use storksbill_domain::words::Listing;
use utoipa::IntoParams;

use super::dto::{OfferIn, OfferOut, OfferPatch};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::rounds::close_if_given;

/// Which offers to list.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct OfferSearch {
    /// Those of one cultivar.
    pub cultivar_id: Option<CultivarId>,
    /// Only your own when true, withdrawn and fulfilled ones among them.
    #[serde(default)]
    #[param(required = false)]
    pub mine: bool,
}

/// List offers
///
/// Every open offer of the society, by the name of its cultivar.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(OfferSearch, Page),
    responses((status = 200, description = "Offers by cultivar", body = List<OfferOut>))
)]
#[get("/swaps/offers")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    search: web::Query<OfferSearch>,
    page: Page,
) -> Result<List<OfferOut>, Problem> {
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let whose = if search.mine { Whose::Own(auth.member) } else { Whose::Open };
    let cultivar = search.cultivar_id;
    let today = app.clock.today();
    let offers = app
        .db
        .read(move |conn| {
            Ok::<_, Problem>(swaps::offers_visible_to(conn, whose, cultivar, today, &after, limit)?)
        })
        .await?;
    let place = |named: &swaps::NamedOffer| Place(named.cultivar_key.clone(), named.offer.id.to_string());
    Ok(page.list(offers, place, |named| OfferOut::of(named, auth.member)))
}

/// See an offer
///
/// An open one, or one of your own.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "The offer", body = OfferOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/swaps/offers/{offer_id}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<OfferId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let offer = app.db.glance(move |conn| load(conn, auth.member, id)).await?;
    Reply::versioned(offer.version, &offer)
}

/// Offer cuttings
///
/// Of a cultivar, or from one of your plants. Each cutting offered can go into one ring.
///
/// A swap is a free gift on both sides, handed over in person unless the partners agree otherwise. Before
/// plants travel or cross a border, ask what the plant-health rules of the places concerned say; they come
/// before anything this server proposes. Cultivars under breeders' rights are taken only while an officer has
/// recorded the holder's permission. Look the plant over and say `healthy`: an offer that was not declared healthy
/// within the last 30 days takes part in no round.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = OfferIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Offered", body = OfferOut))
)]
#[post("/swaps/offers")]
pub async fn create(auth: Auth, app: web::Data<App>, body: Valid<OfferIn>) -> Result<Reply, Problem> {
    let OfferIn { cultivar_id, plant_id, how_many, note, healthy, gift } = body.value;
    let ticket = body.ticket;
    let (now, today) = (app.clock.now(), app.clock.today());
    app.db
        .write(move |conn| {
            ticket.once(conn, auth.member, now, |conn| {
                let cultivar_id = offered_cultivar(conn, auth.member, cultivar_id, plant_id, today)?;
                let offer = Offer {
                    id: OfferId::fresh(),
                    member_id: auth.member,
                    cultivar_id,
                    plant_id,
                    how_many,
                    promised: 0,
                    note: note.clone(),
                    listing: Listing::Open,
                    version: 1,
                    created_at: now.naive_utc(),
                    health_declared_on: healthy.then_some(today),
                    gift,
                };
                swaps::insert_offer(conn, &offer)?;
                let told = load(conn, auth.member, offer.id)?;
                Reply::created(format!("/api/v1/swaps/offers/{}", offer.id), 1, &told)
            })
        })
        .await
}

/// Change an offer
///
/// Your own, while it is open. The number cannot fall below the cuttings that are promised; where it falls to
/// just that, nothing more of it will be proposed. What you do not mention stays; null clears.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = OfferPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = OfferOut))
)]
#[patch("/swaps/offers/{offer_id}")]
pub async fn change(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<OfferId>,
    if_match: IfMatch,
    body: Valid<OfferPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    let today = app.clock.today();
    app.db
        .write(move |conn| {
            let mut offer = own(conn, auth.member, id)?;
            if_match.check(offer.version)?;
            if offer.listing != Listing::Open {
                return Err(Problem::new(Code::WrongState, format!("This offer is {}.", offer.listing)));
            }
            if let Some(how_many) = patch.how_many.value() {
                if *how_many < offer.promised {
                    return Err(promised(&offer).at("/how_many", "promised", "is less than is promised"));
                }
                offer.how_many = *how_many;
            }
            patch.note.clone().apply(&mut offer.note);
            if let Some(healthy) = patch.healthy.value() {
                offer.health_declared_on = healthy.then_some(today);
            }
            close_if_given(conn, &mut offer)?;
            offer.version += 1;
            swaps::update_offer(conn, &offer)?;
            Reply::versioned(offer.version, &load(conn, auth.member, id)?)
        })
        .await
}

/// Withdraw an offer
///
/// Your own, while none of its cuttings is promised. Repeating it changes nothing.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses(
        (status = 204, description = "Withdrawn"),
        (status = 409, description = "Cuttings of it are promised", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[delete("/swaps/offers/{offer_id}")]
pub async fn withdraw(auth: Auth, app: web::Data<App>, path: web::Path<OfferId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            let mut offer = own(conn, auth.member, id)?;
            if offer.promised > 0 {
                return Err(promised(&offer));
            }
            if offer.listing == Listing::Open {
                offer.listing = Listing::Withdrawn;
                offer.version += 1;
                swaps::update_offer(conn, &offer)?;
            }
            Ok(Reply::no_content())
        })
        .await
}

fn load(conn: &mut Conn, asker: MemberId, id: OfferId) -> Result<OfferOut, Problem> {
    let named = swaps::offer_visible_to(conn, asker, id)?.ok_or_else(|| Problem::not_found("offer"))?;
    Ok(OfferOut::of(named, asker))
}

fn own(conn: &mut Conn, member: MemberId, id: OfferId) -> Result<Offer, Problem> {
    let offer = swaps::offer_visible_to(conn, member, id)?.ok_or_else(|| Problem::not_found("offer"))?.offer;
    if offer.member_id == member {
        Ok(offer)
    } else {
        Err(Problem::new(Code::NotAllowed, "Only the member who made an offer changes it."))
    }
}

fn promised(offer: &Offer) -> Problem {
    let detail = format!(
        "{} of its {} cuttings are promised. Set how_many to {} to offer no more, or decline the rings that are still proposed.",
        offer.promised, offer.how_many, offer.promised
    );
    Problem::new(Code::AlreadyPromised, detail)
}

/// The cultivar that is to be offered, if it may be.
fn offered_cultivar(
    conn: &mut Conn,
    member: MemberId,
    cultivar: Option<CultivarId>,
    plant: Option<PlantId>,
    today: NaiveDate,
) -> Result<CultivarId, Problem> {
    let (pointer, cultivar) = match plant {
        Some(plant) => ("/plant_id", swaps::own_plant_cultivar(conn, member, plant)?),
        None => ("/cultivar_id", cultivar),
    };
    let cultivar = cultivar.ok_or_else(|| Problem::field(pointer, "not-found", "is not a plant of yours"))?;
    may_change_hands(conn, pointer, cultivar, today)?;
    if swaps::wants_already(conn, member, cultivar)? {
        return Err(Problem::field(
            pointer,
            "wanted",
            "is what you want yourself; withdraw the want before you offer it",
        ));
    }
    Ok(cultivar)
}

/// Refuses a cultivar that is not known, or that breeders' rights keep out of the swap: those in force without
/// their holder's permission.
pub(super) fn may_change_hands(
    conn: &mut Conn,
    pointer: &str,
    cultivar: CultivarId,
    today: NaiveDate,
) -> Result<(), Problem> {
    match swaps::cultivar(conn, cultivar, today)? {
        None => Err(Problem::field(pointer, "not-found", "is not a cultivar of this society's list")),
        Some((name, false)) => Err(Problem::field(
            pointer,
            "protected",
            format!(
                "{name} is under breeders' rights: giving cuttings of it away may need the holder's leave, so it is kept out of the swap; an officer who has that leave can record it as the cultivar's permission"
            ),
        )),
        Some((_, true)) => Ok(()),
    }
}
