//! The harness of the integration tests: a society of one's own for every test.
//!
//! [`TestApp`] starts the real server on a free port with a database that nobody else uses: a copy of a
//! migrated `SQLite` file, or with `TEST_DATABASE_URL` a fresh schema of that `PostgreSQL` database. [`Actor`]s
//! are typed clients, one per role, and every [`Answer`] is held against the API's own description: a status
//! that is not described or a body of another shape fails the test that received it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::missing_panics_doc,
    reason = "a test says what it expects and fails where it is not so"
)]

mod actor;
mod contract;
mod database;
pub mod process;

use std::net::TcpListener;
use std::sync::Arc;

use chrono::{DateTime, NaiveDateTime, TimeDelta, Utc};
use storksbill::app::{App, Society};
use storksbill::regions::fetch::Fetching;
use storksbill::serve::{self, Front};
use storksbill::sessions::passwords::Passwords;
use storksbill_db::rows::members::{self, Member};
use storksbill_db::rows::places::{self, Club, Region};
use storksbill_db::rows::sessions::{self, Session};
use storksbill_db::{Conn, Db, DbError};
use storksbill_domain::clock::Clock;
use storksbill_domain::ids::{ClubId, MemberId, RegionId, SessionId};
use storksbill_domain::names;
use storksbill_domain::words::{ClubRole, SocietyRole, Standing};

pub use actor::{Actor, Answer};
pub use contract::Contract;
pub use database::{TestDatabase, on_postgres};

/// When every test starts: noon of a day in spring.
pub const NOW: &str = "2026-05-10T12:00:00Z";

/// The password of every member that a test makes past the API.
pub const PASSWORD: &str = "nine small red pots";
/// What is kept of it: one pass of argon2id over 8 KiB, since it guards nothing.
const PASSWORD_HASH: &str =
    "$argon2id$v=19$m=8,t=1,p=1$bWVycm93LXRlc3Qtc2FsdA$exosxIHwZtWYfMHldugzgMNBjmgpvkFODjfoQd0wRdU";

/// A running server with an empty society.
#[derive(Debug)]
pub struct TestApp {
    /// The server's own state, for what no request can reach.
    pub app: App,
    /// Stands still at [`NOW`] until it is moved.
    pub clock: Clock,
    /// `http://127.0.0.1:port`
    pub address: String,
    handle: actix_web::dev::ServerHandle,
    // Dropped last: the server must be gone before its files are.
    database: TestDatabase,
}

impl Drop for TestApp {
    fn drop(&mut self) {
        // The command is sent at the call; nobody has to wait for it.
        drop(self.handle.stop(false));
    }
}

impl TestApp {
    /// A server with the usual settings.
    pub async fn start() -> Self {
        Self::start_with(|_| {}, Front { workers: Some(1), ..Front::default() }).await
    }

    /// A server with settings of its own.
    pub async fn start_with(adjust: impl FnOnce(&mut Society), front: Front) -> Self {
        // The smallest hash argon2 takes: these passwords guard nothing.
        Self::start_hashing(Passwords::new(2, 8, 1).unwrap(), adjust, front).await
    }

    /// A server that hashes passwords so.
    pub async fn start_hashing(
        passwords: Passwords,
        adjust: impl FnOnce(&mut Society),
        front: Front,
    ) -> Self {
        let database = TestDatabase::fresh();
        let db = Db::open(&database.url, 4).expect("the test database opens");
        let clock = Clock::stopped_at(moment(NOW));
        let mut society = Society {
            name: "The Merrow Pelargonium Society".to_owned(),
            least_growers: 5,
            pooled_for: TimeDelta::zero(),
            answer_within: TimeDelta::days(7),
            round_every: TimeDelta::zero(),
            weather: Fetching { private_hosts: true, ..Fetching::default() },
            refit_hour: 2,
            public_url: None,
            notice: None,
        };
        adjust(&mut society);
        let app = serve::state(db, clock.clone(), passwords, society).await.unwrap();
        let (address, handle) = served(app.clone(), front);
        Self { app, clock, address, handle, database }
    }

    /// The address of a second server on the same records, which has read nothing of them yet. It ends with the test.
    pub fn freshly_started(&self) -> String {
        let app = App { pedigrees: Arc::default(), pooled: Arc::default(), ..self.app.clone() };
        served(app, Front { workers: Some(1), ..Front::default() }).0
    }

    /// Where the records are, for a second server on them.
    pub fn database_url(&self) -> &str {
        &self.database.url
    }

    /// Somebody who is not logged in.
    pub fn visitor(&self) -> Actor {
        Actor::new(&self.address, None, None)
    }

    /// A member without any office.
    pub async fn member(&self, name: &str) -> Actor {
        self.actor(name, &[], &[]).await
    }

    /// A member of one club.
    pub async fn member_of(&self, name: &str, club: ClubId) -> Actor {
        self.actor(name, &[], &[(club, ClubRole::Member)]).await
    }

    /// A club's secretary.
    pub async fn secretary_of(&self, name: &str, club: ClubId) -> Actor {
        self.actor(name, &[], &[(club, ClubRole::Secretary)]).await
    }

