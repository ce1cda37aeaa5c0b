//! The API's description: committed as served, and complete enough for a stranger.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::path::{Path, PathBuf};

use serde_json::Value;
use storksbill::http::problem::Code;
use storksbill_tests::{Contract, TestApp};

fn openapi_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../openapi")
}

fn spec() -> &'static Value {
    Contract::of_the_server().spec()
}

/// Collects what is wrong, so that one run tells all.
#[derive(Default)]
struct Faults(String);

impl Faults {
    fn unless(&mut self, right: bool, wrong: impl std::fmt::Display) {
        if !right {
            writeln!(self.0, "{wrong}").unwrap();
        }
    }

    #[track_caller]
    fn none(self) {
        assert!(self.0.is_empty(), "\n{}", self.0);
    }
}

fn said(value: &Value) -> bool {
    value.as_str().is_some_and(|text| text.trim().len() > 2)
}

#[tokio::test]
async fn the_committed_description_is_the_one_that_is_served() {
    let society = TestApp::start().await;
    let served = society.visitor().get("/openapi.json").await.expect(200).text();
    let file = openapi_folder().join("openapi.json");
    let committed = std::fs::read_to_string(&file).unwrap_or_default();
    assert!(
        served == committed,
        "the API has changed: look at what did, then `cargo run -- openapi --to openapi/openapi.json`"
    );
}

#[test]
fn what_the_description_refers_to_is_there() {
    fn refers<'s>(value: &'s Value, found: &mut BTreeSet<&'s str>) {
        match value {
            Value::Object(fields) => {
                found.extend(fields.get("$ref").and_then(Value::as_str));
                fields.values().for_each(|value| refers(value, found));
            }
            Value::Array(values) => values.iter().for_each(|value| refers(value, found)),
            _ => {}
        }
    }
    let mut found = BTreeSet::new();
    refers(spec(), &mut found);
    assert!(found.len() > 100, "{}", found.len());
    let missing: Vec<&&str> =
        found.iter().filter(|to| spec().pointer(to.trim_start_matches('#')).is_none()).collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn every_form_of_a_union_has_a_name() {
    let mut faults = Faults::default();
    for (name, schema) in spec()["components"]["schemas"].as_object().unwrap() {
        for form in schema["oneOf"].as_array().map(Vec::as_slice).unwrap_or_default() {
            faults.unless(form["properties"].is_null(), format!("{name} has a form without a name: {form}"));
        }
    }
    faults.none();
}

#[test]
fn a_read_with_an_etag_says_that_it_answers_304_to_it() {
    let mut faults = Faults::default();
    let mut tagged = 0;
    for (method, path, operation) in Contract::of_the_server().operations() {
        if method == "GET" && operation["responses"]["200"]["headers"]["ETag"].is_object() {
            tagged += 1;
            let known =
                operation["parameters"].as_array().unwrap().iter().any(|p| p["name"] == "If-None-Match");
            let same = operation["responses"]["304"].is_object();
            faults.unless(known && same, format!("{path}: If-None-Match {known}, 304 {same}"));
        }
    }
    assert!(tagged > 15, "{tagged}");
    faults.none();
}

#[test]
fn the_description_says_what_it_is() {
    let spec = spec();
    assert!(spec["openapi"].as_str().unwrap().starts_with("3.1"), "{}", spec["openapi"]);
    for pointer in ["/info/title", "/info/version", "/info/description", "/info/license/name"] {
        assert!(spec.pointer(pointer).is_some_and(said), "{pointer}");
    }
    assert_eq!(spec["info"]["version"], env!("CARGO_PKG_VERSION"));
}

