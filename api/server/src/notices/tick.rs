//! Say that a notice was seen, or that what it asks for is done.

use actix_web::{post, web};
use storksbill_db::rows::notices::{self, Notice};
use storksbill_domain::ids::{MemberId, NoticeId};

use super::dto::NoticeOut;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// Say that you have seen a notice
///
/// One of your own. Repeating it changes nothing.
#[utoipa::path(
    tag = "notices",
    security(("session" = [])),
    responses((status = 200, description = "The notice as it is now", body = NoticeOut))
)]
#[post("/notices/{notice_id}/seen")]
pub async fn seen(auth: Auth, app: web::Data<App>, path: web::Path<NoticeId>) -> Result<Reply, Problem> {
    let now = app.clock.now().naive_utc();
    let mark = move |notice: &mut Notice| {
        notice.seen_at.get_or_insert(now);
    };
    ticked(&app, auth.member, path.into_inner(), mark).await
}

/// Say that a notice is done
///
/// One of your own; it counts as seen too. Repeating it changes nothing.
#[utoipa::path(
    tag = "notices",
    security(("session" = [])),
    responses((status = 200, description = "The notice as it is now", body = NoticeOut))
)]
#[post("/notices/{notice_id}/done")]
pub async fn done(auth: Auth, app: web::Data<App>, path: web::Path<NoticeId>) -> Result<Reply, Problem> {
    let now = app.clock.now().naive_utc();
    let mark = move |notice: &mut Notice| {
        notice.seen_at.get_or_insert(now);
        notice.done_at.get_or_insert(now);
    };
    ticked(&app, auth.member, path.into_inner(), mark).await
}

async fn ticked(
    app: &App,
    member: MemberId,
    id: NoticeId,
    mark: impl Fn(&mut Notice) + Send + 'static,
) -> Result<Reply, Problem> {
    app.db
        .write(move |conn| {
            let mut notice = notices::own(conn, member, id)?.ok_or_else(|| Problem::not_found("notice"))?;
            let before = notice.clone();
            mark(&mut notice);
            if notice != before {
                notices::update(conn, &notice)?;
            }
            Reply::ok(&NoticeOut::of(notice))
        })
        .await
}
