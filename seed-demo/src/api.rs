//! Requests to the server that is being filled, and what it says when it refuses one.

use futures_util::stream::{self, StreamExt, TryStreamExt};
use reqwest::header::{CONTENT_TYPE, IF_MATCH};
use reqwest::{Client, Method, RequestBuilder};
use serde_json::Value;

/// Requests under way at once, where their order does not matter.
const AT_ONCE: usize = 8;

/// A server's address, and the log-in with which it is asked.
#[derive(Debug, Clone)]
pub struct Api {
    client: Client,
    address: String,
    tokens: Option<Tokens>,
}

#[derive(Debug, Clone)]
struct Tokens {
    access: String,
    refresh: String,
}

impl Tokens {
    fn of(given: &Value) -> Result<Self, String> {
        Ok(Self { access: text_of(given, "access_token")?, refresh: text_of(given, "refresh_token")? })
    }
}

impl Api {
    /// A visitor's.
    ///
    /// # Errors
    /// One line where no client can be made.
    pub fn visitor(address: &str) -> Result<Self, String> {
        storksbill::tls::settle();
        let client = Client::builder().build().map_err(|error| format!("no HTTP client: {error}"))?;
        Ok(Self { client, address: address.to_owned(), tokens: None })
    }

    /// The API asked by somebody who logs in; none where address or password is wrong.
    ///
    /// # Errors
    /// One line for any other refusal.
    pub async fn logged_in(&self, email: &str, password: &str) -> Result<Option<Self>, String> {
        let body = serde_json::json!({"email": email, "password": password, "device": "seed-demo"});
        let request = self.request(Method::POST, "/api/v1/sessions").json(&body);
        let response = request.send().await.map_err(|error| unreachable(&error))?;
        if response.status().as_u16() == 401 {
            return Ok(None);
        }
        let tokens = Tokens::of(&answer("POST /api/v1/sessions", response).await?)?;
        Ok(Some(Self { tokens: Some(tokens), ..self.clone() }))
    }

    /// The same log-in with fresh tokens: they last a quarter of an hour, and no password is hashed for it.
    ///
    /// # Errors
    /// One line with the refusal.
    pub async fn refreshed(&self) -> Result<Self, String> {
        let Some(tokens) = &self.tokens else { return Ok(self.clone()) };
        let body = serde_json::json!({"refresh_token": tokens.refresh});
        let tokens = Tokens::of(&self.post("/api/v1/sessions/refresh", &body).await?)?;
        Ok(Self { tokens: Some(tokens), ..self.clone() })
    }

    fn request(&self, method: Method, path: &str) -> RequestBuilder {
        let request = self.client.request(method, format!("{}{path}", self.address));
        match &self.tokens {
            Some(tokens) => request.bearer_auth(&tokens.access),
            None => request,
        }
    }

    async fn send(&self, asked: String, request: RequestBuilder) -> Result<Value, String> {
        answer(&asked, request.send().await.map_err(|error| unreachable(&error))?).await
    }

    /// Reads.
    ///
    /// # Errors
    /// One line with the refusal, here and below.
    pub async fn get(&self, path: &str) -> Result<Value, String> {
        self.send(format!("GET {path}"), self.request(Method::GET, path)).await
    }

    /// Reads the rows of a list, or of its first page.
    pub async fn list(&self, path: &str) -> Result<Vec<Value>, String> {
        match self.get(path).await? {
            Value::Array(rows) => Ok(rows),
            mut page => match page.get_mut("items").map(Value::take) {
                Some(Value::Array(rows)) => Ok(rows),
                _ => Err(format!("GET {path} was answered with no list")),
            },
        }
    }

    /// Reads text.
    pub async fn get_text(&self, path: &str) -> Result<String, String> {
        let response = self.request(Method::GET, path).send().await.map_err(|error| unreachable(&error))?;
        let status = response.status();
        let text = response.text().await.map_err(|error| unreachable(&error))?;
        if status.is_success() { Ok(text) } else { Err(refusal(&format!("GET {path}"), &text)) }
    }

    /// Makes.
    pub async fn post(&self, path: &str, body: &Value) -> Result<Value, String> {
        self.send(format!("POST {path}"), self.request(Method::POST, path).json(body)).await
    }

    /// Does something with a record, whatever its version: nobody else is there.
    pub async fn act(&self, path: &str) -> Result<Value, String> {
        let request = self.request(Method::POST, path).header(IF_MATCH, "*");
        self.send(format!("POST {path}"), request).await
    }

    /// As [`Api::post`], whatever the record's version.
    pub async fn decide(&self, path: &str, body: &Value) -> Result<Value, String> {
        let request = self.request(Method::POST, path).header(IF_MATCH, "*").json(body);
        self.send(format!("POST {path}"), request).await
    }