#[test]
fn every_operation_is_named_explained_and_sorted() {
    let declared: BTreeSet<&str> =
        spec()["tags"].as_array().unwrap().iter().map(|tag| tag["name"].as_str().unwrap()).collect();
    let (mut faults, mut ids, mut used) = (Faults::default(), BTreeSet::new(), BTreeSet::new());
    for (method, path, operation) in Contract::of_the_server().operations() {
        let name = format!("{method} {path}");
        let id = operation["operationId"].as_str().unwrap_or_default();
        faults.unless(!id.is_empty() && ids.insert(id), format!("{name}: operationId {id:?} is not unique"));
        faults.unless(said(&operation["summary"]), format!("{name}: no summary"));
        faults.unless(said(&operation["description"]), format!("{name}: no description"));
        let tags: Vec<&str> =
            operation["tags"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
        faults.unless(tags.len() == 1, format!("{name}: tags {tags:?}, not one"));
        for tag in tags {
            faults.unless(declared.contains(tag), format!("{name}: tag {tag} is not declared"));
            used.insert(tag);
        }
    }
    for tag in declared.difference(&used) {
        faults.unless(false, format!("tag {tag} has no operation"));
    }
    faults.none();
}

#[test]
fn every_parameter_is_declared_and_explained() {
    let mut faults = Faults::default();
    for (method, path, operation) in Contract::of_the_server().operations() {
        let name = format!("{method} {path}");
        let parameters: Vec<&Value> = operation["parameters"].as_array().into_iter().flatten().collect();
        let mut seen = BTreeSet::new();
        for parameter in &parameters {
            let own = parameter["name"].as_str().unwrap();
            let place = parameter["in"].as_str().unwrap();
            faults.unless(seen.insert((own, place)), format!("{name}: {own} is declared twice"));
            faults.unless(said(&parameter["description"]), format!("{name}: {own} is not explained"));
            faults.unless(parameter["schema"].is_object(), format!("{name}: {own} has no type"));
        }
        let in_path: BTreeSet<&str> =
            path.split('/').filter_map(|part| part.strip_prefix('{')?.strip_suffix('}')).collect();
        let declared: BTreeSet<&str> = parameters
            .iter()
            .filter(|parameter| parameter["in"] == "path")
            .map(|parameter| parameter["name"].as_str().unwrap())
            .collect();
        faults.unless(in_path == declared, format!("{name}: path parameters {declared:?}"));
        if method == "PATCH" {
            let asks = parameters.iter().any(|p| p["name"] == "If-Match" && p["required"] == true);
            faults.unless(asks, format!("{name}: an edit without If-Match"));
        }
    }
    faults.none();
}

#[test]
fn every_answer_is_explained_and_every_refusal_is_a_problem() {
    let mut faults = Faults::default();
    for (method, path, operation) in Contract::of_the_server().operations() {
        let name = format!("{method} {path}");
        let responses = operation["responses"].as_object().unwrap();
        let mut good = 0;
        for (status, response) in responses {
            let code: u16 = status.parse().unwrap();
            faults.unless(said(&response["description"]), format!("{name} {status}: not explained"));
            if code < 400 {
                good += 1;
                continue;
            }
            let kind = &response["content"]["application/problem+json"]["schema"]["$ref"];
            faults.unless(kind == "#/components/schemas/Problem", format!("{name} {status}: not a problem"));
            // A status that no code has could never be sent.
            let known = Code::ALL.iter().any(|known| known.status().as_u16() == code);
            faults.unless(known, format!("{name}: no problem has the status {status}"));
        }
        faults.unless(good > 0, format!("{name}: no good answer"));
        let has = |status: &str| responses.contains_key(status);
        faults.unless(has("500") && has("503"), format!("{name}: 500 and 503"));
        if operation["security"].as_array().is_some_and(|ways| !ways.is_empty()) {
            faults.unless(has("401") && has("403"), format!("{name}: 401 and 403"));
        }
        if operation["requestBody"].is_object() {
            faults.unless(
                ["400", "413", "415", "422"].into_iter().all(has),
                format!("{name}: 400, 413, 415 and 422"),
            );
        }
        if path.contains('{') {
            faults.unless(has("404"), format!("{name}: 404"));
        }
        if method == "PATCH" {
            faults.unless(has("412") && has("428"), format!("{name}: 412 and 428"));
        }
    }
    faults.none();
}

/// Walks a schema and all it holds; `at` tells where.
fn walk(schema: &Value, at: &str, faults: &mut Faults) {
    for (name, property) in schema["properties"].as_object().into_iter().flatten() {
        let here = format!("{at}.{name}");
        // A reference that may be null has its words beside the reference.
        let ways = property["oneOf"].as_array();
        let explained = said(&property["description"])
            || ways.is_some_and(|ways| ways.iter().any(|way| said(&way["description"])));
        faults.unless(explained, format!("{here}: not explained"));
        walk(property, &here, faults);
    }
    for word in ["allOf", "anyOf", "oneOf"] {
        for part in schema[word].as_array().into_iter().flatten() {
            walk(part, at, faults);
        }
    }
    if schema["items"].is_object() {
        walk(&schema["items"], &format!("{at}[]"), faults);
    }
    if schema["additionalProperties"].is_object() {
        walk(&schema["additionalProperties"], &format!("{at}{{}}"), faults);
    }
    if let Some(target) = schema["$ref"].as_str() {
        let name = target.strip_prefix("#/components/schemas/").unwrap_or_default();
        faults.unless(
            spec()["components"]["schemas"].get(name).is_some(),
            format!("{at}: {target} is not there"),
        );
    }
}

#[test]
fn every_field_of_every_body_is_explained() {
    let mut faults = Faults::default();
    let schemas = spec()["components"]["schemas"].as_object().unwrap();
    assert!(schemas.len() > 20);
    for (name, schema) in schemas {
        walk(schema, name, &mut faults);
    }
    for (method, path, operation) in Contract::of_the_server().operations() {
        let name = format!("{method} {path}");
        for (kind, media) in operation["requestBody"]["content"].as_object().into_iter().flatten() {
            walk(&media["schema"], &format!("{name} body {kind}"), &mut faults);
        }
        for (status, response) in operation["responses"].as_object().unwrap() {
            for (kind, media) in response["content"].as_object().into_iter().flatten() {
                walk(&media["schema"], &format!("{name} {status} {kind}"), &mut faults);
            }
        }
    }
    faults.none();
}

/// Two types of one name would overwrite each other without a word, so the names in the sources are counted.
#[test]
fn no_two_bodies_share_a_name() {
    fn sources(folder: &Path, files: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                sources(&path, files);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                files.push(path);
            }
        }
    }
    let mut files = Vec::new();
    for folder in ["../api/server/src", "../api/domain/src"] {
        sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join(folder), &mut files);
    }
    let mut names: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        for after in text.split("#[derive(").skip(1) {
            let (derives, rest) = after.split_once(")]").unwrap();
            if !derives.split(", ").any(|derive| derive.trim().ends_with("ToSchema")) {
                continue;
            }
            let starts = ["pub struct ", "pub enum "]
                .into_iter()
                .filter_map(|word| rest.find(word).map(|start| (start, start + word.len())));
            let (start, end) = starts.min().unwrap();
            let own = rest[end..].split(|c: char| !c.is_alphanumeric()).next().unwrap();
            let name = rest[..start]
                .split_once("#[schema(as = ")
                .and_then(|(_, rest)| rest.split([',', ')']).next())
                .unwrap_or(own);
            names.entry(name.to_owned()).or_default().push(file.display().to_string());
        }
    }
    assert!(names.len() > 20, "the sources were not understood");
    let shared: Vec<_> = names.iter().filter(|(_, files)| files.len() > 1).collect();
    assert!(shared.is_empty(), "{shared:#?}");
}

