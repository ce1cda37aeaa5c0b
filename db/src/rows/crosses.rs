//! The cross book: crosses with their parents, pollinations, counts and seedlings.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime};
use diesel::dsl::{count_star, exists, max, sum};
use diesel::prelude::*;
use storksbill_domain::crosses::{Counts, due};
use storksbill_domain::ids::{
    CrossCountId, CrossId, CultivarId, IndividualId, MemberId, PlantId, PollinationId, SeedlingId,
};
use storksbill_domain::limits as domain_limits;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{
    BloomStage, CrossCountKind, Gamete, LossCause, ParentSide, SeedlingStatus, SubjectKind, Visibility,
};

use super::notices::{self, Notice};
use super::{IN_LIST, limits, lines, shares};
use crate::schema::{cross_counts, cross_parents, crosses, members, plants, pollinations, seedlings};
use crate::{Conn, DbError};

/// What a raiser crossed.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = crosses, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Cross {
    /// Identity.
    pub id: CrossId,
    /// Whose.
    pub raiser_id: MemberId,
    /// As on the raiser's label; the raiser's crosses have different ones.
    pub number: String,
    /// What the seed parent gave, where it is known.
    pub seed_gamete: Option<Gamete>,
    /// What the pollen parent gave, where it is known.
    pub pollen_gamete: Option<Gamete>,
    /// Who may see it and all that belongs to it.
    pub visibility: Visibility,
    /// Its counts may enter pooled figures.
    pub pooled: bool,
    /// Anything else.
    pub notes: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// One parent of a cross, or one that may be it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = cross_parents, treat_none_as_default_value = false)]
pub struct Parent {
    /// Of which cross.
    pub cross_id: CrossId,
    /// Which parent.
    pub side: ParentSide,
    /// 1 for the first.
    pub place: i32,
    /// A cultivar,
    pub cultivar_id: Option<CultivarId>,
    /// or a numbered seedling,
    pub seedling_id: Option<SeedlingId>,
    /// or a plant.
    pub plant_id: Option<PlantId>,
    /// How likely it is the one, thousandths.
    pub share: i32,
}

