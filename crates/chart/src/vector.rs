//! Areas given by their outlines: reading them, putting them on the grid's map, finding their cells.

mod csv_table;
mod feature;
mod geojson;
mod geopackage;
mod meridian;
mod plane;
mod raster;
mod shapefile;
mod sqlite;
mod sqlite_log;
mod tracks;
mod wkb;

pub(crate) use feature::{AreaFeature, AreaFile, read_area_file};
pub(crate) use plane::PlanePolygon;
pub(crate) use raster::{add_area_fraction, cells_by_centre, cells_touched, merged};

pub(crate) use tracks::{Track, read_tracks};

/// A ring of a polygon: x and y (longitude and latitude in degrees, or metres), closed.
pub(crate) type Ring = Vec<[f64; 2]>;

/// A polygon on the map of its file, filled by the even-odd rule: outer rings and holes.
///
/// Its edges are straight on that map, as a service draws them (RFC 7946, 3.1.1, for longitude and
/// latitude), not geodesics.
pub(crate) type FilePolygon = Vec<Ring>;
