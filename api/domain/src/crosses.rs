//! A cross from pollen to seedlings: what its counts allow, and when to look again.
//!
//! The days are common practice: anthers open as a bloom does and the stigma some days later, seed is ripe some
//! six weeks after pollination, seedlings show within three weeks.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};

use crate::words::{BloomStage, CrossCountKind, NoticeKind};

/// Days from pollination to ripe seed (common practice).
pub const RIPE_AFTER: u64 = 42;
/// Days that seed dries before it is sown (common practice).
pub const SOW_AFTER: u64 = 14;
/// Days from sowing until seedlings should be through (common practice).
pub const THROUGH_AFTER: u64 = 21;

/// Days from pollination to the earliest harvest: what is harvested before is of florets worked earlier (chosen, a
/// week before the usual day).
pub const HARVESTED_AFTER: u64 = RIPE_AFTER - 7;

/// The day so many days later; the day itself at the end of the calendar.
pub fn days_later(day: NaiveDate, days: u64) -> NaiveDate {
    day.checked_add_days(Days::new(days)).unwrap_or(day)
}

/// The day to come back to a seed parent's bloom whose stigma is not open yet on `day` (common practice).
pub fn stigma_opens_on(stage: BloomStage, day: NaiveDate) -> Option<NaiveDate> {
    match stage {
        BloomStage::Bud => Some(days_later(day, 4)),
        BloomStage::Opening => Some(days_later(day, 3)),
        BloomStage::Open => Some(days_later(day, 1)),
        BloomStage::StigmaOpen | BloomStage::Fading => None,
    }
}

/// What was counted on one cross by now; `None` where nothing was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Florets worked.
    pub florets: Option<i64>,
    /// Florets that took.
    pub takes: Option<i64>,
    /// Seeds harvested.
    pub harvested: Option<i64>,
    /// Seeds sown.
    pub sown: Option<i64>,
    /// Seedlings that came up.
    pub germinated: Option<i64>,
    /// Seedlings lost.
    pub lost: Option<i64>,
    /// Seedlings pricked out.
    pub pricked_out: Option<i64>,
    /// Seedlings that flowered.
    pub flowered: Option<i64>,
    /// Seedlings kept.
    pub kept: Option<i64>,
    /// Seedlings that were given numbers.
    pub numbered: Option<i64>,
}

/// A count that is more than the one before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("{given} {what} would be more than {most} {before}")]
pub struct Exceeds {
    /// What there would be too many of.
    pub what: &'static str,
    /// How many.
    pub given: i64,
    /// What it is held against.
    pub before: &'static str,
    /// How many of those there are.
    pub most: i64,
}

impl Counts {
    /// Adds to the count of this kind.
    pub fn add(&mut self, kind: CrossCountKind, how_many: i64) {
        let field = match kind {
            CrossCountKind::Takes => &mut self.takes,
            CrossCountKind::Harvested => &mut self.harvested,
            CrossCountKind::Sown => &mut self.sown,
            CrossCountKind::Germinated => &mut self.germinated,
            CrossCountKind::Lost => &mut self.lost,
            CrossCountKind::PrickedOut => &mut self.pricked_out,
            CrossCountKind::Flowered => &mut self.flowered,
            CrossCountKind::Kept => &mut self.kept,
        };
        *field = Some(field.unwrap_or(0) + how_many);
    }

