//! How many connections are held: of one client's address, and in all below what the system lets a program open.

use std::any::Any;
use std::collections::HashMap;
use std::net::{IpAddr, Shutdown};
use std::sync::{Arc, Mutex, PoisonError};

use actix_web::dev::Extensions;
use actix_web::rt::net::TcpStream;
use socket2::SockRef;

/// Files the program keeps open beside connections: the database's, logs, sockets of weather sources.
const OTHER_FILES: u64 = 128;
/// Most files that are asked for.
const MOST_FILES: u64 = 16_384;

/// Raises the number of files this program may open as far as the system lets it, and gives how many connections that
/// leaves room for.
pub fn room_for_connections(database: u32) -> usize {
    let files = rlimit::increase_nofile_limit(MOST_FILES).unwrap_or(256).min(MOST_FILES);
    // A connection of a reader of SQLite is a few files.
    let others = OTHER_FILES + 4 * u64::from(database);
    usize::try_from(files.saturating_sub(others)).unwrap_or(usize::MAX).max(32)
}

/// Counts connections by the address they come from.
#[derive(Debug, Clone)]
pub struct Connections {
    most_of_one: usize,
    held: Arc<Mutex<HashMap<IpAddr, usize>>>,
}

impl Connections {
    /// At most `most_of_one` of one address at a time.
    pub fn of(most_of_one: usize) -> Self {
        Self { most_of_one, held: Arc::default() }
    }

    /// Notes a connection, until its data are dropped; one too many is shut at once, before anything of it is read.
    pub fn note(&self, connection: &dyn Any, data: &mut Extensions) {
        let Some(stream) = connection.downcast_ref::<TcpStream>() else { return };
        let Ok(peer) = stream.peer_addr() else { return };
        let address = peer.ip().to_canonical();
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        let count = held.entry(address).or_default();
        *count += 1;
        let is_too_many = *count > self.most_of_one;
        drop(held);
        data.insert(Held { connections: self.clone(), address });
        if is_too_many {
            tracing::debug!(%address, "too many connections of one address");
            // The worker then finds the connection at its end.
            drop(SockRef::from(stream).shutdown(Shutdown::Both));
        }
    }
}

/// One connection that is held.
struct Held {
    connections: Connections,
    address: IpAddr,
}

impl Drop for Held {
    fn drop(&mut self) {
        let mut held = self.connections.held.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = held.get_mut(&self.address) {
            *count -= 1;
            if *count == 0 {
                held.remove(&self.address);
            }
        }
    }
}
