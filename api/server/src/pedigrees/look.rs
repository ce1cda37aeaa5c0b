//! See a pedigree, and how two are related.

use std::collections::BTreeMap;

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::lines::{Descent, Gave, Line};
use storksbill_domain::ids::IndividualId;
use storksbill_domain::words::{GameteForm, Origin, ParentSide};
use storksbill_pedigree::{CommonAncestor, Explanation};
use utoipa::IntoParams;

use super::asker::Asker;
use super::dto::{
    AncestorOut, CommonAncestorOut, DescentOut, FindingOut, InbreedingOut, IndividualOut, KinshipOut,
    PedigreeFinding, PedigreeOut, PollenParentOut, Step,
};
use super::prospect::between;
use super::whole::{Whole, unnumbered};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Generations of an answer when the caller does not say.
const USUAL_GENERATIONS: u32 = 5;
/// Most generations of an answer.
const MOST_GENERATIONS: u32 = 10;
/// Most common ancestors that are named.
pub(super) const MOST_COMMON: usize = 50;

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

/// See a pedigree
///
/// Of a cultivar or a numbered seedling: where it comes from, its ancestors up to so many generations with the
/// share of its genes expected from each, its coefficient of inbreeding and what that comes from. A parent that is
/// not known counts as unrelated: where records have gaps, inbreeding is at least what is given here.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(Depth),
    responses((status = 200, description = "The pedigree", body = PedigreeOut))
)]
#[get("/pedigrees/{individual_id}")]
pub async fn pedigree(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<IndividualId>,
    depth: web::Query<Depth>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let generations = depth.checked()?;
    let pedigrees = app.pedigrees.clone();
    app.db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            pedigrees.ask(conn, |whole| Reply::ok(&told(whole, &asker, id, generations)?))
        })
        .await
}

/// See how two are related
///
/// Cultivars or numbered seedlings: their kinship, the ancestors they have in common with what each adds to it, and
/// what seedlings of a cross of the two would be. A parent that is not known counts as unrelated.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    responses((status = 200, description = "The kinship", body = KinshipOut))
)]
#[get("/pedigrees/{individual_id}/kinship/{other_id}")]
pub async fn kinship(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(IndividualId, IndividualId)>,
) -> Result<Reply, Problem> {
    let (one, other) = path.into_inner();
    let pedigrees = app.pedigrees.clone();
    app.db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            pedigrees.ask(conn, |whole| Reply::ok(&kinship_of(whole, &asker, one, other)?))
        })
        .await
}

fn told(whole: &Whole, asker: &Asker, id: IndividualId, generations: u32) -> Result<PedigreeOut, Problem> {
    let number = whole.seen(asker, id)?;
    let line = whole.line(number)?;
    let disclosed = Disclosed::above(whole, asker, &[number], generations)?;
    let mut ancestors = Vec::new();
    for found in whole.pedigree.ancestors(number, generations).map_err(unnumbered)? {
        let Some(relation) = disclosed.relation(found.id) else { continue };
        let ancestor = whole.line(found.id)?;
        let shown = asker.sees(ancestor);
        let inbreeding = whole.pedigree.inbreeding(found.id).map_err(unnumbered)?;
        ancestors.push(AncestorOut {
            individual: IndividualOut::told(ancestor, asker),
            generation: found.generation,
            relation: relation.to_vec(),
            share: found.share,
            inbreeding: shown.then_some(inbreeding),
        });
    }
    let (sets, _) = whole.pedigree.sets(number).map_err(unnumbered)?;
    let explanation = whole.pedigree.explain(number).map_err(unnumbered)?;
    let everywhere = Disclosed::above(whole, asker, &[number], u32::MAX)?;
    Ok(PedigreeOut {
        individual: IndividualOut::of(line),
        descent: descent(whole, asker, line)?,
        generations,
        inbreeding: explanation.inbreeding,
        sets,
        chromosomes: line.chromosomes.filter(|_| asker.sees_origin(line)),
        why: inbreeding(whole, &everywhere, &explanation)?,
        completeness: whole.pedigree.completeness(number, generations).map_err(unnumbered)?,
        findings: findings(whole, asker, number, line)?,
        ancestors,
    })
}

