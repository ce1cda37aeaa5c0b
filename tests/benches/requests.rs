//! Requests a second of a server with 32 connections on the same machine: one record, one list, one durable
//! write, and beside them a handler that does nothing, so that the ratios can be quoted.
//!
//! `cargo bench -p storksbill-tests --bench requests [-- SECONDS]`; with `TEST_DATABASE_URL` on `PostgreSQL`.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a measurement prints its table, and stops where anything fails"
)]

use std::net::TcpListener;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use actix_web::{App, HttpServer, web};
use reqwest::{Client, RequestBuilder};
use storksbill::serve::Front;
use storksbill_tests::TestApp;

const CONNECTIONS: usize = 32;
const CLUBS: usize = 500;

/// A server that answers a constant: the most that this machine, client and framework can do.
fn start_reference() -> String {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    std::thread::spawn(move || {
        let server = HttpServer::new(|| App::new().route("/", web::get().to(async || "constant")));
        actix_web::rt::System::new().block_on(server.listen(listener).unwrap().run())
    });
    address
}

struct Table {
    span: Duration,
    reference: Option<f64>,
}

impl Table {
    /// Sends from all connections; prints requests a second, the share of the reference, and the time that
    /// half and 99 % of the requests took at most.
    async fn row(
        &mut self,
        what: &str,
        ask: impl Fn(&Client, u64) -> RequestBuilder + Send + Sync + 'static,
    ) {
        let (ask, next, span) = (Arc::new(ask), Arc::new(AtomicU64::new(0)), self.span);
        let started = Instant::now();
        let senders: Vec<_> = (0..CONNECTIONS)
            .map(|_| {
                let (ask, next) = (Arc::clone(&ask), Arc::clone(&next));
                tokio::spawn(async move {
                    storksbill::tls::settle();
                    let (client, mut times) = (Client::new(), Vec::new());
                    while started.elapsed() < span {
                        let sent = Instant::now();
                        let answer = ask(&client, next.fetch_add(1, Ordering::Relaxed)).send().await.unwrap();
                        assert!(answer.status().is_success(), "{}", answer.status());
                        answer.bytes().await.unwrap();
                        times.push(sent.elapsed());
                    }
                    times
                })
            })
            .collect();
        let mut times = Vec::new();
        for sender in senders {
            times.extend(sender.await.unwrap());
        }
        let rate = times.len() as f64 / started.elapsed().as_secs_f64();
        let share = rate / *self.reference.get_or_insert(rate);
        times.sort_unstable();
        let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize].as_secs_f64() * 1e3;
        println!("{what:<34} {rate:>9.0} {share:>9.2} {:>9.2} {:>9.2}", at(0.5), at(0.99));
    }
}

#[tokio::main]
async fn main() {
    let seconds = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(3.0);
    let mut table = Table { span: Duration::from_secs_f64(seconds), reference: None };
    let society = TestApp::start_with(|_| {}, Front::default()).await;
    let region = society.region("The Vale").await;
    let mut club = society.club("The first of many", region).await;
    for n in 1..CLUBS {
        club = society.club(&format!("Club {n}"), region).await;
    }
    let token = society.administrator("Una Marsh").await.token().to_owned();
    let at = |path: &str| format!("{}/api/v1/{path}", society.address);
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    println!("{CONNECTIONS} connections, {seconds} s a row; load before: {}", load.trim());
    println!("{:<34} {:>9} {:>9} {:>9} {:>9}", "", "a second", "of first", "p50 ms", "p99 ms");

    let reference = start_reference();
    table.row("reference: a constant", move |client, _| client.get(&reference)).await;
    let one = at(&format!("clubs/{club}"));
    table.row("read: one club", move |client, _| client.get(&one)).await;
    let (me, bearer) = (at("members/me"), token.clone());
    table.row("read: own record, logged in", move |client, _| client.get(&me).bearer_auth(&bearer)).await;
    let list = at("clubs?limit=50");
    table.row("read: a list of 50 of 500", move |client, _| client.get(&list)).await;
    let invitations = at("invitations");
    let write = move |client: &Client, n: u64| {
        let body = serde_json::json!({"email": format!("grower-{n}@merrow.example")});
        client.post(&invitations).bearer_auth(&token).header("idempotency-key", n).json(&body)
    };
    table.row("write: one invitation, durable", write).await;
}
