//! See what a cross would give before it is made.

use std::collections::BTreeMap;

use actix_web::{post, web};
use storksbill_db::rows::lines::Gave;
use storksbill_domain::words::{Gamete, GameteForm};
use storksbill_pedigree::{Candidate, CommonAncestor, NoProspect, Parent, Problem as Unsound, Prospect, Who};

use super::asker::Asker;
use super::dto::{
    CrossProspectOut, FindingOut, IndividualOut, PedigreeFinding, PollenParentIn, PollenParentOut,
    ProspectIn, ProspectOut,
};
use super::individuals::{distinct, gamete};
use super::look::{Disclosed, supposed_restitution};
use super::whole::{Whole, unnumbered};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::json::{Findings, Valid};
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// See what a cross would give
///
/// Before it is made: the inbreeding its seedlings would have, their sets of chromosomes, and the ancestors that the
/// parents have in common. Parents are cultivars or numbered seedlings; the pollen parent may be unknown, or one of
/// several. Nothing is recorded.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    request_body = ProspectIn,
    responses((status = 200, description = "What it would give", body = CrossProspectOut))
)]
#[post("/pedigrees/prospect")]
pub async fn foresee(auth: Auth, app: web::Data<App>, body: Valid<ProspectIn>) -> Result<Reply, Problem> {
    let asked = body.value;
    let pedigrees = app.pedigrees.clone();
    app.db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            pedigrees.ask(conn, |whole| Reply::ok(&told(whole, &asker, &asked)?))
        })
        .await
}

fn told(whole: &Whole, asker: &Asker, asked: &ProspectIn) -> Result<CrossProspectOut, Problem> {
    let mut found = Findings::default();
    let seen = |id| whole.number(id).filter(|number| whole.line(*number).is_ok_and(|line| asker.sees(line)));
    let missing = "is not a cultivar or seedling that you may see";
    let seed = seen(asked.seed_parent_id);
    if seed.is_none() {
        found.add("/seed_parent_id", "not-found", missing);
    }
    let mut candidates: Vec<Candidate> = Vec::new();
    for (at, PollenParentIn { individual_id, share_thousandths }) in asked.pollen_parents.iter().enumerate() {
        let who = individual_id.and_then(seen);
        if individual_id.is_some() && who.is_none() {
            found.add(&format!("/pollen_parents/{at}/individual_id"), "not-found", missing);
        }
        candidates.push(Candidate { who, share: f64::from(share_thousandths.unwrap_or(1_000)) / 1_000.0 });
    }
    found.into_result()?;
    let Some(seed) = seed else { return Err(Problem::not_found("seed parent")) };
    let who = match candidates.as_slice() {
        [] => Who::Unknown,
        [one] => one.who.map_or(Who::Unknown, Who::Known),
        several => Who::OneOf(several.to_vec()),
    };
    let gave = |given: Option<Gamete>| Gave {
        form: given.map(|gamete| match gamete {
            Gamete::Reduced => GameteForm::Reduced,
            Gamete::Unreduced => GameteForm::Unreduced,
        }),
        ..Gave::default()
    };
    let outcome = whole.pedigree.prospect(
        &Parent { who: Who::Known(seed), gamete: gamete(gave(asked.seed_gamete)) },
        &Parent { who, gamete: gamete(gave(asked.pollen_gamete)) },
    );
    let (prospect, no_prospect) = parts(outcome)?;
    let known: Vec<(u64, f64)> = candidates.iter().filter_map(|one| Some((one.who?, one.share))).collect();
    let roots = distinct([seed].into_iter().chain(known.iter().map(|(number, _)| *number)));
    let disclosed = Disclosed::above(whole, asker, &roots, u32::MAX)?;
    let common = common_over(whole, seed, &known)?;
    let (common_ancestors, _) = disclosed.common(whole, common.into_iter().map(|one| (one, None)))?;
    let mut findings = Vec::new();
    if let Some(prospect) = prospect.as_ref() {
        findings = cautions(prospect);
    }
    if [asked.seed_gamete, asked.pollen_gamete].contains(&Some(Gamete::Unreduced)) {
        findings.push(supposed_restitution());
    }
    if candidates.len() > 1 {
        let words = format!("Figures are means over {} possible pollen parents.", candidates.len());
        findings.push(FindingOut { code: PedigreeFinding::UncertainPollenParent, words });
    }
    let pollen_parents = candidates
        .iter()
        .zip(&asked.pollen_parents)
        .map(|(candidate, asked)| {
            let individual =
                candidate.who.map(|number| whole.line(number).map(IndividualOut::of)).transpose()?;
            Ok(PollenParentOut { individual, share_thousandths: asked.share_thousandths.unwrap_or(1_000) })
        })
        .collect::<Result<Vec<_>, Problem>>()?;
    Ok(CrossProspectOut {
        seed_parent: IndividualOut::of(whole.line(seed)?),
        pollen_parents,
        prospect,
        no_prospect,
        common_ancestors,
        findings,
    })
}

