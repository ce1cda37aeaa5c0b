//! Turns at hashing, handed out fairly: one lane for people who are known, one for strangers, taking turns; in each lane
//! round and round over those who wait. So whoever sends much waits for their own, and nobody else does.

use std::collections::{HashMap, VecDeque};
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use storksbill_domain::ids::MemberId;
use tokio::sync::oneshot;

/// Most turns one asker waits for (common practice: a club's evening on one line).
pub const MOST_WAITING_EACH: usize = 16;
/// Most turns waited for in a lane: 10 s of work on two slow cores (common practice).
const MOST_WAITING: usize = 800;

/// Who wants a turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Asker {
    /// Somebody who is logged in.
    Member(MemberId),
    /// Somebody at an address from which the account they name was lately logged in to: the hash of both.
    Familiar([u8; 32]),
    /// Anybody else, by [`crate::http::client::household`].
    Stranger(IpAddr),
}

/// The turns of a server.
#[derive(Debug, Clone)]
pub struct Turns(Arc<Mutex<Queue>>);

#[derive(Debug)]
struct Queue {
    free: usize,
    known: Lane,
    strangers: Lane,
    /// Whose turn it is, where both lanes wait.
    known_next: bool,
}

#[derive(Debug, Default)]
struct Lane {
    /// Those who wait, each once.
    round: VecDeque<Asker>,
    waiting: HashMap<Asker, VecDeque<oneshot::Sender<Turn>>>,
    count: usize,
}

impl Lane {
    fn has_room(&self, asker: Asker) -> bool {
        self.count < MOST_WAITING && self.waiting.get(&asker).map_or(0, VecDeque::len) < MOST_WAITING_EACH
    }

    fn push(&mut self, asker: Asker, sender: oneshot::Sender<Turn>) {
        let of_asker = self.waiting.entry(asker).or_default();
        if of_asker.is_empty() {
            self.round.push_back(asker);
        }
        of_asker.push_back(sender);
        self.count += 1;
    }

    fn pop(&mut self) -> Option<oneshot::Sender<Turn>> {
        let asker = self.round.pop_front()?;
        let of_asker = self.waiting.get_mut(&asker)?;
        let sender = of_asker.pop_front()?;
        if of_asker.is_empty() {
            self.waiting.remove(&asker);
        } else {
            self.round.push_back(asker);
        }
        self.count -= 1;
        Some(sender)
    }

    /// Whoever has gone waits no longer, and leaves room.
    fn forget_gone(&mut self, asker: Asker) {
        if let Some(of_asker) = self.waiting.get_mut(&asker) {
            let before = of_asker.len();
            of_asker.retain(|sender| !sender.is_closed());
            self.count -= before - of_asker.len();
            if of_asker.is_empty() {
                self.waiting.remove(&asker);
                self.round.retain(|other| *other != asker);
            }
        }
    }
}

impl Queue {
    fn lane(&mut self, asker: Asker) -> &mut Lane {
        match asker {
            Asker::Member(_) | Asker::Familiar(_) => &mut self.known,
            Asker::Stranger(_) => &mut self.strangers,
        }
    }

    fn pop(&mut self) -> Option<oneshot::Sender<Turn>> {
        let known_first = self.known_next;
        self.known_next = !known_first;
        if known_first {
            self.known.pop().or_else(|| self.strangers.pop())
        } else {
            self.strangers.pop().or_else(|| self.known.pop())
        }
    }
}

impl Turns {
    /// `at_once` turns at a time.
    pub fn new(at_once: usize) -> Self {
        Self(Arc::new(Mutex::new(Queue {
            free: at_once,
            known: Lane::default(),
            strangers: Lane::default(),
            known_next: true,
        })))
    }

    fn queue(&self) -> MutexGuard<'_, Queue> {
        // No code that holds it can fail half-way.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Whether `asker` would be let wait just now.
    pub fn has_room(&self, asker: Asker) -> bool {
        let mut queue = self.queue();
        let lane = queue.lane(asker);
        lane.forget_gone(asker);
        lane.has_room(asker)
    }