    /// That no count is more than the nearest known one before it. Seeds and florets are of different kinds:
    /// see [`Self::too_many_seeds`].
    ///
    /// # Errors
    /// The first count that is too large, and the one it is held against.
    pub fn check(&self) -> Result<(), Exceeds> {
        let harvested = ("seeds harvested", self.harvested);
        let sown = ("seeds sown", self.sown);
        let germinated = ("seedlings germinated", self.germinated);
        let grown = ("seedlings pricked out", self.pricked_out);
        let flowered = ("seedlings flowered", self.flowered);
        let chains: [&[(&'static str, Option<i64>)]; 4] = [
            &[("florets worked", self.florets), ("florets that took", self.takes)],
            &[harvested, sown, germinated, grown, flowered, ("seedlings kept", self.kept)],
            &[harvested, sown, germinated, ("seedlings lost", self.lost)],
            &[harvested, sown, germinated, ("seedlings numbered", self.numbered)],
        ];
        for chain in chains {
            let mut before: Option<(&'static str, i64)> = None;
            for &(what, given) in chain {
                let Some(given) = given else { continue };
                if let Some((before, most)) = before.filter(|&(_, most)| given > most) {
                    return Err(Exceeds { what, given, before, most });
                }
                before = Some((what, given));
            }
        }
        Ok(())
    }

    /// Seeds harvested and the most that the florets can have held, `ovules` each, where there are more. The
    /// florets that took count, or where nobody counted them the florets worked.
    pub fn too_many_seeds(&self, ovules: u32) -> Option<(i64, i64)> {
        let most = self.takes.or(self.florets)? * i64::from(ovules);
        self.harvested.filter(|&seeds| seeds > most).map(|seeds| (seeds, most))
    }
}

/// What a cross asks its raiser to do, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due {
    /// What.
    pub kind: NoticeKind,
    /// When.
    pub on: NaiveDate,
    /// In words, which are true whenever they are read.
    pub words: String,
}

/// What the cross of this number asks for as it stands: to harvest what was pollinated, to sow what was harvested, to
/// look for seedlings of what was sown. One for each sort and day, in their order.
///
/// A harvest settles the oldest pollination, and every other that is [`HARVESTED_AFTER`] days old by then; so does a
/// count of florets that tells that none took. Seeds are sown, and come up, in the order in which they were harvested
/// and sown.
///
/// `worked` are the days with the florets worked, `counted` the days with what was counted and how many.
pub fn due(
    number: &str,
    worked: &[(NaiveDate, i32)],
    counted: &[(NaiveDate, CrossCountKind, i32)],
) -> Vec<Due> {
    let of = |kind: CrossCountKind| by_day(counted.iter().filter(|c| c.1 == kind).map(|c| (c.0, c.2)));
    let total = |kind| of(kind).iter().map(|(_, how_many)| how_many).sum::<i64>();
    let harvests = of(CrossCountKind::Harvested);
    let none_took = of(CrossCountKind::Takes);
    let none_took = none_took.iter().all(|(_, how_many)| *how_many == 0).then(|| none_took.last()).flatten();
    let mut all = Vec::new();
    for (place, (day, florets)) in by_day(worked.iter().copied()).into_iter().enumerate() {
        let harvested = harvests.iter().any(|(harvest, _)| {
            *harvest >= days_later(day, HARVESTED_AFTER) || (place == 0 && *harvest >= day)
        });
        if harvested || none_took.is_some_and(|(counted, _)| *counted >= day) {
            continue;
        }
        let on = days_later(day, RIPE_AFTER);
        let words = format!(
            "Cross {number}: seed of the {florets} florets worked on {day} should be ripe about {on} (six weeks, \
             common practice). Count the beaks that took then, and harvest before they spring."
        );
        all.push(Due { kind: NoticeKind::HarvestDue, on, words });
    }
    for (day, seeds) in left(&harvests, total(CrossCountKind::Sown)) {
        let on = days_later(day, SOW_AFTER);
        let words = format!(
            "Cross {number}: the {seeds} seeds harvested on {day} are dry enough to sow from {on} (two weeks, common \
             practice)."
        );
        all.push(Due { kind: NoticeKind::SowingDue, on, words });
    }
    for (day, seeds) in left(&of(CrossCountKind::Sown), total(CrossCountKind::Germinated)) {
        let on = days_later(day, THROUGH_AFTER);
        let words = format!(
            "Cross {number}: look for seedlings of the {seeds} seeds sown on {day} from {on} (three weeks, common \
             practice; some come later)."
        );
        all.push(Due { kind: NoticeKind::GerminationDue, on, words });
    }
    all
}

/// Days with the sum of each, in their order.
fn by_day(rows: impl Iterator<Item = (NaiveDate, i32)>) -> Vec<(NaiveDate, i64)> {
    let mut sums: BTreeMap<NaiveDate, i64> = BTreeMap::new();
    for (day, how_many) in rows {
        *sums.entry(day).or_default() += i64::from(how_many);
    }
    sums.into_iter().collect()
}

/// What is left of each lot after the first `gone` went on.
fn left(lots: &[(NaiveDate, i64)], mut gone: i64) -> Vec<(NaiveDate, i64)> {
    let mut left = Vec::new();
    for &(day, lot) in lots {
        let of_this = gone.min(lot);
        gone -= of_this;
        if lot > of_this {
            left.push((day, lot - of_this));
        }
    }
    left
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;
    use CrossCountKind::{Germinated, Harvested, Sown, Takes};

    #[test]
    fn a_count_is_held_against_the_nearest_known_one_before_it() {
        let good = Counts {
            florets: Some(12),
            takes: Some(7),
            harvested: Some(30),
            sown: Some(30),
            germinated: Some(21),
            lost: Some(4),
            pricked_out: Some(17),
            flowered: Some(15),
            kept: Some(2),
            numbered: Some(15),
        };
        assert_eq!(good.check(), Ok(()));
        assert_eq!(Counts { florets: None, harvested: None, ..good }.check(), Ok(()));
        for (bad, words) in [
            (Counts { takes: Some(13), ..good }, "13 florets that took would be more than 12 florets worked"),
            (Counts { sown: Some(31), ..good }, "31 seeds sown would be more than 30 seeds harvested"),
            (
                Counts { lost: Some(22), ..good },
                "22 seedlings lost would be more than 21 seedlings germinated",
            ),
            (
                Counts { germinated: None, pricked_out: Some(31), ..good },
                "31 seedlings pricked out would be more than 30 seeds sown",
            ),
            (
                Counts { numbered: Some(22), ..good },
                "22 seedlings numbered would be more than 21 seedlings germinated",
            ),
        ] {
            assert_eq!(bad.check().unwrap_err().to_string(), words);
        }
    }

    #[test]
    fn seeds_are_held_against_the_ovules_of_the_florets_that_took() {
        let cross = Counts { florets: Some(9), takes: Some(6), harvested: Some(31), ..Counts::default() };
        assert_eq!(cross.too_many_seeds(5), Some((31, 30)));
        assert_eq!(Counts { harvested: Some(30), ..cross }.too_many_seeds(5), None);
        assert_eq!(Counts { takes: None, ..cross }.too_many_seeds(5), None);
        assert_eq!(Counts { takes: None, florets: None, ..cross }.too_many_seeds(5), None);
    }

    #[test]
    fn what_was_done_is_not_asked_for_again() {
        let day = |month, day| NaiveDate::from_ymd_opt(2026, month, day).unwrap();
        let asked = |worked: &[(NaiveDate, i32)], counted: &[(NaiveDate, CrossCountKind, i32)]| {
            let all = due("2026-001", worked, counted).into_iter();
            all.map(|due| format!("{} {}", due.kind.as_str(), due.on)).collect::<Vec<_>>()
        };
        let worked = [(day(5, 1), 8), (day(5, 1), 4), (day(5, 12), 6)];
        assert_eq!(asked(&worked, &[]), ["harvest_due 2026-06-12", "harvest_due 2026-06-23"]);
        assert!(due("2026-001", &worked, &[])[0].words.contains("the 12 florets worked on 2026-05-01"));
        // The first seed is in, the second too green.
        let first = (day(6, 12), Harvested, 30);
        assert_eq!(asked(&worked, &[first]), ["harvest_due 2026-06-23", "sowing_due 2026-06-26"]);
        let both = [first, (day(6, 22), Harvested, 20)];
        assert_eq!(asked(&worked, &both), ["sowing_due 2026-06-26", "sowing_due 2026-07-06"]);
        let some = [both[0], both[1], (day(7, 1), Sown, 35)];
        assert_eq!(asked(&worked, &some), ["sowing_due 2026-07-06", "germination_due 2026-07-22"]);
        assert!(due("2026-001", &worked, &some)[0].words.contains("the 15 seeds harvested on 2026-06-22"));
        let up = [both[0], both[1], (day(7, 1), Sown, 50), (day(7, 20), Germinated, 50)];
        assert_eq!(asked(&worked, &up), [""; 0]);
        assert_eq!(asked(&worked, &[(day(5, 30), Takes, 0)]), [""; 0]);
        assert_eq!(asked(&worked, &[(day(5, 10), Takes, 0)]), ["harvest_due 2026-06-23"]);
    }

    #[test]
    fn a_younger_bloom_is_come_back_to_later() {
        let day = NaiveDate::from_ymd_opt(2026, 5, 30).unwrap();
        let on = |stage| stigma_opens_on(stage, day).map(|day| day.to_string());
        assert_eq!(on(BloomStage::Bud).as_deref(), Some("2026-06-03"));
        assert_eq!(on(BloomStage::Opening).as_deref(), Some("2026-06-02"));
        assert_eq!(on(BloomStage::Open).as_deref(), Some("2026-05-31"));
        assert_eq!(on(BloomStage::StigmaOpen), None);
    }
}
