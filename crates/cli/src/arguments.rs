//! What may stand on the command line.

mod verify;

use std::path::PathBuf;

use clap::{ArgGroup, Args, Parser, Subcommand, ValueEnum, value_parser};
use dipward_field::Kp;
use dipward_geodesy::Hemisphere;

pub(crate) use self::verify::Verify;
use crate::{
    case_range::CaseRange,
    moment::{Moment, Step},
    place::Place,
};

pub(crate) const CAUTION: &str = "A planning aid, not a navigation system: the master, the ice navigator, official charts, ice \
services, the Polar Code and local rules decide.";

const EXIT_STATUS: &str = "Exit status: 0 done; 2 the request or the scenario is wrong; 3 no feasible \
approach; 1 anything else.";

/// Plans and ranks approaches to a dip pole, the point where the Earth's field is vertical.
#[derive(Debug, Parser)]
#[command(name = "dipward", version, after_help = EXIT_STATUS, after_long_help = format!("{CAUTION}\n\n{EXIT_STATUS}"))]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
    #[command(flatten)]
    pub(crate) general: General,
}

/// Options of every command.
#[derive(Debug, Clone, Args)]
pub(crate) struct General {
    /// Print results and errors alone
    #[arg(long, short, global = true, conflicts_with = "verbose")]
    pub(crate) quiet: bool,
    /// Print stages and timings on standard error
    #[arg(long, short, global = true)]
    pub(crate) verbose: bool,
    /// Threads to compute on [default: one a core]; the results do not depend on it
    #[arg(long, global = true, value_name = "N", value_parser = value_parser!(u16).range(1..=1024))]
    pub(crate) threads: Option<u16>,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Plan a scenario and rank its approaches
    Plan(Plan),
    /// Plan again from the middle of a voyage
    Replan(Replan),
    /// Evaluate a study of seasons: years, departure days, ports, craft and policies
    Seasons(Seasons),
    /// Join the parts of a study that was evaluated in slices
    Merge(Merge),
    /// Tell every fault of a scenario, each at its line
    Check(Check),
    /// Draw every quantity of the chart at a time, or tell one cell
    Chart(Chart),
    /// Tell where a dip pole is, how it drifts and how well that is known
    Pole(Pole),
    /// Compute the main field at the points of a CSV file
    Field(Field),
    /// Tell when the pole is likely to keep still
    Windows(Windows),
    /// Hold the disturbance against recorded hours of an observatory
    Verify(Verify),
    /// Find the pole by readings of the field
    Fix(Fix),
    /// Fit a ship's compass deviation to a swing
    Swing(Swing),
    /// Tell what readings prove, and write it down
    Evidence(Evidence),
    /// List the kinds that a scenario may name
    Kinds(Kinds),
    /// Print the JSON Schema (draft 2020-12) of a scenario or of a study
    Schema(Schema),
}

/// Print the JSON Schema (draft 2020-12) of a scenario or of a study.
#[derive(Debug, Args)]
pub(crate) struct Schema {
    /// The schema of a study of seasons in place of a scenario's
    #[arg(long)]
    pub(crate) study: bool,
}

