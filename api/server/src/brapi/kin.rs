//! Who is whose parent and child, as the asker is told and in the words of the standard.

use std::collections::BTreeMap;

use storksbill_db::rows::lines::{Descent, Line};
use storksbill_domain::ids::IndividualId;
use storksbill_domain::words::{CultivarStatus, IndividualKind, ParentSide, PlantGroup};

use super::dto::{KinOut, More, ParentType};
use crate::http::problem::Problem;
use crate::pedigrees::asker::Asker;
use crate::pedigrees::whole::Whole;

/// The one crop, which is the genus.
pub const CROP: &str = "Pelargonium";

/// Ways in which plants are raised: id, name, short, description.
pub const METHODS: [(&str, &str, &str, &str); 6] = [
    ("cross", "Cross", "X", "Raised from seed of two plants, or of one and unknown pollen."),
    ("selfing", "Selfing", "S", "Raised from seed of one plant with its own pollen."),
    ("sport", "Sport", "M", "A change that appeared on a plant, grown on from it."),
    ("cutting", "Cutting", "C", "Struck from a plant and grown under another name."),
    ("doubled", "Doubling", "D", "A plant whose chromosomes were doubled."),
    ("one_gamete", "One gamete", "G", "Grown from one egg or pollen cell."),
];

/// The pedigree as one asker sees it.
pub struct Kin<'a> {
    pub whole: &'a Whole,
    pub asker: &'a Asker,
}

