//! What the server is and can do.

use actix_web::{get, web};
use serde::Deserialize;
use utoipa::IntoParams;

use super::answer::{BrapiAnswer, BrapiRows, Wanted};
use super::dto::{BreedingMethodOut, ServerInfoOut, ServiceOut};
use super::kin::{CROP, METHODS};
use crate::app::App;
use crate::http::auth::Auth;
use crate::http::problem::Problem;
use crate::http::reply::Reply;

/// The calls, after `/brapi/v2/`.
const CALLS: [&str; 9] = [
    "serverinfo",
    "commoncropnames",
    "breedingmethods",
    "germplasm",
    "germplasm/{germplasmDbId}",
    "germplasm/{germplasmDbId}/mcpd",
    "pedigree",
    "crosses",
    "crossingprojects",
];

/// Which page.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(rename_all = "camelCase", deny_unknown_fields)]
pub struct Paged {
    /// The page, from 0; 0 when not given.
    page: Option<usize>,
    /// Rows of a page, 1 to 10,000; 1,000 when not given.
    #[param(minimum = 1, maximum = 10000)]
    page_size: Option<usize>,
}

/// See which calls are answered
///
/// Of the open standard `BrAPI` 2.1, and read only: an adapter to what the rest of this API tells. Log in as for the
/// rest. Pages are counted from 0. A filter that is not listed with a call is refused, and so is a page of more than
/// 10,000 rows; refusals are problems (RFC 9457), as everywhere here.
#[utoipa::path(
    tag = "brapi",
    responses((status = 200, description = "The server and its calls", body = BrapiAnswer<ServerInfoOut>))
)]
#[get("/serverinfo")]
pub async fn info(app: web::Data<App>) -> Result<Reply, Problem> {
    let calls = CALLS.map(|service| ServiceOut {
        service,
        content_types: ["application/json"],
        data_types: ["application/json"],
        methods: ["GET"],
        versions: ["2.1"],
    });
    Reply::ok(&BrapiAnswer::one(ServerInfoOut {
        server_name: app.society.name.clone(),
        organization_name: app.society.name.clone(),
        server_description: "The pedigrees and crosses of a plant society, as far as you may see them."
            .to_owned(),
        documentation_url: "/docs".to_owned(),
        calls: calls.into(),
    }))
}

/// List the crops
///
/// There is one.
#[utoipa::path(
    tag = "brapi",
    security(("session" = [])),
    params(Paged),
    responses((status = 200, description = "Crops", body = BrapiAnswer<BrapiRows<String>>))
)]
#[get("/commoncropnames")]
pub async fn crops(_auth: Auth, paged: web::Query<Paged>) -> Result<Reply, Problem> {
    let (rows, cut) = Wanted::of(paged.page, paged.page_size)?.cut(vec![CROP.to_owned()]);
    Reply::ok(&cut.answer(rows))
}

/// List ways in which plants are raised
///
/// As the records here tell them apart.
#[utoipa::path(
    tag = "brapi",
    security(("session" = [])),
    params(Paged),
    responses((status = 200, description = "Ways", body = BrapiAnswer<BrapiRows<BreedingMethodOut>>))
)]
#[get("/breedingmethods")]
pub async fn methods(_auth: Auth, paged: web::Query<Paged>) -> Result<Reply, Problem> {
    let all = METHODS.iter().map(|(id, name, abbreviation, description)| BreedingMethodOut {
        breeding_method_db_id: id,
        breeding_method_name: name,
        abbreviation,
        description,
    });
    let (rows, cut) = Wanted::of(paged.page, paged.page_size)?.cut(all.collect());
    Reply::ok(&cut.answer(rows))
}
