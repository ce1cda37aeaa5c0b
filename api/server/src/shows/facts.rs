//! What the records know of a show, an exhibitor and their plants, as eligibility asks for it.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use chrono::{DateTime, TimeZone, Utc};
use serde::{Deserialize, Serialize};
use storksbill_db::Conn;
use storksbill_db::rows::cultivars::{self, Cultivar};
use storksbill_db::rows::entries::{self, Entry, Exhibitor};
use storksbill_db::rows::plants::{self, Plant};
use storksbill_db::rows::shows::{self, Show};
use storksbill_domain::ids::{CultivarId, EntryId, ExhibitorId, MemberId, PlantId, ShowId};
use storksbill_domain::policy::Actor;
use storksbill_domain::shows::{
    ClassSet, EnteredExhibit, ExhibitorFacts, Micrometres, PastResult, PlantFacts, PlantHeight, Reach,
    ShowFacts, ShowSchedule, season_start,
};
use storksbill_domain::words::{CultivarStatus, OfficialRole, Origin, PublishAs};

use super::entry_dto::ItemIn;
use super::{documents, naming};
use crate::http::json::Findings;
use crate::http::problem::Problem;

/// Seasons of shows begin with the year (common practice).
const SEASON: (u32, u32) = (1, 1);

/// The show at the moment that the server received what is asked.
pub(super) fn of_show(
    show: &Show,
    schedule: &ShowSchedule,
    asked_at: DateTime<Utc>,
    late_taken: bool,
) -> Result<ShowFacts, Problem> {
    Ok(ShowFacts {
        held_on: schedule.held_on,
        season_start: season(schedule),
        opens_at: show.opens_at.or(show.published_at).map(|moment| Utc.from_utc_datetime(&moment)),
        closes_at: Utc.from_utc_datetime(&show.closes_at),
        asked_at,
        zone: documents::zone(show)?,
        late_taken,
        tolerance: schedule.tolerance_um,
    })
}

/// The first day of the season that the show belongs to.
pub(super) fn season(schedule: &ShowSchedule) -> chrono::NaiveDate {
    season_start(schedule.held_on, SEASON.0, SEASON.1).unwrap_or(schedule.held_on)
}

/// Past results: those at final shows of the society, and those that were declared. The same show of other years is
/// the one of this club and name.
pub(super) fn past(conn: &mut Conn, show: &Show, exhibitor: &Exhibitor) -> Result<Vec<PastResult>, Problem> {
    Ok(pasts(conn, show, std::slice::from_ref(exhibitor))?.pop().unwrap_or_default())
}

/// As [`past`], of all of these exhibitors at once, in their order.
pub(super) fn pasts(
    conn: &mut Conn,
    show: &Show,
    exhibitors: &[Exhibitor],
) -> Result<Vec<Vec<PastResult>>, Problem> {
    let members: Vec<MemberId> = exhibitors.iter().filter_map(|exhibitor| exhibitor.member_id).collect();
    let won = entries::histories(conn, &members)?;
    let other: BTreeSet<ShowId> = won.values().flatten().map(|row| row.show_id).collect();
    let same: BTreeSet<ShowId> = shows::of_ids(conn, &other.into_iter().collect::<Vec<_>>())?
        .into_iter()
        .filter(|other| other.club_id == show.club_id && other.name == show.name)
        .map(|other| other.id)
        .collect();
    let of = |exhibitor: &Exhibitor| {
        let mut history: Vec<PastResult> = documents::part(&exhibitor.outside_results)?;
        let own = exhibitor.member_id.and_then(|member| won.get(&member));
        for row in own.into_iter().flatten().filter(|row| row.show_id != show.id) {
            let reach = if same.contains(&row.show_id) { Reach::ThisShow } else { Reach::ThisSociety };
            history.push(PastResult { reach, ..documents::part(&row.document)? });
        }
        Ok(history)
    };
    exhibitors.iter().map(of).collect()
}

