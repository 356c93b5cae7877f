//! The main field anywhere outside the Earth, in Earth-fixed Cartesian axes.
//!
//! Field lines of the polar caps run out to a hundred Earth radii, far above the sites that
//! [`crate::Snapshot`] answers for, and a line is a chain of single points, which its lanes cannot
//! use. So the tracing has its own synthesis, by the recursion in Cartesian solid harmonics of
//! L. E. Cunningham, Celestial Mechanics 2, 207 (1970), as O. Montenbruck and E. Gill give it
//! (Satellite Orbits, Springer 2000, section 3.2). A test holds the two equal.

use crate::{
    GaussModel,
    amps::vector::{Vector, dot},
    series::index,
    synthesis::REFERENCE_RADIUS_KM,
};

/// Degrees beyond this say nothing at the heights where the magnetic coordinates are made.
const DEGREE: usize = 13;

/// Solid harmonics up to one degree more than the field's.
const HARMONICS: usize = (DEGREE + 2) * (DEGREE + 3) / 2;

/// The main field at one epoch.
#[derive(Debug, Clone)]
pub(crate) struct FarField {
    degree: usize,
    /// `[g, h]` of the unnormalised functions, in the order of [`index`], nT.
    terms: Vec<[f64; 2]>,
}

impl FarField {
    /// The field of `model` at `decimal_year`; outside the model's years its straight lines go on.
    pub(crate) fn new(model: &GaussModel, decimal_year: f64) -> Self {
        let degree = model.degree().min(DEGREE);
        let mut terms = Vec::with_capacity(index(degree, degree) + 1);
        for n in 0..=degree {
            let mut schmidt = 1.0;
            for m in 0..=n {
                if m > 0 {
                    // sqrt((2 - [m = 0]) (n - m)! / (n + m)!)
                    schmidt /= (((n + m) * (n - m + 1)) as f64).sqrt();
                    schmidt *= if m == 1 { 2_f64.sqrt() } else { 1.0 };
                }
                let mut sum = [0.0; 2];
                for part in model.parts() {
                    let [g, h] = part.coefficients(decimal_year, n, m).unwrap_or_default();
                    sum = [sum[0] + schmidt * g, sum[1] + schmidt * h];
                }
                terms.push(if n == 0 { [0.0; 2] } else { sum });
            }
        }
        Self { degree, terms }
    }

    /// The coefficients of the first degree, nT: along x, y and z.
    pub(crate) fn dipole_nt(&self) -> Vector {
        let term = |n, m| self.terms.get(index(n, m)).copied().unwrap_or_default();
        let ([g10, _], [g11, h11]) = (term(1, 0), term(1, 1));
        [g11, h11, g10]
    }

    /// The field at a place in reference radii from the Earth's centre, nT.
    pub(crate) fn at(&self, place: Vector) -> Vector {
        let r2 = dot(place, place);
        let most = self.degree.min(felt_degree(r2));
        let [x, y, z] = place.map(|part| part / r2);
        let mut solid = [[0.0; 2]; HARMONICS];
        solid[0] = [1.0 / r2.sqrt(), 0.0];
        for m in 0..=most + 1 {
            if m > 0 {
                let [v, w] = solid[index(m - 1, m - 1)];
                let k = (2 * m - 1) as f64;
                solid[index(m, m)] = [k * (x * v - y * w), k * (x * w + y * v)];
            }
            let mut before = [0.0; 2];
            for n in m + 1..=most + 1 {
                let here = solid[index(n - 1, m)];
                let (ahead, behind) = ((2 * n - 1) as f64 * z, (n + m - 1) as f64 / r2);
                let next = [0, 1].map(|i| (ahead * here[i] - behind * before[i]) / (n - m) as f64);
                solid[index(n, m)] = next;
                before = here;
            }
        }
        let mut down_slope = [0.0; 3];
        for n in 1..=most {
            for m in 0..=n {
                let [g, h] = self.terms[index(n, m)];
                let [v, w] = solid[index(n + 1, m + 1)];
                if m == 0 {
                    down_slope[0] += g * v;
                    down_slope[1] += g * w;
                } else {
                    let [v1, w1] = solid[index(n + 1, m - 1)];
                    let k = ((n - m + 2) * (n - m + 1)) as f64;
                    down_slope[0] += 0.5 * (g * v + h * w - k * (g * v1 + h * w1));
                    down_slope[1] += 0.5 * (g * w - h * v + k * (g * w1 - h * v1));
                }
                let [v, w] = solid[index(n + 1, m)];
                down_slope[2] += (n - m + 1) as f64 * (g * v + h * w);
            }
        }
        down_slope
    }

    /// Reference radius, km.
    pub(crate) const RADIUS_KM: f64 = REFERENCE_RADIUS_KM;
}

/// The degree from which on nothing is felt, beside 1e-10 of the dipole, at a squared distance.
fn felt_degree(r2: f64) -> usize {
    // A cast brings what is too much, infinite or no number within bounds.
    (2.0 * 1e10_f64.ln() / r2.ln().max(0.1)) as usize + 2
}

#[cfg(test)]
mod tests {
    use dipward_plugin::{FieldSample, Site};

    use super::*;
    use crate::{
        amps::{field_line::Stand, vector::cross},
        igrf14,
    };

    #[test]
    fn it_is_the_field_of_the_lanes() {
        let model = igrf14().unwrap();
        let far = FarField::new(&model, 2027.25);
        let snapshot = model.at(2027.25).unwrap();
        for (latitude_deg, longitude_deg, height_km) in [
            (85.7, 138.6, 0.0),
            (-63.8, 135.0, 110.0),
            (10.0, -70.0, 3000.0),
            (45.0, 1.0, 50_000.0),
        ] {
            let site = Site { latitude_deg, longitude_deg, height_km };
            let mut out = [FieldSample::default()];
            snapshot.sample(&[site], &mut out).unwrap();
            let stand = Stand::of(&site);
            let field = far.at(stand.place);
            let own = [stand.north, stand.east, cross(stand.east, stand.north)]
                .map(|axis| dot(axis, field));
            let vector = out[0].vector;
            let expected = [vector.north_nt, vector.east_nt, -vector.down_nt];
            for (own, expected) in own.into_iter().zip(expected) {
                assert!((own - expected).abs() < 1e-7, "{site:?}: {own} {expected}");
            }
        }
    }
}
