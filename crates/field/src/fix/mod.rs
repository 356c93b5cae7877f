//! Where the pole is, by readings of the field.
//!
//! What is sought is not the pole itself but the field that the model leaves out, since all that is
//! measured is straight in it:
//!
//! ```text
//!   field at r and t = model(r, t) + b + G (r - r0) + d(t)
//! ```
//!
//! * b, a constant vector: crust about the pole and the model's forecast gone wrong;
//! * G, symmetric, as the horizontal field of a source inside is free of curl: the same growing away
//!   from r0, the model's pole. With it the Jacobian is the model's where readings say nothing of it,
//!   and the readings' own where they do;
//! * d(t), what the currents overhead add at each reading, known but for a little where a base
//!   station was read at the same time.
//!
//! The mean pole is where model + b + G (r - r0) is vertical, the instantaneous one where d is added.

mod belief;
mod bias;
mod cholesky;
mod climb;
mod draws;
mod estimate;
mod linear;
mod next_reading;
mod observation;
#[cfg(test)]
mod planted_truth;
mod pole_fix;
mod poles;
mod reading;
mod settings;
mod ship;
mod tail;
mod vgp;

pub(crate) use self::cholesky::Cholesky;
pub use self::{
    estimate::fix_pole,
    linear::straight_fix,
    next_reading::NextReading,
    pole_fix::{JacobianSource, PoleEstimate, PoleFix, Residual},
    reading::{Element, Measured, Reading, read_readings},
    settings::FixSettings,
    ship::{BearingCorrection, correct_bearings},
    vgp::virtual_geomagnetic_pole,
};