/// One day's work with pollen.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = pollinations, treat_none_as_default_value = false)]
pub struct Pollination {
    /// Identity.
    pub id: PollinationId,
    /// Of which cross.
    pub cross_id: CrossId,
    /// The day.
    pub day: NaiveDate,
    /// Florets worked.
    pub florets: i32,
    /// Whether they were stripped of petals.
    pub petals_removed: Option<bool>,
    /// How old the seed parent's blooms were.
    pub seed_bloom: Option<BloomStage>,
    /// How old the blooms were that gave the pollen.
    pub pollen_bloom: Option<BloomStage>,
    /// Who did it.
    pub worked_by: MemberId,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// What was counted on a day.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable)]
#[diesel(table_name = cross_counts, treat_none_as_default_value = false)]
pub struct CrossCount {
    /// Identity.
    pub id: CrossCountId,
    /// Of which cross.
    pub cross_id: CrossId,
    /// The day.
    pub day: NaiveDate,
    /// What.
    pub kind: CrossCountKind,
    /// How many more.
    pub how_many: i32,
    /// Why they were lost.
    pub cause: Option<LossCause>,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// A numbered seedling.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = seedlings, treat_none_as_null = true, treat_none_as_default_value = false)]
pub struct Seedling {
    /// Identity.
    pub id: SeedlingId,
    /// Of which cross.
    pub cross_id: CrossId,
    /// Within the cross.
    pub number: i32,
    /// How far it has come.
    pub status: SeedlingStatus,
    /// The cultivar it was entered as.
    pub cultivar_id: Option<CultivarId>,
    /// Anything else.
    pub notes: Option<String>,
    /// Counts up at each edit.
    pub version: i32,
    /// When it was entered.
    pub created_at: NaiveDateTime,
}

/// Adds a cross; its parents go with [`set_parents`].
pub fn insert(conn: &mut Conn, cross: &Cross) -> Result<(), DbError> {
    let own = crosses::table.filter(crosses::raiser_id.eq(cross.raiser_id));
    limits::hold(domain_limits::CROSSES, own.count().get_result(conn)?, 1)?;
    diesel::insert_into(crosses::table).values(cross.clone()).execute(conn)?;
    Ok(())
}

/// Stores a cross that was changed.
pub fn update(conn: &mut Conn, cross: &Cross, now: NaiveDateTime) -> Result<(), DbError> {
    diesel::update(crosses::table.find(cross.id)).set(cross.clone()).execute(conn)?;
    lines::touch_cross(conn, cross.id)?;
    reckon_notices(conn, cross.id, now)
}

/// Brings what its raiser is told of a cross in line with what is on record of it: every function here that stores a
/// pollination or a count ends so. A notice that is done stays; one is made only for a day to come, so that old books
/// can be entered.
fn reckon_notices(conn: &mut Conn, id: CrossId, now: NaiveDateTime) -> Result<(), DbError> {
    let (raiser, number): (MemberId, String) =
        crosses::table.find(id).select((crosses::raiser_id, crosses::number)).first(conn)?;
    let worked = pollinations::table
        .filter(pollinations::cross_id.eq(id))
        .select((pollinations::day, pollinations::florets))
        .load::<(NaiveDate, i32)>(conn)?;
    let counted = cross_counts::table
        .filter(cross_counts::cross_id.eq(id))
        .select((cross_counts::day, cross_counts::kind, cross_counts::how_many))
        .load::<(NaiveDate, CrossCountKind, i32)>(conn)?;
    let mut due = due(&number, &worked, &counted);
    for mut notice in notices::of_cross(conn, id)? {
        let asked = due.iter().position(|due| due.kind == notice.kind && due.on == notice.due_on);
        match asked.map(|at| due.swap_remove(at)) {
            _ if notice.done_at.is_some() => {}
            None => notices::delete(conn, notice.id)?,
            Some(asked) if asked.words == notice.words => {}
            Some(asked) => {
                notice.words = asked.words;
                notices::update(conn, &notice)?;
            }
        }
    }
    due.retain(|due| due.on >= now.date());
    due.sort_by_key(|due| due.on);
    let subject = Some((SubjectKind::Cross, id.as_str()));
    let fresh = due.into_iter().map(|due| Notice::fresh(raiser, due.kind, due.on, due.words, subject, now));
    notices::insert_all(conn, &fresh.collect::<Vec<_>>())
}

/// Takes a cross away with its parents; see [`in_use`].
pub fn delete(conn: &mut Conn, id: CrossId) -> Result<(), DbError> {
    diesel::delete(cross_parents::table.filter(cross_parents::cross_id.eq(id))).execute(conn)?;
    diesel::delete(crosses::table.find(id)).execute(conn)?;
    Ok(())
}

/// Whether a pollination, a count or a seedling belongs to the cross.
pub fn in_use(conn: &mut Conn, id: CrossId) -> Result<bool, DbError> {
    let worked = diesel::select(exists(pollinations::table.filter(pollinations::cross_id.eq(id))));
    if worked.get_result(conn)? {
        return Ok(true);
    }
    let counted = diesel::select(exists(cross_counts::table.filter(cross_counts::cross_id.eq(id))));
    if counted.get_result(conn)? {
        return Ok(true);
    }
    Ok(diesel::select(exists(seedlings::table.filter(seedlings::cross_id.eq(id)))).get_result(conn)?)
}

/// The cross of this id with its raiser's name, whoever asks.
pub fn find(conn: &mut Conn, id: CrossId) -> Result<Option<(Cross, String)>, DbError> {
    let found = crosses::table
        .inner_join(members::table.on(members::id.eq(crosses::raiser_id)))
        .filter(crosses::id.eq(id))
        .select((Cross::as_select(), members::shown_name));
    Ok(found.first(conn).optional()?)
}

/// Which crosses are listed; what is not given does not matter.
#[derive(Debug, Clone, Copy, Default)]
pub struct Filter {
    /// Of one raiser.
    pub raiser: Option<MemberId>,
    /// That name this cultivar itself as a parent.
    pub cultivar: Option<CultivarId>,
}

/// Crosses that the actor may see, newest first, with their raisers' names.
pub fn visible_to(
    conn: &mut Conn,
    actor: &Actor,
    filter: Filter,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<(Cross, String)>, DbError> {
    let mut query = crosses::table
        .inner_join(members::table.on(members::id.eq(crosses::raiser_id)))
        .filter(shares::seen_by!(crosses::raiser_id, crosses::visibility, actor))
        .order(crosses::id.desc())
        .limit(limit)
        .select((Cross::as_select(), members::shown_name))
        .into_boxed();
    if let Some(raiser) = filter.raiser {
        query = query.filter(crosses::raiser_id.eq(raiser));
    }
    if let Some(cultivar) = filter.cultivar {
        let named = cross_parents::table
            .filter(cross_parents::cross_id.eq(crosses::id))
            .filter(cross_parents::cultivar_id.eq(cultivar));
        query = query.filter(exists(named));
    }
    if let Some(id) = after {
        query = query.filter(crosses::id.lt(id.to_owned()));
    }
    Ok(query.load(conn)?)
}

/// Every number of a raiser's crosses.
pub fn numbers_of(conn: &mut Conn, raiser: MemberId) -> Result<Vec<String>, DbError> {
    Ok(crosses::table.filter(crosses::raiser_id.eq(raiser)).select(crosses::number).load(conn)?)
}

/// The parents of these crosses: by cross, side and place.
pub fn parents_of(conn: &mut Conn, ids: &[CrossId]) -> Result<Vec<Parent>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let parents = cross_parents::table.filter(cross_parents::cross_id.eq_any(part.to_vec())).order((
            cross_parents::cross_id,
            cross_parents::side,
            cross_parents::place,
        ));
        found.extend(parents.select(Parent::as_select()).load::<Parent>(conn)?);
    }
    Ok(found)
}

/// Puts these parents in the place of those of the cross.
///
/// # Errors
/// [`DbError::Loop`] where what was raised from it would be its own ancestor.
pub fn set_parents(conn: &mut Conn, cross: CrossId, parents: &[Parent]) -> Result<(), DbError> {
    let raised = raised_from(conn, cross)?;
    lines::changing(conn, &raised, |conn| {
        diesel::delete(cross_parents::table.filter(cross_parents::cross_id.eq(cross))).execute(conn)?;
        for parent in parents {
            diesel::insert_into(cross_parents::table).values(*parent).execute(conn)?;
        }
        Ok(())
    })
}

/// What these plants are.
pub fn cultivars_of_plants(
    conn: &mut Conn,
    ids: &[PlantId],
) -> Result<BTreeMap<PlantId, CultivarId>, DbError> {
    let mut found = BTreeMap::new();
    for part in ids.chunks(IN_LIST) {
        let kinds = plants::table.filter(plants::id.eq_any(part.to_vec()));
        found.extend(kinds.select((plants::id, plants::cultivar_id)).load::<(PlantId, CultivarId)>(conn)?);
    }
    Ok(found)
}

/// These seedlings with their crosses.
pub fn seedlings_of_ids(conn: &mut Conn, ids: &[SeedlingId]) -> Result<Vec<(Seedling, Cross)>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let known = seedlings::table
            .inner_join(crosses::table.on(crosses::id.eq(seedlings::cross_id)))
            .filter(seedlings::id.eq_any(part.to_vec()))
            .select((Seedling::as_select(), Cross::as_select()));
        found.extend(known.load::<(Seedling, Cross)>(conn)?);
    }
    Ok(found)
}

