//! The demonstration: the plant society of Merrow, an island that does not exist.

pub mod cultivars;
pub mod diary;
pub mod people;
pub mod places;
pub mod plants;
pub mod random;
pub mod shows;
pub mod swaps;
pub mod weather;
