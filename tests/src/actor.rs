//! Typed clients whose requests read as sentences.

use reqwest::header::{CONTENT_TYPE, ETAG, HeaderMap, IF_MATCH, IF_NONE_MATCH, LINK};
use reqwest::{Client, Method};
use serde_json::Value;
use storksbill_domain::ids::MemberId;

use crate::contract::Contract;

/// Somebody who sends requests.
#[derive(Debug, Clone)]
pub struct Actor {
    client: Client,
    address: String,
    token: Option<String>,
    id: Option<MemberId>,
}

impl Actor {
    pub(crate) fn new(address: &str, token: Option<String>, id: Option<MemberId>) -> Self {
        storksbill::tls::settle();
        Self { client: Client::new(), address: address.to_owned(), token, id }
    }

    /// The same person with another access token.
    #[must_use]
    pub fn with_token(&self, token: &str) -> Self {
        Self { token: Some(token.to_owned()), ..self.clone() }
    }

    /// The same person at another server.
    #[must_use]
    pub fn at(&self, address: &str) -> Self {
        Self { address: address.to_owned(), ..self.clone() }
    }

    /// The access token.
    pub fn token(&self) -> &str {
        self.token.as_deref().expect("a visitor has no token")
    }

    /// The member.
    pub fn id(&self) -> MemberId {
        self.id.expect("a visitor has no id")
    }

    /// Starts a request to `path`, such as `/api/v1/clubs`.
    pub fn request(&self, method: Method, path: &str) -> Ask {
        let mut builder = self.client.request(method.clone(), format!("{}{path}", self.address));
        if let Some(token) = &self.token {
            builder = builder.bearer_auth(token);
        }
        Ask { builder, method, path: path.to_owned() }
    }

    /// Reads.
    pub async fn get(&self, path: &str) -> Answer {
        self.request(Method::GET, path).send().await
    }

    /// Makes.
    pub async fn post(&self, path: &str, body: Value) -> Answer {
        self.request(Method::POST, path).json(&body).send().await
    }

    /// Sets.
    pub async fn put(&self, path: &str, body: Value) -> Answer {
        self.request(Method::PUT, path).json(&body).send().await
    }

    /// Changes what was read with this entity tag.
    pub async fn patch(&self, path: &str, etag: &str, body: Value) -> Answer {
        self.request(Method::PATCH, path).header(IF_MATCH.as_str(), etag).json(&body).send().await
    }

    /// Takes away.
    pub async fn delete(&self, path: &str) -> Answer {
        self.request(Method::DELETE, path).send().await
    }

    /// Makes, safely repeatable.
    pub async fn post_once(&self, path: &str, key: &str, body: Value) -> Answer {
        self.request(Method::POST, path).header("idempotency-key", key).json(&body).send().await
    }

    /// Sends a table as CSV.
    pub async fn send_csv(&self, method: Method, path: &str, csv: &str) -> Answer {
        self.request(method, path).body("text/csv", csv.to_owned()).send().await
    }

    /// All rows of a list, by following `Link` to the end.
    pub async fn walk(&self, path: &str) -> Vec<Value> {
        let mut rows = Vec::new();
        let mut next = Some(path.to_owned());
        while let Some(path) = next {
            let page = self.get(&path).await.expect(200);
            next = page.next_link();
            rows.extend(page.json()["items"].as_array().expect("a list").iter().cloned());
            assert!(rows.len() < 100_000, "the list has no end");
        }
        rows
    }
}

/// A request being put together.
#[derive(Debug)]
pub struct Ask {
    builder: reqwest::RequestBuilder,
    method: Method,
    path: String,
}

impl Ask {
    /// With a header.
    #[must_use]
    pub fn header(mut self, name: &str, value: &str) -> Self {
        self.builder = self.builder.header(name, value);
        self
    }

    /// With a JSON body.
    #[must_use]
    pub fn json(mut self, body: &Value) -> Self {
        self.builder = self.builder.json(body);
        self
    }

