//! What every address does alike: methods, ids, bodies, request ids, other sites' pages, repeats, versions.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::mpsc;
use std::time::Duration;

use diesel::connection::SimpleConnection;
use reqwest::Method;
use serde_json::json;
use storksbill::http::idempotency::forget_old;
use storksbill::http::problem::Code;
use storksbill::serve::Front;
use storksbill_db::DbError;
use storksbill_tests::{Actor, Answer, Contract, TestApp};

use crate::members::proved;

const NOBODY: &str = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f";

async fn ask(actor: &Actor, method: Method, path: &str) -> Answer {
    actor.request(method, path).send().await
}

// ---- methods and addresses ----

fn matches(template: &str, path: &str) -> bool {
    let (template, path): (Vec<_>, Vec<_>) = (template.split('/').collect(), path.split('/').collect());
    template.len() == path.len()
        && template.iter().zip(path).all(|(want, part)| want.starts_with('{') || *want == part)
}

#[tokio::test]
async fn a_wrong_method_is_told_the_right_ones() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    let mut addresses: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for (method, path, _) in Contract::of_the_server().operations() {
        addresses.entry(path).or_default().insert(method);
    }
    let mut refused = 0;
    for (template, declared) in &addresses {
        let path = template
            .split('/')
            .map(|part| if part.starts_with('{') { NOBODY } else { part })
            .collect::<Vec<_>>()
            .join("/");
        for method in [Method::GET, Method::POST, Method::PUT, Method::PATCH, Method::DELETE, Method::OPTIONS]
        {
            // `/diary/export.csv` is also an id of `/diary/{diary_id}`, if one that names nothing.
            if addresses
                .iter()
                .any(|(other, methods)| matches(other, &path) && methods.contains(method.as_str()))
            {
                continue;
            }
            let answer = ask(&visitor, method.clone(), &path).await;
            assert_eq!(answer.problem(405), "method-not-allowed", "{method} {template}");
            let allowed: BTreeSet<String> = answer.header("allow").split(", ").map(str::to_owned).collect();
            let mut expected = declared.clone();
            if declared.contains("GET") {
                expected.insert("HEAD".to_owned());
            }
            assert_eq!(allowed, expected, "{method} {template}");
            refused += 1;
        }
    }
    assert!(refused > 40, "only {refused} methods were refused");
}

#[tokio::test]
async fn a_page_that_is_only_read_says_so() {
    let society = TestApp::start().await;
    for path in ["/openapi.json", "/health"] {
        let answer = ask(&society.visitor(), Method::POST, path).await;
        assert_eq!(answer.problem(405), "method-not-allowed");
        assert_eq!(answer.header("allow"), "GET, HEAD");
    }
}

#[tokio::test]
async fn nothing_is_at_an_unknown_address_or_under_an_id_that_is_none() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    for path in
        ["/nothing", "/api/v1/nothing", "/api/v1", "/api/v1/clubs/", "/api/v1//clubs", "/api/v2/clubs"]
    {
        assert_eq!(ask(&una, Method::GET, path).await.problem(404), "not-found", "{path}");
    }
    for id in ["1", "x", "%00", "%F0%28", "017f22e279b07cc398c4dc0c0c07398f", NOBODY] {
        let path = format!("/api/v1/clubs/{id}");
        assert_eq!(ask(&una, Method::GET, &path).await.problem(404), "not-found", "{path}");
        let path = format!("/api/v1/members/{id}/roles");
        assert_eq!(una.put(&path, proved(json!({"roles": []}))).await.problem(404), "not-found", "{path}");
    }
}

/// RFC 9110 (2022), sections 9.1 and 9.3.2: a server takes HEAD, and answers as to GET without the content.
#[tokio::test]
async fn head_is_answered_as_get_without_the_body() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let visitor = society.visitor();
    for path in [&format!("/api/v1/clubs/{club}"), "/api/v1/clubs", "/openapi.json", "/health"] {
        let (get, head) = (ask(&visitor, Method::GET, path).await, ask(&visitor, Method::HEAD, path).await);
        assert_eq!((get.status, head.status), (200, 200), "{path}");
        assert_eq!(head.body.len(), 0);
        for name in ["content-type", "etag", "content-length"] {
            assert_eq!(get.header(name), head.header(name), "{path} {name}");
        }
    }
    assert_eq!(ask(&visitor, Method::HEAD, "/api/v1/members").await.status, 401);
    assert_eq!(ask(&visitor, Method::HEAD, "/api/v1/nothing").await.status, 404);
    assert_eq!(ask(&visitor, Method::HEAD, "/api/v1/sessions/refresh").await.status, 405);
}

