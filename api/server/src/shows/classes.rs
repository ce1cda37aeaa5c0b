//! See the classes of a schedule.

use actix_web::{get, web};
use storksbill_db::Conn;
use storksbill_db::rows::shows::Show;
use storksbill_domain::ids::{ClassId, ShowId};
use storksbill_domain::shows::ScheduleClass;
use storksbill_domain::shows::ShowSchedule;

use super::schedule_dto::ClassOut;
use super::{documents, visible_show};
use crate::app::App;
use crate::http::auth::MaybeAuth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List classes
///
/// Of the version of the schedule in force, in the order of their numbers; of the draft before the first version, for
/// those who act for the club.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    params(Page),
    responses((status = 200, description = "Classes as schedules print them", body = List<ClassOut>))
)]
#[get("/shows/{show_id}/classes")]
pub async fn list(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    page: Page,
) -> Result<List<ClassOut>, Problem> {
    let id = path.into_inner();
    let wanted = page.clone();
    let found = app
        .db
        .read(move |conn| {
            let show = visible_show(conn, asker.0.as_deref(), id)?;
            let mut classes = schedule_of(conn, &show)?.classes;
            classes.sort_by(ScheduleClass::printed_order);
            if let Some(Place(_, after)) = &wanted.after {
                let after: ClassId = after.parse().map_err(|_other| {
                    Problem::new(Code::BadCursor, "This cursor belongs to another list.")
                })?;
                let passed = classes.iter().position(|class| class.id == after).map_or(0, |at| at + 1);
                classes.drain(..passed);
            }
            classes.truncate(usize::try_from(wanted.probe()).unwrap_or(usize::MAX));
            let told = classes.into_iter().map(|class| ClassOut::of(id, show.schedule_number, class));
            Ok::<_, Problem>(told.collect())
        })
        .await?;
    Ok(page.list(
        found,
        |class: &ClassOut| Place(class.label.to_string(), class.id.to_string()),
        |class| class,
    ))
}

/// See a class
///
/// Of the version of the schedule in force.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    responses((status = 200, description = "The class", body = ClassOut))
)]
#[get("/shows/{show_id}/classes/{class_id}")]
pub async fn one(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<(ShowId, ClassId)>,
) -> Result<Reply, Problem> {
    let (id, class_id) = path.into_inner();
    app.db
        .read(move |conn| {
            let show = visible_show(conn, asker.0.as_deref(), id)?;
            let schedule = schedule_of(conn, &show)?;
            let class = documents::class(&schedule, class_id)?.clone();
            Reply::ok(&ClassOut::of(id, show.schedule_number, class))
        })
        .await
}

/// The version in force; the draft before there is one, which officers of the club alone can ask after.
fn schedule_of(conn: &mut Conn, show: &Show) -> Result<ShowSchedule, Problem> {
    if show.schedule_number == 0 {
        documents::read(&show.draft)
    } else {
        Ok(documents::in_force(conn, show)?.1)
    }
}
