//! The cutting swap: offers and wants.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, NaiveDateTime};
use diesel::dsl::exists;
use diesel::prelude::*;
use storksbill_domain::ids::{CultivarId, MemberId, OfferId, PlantId, WantId};
use storksbill_domain::limits as domain_limits;
use storksbill_domain::words::{Listing, PlantGroup, Standing, Visibility, WantForm};

use super::{After, IN_LIST, limits};
use crate::schema::{
    cultivars, members, plants, propagation_permissions, swap_offers, swap_want_choices, swap_wants,
};
use crate::{Conn, DbError};

/// Cuttings of one cultivar that a member offers.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = swap_offers, treat_none_as_null = true)]
pub struct Offer {
    /// Identity.
    pub id: OfferId,
    /// Who offers.
    pub member_id: MemberId,
    /// What.
    pub cultivar_id: CultivarId,
    /// From which of the member's plants, where said.
    pub plant_id: Option<PlantId>,
    /// Cuttings offered in all.
    pub how_many: i32,
    /// Of these, cuttings in proposed or accepted rings.
    pub promised: i32,
    /// The member's words.
    pub note: Option<String>,
    /// Whether it stands.
    pub listing: Listing,
    /// Counts up at each edit and each promise.
    pub version: i32,
    /// When it was made.
    pub created_at: NaiveDateTime,
    /// The day its grower last declared it healthy.
    pub health_declared_on: Option<NaiveDate>,
    /// Given freely: it starts chains, and its giver receives nothing for it.
    pub gift: bool,
}

impl Offer {
    /// Cuttings not promised to anybody.
    pub fn free(&self) -> i32 {
        self.how_many - self.promised
    }
}

/// One cutting that a member wants: of one cultivar, of any of several, or of any of a group.
#[derive(Debug, Clone, PartialEq, Eq, Queryable, Selectable, Insertable, AsChangeset)]
#[diesel(table_name = swap_wants, treat_none_as_null = true)]
pub struct Want {
    /// Identity.
    pub id: WantId,
    /// Who wants it.
    pub member_id: MemberId,
    /// 1 for the dearest wish.
    pub want_rank: i32,
    /// Whether it stands in a proposed or accepted ring.
    pub promised: bool,
    /// The member's words.
    pub note: Option<String>,
    /// Whether it stands.
    pub listing: Listing,
    /// Counts up at each edit and each promise.
    pub version: i32,
    /// When it was made.
    pub created_at: NaiveDateTime,
    /// What, where the form is [`WantForm::Cultivar`].
    pub cultivar_id: Option<CultivarId>,
    /// Any of which group, where the form is [`WantForm::Group`].
    pub plant_group: Option<PlantGroup>,
    /// How it says what would meet it.
    pub form: WantForm,
}

/// Rows whose cultivar may change hands on `today`: no breeders' rights, or leave of their holder in force.
macro_rules! may_change_hands {
    ($today:expr) => {
        cultivars::protected.eq(false).or(exists(
            propagation_permissions::table
                .filter(propagation_permissions::cultivar_id.eq(cultivars::id))
                .filter(
                    propagation_permissions::until_on
                        .is_null()
                        .or(propagation_permissions::until_on.ge($today)),
                ),
        ))
    };
}

/// The name of the cultivar of this id, and whether it may change hands on `today`.
pub fn cultivar(
    conn: &mut Conn,
    id: CultivarId,
    today: NaiveDate,
) -> Result<Option<(String, bool)>, DbError> {
    // What is not released to the society is not there for the swap.
    let known = cultivars::table
        .filter(cultivars::id.eq(id))
        .filter(cultivars::visibility.eq(Visibility::Society))
        .filter(cultivars::merged_into_id.is_null())
        .select((cultivars::name, may_change_hands!(today)));
    Ok(known.first(conn).optional()?)
}