// ---- bodies ----

#[tokio::test]
async fn a_body_of_the_wrong_type_size_or_shape_is_refused() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let send = |kind: &'static str, body: Vec<u8>| {
        let ask = una.request(Method::POST, "/api/v1/clubs");
        async move { ask.body(kind, body).send().await }
    };
    for kind in ["text/plain", "application/x-www-form-urlencoded", "text/json", ""] {
        assert_eq!(send(kind, b"{}".to_vec()).await.problem(415), "unsupported-media-type", "{kind}");
    }
    let none = ask(&una, Method::POST, "/api/v1/clubs").await;
    assert_eq!(none.problem(415), "unsupported-media-type");
    for body in ["", "{", "{\"name\": }", "\u{feff}{}", "{\"name\": \"\\ud800\"}", "nonsense"] {
        let refused = send("application/json", body.into()).await;
        assert_eq!(refused.problem(400), "malformed-json", "{body}");
    }
    assert_eq!(send("application/json", vec![b'[', 0xff, b']']).await.problem(400), "malformed-json");
    assert_eq!(send("application/json", vec![b'['; 100_000]).await.problem(400), "malformed-json");
    for essence in ["application/json; charset=utf-8", "APPLICATION/JSON", "application/merge-patch+json"] {
        assert_eq!(send(essence, b"{}".to_vec()).await.problem(422), "invalid-fields", "{essence}");
    }
    // One more KiB than the server takes, and far more.
    for size in [257 * 1024, 8 * 1024 * 1024] {
        let refused = send("application/json", vec![b' '; size]).await;
        assert_eq!(refused.problem(413), "body-too-large", "{size}");
    }
}

#[tokio::test]
async fn a_caller_without_the_right_is_told_so_before_the_body_is_looked_at() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let answers = [
        (edda.clone(), 403, "not-allowed"),
        (society.visitor(), 401, "not-logged-in"),
        (society.visitor().with_token("forged"), 401, "bad-token"),
    ];
    for (actor, status, code) in answers {
        let refused = actor.request(Method::POST, "/api/v1/clubs").body("text/plain", "{").send().await;
        assert_eq!(refused.problem(status), code);
    }
}

// ---- request ids ----

#[tokio::test]
async fn every_answer_carries_a_request_id_and_a_problem_quotes_it() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    let with = |id: &'static str| {
        let ask = visitor.request(Method::GET, "/api/v1/nothing").header("x-request-id", id);
        async move { ask.send().await }
    };
    let taken_over = with("merrow-2026-05-10").await;
    assert_eq!(taken_over.header("x-request-id"), "merrow-2026-05-10");
    assert_eq!(taken_over.json()["request_id"], "merrow-2026-05-10");
    let mut seen = BTreeSet::new();
    let long = "x".repeat(65).leak();
    for strange in ["short", "with space", "semi;colon", long, "über-zwölf", ""] {
        let answer = with(strange).await;
        let id = answer.header("x-request-id");
        assert_ne!(id, strange);
        assert_eq!(answer.json()["request_id"], id);
        assert!(id.len() == 32 && id.bytes().all(|b| b.is_ascii_hexdigit()), "{id}");
        assert!(seen.insert(id), "the same id twice");
    }
    let good = ask(&visitor, Method::GET, "/api/v1/clubs").await.expect(200);
    assert_eq!(good.header("x-request-id").len(), 32);
}

// ---- other sites' pages ----

fn cors(answer: &Answer) -> String {
    answer.header("access-control-allow-origin")
}

