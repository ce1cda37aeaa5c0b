//! The server a plant society runs for its members.
//!
//! One folder per noun of the trade, each with its routes in `mod.rs`, a file per group of verbs, and what is
//! sent and taken in `dto.rs`. [`http`] is the kit they share; [`app`] the state; [`serve`] puts them together.

pub mod app;
mod hex;
pub mod http;
pub mod openapi;
pub mod serve;
pub mod settings;
pub mod tls;

pub mod brapi;
pub mod calendars;
pub mod clubs;
pub mod conservation;
pub mod crosses;
pub mod cultivars;
pub mod fits;
pub mod forecasts;
pub mod health;
pub mod jobs;
pub mod members;
pub mod names;
pub mod notices;
pub mod pages;
pub mod pedigrees;
pub mod plants;
pub mod print;
pub mod regions;
pub mod registrations;
pub mod reversions;
pub mod rounds;
pub mod season;
pub mod segregation;
pub mod sessions;
pub mod shows;
pub mod society_log;
pub mod swaps;
pub mod tables;
pub mod trophies;
