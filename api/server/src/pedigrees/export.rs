//! Everybody's pedigree as a table, as lines of JSON, and as a graph; as far as the asker may see it.
//!
//! Parents stand before their children. Cost: one reading of the cultivars and seedlings, a walk over everybody.

use std::collections::HashMap;

use actix_web::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::{HttpResponse, get, web};
use serde::Deserialize;
use storksbill_db::Conn;
use storksbill_db::rows::crosses::{self, Seedling};
use storksbill_db::rows::cultivars::{self, Cultivar};
use storksbill_domain::ids::IndividualId;
use storksbill_domain::policy::Actor;
use storksbill_domain::words::IndividualKind;
use storksbill_pedigree::drawing::dot;
use utoipa::IntoParams;

use super::Pedigrees;
use super::asker::Asker;
use super::chart::{As, Drawn, not_drawn, sent};
use super::line::{COLUMNS, Kept, PedigreeLineOut};
use super::order::generations;
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::{Code, Problem};
use crate::tables::{download, sheet};

/// Which plants.
#[derive(Debug, Clone, Copy, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct Exported {
    /// Only cultivars, or only numbered seedlings; both when not given.
    kind: Option<IndividualKind>,
}

/// Export the pedigree as a table
///
/// Cultivars and numbered seedlings that you may see, as CSV (RFC 4180), one a line, parents before their children.
/// With `kind=cultivar` the table can be sent to `POST /api/v1/cultivars/import` as it is.
///
/// `parents_from` is `record` where the plant's own record tells its origin, and `cross` where the cross tells it
/// that its seedling was raised from. A parent on record that its owner has not released to you is left blank, and
/// `undisclosed` names its column; several are parted by blanks. `pollen_candidates` holds all that may have given
/// the pollen, each with its share in thousandths, as `id=600; ?=400`, where `?` is a plant that nobody knows. A
/// gamete is its form with what is stated of it: `stated sets=3 lambda=0.1`. `inbreeding` counts everybody on
/// record, shown to you or not. Cells that a spreadsheet would run as a formula start with an apostrophe; the
/// import takes it off again.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(Exported),
    responses((status = 200, description = "The pedigree", body = String, content_type = "text/csv"))
)]
#[get("/pedigrees/export.csv")]
pub async fn table(
    auth: Auth,
    app: web::Data<App>,
    exported: web::Query<Exported>,
) -> Result<HttpResponse, Problem> {
    let pedigrees = app.pedigrees.clone();
    let csv = app
        .db
        .read(move |conn| {
            let all = everybody(conn, &auth, &pedigrees, exported.kind)?;
            sheet::write(&COLUMNS, all.into_iter().map(PedigreeLineOut::cells))
        })
        .await?;
    Ok(download("pedigree.csv", csv))
}

/// Export the pedigree as lines of JSON
///
/// Cultivars and numbered seedlings that you may see, one JSON object a line, parents before their children, with
/// all that is on record of them. Every line has the version of its schema, so that lines can be parted and put
/// together.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    params(Exported),
    responses((status = 200, description = "Of each line", body = PedigreeLineOut, content_type = "application/jsonl"))
)]
#[get("/pedigrees/export.jsonl")]
pub async fn lines(
    auth: Auth,
    app: web::Data<App>,
    exported: web::Query<Exported>,
) -> Result<HttpResponse, Problem> {
    let pedigrees = app.pedigrees.clone();
    let body = app
        .db
        .read(move |conn| {
            let mut body = Vec::new();
            for line in everybody(conn, &auth, &pedigrees, exported.kind)? {
                serde_json::to_writer(&mut body, &line).map_err(|error| {
                    Problem::new(Code::Internal, format!("The lines cannot be written: {error}."))
                })?;
                body.push(b'\n');
            }
            Ok::<_, Problem>(body)
        })
        .await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "application/jsonl"))
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"pedigree.jsonl\""))
        .insert_header((CACHE_CONTROL, "private, no-cache"))
        .body(body))
}

/// Export the pedigree as a graph
///
/// Cultivars and numbered seedlings that you may see, in the DOT language, to be drawn by other programs: seed
/// parents with a filled dot at the child, pollen parents with an open one, sports and cuttings by broken lines, those
/// of one generation in one rank. A parent that its owner has not released to you is "undisclosed". Of several
/// possible pollen parents the likeliest is drawn.
#[utoipa::path(
    tag = "pedigrees",
    security(("session" = [])),
    responses((status = 200, description = "The graph", body = String, content_type = "text/vnd.graphviz"))
)]
#[get("/pedigrees/export.dot")]
pub async fn graph(auth: Auth, app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let pedigrees = app.pedigrees.clone();
    let text = app
        .db
        .read(move |conn| {
            let asker = Asker::load(conn, &auth)?;
            pedigrees.ask(conn, |whole| {
                let mut drawn = Drawn::new(whole, &asker);
                drawn.everybody()?;
                dot(&drawn.finish()?).map_err(|why| not_drawn(&why))
            })
        })
        .await?;
    Ok(sent(As::Dot, text))
}

/// Everybody whom the asker may see, parents first.
fn everybody(
    conn: &mut Conn,
    actor: &Actor,
    pedigrees: &Pedigrees,
    kind: Option<IndividualKind>,
) -> Result<Vec<PedigreeLineOut>, Problem> {
    let asker = Asker::load(conn, actor)?;
    let cultivars: HashMap<IndividualId, Cultivar> =
        cultivars::all_visible_to(conn, actor)?.into_iter().map(|row| (row.id.into(), row)).collect();
    let seedlings: HashMap<IndividualId, Seedling> =
        crosses::seedlings_visible_to(conn, actor)?.into_iter().map(|row| (row.id.into(), row)).collect();
    pedigrees.ask(conn, |whole| {
        let mut all = Vec::with_capacity(cultivars.len() + seedlings.len());
        for (number, line) in whole.all_seen(&asker) {
            if kind.is_some_and(|kind| kind != line.kind) {
                continue;
            }
            let cultivar = cultivars.get(&line.id).map(Kept::Cultivar);
            // The pedigree may know of one that was entered after this view of the records.
            let Some(kept) = cultivar.or_else(|| seedlings.get(&line.id).map(Kept::Seedling)) else {
                continue;
            };
            all.push(PedigreeLineOut::of(whole, &asker, (number, line), &kept)?);
        }
        Ok(parents_first(all))
    })
}

/// Sorted by generation as far as parents are told, then by id; what is not told is not to be guessed by the order.
fn parents_first(all: Vec<PedigreeLineOut>) -> Vec<PedigreeLineOut> {
    let place: HashMap<IndividualId, usize> = all.iter().map(|line| line.id).zip(0..).collect();
    let parents: Vec<Vec<usize>> = all
        .iter()
        .map(|line| line.parents().filter_map(|parent| place.get(&parent).copied()).collect())
        .collect();
    let mut ranked: Vec<_> = generations(&parents).into_iter().zip(all).collect();
    ranked.sort_by_key(|(generation, line)| (*generation, line.id));
    ranked.into_iter().map(|(_, line)| line).collect()
}
