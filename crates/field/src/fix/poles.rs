//! The poles that a state makes.

use dipward_geodesy::{Position, geodesic};
use dipward_plugin::{Clock, Error, FieldSample, MainField};

use super::{climb::Posterior, pole_fix::PoleEstimate, reading::Reading};
use crate::{
    Ellipse,
    dip_pole::{jacobian, site},
    plane_matrix::{Matrix, solve},
    tangent::TangentPlane,
};

const MOST_STEPS: usize = 60;
/// A pole further from the model's than this is no fix.
const FARTHEST_KM: f64 = 3000.0;

/// Finds the poles of a state.
pub(super) struct Poles<'a> {
    pub(super) model: &'a dyn MainField,
    pub(super) plane: TangentPlane,
    pub(super) height_km: f64,
    pub(super) posterior: &'a Posterior,
}

pub(super) struct Found {
    pub(super) estimate: PoleEstimate,
    pub(super) offset_km: [f64; 2],
    /// In the plane's axes.
    pub(super) jacobian_nt_per_km: Matrix,
    /// Toward north and east at the pole.
    pub(super) local_jacobian_nt_per_km: Matrix,
}

impl Poles<'_> {
    /// The pole at the time of a reading: the mean one, or with the disturbance of the reading.
    pub(super) fn at(
        &self,
        reading: &Reading,
        index: Option<usize>,
    ) -> Result<Option<Found>, Error> {
        let year = Clock::decimal_year_of(reading.time);
        let state = &self.posterior.state;
        let disturbance = index.map_or([0.0; 2], |index| state.disturbance_nt(index));
        let mut offset = [0.0; 2];
        for _ in 0..MOST_STEPS {
            let place = self.plane.position(offset);
            let mut out = [FieldSample::default()];
            self.model.sample(year, &[site(place, self.height_km)], &mut out)?;
            let [sample] = out;
            let turn = self.plane.turn_at(place);
            let model = turn.apply([sample.vector.north_nt, sample.vector.east_nt]);
            let added = state.horizontal_nt(offset);
            let local = jacobian(&sample, &TangentPlane::at(place, self.height_km));
            let gradient = state.gradient_nt_per_km();
            let slope = plus(turned(local, |at| turn.undo(at), |at| turn.apply(at)), gradient);
            let left = [0, 1].map(|part| -(model[part] + added[part] + disturbance[part]));
            let Some(step) = solve(slope, left) else { return Ok(None) };
            let length = step[0].hypot(step[1]);
            let scale = if length > 200.0 { 200.0 / length } else { 1.0 };
            offset = [offset[0] + scale * step[0], offset[1] + scale * step[1]];
            if offset[0].hypot(offset[1]) > FARTHEST_KM {
                return Ok(None);
            }
            if length < 1e-6 {
                let field = self.posterior.added_covariance(offset, index);
                let position = self.plane.position(offset);
                let km = propagated(slope, field);
                let back = km
                    .map(|covariance| turned(covariance, |at| turn.apply(at), |at| turn.undo(at)));
                let ellipse = back.map(Ellipse::of_covariance);
                return Ok(ellipse.map(|ellipse| Found {
                    estimate: estimate(reading, position, ellipse.holding(0.95)),
                    offset_km: offset,
                    jacobian_nt_per_km: slope,
                    local_jacobian_nt_per_km: turned(
                        slope,
                        |at| turn.apply(at),
                        |at| turn.undo(at),
                    ),
                }));
            }
        }
        Ok(None)
    }
}

fn plus(a: Matrix, b: Matrix) -> Matrix {
    std::array::from_fn(|i| std::array::from_fn(|j| a[i][j] + b[i][j]))
}

/// A matrix told in other axes: `enter` turns a vector of the new axes into the old ones, `leave`
/// back.
fn turned(
    matrix: Matrix,
    enter: impl Fn([f64; 2]) -> [f64; 2],
    leave: impl Fn([f64; 2]) -> [f64; 2],
) -> Matrix {
    let columns = [[1.0, 0.0], [0.0, 1.0]].map(|axis| {
        let [u, v] = enter(axis);
        leave(matrix.map(|row| row[0] * u + row[1] * v))
    });
    [[columns[0][0], columns[1][0]], [columns[0][1], columns[1][1]]]
}

/// J^-1 C J^-T.
pub(super) fn propagated(jacobian: Matrix, covariance: Matrix) -> Option<Matrix> {
    let transposed = |m: Matrix| [[m[0][0], m[1][0]], [m[0][1], m[1][1]]];
    let half = transposed(covariance).map(|column| solve(jacobian, column));
    let [Some(a), Some(b)] = half else { return None };
    // The rows of (J^-1 C)^T are a and b; those of its transpose go through J^-1 once more.
    let [Some(c), Some(d)] = transposed([a, b]).map(|row| solve(jacobian, row)) else {
        return None;
    };
    Some([c, d])
}

pub(super) fn estimate(reading: &Reading, position: Position, ellipse_95: Ellipse) -> PoleEstimate {
    let way = geodesic::inverse(reading.position, position);
    let [north, east] = TangentPlane::at(position, 0.0).offset_km(reading.position);
    PoleEstimate {
        time: reading.time,
        latitude_deg: position.y(),
        longitude_deg: position.x(),
        ellipse_95,
        distance_km: way.distance_km,
        bearing_deg: way.initial_course_deg,
        ellipses_away: ellipse_95.radius_of([north, east]),
    }
}
