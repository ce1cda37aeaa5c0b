//! What answers where no handler does: 404, or 405 with the methods the address takes.

use actix_web::dev::ResourceDef;
use actix_web::http::Method;
use actix_web::{HttpRequest, HttpResponse, web};
use utoipa::openapi::OpenApi;

use super::problem::{Code, Problem};
use crate::pages;

/// Every address of the API with its methods, from the API's own description.
#[derive(Clone)]
pub struct Addresses(Vec<(ResourceDef, String)>);

impl std::fmt::Debug for Addresses {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Addresses({})", self.0.len())
    }
}

impl Addresses {
    /// Reads them from the description.
    pub fn of(spec: &OpenApi) -> Self {
        let all = spec.paths.paths.iter().map(|(path, item)| {
            let methods = [
                ("GET", item.get.is_some()),
                ("HEAD", item.get.is_some()),
                ("POST", item.post.is_some()),
                ("PUT", item.put.is_some()),
                ("PATCH", item.patch.is_some()),
                ("DELETE", item.delete.is_some()),
            ];
            let allowed: Vec<&str> =
                methods.into_iter().filter_map(|(name, is)| is.then_some(name)).collect();
            (ResourceDef::new(path.as_str()), allowed.join(", "))
        });
        Self(all.collect())
    }
}

/// The service of last resort.
pub async fn fallback(
    request: HttpRequest,
    addresses: web::Data<Addresses>,
) -> Result<HttpResponse, Problem> {
    let path = request.path();
    match addresses.0.iter().find(|(address, _)| address.is_match(path)) {
        Some((_, allowed)) => Err(Problem::method_not_allowed(allowed)),
        // Pages are only read.
        None if request.method() != Method::GET
            && !path.starts_with("/api/")
            && !path.starts_with("/brapi/")
            && request.resource_map().has_resource(path) =>
        {
            Err(Problem::method_not_allowed("GET, HEAD"))
        }
        None => pages::missing::page(&request).ok_or_else(|| {
            Problem::new(Code::NotFound, "There is nothing at this address; /docs lists what there is.")
        }),
    }
}
