//! An exhibitor's own past: what was won, and how far the next level is.

use actix_web::{get, web};
use chrono::NaiveDate;
use serde::Serialize;
use storksbill_db::rows::entries::{self, Exhibitor};
use storksbill_db::rows::shows::Show;
use storksbill_db::rows::{judging, trophies};
use storksbill_domain::day::Day;
use storksbill_domain::ids::{ClubId, ShowId, TrophyId};
use storksbill_domain::shows::{
    Answer, HistoryCondition, LevelRule, PastResult, ScheduleClass, ShowSchedule,
};
use storksbill_domain::words::ResultState;
use utoipa::ToSchema;

use super::entry_dto::ClassNameOut;
use super::facts;
use super::find::name_of;
use super::result_dto::{PublishedLine, PublishedOut};
use super::{documents, visible_show};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// One of your exhibits of which something was said.
#[derive(Debug, Serialize, ToSchema)]
pub struct OwnLineOut {
    /// The number of its class.
    pub class_label: String,
    /// What the class asked for.
    pub class_title: String,
    /// How many were staged in it.
    pub staged: u32,
    /// The exhibit.
    #[serde(flatten)]
    pub line: PublishedLine,
}

/// What you won at a show.
#[derive(Debug, Serialize, ToSchema)]
pub struct OwnShowOut {
    /// The show.
    pub show_id: ShowId,
    /// Its name.
    pub name: String,
    /// Its day.
    pub held_on: NaiveDate,
    /// How firm its results are.
    pub state: ResultState,
    /// How many of your exhibits were staged.
    pub exhibits_staged: usize,
    /// Those of which something was said, class by class.
    pub lines: Vec<OwnLineOut>,
}

/// See what you won
///
/// Show by show, the latest first: your exhibits of which something was said, from results as they were given out last.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    params(Page),
    responses((status = 200, description = "Your shows with results", body = List<OwnShowOut>))
)]
#[get("/members/me/results")]
pub async fn my_results(auth: Auth, app: web::Data<App>, page: Page) -> Result<List<OwnShowOut>, Problem> {
    let after = page
        .after
        .clone()
        .map(|Place(day, id)| day.parse::<Day>().map(|day| (day.to_string(), id)))
        .transpose()
        .map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let found = app
        .db
        .read(move |conn| {
            let mut told = Vec::new();
            for (exhibitor, show) in entries::shows_with_results(conn, auth.member, after.as_ref(), limit)? {
                if let Some(row) = judging::last_results(conn, show.id)? {
                    let own = entries::of_exhibitors(conn, &[exhibitor.id])?;
                    told.push(own_show(&show, row.state, documents::part(&row.document)?, &own));
                }
            }
            Ok::<_, Problem>(told)
        })
        .await?;
    Ok(page.list(found, |row| Place(row.held_on.to_string(), row.show_id.to_string()), |row| row))
}

fn own_show(show: &Show, state: ResultState, results: PublishedOut, own: &[entries::Entry]) -> OwnShowOut {
    let mut lines = Vec::new();
    for class in results.classes {
        for line in class.lines {
            if own.iter().any(|entry| entry.number == line.entry) {
                lines.push(OwnLineOut {
                    class_label: class.label.clone(),
                    class_title: class.title.clone(),
                    staged: class.staged,
                    line,
                });
            }
        }
    }
    OwnShowOut {
        show_id: show.id,
        name: show.name.clone(),
        held_on: show.held_on,
        state,
        exhibits_staged: own.iter().filter(|entry| entry.staged_at.is_some()).count(),
        lines,
    }
}

/// A trophy that you won.
#[derive(Debug, Serialize, ToSchema)]
pub struct OwnTrophyOut {
    /// Which.
    pub trophy_id: TrophyId,
    /// Whose.
    pub club_id: ClubId,
    /// As printed.
    pub title: String,
    /// In which year.
    pub year: i32,
    /// When you signed for it.
    pub handed_over_on: Option<NaiveDate>,
    /// When it is wanted back.
    pub due_back_on: Option<NaiveDate>,
    /// When it came back.
    pub returned_on: Option<NaiveDate>,
}

