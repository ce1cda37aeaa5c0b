//! One region's season: how it stands, how damp it was, what growers report, the frost to come, and what to do.

use std::collections::{BTreeMap, HashMap};

use chrono::{NaiveDate, TimeDelta};
use storksbill_db::Conn;
use storksbill_db::rows::places::Region;
use storksbill_db::rows::pooled as rows;
use storksbill_domain::ids::{MemberId, PlantId, RegionId, StationId};
use storksbill_domain::words::{DiaryKind, Environment, PlantGroup};
use storksbill_forecast::advice::{Figures, advice};
use storksbill_forecast::blooms::{self, Flowering, Least, Trouble, reports};
use storksbill_forecast::damp::{DampDay, DampOutcome, Level, damp_days};
use storksbill_forecast::frost::{self, AIR_FROST_C, FrostRisk, last_frosts};
use storksbill_forecast::moisture::{self, Moisture};
use storksbill_forecast::season::{ReferencePlant, Standing, standing, standing_by_records};
use storksbill_forecast::series::RegionSeries;

use super::dto::{
    AdviceOut, DampOut, FrostOut, GroupSeasonOut, HumidityFrom, RegionSeasonOut, ShareOut, StandingOut,
    TroubleKind, TroubleOut,
};
use super::reckon::{reference, standing_of, told};
use crate::app::App;
use crate::forecasts::pooled::{Kind, Pooled, PooledRecords, date_of, epoch_day};
use crate::http::problem::Problem;

/// Days of moisture that are read: the fortnight, the one whose spells and cold days reach into it, and two
/// weeks more.
const DAYS_OF_MOISTURE: i64 = 42;
const FORTNIGHT: i32 = 14;
/// Temperatures older than this are no longer news, days.
const STILL_NEWS: i32 = 3;
/// Days that advice on the last days looks at.
const LAST_DAYS: i32 = 8;
/// A flowering's records lie this close to its first floret, days.
const LONGEST_FLOWERING: i32 = 180;

/// What the diaries tell of blooms.
const OF_BLOOMS: [DiaryKind; 5] = [
    DiaryKind::FirstOpenFloret,
    DiaryKind::PastBest,
    DiaryKind::DampingOff,
    DiaryKind::DeformedBloom,
    DiaryKind::Proliferation,
];

/// The region's season as of today.
pub async fn of_region(
    app: &App,
    region: Region,
    frost_after: Option<NaiveDate>,
) -> Result<RegionSeasonOut, Problem> {
    let (id, today) = (region.id, app.clock.today());
    let (moisture, flowerings) = app
        .db
        .read(move |conn| Ok::<_, Problem>((moisture_of(conn, id, today)?, flowerings_of(conn, id)?)))
        .await?;
    let pooled = PooledRecords::of(app).await?;
    let least = Least {
        growers: usize::try_from(app.society.least_growers).unwrap_or(usize::MAX),
        ..Least::default()
    };
    let troubles = reports(&flowerings, epoch_day(today), least);
    let plant_groups = groups(&pooled, id, today)?;
    let series = pooled.series(id);
    let damp = series.and_then(|series| damp(&pooled, series, &moisture, epoch_day(today)));
    let frost_after = frost_after.unwrap_or(today + TimeDelta::days(1));
    let frost = series.map(|series| frost_of(series, pooled.is_south(id), frost_after, today));
    let zonals = plant_groups.iter().find(|group| group.plant_group == PlantGroup::Zonal);
    let days = series.map_or_else(Vec::new, |series| last_days(series, epoch_day(today)));
    let figures = Figures {
        days_late: zonals
            .and_then(|group| group.records.or(group.weather))
            .map(|standing| standing.days_late),
        damp_days: damp.map(|damp| damp.damp_days),
        cold_damp: damp.map(|damp| damp.cold_damp),
        deformed: troubles
            .iter()
            .find(|report| report.trouble == Trouble::Deformed)
            .and_then(|report| Some((report.now?, report.usual?))),
        frost_after: series.and_then(|series| frost_of(series, pooled.is_south(id), today, today).chance),
        days: &days,
    };
    Ok(RegionSeasonOut {
        region_id: id,
        name: region.name,
        as_of: today,
        words: zonals
            .filter(|group| group.records.is_some())
            .map_or_else(|| standing_of(&pooled, id, today).words(), |group| group.words.clone()),
        plant_groups,
        damp,
        troubles: troubles.iter().map(trouble_out).collect(),
        frost,
        advice: advice(&figures).into_iter().map(AdviceOut::of).collect(),
    })
}

