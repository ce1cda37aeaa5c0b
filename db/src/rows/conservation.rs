//! Which cultivars few members hold, and those the society does not want to lose.
//!
//! A holder is an active member with plants of the cultivar that the society or a club may see. Private plants
//! are not counted, so that no count tells of them.

use chrono::NaiveDateTime;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Integer, Nullable, Text, Timestamp};
use storksbill_domain::ids::{CultivarId, MemberId};
use storksbill_domain::words::PlantGroup;

use super::After;
use crate::schema::conservation_list;
use crate::{Conn, DbError};

/// A cultivar with so many holders or fewer is rare.
pub const RARE_HOLDERS: i32 = 2;

/// A cultivar of the conservation list.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = conservation_list, primary_key(cultivar_id), treat_none_as_null = true)]
pub struct Listed {
    /// Which.
    pub cultivar_id: CultivarId,
    /// Why the society does not want to lose it.
    pub reason: String,
    /// Holders at which it is no longer in danger.
    pub wanted_holders: i32,
    /// The officer.
    pub listed_by: MemberId,
    /// When it was first listed.
    pub listed_at: NaiveDateTime,
    /// Counts up at each edit.
    pub version: i32,
}

/// Lists a cultivar.
pub fn insert(conn: &mut Conn, listed: &Listed) -> Result<(), DbError> {
    diesel::insert_into(conservation_list::table).values(listed.clone()).execute(conn)?;
    Ok(())
}

/// Stores what was changed of a listed cultivar.
pub fn update(conn: &mut Conn, listed: &Listed) -> Result<(), DbError> {
    diesel::update(conservation_list::table.find(listed.cultivar_id)).set(listed.clone()).execute(conn)?;
    Ok(())
}

/// Takes a cultivar off the list.
pub fn delete(conn: &mut Conn, cultivar: CultivarId) -> Result<(), DbError> {
    diesel::delete(conservation_list::table.find(cultivar)).execute(conn)?;
    Ok(())
}

/// The entry of a cultivar.
pub fn find(conn: &mut Conn, cultivar: CultivarId) -> Result<Option<Listed>, DbError> {
    Ok(conservation_list::table.find(cultivar).select(Listed::as_select()).first(conn).optional()?)
}

/// An entry of the list with names and counts.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Counted {
    /// Which.
    #[diesel(sql_type = Text)]
    pub cultivar_id: CultivarId,
    /// Its name.
    #[diesel(sql_type = Text)]
    pub cultivar_name: String,
    /// Its name as sorted.
    #[diesel(sql_type = Text)]
    pub cultivar_key: String,
    /// Its group.
    #[diesel(sql_type = Text)]
    pub plant_group: PlantGroup,
    /// Why it is listed.
    #[diesel(sql_type = Text)]
    pub reason: String,
    /// Holders at which it is no longer in danger.
    #[diesel(sql_type = Integer)]
    pub wanted_holders: i32,
    /// Holders now.
    #[diesel(sql_type = BigInt)]
    pub holders: i64,
    /// When it was first listed.
    #[diesel(sql_type = Timestamp)]
    pub listed_at: NaiveDateTime,
    /// Counts up at each edit.
    #[diesel(sql_type = Integer)]
    pub version: i32,
}

/// The list by name: all of it from a place on, or one cultivar's entry.
pub fn page(
    conn: &mut Conn,
    only: Option<CultivarId>,
    after: &After,
    limit: i64,
) -> Result<Vec<Counted>, DbError> {
    let (key, id) = after.clone().unwrap_or_default();
    let rows = diesel::sql_query(
        "select c.id as cultivar_id, c.name as cultivar_name, c.name_key as cultivar_key, c.plant_group, \
             l.reason, l.wanted_holders, l.listed_at, l.version, \
             (select count(distinct p.owner_id) from plants p \
                join members m on m.id = p.owner_id and m.standing = 'active' \
                where p.cultivar_id = c.id and p.how_many > 0 and p.visibility <> 'private') as holders \
           from conservation_list l join cultivars c on c.id = l.cultivar_id \
           where (c.name_key, c.id) > ($1, $2) and ($3 = '' or c.id = $3) \
           order by c.name_key, c.id limit $4",
    )
    .bind::<Text, _>(key)
    .bind::<Text, _>(id)
    .bind::<Text, _>(only.map(|id| id.to_string()).unwrap_or_default())
    .bind::<BigInt, _>(limit);
    Ok(rows.load(conn)?)
}

