//! What is sent, in the shapes of the standard.

use std::collections::BTreeMap;

use serde::Serialize;
use storksbill_domain::ids::{CrossId, IndividualId, MemberId, PlantId};
use utoipa::ToSchema;

/// More about a thing: values are texts, as the standard wants them.
pub(super) type More = BTreeMap<String, String>;

/// The server and its calls.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct ServerInfoOut {
    /// The society.
    pub server_name: String,
    /// The society.
    pub organization_name: String,
    /// What the server is.
    pub server_description: String,
    /// Where people can read more, on this server.
    #[serde(rename = "documentationURL")]
    pub documentation_url: String,
    /// The calls of the standard that it answers.
    pub calls: Vec<ServiceOut>,
}

/// A call of the standard.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct ServiceOut {
    /// Its address, after `/brapi/v2/`.
    pub service: &'static str,
    /// In what it is answered.
    pub content_types: [&'static str; 1],
    /// The same by its older name.
    pub data_types: [&'static str; 1],
    /// Its methods.
    pub methods: [&'static str; 1],
    /// The versions of the standard.
    pub versions: [&'static str; 1],
}

/// A way in which plants are raised.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct BreedingMethodOut {
    /// Identity.
    pub breeding_method_db_id: &'static str,
    /// In words.
    pub breeding_method_name: &'static str,
    /// Short.
    pub abbreviation: &'static str,
    /// What it is.
    pub description: &'static str,
}

/// A cultivar or a numbered seedling.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct GermplasmOut {
    /// Identity.
    pub germplasm_db_id: IndividualId,
    /// The same as a URN (RFC 9562), good everywhere.
    #[serde(rename = "germplasmPUI")]
    pub germplasm_pui: String,
    /// A cultivar's name or a seedling's label.
    pub germplasm_name: String,
    /// The same.
    pub default_display_name: String,
    /// The crop.
    pub common_crop_name: &'static str,
    /// The genus.
    pub genus: &'static str,
    /// The status of the plant by MCPD 2.1 (SAMPSTAT): 100 wild species, 421 sport, 416 cutting under another name,
    /// 500 named cultivar, 415 seedling of a cross, 400 other material of raisers.
    pub biological_status_of_accession_code: &'static str,
    /// How it was raised, see `/breedingmethods`; null where that is not known.
    pub breeding_method_db_id: Option<&'static str>,
    /// The same in words.
    pub breeding_method_name: Option<&'static str>,
    /// Seed parent/pollen parent by name; null where neither is told.
    pub pedigree: Option<String>,
    /// Who raised it, where that is recorded.
    pub institute_name: Option<String>,
    /// `inbreeding`; `plantGroup`, `sets`, `chromosomes` and `raisedYear` where they are recorded.
    pub additional_info: More,
}

/// A plant as a line of the Multi-Crop Passport Descriptors 2.1.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct McpdOut {
    /// Identity.
    pub germplasm_db_id: IndividualId,
    /// PUID.
    #[serde(rename = "germplasmPUI")]
    pub germplasm_pui: String,
    /// ACCENAME: its name or label.
    pub accession_names: Vec<String>,
    /// OTHERNUMB: its ids.
    #[serde(rename = "alternateIDs")]
    pub alternate_ids: Vec<String>,
    /// ANCEST: its parents, or what it was found in.
    pub ancestral_data: Option<String>,
    /// SAMPSTAT.
    pub biological_status_of_accession_code: &'static str,
    /// BREDNAME: who raised it.
    pub breeding_institutes: Vec<InstituteOut>,
    /// CROPNAME.
    pub common_crop_name: &'static str,
    /// GENUS.
    pub genus: &'static str,
}

/// Who raised a plant.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct InstituteOut {
    /// By name.
    pub institute_name: String,
}

/// What a parent is to a child.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
#[serde(rename_all = "UPPERCASE")]
pub enum ParentType {
    /// Bore the seed, or the one egg.
    Female,
    /// Gave the pollen, or may have.
    Male,
    /// Both.
    #[serde(rename = "SELF")]
    Both,
    /// A sport, cutting or doubled plant came from it.
    Clonal,
}

