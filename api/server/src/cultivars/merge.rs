//! Two records found to be of one cultivar.

use actix_web::{post, web};
use chrono::{DateTime, Utc};
use storksbill_db::Conn;
use storksbill_db::rows::cultivar_names::{self, OtherName};
use storksbill_db::rows::cultivars::{self, Cultivar};
use storksbill_db::rows::merging::{self, Stands};
use storksbill_db::rows::{crosses, registrations};
use storksbill_domain::ids::{CultivarId, CultivarNameId};
use storksbill_domain::policy::Actor;
use storksbill_domain::words::{OtherNameKind, Visibility};

use super::dto::{MergeIn, MergedOut, MovedOut};
use super::history;
use super::look::told_one;
use crate::app::App;
use crate::http::auth::Registrar;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;
use crate::pedigrees::individuals::loop_told;
use crate::{crosses::sees, registrations::refuse_merged};

/// Merge a cultivar into another
///
/// The registrar, where two records are of one cultivar. Whatever pointed at this one points at the kept one
/// afterwards: plants, offers, wants, hand-overs, crosses, seedlings, offspring, registrations, reports, names. The
/// kept record's own words stand, and its permission and its place on the conservation list before this one's; of
/// two open wants of a member the promised one stays, else that of the kept cultivar; reports of one grower and
/// year, and shares of pollen parents, are added up; of two names before the registrar the other is refused. This
/// one's name becomes a synonym of the kept one's. Its record stays, says where it went, and both histories stay.
///
/// Refused where the kept cultivar would be its own ancestor, with the loop; where a cross is of the one with the
/// other; and where both are not everybody's to see.
#[utoipa::path(
    tag = "cultivars",
    security(("session" = [])),
    request_body = MergeIn,
    params(("If-Match" = String, Header, description = "The ETag you read of the cultivar that is merged")),
    responses((status = 200, description = "Merged", body = MergedOut))
)]
#[post("/cultivars/{cultivar_id}/merge")]
pub async fn merge_into(
    registrar: Registrar,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    if_match: IfMatch,
    body: Valid<MergeIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let given = body.value;
    let (actor, now) = (registrar.actor.clone(), app.clock.now());
    app.db
        .write(move |conn| {
            let from = standing(conn, &actor, id)?;
            if_match.check(from.version)?;
            let into = kept(conn, &actor, &from, given.into)?;
            not_crossed(conn, &actor, &from, &into)?;
            let moved = cultivars::uses(conn, from.id)?;
            close_registration(conn, &actor, &from, &into, now)?;
            let (merged, kept) = merged(conn, &actor, from, into, given.reason.trim(), now)?;
            let told = MergedOut {
                merged: told_one(conn, &actor, merged)?,
                kept: told_one(conn, &actor, kept)?,
                moved: MovedOut {
                    offspring: moved.offspring,
                    plants: moved.plants,
                    swaps: moved.swaps,
                    care: moved.care,
                    crosses: moved.crosses,
                    register: moved.register,
                },
            };
            Reply::versioned(told.merged.version, &told)
        })
        .await
}

/// A record that stands for itself and is everybody's to see.
fn standing(conn: &mut Conn, actor: &Actor, id: CultivarId) -> Result<Cultivar, Problem> {
    let seen = cultivars::find_visible_to(conn, actor, id)?.ok_or_else(|| Problem::not_found("cultivar"))?;
    if let Some(into) = seen.merged_into_id {
        let words = format!("'{}' was merged into cultivar {into} already.", seen.name);
        return Err(Problem::new(Code::WrongState, words));
    }
    if seen.visibility != Visibility::Society {
        let words = format!("'{}' is not everybody's to see; its owner releases it first.", seen.name);
        return Err(Problem::new(Code::WrongState, words));
    }
    Ok(seen)
}

fn kept(conn: &mut Conn, actor: &Actor, from: &Cultivar, into: CultivarId) -> Result<Cultivar, Problem> {
    if into == from.id {
        return Err(Problem::field("/into", "itself", "is the cultivar that is to be merged"));
    }
    if cultivars::find_visible_to(conn, actor, into)?.is_none() {
        return Err(Problem::field(
            "/into",
            "not-found",
            "is not a cultivar of this society that you may see",
        ));
    }
    standing(conn, actor, into)
}