/// The seedlings of every cross that the actor may see, by id.
pub fn seedlings_visible_to(conn: &mut Conn, actor: &Actor) -> Result<Vec<Seedling>, DbError> {
    let seen = seedlings::table
        .inner_join(crosses::table.on(crosses::id.eq(seedlings::cross_id)))
        .filter(shares::seen_by!(crosses::raiser_id, crosses::visibility, actor));
    Ok(seen.order(seedlings::id).select(Seedling::as_select()).load(conn)?)
}

/// What was counted on each of these crosses.
pub fn counts_of(conn: &mut Conn, ids: &[CrossId]) -> Result<BTreeMap<CrossId, Counts>, DbError> {
    let mut found: BTreeMap<CrossId, Counts> = BTreeMap::new();
    for part in ids.chunks(IN_LIST) {
        let florets = pollinations::table
            .filter(pollinations::cross_id.eq_any(part.to_vec()))
            .group_by(pollinations::cross_id)
            .select((pollinations::cross_id, sum(pollinations::florets)))
            .load::<(CrossId, Option<i64>)>(conn)?;
        for (id, florets) in florets {
            found.entry(id).or_default().florets = florets;
        }
        let counted = cross_counts::table
            .filter(cross_counts::cross_id.eq_any(part.to_vec()))
            .group_by((cross_counts::cross_id, cross_counts::kind))
            .select((cross_counts::cross_id, cross_counts::kind, sum(cross_counts::how_many)))
            .load::<(CrossId, CrossCountKind, Option<i64>)>(conn)?;
        for (id, kind, how_many) in counted {
            found.entry(id).or_default().add(kind, how_many.unwrap_or(0));
        }
        let numbered = seedlings::table
            .filter(seedlings::cross_id.eq_any(part.to_vec()))
            .group_by(seedlings::cross_id)
            .select((seedlings::cross_id, count_star()))
            .load::<(CrossId, i64)>(conn)?;
        for (id, numbered) in numbered {
            found.entry(id).or_default().numbered = Some(numbered);
        }
    }
    Ok(found)
}