#[tokio::test]
async fn no_other_site_may_use_the_api_unless_it_was_named() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    let read = visitor.request(Method::GET, "/api/v1/clubs").header("origin", "https://merrow.example");
    assert_eq!(cors(&read.send().await.expect(200)), "");
    let preflight = visitor
        .request(Method::OPTIONS, "/api/v1/clubs")
        .header("origin", "https://merrow.example")
        .header("access-control-request-method", "POST");
    let answer = preflight.send().await;
    assert_eq!((answer.problem(405).as_str(), cors(&answer).as_str()), ("method-not-allowed", ""));
}

#[tokio::test]
async fn a_site_that_was_named_may_use_the_api_and_no_other() {
    let front = Front {
        workers: Some(1),
        cors_origins: vec!["https://merrow.example/".to_owned(), "https://quay.example".to_owned()],
        ..Front::default()
    };
    let society = TestApp::start_with(|_| {}, front).await;
    let visitor = society.visitor();
    let from = |method: Method, path: &'static str, origin: &'static str| {
        visitor.request(method, path).header("origin", origin)
    };
    for origin in ["https://merrow.example", "https://quay.example"] {
        // Refusals too, or the page could not tell its reader what is wrong.
        for (path, status) in [("/api/v1/clubs", 200), ("/api/v1/members", 401), ("/api/v1/nothing", 404)] {
            let answer = from(Method::GET, path, origin).send().await.expect(status);
            assert_eq!(cors(&answer), origin);
            assert!(answer.header("access-control-expose-headers").contains("etag"));
            let varies: Vec<_> = answer.headers.get_all("vary").iter().collect();
            assert!(varies.iter().any(|v| v.as_bytes().eq_ignore_ascii_case(b"origin")), "{varies:?}");
        }
        let preflight = from(Method::OPTIONS, "/api/v1/clubs", origin)
            .header("access-control-request-method", "POST")
            .header("access-control-request-headers", "authorization, idempotency-key");
        let answer = preflight.send().await.expect(204);
        assert_eq!(cors(&answer), origin);
        let headers = answer.header("access-control-allow-headers");
        for name in ["authorization", "content-type", "idempotency-key", "if-match", "if-none-match"] {
            assert!(headers.contains(name), "{name} is not in {headers}");
        }
        for method in ["GET", "POST", "PUT", "PATCH", "DELETE"] {
            assert!(answer.header("access-control-allow-methods").contains(method));
        }
        // Cookies are not used, so none may be sent along.
        assert_eq!(answer.header("access-control-allow-credentials"), "");
    }
    for origin in ["https://merrow.example.net", "http://merrow.example", "null", "https://evil.example"] {
        let answer = from(Method::GET, "/api/v1/clubs", origin).send().await.expect(200);
        assert_eq!(cors(&answer), "", "{origin}");
        // A cache must not give this answer to a site that was named.
        let varies: Vec<_> = answer.headers.get_all("vary").iter().collect();
        assert!(varies.iter().any(|v| v.as_bytes().eq_ignore_ascii_case(b"origin")), "{varies:?}");
        let preflight =
            from(Method::OPTIONS, "/api/v1/clubs", origin).header("access-control-request-method", "POST");
        assert_eq!(cors(&preflight.send().await.expect(405)), "", "{origin}");
    }
}

// ---- tokens ----

/// RFC 6750 (2012), section 3: what comes with 401.
#[tokio::test]
async fn a_refused_token_says_how_to_come_again() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    let none = ask(&visitor, Method::GET, "/api/v1/members").await;
    assert_eq!(none.problem(401), "not-logged-in");
    assert_eq!(none.header("www-authenticate"), "Bearer realm=\"storksbill\"");
    let wrong = ask(&visitor.with_token("forged"), Method::GET, "/api/v1/members").await;
    assert_eq!(wrong.problem(401), "bad-token");
    assert_eq!(wrong.header("www-authenticate"), "Bearer realm=\"storksbill\", error=\"invalid_token\"");
    for scheme in ["Basic dW5hOnBvdHM=", "Bearer", "Bearer  ", "nonsense"] {
        let answer =
            visitor.request(Method::GET, "/api/v1/members").header("authorization", scheme).send().await;
        assert_eq!(answer.problem(401), "bad-token", "{scheme}");
    }
}

