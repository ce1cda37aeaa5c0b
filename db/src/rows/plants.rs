//! Plants members hold, and their diaries.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, NaiveDateTime};
use diesel::dsl::{count, exists};
use diesel::prelude::*;
use diesel::upsert::excluded;
use storksbill_domain::ids::{CultivarId, DiaryId, IndividualId, MemberId, PlantId, RegionId};
use storksbill_domain::limits as domain_limits;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{
    DiaryKind, Environment, GrowthForm, Listing, PlantGroup, Standing, Visibility,
};

use super::{IN_LIST, limits, lines, shares};
use crate::schema::{
    cross_parents, cultivars, diary_entries, health_holds, members, plants, regions, swap_offers,
};
use crate::{Conn, DbError};

/// A plant, or several of one batch, that a member holds.
#[derive(Debug, Clone, PartialEq, Queryable, Selectable, Insertable, AsChangeset)]
// Written out, a missing value keeps one text for all inserts, which is prepared once.
#[diesel(table_name = plants, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Plant {
    /// Identity.
    pub id: PlantId,
    /// Whose.
    pub owner_id: MemberId,
    /// What it is.
    pub cultivar_id: CultivarId,
    /// Where it grows.
    pub region_id: RegionId,
    /// The grower's own label.
    pub label: Option<String>,
    /// How many are held now.
    pub how_many: i32,
    /// Inner diameter of the pot at the rim, micrometres.
    pub pot_um: Option<i64>,
    /// Under what it grows.
    pub environment: Environment,
    /// Degrees C kept, where heated.
    pub heated_to_c: Option<f64>,
    /// The form it is grown to.
    pub form: GrowthForm,
    /// The plant it was taken from.
    pub source_plant_id: Option<PlantId>,
    /// Who gave it.
    pub source_member_id: Option<MemberId>,
    /// When it was got.
    pub got_on: Option<NaiveDate>,
    /// Who may see it and its diary.
    pub visibility: Visibility,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// A dated record of a plant.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
// Written out, a missing value keeps one text for all inserts, which is prepared once.
#[diesel(table_name = diary_entries, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct DiaryEntry {
    /// Identity.
    pub id: DiaryId,
    /// Of which plant.
    pub plant_id: PlantId,
    /// The day it tells of.
    pub day: NaiveDate,
    /// What it tells.
    pub kind: DiaryKind,
    /// How many plants or blooms it concerns.
    pub how_many: Option<i32>,
    /// The new pot's inner diameter at the rim, micrometres.
    pub pot_um: Option<i64>,
    /// In words.
    pub note: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// A cultivar as far as its plants name it.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable)]
#[diesel(table_name = cultivars)]
pub struct CultivarName {
    /// Identity.
    pub id: CultivarId,
    /// As typed.
    pub name: String,
    /// As searched and sorted.
    pub name_key: String,
    /// Its group.
    pub plant_group: PlantGroup,
    /// Who may see it.
    pub visibility: Visibility,
}

/// A plant with what it is and the latest record of its diary.
#[derive(Debug, Clone, PartialEq)]
pub struct Held {
    /// The plant.
    pub plant: Plant,
    /// Its cultivar's name.
    pub cultivar: String,
    /// Its cultivar's group.
    pub plant_group: PlantGroup,
    /// The record of the latest day, the last entered of that day.
    pub latest: Option<DiaryEntry>,
}

type HeldRow = (Plant, String, PlantGroup, Option<DiaryEntry>);

fn held_of((plant, cultivar, plant_group, latest): HeldRow) -> Held {
    Held { plant, cultivar, plant_group, latest }
}

/// Plants with their cultivar and latest record, by one statement: the index on (plant, day, id) finds the
/// latest record of each plant without reading the others.
macro_rules! held {
    () => {{
        let newest = diesel::alias!(diary_entries as newest);
        let latest_id = newest
            .filter(newest.field(diary_entries::plant_id).eq(plants::id))
            .order((newest.field(diary_entries::day).desc(), newest.field(diary_entries::id).desc()))
            .limit(1)
            .select(newest.field(diary_entries::id))
            .single_value();
        plants::table
            .inner_join(cultivars::table)
            .left_join(diary_entries::table.on(diary_entries::id.nullable().eq(latest_id)))
            .select((
                Plant::as_select(),
                cultivars::name,
                cultivars::plant_group,
                Option::<DiaryEntry>::as_select(),
            ))
    }};
}

