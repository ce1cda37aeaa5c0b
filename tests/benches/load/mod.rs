//! Sends requests for a while from many connections and prints how fast they were answered.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use reqwest::{Client, RequestBuilder};

pub struct Table {
    span: Duration,
    connections: usize,
    reference: Option<f64>,
}

impl Table {
    /// A table whose first row is what the others are compared with; every row takes `seconds`.
    pub fn head(seconds: f64, connections: usize) -> Self {
        let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
        println!("{connections} connections, {seconds} s a row; load before: {}", load.trim());
        println!("{:<34} {:>9} {:>9} {:>9} {:>9}", "", "a second", "of first", "p50 ms", "p99 ms");
        Self { span: Duration::from_secs_f64(seconds), connections, reference: None }
    }

    /// Sends from all connections; prints requests a second, the share of the reference, and the time that
    /// half and 99 % of the requests took at most.
    pub async fn row(
        &mut self,
        what: &str,
        ask: impl Fn(&Client, u64) -> RequestBuilder + Send + Sync + 'static,
    ) {
        let (ask, next, span) = (Arc::new(ask), Arc::new(AtomicU64::new(0)), self.span);
        let started = Instant::now();
        let senders: Vec<_> = (0..self.connections)
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
