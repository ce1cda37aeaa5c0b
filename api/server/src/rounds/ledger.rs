//! What a member gave and received. There is no money in it.

use actix_web::{get, web};
use storksbill_db::rows::rings;

use super::dto::{BalanceOut, LedgerLine};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Your own ledger
///
/// Every cutting you gave or received in a ring that everybody accepted, newest first. Your balance (given less
/// received) counts for you in later rounds: among answers that are equal in all else, those who gave more come
/// first.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Your hand-overs, newest first", body = List<LedgerLine>))
)]
#[get("/swaps/ledger")]
pub async fn own(auth: Auth, app: web::Data<App>, page: Page) -> Result<List<LedgerLine>, Problem> {
    let after = page.after.clone().map(|Place(_, id)| id);
    let (limit, member) = (page.probe(), auth.member);
    let lines = app
        .db
        .read(move |conn| Ok::<_, Problem>(rings::ledger_page(conn, member, after.as_deref(), limit)?))
        .await?;
    let place =
        |(hand_over, ..): &(rings::HandOver, String, String)| Place(String::new(), hand_over.id.to_string());
    Ok(page.list(lines, place, |line| LedgerLine::of(line, member)))
}

/// Your balance
///
/// Cuttings that came to others from you, and to you from others, in all rounds.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "Your balance", body = BalanceOut))
)]
#[get("/swaps/balance")]
pub async fn balance(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    let member = auth.member;
    let all = app.db.read(move |conn| Ok::<_, Problem>(rings::balances(conn, Some(member))?)).await?;
    let mine = all.into_iter().find(|(id, _)| *id == member).map(|(_, mine)| mine).unwrap_or_default();
    Reply::ok(&BalanceOut { given: mine.given, received: mine.received })
}
