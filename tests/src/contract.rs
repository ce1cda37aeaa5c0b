//! The API's description, held against every answer a test receives.

use std::collections::HashMap;
use std::sync::{Mutex, OnceLock};

use jsonschema::Validator;
use reqwest::Method;
use serde_json::{Value, json};
use storksbill::openapi;

use crate::actor::Answer;

/// The description and its validators, made as they are needed.
#[derive(Debug)]
pub struct Contract {
    spec: Value,
    validators: Mutex<HashMap<String, &'static Validator>>,
}

impl Contract {
    /// The description of the server under test.
    pub fn of_the_server() -> &'static Self {
        static CONTRACT: OnceLock<Contract> = OnceLock::new();
        CONTRACT.get_or_init(|| Self {
            spec: serde_json::from_str(&openapi::text(&openapi::description())).unwrap(),
            validators: Mutex::default(),
        })
    }

    /// The description as JSON.
    pub fn spec(&self) -> &Value {
        &self.spec
    }

    /// Every operation: (method, path template, description).
    pub fn operations(&self) -> Vec<(String, String, &Value)> {
        let mut all = Vec::new();
        for (path, item) in self.spec["paths"].as_object().unwrap() {
            for (method, operation) in item.as_object().unwrap() {
                if ["get", "post", "put", "patch", "delete"].contains(&method.as_str()) {
                    all.push((method.to_uppercase(), path.clone(), operation));
                }
            }
        }
        all
    }

    fn template_of(&self, method: &Method, path: &str) -> Option<String> {
        let path = path.split('?').next().unwrap_or_default();
        let parts: Vec<&str> = path.split('/').collect();
        let mut found: Option<(usize, &String)> = None;
        for (template, item) in self.spec["paths"].as_object().unwrap() {
            if item.get(method.as_str().to_lowercase()).is_none() {
                continue;
            }
            let pattern: Vec<&str> = template.split('/').collect();
            let matches = pattern.len() == parts.len()
                && pattern.iter().zip(&parts).all(|(want, part)| want.starts_with('{') || want == part);
            // `/members/me` goes before `/members/{member_id}`.
            let blanks = template.matches('{').count();
            if matches && found.is_none_or(|(fewest, _)| blanks < fewest) {
                found = Some((blanks, template));
            }
        }
        found.map(|(_, template)| template.clone())
    }

    /// Fails where the answer is not one the description allows.
    #[track_caller]
    pub(crate) fn check(&self, method: &Method, path: &str, answer: &Answer) {
        assert!(!answer.header("x-request-id").is_empty(), "{}: no request id", answer.asked);
        let Some(template) = self.template_of(method, path) else { return };
        // What any address may answer is described once, in the description's introduction.
        if answer.status == 405 {
            return;
        }
        let responses = &self.spec["paths"][&template][method.as_str().to_lowercase()]["responses"];
        let response = &responses[answer.status.to_string()];
        assert!(
            *method != Method::GET || answer.etag().is_empty() || responses["304"].is_object(),
            "{}: a read with an ETag that its description does not have",
            answer.asked
        );
        assert!(
            response.is_object(),
            "{}: status {} is not described: {}",
            answer.asked,
            answer.status,
            answer.text()
        );
        let kind = answer.header("content-type");
        let essence = kind.split(';').next().unwrap_or_default().trim();
        let Some(content) = response["content"].as_object() else {
            assert!(
                answer.body.is_empty(),
                "{}: a body that is not described: {}",
                answer.asked,
                answer.text()
            );
            return;
        };
        let media = content
            .get(essence)
            .unwrap_or_else(|| panic!("{}: {essence} is not described for {}", answer.asked, answer.status));
        if !essence.ends_with("json") {
            return;
        }
        let key = format!("{method} {template} {} {essence}", answer.status);
        let validator = *self.validators.lock().unwrap().entry(key).or_insert_with(|| {
            let schema = json!({
                "$schema": "https://json-schema.org/draft/2020-12/schema",
                "allOf": [media["schema"]],
                "components": self.spec["components"],
            });
            // Validators live as long as the test process.
            Box::leak(Box::new(
                jsonschema::validator_for(&schema).expect("a schema of the description compiles"),
            ))
        });
        let body = answer.json();
        let faults: Vec<String> =
            validator.iter_errors(&body).map(|e| format!("{}: {e}", e.instance_path())).collect();
        assert!(faults.is_empty(), "{}: the body is not as described: {faults:#?}\n{body:#}", answer.asked);
    }
}
