//! With which of their clubs members share.

use actix_web::{get, put, web};
use storksbill_db::rows::shares;
use storksbill_domain::ids::ClubId;

use super::dto::{ClubShareIn, ClubShareOut};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// See with which clubs you share
///
/// The clubs you belong to, by name. What you keep for your clubs, a plant or a cross or a cultivar's record, is
/// seen by the members of those you share with.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    responses((status = 200, description = "Your clubs by name", body = Vec<ClubShareOut>))
)]
#[get("/members/me/shares")]
pub async fn list(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    let own = app.db.read(move |conn| Ok::<_, Problem>(shares::of_member(conn, auth.member)?)).await?;
    let told =
        own.into_iter().map(|(club_id, club_name, shares)| ClubShareOut { club_id, club_name, shares });
    Reply::ok(&told.collect::<Vec<_>>())
}

/// Share with a club of yours, or share no more
///
/// Every member of the club, also one who joins later, sees what you keep for your clubs while you share with it
/// and belong to it. What you say here stands when you leave the club and come back. Repeating it changes nothing.
#[utoipa::path(
    tag = "clubs",
    security(("session" = [])),
    request_body = ClubShareIn,
    responses((status = 200, description = "As it is now", body = ClubShareOut))
)]
#[put("/members/me/shares/{club_id}")]
pub async fn set(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<ClubId>,
    body: Valid<ClubShareIn>,
) -> Result<Reply, Problem> {
    let club = path.into_inner();
    let shares = body.value.shares;
    app.db
        .write(move |conn| {
            let own = shares::of_member(conn, auth.member)?;
            let (club_id, club_name, _) = own
                .into_iter()
                .find(|(id, ..)| *id == club)
                .ok_or_else(|| Problem::not_found("club of yours"))?;
            shares::set(conn, club_id, auth.member, shares)?;
            Reply::ok(&ClubShareOut { club_id, club_name, shares })
        })
        .await
}
