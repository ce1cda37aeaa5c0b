//! Cultivars: what there is to grow, and who its parents are.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use diesel::sql_types::{Nullable, Text};
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_domain::words::{CultivarStatus, PlantGroup};

use super::{After, IN_LIST};
use crate::schema::{
    conservation_list, cross_parents, cultivars, plants, propagation_permissions, seedlings, swap_hand_overs,
    swap_offers, swap_want_choices, swap_wants,
};
use crate::{Conn, DbError};

/// A cultivar, named or still a seedling.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
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
    /// Seed parent.
    pub seed_parent_id: Option<CultivarId>,
    /// Pollen parent.
    pub pollen_parent_id: Option<CultivarId>,
    /// What it sported from; then it has no parents of its own.
    pub sport_of_id: Option<CultivarId>,
    /// Anything else.
    pub notes: Option<String>,
    /// Who entered it.
    pub entered_by: Option<MemberId>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// Adds a cultivar.
pub fn insert(conn: &mut Conn, cultivar: &Cultivar) -> Result<(), DbError> {
    diesel::insert_into(cultivars::table).values(cultivar.clone()).execute(conn)?;
    Ok(())
}

/// Stores a cultivar that was changed.
pub fn update(conn: &mut Conn, cultivar: &Cultivar) -> Result<(), DbError> {
    diesel::update(cultivars::table.find(cultivar.id)).set(cultivar.clone()).execute(conn)?;
    Ok(())
}

/// Removes a cultivar that nothing uses; see [`uses`].
pub fn delete(conn: &mut Conn, id: CultivarId) -> Result<(), DbError> {
    diesel::delete(cultivars::table.find(id)).execute(conn)?;
    Ok(())
}

/// The cultivar of this id.
pub fn find(conn: &mut Conn, id: CultivarId) -> Result<Option<Cultivar>, DbError> {
    Ok(cultivars::table.find(id).select(Cultivar::as_select()).first(conn).optional()?)
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

/// Cultivars by name.
pub fn page(conn: &mut Conn, filter: &Filter, after: &After, limit: i64) -> Result<Vec<Cultivar>, DbError> {
    let mut query = cultivars::table
        .order((cultivars::name_key, cultivars::id))
        .limit(limit)
        .select(Cultivar::as_select())
        .into_boxed();
    if let Some(part) = &filter.name_part {
        query = query.filter(cultivars::name_key.like(format!("%{part}%")));
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
}

/// What depends on a cultivar.
pub fn uses(conn: &mut Conn, id: CultivarId) -> Result<Uses, DbError> {
    let offspring = cultivars::table
        .filter(
            cultivars::seed_parent_id
                .eq(id)
                .or(cultivars::pollen_parent_id.eq(id))
                .or(cultivars::sport_of_id.eq(id)),
        )
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
    Ok(Uses {
        offspring,
        plants,
        swaps: offers + wants + choices + hand_overs,
        care: permissions + listed,
        crosses: crossed + raised,
    })
}

/// What each of these cultivars sported from.
pub fn sports_among(
    conn: &mut Conn,
    ids: &[CultivarId],
) -> Result<Vec<(CultivarId, Option<CultivarId>)>, DbError> {
    let mut found = Vec::new();
    // A long list is planned badly.
    for part in ids.chunks(500) {
        let known = cultivars::table.filter(cultivars::id.eq_any(part.to_vec()));
        found.extend(known.select((cultivars::id, cultivars::sport_of_id)).load::<(_, _)>(conn)?);
    }
    Ok(found)
}

/// A cultivar in a line of descent.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Lineage {
    /// Identity.
    #[diesel(sql_type = Text)]
    pub id: CultivarId,
    /// As typed.
    #[diesel(sql_type = Text)]
    pub name: String,
    /// Seed parent.
    #[diesel(sql_type = Nullable<Text>)]
    pub seed_parent_id: Option<CultivarId>,
    /// Pollen parent.
    #[diesel(sql_type = Nullable<Text>)]
    pub pollen_parent_id: Option<CultivarId>,
    /// What it sported from.
    #[diesel(sql_type = Nullable<Text>)]
    pub sport_of_id: Option<CultivarId>,
}

/// Two cultivars (or one, given twice) with all their ancestors, oldest record first.
///
/// One round trip and three key look-ups an ancestor; the rest of the register is not read.
pub fn with_ancestors(conn: &mut Conn, one: CultivarId, other: CultivarId) -> Result<Vec<Lineage>, DbError> {
    // `union`, not `union all`, visits an ancestor once however many lines lead to it.
    let lines = diesel::sql_query(
        "with recursive line (id) as ( \
           select id from cultivars where id in ($1, $2) \
           union \
           select parent.id from line join cultivars c on c.id = line.id \
           join cultivars parent \
             on parent.id in (c.seed_parent_id, c.pollen_parent_id, c.sport_of_id) \
         ) \
         select c.id, c.name, c.seed_parent_id, c.pollen_parent_id, c.sport_of_id \
         from line join cultivars c on c.id = line.id order by c.id",
    );
    Ok(lines.bind::<Text, _>(one).bind::<Text, _>(other).load(conn)?)
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

/// Every cultivar's name, by id.
pub fn every_name(conn: &mut Conn) -> Result<Vec<(CultivarId, String)>, DbError> {
    Ok(cultivars::table.order(cultivars::id).select((cultivars::id, cultivars::name)).load(conn)?)
}
