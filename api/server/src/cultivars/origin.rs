//! Where a cultivar comes from: what goes together, and what may be named.

use std::collections::BTreeSet;

use storksbill_db::Conn;
use storksbill_db::rows::cultivars::{self, Candidate, Cultivar};
use storksbill_domain::ids::CultivarId;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{CultivarStatus, GameteForm, Origin, Visibility};

use crate::http::json::Findings;
use crate::http::problem::Problem;

/// The shares of all that may have given the pollen.
const WHOLE: i32 = 1_000;

/// The origin that goes with the parents and the source, where a record or an edit does not say which.
pub(super) fn settled(cultivar: &Cultivar, candidates: usize) -> Origin {
    let parents = cultivar.seed_parent_id.or(cultivar.pollen_parent_id).is_some() || candidates > 0;
    match cultivar.origin {
        before @ (Origin::Sport | Origin::Cutting | Origin::Doubled) if cultivar.source_id.is_some() => {
            before
        }
        _ if cultivar.source_id.is_some() => Origin::Sport,
        before @ (Origin::Cross | Origin::OneGamete) if parents => before,
        _ if parents => Origin::Cross,
        // A founder of which it is known what its parents gave.
        Origin::Cross if cultivar.seed_gamete.or(cultivar.pollen_gamete).is_some() => Origin::Cross,
        _ => Origin::Unknown,
    }
}

/// What does not go together, all of it.
pub(super) fn check(cultivar: &Cultivar, candidates: &[Candidate], found: &mut Findings) {
    let Cultivar { seed_parent_id: seed, pollen_parent_id: pollen, source_id: source, .. } = cultivar;
    let parents = seed.or(*pollen).is_some() || !candidates.is_empty();
    match cultivar.origin {
        Origin::Sport | Origin::Cutting | Origin::Doubled => {
            if source.is_none() {
                found.add("/source_id", "required", "goes with this origin: what it came from");
            } else if parents {
                found.add("/source_id", "source-with-parents", "has no parents beside it; leave out one");
            }
        }
        _ if source.is_some() && parents => {
            found.add("/source_id", "source-with-parents", "has no parents beside it; leave out one");
        }
        _ if source.is_some() => {
            found.add("/source_id", "not-taken", "goes with a sport, a cutting or a doubled plant alone");
        }
        Origin::OneGamete if seed.is_some() == pollen.is_some() || !candidates.is_empty() => {
            found.add(
                "/origin",
                "one-parent",
                "`one_gamete` has one parent: that of the egg, or of the pollen",
            );
        }
        Origin::Unknown if parents => {
            found.add("/origin", "not-taken", "is `cross` or `one_gamete` where a parent is known");
        }
        _ => {}
    }
    if !candidates.is_empty() {
        check_candidates(*pollen, candidates, found);
    }
    if cultivar.origin != Origin::Sport {
        for (pointer, given) in [
            ("/sport_layers", cultivar.sport_layers.is_some()),
            ("/reverts_to_id", cultivar.reverts_to_id.is_some()),
        ] {
            if given {
                found.add(pointer, "not-taken", "goes with a sport alone");
            }
        }
    }
    if cultivar.reverts_to_id == Some(cultivar.id) {
        found.add("/reverts_to_id", "itself", "is what the sport goes back to, and not the sport");
    }
    let seedling = matches!(cultivar.origin, Origin::Cross | Origin::OneGamete);
    let side = |given: &Option<CultivarId>| cultivar.origin == Origin::Cross || given.is_some();
    for (pointer, form, sets, lambda, may) in [
        (
            "/seed_gamete",
            cultivar.seed_gamete,
            cultivar.seed_gamete_sets,
            cultivar.seed_gamete_lambda,
            seedling && side(seed),
        ),
        (
            "/pollen_gamete",
            cultivar.pollen_gamete,
            cultivar.pollen_gamete_sets,
            cultivar.pollen_gamete_lambda,
            seedling && side(pollen),
        ),
    ] {
        let Some(form) = form else { continue };
        if !may {
            found.add(pointer, "not-taken", "goes with a parent on this side");
        }
        match (form, sets) {
            (GameteForm::Stated, None) => {
                found.add(&format!("{pointer}/sets"), "required", "is how many sets are stated");
            }
            (GameteForm::Stated, Some(_)) | (_, None) => {}
            (_, Some(_)) => found.add(&format!("{pointer}/sets"), "not-taken", "goes with `stated` alone"),
        }
        if lambda.is_some() && matches!(form, GameteForm::FirstDivision | GameteForm::SecondDivision) {
            let detail = "is the published figure for this form; give `unreduced` to state your own";
            found.add(&format!("{pointer}/lambda"), "not-taken", detail);
        }
    }
}

