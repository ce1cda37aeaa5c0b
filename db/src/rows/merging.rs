//! Two records of one cultivar made one: whatever pointed at the one points at the other.
//!
//! Where both have what a cultivar, a want or a cross can have but once:
//!
//! | what | rule |
//! |---|---|
//! | permission, place on the conservation list | the kept cultivar's stands, and the merged one's is dropped |
//! | open wants of one member | the promised one stays, else that of the kept cultivar; the other is withdrawn |
//! | choices of one want | the dearer place stays, and those after it move up |
//! | pollen parents of one cross or cultivar | their shares are added up; one that is left is the parent |
//! | reports of one grower and year | plants and those that went back are added up |
//! | other names | each name once |
//! | names before the registrar | that of the kept cultivar stays; the other is refused, with a step that says why |
//!
//! Histories are not moved: each record keeps its own.

use std::collections::{BTreeMap, BTreeSet};

use diesel::prelude::*;
use storksbill_domain::ids::{CrossId, CultivarId, IndividualId, MemberId, SeedlingId, WantId};
use storksbill_domain::words::{Listing, ParentSide, RegistrationState};

use super::crosses::{self, Parent};
use super::cultivars::{self as cultivar_rows, Candidate};
use super::registrations::Registration;
use super::reversions::{self, Report};
use super::{IN_LIST, cultivar_names, lines};
use crate::schema::{
    conservation_list, cross_parents, cultivar_candidates, cultivar_names as other_names, cultivars, notices,
    plants, propagation_permissions, registrations, reversion_reports, seedlings, swap_hand_overs,
    swap_offers, swap_want_choices, swap_wants,
};
use crate::{Conn, DbError};

/// Every column that refers to a cultivar, and whether a merge moves it. A test holds this against the schema.
pub const REFERENCES: [(&str, &str, bool); 21] = [
    ("conservation_list", "cultivar_id", true),
    ("cross_parents", "cultivar_id", true),
    ("cultivar_history", "cultivar_id", false),
    ("cultivar_names", "cultivar_id", true),
    ("cultivar_candidates", "candidate_id", true),
    ("cultivar_candidates", "cultivar_id", false),
    ("cultivars", "merged_into_id", true),
    ("cultivars", "pollen_parent_id", true),
    ("cultivars", "reverts_to_id", true),
    ("cultivars", "seed_parent_id", true),
    ("cultivars", "source_id", true),
    ("plants", "cultivar_id", true),
    ("propagation_permissions", "cultivar_id", true),
    ("registrations", "cultivar_id", true),
    ("reversion_reports", "cultivar_id", true),
    ("reversion_reports", "went_back_to_id", true),
    ("seedlings", "cultivar_id", true),
    ("swap_hand_overs", "cultivar_id", true),
    ("swap_offers", "cultivar_id", true),
    ("swap_want_choices", "cultivar_id", true),
    ("swap_wants", "cultivar_id", true),
];

/// Why two records cannot be made one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stands {
    /// So many members have an open want of each that is promised in a ring.
    BothPromised(usize),
}

/// Crosses of the one with the other, by whatever names them: the cultivar or a plant of it.
pub fn crosses_between(conn: &mut Conn, one: CultivarId, other: CultivarId) -> Result<Vec<CrossId>, DbError> {
    let mut sides: BTreeMap<CrossId, BTreeSet<(ParentSide, CultivarId)>> = BTreeMap::new();
    let named = cross_parents::table
        .filter(cross_parents::cultivar_id.eq_any([one, other]))
        .select((cross_parents::cross_id, cross_parents::side, cross_parents::cultivar_id.assume_not_null()))
        .load::<(CrossId, ParentSide, CultivarId)>(conn)?;
    let of_plants = cross_parents::table
        .inner_join(plants::table.on(cross_parents::plant_id.eq(plants::id.nullable())))
        .filter(plants::cultivar_id.eq_any([one, other]))
        .select((cross_parents::cross_id, cross_parents::side, plants::cultivar_id))
        .load::<(CrossId, ParentSide, CultivarId)>(conn)?;
    for (cross, side, cultivar) in named.into_iter().chain(of_plants) {
        sides.entry(cross).or_default().insert((side, cultivar));
    }
    let between = sides.into_iter().filter(|(_, parents)| {
        [(one, other), (other, one)].into_iter().any(|(seed, pollen)| {
            parents.contains(&(ParentSide::Seed, seed)) && parents.contains(&(ParentSide::Pollen, pollen))
        })
    });
    Ok(between.map(|(cross, _)| cross).collect())
}

