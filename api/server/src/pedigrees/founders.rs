//! See what a group of plants still has of its founders.

use actix_web::{get, web};
use storksbill_pedigree::{Founder, effective_ancestors, effective_founders, founder_genomes};

use super::asker::Asker;
use super::dto::{FounderOut, FoundersOut, IndividualOut, InfluenceOut};
use super::related::{Circle, Which};
use super::whole::{Whole, unnumbered};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Draws of a gene's fate where it cannot be worked out.
const DRAWS: u32 = 1_000;
/// The draws are always the same.
const SEED: u64 = 1;
/// Most founders and ancestors that are named.
const MOST_NAMED: usize = 50;

/// See what a group of plants has of its founders
///
/// Of those that members hold, of those that you hold, of a group or of later years: how many founders stand behind
/// them, in what shares, and how many would leave the same diversity. A plant and its sports count once. A parent
/// that is not known counts as a founder of its own.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(Which),
    responses((status = 200, description = "Founders and their shares", body = FoundersOut))
)]
#[get("/pedigrees/founders")]
pub async fn founders_of(
    auth: Auth,
    app: web::Data<App>,
    which: web::Query<Which>,
) -> Result<Reply, Problem> {
    let which = which.into_inner();
    let pedigrees = app.pedigrees.clone();
    app.db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            let circle = Circle::load(conn, &auth, which)?;
            pedigrees.ask(conn, |whole| Reply::ok(&told(whole, &asker, &circle.numbers(whole, &asker))?))
        })
        .await
}

fn told(whole: &Whole, asker: &Asker, group: &[u64]) -> Result<FoundersOut, Problem> {
    let pedigree = &whole.pedigree;
    let mut contributions = pedigree.contributions(group).map_err(unnumbered)?;
    let marginal = pedigree.marginal_contributions(group).map_err(unnumbered)?;
    let retention = pedigree.retention(group, DRAWS, SEED).map_err(unnumbered)?;
    let effective = effective_founders(&contributions);
    let founder_count = contributions.iter().filter(|one| one.share > 0.0).count();
    let genomes = founder_genomes(&contributions, &retention, 0.5 / f64::from(DRAWS));
    contributions.sort_by(|a, b| b.share.total_cmp(&a.share).then(a.founder.cmp(&b.founder)));
    let founders = contributions
        .iter()
        .filter(|one| one.share > 0.0)
        .take(MOST_NAMED)
        .map(|one| {
            let (individual, unknown_parent_of) = match one.founder {
                Founder::Individual(number) => (Some(named(whole, asker, number)?), None),
                Founder::SeedParentOf(child) | Founder::PollenParentOf(child) => {
                    (None, Some(named(whole, asker, child)?))
                }
            };
            Ok(FounderOut { individual, unknown_parent_of, share: one.share })
        })
        .collect::<Result<Vec<_>, Problem>>()?;
    let ancestors = marginal
        .iter()
        .filter(|one| one.share > 0.0)
        .take(MOST_NAMED)
        .map(|one| {
            let individual = match one.ancestor {
                Founder::Individual(number) => Some(named(whole, asker, number)?),
                Founder::SeedParentOf(_) | Founder::PollenParentOf(_) => None,
            };
            Ok(InfluenceOut { individual, share: one.share })
        })
        .collect::<Result<Vec<_>, Problem>>()?;
    Ok(FoundersOut {
        plants: pedigree.distinct(group).map_err(unnumbered)?,
        mean_kinship: pedigree.group_kinship(group).map_err(unnumbered)?,
        effective_founders: effective,
        effective_ancestors: effective_ancestors(&marginal),
        founder_genomes: genomes,
        founder_genomes_exact: retention.iter().all(|one| one.exact),
        genome_equivalents: pedigree.founder_genome_equivalents(group).map_err(unnumbered)?,
        founder_count,
        founders,
        ancestors,
    })
}

fn named(whole: &Whole, asker: &Asker, number: u64) -> Result<IndividualOut, Problem> {
    Ok(IndividualOut::told(whole.line(number)?, asker))
}
