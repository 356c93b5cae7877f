//! The centred dipole's axes, which give the magnetic longitude, the magnetic local time and the
//! tilt toward the Sun.

use crate::amps::{
    far_field::FarField,
    vector::{Vector, cross, dot, norm, scaled},
};

/// The axes of centred-dipole coordinates, in the Earth-fixed frame: K. M. Laundal and
/// A. D. Richmond, Space Science Reviews 206, 27 (2017), section 3.1.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Dipole {
    /// In the meridian of the dipole's northern pole, toward the equator.
    x: Vector,
    y: Vector,
    /// Toward the dipole's northern (geomagnetic) pole.
    z: Vector,
}

impl Dipole {
    pub(crate) fn of(field: &FarField) -> Self {
        let moment = field.dipole_nt();
        let z = scaled(moment, -1.0 / norm(moment));
        let y = cross([0.0, 0.0, 1.0], z);
        // An axial dipole leaves its zero meridian open: Greenwich.
        let y = if norm(y) > 0.0 { scaled(y, 1.0 / norm(y)) } else { [0.0, 1.0, 0.0] };
        Self { x: cross(y, z), y, z }
    }

    /// The longitude of a direction, degrees.
    pub(crate) fn longitude_deg(&self, direction: Vector) -> f64 {
        dot(self.y, direction).atan2(dot(self.x, direction)).to_degrees()
    }

    /// How far the northern end leans toward the Sun, degrees.
    pub(crate) fn tilt_deg(&self, sun: Vector) -> f64 {
        dot(self.z, sun).clamp(-1.0, 1.0).asin().to_degrees()
    }

    /// Magnetic local time of a quasi-dipole longitude, hours in 0..24: noon is where the dipole
    /// longitude is the subsolar point's (Laundal and Richmond 2017, section 4.3).
    pub(crate) fn local_time_h(&self, magnetic_longitude_deg: f64, sun: Vector) -> f64 {
        let from_noon = magnetic_longitude_deg - self.longitude_deg(sun);
        ((from_noon + 180.0) / 15.0).rem_euclid(24.0)
    }
}