/// Adds a pollination.
pub fn insert_pollination(conn: &mut Conn, row: &Pollination) -> Result<(), DbError> {
    let kept =
        pollinations::table.filter(pollinations::cross_id.eq(row.cross_id)).count().get_result(conn)?;
    limits::hold(domain_limits::POLLINATIONS, kept, 1)?;
    diesel::insert_into(pollinations::table).values(row.clone()).execute(conn)?;
    reckon_notices(conn, row.cross_id, row.created_at)
}

/// The pollination of this id, where it is of this cross.
pub fn pollination(
    conn: &mut Conn,
    cross: CrossId,
    id: PollinationId,
) -> Result<Option<Pollination>, DbError> {
    let found = pollinations::table.find(id).filter(pollinations::cross_id.eq(cross));
    Ok(found.select(Pollination::as_select()).first(conn).optional()?)
}

/// Takes a pollination away.
pub fn delete_pollination(conn: &mut Conn, row: &Pollination, now: NaiveDateTime) -> Result<(), DbError> {
    diesel::delete(pollinations::table.find(row.id)).execute(conn)?;
    reckon_notices(conn, row.cross_id, now)
}

/// A cross's pollinations in the order of their entering.
pub fn pollinations_of(
    conn: &mut Conn,
    cross: CrossId,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<Pollination>, DbError> {
    let mut query = pollinations::table
        .filter(pollinations::cross_id.eq(cross))
        .order(pollinations::id)
        .limit(limit)
        .select(Pollination::as_select())
        .into_boxed();
    if let Some(id) = after {
        query = query.filter(pollinations::id.gt(id.to_owned()));
    }
    Ok(query.load(conn)?)
}

/// The pollinations of these crosses, of each in the order of their entering.
pub fn pollinations_among(conn: &mut Conn, ids: &[CrossId]) -> Result<Vec<Pollination>, DbError> {
    let mut found = Vec::new();
    for part in ids.chunks(IN_LIST) {
        let worked = pollinations::table.filter(pollinations::cross_id.eq_any(part.to_vec()));
        let worked = worked.order((pollinations::cross_id, pollinations::id));
        found.extend(worked.select(Pollination::as_select()).load::<Pollination>(conn)?);
    }
    Ok(found)
}

/// Adds a count.
pub fn insert_count(conn: &mut Conn, row: &CrossCount) -> Result<(), DbError> {
    let kept =
        cross_counts::table.filter(cross_counts::cross_id.eq(row.cross_id)).count().get_result(conn)?;
    limits::hold(domain_limits::COUNTS, kept, 1)?;
    diesel::insert_into(cross_counts::table).values(row.clone()).execute(conn)?;
    reckon_notices(conn, row.cross_id, row.created_at)
}

/// The count of this id, where it is of this cross.
pub fn count(conn: &mut Conn, cross: CrossId, id: CrossCountId) -> Result<Option<CrossCount>, DbError> {
    let found = cross_counts::table.find(id).filter(cross_counts::cross_id.eq(cross));
    Ok(found.select(CrossCount::as_select()).first(conn).optional()?)
}

/// Takes a count away.
pub fn delete_count(conn: &mut Conn, row: &CrossCount, now: NaiveDateTime) -> Result<(), DbError> {
    diesel::delete(cross_counts::table.find(row.id)).execute(conn)?;
    reckon_notices(conn, row.cross_id, now)
}

/// A cross's counts in the order of their entering.
pub fn counts_by_day(
    conn: &mut Conn,
    cross: CrossId,
    after: Option<&str>,
    limit: i64,
) -> Result<Vec<CrossCount>, DbError> {
    let mut query = cross_counts::table
        .filter(cross_counts::cross_id.eq(cross))
        .order(cross_counts::id)
        .limit(limit)
        .select(CrossCount::as_select())
        .into_boxed();
    if let Some(id) = after {
        query = query.filter(cross_counts::id.gt(id.to_owned()));
    }
    Ok(query.load(conn)?)
}

/// Adds a seedling.
pub fn insert_seedling(conn: &mut Conn, row: &Seedling) -> Result<(), DbError> {
    let kept = seedlings::table.filter(seedlings::cross_id.eq(row.cross_id)).count().get_result(conn)?;
    limits::hold(domain_limits::SEEDLINGS, kept, 1)?;
    diesel::insert_into(seedlings::table).values(row.clone()).execute(conn)?;
    lines::touch(conn, &[row.id.into()])
}

/// Stores a seedling that was changed.
///
/// # Errors
/// [`DbError::Loop`] where it would be named as what it descends from.
pub fn update_seedling(conn: &mut Conn, row: &Seedling) -> Result<(), DbError> {
    let before = seedlings::table.find(row.id).select(seedlings::cultivar_id);
    let before: Option<CultivarId> = before.first(conn)?;
    let store = |conn: &mut Conn| -> Result<(), DbError> {
        diesel::update(seedlings::table.find(row.id)).set(row.clone()).execute(conn)?;
        Ok(())
    };
    if row.cultivar_id == before {
        return store(conn);
    }
    let named = row.cultivar_id.into_iter().chain(before).map(Into::into);
    let changed: Vec<_> = named.chain([row.id.into()]).collect();
    lines::changing(conn, &changed, store)
}

/// The highest number of a seedling of the cross.
pub fn last_number(conn: &mut Conn, cross: CrossId) -> Result<Option<i32>, DbError> {
    let numbers = seedlings::table.filter(seedlings::cross_id.eq(cross)).select(max(seedlings::number));
    Ok(numbers.first(conn)?)
}

/// A cross's seedlings by number, from the place after `after` on.
pub fn seedlings_of(
    conn: &mut Conn,
    cross: CrossId,
    after: Option<i32>,
    limit: i64,
) -> Result<Vec<Seedling>, DbError> {
    let found = seedlings::table
        .filter(seedlings::cross_id.eq(cross))
        .filter(seedlings::number.gt(after.unwrap_or(0)))
        .order(seedlings::number)
        .limit(limit);
    Ok(found.select(Seedling::as_select()).load(conn)?)
}

/// What was raised from a cross: its seedlings, or the cultivars that they were named as.
pub fn raised_from(conn: &mut Conn, cross: CrossId) -> Result<Vec<IndividualId>, DbError> {
    let raised = seedlings::table.filter(seedlings::cross_id.eq(cross));
    let raised: Vec<(SeedlingId, Option<CultivarId>)> =
        raised.order(seedlings::number).select((seedlings::id, seedlings::cultivar_id)).load(conn)?;
    Ok(raised.into_iter().map(|(id, named)| named.map_or_else(|| id.into(), IndividualId::from)).collect())
}

/// A cross whose counts are pooled: of two known cultivars.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pooled {
    /// Identity.
    pub id: CrossId,
    /// Whose.
    pub raiser_id: MemberId,
    /// The cultivar that bore the seed, or of which the plant is that did.
    pub seed: CultivarId,
    /// The same of the pollen.
    pub pollen: CultivarId,
}

