//! Health holds, and where the cuttings of a plant went.

use std::collections::BTreeSet;

use chrono::{NaiveDate, NaiveDateTime};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Date, Integer, Nullable, Text, Timestamp};
use storksbill_domain::ids::{CultivarId, HandOverId, HoldId, MemberId, PlantId};

use crate::schema::{cultivars, health_holds, members, plants};
use crate::{Conn, DbError};

/// A hold keeps a plant, or every plant of a member, out of the exchange until it is lifted.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = health_holds, treat_none_as_null = true)]
pub struct Hold {
    /// Identity.
    pub id: HoldId,
    /// Whose plants.
    pub member_id: MemberId,
    /// Which of them; none for all.
    pub plant_id: Option<PlantId>,
    /// Why.
    pub reason: String,
    /// Who placed it: the grower or an officer.
    pub placed_by: MemberId,
    /// When.
    pub placed_at: NaiveDateTime,
    /// Who lifted it.
    pub lifted_by: Option<MemberId>,
    /// When.
    pub lifted_at: Option<NaiveDateTime>,
    /// What was said when it was lifted.
    pub lift_note: Option<String>,
}

/// Places a hold.
pub fn insert(conn: &mut Conn, hold: &Hold) -> Result<(), DbError> {
    diesel::insert_into(health_holds::table).values(hold.clone()).execute(conn)?;
    Ok(())
}

/// Stores a hold that was lifted.
pub fn update(conn: &mut Conn, hold: &Hold) -> Result<(), DbError> {
    diesel::update(health_holds::table.find(hold.id)).set(hold.clone()).execute(conn)?;
    Ok(())
}

/// A hold with the names that go with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedHold {
    /// The hold.
    pub hold: Hold,
    /// Whose plants.
    pub member_name: String,
    /// The plant's label, where one is held.
    pub plant_label: Option<String>,
    /// The plant's cultivar.
    pub cultivar_name: Option<String>,
}

macro_rules! named {
    () => {
        health_holds::table
            .inner_join(members::table.on(members::id.eq(health_holds::member_id)))
            .left_join(plants::table.inner_join(cultivars::table))
            .select((
                Hold::as_select(),
                members::shown_name,
                plants::label.nullable(),
                cultivars::name.nullable(),
            ))
    };
}

type NamedRow = (Hold, String, Option<String>, Option<String>);

fn named_of((hold, member_name, plant_label, cultivar_name): NamedRow) -> NamedHold {
    NamedHold { hold, member_name, plant_label, cultivar_name }
}

/// The hold of this id.
pub fn find(conn: &mut Conn, id: HoldId) -> Result<Option<NamedHold>, DbError> {
    Ok(named!().filter(health_holds::id.eq(id)).first::<NamedRow>(conn).optional()?.map(named_of))
}

/// Which holds are looked for; what is not given does not matter.
#[derive(Debug, Clone, Copy, Default)]
pub struct Filter {
    /// On plants of this member.
    pub member: Option<MemberId>,
    /// Lifted, or in force.
    pub lifted: Option<bool>,
}

/// Holds, newest first.
pub fn page(
    conn: &mut Conn,
    filter: Filter,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<NamedHold>, DbError> {
    let mut query = named!().order(health_holds::id.desc()).limit(limit).into_boxed();
    if let Some(member) = filter.member {
        query = query.filter(health_holds::member_id.eq(member));
    }
    match filter.lifted {
        Some(true) => query = query.filter(health_holds::lifted_at.is_not_null()),
        Some(false) => query = query.filter(health_holds::lifted_at.is_null()),
        None => {}
    }
    if let Some(id) = after {
        query = query.filter(health_holds::id.lt(id.to_owned()));
    }
    Ok(query.load::<NamedRow>(conn)?.into_iter().map(named_of).collect())
}

/// The hold in force on just this plant.
pub fn in_force_on(conn: &mut Conn, plant: PlantId) -> Result<Option<Hold>, DbError> {
    let open = health_holds::table
        .filter(health_holds::plant_id.eq(plant))
        .filter(health_holds::lifted_at.is_null())
        .order(health_holds::id)
        .select(Hold::as_select());
    Ok(open.first(conn).optional()?)
}

/// What is held now.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Held {
    /// Plants held one by one.
    pub plants: BTreeSet<PlantId>,
    /// Members whose every plant is held.
    pub members: BTreeSet<MemberId>,
}

impl Held {
    /// Whether what this member offers, from this plant where it is said, is held.
    pub fn holds(&self, member: MemberId, plant: Option<PlantId>) -> bool {
        self.members.contains(&member) || plant.is_some_and(|plant| self.plants.contains(&plant))
    }
}

/// Every plant and member held now.
pub fn held(conn: &mut Conn) -> Result<Held, DbError> {
    let open = health_holds::table
        .filter(health_holds::lifted_at.is_null())
        .select((health_holds::member_id, health_holds::plant_id))
        .load::<(MemberId, Option<PlantId>)>(conn)?;
    let mut held = Held::default();
    for (member, plant) in open {
        match plant {
            Some(plant) => drop(held.plants.insert(plant)),
            None => drop(held.members.insert(member)),
        }
    }
    Ok(held)
}

