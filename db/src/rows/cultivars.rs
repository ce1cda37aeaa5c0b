//! Cultivars: what there is to grow, and who its parents are.

use std::collections::BTreeSet;

use chrono::NaiveDateTime;
use diesel::dsl::exists;
use diesel::prelude::*;
use storksbill_domain::ids::{CultivarId, IndividualId, MemberId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{CultivarStatus, GameteForm, Origin, PlantGroup, SportLayers, Visibility};

use super::plants::CultivarName;
use super::{After, IN_LIST, lines, shares};
use crate::schema::{
    conservation_list, cross_parents, cultivar_candidates, cultivar_history, cultivar_names, cultivars,
    plants, propagation_permissions, registrations, reversion_reports, seedlings, swap_hand_overs,
    swap_offers, swap_want_choices, swap_wants,
};
use crate::{Conn, DbError};

/// A cultivar, named or still a seedling.
#[derive(Debug, Clone, PartialEq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = cultivars, treat_none_as_null = true)]
pub struct Cultivar {
    /// Identity.
    pub id: CultivarId,
    /// As typed.
    pub name: String,
    /// As searched and sorted.
    pub name_key: String,
    /// Its group.
    pub plant_group: PlantGroup,
    /// Who raised it.
    pub raiser: Option<String>,
    /// When.
    pub raised_year: Option<i32>,
    /// How far it has come.
    pub status: CultivarStatus,
    /// Breeders' rights are in force.
    pub protected: bool,
    /// Who may see it; all where the register holds it.
    pub visibility: Visibility,
    /// Where it comes from.
    pub origin: Origin,
    /// Seed parent.
    pub seed_parent_id: Option<CultivarId>,
    /// Pollen parent, where it is one; else see [`Candidate`].
    pub pollen_parent_id: Option<CultivarId>,
    /// What it sported from, was struck from, or was doubled from; then it has no parents of its own.
    pub source_id: Option<CultivarId>,
    /// What the seed parent gave.
    pub seed_gamete: Option<GameteForm>,
    /// Chromosome sets of that, where they are stated.
    pub seed_gamete_sets: Option<i32>,
    /// Probability that two homologues in it are copies of one by this meiosis.
    pub seed_gamete_lambda: Option<f64>,
    /// What the pollen parent gave.
    pub pollen_gamete: Option<GameteForm>,
    /// Chromosome sets of that, where they are stated.
    pub pollen_gamete_sets: Option<i32>,
    /// Probability that two homologues in it are copies of one by this meiosis.
    pub pollen_gamete_lambda: Option<f64>,
    /// Of a sport: the layers that changed.
    pub sport_layers: Option<SportLayers>,
    /// Of a sport: what it goes back to.
    pub reverts_to_id: Option<CultivarId>,
    /// Chromosome sets.
    pub sets: Option<i32>,
    /// Chromosomes of a body cell.
    pub chromosomes: Option<i32>,
    /// Whether these are "about" so many.
    pub chromosomes_about: bool,
    /// The record of the same plant that stands in its place.
    pub merged_into_id: Option<CultivarId>,
    /// Anything else.
    pub notes: Option<String>,
    /// Who entered it.
    pub entered_by: Option<MemberId>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// One that may have given the pollen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = cultivar_candidates, treat_none_as_default_value = false)]
pub struct Candidate {
    /// To which cultivar.
    pub cultivar_id: CultivarId,
    /// 1 for the first.
    pub place: i32,
    /// Which; `None` for a stranger.
    pub candidate_id: Option<CultivarId>,
    /// How likely, thousandths.
    pub share: i32,
}

/// Adds a cultivar; who may have given the pollen goes with [`set_candidates`].
pub fn insert(conn: &mut Conn, cultivar: &Cultivar) -> Result<(), DbError> {
    diesel::insert_into(cultivars::table).values(cultivar.clone()).execute(conn)?;
    lines::touch(conn, &[cultivar.id.into()])
}

/// Adds cultivars, stores others that were changed, and puts `candidates` in the place of those of either: all at
/// once, since new ones may descend from each other.
///
/// # Errors
/// [`DbError::Loop`].
pub fn store_all(
    conn: &mut Conn,
    new: &[Cultivar],
    changed: &[Cultivar],
    candidates: &[Candidate],
) -> Result<(), DbError> {
    let all: BTreeSet<IndividualId> = new.iter().chain(changed).map(|row| row.id.into()).collect();
    let all: Vec<IndividualId> = all.into_iter().collect();
    let changed_ids: Vec<CultivarId> = changed.iter().map(|row| row.id).collect();
    lines::changing(conn, &all, |conn| {
        insert_all(conn, new)?;
        for row in changed {
            diesel::update(cultivars::table.find(row.id)).set(row.clone()).execute(conn)?;
        }
        replace_candidates(conn, &changed_ids, candidates)
    })
}

fn insert_all(conn: &mut Conn, rows: &[Cultivar]) -> Result<(), DbError> {
    // Batches have no joint form; see `plants::insert_all`.
    match conn {
        Conn::Sqlite(sqlite) => {
            for row in rows {
                diesel::insert_into(cultivars::table).values(row.clone()).execute(sqlite)?;
            }
        }
        Conn::Postgres(pg) => {
            for part in rows.chunks(1000) {
                diesel::insert_into(cultivars::table).values(part.to_vec()).execute(pg)?;
            }
        }
    }
    Ok(())
}

/// Stores a cultivar that was changed; who may have given the pollen goes with [`set_candidates`].
///
/// # Errors
/// [`DbError::Loop`].
pub fn update(conn: &mut Conn, cultivar: &Cultivar) -> Result<(), DbError> {
    lines::changing(conn, &[cultivar.id.into()], |conn| {
        diesel::update(cultivars::table.find(cultivar.id)).set(cultivar.clone()).execute(conn)?;
        Ok(())
    })
}

/// Removes a cultivar that nothing uses; see [`uses`].
pub fn delete(conn: &mut Conn, id: CultivarId) -> Result<(), DbError> {
    diesel::delete(cultivar_candidates::table.filter(cultivar_candidates::cultivar_id.eq(id)))
        .execute(conn)?;
    diesel::delete(cultivar_names::table.filter(cultivar_names::cultivar_id.eq(id))).execute(conn)?;
    diesel::delete(cultivar_history::table.filter(cultivar_history::cultivar_id.eq(id))).execute(conn)?;
    diesel::delete(cultivars::table.find(id)).execute(conn)?;
    lines::touch(conn, &[id.into()])
}

/// Who may have given the pollen to this cultivar, in their order.
pub fn candidates_of(conn: &mut Conn, ids: &[CultivarId]) -> Result<Vec<Candidate>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let rows = cultivar_candidates::table
            .filter(cultivar_candidates::cultivar_id.eq_any(part.to_vec()))
            .order((cultivar_candidates::cultivar_id, cultivar_candidates::place));
        found.extend(rows.select(Candidate::as_select()).load::<Candidate>(conn)?);
    }
    Ok(found)
}

