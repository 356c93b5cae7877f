//! The result of a study of seasons: what its files and its page show.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::Assumption;

/// One case of a study and what became of it: one line of `seasons.jsonl`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SeasonCase {
    /// The case's number, from 0.
    pub case: u64,
    /// The year's name.
    pub year: String,
    /// The craft's name in the study.
    pub craft: String,
    /// The port of departure.
    pub port: String,
    /// The day of departure as the study's first calendar has it ("01-08").
    pub day: String,
    /// The policy's name in the study.
    pub policy: String,
    /// The departure.
    pub depart: Timestamp,
    /// The seed of the random draws: that of the year, so that the cases of a year meet the same pole
    /// tracks. A plan with this seed repeats the case.
    pub seed: u64,
    /// The best approach by the scenario's ranking, if there is one.
    pub outcome: Option<SeasonOutcome>,
    /// Why there is none.
    pub reason: Option<String>,
}

impl SeasonCase {
    /// The chance of attainment; none where no approach is feasible.
    #[must_use]
    pub fn attainment(&self) -> f64 {
        self.outcome.as_ref().map_or(0.0, |outcome| outcome.attainment)
    }
}

/// The best approach of a case.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SeasonOutcome {
    /// What the way out was sought for.
    pub sought: String,
    /// The port of return.
    pub home_to: String,
    /// Reaching the mean pole.
    pub arrive: Timestamp,
    /// Leaving the station.
    pub leave: Timestamp,
    /// Back in port.
    pub back: Timestamp,
    /// Length of the way out.
    pub distance_km: f64,
    /// Duration of the way out.
    pub duration_h: f64,
    /// Fuel burnt on the way out.
    pub out_t: f64,
    /// Fuel burnt on station.
    pub station_t: f64,
    /// Fuel burnt on the way home.
    pub home_t: f64,
    /// Fuel left beyond the reserve.
    pub margin_t: f64,
    /// Share of the members that attain.
    pub attainment: f64,
    /// Lower end of its 95 % interval.
    pub attainment_low: f64,
    /// Upper end of its 95 % interval.
    pub attainment_high: f64,
    /// Share that attains by keeping to the mean pole.
    pub if_holding: f64,
    /// Share that a craft could attain that knew the pole's track.
    pub if_clairvoyant: f64,
    /// Mean closest approach.
    pub expected_closest_km: f64,
    /// Mean closest approach of the worst tenth of the members.
    pub worst_tenth_closest_km: f64,
    /// Days on station by which half of the members have attained, if they ever do.
    pub half_attained_d: Option<f64>,
    /// The lowest risk index met, if the craft has one.
    pub minimum_rio: Option<f64>,
    /// Hours under way at elevated risk.
    pub hours_elevated: f64,
}

/// One departure that a planner may choose, over all years of a study.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeasonChoice {
    /// The craft's name in the study.
    pub craft: String,
    /// The port of departure.
    pub port: String,
    /// The day of departure.
    pub day: String,
    /// The policy's name in the study.
    pub policy: String,
    /// Years in which an approach is feasible.
    pub feasible_years: u32,
    /// The group, from 1, of choices that the years do not tell apart; 0 in a study of an earlier version.
    #[serde(default)]
    pub group: u32,
    /// Mean over the years of the chance of attainment; all years weigh the same.
    pub mean: f64,
    /// Standard error of the mean, from the scatter of the years; nothing of one year.
    #[serde(default)]
    pub mean_error: Option<f64>,
    /// Mean chance of the worst tenth of the years, at least of the worst year.
    pub worst_tenth: f64,
    /// The year of the least chance.
    pub worst_year: String,
    /// The greatest chance, over the years, that the best choice of the same year has more.
    pub greatest_regret: f64,
    /// The year of the greatest regret.
    pub regret_year: String,
    /// The least fuel left beyond the reserve over the feasible years.
    pub least_margin_t: Option<f64>,
    /// The longest voyage over the feasible years, days.
    pub longest_d: Option<f64>,
}

/// The names on the axes of a study, each in the study's order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SeasonAxes {
    /// Years.
    pub years: Vec<String>,
    /// Craft.
    pub crafts: Vec<String>,
    /// Ports.
    pub ports: Vec<String>,
    /// Days of departure.
    pub days: Vec<String>,
    /// Policies.
    pub policies: Vec<String>,
}

/// A whole study.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SeasonReport {
    /// [`SCHEMA_VERSION`](crate::SCHEMA_VERSION).
    pub schema_version: u32,
    /// The version of the program.
    pub dipward_version: String,
    /// The study's title.
    pub title: String,
    /// What the study says of itself.
    pub notes: Vec<String>,
    /// [`CAUTION`](crate::CAUTION).
    pub caution: String,
    /// What the result takes for granted.
    pub assumptions: Vec<Assumption>,
    /// SHA-256, in hex, of the study, its scenario, their files and the program's version.
    pub study_sha256: String,
    /// The study's seed, of which each year's is made.
    pub seed: u64,
    /// The distance that counts as attained.
    pub within_km: f64,
    /// For so many hours on end.
    pub for_h: f64,
    /// The axes.
    pub axes: SeasonAxes,
    /// How sure the years must be before one choice stands in a group before another: the share of the
    /// drawings of years; 0 in a study of an earlier version, as the next.
    #[serde(default)]
    pub confidence: f64,
    /// The difference of chance that does not count.
    #[serde(default)]
    pub indifference: f64,
    /// All departures, group by group, within a group the most robust first: by the worst tenth of the years,
    /// then by the mean.
    pub choices: Vec<SeasonChoice>,
    /// All cases in their order; they stand in files of their own.
    #[serde(skip)]
    pub cases: Vec<SeasonCase>,
}
