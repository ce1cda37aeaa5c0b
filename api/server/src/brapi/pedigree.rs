//! Plants with their parents, children and siblings.

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{get, web};
use serde::Deserialize;
use utoipa::IntoParams;

use super::answer::{BrapiAnswer, BrapiRows, Wanted};
use super::dto::{KinOut, More, ParentType, PedigreeNodeOut, SiblingOut};
use super::germplasm::Meant;
use super::kin::{Kin, add, urn};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::pedigrees::asker::Asker;
use crate::pedigrees::whole::unnumbered;

/// Most plants that one question may gather around those it asks for.
const MOST_PLANTS: usize = 20_000;
/// Most siblings that are listed of one plant.
const MOST_SIBLINGS: usize = 100;

/// Which plants, and how far up and down from them.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
pub struct Around {
    /// Only around the plant of this id.
    germplasm_db_id: Option<String>,
    /// Only around those of this name; accents, case and quotes do not matter.
    germplasm_name: Option<String>,
    /// Only around those of this crop, see `/commoncropnames`.
    common_crop_name: Option<String>,
    /// Generations of ancestors to gather; 1 when not given.
    pedigree_depth: Option<usize>,
    /// Generations of descendants to gather; 1 when not given.
    progeny_depth: Option<usize>,
    /// Gather all ancestors and descendants; false when not given.
    include_full_tree: Option<bool>,
    /// List each plant's parents; true when not given.
    include_parents: Option<bool>,
    /// List each plant's children; true when not given.
    include_progeny: Option<bool>,
    /// List each plant's siblings; false when not given, since they may be very many.
    include_siblings: Option<bool>,
    /// The page, from 0; 0 when not given.
    page: Option<usize>,
    /// Rows of a page, 1 to 10,000; 1,000 when not given.
    #[param(minimum = 1, maximum = 10000)]
    page_size: Option<usize>,
}

type Children = BTreeMap<u64, Vec<(u64, ParentType)>>;

/// List plants of a pedigree
///
/// Around those that are asked for, or all that you may see where nothing is asked: each with its parents, children
/// and, when asked, siblings, by id. Together at most 20,000 around those asked for; 100 siblings of one plant. All
/// plants that may have given the pollen are `MALE` parents. Other filters of the standard are refused.
#[utoipa::path(
    tag = "brapi",
    security(("session" = [])),
    params(Around),
    responses((status = 200, description = "Plants", body = BrapiAnswer<BrapiRows<PedigreeNodeOut>>))
)]
#[get("/pedigree")]
pub async fn nodes(auth: Auth, app: web::Data<App>, around: web::Query<Around>) -> Result<Reply, Problem> {
    let around = around.into_inner();
    let wanted = Wanted::of(around.page, around.page_size)?;
    let pedigrees = app.pedigrees.clone();
    app.db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            pedigrees.ask(conn, |whole| {
                let kin = Kin { whole, asker: &asker };
                let children = kin.children()?;
                let (asked, found) = around.gathered(&kin, &children)?;
                let (page, cut) = wanted.cut(found);
                // Kinship is told to the one plant that is asked for.
                let kinship: BTreeMap<u64, f64> = match asked.as_slice() {
                    [one] => whole.pedigree.kinship_to_all(*one).map_err(unnumbered)?.into_iter().collect(),
                    _ => BTreeMap::new(),
                };
                let rows = page
                    .into_iter()
                    .map(|number| around.node(&kin, &children, number, kinship.get(&number).copied()))
                    .collect::<Result<Vec<_>, _>>()?;
                Reply::ok(&cut.answer(rows))
            })
        })
        .await
}