/// Puts these in the place of those who may have given the pollen.
///
/// # Errors
/// [`DbError::Loop`].
pub fn set_candidates(conn: &mut Conn, id: CultivarId, rows: &[Candidate]) -> Result<(), DbError> {
    lines::changing(conn, &[id.into()], |conn| replace_candidates(conn, &[id], rows))
}

fn replace_candidates(conn: &mut Conn, of: &[CultivarId], rows: &[Candidate]) -> Result<(), DbError> {
    for part in of.chunks(IN_LIST) {
        let before =
            cultivar_candidates::table.filter(cultivar_candidates::cultivar_id.eq_any(part.to_vec()));
        diesel::delete(before).execute(conn)?;
    }
    for row in rows {
        diesel::insert_into(cultivar_candidates::table).values(*row).execute(conn)?;
    }
    Ok(())
}

/// The cultivar of this id.
pub fn find(conn: &mut Conn, id: CultivarId) -> Result<Option<Cultivar>, DbError> {
    Ok(cultivars::table.find(id).select(Cultivar::as_select()).first(conn).optional()?)
}

/// The cultivars of these ids, whoever may see them.
pub fn of_ids(conn: &mut Conn, ids: &[CultivarId]) -> Result<Vec<Cultivar>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let rows = cultivars::table.filter(cultivars::id.eq_any(part.to_vec())).select(Cultivar::as_select());
        found.extend(rows.load::<Cultivar>(conn)?);
    }
    Ok(found)
}

