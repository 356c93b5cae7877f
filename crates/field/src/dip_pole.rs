//! Where the field is vertical.
//!
//! Newton's method on the horizontal field over the ellipsoid, or over the surface at a height above
//! it. A step is taken in the plane that touches the ellipsoid at the present point, so neither the
//! meridians nor the geographic poles are in the way.
//!
//! The Jacobian of the horizontal field along the ellipsoid is not the field's gradient: the local
//! axes turn underfoot, and a vertical field of 57,000 nT makes 9 nT/km of that turning:
//!
//! ```text
//!   J_NN = G_NN + Z / M,   J_EE = G_EE + Z / N,   J_NE = J_EN = G_NE
//! ```
//!
//! with M and N the radii of curvature plus the height. The axes' turning about the vertical is left
//! out, because it only mixes components that are zero at the pole.

use dipward_geodesy::{Hemisphere, Position, normalise_course_deg};
use dipward_plugin::{ComponentSigma, Error, FieldSample, FieldSigma, MainField, Site};
use serde::{Deserialize, Serialize};

use crate::{
    Ellipse,
    plane_matrix::{Matrix, determinant, singular_values, solve},
    tangent::TangentPlane,
};

/// A pole is found when the next step would be shorter than this, a tenth of a millimetre.
const CLOSE_ENOUGH_KM: f64 = 1e-7;
/// The longest step; far from a pole the linear picture is not to be trusted further.
const LONGEST_STEP_KM: f64 = 400.0;
/// Enough to come from a quarter of the Earth away; a search that takes longer is going in circles.
const MOST_STEPS: usize = 40;
/// Step of the one-sided differences for the drift: the field of IGRF and WMM is linear in time but for
/// the epochs, and a longer step would more often straddle one.
const DRIFT_STEP_YEARS: f64 = 1e-3;
/// The two sides of the drift are told apart where they differ by more than this share, or this many
/// km a year: above the rounding of a difference over the step, far below any jump at an epoch.
const LEAST_JUMP: f64 = 1e-3;

/// A point of the ellipsoid, or of the surface at a height above it, where the field is vertical.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DipPole {
    /// Where.
    #[serde(with = "place")]
    pub position: Position,
    /// Height above the ellipsoid.
    pub height_km: f64,
    /// When.
    pub decimal_year: f64,
    /// North where the field points down, south where it points up.
    pub hemisphere: Hemisphere,
    /// Z, which is the whole field here: positive at a north dip pole.
    pub vertical_nt: f64,
    /// How the horizontal field grows away from the pole along the surface: rows north and east
    /// component, columns toward north and east. It holds the turning of the local axes.
    pub jacobian_nt_per_km: [[f64; 2]; 2],
    /// Speed at which the pole moves as the field changes.
    pub drift_km_per_year: f64,
    /// True bearing of that motion, 0 to 360 degrees.
    pub drift_bearing_deg: f64,
    /// The motion up to now and from now on, where the two differ: at an epoch of a model that is
    /// straight between epochs the speed jumps.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drift_sides: Option<DriftSides>,
    /// How wrong the model's horizontal field may be here.
    pub sigma: FieldSigma,
}

/// A pole's motion on the two sides of an epoch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DriftSides {
    /// Up to the epoch.
    pub drift_before: Drift,
    /// From the epoch on.
    pub drift_after: Drift,
}

/// How fast a pole moves and where to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Drift {
    /// Its speed.
    pub km_per_year: f64,
    /// The true bearing of its motion, 0 to 360 degrees.
    pub bearing_deg: f64,
}

impl Drift {
    fn along([north, east]: [f64; 2]) -> Self {
        Self {
            km_per_year: north.hypot(east),
            bearing_deg: normalise_course_deg(east.atan2(north).to_degrees()),
        }
    }
}

impl DipPole {
    /// The displacement that an added horizontal field makes, to first order: -J^-1 b.
    ///
    /// Good to 3 % at 100 nT at the poles of the present field; [`crate::displaced_pole`] is exact.
    /// `None` where the Jacobian has no inverse.
    #[must_use]
    pub fn linear_displacement_km(&self, added_nt: [f64; 2]) -> Option<[f64; 2]> {
        solve(self.jacobian_nt_per_km, added_nt.map(|part| -part))
    }

