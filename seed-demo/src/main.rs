//! The command line of the demonstration.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "this is what a command line program does")]

use std::process::ExitCode;
use std::time::Instant;

use clap::Parser;
use seed_demo::options::Options;
use seed_demo::{Demonstration, tour};

#[tokio::main]
async fn main() -> ExitCode {
    match run(&Options::parse()).await {
        Ok(()) => ExitCode::SUCCESS,
        Err(line) => {
            eprintln!("seed-demo: {line}");
            ExitCode::FAILURE
        }
    }
}

async fn run(options: &Options) -> Result<(), String> {
    let start = Instant::now();
    let tell = |line: &str| println!("{:6.1} s  {line}", start.elapsed().as_secs_f64());
    let demonstration = Demonstration::open(options, &tell).await?;
    let address = demonstration.address.clone();
    if options.fill_only {
        return demonstration.stop().await;
    }
    println!("\nThe plant society of Merrow, an invented island, is served at {address}/");
    println!("  it is {} there; documentation of the API at {address}/docs\n", options.today);
    match tour::words(&address, options.today).await {
        Ok(words) => println!("{words}"),
        // Somebody may have changed what the tour shows; the server is none the worse for it.
        Err(line) => println!("There is no tour this time: {line}\n"),
    }
    println!("Stop it with Ctrl-C.");
    demonstration.served().await
}
