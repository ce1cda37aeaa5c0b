//! What one member can have the server keep, or tell others: this table, and no other place.
//!
//! The numbers are common practice: far above what the largest collections and busiest days of real societies come to, and
//! low enough that a program gone wild fills no disk and nobody's list of notices.

/// A limit: so many, of these.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limit {
    /// Of what, in plain words, such as `plants of one member`.
    pub of: &'static str,
    /// How many are taken at most.
    pub most: i64,
}

macro_rules! limits {
    ($($(#[doc = $doc:literal])+ $name:ident = $most:literal, $of:literal;)+) => {
        $($(#[doc = $doc])+ pub const $name: Limit = Limit { of: $of, most: $most };)+

        /// Every limit.
        pub const ALL: &[Limit] = &[$($name,)+];
    };
}

limits! {
    /// A table of fifty thousand lines is the largest that is taken at once.
    PLANTS = 50_000, "plants of one member";
    /// Ten records a week for ten years.
    DIARY = 5_000, "diary records of one plant";
    /// Those that are open; a meeting's whole table is some dozens.
    OFFERS = 1_000, "open offers of one member";
    /// All that stand.
    WANTS = 1_000, "wants of one member";
    /// Raisers of a lifetime have made some thousands.
    CROSSES = 20_000, "crosses of one member";
    /// One a day for five years.
    POLLINATIONS = 2_000, "pollinations of one cross";
    /// As with pollinations.
    COUNTS = 2_000, "counts of one cross";
    /// A large raiser's whole bench from one cross.
    SEEDLINGS = 10_000, "seedlings of one cross";
    /// Registrars print some dozens a year.
    PROPOSALS = 100, "proposals of one member in a day";
    /// What is seen on one plant is told once, and mended once or twice.
    HEALTH_NOTICES = 5, "health notices about one plant in a day";
    /// Saying that one comes, or does not, or sits elsewhere.
    ATTENDANCE = 100, "changes of one member's coming to one meeting";
}
