//! The most probable state, and the poles that it makes.

use dipward_geodesy::{Hemisphere, Position, geodesic};
use dipward_plugin::{Clock, Error, FieldSample, MainField};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::{
    bias::{COMMON, State},
    cholesky::Cholesky,
    next_reading::{NextReading, best_next},
    observation::{Comparison, Site},
    reading::{Element, Reading},
    settings::FixSettings,
    tail::{loss, weight},
};
use crate::{
    DipPole, Ellipse, Kp, dip_pole,
    dip_pole::{jacobian, site},
    plane_matrix::{Matrix, solve},
    tangent::TangentPlane,
};

/// More readings than this are refused: work grows with their number's cube.
const MOST_READINGS: usize = 250;
const MOST_STEPS: usize = 60;
/// A pole further from the model's than this is no fix.
const FARTHEST_KM: f64 = 3000.0;
/// Sigmas are at least this large, so that a part of the state that is held to be known has an
/// inverse too.
const LEAST_NT: f64 = 1e-3;
const LEAST_NT_PER_KM: f64 = 1e-6;

/// A pole with what it is worth to whoever made the last reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PoleEstimate {
    /// When the pole is there.
    pub time: Timestamp,
    /// Its latitude.
    pub latitude_deg: f64,
    /// Its longitude.
    pub longitude_deg: f64,
    /// Holds 95 in 100 of what may be.
    pub ellipse_95: Ellipse,
    /// From the reading of that time.
    pub distance_km: f64,
    /// True course from the reading's place.
    pub bearing_deg: f64,
    /// How many times the 95 % ellipse must be scaled to pass through the reading's place; up to 1
    /// the reader was within it.
    pub ellipses_away: f64,
}

/// Whether the readings or the model say how the field grows about the pole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum JacobianSource {
    /// The readings leave the model's Jacobian nearly as much in doubt as it was.
    Model,
    /// The readings halve the doubt about each part of it or better.
    Readings,
}

/// What is left of one element of one reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Residual {
    /// Which reading, from 0 in the order given.
    pub reading: usize,
    /// What was measured.
    pub element: Element,
    /// Measured less expected, nT or degrees.
    pub difference: f64,
    /// The same in sigmas.
    pub normalised: f64,
    /// 1 where it counts in full, near 0 for an outlier.
    pub weight: f64,
}

/// A fix.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PoleFix {
    /// Which pole.
    pub hemisphere: Hemisphere,
    /// The model that it was sought with.
    pub model: String,
    /// The mean pole by the model alone at the time of the last reading.
    pub model_pole: PoleEstimate,
    /// The mean pole at the time of the last reading, free of the currents overhead.
    pub mean_pole: PoleEstimate,
    /// The mean pole at the time of each reading, in the order given.
    pub mean_poles: Vec<Option<PoleEstimate>>,
    /// Where the field was vertical at each reading, currents included, in the order given; `None`
    /// where they left no pole.
    pub instantaneous_poles: Vec<Option<PoleEstimate>>,
    /// The Jacobian at the mean pole, toward north and east there.
    pub jacobian_nt_per_km: [[f64; 2]; 2],
    /// One sigma of its parts north-north, north-east and east-east of the model's pole.
    pub jacobian_sigma_nt_per_km: [f64; 3],
    /// Who says so.
    pub jacobian_from: JacobianSource,
    /// What is left of the readings.
    pub residuals: Vec<Residual>,
    /// Where another reading would help most.
    pub next_reading: Option<NextReading>,
    /// What was taken for granted.
    pub assumptions: Vec<String>,
}