/// Whose plants are listed, and which of them.
#[derive(Debug, Clone, Copy, Default)]
pub struct Filter {
    /// Of one cultivar.
    pub cultivar: Option<CultivarId>,
    /// In one environment.
    pub environment: Option<Environment>,
    /// Of one form.
    pub form: Option<GrowthForm>,
}

/// `owner`'s plants that the actor may see, by id: all of the actor's own, of others those that the rule of
/// [`storksbill_domain::policy::may_see_shared`] shows.
pub fn visible_to(
    conn: &mut Conn,
    actor: &Actor,
    owner: MemberId,
    filter: Filter,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<Held>, DbError> {
    let mut query = held!().filter(plants::owner_id.eq(owner)).order(plants::id).limit(limit).into_boxed();
    if owner != actor.member {
        query = query.filter(shares::seen_by!(plants::owner_id, plants::visibility, actor));
    }
    if let Some(cultivar) = filter.cultivar {
        query = query.filter(plants::cultivar_id.eq(cultivar));
    }
    if let Some(environment) = filter.environment {
        query = query.filter(plants::environment.eq(environment));
    }
    if let Some(form) = filter.form {
        query = query.filter(plants::form.eq(form));
    }
    if let Some(id) = after {
        query = query.filter(plants::id.gt(id.to_owned()));
    }
    Ok(query.load::<HeldRow>(conn)?.into_iter().map(held_of).collect())
}

/// The plant of this id with its cultivar and latest record.
pub fn held(conn: &mut Conn, id: PlantId) -> Result<Option<Held>, DbError> {
    Ok(held!().filter(plants::id.eq(id)).first::<HeldRow>(conn).optional()?.map(held_of))
}

/// The plant of this id.
pub fn find(conn: &mut Conn, id: PlantId) -> Result<Option<Plant>, DbError> {
    Ok(plants::table.find(id).select(Plant::as_select()).first(conn).optional()?)
}

/// Whether the owners may have as many plants more.
fn room_for(conn: &mut Conn, rows: &[Plant]) -> Result<(), DbError> {
    let mut more: BTreeMap<MemberId, usize> = BTreeMap::new();
    for row in rows {
        *more.entry(row.owner_id).or_default() += 1;
    }
    for (owner, more) in more {
        let kept = plants::table.filter(plants::owner_id.eq(owner)).count().get_result(conn)?;
        limits::hold(domain_limits::PLANTS, kept, more)?;
    }
    Ok(())
}

/// Adds a plant.
pub fn insert(conn: &mut Conn, plant: &Plant) -> Result<(), DbError> {
    room_for(conn, std::slice::from_ref(plant))?;
    diesel::insert_into(plants::table).values(plant.clone()).execute(conn)?;
    Ok(())
}

/// Stores a plant that was changed.
///
/// # Errors
/// [`DbError::Loop`] where what was raised from it would be its own ancestor.
pub fn update(conn: &mut Conn, plant: &Plant) -> Result<(), DbError> {
    update_all(conn, std::slice::from_ref(plant))
}

/// What was raised from plants of which `rows` say that they are of another cultivar.
fn raised_from_another(conn: &mut Conn, rows: &[Plant]) -> Result<Vec<IndividualId>, DbError> {
    let ids: Vec<PlantId> = rows.iter().map(|row| row.id).collect();
    let mut before: BTreeMap<PlantId, CultivarId> = BTreeMap::new();
    for part in ids.chunks(IN_LIST) {
        let kept = plants::table.filter(plants::id.eq_any(part.to_vec()));
        before.extend(kept.select((plants::id, plants::cultivar_id)).load::<(PlantId, CultivarId)>(conn)?);
    }
    let other = rows.iter().filter(|row| before.get(&row.id) != Some(&row.cultivar_id));
    let other: Vec<PlantId> = other.map(|row| row.id).collect();
    let raised: BTreeSet<IndividualId> =
        lines::raised_with(conn, &other)?.into_iter().map(|(_, raised)| raised).collect();
    Ok(raised.into_iter().collect())
}

/// Takes a plant away; nothing may depend on it.
pub fn delete(conn: &mut Conn, id: PlantId) -> Result<(), DbError> {
    diesel::delete(plants::table.find(id)).execute(conn)?;
    Ok(())
}

/// Whether a diary record, a plant taken from it, a swap offer, a cross or a health hold depends on the plant.
pub fn in_use(conn: &mut Conn, id: PlantId) -> Result<bool, DbError> {
    let diary = diesel::select(exists(diary_entries::table.filter(diary_entries::plant_id.eq(id))));
    if diary.get_result(conn)? {
        return Ok(true);
    }
    let cuttings = diesel::select(exists(plants::table.filter(plants::source_plant_id.eq(id))));
    if cuttings.get_result(conn)? {
        return Ok(true);
    }
    let offers = diesel::select(exists(swap_offers::table.filter(swap_offers::plant_id.eq(id))));
    if offers.get_result(conn)? {
        return Ok(true);
    }
    let crosses = diesel::select(exists(cross_parents::table.filter(cross_parents::plant_id.eq(id))));
    if crosses.get_result(conn)? {
        return Ok(true);
    }
    let holds = diesel::select(exists(health_holds::table.filter(health_holds::plant_id.eq(id))));
    Ok(holds.get_result(conn)?)
}

/// All of a member's plants with their cultivars, in the order of their entering.
pub fn own_all(conn: &mut Conn, owner: MemberId) -> Result<Vec<(Plant, CultivarName)>, DbError> {
    let all = plants::table.inner_join(cultivars::table).filter(plants::owner_id.eq(owner)).order(plants::id);
    Ok(all.select((Plant::as_select(), CultivarName::as_select())).load(conn)?)
}

/// The plant that this one was taken from.
pub fn source_of(conn: &mut Conn, id: PlantId) -> Result<Option<PlantId>, DbError> {
    let source = plants::table.find(id).select(plants::source_plant_id);
    Ok(source.first::<Option<PlantId>>(conn).optional()?.flatten())
}

/// Those of `ids` that the actor may see; see [`visible_to`].
pub fn visible_among(conn: &mut Conn, actor: &Actor, ids: &[PlantId]) -> Result<Vec<PlantId>, DbError> {
    let mut seen = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let visible = plants::table.filter(plants::id.eq_any(part.to_vec())).filter(shares::seen_by!(
            plants::owner_id,
            plants::visibility,
            actor
        ));
        seen.extend(visible.select(plants::id).load::<PlantId>(conn)?);
    }
    Ok(seen)
}

