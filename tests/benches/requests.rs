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

mod load;

use std::net::TcpListener;

use actix_web::{App, HttpServer, web};
use load::Table;
use reqwest::Client;
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

#[tokio::main]
async fn main() {
    let seconds = std::env::args().find_map(|argument| argument.parse().ok()).unwrap_or(3.0);
    let society = TestApp::start_with(|_| {}, Front::default()).await;
    let region = society.region("The Vale").await;
    let mut club = society.club("The first of many", region).await;
    for n in 1..CLUBS {
        club = society.club(&format!("Club {n}"), region).await;
    }
    let token = society.administrator("Una Marsh").await.token().to_owned();
    let at = |path: &str| format!("{}/api/v1/{path}", society.address);
    let mut table = Table::head(seconds, CONNECTIONS);

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
