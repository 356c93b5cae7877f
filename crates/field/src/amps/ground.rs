//! The currents' field on the ground.
//!
//! Above the currents the model's poloidal field is that of a potential with internal sources,
//!
//! ```text
//!   V = a sum (a/r)^(n+1) P_nm (cos lat) [c cos(m mlt) + s sin(m mlt)],   r >= a + h.
//! ```
//!
//! A sheet of current at the height h, whose radial field is the same just above and just below it
//! (div B = 0), continues it inward as a potential with external sources: each degree is multiplied
//! by -(n+1)/n (a/(a+h))^(2n+1) and grows as (r/a)^n (S. Chapman and J. Bartels, Geomagnetism, vol. 2,
//! Oxford 1940). At the ground r = a, with h = 110 km. The field-aligned and closing currents that
//! the toroidal part holds have no field below the ionosphere where the main field is vertical
//! (N. Fukushima 1976), as it is at a dip pole. Currents induced in the Earth are left out.
//!
//! The sphere is that of quasi-dipole latitude and magnetic local time, in which the ionosphere's
//! currents are arranged; the potential's gradient is taken along that sphere's own gradients, as the
//! model itself does above the currents (Laundal et al. 2018, section 2). The components are not laid
//! along the base vectors f1 and f2: at the northern dip pole those are far from a right angle, and
//! the field would be wrong by a fifth. `sheet_oracle.rs` sums up the sheet itself and finds the
//! gradients right to 4 % in the north and 7 % in the south, which is what coordinates that bend with
//! the height leave open in any such mapping.

use jiff::Timestamp;

use crate::{
    ReadError,
    amps::{
        coefficients::{Coefficients, MOST_ORDER, TERMS},
        drivers::{Drivers, FUNCTIONS},
        field_line::Stand,
        legendre::Legendre,
        magnetic_place::MagneticPlace,
        sun,
        vector::{Vector, dot},
    },
    synthesis::REFERENCE_RADIUS_KM,
};

/// Height of the current sheet above the ground, km: the reference height of the coefficients.
const SHEET_HEIGHT_KM: f64 = 110.0;

/// The model's ground field: what of the coefficients reaches the ground.
#[derive(Debug, Clone)]
pub struct GroundField {
    degree: usize,
    harmonics: Vec<Reaching>,
}

/// A poloidal harmonic at the ground, nT.
#[derive(Debug, Clone)]
struct Reaching {
    degree: usize,
    order: usize,
    cosine: [f64; TERMS],
    sine: [f64; TERMS],
}

/// The field at one place and time as a linear function of [`Drivers::functions`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Response {
    /// Toward east.
    pub(crate) east: [f64; FUNCTIONS],
    /// Toward north.
    pub(crate) north: [f64; FUNCTIONS],
}

impl GroundField {
    /// The model that the library carries, version 1.7.
    ///
    /// # Errors
    ///
    /// None in practice, since the file is part of the library; what the reader says of it.
    ///
    /// # Source
    ///
    /// K. M. Laundal et al., J. Geophys. Res. Space Physics 123, 4402 (2018),
    /// doi 10.1029/2018JA025387; coefficients of pyamps 1.8, MIT licence.
    pub fn embedded() -> Result<Self, ReadError> {
        Ok(Self::of(&Coefficients::embedded()?))
    }

    fn of(coefficients: &Coefficients) -> Self {
        let ratio = REFERENCE_RADIUS_KM / (REFERENCE_RADIUS_KM + SHEET_HEIGHT_KM);
        let harmonics = coefficients.poloidal.iter().map(|harmonic| {
            let n = harmonic.degree as f64;
            let reach = ratio.powf(2.0 * n + 1.0) * (n + 1.0) / n;
            Reaching {
                degree: harmonic.degree,
                order: harmonic.order,
                cosine: harmonic.cosine.map(|value| reach * value),
                sine: harmonic.sine.map(|value| reach * value),
            }
        });
        let harmonics: Vec<_> = harmonics.collect();
        let degree = harmonics.iter().map(|harmonic| harmonic.degree).max().unwrap_or(0);
        Self { degree, harmonics }
    }

