//! What a member is ready to do in a round.

use actix_web::{get, put, web};
use storksbill_db::rows::swap_terms::{self, Terms};

use super::dto::{TermsIn, TermsOut};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::etag::{IfMatch, check_put};
use crate::http::json::Valid;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// See your terms
///
/// How much you give and receive in one round, how far away, and whether by post. While you have set nothing
/// the usual terms hold: five cuttings each way, in person, however far; they have no `ETag`.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    responses((status = 200, description = "Your terms", body = TermsOut, headers(("ETag" = String, description = "The version, where you have set any"))))
)]
#[get("/swaps/terms")]
pub async fn one(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    let member = auth.member;
    let kept = app.db.glance(move |conn| Ok::<_, Problem>(swap_terms::find(conn, member)?)).await?;
    match kept {
        None => Reply::ok(&TermsOut::of(&Terms::usual(member))),
        Some(terms) => Reply::versioned(terms.version, &TermsOut::of(&terms)),
    }
}

/// Set your terms
///
/// The first time without `If-Match`, then with the `ETag` you read. They count from the next round; what is not
/// given takes its usual value.
#[utoipa::path(
    tag = "swaps",
    security(("session" = [])),
    request_body = TermsIn,
    params(("If-Match" = Option<String>, Header, description = "The ETag you read, where you have set terms")),
    responses(
        (status = 200, description = "Changed", body = TermsOut),
        (status = 201, description = "Set for the first time", body = TermsOut)
    )
)]
#[put("/swaps/terms")]
pub async fn set(
    auth: Auth,
    app: web::Data<App>,
    if_match: Option<IfMatch>,
    body: Valid<TermsIn>,
) -> Result<Reply, Problem> {
    let TermsIn { give_most, receive_most, by_post, within_km } = body.value;
    app.db
        .write(move |conn| {
            let kept = swap_terms::find(conn, auth.member)?;
            let before = kept.as_ref().map(|terms| terms.version);
            check_put(if_match.as_ref(), before, "set of terms")?;
            let version = before.unwrap_or(0) + 1;
            let terms =
                Terms { member_id: auth.member, give_most, receive_most, by_post, within_km, version };
            let told = TermsOut::of(&terms);
            if kept.is_some() {
                swap_terms::update(conn, &terms)?;
                Reply::versioned(version, &told)
            } else {
                swap_terms::insert(conn, &terms)?;
                Reply::created("/api/v1/swaps/terms".to_owned(), version, &told)
            }
        })
        .await
}