/// RFC 9110 (2022), section 11.1: the scheme's name is case-insensitive.
#[tokio::test]
async fn the_scheme_of_a_token_may_be_written_in_any_case() {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    for scheme in ["Bearer", "bearer", "BEARER"] {
        let ask = society.visitor().request(Method::GET, "/api/v1/members/me");
        ask.header("authorization", &format!("{scheme} {}", edda.token())).send().await.expect(200);
    }
}

/// What is open to everybody does not look at who asks: a client whose token has expired must still be able
/// to send it along and log in again.
#[tokio::test]
async fn an_open_address_answers_whatever_the_token() {
    let society = TestApp::start().await;
    let stale = society.visitor().with_token("long expired");
    stale.get("/api/v1/clubs").await.expect(200);
    let log_in = stale.post("/api/v1/sessions", json!({"email": "a@b.example", "password": "x"})).await;
    assert_eq!(log_in.problem(401), "wrong-credentials");
}

// ---- the same create again ----

#[tokio::test]
async fn twenty_sends_at_once_of_one_create_make_one_record() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let una = society.administrator("Una Marsh").await;
    for (n, name) in ["Quay Town", "High Moor", "The Sands"].into_iter().enumerate() {
        let sends: Vec<_> = (0..20)
            .map(|_| {
                let una = una.clone();
                let body = json!({"name": name, "region_id": region});
                tokio::spawn(async move { una.post_once("/api/v1/clubs", &format!("key-{n}"), body).await })
            })
            .collect();
        let mut ids = BTreeSet::new();
        for send in sends {
            let answer = send.await.unwrap().expect(201);
            assert_eq!(answer.etag(), "\"1\"");
            assert_eq!(answer.header("location"), format!("/api/v1/clubs/{}", answer.id()));
            ids.insert(answer.id());
        }
        assert_eq!(ids.len(), 1);
        assert_eq!(una.walk("/api/v1/clubs").await.len(), n + 1);
    }
}

#[tokio::test]
async fn one_key_of_two_members_is_two_keys() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let (una, bram) = (society.administrator("Una Marsh").await, society.administrator("Bram Oake").await);
    let first = json!({"name": "Quay Town", "region_id": region});
    let second = json!({"name": "High Moor", "region_id": region});
    let here = una.post_once("/api/v1/clubs", "same", first).await.expect(201);
    let there = bram.post_once("/api/v1/clubs", "same", second).await.expect(201);
    assert_ne!(here.id(), there.id());
}

#[tokio::test]
async fn a_refused_create_keeps_nothing_under_its_key() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let una = society.administrator("Una Marsh").await;
    let bad = una.post_once("/api/v1/clubs", "key", json!({"name": "x", "region_id": region})).await;
    assert_eq!(bad.problem(422), "invalid-fields");
    let unknown = json!({"name": "Quay Town", "region_id": NOBODY});
    assert_eq!(una.post_once("/api/v1/clubs", "key", unknown).await.problem(422), "invalid-fields");
    let good = json!({"name": "Quay Town", "region_id": region});
    let made = una.post_once("/api/v1/clubs", "key", good.clone()).await.expect(201);
    let taken = una.post_once("/api/v1/clubs", "other", good.clone()).await;
    assert_eq!(taken.problem(409), "taken");
    // A structured string (RFC 9651) is written in quotes; the key is what stands between them.
    let quoted = una.post_once("/api/v1/clubs", "\"key\"", good).await.expect(201);
    assert_eq!(quoted.id(), made.id());
}

#[tokio::test]
async fn the_same_key_at_another_address_or_with_another_body_is_refused() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let una = society.administrator("Una Marsh").await;
    let body = json!({"name": "Quay Town", "region_id": region});
    una.post_once("/api/v1/clubs", "key", body.clone()).await.expect(201);
    let other = una.post_once("/api/v1/clubs", "key", json!({"name": "Quay", "region_id": region})).await;
    assert_eq!(other.problem(422), "idempotency-key-reused");
    let elsewhere = una.post_once("/api/v1/invitations", "key", json!({"email": "e@merrow.example"})).await;
    assert_eq!(elsewhere.problem(422), "idempotency-key-reused");
    for key in ["\"\"", " ", "two words", &"k".repeat(129)] {
        let answer = una.post_once("/api/v1/clubs", key, body.clone()).await;
        assert_eq!(answer.problem(400), "bad-header", "{key:?}");
    }
}