    /// With any body.
    #[must_use]
    pub fn body(mut self, kind: &str, body: impl Into<reqwest::Body>) -> Self {
        self.builder = self.builder.header(CONTENT_TYPE.as_str(), kind).body(body);
        self
    }

    /// Sends it and holds the answer against the API's description. A read that has an `ETag` is asked again by
    /// somebody who has that answer, who must be told just this.
    pub async fn send(self) -> Answer {
        let again = self.builder.try_clone().filter(|_| self.method == Method::GET);
        let response = self.builder.send().await.expect("the server answers");
        let status = response.status().as_u16();
        let headers = response.headers().clone();
        let body = response.bytes().await.expect("the answer is whole").to_vec();
        let answer = Answer { asked: format!("{} {}", self.method, self.path), status, headers, body };
        Contract::of_the_server().check(&self.method, &self.path, &answer);
        if let Some(again) = again.filter(|_| answer.status == 200 && !answer.etag().is_empty()) {
            let known = again.header(IF_NONE_MATCH, answer.etag()).send().await.expect("the server answers");
            // Another tag: it was changed in between.
            let tag = known.headers().get(ETAG).and_then(|tag| tag.to_str().ok()).unwrap_or_default();
            assert!(
                known.status() == 304 || tag != answer.etag(),
                "{}: {} to whoever has the answer already",
                answer.asked,
                known.status()
            );
        }
        answer
    }
}

/// An answer that matches the API's description.
#[derive(Debug, Clone)]
pub struct Answer {
    /// Method and path.
    pub asked: String,
    /// HTTP status.
    pub status: u16,
    /// Headers.
    pub headers: HeaderMap,
    /// Body.
    pub body: Vec<u8>,
}

impl Answer {
    /// The answer, which must have this status.
    #[track_caller]
    #[allow(clippy::must_use_candidate, reason = "asking for the status is often the whole check")]
    #[allow(clippy::return_self_not_must_use, reason = "as above")]
    pub fn expect(self, status: u16) -> Self {
        assert_eq!(self.status, status, "{}: {}", self.asked, self.text());
        self
    }

    /// The body as text.
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The body as JSON.
    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|error| panic!("{} is not JSON: {error}: {}", self.asked, self.text()))
    }

    /// The `id` of the record.
    #[track_caller]
    pub fn id(&self) -> String {
        self.json()["id"].as_str().unwrap_or_else(|| panic!("no id: {}", self.text())).to_owned()
    }

    /// A header's text; empty where it is not there.
    pub fn header(&self, name: &str) -> String {
        self.headers.get(name).and_then(|value| value.to_str().ok()).unwrap_or_default().to_owned()
    }

    /// The entity tag.
    pub fn etag(&self) -> String {
        self.header(ETAG.as_str())
    }

    /// The problem's code, which must come with this status.
    #[track_caller]
    pub fn problem(&self, status: u16) -> String {
        assert_eq!(self.status, status, "{}: {}", self.asked, self.text());
        assert_eq!(self.header(CONTENT_TYPE.as_str()), "application/problem+json", "{}", self.asked);
        self.json()["code"].as_str().expect("a problem has a code").to_owned()
    }

    /// The fields a problem names, sorted, each as `pointer code`.
    #[track_caller]
    pub fn fields(&self) -> Vec<String> {
        let problem = self.json();
        let mut fields: Vec<String> = problem["errors"]
            .as_array()
            .map(Vec::as_slice)
            .unwrap_or_default()
            .iter()
            .map(|e| format!("{} {}", e["pointer"].as_str().unwrap(), e["code"].as_str().unwrap()))
            .collect();
        fields.sort();
        fields
    }

    /// The path of the next page.
    pub fn next_link(&self) -> Option<String> {
        let link = self.header(LINK.as_str());
        let url = link.strip_prefix('<')?.split_once(">; rel=\"next\"")?.0;
        Some(url.to_owned())
    }
}