/// A rare cultivar.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Rare {
    /// Which.
    #[diesel(sql_type = Text)]
    pub cultivar_id: CultivarId,
    /// Its name.
    #[diesel(sql_type = Text)]
    pub cultivar_name: String,
    /// Its name as sorted.
    #[diesel(sql_type = Text)]
    pub cultivar_key: String,
    /// Its group.
    #[diesel(sql_type = Text)]
    pub plant_group: PlantGroup,
    /// Members who hold it.
    #[diesel(sql_type = BigInt)]
    pub holders: i64,
    /// Plants they hold.
    #[diesel(sql_type = BigInt)]
    pub plants: i64,
    /// Whether the asker holds it, privately or not.
    #[diesel(sql_type = Bool)]
    pub held_by_asker: bool,
    /// Whether the conservation list has it.
    #[diesel(sql_type = Bool)]
    pub listed: bool,
}

/// Named cultivars of [`RARE_HOLDERS`] holders or fewer, by name; where `mine`, those that the asker holds.
pub fn rare(
    conn: &mut Conn,
    asker: MemberId,
    mine: bool,
    after: &After,
    limit: i64,
) -> Result<Vec<Rare>, DbError> {
    let (key, id) = after.clone().unwrap_or_default();
    let rows = diesel::sql_query(
        "select r.* from ( \
           select c.id as cultivar_id, c.name as cultivar_name, c.name_key as cultivar_key, c.plant_group, \
               h.holders, h.plants, l.cultivar_id is not null as listed, \
               exists (select 1 from plants own where own.owner_id = $1 and own.cultivar_id = c.id \
                 and own.how_many > 0) as held_by_asker \
             from ( \
               select p.cultivar_id, count(distinct p.owner_id) as holders, sum(p.how_many) as plants \
                 from plants p where p.how_many > 0 and p.visibility <> 'private' \
                   and p.owner_id not in (select id from members where standing <> 'active') \
                 group by p.cultivar_id having count(distinct p.owner_id) <= $2 \
             ) h join cultivars c on c.id = h.cultivar_id and c.status = 'named' \
             left join conservation_list l on l.cultivar_id = c.id \
         ) r where (r.cultivar_key, r.cultivar_id) > ($3, $4) and (r.held_by_asker or not $5) \
         order by r.cultivar_key, r.cultivar_id limit $6",
    )
    .bind::<Text, _>(asker)
    .bind::<Integer, _>(RARE_HOLDERS)
    .bind::<Text, _>(key)
    .bind::<Text, _>(id)
    .bind::<Bool, _>(mine)
    .bind::<BigInt, _>(limit);
    Ok(rows.load(conn)?)
}

/// A member who holds a cultivar that is in danger.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Keeper {
    /// The member.
    #[diesel(sql_type = Text)]
    pub member_id: MemberId,
    /// The cultivar.
    #[diesel(sql_type = Text)]
    pub cultivar_id: CultivarId,
    /// Its name.
    #[diesel(sql_type = Text)]
    pub cultivar_name: String,
    /// Members who hold it.
    #[diesel(sql_type = BigInt)]
    pub holders: i64,
    /// Why the conservation list has it, where it does.
    #[diesel(sql_type = Nullable<Text>)]
    pub reason: Option<String>,
}

/// Every holder of a cultivar that is rare, or listed with fewer holders than are wanted; by member.
pub fn keepers(conn: &mut Conn) -> Result<Vec<Keeper>, DbError> {
    let rows = diesel::sql_query(
        "with held (owner_id, cultivar_id) as ( \
           select distinct p.owner_id, p.cultivar_id from plants p \
             where p.how_many > 0 and p.visibility <> 'private' \
               and p.owner_id not in (select id from members where standing <> 'active') \
         ), counted (cultivar_id, holders) as ( \
           select cultivar_id, count(*) from held group by cultivar_id \
         ) \
         select held.owner_id as member_id, c.id as cultivar_id, c.name as cultivar_name, k.holders, l.reason \
           from counted k join cultivars c on c.id = k.cultivar_id \
             left join conservation_list l on l.cultivar_id = c.id \
             join held on held.cultivar_id = c.id \
           where k.holders < l.wanted_holders or (c.status = 'named' and k.holders <= $1) \
           order by held.owner_id, c.name_key, c.id",
    );
    Ok(rows.bind::<Integer, _>(RARE_HOLDERS).load(conn)?)
}
