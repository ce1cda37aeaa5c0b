//! The files that pages load: ours, and those of the documentation's viewer.

use std::borrow::Cow;
use std::sync::{Arc, LazyLock};

use actix_web::http::StatusCode;
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_TYPE, ETAG, EntityTag, Header, HeaderValue, IfNoneMatch,
};
use actix_web::web::{self, Bytes};
use actix_web::{HttpRequest, HttpResponse};
use sha2::{Digest, Sha256};

use super::answer;
use crate::hex::hex;
use crate::http::problem::Problem;

const SCRIPT: &str = "text/javascript; charset=utf-8";
const STYLE: &str = "text/css; charset=utf-8";

/// Name, type and content of each of our own files.
const OURS: [(&str, &str, &[u8]); 4] = [
    ("style.css", STYLE, include_bytes!("style.css")),
    ("icon.svg", "image/svg+xml", include_bytes!("icon.svg")),
    ("log-in.js", SCRIPT, include_bytes!("log-in.js")),
    ("docs.js", SCRIPT, include_bytes!("docs.js")),
];

/// Name and type of the viewer's files; their content is in its crate.
const VIEWERS: [(&str, &str); 2] = [("swagger-ui-bundle.js", SCRIPT), ("swagger-ui.css", STYLE)];

struct Asset {
    name: &'static str,
    kind: &'static str,
    bytes: Bytes,
    tag: EntityTag,
}

static ASSETS: LazyLock<Vec<Asset>> = LazyLock::new(|| {
    let ours = OURS.map(|(name, kind, bytes)| asset(name, kind, Bytes::from_static(bytes)));
    let settings = Arc::new(utoipa_swagger_ui::Config::default());
    let viewers = VIEWERS.iter().filter_map(|(name, kind)| {
        let file = utoipa_swagger_ui::serve(name, Arc::clone(&settings)).ok().flatten()?;
        let bytes = match file.bytes {
            Cow::Borrowed(bytes) => Bytes::from_static(bytes),
            Cow::Owned(bytes) => Bytes::from(bytes),
        };
        Some(asset(name, kind, bytes))
    });
    ours.into_iter().chain(viewers).collect()
});

fn asset(name: &'static str, kind: &'static str, bytes: Bytes) -> Asset {
    let mut tag = hex(&Sha256::digest(&bytes));
    tag.truncate(24);
    // Weak, because it is the same whether or not the bytes are packed on the way.
    Asset { name, kind, bytes, tag: EntityTag::new_weak(tag) }
}

/// A file; 304 to a browser that has it already. Browsers ask each time, so that after an update no old
/// script meets a new page.
pub async fn file(name: web::Path<String>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let asset = ASSETS.iter().find(|asset| asset.name == *name).ok_or_else(|| Problem::not_found("file"))?;
    let known = match IfNoneMatch::parse(&request) {
        Ok(IfNoneMatch::Any) => request.headers().contains_key("if-none-match"),
        Ok(IfNoneMatch::Items(tags)) => tags.iter().any(|tag| tag.weak_eq(&asset.tag)),
        Err(_) => false,
    };
    let mut response = answer(if known { StatusCode::NOT_MODIFIED } else { StatusCode::OK });
    response
        .insert_header((ETAG, asset.tag.to_string()))
        .insert_header((CACHE_CONTROL, HeaderValue::from_static("no-cache")));
    if known {
        return Ok(response.finish());
    }
    Ok(response.insert_header((CONTENT_TYPE, asset.kind)).body(asset.bytes.clone()))
}
