//! What every answer tells a browser, so that it makes nothing else of it.

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{
    CONTENT_SECURITY_POLICY, HeaderValue, STRICT_TRANSPORT_SECURITY, X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use actix_web::middleware::Next;
use actix_web::web;

/// For how many seconds browsers shall ask for this site over TLS alone (RFC 6797); not told when none.
#[derive(Debug, Clone, Copy)]
pub struct TlsOnly(pub Option<u32>);

/// Middleware: content is what its type says, and no other site shows it in a frame.
pub async fn mark<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, actix_web::Error> {
    let tls_only = request.app_data::<web::Data<TlsOnly>>().and_then(|tls_only| tls_only.0);
    let mut response = next.call(request).await?;
    let headers = response.headers_mut();
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(X_FRAME_OPTIONS, HeaderValue::from_static("DENY"));
    // A page's own policy stands, with this added; what is no page runs nothing.
    let policy = match headers.get(CONTENT_SECURITY_POLICY).and_then(|policy| policy.to_str().ok()) {
        Some(own) if own.contains("frame-ancestors") => None,
        Some(own) => HeaderValue::from_str(&format!("{own}; frame-ancestors 'none'")).ok(),
        None => Some(HeaderValue::from_static("frame-ancestors 'none'")),
    };
    if let Some(policy) = policy {
        headers.insert(CONTENT_SECURITY_POLICY, policy);
    }
    if let Some(Ok(value)) = tls_only.map(|seconds| HeaderValue::from_str(&format!("max-age={seconds}"))) {
        headers.insert(STRICT_TRANSPORT_SECURITY, value);
    }
    Ok(response)
}
