//! The pages for people, by their markup and in a real browser.

use std::collections::BTreeSet;
use std::fs::File;
use std::path::PathBuf;
use std::process::Command;
use std::time::{Duration, Instant};

use reqwest::Method;
use serde_json::json;
use storksbill::http::problem::Code;
use storksbill::serve::Front;
use storksbill_tests::{Answer, TestApp, moment};

use crate::show_kit::{Held, send};

const PAGES: [&str; 4] = ["/", "/docs", "/login", "/problems"];
const SVG_NAMESPACE: &str = "http://www.w3.org/2000/svg";

async fn society_named(name: &str, notice: Option<&str>) -> TestApp {
    let front = Front { workers: Some(1), ..Front::default() };
    TestApp::start_with(
        |society| {
            name.clone_into(&mut society.name);
            society.notice = notice.map(ToOwned::to_owned);
        },
        front,
    )
    .await
}

/// What stands in double quotes after each `before`.
fn quoted_after(text: &str, before: &str) -> Vec<String> {
    text.split(before).skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
}

fn is_guarded(answer: &Answer) {
    let policy = answer.header("content-security-policy");
    for rule in ["default-src 'none'", "script-src 'self'", "connect-src 'self'", "frame-ancestors 'none'"] {
        assert!(policy.split("; ").any(|given| given == rule), "{}: no {rule} in {policy}", answer.asked);
    }
    assert!(!policy.contains("unsafe") && !policy.contains("http"), "{policy}");
    assert_eq!(answer.header("x-content-type-options"), "nosniff", "{}", answer.asked);
    assert_eq!(answer.header("referrer-policy"), "no-referrer", "{}", answer.asked);
}

#[tokio::test]
async fn every_page_is_whole_and_names_the_society() {
    let society = TestApp::start().await;
    for path in PAGES {
        let page = society.visitor().get(path).await.expect(200);
        assert_eq!(page.header("content-type"), "text/html; charset=utf-8", "{path}");
        assert_eq!(page.header("cache-control"), "no-cache", "{path}");
        is_guarded(&page);
        let text = page.text();
        assert!(text.starts_with("<!DOCTYPE html>") && text.trim_end().ends_with("</html>"), "{path}");
        assert!(text.contains("· The Merrow Pelargonium Society</title>"), "{path}: {text}");
        assert_eq!(text.matches("<h1").count(), 1 + usize::from(path == "/login"), "{path}");
        assert!(text.contains("name=\"viewport\" content=\"width=device-width"), "{path}");
        for link in ["/docs", "/login", "/problems"] {
            assert!(text.contains(&format!("href=\"{link}\"")), "{path} does not lead to {link}");
        }
    }
}

#[tokio::test]
async fn names_and_notices_cannot_put_markup_into_a_page() {
    let society =
        society_named("Ellen's <script>alert(1)</script> \"&\" Club", Some("<img src=x onerror=alert(2)>"))
            .await;
    society.region("<b>The Vale</b>").await;
    for path in PAGES {
        let text = society.visitor().get(path).await.expect(200).text();
        assert!(!text.contains("<script>"), "{path}");
        assert!(
            text.contains("Ellen&#39;s &lt;script&gt;alert(1)&lt;/script&gt; &quot;&amp;&quot; Club"),
            "{path}"
        );
    }
    let first = society.visitor().get("/").await.text();
    assert!(first.contains("<p class=\"notice\">&lt;img src=x onerror=alert(2)&gt;</p>"), "{first}");
    assert!(first.contains("&lt;b&gt;The Vale&lt;/b&gt;") && !first.contains("<b>"), "{first}");
}

