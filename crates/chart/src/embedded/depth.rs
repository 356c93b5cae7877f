//! Depths, heights of rock and ice, and how far the depths can be trusted.
//!
//! Two compilations are carried. [`elevation_m`] answers from ETOPO1, sampled at a tenth of a degree;
//! [`surface_height_m`] from ETOPO5, at a twelfth. Both are mostly interpolation between few soundings
//! where ice keeps survey ships away, and they disagree there by far more than either's resolution:
//! off the coast of Adélie Land at 65 S 136 E ETOPO1 has 319 m of water and ETOPO5 672 m, at 66 S 51
//! and 302 m. [`doubt`] is that disagreement. An under-keel clearance wants the depth divided by it, or
//! a refusal where it is large.

use std::sync::OnceLock;

use dipward_geodesy::{Hemisphere, Position};
use dipward_plugin::{Error, Provenance};

use super::packed::Packed;
use super::row_grid::RowGrid;
use super::row_grid_file::row_grid;

/// A grid of both hemispheres, decoded where and when it is first asked for.
struct Pair {
    north: (Packed, OnceLock<Result<RowGrid, Error>>),
    south: (Packed, OnceLock<Result<RowGrid, Error>>),
}

macro_rules! pair {
    ($north:literal, $south:literal) => {
        Pair {
            north: (packed!($north), OnceLock::new()),
            south: (packed!($south), OnceLock::new()),
        }
    };
}

macro_rules! packed {
    ($name:literal) => {
        Packed { name: $name, bytes: include_bytes!(concat!("../../data/", $name)) }
    };
}

static ELEVATION: Pair = pair!("elevation_north.bin", "elevation_south.bin");
static DOUBT: Pair = pair!("depth_doubt_north.bin", "depth_doubt_south.bin");
static SURFACE: Pair = pair!("ice_surface_north.bin", "ice_surface_south.bin");

/// Stands in the grid of doubts where neither compilation has water.
const BOTH_DRY: i16 = 255;

impl Pair {
    /// The grid of the hemisphere that a position is on.
    fn about(&self, position: Position) -> Result<&RowGrid, Error> {
        let (hemisphere, (file, once)) = if position.y() > 0.0 {
            (Hemisphere::North, &self.north)
        } else {
            (Hemisphere::South, &self.south)
        };
        once.get_or_init(|| row_grid(file, hemisphere)).as_ref().map_err(Clone::clone)
    }

    fn fill(
        &self,
        positions: &[Position],
        out: &mut [f32],
        value: impl Fn(&RowGrid, Position) -> Option<f32>,
    ) -> Result<(), Error> {
        if positions.len() != out.len() {
            return Err(Error::Outside(format!(
                "{} positions do not fill {} values",
                positions.len(),
                out.len()
            )));
        }
        for (out, position) in out.iter_mut().zip(positions) {
            *out = value(self.about(*position)?, *position).unwrap_or(f32::NAN);
        }
        Ok(())
    }
}

/// Height of the rock or of the sea floor above the sea's surface in metres, negative under water.
///
/// # Arguments
///
/// * `position`: any position; longitudes may be counted any way round.
///
/// # Returns
///
/// Bilinear between nodes a tenth of a degree apart in latitude and 2.8 to 5.6 km apart in longitude
/// (up to 8.5 km equatorward of 60 degrees), or nothing nearer the equator than 40 degrees. Where ice
/// lies on the rock, it is the rock's height, below the sea's surface under much of Antarctica: ask
/// [`coast`](super::coast) what is land.
///
/// The numbers follow their source within 1 m in depths to 300 m, 2 m to 1000 m and 5 m beyond, for
/// half of all places; what the source makes of a steep bank between its nodes is another matter.
///
/// # Errors
///
/// [`Error::File`] when the embedded file is damaged.
///
/// # Source
///
/// ETOPO1, bedrock: Amante and Eakins 2009, NOAA NESDIS NGDC-24, doi 10.7289/V5C8276M.
///
/// # Example
///
/// ```
/// use dipward_chart::embedded::depth;
/// use dipward_geodesy::position;
///
/// # fn main() -> Result<(), dipward_plugin::Error> {
/// let off_adelie_land = position(-65.0, 136.0);
/// assert_eq!(depth::elevation_m(off_adelie_land)?, Some(-320.0));
/// assert!(depth::doubt(off_adelie_land)? > Some(2.0));
/// # Ok(())
/// # }
/// ```
pub fn elevation_m(position: Position) -> Result<Option<f32>, Error> {
    Ok(ELEVATION.about(position)?.bilinear(position))
}