fn groups(pooled: &Pooled, region: RegionId, today: NaiveDate) -> Result<Vec<GroupSeasonOut>, Problem> {
    let environment = Environment::FrostFree;
    let effect = pooled.season_effect(region);
    let of_group = |&group: &PlantGroup| {
        let kind = Kind { group, cultivar: None, grower: None, region, environment };
        let usual = pooled.requirement(&kind, None)?;
        let plant = ReferencePlant { degree_days: usual.degree_days(), ..reference(pooled, region) };
        let table = pooled.table_above(region, environment, None, usual.base_c).ok();
        let by = |tell: &dyn Fn(&_) -> Option<Standing>| table.as_deref().and_then(tell);
        let weather = by(&|table| standing(table, &plant, epoch_day(today)).ok());
        let records = effect.and_then(|effect| {
            by(&|table| standing_by_records(table, &plant, effect, epoch_day(today)).ok())
        });
        Ok(GroupSeasonOut {
            plant_group: group,
            degree_days: usual.degree_days(),
            base_c: usual.base_c,
            words: words(weather.as_ref(), records.as_ref()),
            weather: weather.as_ref().and_then(StandingOut::of),
            records: records.as_ref().and_then(StandingOut::of),
        })
    };
    PlantGroup::ALL.iter().map(of_group).collect()
}

fn words(weather: Option<&Standing>, records: Option<&Standing>) -> String {
    match (weather, records) {
        (_, Some(records)) => format!(
            "{} By the weather and members' records; four times in five from {} to {}.",
            told(records),
            off(records.days_late_p10),
            off(records.days_late_p90)
        ),
        (Some(weather), None) => format!("{} By the weather alone.", told(weather)),
        (None, None) => "Cannot be told yet.".to_owned(),
    }
}

/// So many days ahead or behind.
fn off(days_late: f64) -> String {
    let days = days_late.abs().round();
    if days < 1.0 {
        "level".to_owned()
    } else if days_late < 0.0 {
        format!("{days:.0} ahead")
    } else {
        format!("{days:.0} behind")
    }
}

fn moisture_of(conn: &mut Conn, region: RegionId, today: NaiveDate) -> Result<Vec<Moisture>, Problem> {
    let from = today - TimeDelta::days(DAYS_OF_MOISTURE);
    let mut stations: BTreeMap<StationId, Vec<Moisture>> = BTreeMap::new();
    for (station, day, rain_mm, humidity_pct) in rows::moisture_of(conn, region, from, today)? {
        stations.entry(station).or_default().push(Moisture { day: epoch_day(day), rain_mm, humidity_pct });
    }
    let stations: Vec<&[Moisture]> = stations.values().map(Vec::as_slice).collect();
    Ok(moisture::of_region(&stations))
}

