//! See shows: the published ones are open to everybody.

use actix_web::{get, web};
use chrono::NaiveDate;
use serde::Deserialize;
use storksbill_db::rows::shows::{self, Drafts, Show, Wanted};
use storksbill_domain::day::Day;
use storksbill_domain::ids::{ClubId, ShowId};
use storksbill_domain::words::ClubRole;
use utoipa::IntoParams;

use super::dto::ShowOut;
use super::visible_show;
use crate::app::App;
use crate::http::auth::{Auth, MaybeAuth};
use crate::http::page::{List, Page, Place};
use crate::http::problem::{Code, Problem};
use crate::http::reply::Reply;

/// Which shows to list.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct ShowSearch {
    /// Those of one club.
    pub club_id: Option<ClubId>,
    /// Held on this day or later.
    pub from: Option<Day>,
    /// Held on this day or earlier.
    pub to: Option<Day>,
}

/// List shows
///
/// By day. Everybody sees the published ones, with or without a log-in; who acts for a club sees its drafts
/// too.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    params(ShowSearch, Page),
    responses((status = 200, description = "Shows by day", body = List<ShowOut>))
)]
#[get("/shows")]
pub async fn list(
    asker: MaybeAuth,
    app: web::Data<App>,
    search: web::Query<ShowSearch>,
    page: Page,
) -> Result<List<ShowOut>, Problem> {
    let after = page
        .after
        .clone()
        .map(|Place(day, id)| day.parse::<Day>().map(|day| (day.into(), id)))
        .transpose()
        .map_err(|_other_list| Problem::new(Code::BadCursor, "This cursor belongs to another list."))?;
    let limit = page.probe();
    let drafts = drafts_of(asker.0.as_ref());
    let ShowSearch { club_id: club, from, to } = search.into_inner();
    let wanted = Wanted { club, from: from.map(NaiveDate::from), to: to.map(NaiveDate::from) };
    let found = app
        .db
        .read(move |conn| Ok::<_, Problem>(shows::visible_to(conn, drafts, &wanted, after.as_ref(), limit)?))
        .await?;
    Ok(page.list(found, |show: &Show| Place(show.held_on.to_string(), show.id.to_string()), ShowOut::of))
}

fn drafts_of(asker: Option<&Auth>) -> Drafts {
    match asker {
        None => Drafts::Of(Vec::new()),
        Some(auth) if auth.is_administrator() => Drafts::All,
        Some(auth) => Drafts::Of(
            auth.clubs
                .iter()
                .filter(|(_, role)| *role == ClubRole::Secretary)
                .map(|(club, _)| *club)
                .collect(),
        ),
    }
}

/// See a show
///
/// A published one, or a draft of a club that you act for.
#[utoipa::path(
    tag = "shows",
    security((), ("session" = [])),
    responses((status = 200, description = "The show", body = ShowOut, headers(("ETag" = String, description = "The version"))))
)]
#[get("/shows/{show_id}")]
pub async fn one(asker: MaybeAuth, app: web::Data<App>, path: web::Path<ShowId>) -> Result<Reply, Problem> {
    let id = path.into_inner();
    let show = app.db.glance(move |conn| visible_show(conn, asker.0.as_deref(), id)).await?;
    let version = show.version;
    Reply::versioned(version, &ShowOut::of(show))
}