impl Kin<'_> {
    /// The parents that are told: a seed parent before pollen parents; of a clone or a selfing, one.
    pub fn parents(&self, line: &Line) -> Result<Vec<(u64, ParentType)>, Problem> {
        if !self.asker.sees_origin(line) {
            return Ok(Vec::new());
        }
        let named = match &line.descent {
            Descent::Unknown => Vec::new(),
            Descent::Cross { seed: Some(seed), pollen } if matches!(pollen.as_slice(), [(Some(one), _)] if one == seed) =>
            {
                vec![(*seed, ParentType::Both)]
            }
            Descent::Cross { seed, pollen } => {
                let seed = seed.iter().map(|id| (*id, ParentType::Female));
                seed.chain(pollen.iter().filter_map(|(id, _)| Some(((*id)?, ParentType::Male)))).collect()
            }
            Descent::OneGamete(ParentSide::Seed, of) => vec![(*of, ParentType::Female)],
            Descent::OneGamete(ParentSide::Pollen, of) => vec![(*of, ParentType::Male)],
            Descent::Sport { of, .. } | Descent::Cutting(of) | Descent::Doubled(of) => {
                vec![(*of, ParentType::Clonal)]
            }
        };
        let mut told = Vec::with_capacity(named.len());
        for (id, kind) in named {
            if let Some(number) = self.whole.number(id)
                && self.asker.sees(self.whole.line(number)?)
            {
                told.push((number, kind));
            }
        }
        Ok(told)
    }

    /// The children of everybody, those that are told: a walk over all.
    pub fn children(&self) -> Result<BTreeMap<u64, Vec<(u64, ParentType)>>, Problem> {
        let mut children: BTreeMap<u64, Vec<(u64, ParentType)>> = BTreeMap::new();
        for (number, line) in self.whole.all_seen(self.asker) {
            for (parent, kind) in self.parents(line)? {
                children.entry(parent).or_default().push((number, kind));
            }
        }
        Ok(children)
    }

    /// As it is sent.
    pub fn told(&self, (number, parent_type): (u64, ParentType)) -> Result<KinOut, Problem> {
        let line = self.whole.line(number)?;
        Ok(KinOut { germplasm_db_id: line.id, germplasm_name: line.name.clone(), parent_type })
    }

    /// Seed parent/pollen parent, `?` for one that is not told and for one of several; `None` where neither is told.
    pub fn in_purdy_notation(&self, line: &Line) -> Result<Option<String>, Problem> {
        let parents = self.parents(line)?;
        let name = |number: u64| self.whole.line(number).map(|line| line.name.as_str());
        let of = |wanted: ParentType| -> Result<&str, Problem> {
            let mut fitting = parents.iter().filter(|(_, kind)| *kind == wanted);
            match (fitting.next(), fitting.next()) {
                (Some((one, _)), None) => name(*one),
                _ => Ok("?"),
            }
        };
        Ok(match parents.as_slice() {
            [] | [(_, ParentType::Clonal)] => None,
            [(one, ParentType::Both)] => Some(format!("{0}/{0}", name(*one)?)),
            _ if matches!(line.descent, Descent::OneGamete(..)) => None,
            _ => Some(format!("{}/{}", of(ParentType::Female)?, of(ParentType::Male)?)),
        })
    }

    /// ANCEST of the Multi-Crop Passport Descriptors: parents, or what it was found in.
    pub fn ancestry(&self, line: &Line) -> Result<Option<String>, Problem> {
        let parents = self.parents(line)?;
        let [(one, _)] = parents.as_slice() else { return self.in_purdy_notation(line) };
        let name = &self.whole.line(*one)?.name;
        Ok(match &line.descent {
            Descent::Sport { .. } => Some(format!("mutation found in {name}")),
            Descent::Cutting(_) => Some(format!("selection from {name}")),
            Descent::Doubled(_) => Some(format!("chromosome doubling of {name}")),
            Descent::OneGamete(ParentSide::Seed, _) => Some(format!("from one egg of {name}")),
            Descent::OneGamete(ParentSide::Pollen, _) => Some(format!("from one pollen cell of {name}")),
            Descent::Cross { .. } | Descent::Unknown => self.in_purdy_notation(line)?,
        })
    }

    /// How it was raised: id and name of [`METHODS`].
    pub fn method(&self, line: &Line) -> Result<Option<(&'static str, &'static str)>, Problem> {
        if !self.asker.sees_origin(line) {
            return Ok(None);
        }
        let id = match &line.descent {
            Descent::Unknown => return Ok(None),
            Descent::Cross { .. } if matches!(self.parents(line)?.as_slice(), [(_, ParentType::Both)]) => {
                "selfing"
            }
            Descent::Cross { .. } => "cross",
            Descent::Sport { .. } => "sport",
            Descent::Cutting(_) => "cutting",
            Descent::Doubled(_) => "doubled",
            Descent::OneGamete(..) => "one_gamete",
        };
        Ok(METHODS.iter().find(|method| method.0 == id).map(|method| (method.0, method.1)))
    }

    /// SAMPSTAT of the Multi-Crop Passport Descriptors.
    pub fn status(&self, line: &Line) -> &'static str {
        let seen = self.asker.sees_origin(line);
        match &line.descent {
            _ if line.plant_group == Some(PlantGroup::Species) => "100",
            Descent::Sport { .. } if seen => "421",
            Descent::Cutting(_) if seen => "416",
            _ if line.status == Some(CultivarStatus::Named) => "500",
            Descent::Cross { .. } if seen => "415",
            _ if line.kind == IndividualKind::Seedling => "415",
            _ => "400",
        }
    }

    /// The shares of those that may have given the pollen, where they are several: those that are told.
    pub fn pollen_shares(&self, line: &Line) -> Result<Option<String>, Problem> {
        let Descent::Cross { pollen, .. } = &line.descent else { return Ok(None) };
        if pollen.len() < 2 || !self.asker.sees_origin(line) {
            return Ok(None);
        }
        let mut shares = Vec::new();
        for (id, share) in pollen {
            let known =
                id.and_then(|id| self.whole.number(id)).map(|number| self.whole.line(number)).transpose()?;
            if let Some(line) = known.filter(|line| self.asker.sees(line)) {
                shares.push(format!("{}={share}", line.id));
            }
        }
        Ok((!shares.is_empty()).then(|| shares.join("; ")))
    }
}

/// An id as a URN (RFC 9562, section 4).
pub fn urn(id: IndividualId) -> String {
    format!("urn:uuid:{id}")
}

/// Adds what is known.
pub fn add(more: &mut More, name: &str, value: Option<impl ToString>) {
    if let Some(value) = value {
        more.insert(name.to_owned(), value.to_string());
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use storksbill_domain::nomenclature::GenusProfile;

    #[test]
    fn the_crop_is_the_genus_of_the_society() {
        let profile = include_str!("../../../domain/genera/pelargonium.json");
        assert_eq!(serde_json::from_str::<GenusProfile>(profile).unwrap().genus, super::CROP);
    }
}