/// The exhibitor, with what they and their household have entered; `but` is the entry that is being changed.
pub(super) fn of_exhibitor(
    conn: &mut Conn,
    show: &Show,
    schedule: &ShowSchedule,
    exhibitor: &Exhibitor,
    but: Option<EntryId>,
) -> Result<ExhibitorFacts, Problem> {
    let mut judges = Vec::new();
    if let Some(member) = exhibitor.member_id {
        for official in shows::officials(conn, show.id)? {
            if official.role == OfficialRole::Judge && official.member_id == Some(member) {
                let set: ClassSet = documents::part(&official.classes)?;
                judges.extend(schedule.classes.iter().filter(|class| set.holds(class)).map(|class| class.id));
            }
        }
    }
    let household: Vec<Exhibitor> = match &exhibitor.household {
        None => Vec::new(),
        Some(word) => entries::exhibitors(conn, show.id)?
            .into_iter()
            .filter(|other| other.id != exhibitor.id && other.household.as_ref() == Some(word))
            .collect(),
    };
    let ids: Vec<_> = [exhibitor.id].into_iter().chain(household.iter().map(|other| other.id)).collect();
    let mut entered = Vec::new();
    for entry in entries::of_exhibitors(conn, &ids)? {
        if Some(entry.id) != but {
            entered.push(exhibit(&entry, schedule, entry.exhibitor_id == exhibitor.id)?);
        }
    }
    Ok(ExhibitorFacts {
        is_member: exhibitor.member_id.is_some(),
        in_the_trade: exhibitor.in_the_trade,
        is_joint: exhibitor.is_joint,
        born_on: exhibitor.born_on,
        history: past(conn, show, exhibitor)?,
        outside_declared: exhibitor.outside_declared,
        judges,
        entered,
    })
}

fn exhibit(entry: &Entry, schedule: &ShowSchedule, own: bool) -> Result<EnteredExhibit, Problem> {
    let items: Vec<Item> = documents::part(&entry.items)?;
    let class = schedule.classes.iter().find(|class| class.id == entry.class_id);
    let whole = class.is_none_or(|class| class.rules.slots.iter().any(|slot| !slot.unit.is_cut()));
    Ok(EnteredExhibit {
        class: entry.class_id,
        own,
        whole_plants: if whole {
            items.iter().map(|item| (item.plant, item.count())).collect()
        } else {
            Vec::new()
        },
        cultivars: items.iter().map(|item| item.cultivar).collect(),
    })
}

/// Whether a fee for juniors is asked.
pub(super) fn is_junior(exhibitor: &Exhibitor, schedule: &ShowSchedule) -> bool {
    naming::is_minor(exhibitor.born_on, schedule.held_on)
}

/// A plant of an exhibit as it is stored: what was said, and which plant and cultivar it is. A plant that the server
/// does not keep has an id of its own, so that it is known again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Item {
    pub(super) plant: PlantId,
    pub(super) cultivar: CultivarId,
    pub(super) said: ItemIn,
}

impl Item {
    pub(super) fn count(&self) -> u32 {
        self.said.count.unwrap_or(1)
    }
}

/// What is asked of plants: their records, read at once.
#[derive(Debug, Default)]
pub(super) struct Records {
    plants: BTreeMap<PlantId, Plant>,
    cultivars: BTreeMap<CultivarId, Cultivar>,
}

impl Records {
    /// Of the plants and cultivars that are named; plants are those of `owner`.
    pub(super) fn load(
        conn: &mut Conn,
        actor: &Actor,
        owner: Option<MemberId>,
        items: &[ItemIn],
        found: &mut Findings,
    ) -> Result<Self, Problem> {
        let mut records = Self::default();
        for (at, item) in items.iter().enumerate() {
            if let Some(id) = item.plant_id {
                let plant = plants::find(conn, id)?.filter(|plant| Some(plant.owner_id) == owner);
                match plant {
                    Some(plant) => {
                        records.plants.insert(id, plant);
                    }
                    None => found.add(
                        &format!("/items/{at}/plant_id"),
                        "not-found",
                        "is not a plant of this exhibitor",
                    ),
                }
            }
        }
        let asked: Vec<CultivarId> = items.iter().filter_map(|item| item.cultivar_id).collect();
        for (at, item) in items.iter().enumerate() {
            if let Some(id) = item.cultivar_id
                && cultivars::visible_among(conn, actor, &[id])?.is_empty()
            {
                found.add(
                    &format!("/items/{at}/cultivar_id"),
                    "not-found",
                    "is not a cultivar that you may see",
                );
            }
        }
        let kinds: Vec<CultivarId> =
            records.plants.values().map(|plant| plant.cultivar_id).chain(asked).collect();
        records.cultivars =
            cultivars::of_ids(conn, &kinds)?.into_iter().map(|cultivar| (cultivar.id, cultivar)).collect();
        Ok(records)
    }

