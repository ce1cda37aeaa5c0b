//! How many seedlings to raise for a wanted class.

use actix_web::{get, web};
use storksbill_pedigree::intervals::Confidence;
use storksbill_pedigree::segregation::seedlings_needed;

use super::dto::{Wanted, fraction};
use super::told::NeededOut;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// See how many seedlings are needed
///
/// The fewest that hold at least as many of a class as are wanted, as often as the confidence says. The share of
/// the class is that of a prediction.
#[utoipa::path(
    tag = "segregation",
    security(("session" = [])),
    params(Wanted),
    responses((status = 200, description = "Seedlings needed", body = NeededOut))
)]
#[get("/segregation/needed")]
pub async fn needed(_auth: Auth, asked: web::Query<Wanted>) -> Result<Reply, Problem> {
    let refused = |name: &str, words: &str| {
        Problem::new(Code::InvalidQuery, format!("{name} {words}.")).at(name, "out-of-range", words)
    };
    let share = fraction(&asked.share).map_err(|words| refused("share", &words))?;
    let wanted = asked.wanted.unwrap_or(1);
    if !(1..=1000).contains(&wanted) {
        return Err(refused("wanted", "must be from 1 to 1000"));
    }
    let confidence = Confidence::new(asked.confidence.unwrap_or(0.95))
        .ok_or_else(|| refused("confidence", "must be above 0 and below 1"))?;
    Reply::ok(&NeededOut {
        share: share.to_string(),
        wanted,
        confidence: confidence.level(),
        seedlings: seedlings_needed(share, wanted, confidence),
    })
}
