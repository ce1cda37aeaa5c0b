//! Money taken at a show. Receipts are never changed.

use actix_web::{get, post, web};
use storksbill_db::rows::entries::{self, Receipt};
use storksbill_domain::ids::{ReceiptId, ShowId};

use super::entry_dto::{MOST_PENCE, ShowReceiptIn, ShowReceiptOut};
use super::{documents, show_in_charge_of};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::json::Valid;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// List receipts
///
/// By number: the club's secretary or an administrator.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "Receipts by number", body = Vec<ShowReceiptOut>))
)]
#[get("/shows/{show_id}/receipts")]
pub async fn list(officer: Officer, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            show_in_charge_of(conn, &officer, id)?;
            let all: Vec<ShowReceiptOut> =
                entries::receipts(conn, id, None)?.into_iter().map(ShowReceiptOut::of).collect();
            Reply::ok(&all)
        })
        .await
}

/// Take money
///
/// Entry fees of an exhibitor, or money given back: the club's secretary or an administrator. Numbers run on.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ShowReceiptIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Taken", body = ShowReceiptOut))
)]
#[post("/shows/{show_id}/receipts")]
pub async fn take(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    body: Valid<ShowReceiptIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                show_in_charge_of(conn, &officer, id)?;
                if entries::exhibitor(conn, id, value.exhibitor_id)?.is_none() {
                    return Err(Problem::field(
                        "/exhibitor_id",
                        "not-found",
                        "is not an exhibitor of this show",
                    ));
                }
                let paid = entries::money(conn, &[value.exhibitor_id])?;
                let paid = paid.get(&value.exhibitor_id).map_or(0, |money| money.paid);
                if paid.saturating_add(value.pence.0).unsigned_abs() > MOST_PENCE {
                    let detail = format!("would bring what was paid beyond {MOST_PENCE} either way");
                    return Err(Problem::field("/pence", "out-of-range", detail));
                }
                let receipt = Receipt {
                    id: ReceiptId::fresh(),
                    show_id: id,
                    exhibitor_id: value.exhibitor_id,
                    number: entries::last_receipt_number(conn, id)?.unwrap_or(0) + 1,
                    pence: value.pence.0,
                    how: value.how,
                    note: value.note.clone(),
                    received_by: officer.member,
                    received_at: now.naive_utc(),
                };
                entries::insert_receipt(conn, &receipt)?;
                let address = format!("{}/receipts/{}", documents::address(id), receipt.id);
                Reply::created(address, 1, &ShowReceiptOut::of(receipt))
            })
        })
        .await
}