/// The cultivars that somebody holds: of a member's own plants, or of all that are not private.
pub fn cultivars_held(conn: &mut Conn, owner: Option<MemberId>) -> Result<BTreeSet<CultivarId>, DbError> {
    let mut held =
        plants::table.filter(plants::how_many.gt(0)).select(plants::cultivar_id).distinct().into_boxed();
    held = match owner {
        Some(owner) => held.filter(plants::owner_id.eq(owner)),
        None => held.filter(plants::visibility.ne(Visibility::Private)),
    };
    Ok(held.load::<CultivarId>(conn)?.into_iter().collect())
}

/// The cultivars of these ids, whoever may see them.
pub fn cultivars_of_ids(conn: &mut Conn, ids: &[CultivarId]) -> Result<Vec<CultivarName>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let named = cultivars::table.filter(cultivars::id.eq_any(part.to_vec()));
        found.extend(named.select(CultivarName::as_select()).load::<CultivarName>(conn)?);
    }
    Ok(found)
}

/// Those of `ids` that are regions.
pub fn regions_among(conn: &mut Conn, ids: &[RegionId]) -> Result<Vec<RegionId>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let known = regions::table.filter(regions::id.eq_any(part.to_vec()));
        found.extend(known.select(regions::id).load::<RegionId>(conn)?);
    }
    Ok(found)
}

/// Those of `ids` that are active members.
pub fn active_members_among(conn: &mut Conn, ids: &[MemberId]) -> Result<Vec<MemberId>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let known = members::table
            .filter(members::id.eq_any(part.to_vec()))
            .filter(members::standing.eq(Standing::Active));
        found.extend(known.select(members::id).load::<MemberId>(conn)?);
    }
    Ok(found)
}