/// [`elevation_m`] of many positions, NaN where there is none.
///
/// # Errors
///
/// As [`elevation_m`], and [`Error::Outside`] when the slices differ in length.
pub fn fill_elevations_m(positions: &[Position], out: &mut [f32]) -> Result<(), Error> {
    ELEVATION.fill(positions, out, RowGrid::bilinear)
}

/// How far two compilations disagree about the depth: the larger depth over the smaller, at least 1.
///
/// # Arguments
///
/// * `position`: any position; longitudes may be counted any way round.
///
/// # Returns
///
/// For the cell of half a degree about the nearest node, the ratio that nine in ten of its places
/// do not exceed, rounded up to a sixteenth of an octave. Water shallower than 5 m, and dry land,
/// counts as 5 m deep. Nothing where neither compilation has water, and nearer the equator than 40
/// degrees. Under ice shelves and ice sheets the ratio is large and means little, since ETOPO5 has
/// the ice's surface there.
///
/// Agreement is no proof: both may rest on the same soundings, or on none.
///
/// # Errors
///
/// [`Error::File`] when the embedded file is damaged.
///
/// # Source
///
/// ETOPO1 (see [`elevation_m`]) and ETOPO5 (see [`surface_height_m`]).
pub fn doubt(position: Position) -> Result<Option<f32>, Error> {
    Ok(ratio(DOUBT.about(position)?, position))
}

/// [`doubt`] of many positions, NaN where there is none.
///
/// # Errors
///
/// As [`doubt`], and [`Error::Outside`] when the slices differ in length.
pub fn fill_doubts(positions: &[Position], out: &mut [f32]) -> Result<(), Error> {
    DOUBT.fill(positions, out, ratio)
}

fn ratio(grid: &RowGrid, position: Position) -> Option<f32> {
    let sixteenths = grid.nearest(position)?;
    (sixteenths != BOTH_DRY).then(|| (f32::from(sixteenths) / 16.0).exp2())
}

/// Height of the surface that a vehicle would stand on above the sea's surface, in metres: ice sheet,
/// ice shelf, bare rock, or 0 at sea.
///
/// # Arguments
///
/// * `position`: any position; longitudes may be counted any way round.
///
/// # Returns
///
/// Bilinear between nodes a twelfth of a degree apart in latitude and 4.6 to 9.3 km apart in longitude,
/// or nothing equatorward of 60 S and 58 N. It follows its source within some 6 m for half of all
/// places and within 50 m for 95 in 100. The source is a compilation of the 1980s: inland it
/// is up to 250 m off what has been surveyed since (243 m at Dome A), and at the coast of Antarctica
/// it may be a cell or two out of place.
///
/// # Errors
///
/// [`Error::File`] when the embedded file is damaged.
///
/// # Source
///
/// ETOPO5: NOAA National Geophysical Data Center 1988, Data Announcement 88-MGG-02, doi
/// 10.7289/V5D798BF.
pub fn surface_height_m(position: Position) -> Result<Option<f32>, Error> {
    Ok(SURFACE.about(position)?.bilinear(position))
}

/// [`surface_height_m`] of many positions, NaN where there is none.
///
/// # Errors
///
/// As [`surface_height_m`], and [`Error::Outside`] when the slices differ in length.
pub fn fill_surface_heights_m(positions: &[Position], out: &mut [f32]) -> Result<(), Error> {
    SURFACE.fill(positions, out, RowGrid::bilinear)
}

/// Where depths and heights of rock come from.
#[must_use]
pub fn elevation_provenance() -> Provenance {
    Provenance {
        name: "ETOPO1 bedrock at 0.1 degree".into(),
        source: "NOAA, doi 10.7289/V5C8276M, by way of pybacktrack 1.5.0".into(),
        licence: Some("public domain (US)".into()),
    }
}

/// Where the heights of ice come from, and the depths that [`doubt`] compares with.
#[must_use]
pub fn surface_height_provenance() -> Provenance {
    Provenance {
        name: "ETOPO5 surface at 5 minutes".into(),
        source: "NOAA, doi 10.7289/V5D798BF, by way of ferret-datasets 7.6.0".into(),
        licence: Some("public domain (US)".into()),
    }
}
