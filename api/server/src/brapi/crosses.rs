//! The cross book.

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::rows::crosses::{self, Filter, Pollination};
use storksbill_domain::ids::{CrossId, CultivarId, IndividualId, MemberId, SeedlingId};
use utoipa::IntoParams;

use super::answer::{BrapiAnswer, BrapiRows, Wanted};
use super::dto::{
    BrapiCrossOut, CrossAttributeOut, CrossParentOut, CrossingProjectOut, More, ParentType,
    PollinationEventOut,
};
use super::kin::{CROP, add};
use crate::app::App;
use crate::crosses::book::told;
use crate::crosses::dto::{CountsOut, CrossOut, ParentOut};
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;
use crate::pedigrees::asker::Asker;
use crate::pedigrees::prospect::between;
use crate::pedigrees::whole::{Whole, unnumbered};

/// Which crosses; all that is given must fit.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
pub struct WhichCrosses {
    /// Only the one of this id.
    cross_db_id: Option<String>,
    /// Only those of this number, as on the raiser's label.
    cross_name: Option<String>,
    /// Only those of this raiser, see `/crossingprojects`.
    crossing_project_db_id: Option<String>,
    /// Only those of this crop, see `/commoncropnames`.
    common_crop_name: Option<String>,
    /// The page, from 0; 0 when not given.
    page: Option<usize>,
    /// Rows of a page, 1 to 10,000; 1,000 when not given.
    #[param(minimum = 1, maximum = 10000)]
    page_size: Option<usize>,
}

/// Which cross books.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
pub struct WhichProjects {
    /// Only that of this raiser.
    crossing_project_db_id: Option<String>,
    /// Only those of this crop, see `/commoncropnames`.
    common_crop_name: Option<String>,
    /// The page, from 0; 0 when not given.
    page: Option<usize>,
    /// Rows of a page, 1 to 10,000; 1,000 when not given.
    #[param(minimum = 1, maximum = 10000)]
    page_size: Option<usize>,
}

fn other_crop(given: Option<&str>) -> bool {
    given.is_some_and(|crop| !crop.eq_ignore_ascii_case(CROP))
}

/// List crosses
///
/// Yours, and those of others that you may see, the last entered first, with sums of what was counted. Other filters
/// of the standard are refused.
#[utoipa::path(
    tag = "brapi",
    security(("session" = [])),
    params(WhichCrosses),
    responses((status = 200, description = "Crosses", body = BrapiAnswer<BrapiRows<BrapiCrossOut>>))
)]
#[get("/crosses")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    which: web::Query<WhichCrosses>,
) -> Result<Reply, Problem> {
    let which = which.into_inner();
    let wanted = Wanted::of(which.page, which.page_size)?;
    let pedigrees = app.pedigrees.clone();
    app.db
        .read(move |conn| {
            let mut rows = crosses::visible_to(conn, &auth, Filter::default(), None, i64::MAX)?;
            let fits = |given: &Option<String>, own: &str| given.as_ref().is_none_or(|given| given == own);
            rows.retain(|(cross, _)| {
                !other_crop(which.common_crop_name.as_deref())
                    && fits(&which.cross_db_id, cross.id.as_str())
                    && fits(&which.cross_name, &cross.number)
                    && fits(&which.crossing_project_db_id, cross.raiser_id.as_str())
            });
            let (page, cut) = wanted.cut(rows);
            let page = told(conn, &auth, page)?;
            let ids: Vec<CrossId> = page.iter().map(|cross| cross.id).collect();
            let mut worked: BTreeMap<CrossId, Vec<Pollination>> = BTreeMap::new();
            for row in crosses::pollinations_among(conn, &ids)? {
                worked.entry(row.cross_id).or_default().push(row);
            }
            let parents =
                || page.iter().flat_map(|cross| cross.pollen_parents.iter().chain([&cross.seed_parent]));
            let seedlings: Vec<SeedlingId> = parents().filter_map(|parent| parent.seedling_id).collect();
            let named = crosses::seedlings_of_ids(conn, &seedlings)?;
            let named = named.into_iter().filter_map(|(row, _)| Some((row.id, row.cultivar_id?))).collect();
            let asker = Asker::load(conn, &auth)?;
            pedigrees.ask(conn, |whole| {
                let book = Book { whole, asker: &asker, named };
                let rows = page
                    .iter()
                    .map(|cross| {
                        book.sent(cross, worked.get(&cross.id).map(Vec::as_slice).unwrap_or_default())
                    })
                    .collect::<Result<Vec<_>, _>>()?;
                Reply::ok(&cut.answer(rows))
            })
        })
        .await
}

/// Crosses beside the pedigree.
struct Book<'a> {
    whole: &'a Whole,
    asker: &'a Asker,
    /// What numbered seedlings were named.
    named: BTreeMap<SeedlingId, CultivarId>,
}