/// The cultivar of a member's own plant.
pub fn own_plant_cultivar(
    conn: &mut Conn,
    owner: MemberId,
    plant: PlantId,
) -> Result<Option<CultivarId>, DbError> {
    let own = plants::table.find(plant).filter(plants::owner_id.eq(owner)).select(plants::cultivar_id);
    Ok(own.first(conn).optional()?)
}

/// Adds an offer.
pub fn insert_offer(conn: &mut Conn, offer: &Offer) -> Result<(), DbError> {
    let open = swap_offers::table
        .filter(swap_offers::member_id.eq(offer.member_id))
        .filter(swap_offers::listing.eq(Listing::Open));
    limits::hold(domain_limits::OFFERS, open.count().get_result(conn)?, 1)?;
    diesel::insert_into(swap_offers::table).values(offer.clone()).execute(conn)?;
    Ok(())
}

/// Stores an offer that was changed.
pub fn update_offer(conn: &mut Conn, offer: &Offer) -> Result<(), DbError> {
    diesel::update(swap_offers::table.find(offer.id)).set(offer.clone()).execute(conn)?;
    Ok(())
}

/// The offer of this id.
pub fn offer(conn: &mut Conn, id: OfferId) -> Result<Option<Offer>, DbError> {
    Ok(swap_offers::table.find(id).select(Offer::as_select()).first(conn).optional()?)
}

/// An offer with the names that go with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedOffer {
    /// The offer.
    pub offer: Offer,
    /// Its cultivar's name.
    pub cultivar_name: String,
    /// Its cultivar's name as sorted.
    pub cultivar_key: String,
    /// Who offers.
    pub member_name: String,
}

impl NamedOffer {
    fn of((offer, cultivar_name, cultivar_key, member_name): (Offer, String, String, String)) -> Self {
        Self { offer, cultivar_name, cultivar_key, member_name }
    }
}

/// The offer of this id, if `asker` may see it: an open one of an active member, or the asker's own.
pub fn offer_visible_to(
    conn: &mut Conn,
    asker: MemberId,
    id: OfferId,
) -> Result<Option<NamedOffer>, DbError> {
    let found = swap_offers::table
        .inner_join(cultivars::table)
        .inner_join(members::table)
        .filter(swap_offers::id.eq(id))
        .filter(
            swap_offers::member_id
                .eq(asker)
                .or(swap_offers::listing.eq(Listing::Open).and(members::standing.eq(Standing::Active))),
        )
        .select((Offer::as_select(), cultivars::name, cultivars::name_key, members::shown_name));
    Ok(found.first(conn).optional()?.map(NamedOffer::of))
}

/// Which offers are looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// Everybody's that a round may draw on, or has drawn on wholly.
    Open,
    /// One member's own, withdrawn and fulfilled ones too.
    Own(MemberId),
}

/// Offers by the name of their cultivar: those open to every member on `today`, or one member's own.
pub fn offers_visible_to(
    conn: &mut Conn,
    whose: Whose,
    cultivar: Option<CultivarId>,
    today: NaiveDate,
    after: &After,
    limit: i64,
) -> Result<Vec<NamedOffer>, DbError> {
    let mut query = swap_offers::table
        .inner_join(cultivars::table)
        .inner_join(members::table)
        .order((cultivars::name_key, swap_offers::id))
        .limit(limit)
        .select((Offer::as_select(), cultivars::name, cultivars::name_key, members::shown_name))
        .into_boxed();
    query = match whose {
        Whose::Open => query
            .filter(swap_offers::listing.eq(Listing::Open))
            .filter(members::standing.eq(Standing::Active))
            .filter(may_change_hands!(today)),
        Whose::Own(member) => query.filter(swap_offers::member_id.eq(member)),
    };
    if let Some(cultivar) = cultivar {
        query = query.filter(swap_offers::cultivar_id.eq(cultivar));
    }
    if let Some((key, id)) = after {
        query = query.filter(
            cultivars::name_key
                .gt(key.clone())
                .or(cultivars::name_key.eq(key.clone()).and(swap_offers::id.gt(id.clone()))),
        );
    }
    Ok(query.load(conn)?.into_iter().map(NamedOffer::of).collect())
}

