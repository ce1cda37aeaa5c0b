//! Passwords: argon2id (RFC 9106), off the async threads, a few at a time.
//!
//! One hash takes 19 MiB and some 12 ms of a core. Unbounded, a rush of log-ins would starve every other
//! request; so at most one hash fewer than there are cores runs at once, and the rest wait their turn in `turns`.

use std::sync::Arc;
use std::time::Duration;

use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use argon2::{Algorithm, Argon2, Params, Version};

use super::new_password::NewPassword;
use super::turns::{Asker, Turns};
use crate::http::problem::{Code, Problem};

/// Longest wait for a turn before the caller is asked to come back.
const PATIENCE: Duration = Duration::from_secs(10);

/// Hashes and verifies passwords.
#[derive(Debug, Clone)]
pub struct Passwords {
    turns: Turns,
    params: Params,
    /// Verified where there is no account, so that the time taken does not tell who has one.
    decoy: Arc<str>,
}

impl Passwords {
    /// `at_once` hashes at a time, of `memory_kib` KiB and `passes` passes each.
    ///
    /// # Errors
    /// Where argon2 does not take these parameters.
    pub fn new(at_once: usize, memory_kib: u32, passes: u32) -> Result<Self, String> {
        let params = Params::new(memory_kib, passes, 1, None).map_err(|error| error.to_string())?;
        let decoy = hash(&params, "no account has this password").map_err(|error| error.to_string())?;
        Ok(Self { turns: Turns::new(at_once.max(1)), params, decoy: decoy.into() })
    }

    /// 19 MiB and two passes, and one hash fewer at once than the machine has cores.
    ///
    /// # Errors
    /// As [`Passwords::new`].
    pub fn for_this_machine() -> Result<Self, String> {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        Self::new(cores.saturating_sub(1), Params::DEFAULT_M_COST, Params::DEFAULT_T_COST)
    }

    /// The PHC string to keep for a password.
    pub async fn hash(&self, asker: Asker, password: NewPassword) -> Result<String, Problem> {
        let params = self.params.clone();
        self.in_turn(asker, move || hash(&params, password.text())).await?
    }

    /// Whether `password` is the one that `kept` was made of. Without `kept` it takes as long and is false. What a
    /// request sends goes through [`super::guessing::Attempt::verify`], which counts it.
    pub async fn verify(
        &self,
        asker: Asker,
        password: String,
        kept: Option<String>,
    ) -> Result<bool, Problem> {
        let decoy = Arc::clone(&self.decoy);
        self.in_turn(asker, move || {
            let text = kept.as_deref().unwrap_or(&decoy);
            let matches = PasswordHash::new(text)
                .is_ok_and(|phc| Argon2::default().verify_password(password.as_bytes(), &phc).is_ok());
            matches && kept.is_some()
        })
        .await
    }

    /// A place in the queue is refused at once where an asker has enough of them.
    pub(super) fn has_room(&self, asker: Asker) -> Result<(), Problem> {
        if self.turns.has_room(asker) { Ok(()) } else { Err(busy()) }
    }

    async fn in_turn<T: Send + 'static>(
        &self,
        asker: Asker,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Problem> {
        let turn = tokio::time::timeout(PATIENCE, self.turns.wait(asker)).await;
        let Ok(Some(turn)) = turn else { return Err(busy()) };
        let done = tokio::task::spawn_blocking(move || {
            let result = work();
            drop(turn);
            result
        });
        done.await.map_err(|_stopped| busy())
    }
}

fn busy() -> Problem {
    Problem::busy("Too many people are logging in just now; try again in a moment.")
}

fn hash(params: &Params, password: &str) -> Result<String, Problem> {
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params.clone())
        .hash_password(password.as_bytes())
        .map(|phc| phc.to_string())
        .map_err(|error| Problem::new(Code::Internal, format!("The password cannot be kept: {error}.")))
}
