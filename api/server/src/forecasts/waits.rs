//! Diaries read as waits: from the last stop of a plant to what was seen of it.

use std::collections::HashMap;

use chrono::{Datelike, NaiveDate, TimeDelta};
use storksbill_domain::ids::PlantId;
use storksbill_domain::words::DiaryKind;
use storksbill_forecast::stages::{STAGES, Stage};

use super::pooled::epoch_day;

/// A stop and what it led to lie this far apart at the most; a longer gap is another season.
pub const LONGEST_WAIT: TimeDelta = TimeDelta::days(300);

/// The diary words that tell of a flowering.
pub const FLOWERING: [DiaryKind; 6] = [
    DiaryKind::Stopping,
    DiaryKind::BudSeen,
    DiaryKind::FirstColour,
    DiaryKind::FirstOpenFloret,
    DiaryKind::ShowReady,
    DiaryKind::PastBest,
];

/// The stage a diary word tells of.
pub fn stage_of(kind: DiaryKind) -> Option<Stage> {
    match kind {
        DiaryKind::BudSeen => Some(Stage::Bud),
        DiaryKind::FirstColour => Some(Stage::FirstColour),
        DiaryKind::FirstOpenFloret => Some(Stage::FirstOpenFloret),
        DiaryKind::ShowReady => Some(Stage::ShowReady),
        DiaryKind::PastBest => Some(Stage::PastBest),
        _ => None,
    }
}

/// A last stop and the day each stage was first seen after it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Flowering {
    /// The last stop.
    pub stopped_on: NaiveDate,
    /// By [`Stage::index`].
    pub seen: [Option<NaiveDate>; STAGES],
}

impl Flowering {
    fn of(stopped_on: NaiveDate) -> Self {
        Self { stopped_on, seen: [None; STAGES] }
    }

    /// The day of a stage.
    pub fn seen_on(&self, stage: Stage) -> Option<NaiveDate> {
        self.seen.get(stage.index()).copied().flatten()
    }

    /// The days as the forecasts count them.
    pub fn days(&self) -> [Option<i32>; STAGES] {
        self.seen.map(|day| day.map(epoch_day))
    }

    fn see(&mut self, stage: Stage, day: NaiveDate) {
        // After a later stage an earlier one is of the second flush, and tells nothing of the stop.
        let later = self.seen.get(stage.index()..).into_iter().flatten().any(Option::is_some);
        if !later
            && day - self.stopped_on <= LONGEST_WAIT
            && let Some(seen) = self.seen.get_mut(stage.index())
        {
            *seen = Some(day);
        }
    }
}

/// One plant's flowerings from its diary, oldest first. A stop followed by another before anything was seen
/// is not a last stop and gives none.
pub fn flowerings(events: &[(NaiveDate, DiaryKind)]) -> Vec<Flowering> {
    let mut found: Vec<Flowering> = Vec::new();
    for &(day, kind) in events {
        match (stage_of(kind), found.last_mut()) {
            (None, Some(open)) if kind == DiaryKind::Stopping && open.seen == [None; STAGES] => {
                *open = Flowering::of(day);
            }
            (None, _) if kind == DiaryKind::Stopping => found.push(Flowering::of(day)),
            (Some(stage), Some(open)) => open.see(stage, day),
            (Some(_), None) | (None, _) => {}
        }
    }
    found
}

/// Every plant's flowerings, plants in the order they come.
pub fn by_plant(events: &[(PlantId, NaiveDate, DiaryKind)]) -> Vec<(PlantId, Vec<Flowering>)> {
    let mut order: Vec<(PlantId, Vec<(NaiveDate, DiaryKind)>)> = Vec::new();
    let mut places: HashMap<PlantId, usize> = HashMap::new();
    for &(plant, day, kind) in events {
        let place = *places.entry(plant).or_insert(order.len());
        match order.get_mut(place) {
            Some((_, own)) => own.push((day, kind)),
            None => order.push((plant, vec![(day, kind)])),
        }
    }
    order.into_iter().map(|(plant, events)| (plant, flowerings(&events))).collect()
}

/// The year a day's flowering season is called by. In the north stops from October on belong to the next
/// year's flowers; in the south a season runs from July to June and is called by its first year.
pub fn season_of(day: NaiveDate, south: bool) -> i32 {
    let shift = if south { TimeDelta::days(-181) } else { TimeDelta::days(92) };
    day.checked_add_signed(shift).unwrap_or(day).year()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    #[test]
    fn a_readiness_goes_with_the_last_stop_before_it() {
        let found = flowerings(&[
            (day("2025-01-10"), DiaryKind::Stopping),
            (day("2025-03-01"), DiaryKind::Stopping),
            (day("2025-05-30"), DiaryKind::FirstColour),
            (day("2025-06-20"), DiaryKind::ShowReady),
            // A second flush.
            (day("2025-08-02"), DiaryKind::FirstOpenFloret),
            (day("2025-08-20"), DiaryKind::ShowReady),
            (day("2026-03-05"), DiaryKind::Stopping),
        ]);
        let [first, second] = found.as_slice() else { panic!("{found:?}") };
        assert_eq!(first.stopped_on, day("2025-03-01"));
        assert_eq!(first.seen_on(Stage::FirstColour), Some(day("2025-05-30")));
        assert_eq!(first.seen_on(Stage::ShowReady), Some(day("2025-06-20")));
        assert_eq!(first.seen_on(Stage::FirstOpenFloret), None);
        assert_eq!(second, &Flowering::of(day("2026-03-05")));
    }

    #[test]
    fn what_was_seen_too_long_after_or_before_any_stop_tells_nothing() {
        let found = flowerings(&[
            (day("2023-06-01"), DiaryKind::ShowReady),
            (day("2024-01-01"), DiaryKind::Stopping),
            (day("2025-06-01"), DiaryKind::ShowReady),
        ]);
        assert_eq!(found, [Flowering::of(day("2024-01-01"))]);
    }

    #[test]
    fn plants_are_kept_apart() {
        let (a, b) = (PlantId::fresh(), PlantId::fresh());
        let found = by_plant(&[
            (a, day("2026-03-05"), DiaryKind::Stopping),
            (b, day("2026-06-01"), DiaryKind::ShowReady),
        ]);
        assert_eq!(found, [(a, vec![Flowering::of(day("2026-03-05"))]), (b, vec![])]);
    }

    #[test]
    fn seasons_are_called_by_the_year_they_flower_in_or_begin_in() {
        assert_eq!(season_of(day("2025-12-10"), false), 2026);
        assert_eq!(season_of(day("2026-06-20"), false), 2026);
        assert_eq!(season_of(day("2026-09-15"), false), 2026);
        assert_eq!(season_of(day("2026-08-10"), true), 2026);
        assert_eq!(season_of(day("2027-01-20"), true), 2026);
    }
}
