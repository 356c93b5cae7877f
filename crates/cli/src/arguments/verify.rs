//! Arguments of `dipward verify`.

use std::path::PathBuf;

use clap::{Args, ValueEnum, value_parser};
use dipward_field::verification::{DEFAULT_MEMBERS, Knowing, Season};

use super::{Format, not_negative};
use crate::{moment::Moment, place::Place};

/// Hold the disturbance against recorded hours of an observatory.
///
/// Are the chances worth what they say? The model is asked for at the recorded hours, at the station's place,
/// and averaged as the record is. Told are the share of hours that its regions for 95 and 50 % held, the
/// score of the perturbation's length (CRPS) beside that of a table of month and hour, the reliability of
/// the chances that the pole stays near, and the autocorrelation: all together, by Kp, month and hour.
///
/// Records of one station: hourly ones of the World Data Centres, IAGA-2002, or CSV with the columns
/// time_utc, north_nt, east_nt of perturbations less their quiet level; gzipped or not.
#[derive(Debug, Args)]
pub(crate) struct Verify {
    /// The recorded hours, one file or several
    #[arg(required = true, value_name = "HOURS")]
    pub(crate) hours: Vec<PathBuf>,
    /// Where the station stands, degrees [default: as the files say]
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
    pub(crate) place: Option<Place>,
    /// Whose disturbance and pole, a YAML file [default: the house's, and IGRF-14's pole of 2027]
    #[arg(long, value_name = "FILE")]
    pub(crate) scenario: Option<PathBuf>,
    /// What is known of Kp [default: what the scenario knows]
    #[arg(long, value_enum)]
    pub(crate) knowing: Option<KnownKp>,
    /// Distances from the mean pole, km
    #[arg(
        long,
        value_name = "KM,...",
        value_delimiter = ',',
        allow_negative_numbers = true,
        default_values_t = [5.0, 10.0, 20.0],
        value_parser = above_zero
    )]
    pub(crate) within: Vec<f64>,
    /// Hours on end: whole multiples of the record's interval
    #[arg(
        long = "for",
        value_name = "HOURS,...",
        value_delimiter = ',',
        allow_negative_numbers = true,
        default_values_t = [2.0, 6.0],
        value_parser = not_negative
    )]
    pub(crate) for_h: Vec<f64>,
    /// Score these months alone, 1 to 12
    #[arg(long, value_name = "MONTH,...", value_delimiter = ',', value_parser = value_parser!(u8).range(1..=12))]
    pub(crate) months: Vec<u8>,
    /// Score these days of every year alone, both ends included: 01-05..03-15
    #[arg(long, value_name = "MM-DD..MM-DD")]
    pub(crate) season: Option<Season>,
    /// Score from this instant on
    #[arg(long, value_name = "INSTANT")]
    pub(crate) from: Option<Moment>,
    /// Score before this instant
    #[arg(long, value_name = "INSTANT")]
    pub(crate) until: Option<Moment>,
    /// Members of the ensemble
    #[arg(long, value_name = "N", default_value_t = DEFAULT_MEMBERS, value_parser = value_parser!(u32).range(39..=10_000))]
    pub(crate) members: u32,
    /// Seed of all random draws [default: the scenario's own, else 1]
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u64>,
    /// Folder for verification.json and the page verification.html; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Form of the output
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// What is taken to be known of Kp.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum KnownKp {
    /// The Kp that was observed
    Kp,
    /// The Kp of past years in the same season
    Climate,
}

impl From<KnownKp> for Knowing {
    fn from(known: KnownKp) -> Self {
        match known {
            KnownKp::Kp => Self::Kp,
            KnownKp::Climate => Self::Climate,
        }
    }
}

fn above_zero(text: &str) -> Result<f64, String> {
    let number = not_negative(text).ok().filter(|number| *number > 0.0);
    number.ok_or_else(|| "give a number above 0, at most 100000".to_owned())
}
