//! The horizontal field about a pole as a polynomial, for solving many displacements fast.
//!
//! Over a square about the pole, in the plane that touches the Earth there, each component is a sum
//! of products of Chebyshev polynomials of total degree K. K is raised until the polynomial meets the
//! full field at test points between the nodes within a given tolerance.

use dipward_plugin::{Error, FieldSample, MainField, Site};

use crate::{
    displacement::{HorizontalField, LocalField},
    tangent::TangentPlane,
};

/// Degrees that are tried, in turn.
pub(crate) const DEGREES: [usize; 7] = [6, 8, 11, 15, 20, 28, 40];
const TOP: usize = 40;
/// Test points along a side, edges included. Even, so that the pole itself is none of them.
const TESTS_A_SIDE: usize = 14;

/// Where a patch is cut out of the field.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cut<'a> {
    pub(crate) model: &'a dyn MainField,
    pub(crate) decimal_year: f64,
    pub(crate) height_km: f64,
    pub(crate) plane: TangentPlane,
}

impl Cut<'_> {
    /// The horizontal field at offsets, in the plane's axes carried there.
    fn fields(&self, offsets_km: &[[f64; 2]]) -> Result<Vec<[f64; 2]>, Error> {
        let places: Vec<_> = offsets_km.iter().map(|&offset| self.plane.position(offset)).collect();
        let sites: Vec<Site> = places
            .iter()
            .map(|at| Site {
                latitude_deg: at.y(),
                longitude_deg: at.x(),
                height_km: self.height_km,
            })
            .collect();
        let mut samples = vec![FieldSample::default(); sites.len()];
        self.model.sample(self.decimal_year, &sites, &mut samples)?;
        Ok(places
            .iter()
            .zip(&samples)
            .map(|(&there, sample)| {
                let field = [sample.vector.north_nt, sample.vector.east_nt];
                self.plane.turn_at(there).apply(field)
            })
            .collect())
    }
}

/// A polynomial of two variables for each of the two components.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Patch {
    half_width_km: f64,
    degree: usize,
    /// For i from 0, for j from 0 while i + j is at most the degree: the factors of T_i(u) T_j(v).
    factors: Vec<[f64; 2]>,
}

impl Patch {
    /// Fits the field of a cut.
    pub(crate) fn fit(cut: &Cut<'_>, half_width_km: f64, degree: usize) -> Result<Self, Error> {
        let count = degree + 1;
        let angle = |node: usize| std::f64::consts::PI * (node as f64 + 0.5) / count as f64;
        let nodes: Vec<f64> = (0..count).map(|node| half_width_km * angle(node).cos()).collect();
        let offsets: Vec<[f64; 2]> =
            nodes.iter().flat_map(|&u| nodes.iter().map(move |&v| [u, v])).collect();
        let values = cut.fields(&offsets)?;
        let basis: Vec<Vec<f64>> = (0..count)
            .map(|i| (0..count).map(|node| (i as f64 * angle(node)).cos()).collect())
            .collect();
        // Chebyshev polynomials are orthogonal over the nodes; one variable at a time.
        let along_v: Vec<Vec<[f64; 2]>> = values
            .chunks(count)
            .map(|row| basis.iter().map(|wave| weighted_sum(wave, row, count)).collect())
            .collect();
        let mut factors = Vec::with_capacity(count * (count + 1) / 2);
        for (i, wave) in basis.iter().enumerate() {
            for j in 0..count - i {
                let column: Vec<[f64; 2]> = along_v.iter().map(|row| row[j]).collect();
                let sum = weighted_sum(wave, &column, count);
                let weight = if i == 0 { 1.0 } else { 2.0 } * if j == 0 { 1.0 } else { 2.0 };
                factors.push(sum.map(|part| part * weight));
            }
        }
        Ok(Self { half_width_km, degree, factors })
    }

