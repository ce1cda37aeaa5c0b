//! Guessing is limited: every proof of a password or of a one-time code goes through [`attempt`].
//!
//! An attempt is counted as failed before anything is verified, in a write that all servers share, and taken back where
//! it was right: so a thousand guesses at once get no further than ten. Counted are
//!
//! - the account, for addresses from which it was not lately logged in to;
//! - the account at each address from which it was: a stranger's guessing does not lock its owner out;
//! - the address, whatever the accounts.
//!
//! Accounts that are not there are counted like those that are.

use std::net::IpAddr;
use std::sync::Arc;

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::{NaiveDateTime, TimeDelta};
use sha2::{Digest, Sha256};
use storksbill_db::Conn;
use storksbill_db::rows::guessing::{self as rows, Tried};
use storksbill_db::rows::members;
use storksbill_domain::ids::MemberId;

use super::turns::Asker;
use crate::app::App;
use crate::http::client::household;
use crate::http::problem::{Code, Problem};

/// Failures of one account within [`WINDOW`] after which each further one has to wait (common practice).
pub const MOST_FOR_ACCOUNT: i32 = 10;
/// Failures from one address within [`WINDOW`] after which it has to wait (common practice).
pub const MOST_FROM_ADDRESS: i32 = 100;
/// Failures are counted together over this long; once somebody has to wait, until it was quiet for this long.
pub const WINDOW: TimeDelta = TimeDelta::minutes(15);
/// The first wait; each is twice the one before (common practice).
const FIRST_WAIT: TimeDelta = TimeDelta::seconds(30);
/// The longest wait.
const LONGEST_WAIT: TimeDelta = TimeDelta::minutes(15);
/// An address is known to an account for this long after a log-in.
pub const FAMILIAR_FOR: TimeDelta = TimeDelta::days(30);

/// The key under which accounts and addresses are hashed, so that the counts tell nobody who tried what.
#[derive(Clone)]
pub struct SubjectKey(Arc<[u8]>);

impl std::fmt::Debug for SubjectKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("SubjectKey(..)")
    }
}

impl SubjectKey {
    /// From the server's secret.
    pub fn new(secret: &[u8]) -> Self {
        Self(secret.into())
    }

    /// Hashed twice, with the key before both, so that nothing can be appended (as HMAC does, RFC 2104).
    fn hash(&self, kind: &str, text: &str) -> [u8; 32] {
        let inner =
            Sha256::new().chain_update(&self.0).chain_update(kind).chain_update([0]).chain_update(text);
        Sha256::new().chain_update(&self.0).chain_update(inner.finalize()).finalize().into()
    }

    /// What is kept of a client's address.
    pub fn of_address(&self, address: IpAddr) -> String {
        URL_SAFE_NO_PAD.encode(self.hash("address", &household(address).to_string()))
    }
}

/// What is to be proved, for the log.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// A log-in.
    LogIn,
    /// The password in force, of somebody who is logged in.
    CurrentPassword,
    /// A one-time code.
    OneTimeCode,
    /// That an account which an invitation is for is one's own.
    Invitation,
}

/// An attempt that may be made. It counts as failed until [`Attempt::succeeded`].
#[derive(Debug)]
pub struct Attempt<'a> {
    app: &'a App,
    purpose: Purpose,
    address: IpAddr,
    member: Option<MemberId>,
    asker: Asker,
    counted: Counted,
}

/// The rows an attempt counts in.
#[derive(Debug, Clone)]
struct Counted {
    account: String,
    at_address: String,
    address: String,
}

impl Counted {
    /// What was tried so far from this address of this account; whether the address is familiar.
    fn look(&self, conn: &mut Conn, now: NaiveDateTime) -> Result<(Vec<(Tried, i32)>, bool), Problem> {
        let mut tried = |kind: &str, subject: &str| {
            let none = || Tried {
                kind: kind.to_owned(),
                subject: subject.to_owned(),
                window_start: None,
                failures: 0,
                blocked_until: None,
                succeeded_at: None,
            };
            Ok::<_, Problem>(rows::tried(conn, kind, subject)?.unwrap_or_else(none))
        };
        let address = tried("address", &self.address)?;
        let at_address = tried("account_at_address", &self.at_address)?;
        let account = tried("account", &self.account)?;
        let familiar = at_address.succeeded_at.is_some_and(|at| at + FAMILIAR_FOR > now);
        let of_account = if familiar { at_address } else { account };
        Ok((vec![(address, MOST_FROM_ADDRESS), (of_account, MOST_FOR_ACCOUNT)], familiar))
    }
}

/// How long is left to wait, where anything has to.
fn wait_left(tried: &[(Tried, i32)], now: NaiveDateTime) -> Option<TimeDelta> {
    tried
        .iter()
        .filter_map(|(tried, _)| tried.blocked_until)
        .max()
        .map(|until| until - now)
        .filter(|left| *left > TimeDelta::zero())
}

