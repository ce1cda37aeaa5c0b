//! The island of Merrow: four regions, eight weather stations, five clubs. All of it is invented.

/// What a region's weather is like, for [`crate::weather`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Climate {
    /// Mean temperature of the year, degrees C.
    pub mean_c: f64,
    /// Half the difference between the warmest and the coldest time of the year, degrees C.
    pub swing_c: f64,
    /// Day of the year that is warmest, in the mean.
    pub warmest_day: f64,
    /// Half the difference between a day's maximum and minimum, in the mean of the year, degrees C.
    pub half_range_c: f64,
    /// Share of days that are wet after a dry one and after a wet one.
    pub wet_after: [f64; 2],
    /// Mean rain of a wet day, mm.
    pub rain_mm: f64,
    /// Mean relative humidity of the year, %.
    pub humidity_pct: f64,
}

/// One climate, one forecast.
#[derive(Debug, Clone, Copy)]
pub struct Region {
    pub name: &'static str,
    pub latitude: f64,
    pub longitude: f64,
    pub elevation_m: f64,
    /// The north keeps its own rules on what plants come in.
    pub plant_health_zone: &'static str,
    pub climate: Climate,
    /// Days a grower here stops earlier than the handbook's weeks, having learnt to.
    pub stops_earlier_days: i32,
    /// Whether a pelargonium left in the open flowers before the autumn.
    pub outdoors: bool,
}

/// From the mild south to the windy north.
pub const REGIONS: [Region; 4] = [
    Region {
        name: "Pellance Coast",
        latitude: 53.94,
        longitude: -12.31,
        elevation_m: 20.0,
        plant_health_zone: "Merrow",
        climate: Climate {
            mean_c: 11.3,
            swing_c: 4.6,
            warmest_day: 214.0,
            half_range_c: 2.8,
            wet_after: [0.33, 0.60],
            rain_mm: 5.0,
            humidity_pct: 82.0,
        },
        stops_earlier_days: 12,
        outdoors: true,
    },
    Region {
        name: "Vale of Quillan",
        latitude: 54.08,
        longitude: -12.18,
        elevation_m: 65.0,
        plant_health_zone: "Merrow",
        climate: Climate {
            mean_c: 10.7,
            swing_c: 6.3,
            warmest_day: 203.0,
            half_range_c: 4.6,
            wet_after: [0.27, 0.55],
            rain_mm: 4.2,
            humidity_pct: 77.0,
        },
        stops_earlier_days: 12,
        outdoors: true,
    },
    Region {
        name: "High Thorrow",
        latitude: 54.17,
        longitude: -12.25,
        elevation_m: 310.0,
        plant_health_zone: "Merrow",
        climate: Climate {
            mean_c: 8.3,
            swing_c: 6.0,
            warmest_day: 205.0,
            half_range_c: 3.5,
            wet_after: [0.40, 0.66],
            rain_mm: 7.5,
            humidity_pct: 84.0,
        },
        stops_earlier_days: 28,
        outdoors: false,
    },
    Region {
        name: "Skerravoe North",
        latitude: 54.33,
        longitude: -12.22,
        elevation_m: 35.0,
        plant_health_zone: "Skerravoe",
        climate: Climate {
            mean_c: 9.3,
            swing_c: 4.5,
            warmest_day: 218.0,
            half_range_c: 2.2,
            wet_after: [0.42, 0.64],
            rain_mm: 5.5,
            humidity_pct: 84.0,
        },
        stops_earlier_days: 22,
        outdoors: false,
    },
];

/// What every station of the demonstration says of its readings.
pub const GENERATED: &str =
    "Generated weather of a demonstration: a seasonal curve with random spells, measured by nobody";

/// A weather station.
#[derive(Debug, Clone, Copy)]
pub struct Station {
    /// Index into [`REGIONS`].
    pub region: usize,
    pub name: &'static str,
    pub latitude: f64,
    pub longitude: f64,
    pub elevation_m: f64,
}

/// Two in each region, at different heights.
pub const STATIONS: [Station; 8] = [
    Station { region: 0, name: "Pellance Mole", latitude: 53.92, longitude: -12.33, elevation_m: 6.0 },
    Station { region: 0, name: "Orrisand Allotments", latitude: 53.96, longitude: -12.27, elevation_m: 38.0 },
    Station { region: 1, name: "Quillan Mill", latitude: 54.07, longitude: -12.19, elevation_m: 52.0 },
    Station { region: 1, name: "Fennowmere", latitude: 54.11, longitude: -12.14, elevation_m: 88.0 },
    Station { region: 2, name: "Thorrow Reservoir", latitude: 54.16, longitude: -12.26, elevation_m: 285.0 },
    Station { region: 2, name: "Brannoch Pass", latitude: 54.19, longitude: -12.23, elevation_m: 366.0 },
    Station { region: 3, name: "Skerravoe Light", latitude: 54.36, longitude: -12.24, elevation_m: 18.0 },
    Station { region: 3, name: "Ulvaness School", latitude: 54.31, longitude: -12.18, elevation_m: 47.0 },
];

/// A club of the society.
#[derive(Debug, Clone, Copy)]
pub struct Club {
    pub name: &'static str,
    /// Index into [`REGIONS`].
    pub region: usize,
    pub meeting_place: &'static str,
    /// The hall its shows are held in.
    pub hall: &'static str,
    /// Share of the members, in parts of their sum.
    pub weight: f64,
}

/// The vale has two.
pub const CLUBS: [Club; 5] = [
    Club {
        name: "Pellance Pelargonium Circle",
        region: 0,
        meeting_place: "Net Loft, Pellance Mole; second Tuesday, 19:30",
        hall: "Winter Garden, Pellance",
        weight: 40.0,
    },
    Club {
        name: "Quillan Vale Growers",
        region: 1,
        meeting_place: "Mill Hall, Quillan; first Thursday, 19:00",
        hall: "Corn Hall, Quillan",
        weight: 42.0,
    },
    Club {
        name: "Fennowmere Glass and Garden Club",
        region: 1,
        meeting_place: "Fennowmere Reading Room; last Monday, 19:30",
        hall: "Ferry House, Fennowmere",
        weight: 26.0,
    },
    Club {
        name: "Thorrow Hill Pelargonium Club",
        region: 2,
        meeting_place: "Chapel Room, Over Thorrow; third Wednesday, 19:30",
        hall: "Drill Hall, Over Thorrow",
        weight: 20.0,
    },
    Club {
        name: "North Merrow Potting Shed",
        region: 3,
        meeting_place: "Ulvaness School; first Friday, 19:00",
        hall: "Lifeboat House, Skerravoe",
        weight: 22.0,
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_region_has_two_stations_and_a_club_and_no_name_comes_twice() {
        for (at, region) in REGIONS.iter().enumerate() {
            assert_eq!(STATIONS.iter().filter(|s| s.region == at).count(), 2, "{}", region.name);
            assert!(CLUBS.iter().any(|c| c.region == at), "{}", region.name);
            assert!((50.0..58.0).contains(&region.latitude));
        }
        let names: std::collections::BTreeSet<&str> = REGIONS
            .iter()
            .map(|r| r.name)
            .chain(STATIONS.iter().map(|s| s.name))
            .chain(CLUBS.iter().map(|c| c.name))
            .collect();
        assert_eq!(names.len(), REGIONS.len() + STATIONS.len() + CLUBS.len());
    }
}