    /// Waits for a turn; none, at once, where `asker` waits for enough of them.
    pub async fn wait(&self, asker: Asker) -> Option<Turn> {
        let receiver = {
            let mut queue = self.queue();
            if queue.free > 0 {
                queue.free -= 1;
                return Some(Turn(Some(self.clone())));
            }
            let lane = queue.lane(asker);
            lane.forget_gone(asker);
            if !lane.has_room(asker) {
                return None;
            }
            let (sender, receiver) = oneshot::channel();
            lane.push(asker, sender);
            receiver
        };
        receiver.await.ok()
    }
}

/// A turn; dropped, it goes to the next.
#[derive(Debug)]
pub struct Turn(Option<Turns>);

impl Drop for Turn {
    fn drop(&mut self) {
        let Some(turns) = self.0.take() else { return };
        loop {
            let next = {
                let mut queue = turns.queue();
                let next = queue.pop();
                if next.is_none() {
                    queue.free += 1;
                }
                next
            };
            let Some(sender) = next else { return };
            match sender.send(Turn(Some(turns.clone()))) {
                Ok(()) => return,
                // Whoever waited has gone: the next one then.
                Err(mut turn) => turn.0 = None,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test fails where it is not so")]

    use std::sync::Mutex;

    use super::*;

    fn stranger(n: u8) -> Asker {
        Asker::Stranger(IpAddr::from([192, 0, 2, n]))
    }

    /// The order in which those who wait behind one turn are served.
    async fn served(askers: Vec<(&'static str, Asker)>) -> Vec<&'static str> {
        let turns = Turns::new(1);
        let held = turns.wait(stranger(0)).await.unwrap();
        let order = Arc::new(Mutex::new(Vec::new()));
        let mut waiting = Vec::new();
        for (name, asker) in askers {
            let (turns, order) = (turns.clone(), Arc::clone(&order));
            waiting.push(tokio::spawn(async move {
                let turn = turns.wait(asker).await;
                order.lock().unwrap().push(if turn.is_some() { name } else { "refused" });
            }));
            tokio::task::yield_now().await;
        }
        drop(held);
        for one in waiting {
            one.await.unwrap();
        }
        assert_eq!(turns.queue().free, 1, "every turn came back");
        order.lock().unwrap().clone()
    }

    #[tokio::test]
    async fn turns_go_round_over_those_who_wait() {
        let mut askers = vec![("much", stranger(1)); 5];
        askers.extend([("little", stranger(2)), ("known", Asker::Member(MemberId::fresh()))]);
        let order = served(askers).await;
        // One of strangers had the turn that was held; the known lane is next, then strangers go round.
        assert_eq!(order, ["known", "much", "little", "much", "much", "much", "much"]);
    }

    #[tokio::test]
    async fn strangers_are_not_starved_by_the_known() {
        let member = Asker::Member(MemberId::fresh());
        let mut askers = vec![("known", member); 4];
        askers.push(("stranger", stranger(1)));
        assert_eq!(served(askers).await, ["known", "stranger", "known", "known", "known"]);
    }

    #[tokio::test]
    async fn one_asker_waits_for_so_many_and_is_refused_at_once_beyond() {
        let mut askers = vec![("much", stranger(1)); MOST_WAITING_EACH + 3];
        askers.push(("other", stranger(2)));
        let order = served(askers).await;
        assert_eq!(order.iter().take(3).filter(|name| **name == "refused").count(), 3);
        assert_eq!(order.iter().filter(|name| **name == "much").count(), MOST_WAITING_EACH);
        assert_eq!(order.iter().position(|name| *name == "other"), Some(4));
    }

    #[tokio::test]
    async fn whoever_went_away_loses_no_turn_and_leaves_room() {
        let turns = Turns::new(1);
        let held = turns.wait(stranger(1)).await.unwrap();
        for _ in 0..MOST_WAITING_EACH * 3 {
            let gone = tokio::time::timeout(std::time::Duration::ZERO, turns.wait(stranger(1))).await;
            assert!(gone.is_err(), "it waits, and goes away");
        }
        assert!(turns.has_room(stranger(1)));
        drop(held);
        assert_eq!(turns.queue().free, 1);
        assert!(turns.wait(stranger(2)).await.is_some());
    }
}