/// The count after one more failure.
fn one_more(tried: Tried, most: i32, now: NaiveDateTime) -> Tried {
    let last = tried.window_start.max(tried.blocked_until);
    let goes_on = last.is_some_and(|last| last + WINDOW > now);
    let failures = if goes_on { tried.failures.saturating_add(1) } else { 1 };
    let blocked_until = (failures >= most).then(|| {
        let doubled =
            1_i32.checked_shl(u32::try_from(failures - most).unwrap_or(0)).filter(|factor| *factor > 0);
        let wait = doubled.and_then(|factor| FIRST_WAIT.checked_mul(factor)).unwrap_or(LONGEST_WAIT);
        now + wait.min(LONGEST_WAIT)
    });
    let window_start = if goes_on { tried.window_start } else { Some(now) };
    Tried { window_start, failures, blocked_until, ..tried }
}

/// The count with its last failure taken back.
fn one_less(tried: Tried) -> Tried {
    Tried { failures: (tried.failures - 1).max(0), blocked_until: None, ..tried }
}

fn too_many(left: TimeDelta) -> Problem {
    let seconds = left.num_seconds() + 1;
    let words =
        if seconds > 90 { format!("{} minutes", (seconds + 59) / 60) } else { format!("{seconds} seconds") };
    Problem::wait_for(
        Code::TooManyAttempts,
        seconds,
        format!(
            "There were too many wrong tries for this account or from where you are. Wait {words}, then try again. \
             If you no longer know your password, ask an officer of the society."
        ),
    )
}

/// Lets an attempt be made to prove something of the account of `email_key` (see `names::email_key`; there may be
/// none) from `address`, and counts it. `logged_in` is whoever asks, where somebody is logged in.
///
/// # Errors
/// `too-many-attempts` with `Retry-After` where there were too many, `unavailable` where too many of the same asker
/// wait to have a password hashed.
pub async fn attempt<'a>(
    app: &'a App,
    purpose: Purpose,
    email_key: &str,
    address: IpAddr,
    logged_in: Option<MemberId>,
) -> Result<Attempt<'a>, Problem> {
    let now = app.clock.now().naive_utc();
    let near = household(address);
    // Whoever is logged in has a count of their own: a stranger's guessing at the account does not stop its owner.
    let subject = logged_in.map_or_else(|| email_key.to_owned(), |member| format!("member {member}"));
    let at_address = app.subjects.hash("account_at_address", &format!("{near} {subject}"));
    let counted = Counted {
        account: URL_SAFE_NO_PAD.encode(app.subjects.hash("account", &subject)),
        at_address: URL_SAFE_NO_PAD.encode(at_address),
        address: app.subjects.of_address(address),
    };
    let (asked, key) = (counted.clone(), email_key.to_owned());
    let (left, familiar, member) = app
        .db
        .glance(move |conn| {
            let (tried, familiar) = asked.look(conn, now)?;
            let member = members::by_email(conn, &key)?.map(|member| member.id);
            Ok::<_, Problem>((wait_left(&tried, now), familiar, member))
        })
        .await?;
    let asker = match logged_in {
        Some(member) => Asker::Member(member),
        None if familiar => Asker::Familiar(at_address),
        None => Asker::Stranger(near),
    };
    let attempt = Attempt { app, purpose, address, member, asker, counted };
    if let Some(left) = left {
        attempt.failed("too many attempts");
        return Err(too_many(left));
    }
    // Before it is counted: what is never verified is no guess.
    app.passwords.has_room(asker)?;
    let counted = attempt.counted.clone();
    let left = app
        .db
        .write(move |conn| {
            let (tried, _) = counted.look(conn, now)?;
            if let Some(left) = wait_left(&tried, now) {
                return Ok::<_, Problem>(Some(left));
            }
            for (tried, most) in tried {
                rows::keep(conn, &one_more(tried, most, now))?;
            }
            Ok(None)
        })
        .await?;
    match left {
        None => Ok(attempt),
        Some(left) => {
            attempt.failed("too many attempts");
            Err(too_many(left))
        }
    }
}