    /// The one-sigma ellipse that a doubt about the horizontal field makes here, to first order.
    #[must_use]
    pub fn ellipse(&self, sigma: ComponentSigma) -> Ellipse {
        let column = |b: [f64; 2]| solve(self.jacobian_nt_per_km, b).unwrap_or([f64::INFINITY; 2]);
        let ([a, c], [b, d]) = (column([sigma.north_nt, 0.0]), column([0.0, sigma.east_nt]));
        let ne = a * c + b * d;
        Ellipse::of_covariance([[a * a + b * b, ne], [ne, c * c + d * d]])
    }

    /// The one-sigma ellipse of the model's doubt in all.
    #[must_use]
    pub fn sigma_ellipse(&self) -> Ellipse {
        self.ellipse(self.sigma.total())
    }

    /// Whether the field converges from two sides and diverges from the others: such a point is
    /// vertical too, and every one of them comes with one more proper pole.
    #[must_use]
    pub fn is_saddle(&self) -> bool {
        determinant(self.jacobian_nt_per_km) < 0.0
    }

    /// The larger and the smaller singular value of the Jacobian, nT/km.
    #[must_use]
    pub fn steepness_nt_per_km(&self) -> [f64; 2] {
        singular_values(self.jacobian_nt_per_km)
    }
}

/// Writes a position as its latitude and longitude by name.
mod place {
    use dipward_geodesy::{Position, position};
    use serde::{Deserialize, Deserializer, Serialize, Serializer};

    #[derive(Serialize, Deserialize)]
    struct Place {
        latitude_deg: f64,
        longitude_deg: f64,
    }

    pub(super) fn serialize<S: Serializer>(at: &Position, to: S) -> Result<S::Ok, S::Error> {
        Place { latitude_deg: at.y(), longitude_deg: at.x() }.serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Position, D::Error> {
        Place::deserialize(from).map(|at| position(at.latitude_deg, at.longitude_deg))
    }
}

/// The dip pole nearest by Newton's method to a guess.
///
/// # Arguments
///
/// * `guess`: where to begin; from within some hundred km the nearest pole is found, from afar one
///   pole or another.
/// * `height_km`: above the ellipsoid.
///
/// # Errors
///
/// [`Error::Outside`] for a year or height that the model does not answer for; [`Error::Unsolved`]
/// where the steps do not settle.
pub fn dip_pole_near(
    model: &dyn MainField,
    guess: Position,
    decimal_year: f64,
    height_km: f64,
) -> Result<DipPole, Error> {
    let mut search = Search::new(vec![guess], height_km);
    search.run(model, decimal_year)?;
    match search.found().next() {
        Some((position, sample)) => finish(model, position, sample, decimal_year, height_km),
        None => Err(Error::Unsolved(format!(
            "no dip pole of {} is found from {:.3}, {:.3} at {decimal_year:.3}",
            model.provenance().name,
            guess.y(),
            guess.x()
        ))),
    }
}

/// The Jacobian of the horizontal field along the surface at a sample's site.
pub(crate) fn jacobian(sample: &FieldSample, plane: &TangentPlane) -> Matrix {
    let g = sample.gradient_nt_per_km;
    let z = sample.vector.down_nt;
    let [along, across] = plane.radii_km();
    [[g[0][0] + z / along, g[0][1]], [g[1][0], g[1][1] + z / across]]
}

pub(crate) fn site(at: Position, height_km: f64) -> Site {
    Site { latitude_deg: at.y(), longitude_deg: at.x(), height_km }
}

/// A Newton step from a site; `None` where the Jacobian has no inverse.
pub(crate) fn newton_step_km(sample: &FieldSample, plane: &TangentPlane) -> Option<[f64; 2]> {
    let horizontal = [-sample.vector.north_nt, -sample.vector.east_nt];
    let [north, east] = solve(jacobian(sample, plane), horizontal)?;
    let length = north.hypot(east);
    let scale = if length > LONGEST_STEP_KM { LONGEST_STEP_KM / length } else { 1.0 };
    Some([north * scale, east * scale])
}

/// Newton's method from many starts at once, so that the model sees batches.
pub(crate) struct Search {
    height_km: f64,
    at: Vec<Position>,
    samples: Vec<FieldSample>,
    state: Vec<State>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum State {
    Going,
    Found,
    Lost,
}

impl Search {
    pub(crate) fn new(starts: Vec<Position>, height_km: f64) -> Self {
        let count = starts.len();
        Self {
            height_km,
            at: starts,
            samples: vec![FieldSample::default(); count],
            state: vec![State::Going; count],
        }
    }

