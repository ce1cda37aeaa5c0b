//! Which classes one's plants fit.

use std::collections::BTreeMap;

use actix_web::{get, web};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::{entries, members};
use storksbill_domain::ids::{ClassId, PlantId, ShowId};
use storksbill_domain::policy::Actor;
use storksbill_domain::shows::{Answer, FoundClass, PlantFacts, Reason, ScheduleClass, find_classes};
use utoipa::IntoParams;

use super::entry_dto::{ClassNameOut, FittingOut, PlantClassesOut};
use super::facts::{self, Records};
use super::{documents, visible_show};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::Problem;

/// Which plants and classes.
#[derive(Debug, Clone, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Wanted {
    /// One of your plants; all of them when not given.
    pub plant_id: Option<PlantId>,
    /// Whether classes that a plant does not fit are told too, with the reasons; false when not given.
    #[serde(default)]
    #[param(required = false)]
    pub with_no: bool,
}

/// Find classes for your plants
///
/// For each of your plants that you still hold, by id: every class that it fits, or may fit, with all reasons at once
/// and what would make it fit. The same judgement is made of an entry. A page holds whole plants.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    params(Wanted, Page),
    responses(
        (status = 200, description = "Your plants and the classes for them", body = List<PlantClassesOut>),
        (status = 409, description = "Its schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/my-classes")]
pub async fn my_classes(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    wanted: web::Query<Wanted>,
    page: Page,
) -> Result<List<PlantClassesOut>, Problem> {
    let id = path.into_inner();
    let wanted = wanted.into_inner();
    let now = app.clock.now();
    let after = page.after.as_ref().map(|Place(_, id)| id.clone());
    let limit = usize::try_from(page.probe()).unwrap_or(usize::MAX);
    let found = app
        .db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let (_, schedule) = documents::in_force(conn, &show)?;
            let exhibitor = match entries::exhibitor_of(conn, id, auth.member)? {
                Some(exhibitor) => exhibitor,
                None => facts::newcomer(&show, auth.member, String::new()),
            };
            let about = facts::of_exhibitor(conn, &show, &schedule, &exhibitor, None)?;
            let records = Records::of_owner(conn, auth.member)?;
            let mut shown = Vec::new();
            for plant in records.plants().filter(|plant| plant.how_many > 0) {
                let asked = wanted.plant_id.is_none_or(|id| id == plant.id);
                if asked && after.as_ref().is_none_or(|after| plant.id.as_str() > after.as_str()) {
                    shown.push(plant);
                }
            }
            if wanted.plant_id.is_some() && shown.is_empty() && after.is_none() {
                return Err(Problem::not_found("plant"));
            }
            shown.truncate(limit);
            let plants: Vec<PlantFacts> = shown
                .iter()
                .map(|plant| records.facts(&records.identified(Records::item(plant)), Some(auth.member)))
                .collect();
            let show_facts = facts::of_show(&show, &schedule, now, false)?;
            let mut classes = schedule.classes;
            classes.sort_by(ScheduleClass::printed_order);
            let found = find_classes(&classes, &show_facts, &about, &plants);
            let names: BTreeMap<ClassId, ClassNameOut> =
                classes.iter().map(|class| (class.id, name_of(class))).collect();
            let mut by_plant: BTreeMap<PlantId, Vec<FittingOut>> = BTreeMap::new();
            for FoundClass { class, plant, eligibility } in found {
                if (wanted.with_no || eligibility.answer != Answer::No)
                    && let Some(class) = names.get(&class)
                {
                    by_plant.entry(plant).or_default().push(FittingOut {
                        class: class.clone(),
                        answer: eligibility.answer,
                        reasons: eligibility.reasons.iter().map(Reason::told).collect(),
                    });
                }
            }
            let told = shown.iter().map(|plant| PlantClassesOut {
                plant_id: plant.id,
                cultivar_name: records.name(&records.identified(Records::item(plant))).unwrap_or_default(),
                label: plant.label.clone(),
                classes: by_plant.remove(&plant.id).unwrap_or_default(),
            });
            Ok(told.collect::<Vec<_>>())
        })
        .await?;
    Ok(page.list(found, |row: &PlantClassesOut| Place(String::new(), row.plant_id.to_string()), |row| row))
}

/// A class as it is named beside an entry.
pub(super) fn name_of(class: &ScheduleClass) -> ClassNameOut {
    ClassNameOut { id: class.id, label: class.label.clone(), title: class.title.clone() }
}

/// The name of the member who asks.
pub(super) fn own_name(conn: &mut Conn, actor: &Actor) -> Result<String, Problem> {
    let member = members::find(conn, actor.member)?.ok_or_else(|| Problem::not_found("member"))?;
    Ok(member.name)
}