#[tokio::test]
async fn a_key_is_forgotten_after_a_week_and_not_before() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let session = society.app.keys.verify(una.token(), society.clock.now()).unwrap().sid;
    let invite = || {
        let una = una.with_token(&society.token(una.id(), session));
        async move {
            let body = json!({"email": "edda@merrow.example", "days": 60});
            una.post_once("/api/v1/invitations", "key", body).await.expect(201).id()
        }
    };
    let first = invite().await;
    society.clock.advance(chrono::TimeDelta::days(7));
    assert_eq!(forget_old(&society.app).await.unwrap(), 0);
    assert_eq!(invite().await, first);
    society.clock.advance(chrono::TimeDelta::seconds(1));
    assert_eq!(forget_old(&society.app).await.unwrap(), 1);
    assert_ne!(invite().await, first);
}

// ---- versions ----

/// RFC 9110 (2022), section 13.1.1: a list of tags, or `*`; compared strongly.
#[tokio::test]
async fn an_edit_may_name_several_versions_or_any() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let bram = society.secretary_of("Bram Oake", club).await;
    let path = format!("/api/v1/clubs/{club}");
    let edit = |tags: &'static str| {
        let (bram, path) = (bram.clone(), path.clone());
        async move { bram.patch(&path, tags, json!({})).await }
    };
    for (tags, status, after) in [
        ("\"9\", \"1\"", 200, "\"2\""),
        ("\"9\",\"2\",\"7\"", 200, "\"3\""),
        ("*", 200, "\"4\""),
        ("W/\"4\"", 412, ""),
        ("\"3\"", 412, ""),
        ("4", 412, ""),
        ("\"4", 412, ""),
        ("\"\"", 412, ""),
        ("\"4\"", 200, "\"5\""),
    ] {
        let answer = edit(tags).await;
        assert_eq!((answer.status, answer.etag().as_str()), (status, after), "{tags}");
    }
}

#[tokio::test]
async fn of_two_edits_at_once_of_one_version_one_is_told_to_look_again() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let bram = society.secretary_of("Bram Oake", club).await;
    let path = format!("/api/v1/clubs/{club}");
    let edits: Vec<_> = (0..8)
        .map(|n| {
            let (bram, path) = (bram.clone(), path.clone());
            tokio::spawn(async move {
                bram.patch(&path, "\"1\"", json!({"meeting_place": format!("Hall {n}")})).await.status
            })
        })
        .collect();
    let mut ends = BTreeMap::new();
    for edit in edits {
        *ends.entry(edit.await.unwrap()).or_insert(0) += 1;
    }
    assert_eq!(ends, BTreeMap::from([(200, 1), (412, 7)]));
}

// ---- lists ----

#[tokio::test]
async fn a_page_that_cannot_be_is_refused() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    for limit in ["0", "201", "-1", "many", "1e2", ""] {
        let refused = visitor.get(&format!("/api/v1/clubs?limit={limit}")).await;
        assert_eq!(refused.problem(422), "invalid-query", "{limit}");
        assert_eq!(refused.fields(), ["limit out-of-range"]);
    }
    // The last holds a NUL, which PostgreSQL takes in no text: base64url of ["\u0000","x"].
    for cursor in ["x", "bnVsbA", "%00", "WyJhIl0", "WyJcdTAwMDAiLCJ4Il0"] {
        let refused = visitor.get(&format!("/api/v1/clubs?cursor={cursor}")).await;
        assert_eq!(refused.problem(400), "bad-cursor", "{cursor}");
    }
    visitor.get("/api/v1/clubs?limit=200").await.expect(200);
}

