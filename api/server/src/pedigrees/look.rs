//! See pedigrees. A request reads the cultivars asked about and their ancestors, in one query of three key
//! look-ups an ancestor; the rest of the register costs nothing.

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::cultivars;
use storksbill_domain::ids::CultivarId;
use utoipa::IntoParams;

use super::dto::{KinshipOut, PedigreeOut};
use super::lines::Lines;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Generations of an answer when the caller does not say.
const USUAL_GENERATIONS: u32 = 5;
/// Most generations of an answer.
const MOST_GENERATIONS: u32 = 10;

/// How far up.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Depth {
    /// Generations to list, 1 to 10; 5 when not given.
    #[param(minimum = 1, maximum = 10)]
    generations: Option<u32>,
}

impl Depth {
    fn checked(&self) -> Result<u32, Problem> {
        let generations = self.generations.unwrap_or(USUAL_GENERATIONS);
        if (1..=MOST_GENERATIONS).contains(&generations) {
            return Ok(generations);
        }
        let detail = format!("must be from 1 to {MOST_GENERATIONS}");
        Err(Problem::new(Code::InvalidQuery, format!("generations {detail}.")).at(
            "generations",
            "out-of-range",
            detail,
        ))
    }
}

/// See a cultivar's pedigree
///
/// Its ancestors up to so many generations with the share of its genes expected from each, and its
/// coefficient of inbreeding. Two sets of chromosomes are taken for granted, and a parent that is not known
/// counts as unrelated: where records have gaps, inbreeding is at least what is given here.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(Depth),
    responses((status = 200, description = "The pedigree", body = PedigreeOut))
)]
#[get("/pedigrees/{cultivar_id}")]
pub async fn ancestors(
    _auth: Auth,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    depth: web::Query<Depth>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let generations = depth.checked()?;
    app.db
        .read(move |conn| {
            let rows = cultivars::with_ancestors(conn, id, id)?;
            Reply::ok(&Lines::of(rows)?.pedigree_of(id, generations)?)
        })
        .await
}

/// See how two cultivars are related
///
/// Their kinship, and the inbreeding that a seedling of a cross of the two would have. Two sets of
/// chromosomes are taken for granted, and a parent that is not known counts as unrelated.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    responses((status = 200, description = "The kinship", body = KinshipOut))
)]
#[get("/pedigrees/{cultivar_id}/kinship/{other_id}")]
pub async fn kinship(
    _auth: Auth,
    app: web::Data<App>,
    path: web::Path<(CultivarId, CultivarId)>,
) -> Result<Reply, Problem> {
    let (one, other) = path.into_inner();
    app.db
        .read(move |conn| {
            let rows = cultivars::with_ancestors(conn, one, other)?;
            Reply::ok(&Lines::of(rows)?.kinship_of(one, other)?)
        })
        .await
}
