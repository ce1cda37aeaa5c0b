//! Where the cuttings of a plant went.

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::health::{self, Traced};
use storksbill_db::rows::plants::{self, Plant};
use storksbill_domain::ids::PlantId;
use storksbill_domain::policy::{Actor, may_guard_health};
use utoipa::IntoParams;

use super::dto::TraceOut;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Most rows of a trace.
const MOST: usize = 10_000;

/// From where on.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct TraceFrom {
    /// Walk up to the oldest plant it came from first, and trace all that came from that one.
    #[serde(default)]
    #[param(required = false)]
    pub sources: bool,
}

/// Trace a plant's cuttings
///
/// Its grower and officers: every plant that was taken from it, from those, and so on, and the cuttings of any of
/// them that were promised in accepted rings; with who received them, when, and how many steps away. To a grower
/// other members' private plants are only counted; `POST /plants/{plant_id}/health-notice` reaches their growers
/// all the same. 10,000 rows are looked at. Plants that name each other as their source in error are met once.
#[utoipa::path(
    tag = "health",
    security(("session" = [])),
    params(TraceFrom),
    responses((status = 200, description = "The line of the plant", body = TraceOut))
)]
#[get("/plants/{plant_id}/trace")]
pub async fn trace(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<PlantId>,
    from: web::Query<TraceFrom>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let traced = app.db.read(move |conn| traced_for(conn, &auth, id, from.sources)).await?;
    Reply::ok(&traced)
}

fn traced_for(conn: &mut Conn, actor: &Actor, id: PlantId, sources: bool) -> Result<TraceOut, Problem> {
    guarded(conn, actor, id)?;
    let root = if sources { origin(id, &health::sources(conn, id)?.into_iter().collect()) } else { id };
    let mut rows = health::descent(conn, root, i64::try_from(MOST + 1).unwrap_or(i64::MAX))?;
    let cut_short = rows.len() > MOST;
    rows.truncate(MOST);
    let visible = if actor.is_officer() { None } else { Some(seen_by(conn, actor, root, &rows)?) };
    Ok(TraceOut::of(id, root, rows, visible.as_ref(), cut_short))
}

fn seen_by(
    conn: &mut Conn,
    actor: &Actor,
    root: PlantId,
    rows: &[Traced],
) -> Result<BTreeSet<PlantId>, Problem> {
    let ids: BTreeSet<PlantId> = rows.iter().filter_map(|row| row.plant_id).chain([root]).collect();
    let ids: Vec<PlantId> = ids.into_iter().collect();
    Ok(plants::visible_among(conn, actor, &ids)?.into_iter().collect())
}

/// The plant, if the asker may ask after its health; 404 otherwise, since others need not know of it.
pub(super) fn guarded(conn: &mut Conn, actor: &Actor, id: PlantId) -> Result<Plant, Problem> {
    plants::find(conn, id)?
        .filter(|plant| may_guard_health(actor, plant.owner_id))
        .ok_or_else(|| Problem::not_found("plant of yours"))
}

/// The oldest plant that `start` came from. Where plants name each other in a ring, the first of it that is met.
fn origin(start: PlantId, source_of: &BTreeMap<PlantId, Option<PlantId>>) -> PlantId {
    let (mut at, mut passed) = (start, BTreeSet::from([start]));
    while let Some(source) = source_of.get(&at).copied().flatten() {
        if !passed.insert(source) {
            return source;
        }
        at = source;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_origin_has_no_source_or_stands_in_the_ring_that_is_met() {
        let [a, b, c, d] = [(); 4].map(|()| PlantId::fresh());
        let line = BTreeMap::from([(a, Some(b)), (b, Some(c)), (c, None)]);
        assert_eq!(origin(a, &line), c);
        assert_eq!(origin(c, &line), c);
        // a was taken from b, and b, c, d name each other: from b on all of them are met.
        let ring = BTreeMap::from([(a, Some(b)), (b, Some(c)), (c, Some(d)), (d, Some(b))]);
        assert_eq!(origin(a, &ring), b);
        assert_eq!(origin(c, &ring), c);
    }
}