/// Which cultivars a list is to hold; what is not given does not matter.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filter {
    /// Part of the search key of a name.
    pub name_part: Option<String>,
    /// Its group.
    pub plant_group: Option<PlantGroup>,
    /// How far it has come.
    pub status: Option<CultivarStatus>,
}

/// Cultivars that the actor may see; what nobody entered is the register's, for all.
macro_rules! shown_to {
    ($actor:expr) => {
        shares::seen_by!(cultivars::entered_by, or null, cultivars::visibility, $actor)
    };
}

/// The cultivar of this id, where the actor may see it.
pub fn find_visible_to(conn: &mut Conn, actor: &Actor, id: CultivarId) -> Result<Option<Cultivar>, DbError> {
    let found = cultivars::table.filter(cultivars::id.eq(id)).filter(shown_to!(actor));
    Ok(found.select(Cultivar::as_select()).first(conn).optional()?)
}

/// Cultivars that the actor may see, by name; those merged into others are left out.
pub fn page_visible_to(
    conn: &mut Conn,
    actor: &Actor,
    filter: &Filter,
    after: &After,
    limit: i64,
) -> Result<Vec<Cultivar>, DbError> {
    let mut query = cultivars::table
        .filter(cultivars::merged_into_id.is_null())
        .filter(shown_to!(actor))
        .order((cultivars::name_key, cultivars::id))
        .limit(limit)
        .select(Cultivar::as_select())
        .into_boxed();
    if let Some(part) = &filter.name_part {
        let called = cultivar_names::table
            .filter(cultivar_names::cultivar_id.eq(cultivars::id))
            .filter(cultivar_names::name_key.like(format!("%{part}%")));
        query = query.filter(cultivars::name_key.like(format!("%{part}%")).or(exists(called)));
    }
    if let Some(group) = filter.plant_group {
        query = query.filter(cultivars::plant_group.eq(group));
    }
    if let Some(status) = filter.status {
        query = query.filter(cultivars::status.eq(status));
    }
    if let Some((key, id)) = after {
        query = query.filter(
            cultivars::name_key
                .gt(key.clone())
                .or(cultivars::name_key.eq(key.clone()).and(cultivars::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// How many records depend on a cultivar.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Uses {
    /// Cultivars raised or sported from it.
    pub offspring: i64,
    /// Plants of it.
    pub plants: i64,
    /// Offers, wants and hand-overs of the swap.
    pub swaps: i64,
    /// Its permission and its place on the conservation list.
    pub care: i64,
    /// Crosses with it as a parent, and seedlings named as it.
    pub crosses: i64,
    /// Its registrations, and reports of it or of what went back to it.
    pub register: i64,
}

/// What depends on a cultivar.
pub fn uses(conn: &mut Conn, id: CultivarId) -> Result<Uses, DbError> {
    let offspring = cultivars::table
        .filter(
            cultivars::seed_parent_id
                .eq(id)
                .or(cultivars::pollen_parent_id.eq(id))
                .or(cultivars::source_id.eq(id))
                .or(cultivars::reverts_to_id.eq(id))
                .or(cultivars::merged_into_id.eq(id)),
        )
        .count()
        .get_result::<i64>(conn)?;
    let may_be: i64 = cultivar_candidates::table
        .filter(cultivar_candidates::candidate_id.eq(id))
        .count()
        .get_result(conn)?;
    let plants = plants::table.filter(plants::cultivar_id.eq(id)).count().get_result(conn)?;
    let offers: i64 = swap_offers::table.filter(swap_offers::cultivar_id.eq(id)).count().get_result(conn)?;
    let wants: i64 = swap_wants::table.filter(swap_wants::cultivar_id.eq(id)).count().get_result(conn)?;
    let choices: i64 =
        swap_want_choices::table.filter(swap_want_choices::cultivar_id.eq(id)).count().get_result(conn)?;
    let permissions: i64 = propagation_permissions::table
        .filter(propagation_permissions::cultivar_id.eq(id))
        .count()
        .get_result(conn)?;
    let listed: i64 =
        conservation_list::table.filter(conservation_list::cultivar_id.eq(id)).count().get_result(conn)?;
    let hand_overs: i64 =
        swap_hand_overs::table.filter(swap_hand_overs::cultivar_id.eq(id)).count().get_result(conn)?;
    let crossed: i64 =
        cross_parents::table.filter(cross_parents::cultivar_id.eq(id)).count().get_result(conn)?;
    let raised: i64 = seedlings::table.filter(seedlings::cultivar_id.eq(id)).count().get_result(conn)?;
    let registered: i64 =
        registrations::table.filter(registrations::cultivar_id.eq(id)).count().get_result(conn)?;
    let reported: i64 = reversion_reports::table
        .filter(reversion_reports::cultivar_id.eq(id).or(reversion_reports::went_back_to_id.eq(id)))
        .count()
        .get_result(conn)?;
    Ok(Uses {
        offspring: offspring + may_be,
        plants,
        swaps: offers + wants + choices + hand_overs,
        care: permissions + listed,
        crosses: crossed + raised,
        register: registered + reported,
    })
}

/// The chromosome sets of those of these cultivars for which they are recorded.
pub fn sets_of(conn: &mut Conn, ids: &[CultivarId]) -> Result<Vec<(CultivarId, i32)>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let known = cultivars::table
            .filter(cultivars::id.eq_any(part.to_vec()))
            .filter(cultivars::sets.is_not_null())
            .select((cultivars::id, cultivars::sets.assume_not_null()));
        found.extend(known.load::<(CultivarId, i32)>(conn)?);
    }
    Ok(found)
}

/// What each of these cultivars is a sport or cutting of.
pub fn sports_among(
    conn: &mut Conn,
    ids: &[CultivarId],
) -> Result<Vec<(CultivarId, Option<CultivarId>)>, DbError> {
    let mut found = Vec::new();
    // A long list is planned badly.
    for part in ids.chunks(500) {
        let known = cultivars::table.filter(cultivars::id.eq_any(part.to_vec()));
        let known = known.filter(cultivars::origin.ne(Origin::Doubled));
        found.extend(known.select((cultivars::id, cultivars::source_id)).load::<(_, _)>(conn)?);
    }
    Ok(found)
}

/// The names of these cultivars.
pub fn names_of(conn: &mut Conn, ids: &[CultivarId]) -> Result<Vec<(CultivarId, String)>, DbError> {
    let mut names = Vec::with_capacity(ids.len());
    for part in ids.chunks(IN_LIST) {
        let rows = cultivars::table.filter(cultivars::id.eq_any(part.to_vec()));
        names.extend(rows.select((cultivars::id, cultivars::name)).load::<(CultivarId, String)>(conn)?);
    }
    Ok(names)
}

/// The name of every cultivar that the actor may see, by id.
pub fn every_name_visible_to(conn: &mut Conn, actor: &Actor) -> Result<Vec<(CultivarId, String)>, DbError> {
    let seen = cultivars::table.filter(cultivars::merged_into_id.is_null()).filter(shown_to!(actor));
    Ok(seen.order(cultivars::id).select((cultivars::id, cultivars::name)).load(conn)?)
}

/// Every cultivar that the actor may see, by id; those merged into others are left out.
pub fn all_visible_to(conn: &mut Conn, actor: &Actor) -> Result<Vec<Cultivar>, DbError> {
    let seen = cultivars::table.filter(cultivars::merged_into_id.is_null()).filter(shown_to!(actor));
    Ok(seen.order(cultivars::id).select(Cultivar::as_select()).load(conn)?)
}

/// Those of `ids` that the actor may see, merged into others or not.
pub fn seen_among(
    conn: &mut Conn,
    actor: &Actor,
    ids: &[CultivarId],
) -> Result<BTreeSet<CultivarId>, DbError> {
    let mut found = BTreeSet::new();
    for part in ids.chunks(IN_LIST) {
        let seen = cultivars::table.filter(cultivars::id.eq_any(part.to_vec())).filter(shown_to!(actor));
        found.extend(seen.select(cultivars::id).load::<CultivarId>(conn)?);
    }
    Ok(found)
}

/// Those of `ids` that the actor may see, and that stand for themselves.
pub fn visible_among(
    conn: &mut Conn,
    actor: &Actor,
    ids: &[CultivarId],
) -> Result<Vec<CultivarName>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let seen = cultivars::table
            .filter(cultivars::id.eq_any(part.to_vec()))
            .filter(cultivars::merged_into_id.is_null())
            .filter(shown_to!(actor));
        found.extend(seen.select(CultivarName::as_select()).load::<CultivarName>(conn)?);
    }
    Ok(found)
}