    /// The greatest difference from the full field at the test points, nT.
    pub(crate) fn worst_nt(&self, cut: &Cut<'_>) -> Result<f64, Error> {
        let side =
            |at: usize| self.half_width_km * (2.0 * at as f64 / (TESTS_A_SIDE as f64 - 1.0) - 1.0);
        let offsets: Vec<[f64; 2]> = (0..TESTS_A_SIDE * TESTS_A_SIDE)
            .map(|at| [side(at / TESTS_A_SIDE), side(at % TESTS_A_SIDE)])
            .collect();
        let full = cut.fields(&offsets)?;
        Ok(offsets.iter().zip(full).fold(0.0, |worst: f64, (&offset, full)| {
            let own = self.evaluate(offset).field_nt;
            worst.max((own[0] - full[0]).hypot(own[1] - full[1]))
        }))
    }

    /// The patch part of the way from this one to another of the same shape.
    pub(crate) fn blend(&self, other: &Self, share: f64) -> Self {
        let mix = |(a, b): (&[f64; 2], &[f64; 2])| [0, 1].map(|i| a[i] + share * (b[i] - a[i]));
        Self {
            factors: self.factors.iter().zip(&other.factors).map(mix).collect(),
            half_width_km: self.half_width_km,
            degree: self.degree,
        }
    }

    fn evaluate(&self, offset_km: [f64; 2]) -> LocalField {
        let [u, v] = offset_km.map(|part| part / self.half_width_km);
        let (mut by_u, mut next_u) = ([1.0, 0.0], [u, 1.0]);
        let mut by_v = Chebyshev { value: [0.0; TOP + 1], slope: [0.0; TOP + 1] };
        by_v.fill(v, self.degree);
        let mut out = LocalField::default();
        let mut factors = self.factors.as_slice();
        for i in 0..=self.degree {
            let (row, rest) = factors.split_at((self.degree + 1 - i).min(factors.len()));
            factors = rest;
            let (mut value, mut slope) = ([0.0; 2], [0.0; 2]);
            for ((factor, t), dt) in row.iter().zip(&by_v.value).zip(&by_v.slope) {
                for part in 0..2 {
                    value[part] += factor[part] * t;
                    slope[part] += factor[part] * dt;
                }
            }
            for part in 0..2 {
                out.field_nt[part] += by_u[0] * value[part];
                out.slope_nt_per_km[part][0] += by_u[1] * value[part];
                out.slope_nt_per_km[part][1] += by_u[0] * slope[part];
            }
            let after =
                [2.0 * u * next_u[0] - by_u[0], 2.0 * next_u[0] + 2.0 * u * next_u[1] - by_u[1]];
            (by_u, next_u) = (next_u, after);
        }
        out.slope_nt_per_km =
            out.slope_nt_per_km.map(|row| row.map(|slope| slope / self.half_width_km));
        out
    }
}

impl HorizontalField for Patch {
    fn at(&self, offset_km: [f64; 2]) -> Result<Option<LocalField>, Error> {
        let inside = offset_km.iter().all(|part| part.abs() <= self.half_width_km);
        Ok(inside.then(|| self.evaluate(offset_km)))
    }
}

fn weighted_sum(weights: &[f64], values: &[[f64; 2]], count: usize) -> [f64; 2] {
    let sum = weights.iter().zip(values).fold([0.0; 2], |sum: [f64; 2], (weight, value)| {
        [sum[0] + weight * value[0], sum[1] + weight * value[1]]
    });
    sum.map(|part| part / count as f64)
}

/// Chebyshev polynomials of the first kind, and their derivatives.
struct Chebyshev {
    value: [f64; TOP + 1],
    slope: [f64; TOP + 1],
}

impl Chebyshev {
    /// Up to a degree of at least 1. Filled in place: moving the arrays costs as much as using them.
    #[inline]
    fn fill(&mut self, x: f64, degree: usize) {
        let Self { value, slope } = self;
        (value[0], slope[0]) = (1.0, 0.0);
        (value[1], slope[1]) = (x, 1.0);
        for i in 2..=degree.min(TOP) {
            value[i] = 2.0 * x * value[i - 1] - value[i - 2];
            slope[i] = 2.0 * value[i - 1] + 2.0 * x * slope[i - 1] - slope[i - 2];
        }
    }
}
