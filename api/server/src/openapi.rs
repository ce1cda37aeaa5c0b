//! The description of the API (`OpenAPI` 3.1), made from the handlers.
//!
//! What every operation shares is put in here, once: which refusals it may answer with follows from whether
//! it needs a log-in, takes a body, names a record or an `If-Match`.

use std::collections::BTreeMap;

use actix_web::web::Bytes;
use utoipa::OpenApi;
use utoipa::openapi::HeaderBuilder;
use utoipa::openapi::path::{Operation, Parameter, ParameterBuilder, ParameterIn};
use utoipa::openapi::security::{Http, HttpAuthScheme, SecurityScheme};
use utoipa::openapi::{
    Components, ContentBuilder, ObjectBuilder, Ref, RefOr, Required, ResponseBuilder, Schema, SchemaFormat,
    Type,
};
use utoipa_actix_web::AppExt;

use crate::brapi;
use crate::http::problem::{Code, FieldError, ProblemOut};
use crate::serve::api_routes;

#[derive(OpenApi)]
#[openapi(
    info(
        title = "Storksbill",
        description = "The records of a plant society, pooled so that each member's notes serve all: \
            flowering forecasts by region, cutting swaps in rings, pedigrees, show schedules.\n\n\
            **Log in** with `POST /api/v1/sessions` and send the access token as `Authorization: Bearer …`.\n\n\
            **Lists** come in pages: follow the `Link` header with `rel=\"next\"`, or send `next_cursor` as `cursor`.\n\n\
            **Edits** want the `ETag` you read as `If-Match`, so that nobody's change is lost.\n\n\
            **Creates** take an `Idempotency-Key`: send the same request with the same key again after a lost \
            answer, and the record is made once.\n\n\
            **Reads** of one record answer 304 without a body when you send the `ETag` you have as `If-None-Match`. \
            HEAD is taken wherever GET is; any other method an address does not take is answered 405 with `Allow`.\n\n\
            **Refusals** are problems (RFC 9457) with a stable `code`; `errors` names every field to correct.\n\n\
            Swaps are gifts between members. Before plants change hands, mind the plant-health and breeders'-rights \
            rules of the place you live in; this server does not know them.",
        license(name = "MIT", identifier = "MIT"),
        contact()
    ),
    servers((url = "/", description = "This server")),
    components(schemas(ProblemOut, FieldError, Code)),
    tags(
        (name = "sessions", description = "Joining, logging in and out, passwords"),
        (name = "members", description = "The people of the society and their roles"),
        (name = "clubs", description = "The clubs of the society and who belongs to them"),
        (name = "regions", description = "Regions, weather stations and their daily readings"),
        (name = "jobs", description = "Work that outlasts a request: fetched weather, fits, backtests"),
        (name = "cultivars", description = "The society's list of what there is to grow"),
        (name = "plants", description = "What members hold, and the diary of each plant"),
        (name = "forecasts", description = "When a plant will be ready, in this spring"),
        (name = "season", description = "How far each region is ahead or behind"),
        (name = "swaps", description = "Cuttings offered and wanted, and the rounds that bring them together"),
        (name = "health", description = "Health holds, where a plant's cuttings went, and who is told of a pest or disease"),
        (name = "conservation", description = "Cultivars that few members hold, and those the society does not want to lose"),
        (name = "notices", description = "What you are told, with a date to keep"),
        (name = "calendars", description = "Your own dates as a calendar at a secret address"),
        (name = "crosses", description = "What raisers cross, what they count, and the numbered seedlings that come of it"),
        (name = "names", description = "Names of cultivars, checked before they are proposed"),
        (name = "pedigrees", description = "Ancestors, kinship and inbreeding"),
        (name = "register", description = "Names proposed, decided and registered"),
        (name = "reversions", description = "How often sports go back to what they came from"),
        (name = "segregation", description = "Classes of seedlings by the parents' genotypes, and counts against them"),
        (name = "shows", description = "Schedules, entries, the day, judging and results"),
        (name = "trophies", description = "Cups and medals of clubs: who won them, who has them, when they are due back"),
        (name = "brapi", description = "Plants, pedigrees and crosses for programs that speak the open standard BrAPI 2.1; read only"),
    )
)]
struct Frame;

/// A time of the wall clock, to the second.
const WALL_CLOCK: &str = r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?$";

