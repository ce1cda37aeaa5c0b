//! Judging: judges see classes and numbers, never names; what they say is kept in every version.

use std::collections::BTreeMap;

use actix_web::{get, put, web};
use storksbill_db::Conn;
use storksbill_db::rows::entries::{self, Entry};
use storksbill_db::rows::judging::{self as rows, Choice, Judgment};
use storksbill_db::rows::shows::Show;
use storksbill_domain::ids::{ClassId, ShowId};
use storksbill_domain::policy::Actor;
use storksbill_domain::shows::{ClassJudgment, EntryNumber, FindingWeight, ScheduleClass, TrophyChoice};
use storksbill_domain::words::{EntryState, OfficialRole, ShowState};

use super::day::Hands;
use super::find::{name_of, own_name};
use super::publish::note;
use super::reckoning::Day;
use super::result_dto::{ChoiceIn, JudgingOut, JudgmentIn, JudgmentOut};
use super::{documents, show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::{Auth, Officer};
use crate::http::etag::{IfMatch, check_put};
use crate::http::json::{Findings, Valid};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// See what there is to judge
///
/// The classes that you judge, in the order of their numbers, with the numbers of their staged exhibits and what was
/// said last. No names. Officers of the club see every class.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "Classes to judge", body = Vec<JudgingOut>))
)]
#[get("/shows/{show_id}/judging")]
pub async fn sheets(auth: Auth, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let (_, schedule) = documents::in_force(conn, &show)?;
            let mut classes: Vec<&ScheduleClass> = schedule.classes.iter().collect();
            classes.sort_by(|a, b| a.printed_order(b));
            let mut staged: BTreeMap<ClassId, Vec<EntryNumber>> = BTreeMap::new();
            for entry in entries::of_show(conn, id)? {
                if let Some(number) = staged_number(&entry) {
                    staged.entry(entry.class_id).or_default().push(number);
                }
            }
            let last: BTreeMap<ClassId, Judgment> =
                rows::judgments(conn, id)?.into_iter().map(|row| (row.class_id, row)).collect();
            let hands = Hands::of(conn, &auth, &show, OfficialRole::Judge)?;
            let mut sheets = Vec::new();
            for class in classes.into_iter().filter(|class| hands.hold(class)) {
                sheets.push(JudgingOut {
                    class: name_of(class),
                    staged: staged.remove(&class.id).unwrap_or_default(),
                    judgment: last.get(&class.id).map(|row| told(row.clone())).transpose()?,
                });
            }
            Reply::ok(&sheets)
        })
        .await
}

/// Say what was judged of a class
///
/// Places, commendations, what is not as schedule and why: the judge of the class, or an officer of the club who keys
/// the sheet. The first time without `If-Match`; a correction with the `ETag` you read and a reason: every version is
/// kept. Nobody judges a class with an exhibit of their own in it.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = JudgmentIn,
    params(("If-Match" = Option<String>, Header, description = "The version you read, for a correction")),
    responses(
        (status = 200, description = "Corrected", body = JudgmentOut),
        (status = 201, description = "Said", body = JudgmentOut),
        (status = 409, description = "There is nothing to judge now", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/shows/{show_id}/judging/{class_id}")]
pub async fn say(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(ShowId, ClassId)>,
    if_match: Option<IfMatch>,
    body: Valid<JudgmentIn>,
) -> Result<Reply, Problem> {
    let (id, class_id) = path.into_inner();
    let now = app.clock.now();
    let said = body.value;
    app.db
        .write(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let (_, schedule) = documents::in_force(conn, &show)?;
            let class = documents::class(&schedule, class_id)?;
            if !Hands::of(conn, &auth, &show, OfficialRole::Judge)?.hold(class) {
                return Err(Problem::new(
                    Code::NotAllowed,
                    "Only judges of the class and officers of the club.",
                ));
            }
            if !matches!(show.state, ShowState::Published | ShowState::Provisional) {
                return Err(Problem::new(
                    Code::WrongState,
                    "There is nothing to judge: the show is not open.",
                ));
            }
            let before = rows::of_class(conn, id, class_id)?.pop();
            check_put(if_match.as_ref(), before.as_ref().map(|row| row.version), "judgment")?;
            if before.is_some() && said.reason.is_none() {
                return Err(Problem::field("/reason", "required", "is required for a correction"));
            }
            let in_class: Vec<Entry> =
                entries::standing(conn, id)?.into_iter().filter(|entry| entry.class_id == class_id).collect();
            own_exhibit(conn, &auth, &show, &in_class)?;
            let mut found = Findings::default();
            for (at, judged) in said.judged.iter().enumerate() {
                let known = in_class.iter().find(|entry| entry.number == i64::from(judged.entry.get()));
                let pointer = format!("/judged/{at}/entry");
                match known {
                    None => found.add(&pointer, "not-found", "is not the number of an exhibit of this class"),
                    Some(entry) if entry.staged_at.is_none() => {
                        found.add(&pointer, "not-staged", "is the number of an exhibit that was not staged");
                    }
                    Some(_) => {}
                }
            }
            found.into_result()?;
            let judge = match &said.judge {
                Some(judge) => judge.clone(),
                None => own_name(conn, &auth)?,
            };
            let document = ClassJudgment {
                class: class_id,
                judged: said.judged.clone(),
                equal: said.equal.clone(),
                withheld: said.withheld.clone(),
            };
            let row = Judgment {
                show_id: id,
                class_id,
                version: before.as_ref().map_or(1, |row| row.version + 1),
                document: documents::written(&document)?,
                remark: said.remark.clone(),
                reason: said.reason.clone().filter(|_| before.is_some()),
                judge,
                signed_off: said.signed_off,
                entered_by: auth.member,
                entered_at: now.naive_utc(),
            };
            rows::insert(conn, &row)?;
            let words = match &row.reason {
                Some(reason) => format!("Class {} corrected: {reason}", class.label),
                None => format!("Class {} judged by {}.", class.label, row.judge),
            };
            let subject = Some(class_id.to_string());
            note(conn, id, Some(auth.member), "judged", subject, &words, now.naive_utc())?;
            let version = row.version;
            if version == 1 {
                let address = format!("{}/judging/{class_id}/versions", documents::address(id));
                Reply::created(address, version, &told(row)?)
            } else {
                Reply::versioned(version, &told(row)?)
            }
        })
        .await
}

/// See what was said of a class, every time
///
/// The judge of the class, and officers of the club.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses((status = 200, description = "Every version, the first one first", body = Vec<JudgmentOut>))
)]
#[get("/shows/{show_id}/judging/{class_id}/versions")]
pub async fn versions(
    auth: Auth,
    app: web::Data<App>,
    path: web::Path<(ShowId, ClassId)>,
) -> Result<Reply, Problem> {
    let (id, class_id) = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let (_, schedule) = documents::in_force(conn, &show)?;
            let class = documents::class(&schedule, class_id)?;
            if !Hands::of(conn, &auth, &show, OfficialRole::Judge)?.hold(class) {
                return Err(Problem::not_found("class to judge"));
            }
            let all = rows::of_class(conn, id, class_id)?;
            Reply::ok(&all.into_iter().map(told).collect::<Result<Vec<_>, _>>()?)
        })
        .await
}

