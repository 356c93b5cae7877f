//! What a verification tells, as other programs read it.

use dipward_geodesy::Hemisphere;
use dipward_plugin::Assumption;
use jiff::Timestamp;
use serde::Serialize;

use super::{EventScores, HourScores, Knowing, LagCorrelation};

/// A disturbance held against recorded hours. Serialised, it is the JSON of `dipward verify`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Verification {
    /// Whose hours.
    pub station: StationTold,
    /// The disturbance's name.
    pub disturbance: String,
    /// What it was taken to know of Kp.
    pub knowing: Knowing,
    /// Whose Jacobian turns nT to km.
    pub pole: PoleTold,
    /// Members of the ensemble.
    pub members: u32,
    /// Seed of all random draws.
    pub seed: u64,
    /// The start of the first scored interval.
    pub first: Timestamp,
    /// The start of the last scored interval.
    pub last: Timestamp,
    /// Scored intervals; as many as hours where the record is hourly.
    pub intervals: u64,
    /// Selected and recorded hours whose Kp is not in the history: in no class of Kp, and left out of
    /// everything where Kp is taken to be known.
    pub hours_without_kp: u64,
    /// All scored hours.
    #[serde(flatten)]
    pub all: HourScores,
    /// The score of a table of month and hour of the record itself, each year by the others, nT.
    pub crps_climate_nt: f64,
    /// By the Kp of the hour, rounded to a whole number; classes without an hour are left out.
    pub by_kp: Vec<KpRow>,
    /// By month; months without an hour are left out.
    pub by_month: Vec<MonthRow>,
    /// By the hour of the day, UTC; hours that were not scored are left out.
    pub by_hour: Vec<HourRow>,
    /// Model beside record.
    pub autocorrelation: Vec<LagCorrelation>,
    /// Each distance with each time.
    pub events: Vec<EventScores>,
    /// What to know of the record and of how the scores were made.
    pub remarks: Vec<String>,
    /// What the disturbance takes for granted.
    pub assumptions: Vec<Assumption>,
}

/// A station.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StationTold {
    /// Its code, or the file's name.
    pub name: String,
    /// Degrees north.
    pub latitude_deg: f64,
    /// Degrees east.
    pub longitude_deg: f64,
    /// Length of an interval of its record, h.
    pub cadence_h: f64,
}

/// The pole whose distance the events are of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PoleTold {
    /// North or south.
    pub hemisphere: Hemisphere,
    /// Degrees north.
    pub latitude_deg: f64,
    /// Degrees east.
    pub longitude_deg: f64,
    /// When.
    pub decimal_year: f64,
    /// Rows north and east component, columns toward north and east, nT/km.
    pub jacobian_nt_per_km: [[f64; 2]; 2],
}

/// The hours of a class of Kp.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct KpRow {
    /// Kp rounded to a whole number, 0 to 9.
    pub kp: u8,
    /// Their scores.
    #[serde(flatten)]
    pub scores: HourScores,
}

/// The hours of a month.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MonthRow {
    /// 1 to 12.
    pub month: u8,
    /// Their scores.
    #[serde(flatten)]
    pub scores: HourScores,
}

/// The hours of a time of the day.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HourRow {
    /// UTC, 0 to 23.
    pub hour: u8,
    /// Their scores.
    #[serde(flatten)]
    pub scores: HourScores,
}

impl Verification {
    /// The verification in one sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let Self { station, all, crps_climate_nt, .. } = self;
        let knowing = match self.knowing {
            Knowing::Scenario => "",
            Knowing::Kp => " with the true Kp",
            Knowing::Climate => " with the Kp of past years",
        };
        format!(
            "at {}, {} recorded hours: the region for 95 % held {:.1} % of them and that for 50 % {:.1} \
             %{knowing}; the length of the perturbation was off by {:.1} nT (CRPS), by {:.1} nT with a table \
             of month and hour",
            station.name,
            in_thousands(all.hours),
            100.0 * all.coverage_95,
            100.0 * all.coverage_50,
            all.crps_nt,
            crps_climate_nt,
        )
    }
}

/// "412,000".
fn in_thousands(number: u64) -> String {
    let digits = number.to_string();
    let mut told = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            told.push(',');
        }
        told.push(digit);
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_told_in_thousands() {
        let told: Vec<String> = [0, 999, 1000, 412_000, 1_234_567].map(in_thousands).into();
        assert_eq!(told, ["0", "999", "1,000", "412,000", "1,234,567"]);
    }
}