/// Cultivars raised from the one with the other, by their own records.
pub fn raised_between(
    conn: &mut Conn,
    one: CultivarId,
    other: CultivarId,
) -> Result<Vec<CultivarId>, DbError> {
    let mut found = BTreeSet::new();
    for (seed, pollen) in [(one, other), (other, one)] {
        let of_both = cultivars::table
            .filter(cultivars::merged_into_id.is_null())
            .filter(cultivars::seed_parent_id.eq(seed))
            .filter(cultivars::pollen_parent_id.eq(pollen));
        found.extend(of_both.select(cultivars::id).load::<CultivarId>(conn)?);
        let may_be = cultivar_candidates::table
            .inner_join(cultivars::table.on(cultivars::id.eq(cultivar_candidates::cultivar_id)))
            .filter(cultivars::merged_into_id.is_null())
            .filter(cultivars::seed_parent_id.eq(seed))
            .filter(cultivar_candidates::candidate_id.eq(pollen));
        found.extend(may_be.select(cultivars::id).load::<CultivarId>(conn)?);
    }
    Ok(found.into_iter().collect())
}

/// Cultivars whose records name this one.
pub fn naming(conn: &mut Conn, id: CultivarId) -> Result<BTreeSet<CultivarId>, DbError> {
    let named = cultivars::table.filter(
        cultivars::seed_parent_id
            .eq(id)
            .or(cultivars::pollen_parent_id.eq(id))
            .or(cultivars::source_id.eq(id))
            .or(cultivars::reverts_to_id.eq(id))
            .or(cultivars::merged_into_id.eq(id)),
    );
    let mut found: BTreeSet<CultivarId> =
        named.select(cultivars::id).load::<CultivarId>(conn)?.into_iter().collect();
    let may_be = cultivar_candidates::table.filter(cultivar_candidates::candidate_id.eq(id));
    found.extend(may_be.select(cultivar_candidates::cultivar_id).load::<CultivarId>(conn)?);
    Ok(found)
}

/// Crosses with this cultivar as a parent, or a plant of it.
fn crosses_with(conn: &mut Conn, id: CultivarId) -> Result<BTreeSet<CrossId>, DbError> {
    let named = cross_parents::table.filter(cross_parents::cultivar_id.eq(id));
    let mut found: BTreeSet<CrossId> =
        named.select(cross_parents::cross_id).load::<CrossId>(conn)?.into_iter().collect();
    let of_plants = cross_parents::table
        .inner_join(plants::table.on(cross_parents::plant_id.eq(plants::id.nullable())))
        .filter(plants::cultivar_id.eq(id));
    found.extend(of_plants.select(cross_parents::cross_id).load::<CrossId>(conn)?);
    Ok(found)
}

/// For each of these cultivars that was merged into another, that other.
pub fn standing_for(
    conn: &mut Conn,
    ids: &[CultivarId],
) -> Result<BTreeMap<CultivarId, CultivarId>, DbError> {
    let mut found = BTreeMap::new();
    for part in ids.chunks(IN_LIST) {
        let merged = cultivars::table
            .filter(cultivars::id.eq_any(part.to_vec()))
            .filter(cultivars::merged_into_id.is_not_null());
        let rows = merged.select((cultivars::id, cultivars::merged_into_id.assume_not_null()));
        found.extend(rows.load::<(CultivarId, CultivarId)>(conn)?);
    }
    Ok(found)
}

/// Open registrations of a cultivar.
pub fn open_registrations(conn: &mut Conn, cultivar: CultivarId) -> Result<Vec<Registration>, DbError> {
    Ok(registrations::table
        .filter(registrations::cultivar_id.eq(cultivar))
        .filter(registrations::state.eq_any([RegistrationState::Proposed, RegistrationState::Questioned]))
        .select(Registration::as_select())
        .load(conn)?)
}