#[tokio::test]
async fn the_first_page_tells_how_every_region_stands() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    let first = visitor.get("/").await.text();
    assert!(first.contains("No region has been entered yet."));
    assert!(!first.contains("class=\"notice\""), "a notice that nobody set");
    for name in ["The Vale", "North Head"] {
        society.region(name).await;
    }
    let told = visitor.get("/api/v1/season").await.expect(200).json();
    let first = visitor.get("/").await.text();
    let rows: Vec<String> = told
        .as_array()
        .unwrap()
        .iter()
        .map(|region| {
            let (name, words) = (region["name"].as_str().unwrap(), region["words"].as_str().unwrap());
            format!("<tr><th scope=\"row\">{name}</th><td>{words}</td></tr>")
        })
        .collect();
    assert_eq!(rows.len(), 2);
    assert!(first.contains(&rows.join("\n")), "{first}");
    assert!(first.contains("10 May 2026"), "the day by the society's clock");
}

#[tokio::test]
async fn the_first_page_says_what_is_called_off_and_from_when_entries_are_taken() {
    let held = Held::publish(Held::society().await, "2026-06-13", 1, json!({})).await;
    let visitor = held.society.visitor();
    send(&held.secretary, Method::PATCH, &held.show, json!({"opens_at": "2026-06-01T08:00:00Z"}))
        .await
        .expect(200);
    let first = visitor.get("/").await.text();
    assert!(
        first.contains("Entries are taken from 1 June 2026 on. Entries close on 12 June 2026"),
        "{first}"
    );
    let why = json!({"reason": "The hall has no heating."});
    send(&held.secretary, Method::POST, &format!("{}/cancellation", held.show), why).await.expect(200);
    let first = visitor.get("/").await.text();
    assert!(
        first.contains("Called off: it will not be held.") && !first.contains("Entries close"),
        "{first}"
    );
    assert!(first.contains("No results of the last year."), "{first}");
}

#[tokio::test]
async fn the_first_page_announces_published_shows_until_they_are_over() {
    let society = TestApp::start().await;
    let club = society.club("Quay Town", society.region("The Vale").await).await;
    let bram = society.secretary_of("Bram Oake", club).await;
    let visitor = society.visitor();
    assert!(visitor.get("/").await.text().contains("No show is announced."));
    let show = json!({
        "name": "Summer <Show>",
        "held_on": "2026-06-13",
        "place": "Quay Town Hall",
        "closes_wall": "2026-06-11T21:00",
        "zone": "Europe/London",
    });
    let show = bram.post(&format!("/api/v1/clubs/{club}/shows"), show).await.expect(201).header("location");
    let class = json!({
        "label": "1", "title": "One regal", "rules": {"slots": [{"count": 1, "unit": "pot"}]}
    });
    bram.post(&format!("{show}/draft/classes"), class).await.expect(201);
    assert!(visitor.get("/").await.text().contains("No show is announced."), "a draft is nobody's business");
    let publication = bram.request(Method::POST, &format!("{show}/publication")).header("if-match", "*");
    publication.json(&json!({})).send().await.expect(200);
    let open = format!(
        "<li><h3>Summer &lt;Show&gt;</h3><p>13 June 2026, Quay Town Hall (Quay Town)</p>\
        <p class=\"quiet\">Entries close on 11 June 2026 at 21:00 (Europe/London).</p>\
        <p><a href=\"{show}/print/schedule\">Schedule</a></p></li>"
    );
    let first = visitor.get("/").await.text();
    assert!(first.contains(&open), "{first}");
    let wait_until = |text| society.clock.advance(moment(text) - society.clock.now());
    // 21:00 of British Summer Time.
    wait_until("2026-06-11T20:00:00Z");
    assert!(visitor.get("/").await.text().contains("Entries are closed."));
    wait_until("2026-06-13T12:00:00Z");
    assert!(visitor.get("/").await.text().contains("Summer &lt;Show&gt;"), "on its day");
    wait_until("2026-06-14T12:00:00Z");
    assert!(visitor.get("/").await.text().contains("No show is announced."));
}

