//! The register: what is registered, for everybody to read.

use std::collections::BTreeMap;

use actix_web::{get, web};
use storksbill_db::Conn;
use storksbill_db::rows::cultivars::{self, Cultivar};
use storksbill_db::rows::registrations::{self, Registration};
use storksbill_domain::ids::CultivarId;

use super::dto::{RegisterCandidate, RegisterEntry, RegisterParent};
use crate::app::App;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};

/// List the register
///
/// Every registered name by its number, with its parents as far as they are disclosed. No log-in is needed.
#[utoipa::path(
    tag = "register",
    params(Page),
    responses((status = 200, description = "Registered names by number", body = List<RegisterEntry>))
)]
#[get("/register")]
pub async fn read_register(app: web::Data<App>, page: Page) -> Result<List<RegisterEntry>, Problem> {
    let after = page.after.as_ref().map(|Place(number, _)| number.parse::<i32>()).transpose();
    let after =
        after.map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let rows = app
        .db
        .read(move |conn| {
            let rows = registrations::registered(conn, after, limit)?;
            told(conn, rows)
        })
        .await?;
    Ok(page.list(rows, |entry| Place(entry.number.to_string(), String::new()), |entry| entry))
}

fn told(conn: &mut Conn, rows: Vec<(Registration, Cultivar)>) -> Result<Vec<RegisterEntry>, Problem> {
    let ids: Vec<CultivarId> = rows.iter().map(|(_, cultivar)| cultivar.id).collect();
    let candidates = cultivars::candidates_of(conn, &ids)?;
    let origins: Vec<CultivarId> = rows
        .iter()
        .flat_map(|(_, c)| [c.seed_parent_id, c.pollen_parent_id, c.source_id])
        .chain(candidates.iter().map(|candidate| candidate.candidate_id))
        .flatten()
        .collect();
    let names: BTreeMap<CultivarId, String> =
        registrations::names_shown_to_all(conn, &origins)?.into_iter().collect();
    let parent = |id: Option<CultivarId>| {
        let name = names.get(&id?).cloned();
        Some(RegisterParent { undisclosed: name.is_none(), name })
    };
    let entries = rows.into_iter().filter_map(|(row, cultivar)| {
        Some(RegisterEntry {
            number: row.registration_no?,
            name: row.name,
            cultivar_id: row.cultivar_id,
            plant_group: cultivar.plant_group,
            seed_parent: parent(cultivar.seed_parent_id),
            pollen_parent: parent(cultivar.pollen_parent_id),
            pollen_candidates: candidates
                .iter()
                .filter(|candidate| candidate.cultivar_id == cultivar.id)
                .map(|candidate| RegisterCandidate {
                    parent: parent(candidate.candidate_id),
                    share_thousandths: candidate.share,
                })
                .collect(),
            current_name: cultivar.name,
            source: parent(cultivar.source_id),
            raiser: cultivar.raiser,
            registered_on: row.registered_on?,
        })
    });
    Ok(entries.collect())
}