impl Attempt<'_> {
    /// Whether `password` is the one that `kept` was made of; as long and false without `kept`. A wrong one is noted in
    /// the server's log.
    pub async fn verify(&self, password: String, kept: Option<String>) -> Result<bool, Problem> {
        match self.app.passwords.verify(self.asker, password, kept).await {
            Ok(right) => {
                if !right {
                    self.failed("wrong password");
                }
                Ok(right)
            }
            Err(problem) => {
                // Nobody looked at it, so it was no guess.
                let counted = self.counted.clone();
                let now = self.app.clock.now().naive_utc();
                self.app.db.write(move |conn| take_back(conn, &counted, now).map(drop)).await?;
                Err(problem)
            }
        }
    }

    /// Who waits for turns at hashing.
    pub fn asker(&self) -> Asker {
        self.asker
    }

    /// Notes in the server's log that it failed; it is counted already. Never with what was tried.
    pub fn failed(&self, reason: &str) {
        let member = self.member.map(|id| id.to_string()).unwrap_or_default();
        tracing::warn!(purpose = ?self.purpose, member, address = %self.address, reason, "refused");
    }

    /// It was right: the count is taken back, and the address is familiar to the account from now on. Call it in the
    /// transaction that does what was asked for.
    pub fn succeeded(&self, conn: &mut Conn) -> Result<(), Problem> {
        Success(self.counted.clone(), self.app.clock.now().naive_utc()).keep(conn)
    }

    /// [`Attempt::succeeded`] as a thing that can be moved into a write.
    pub fn success(&self) -> Success {
        Success(self.counted.clone(), self.app.clock.now().naive_utc())
    }
}

/// That an attempt was right.
#[derive(Debug, Clone)]
pub struct Success(Counted, NaiveDateTime);

impl Success {
    /// See [`Attempt::succeeded`].
    pub fn keep(&self, conn: &mut Conn) -> Result<(), Problem> {
        let Self(counted, now) = self;
        take_back(conn, counted, *now)?;
        let known = rows::tried(conn, "account_at_address", &counted.at_address)?;
        let known = known.unwrap_or_else(|| Tried {
            kind: "account_at_address".to_owned(),
            subject: counted.at_address.clone(),
            window_start: None,
            failures: 0,
            blocked_until: None,
            succeeded_at: None,
        });
        Ok(rows::keep(conn, &Tried { succeeded_at: Some(*now), ..known })?)
    }
}

fn take_back(conn: &mut Conn, counted: &Counted, now: NaiveDateTime) -> Result<(), Problem> {
    let (tried, _) = counted.look(conn, now)?;
    for (tried, _) in tried {
        rows::keep(conn, &one_less(tried))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(minutes: i64) -> NaiveDateTime {
        chrono::DateTime::UNIX_EPOCH.naive_utc() + TimeDelta::minutes(minutes)
    }

    fn none() -> Tried {
        Tried {
            kind: "account".to_owned(),
            subject: String::new(),
            window_start: None,
            failures: 0,
            blocked_until: None,
            succeeded_at: None,
        }
    }

    #[test]
    fn waits_begin_at_the_tenth_failure_and_double_up_to_a_quarter_of_an_hour() {
        let mut tried = none();
        let mut waits = Vec::new();
        let mut now = at(0);
        for _ in 0..60 {
            tried = one_more(tried, 10, now);
            let wait = tried.blocked_until.map_or(0, |until| (until - now).num_seconds());
            waits.push(wait);
            now += TimeDelta::seconds(wait);
        }
        assert_eq!(waits[..9], [0; 9]);
        assert_eq!(waits[9..16], [30, 60, 120, 240, 480, 900, 900]);
        assert!(waits[15..].iter().all(|wait| *wait == 900), "{waits:?}");
    }

    #[test]
    fn a_count_starts_anew_after_a_quarter_of_an_hour_without_a_wait() {
        let mut tried = none();
        for minute in 0..9 {
            tried = one_more(tried, 10, at(minute));
        }
        assert_eq!((tried.failures, one_more(tried.clone(), 10, at(14)).failures), (9, 10));
        assert_eq!(one_more(tried.clone(), 10, at(15)).failures, 1);
        // Where somebody had to wait, it must have been quiet since.
        let waiting = one_more(tried, 10, at(14));
        assert_eq!(one_more(waiting.clone(), 10, at(29)).failures, 11);
        assert_eq!(one_more(waiting, 10, at(30)).failures, 1);
    }

    #[test]
    fn one_that_was_right_is_taken_back() {
        let once = one_more(none(), 10, at(0));
        assert_eq!(one_less(once).failures, 0);
        assert_eq!(one_less(none()).failures, 0);
    }

    #[test]
    fn subjects_are_told_apart_and_hashed_with_the_key() {
        let (key, other) = (SubjectKey::new(b"key"), SubjectKey::new(b"another"));
        assert_ne!(key.hash("account", "una"), key.hash("address", "una"));
        assert_ne!(key.hash("account", "una"), other.hash("account", "una"));
        assert_eq!(key.hash("account", "una"), key.hash("account", "una"));
        let of = |text: &str| text.parse().map(|address| key.of_address(address));
        assert_eq!(of("2001:db8::1"), of("2001:db8::2"));
        assert_ne!(of("192.0.2.1"), of("192.0.2.2"));
    }
}
