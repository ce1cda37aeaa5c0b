//! A fit as it is kept: its parameters as JSON and the fingerprint of what it was made from.

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use storksbill_forecast::fit::{Parameters, Regime, Spreads};
use storksbill_forecast::records::Wait;
use storksbill_forecast::series::RegionSeries;

use crate::hex::hex;

#[derive(Debug, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum KeptRegime {
    Handbook,
    Means,
    Full,
}

/// The parameters as they are written; every number is one of [`Parameters`].
#[derive(Debug, Serialize, Deserialize)]
struct Kept {
    regime: KeptRegime,
    handbook_sd: f64,
    environment_sd: f64,
    cultivar_sd: f64,
    grower_sd: f64,
    region_season_sd: f64,
    region_season_group_sd: f64,
    residual_sd: f64,
    bases_c: Vec<f64>,
    calibration: Vec<f64>,
    written: f64,
    records: usize,
    seasons: usize,
    scored: usize,
    evaluations: usize,
}

/// The parameters as JSON.
pub fn to_json(parameters: &Parameters) -> Result<String, serde_json::Error> {
    let spreads = &parameters.spreads;
    serde_json::to_string(&Kept {
        regime: match parameters.regime {
            Regime::Handbook => KeptRegime::Handbook,
            Regime::Means => KeptRegime::Means,
            Regime::Full => KeptRegime::Full,
        },
        handbook_sd: spreads.handbook,
        environment_sd: spreads.environment,
        cultivar_sd: spreads.cultivar,
        grower_sd: spreads.grower,
        region_season_sd: spreads.region_season,
        region_season_group_sd: spreads.region_season_group,
        residual_sd: spreads.residual,
        bases_c: parameters.bases.clone(),
        calibration: parameters.calibration.clone(),
        written: parameters.written,
        records: parameters.records,
        seasons: parameters.seasons,
        scored: parameters.scored,
        evaluations: parameters.evaluations,
    })
}

/// The parameters that [`to_json`] wrote.
pub fn from_json(text: &str) -> Result<Parameters, serde_json::Error> {
    let kept: Kept = serde_json::from_str(text)?;
    Ok(Parameters {
        regime: match kept.regime {
            KeptRegime::Handbook => Regime::Handbook,
            KeptRegime::Means => Regime::Means,
            KeptRegime::Full => Regime::Full,
        },
        spreads: Spreads {
            handbook: kept.handbook_sd,
            environment: kept.environment_sd,
            cultivar: kept.cultivar_sd,
            grower: kept.grower_sd,
            region_season: kept.region_season_sd,
            region_season_group: kept.region_season_group_sd,
            residual: kept.residual_sd,
        },
        bases: kept.bases_c,
        calibration: kept.calibration,
        written: kept.written,
        records: kept.records,
        seasons: kept.seasons,
        scored: kept.scored,
        evaluations: kept.evaluations,
    })
}

/// SHA-256 of the records and the weather a fit is made from, hexadecimal: equal inputs, equal fits.
pub fn fingerprint<'a>(waits: &[Wait], weather: impl Iterator<Item = &'a RegionSeries>) -> String {
    let mut hash = Sha256::new();
    for wait in waits {
        // Every number of a wait in a fixed order.
        let indices = [wait.group, wait.cultivar, wait.grower, wait.region, wait.environment, wait.place];
        for index in indices {
            hash.update(index.to_le_bytes());
        }
        hash.update(wait.season.to_le_bytes());
        hash.update(wait.stop_day.to_le_bytes());
        for day in wait.seen {
            hash.update(day.unwrap_or(i32::MIN).to_le_bytes());
        }
    }
    for series in weather {
        hash.update(series.first_day.to_le_bytes());
        for day in &series.days {
            hash.update(day.min_c.to_le_bytes());
            hash.update(day.max_c.to_le_bytes());
        }
    }
    hex(&hash.finalize())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may fail")]

    use super::*;

    #[test]
    fn parameters_come_back_as_they_went() {
        let parameters = Parameters {
            regime: Regime::Full,
            spreads: Spreads { cultivar: 0.081_234_567_89, ..Spreads::default() },
            bases: vec![4.0, 5.5],
            calibration: vec![1.01, 0.97],
            written: 0.86,
            records: 4_321,
            seasons: 7,
            scored: 4_000,
            evaluations: 88,
        };
        assert_eq!(from_json(&to_json(&parameters).unwrap()).unwrap(), parameters);
    }
}
