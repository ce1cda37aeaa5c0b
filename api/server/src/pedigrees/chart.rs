//! A cultivar's ancestors, drawn.

use actix_web::http::header::{CACHE_CONTROL, CONTENT_SECURITY_POLICY, CONTENT_TYPE, X_CONTENT_TYPE_OPTIONS};
use actix_web::{HttpResponse, get, web};
use serde::Deserialize;
use storksbill_db::rows::cultivars;
use storksbill_domain::ids::CultivarId;
use utoipa::{IntoParams, ToSchema};

use super::lines::Lines;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};

/// Columns of a chart: the cultivar itself and four generations of parents.
const USUAL_COLUMNS: usize = 5;
/// Most columns: more do not fit a sheet.
const MOST_COLUMNS: usize = 7;

/// As what it is sent.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum As {
    /// A picture.
    #[default]
    Svg,
    /// One plant a line, indented: for screen readers and for those who would rather read.
    Outline,
}

/// How a chart is drawn.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct How {
    /// Generations, the cultivar itself among them, 2 to 7; 5 when not given.
    #[param(minimum = 2, maximum = 7)]
    generations: Option<usize>,
    /// `svg` or `outline`; a picture when not given.
    #[serde(default, rename = "as")]
    #[param(rename = "as", required = false)]
    form: As,
}

/// See a cultivar's ancestors drawn
///
/// The seed parent above, the pollen parent below; a sport hangs by a broken line from what it sported from; an
/// ancestor that stands in several places bears one number in all of them; inbreeding is told in words.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(How),
    responses((status = 200, description = "The chart", content(
        (String = "image/svg+xml"),
        (String = "text/plain"),
    )))
)]
#[get("/pedigrees/{cultivar_id}/chart")]
pub async fn chart(
    _auth: Auth,
    app: web::Data<App>,
    path: web::Path<CultivarId>,
    how: web::Query<How>,
) -> Result<HttpResponse, Problem> {
    let id = path.into_inner();
    let columns = how.generations.unwrap_or(USUAL_COLUMNS);
    if !(2..=MOST_COLUMNS).contains(&columns) {
        let detail = format!("must be from 2 to {MOST_COLUMNS}");
        let problem = Problem::new(Code::InvalidQuery, format!("generations {detail}."));
        return Err(problem.at("generations", "out-of-range", detail));
    }
    let drawing = app
        .db
        .read(move |conn| Lines::of(cultivars::with_ancestors(conn, id, id)?)?.drawn(id, columns))
        .await?;
    let (kind, body) = match how.form {
        As::Svg => ("image/svg+xml", drawing.svg),
        As::Outline => ("text/plain; charset=utf-8", drawing.outline),
    };
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, kind))
        .insert_header((X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .insert_header((CONTENT_SECURITY_POLICY, "default-src 'none'; style-src 'unsafe-inline'"))
        .insert_header((CACHE_CONTROL, "private, no-cache"))
        .body(body))
}
