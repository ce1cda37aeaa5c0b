//! Names of cultivated plants: read, written, checked against the rules, and held against names already taken.
//!
//! * [`parse`] takes a full name apart (genus, hybrid sign, species, ranks, grex, Group, epithet, trade
//!   designation, formula of a cross); [`format()`] puts it together. What is read from a written name is that name.
//! * [`check`] gives what speaks against a cultivar epithet, each finding with its rule, weight, place and, where
//!   there is one, a mended text. A name in use can always be recorded: findings bar a name only from being
//!   proposed for registration, and only those that are errors ([`bars`]).
//! * [`NameIndex`] finds names too close to a new one.
//! * [`GenusProfile`] is what differs from genus to genus; it is data, kept in `genera/`.
//!
//! The rules are those of the International Code of Nomenclature for Cultivated Plants, 9th edition (Scripta
//! Horticulturae 18, 2016), as told by: "Summary of ICNCP rules and guidelines for grex and cultivar epithets",
//! 2017 (*summary* below); Royal Horticultural Society, "Plant naming" (*plant naming*); ISHS, quick guide to the
//! Code (*quick guide*). The numbers of its articles are not given here: they were not checked.

mod genus;
mod near;
mod parse;
mod rules;
#[rustfmt::skip] // Lists, kept in lines.
mod words;
mod write;

pub use genus::GenusProfile;
pub use near::{Likeness, NameIndex, Near, jaro_winkler, key, optimal_string_alignment};
pub use parse::{Infraspecific, ParsedName, PlantName, QuotesSeen, Rank, parse};
pub use rules::{Context, Finding, Rule, Severity, bars, check};
pub use write::{Style, format};

/// The profile of the pelargoniums, in JSON.
pub const PELARGONIUM: &str = include_str!("../../genera/pelargonium.json");