    /// The ground field in magnetic components, `[east, north]` in nT.
    ///
    /// # Arguments
    ///
    /// Quasi-dipole latitude at the ground and magnetic local time; the dipole's tilt toward the Sun.
    #[must_use]
    pub fn magnetic_components_nt(
        &self,
        quasi_dipole_latitude_deg: f64,
        local_time_h: f64,
        tilt_deg: f64,
        drivers: &Drivers,
    ) -> [f64; 2] {
        let response = self.response(quasi_dipole_latitude_deg, local_time_h, tilt_deg);
        let functions = drivers.functions();
        [response.east, response.north].map(|part| product(&part, &functions))
    }

    /// The ground field toward geodetic north and east, nT, at a place at an instant.
    #[must_use]
    pub fn north_east_nt(
        &self,
        place: &MagneticPlace,
        instant: Timestamp,
        drivers: &Drivers,
    ) -> [f64; 2] {
        let response = self.response_at(place, &place.stand, instant);
        let functions = drivers.functions();
        [response.north, response.east].map(|part| product(&part, &functions))
    }

    /// The response in geodetic axes at a place within some 40 km of one whose field lines are
    /// traced.
    pub(crate) fn response_at(
        &self,
        traced: &MagneticPlace,
        stand: &Stand,
        instant: Timestamp,
    ) -> Response {
        let sun = sun::direction(instant);
        let here = traced.nearby(stand.place);
        let magnetic = self.response(
            here.latitude_deg,
            traced.dipole.local_time_h(here.longitude_deg, sun),
            traced.dipole.tilt_deg(sun),
        );
        let along = |axis: Vector| {
            let (east, north) = (dot(here.east, axis), dot(here.north, axis));
            std::array::from_fn(|k| east * magnetic.east[k] + north * magnetic.north[k])
        };
        Response { east: along(stand.east), north: along(stand.north) }
    }

    /// The response to any drivers in magnetic axes.
    pub(crate) fn response(&self, latitude_deg: f64, local_time_h: f64, tilt_deg: f64) -> Response {
        let legendre = Legendre::at((90.0 - latitude_deg).to_radians(), self.degree);
        let hour_angle = (15.0 * local_time_h).to_radians();
        let turns: [(f64, f64); MOST_ORDER + 1] =
            std::array::from_fn(|order| (order as f64 * hour_angle).sin_cos());
        let (mut east, mut north) = ([0.0; TERMS], [0.0; TERMS]);
        for Reaching { degree, order, cosine, sine } in &self.harmonics {
            let (sin_m, cos_m) = turns[*order];
            let northward = -legendre.slope(*degree, *order);
            let eastward = *order as f64 * legendre.by_sine(*degree, *order);
            let weights =
                [northward * cos_m, northward * sin_m, -eastward * sin_m, eastward * cos_m];
            for term in 0..TERMS {
                north[term] += weights[0] * cosine[term] + weights[1] * sine[term];
                east[term] += weights[2] * cosine[term] + weights[3] * sine[term];
            }
        }
        // The terms with tilt repeat those without; F10.7 comes last.
        let folded = |terms: [f64; TERMS]| {
            std::array::from_fn(|k| match k {
                9 => terms[TERMS - 1],
                _ => terms[k] + tilt_deg * terms[k + FUNCTIONS - 1],
            })
        };
        Response { east: folded(east), north: folded(north) }
    }
}

/// The scalar product over the driving functions.
pub(crate) fn product(response: &[f64; FUNCTIONS], functions: &[f64; FUNCTIONS]) -> f64 {
    response.iter().zip(functions).map(|(response, function)| response * function).sum()
}
