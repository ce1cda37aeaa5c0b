//! Appoint judges and stewards, and look for interests that they may not have.

use std::collections::{BTreeMap, BTreeSet};

use actix_web::{delete, get, patch, post, web};
use chrono::Datelike;
use storksbill_db::Conn;
use storksbill_db::rows::shows::{self, Official};
use storksbill_db::rows::{entries, members};
use storksbill_domain::ids::{ExhibitorId, MemberId, OfficialId, ShowId};
use storksbill_domain::names::initials;
use storksbill_domain::shows::{
    ClassSet, EntryNumber, EntryOwners, JudgeRules, ShowJudge, ShowSchedule, ShowSteward, conflicts,
};
use storksbill_domain::words::OfficialRole;

use super::schedule_dto::{InterestsOut, OfficialIn, OfficialOut, OfficialPatch};
use super::{documents, show_in_charge_of};
use crate::app::App;
use crate::http::auth::Officer;
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::patch::Patch;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Years that somebody may judge one section running (common practice).
const MOST_YEARS_RUNNING: u32 = 3;

/// List judges and stewards
///
/// The club's secretary or an administrator.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "In the order of their appointment", body = Vec<OfficialOut>))
)]
#[get("/shows/{show_id}/officials")]
pub async fn list(officer: Officer, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            show_in_charge_of(conn, &officer, id)?;
            let all = shows::officials(conn, id)?.into_iter().map(told).collect::<Result<Vec<_>, _>>()?;
            Reply::ok(&all)
        })
        .await
}

/// Appoint a judge or steward
///
/// A member or a guest, for a set of classes.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = OfficialIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Appointed", body = OfficialOut))
)]
#[post("/shows/{show_id}/officials")]
pub async fn appoint(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    body: Valid<OfficialIn>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let Valid { value, ticket } = body;
    let now = app.clock.now();
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                show_in_charge_of(conn, &officer, id)?;
                let official = Official {
                    id: OfficialId::fresh(),
                    show_id: id,
                    role: value.role,
                    member_id: value.member_id,
                    name: name_of(conn, value.member_id, value.name.clone())?,
                    classes: documents::written(&value.classes)?,
                    version: 1,
                    created_at: now.naive_utc(),
                };
                shows::insert_official(conn, &official)?;
                let address = format!("{}/officials/{}", documents::address(id), official.id);
                Reply::created(address, 1, &told(official)?)
            })
        })
        .await
}

/// Change a judge or steward
///
/// What you do not mention stays; null for `name` takes a member's own.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = OfficialPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = OfficialOut))
)]
#[patch("/shows/{show_id}/officials/{official_id}")]
pub async fn change(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ShowId, OfficialId)>,
    if_match: IfMatch,
    body: Valid<OfficialPatch>,
) -> Result<Reply, Problem> {
    let (id, official_id) = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            show_in_charge_of(conn, &officer, id)?;
            let mut official = known(conn, id, official_id)?;
            if_match.check(official.version)?;
            official.role = patch.role.value().copied().unwrap_or(official.role);
            let another = patch.member_id.value().is_some_and(|id| official.member_id != Some(*id));
            patch.member_id.clone().apply(&mut official.member_id);
            match &patch.name {
                Patch::Value(name) => name.clone_into(&mut official.name),
                Patch::Absent if !another => {}
                Patch::Absent | Patch::Null => official.name = name_of(conn, official.member_id, None)?,
            }
            if let Some(classes) = patch.classes.value() {
                official.classes = documents::written(classes)?;
            }
            official.version += 1;
            shows::update_official(conn, &official)?;
            Reply::versioned(official.version, &told(official)?)
        })
        .await
}

/// Dismiss a judge or steward
#[utoipa::path(
    tag = "shows",
    description = "The club's secretary or an administrator. What was judged stays.",
    security(("session" = [])),
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 204, description = "Dismissed"))
)]
#[delete("/shows/{show_id}/officials/{official_id}")]
pub async fn dismiss(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ShowId, OfficialId)>,
    if_match: IfMatch,
) -> Result<Reply, Problem> {
    let (id, official_id) = path.into_inner();
    app.db
        .write(move |conn| {
            show_in_charge_of(conn, &officer, id)?;
            let official = known(conn, id, official_id)?;
            if_match.check(official.version)?;
            shows::delete_official(conn, official_id)?;
            Ok(Reply::no_content())
        })
        .await
}

/// Look for interests
///
/// Judges with an exhibit of their own or their household in a class they judge, stewards with one in a section they
/// steward, and judges of a class three years running: to be found before the day. The club's secretary or an
/// administrator.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "What was found", body = InterestsOut))
)]
#[get("/shows/{show_id}/interests")]
pub async fn interests(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            let schedule = documents::read(&show.draft)?;
            let (judges, stewards) = people(conn, &schedule, id, show.club_id)?;
            let owners = owners(conn, id)?;
            let rules = JudgeRules { no_exhibit_at_all: false, most_years_running: Some(MOST_YEARS_RUNNING) };
            let findings = conflicts(&schedule, &judges, &stewards, &owners, rules);
            Reply::ok(&InterestsOut { findings })
        })
        .await
}

