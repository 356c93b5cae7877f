//! The poles that a state makes.

use dipward_geodesy::{Position, geodesic};
use dipward_plugin::{Clock, Error, FieldSample, MainField};

use super::{bias::State, pole_fix::PoleEstimate, reading::Reading};
use crate::{
    Ellipse,
    dip_pole::{jacobian, site},
    plane_matrix::{Matrix, solve},
    tangent::TangentPlane,
    track_statistics::ellipse_of,
};

const MOST_STEPS: usize = 60;
/// A pole further from the model's than this is no fix.
const FARTHEST_KM: f64 = 3000.0;
const LONGEST_STEP_KM: f64 = 200.0;
/// Between this far to either side of the most probable pole the field's second derivatives are taken.
const CURVATURE_KM: f64 = 50.0;
/// Newton steps for each draw.
const CLOUD_STEPS: usize = 4;

/// Finds the poles of states.
pub(super) struct Poles<'a> {
    pub(super) model: &'a dyn MainField,
    pub(super) plane: TangentPlane,
    pub(super) height_km: f64,
    /// The most probable one.
    pub(super) state: &'a State,
    /// What else may be.
    pub(super) draws: &'a [State],
}

pub(super) struct Found {
    pub(super) offset_km: [f64; 2],
    /// In the plane's axes.
    pub(super) jacobian_nt_per_km: Matrix,
    /// Toward north and east at the pole.
    pub(super) local_jacobian_nt_per_km: Matrix,
}

impl Poles<'_> {
    /// The mean pole of the most probable state at the time of a reading.
    pub(super) fn most_probable(&self, reading: &Reading) -> Result<Option<Found>, Error> {
        self.of_state(self.state, Clock::decimal_year_of(reading.time), None)
    }

    /// The pole at the time of a reading, the mean one or with the disturbance of the reading: the
    /// middle of where the draws put it, with the ellipse about it that holds 95 in 100 of them.
    /// `None` where more than 5 in 100 of them have none.
    pub(super) fn at(
        &self,
        reading: &Reading,
        index: Option<usize>,
    ) -> Result<Option<PoleEstimate>, Error> {
        let year = Clock::decimal_year_of(reading.time);
        let Some(centre) = self.of_state(self.state, year, index)? else { return Ok(None) };
        let cloud = self.cloud(centre.offset_km, year, index)?;
        // The ellipse holds less than it should where too many draws have no pole.
        let held = ellipse_of(cloud.into_iter(), 0.95).filter(|held| held.share >= 0.95);
        Ok(held.map(|held| {
            let position = self.plane.position(held.centre_km);
            let turn = self.plane.turn_at(position);
            let covariance = held.ellipse.covariance_km2();
            let local = turned(covariance, |at| turn.apply(at), |at| turn.undo(at));
            estimate(reading, position, Ellipse::of_covariance(local))
        }))
    }

    fn of_state(
        &self,
        state: &State,
        year: f64,
        index: Option<usize>,
    ) -> Result<Option<Found>, Error> {
        let mut offset_km = [0.0; 2];
        for _ in 0..MOST_STEPS {
            let (model, slope) = self.model_at(offset_km, year)?;
            let jacobian_nt_per_km = sum(1.0, slope, 1.0, state.gradient_nt_per_km());
            let added = added_nt(state, offset_km, index);
            let left = [0, 1].map(|part| -(model[part] + added[part]));
            let Some([u, v]) = solve(jacobian_nt_per_km, left) else { return Ok(None) };
            let length = u.hypot(v);
            let scale = if length > LONGEST_STEP_KM { LONGEST_STEP_KM / length } else { 1.0 };
            offset_km = [offset_km[0] + scale * u, offset_km[1] + scale * v];
            if offset_km[0].hypot(offset_km[1]) > FARTHEST_KM {
                return Ok(None);
            }
            if length < 1e-6 {
                let turn = self.plane.turn_at(self.plane.position(offset_km));
                return Ok(Some(Found {
                    offset_km,
                    jacobian_nt_per_km,
                    local_jacobian_nt_per_km: turned(
                        jacobian_nt_per_km,
                        |at| turn.apply(at),
                        |at| turn.undo(at),
                    ),
                }));
            }
        }
        Ok(None)
    }

    /// The model's horizontal field at an offset and its Jacobian, in the plane's axes.
    fn model_at(&self, offset_km: [f64; 2], year: f64) -> Result<([f64; 2], Matrix), Error> {
        let place = self.plane.position(offset_km);
        let mut sample = [FieldSample::default()];
        self.model.sample(year, &[site(place, self.height_km)], &mut sample)?;
        let turn = self.plane.turn_at(place);
        let field = turn.apply([sample[0].vector.north_nt, sample[0].vector.east_nt]);
        let local = jacobian(&sample[0], &TangentPlane::at(place, self.height_km));
        Ok((field, turned(local, |at| turn.undo(at), |at| turn.apply(at))))
    }

    /// The poles of the draws, by the field's first and second derivatives about an offset.
    fn cloud(
        &self,
        centre: [f64; 2],
        year: f64,
        index: Option<usize>,
    ) -> Result<Vec<Option<[f64; 2]>>, Error> {
        let (field, slope) = self.model_at(centre, year)?;
        let mut curvature = [[[0.0; 2]; 2]; 2];
        for (axis, by_axis) in curvature.iter_mut().enumerate() {
            let beside = |by: f64| {
                let mut offset = centre;
                offset[axis] += by;
                self.model_at(offset, year)
            };
            let ((_, ahead), (_, behind)) = (beside(CURVATURE_KM)?, beside(-CURVATURE_KM)?);
            *by_axis = sum(1.0 / (2.0 * CURVATURE_KM), ahead, -1.0 / (2.0 * CURVATURE_KM), behind);
        }
        let pole = |state: &State| {
            let added = added_nt(state, centre, index);
            let nt = [field[0] + added[0], field[1] + added[1]];
            let slope = sum(1.0, slope, 1.0, state.gradient_nt_per_km());
            let mut at = [0.0; 2];
            for _ in 0..CLOUD_STEPS {
                let bent = sum(at[0], curvature[0], at[1], curvature[1]);
                let middle = sum(1.0, slope, 0.5, bent);
                let left = [0, 1]
                    .map(|part| -(nt[part] + middle[part][0] * at[0] + middle[part][1] * at[1]));
                let [u, v] = solve(sum(1.0, slope, 1.0, bent), left)?;
                at = [at[0] + u, at[1] + v];
            }
            let pole = [centre[0] + at[0], centre[1] + at[1]];
            (pole[0].hypot(pole[1]) <= FARTHEST_KM).then_some(pole)
        };
        Ok(self.draws.iter().map(pole).collect())
    }
}

/// What a state adds at an offset, with the disturbance of a reading where asked for.
fn added_nt(state: &State, offset_km: [f64; 2], index: Option<usize>) -> [f64; 2] {
    let [u, v] = state.horizontal_nt(offset_km);
    let [du, dv] = index.map_or([0.0; 2], |index| state.disturbance_nt(index));
    [u + du, v + dv]
}

/// `p a + q b`.
fn sum(p: f64, a: Matrix, q: f64, b: Matrix) -> Matrix {
    std::array::from_fn(|i| std::array::from_fn(|j| p * a[i][j] + q * b[i][j]))
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