    /// The registrar.
    pub async fn registrar(&self, name: &str) -> Actor {
        self.actor(name, &[SocietyRole::Registrar], &[]).await
    }

    /// An administrator.
    pub async fn administrator(&self, name: &str) -> Actor {
        self.actor(name, &[SocietyRole::Administrator], &[]).await
    }

    /// A member with any roles, logged in. Made past the API: joining has tests of its own.
    pub async fn actor(&self, name: &str, society: &[SocietyRole], clubs: &[(ClubId, ClubRole)]) -> Actor {
        let member = new_member(name, self.clock.now().naive_utc());
        let (id, session, now) = (member.id, SessionId::fresh(), self.clock.now());
        let (society, clubs) = (society.to_vec(), clubs.to_vec());
        self.write(move |conn| {
            members::insert(conn, &member)?;
            members::set_society_roles(conn, id, &society)?;
            for (club, role) in &clubs {
                members::set_club_role(conn, *club, id, *role, now.naive_utc())?;
            }
            sessions::insert(
                conn,
                &Session {
                    id: session,
                    member_id: id,
                    device: None,
                    created_at: now.naive_utc(),
                    expires_at: (now + TimeDelta::days(3650)).naive_utc(),
                    ended_at: None,
                    end_reason: None,
                },
            )
        })
        .await;
        Actor::new(&self.address, Some(self.token(id, session)), Some(id))
    }

    /// An access token for a session, good from the clock's now.
    pub fn token(&self, member: MemberId, session: SessionId) -> String {
        self.app.keys.issue(member, session, self.clock.now()).unwrap()
    }

    /// The same person with an access token of the clock's now: the old one runs out as the clock moves on.
    pub async fn again(&self, actor: &Actor) -> Actor {
        use diesel::prelude::*;
        use storksbill_db::schema::sessions::dsl;
        let id = actor.id();
        let session: SessionId = self
            .read(move |conn| Ok(dsl::sessions.filter(dsl::member_id.eq(id)).select(dsl::id).first(conn)?))
            .await;
        actor.with_token(&self.token(id, session))
    }

    /// A region, made past the API.
    pub async fn region(&self, name: &str) -> RegionId {
        let region = Region {
            id: RegionId::fresh(),
            name: name.to_owned(),
            name_key: names::search_key(name),
            latitude: 53.0,
            longitude: -8.0,
            elevation_m: 40.0,
            version: 1,
            created_at: self.clock.now().naive_utc(),
            plant_health_zone: "home".to_owned(),
        };
        let id = region.id;
        self.write(move |conn| places::insert_region(conn, &region)).await;
        id
    }

    /// A club, made past the API.
    pub async fn club(&self, name: &str, region: RegionId) -> ClubId {
        let club = Club {
            id: ClubId::fresh(),
            name: name.to_owned(),
            name_key: names::search_key(name),
            region_id: region,
            meeting_place: None,
            version: 1,
            created_at: self.clock.now().naive_utc(),
        };
        let id = club.id;
        self.write(move |conn| places::insert_club(conn, &club)).await;
        id
    }

    /// Sets where a member grows, past the API.
    pub async fn grows_in(&self, actor: &Actor, region: RegionId) {
        let id = actor.id();
        self.write(move |conn| {
            let mut member = members::find(conn, id)?.expect("the member is there");
            member.region_id = Some(region);
            members::update(conn, &member)
        })
        .await;
    }

    /// Writes past the API.
    pub async fn write<T: Send + 'static>(
        &self,
        work: impl FnMut(&mut Conn) -> Result<T, DbError> + Send + 'static,
    ) -> T {
        self.app.db.write(work).await.expect("the write is taken")
    }

    /// Reads past the API.
    pub async fn read<T: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Conn) -> Result<T, DbError> + Send + 'static,
    ) -> T {
        self.app.db.read(work).await.expect("the read is taken")
    }
}

fn served(state: App, front: Front) -> (String, actix_web::dev::ServerHandle) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    let (send, receive) = std::sync::mpsc::channel();
    // A runtime of its own, so that a test that ends does not leave its server's threads behind.
    std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        runtime.block_on(async move {
            let server = serve::serve(listener, state, front).unwrap();
            send.send(server.handle()).unwrap();
            server.await.unwrap();
        });
    });
    (address, receive.recv().unwrap())
}

/// A moment written as RFC 3339.
pub fn moment(text: &str) -> DateTime<Utc> {
    text.parse().unwrap()
}

/// An active member's record with an invented address.
pub fn new_member(name: &str, now: NaiveDateTime) -> Member {
    let id = MemberId::fresh();
    let email = format!("{}-{id}@merrow.example", names::search_key(name).replace(' ', "."));
    Member {
        id,
        email_key: names::email_key(&email),
        email,
        name: name.to_owned(),
        name_key: names::search_key(name),
        password_hash: Some(PASSWORD_HASH.to_owned()),
        standing: Standing::Active,
        region_id: None,
        requested_club_id: None,
        request_note: None,
        version: 1,
        created_at: now,
        left_at: None,
        is_protected: false,
        shown_name: name.to_owned(),
    }
}
