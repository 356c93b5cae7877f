//! The average currents of the polar ionosphere and what they do to the dip pole.
//!
//! The AMPS model (Average Magnetic field and Polar current System) gives the currents above both
//! polar caps as spherical harmonics in coordinates that follow the main field's lines, fixed to the
//! Sun, and linear in nineteen functions of the solar wind, the interplanetary magnetic field, the
//! dipole's tilt toward the Sun and F10.7. As the Earth turns below them, their field carries the dip
//! pole around in an oval once a day.
//!
//! ```text
//!   main field -> field lines -> MagneticPlace: quasi-dipole latitude, longitude, base vectors
//!   instant    -> Sun         -> magnetic local time, tilt
//!   place, time               -> Response, the field as a linear function of the drivers
//!   drivers (stated, table, from Kp) x Response x induced + learnt scatter -> ExternalField
//! ```
//!
//! # Source
//!
//! K. M. Laundal, C. C. Finlay, N. Olsen, J. P. Reistad, Solar wind and seasonal influence on
//! ionospheric currents from Swarm and CHAMP measurements, J. Geophys. Res. Space Physics 123, 4402
//! (2018), doi 10.1029/2018JA025387. Coefficients, version 1.7 (2026), from the authors' package
//! pyamps 1.8, MIT licence, copyright 2017 Karl M. Laundal; see `data/amps_LICENSE.txt`. The code is
//! our own.

mod coefficients;
mod dipole;
mod drivers;
pub(crate) mod far_field;
pub(crate) mod field_line;
mod from_kp;
mod ground;
mod legendre;
mod magnetic_place;
mod responses;
#[cfg(test)]
mod sheet_oracle;
mod space;
mod spec;
mod sun;
pub(crate) mod vector;

pub use drivers::Drivers;
pub use from_kp::FromKp;
pub use ground::GroundField;
pub use magnetic_place::MagneticPlace;
pub use space::SpaceField;
pub use spec::{AmpsResponseSpec, DriversSource, WindAt, WindState};
pub(crate) use sun::direction as sun_direction;
