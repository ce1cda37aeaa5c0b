//! A server killed in the middle of its work: nothing that was acknowledged is lost, nothing is doubled.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use reqwest::Client;
use serde_json::{Value, json};
use storksbill_tests::TestDatabase;
use storksbill_tests::process::{Process, create_administrator};

const CREATES: usize = 200;
const AT_ONCE: usize = 8;
/// Acknowledged creates after which the server is killed.
const KILL_AFTER: usize = 60;

const EMAIL: &str = "una@merrow.example";
const PASSWORD: &str = "nine small red pots";

async fn token(server: &Process) -> String {
    let log_in = json!({"email": EMAIL, "password": PASSWORD});
    let tokens = server.visitor().post("/api/v1/sessions", log_in).await.expect(201).json();
    tokens["access_token"].as_str().unwrap().to_owned()
}

/// Sends create number `n`; the id it was acknowledged with, or none where no answer came.
async fn create(client: &Client, address: &str, token: &str, n: usize) -> Option<String> {
    let answer = client
        .post(format!("{address}/api/v1/invitations"))
        .bearer_auth(token)
        .header("idempotency-key", format!("create-{n}"))
        .json(&json!({"email": format!("grower-{n}@merrow.example")}))
        .send()
        .await
        .ok()?;
    let status = answer.status();
    let body: Value = answer.json().await.ok()?;
    assert_eq!(status, 201, "{body}");
    Some(body["id"].as_str().unwrap().to_owned())
}

async fn kept(address: &str, token: &str) -> BTreeMap<String, String> {
    storksbill::tls::settle();
    let list: Vec<Value> = Client::new()
        .get(format!("{address}/api/v1/invitations"))
        .bearer_auth(token)
        .send()
        .await
        .unwrap()
        .json()
        .await
        .unwrap();
    list.iter()
        .map(|row| (row["id"].as_str().unwrap().to_owned(), row["email"].as_str().unwrap().to_owned()))
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_server_killed_amid_creates_keeps_every_acknowledged_one_and_doubles_none() {
    let database = TestDatabase::fresh();
    create_administrator(&database.url, EMAIL, PASSWORD);
    let mut server = Process::serve(&database.url, &[]);
    let access = token(&server).await;

    let next = Arc::new(AtomicUsize::new(0));
    let done = Arc::new(AtomicUsize::new(0));
    let senders: Vec<_> = (0..AT_ONCE)
        .map(|_| {
            let (next, done) = (Arc::clone(&next), Arc::clone(&done));
            let (address, access) = (server.address.clone(), access.clone());
            tokio::spawn(async move {
                storksbill::tls::settle();
                let client = Client::new();
                let mut acknowledged = Vec::new();
                loop {
                    let n = next.fetch_add(1, Ordering::SeqCst);
                    if n >= CREATES {
                        return acknowledged;
                    }
                    if let Some(id) = create(&client, &address, &access, n).await {
                        acknowledged.push((n, id));
                        done.fetch_add(1, Ordering::SeqCst);
                    }
                }
            })
        })
        .collect();
    while done.load(Ordering::SeqCst) < KILL_AFTER {
        tokio::time::sleep(std::time::Duration::from_micros(200)).await;
    }
    server.kill();
    let mut acknowledged = BTreeMap::new();
    for sender in senders {
        acknowledged.extend(sender.await.unwrap());
    }
    assert!(
        (KILL_AFTER..CREATES).contains(&acknowledged.len()),
        "the kill was to come in the middle: {} of {CREATES} were acknowledged",
        acknowledged.len()
    );

    let server = Process::serve(&database.url, &[]);
    let access = token(&server).await;
    let found = kept(&server.address, &access).await;
    for (n, id) in &acknowledged {
        assert_eq!(found.get(id), Some(&format!("grower-{n}@merrow.example")), "create {n} was lost");
    }
    assert!(found.len() <= acknowledged.len() + AT_ONCE, "more were kept than can have been under way");

    storksbill::tls::settle();

    let client = Client::new();
    for n in 0..CREATES {
        let id = create(&client, &server.address, &access, n).await.expect("the server answers");
        if let Some(first) = acknowledged.get(&n) {
            assert_eq!(&id, first, "create {n} was answered twice with different records");
        }
    }
    let found = kept(&server.address, &access).await;
    let addresses: BTreeSet<_> = found.values().collect();
    assert_eq!((found.len(), addresses.len()), (CREATES, CREATES));
}