/// A parent, or a child, of a plant.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct KinOut {
    /// Identity.
    pub germplasm_db_id: IndividualId,
    /// By name.
    pub germplasm_name: String,
    /// What the parent is to the child.
    pub parent_type: ParentType,
}

/// A plant with a parent of this one.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct SiblingOut {
    /// Identity.
    pub germplasm_db_id: IndividualId,
    /// By name.
    pub germplasm_name: String,
}

/// A plant of a pedigree with its parents and children.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct PedigreeNodeOut {
    /// Identity.
    pub germplasm_db_id: IndividualId,
    /// The same as a URN.
    #[serde(rename = "germplasmPUI")]
    pub germplasm_pui: String,
    /// A cultivar's name or a seedling's label.
    pub germplasm_name: String,
    /// The same.
    pub default_display_name: String,
    /// How it was raised, see `/breedingmethods`.
    pub breeding_method_db_id: Option<&'static str>,
    /// The same in words.
    pub breeding_method_name: Option<&'static str>,
    /// Seed parent/pollen parent by name; null where neither is told.
    pub pedigree_string: Option<String>,
    /// Its parents, those that are told; null where they are not asked for.
    pub parents: Option<Vec<KinOut>>,
    /// Its children, those that are told; null where they are not asked for.
    pub progeny: Option<Vec<KinOut>>,
    /// Plants with a parent of its own, 100 at most; null where they are not asked for.
    pub siblings: Option<Vec<SiblingOut>>,
    /// `inbreeding`; `kinship` with the one plant that was asked for; `pollenShares` in thousandths where any of
    /// several may be the pollen parent; `siblings` where there are more than are listed.
    pub additional_info: More,
}

/// A cross.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct BrapiCrossOut {
    /// Identity.
    pub cross_db_id: CrossId,
    /// As on the raiser's label.
    pub cross_name: String,
    /// `SELF` where both parents are one clone, `OPEN_POLLINATED` where nobody knows the pollen parent, else
    /// `BIPARENTAL`.
    pub cross_type: &'static str,
    /// Whose book it stands in.
    pub crossing_project_db_id: MemberId,
    /// The same by name.
    pub crossing_project_name: String,
    /// The seed parent, where it is told.
    pub parent1: Option<CrossParentOut>,
    /// The pollen parent, where it is one and told.
    pub parent2: Option<CrossParentOut>,
    /// Days on which florets were worked.
    pub pollination_events: Vec<PollinationEventOut>,
    /// Sums of what was counted, those that were.
    pub cross_attributes: Vec<CrossAttributeOut>,
    /// Where both parents are told: their `kinship`, and the `inbreeding` of their seedlings where it is foreseen.
    /// `pollenShares` in thousandths where any of several may be the pollen parent.
    pub additional_info: More,
}

/// A parent of a cross.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct CrossParentOut {
    /// Its cultivar or numbered seedling.
    pub germplasm_db_id: IndividualId,
    /// The same by name.
    pub germplasm_name: String,
    /// The very plant, where it is told.
    pub observation_unit_db_id: Option<PlantId>,
    /// What it is to the cross.
    pub parent_type: ParentType,
}

/// A day on which florets were worked.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct PollinationEventOut {
    /// The first is 1.
    pub pollination_number: String,
    /// The day, at its start in UTC: the hour is not recorded.
    pub pollination_time_stamp: String,
    /// Whether florets took; null, since takes are counted for the cross and not for the day.
    pub pollination_successful: Option<bool>,
}

/// Something counted of a cross.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct CrossAttributeOut {
    /// What, as in `counts` of the cross book.
    pub cross_attribute_name: &'static str,
    /// How many.
    pub cross_attribute_value: String,
}

/// The cross book of one raiser.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub struct CrossingProjectOut {
    /// The raiser.
    pub crossing_project_db_id: MemberId,
    /// By name.
    pub crossing_project_name: String,
    /// What it is.
    pub crossing_project_description: String,
    /// The crop.
    pub common_crop_name: &'static str,
}
