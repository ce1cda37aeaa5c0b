//! See notices.

use actix_web::{get, web};
use chrono::NaiveDate;
use serde::Deserialize;
use storksbill_db::rows::notices::{self, Filter, Notice};
use utoipa::IntoParams;

use super::dto::NoticeOut;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use storksbill_domain::day::Day;

/// Which notices.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct NoticeSearch {
    /// Only those about this day or one before it.
    pub due_by: Option<Day>,
    /// Only those that are done, or are not; both when not given.
    pub done: Option<bool>,
}

/// List your notices
///
/// By the day they are about.
#[utoipa::path(
    tag = "notices",
    security(("session" = [])),
    params(NoticeSearch, Page),
    responses((status = 200, description = "Your notices by day", body = List<NoticeOut>))
)]
#[get("/notices")]
pub async fn list(
    auth: Auth,
    app: web::Data<App>,
    search: web::Query<NoticeSearch>,
    page: Page,
) -> Result<List<NoticeOut>, Problem> {
    let after = page
        .after
        .clone()
        .map(|Place(day, id)| day.parse::<Day>().map(|day| (day.into(), id)))
        .transpose()
        .map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let filter = Filter { due_by: search.due_by.map(NaiveDate::from), done: search.done };
    let own = app
        .db
        .read(move |conn| {
            Ok::<_, Problem>(notices::own_page(conn, auth.member, filter, after.as_ref(), limit)?)
        })
        .await?;
    let place = |notice: &Notice| Place(notice.due_on.to_string(), notice.id.to_string());
    Ok(page.list(own, place, NoticeOut::of))
}
