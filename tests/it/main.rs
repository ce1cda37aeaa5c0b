//! The integration tests: one binary that passes on `SQLite` and, with `TEST_DATABASE_URL`, on `PostgreSQL`.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::print_stderr,
    reason = "a test says what it expects and fails where it is not so"
)]

mod accounts;
mod bounds;
mod brapi;
mod calendars;
mod clubs;
mod consent;
mod conservation;
mod crash;
mod crosses;
mod cultivar_import;
mod cultivars;
mod databases;
mod demo;
mod descent;
mod diary;
mod doors;
mod entries;
mod exports;
mod faults;
mod fits;
mod forecasts;
mod fuzz;
mod guessing;
mod health;
mod http_kit;
mod jobs;
mod joining;
mod members;
mod merging;
mod names;
mod notices;
mod pages;
mod patches;
mod pedigrees;
mod plants;
mod regions;
mod registrations;
mod results_sheet;
mod reversions;
mod roles;
mod rounds;
mod season;
mod season_page;
mod segregation;
mod sessions;
mod show_day;
mod show_guards;
mod show_kit;
mod show_roads;
mod show_tables;
mod shows;
mod spec;
mod standards;
mod startup;
mod stops;
mod swap_terms;
mod swaps;
mod the_young;
mod trophies;
mod weather_in;
