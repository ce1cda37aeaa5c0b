//! What growers' rules of thumb say a plant of each group needs, before any record is pooled.
//!
//! The weeks are those from the last stop to the show of a grower's column (Garden News, United Kingdom,
//! 2 March 2021, "rough guide; depends greatly on climate"). Weeks are not heat: they were turned into
//! degree-days (base 4 C, cap 26 C, single sine, a house kept at 5 C) by averaging the heat of so many
//! weeks before shows on 10 June, 1 July and 1 August over the weather of Klein-Altendorf, Germany,
//! 1990-2018, as a stand-in for the United Kingdom; [`heat_of_weeks`] does the same for any weather.
//! Groups the column does not list are common practice from memory and marked so.

use crate::series::HeatTable;

/// The plant groups of a pelargonium society.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PlantGroup {
    Zonal,
    FancyLeaf,
    Stellar,
    Rosebud,
    Dwarf,
    Miniature,
    IvyLeaved,
    Regal,
    Angel,
    Unique,
    ScentedLeaf,
    Species,
}

impl PlantGroup {
    pub const ALL: [PlantGroup; 12] = [
        PlantGroup::Zonal,
        PlantGroup::FancyLeaf,
        PlantGroup::Stellar,
        PlantGroup::Rosebud,
        PlantGroup::Dwarf,
        PlantGroup::Miniature,
        PlantGroup::IvyLeaved,
        PlantGroup::Regal,
        PlantGroup::Angel,
        PlantGroup::Unique,
        PlantGroup::ScentedLeaf,
        PlantGroup::Species,
    ];

    /// Weeks from the last stop to the show.
    pub fn weeks_from_stop(self) -> f64 {
        match self {
            PlantGroup::Regal => 20.0,
            PlantGroup::Angel => 18.0,
            // From memory: 18 to 20 weeks.
            PlantGroup::Unique => 19.0,
            // From memory: double zonals a week or two later than singles.
            PlantGroup::Rosebud => 17.5,
            PlantGroup::Zonal
            | PlantGroup::FancyLeaf
            | PlantGroup::Stellar
            | PlantGroup::IvyLeaved
            | PlantGroup::ScentedLeaf
            | PlantGroup::Species => 16.0,
            // The column says 12 to 14.
            PlantGroup::Dwarf | PlantGroup::Miniature => 13.0,
        }
    }

    /// Degree-days from the last stop to show-ready, base 4 C and cap 26 C.
    pub fn degree_days(self) -> f64 {
        match self {
            PlantGroup::Regal => 1441.0,
            PlantGroup::Angel => 1370.0,
            // From memory.
            PlantGroup::Unique => 1400.0,
            // Between the zonals' 16 weeks and the angels' 18, in proportion; from memory.
            PlantGroup::Rosebud => 1349.0,
            PlantGroup::Zonal
            | PlantGroup::FancyLeaf
            | PlantGroup::Stellar
            | PlantGroup::IvyLeaved
            | PlantGroup::ScentedLeaf
            | PlantGroup::Species => 1285.0,
            PlantGroup::Dwarf | PlantGroup::Miniature => 1129.0,
        }
    }
}

/// The mean heat of the given weeks before each of the show days, up to the midday of the show, in
/// degree-days; show days whose weeks the table does not hold whole are left out. `None` when none is
/// left.
pub fn heat_of_weeks(table: &HeatTable, weeks: f64, show_days: &[i32]) -> Option<f64> {
    #[expect(clippy::cast_possible_truncation, reason = "a count of days; `as` saturates")]
    let length = (weeks * 7.0).round() as i32;
    let heats: Vec<f64> =
        show_days.iter().filter_map(|&show| table.to_midday(show.checked_sub(length)?, show)).collect();
    (!heats.is_empty()).then(|| heats.iter().sum::<f64>() / heats.len() as f64)
}