/// `openapi/problem-codes.md` as the table of codes says.
fn problem_codes() -> String {
    let mut text = String::from(
        "# Problem codes\n\n\
         Every refusal is `application/problem+json` (RFC 9457) with one of these codes. A code never changes\n\
         its meaning; what happened this time is in `detail`, and every field to correct in `errors`.\n\n\
         | code | status | title |\n|---|---|---|\n",
    );
    for code in Code::ALL {
        let status = code.status();
        let reason = status.canonical_reason().unwrap_or_default();
        writeln!(text, "| `{}` | {} {reason} | {} |", code.as_str(), status.as_u16(), code.title()).unwrap();
    }
    text
}

#[test]
fn the_page_of_problem_codes_is_that_of_the_table() {
    let file = openapi_folder().join("problem-codes.md");
    if std::env::var_os("WRITE_PROBLEM_CODES").is_some() {
        std::fs::create_dir_all(openapi_folder()).unwrap();
        std::fs::write(&file, problem_codes()).unwrap();
    }
    let committed = std::fs::read_to_string(&file).unwrap_or_default();
    assert!(
        committed == problem_codes(),
        "the table of codes has changed: run this test once with WRITE_PROBLEM_CODES=1, then look at the file"
    );
    let words: BTreeSet<_> = Code::ALL.iter().map(|code| code.as_str()).collect();
    assert_eq!(words.len(), Code::ALL.len(), "a code is in the table twice");
}