/// A plant that descends from the one asked for, or a cutting of it that was promised to somebody.
#[derive(Debug, Clone, PartialEq, Eq, QueryableByName)]
pub struct Traced {
    /// The plant; none for a cutting of an accepted ring, which has no record of its own.
    #[diesel(sql_type = Nullable<Text>)]
    pub plant_id: Option<PlantId>,
    /// The plant it was taken from; none where the line starts.
    #[diesel(sql_type = Nullable<Text>)]
    pub from_plant_id: Option<PlantId>,
    /// The hand-over, for a cutting.
    #[diesel(sql_type = Nullable<Text>)]
    pub hand_over_id: Option<HandOverId>,
    /// Who grows the plant, or received the cutting.
    #[diesel(sql_type = Text)]
    pub member_id: MemberId,
    /// The same by name.
    #[diesel(sql_type = Text)]
    pub member_name: String,
    /// How the member stands with the society.
    #[diesel(sql_type = Text)]
    pub standing: storksbill_domain::words::Standing,
    /// What it is.
    #[diesel(sql_type = Text)]
    pub cultivar_id: CultivarId,
    /// The same by name.
    #[diesel(sql_type = Text)]
    pub cultivar_name: String,
    /// The plant's label.
    #[diesel(sql_type = Nullable<Text>)]
    pub label: Option<String>,
    /// The day the plant was got.
    #[diesel(sql_type = Nullable<Date>)]
    pub got_on: Option<NaiveDate>,
    /// When the ring of the cutting was accepted by all.
    #[diesel(sql_type = Nullable<Timestamp>)]
    pub accepted_at: Option<NaiveDateTime>,
    /// Steps from the plant where the line starts, which has 0.
    #[diesel(sql_type = Integer)]
    pub depth: i32,
}

/// Everything that descends from `root`, itself first: the plants taken from it, from those, and so on, and
/// the cuttings of any of them that were promised in accepted rings and not entered as plants. By depth, then
/// id; at most `limit` rows.
///
/// A plant names one source, so the only way round a ring of sources is through `root`: the walk stops there.
pub fn descent(conn: &mut Conn, root: PlantId, limit: i64) -> Result<Vec<Traced>, DbError> {
    let lines = diesel::sql_query(
        "with recursive line (id, depth) as ( \
           select id, 0 from plants where id = $1 \
           union all \
           select child.id, line.depth + 1 from line join plants child on child.source_plant_id = line.id \
             where child.id <> $1 \
         ) \
         select p.id as plant_id, case when line.depth > 0 then p.source_plant_id end as from_plant_id, \
             cast(null as text) as hand_over_id, p.owner_id as member_id, m.shown_name as member_name, m.standing, \
             p.cultivar_id, c.name as cultivar_name, p.label, p.got_on, cast(null as timestamp) as accepted_at, \
             line.depth, p.id as sort_id \
           from line join plants p on p.id = line.id join members m on m.id = p.owner_id \
             join cultivars c on c.id = p.cultivar_id \
         union all \
         select cast(null as text), o.plant_id, h.id, h.receiver_id, m.shown_name, m.standing, \
             h.cultivar_id, c.name, cast(null as text), cast(null as date), \
             (select max(a.answered_at) from swap_parties a where a.ring_id = h.ring_id), \
             line.depth + 1, h.id \
           from line join swap_offers o on o.plant_id = line.id \
             join swap_hand_overs h on h.offer_id = o.id and h.received_plant_id is null \
             join swap_rings r on r.id = h.ring_id and r.state in ('accepted', 'handed_over') \
             join members m on m.id = h.receiver_id join cultivars c on c.id = h.cultivar_id \
         order by depth, sort_id limit $2",
    );
    Ok(lines.bind::<Text, _>(root).bind::<BigInt, _>(limit).load(conn)?)
}

#[derive(QueryableByName)]
struct Source {
    #[diesel(sql_type = Text)]
    id: PlantId,
    #[diesel(sql_type = Nullable<Text>)]
    source_plant_id: Option<PlantId>,
}

/// A plant with all that it was taken from, each with its own source: in no order, each once, however they
/// name each other.
pub fn sources(conn: &mut Conn, plant: PlantId) -> Result<Vec<(PlantId, Option<PlantId>)>, DbError> {
    let rows: Vec<Source> = diesel::sql_query(
        "with recursive line (id, source_plant_id) as ( \
           select id, source_plant_id from plants where id = $1 \
           union \
           select p.id, p.source_plant_id from line join plants p on p.id = line.source_plant_id \
         ) select id, source_plant_id from line",
    )
    .bind::<Text, _>(plant)
    .load(conn)?;
    Ok(rows.into_iter().map(|row| (row.id, row.source_plant_id)).collect())
}
