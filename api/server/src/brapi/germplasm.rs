//! Plants: cultivars and numbered seedlings.

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::cultivars;
use storksbill_db::rows::lines::Line;
use storksbill_domain::ids::{CultivarId, IndividualId};
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use utoipa::IntoParams;

use super::answer::{BrapiAnswer, BrapiRows, Wanted};
use super::dto::{GermplasmOut, InstituteOut, McpdOut, More};
use super::kin::{CROP, Kin, add, urn};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;
use crate::pedigrees::asker::Asker;
use crate::pedigrees::whole::unnumbered;

/// Which plants; all that is given must fit.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
pub struct Search {
    /// Only the one of this id.
    germplasm_db_id: Option<String>,
    /// Only those of this name; accents, case and quotes do not matter.
    germplasm_name: Option<String>,
    /// Only those of this crop, see `/commoncropnames`.
    common_crop_name: Option<String>,
    /// Only children of this plant.
    parent_db_id: Option<String>,
    /// Only parents of this plant.
    progeny_db_id: Option<String>,
    /// The page, from 0; 0 when not given.
    page: Option<usize>,
    /// Rows of a page, 1 to 10,000; 1,000 when not given.
    #[param(minimum = 1, maximum = 10000)]
    page_size: Option<usize>,
}

/// Which plants are meant by id, name and crop.
pub struct Meant {
    id: Option<String>,
    key: Option<String>,
    no_crop: bool,
}

impl Meant {
    pub fn by(id: Option<&str>, name: Option<&str>, crop: Option<&str>) -> Self {
        Self {
            id: id.map(str::to_lowercase),
            key: name.map(names::search_key),
            no_crop: crop.is_some_and(|crop| !crop.eq_ignore_ascii_case(CROP)),
        }
    }

    /// Whether all are meant.
    pub fn everybody(&self) -> bool {
        self.id.is_none() && self.key.is_none() && !self.no_crop
    }

    pub fn has(&self, line: &Line) -> bool {
        !self.no_crop
            && self.id.as_ref().is_none_or(|id| line.id.as_str() == id)
            && self.key.as_ref().is_none_or(|key| names::search_key(&line.name) == *key)
    }
}

/// List plants
///
/// Cultivars and numbered seedlings that you may see, by id. Other filters of the standard are refused.
#[utoipa::path(
    tag = "brapi",
    security(("session" = [])),
    params(Search),
    responses((status = 200, description = "Plants", body = BrapiAnswer<BrapiRows<GermplasmOut>>))
)]
#[get("/germplasm")]
pub async fn list(auth: Auth, app: web::Data<App>, search: web::Query<Search>) -> Result<Reply, Problem> {
    let search = search.into_inner();
    let wanted = Wanted::of(search.page, search.page_size)?;
    let meant = Meant::by(
        search.germplasm_db_id.as_deref(),
        search.germplasm_name.as_deref(),
        search.common_crop_name.as_deref(),
    );
    let pedigrees = app.pedigrees.clone();
    app.db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            let (mut rows, cut) = pedigrees.ask(conn, |whole| {
                let kin = Kin { whole, asker: &asker };
                let number_of = |id: &str| {
                    let number = whole.number(id.parse().ok()?)?;
                    whole.line(number).is_ok_and(|line| asker.sees(line)).then_some(number)
                };
                let parents_of = match &search.progeny_db_id {
                    None => None,
                    Some(id) => {
                        let parents = match number_of(id) {
                            Some(number) => kin.parents(whole.line(number)?)?,
                            None => Vec::new(),
                        };
                        Some(parents.into_iter().map(|(number, _)| number).collect::<BTreeSet<u64>>())
                    }
                };
                let mut found = Vec::new();
                for (number, line) in whole.all_seen(&asker).filter(|(_, line)| meant.has(line)) {
                    if parents_of.as_ref().is_some_and(|parents| !parents.contains(&number)) {
                        continue;
                    }
                    if let Some(parent) = &search.parent_db_id {
                        let parent = number_of(parent);
                        if !kin.parents(line)?.iter().any(|(number, _)| Some(*number) == parent) {
                            continue;
                        }
                    }
                    found.push((line.id, number));
                }
                found.sort_unstable();
                let (page, cut) = wanted.cut(found);
                let rows = page
                    .into_iter()
                    .map(|(_, number)| kin.germplasm(number))
                    .collect::<Result<Vec<_>, _>>()?;
                Ok((rows, cut))
            })?;
            let ids: Vec<IndividualId> = rows.iter().map(|row| row.germplasm_db_id).collect();
            let raisers = raisers(conn, &auth, &ids)?;
            for row in &mut rows {
                row.institute_name = raisers.get(&row.germplasm_db_id).cloned();
            }
            Reply::ok(&cut.answer(rows))
        })
        .await
}

