//! The cross book as a table.

use actix_web::{HttpResponse, get, web};
use storksbill_db::rows::crosses::{self, Filter};

use super::book::told;
use super::dto::{CrossOut, ParentOut};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::tables::download;
use crate::tables::sheet::{cell, write};

const COLUMNS: [&str; 25] = [
    "id",
    "raiser_id",
    "raiser",
    "number",
    "seed_parent_id",
    "seed_parent",
    "pollen_parent_ids",
    "pollen_parents",
    "seed_gamete",
    "pollen_gamete",
    "florets",
    "takes",
    "harvested",
    "sown",
    "germinated",
    "lost",
    "pricked_out",
    "flowered",
    "kept",
    "numbered",
    "visibility",
    "pooled",
    "entered_at",
    "version",
    "notes",
];

/// Export crosses
///
/// Yours, and those of others that you may see, as CSV (RFC 4180), the last entered first; each with sums of what was
/// counted, blank where nothing was. A parent is told by the id of its cultivar or numbered seedling and by its name;
/// of several possible pollen parents, all, parted by `; `, each with its share in thousandths, as `id=600`. Instead
/// of a parent that you may not see stands `undisclosed`; a blank is one that nobody knows. Cells that a spreadsheet
/// would run as a formula start with an apostrophe.
#[utoipa::path(
    tag = "crosses",
    security(("session" = [])),
    responses((status = 200, description = "Crosses", body = String, content_type = "text/csv"))
)]
#[get("/crosses/export.csv")]
pub async fn table(auth: Auth, app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let csv = app
        .db
        .read(move |conn| {
            let rows = crosses::visible_to(conn, &auth, Filter::default(), None, i64::MAX)?;
            write(&COLUMNS, told(conn, &auth, rows)?.into_iter().map(cells))
        })
        .await?;
    Ok(download("crosses.csv", csv))
}

fn cells(cross: CrossOut) -> [String; 25] {
    let counts = cross.counts;
    [
        cross.id.to_string(),
        cross.raiser_id.to_string(),
        cross.raiser_name,
        cross.number,
        id_of(&cross.seed_parent),
        name_of(&cross.seed_parent),
        each(&cross.pollen_parents, id_of),
        each(&cross.pollen_parents, name_of),
        cell(cross.seed_gamete),
        cell(cross.pollen_gamete),
        cell(counts.florets),
        cell(counts.takes),
        cell(counts.harvested),
        cell(counts.sown),
        cell(counts.germinated),
        cell(counts.lost),
        cell(counts.pricked_out),
        cell(counts.flowered),
        cell(counts.kept),
        cell(counts.numbered),
        cross.visibility.to_string(),
        cross.pooled.to_string(),
        cross.created_at.to_rfc3339_opts(chrono::SecondsFormat::Secs, true),
        cross.version.to_string(),
        cross.notes.unwrap_or_default(),
    ]
}

fn id_of(parent: &ParentOut) -> String {
    if parent.undisclosed {
        return "undisclosed".to_owned();
    }
    let seedling = parent.seedling_id.map(|id| id.to_string());
    parent.cultivar_id.map(|id| id.to_string()).or(seedling).unwrap_or_default()
}

fn name_of(parent: &ParentOut) -> String {
    if parent.undisclosed { "undisclosed".to_owned() } else { parent.name.clone().unwrap_or_default() }
}

/// One by itself, several each with its share.
fn each(parents: &[ParentOut], word: fn(&ParentOut) -> String) -> String {
    match parents {
        [one] => word(one),
        several => {
            let each = several.iter().map(|one| format!("{}={}", word(one), one.share_thousandths));
            each.collect::<Vec<_>>().join("; ")
        }
    }
}
