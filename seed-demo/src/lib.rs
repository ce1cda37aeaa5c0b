//! The demonstration: the plant society of Merrow, an island that does not exist.
//!
//! First everything is made up: [`demo::Demo::generate`], pure and the same for the same seed, of the weather
//! ([`weather`]), the people ([`people`]), what there is to grow ([`cultivars`]), what they hold ([`plants`]),
//! what they wrote down ([`diary`]), what they swap ([`swaps`]), what they
//! look after ([`care`]), what they cross ([`crosses`]), what came before the registrar ([`register`]) and what they show ([`shows`], [`exhibits`]). Then a server is
//! started on an embedded database and told all of it through its own API ([`fill`]). [`Demonstration::open`]
//! does both where the file is empty and nothing where it is filled.

pub mod api;
pub mod care;
pub(crate) mod clock;
pub mod crosses;
pub mod cultivars;
pub mod demo;
pub mod diary;
pub mod exhibits;
pub mod fill;
pub(crate) mod hold;
pub mod options;
pub mod people;
pub mod places;
pub mod plants;
pub mod random;
pub mod register;
pub mod shows;
pub mod swaps;
pub mod tour;
pub mod weather;

use std::net::TcpListener;
use std::path::Path;

use actix_web::dev::ServerHandle;
use clap::Parser;
use storksbill::app::App;
use storksbill::jobs::worker::Held;
use storksbill::settings::{Cli, Command, Serve};
use storksbill::{members, serve};
use tokio::task::JoinHandle;

use crate::api::{Api, text_of};
use crate::demo::Demo;
use crate::options::Options;
use crate::people::{GUIDES, PASSWORD};

/// What was in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Holds {
    Nothing,
    /// The filling was broken off.
    Part,
    Demonstration,
    SomethingElse,
}

/// A server with the demonstration in it.
#[derive(Debug)]
pub struct Demonstration {
    /// `http://host:port`
    pub address: String,
    /// Whether it had to be filled; false where it was there already.
    pub filled: bool,
    /// The server's state.
    pub app: App,
    handle: ServerHandle,
    server: JoinHandle<std::io::Result<()>>,
}

impl Demonstration {
    /// Starts the server and fills it where it is empty. `tell` gets a line for every step.
    ///
    /// # Errors
    /// One line that says what to do: the port is taken, the file holds another society, an earlier filling
    /// was broken off, a request was refused.
    pub async fn open(options: &Options, tell: &(dyn Fn(&str) + Sync)) -> Result<Self, String> {
        let mut demonstration = Self::start(options).await?;
        let mut holds = demonstration.holds().await?;
        if options.fresh && matches!(holds, Holds::Part | Holds::Demonstration) {
            demonstration.stop().await?;
            remove(&options.database)?;
            demonstration = Self::start(options).await?;
            holds = Holds::Nothing;
        }
        let file = &options.database;
        let refusal = match holds {
            Holds::Demonstration => {
                tell(&format!("{file} holds the demonstration already; --fresh starts over"));
                return Ok(demonstration);
            }
            Holds::Nothing => match demonstration.fill(options, tell).await {
                Ok(()) => return Ok(demonstration),
                Err(line) => format!("{line}\nThe filling was broken off; start over with --fresh"),
            },
            Holds::Part => {
                format!(
                    "{file} was not filled to the end: the filling was broken off; start over with --fresh"
                )
            }
            Holds::SomethingElse => format!(
                "{file} holds another society, or the demonstration's administrator has a new password; \
                 serve it with `storksbill serve --database {file}`, or name another file with --database"
            ),
        };
        demonstration.stop().await?;
        Err(refusal)
    }

    async fn start(options: &Options) -> Result<Self, String> {
        let listener = TcpListener::bind(&options.listen).map_err(|error| {
            format!("cannot listen on {}: {error}; choose another port with --listen", options.listen)
        })?;
        let address = listener.local_addr().map_err(|error| error.to_string())?;
        let settings = settings(options)?;
        let app = serve::state_of(&settings).await?;
        let server = serve::serve(listener, app.clone(), serve::front_of(&settings))
            .map_err(|error| format!("cannot serve on {address}: {error}"))?;
        let handle = server.handle();
        let server = tokio::spawn(server);
        Ok(Self { address: format!("http://{address}"), filled: false, app, handle, server })
    }

    async fn holds(&self) -> Result<Holds, String> {
        let [.., (administrator, _)] = GUIDES;
        match Api::visitor(&self.address)?.logged_in(administrator, PASSWORD).await? {
            Some(api) => {
                let name = text_of(&api.get("/api/v1/members/me").await?, "name")?;
                Ok(if name == fill::UNFINISHED { Holds::Part } else { Holds::Demonstration })
            }
            None if members::has_administrator(&self.app.db).await? => Ok(Holds::SomethingElse),
            None => Ok(Holds::Nothing),
        }
    }

    async fn fill(&mut self, options: &Options, tell: &(dyn Fn(&str) + Sync)) -> Result<(), String> {
        tell(&format!("Filling {} with an invented society ...", options.database));
        let demo = Demo::generate(options.scale()).map_err(|error| error.to_string())?;
        fill::fill(&self.app, &self.address, &demo, tell).await?;
        self.filled = true;
        Ok(())
    }

    /// Serves until it is stopped from outside.
    ///
    /// # Errors
    /// One line.
    pub async fn served(self) -> Result<(), String> {
        let timer = tokio::spawn(storksbill::rounds::timer::keep_rounds(self.app.clone()));
        let worker = tokio::spawn(storksbill::jobs::worker::keep_working(self.app, Held::default()));
        let ended = self.server.await;
        timer.abort();
        worker.abort();
        ended.map_err(|error| error.to_string())?.map_err(|error| error.to_string())
    }

    /// Stops the server and lets go of the file.
    ///
    /// # Errors
    /// One line.
    pub async fn stop(self) -> Result<(), String> {
        self.handle.stop(true).await;
        self.server.await.map_err(|error| error.to_string())?.map_err(|error| error.to_string())
    }
}

/// The server's own settings, with its own defaults for all that is not said here.
fn settings(options: &Options) -> Result<Serve, String> {
    let today = options.today.to_string();
    let line = [
        "storksbill",
        "serve",
        "--database",
        &options.database,
        "--listen",
        &options.listen,
        "--society",
        "The Merrow Pelargonium Society",
        "--notice",
        "This is a demonstration: the island of Merrow, its people, plants and weather are invented.",
        "--today",
        &today,
    ];
    match Cli::try_parse_from(line).map_err(|error| error.to_string())?.command {
        Command::Serve(settings) => Ok(*settings),
        _ => Err("the server's command line has changed".to_owned()),
    }
}

/// Removes the file and what the embedded database keeps beside it.
fn remove(database: &str) -> Result<(), String> {
    if !Path::new(database).is_file() {
        return Err(format!("{database} is not a file; empty that database yourself, then start again"));
    }
    for end in ["-wal", "-shm", ""] {
        match std::fs::remove_file(format!("{database}{end}")) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return Err(format!("cannot remove {database}{end}: {error}"));
            }
            _ => {}
        }
    }
    Ok(())
}