fn kinship_of(
    whole: &Whole,
    asker: &Asker,
    one: IndividualId,
    other: IndividualId,
) -> Result<KinshipOut, Problem> {
    let (a, b) = (whole.seen(asker, one)?, whole.seen(asker, other)?);
    let common = whole.pedigree.common_ancestors(a, b).map_err(unnumbered)?;
    let disclosed = Disclosed::above(whole, asker, &[a, b], u32::MAX)?;
    let (common_ancestors, others) = disclosed.common(whole, common.into_iter().map(|one| (one, None)))?;
    let (prospect, no_prospect) = between(whole, a, b)?;
    Ok(KinshipOut {
        individual: IndividualOut::of(whole.line(a)?),
        other: IndividualOut::of(whole.line(b)?),
        kinship: whole.pedigree.kinship(a, b).map_err(unnumbered)?,
        same_clone: whole.pedigree.same_clone(a, b).map_err(unnumbered)?,
        prospect,
        no_prospect,
        common_ancestors,
        others,
    })
}

/// Where an individual comes from, as far as the asker may see.
pub(super) fn descent(whole: &Whole, asker: &Asker, line: &Line) -> Result<DescentOut, Problem> {
    let mut out = DescentOut { origin: None, seed_parent: None, pollen_parents: Vec::new(), source: None };
    if !asker.sees_origin(line) {
        return Ok(out);
    }
    let told = |id: IndividualId| -> Result<Option<IndividualOut>, Problem> {
        match whole.number(id) {
            Some(number) => Ok(Some(IndividualOut::told(whole.line(number)?, asker))),
            None => Ok(None),
        }
    };
    match &line.descent {
        Descent::Unknown => out.origin = Some(Origin::Unknown),
        Descent::Cross { seed, pollen } => {
            out.origin = Some(Origin::Cross);
            out.seed_parent = seed.map_or(Ok(None), told)?;
            for (id, share_thousandths) in pollen {
                let individual = id.map_or(Ok(None), told)?;
                out.pollen_parents
                    .push(PollenParentOut { individual, share_thousandths: *share_thousandths });
            }
        }
        Descent::Sport { of, .. } => {
            out.origin = Some(Origin::Sport);
            out.source = told(*of)?;
        }
        Descent::Cutting(of) => {
            out.origin = Some(Origin::Cutting);
            out.source = told(*of)?;
        }
        Descent::Doubled(of) => {
            out.origin = Some(Origin::Doubled);
            out.source = told(*of)?;
        }
        Descent::OneGamete(side, of) => {
            out.origin = Some(Origin::OneGamete);
            let individual = told(*of)?;
            match side {
                ParentSide::Seed => out.seed_parent = individual,
                ParentSide::Pollen => {
                    out.pollen_parents.push(PollenParentOut { individual, share_thousandths: 1_000 });
                }
            }
        }
    }
    Ok(out)
}

/// What should be known of the figures of one individual.
fn findings(whole: &Whole, asker: &Asker, number: u64, line: &Line) -> Result<Vec<FindingOut>, Problem> {
    let mut found = Vec::new();
    let (sets, assumed) = whole.pedigree.sets(number).map_err(unnumbered)?;
    if assumed {
        let words = format!("Nobody recorded how many sets of chromosomes it has; {sets} are supposed.");
        found.push(FindingOut { code: PedigreeFinding::AssumedSets, words });
    }
    if sets > 1 && sets % 2 == 1 {
        let words =
            format!("It has {sets} sets of chromosomes, an odd number: such plants are mostly sterile.");
        found.push(FindingOut { code: PedigreeFinding::OddSets, words });
    }
    if !asker.sees_origin(line) {
        return Ok(found);
    }
    if let Some(words) = whole.contradiction(number) {
        found.push(FindingOut { code: PedigreeFinding::Contradiction, words: words.to_owned() });
    }
    if let Descent::Cross { seed, pollen } = &line.descent {
        let seed = seed.and_then(|id| whole.number(id));
        for pollen in pollen.iter().filter_map(|(id, _)| whole.number((*id)?)) {
            if let Some(seed) = seed
                && whole.pedigree.same_clone(seed, pollen).map_err(unnumbered)?
            {
                let words = "Its parents are one clone, so it is the child of a selfing.".to_owned();
                found.push(FindingOut { code: PedigreeFinding::Selfing, words });
                break;
            }
        }
        if pollen.len() > 1 {
            let words =
                format!("Any of {} may be the pollen parent; figures are means over them.", pollen.len());
            found.push(FindingOut { code: PedigreeFinding::UncertainPollenParent, words });
        }
    }
    if supposed(line.seed_gave) || supposed(line.pollen_gave) {
        found.push(supposed_restitution());
    }
    Ok(found)
}

fn supposed(gave: Gave) -> bool {
    gave.form == Some(GameteForm::Unreduced) && gave.lambda.is_none()
}