#[tokio::test]
async fn a_large_answer_is_sent_small_to_who_can_unpack_it() {
    let society = TestApp::start().await;
    let ask = society.visitor().request(Method::GET, "/openapi.json").header("accept-encoding", "gzip");
    let packed = ask.send().await.expect(200);
    let plain = society.visitor().get("/openapi.json").await.expect(200);
    assert_eq!(packed.header("content-encoding"), "gzip");
    assert!(packed.body.starts_with(&[0x1f, 0x8b]) && packed.body.len() * 4 < plain.body.len());
}

// ---- every code ----

/// Every code of the table comes from a request that a caller can send, or from a fault a server can meet.
#[tokio::test]
async fn every_code_is_produced() {
    let society = TestApp::start().await;
    let region = society.region("The Vale").await;
    let una = society.administrator("Una Marsh").await;
    let (edda, visitor) = (society.member("Edda Wick").await, society.visitor());
    let club = json!({"name": "Quay Town", "region_id": region});
    let made = una.post_once("/api/v1/clubs", "key", club.clone()).await.expect(201);
    let quay = made.header("location");
    let clubs = || una.request(Method::POST, "/api/v1/clubs");
    let roles = format!("/api/v1/members/{}/roles", una.id());

    let imagined = |stopped_on: &str| {
        format!(
            "/api/v1/forecasts/regions/{region}?plant_group=zonal&environment=outdoors&stopped_on={stopped_on}"
        )
    };
    let parent = cultivar(&una, "Quay Lass", None).await;
    let child = cultivar(&una, "Tor Boy", Some(&parent)).await;
    let parent = format!("/api/v1/cultivars/{parent}");

    let produced = vec![
        (Code::MalformedJson, clubs().body("application/json", "{").send().await),
        (Code::BadCursor, visitor.get("/api/v1/clubs?cursor=x").await),
        (Code::BadHeader, una.post_once("/api/v1/clubs", "two words", club.clone()).await),
        (Code::NotLoggedIn, visitor.get("/api/v1/members/me").await),
        (Code::BadToken, visitor.with_token("forged").get("/api/v1/members/me").await),
        (Code::SessionEnded, ended_session(&society).await.get("/api/v1/members/me").await),
        (
            Code::WrongCredentials,
            visitor.post("/api/v1/sessions", json!({"email": "a@b.example", "password": "x"})).await,
        ),
        (Code::RefreshTokenReused, reused_token(&society).await),
        (Code::NotAllowed, edda.post("/api/v1/clubs", club.clone()).await),
        (Code::NotFound, visitor.get("/api/v1/nothing").await),
        (Code::MethodNotAllowed, visitor.delete("/api/v1/clubs").await),
        (Code::Taken, una.post("/api/v1/clubs", club.clone()).await),
        (Code::WrongState, una.put(&roles, proved(json!({"roles": []}))).await),
        (Code::VersionMismatch, una.patch(&quay, "\"7\"", json!({})).await),
        (Code::BodyTooLarge, clubs().body("application/json", vec![b' '; 300_000]).send().await),
        (Code::UnsupportedMediaType, clubs().body("text/plain", "{}").send().await),
        (Code::InvalidFields, una.post("/api/v1/clubs", json!({})).await),
        (Code::InvalidQuery, visitor.get("/api/v1/clubs?limit=0").await),
        (
            Code::IdempotencyKeyReused,
            una.post_once("/api/v1/clubs", "key", json!({"name": "Moor", "region_id": region})).await,
        ),
        (Code::TooManyAttempts, crate::guessing::too_many(&society).await),
        (Code::PreconditionRequired, una.request(Method::PATCH, &quay).json(&json!({})).send().await),
        (Code::MalformedCsv, una.send_csv(Method::POST, "/api/v1/plants/import", "colour\nred\n").await),
        (Code::NoWeather, una.get(&imagined("2026-05-01")).await),
        (Code::NoForecast, una.get(&imagined("2020-05-01")).await),
        (Code::InUse, una.request(Method::DELETE, &parent).header("if-match", "*").send().await),
        (Code::PedigreeLoop, una.patch(&parent, "*", json!({"source_id": child})).await),
        (Code::ProofNeeded, invited_with_an_account(&society).await),
        (Code::AlreadyPromised, promised_cuttings(&society).await),
        (Code::TooSlow, crate::bounds::too_slow().await),
        (Code::Unavailable, from_a_server_without_a_free_connection().await),
        (Code::Internal, from_a_server_with_a_damaged_database().await),
    ];
    let mut produced = produced;
    if !society.app.db.is_postgres() {
        produced.push((Code::TooMuch, crate::bounds::too_much().await));
    }
    let mut open: BTreeSet<&str> = Code::ALL.iter().map(|code| code.as_str()).collect();
    for (code, answer) in produced {
        assert_eq!(answer.problem(code.status().as_u16()), code.as_str(), "{}", answer.asked);
        assert_eq!(answer.json()["title"], code.title());
        open.remove(code.as_str());
    }
    // The embedded database has one writer, so no write of its can meet another.
    match from_a_server_whose_writes_always_meet_others().await {
        Some(answer) => assert_eq!(answer.problem(409), "write-conflict"),
        None => assert!(!society.app.db.is_postgres()),
    }
    open.remove(Code::WriteConflict.as_str());
    if society.app.db.is_postgres() {
        // Seen on the embedded database alone.
        open.remove(Code::TooMuch.as_str());
    }
    assert_eq!(open, BTreeSet::new(), "no request of this test produces these");
}