/// Finds the pole by readings, with a model's pole as what is believed beforehand.
///
/// Gauss-Newton steps from the model and, where readings have a bearing and a dip or more, from what
/// the middle one of them says by itself; the more probable end is the fix. Each step is exact in
/// the model's field, however curved.
///
/// With readings drawn from what is assumed, the 95 % ellipse holds the true mean pole in 95 of 100
/// cases. So does that of the instantaneous pole, but for a party with bearing and dip alone (0.03
/// degrees of dip) that is so near that H is no larger than its own error: 60 km from the north pole
/// it held 91 of 100, 12 km from it 86, since what a bearing then leaves open is no ellipse.
///
/// # Errors
///
/// [`Error::Outside`] for no reading or more than 250, or a time outside the model's years;
/// [`Error::Unsolved`] where no pole is found.
///
/// # Complexity
///
/// The cube of the number of readings: half a second for 100.
pub fn fix_pole(
    model: &dyn MainField,
    hemisphere: Hemisphere,
    readings: &[Reading],
    settings: &FixSettings,
) -> Result<PoleFix, Error> {
    let Some((last_index, last)) = readings.iter().enumerate().max_by_key(|(_, one)| one.time)
    else {
        return Err(Error::Outside("a fix needs at least one reading".into()));
    };
    if readings.len() > MOST_READINGS {
        return Err(Error::Outside(format!(
            "a fix takes at most {MOST_READINGS} readings, not {}",
            readings.len()
        )));
    }
    let year = Clock::decimal_year_of(last.time);
    let prior = dip_pole(model, hemisphere, year, last.height_km)?;
    fix_about(model, &prior, readings, last_index, settings)
}

/// The same where the model's pole at the time of the last reading is known already.
pub(super) fn fix_about(
    model: &dyn MainField,
    prior: &DipPole,
    readings: &[Reading],
    last_index: usize,
    settings: &FixSettings,
) -> Result<PoleFix, Error> {
    let hemisphere = prior.hemisphere;
    let unsolved = || Error::Unsolved("the readings do not make a fix".into());
    let last = readings.get(last_index).ok_or_else(unsolved)?;
    let plane = TangentPlane::at(prior.position, last.height_km).isotropic();
    let sites: Vec<Site<'_>> = readings
        .iter()
        .map(|reading| Site::of(model, &plane, reading))
        .collect::<Result<_, _>>()?;
    let bias_nt = prior.sigma.forecast_nt.hypot(prior.sigma.crust_nt).max(LEAST_NT);
    let gradient = settings
        .gradient_nt_per_km
        .unwrap_or(prior.sigma.crust_nt / settings.crust_length_km.max(1.0))
        .max(LEAST_NT_PER_KM);
    let common_sigma =
        [bias_nt, bias_nt, settings.down_nt.max(LEAST_NT), gradient, gradient, gradient];
    let steepest = prior.steepness_nt_per_km()[0];
    let disturbance_sigma: Vec<f64> =
        sites.iter().map(|site| disturbance_sigma(site, hemisphere, steepest, settings)).collect();
    let belief =
        Belief::new(&sites, common_sigma, &disturbance_sigma, settings).ok_or_else(unsolved)?;
    let posterior = starts(&belief, &sites)
        .into_iter()
        .filter_map(|start| belief.climb(&sites, start))
        .min_by(|a, b| a.loss.total_cmp(&b.loss))
        .ok_or_else(unsolved)?;

    let poles = Poles { model, plane, height_km: last.height_km, posterior: &posterior };
    let mean = poles.at(last, None)?.ok_or_else(unsolved)?;
    let all = |with_currents: bool| {
        let each = readings.iter().enumerate().map(|(index, reading)| {
            let pole = poles.at(reading, with_currents.then_some(index))?;
            Ok(pole.map(|pole| pole.estimate))
        });
        each.collect::<Result<Vec<_>, Error>>()
    };
    let (mean_poles, instantaneous_poles) = (all(false)?, all(true)?);
    let posterior_sigma = |part: usize| posterior.covariance(part, part).max(0.0).sqrt();
    let jacobian_sigma_nt_per_km = [3, 4, 5].map(posterior_sigma);
    let from_readings = jacobian_sigma_nt_per_km.iter().all(|sigma| *sigma <= 0.5 * gradient);
    let residuals = sites
        .iter()
        .enumerate()
        .flat_map(|(index, site)| {
            site.compare(&posterior.state, index).map(move |one| Residual {
                reading: index,
                element: one.element,
                difference: one.element.difference(one.measured.value, one.expected),
                normalised: one.normalised,
                weight: weight(one.normalised),
            })
        })
        .collect();
    let next_reading = best_next(
        &posterior.common_covariance(),
        mean.offset_km,
        mean.jacobian_nt_per_km,
        &plane,
        sites.get(last_index).map_or([0.0; 2], |site| site.offset_km),
        belief.usual_noise_nt(&sites, &posterior.state, &disturbance_sigma),
        settings.reach_km,
    );
    let mut assumptions: Vec<String> =
        model.assumptions().into_iter().map(|assumption| assumption.text).collect();
    assumptions.extend(settings.assumptions());
    Ok(PoleFix {
        hemisphere,
        model: model.provenance().name,
        model_pole: estimate(last, prior.position, prior.sigma_ellipse().holding(0.95)),
        mean_pole: mean.estimate,
        mean_poles,
        instantaneous_poles,
        jacobian_nt_per_km: mean.local_jacobian_nt_per_km,
        jacobian_sigma_nt_per_km,
        jacobian_from: if from_readings { JacobianSource::Readings } else { JacobianSource::Model },
        residuals,
        next_reading,
        assumptions,
    })
}