/// Common ancestors of the seed parent and of each pollen parent by its share, the weightiest first.
fn common_over(whole: &Whole, seed: u64, pollen: &[(u64, f64)]) -> Result<Vec<CommonAncestor>, Problem> {
    let mut sum: BTreeMap<u64, CommonAncestor> = BTreeMap::new();
    for (number, share) in pollen {
        for one in whole.pedigree.common_ancestors(seed, *number).map_err(unnumbered)? {
            let into = sum.entry(one.id).or_insert(CommonAncestor { of_second: 0.0, kinship: 0.0, ..one });
            into.of_second += share * one.of_second;
            into.kinship += share * one.kinship;
        }
    }
    let mut common: Vec<CommonAncestor> = sum.into_values().collect();
    common.sort_by(|a, b| b.kinship.total_cmp(&a.kinship).then(a.id.cmp(&b.id)));
    Ok(common)
}

fn cautions(prospect: &ProspectOut) -> Vec<FindingOut> {
    let mut found = Vec::new();
    if prospect.sets_assumed {
        let words = format!(
            "Nobody recorded the sets of chromosomes of both parents; seedlings with {} are supposed.",
            prospect.sets
        );
        found.push(FindingOut { code: PedigreeFinding::AssumedSets, words });
    }
    if prospect.odd_sets {
        let words = format!(
            "Seedlings would have {} sets of chromosomes, an odd number: mostly sterile.",
            prospect.sets
        );
        found.push(FindingOut { code: PedigreeFinding::OddSets, words });
    }
    if prospect.selfing {
        let words = "Both parents are one clone, so this is a selfing.".to_owned();
        found.push(FindingOut { code: PedigreeFinding::Selfing, words });
    }
    found
}

/// What seedlings of two would be by ordinary gametes, or why that is not foreseen.
pub(crate) fn between(
    whole: &Whole,
    a: u64,
    b: u64,
) -> Result<(Option<ProspectOut>, Option<String>), Problem> {
    parts(whole.pedigree.prospect(&Parent::reduced(Some(a)), &Parent::reduced(Some(b))))
}

fn parts(outcome: Result<Prospect, NoProspect>) -> Result<(Option<ProspectOut>, Option<String>), Problem> {
    match outcome {
        Ok(prospect) => Ok((Some(prospect.into()), None)),
        Err(NoProspect::Unknown(unknown)) => Err(unnumbered(unknown)),
        Err(NoProspect::Problem(fault)) => Ok((None, Some(not_foreseen(&fault)))),
    }
}

/// Why gametes are not foreseen, in words that name nobody.
pub(super) fn not_foreseen(fault: &Unsound) -> String {
    match fault {
        Unsound::OddParent { sets, .. } => format!(
            "A parent has {sets} sets of chromosomes, so half of them is not a number: what its gametes bring is not foreseen."
        ),
        Unsound::MixedSets { .. } => {
            "Those that may be the pollen parent would bring different numbers of chromosome sets.".to_owned()
        }
        Unsound::NoRestitution { sets, .. } => format!(
            "For unreduced gametes of a parent with {sets} sets of chromosomes nobody has published a figure."
        ),
        _ => "What the gametes would bring is not foreseen.".to_owned(),
    }
}

impl From<Prospect> for ProspectOut {
    fn from(prospect: Prospect) -> Self {
        Self {
            inbreeding: prospect.inbreeding,
            sets: prospect.sets,
            sets_assumed: prospect.assumed,
            odd_sets: prospect.sets > 1 && prospect.sets % 2 == 1,
            selfing: prospect.selfing,
        }
    }
}