/// See the trophies you won
///
/// The latest first, with the day on which one that you hold is due back.
#[utoipa::path(
    tag = "trophies",
    security(("session" = [])),
    responses((status = 200, description = "Your trophies", body = Vec<OwnTrophyOut>))
)]
#[get("/members/me/trophies")]
pub async fn my_trophies(auth: Auth, app: web::Data<App>) -> Result<Reply, Problem> {
    app.db
        .read(move |conn| {
            let told: Vec<OwnTrophyOut> = trophies::awards_of_member(conn, auth.member)?
                .into_iter()
                .map(|(trophy, award)| OwnTrophyOut {
                    trophy_id: trophy.id,
                    club_id: trophy.club_id,
                    title: trophy.title,
                    year: award.year,
                    handed_over_on: award.handed_over_on,
                    due_back_on: award.due_back_on,
                    returned_on: award.returned_on,
                })
                .collect();
            Reply::ok(&told)
        })
        .await
}

/// Where you stand to one condition of a level.
#[derive(Debug, Serialize, ToSchema)]
pub struct LevelConditionOut {
    /// What is counted, and within which bounds.
    pub condition: HistoryCondition,
    /// So many of your results count.
    pub have: u32,
    /// So many more there may be before you have outgrown the level; none where it has no upper bound.
    pub left: Option<u32>,
    /// So many are still wanted before you are of the level.
    pub wanted: u32,
    /// Whether it holds.
    pub holds: bool,
}

/// A level of a show's classes, and where you stand to it.
#[derive(Debug, Serialize, ToSchema)]
pub struct LevelOut {
    /// As printed: `novice`.
    pub level: String,
    /// Your past up to this day counts.
    pub looked_at_on: NaiveDate,
    /// Whether you are of it; `depends` while results at other shows are not declared.
    pub answer: Answer,
    /// Every condition.
    pub conditions: Vec<LevelConditionOut>,
    /// The classes confined to it.
    pub classes: Vec<ClassNameOut>,
}

/// See your levels at a show
///
/// Each level that classes of the show are confined to: whether you are of it, what counts, and how many results are
/// left before you have outgrown it or wanted before you reach it. Declare results at other shows with your record as an
/// exhibitor.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 200, description = "Levels, in the order in which the schedule names them", body = Vec<LevelOut>),
        (status = 409, description = "Its schedule is not published yet", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[get("/shows/{show_id}/my-levels")]
pub async fn my_levels(auth: Auth, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let now = app.clock.now();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, Some(&auth), id)?;
            let (_, mut schedule) = documents::in_force(conn, &show)?;
            let exhibitor = match entries::exhibitor_of(conn, id, auth.member)? {
                Some(exhibitor) => exhibitor,
                None => facts::newcomer(&show, auth.member, String::new()),
            };
            let history = facts::past(conn, &show, &exhibitor)?;
            let today = now.with_timezone(&documents::zone(&show)?).date_naive();
            schedule.classes.sort_by(ScheduleClass::printed_order);
            let mut levels: Vec<(&LevelRule, Vec<ClassNameOut>)> = Vec::new();
            for class in &schedule.classes {
                let Some(level) = &class.rules.entrants.level else { continue };
                match levels.iter_mut().find(|(known, _)| *known == level) {
                    Some((_, classes)) => classes.push(name_of(class)),
                    None => levels.push((level, vec![name_of(class)])),
                }
            }
            let told: Vec<LevelOut> = levels
                .into_iter()
                .map(|(level, classes)| standing(level, classes, &schedule, &exhibitor, &history, today))
                .collect();
            Reply::ok(&told)
        })
        .await
}

fn standing(
    level: &LevelRule,
    classes: Vec<ClassNameOut>,
    schedule: &ShowSchedule,
    exhibitor: &Exhibitor,
    history: &[PastResult],
    today: NaiveDate,
) -> LevelOut {
    let on = level.looked_at_on(facts::season(schedule), today, schedule.held_on);
    let judgement = level.judge(history, on, exhibitor.outside_declared);
    let answer = match (judgement.failing.is_empty(), judgement.is_open) {
        (false, _) => Answer::No,
        (true, true) => Answer::Depends,
        (true, false) => Answer::Yes,
    };
    let conditions = level
        .conditions
        .iter()
        .zip(level.standings(history, on))
        .map(|(condition, standing)| LevelConditionOut {
            condition: condition.clone(),
            have: standing.have,
            left: standing.left(),
            wanted: standing.at_least.unwrap_or(0).saturating_sub(standing.have),
            holds: standing.holds(),
        })
        .collect();
    LevelOut { level: level.name.clone(), looked_at_on: on, answer, conditions, classes }
}
