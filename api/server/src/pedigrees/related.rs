//! See who is related to one plant, and what to cross it with.

use std::collections::BTreeSet;

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::lines::Line;
use storksbill_db::rows::plants;
use storksbill_domain::day::Year;
use storksbill_domain::ids::{CultivarId, IndividualId, MemberId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{IndividualKind, PlantGroup};
use utoipa::{IntoParams, ToSchema};

use super::asker::Asker;
use super::dto::{IndividualOut, MateOut, ProspectOut, RelativeOut};
use super::prospect::not_foreseen;
use super::whole::{Whole, unnumbered};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};

/// Among which plants.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Among {
    /// All that you may see.
    #[default]
    All,
    /// Those that members hold, of plants that are not private.
    Held,
    /// Those that you hold, and your own numbered seedlings.
    Mine,
}

/// Which of them.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Which {
    /// Among which plants; all that you may see when not given.
    #[serde(default)]
    #[param(required = false, inline)]
    pub among: Among,
    /// Only cultivars of this group.
    pub plant_group: Option<PlantGroup>,
    /// Only cultivars raised in this year or later.
    pub raised_since: Option<Year>,
}

/// Who is meant by [`Which`], read from the records once.
pub(super) struct Circle {
    which: Which,
    member: MemberId,
    /// `None` where all are meant.
    held: Option<BTreeSet<CultivarId>>,
}

impl Circle {
    pub(super) fn load(conn: &mut Conn, actor: &Actor, which: Which) -> Result<Self, Problem> {
        let held = match which.among {
            Among::All => None,
            Among::Held => Some(plants::cultivars_held(conn, None)?),
            Among::Mine => Some(plants::cultivars_held(conn, Some(actor.member))?),
        };
        Ok(Self { which, member: actor.member, held })
    }

    fn has(&self, line: &Line) -> bool {
        let Which { among, plant_group, raised_since } = self.which;
        let held = self.held.as_ref().is_none_or(|held| match line.kind {
            IndividualKind::Cultivar => held.contains(&line.id.as_cultivar()),
            IndividualKind::Seedling => among == Among::Mine && line.owner == Some(self.member),
        });
        held && plant_group.is_none_or(|group| line.plant_group == Some(group))
            && raised_since.is_none_or(|year| line.raised_year.is_some_and(|raised| raised >= *year))
    }

    /// All of them that the asker may see.
    pub(super) fn numbers(&self, whole: &Whole, asker: &Asker) -> Vec<u64> {
        whole.all_seen(asker).filter(|(_, line)| self.has(line)).map(|(number, _)| number).collect()
    }
}

/// List the relatives of a plant
///
/// A cultivar's or a numbered seedling's, the nearest first, with the kinship to each; those unrelated are left out.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(Which, Page),
    responses((status = 200, description = "Relatives, the nearest first", body = List<RelativeOut>))
)]
#[get("/pedigrees/{individual_id}/kinship")]
pub async fn relatives(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<IndividualId>,
    which: web::Query<Which>,
    page: Page,
) -> Result<List<RelativeOut>, Problem> {
    let id = path.into_inner();
    let which = which.into_inner();
    let pedigrees = app.pedigrees.clone();
    let wanted = page.clone();
    let found = app
        .db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            let circle = Circle::load(conn, &auth, which)?;
            pedigrees.ask(conn, |whole| {
                let number = whole.seen(&asker, id)?;
                let all = whole.pedigree.kinship_to_all(number).map_err(unnumbered)?;
                let mut ranked = Vec::new();
                // By number, as the individuals are.
                for (other, kinship) in all {
                    if kinship > 0.0 && other != number {
                        let line = whole.line(other)?;
                        if asker.sees(line) && circle.has(line) {
                            ranked.push((rank(-kinship), line.id, other, kinship));
                        }
                    }
                }
                cut(ranked, &wanted)?
                    .into_iter()
                    .map(|(key, id, other, kinship)| {
                        let same_clone = whole.pedigree.same_clone(number, other).map_err(unnumbered)?;
                        let individual = IndividualOut::of(whole.line(other)?);
                        Ok((Place(key, id.to_string()), RelativeOut { individual, kinship, same_clone }))
                    })
                    .collect::<Result<Vec<_>, Problem>>()
            })
        })
        .await?;
    Ok(page.list(found, |(place, _)| place.clone(), |(_, relative)| relative))
}