pub(super) fn supposed_restitution() -> FindingOut {
    let words =
        "How an unreduced gamete arose is not known; first division restitution is supposed.".to_owned();
    FindingOut { code: PedigreeFinding::SupposedRestitution, words }
}

/// An inbreeding explained as far as the asker may see.
fn inbreeding(
    whole: &Whole,
    disclosed: &Disclosed<'_>,
    explanation: &Explanation,
) -> Result<InbreedingOut, Problem> {
    let parts = explanation.common.iter().map(|(common, part)| (*common, Some(*part)));
    let (common_ancestors, others) = disclosed.common(whole, parts)?;
    Ok(InbreedingOut {
        common_ancestors,
        others,
        meiosis: explanation.meiosis.iter().sum(),
        inbred_parents: explanation.inbred_parent.iter().sum(),
        founder: explanation.founder,
    })
}

/// The steps up from an individual, and whether each leads to an earlier generation.
fn steps(descent: &Descent) -> Vec<(Step, IndividualId, bool)> {
    match descent {
        Descent::Unknown => Vec::new(),
        Descent::Cross { seed, pollen } => {
            let seed = seed.iter().map(|id| (Step::SeedParent, *id, true));
            seed.chain(pollen.iter().filter_map(|(id, _)| Some((Step::PollenParent, (*id)?, true)))).collect()
        }
        Descent::Sport { of, .. } | Descent::Cutting(of) => vec![(Step::Source, *of, false)],
        Descent::Doubled(of) => vec![(Step::Source, *of, true)],
        Descent::OneGamete(ParentSide::Seed, of) => vec![(Step::SeedParent, *of, true)],
        Descent::OneGamete(ParentSide::Pollen, of) => vec![(Step::PollenParent, *of, true)],
    }
}

/// What of the lines above some individuals the asker may see, with a shortest way to each.
pub(super) struct Disclosed<'a> {
    ways: BTreeMap<u64, Vec<Step>>,
    asker: &'a Asker,
}

impl<'a> Disclosed<'a> {
    /// Walks up through what may be seen; what may not is met and not passed. By the seed parent first.
    pub(super) fn above(
        whole: &Whole,
        asker: &'a Asker,
        roots: &[u64],
        generations: u32,
    ) -> Result<Self, Problem> {
        // Ways are told of one root alone, and only for the few generations that are listed.
        let tell = generations <= MOST_GENERATIONS;
        let mut ways: BTreeMap<u64, Vec<Step>> = roots.iter().map(|root| (*root, Vec::new())).collect();
        let mut front: Vec<u64> = roots.to_vec();
        let mut generation = 0;
        while !front.is_empty() && generation <= generations {
            let mut next = Vec::new();
            let mut at = 0;
            // A source is of its sport's generation: it joins the front while the front is walked.
            while let Some(&number) = front.get(at) {
                at += 1;
                let line = whole.line(number)?;
                if !asker.sees_origin(line) {
                    continue;
                }
                let way = ways.get(&number).cloned().unwrap_or_default();
                for (step, id, earlier) in steps(&line.descent) {
                    let Some(up) = whole.number(id).filter(|up| !ways.contains_key(up)) else { continue };
                    let further = if tell { [way.as_slice(), &[step]].concat() } else { Vec::new() };
                    ways.insert(up, further);
                    if earlier { next.push(up) } else { front.push(up) }
                }
            }
            front = next;
            generation += 1;
        }
        Ok(Self { ways, asker })
    }

    /// The way to an ancestor; `None` where the asker is not to know of it.
    fn relation(&self, number: u64) -> Option<&[Step]> {
        self.ways.get(&number).map(Vec::as_slice)
    }

    /// Common ancestors as they may be told, with what each adds to an inbreeding; the rest summed up.
    pub(super) fn common(
        &self,
        whole: &Whole,
        found: impl IntoIterator<Item = (CommonAncestor, Option<f64>)>,
    ) -> Result<(Vec<CommonAncestorOut>, f64), Problem> {
        let (mut told, mut others) = (Vec::new(), 0.0);
        for (common, inbreeding) in found {
            if told.len() >= MOST_COMMON {
                others += inbreeding.unwrap_or(common.kinship);
                continue;
            }
            told.push(CommonAncestorOut {
                individual: self.told(common.id, whole.line(common.id)?),
                of_first: common.of_first,
                of_other: common.of_second,
                kinship: common.kinship,
                inbreeding,
            });
        }
        Ok((told, others))
    }

    fn told(&self, number: u64, line: &Line) -> IndividualOut {
        let met = self.ways.contains_key(&number);
        if met { IndividualOut::told(line, self.asker) } else { IndividualOut::UNDISCLOSED }
    }
}