/// Whether the member has an open offer of this cultivar.
pub fn offers_already(conn: &mut Conn, member: MemberId, cultivar: CultivarId) -> Result<bool, DbError> {
    let open = swap_offers::table
        .filter(swap_offers::member_id.eq(member))
        .filter(swap_offers::cultivar_id.eq(cultivar))
        .filter(swap_offers::listing.eq(Listing::Open));
    Ok(open.count().get_result::<i64>(conn)? > 0)
}

/// Adds a want.
pub fn insert_want(conn: &mut Conn, want: &Want) -> Result<(), DbError> {
    let own = swap_wants::table.filter(swap_wants::member_id.eq(want.member_id));
    limits::hold(domain_limits::WANTS, own.count().get_result(conn)?, 1)?;
    diesel::insert_into(swap_wants::table).values(want.clone()).execute(conn)?;
    Ok(())
}

/// Stores a want that was changed.
pub fn update_want(conn: &mut Conn, want: &Want) -> Result<(), DbError> {
    diesel::update(swap_wants::table.find(want.id)).set(want.clone()).execute(conn)?;
    Ok(())
}

/// Adds a want of any of these cultivars, the dearest first.
pub fn insert_want_of_any(conn: &mut Conn, want: &Want, choices: &[CultivarId]) -> Result<(), DbError> {
    insert_want(conn, want)?;
    for (place, cultivar) in (1..).zip(choices) {
        let choice = (
            swap_want_choices::want_id.eq(want.id),
            swap_want_choices::place.eq(place),
            swap_want_choices::cultivar_id.eq(*cultivar),
        );
        diesel::insert_into(swap_want_choices::table).values(choice).execute(conn)?;
    }
    Ok(())
}

/// A want with the cultivars it names.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedWant {
    /// The want.
    pub want: Want,
    /// The one cultivar, or those of which any will do, the dearest first; none for a group.
    pub cultivars: Vec<(CultivarId, String)>,
}

fn with_names(conn: &mut Conn, wants: Vec<(Want, Option<String>)>) -> Result<Vec<NamedWant>, DbError> {
    let ids: Vec<WantId> =
        wants.iter().filter(|(want, _)| want.form == WantForm::AnyOf).map(|(want, _)| want.id).collect();
    let mut choices: BTreeMap<WantId, Vec<(CultivarId, String)>> = BTreeMap::new();
    for part in ids.chunks(IN_LIST) {
        let rows = swap_want_choices::table
            .inner_join(cultivars::table)
            .filter(swap_want_choices::want_id.eq_any(part.to_vec()))
            .order((swap_want_choices::want_id, swap_want_choices::place))
            .select((swap_want_choices::want_id, cultivars::id, cultivars::name))
            .load::<(WantId, CultivarId, String)>(conn)?;
        for (want, cultivar, name) in rows {
            choices.entry(want).or_default().push((cultivar, name));
        }
    }
    Ok(wants
        .into_iter()
        .map(|(want, name)| {
            let one = want.cultivar_id.zip(name).into_iter();
            let cultivars = one.chain(choices.remove(&want.id).unwrap_or_default()).collect();
            NamedWant { want, cultivars }
        })
        .collect())
}

/// The member's own want of this id.
pub fn own_want(conn: &mut Conn, member: MemberId, id: WantId) -> Result<Option<NamedWant>, DbError> {
    let own = swap_wants::table
        .left_join(cultivars::table)
        .filter(swap_wants::id.eq(id))
        .filter(swap_wants::member_id.eq(member))
        .select((Want::as_select(), cultivars::name.nullable()));
    let found: Option<(Want, Option<String>)> = own.first(conn).optional()?;
    Ok(with_names(conn, found.into_iter().collect())?.into_iter().next())
}