/// Crosses that others may see, and private ones whose raisers let them be pooled; with one pollen parent, and
/// both parents cultivars, plants of them, or seedlings named as them. In the order of their ids.
pub fn pooled(conn: &mut Conn) -> Result<Vec<Pooled>, DbError> {
    let shared = crosses::table
        .filter(crosses::visibility.ne(Visibility::Private).or(crosses::pooled.eq(true)))
        .order(crosses::id)
        .select((crosses::id, crosses::raiser_id))
        .load::<(CrossId, MemberId)>(conn)?;
    let ids: Vec<CrossId> = shared.iter().map(|(id, _)| *id).collect();
    let parents = parents_of(conn, &ids)?;
    let of_plants: Vec<PlantId> = parents.iter().filter_map(|parent| parent.plant_id).collect();
    let plants = cultivars_of_plants(conn, &of_plants)?;
    let of_seedlings: Vec<SeedlingId> = parents.iter().filter_map(|parent| parent.seedling_id).collect();
    let named: BTreeMap<SeedlingId, CultivarId> = seedlings_of_ids(conn, &of_seedlings)?
        .into_iter()
        .filter_map(|(seedling, _)| Some((seedling.id, seedling.cultivar_id?)))
        .collect();
    let kind = |parent: &Parent| {
        let plant = parent.plant_id.and_then(|id| plants.get(&id).copied());
        let seedling = parent.seedling_id.and_then(|id| named.get(&id).copied());
        parent.cultivar_id.or(plant).or(seedling)
    };
    // A pollen parent that is one of several has a share below the whole.
    let mut known: BTreeMap<(CrossId, ParentSide), CultivarId> = BTreeMap::new();
    for parent in parents.iter().filter(|parent| parent.share == 1_000) {
        known.extend(kind(parent).map(|cultivar| ((parent.cross_id, parent.side), cultivar)));
    }
    let of = |id: CrossId, side: ParentSide| known.get(&(id, side)).copied();
    Ok(shared
        .into_iter()
        .filter_map(|(id, raiser_id)| {
            let (seed, pollen) = (of(id, ParentSide::Seed)?, of(id, ParentSide::Pollen)?);
            Some(Pooled { id, raiser_id, seed, pollen })
        })
        .collect())
}