/// Points every record at `into` that points at `from`, by the rules above. Open registrations that stand against
/// each other and the crosses of the two are the caller's to see to.
///
/// # Errors
/// [`DbError::Loop`] where the kept cultivar would be its own ancestor.
pub fn repoint(conn: &mut Conn, from: CultivarId, into: CultivarId) -> Result<Result<(), Stands>, DbError> {
    if let Err(stands) = settle_wants(conn, from, into)? {
        return Ok(Err(stands));
    }
    let (naming, crossed) = (naming(conn, from)?, crosses_with(conn, from)?);
    let raised: Vec<IndividualId> = seedlings::table
        .filter(seedlings::cultivar_id.eq(from))
        .select(seedlings::id)
        .load::<SeedlingId>(conn)?
        .into_iter()
        .map(IndividualId::from)
        .collect();
    settle_choices(conn, from, into)?;
    settle_candidates(conn, from, into)?;
    settle_crosses(conn, from, into)?;
    settle_reports(conn, from, into)?;
    settle_names(conn, from, into)?;
    settle_care(conn, from, into)?;
    // What may be had more than once. Where the record's own answer changes, its version counts up.
    macro_rules! versioned {
        ($($table:ident . $column:ident,)+) => {$(
            diesel::update($table::table.filter($table::$column.eq(from)))
                .set(($table::$column.eq(into), $table::version.eq($table::version + 1)))
                .execute(conn)?;
        )+};
    }
    macro_rules! plain {
        ($($table:ident . $column:ident,)+) => {$(
            diesel::update($table::table.filter($table::$column.eq(from)))
                .set($table::$column.eq(into))
                .execute(conn)?;
        )+};
    }
    versioned! {
        cultivars.merged_into_id,
        cultivars.pollen_parent_id,
        cultivars.reverts_to_id,
        cultivars.seed_parent_id,
        cultivars.source_id,
        plants.cultivar_id,
        registrations.cultivar_id,
        reversion_reports.went_back_to_id,
        seedlings.cultivar_id,
        swap_offers.cultivar_id,
        swap_wants.cultivar_id,
    }
    plain! {
        swap_hand_overs.cultivar_id,
        swap_want_choices.cultivar_id,
    }
    // A notice names its record by kind and id.
    diesel::update(notices::table.filter(notices::subject_id.eq(from.as_str())))
        .set(notices::subject_id.eq(into.as_str()))
        .execute(conn)?;
    // Who descends from whom is another for all of these.
    let mut changed: Vec<IndividualId> = naming.into_iter().map(IndividualId::from).collect();
    changed.extend([IndividualId::from(from), IndividualId::from(into)]);
    changed.extend(raised);
    lines::touch(conn, &changed)?;
    for cross in crossed {
        lines::touch_cross(conn, cross)?;
    }
    // Every loop that this can make goes through the one that stays.
    lines::no_loop(conn, &[into.into()])?;
    Ok(Ok(()))
}

/// All that may have given pollen, each once; where one is left, it is the pollen parent.
fn settle_candidates(conn: &mut Conn, from: CultivarId, into: CultivarId) -> Result<(), DbError> {
    let touched = cultivar_candidates::table
        .filter(cultivar_candidates::candidate_id.eq(from))
        .select(cultivar_candidates::cultivar_id)
        .distinct()
        .load::<CultivarId>(conn)?;
    for id in touched {
        let mut after: Vec<Candidate> = Vec::new();
        for mut row in cultivar_rows::candidates_of(conn, &[id])? {
            if row.candidate_id == Some(from) {
                row.candidate_id = Some(into);
            }
            if let Some(known) = after.iter_mut().find(|known| known.candidate_id == row.candidate_id) {
                known.share += row.share;
            } else {
                row.place = i32::try_from(after.len()).unwrap_or(0) + 1;
                after.push(row);
            }
        }
        if let [one] = after.as_slice() {
            let known = cultivars::pollen_parent_id.eq(one.candidate_id);
            diesel::update(cultivars::table.find(id)).set(known).execute(conn)?;
            after.clear();
        }
        cultivar_rows::set_candidates(conn, id, &after)?;
        diesel::update(cultivars::table.find(id))
            .set(cultivars::version.eq(cultivars::version + 1))
            .execute(conn)?;
    }
    Ok(())
}

