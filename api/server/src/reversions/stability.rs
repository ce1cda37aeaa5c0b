//! How often a sport goes back.

use std::collections::BTreeSet;

use actix_web::{get, web};
use storksbill_db::rows::reversions::{self, Report};
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_pedigree::intervals::Confidence;
use storksbill_pedigree::stability::{GrowerYear, reversion};

use super::dto::{RateOut, StabilityOut};
use super::report::sport;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// See how often a sport goes back
///
/// The rate a plant and year, from growers' reports: all together where at least five growers (a setting) have
/// reported, so that nobody's own figures show, and your own in any case.
#[utoipa::path(
    tag = "reversions",
    security(("session" = [])),
    responses(
        (status = 200, description = "The rate", body = StabilityOut),
        (status = 409, description = "It is no sport", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[get("/cultivars/{cultivar_id}/stability")]
pub async fn stability(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let asker = auth.actor.clone();
    let reports = app
        .db
        .read(move |conn| {
            sport(conn, &asker, id)?;
            Ok::<_, Problem>(reversions::of_cultivar(conn, id)?)
        })
        .await?;
    let least_growers = usize::try_from(app.society.least_growers).unwrap_or(usize::MAX);
    let own: Vec<&Report> = reports.iter().filter(|report| report.member_id == auth.member).collect();
    Reply::ok(&StabilityOut {
        cultivar_id: id,
        least_growers,
        pooled: rate(&reports.iter().collect::<Vec<_>>()).filter(|rate| rate.growers >= least_growers),
        own: rate(&own),
    })
}

fn rate(reports: &[&Report]) -> Option<RateOut> {
    let growers: BTreeSet<MemberId> = reports.iter().map(|report| report.member_id).collect();
    let years: BTreeSet<i32> = reports.iter().map(|report| report.year).collect();
    let count = |many: i32| u64::try_from(many).unwrap_or(0);
    let trials: Vec<GrowerYear> = reports
        .iter()
        .map(|report| GrowerYear { plants: count(report.plants), reverted: count(report.reverted) })
        .collect();
    let found = reversion(&trials, Confidence::NINETY_FIVE)?;
    Some(RateOut::of(found, growers.len(), years.len()))
}
