//! The most probable state, and how closely it is known: Gauss-Newton steps.

use super::{
    belief::Belief,
    bias::{COMMON, State},
    cholesky::Cholesky,
    observation::{Comparison, Site},
    reading::Element,
    tail::weight,
};
use crate::plane_matrix::Matrix;

const MOST_STEPS: usize = 60;

impl Belief {
    /// Gauss-Newton, each step halved until it gains.
    pub(super) fn climb(&self, sites: &[Site<'_>], mut state: State) -> Option<Posterior> {
        let mut at = self.loss(sites, &state);
        let sharp = vec![0.0; sites.len()];
        for _ in 0..MOST_STEPS {
            let (matrix, right) = self.normal_equations(sites, &state, &sharp);
            let step = Cholesky::of(state.0.len(), matrix)?.solve(&right);
            let gain: f64 = step.iter().zip(&right).map(|(a, b)| a * b).sum();
            if gain < 1e-9 {
                break;
            }
            let mut share = 1.0;
            loop {
                let next = state.moved(&step, share);
                let there = self.loss(sites, &next);
                if there < at {
                    (state, at) = (next, there);
                    break;
                }
                share *= 0.5;
                if share < 1e-6 {
                    return self.posterior(sites, state, at);
                }
            }
        }
        self.posterior(sites, state, at)
    }

    fn posterior(&self, sites: &[Site<'_>], state: State, loss: f64) -> Option<Posterior> {
        // A bearing fixes the field across it to H times its error. Near the pole H itself is in
        // doubt, and the bearing must not be credited with the most probable H alone: the doubt
        // about H, found first, is added in squares.
        let size = state.0.len();
        let sharp = vec![0.0; sites.len()];
        let (matrix, _) = self.normal_equations(sites, &state, &sharp);
        let factor = Cholesky::of(size, matrix)?;
        let covariance = factor.inverse();
        let first = Posterior { state, loss, covariance, factor, doubt_nt: sharp };
        let doubt_nt: Vec<f64> = sites
            .iter()
            .enumerate()
            .map(|(index, site)| {
                let [[uu, _], [_, vv]] = first.added_covariance(site.offset_km, Some(index));
                (uu + vv).max(0.0).sqrt()
            })
            .collect();
        let (matrix, _) = self.normal_equations(sites, &first.state, &doubt_nt);
        let factor = Cholesky::of(size, matrix)?;
        let covariance = factor.inverse();
        loss.is_finite().then_some(Posterior { covariance, factor, doubt_nt, ..first })
    }

    /// The equations of a step, bearings taken as so much in doubt by the doubt about each reading's
    /// H, nT.
    fn normal_equations(
        &self,
        sites: &[Site<'_>],
        state: &State,
        doubt_nt: &[f64],
    ) -> (Vec<f64>, Vec<f64>) {
        let size = state.0.len();
        let mut matrix = self.precision.clone();
        let off: Vec<f64> = self.mean.iter().zip(&state.0).map(|(a, b)| a - b).collect();
        let mut right = self.pull(&off);
        for ((index, site), doubt_nt) in sites.iter().enumerate().zip(doubt_nt) {
            for one in site.compare(state, index) {
                let weight = credit(&one, *doubt_nt);
                let slopes = slopes(&one, index);
                for &(row, a) in &slopes {
                    right[row] += weight * a * one.normalised;
                    for &(column, b) in &slopes {
                        matrix[row * size + column] += weight * a * b;
                    }
                }
            }
        }
        (matrix, right)
    }
}

/// What an element counts for, where H at its place is in doubt by so much.
pub(super) fn credit(one: &Comparison, doubt_nt: f64) -> f64 {
    let weight = weight(one.normalised);
    if one.element == Element::Declination && doubt_nt > 0.0 {
        weight * (one.horizontal_nt / one.horizontal_nt.hypot(doubt_nt)).powi(2)
    } else {
        weight
    }
}

/// Where the derivatives of one element stand in the state.
pub(super) fn slopes(one: &Comparison, index: usize) -> [(usize, f64); COMMON + 2] {
    std::array::from_fn(|at| match at.checked_sub(COMMON) {
        None => (at, one.common[at]),
        Some(part) => (COMMON + 2 * index + part, one.own[part]),
    })
}

/// What is held of the state after the readings.
pub(super) struct Posterior {
    pub(super) state: State,
    pub(super) loss: f64,
    covariance: Vec<f64>,
    /// Of the covariance's inverse.
    factor: Cholesky,
    /// One sigma of H at each reading.
    pub(super) doubt_nt: Vec<f64>,
}

impl Posterior {
    /// A departure from the most probable state with its covariance, by normal numbers.
    pub(super) fn normal_draw(&self, normal: Vec<f64>) -> Vec<f64> {
        self.factor.solve_transposed(normal)
    }

    pub(super) fn covariance(&self, row: usize, column: usize) -> f64 {
        self.covariance.get(row * self.state.0.len() + column).copied().unwrap_or(0.0)
    }

    pub(super) fn common_covariance(&self) -> [[f64; COMMON]; COMMON] {
        std::array::from_fn(|row| std::array::from_fn(|column| self.covariance(row, column)))
    }

    /// Covariance of the field that is added at an offset, d of a reading with it where asked for.
    pub(super) fn added_covariance(&self, [u, v]: [f64; 2], index: Option<usize>) -> Matrix {
        let rows = [[(0, 1.0), (3, u), (4, v)], [(1, 1.0), (4, u), (5, v)]];
        let row = |part: usize| {
            let own = index.map(|index| (COMMON + 2 * index + part, 1.0));
            rows[part].into_iter().chain(own)
        };
        std::array::from_fn(|i| {
            std::array::from_fn(|j| {
                row(i)
                    .flat_map(|a| row(j).map(move |b| (a, b)))
                    .fold(0.0, |sum, (a, b)| sum + a.1 * b.1 * self.covariance(a.0, b.0))
            })
        })
    }
}