/// The whole description.
pub fn description() -> utoipa::openapi::OpenApi {
    let (_, mut spec) = actix_web::App::new()
        .into_utoipa_app()
        .openapi(Frame::openapi())
        .service(utoipa_actix_web::scope("/api/v1").configure(api_routes))
        .service(utoipa_actix_web::scope("/brapi/v2").configure(brapi::routes))
        .split_for_parts();
    let components = spec.components.get_or_insert_with(Components::default);
    components.add_security_scheme(
        "session",
        SecurityScheme::Http({
            let mut http = Http::new(HttpAuthScheme::Bearer);
            http.bearer_format = Some("JWT".to_owned());
            http.description = Some("The access token of a log-in; good for 15 minutes.".to_owned());
            http
        }),
    );
    name_variants(&mut components.schemas);
    declare_wall_clock(&mut components.schemas);
    for (path, item) in &mut spec.paths.paths {
        let methods = [
            ("get", &mut item.get),
            ("post", &mut item.post),
            ("put", &mut item.put),
            ("patch", &mut item.patch),
            ("delete", &mut item.delete),
        ];
        for (method, operation) in methods {
            if let Some(operation) = operation {
                operation.operation_id = Some(operation_id(method, path));
                complete(method, path, operation);
            }
        }
    }
    spec
}

/// Gives the forms of a union names of their own, `VerdictPlaced` for `placed` of `Verdict`, and `VerdictPlacedFacts`
/// to what stands in one: generators of clients would make up others, and several of them the same twice.
fn name_variants(schemas: &mut BTreeMap<String, RefOr<Schema>>) {
    let mut named: BTreeMap<String, RefOr<Schema>> = BTreeMap::new();
    for (name, schema) in schemas.iter_mut() {
        let RefOr::T(Schema::OneOf(union)) = schema else { continue };
        for item in &mut union.items {
            let RefOr::T(Schema::Object(form)) = item else { continue };
            let mut keys = form.properties.iter_mut();
            let (Some((key, facts)), None) = (keys.next(), keys.next()) else { continue };
            let own = format!("{name}{}", in_capitals(key));
            if let RefOr::T(Schema::Object(inner)) = facts
                && !inner.properties.is_empty()
            {
                let facts_name = format!("{own}Facts");
                let mut reference = Ref::from_schema_name(&facts_name);
                reference.description = inner.description.clone().unwrap_or_default();
                let reference = RefOr::Ref(reference);
                named.insert(facts_name, std::mem::replace(facts, reference));
            }
            let reference = RefOr::Ref(Ref::from_schema_name(&own));
            named.insert(own, std::mem::replace(item, reference));
        }
    }
    schemas.append(&mut named);
}

/// A time of a show's wall clock has no offset, so it is no `date-time` of RFC 3339; where a field says so itself
/// it need not be told here, but a form of a union cannot.
fn declare_wall_clock(schemas: &mut BTreeMap<String, RefOr<Schema>>) {
    let Some(RefOr::T(Schema::Object(form))) = schemas.get_mut("ProtestsUntilWallClock") else { return };
    if let Some(RefOr::T(Schema::Object(time))) = form.properties.get_mut("wall_clock") {
        time.format = None;
        time.pattern = Some(WALL_CLOCK.to_owned());
        time.example = Some("2026-06-13T16:30:00".into());
    }
}

/// `not_as_schedule` as `NotAsSchedule`.
fn in_capitals(key: &str) -> String {
    let capital = |word: &str| {
        let mut letters = word.chars();
        letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect::<String>()
    };
    key.split('_').map(capital).collect()
}

/// The description as it is sent and committed: indented JSON with a line end.
pub fn text(spec: &utoipa::openapi::OpenApi) -> String {
    spec.to_pretty_json().unwrap_or_default() + "\n"
}

/// The description, ready to send.
#[derive(Debug, Clone)]
pub struct Description(pub Bytes);

impl Description {
    /// Writes it once.
    pub fn of(spec: &utoipa::openapi::OpenApi) -> Self {
        Self(Bytes::from(text(spec)))
    }
}

/// `get_clubs_club_id`: handlers of different nouns share their names, an address and method are one's own.
fn operation_id(method: &str, path: &str) -> String {
    let words = path.trim_start_matches("/api/v1").trim_start_matches('/').split(['/', '-']);
    words.fold(method.to_owned(), |id, word| format!("{id}_{}", word.trim_matches(['{', '}'])))
}