#[tokio::test]
async fn every_code_of_a_refusal_has_a_line_that_its_type_leads_to() {
    let society = TestApp::start().await;
    let refusal = society.visitor().get("/api/v1/members/me").await;
    assert_eq!(refusal.problem(401), "not-logged-in");
    let kind = refusal.json()["type"].as_str().unwrap().to_owned();
    let (path, anchor) = kind.split_once('#').unwrap();
    let page = society.visitor().get(path).await.expect(200).text();
    assert!(page.contains(&format!("<tr id=\"{anchor}\">")));
    for code in Code::ALL {
        let line = page
            .lines()
            .find(|line| line.starts_with(&format!("<tr id=\"{}\">", code.as_str())))
            .unwrap_or_else(|| panic!("{} has no line", code.as_str()));
        assert!(line.contains(&format!(">{}</td>", code.status().as_u16())), "{line}");
        assert!(line.contains(&code.title().replace('\'', "&#39;")), "{line}");
    }
    assert_eq!(page.matches("<tr id=").count(), Code::ALL.len());
}

#[tokio::test]
async fn nothing_is_loaded_from_outside() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    let mut files = BTreeSet::new();
    for path in PAGES {
        let text = visitor.get(path).await.expect(200).text();
        assert!(!text.contains("://"), "{path} names another address");
        for place in quoted_after(&text, "href=\"").into_iter().chain(quoted_after(&text, "src=\"")) {
            let here = place.starts_with('/') && !place.starts_with("//");
            assert!(here || place.starts_with('#'), "{path} leads to {place}");
            if here {
                visitor.get(&place).await.expect(200);
            }
            if place.starts_with("/assets/") {
                files.insert(place);
            }
        }
    }
    assert!(files.contains("/assets/swagger-ui-bundle.js") && files.len() >= 5, "{files:?}");
    for path in files {
        let file = visitor.get(&path).await.expect(200);
        is_guarded(&file);
        let text = file.text().replace(SVG_NAMESPACE, "");
        if !path.contains("swagger-ui") {
            assert!(!text.contains("://"), "{path} names another address");
            continue;
        }
        // The viewer's script names standards and namespaces; what could make it load one of them is the
        // checker it is built to ask, which our script turns off, and the policy refuses all the same.
        let is_style = std::path::Path::new(&path).extension().is_some_and(|kind| kind == "css");
        for place in text.split("url(").skip(1).filter(|_| is_style) {
            assert!(place.trim_start_matches(['"', '\'']).starts_with("data:"), "{path}: url({place:.60}");
        }
        assert!(!is_style || !text.contains("@import"), "{path}");
    }
    let script = visitor.get("/assets/docs.js").await.text();
    assert!(script.contains("validatorUrl: null"), "the viewer would ask a checker on the web");
}

#[tokio::test]
async fn a_browser_that_has_a_file_is_not_sent_it_again() {
    let society = TestApp::start().await;
    let visitor = society.visitor();
    let file = visitor.get("/assets/style.css").await.expect(200);
    assert_eq!(file.header("content-type"), "text/css; charset=utf-8");
    assert_eq!(file.header("cache-control"), "no-cache");
    let ask =
        |tag: &str| visitor.request(Method::GET, "/assets/style.css").header("if-none-match", tag).send();
    let again = ask(&format!("\"0\", {}", file.etag())).await;
    assert_eq!((again.status, again.body.len(), again.etag()), (304, 0, file.etag()));
    assert_eq!(ask("W/\"0\"").await.status, 200);
    let other = visitor.get("/assets/log-in.js").await.expect(200);
    assert_ne!(other.etag(), file.etag());
    assert_eq!(visitor.get("/assets/mod.rs").await.problem(404), "not-found");
    assert_eq!(visitor.get("/assets/..%2Fmod.rs").await.problem(404), "not-found");
}

#[tokio::test]
async fn at_a_wrong_address_people_get_a_page_and_programs_a_problem() {
    let society = society_named("The <i>Merrow</i> Society", None).await;
    let ask = |path: &'static str, accept: &str| {
        society.visitor().request(Method::GET, path).header("accept", accept).send()
    };
    let browser = "text/html,application/xhtml+xml,*/*;q=0.8";
    let page = ask("/nowhere", browser).await;
    assert_eq!(page.status, 404);
    assert_eq!(page.header("content-type"), "text/html; charset=utf-8");
    assert!(page.header("vary").to_lowercase().contains("accept"), "{}", page.header("vary"));
    is_guarded(&page);
    assert!(page.text().contains("The &lt;i&gt;Merrow&lt;/i&gt; Society"));
    assert_eq!(ask("/nowhere", "application/json").await.problem(404), "not-found");
    assert_eq!(ask("/nowhere", "*/*").await.problem(404), "not-found");
    assert_eq!(ask("/api/v1/nowhere", browser).await.problem(404), "not-found");
    assert_eq!(ask("/api", browser).await.problem(404), "not-found");
}