    pub(crate) fn run(&mut self, model: &dyn MainField, decimal_year: f64) -> Result<(), Error> {
        for _ in 0..MOST_STEPS {
            let going: Vec<usize> =
                (0..self.at.len()).filter(|&start| self.state[start] == State::Going).collect();
            if going.is_empty() {
                break;
            }
            let sites: Vec<Site> =
                going.iter().map(|&start| site(self.at[start], self.height_km)).collect();
            let mut samples = vec![FieldSample::default(); sites.len()];
            model.sample(decimal_year, &sites, &mut samples)?;
            for (&start, sample) in going.iter().zip(samples) {
                self.step(start, sample);
            }
        }
        Ok(())
    }

    fn step(&mut self, start: usize, sample: FieldSample) {
        let plane = TangentPlane::at(self.at[start], self.height_km);
        let Some(step) = newton_step_km(&sample, &plane) else {
            self.state[start] = State::Lost;
            return;
        };
        self.samples[start] = sample;
        self.at[start] = plane.position(step);
        if step[0].hypot(step[1]) < CLOSE_ENOUGH_KM {
            self.state[start] = State::Found;
        }
    }

    /// The ends of the searches that settled, with the sample of the last point before.
    pub(crate) fn found(&self) -> impl Iterator<Item = (Position, FieldSample)> {
        let all = self.at.iter().zip(&self.samples).zip(&self.state);
        all.filter(|(_, state)| **state == State::Found).map(|((at, sample), _)| (*at, *sample))
    }
}

/// Describes a pole that was found, with its drift and its doubt.
pub(crate) fn finish(
    model: &dyn MainField,
    position: Position,
    sample: FieldSample,
    decimal_year: f64,
    height_km: f64,
) -> Result<DipPole, Error> {
    let plane = TangentPlane::at(position, height_km);
    let jacobian_nt_per_km = jacobian(&sample, &plane);
    let [before, after] =
        velocities_km_per_year(model, position, &jacobian_nt_per_km, decimal_year, height_km)?;
    // The change is the one ahead, and the one behind at the end of the model's years.
    let drift = Drift::along(after.or(before).unwrap_or_default());
    let jump = before.zip(after).filter(|(before, after)| {
        let apart = (before[0] - after[0]).hypot(before[1] - after[1]);
        apart > LEAST_JUMP * drift.km_per_year.max(1.0)
    });
    let drift_sides = jump.map(|(before, after)| DriftSides {
        drift_before: Drift::along(before),
        drift_after: Drift::along(after),
    });
    let z = sample.vector.down_nt;
    let hemisphere = if z >= 0.0 { Hemisphere::North } else { Hemisphere::South };
    Ok(DipPole {
        position,
        height_km,
        decimal_year,
        hemisphere,
        vertical_nt: z,
        jacobian_nt_per_km,
        drift_km_per_year: drift.km_per_year,
        drift_bearing_deg: drift.bearing_deg,
        drift_sides,
        sigma: model.sigma(decimal_year, hemisphere),
    })
}

/// The pole's velocity toward north and east on the two sides of an instant: -J^-1 times the change of
/// the horizontal field. `None` on a side where the model has no year.
fn velocities_km_per_year(
    model: &dyn MainField,
    position: Position,
    jacobian: &Matrix,
    decimal_year: f64,
    height_km: f64,
) -> Result<[Option<[f64; 2]>; 2], Error> {
    let years = model.years();
    let field = |year| {
        let mut out = [FieldSample::default()];
        model.sample(year, &[site(position, height_km)], &mut out)?;
        Ok::<_, Error>([out[0].vector.north_nt, out[0].vector.east_nt])
    };
    let now = field(decimal_year)?;
    let velocity = |year: f64| {
        let step = year - decimal_year;
        if step == 0.0 || !years.contains(&year) {
            return Ok(None);
        }
        let then = field(year)?;
        let change = [0, 1].map(|part| (now[part] - then[part]) / step);
        Ok::<_, Error>(Some(solve(*jacobian, change).unwrap_or_default()))
    };
    Ok([velocity(decimal_year - DRIFT_STEP_YEARS)?, velocity(decimal_year + DRIFT_STEP_YEARS)?])
}