    /// Sets.
    pub async fn put(&self, path: &str, body: &Value) -> Result<Value, String> {
        self.send(format!("PUT {path}"), self.request(Method::PUT, path).json(body)).await
    }

    /// As [`Api::put`], whatever the record's version.
    pub async fn replace(&self, path: &str, body: &Value) -> Result<Value, String> {
        let request = self.request(Method::PUT, path).header(IF_MATCH, "*").json(body);
        self.send(format!("PUT {path}"), request).await
    }

    /// Changes, whatever the version: nobody else is there.
    pub async fn patch(&self, path: &str, body: &Value) -> Result<Value, String> {
        let request = self.request(Method::PATCH, path).header(IF_MATCH, "*").json(body);
        self.send(format!("PATCH {path}"), request).await
    }

    /// Sends a table as CSV.
    pub async fn send_csv(&self, method: Method, path: &str, table: String) -> Result<Value, String> {
        let asked = format!("{method} {path}");
        self.send(asked, self.request(method, path).header(CONTENT_TYPE, "text/csv").body(table)).await
    }
}

/// The id of a record that was made.
///
/// # Errors
/// One line where there is none.
pub fn id_of(record: &Value) -> Result<String, String> {
    text_of(record, "id")
}

/// A text field of a record.
///
/// # Errors
/// One line where there is none.
pub fn text_of(record: &Value, field: &str) -> Result<String, String> {
    match record.get(field).and_then(Value::as_str) {
        Some(text) => Ok(text.to_owned()),
        None => Err(format!("the server's answer has no {field}: {record}")),
    }
}

/// Runs the futures, a few at once, and gives their results in their order.
///
/// # Errors
/// The first error.
pub async fn at_once<T, F>(work: impl IntoIterator<Item = F>) -> Result<Vec<T>, String>
where
    F: Future<Output = Result<T, String>>,
{
    stream::iter(work).buffered(AT_ONCE).try_collect().await
}

/// A table as CSV (RFC 4180).
///
/// # Errors
/// One line where it cannot be written.
pub fn table<const N: usize>(
    columns: [&str; N],
    rows: impl IntoIterator<Item = [String; N]>,
) -> Result<String, String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut write = |row: &[String]| writer.write_record(row).map_err(|error| error.to_string());
    write(&columns.map(ToOwned::to_owned))?;
    for row in rows {
        write(&row)?;
    }
    let bytes = writer.into_inner().map_err(|error| error.to_string())?;
    String::from_utf8(bytes).map_err(|error| error.to_string())
}

fn unreachable(error: &reqwest::Error) -> String {
    format!("the server does not answer: {error}")
}

async fn answer(asked: &str, response: reqwest::Response) -> Result<Value, String> {
    let status = response.status();
    let text = response.text().await.map_err(|error| unreachable(&error))?;
    if !status.is_success() {
        return Err(refusal(asked, &text));
    }
    if text.is_empty() {
        return Ok(Value::Null);
    }
    serde_json::from_str(&text).map_err(|error| format!("{asked} was answered with no JSON: {error}"))
}

/// The problem in a line: title, detail, and the fields with theirs.
fn refusal(asked: &str, body: &str) -> String {
    let problem: Value = serde_json::from_str(body).unwrap_or(Value::Null);
    let text = |field: &str| problem.get(field).and_then(Value::as_str).unwrap_or_default();
    let fields: Vec<String> = problem
        .get("errors")
        .and_then(Value::as_array)
        .map(Vec::as_slice)
        .unwrap_or_default()
        .iter()
        .take(5)
        .map(|error| {
            let part = |field: &str| error.get(field).and_then(Value::as_str).unwrap_or_default();
            format!("{} {}", part("pointer"), part("detail"))
        })
        .collect();
    format!("{asked} was refused: {} {} {}", text("title"), text("detail"), fields.join("; "))
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    #[test]
    fn cells_with_commas_and_quotes_are_quoted() {
        let rows = [["a,b".to_owned(), "say \"no\"".to_owned()], [String::new(), "é".to_owned()]];
        let csv = table(["one", "two"], rows).unwrap();
        assert_eq!(csv, "one,two\n\"a,b\",\"say \"\"no\"\"\"\n,é\n");
    }

    #[test]
    fn a_refusal_is_one_line_with_its_fields() {
        let body = r#"{"title":"Fields need correcting","detail":"See errors.","errors":[{"pointer":"/name","detail":"is taken"}]}"#;
        assert_eq!(
            refusal("POST /x", body),
            "POST /x was refused: Fields need correcting See errors. /name is taken"
        );
        assert_eq!(refusal("GET /", "<html>"), "GET / was refused:   ");
    }
}
