//! The ratio that the parents' genotypes give.

use actix_web::{post, web};
use storksbill_domain::words::{Gamete, SecondLayer};
use storksbill_pedigree::Fraction;
use storksbill_pedigree::segregation::{
    Dose, Fate, Genotype, Meiosis, Parent, Prediction, Rule, SecondLayer as Layer, SegregationError, Stock,
    predict,
};

use super::dto::{BreedingParentIn, ClassLineIn, PredictIn, fraction};
use super::told::{PredictOut, PredictionOut};
use crate::http::auth::Auth;
use crate::http::json::Valid;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Predict the classes of a cross
///
/// From the parents' genotypes, diploid or tetraploid, and a map from genotype to class, which also holds what is
/// lethal. Seedlings of a chimera come of its second layer (L2); where it is not known whether a sport's L2 carries
/// the change, both predictions are given. A trait of the plastids is refused, with the reason. Nothing is recorded.
#[utoipa::path(
    tag = "segregation",
    security(("session" = [])),
    request_body = PredictIn,
    responses((status = 200, description = "The classes", body = PredictOut))
)]
#[post("/segregation/predict")]
pub async fn predict_classes(_auth: Auth, body: Valid<PredictIn>) -> Result<Reply, Problem> {
    let asked = body.value;
    let told = web::block(move || {
        let predictions = predictions(&asked, "")?;
        let layered = layered(&asked);
        let told = predictions.iter().map(|prediction| PredictionOut::of(prediction, layered));
        Ok::<_, Problem>(PredictOut { predictions: told.collect::<Result<_, _>>()? })
    })
    .await
    .map_err(|_stopping| Problem::busy("The server is stopping; try again."))??;
    Reply::ok(&told)
}

/// Of each parent, whether its layers were given.
pub fn layered(asked: &PredictIn) -> [bool; 2] {
    [asked.seed_parent.layers.is_some(), asked.pollen_parent.layers.is_some()]
}

/// Works the cross out; `at` is where it stands in the body.
pub fn predictions(asked: &PredictIn, at: &str) -> Result<Vec<Prediction>, Problem> {
    let refused = |error: SegregationError| refused(&error, at);
    let seed = parent(&asked.seed_parent).map_err(refused)?;
    let pollen = parent(&asked.pollen_parent).map_err(refused)?;
    let rules: Vec<Rule> = asked.classes.iter().map(rule).collect();
    predict(&seed, &pollen, &rules).map_err(refused)
}

fn refused(error: &SegregationError, at: &str) -> Problem {
    let (pointer, code) = match error {
        SegregationError::Unclassified { .. } => ("/classes", "unclassified"),
        SegregationError::AllLethal => ("/classes", "all-lethal"),
        SegregationError::TooLarge => ("", "too-large"),
        SegregationError::Alleles { .. } | SegregationError::Loci => ("", "alleles"),
        SegregationError::Gamete { .. } => ("", "gamete"),
    };
    Problem::field(&format!("{at}{pointer}"), code, error.to_string())
}

fn parent(given: &BreedingParentIn) -> Result<Parent, SegregationError> {
    let stock = if let Some(sport) = &given.sport {
        Stock::Sport {
            source: loci(&sport.source)?,
            changed: loci(&sport.changed)?,
            second_layer: match sport.second_layer {
                SecondLayer::Changed => Layer::Changed,
                SecondLayer::Unchanged => Layer::Unchanged,
                SecondLayer::Unknown => Layer::Unknown,
            },
        }
    } else {
        let second = given.layers.as_ref().map(|layers| &layers.l2).or(given.genotype.as_ref());
        Stock::Uniform(loci(second.map(Vec::as_slice).unwrap_or_default())?)
    };
    let identical = given.double_reduction.as_deref().and_then(|text| fraction(text).ok());
    let identical = identical.unwrap_or(Fraction::ZERO);
    let meiosis = match (given.ploidy, given.gamete) {
        (2, Some(Gamete::Unreduced)) => Meiosis::unreduced(identical),
        (2, _) => Meiosis::DIPLOID,
        (_, Some(Gamete::Unreduced)) => Meiosis::whole(4),
        _ => Meiosis::tetraploid(identical),
    };
    Ok(Parent { stock, meiosis })
}

fn loci(genotype: &[String]) -> Result<Vec<Genotype>, SegregationError> {
    genotype.iter().map(|alleles| Genotype::new(alleles)).collect()
}

fn rule(line: &ClassLineIn) -> Rule {
    let bound = |copies: i32| usize::try_from(copies).unwrap_or(0);
    let when = line.when.iter().map(|dose| Dose {
        locus: bound(dose.locus - 1),
        allele: dose.allele.chars().next().unwrap_or_default(),
        least: dose.least.map_or(0, bound),
        most: dose.most.map_or(usize::MAX, bound),
    });
    let fate = line.class.as_ref().map_or(Fate::Lethal, |class| Fate::Class(class.trim().to_owned()));
    Rule { when: when.collect(), fate }
}