fn damp(pooled: &Pooled, series: &RegionSeries, moisture: &[Moisture], today: i32) -> Option<DampOut> {
    let by_day: HashMap<i32, &Moisture> = moisture.iter().map(|day| (day.day, day)).collect();
    let first = today - i32::try_from(DAYS_OF_MOISTURE).unwrap_or(0);
    let days: Vec<DampDay> = (first..=today)
        .filter_map(|day| {
            let air = series.get(day)?;
            let moisture = by_day.get(&day);
            Some(DampDay {
                day,
                min_c: air.min_c,
                max_c: air.max_c,
                humidity_pct: moisture.and_then(|moisture| moisture.humidity_pct),
                rain_mm: moisture.and_then(|moisture| moisture.rain_mm),
            })
        })
        .collect();
    let recent = |day: i32| day > today - FORTNIGHT;
    let (house, _) = pooled.house(Environment::FrostFree, None);
    let outcomes = damp_days(&days, house);
    let fortnight: Vec<&DampOutcome> = outcomes.iter().filter(|outcome| recent(outcome.day)).collect();
    let latest = fortnight.last()?;
    let measured = fortnight
        .iter()
        .filter(|outcome| by_day.get(&outcome.day).is_some_and(|day| day.humidity_pct.is_some()))
        .count();
    Some(DampOut {
        days: fortnight.len(),
        damp_days: fortnight.iter().filter(|outcome| outcome.level > Level::Low).count(),
        infection_days: fortnight.iter().filter(|outcome| outcome.level == Level::High).count(),
        cold_damp: latest.cold_damp,
        humidity: match measured {
            0 => HumidityFrom::Estimated,
            all if all == fortnight.len() => HumidityFrom::Measured,
            _ => HumidityFrom::PartlyMeasured,
        },
    })
}

fn flowerings_of(conn: &mut Conn, region: RegionId) -> Result<Vec<Flowering>, Problem> {
    Ok(flowerings(&rows::shared_events_in(conn, region, &OF_BLOOMS)?))
}

/// The flowerings that the events, plant by plant and oldest first, tell of.
fn flowerings(events: &[(PlantId, MemberId, NaiveDate, DiaryKind)]) -> Vec<Flowering> {
    let mut growers: HashMap<MemberId, u32> = HashMap::new();
    let mut found: Vec<Flowering> = Vec::new();
    let mut open: Option<(PlantId, i32)> = None;
    for (plant, grower, day, kind) in events {
        let next = u32::try_from(growers.len()).unwrap_or(u32::MAX);
        let grower = *growers.entry(*grower).or_insert(next);
        let day = epoch_day(*day);
        let same = open.is_some_and(|(of, from)| of == *plant && day - from <= LONGEST_FLOWERING);
        if !same {
            found.push(Flowering { grower, from: None, until: None, troubles: Vec::new() });
            open = Some((*plant, day));
        }
        let Some(flowering) = found.last_mut() else { continue };
        match kind {
            DiaryKind::FirstOpenFloret => _ = flowering.from.get_or_insert(day),
            DiaryKind::PastBest => _ = flowering.until.get_or_insert(day),
            DiaryKind::DampingOff => flowering.troubles.push((day, Trouble::DampedOff)),
            DiaryKind::DeformedBloom => flowering.troubles.push((day, Trouble::Deformed)),
            DiaryKind::Proliferation => flowering.troubles.push((day, Trouble::LeafyGrowth)),
            _ => {}
        }
    }
    found
}

fn trouble_out(report: &blooms::Report) -> TroubleOut {
    TroubleOut {
        trouble: match report.trouble {
            Trouble::DampedOff => TroubleKind::DampingOff,
            Trouble::Deformed => TroubleKind::DeformedBloom,
            Trouble::LeafyGrowth => TroubleKind::Proliferation,
        },
        now: report.now.as_ref().map(ShareOut::of),
        usual: report.usual.as_ref().map(ShareOut::of),
    }
}

fn frost_of(series: &RegionSeries, south: bool, after: NaiveDate, today: NaiveDate) -> FrostOut {
    let season = if south { frost::Season::SOUTH } else { frost::Season::NORTH };
    let minima: Vec<(i32, f64)> =
        (series.first_day..).zip(&series.days).map(|(day, air)| (day, air.min_c)).collect();
    // The season under way has not had its last frost.
    let mut years = last_frosts(&minima, AIR_FROST_C, season);
    years.retain(|year| season.of_year(year.year).is_some_and(|(_, end)| end < epoch_day(today)));
    let risk = FrostRisk::fit(&years);
    let (first_of_today, _) = start_of_season(season, today).unzip();
    let date = |p: f64| {
        let day = risk.as_ref()?.quantile(p)?;
        #[expect(clippy::cast_possible_truncation, reason = "a day of the year")]
        let day = day.round() as i32;
        date_of(first_of_today? + day - 1)
    };
    let (p10, p50, p90) = (date(0.1), date(0.5), date(0.9));
    let chance = risk.as_ref().and_then(|risk| {
        let (first, last) = start_of_season(season, after)?;
        let day = epoch_day(after);
        (first..=last).contains(&day).then(|| risk.after(day - first + 1).clamp(0.0, 1.0))
    });
    FrostOut {
        years: years.len(),
        years_with_frost: years.iter().filter(|year| year.day.is_some()).count(),
        last_p10: p10,
        last_p50: p50,
        last_p90: p90,
        after,
        chance,
        words: frost_words(p10, p50, p90, after, chance, years.len()),
    }
}

