//! Where one more reading would narrow the mean pole most.

use serde::{Deserialize, Serialize};

use super::{
    bias::{COMMON, State},
    observation::Site,
    poles::propagated,
};
use crate::{
    Ellipse,
    plane_matrix::{Matrix, solve},
    tangent::TangentPlane,
};

const RINGS: u32 = 4;
const BEARINGS: u32 = 24;

/// A place for one more reading, like the middle one of those made, within reach of the last one and
/// so much later that the currents have changed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct NextReading {
    /// Where.
    pub latitude_deg: f64,
    /// Where.
    pub longitude_deg: f64,
    /// What the mean pole's ellipse would become.
    pub ellipse_95: Ellipse,
}

type Covariance = [[f64; COMMON]; COMMON];

/// Tries places about the last reading. `None` where none can be weighed.
pub(super) fn best_next(
    covariance: &Covariance,
    pole_km: [f64; 2],
    jacobian: Matrix,
    plane: &TangentPlane,
    last_km: [f64; 2],
    noise_nt: f64,
    reach_km: f64,
) -> Option<NextReading> {
    let about_last = (0..=RINGS).flat_map(|ring| {
        (0..if ring == 0 { 1 } else { BEARINGS }).map(move |bearing| {
            let km = reach_km.max(0.0) * f64::from(ring) / f64::from(RINGS);
            let angle = std::f64::consts::TAU * f64::from(bearing) / f64::from(BEARINGS);
            [last_km[0] + km * angle.cos(), last_km[1] + km * angle.sin()]
        })
    });
    let best = about_last
        .filter_map(|at| {
            let after = updated(covariance, at, noise_nt)?;
            let ellipse = ellipse_at(&after, pole_km, jacobian)?;
            Some((at, ellipse))
        })
        .min_by(|(_, a), (_, b)| a.rms_km().total_cmp(&b.rms_km()))?;
    let (at, ellipse) = best;
    let position = plane.position(at);
    let turn = plane.turn_at(plane.position(pole_km));
    // Only the bearing of the axes changes from the plane's axes to north and east at the pole.
    let (sine, cosine) = ellipse.bearing_deg.to_radians().sin_cos();
    let [north, east] = turn.undo([cosine, sine]);
    let bearing_deg = east.atan2(north).to_degrees().rem_euclid(180.0);
    Some(NextReading {
        latitude_deg: position.y(),
        longitude_deg: position.x(),
        ellipse_95: Ellipse { bearing_deg, ..ellipse }.holding(0.95),
    })
}

/// One sigma of the horizontal field that a reading like these gives of the mean field.
pub(super) fn usual_noise_nt(sites: &[Site<'_>], state: &State, disturbance: &[f64]) -> f64 {
    let mut all: Vec<f64> = sites
        .iter()
        .enumerate()
        .zip(disturbance)
        .filter_map(|((index, site), disturbance)| {
            let [mut aa, mut ab, mut bb] = [0.0; 3];
            for one in site.compare(state, index) {
                let [a, b] = one.own;
                (aa, ab, bb) = (aa + a * a, ab + a * b, bb + b * b);
            }
            let information = aa * bb - ab * ab;
            (information > 0.0).then(|| information.powf(-0.25).hypot(*disturbance))
        })
        .collect();
    all.sort_by(f64::total_cmp);
    // Where no reading has a bearing and a size, one of some care is thought of.
    all.get(all.len() / 2).copied().unwrap_or(50.0)
}

/// Rows of the horizontal field at an offset by the state.
fn rows([u, v]: [f64; 2]) -> [[f64; COMMON]; 2] {
    [[1.0, 0.0, 0.0, u, v, 0.0], [0.0, 1.0, 0.0, 0.0, u, v]]
}

fn product(covariance: &Covariance, row: &[f64; COMMON]) -> [f64; COMMON] {
    covariance.map(|line| line.iter().zip(row).map(|(a, b)| a * b).sum())
}

fn dot(a: &[f64; COMMON], b: &[f64; COMMON]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Kalman's update by a horizontal vector at an offset.
fn updated(covariance: &Covariance, at: [f64; 2], noise_nt: f64) -> Option<Covariance> {
    let rows = rows(at);
    let spread = rows.map(|row| product(covariance, &row));
    let mut innovation = rows.map(|row| [dot(&spread[0], &row), dot(&spread[1], &row)]);
    innovation[0][0] += noise_nt * noise_nt;
    innovation[1][1] += noise_nt * noise_nt;
    let mut after = *covariance;
    for (i, line) in after.iter_mut().enumerate() {
        let gain = solve(innovation, [spread[0][i], spread[1][i]])?;
        for (j, part) in line.iter_mut().enumerate() {
            *part -= gain[0] * spread[0][j] + gain[1] * spread[1][j];
        }
    }
    Some(after)
}

fn ellipse_at(covariance: &Covariance, pole_km: [f64; 2], jacobian: Matrix) -> Option<Ellipse> {
    let rows = rows(pole_km);
    let spread = rows.map(|row| product(covariance, &row));
    let field = rows.map(|row| [dot(&spread[0], &row), dot(&spread[1], &row)]);
    propagated(jacobian, field).map(Ellipse::of_covariance)
}
