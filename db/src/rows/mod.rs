//! Rows and their queries, a module per family of nouns. A function that hides rows from the asker says so
//! in its name (`visible_to`, `own_`). Rows never leave the server: what is sent are its `dto` types.

pub mod account_codes;
pub mod calendars;
pub mod club_invitations;
pub mod conservation;
pub mod crosses;
pub mod cultivar_names;
pub mod cultivars;
pub mod entries;
pub mod fits;
pub mod guessing;
pub mod health;
pub mod history;
pub mod idempotency;
pub mod jobs;
pub mod judging;
mod limits;
pub mod lines;
pub mod members;
pub mod merging;
pub mod notices;
pub mod permissions;
pub mod places;
pub mod plants;
pub mod pooled;
pub mod registrations;
pub mod reversions;
pub mod rings;
pub mod rounds;
pub mod sessions;
pub mod settings;
pub mod shares;
pub mod shows;
pub mod society_log;
pub mod swap_terms;
pub mod swaps;
pub mod trophies;
pub mod weather_sources;

/// A page of a list sorted by a text key and id: what stands after this place.
pub type After = Option<(String, String)>;

/// Most values of one `in (..)`: both databases bound them (`SQLite` at 32,766), and a long list is planned badly.
const IN_LIST: usize = 500;
