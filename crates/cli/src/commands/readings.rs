//! The readings that `fix` and `evidence` are given, and what is believed besides.

use std::{fs::File, io::Read, path::Path};

use dipward_field::{
    BearingCorrection, FixSettings, Reading, ShipDeviation, correct_bearings, read_readings,
};
use dipward_geodesy::Hemisphere;
use dipward_plugin::MainField;

use crate::{
    arguments::{Belief, Side},
    exit::Failure,
    run::Session,
};

/// A larger file holds more readings than a fix takes.
const MAX_BYTES: u64 = 4 << 20;

/// Reads a file of readings; tells the hemisphere that they were made in unless one is given.
pub(crate) fn readings(
    path: &Path,
    side: Option<Side>,
) -> Result<(Vec<Reading>, Hemisphere), Failure> {
    let bytes = file(path)?;
    let readings = read_readings(&bytes).map_err(|error| refused(path, &error))?;
    let northward: f64 = readings.iter().map(|reading| reading.position.y().signum()).sum();
    let hemisphere = match side {
        Some(side) => side.into(),
        None if northward >= 0.0 => Hemisphere::North,
        None => Hemisphere::South,
    };
    Ok((readings, hemisphere))
}

/// Reads a file of which a larger one would be a slip of the pen.
pub(crate) fn file(path: &Path) -> Result<Vec<u8>, Failure> {
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(MAX_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|error| refused(path, &error))?;
    if bytes.len() as u64 > MAX_BYTES {
        return Err(refused(path, &format_args!("larger than {} MiB", MAX_BYTES >> 20)));
    }
    Ok(bytes)
}

pub(crate) fn refused(path: &Path, what: &dyn std::fmt::Display) -> Failure {
    Failure::request(format_args!("{}: {what}", path.display()))
}

/// Takes the ship's deviation off the bearings, where one is given, and says what became of each on
/// standard error.
pub(crate) fn corrected(
    session: &Session<'_>,
    model: &dyn MainField,
    readings: Vec<Reading>,
    belief: &Belief,
) -> Result<(Vec<Reading>, Vec<BearingCorrection>), Failure> {
    let Some(path) = &belief.deviation else {
        if readings.iter().any(|reading| reading.heading_deg.is_some()) {
            session.console.note(
                "note: readings have headings, but without --deviation their bearings are taken as they are",
            );
        }
        return Ok((readings, Vec::new()));
    };
    let ship: ShipDeviation =
        serde_json::from_slice(&file(path)?).map_err(|error| refused(path, &error))?;
    let (readings, corrections) = correct_bearings(model, readings, &ship)?;
    for one in corrections.iter().filter(|one| one.deviation_deg.is_none()) {
        session.console.note(&format!(
            "note: reading {}: H is {:.0} nT, and below {:.0} nT the deviation means nothing: its bearing \
             is left out",
            one.reading + 1,
            one.horizontal_nt,
            ship.least_horizontal_nt()
        ));
    }
    if readings.is_empty() {
        return Err(Failure::request(
            "no reading is left without the bearings by the ship's compass",
        ));
    }
    Ok((readings, corrections))
}

/// What a fix takes for granted by the options.
pub(crate) fn settings(belief: &Belief) -> FixSettings {
    FixSettings {
        prior_sigma_km: belief.prior_sigma_km,
        disturbance_nt: belief.disturbance_nt,
        ..FixSettings::default()
    }
}