impl Around {
    /// Those asked for, where not all are, and everybody gathered around them, by id.
    fn gathered(&self, kin: &Kin<'_>, children: &Children) -> Result<(Vec<u64>, Vec<u64>), Problem> {
        let meant = Meant::by(
            self.germplasm_db_id.as_deref(),
            self.germplasm_name.as_deref(),
            self.common_crop_name.as_deref(),
        );
        let base: Vec<u64> = kin
            .whole
            .all_seen(kin.asker)
            .filter(|(_, line)| meant.has(line))
            .map(|(number, _)| number)
            .collect();
        let mut found: BTreeSet<u64> = base.iter().copied().collect();
        if !meant.everybody() {
            let full = self.include_full_tree == Some(true);
            let depth = |given: Option<usize>| if full { usize::MAX } else { given.unwrap_or(1) };
            let parents = |number: u64| kin.parents(kin.whole.line(number)?);
            let down = |number: u64| Ok(children.get(&number).cloned().unwrap_or_default());
            walk(&base, depth(self.pedigree_depth), parents, &mut found)?;
            walk(&base, depth(self.progeny_depth), down, &mut found)?;
        }
        let mut by_id = Vec::with_capacity(found.len());
        for number in found {
            by_id.push((kin.whole.line(number)?.id, number));
        }
        by_id.sort_unstable();
        let found = by_id.into_iter().map(|(_, number)| number).collect();
        Ok((if meant.everybody() { Vec::new() } else { base }, found))
    }

    fn node(
        &self,
        kin: &Kin<'_>,
        children: &Children,
        number: u64,
        kinship: Option<f64>,
    ) -> Result<PedigreeNodeOut, Problem> {
        let line = kin.whole.line(number)?;
        let parents = kin.parents(line)?;
        let mut more = More::new();
        add(&mut more, "inbreeding", Some(kin.whole.pedigree.inbreeding(number).map_err(unnumbered)?));
        add(&mut more, "kinship", kinship);
        add(&mut more, "pollenShares", kin.pollen_shares(line)?);
        let mut siblings = None;
        if self.include_siblings == Some(true) {
            let each = parents.iter().flat_map(|(parent, _)| children.get(parent).into_iter().flatten());
            let all: BTreeSet<u64> = each.map(|(child, _)| *child).filter(|child| *child != number).collect();
            if all.len() > MOST_SIBLINGS {
                add(&mut more, "siblings", Some(all.len()));
            }
            let told = |number: u64| -> Result<SiblingOut, Problem> {
                let line = kin.whole.line(number)?;
                Ok(SiblingOut { germplasm_db_id: line.id, germplasm_name: line.name.clone() })
            };
            siblings = Some(all.into_iter().take(MOST_SIBLINGS).map(told).collect::<Result<Vec<_>, _>>()?);
        }
        let each = |all: &[(u64, ParentType)]| -> Result<Vec<KinOut>, Problem> {
            all.iter().map(|one| kin.told(*one)).collect()
        };
        let with_parents = self.include_parents != Some(false);
        let with_progeny = self.include_progeny != Some(false);
        let own = children.get(&number).map(Vec::as_slice).unwrap_or_default();
        let (method, method_name) = kin.method(line)?.unzip();
        Ok(PedigreeNodeOut {
            germplasm_db_id: line.id,
            germplasm_pui: urn(line.id),
            germplasm_name: line.name.clone(),
            default_display_name: line.name.clone(),
            breeding_method_db_id: method,
            breeding_method_name: method_name,
            pedigree_string: kin.in_purdy_notation(line)?,
            parents: with_parents.then(|| each(&parents)).transpose()?,
            progeny: with_progeny.then(|| each(own)).transpose()?,
            siblings,
            additional_info: more,
        })
    }
}

/// Adds everybody so many steps away.
fn walk(
    from: &[u64],
    steps: usize,
    next: impl Fn(u64) -> Result<Vec<(u64, ParentType)>, Problem>,
    found: &mut BTreeSet<u64>,
) -> Result<(), Problem> {
    let mut met: BTreeSet<u64> = from.iter().copied().collect();
    let mut front = from.to_vec();
    for _ in 0..steps {
        let mut further = Vec::new();
        for number in front {
            further.extend(next(number)?.into_iter().map(|(one, _)| one).filter(|one| met.insert(*one)));
            if met.len() > from.len() + MOST_PLANTS {
                let detail =
                    format!("would gather more than {MOST_PLANTS} plants; ask for fewer generations");
                let problem = Problem::new(Code::InvalidQuery, format!("The question {detail}."));
                return Err(problem.at("pedigreeDepth", "too-large", detail));
            }
        }
        if further.is_empty() {
            break;
        }
        front = further;
    }
    found.append(&mut met);
    Ok(())
}