/// Plan a scenario and rank its approaches.
///
/// The ranking goes to standard output; the files that the scenario asks for go to the output folder,
/// all of them or none.
#[derive(Debug, Args)]
pub(crate) struct Plan {
    /// The scenario, a YAML file
    pub(crate) scenario: PathBuf,
    /// Folder for the files; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// Seed of all random draws, instead of the scenario's own
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u64>,
    /// Form of the ranking on standard output
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// Plan again from the middle of a voyage.
///
/// Tells whether the present plan is still feasible and still best, what changed and by how much, and
/// when to turn for home; ranks the approaches from here. The files of the new ranking go to the output
/// folder, with replan.json and the voyage's history.json.
///
/// The position, the time and the fuel come from the options, from a GPX track or from noon reports. Noon
/// reports are a CSV file with the columns time (UTC, RFC 3339), latitude_deg, longitude_deg and rob_t
/// (usable fuel remaining on board, t); other columns are for people. Between two reports, and after the
/// last two, the fuel is reckoned along a straight line.
#[derive(Debug, Args)]
pub(crate) struct Replan {
    /// The scenario as it is now, a YAML file: newer layers, a newer forecast
    pub(crate) scenario: PathBuf,
    /// The ranking that holds the present plan
    #[arg(long, value_name = "RANKING.JSON")]
    pub(crate) plan: PathBuf,
    /// The approach that is being sailed [default: the first of the ranking]
    #[arg(long, value_name = "ID")]
    pub(crate) approach: Option<String>,
    /// Where the craft is, degrees [default: by --track, else by --noon]
    #[arg(
        long,
        value_name = "LAT,LON",
        allow_hyphen_values = true,
        required_unless_present_any = ["track", "noon"]
    )]
    pub(crate) position: Option<Place>,
    /// When: a time in UTC (2027-01-15T00:00Z) [default: the end of the track or the last report]
    #[arg(long, value_name = "INSTANT", required_unless_present_any = ["track", "noon"])]
    pub(crate) at: Option<Moment>,
    /// Usable fuel aboard, t [default: by --noon]
    #[arg(
        long,
        value_name = "TONNES",
        allow_negative_numbers = true,
        required_unless_present = "noon"
    )]
    pub(crate) fuel: Option<f64>,
    /// The track so far, a GPX file
    #[arg(long, value_name = "TRACK.GPX", conflicts_with = "position")]
    pub(crate) track: Option<PathBuf>,
    /// The noon reports so far, a CSV file
    #[arg(long, value_name = "REPORTS.CSV")]
    pub(crate) noon: Option<PathBuf>,
    /// Folder for the files; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// The scenario that the plan was made of, to tell the causes of a change apart
    #[arg(long, value_name = "OLD.YAML")]
    pub(crate) scenario_then: Option<PathBuf>,
    /// Seed of all random draws, instead of the scenarios' own
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u64>,
    /// Form of the answers on standard output
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// Evaluate a study of seasons.
///
/// Each case is a year, craft, port, day of departure and policy. Cases that are whole in the output
/// folder are not evaluated again, and a run that was killed is taken up where it was. Without --cases
/// the parts are joined at the end, as `dipward merge` does.
#[derive(Debug, Args)]
pub(crate) struct Seasons {
    /// The study, a YAML file
    pub(crate) study: PathBuf,
    /// Folder for the files; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// A slice of the cases, counted from 0: 120..240 is cases 120 to 239; it becomes a part
    #[arg(long, value_name = "A..B")]
    pub(crate) cases: Option<CaseRange>,
    /// Tell the number of cases and evaluate none
    #[arg(long, conflicts_with = "cases")]
    pub(crate) count: bool,
}

