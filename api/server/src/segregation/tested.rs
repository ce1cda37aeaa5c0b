//! Counts against a ratio.

use actix_web::{post, web};
use storksbill_domain::words::Scored as Counted;
use storksbill_pedigree::Ratio;
use storksbill_pedigree::segregation::{Family, Inheritance, Scored, test};

use super::dto::TestIn;
use super::predicted::{layered, predictions};
use super::told::{RatioTestOut, TestOut, breeding, label};
use crate::http::auth::Auth;
use crate::http::json::{Findings, Valid};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Where outcomes are drawn they are drawn from here, so that the same counts have the same answer.
const SEED: u64 = 1866;

/// Test counts against a ratio
///
/// Counts of all seedlings that germinated against given parts, or against what a cross should give: chi-square
/// and G, the exact multinomial test where counts are small, and with several families whether they differ from
/// each other. Where it is not known what a sport breeds as, the counts are held against both ratios. Counts of
/// seedlings that were kept, and of a trait of the plastids, are refused, with the reason. Nothing is recorded.
#[utoipa::path(
    tag = "segregation",
    security(("session" = [])),
    request_body = TestIn,
    responses((status = 200, description = "The tests", body = TestOut))
)]
#[post("/segregation/test")]
pub async fn test_counts(_auth: Auth, body: Valid<TestIn>) -> Result<Reply, Problem> {
    let asked = body.value;
    let told = web::block(move || told(&asked))
        .await
        .map_err(|_stopping| Problem::busy("The server is stopping; try again."))??;
    Reply::ok(&told)
}

fn told(asked: &TestIn) -> Result<TestOut, Problem> {
    let families: Vec<Family> = asked
        .families
        .iter()
        .map(|family| Family {
            counts: family.counts.iter().map(|count| u64::try_from(*count).unwrap_or(0)).collect(),
            scored: match family.counted {
                Counted::AllGerminated => Scored::Germinated,
                Counted::Kept => Scored::Kept,
            },
        })
        .collect();
    let mut tests = Vec::new();
    for Against { label, ratio, classes } in ratios(asked)? {
        let mut found = Findings::default();
        for (n, family) in families.iter().enumerate() {
            if family.counts.len() != ratio.parts().len() {
                let words = format!("needs {} counts, one a class", ratio.parts().len());
                found.add(&format!("/families/{n}/counts"), "other-classes", words);
            }
        }
        found.into_result()?;
        let tested = test(&families, &ratio, Inheritance::Nuclear, SEED)
            .map_err(|refusal| Problem::new(Code::InvalidFields, refusal.to_string()))?;
        tests.push(RatioTestOut::of(label, &ratio, &classes, tested));
    }
    Ok(TestOut { tests })
}

/// A ratio that counts are held against.
struct Against {
    label: Option<String>,
    ratio: Ratio,
    /// None where a bare ratio was given.
    classes: Vec<String>,
}

/// Each ratio that the counts are held against.
fn ratios(asked: &TestIn) -> Result<Vec<Against>, Problem> {
    if let Some(cross) = &asked.cross {
        let layered = layered(cross);
        let told = predictions(cross, "/cross")?.into_iter().map(|prediction| {
            let [seed, pollen] = breeding(&prediction, layered);
            let segregation = prediction.segregation;
            Against { label: label(seed, pollen), ratio: segregation.ratio, classes: segregation.classes }
        });
        return Ok(told.collect());
    }
    let parts: Vec<u128> =
        asked.parts.iter().flatten().map(|part| u128::try_from(*part).unwrap_or(0)).collect();
    let ratio =
        Ratio::new(&parts).ok_or_else(|| Problem::field("/parts", "all-zero", "needs a part above 0"))?;
    Ok(vec![Against { label: None, ratio, classes: Vec::new() }])
}
