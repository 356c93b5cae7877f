//! The pole by one vector and a model's Jacobian.

use dipward_geodesy::Position;
use dipward_plugin::{Error, FieldSample, MainField};

use crate::{
    dip_pole::{jacobian, site},
    plane_matrix::solve,
    tangent::TangentPlane,
};

/// The pole in one straight step: the place less J^-1 H, with the model's Jacobian J at the place and
/// the measured horizontal field H.
///
/// What a party can do on paper; [`super::fix_pole`] is better in every case. Without noise the step
/// ends 0.6 km from the north dip pole on average where it begins 50 km away, 2.3 km from 100 and 9
/// km from 200; in the south 0.08, 0.3 and 1.3 km (computed for this library, 2027, IGRF-14).
///
/// # Arguments
///
/// `horizontal_nt`: measured toward true north and east.
///
/// # Errors
///
/// What the model says of the year and the place; [`Error::Unsolved`] where the Jacobian has no
/// inverse.
pub fn straight_fix(
    model: &dyn MainField,
    place: Position,
    height_km: f64,
    decimal_year: f64,
    horizontal_nt: [f64; 2],
) -> Result<Position, Error> {
    let mut out = [FieldSample::default()];
    model.sample(decimal_year, &[site(place, height_km)], &mut out)?;
    let plane = TangentPlane::at(place, height_km);
    let step = solve(jacobian(&out[0], &plane), horizontal_nt.map(|part| -part));
    let step = step.ok_or_else(|| {
        Error::Unsolved("the horizontal field does not grow from any pole here".into())
    })?;
    Ok(plane.position(step))
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{
        Hemisphere::{North, South},
        geodesic,
    };

    use super::*;
    use crate::{dip_pole, igrf14};

    /// Computed for this project with another program, not published.
    #[test]
    fn one_step_ends_as_near_as_it_is_said_to() {
        let model = igrf14().unwrap();
        for (hemisphere, all) in [
            (North, [(50.0, 0.6), (100.0, 2.3), (200.0, 9.0)]),
            (South, [(50.0, 0.08), (100.0, 0.3), (200.0, 1.3)]),
        ] {
            let pole = dip_pole(&model, hemisphere, 2027.0, 0.0).unwrap().position;
            for (km, expected) in all {
                let sum: f64 = (0..72)
                    .map(|at| {
                        let place = geodesic::direct(pole, 5.0 * f64::from(at), km).position;
                        let mut out = [FieldSample::default()];
                        model.sample(2027.0, &[site(place, 0.0)], &mut out).unwrap();
                        let field = [out[0].vector.north_nt, out[0].vector.east_nt];
                        let found = straight_fix(&model, place, 0.0, 2027.0, field).unwrap();
                        geodesic::distance_km(found, pole)
                    })
                    .sum();
                let mean = sum / 72.0;
                println!("{hemisphere} {km} km off: {mean:.3} km");
                assert!(mean < 1.1 * expected, "{hemisphere} {km}: {mean}");
            }
        }
    }
}