fn complete(method: &str, path: &str, operation: &mut Operation) {
    declare_path(path, operation);
    if method == "get" {
        declare_known(operation);
    }
    let secured = operation.security.as_ref().is_some_and(|needs| !needs.is_empty());
    let has_body = operation.request_body.is_some();
    let names_record = path.contains('{');
    let edits = has_header(operation, "If-Match");
    let creates = has_header(operation, "Idempotency-Key");
    let mut refusals = vec![("500", "The server failed; quote the request id."), ("503", "Busy; try again.")];
    if secured {
        refusals.push(("401", "No access token, or one that is wrong, expired or of an ended log-in."));
        refusals.push(("403", "Your role does not allow this."));
    }
    if has_body {
        refusals.push(("400", "The body or a header cannot be read."));
        refusals.push(("408", "The body came too slowly."));
        refusals.push(("413", "The body is too large."));
        refusals.push(("429", "There is as much of this as is taken from one member."));
        refusals.push(("415", "The body has the wrong type."));
        refusals.push(("422", "Fields need correcting; all are named at once."));
        refusals.push(("409", "A record's state or a name taken stands against it."));
    }
    if names_record {
        refusals.push(("404", "There is no such thing, or you may not see it."));
    }
    if edits {
        refusals.push(("409", "A record's state or a name taken stands against it."));
        refusals.push(("412", "It was changed since you read it."));
        refusals.push(("428", "If-Match is missing."));
    }
    if creates {
        refusals.push(("422", "Fields need correcting, or the Idempotency-Key came with another request."));
    }
    if !has_body && parameters(operation).any(|p| matches!(p.parameter_in, ParameterIn::Query)) {
        refusals.push(("400", "The cursor was not made by this server."));
    }
    if path.starts_with("/api/v1/")
        || parameters(operation).any(|p| matches!(p.parameter_in, ParameterIn::Query))
    {
        refusals.push(("422", "The query cannot be understood, or has a parameter that is not known here."));
    }
    for (status, words) in refusals {
        operation.responses.responses.entry(status.to_owned()).or_insert_with(|| {
            let problem = ContentBuilder::new().schema(Some(Ref::from_schema_name("Problem"))).build();
            RefOr::T(
                ResponseBuilder::new()
                    .description(words)
                    .content("application/problem+json", problem)
                    .build(),
            )
        });
    }
    for response in operation.responses.responses.values_mut() {
        if let RefOr::T(response) = response {
            let id = HeaderBuilder::new()
                .schema(Some(ObjectBuilder::new().schema_type(Type::String)))
                .description(Some("Quote it when asking for help."))
                .build();
            response.headers.entry("X-Request-Id".to_owned()).or_insert(RefOr::T(id));
        }
    }
    let request_id = ParameterBuilder::new()
        .name("X-Request-Id")
        .parameter_in(ParameterIn::Header)
        .required(Required::False)
        .description(Some(
            "Your own id for this request, 8 to 64 letters, digits and hyphens; one is made when not given.",
        ))
        .schema(Some(ObjectBuilder::new().schema_type(Type::String)))
        .build();
    operation.parameters.get_or_insert_with(Vec::new).push(RefOr::T(request_id));
}

/// Declares that a read of one record answers 304 to whoever has its tag.
fn declare_known(operation: &mut Operation) {
    let tagged = operation.responses.responses.get("200").is_some_and(|response| match response {
        RefOr::T(response) => response.headers.contains_key("ETag"),
        RefOr::Ref(_) => false,
    });
    if !tagged {
        return;
    }
    let same = ResponseBuilder::new().description("You have this answer already.").build();
    operation.responses.responses.entry("304".to_owned()).or_insert(RefOr::T(same));
    let known = ParameterBuilder::new()
        .name("If-None-Match")
        .parameter_in(ParameterIn::Header)
        .required(Required::False)
        .description(Some(
            "The ETag of the answer you have; where it is still the same, 304 is all you are sent.",
        ))
        .schema(Some(ObjectBuilder::new().schema_type(Type::String)))
        .build();
    operation.parameters.get_or_insert_with(Vec::new).push(RefOr::T(known));
}

/// Declares the ids in the address, whose types alone the handlers give.
fn declare_path(path: &str, operation: &mut Operation) {
    for name in path.split('/').filter_map(|part| part.strip_prefix('{')?.strip_suffix('}')) {
        let what = name.trim_end_matches("_id").replace('_', " ");
        let words = format!("Id of the {what}.");
        let declared = operation.parameters.iter_mut().flatten().find_map(|parameter| match parameter {
            RefOr::T(parameter) if parameter.name == name => Some(parameter),
            _ => None,
        });
        if let Some(parameter) = declared {
            parameter.description.get_or_insert(words);
            continue;
        }
        let id = ObjectBuilder::new()
            .schema_type(Type::String)
            .format(Some(SchemaFormat::Custom("uuid".to_owned())));
        let parameter = ParameterBuilder::new()
            .name(name)
            .parameter_in(ParameterIn::Path)
            .required(Required::True)
            .description(Some(words))
            .schema(Some(id))
            .build();
        operation.parameters.get_or_insert_with(Vec::new).push(RefOr::T(parameter));
    }
}

fn parameters(operation: &Operation) -> impl Iterator<Item = &Parameter> {
    operation.parameters.iter().flatten().filter_map(|parameter| match parameter {
        RefOr::T(parameter) => Some(parameter),
        RefOr::Ref(_) => None,
    })
}

fn has_header(operation: &Operation, name: &str) -> bool {
    parameters(operation)
        .any(|p| matches!(p.parameter_in, ParameterIn::Header) && p.name.eq_ignore_ascii_case(name))
}
