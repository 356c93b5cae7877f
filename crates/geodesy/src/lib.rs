//! Positions, geodesics, courses and the polar stereographic grid on WGS84.
//!
//! A position is a [`geo::Point`] of longitude and latitude in degrees, in that order, on WGS84; the
//! alias [`Position`] and the function [`position`] keep the two from being swapped. A place on a
//! projection is a [`geo::Coord`] in metres.
//!
//! * [`geodesic`]: shortest lines, their lengths and courses, by Karney's method.
//! * [`rhumb`]: lines of constant course, and geodesics cut into them.
//! * [`projection`]: the ellipsoidal polar stereographic projection, both ways, with its scale and
//!   convergence.
//! * [`grid`]: square cells over that projection, with true lengths and true courses between them.
//!
//! ```
//! use dipward_geodesy::{Ellipsoid, Grid, Hemisphere, PolarStereographic, geodesic, position};
//!
//! # fn main() -> Result<(), dipward_geodesy::Error> {
//! let hobart = position(-42.88, 147.33);
//! let dip_pole = position(-63.8, 135.0);
//! let polar = PolarStereographic::variant_b(Hemisphere::South, -71.0, 0.0, Ellipsoid::WGS84)?;
//! let grid = Grid::covering(polar, &[hobart, dip_pole], 10.0, 100.0)?;
//!
//! assert!(grid.cell_at(hobart).is_some());
//! assert!(grid.cell_at(dip_pole).is_some());
//! assert!((geodesic::distance_km(hobart, dip_pole) - 2458.587).abs() < 1e-3);
//! # Ok(())
//! # }
//! ```

mod angle;
mod conformal;
mod ellipsoid;
mod error;
pub mod geodesic;
pub mod grid;
mod position;
pub mod projection;
pub mod rhumb;

pub use angle::{normalise_course_deg, normalise_longitude_deg};
pub use ellipsoid::Ellipsoid;
pub use error::Error;
pub use geodesic::{
    Arrival, Geodesic, KM_PER_NAUTICAL_MILE, direct, distance_km, interpolate, inverse,
    points_along,
};
pub use grid::{Cell, Grid};
pub use position::{Position, position};
pub use projection::{Hemisphere, PolarStereographic};