/// Adds plants. A thousand cost a few tens of milliseconds.
pub fn insert_all(conn: &mut Conn, rows: &[Plant]) -> Result<(), DbError> {
    room_for(conn, rows)?;
    // Batches have no joint form. SQLite has no network between, so a prepared statement row by row is its
    // fastest way; PostgreSQL takes a thousand rows in one round trip.
    match conn {
        Conn::Sqlite(sqlite) => {
            for row in rows {
                diesel::insert_into(plants::table).values(row).execute(sqlite)?;
            }
        }
        Conn::Postgres(pg) => {
            for part in rows.chunks(1000) {
                diesel::insert_into(plants::table).values(part).execute(pg)?;
            }
        }
    }
    Ok(())
}

/// Stores plants that were changed; see [`insert_all`].
///
/// # Errors
/// [`DbError::Loop`] where what was raised from one of them would be its own ancestor.
pub fn update_all(conn: &mut Conn, rows: &[Plant]) -> Result<(), DbError> {
    let raised = raised_from_another(conn, rows)?;
    lines::changing(conn, &raised, |conn| store_all(conn, rows))
}

fn store_all(conn: &mut Conn, rows: &[Plant]) -> Result<(), DbError> {
    match conn {
        Conn::Sqlite(sqlite) => {
            for row in rows {
                diesel::update(plants::table.find(row.id)).set(row).execute(sqlite)?;
            }
        }
        // An upsert that always meets its row is how many rows are changed in one round trip.
        Conn::Postgres(pg) => {
            for part in rows.chunks(1000) {
                diesel::insert_into(plants::table)
                    .values(part)
                    .on_conflict(plants::id)
                    .do_update()
                    .set((
                        plants::cultivar_id.eq(excluded(plants::cultivar_id)),
                        plants::region_id.eq(excluded(plants::region_id)),
                        plants::label.eq(excluded(plants::label)),
                        plants::how_many.eq(excluded(plants::how_many)),
                        plants::pot_um.eq(excluded(plants::pot_um)),
                        plants::environment.eq(excluded(plants::environment)),
                        plants::heated_to_c.eq(excluded(plants::heated_to_c)),
                        plants::form.eq(excluded(plants::form)),
                        plants::source_plant_id.eq(excluded(plants::source_plant_id)),
                        plants::source_member_id.eq(excluded(plants::source_member_id)),
                        plants::got_on.eq(excluded(plants::got_on)),
                        plants::visibility.eq(excluded(plants::visibility)),
                        plants::version.eq(excluded(plants::version)),
                    ))
                    .execute(pg)?;
            }
        }
    }
    Ok(())
}