#[tokio::test]
async fn pages_are_read_and_nothing_else() {
    let society = TestApp::start().await;
    for path in PAGES.into_iter().chain(["/openapi.json", "/assets/style.css", "/health"]) {
        let head = society.visitor().request(Method::HEAD, path).send().await;
        assert_eq!((head.status, head.body.len()), (200, 0), "HEAD {path}");
        let refused = society.visitor().request(Method::POST, path).send().await;
        assert_eq!(refused.problem(405), "method-not-allowed", "{path}");
        assert_eq!(refused.header("allow"), "GET, HEAD", "{path}");
    }
}

/// The browser's program, or none on a machine that need not have one.
fn chromium() -> Option<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let found =
        std::env::split_paths(&path).map(|folder| folder.join("chromium")).find(|file| file.is_file());
    if found.is_none() {
        assert!(std::env::var("CI").as_deref() != Ok("true"), "the gate must have chromium");
        eprintln!("skipped: chromium is not installed, so no page was looked at in a browser");
    }
    found
}

/// The page's markup after its scripts have run, and what the browser had to say.
fn rendered(chromium: &PathBuf, url: &str) -> (String, String) {
    let folder = tempfile::tempdir().unwrap();
    let (page, said) = (folder.path().join("page"), folder.path().join("said"));
    let mut browser = Command::new(chromium)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"])
        .args(["--disable-background-networking", "--disable-component-update", "--disable-sync"])
        .args(["--disable-dev-shm-usage", "--enable-logging=stderr", "--window-size=360,800"])
        // No name is looked up: a request to anywhere else fails.
        .arg("--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1")
        .arg(format!("--user-data-dir={}", folder.path().join("profile").display()))
        .args(["--virtual-time-budget=20000", "--dump-dom", url])
        .stdout(File::create(&page).unwrap())
        .stderr(File::create(&said).unwrap())
        .spawn()
        .unwrap();
    let started = Instant::now();
    while browser.try_wait().unwrap().is_none() {
        if started.elapsed() > Duration::from_secs(120) {
            browser.kill().unwrap();
            browser.wait().unwrap();
            panic!("the browser hangs at {url}: {}", std::fs::read_to_string(&said).unwrap());
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    let read = |file| String::from_utf8_lossy(&std::fs::read(file).unwrap()).into_owned();
    (read(&page), read(&said))
}

#[tokio::test]
async fn a_browser_shows_the_pages_and_their_scripts_run() {
    let Some(chromium) = chromium() else { return };
    let society = TestApp::start().await;
    society.region("The Vale").await;
    let spec = society.visitor().get("/openapi.json").await.expect(200).json();
    let summary = spec["paths"]["/api/v1/clubs"]["post"]["summary"].as_str().unwrap().to_owned();
    let sent = society.visitor().get("/docs").await.text();
    assert!(!sent.contains(&summary), "the page holds what its script should show");

    for (path, shown) in [
        ("/", "<td>No weather readings for this region yet.</td>".to_owned()),
        ("/docs", format!(">{summary}</")),
        // Hidden until the script has found that nobody is logged in.
        ("/login", "<section id=\"outside\">".to_owned()),
    ] {
        let (page, said) = rendered(&chromium, &format!("{}{path}", society.address));
        assert!(page.contains(&shown), "{path} does not show {shown}: {page:.3000}\n{said}");
        for fault in ["Content Security Policy", "Uncaught", "ERR_NAME_NOT_RESOLVED", "Failed to load"] {
            assert!(!said.contains(fault), "{path}: {said}");
        }
    }
}
