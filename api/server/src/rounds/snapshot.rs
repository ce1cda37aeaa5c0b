//! Everything a round is solved from, as it was when the round was frozen.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, TimeDelta};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use storksbill_db::Conn;
use storksbill_db::rows::rounds::Round;
use storksbill_db::rows::swap_terms::{self, Terms, Whereabouts};
use storksbill_db::rows::{health, members, plants, rings, rounds, swaps};
use storksbill_domain::ids::{ClubId, CultivarId, MemberId, OfferId, WantId};
use storksbill_domain::words::{RoundAim, RoundMode};

use crate::hex::hex;
use crate::http::problem::{Code, Problem};

/// A declaration of health is believed for so long.
const DECLARED_WITHIN: TimeDelta = TimeDelta::days(30);

/// What a round is solved from. Sorted by id throughout, so that the same records give the same text.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Snapshot {
    pub(super) mode: RoundMode,
    pub(super) aim: RoundAim,
    pub(super) max_chain: i32,
    pub(super) drop_out_per_mille: i32,
    pub(super) taken_on: NaiveDate,
    pub(super) members: Vec<MemberFacts>,
    pub(super) offers: Vec<OfferFacts>,
    pub(super) wants: Vec<WantFacts>,
    /// Pairs of members of whom one does not want to swap with the other.
    pub(super) refusals: Vec<(MemberId, MemberId)>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct MemberFacts {
    pub(super) id: MemberId,
    /// Cuttings given, and received, at most.
    pub(super) give: i32,
    pub(super) receive: i32,
    /// Given less received in rounds before.
    pub(super) credit: i64,
    pub(super) by_post: bool,
    pub(super) within_km: Option<i32>,
    pub(super) at: Option<Spot>,
    /// Where members meet.
    pub(super) clubs: Vec<ClubId>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct Spot {
    /// The plant-health zone.
    pub(super) zone: String,
    pub(super) latitude: f64,
    pub(super) longitude: f64,
}

#[allow(clippy::struct_excessive_bools, reason = "facts that do not depend on each other")]
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct OfferFacts {
    pub(super) id: OfferId,
    pub(super) member: MemberId,
    pub(super) cultivar: CultivarId,
    /// Cuttings not promised to anybody.
    pub(super) free: i32,
    pub(super) gift: bool,
    pub(super) held: bool,
    /// Declared healthy not long ago.
    pub(super) declared: bool,
    /// Breeders' rights keep it out.
    pub(super) protected: bool,
    /// Members known to hold the cultivar.
    pub(super) holders: i64,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct WantFacts {
    pub(super) id: WantId,
    pub(super) member: MemberId,
    pub(super) rank: i32,
    /// What would meet it, the dearest first.
    pub(super) cultivars: Vec<CultivarId>,
    /// Each of them is as dear as the next.
    pub(super) all_alike: bool,
}

impl Snapshot {
    /// Looks at everything as it is now.
    pub(super) fn take(conn: &mut Conn, round: &Round, today: NaiveDate) -> Result<Self, Problem> {
        let attending: Option<BTreeSet<MemberId>> = match round.mode {
            RoundMode::Meeting => {
                let come = rounds::attendances(conn, round.id)?;
                Some(come.into_iter().map(|(attendance, _)| attendance.member_id).collect())
            }
            RoundMode::ByPost | RoundMode::Pairs => None,
        };
        let takes_part = |member: &MemberId| attending.as_ref().is_none_or(|all| all.contains(member));
        let held = health::held(conn)?;
        let holders: BTreeMap<CultivarId, i64> = plants::holders_of_offered(conn)?.into_iter().collect();
        let mut offers: Vec<OfferFacts> = swaps::offers_with_rights(conn, today)?
            .into_iter()
            .filter(|(offer, _)| takes_part(&offer.member_id))
            .map(|(offer, may_change_hands)| OfferFacts {
                id: offer.id,
                member: offer.member_id,
                cultivar: offer.cultivar_id,
                free: offer.free(),
                gift: offer.gift,
                held: held.holds(offer.member_id, offer.plant_id),
                declared: offer.health_declared_on.is_some_and(|day| today - day <= DECLARED_WITHIN),
                protected: !may_change_hands,
                holders: holders.get(&offer.cultivar_id).copied().unwrap_or(0),
            })
            .collect();
        offers.sort_by_key(|offer| offer.id);
        let mut wants: Vec<WantFacts> = swaps::wants_with_choices(conn)?
            .into_iter()
            .filter(|(want, _)| takes_part(&want.member_id))
            .map(|(want, cultivars)| WantFacts {
                id: want.id,
                member: want.member_id,
                rank: want.want_rank,
                all_alike: want.plant_group.is_some(),
                cultivars,
            })
            .collect();
        wants.sort_by_key(|want| want.id);
        let named: BTreeSet<MemberId> =
            offers.iter().map(|offer| offer.member).chain(wants.iter().map(|want| want.member)).collect();
        let members = facts_of(conn, &named)?;
        let mut refusals = swap_terms::refused_pairs(conn)?;
        refusals.retain(|(one, other)| named.contains(one) && named.contains(other));
        Ok(Self {
            mode: round.mode,
            aim: round.aim,
            max_chain: round.max_chain,
            drop_out_per_mille: round.drop_out_per_mille,
            taken_on: today,
            members,
            offers,
            wants,
            refusals,
        })
    }

    /// As kept with the round, and its SHA-256.
    pub(super) fn to_text(&self) -> Result<(String, String), Problem> {
        let text = serde_json::to_string(self)
            .map_err(|error| Problem::new(Code::Internal, format!("The round cannot be frozen: {error}.")))?;
        let hash = hex(&Sha256::digest(text.as_bytes()));
        Ok((text, hash))
    }

    /// As it was kept with the round.
    pub(super) fn of(round: &Round) -> Result<Self, Problem> {
        let text = round
            .snapshot
            .as_deref()
            .ok_or_else(|| Problem::new(Code::WrongState, "This round has not been frozen yet."))?;
        serde_json::from_str(text).map_err(|error| {
            Problem::new(Code::Internal, format!("The round cannot be read again: {error}."))
        })
    }
}

fn facts_of(conn: &mut Conn, named: &BTreeSet<MemberId>) -> Result<Vec<MemberFacts>, Problem> {
    let terms: BTreeMap<MemberId, Terms> =
        swap_terms::all(conn)?.into_iter().map(|terms| (terms.member_id, terms)).collect();
    let mut places: BTreeMap<MemberId, Whereabouts> =
        swap_terms::whereabouts(conn)?.into_iter().map(|place| (place.member_id, place)).collect();
    let balances: BTreeMap<_, _> = rings::balances(conn, None)?.into_iter().collect();
    let mut clubs: BTreeMap<MemberId, Vec<ClubId>> = BTreeMap::new();
    for (member, club) in members::every_club_membership(conn)? {
        clubs.entry(member).or_default().push(club);
    }
    let facts = |&id: &MemberId| {
        let terms = terms.get(&id).cloned().unwrap_or_else(|| Terms::usual(id));
        let balance = balances.get(&id).copied().unwrap_or_default();
        let mut clubs = clubs.remove(&id).unwrap_or_default();
        clubs.sort_unstable();
        MemberFacts {
            id,
            give: terms.give_most,
            receive: terms.receive_most,
            credit: balance.given - balance.received,
            by_post: terms.by_post,
            within_km: terms.within_km,
            at: places.remove(&id).map(|place| Spot {
                zone: place.zone_key,
                latitude: place.latitude,
                longitude: place.longitude,
            }),
            clubs,
        }
    };
    Ok(named.iter().map(facts).collect())
}