/// A named cultivar is everybody's.
pub(super) fn check_shown(cultivar: &Cultivar, found: &mut Findings) {
    if cultivar.status == CultivarStatus::Named && cultivar.visibility != Visibility::Society {
        found.add("/visibility", "named", "is `society` where the cultivar is named");
    }
}

fn check_candidates(pollen: Option<CultivarId>, candidates: &[Candidate], found: &mut Findings) {
    if pollen.is_some() {
        found.add("/pollen_candidates", "not-taken", "are left out where the pollen parent is known");
    }
    let mut met = BTreeSet::new();
    for candidate in candidates.iter().filter(|candidate| !met.insert(candidate.candidate_id)) {
        let pointer = format!("/pollen_candidates/{}", candidate.place - 1);
        found.add(&pointer, "twice", "stands there already");
    }
    let sum: i32 = candidates.iter().map(|candidate| candidate.share).sum();
    if sum != WHOLE {
        found.add("/pollen_candidates", "shares", format!("have shares that add up to {sum}, not {WHOLE}"));
    }
}

/// Refuses what is named and not there, or not to be seen.
///
/// `before` is what the record named already: that stays, whether its owner hid it since or not.
pub(super) fn sound(
    conn: &mut Conn,
    actor: &Actor,
    before: &[CultivarId],
    cultivar: &Cultivar,
    candidates: &[Candidate],
) -> Result<(), Problem> {
    let mut named: Vec<(String, CultivarId)> = [
        ("/seed_parent_id", cultivar.seed_parent_id),
        ("/pollen_parent_id", cultivar.pollen_parent_id),
        ("/source_id", cultivar.source_id),
        ("/reverts_to_id", cultivar.reverts_to_id),
    ]
    .into_iter()
    .filter_map(|(pointer, id)| Some((pointer.to_owned(), id?)))
    .collect();
    named.extend(candidates.iter().filter_map(|candidate| {
        let pointer = format!("/pollen_candidates/{}/cultivar_id", candidate.place - 1);
        Some((pointer, candidate.candidate_id?))
    }));
    let ids: Vec<CultivarId> = named.iter().map(|(_, id)| *id).collect();
    let seen: BTreeSet<CultivarId> =
        cultivars::visible_among(conn, actor, &ids)?.into_iter().map(|known| known.id).collect();
    let mut found = Findings::default();
    for (pointer, id) in &named {
        if !seen.contains(id) && !before.contains(id) && *id != cultivar.id {
            found.add(
                pointer,
                "not-found",
                "is not a cultivar of this society that you may see; enter it first",
            );
        }
    }
    found.into_result()
}

/// Everybody a record names.
pub(super) fn named(cultivar: &Cultivar, candidates: &[Candidate]) -> Vec<CultivarId> {
    [cultivar.seed_parent_id, cultivar.pollen_parent_id, cultivar.source_id, cultivar.reverts_to_id]
        .into_iter()
        .flatten()
        .chain(self::candidates(candidates))
        .collect()
}

/// Everybody who may have given pollen.
pub(super) fn candidates(rows: &[Candidate]) -> impl Iterator<Item = CultivarId> {
    rows.iter().filter_map(|row| row.candidate_id)
}