/// See a plant
///
/// A cultivar or a numbered seedling.
#[utoipa::path(
    tag = "brapi",
    security(("session" = [])),
    params(("germplasmDbId" = IndividualId, Path, description = "Id of the cultivar or seedling.")),
    responses((status = 200, description = "The plant", body = BrapiAnswer<GermplasmOut>))
)]
#[get("/germplasm/{germplasmDbId}")]
pub async fn one(auth: Auth, app: web::Data<App>, path: web::Path<IndividualId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let pedigrees = app.pedigrees.clone();
    app.db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            let mut told = pedigrees
                .ask(conn, |whole| Kin { whole, asker: &asker }.germplasm(whole.seen(&asker, id)?))?;
            told.institute_name = raisers(conn, &auth, &[id])?.remove(&id);
            Reply::ok(&BrapiAnswer::one(told))
        })
        .await
}

/// See a plant's passport
///
/// By the Multi-Crop Passport Descriptors 2.1, as far as they fit plants of growers.
#[utoipa::path(
    tag = "brapi",
    security(("session" = [])),
    params(("germplasmDbId" = IndividualId, Path, description = "Id of the cultivar or seedling.")),
    responses((status = 200, description = "The passport", body = BrapiAnswer<McpdOut>))
)]
#[get("/germplasm/{germplasmDbId}/mcpd")]
pub async fn mcpd(auth: Auth, app: web::Data<App>, path: web::Path<IndividualId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let pedigrees = app.pedigrees.clone();
    app.db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            let mut told = pedigrees.ask(conn, |whole| {
                let kin = Kin { whole, asker: &asker };
                let line = whole.line(whole.seen(&asker, id)?)?;
                Ok(McpdOut {
                    germplasm_db_id: id,
                    germplasm_pui: urn(id),
                    accession_names: vec![line.name.clone()],
                    alternate_ids: vec![id.to_string(), urn(id)],
                    ancestral_data: kin.ancestry(line)?,
                    biological_status_of_accession_code: kin.status(line),
                    breeding_institutes: Vec::new(),
                    common_crop_name: CROP,
                    genus: CROP,
                })
            })?;
            let raiser = raisers(conn, &auth, &[id])?.remove(&id);
            told.breeding_institutes.extend(raiser.map(|institute_name| InstituteOut { institute_name }));
            Reply::ok(&BrapiAnswer::one(told))
        })
        .await
}

/// Who raised those of these that are cultivars, where that is recorded.
fn raisers(
    conn: &mut Conn,
    actor: &Actor,
    ids: &[IndividualId],
) -> Result<BTreeMap<IndividualId, String>, Problem> {
    let ids: Vec<CultivarId> = ids.iter().map(|id| id.as_cultivar()).collect();
    let rows = cultivars::rows_visible_among(conn, actor, &ids)?;
    Ok(rows.into_iter().filter_map(|row| Some((row.id.into(), row.raiser?))).collect())
}

impl Kin<'_> {
    fn germplasm(&self, number: u64) -> Result<GermplasmOut, Problem> {
        let line = self.whole.line(number)?;
        let mut more = More::new();
        add(&mut more, "inbreeding", Some(self.whole.pedigree.inbreeding(number).map_err(unnumbered)?));
        add(&mut more, "plantGroup", line.plant_group);
        add(&mut more, "sets", line.sets);
        add(&mut more, "chromosomes", line.chromosomes);
        add(&mut more, "raisedYear", line.raised_year);
        let (method, method_name) = self.method(line)?.unzip();
        Ok(GermplasmOut {
            germplasm_db_id: line.id,
            germplasm_pui: urn(line.id),
            germplasm_name: line.name.clone(),
            default_display_name: line.name.clone(),
            common_crop_name: CROP,
            genus: CROP,
            biological_status_of_accession_code: self.status(line),
            breeding_method_db_id: method,
            breeding_method_name: method_name,
            pedigree: self.in_purdy_notation(line)?,
            institute_name: None,
            additional_info: more,
        })
    }
}
