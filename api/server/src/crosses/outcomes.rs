//! How often a cross succeeds, from everybody's counts.

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::crosses::{self, Pooled};
use storksbill_db::rows::{cultivars, plants};
use storksbill_domain::crosses::Counts;
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{CrossStage, PlantGroup};
use storksbill_pedigree::intervals::Confidence;
use storksbill_pedigree::success::{CrossRecord, GroupPair, Pools, Stage, StageCounts};
use utoipa::IntoParams;

use super::OVULES;
use super::dto::{EstimateOut, OutcomesOut, StageOut};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Which cross is asked after.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Asked {
    /// The cultivar to bear the seed.
    pub seed_cultivar_id: CultivarId,
    /// The cultivar to give the pollen.
    pub pollen_cultivar_id: CultivarId,
}

/// See how often a cross succeeds
///
/// Stage by stage, pooled over all crosses of the two groups in this direction: what a seed parent of the group
/// does of which nothing else is known, this seed parent, and this cross. Each is told where the counts of at
/// least five growers (a setting) stand behind just that, so that nobody's own counts show, and is null
/// otherwise. Private crosses count where their raisers allow it, and are never shown.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    params(Asked),
    responses(
        (status = 200, description = "Success by stage", body = OutcomesOut),
        (status = 404, description = "No such cultivar", body = crate::http::problem::ProblemOut, content_type = "application/problem+json")
    )
)]
#[get("/crosses/outcomes")]
pub async fn outcomes(auth: Auth, app: web::Data<App>, asked: web::Query<Asked>) -> Result<Reply, Problem> {
    let asked = asked.into_inner();
    let least = usize::try_from(app.society.least_growers).unwrap_or(usize::MAX);
    let told = app.db.read(move |conn| Pool::load(conn, &auth, asked).map(|pool| pool.told(least))).await?;
    Reply::ok(&told)
}

/// Every pooled cross of the two groups in this direction.
struct Pool {
    seed_group: PlantGroup,
    pollen_group: PlantGroup,
    crosses: Vec<(Pooled, StageCounts)>,
    asked: Asked,
}

impl Pool {
    fn load(conn: &mut Conn, actor: &Actor, asked: Asked) -> Result<Self, Problem> {
        let named = [asked.seed_cultivar_id, asked.pollen_cultivar_id];
        let seen = cultivars::visible_among(conn, actor, &named)?;
        if named.iter().any(|id| seen.iter().all(|cultivar| cultivar.id != *id)) {
            return Err(Problem::not_found("cultivar"));
        }
        let pooled = crosses::pooled(conn)?;
        let kinds: BTreeSet<CultivarId> = pooled
            .iter()
            .flat_map(|cross| [cross.seed, cross.pollen])
            .chain([asked.seed_cultivar_id, asked.pollen_cultivar_id])
            .collect();
        let kinds: Vec<CultivarId> = kinds.into_iter().collect();
        let groups: BTreeMap<CultivarId, PlantGroup> = plants::cultivars_of_ids(conn, &kinds)?
            .into_iter()
            .map(|cultivar| (cultivar.id, cultivar.plant_group))
            .collect();
        let group = |id: CultivarId| groups.get(&id).copied();
        let missing = || Problem::not_found("cultivar");
        let seed_group = group(asked.seed_cultivar_id).ok_or_else(missing)?;
        let pollen_group = group(asked.pollen_cultivar_id).ok_or_else(missing)?;
        let alike: Vec<Pooled> = pooled
            .into_iter()
            .filter(|cross| {
                group(cross.seed) == Some(seed_group) && group(cross.pollen) == Some(pollen_group)
            })
            .collect();
        let ids: Vec<_> = alike.iter().map(|cross| cross.id).collect();
        let counts = crosses::counts_of(conn, &ids)?;
        let crosses = alike
            .into_iter()
            .map(|cross| (cross, by_stage(&counts.get(&cross.id).copied().unwrap_or_default())))
            .collect();
        Ok(Self { seed_group, pollen_group, crosses, asked })
    }

    fn told(&self, least_growers: usize) -> OutcomesOut {
        let stages = [
            (CrossStage::Took, Stage::Took),
            (CrossStage::Seeded, Stage::Seeded),
            (CrossStage::Germinated, Stage::Germinated),
            (CrossStage::Kept, Stage::Kept),
        ];
        OutcomesOut {
            seed_group: self.seed_group,
            pollen_group: self.pollen_group,
            confidence: CONFIDENCE.level(),
            least_growers,
            stages: stages.into_iter().map(|(word, stage)| self.stage(word, stage, least_growers)).collect(),
        }
    }

    fn stage(&self, word: CrossStage, stage: Stage, least_growers: usize) -> StageOut {
        // One pair of groups is asked after, so that its numbers are of no account.
        let groups = GroupPair { seed_group: 0, pollen_group: 0 };
        let numbers: BTreeMap<CultivarId, u64> = self
            .crosses
            .iter()
            .flat_map(|(cross, _)| [cross.seed, cross.pollen])
            .collect::<BTreeSet<_>>()
            .into_iter()
            .zip(0..)
            .collect();
        let number = |id: CultivarId| numbers.get(&id).copied().unwrap_or(u64::MAX);
        let counted = self.crosses.iter().filter(|(_, counts)| counts.trials(stage, *OVULES).is_some());
        let counted: Vec<&(Pooled, StageCounts)> = counted.collect();
        let records: Vec<CrossRecord> = counted
            .iter()
            .map(|(cross, counts)| CrossRecord {
                groups,
                seed_parent: number(cross.seed),
                pollen_parent: number(cross.pollen),
                counts: *counts,
            })
            .collect();
        let enough = |of: &dyn Fn(&Pooled) -> bool| {
            let growers: BTreeSet<MemberId> =
                counted.iter().filter(|(cross, _)| of(cross)).map(|(cross, _)| cross.raiser_id).collect();
            growers.len() >= least_growers
        };
        let Asked { seed_cultivar_id: seed, pollen_cultivar_id: pollen } = self.asked;
        let [of_group, of_seed, of_cross] = [
            enough(&|_| true),
            enough(&|cross| cross.seed == seed),
            enough(&|cross| cross.seed == seed && cross.pollen == pollen),
        ];
        // Without a pool that may be told there is nothing to fit.
        let pools = of_group.then(|| Pools::new(&records, stage, *OVULES));
        let told = |may: bool, ask: &dyn Fn(&Pools) -> EstimateOut| pools.as_ref().filter(|_| may).map(ask);
        StageOut {
            stage: word,
            group: told(of_group, &|pools| EstimateOut::of(&pools.group(groups, CONFIDENCE))),
            seed_parent: told(of_seed, &|pools| {
                EstimateOut::of(&pools.seed_parent(groups, number(seed), CONFIDENCE))
            }),
            cross: told(of_cross, &|pools| {
                EstimateOut::of(&pools.cross(groups, number(seed), number(pollen), CONFIDENCE))
            }),
        }
    }
}

const CONFIDENCE: Confidence = Confidence::NINETY_FIVE;

fn by_stage(counts: &Counts) -> StageCounts {
    let of = |count: Option<i64>| count.and_then(|count| u64::try_from(count).ok());
    StageCounts {
        florets: of(counts.florets),
        took: of(counts.takes),
        seeds: of(counts.harvested),
        sown: of(counts.sown),
        germinated: of(counts.germinated),
        kept: of(counts.kept),
    }
}
