//! The classes of a show.

use actix_web::{HttpRequest, delete, get, patch, post, web};
use storksbill_db::rows::shows::{self, Class};
use storksbill_db::{Conn, DbError};
use storksbill_domain::ids::{ClassId, ShowId};
use storksbill_domain::names;
use storksbill_domain::policy::Actor;
use storksbill_domain::shows::ClassLabel;
use storksbill_domain::words::ShowState;

use super::dto::{ClassIn, ClassOut, ClassPatch, micrometres};
use super::{schedule_stands, show_in_charge_of, visible_show};
use crate::app::App;
use crate::http::auth::{MaybeAuth, Officer};
use crate::http::etag::IfMatch;
use crate::http::json::Valid;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// List a show's classes
///
/// In the order of a printed schedule: by the letters before the number, the number, the letters after it, none
/// first.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    params(Page),
    responses((status = 200, description = "Classes in the order of the schedule", body = List<ClassOut>))
)]
#[get("/shows/{show_id}/classes")]
pub async fn list(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    page: Page,
) -> Result<List<ClassOut>, Problem> {
    let id = path.into_inner();
    let after = page.after.clone().map(|Place(key, id)| (key, id));
    let limit = page.probe();
    let classes = app
        .db
        .read(move |conn| {
            visible_show(conn, asker.0.as_deref(), id)?;
            Ok::<_, Problem>(shows::classes_page(conn, id, &after, limit)?)
        })
        .await?;
    Ok(page.list(classes, |class| Place(class.label_key.clone(), class.id.to_string()), ClassOut::of))
}

/// See a class
///
/// Of a published show, or of a draft of a club that you act for.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    responses((status = 200, description = "The class", body = ClassOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/classes/{class_id}")]
pub async fn one(
    asker: MaybeAuth,
    app: web::Data<App>,
    path: web::Path<ClassId>,
    request: HttpRequest,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let class = app
        .db
        .glance(move |conn| {
            let class = shows::class(conn, id)?.ok_or_else(|| Problem::not_found("class"))?;
            visible_show(conn, asker.0.as_deref(), class.show_id)
                .map_err(|_hidden| Problem::not_found("class"))?;
            Ok::<_, Problem>(class)
        })
        .await?;
    let version = class.version;
    Ok(Reply::versioned(version, &ClassOut::of(class))?.unless_known(&request, version))
}

/// Enter a class
///
/// Of a draft; the club's secretary or an administrator.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ClassIn,
    params(("Idempotency-Key" = Option<String>, Header, description = "Makes a repeat of this request safe")),
    responses((status = 201, description = "Entered", body = ClassOut))
)]
#[post("/shows/{show_id}/classes")]
pub async fn create(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ShowId>,
    body: Valid<ClassIn>,
) -> Result<Reply, Problem> {
    let show_id = path.into_inner();
    let ticket = body.ticket;
    let now = app.clock.now();
    let ClassIn { label, title, requirements, plant_group, max_pot_mm } = body.value;
    let (label, label_key) = printed(&label)?;
    let class = Class {
        id: ClassId::fresh(),
        show_id,
        label,
        label_key,
        title: names::tidy(&title),
        requirements,
        plant_group,
        max_pot_um: max_pot_mm.map(micrometres),
        version: 1,
        created_at: now.naive_utc(),
    };
    app.db
        .write(move |conn| {
            ticket.once(conn, officer.member, now, |conn| {
                own_draft(conn, &officer, show_id)?;
                shows::insert_class(conn, &class).map_err(taken)?;
                Reply::created(format!("/api/v1/classes/{}", class.id), 1, &ClassOut::of(class.clone()))
            })
        })
        .await
}

/// Change a class
///
/// Of a draft; the club's secretary or an administrator. What you do not mention stays; null clears.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    request_body = ClassPatch,
    params(("If-Match" = String, Header, description = "The ETag you read")),
    responses((status = 200, description = "Changed", body = ClassOut))
)]
#[patch("/classes/{class_id}")]
pub async fn change(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ClassId>,
    if_match: IfMatch,
    body: Valid<ClassPatch>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let patch = body.value;
    app.db
        .write(move |conn| {
            let mut class = class_of_own_draft(conn, &officer, id)?;
            if_match.check(class.version)?;
            if let Some(label) = patch.label.value() {
                (class.label, class.label_key) = printed(label)?;
            }
            if let Some(title) = patch.title.value() {
                class.title = names::tidy(title);
            }
            patch.requirements.clone().apply(&mut class.requirements);
            patch.plant_group.clone().apply(&mut class.plant_group);
            patch.max_pot_mm.clone().map(micrometres).apply(&mut class.max_pot_um);
            class.version += 1;
            shows::update_class(conn, &class).map_err(taken)?;
            Reply::versioned(class.version, &ClassOut::of(class))
        })
        .await
}

/// Take a class out
///
/// Of a draft; the club's secretary or an administrator.
#[utoipa::path(
    tag = "shows",
    security(("session" = [])),
    responses(
        (status = 204, description = "Taken out"),
        (status = 409, description = "The show is published", body = crate::http::problem::ProblemOut, content_type = "application/problem+json"),
    )
)]
#[delete("/classes/{class_id}")]
pub async fn remove(
    officer: Officer,
    app: web::Data<App>,
    path: web::Path<ClassId>,
) -> Result<Reply, Problem> {
    let id = path.into_inner();
    app.db
        .write(move |conn| {
            class_of_own_draft(conn, &officer, id)?;
            shows::delete_class(conn, id)?;
            Ok(Reply::no_content())
        })
        .await
}

fn own_draft(conn: &mut Conn, actor: &Actor, id: ShowId) -> Result<(), Problem> {
    match show_in_charge_of(conn, actor, id)?.state {
        ShowState::Draft => Ok(()),
        ShowState::Published => Err(schedule_stands("its classes")),
    }
}

fn class_of_own_draft(conn: &mut Conn, actor: &Actor, id: ClassId) -> Result<Class, Problem> {
    let class = shows::class(conn, id)?.ok_or_else(|| Problem::not_found("class"))?;
    own_draft(conn, actor, class.show_id).map_err(|problem| match problem.code {
        Code::NotFound => Problem::not_found("class"),
        _ => problem,
    })?;
    Ok(class)
}

/// The label as it is printed and as it is sorted.
fn printed(label: &str) -> Result<(String, String), Problem> {
    let label: ClassLabel =
        label.parse().map_err(|why| Problem::field("/label", "not-a-class-number", format!("is {why}")))?;
    Ok((label.to_string(), label.sort_key()))
}

fn taken(error: DbError) -> Problem {
    let taken = Problem::new(Code::Taken, "Another class of this show has this number.").at(
        "/label",
        "taken",
        "is another class's number",
    );
    Problem::from(error).on_constraint("show_classes_show_id_label_key", taken)
}
