//! Areas given by their outlines: reading them, putting them on the grid's map, finding their cells.

mod geojson;
mod plane;
mod raster;

pub(crate) use geojson::{AreaFeature, read_areas};
pub(crate) use plane::PlanePolygon;
pub(crate) use raster::{add_area_fraction, cells_by_centre, cells_touched, merged};

/// A ring of a polygon: longitude and latitude in degrees, closed.
pub(crate) type Ring = Vec<[f64; 2]>;

/// A polygon in longitude and latitude: the outer ring, then its holes.
///
/// Its edges are straight in longitude and latitude (RFC 7946, 3.1.1), as a service draws them, not
/// geodesics.
pub(crate) type LonLatPolygon = Vec<Ring>;