/// List possible mates of a plant
///
/// For a cultivar or a numbered seedling: whose seedlings with it would be least inbred first, then the least
/// kindred; last those whose gametes are not foreseen. Whether a cross takes is another question: see
/// `GET /crosses/outcomes`.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(Which, Page),
    responses((status = 200, description = "Possible mates, those of the least inbred seedlings first", body = List<MateOut>))
)]
#[get("/pedigrees/{individual_id}/mates")]
pub async fn mates(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<IndividualId>,
    which: web::Query<Which>,
    page: Page,
) -> Result<List<MateOut>, Problem> {
    let id = path.into_inner();
    let which = which.into_inner();
    let pedigrees = app.pedigrees.clone();
    let wanted = page.clone();
    let found = app
        .db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            let circle = Circle::load(conn, &auth, which)?;
            pedigrees.ask(conn, |whole| {
                let number = whole.seen(&asker, id)?;
                let mut candidates = circle.numbers(whole, &asker);
                candidates.retain(|other| *other != number);
                let mut ranked = Vec::with_capacity(candidates.len());
                for mate in whole.pedigree.mates(number, &candidates).map_err(unnumbered)? {
                    let inbreeding =
                        mate.prospect.as_ref().map_or(f64::INFINITY, |prospect| prospect.inbreeding);
                    let key = format!("{}{}", rank(inbreeding), rank(mate.kinship));
                    ranked.push((key, whole.line(mate.id)?.id, mate.id, mate));
                }
                cut(ranked, &wanted)?
                    .into_iter()
                    .map(|(key, id, other, mate)| {
                        let (prospect, no_prospect) = match mate.prospect {
                            Ok(prospect) => (Some(ProspectOut::from(prospect)), None),
                            Err(fault) => (None, Some(not_foreseen(&fault))),
                        };
                        let individual = IndividualOut::of(whole.line(other)?);
                        let mate = MateOut { individual, kinship: mate.kinship, prospect, no_prospect };
                        Ok((Place(key, id.to_string()), mate))
                    })
                    .collect::<Result<Vec<_>, Problem>>()
            })
        })
        .await?;
    Ok(page.list(found, |(place, _)| place.clone(), |(_, mate)| mate))
}

/// A number as a text that sorts as it does.
fn rank(number: f64) -> String {
    // IEEE 754: the bits of numbers of one sign sort as they do, and those below zero the other way round.
    let bits = (number + 0.0).to_bits();
    let ordered = if bits >> 63 == 0 { bits | (1 << 63) } else { !bits };
    format!("{ordered:016x}")
}

/// The rows of a page: those after the cursor, one more than asked for.
fn cut<T>(
    mut rows: Vec<(String, IndividualId, u64, T)>,
    page: &Page,
) -> Result<Vec<(String, IndividualId, u64, T)>, Problem> {
    rows.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.cmp(&b.1)));
    if let Some(Place(key, id)) = &page.after {
        let id: IndividualId = id
            .parse()
            .map_err(|_other| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
        rows.retain(|row| (&row.0, &row.1) > (key, &id));
    }
    rows.truncate(usize::try_from(page.probe()).unwrap_or(usize::MAX));
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::rank;

    #[test]
    fn ranks_sort_as_numbers_do() {
        let numbers = [f64::NEG_INFINITY, -0.5, -0.25, -1e-300, 0.0, 1e-300, 0.125, 0.5, f64::INFINITY];
        let ranks: Vec<String> = numbers.into_iter().map(rank).collect();
        assert!(ranks.is_sorted() && ranks.iter().all(|rank| rank.len() == 16), "{ranks:?}");
        assert_eq!(rank(-0.0), rank(0.0));
    }
}