/// Those of these search keys, of whatever group, that the actor may see.
pub fn of_keys_visible_to(
    conn: &mut Conn,
    actor: &Actor,
    keys: &[String],
) -> Result<Vec<CultivarName>, DbError> {
    let mut found = Vec::new();
    for part in keys.chunks(IN_LIST) {
        let seen = cultivars::table
            .filter(cultivars::name_key.eq_any(part.to_vec()))
            .filter(cultivars::merged_into_id.is_null())
            .filter(shown_to!(actor));
        found.extend(seen.select(CultivarName::as_select()).load::<CultivarName>(conn)?);
    }
    Ok(found)
}

/// The cultivars that have one of these as another name, with that name's key, as far as the actor may see them.
pub fn of_other_keys_visible_to(
    conn: &mut Conn,
    actor: &Actor,
    keys: &[String],
) -> Result<Vec<(String, CultivarName)>, DbError> {
    let mut found = Vec::new();
    for part in keys.chunks(IN_LIST) {
        let named = cultivar_names::table
            .filter(cultivar_names::name_key.eq_any(part.to_vec()))
            .select((cultivar_names::name_key, cultivar_names::cultivar_id))
            .load::<(String, CultivarId)>(conn)?;
        let ids: Vec<CultivarId> = named.iter().map(|(_, id)| *id).collect();
        let seen = cultivars::table
            .filter(cultivars::id.eq_any(ids))
            .filter(cultivars::merged_into_id.is_null())
            .filter(shown_to!(actor))
            .select(CultivarName::as_select())
            .load::<CultivarName>(conn)?;
        for (key, id) in named {
            found.extend(seen.iter().find(|known| known.id == id).map(|known| (key, known.clone())));
        }
    }
    Ok(found)
}