    /// Of all plants that somebody holds.
    pub(super) fn of_owner(conn: &mut Conn, owner: MemberId) -> Result<Self, Problem> {
        let own = plants::own_all(conn, owner)?;
        let kinds: Vec<CultivarId> = own.iter().map(|(plant, _)| plant.cultivar_id).collect();
        Ok(Self {
            plants: own.into_iter().map(|(plant, _)| (plant.id, plant)).collect(),
            cultivars: cultivars::of_ids(conn, &kinds)?.into_iter().map(|one| (one.id, one)).collect(),
        })
    }

    pub(super) fn plants(&self) -> impl Iterator<Item = &Plant> {
        self.plants.values()
    }

    /// A plant's record as a statement.
    pub(super) fn item(plant: &Plant) -> ItemIn {
        ItemIn { plant_id: Some(plant.id), ..ItemIn::default() }
    }

    /// Which plant and cultivar a statement is about.
    pub(super) fn identified(&self, said: ItemIn) -> Item {
        let kept = said.plant_id.and_then(|id| self.plants.get(&id));
        let cultivar = said.cultivar_id.or(kept.map(|plant| plant.cultivar_id));
        Item {
            plant: said.plant_id.unwrap_or_else(PlantId::fresh),
            cultivar: cultivar.unwrap_or_else(CultivarId::fresh),
            said,
        }
    }

    /// The name on a card.
    pub(super) fn name(&self, item: &Item) -> Option<String> {
        item.said
            .name
            .clone()
            .or_else(|| self.cultivars.get(&item.cultivar).map(|cultivar| cultivar.name.clone()))
    }

    /// All that is known of a plant: what was said, then what its record says.
    pub(super) fn facts(&self, item: &Item, exhibitor: Option<MemberId>) -> PlantFacts {
        let plant = self.plants.get(&item.plant);
        let cultivar = self.cultivars.get(&item.cultivar);
        let said = &item.said;
        let raised = cultivar.and_then(|cultivar| {
            let seedling = matches!(cultivar.origin, Origin::Cross | Origin::OneGamete);
            (seedling && cultivar.entered_by.is_some() && cultivar.entered_by == exhibitor).then_some(true)
        });
        let raised = said.raised_by_exhibitor.or(raised);
        let batch = plant.and_then(|plant| u32::try_from(plant.how_many).ok());
        PlantFacts {
            plant: item.plant,
            cultivar: item.cultivar,
            quantity: batch.unwrap_or_else(|| item.count()),
            group: said.plant_group.or(cultivar.map(|cultivar| cultivar.plant_group)),
            introduced: said.introduced.map(i32::from),
            raised: cultivar.and_then(|cultivar| cultivar.raised_year),
            has_name: said.name.is_some() || cultivar.is_some(),
            form: said.form.or(plant.map(|plant| plant.form)),
            held_since: said.held_since.map(NaiveDate::from).or(plant.and_then(|plant| plant.got_on)),
            from_own_seed: raised == Some(true),
            pot: length(said.pot_mm).or(plant.and_then(|plant| plant.pot_um).map(Micrometres)),
            heights: said
                .heights
                .iter()
                .filter_map(|height| {
                    Some(PlantHeight {
                        um: length(Some(height.mm))?,
                        measured_from: height.measured_from,
                        measured_to: height.measured_to,
                    })
                })
                .collect(),
            clear_stem: length(said.clear_stem_mm),
            basket: length(said.basket_mm),
            bloom: length(said.bloom_mm),
            in_flower: said.in_flower,
            raised_by_exhibitor: raised,
            is_named: cultivar.map(|cultivar| cultivar.status == CultivarStatus::Named),
            is_introduced: said.is_introduced,
            was_shown: said.was_shown,
            firsts: said.no_first_yet.filter(|none| *none).map(|_| Vec::<Reach>::new()),
        }
    }
}

/// A length in whole micrometres.
#[expect(clippy::cast_possible_truncation, reason = "checked lengths are below ten metres")]
fn length(mm: Option<f64>) -> Option<Micrometres> {
    mm.map(|mm| Micrometres((mm * 1000.0).round() as i64))
}

/// Somebody who is not an exhibitor of the show yet.
pub(super) fn newcomer(show: &Show, member: MemberId, name: String) -> Exhibitor {
    Exhibitor {
        id: ExhibitorId::fresh(),
        show_id: show.id,
        number: 0,
        member_id: Some(member),
        name,
        is_joint: false,
        in_the_trade: false,
        household: None,
        born_on: None,
        publish_as: PublishAs::Name,
        outside_declared: false,
        outside_results: "[]".to_owned(),
        version: 1,
        created_at: show.created_at,
        is_protected: false,
    }
}
