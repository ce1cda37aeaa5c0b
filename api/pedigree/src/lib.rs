//! Parents to kinship and inbreeding.

mod build;

pub use build::{Ancestor, Individual, Origin, Pedigree, Problem, UnknownId};
