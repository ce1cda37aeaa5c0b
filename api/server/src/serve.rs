//! The server put together: state, routes, and the loop that runs it.

use std::io;
use std::net::TcpListener;
use std::sync::Arc;
use std::time::Duration;

use actix_web::dev::Server;
use actix_web::middleware::{Compress, from_fn};
use actix_web::{HttpServer, web};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use chrono::{NaiveTime, TimeDelta};
use storksbill_db::rows::settings as kept;
use storksbill_db::{Db, DbError};
use storksbill_domain::clock::Clock;
use utoipa_actix_web::AppExt;

use crate::app::{App, Limits, Society};
use crate::forecasts::pooled::PooledRecords;
use crate::http::auth::{TokenKeys, identify};
use crate::http::client::TrustedProxies;
use crate::http::connections::{Connections, room_for_connections};
use crate::http::fallback::{Addresses, fallback};
use crate::http::problem::{Code, Problem};
use crate::http::queries::{self, Questions};
use crate::http::safe::{self, TlsOnly};
use crate::http::upload::Uploads;
use crate::http::{cors, head, request_id};
use crate::openapi;
use crate::sessions::guessing::SubjectKey;
use crate::sessions::passwords::Passwords;
use crate::settings::Serve;
use crate::{
    brapi, calendars, clubs, conservation, crosses, cultivars, fits, forecasts, health, jobs, members, names,
    notices, pages, pedigrees, plants, regions, registrations, reversions, rounds, season, segregation,
    sessions, shows, society_log, swaps, trophies,
};

/// Everything a server can be told from outside, but for its state.
#[derive(Debug, Clone, Default)]
pub struct Front {
    /// Body sizes.
    pub limits: Limits,
    /// Origins whose pages may use the API from a browser.
    pub cors_origins: Vec<String>,
    /// Proxies whose word is taken for where a request came from.
    pub proxies: TrustedProxies,
    /// Threads; one per core when none.
    pub workers: Option<usize>,
    /// Most connections in all; not counted when none.
    pub connections: Option<usize>,
    /// Most connections of one address; not counted when none.
    pub connections_per_address: Option<usize>,
    /// For how many seconds browsers are told to come over TLS alone.
    pub hsts_seconds: Option<u32>,
}

/// The state of a server on an open database.
///
/// # Errors
/// One line where the signing key cannot be read or kept.
pub async fn state(db: Db, clock: Clock, passwords: Passwords, society: Society) -> Result<App, String> {
    let secret = signing_secret(&db).await?;
    Ok(state_with(db, clock, passwords, society, &secret))
}

/// The state of a server whose tokens are signed with `secret`.
fn state_with(db: Db, clock: Clock, passwords: Passwords, society: Society, secret: &[u8]) -> App {
    App {
        db,
        clock,
        keys: TokenKeys::new(secret),
        subjects: SubjectKey::new(secret),
        passwords,
        pooled: Arc::new(PooledRecords::default()),
        pedigrees: Arc::default(),
        society: Arc::new(society),
    }
}

/// Fewest characters of a signing key that is given from outside.
const LEAST_KEY: usize = 32;

/// The signing key that was given from outside, in the file or else the environment.
fn given_key(settings: &Serve) -> Result<Option<Vec<u8>>, String> {
    let text = match &settings.signing_key_file {
        Some(file) => std::fs::read_to_string(file)
            .map_err(|error| format!("cannot read the signing key {}: {error}", file.display()))?,
        None => match std::env::var("STORKSBILL_SIGNING_KEY") {
            Ok(text) => text,
            Err(_not_set) => return Ok(None),
        },
    };
    let text = text.trim();
    if text.len() < LEAST_KEY {
        return Err(format!("the signing key has {} characters and needs {LEAST_KEY} at least", text.len()));
    }
    Ok(Some(text.as_bytes().to_vec()))
}

/// The key that access tokens are signed with: made at the first start and kept with the records, so that
/// several servers on one database take each other's tokens.
async fn signing_secret(db: &Db) -> Result<Vec<u8>, String> {
    let mut fresh = [0_u8; 48];
    getrandom::fill(&mut fresh).map_err(|error| format!("no random numbers: {error}"))?;
    let text = db
        .write(move |conn| {
            if let Some(text) = kept::find(conn, "signing_secret")? {
                return Ok(text);
            }
            let text = STANDARD.encode(fresh);
            kept::insert(conn, "signing_secret", &text)?;
            Ok::<_, DbError>(text)
        })
        .await
        .map_err(|error| error.to_string())?;
    STANDARD.decode(text).map_err(|error| format!("the signing key in the database is damaged: {error}"))
}

