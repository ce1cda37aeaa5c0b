//! What a plant society's rules are, without any input or output.
//!
//! * [`ids`]: one identifier type per noun, so that a plant's id is never taken for a member's.
//! * [`words`]: the closed vocabularies of the trade (plant group, environment, form, diary kinds ...).
//! * [`names`]: the key by which names are searched and sorted, forgiving of accents and case.
//! * [`nomenclature`]: names of cultivated plants: read, written, checked, held against those taken.
//! * [`crosses`]: what the counts of a cross allow, and when to look again.
//! * [`register`]: the steps by which a name is registered.
//! * [`policy`]: who may do what, as pure functions.
//! * [`shows`]: what classes demand, whether an exhibit may be entered, what comes of the judging.
//! * [`clock`]: the time as the society sees it.
//!
//! With the feature `sql` the ids and vocabularies can be stored by Diesel; `sql.rs` is the only file that
//! knows it.

mod sql;

pub mod clock;
pub mod crosses;
pub mod day;
pub mod ids;
pub mod limits;
pub mod names;
pub mod nomenclature;
pub mod policy;
pub mod register;
pub mod shows;
pub mod words;