/// The member's own wants, dearest first.
pub fn own_wants_page(
    conn: &mut Conn,
    member: MemberId,
    listing: Option<Listing>,
    after: Option<&(i32, String)>,
    limit: i64,
) -> Result<Vec<NamedWant>, DbError> {
    let mut query = swap_wants::table
        .left_join(cultivars::table)
        .filter(swap_wants::member_id.eq(member))
        .order((swap_wants::want_rank, swap_wants::id))
        .limit(limit)
        .select((Want::as_select(), cultivars::name.nullable()))
        .into_boxed();
    if let Some(listing) = listing {
        query = query.filter(swap_wants::listing.eq(listing));
    }
    if let Some((rank, id)) = after {
        query = query.filter(
            swap_wants::want_rank
                .gt(*rank)
                .or(swap_wants::want_rank.eq(*rank).and(swap_wants::id.gt(id.clone()))),
        );
    }
    let wants = query.load(conn)?;
    with_names(conn, wants)
}

/// Whether the member has an open want of this cultivar.
pub fn wants_already(conn: &mut Conn, member: MemberId, cultivar: CultivarId) -> Result<bool, DbError> {
    let open = swap_wants::table
        .filter(swap_wants::member_id.eq(member))
        .filter(swap_wants::cultivar_id.eq(cultivar))
        .filter(swap_wants::listing.eq(Listing::Open));
    Ok(open.count().get_result::<i64>(conn)? > 0)
}

/// Every open offer with cuttings free of an active member, and whether its cultivar may change hands on
/// `today`. By id.
pub fn offers_with_rights(conn: &mut Conn, today: NaiveDate) -> Result<Vec<(Offer, bool)>, DbError> {
    let free = swap_offers::table
        .inner_join(cultivars::table)
        .inner_join(members::table)
        .filter(swap_offers::listing.eq(Listing::Open))
        .filter(swap_offers::promised.lt(swap_offers::how_many))
        .filter(members::standing.eq(Standing::Active))
        .order(swap_offers::id);
    Ok(free.select((Offer::as_select(), may_change_hands!(today))).load(conn)?)
}

/// Every offer a round may draw on: open, with cuttings free, of an active member, of a cultivar that may
/// change hands on `today`. By id.
pub fn free_offers(conn: &mut Conn, today: NaiveDate) -> Result<Vec<Offer>, DbError> {
    let free = swap_offers::table
        .inner_join(cultivars::table)
        .inner_join(members::table)
        .filter(swap_offers::listing.eq(Listing::Open))
        .filter(swap_offers::promised.lt(swap_offers::how_many))
        .filter(members::standing.eq(Standing::Active))
        .filter(may_change_hands!(today))
        .order(swap_offers::id);
    Ok(free.select(Offer::as_select()).load(conn)?)
}

/// Every want a round may serve: open, in no ring, of an active member. By id.
pub fn free_wants(conn: &mut Conn) -> Result<Vec<Want>, DbError> {
    let free = swap_wants::table
        .inner_join(members::table)
        .filter(swap_wants::listing.eq(Listing::Open))
        .filter(swap_wants::promised.eq(false))
        .filter(members::standing.eq(Standing::Active))
        .order(swap_wants::id);
    Ok(free.select(Want::as_select()).load(conn)?)
}