/// Somebody who left is invited, and whoever holds the invitation shows nothing for the account.
async fn invited_with_an_account(society: &TestApp) -> Answer {
    let (una, finn) = (society.administrator("Una Fell").await, society.member("Finn Reed").await);
    let email = crate::sessions::email_of(society, &finn).await;
    let standing = format!("/api/v1/members/{}/standing", finn.id());
    una.put(&standing, proved(json!({"standing": "left"}))).await.expect(200);
    let invited = una.post("/api/v1/invitations", json!({"email": email})).await.expect(201).json();
    let body = json!({"token": invited["token"], "name": "Finn Reed", "password": "three wet stone steps"});
    society.visitor().post("/api/v1/invitations/acceptance", body).await
}

async fn ended_session(society: &TestApp) -> Actor {
    let bram = society.member("Bram Oake").await;
    bram.delete("/api/v1/sessions/current").await.expect(204);
    bram
}

async fn cultivar(actor: &Actor, name: &str, seed_parent: Option<&str>) -> String {
    let body =
        json!({"name": name, "plant_group": "zonal", "status": "seedling", "seed_parent_id": seed_parent});
    actor.post("/api/v1/cultivars", body).await.expect(201).id()
}

/// Two members who want what the other offers; one of them takes the offer back once a round has met them.
async fn promised_cuttings(society: &TestApp) -> Answer {
    let officer = society.registrar("Oona Pike").await;
    let (lise, finn) = (
        crate::swaps::swapper(society, "Lise Tarn").await,
        crate::swaps::swapper(society, "Finn Reed").await,
    );
    let (red, white) = (cultivar(&lise, "Red Sail", None).await, cultivar(&finn, "White Sail", None).await);
    let offer = lise
        .post("/api/v1/swaps/offers", json!({"cultivar_id": red, "how_many": 1, "healthy": true}))
        .await
        .expect(201);
    finn.post("/api/v1/swaps/offers", json!({"cultivar_id": white, "how_many": 1, "healthy": true}))
        .await
        .expect(201);
    lise.post("/api/v1/swaps/wants", json!({"cultivar_id": white, "rank": 1})).await.expect(201);
    finn.post("/api/v1/swaps/wants", json!({"cultivar_id": red, "rank": 1})).await.expect(201);
    crate::swaps::round_of(society, &officer, json!({})).await;
    lise.delete(&offer.header("location")).await
}

async fn reused_token(society: &TestApp) -> Answer {
    let lise = society.member("Lise Tarn").await;
    crate::sessions::give_password(society, &lise, "nine small red pots").await;
    let tokens = crate::sessions::log_in(society, &lise, "nine small red pots").await;
    let refresh = json!({"refresh_token": tokens["refresh_token"]});
    society.visitor().post("/api/v1/sessions/refresh", refresh.clone()).await.expect(200);
    society.visitor().post("/api/v1/sessions/refresh", refresh).await
}

