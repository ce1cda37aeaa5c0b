//! The cold that some groups need before they set buds.

use storksbill_domain::ids::RegionId;
use storksbill_domain::words::{Environment, PlantGroup};
use storksbill_forecast::calendar;
use storksbill_forecast::fit::Requirement;
use storksbill_forecast::induction::{NEEDED, UNMET_SD_LOG, cold_need, season_start};
use storksbill_forecast::traces::MOST_TRACES;

use super::pooled::Pooled;

/// Said of a plant that was stopped with its need unmet.
pub(super) const STOPPED_TOO_WARM: &str =
    " By its stop it had hardly had the cold its group needs to set buds, so the date is less sure.";

/// Said of a stop with the need unmet.
pub(super) const STOP_TOO_WARM: &str = " By that day a plant will hardly have had the cold its group needs to set buds, so the chances are less sure.";

/// Cold days that a group needs. Angels and uniques, which come of the regals in part, with half as many is
/// common practice.
fn needed(group: PlantGroup) -> u32 {
    match group {
        PlantGroup::Regal => NEEDED,
        PlantGroup::Angel | PlantGroup::Unique => NEEDED / 2,
        _ => 0,
    }
}

/// Whether a plant stopped on `stop` lacks cold by then. Days up to `today` without weather count as cold;
/// the days ahead have the cold of the middle one of the past years.
///
/// Cost: a look at each day since the season's start, and for a stop ahead at as many days of each past year.
pub(super) fn unmet(
    pooled: &Pooled,
    group: PlantGroup,
    (region, environment, heated_to_c): (RegionId, Environment, Option<f64>),
    today: i32,
    stop: i32,
) -> bool {
    let needed = needed(group);
    let start = season_start(stop, pooled.is_south(region));
    let (Some(series), Some(start), true) = (pooled.series(region), start, needed > 0) else { return false };
    let (house, gain) = pooled.house(environment, heated_to_c);
    let had = cold_need(series, house, gain, start, stop.min(today + 1));
    let ahead = start.max(today + 1);
    let mut past_years: Vec<u32> = (1..=MOST_TRACES)
        .filter_map(|back| {
            let (from, to) = (calendar::years_back(ahead, back)?, calendar::years_back(stop, back)?);
            let need = cold_need(series, house, gain, from, to);
            (need.unknown_days == 0).then_some(need.cold_days)
        })
        .collect();
    past_years.sort_unstable();
    let all_cold = u32::try_from(stop - ahead).unwrap_or(0);
    let to_come = past_years.get(past_years.len() / 2).copied().unwrap_or(all_cold);
    had.cold_days + had.unknown_days + to_come < needed
}

/// The requirement of a plant whose need is unmet. What it adds to the spread is alike for all plants of the
/// place, so it goes to what they share.
pub(super) fn widened(requirement: Requirement) -> Requirement {
    let sd_log = requirement.sd_log() + UNMET_SD_LOG;
    let shared = sd_log.powi(2) - requirement.own_sd.powi(2);
    Requirement { shared_sd: shared.max(0.0).sqrt(), ..requirement }
}
