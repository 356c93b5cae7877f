//! The currents' field above the currents, where satellites measured it.
//!
//! The toroidal part, of the field-aligned currents, is a function T of modified-apex latitude and
//! magnetic local time, constant along field lines; the poloidal part is the gradient of a potential
//! V in quasi-dipole coordinates (Laundal et al. 2018, section 2, after Richmond 1995):
//!
//! ```text
//!   B = up x (R + h_R) grad T - grad V
//! ```
//!
//! The dip pole does not feel it. It holds both halves of the coefficients and the coordinates at
//! heights to what the model's authors compute.

use dipward_plugin::Error;
use jiff::Timestamp;

use crate::{
    ReadError,
    amps::{
        MagneticPlace,
        coefficients::{Coefficients, Harmonic, TERMS},
        drivers::Drivers,
        legendre::Legendre,
    },
    synthesis::REFERENCE_RADIUS_KM,
};

/// Reference height of modified-apex coordinates, which is also that of the currents.
const REFERENCE_HEIGHT_KM: f64 = 110.0;

/// The model's field above the currents.
#[derive(Debug, Clone)]
pub struct SpaceField {
    coefficients: Coefficients,
}

/// A function on the sphere and its derivatives.
#[derive(Debug, Clone, Copy, Default)]
struct Sums {
    /// By longitude, over the cosine of latitude.
    east: f64,
    /// By latitude.
    north: f64,
    /// Times degree plus one.
    up: f64,
}

impl SpaceField {
    /// The model that the library carries, version 1.7; source as [`crate::amps::GroundField`].
    ///
    /// # Errors
    ///
    /// None in practice, since the file is part of the library; what the reader says of it.
    pub fn embedded() -> Result<Self, ReadError> {
        Ok(Self { coefficients: Coefficients::embedded()? })
    }

    /// The field toward geodetic north, east and up, nT.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for a place at or below the currents, 110 km.
    pub fn north_east_up_nt(
        &self,
        place: &MagneticPlace,
        instant: Timestamp,
        drivers: &Drivers,
    ) -> Result<[f64; 3], Error> {
        let height_km = place.site_height_km();
        let below = || {
            let above = REFERENCE_HEIGHT_KM;
            Error::Outside(format!("this field is that above {above} km, not at {height_km} km"))
        };
        let apex_latitude_deg = place
            .modified_apex_latitude_deg(REFERENCE_HEIGHT_KM)
            .filter(|_| height_km > REFERENCE_HEIGHT_KM)
            .ok_or_else(below)?;
        let terms = drivers.terms(place.dipole_tilt_deg(instant));
        let mlt = (15.0 * place.local_time_h(instant)).to_radians();
        let latitude_deg = place.quasi_dipole_latitude_deg();
        let ratio = REFERENCE_RADIUS_KM / (REFERENCE_RADIUS_KM + height_km);
        let Coefficients { toroidal, poloidal } = &self.coefficients;
        let t = sums(toroidal, &terms, apex_latitude_deg, mlt, |_| 1.0);
        let v = sums(poloidal, &terms, latitude_deg, mlt, |n| ratio.powf(n + 2.0));

        // From quasi-dipole to modified-apex: the longitude is the same, and at one height
        // cos^2 lat_ma = cos^2 lat_qd (R + h_R) / (R + h).
        let (apex_latitude, latitude) = (apex_latitude_deg.to_radians(), latitude_deg.to_radians());
        let raised = (apex_latitude.cos() / latitude.cos()).powi(2);
        let by_longitude = raised * t.east * (apex_latitude.cos() / latitude.cos());
        let by_latitude =
            raised * raised * t.north * ((2.0 * latitude).sin() / (2.0 * apex_latitude).sin());

        let [[f1_east, f1_north], [f2_east, f2_north]] = place.quasi_dipole_base();
        // The gradient of a function with these derivatives, [north, east].
        let gradient = |by_longitude: f64, by_latitude: f64| {
            [
                f1_east * by_latitude - f2_east * by_longitude,
                f2_north * by_longitude - f1_north * by_latitude,
            ]
        };
        let [t_north, t_east] = gradient(by_longitude, by_latitude);
        let [v_north, v_east] = gradient(v.east, v.north);
        let stretch = (f1_east * f2_north - f1_north * f2_east).max(0.0).sqrt();
        Ok([t_east - v_north, -t_north - v_east, stretch * v.up])
    }
}

/// Sums the harmonics, each times a weight of its degree.
fn sums(
    harmonics: &[Harmonic],
    terms: &[f64; TERMS],
    latitude_deg: f64,
    mlt: f64,
    weight: impl Fn(f64) -> f64,
) -> Sums {
    let degree = harmonics.iter().map(|harmonic| harmonic.degree).max().unwrap_or(0);
    let legendre = Legendre::at((90.0 - latitude_deg).to_radians(), degree);
    let mut sums = Sums::default();
    for Harmonic { degree, order, cosine, sine } in harmonics {
        let put_in = |values: &[f64; TERMS]| -> f64 {
            values.iter().zip(terms).map(|(value, term)| value * term).sum()
        };
        let (c, s) = (put_in(cosine), put_in(sine));
        let (n, m) = (*degree as f64, *order as f64);
        let (sin_m, cos_m) = (m * mlt).sin_cos();
        let (along, across) = (c * cos_m + s * sin_m, s * cos_m - c * sin_m);
        let weight = weight(n);
        sums.east += weight * m * legendre.by_sine(*degree, *order) * across;
        sums.north -= weight * legendre.slope(*degree, *order) * along;
        sums.up += weight * (n + 1.0) * legendre.value(*degree, *order) * along;
    }
    sums
}
