//! Questions that an address does not know: a parameter spelt wrong would be passed over in silence, and the answer
//! taken for what was asked. What each address knows is read from the API's own description, so no handler has to
//! say it again.

use std::collections::BTreeSet;

use actix_web::body::{EitherBody, MessageBody};
use actix_web::dev::{ResourceDef, ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::middleware::Next;
use actix_web::{Error, ResponseError, web};
use utoipa::openapi::path::{Operation, ParameterIn};
use utoipa::openapi::{OpenApi, RefOr};

use super::problem::{Code, Problem};

/// The addresses under `/api/v1` with the query parameters that each method of them knows.
#[derive(Clone)]
pub struct Questions(Vec<Question>);

#[derive(Clone)]
struct Question {
    address: ResourceDef,
    method: Method,
    knows: BTreeSet<String>,
}

impl std::fmt::Debug for Questions {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Questions({})", self.0.len())
    }
}

impl Questions {
    /// Reads them from the description.
    pub fn of(spec: &OpenApi) -> Self {
        // Programs that speak BrAPI send what its standard names, and a server knows of that what it can.
        let own = spec.paths.paths.iter().filter(|(path, _)| path.starts_with("/api/v1/"));
        let mut paths: Vec<_> = own.collect();
        // `/members/me` goes before `/members/{member_id}`.
        paths.sort_by_key(|(path, _)| path.matches('{').count());
        let all = paths.into_iter().flat_map(|(path, item)| {
            let methods = [
                (Method::GET, &item.get),
                (Method::POST, &item.post),
                (Method::PUT, &item.put),
                (Method::PATCH, &item.patch),
                (Method::DELETE, &item.delete),
            ];
            methods.into_iter().filter_map(|(method, operation)| {
                let knows = known(operation.as_ref()?);
                Some(Question { address: ResourceDef::new(path.as_str()), method, knows })
            })
        });
        Self(all.collect())
    }

    fn refusal(&self, method: &Method, path: &str, query: &str) -> Option<Problem> {
        let asked = self.0.iter().find(|one| one.method == *method && one.address.is_match(path))?;
        // What cannot be read at all is the handler's to refuse.
        let given = web::Query::<Vec<(String, String)>>::from_query(query).ok()?.into_inner();
        let strange: Vec<String> =
            given.into_iter().map(|(name, _)| name).filter(|name| !asked.knows.contains(name)).collect();
        let first = strange.first()?;
        let knows: Vec<&str> = asked.knows.iter().map(String::as_str).collect();
        let detail = if knows.is_empty() {
            "is not known here; this address takes no parameters".to_owned()
        } else {
            format!("is not known here; this address takes {}", knows.join(", "))
        };
        let short: String = first.chars().take(60).collect();
        let problem = Problem::new(Code::InvalidQuery, format!("`{short}` {detail}."));
        Some(problem.at(&short, "unknown-parameter", detail))
    }
}

fn known(operation: &Operation) -> BTreeSet<String> {
    let all = operation.parameters.iter().flatten();
    all.filter_map(|parameter| match parameter {
        RefOr::T(parameter) if matches!(parameter.parameter_in, ParameterIn::Query) => {
            Some(parameter.name.clone())
        }
        _ => None,
    })
    .collect()
}

/// Refuses a question with a parameter that its address does not know.
///
/// # Errors
/// 422 `invalid-query` naming the parameter and those that are known.
pub async fn known_alone<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<EitherBody<B>>, Error> {
    if !request.query_string().is_empty()
        && let Some(questions) = request.app_data::<web::Data<Questions>>()
        && let Some(problem) = questions.refusal(request.method(), request.path(), request.query_string())
    {
        // Answered here and not as an error, which would be written outside the request's id.
        return Ok(request.into_response(problem.error_response().map_into_right_body()));
    }
    Ok(next.call(request).await?.map_into_left_body())
}
