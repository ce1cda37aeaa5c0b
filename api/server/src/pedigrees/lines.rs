//! Records of cultivars as a pedigree of numbered individuals, and back.

use std::collections::HashMap;

use storksbill_db::rows::cultivars::{Cultivar, Lineage};
use storksbill_domain::ids::CultivarId;
use storksbill_pedigree::drawing::{Descent, Drawing, Plant, ancestor_chart};
use storksbill_pedigree::{Individual, Origin, Pedigree, Problem as Unsound, UnknownId};

use super::dto::{AncestorOut, KinshipOut, PedigreeOut, Step};
use crate::http::problem::{Code, Problem};

/// Cultivars with all their ancestors.
pub(crate) struct Lines {
    rows: Vec<Lineage>,
    numbers: HashMap<CultivarId, u64>,
    pedigree: Pedigree,
}

/// The records as they would be with this cultivar changed.
pub(crate) fn edited(mut rows: Vec<Lineage>, cultivar: &Cultivar) -> Vec<Lineage> {
    for row in rows.iter_mut().filter(|row| row.id == cultivar.id) {
        row.seed_parent_id = cultivar.seed_parent_id;
        row.pollen_parent_id = cultivar.pollen_parent_id;
        row.sport_of_id = cultivar.sport_of_id;
    }
    rows
}

impl Lines {
    /// Numbers the records and works out everybody's inbreeding; cost as told by the pedigree crate.
    ///
    /// # Errors
    /// 409 `pedigree-loop` where a cultivar is its own ancestor, with the loop.
    pub(crate) fn of(rows: Vec<Lineage>) -> Result<Self, Problem> {
        let numbers: HashMap<CultivarId, u64> = rows.iter().map(|row| row.id).zip(0..).collect();
        let number = |id: CultivarId| numbers.get(&id).copied();
        let individuals: Vec<Individual> = (0..)
            .zip(&rows)
            .map(|(id, row)| {
                let [seed_parent, pollen_parent, sport_of] =
                    [row.seed_parent_id, row.pollen_parent_id, row.sport_of_id].map(|p| p.and_then(number));
                let origin = match (sport_of, seed_parent, pollen_parent) {
                    (Some(of), _, _) => Origin::sport(of),
                    (None, None, None) => Origin::Founder,
                    (None, seed_parent, pollen_parent) => Origin::cross(seed_parent, pollen_parent),
                };
                Individual::new(id, origin)
            })
            .collect();
        match Pedigree::build(&individuals) {
            Ok(pedigree) => Ok(Self { rows, numbers, pedigree }),
            Err(faults) => Err(refused(&rows, &faults)),
        }
    }

    /// A cultivar and its ancestors, drawn in so many columns.
    ///
    /// # Errors
    /// 404 where it is not among the records.
    pub(super) fn drawn(&self, id: CultivarId, columns: usize) -> Result<Drawing, Problem> {
        let place = |id: CultivarId| self.numbers.get(&id).and_then(|number| usize::try_from(*number).ok());
        let of = place(id).ok_or_else(|| Problem::not_found("cultivar"))?;
        let plants = (0..).zip(&self.rows).map(|(number, row)| {
            let parents = [row.seed_parent_id, row.pollen_parent_id, row.sport_of_id];
            let [seed_parent, pollen_parent, sport_of] = parents.map(|parent| parent.and_then(place));
            Ok(Plant {
                label: row.name.clone(),
                detail: String::new(),
                inbreeding_per_mille: per_mille(self.pedigree.inbreeding(number).map_err(unnumbered)?),
                descent: match (sport_of, seed_parent, pollen_parent) {
                    (Some(of), _, _) => Descent::Clone { of, how: "sport of".to_owned() },
                    (None, None, None) => Descent::Unknown,
                    (None, seed_parent, pollen_parent) => Descent::Cross { seed_parent, pollen_parent },
                },
            })
        });
        let plants = plants.collect::<Result<Vec<Plant>, Problem>>()?;
        ancestor_chart(&plants, of, columns)
            .map_err(|error| Problem::new(Code::Internal, format!("It cannot be drawn: {error}.")))
    }

