//! Which other sites' pages may use the API from a browser (CORS, as the Fetch standard has it).
//!
//! Only access tokens open anything, and a browser sends none by itself, so an allowed origin gains no more
//! than a script would; still none is allowed unless the administrator names it.

use std::future::{Ready, ready};
use std::rc::Rc;
use std::sync::Arc;

use actix_web::body::{EitherBody, MessageBody};
use actix_web::dev::{Service, ServiceRequest, ServiceResponse, Transform, forward_ready};
use actix_web::http::Method;
use actix_web::http::header::{
    ACCESS_CONTROL_ALLOW_HEADERS, ACCESS_CONTROL_ALLOW_METHODS, ACCESS_CONTROL_ALLOW_ORIGIN,
    ACCESS_CONTROL_EXPOSE_HEADERS, ACCESS_CONTROL_MAX_AGE, ACCESS_CONTROL_REQUEST_METHOD, HeaderValue,
    ORIGIN, VARY,
};
use actix_web::{Error, HttpResponse};
use futures_util::future::LocalBoxFuture;

/// The middleware.
#[derive(Debug, Clone)]
pub struct Cors {
    origins: Arc<[String]>,
}

impl Cors {
    /// Pages of these origins (`https://example.org`); `*` for any.
    pub fn of(origins: &[String]) -> Self {
        Self { origins: origins.iter().map(|origin| origin.trim_end_matches('/').to_owned()).collect() }
    }

    fn allowed(&self, origin: &HeaderValue) -> bool {
        self.origins.iter().any(|allowed| allowed == "*" || allowed.as_bytes() == origin.as_bytes())
    }
}

impl<S, B> Transform<S, ServiceRequest> for Cors
where
    S: Service<ServiceRequest, Response = ServiceResponse<B>, Error = Error> + 'static,
    B: MessageBody + 'static,
{
    type Response = ServiceResponse<EitherBody<B>>;
    type Error = Error;
    type Transform = CorsService<S>;
    type InitError = ();
    type Future = Ready<Result<Self::Transform, ()>>;

    fn new_transform(&self, service: S) -> Self::Future {
        ready(Ok(CorsService { service: Rc::new(service), cors: self.clone() }))
    }
}

/// See [`Cors`].
#[derive(Debug)]
pub struct CorsService<S> {
    service: Rc<S>,
    cors: Cors,
}

impl<S, B> Service<ServiceRequest> for CorsService<S>
where
    S: Service<ServiceRequest, Response = ServiceResponse<B>, Error = Error> + 'static,
    B: MessageBody + 'static,
{
    type Response = ServiceResponse<EitherBody<B>>;
    type Error = Error;
    type Future = LocalBoxFuture<'static, Result<Self::Response, Error>>;

    forward_ready!(service);

    fn call(&self, request: ServiceRequest) -> Self::Future {
        let origin = request.headers().get(ORIGIN).filter(|origin| self.cors.allowed(origin)).cloned();
        let preflight = request.method() == Method::OPTIONS
            && request.headers().contains_key(ACCESS_CONTROL_REQUEST_METHOD);
        if let (true, Some(origin)) = (preflight, &origin) {
            let response = HttpResponse::NoContent()
                .insert_header((ACCESS_CONTROL_ALLOW_ORIGIN, origin.clone()))
                .insert_header((ACCESS_CONTROL_ALLOW_METHODS, "GET, POST, PUT, PATCH, DELETE"))
                .insert_header((
                    ACCESS_CONTROL_ALLOW_HEADERS,
                    "authorization, content-type, idempotency-key, if-match, if-none-match, x-request-id",
                ))
                .insert_header((ACCESS_CONTROL_MAX_AGE, "3600"))
                .insert_header((VARY, "origin"))
                .finish();
            let response = request.into_response(response).map_into_right_body();
            return Box::pin(ready(Ok(response)));
        }
        let service = Rc::clone(&self.service);
        let differs = !self.cors.origins.is_empty();
        Box::pin(async move {
            let mut response = service.call(request).await?.map_into_left_body();
            let headers = response.headers_mut();
            if differs {
                // Also where this origin is not allowed: a cache must not give that answer to one that is.
                headers.append(VARY, HeaderValue::from_static("origin"));
            }
            if let Some(origin) = origin {
                headers.insert(ACCESS_CONTROL_ALLOW_ORIGIN, origin);
                headers.insert(
                    ACCESS_CONTROL_EXPOSE_HEADERS,
                    HeaderValue::from_static("etag, link, location, x-request-id, retry-after"),
                );
            }
            Ok(response)
        })
    }
}