/// One open want of a cultivar a member.
fn settle_wants(conn: &mut Conn, from: CultivarId, into: CultivarId) -> Result<Result<(), Stands>, DbError> {
    let open = swap_wants::table
        .filter(swap_wants::cultivar_id.eq_any([from, into]))
        .filter(swap_wants::listing.eq(Listing::Open))
        .select((
            swap_wants::member_id,
            swap_wants::id,
            swap_wants::cultivar_id.assume_not_null(),
            swap_wants::promised,
        ))
        .load::<(MemberId, WantId, CultivarId, bool)>(conn)?;
    let mut of_members: BTreeMap<MemberId, Vec<(WantId, CultivarId, bool)>> = BTreeMap::new();
    for (member, want, cultivar, promised) in open {
        of_members.entry(member).or_default().push((want, cultivar, promised));
    }
    let twice: Vec<_> = of_members.into_values().filter(|wants| wants.len() > 1).collect();
    let both = twice.iter().filter(|wants| wants.iter().all(|(.., promised)| *promised)).count();
    if both > 0 {
        return Ok(Err(Stands::BothPromised(both)));
    }
    for wants in twice {
        let promised = wants.iter().find(|(.., promised)| *promised).map(|(want, ..)| *want);
        let stays = promised
            .or_else(|| wants.iter().find(|(_, cultivar, _)| *cultivar == into).map(|(want, ..)| *want));
        for (want, ..) in wants.iter().filter(|(want, ..)| Some(*want) != stays) {
            diesel::update(swap_wants::table.find(*want))
                .set((
                    swap_wants::listing.eq(Listing::Withdrawn),
                    swap_wants::version.eq(swap_wants::version + 1),
                ))
                .execute(conn)?;
        }
    }
    Ok(Ok(()))
}

/// A want of any of several names each once.
fn settle_choices(conn: &mut Conn, from: CultivarId, into: CultivarId) -> Result<(), DbError> {
    let of = |cultivar: CultivarId| {
        swap_want_choices::table
            .filter(swap_want_choices::cultivar_id.eq(cultivar))
            .select((swap_want_choices::want_id, swap_want_choices::place))
    };
    let kept: BTreeMap<WantId, i32> = of(into).load::<(WantId, i32)>(conn)?.into_iter().collect();
    for (want, place) in of(from).load::<(WantId, i32)>(conn)? {
        let Some(&other) = kept.get(&want) else { continue };
        let (dearer, gone) = (place.min(other), place.max(other));
        diesel::delete(swap_want_choices::table.find((want, gone))).execute(conn)?;
        diesel::update(swap_want_choices::table.find((want, dearer)))
            .set(swap_want_choices::cultivar_id.eq(into))
            .execute(conn)?;
        // One after the other, since two may not stand in one place even for a moment.
        let later: Vec<i32> = swap_want_choices::table
            .filter(swap_want_choices::want_id.eq(want))
            .filter(swap_want_choices::place.gt(gone))
            .order(swap_want_choices::place)
            .select(swap_want_choices::place)
            .load(conn)?;
        for place in later {
            diesel::update(swap_want_choices::table.find((want, place)))
                .set(swap_want_choices::place.eq(place - 1))
                .execute(conn)?;
        }
        diesel::update(swap_wants::table.find(want))
            .set(swap_wants::version.eq(swap_wants::version + 1))
            .execute(conn)?;
    }
    Ok(())
}