/// A plant's diary by day, from the place (day, id) on.
pub fn diary(
    conn: &mut Conn,
    plant: PlantId,
    after: Option<&(NaiveDate, String)>,
    limit: i64,
) -> Result<Vec<DiaryEntry>, DbError> {
    let mut query = diary_entries::table
        .filter(diary_entries::plant_id.eq(plant))
        .order((diary_entries::day, diary_entries::id))
        .limit(limit)
        .select(DiaryEntry::as_select())
        .into_boxed();
    if let Some((day, id)) = after {
        query = query.filter(
            diary_entries::day.gt(*day).or(diary_entries::day.eq(*day).and(diary_entries::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?)
}

/// The diary record of this id with its plant.
pub fn diary_entry(conn: &mut Conn, id: DiaryId) -> Result<Option<(DiaryEntry, Plant)>, DbError> {
    let found = diary_entries::table.inner_join(plants::table).filter(diary_entries::id.eq(id));
    Ok(found.select((DiaryEntry::as_select(), Plant::as_select())).first(conn).optional()?)
}

/// The earliest day a plant's diary tells of.
pub fn first_diary_day(conn: &mut Conn, plant: PlantId) -> Result<Option<NaiveDate>, DbError> {
    let first = diary_entries::table
        .filter(diary_entries::plant_id.eq(plant))
        .order(diary_entries::day)
        .select(diary_entries::day);
    Ok(first.first(conn).optional()?)
}

/// The earliest day that each diary of a member's plants tells of.
pub fn own_first_diary_days(
    conn: &mut Conn,
    owner: MemberId,
) -> Result<Vec<(PlantId, Option<NaiveDate>)>, DbError> {
    let firsts = diary_entries::table
        .inner_join(plants::table)
        .filter(plants::owner_id.eq(owner))
        .group_by(diary_entries::plant_id)
        .select((diary_entries::plant_id, diesel::dsl::min(diary_entries::day)));
    Ok(firsts.load(conn)?)
}

/// Whether the plants may have as many records more.
fn room_for_diary(conn: &mut Conn, rows: &[DiaryEntry]) -> Result<(), DbError> {
    let mut more: BTreeMap<PlantId, usize> = BTreeMap::new();
    for row in rows {
        *more.entry(row.plant_id).or_default() += 1;
    }
    for (plant, more) in more {
        let kept = diary_entries::table.filter(diary_entries::plant_id.eq(plant)).count().get_result(conn)?;
        limits::hold(domain_limits::DIARY, kept, more)?;
    }
    Ok(())
}

/// Adds a diary record.
pub fn insert_diary_entry(conn: &mut Conn, entry: &DiaryEntry) -> Result<(), DbError> {
    room_for_diary(conn, std::slice::from_ref(entry))?;
    diesel::insert_into(diary_entries::table).values(entry.clone()).execute(conn)?;
    Ok(())
}

/// Stores a diary record that was changed.
pub fn update_diary_entry(conn: &mut Conn, entry: &DiaryEntry) -> Result<(), DbError> {
    diesel::update(diary_entries::table.find(entry.id)).set(entry.clone()).execute(conn)?;
    Ok(())
}

/// Takes a diary record away.
pub fn delete_diary_entry(conn: &mut Conn, id: DiaryId) -> Result<(), DbError> {
    diesel::delete(diary_entries::table.find(id)).execute(conn)?;
    Ok(())
}

/// All diary records of a member's plants with the plant's label: plant by plant, by day.
pub fn own_diary(conn: &mut Conn, owner: MemberId) -> Result<Vec<(DiaryEntry, Option<String>)>, DbError> {
    let all = diary_entries::table.inner_join(plants::table).filter(plants::owner_id.eq(owner)).order((
        diary_entries::plant_id,
        diary_entries::day,
        diary_entries::id,
    ));
    Ok(all.select((DiaryEntry::as_select(), plants::label)).load(conn)?)
}

/// Adds diary records; see [`insert_all`].
pub fn insert_diary(conn: &mut Conn, rows: &[DiaryEntry]) -> Result<(), DbError> {
    room_for_diary(conn, rows)?;
    match conn {
        Conn::Sqlite(sqlite) => {
            for row in rows {
                diesel::insert_into(diary_entries::table).values(row).execute(sqlite)?;
            }
        }
        Conn::Postgres(pg) => {
            for part in rows.chunks(1000) {
                diesel::insert_into(diary_entries::table).values(part).execute(pg)?;
            }
        }
    }
    Ok(())
}

/// Stores diary records that were changed; see [`update_all`].
pub fn update_diary(conn: &mut Conn, rows: &[DiaryEntry]) -> Result<(), DbError> {
    match conn {
        Conn::Sqlite(sqlite) => {
            for row in rows {
                diesel::update(diary_entries::table.find(row.id)).set(row).execute(sqlite)?;
            }
        }
        Conn::Postgres(pg) => {
            for part in rows.chunks(1000) {
                diesel::insert_into(diary_entries::table)
                    .values(part)
                    .on_conflict(diary_entries::id)
                    .do_update()
                    .set((
                        diary_entries::day.eq(excluded(diary_entries::day)),
                        diary_entries::kind.eq(excluded(diary_entries::kind)),
                        diary_entries::how_many.eq(excluded(diary_entries::how_many)),
                        diary_entries::pot_um.eq(excluded(diary_entries::pot_um)),
                        diary_entries::note.eq(excluded(diary_entries::note)),
                        diary_entries::version.eq(excluded(diary_entries::version)),
                    ))
                    .execute(pg)?;
            }
        }
    }
    Ok(())
}

/// How many members hold each cultivar on offer, as far as the society or a club may see their plants.
pub fn holders_of_offered(conn: &mut Conn) -> Result<Vec<(CultivarId, i64)>, DbError> {
    let offered = swap_offers::table
        .filter(swap_offers::cultivar_id.eq(plants::cultivar_id))
        .filter(swap_offers::listing.eq(Listing::Open));
    let held = plants::table
        .filter(plants::how_many.gt(0))
        .filter(plants::visibility.ne(Visibility::Private))
        .filter(exists(offered))
        .group_by(plants::cultivar_id)
        .select((plants::cultivar_id, count(plants::owner_id).aggregate_distinct()));
    Ok(held.load(conn)?)
}
