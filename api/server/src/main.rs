//! The command line of the server.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "this is what a command line program does")]

use std::future::poll_fn;
use std::io::{self, BufRead, IsTerminal, Write};
use std::net::TcpListener;
use std::pin::Pin;
use std::process::ExitCode;
use std::task::Poll;
use std::time::Duration;

use clap::Parser;
use storksbill::app::App;
use storksbill::sessions::tidying;
use storksbill::settings::{Admin, AdminCreate, Cli, Command, Database, OpenapiArgs, Serve};
use storksbill::{jobs, members, openapi, rounds, serve};
use storksbill_db::{Db, without_password};

fn main() -> ExitCode {
    let command = Cli::parse().command;
    let result = match command {
        Command::Serve(settings) => in_runtime(run(*settings)),
        Command::Migrate(database) => migrate(&database),
        Command::Openapi(args) => describe(&args),
        Command::Admin(Admin::Create(args)) => in_runtime(create_administrator(args)),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(line) => {
            eprintln!("storksbill: {line}");
            ExitCode::FAILURE
        }
    }
}

fn in_runtime(work: impl Future<Output = Result<(), String>>) -> Result<(), String> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|error| format!("cannot start: {error}"))?;
    runtime.block_on(work)
}

async fn run(settings: Serve) -> Result<(), String> {
    start_logging(&settings.log)?;
    // The port first: a second server on the same port must not touch the database.
    let listener = TcpListener::bind(&settings.listen).map_err(|error| match error.kind() {
        io::ErrorKind::AddrInUse => format!(
            "{} is taken: another program (or this one) listens there already; stop it or choose another port with --listen",
            settings.listen
        ),
        _ => format!("cannot listen on {}: {error}", settings.listen),
    })?;
    let address = listener.local_addr().map_err(|error| error.to_string())?;
    for warning in settings.warnings(address) {
        tracing::warn!("{warning}");
    }
    let app = serve::state_of(&settings).await?;
    let has_administrator = members::has_administrator(&app.db).await?;
    let mut server = serve::serve(listener, app.clone(), serve::front_of(&settings))
        .map_err(|error| format!("cannot serve on {address}: {error}"))?;
    // The first poll sets up the signals, so that whoever reads the address may stop the server at once.
    if let Poll::Ready(ended) = poll_fn(|context| Poll::Ready(Pin::new(&mut server).poll(context))).await {
        return ended.map_err(|error| error.to_string());
    }
    println!("{} is served at http://{address}/", settings.society);
    println!("  documentation of the API   http://{address}/docs");
    if has_administrator {
        println!("  stop it with Ctrl-C");
    } else {
        println!("  next: make an administrator in another window:");
        println!(
            "    storksbill admin create --database '{}' --email you@example.org --name 'Your Name'",
            without_password(&settings.database.database)
        );
    }
    let timer = tokio::spawn(rounds::timer::keep_rounds(app.clone()));
    let held = jobs::worker::Held::default();
    let worker = tokio::spawn(jobs::worker::keep_working(app.clone(), held.clone()));
    let tidying = tokio::spawn(keep_tidy(app));
    let ended = server.await.map_err(|error| error.to_string());
    timer.abort();
    worker.abort();
    tidying.abort();
    // Whatever it was at has ended by now.
    drop(worker.await);
    held.give_up().await;
    ended
}

/// Every hour; a failure is logged and tried again an hour later.
async fn keep_tidy(app: App) {
    loop {
        for (what, problem) in tidying::tidy(&app).await {
            tracing::warn!(%problem, what, "was not tidied");
        }
        tokio::time::sleep(Duration::from_secs(3600)).await;
    }
}

fn start_logging(level: &str) -> Result<(), String> {
    let filter = tracing_subscriber::EnvFilter::try_new(level)
        .map_err(|error| format!("--log {level} is not understood: {error}"))?;
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(io::stderr)
        .with_ansi(io::stderr().is_terminal())
        .init();
    Ok(())
}

fn migrate(database: &Database) -> Result<(), String> {
    let db = Db::open(&database.database, 1).map_err(|error| error.to_string())?;
    db.settle().map_err(|error| error.to_string())?;
    println!("The database is up to date.");
    Ok(())
}

fn describe(args: &OpenapiArgs) -> Result<(), String> {
    let text = openapi::text(&openapi::description());
    match &args.to {
        Some(file) => {
            std::fs::write(file, text).map_err(|error| format!("cannot write {}: {error}", file.display()))
        }
        None => io::stdout().write_all(text.as_bytes()).map_err(|error| error.to_string()),
    }
}

async fn create_administrator(args: AdminCreate) -> Result<(), String> {
    let password = if let Some(file) = &args.password_file {
        std::fs::read_to_string(file)
            .map_err(|error| format!("cannot read {}: {error}", file.display()))?
            .lines()
            .next()
            .unwrap_or_default()
            .to_owned()
    } else {
        if io::stdin().is_terminal() {
            eprint!("Password for {} (at least 12 characters, shown as you type): ", args.email);
        }
        let mut line = String::new();
        io::stdin().lock().read_line(&mut line).map_err(|error| error.to_string())?;
        line.trim_end_matches(['\r', '\n']).to_owned()
    };
    let db = Db::open(&args.database.database, 1).map_err(|error| error.to_string())?;
    members::create_administrator(&db, &args.email, &args.name, password).await?;
    db.settle().map_err(|error| error.to_string())?;
    println!("{} is an administrator.", args.email);
    Ok(())
}