fn people(
    conn: &mut Conn,
    schedule: &ShowSchedule,
    id: ShowId,
    club: storksbill_domain::ids::ClubId,
) -> Result<(Vec<ShowJudge>, Vec<ShowSteward>), Problem> {
    let households = households(conn, id)?;
    let earlier = shows::earlier(conn, club, schedule.held_on, 10)?;
    let (mut judges, mut stewards) = (Vec::new(), Vec::new());
    for official in shows::officials(conn, id)? {
        let set: ClassSet = documents::part(&official.classes)?;
        let classes: Vec<_> = schedule.classes.iter().filter(|class| set.holds(class)).collect();
        match official.role {
            OfficialRole::Judge => {
                let mut years = Vec::new();
                for (show, _) in &earlier {
                    let judged = shows::officials(conn, show.id)?.into_iter().any(|before| {
                        before.role == OfficialRole::Judge
                            && (before.member_id.is_some() && before.member_id == official.member_id
                                || before.member_id.is_none() && before.name == official.name)
                    });
                    if judged {
                        years.push(show.held_on.year());
                    }
                }
                judges.push(ShowJudge {
                    member: official.member_id,
                    name: official.name,
                    household: official
                        .member_id
                        .and_then(|member| households.get(&member).cloned())
                        .unwrap_or_default(),
                    classes: classes.iter().map(|class| class.id).collect(),
                    years,
                });
            }
            OfficialRole::Steward => {
                let sections: BTreeSet<String> =
                    classes.iter().filter_map(|class| class.section.clone()).collect();
                stewards.push(ShowSteward {
                    member: official.member_id,
                    name: official.name,
                    sections: sections.into_iter().collect(),
                });
            }
        }
    }
    Ok((judges, stewards))
}

/// Who lives with each member, as far as they are exhibitors of this show.
fn households(conn: &mut Conn, id: ShowId) -> Result<BTreeMap<MemberId, Vec<MemberId>>, Problem> {
    let mut by_word: BTreeMap<String, Vec<MemberId>> = BTreeMap::new();
    for exhibitor in entries::exhibitors(conn, id)? {
        if let (Some(word), Some(member)) = (exhibitor.household, exhibitor.member_id) {
            by_word.entry(word).or_default().push(member);
        }
    }
    let mut mates = BTreeMap::new();
    for members in by_word.into_values() {
        for member in &members {
            mates.insert(*member, members.iter().copied().filter(|other| other != member).collect());
        }
    }
    Ok(mates)
}

fn owners(conn: &mut Conn, id: ShowId) -> Result<Vec<EntryOwners>, Problem> {
    let members: BTreeMap<ExhibitorId, Option<MemberId>> =
        entries::exhibitors(conn, id)?.into_iter().map(|one| (one.id, one.member_id)).collect();
    Ok(entries::standing(conn, id)?
        .into_iter()
        .filter_map(|entry| {
            let number = u32::try_from(entry.number).ok()?;
            Some(EntryOwners {
                entry: EntryNumber::try_from(number).ok()?,
                class: entry.class_id,
                owners: members.get(&entry.exhibitor_id).copied().flatten().into_iter().collect(),
            })
        })
        .collect())
}

fn known(conn: &mut Conn, show: ShowId, id: OfficialId) -> Result<Official, Problem> {
    let found = shows::officials(conn, show)?.into_iter().find(|official| official.id == id);
    found.ok_or_else(|| Problem::not_found("judge or steward"))
}

/// The name as it is printed: what was said, or a member's own.
fn name_of(conn: &mut Conn, member: Option<MemberId>, said: Option<String>) -> Result<String, Problem> {
    let member =
        match member {
            Some(id) => Some(members::find(conn, id)?.ok_or_else(|| {
                Problem::field("/member_id", "not-found", "is not a member of this society")
            })?),
            None => None,
        };
    said.or(member.map(|member| member.name))
        .ok_or_else(|| Problem::field("/name", "required", "is required for a guest"))
}

/// The names of those in this role as everybody reads them: by initials where somebody is shielded.
pub(super) fn told_names(conn: &mut Conn, id: ShowId, role: OfficialRole) -> Result<Vec<String>, Problem> {
    let all: Vec<Official> =
        shows::officials(conn, id)?.into_iter().filter(|official| official.role == role).collect();
    let ids: Vec<MemberId> = all.iter().filter_map(|official| official.member_id).collect();
    let members = members::shielding(conn, &ids)?;
    let is_shielded = |official: &Official| {
        official.member_id.and_then(|id| members.get(&id)).is_some_and(|member| member.is_protected)
    };
    let told =
        |official: Official| if is_shielded(&official) { initials(&official.name) } else { official.name };
    Ok(all.into_iter().map(told).collect())
}

fn told(official: Official) -> Result<OfficialOut, Problem> {
    Ok(OfficialOut {
        id: official.id,
        show_id: official.show_id,
        role: official.role,
        member_id: official.member_id,
        name: official.name,
        classes: documents::part(&official.classes)?,
        version: official.version,
    })
}