/// Parents of crosses; a pollen parent that stands twice in one cross has both shares.
fn settle_crosses(conn: &mut Conn, from: CultivarId, into: CultivarId) -> Result<(), DbError> {
    let touched: BTreeSet<CrossId> = cross_parents::table
        .filter(cross_parents::cultivar_id.eq(from))
        .select(cross_parents::cross_id)
        .load::<CrossId>(conn)?
        .into_iter()
        .collect();
    let touched: Vec<CrossId> = touched.into_iter().collect();
    let mut by_cross: BTreeMap<CrossId, Vec<Parent>> = BTreeMap::new();
    for part in touched.chunks(IN_LIST) {
        for parent in crosses::parents_of(conn, part)? {
            by_cross.entry(parent.cross_id).or_default().push(parent);
        }
    }
    for (cross, parents) in by_cross {
        crosses::set_parents(conn, cross, &joined(parents, from, into))?;
        diesel::update(crate::schema::crosses::table.find(cross))
            .set(crate::schema::crosses::version.eq(crate::schema::crosses::version + 1))
            .execute(conn)?;
    }
    Ok(())
}

/// The parents with the one for the other, each once on a side, in their order.
fn joined(parents: Vec<Parent>, from: CultivarId, into: CultivarId) -> Vec<Parent> {
    let mut after: Vec<Parent> = Vec::with_capacity(parents.len());
    for mut parent in parents {
        if parent.cultivar_id == Some(from) {
            parent.cultivar_id = Some(into);
        }
        let twice = after.iter_mut().find(|known| {
            parent.cultivar_id == Some(into) && known.cultivar_id == Some(into) && known.side == parent.side
        });
        if let Some(known) = twice {
            known.share += parent.share;
        } else {
            let before = after.iter().filter(|known| known.side == parent.side).count();
            parent.place = 1 + i32::try_from(before).unwrap_or(0);
            after.push(parent);
        }
    }
    after
}

/// A grower's reports of one year make one.
fn settle_reports(conn: &mut Conn, from: CultivarId, into: CultivarId) -> Result<(), DbError> {
    for report in reversions::of_cultivar(conn, from)? {
        reversions::delete(conn, report.member_id, from, report.year)?;
        match reversions::own(conn, report.member_id, into, report.year)? {
            None => reversions::insert(conn, &Report { cultivar_id: into, ..report })?,
            Some(kept) => reversions::update(conn, &together(&kept, report))?,
        }
    }
    Ok(())
}

/// Two lots of a grower's in one year, as one.
fn together(kept: &Report, other: Report) -> Report {
    let told = kept.went_back_to_id.is_some() || kept.went_back_to.is_some();
    let (plants, reverted) = (kept.plants + other.plants, kept.reverted + other.reverted);
    let went_back = if told { kept.clone() } else { other };
    Report {
        plants: plants.min(100_000),
        reverted: reverted.min(100_000),
        went_back_to_id: went_back.went_back_to_id,
        went_back_to: went_back.went_back_to,
        version: kept.version + 1,
        ..kept.clone()
    }
}

/// Other names, each once, and none that is the kept cultivar's own.
fn settle_names(conn: &mut Conn, from: CultivarId, into: CultivarId) -> Result<(), DbError> {
    let own: Vec<String> =
        cultivars::table.filter(cultivars::id.eq(into)).select(cultivars::name_key).load(conn)?;
    let known: BTreeSet<String> =
        cultivar_names::of_cultivar(conn, into)?.into_iter().map(|name| name.name_key).chain(own).collect();
    for name in cultivar_names::of_cultivar(conn, from)? {
        if known.contains(&name.name_key) {
            cultivar_names::delete(conn, from, name.id)?;
        } else {
            diesel::update(other_names::table.find(name.id))
                .set(other_names::cultivar_id.eq(into))
                .execute(conn)?;
        }
    }
    Ok(())
}

/// Its permission and its place on the conservation list, which a cultivar has once.
fn settle_care(conn: &mut Conn, from: CultivarId, into: CultivarId) -> Result<(), DbError> {
    macro_rules! one_of {
        ($($table:ident,)+) => {$(
            let kept: i64 = $table::table.filter($table::cultivar_id.eq(into)).count().get_result(conn)?;
            if kept > 0 {
                diesel::delete($table::table.find(from)).execute(conn)?;
            } else {
                diesel::update($table::table.filter($table::cultivar_id.eq(from)))
                    .set($table::cultivar_id.eq(into))
                    .execute(conn)?;
            }
        )+};
    }
    one_of! { propagation_permissions, conservation_list, }
    Ok(())
}