/// Say what was chosen for a trophy
///
/// The best exhibit, the winner among equals, or that it is withheld: officers of the club, with who chose, when the
/// classes are judged. What is not in the running is refused at once. Every version is kept; the last one counts.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ChoiceIn,
    responses(
        (status = 204, description = "Kept"),
        (status = 409, description = "The show is not being judged", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[put("/shows/{show_id}/choices/{trophy_key}")]
pub async fn choose(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<(ShowId, String)>,
    body: Valid<ChoiceIn>,
) -> Result<Reply, Problem> {
    let (id, key) = path.into_inner();
    let now = app.clock.now();
    let ChoiceIn { choice, judge } = body.value;
    app.db
        .write(move |conn| {
            let show = show_in_charge_of(conn, &officer, id)?;
            if !matches!(show.state, ShowState::Published | ShowState::Provisional) {
                return Err(Problem::new(Code::WrongState, "The show is not being judged."));
            }
            let (_, schedule) = documents::in_force(conn, &show)?;
            let known = schedule.trophies.iter().any(|trophy| trophy.key == key);
            if !known {
                return Err(Problem::not_found("trophy"));
            }
            let chosen = TrophyChoice { trophy: key.clone(), choice };
            let day = Day::load(conn, &show)?.chosen(chosen.clone());
            let wrong = day.results().findings.into_iter().filter(|finding| {
                finding.weight == FindingWeight::Error && finding.trophy.as_ref() == Some(&key)
            });
            let mut found = Findings::default();
            for finding in wrong {
                found.add("/choice", finding.code.as_str(), finding.detail);
            }
            found.into_result()?;
            let before = rows::choices(conn, id)?.into_iter().filter(|row| row.trophy_key == key).count();
            let row = Choice {
                show_id: id,
                trophy_key: key.clone(),
                version: i32::try_from(before).unwrap_or(i32::MAX).saturating_add(1),
                document: documents::written(&chosen)?,
                judge: judge.clone(),
                entered_by: officer.member,
                entered_at: now.naive_utc(),
            };
            rows::insert_choice(conn, &row)?;
            let words = format!("Chosen by {judge}.");
            note(conn, id, Some(officer.member), "chosen", Some(key.clone()), &words, now.naive_utc())?;
            Ok(Reply::no_content())
        })
        .await
}

/// Refuses a judge with an exhibit of their own, or of their household, in the class. Officers who key a sheet are not
/// its judges.
fn own_exhibit(conn: &mut Conn, actor: &Actor, show: &Show, in_class: &[Entry]) -> Result<(), Problem> {
    if actor.acts_for(show.club_id) {
        return Ok(());
    }
    let exhibitors = entries::exhibitors(conn, show.id)?;
    let Some(own) = exhibitors.iter().find(|one| one.member_id == Some(actor.member)) else { return Ok(()) };
    let ours = exhibitors
        .iter()
        .filter(|one| one.id == own.id || (own.household.is_some() && one.household == own.household));
    let ours: Vec<_> = ours.map(|one| one.id).collect();
    if in_class.iter().any(|entry| ours.contains(&entry.exhibitor_id)) {
        return Err(Problem::new(
            Code::NotAllowed,
            "An exhibit of your own or of your household stands in this class; another judge is needed.",
        ));
    }
    Ok(())
}

pub(super) fn staged_number(entry: &Entry) -> Option<EntryNumber> {
    let number = u32::try_from(entry.number).ok()?;
    let stands = entry.state == EntryState::Entered && entry.staged_at.is_some();
    EntryNumber::try_from(number).ok().filter(|_| stands)
}

fn told(row: Judgment) -> Result<JudgmentOut, Problem> {
    let ClassJudgment { judged, equal, withheld, .. } = documents::part(&row.document)?;
    Ok(JudgmentOut {
        show_id: row.show_id,
        class_id: row.class_id,
        version: row.version,
        judged,
        equal,
        withheld,
        remark: row.remark,
        reason: row.reason,
        judge: row.judge,
        signed_off: row.signed_off,
        entered_by: row.entered_by,
        entered_at: row.entered_at.and_utc(),
    })
}