/// One sigma of what the currents add at a reading, and of what an error of place does.
fn disturbance_sigma(
    site: &Site<'_>,
    hemisphere: Hemisphere,
    steepest_nt_per_km: f64,
    settings: &FixSettings,
) -> f64 {
    let reading = site.reading;
    let currents = if reading.base_nt.is_some() {
        settings.base_residual_nt
    } else {
        settings.disturbance_nt.unwrap_or_else(|| match reading.kp {
            Some(kp) => settings.amplitude.sigma_nt(Kp::nearest(kp), reading.time, hemisphere),
            None => settings.amplitude.usual_sigma_nt(reading.time, hemisphere),
        })
    };
    currents.hypot(reading.position_sigma_km * steepest_nt_per_km).max(LEAST_NT)
}

/// States to begin from.
fn starts(belief: &Belief, sites: &[Site<'_>]) -> Vec<State> {
    let first = State(belief.mean.clone());
    let mut lacking: Vec<[f64; 2]> = sites.iter().filter_map(Site::lacking_nt).collect();
    let mut all = vec![first.clone()];
    if !lacking.is_empty() {
        let middle = lacking.len() / 2;
        let mut second = first;
        for part in 0..2 {
            lacking.sort_by(|a, b| a[part].total_cmp(&b[part]));
            if let (Some(into), Some(found)) = (second.0.get_mut(part), lacking.get(middle)) {
                *into = found[part];
            }
        }
        // Near the pole the currents decide to which side a needle points: one more start gives them
        // the whole of what each reading differs by.
        let mut third = second.clone();
        for (index, site) in sites.iter().enumerate() {
            if let Some(found) = site.lacking_nt() {
                let common = second.horizontal_nt(site.offset_km);
                for part in 0..2 {
                    if let Some(into) = third.0.get_mut(COMMON + 2 * index + part) {
                        *into = found[part] - common[part];
                    }
                }
            }
        }
        all.extend([second, third]);
    }
    all
}

/// What is held of the state before any reading, as a mean and the inverse of a covariance.
struct Belief {
    mean: Vec<f64>,
    precision: Vec<f64>,
}

impl Belief {
    fn new(
        sites: &[Site<'_>],
        common_sigma: [f64; COMMON],
        disturbance_sigma: &[f64],
        settings: &FixSettings,
    ) -> Option<Self> {
        let count = sites.len();
        let size = COMMON + 2 * count;
        let mut mean = vec![0.0; size];
        let mut precision = vec![0.0; size * size];
        for (at, sigma) in common_sigma.into_iter().enumerate() {
            precision[at * size + at] = sigma.powi(-2);
        }
        let correlation_h = settings.disturbance_correlation_h.max(1e-3);
        let mut covariance = vec![0.0; count * count];
        for (i, one) in sites.iter().enumerate() {
            for (j, other) in sites.iter().enumerate() {
                let apart = one.reading.time.as_millisecond() - other.reading.time.as_millisecond();
                let hours = apart.abs() as f64 / 3_600_000.0;
                // Two readings of one moment would make the matrix singular; they differ a little.
                let kept = if i == j { 1.0 } else { 0.9999 * (-hours / correlation_h).exp() };
                covariance[i * count + j] = kept * disturbance_sigma[i] * disturbance_sigma[j];
            }
        }
        let inverse = Cholesky::of(count, covariance)?.inverse();
        for (i, site) in sites.iter().enumerate() {
            if let Some((base, _)) = site.base_nt() {
                mean[COMMON + 2 * i..COMMON + 2 * i + 2].copy_from_slice(&base);
            }
            for j in 0..count {
                for part in 0..2 {
                    let (row, column) = (COMMON + 2 * i + part, COMMON + 2 * j + part);
                    precision[row * size + column] = inverse[i * count + j];
                }
            }
        }
        Some(Self { mean, precision })
    }

    fn loss(&self, sites: &[Site<'_>], state: &State) -> f64 {
        let off: Vec<f64> = state.0.iter().zip(&self.mean).map(|(a, b)| a - b).collect();
        let pull = self.pull(&off);
        let own: f64 = off.iter().zip(pull).map(|(a, b)| 0.5 * a * b).sum();
        let readings: f64 = sites
            .iter()
            .enumerate()
            .flat_map(|(index, site)| site.compare(state, index))
            .map(|one| loss(one.normalised))
            .sum();
        own + readings
    }

    fn pull(&self, off: &[f64]) -> Vec<f64> {
        let rows = self.precision.chunks(off.len().max(1));
        rows.map(|row| row.iter().zip(off).map(|(a, b)| a * b).sum()).collect()
    }

    /// Gauss-Newton, each step halved until it gains.
    fn climb(&self, sites: &[Site<'_>], mut state: State) -> Option<Posterior> {
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
        let covariance = Cholesky::of(size, matrix)?.inverse();
        let first = Posterior { state, loss, covariance };
        let doubt_nt: Vec<f64> = sites
            .iter()
            .enumerate()
            .map(|(index, site)| {
                let [[uu, _], [_, vv]] = first.added_covariance(site.offset_km, Some(index));
                (uu + vv).max(0.0).sqrt()
            })
            .collect();
        let (matrix, _) = self.normal_equations(sites, &first.state, &doubt_nt);
        let covariance = Cholesky::of(size, matrix)?.inverse();
        loss.is_finite().then_some(Posterior { covariance, ..first })
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
                let mut weight = weight(one.normalised);
                if one.element == Element::Declination && *doubt_nt > 0.0 {
                    weight *= (one.horizontal_nt / one.horizontal_nt.hypot(*doubt_nt)).powi(2);
                }
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

    /// One sigma of the horizontal field that a reading like these gives of the mean field.
    fn usual_noise_nt(&self, sites: &[Site<'_>], state: &State, disturbance: &[f64]) -> f64 {
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
}

/// Where the derivatives of one element stand in the state.
fn slopes(one: &Comparison, index: usize) -> [(usize, f64); COMMON + 2] {
    std::array::from_fn(|at| match at.checked_sub(COMMON) {
        None => (at, one.common[at]),
        Some(part) => (COMMON + 2 * index + part, one.own[part]),
    })
}

/// What is held of the state after the readings.
struct Posterior {
    state: State,
    loss: f64,
    covariance: Vec<f64>,
}

impl Posterior {
    fn covariance(&self, row: usize, column: usize) -> f64 {
        self.covariance.get(row * self.state.0.len() + column).copied().unwrap_or(0.0)
    }

    fn common_covariance(&self) -> [[f64; COMMON]; COMMON] {
        std::array::from_fn(|row| std::array::from_fn(|column| self.covariance(row, column)))
    }

    /// Covariance of the field that is added at an offset, d of a reading with it where asked for.
    fn added_covariance(&self, [u, v]: [f64; 2], index: Option<usize>) -> Matrix {
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

/// Finds the poles of a state.
struct Poles<'a> {
    model: &'a dyn MainField,
    plane: TangentPlane,
    height_km: f64,
    posterior: &'a Posterior,
}

struct Found {
    estimate: PoleEstimate,
    offset_km: [f64; 2],
    /// In the plane's axes.
    jacobian_nt_per_km: Matrix,
    /// Toward north and east at the pole.
    local_jacobian_nt_per_km: Matrix,
}

impl Poles<'_> {
    /// The pole at the time of a reading: the mean one, or with the disturbance of the reading.
    fn at(&self, reading: &Reading, index: Option<usize>) -> Result<Option<Found>, Error> {
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

fn estimate(reading: &Reading, position: Position, ellipse_95: Ellipse) -> PoleEstimate {
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