    /// A cultivar's ancestors up to so many generations.
    ///
    /// # Errors
    /// 404 where it is not among the records.
    pub(super) fn pedigree_of(&self, id: CultivarId, generations: u32) -> Result<PedigreeOut, Problem> {
        let number = self.number(id)?;
        let row = self.row(number)?;
        let relations = self.relations(id, generations);
        let mut ancestors = Vec::new();
        for found in self.pedigree.ancestors(number, generations).map_err(unnumbered)? {
            let ancestor = self.row(found.id)?;
            ancestors.push(AncestorOut {
                cultivar_id: ancestor.id,
                name: ancestor.name.clone(),
                generation: found.generation,
                relation: relations.get(&ancestor.id).cloned().unwrap_or_default(),
                share: found.share,
                inbreeding: self.pedigree.inbreeding(found.id).map_err(unnumbered)?,
                seed_parent_id: ancestor.seed_parent_id,
                pollen_parent_id: ancestor.pollen_parent_id,
                sport_of_id: ancestor.sport_of_id,
            });
        }
        Ok(PedigreeOut {
            cultivar_id: id,
            name: row.name.clone(),
            seed_parent_id: row.seed_parent_id,
            pollen_parent_id: row.pollen_parent_id,
            sport_of_id: row.sport_of_id,
            generations,
            inbreeding: self.pedigree.inbreeding(number).map_err(unnumbered)?,
            ancestors,
        })
    }

    /// How two cultivars are related.
    ///
    /// # Errors
    /// 404 where one is not among the records.
    pub(super) fn kinship_of(&self, one: CultivarId, other: CultivarId) -> Result<KinshipOut, Problem> {
        let (a, b) = (self.number(one)?, self.number(other)?);
        Ok(KinshipOut {
            cultivar_id: one,
            cultivar_name: self.row(a)?.name.clone(),
            other_id: other,
            other_name: self.row(b)?.name.clone(),
            kinship: self.pedigree.kinship(a, b).map_err(unnumbered)?,
            same_clone: self.pedigree.same_clone(a, b).map_err(unnumbered)?,
            prospective_inbreeding: self.pedigree.prospective_inbreeding(a, b).map_err(unnumbered)?,
        })
    }

    /// A shortest way up to each ancestor, by the seed parent where there are several. Every ancestor is left
    /// once, when it is first reached.
    fn relations(&self, root: CultivarId, generations: u32) -> HashMap<CultivarId, Vec<Step>> {
        let mut relations = HashMap::from([(root, Vec::new())]);
        let mut front = vec![root];
        for _ in 0..=generations {
            let mut next = Vec::new();
            let mut at = 0;
            // A source is of its sport's generation: it joins the front while the front is walked.
            while let Some(row) = front.get(at).and_then(|id| self.row(*self.numbers.get(id)?).ok()) {
                let way = relations.get(&row.id).cloned().unwrap_or_default();
                for (step, origin) in [
                    (Step::SeedParent, row.seed_parent_id),
                    (Step::PollenParent, row.pollen_parent_id),
                    (Step::SportOf, row.sport_of_id),
                ] {
                    let Some(origin) = origin.filter(|origin| !relations.contains_key(origin)) else {
                        continue;
                    };
                    relations.insert(origin, [way.as_slice(), &[step]].concat());
                    if step == Step::SportOf { front.push(origin) } else { next.push(origin) }
                }
                at += 1;
            }
            front = next;
        }
        relations
    }

    fn number(&self, id: CultivarId) -> Result<u64, Problem> {
        self.numbers.get(&id).copied().ok_or_else(|| Problem::not_found("cultivar"))
    }

    fn row(&self, number: u64) -> Result<&Lineage, Problem> {
        usize::try_from(number)
            .ok()
            .and_then(|at| self.rows.get(at))
            .ok_or_else(|| unnumbered(UnknownId(number)))
    }
}

fn unnumbered(unknown: UnknownId) -> Problem {
    Problem::new(Code::Internal, format!("The pedigree has no individual {}.", unknown.0))
}

fn refused(rows: &[Lineage], faults: &[Unsound]) -> Problem {
    let name = |number: &u64| {
        let row = usize::try_from(*number).ok().and_then(|at| rows.get(at));
        row.map_or_else(String::new, |row| format!("'{}'", row.name))
    };
    match faults {
        [Unsound::Loop { ids }, ..] => {
            let around: Vec<String> = ids.iter().chain(ids.first()).map(name).collect();
            Problem::new(
                Code::PedigreeLoop,
                format!("A cultivar would be its own ancestor: {}.", around.join(" from ")),
            )
        }
        faults => {
            let faults: Vec<String> = faults.iter().map(ToString::to_string).collect();
            Problem::new(Code::Internal, format!("The records make no pedigree: {}.", faults.join("; ")))
        }
    }
}

/// Told where there is any.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 1,000")]
fn per_mille(inbreeding: f64) -> Option<u16> {
    let rounded = (inbreeding * 1000.0).round().clamp(0.0, 1000.0) as u16;
    (rounded > 0).then_some(rounded)
}
