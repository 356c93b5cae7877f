//! The readings that `fix` and `evidence` are given.

use std::{fs::File, io::Read, path::Path};

use dipward_field::{Reading, read_readings};
use dipward_geodesy::Hemisphere;

use crate::{arguments::Side, exit::Failure};

/// A larger file holds more readings than a fix takes.
const MAX_BYTES: u64 = 4 << 20;

/// Reads a file of readings; tells the hemisphere that they were made in unless one is given.
pub(crate) fn readings(
    path: &Path,
    side: Option<Side>,
) -> Result<(Vec<Reading>, Hemisphere), Failure> {
    let shown = path.display();
    let refused = |message: String| Failure::request(format_args!("{shown}: {message}"));
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(MAX_BYTES + 1).read_to_end(&mut bytes))
        .map_err(|error| refused(error.to_string()))?;
    if bytes.len() as u64 > MAX_BYTES {
        return Err(refused(format!("larger than {} MiB", MAX_BYTES >> 20)));
    }
    let readings = read_readings(&bytes).map_err(|error| refused(error.to_string()))?;
    let northward: f64 = readings.iter().map(|reading| reading.position.y().signum()).sum();
    let hemisphere = match side {
        Some(side) => side.into(),
        None if northward >= 0.0 => Hemisphere::North,
        None => Hemisphere::South,
    };
    Ok((readings, hemisphere))
}