/// Those of `ids` that the actor may see, and that stand for themselves, whole.
pub fn rows_visible_among(
    conn: &mut Conn,
    actor: &Actor,
    ids: &[CultivarId],
) -> Result<Vec<Cultivar>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let seen = cultivars::table
            .filter(cultivars::id.eq_any(part.to_vec()))
            .filter(cultivars::merged_into_id.is_null())
            .filter(shown_to!(actor));
        found.extend(seen.select(Cultivar::as_select()).load::<Cultivar>(conn)?);
    }
    Ok(found)
}

/// Who has a name.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable)]
#[diesel(table_name = cultivars)]
pub struct NameHolder {
    /// Identity.
    pub id: CultivarId,
    /// The name as searched.
    pub name_key: String,
    /// Its group.
    pub plant_group: PlantGroup,
    /// Who may see it.
    pub visibility: Visibility,
    /// Who entered it.
    pub entered_by: Option<MemberId>,
}

/// Everybody who has one of these names, shown or not: for the rules that the schema has, and not to be told.
pub fn holders_of_names(conn: &mut Conn, keys: &[String]) -> Result<Vec<NameHolder>, DbError> {
    let mut found = Vec::new();
    for part in keys.chunks(IN_LIST) {
        let holders = cultivars::table
            .filter(cultivars::name_key.eq_any(part.to_vec()))
            .filter(cultivars::merged_into_id.is_null());
        found.extend(holders.select(NameHolder::as_select()).load::<NameHolder>(conn)?);
    }
    Ok(found)
}