/// Refuses two that were crossed with each other: they are not one, or the cross would become a selfing.
fn not_crossed(conn: &mut Conn, actor: &Actor, from: &Cultivar, into: &Cultivar) -> Result<(), Problem> {
    let between = merging::crosses_between(conn, from.id, into.id)?;
    let raised = merging::raised_between(conn, from.id, into.id)?;
    if between.is_empty() && raised.is_empty() {
        return Ok(());
    }
    // Told by name as far as the registrar may see them.
    let mut names: Vec<String> =
        cultivars::visible_among(conn, actor, &raised)?.into_iter().map(|known| known.name).collect();
    for cross in &between {
        if let Some((cross, raiser)) = crosses::find(conn, *cross)?
            && sees(conn, actor, &cross)?
        {
            names.push(format!("cross {} of {raiser}", cross.number));
        }
    }
    let named = if names.is_empty() { String::new() } else { format!(": {}", names.join(", ")) };
    Err(Problem::new(
        Code::InUse,
        format!(
            "{} crosses and {} cultivars are of '{}' with '{}', and would be of one with itself{named}.",
            between.len(),
            raised.len(),
            from.name,
            into.name
        ),
    ))
}

/// One name of the kept cultivar's before the registrar.
fn close_registration(
    conn: &mut Conn,
    actor: &Actor,
    from: &Cultivar,
    into: &Cultivar,
    now: DateTime<Utc>,
) -> Result<(), Problem> {
    let open = merging::open_registrations(conn, from.id)?;
    let stands = registrations::is_registered(conn, into.id)?
        || !merging::open_registrations(conn, into.id)?.is_empty();
    if stands {
        for row in open {
            refuse_merged(conn, actor.member, row, &into.name, now)?;
        }
    }
    Ok(())
}

/// Moves everything over and keeps what the records were.
fn merged(
    conn: &mut Conn,
    actor: &Actor,
    mut from: Cultivar,
    mut into: Cultivar,
    reason: &str,
    at: DateTime<Utc>,
) -> Result<(Cultivar, Cultivar), Problem> {
    let (by, now) = (actor.member, at.naive_utc());
    let why = format!("Merged into '{}': {reason}", into.name);
    history::keep(conn, &from, by, now, Some(&why))?;
    let why = format!("'{}' was merged into it: {reason}", from.name);
    history::keep(conn, &into, by, now, Some(&why))?;
    let naming = merging::naming(conn, from.id)?;
    for id in naming.iter().filter(|id| ![from.id, into.id].contains(id)) {
        if let Some(child) = cultivars::find(conn, *id)? {
            let why = format!("'{}', which it names, was merged into '{}'.", from.name, into.name);
            history::keep(conn, &child, by, now, Some(&why))?;
        }
    }
    let repointed = merging::repoint(conn, from.id, into.id);
    repointed.map_err(|error| loop_told(conn, actor, error))?.map_err(|stands| match stands {
        Stands::BothPromised(members) => Problem::new(
            Code::AlreadyPromised,
            format!("{members} members are promised both in rings; merge them when one is handed over."),
        ),
    })?;
    from.merged_into_id = Some(into.id);
    from.version += 1;
    cultivars::update(conn, &from)?;
    // Read anew: it may have named the other itself.
    into = cultivars::find(conn, into.id)?.ok_or_else(|| Problem::not_found("cultivar"))?;
    if into.reverts_to_id == Some(into.id) {
        into.reverts_to_id = None;
    }
    into.version += 1;
    cultivars::update(conn, &into)?;
    let known = cultivar_names::of_cultivar(conn, into.id)?;
    if from.name_key != into.name_key && known.iter().all(|name| name.name_key != from.name_key) {
        let synonym = OtherName {
            id: CultivarNameId::fresh(),
            cultivar_id: into.id,
            name: from.name.clone(),
            name_key: from.name_key.clone(),
            kind: OtherNameKind::Synonym,
            note: Some(format!("The name of a record that was merged: {reason}")),
            entered_by: by,
            created_at: now,
        };
        cultivar_names::insert(conn, &synonym)?;
    }
    Ok((from, into))
}