impl Book<'_> {
    /// A parent in the pedigree, where it is told: a plant is its cultivar, and so is a seedling that was named.
    fn number(&self, parent: &ParentOut) -> Option<u64> {
        let seedling =
            |id: SeedlingId| self.named.get(&id).map_or_else(|| id.into(), |named| (*named).into());
        let id: IndividualId =
            parent.cultivar_id.map(IndividualId::from).or(parent.seedling_id.map(seedling))?;
        let number = self.whole.number(id)?;
        self.whole.line(number).is_ok_and(|line| self.asker.sees(line)).then_some(number)
    }

    fn parent(&self, of: &ParentOut, parent_type: ParentType) -> Result<Option<CrossParentOut>, Problem> {
        let Some(number) = self.number(of) else { return Ok(None) };
        let line = self.whole.line(number)?;
        Ok(Some(CrossParentOut {
            germplasm_db_id: line.id,
            germplasm_name: line.name.clone(),
            observation_unit_db_id: of.plant_id,
            parent_type,
        }))
    }

    fn sent(&self, cross: &CrossOut, worked: &[Pollination]) -> Result<BrapiCrossOut, Problem> {
        let pedigree = &self.whole.pedigree;
        let one_of_pollen = match cross.pollen_parents.as_slice() {
            [parent] => Some(parent),
            _ => None,
        };
        let mut more = More::new();
        let (mut selfing, mut same) = (false, false);
        if let (Some(seed), Some(pollen)) =
            (self.number(&cross.seed_parent), one_of_pollen.and_then(|parent| self.number(parent)))
        {
            same = seed == pollen;
            selfing = pedigree.same_clone(seed, pollen).map_err(unnumbered)?;
            add(&mut more, "kinship", Some(pedigree.kinship(seed, pollen).map_err(unnumbered)?));
            // Of ordinary gametes; where the book knows of others, nothing is foretold.
            if cross.seed_gamete.or(cross.pollen_gamete).is_none() {
                let prospect = between(self.whole, seed, pollen)?.0;
                add(&mut more, "inbreeding", prospect.map(|prospect| prospect.inbreeding));
            }
        }
        if cross.pollen_parents.len() > 1 {
            let mut shares = Vec::new();
            for parent in &cross.pollen_parents {
                if let Some(number) = self.number(parent) {
                    shares.push(format!("{}={}", self.whole.line(number)?.id, parent.share_thousandths));
                }
            }
            add(&mut more, "pollenShares", (!shares.is_empty()).then(|| shares.join("; ")));
        }
        let cross_type = match cross.pollen_parents.as_slice() {
            [] => "OPEN_POLLINATED",
            _ if selfing => "SELF",
            _ => "BIPARENTAL",
        };
        let parent1 =
            self.parent(&cross.seed_parent, if same { ParentType::Both } else { ParentType::Female })?;
        let parent2 = match one_of_pollen {
            Some(pollen) if !same => self.parent(pollen, ParentType::Male)?,
            _ => None,
        };
        Ok(BrapiCrossOut {
            cross_db_id: cross.id,
            cross_name: cross.number.clone(),
            cross_type,
            crossing_project_db_id: cross.raiser_id,
            crossing_project_name: book_of(&cross.raiser_name),
            parent1,
            parent2,
            pollination_events: (1..).zip(worked).map(|(number, row)| event(number, row)).collect(),
            cross_attributes: attributes(cross.counts),
            additional_info: more,
        })
    }
}

fn event(number: usize, row: &Pollination) -> PollinationEventOut {
    PollinationEventOut {
        pollination_number: number.to_string(),
        pollination_time_stamp: format!("{}T00:00:00Z", row.day),
        pollination_successful: None,
    }
}

fn attributes(counts: CountsOut) -> Vec<CrossAttributeOut> {
    [
        ("florets", counts.florets),
        ("takes", counts.takes),
        ("harvested", counts.harvested),
        ("sown", counts.sown),
        ("germinated", counts.germinated),
        ("lost", counts.lost),
        ("pricked_out", counts.pricked_out),
        ("flowered", counts.flowered),
        ("kept", counts.kept),
        ("numbered", counts.numbered),
    ]
    .into_iter()
    .filter_map(|(cross_attribute_name, count)| {
        Some(CrossAttributeOut { cross_attribute_name, cross_attribute_value: count?.to_string() })
    })
    .collect()
}

fn book_of(raiser: &str) -> String {
    format!("Cross book of {raiser}")
}

/// List cross books
///
/// Those with a cross that you may see, each its raiser's.
#[utoipa::path(
    tag = "brapi",
    security(("session" = [])),
    params(WhichProjects),
    responses((status = 200, description = "Cross books", body = BrapiAnswer<BrapiRows<CrossingProjectOut>>))
)]
#[get("/crossingprojects")]
pub async fn projects(
    auth: Auth,
    app: web::Data<App>,
    which: web::Query<WhichProjects>,
) -> Result<Reply, Problem> {
    let which = which.into_inner();
    let wanted = Wanted::of(which.page, which.page_size)?;
    app.db
        .read(move |conn| {
            let rows = crosses::visible_to(conn, &auth, Filter::default(), None, i64::MAX)?;
            let raisers: BTreeSet<(MemberId, String)> =
                rows.into_iter().map(|(cross, raiser)| (cross.raiser_id, raiser)).collect();
            let fits = |id: &MemberId| {
                !other_crop(which.common_crop_name.as_deref())
                    && which.crossing_project_db_id.as_ref().is_none_or(|given| given == id.as_str())
            };
            let books =
                raisers.into_iter().filter(|(id, _)| fits(id)).map(|(id, raiser)| CrossingProjectOut {
                    crossing_project_db_id: id,
                    crossing_project_name: book_of(&raiser),
                    crossing_project_description: format!("What {raiser} crosses, as far as you may see it."),
                    common_crop_name: CROP,
                });
            let (page, cut) = wanted.cut(books.collect());
            Reply::ok(&cut.answer(page))
        })
        .await
}