/// Every want a round may serve, by id, each with the cultivars that would meet it, the dearest first.
///
/// Of a want of one cultivar that is the one. Of any of several, and of a group, those that the member offers
/// are left out; of a group there are the cultivars on offer, by id, without those of which the member holds
/// plants. A want that nothing can meet has none.
pub fn wants_with_choices(conn: &mut Conn) -> Result<Vec<(Want, Vec<CultivarId>)>, DbError> {
    let wants = free_wants(conn)?;
    let choices = swap_want_choices::table
        .inner_join(swap_wants::table)
        .filter(swap_wants::listing.eq(Listing::Open))
        .filter(swap_wants::promised.eq(false))
        .order((swap_want_choices::want_id, swap_want_choices::place))
        .select((swap_want_choices::want_id, swap_want_choices::cultivar_id))
        .load::<(WantId, CultivarId)>(conn)?;
    let mut choices_of: BTreeMap<WantId, Vec<CultivarId>> = BTreeMap::new();
    for (want, cultivar) in choices {
        choices_of.entry(want).or_default().push(cultivar);
    }
    let offered = swap_offers::table
        .inner_join(cultivars::table)
        .filter(swap_offers::listing.eq(Listing::Open))
        .select((swap_offers::member_id, swap_offers::cultivar_id, cultivars::plant_group))
        .load::<(MemberId, CultivarId, PlantGroup)>(conn)?;
    let offers: BTreeSet<(MemberId, CultivarId)> = offered.iter().map(|(m, c, _)| (*m, *c)).collect();
    let mut on_offer: BTreeMap<PlantGroup, BTreeSet<CultivarId>> = BTreeMap::new();
    for (_, cultivar, group) in offered {
        on_offer.entry(group).or_default().insert(cultivar);
    }
    let has = held_by_wanters_of_groups(conn)?;
    Ok(wants
        .into_iter()
        .map(|want| {
            let member = want.member_id;
            let not_own = |cultivar: &CultivarId| !offers.contains(&(member, *cultivar));
            let choices: Vec<CultivarId> = match want.form {
                WantForm::Cultivar => want.cultivar_id.into_iter().collect(),
                WantForm::AnyOf => {
                    choices_of.remove(&want.id).unwrap_or_default().into_iter().filter(not_own).collect()
                }
                WantForm::Group => want
                    .plant_group
                    .and_then(|group| on_offer.get(&group))
                    .into_iter()
                    .flatten()
                    .copied()
                    .filter(not_own)
                    .filter(|cultivar| !has.contains(&(member, *cultivar)))
                    .collect(),
            };
            (want, choices)
        })
        .collect())
}

/// What the members who want any of a group hold already.
fn held_by_wanters_of_groups(conn: &mut Conn) -> Result<BTreeSet<(MemberId, CultivarId)>, DbError> {
    let wants_group = swap_wants::table
        .filter(swap_wants::member_id.eq(plants::owner_id))
        .filter(swap_wants::form.eq(WantForm::Group))
        .filter(swap_wants::listing.eq(Listing::Open));
    let held = plants::table
        .filter(plants::how_many.gt(0))
        .filter(exists(wants_group))
        .select((plants::owner_id, plants::cultivar_id));
    Ok(held.load(conn)?.into_iter().collect())
}

/// Promises `cuttings` more of an offer. More than it has break `swap_offers_promised_check`.
pub fn promise_cuttings(conn: &mut Conn, offer: OfferId, cuttings: i32) -> Result<(), DbError> {
    diesel::update(swap_offers::table.find(offer))
        .set((
            swap_offers::promised.eq(swap_offers::promised + cuttings),
            swap_offers::version.eq(swap_offers::version + 1),
        ))
        .execute(conn)?;
    Ok(())
}

/// Takes back one promised cutting of an offer.
pub fn release_cutting(conn: &mut Conn, offer: OfferId) -> Result<(), DbError> {
    promise_cuttings(conn, offer, -1)
}

/// Marks a want as standing in a ring, or no longer.
pub fn set_want_promised(conn: &mut Conn, want: WantId, promised: bool) -> Result<(), DbError> {
    diesel::update(swap_wants::table.find(want))
        .set((swap_wants::promised.eq(promised), swap_wants::version.eq(swap_wants::version + 1)))
        .execute(conn)?;
    Ok(())
}

/// Marks a want as met.
pub fn fulfil_want(conn: &mut Conn, want: WantId) -> Result<(), DbError> {
    diesel::update(swap_wants::table.find(want))
        .set((swap_wants::listing.eq(Listing::Fulfilled), swap_wants::version.eq(swap_wants::version + 1)))
        .execute(conn)?;
    Ok(())
}