/// Everything that reads waits for a connection, and gives up after ten seconds.
async fn from_a_server_without_a_free_connection() -> Answer {
    let society = TestApp::start().await;
    let edda = society.member("Edda Wick").await;
    let mut held = Vec::new();
    for _ in 0..4 {
        let (release, wait) = mpsc::channel::<()>();
        let (holds, is_held) = mpsc::channel();
        let db = society.app.db.clone();
        let holding = tokio::spawn(async move {
            db.read(move |_| {
                holds.send(()).unwrap();
                let _released = wait.recv_timeout(Duration::from_secs(60));
                Ok::<_, DbError>(())
            })
            .await
        });
        tokio::task::spawn_blocking(move || is_held.recv().unwrap()).await.unwrap();
        held.push((release, holding));
    }
    let (visitor, health) = (society.visitor(), society.visitor());
    let (busy, own, health) =
        tokio::join!(visitor.get("/api/v1/clubs"), edda.get("/api/v1/members/me"), health.get("/health"));
    assert_eq!(health.status, 200);
    // Who asks is looked up in the database too: without a connection that is no reason to doubt the token.
    if society.app.db.is_postgres() {
        assert_eq!(own.problem(503), "unavailable");
        assert_eq!(own.json()["request_id"], own.header("x-request-id"));
        assert_eq!(own.header("retry-after"), "2");
    } else {
        own.expect(200);
    }
    for (release, holding) in held {
        release.send(()).unwrap();
        holding.await.unwrap().unwrap();
    }
    visitor.get("/api/v1/clubs").await.expect(200);
    assert_eq!(busy.header("retry-after"), "2");
    busy
}

async fn from_a_server_with_a_damaged_database() -> Answer {
    let society = TestApp::start().await;
    society.write(|conn| conn.batch_execute("alter table clubs rename to lost").map_err(DbError::from)).await;
    let answer = society.visitor().get("/api/v1/clubs").await;
    // The cause is for the log: what a table is called is nobody's business.
    assert!(!answer.text().contains("clubs") && !answer.text().contains("table"), "{}", answer.text());
    answer
}

async fn from_a_server_whose_writes_always_meet_others() -> Option<Answer> {
    let society = TestApp::start().await;
    if !society.app.db.is_postgres() {
        return None;
    }
    let region = society.region("The Vale").await;
    let una = society.administrator("Una Marsh").await;
    society
        .write(|conn| {
            conn.batch_execute(
                "create function meet() returns trigger language plpgsql as \
                 $$ begin raise exception 'met another write' using errcode = '40001'; end $$; \
                 create trigger meet before insert on clubs for each row execute function meet();",
            )
            .map_err(DbError::from)
        })
        .await;
    Some(una.post("/api/v1/clubs", json!({"name": "Quay Town", "region_id": region})).await)
}

/// Every read, asked with a parameter that it does not know: walked from the description, so none is left out.
#[tokio::test]
async fn a_parameter_that_is_not_known_is_refused_by_name() {
    let society = TestApp::start().await;
    let una = society.administrator("Una Marsh").await;
    let mut asked = 0;
    for (method, path, operation) in Contract::of_the_server().operations() {
        if !path.starts_with("/api/v1/") || method != "GET" {
            continue;
        }
        let path = path
            .split('/')
            .map(|part| if part.starts_with('{') { NOBODY } else { part })
            .collect::<Vec<_>>()
            .join("/");
        let refused = una.get(&format!("{path}?limit=5&nmae=lamp&cursor=")).await;
        assert_eq!(refused.problem(422), "invalid-query", "{path}");
        let named = refused.json()["errors"][0]["pointer"].clone();
        let paged = operation["parameters"].as_array().unwrap().iter().any(|p| p["name"] == "limit");
        assert_eq!(named, if paged { "nmae" } else { "limit" }, "{path}");
        asked += 1;
    }
    assert!(asked > 100, "{asked}");
    // What is known stays known.
    una.get("/api/v1/members?name=lamp&limit=5").await.expect(200);
    assert_eq!(society.visitor().get("/api/v1/clubs?nmae=lamp").await.problem(422), "invalid-query");
}