/// Join the parts of a study.
///
/// Tells which cases are missing. The files are the same however the study was sliced.
#[derive(Debug, Args)]
pub(crate) struct Merge {
    /// The study, a YAML file
    pub(crate) study: PathBuf,
    /// The output folder that holds the parts; the files go there too
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct Check {
    /// The scenario, a YAML file
    pub(crate) scenario: PathBuf,
    /// Also lay the chart, which finds a port on land and layers that cannot be laid
    #[arg(long)]
    pub(crate) chart: bool,
}

/// Draw every quantity of the chart at a time, or tell one cell.
///
/// chart.html shows each quantity, which layer each cell has it from and how old that is. With a place,
/// all that the chart says of its cell goes to standard output.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("what").required(true).multiple(true).args(["out", "place"]))]
pub(crate) struct Chart {
    /// The scenario, a YAML file
    pub(crate) scenario: PathBuf,
    /// When, within the scenario's window: a time in UTC (2027-01-15T00:00Z)
    #[arg(long, value_name = "INSTANT")]
    pub(crate) at: Moment,
    /// Folder for chart.html; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Tell the cell that holds this place, degrees
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true)]
    pub(crate) place: Option<Place>,
    /// Form of the cell's account on standard output
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// Tell where a dip pole is, how it drifts and how well that is known.
///
/// An INSTANT is a time in UTC (2027-01-15T00:00Z), a day (2027-01-15) or a decimal year (2027.5).
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("when").required(true).args(["at", "from"]))]
pub(crate) struct Pole {
    /// Which pole
    #[arg(long, value_enum)]
    pub(crate) hemisphere: Side,
    /// The instant
    #[arg(long, value_name = "INSTANT", conflicts_with_all = ["to", "step"])]
    pub(crate) at: Option<Moment>,
    /// First instant of a table
    #[arg(long, value_name = "INSTANT", requires_all = ["to", "step"])]
    pub(crate) from: Option<Moment>,
    /// Last instant of a table
    #[arg(long, value_name = "INSTANT", requires = "from")]
    pub(crate) to: Option<Moment>,
    /// Step of a table: 6h, 30d, 1mo, 1y
    #[arg(long, value_name = "STEP", requires = "from")]
    pub(crate) step: Option<Step>,
    #[command(flatten)]
    pub(crate) model: Model,
    /// Height above the ellipsoid at which the field is to be vertical, km
    #[arg(long, value_name = "KM", default_value_t = 0.0, allow_negative_numbers = true)]
    pub(crate) height_km: f64,
    /// Kp that the disturbance is told for, 0 to 9 [default: the median of the season]
    #[arg(long, value_name = "KP", allow_negative_numbers = true, value_parser = kp)]
    pub(crate) kp: Option<Kp>,
    /// One sigma of each component of the disturbance instead of that of a Kp, nT
    #[arg(long, value_name = "NT", conflicts_with = "kp", allow_negative_numbers = true, value_parser = not_negative)]
    pub(crate) disturbance_nt: Option<f64>,
    /// Form of the output
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// Compute the main field at the points of a CSV file.
///
/// Columns: latitude_deg, longitude_deg, height_km (0 where it is missing) and either time (UTC,
/// RFC 3339) or decimal_year. All columns are kept; x_nt, y_nt, z_nt, h_nt, f_nt, inclination_deg and
/// declination_deg are added.
#[derive(Debug, Args)]
pub(crate) struct Field {
    /// The points; `-` is standard input
    #[arg(long, value_name = "FILE")]
    pub(crate) points: PathBuf,
    #[command(flatten)]
    pub(crate) model: Model,
    /// File to write instead of standard output
    #[arg(long, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
}

/// Tell when the pole is likely to keep still.
///
/// For each hour of the scenario's window, the chance that from then on the instantaneous pole stays
/// within a distance of its mean for hours on end, and the best of these stays.
#[derive(Debug, Args)]
pub(crate) struct Windows {
    /// The scenario, a YAML file
    pub(crate) scenario: PathBuf,
    /// Distance from the mean pole, km [default: the scenario's station.within_km]
    #[arg(long, value_name = "KM")]
    pub(crate) within_km: Option<f64>,
    /// Hours on end [default: the scenario's station.for_h]
    #[arg(long, value_name = "HOURS")]
    pub(crate) for_h: Option<f64>,
    /// How many of the best stays to tell
    #[arg(long, value_name = "N", default_value_t = 10)]
    pub(crate) best: usize,
    /// Folder for windows.json and the picture windows.svg; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub(crate) out: Option<PathBuf>,
    /// Seed of all random draws, instead of the scenario's own
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u64>,
    /// Form of the output
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// Find the pole by readings of the field.
///
/// Columns of the CSV file: time (UTC, RFC 3339), latitude_deg, longitude_deg; at least one of
/// declination_deg, inclination_deg, h_nt, f_nt, x_nt, y_nt, z_nt, each with its one sigma in a column
/// such as declination_sigma_deg or h_sigma_nt; if wanted height_km, position_sigma_km, kp,
/// base_x_nt, base_y_nt, base_z_nt (a base station's simultaneous reading less its quiet mean),
/// instrument, calibration. Cells may be empty. Bearing and dip alone will do. Where the ship's own compass
/// gave a declination, the column heading_deg holds the heading by compass, and --deviation takes the ship's
/// field out.
#[derive(Debug, Args)]
pub(crate) struct Fix {
    /// The readings, a CSV file
    pub(crate) readings: PathBuf,
    /// Which pole [default: that of the readings' latitudes]
    #[arg(long, value_enum)]
    pub(crate) hemisphere: Option<Side>,
    #[command(flatten)]
    pub(crate) model: Model,
    #[command(flatten)]
    pub(crate) belief: Belief,
    /// How far away the next reading may be, km
    #[arg(long, value_name = "KM", default_value_t = 30.0)]
    pub(crate) reach_km: f64,
    /// Form of the output
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// What is believed before the readings, and what the ship does to them.
#[derive(Debug, Clone, Args)]
pub(crate) struct Belief {
    /// Root-mean-square distance of the mean pole from the model's before any reading, km [default: by
    /// the model's own doubt]
    #[arg(long, value_name = "KM", allow_negative_numbers = true, value_parser = not_negative)]
    pub(crate) prior_sigma_km: Option<f64>,
    /// One sigma of each component of the currents' field where no base station was read, nT [default:
    /// by the reading's kp, else the usual one of the season]
    #[arg(long, value_name = "NT", allow_negative_numbers = true, value_parser = not_negative)]
    pub(crate) disturbance_nt: Option<f64>,
    /// The ship's deviation, as `dipward swing --format json` tells it
    #[arg(long, value_name = "FILE")]
    pub(crate) deviation: Option<PathBuf>,
}

/// Fit a ship's compass deviation to a swing.
///
/// Columns of the CSV file: heading_deg (by compass) and deviation_deg (magnetic less compass bearing, east
/// positive), five headings or more. Tells the coefficients A to E, the deviation on every heading where she
/// was swung and at another H, and the H below which it means nothing. The JSON is what `dipward fix
/// --deviation` reads.
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("field").required(true).args(["h_nt", "position"]))]
pub(crate) struct Swing {
    /// The swing, a CSV file
    pub(crate) swing: PathBuf,
    /// H where she was swung, nT
    #[arg(long, value_name = "NT", allow_negative_numbers = true, value_parser = not_negative)]
    pub(crate) h_nt: Option<f64>,
    /// Where she was swung, degrees: H is the model's there
    #[arg(long, value_name = "LAT,LON", allow_hyphen_values = true, requires = "at")]
    pub(crate) position: Option<Place>,
    /// When she was swung
    #[arg(long, value_name = "INSTANT", requires = "position")]
    pub(crate) at: Option<Moment>,
    #[command(flatten)]
    pub(crate) model: Model,
    /// Another H to tell the deviation for, nT [default: that of the swing]
    #[arg(long, value_name = "NT", allow_negative_numbers = true, value_parser = not_negative)]
    pub(crate) for_h_nt: Option<f64>,
    /// Form of the output
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// Tell what readings prove, and write it down.
///
/// Three claims that are never mixed: mean pole within the stated distance, instantaneous pole within
/// its 95 % ellipse, crossing observed. The readings are those of `dipward fix`; evidence.json and
/// evidence.html go to the output folder.
#[derive(Debug, Args)]
pub(crate) struct Evidence {
    /// The readings, a CSV file
    pub(crate) readings: PathBuf,
    /// Folder for the files; made if it is not there
    #[arg(long, value_name = "DIR")]
    pub(crate) out: PathBuf,
    /// The stated distance from the mean pole, km
    #[arg(long, value_name = "KM", default_value_t = 5.0)]
    pub(crate) within_km: f64,
    /// Which pole [default: that of the readings' latitudes]
    #[arg(long, value_enum)]
    pub(crate) hemisphere: Option<Side>,
    #[command(flatten)]
    pub(crate) model: Model,
    #[command(flatten)]
    pub(crate) belief: Belief,
    /// Form of the claims on standard output
    #[arg(long, value_enum, default_value_t)]
    pub(crate) format: Format,
}

/// Which main field, and how far it may be carried.
#[derive(Debug, Clone, Args)]
pub(crate) struct Model {
    /// igrf14, wmm2025, another registered kind, or a file (.shc or .COF)
    #[arg(long, value_name = "MODEL", default_value = "igrf14")]
    pub(crate) model: String,
    /// Carry the model beyond its years in straight lines
    #[arg(long)]
    pub(crate) extrapolate: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Kinds {
    /// Form of the list
    #[arg(long, value_enum, default_value_t, conflicts_with = "markdown")]
    pub(crate) format: Format,
    /// Print the reference page, with every key of every kind
    #[arg(long)]
    pub(crate) markdown: bool,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// Text for people
    #[default]
    Table,
    /// JSON for programs
    Json,
}

fn kp(text: &str) -> Result<Kp, String> {
    let number = text.parse().ok().filter(|kp: &f64| (0.0..=9.0).contains(kp));
    number.map(Kp::nearest).ok_or_else(|| "Kp goes from 0 to 9, 5- being 4.67".to_owned())
}

fn not_negative(text: &str) -> Result<f64, String> {
    let number = text.parse().ok().filter(|number: &f64| (0.0..=100_000.0).contains(number));
    number.ok_or_else(|| "give a number from 0 to 100000".to_owned())
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum Side {
    North,
    South,
}

impl From<Side> for Hemisphere {
    fn from(side: Side) -> Self {
        match side {
            Side::North => Self::North,
            Side::South => Self::South,
        }
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_command_line_is_well_formed() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn a_table_of_poles_needs_both_ends_and_a_step() {
        let parse = |rest: &str| {
            Arguments::try_parse_from(format!("dipward pole --hemisphere south {rest}").split(' '))
        };
        assert!(parse("--at 2027.5").is_ok());
        assert!(parse("--from 2027-01-01 --to 2028 --step 30d").is_ok());
        for wrong in [
            "--from 2027",
            "--to 2027 --step 1d",
            "--at 2027 --from 2027 --to 2028 --step 1y",
            "--at 2027 --step 1y",
            "--at soon",
            "--at nan",
            "--from 2027 --to 2028 --step -1d",
            "--from 2027 --to 2028 --step 0h",
            "--quiet",
        ] {
            assert!(parse(wrong).is_err(), "{wrong}");
        }
    }
}
