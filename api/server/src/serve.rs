//! The server put together: state, routes, and the loop that runs it.

use std::io;
use std::net::TcpListener;
use std::sync::Arc;

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
use crate::http::fallback::{Addresses, fallback};
use crate::http::problem::{Code, Problem};
use crate::http::{cors, head, request_id};
use crate::openapi;
use crate::sessions::guessing::SubjectKey;
use crate::sessions::passwords::Passwords;
use crate::settings::Serve;
use crate::{
    brapi, calendars, clubs, conservation, crosses, cultivars, fits, forecasts, health, jobs, members, names,
    notices, pages, pedigrees, plants, regions, registrations, reversions, rounds, season, segregation,
    sessions, shows, swaps, trophies,
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
}

/// The state of a server on an open database.
///
/// # Errors
/// One line where the signing key cannot be read or kept.
pub async fn state(db: Db, clock: Clock, passwords: Passwords, society: Society) -> Result<App, String> {
    let secret = signing_secret(&db).await?;
    Ok(App {
        db,
        clock,
        keys: TokenKeys::new(&secret),
        subjects: SubjectKey::new(&secret),
        passwords,
        pooled: Arc::new(PooledRecords::default()),
        pedigrees: Arc::default(),
        society: Arc::new(society),
    })
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
        notice: settings.notice.clone(),
    };
    state(db, clock, Passwords::for_this_machine()?, society).await
}

/// What is open to the outside, as the settings ask.
pub fn front_of(settings: &Serve) -> Front {
    Front {
        limits: Limits { table_bytes: usize::from(settings.upload_mib) * 1024 * 1024, ..Limits::default() },
        cors_origins: settings.cors_origins.clone(),
        proxies: TrustedProxies(settings.trusted_proxies.clone()),
        workers: settings.workers.map(usize::from),
    }
}

/// Every address of the API.
pub fn api_routes(config: &mut utoipa_actix_web::service_config::ServiceConfig) {
    config
        .configure(sessions::routes)
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
    let description = web::Data::new(openapi::Description::of(&description));
    let state = web::Data::new(app);
    let workers =
        front.workers.unwrap_or_else(|| std::thread::available_parallelism().map_or(1, usize::from));
    let server = HttpServer::new(move || {
        actix_web::App::new()
            .app_data(state.clone())
            .app_data(description.clone())
            .app_data(addresses.clone())
            .app_data(front.limits)
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
            .wrap(from_fn(identify))
            .wrap(from_fn(head::as_get))
            .wrap(Compress::default())
            .wrap(cors::Cors::of(&front.cors_origins))
            .wrap(from_fn(request_id::assign))
    })
    .workers(workers)
    .shutdown_timeout(5)
    .listen(listener)?
    .run();
    Ok(server)
}