/// The state that the settings of `serve` ask for.
///
/// # Errors
/// One line for what a volunteer can mend.
pub async fn state_of(settings: &Serve) -> Result<App, String> {
    let key = given_key(settings)?;
    let url = settings.database.database.clone();
    let connections = settings.database.db_connections;
    let db = tokio::task::spawn_blocking(move || Db::open(&url, connections))
        .await
        .map_err(|error| error.to_string())?
        .map_err(|error| error.to_string())?;
    let clock = match settings.today {
        // Noon, so that the day is the same in every zone the society may live in.
        Some(day) => Clock::starting_at(day.and_time(NaiveTime::MIN).and_utc() + TimeDelta::hours(12)),
        None => Clock::system(),
    };
    let society = Society {
        name: settings.society.clone(),
        least_growers: settings.least_growers,
        pooled_for: TimeDelta::seconds(settings.pooled_seconds.into()),
        answer_within: settings.answer_within(),
        round_every: TimeDelta::days(settings.round_days.into()),
        weather: settings.weather(),
        refit_hour: settings.refit_hour,
        public_url: settings.public_url.clone(),
        notice: settings.notice.clone(),
    };
    let passwords = Passwords::for_this_machine()?;
    match key {
        Some(key) => Ok(state_with(db, clock, passwords, society, &key)),
        None => state(db, clock, passwords, society).await,
    }
}

/// What is open to the outside, as the settings ask.
pub fn front_of(settings: &Serve) -> Front {
    Front {
        limits: Limits { table_bytes: usize::from(settings.upload_mib) * 1024 * 1024, ..Limits::default() },
        cors_origins: settings.cors_origins.clone(),
        proxies: TrustedProxies(settings.trusted_proxies.clone()),
        workers: settings.workers.map(usize::from),
        connections: Some(room_for_connections(settings.database.db_connections)),
        connections_per_address: Some(settings.connections_per_address.into()),
        hsts_seconds: settings.hsts_seconds,
    }
}

/// Every address of the API.
pub fn api_routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .configure(sessions::routes)
        .configure(society_log::routes)
        .configure(members::routes)
        .configure(clubs::routes)
        .configure(regions::routes)
        .configure(jobs::routes)
        .configure(cultivars::routes)
        .configure(plants::routes)
        .configure(forecasts::routes)
        .configure(fits::routes)
        .configure(season::routes)
        .configure(swaps::routes)
        .configure(rounds::routes)
        .configure(health::routes)
        .configure(conservation::routes)
        .configure(names::routes)
        .configure(notices::routes)
        .configure(calendars::routes)
        .configure(crosses::routes)
        .configure(pedigrees::routes)
        .configure(segregation::routes)
        .configure(registrations::routes)
        .configure(reversions::routes)
        .configure(shows::routes)
        .configure(trophies::routes);
}

/// Serves on a listener that is already bound; ends when the returned server is stopped.
///
/// # Errors
/// What the system says of the listener.
pub fn serve(listener: TcpListener, app: App, front: Front) -> io::Result<Server> {
    let description = openapi::description();
    let addresses = web::Data::new(Addresses::of(&description));
    let questions = web::Data::new(Questions::of(&description));
    let description = web::Data::new(openapi::Description::of(&description));
    let state = web::Data::new(app);
    let workers =
        front.workers.unwrap_or_else(|| std::thread::available_parallelism().map_or(1, usize::from));
    let connections = front.connections_per_address.map(Connections::of);
    let in_all = front.connections;
    let uploads = Uploads::of(front.limits.table_bytes);
    let tls_only = web::Data::new(TlsOnly(front.hsts_seconds));
    let mut server = HttpServer::new(move || {
        actix_web::App::new()
            .app_data(state.clone())
            .app_data(description.clone())
            .app_data(addresses.clone())
            .app_data(questions.clone())
            .app_data(front.limits)
            .app_data(uploads.clone())
            .app_data(tls_only.clone())
            .app_data(front.proxies.clone())
            .app_data(web::PathConfig::default().error_handler(|_, _| {
                // An id that cannot be one names nothing.
                Problem::new(Code::NotFound, "There is nothing at this address: an id in it is not an id.")
                    .into()
            }))
            .app_data(
                web::QueryConfig::default()
                    .error_handler(|error, _| Problem::new(Code::InvalidQuery, format!("{error}.")).into()),
            )
            .into_utoipa_app()
            .service(utoipa_actix_web::scope("/api/v1").configure(api_routes))
            .service(utoipa_actix_web::scope("/brapi/v2").configure(brapi::routes))
            .into_app()
            .configure(pages::routes)
            .default_service(web::route().to(fallback))
            // The last to be wrapped is the first to run.
            .wrap(from_fn(queries::known_alone))
            .wrap(from_fn(identify))
            .wrap(from_fn(head::as_get))
            .wrap(Compress::default())
            .wrap(cors::Cors::of(&front.cors_origins))
            .wrap(from_fn(safe::mark))
            .wrap(from_fn(request_id::assign))
    })
    .workers(workers)
    // Headers in five seconds, an idle connection kept for as long: common practice.
    .client_request_timeout(Duration::from_secs(5))
    .keep_alive(Duration::from_secs(5))
    .shutdown_timeout(5);
    if let Some(in_all) = in_all {
        server = server.max_connections((in_all / workers.max(1)).max(8));
    }
    if let Some(connections) = connections {
        server = server.on_connect(move |connection, data| connections.note(connection, data));
    }
    Ok(server.listen(listener)?.run())
}