/// First and last day of the frost season that a day lies in or comes after.
fn start_of_season(season: frost::Season, date: NaiveDate) -> Option<(i32, i32)> {
    let year = chrono::Datelike::year(&date);
    let this = season.of_year(year)?;
    if this.0 <= epoch_day(date) { Some(this) } else { season.of_year(year - 1) }
}

fn frost_words(
    p10: Option<NaiveDate>,
    p50: Option<NaiveDate>,
    p90: Option<NaiveDate>,
    after: NaiveDate,
    chance: Option<f64>,
    years: usize,
) -> String {
    let plain = |day: NaiveDate| day.format("%-d %B").to_string();
    let (Some(p10), Some(p50), Some(p90)) = (p10, p50, p90) else {
        return format!(
            "Fewer than {} of the {years} springs with readings had a frost: too few to tell its odds.",
            frost::NORMAL_YEARS
        );
    };
    let dates = format!(
        "In half of the years the last frost has come by {}, in one of ten by {}, in nine of ten by {}.",
        plain(p50),
        plain(p10),
        plain(p90)
    );
    match chance {
        Some(chance) => format!("{dates} A frost after {}: {:.0} in 100.", plain(after), chance * 100.0),
        None => dates,
    }
}

/// The last days with readings, the latest last, if they are news.
fn last_days(series: &RegionSeries, today: i32) -> Vec<(f64, f64)> {
    let of = |day: i32| {
        let air = series.get(day)?;
        (air.min_c.is_finite() && air.max_c.is_finite()).then_some((air.min_c, air.max_c))
    };
    let Some(latest) = (today - STILL_NEWS..=today).rev().find(|day| of(*day).is_some()) else {
        return Vec::new();
    };
    let mut days: Vec<(f64, f64)> = (latest - LAST_DAYS + 1..=latest).rev().map_while(of).collect();
    days.reverse();
    days
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may fail")]

    use super::*;

    #[test]
    fn an_interval_is_told_as_a_grower_would() {
        assert_eq!([-9.6, 0.4, 6.2].map(off), ["10 ahead", "level", "6 behind"]);
    }

    #[test]
    fn a_flowering_takes_in_what_is_written_within_half_a_year_of_its_first_record() {
        let (a, b, grower) = (PlantId::fresh(), PlantId::fresh(), MemberId::fresh());
        let event = |plant, day: &str, kind| (plant, grower, day.parse().unwrap(), kind);
        let found = flowerings(&[
            event(a, "2025-06-01", DiaryKind::FirstOpenFloret),
            event(a, "2025-06-09", DiaryKind::DampingOff),
            event(a, "2025-07-02", DiaryKind::PastBest),
            event(a, "2026-05-20", DiaryKind::DeformedBloom),
            event(a, "2026-05-20", DiaryKind::FirstOpenFloret),
            event(b, "2026-06-01", DiaryKind::Proliferation),
        ]);
        assert_eq!(found.len(), 3);
        assert_eq!(found[0].until.unwrap() - found[0].from.unwrap(), 31);
        assert_eq!(found[0].troubles.len(), 1);
        assert!(found[1].from.is_some() && found[1].until.is_none());
        assert_eq!(found[2].from, None);
        assert_eq!(found[2].troubles[0].1, Trouble::LeafyGrowth);
    }
}
