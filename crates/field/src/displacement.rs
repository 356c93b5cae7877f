//! Where the pole is when a field from outside is added.
//!
//! The added horizontal field b is the same vector everywhere: it is told toward north and east at
//! the undisturbed pole, and carried from there along the shortest arc. The displaced pole is a
//! point where the main field's horizontal part is -b. There may be several, or none: the horizontal
//! field has a greatest strength in every direction, and b may exceed it.
//!
//! *The* displaced pole is the one that the undisturbed pole moves to as b grows from nothing. Its
//! way ends where the Jacobian loses its inverse: there the pole meets a saddle and both vanish. So
//! what is found is a function of b alone, and not of what was asked before.

use dipward_geodesy::Position;
use dipward_plugin::{Error, FieldSample, MainField};

use crate::{
    DipPole,
    dip_pole::{jacobian, site},
    plane_matrix::{Matrix, determinant, solve},
    tangent::TangentPlane,
};

/// Further out than this, in km, a displaced pole is not followed.
pub const FARTHEST_KM: f64 = 4000.0;
/// A solution is good to far less than the last step made, which is at most a tenth of a metre.
const CLOSE_ENOUGH_KM: f64 = 1e-4;
const MOST_STEPS: u32 = 30;
/// The share of b that is added at once is halved at most this often before the pole is given up.
const SMALLEST_SHARE: f64 = 1.0 / 4096.0;

/// A horizontal field and its derivatives: rows are components, columns directions.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct LocalField {
    pub(crate) field_nt: [f64; 2],
    pub(crate) slope_nt_per_km: Matrix,
}

/// The horizontal field about a pole, by offset in the plane that touches the Earth there and in
/// that plane's axes carried along.
pub(crate) trait HorizontalField {
    /// The field at an offset; `None` outside what is covered.
    fn at(&self, offset_km: [f64; 2]) -> Result<Option<LocalField>, Error>;
}

/// How a search for a displaced pole ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Displacement {
    /// At this offset, km.
    At([f64; 2]),
    /// Outside what the field covers.
    Beyond,
    /// The pole vanishes before the whole of b is added.
    Vanished,
}

/// Follows the pole from offset zero as `added_nt` grows from nothing.
pub(crate) fn displacement(
    field: &impl HorizontalField,
    added_nt: [f64; 2],
) -> Result<Displacement, Error> {
    if added_nt == [0.0; 2] {
        return Ok(Displacement::At([0.0; 2]));
    }
    let (mut share, mut at, mut pace) = (0.0, [0.0; 2], 1.0);
    loop {
        let next = f64::min(share + pace, 1.0);
        match newton(field, at, added_nt.map(|part| next * part))? {
            Displacement::At(there) if next == 1.0 => return Ok(Displacement::At(there)),
            Displacement::At(there) => (share, at, pace) = (next, there, 2.0 * pace),
            lost if pace <= SMALLEST_SHARE => return Ok(lost),
            _ => pace *= 0.5,
        }
    }
}

/// The pole at the given added field by Newton's method from where it was at a smaller one.
fn newton(
    field: &impl HorizontalField,
    start_km: [f64; 2],
    added_nt: [f64; 2],
) -> Result<Displacement, Error> {
    let mut at = start_km;
    let mut first: Option<(f64, f64)> = None;
    for _ in 0..MOST_STEPS {
        if square(at) > FARTHEST_KM * FARTHEST_KM {
            return Ok(Displacement::Beyond);
        }
        let Some(LocalField { field_nt, slope_nt_per_km }) = field.at(at)? else {
            return Ok(Displacement::Beyond);
        };
        let residual = [-field_nt[0] - added_nt[0], -field_nt[1] - added_nt[1]];
        let Some(step) = solve(slope_nt_per_km, residual) else {
            return Ok(Displacement::Vanished);
        };
        let length = square(step).sqrt();
        let orientation = determinant(slope_nt_per_km);
        let (expected, began) = *first.get_or_insert((length, orientation));
        at = [at[0] + step[0], at[1] + step[1]];
        // Past a fold lies the saddle's side. And the first step is the linear picture: an answer
        // far from it may be another pole than the one that moved here. Both ask for smaller shares.
        let moved = square([at[0] - start_km[0], at[1] - start_km[1]]).sqrt();
        if orientation * began <= 0.0 || moved > 2.0 * expected + 1.0 {
            return Ok(Displacement::Vanished);
        }
        if length < CLOSE_ENOUGH_KM {
            return Ok(Displacement::At(at));
        }
    }
    Ok(Displacement::Vanished)
}

/// Of a length: lengths here are far from where a square overflows, and `hypot` takes ten times as long.
fn square([u, v]: [f64; 2]) -> f64 {
    u * u + v * v
}

/// The main field itself about a pole.
pub(crate) struct WholeField<'a> {
    pub(crate) model: &'a dyn MainField,
    pub(crate) decimal_year: f64,
    pub(crate) height_km: f64,
    pub(crate) plane: TangentPlane,
}

impl HorizontalField for WholeField<'_> {
    fn at(&self, offset_km: [f64; 2]) -> Result<Option<LocalField>, Error> {
        let there = self.plane.position(offset_km);
        let mut sample = [FieldSample::default()];
        self.model.sample(self.decimal_year, &[site(there, self.height_km)], &mut sample)?;
        let [sample] = sample;
        let turn = self.plane.turn_at(there);
        let slope = jacobian(&sample, &TangentPlane::at(there, self.height_km));
        // The slope is told in north and east at the place; J' = T J T^-1. That an offset is not
        // quite a length far out slows Newton's method a little and does not change its answer.
        let columns = [[1.0, 0.0], [0.0, 1.0]].map(|axis| {
            let [north, east] = turn.undo(axis);
            turn.apply([0, 1].map(|row: usize| slope[row][0] * north + slope[row][1] * east))
        });
        Ok(Some(LocalField {
            field_nt: turn.apply([sample.vector.north_nt, sample.vector.east_nt]),
            slope_nt_per_km: [[columns[0][0], columns[1][0]], [columns[0][1], columns[1][1]]],
        }))
    }
}

/// Where a pole goes when a horizontal field is added, solved on the full field.
///
/// # Arguments
///
/// * `pole`: of the same model.
/// * `north_nt`, `east_nt`: the added field, toward north and east at the pole; carried along the
///   shortest arc from there, so that it is one vector wherever the pole goes.
///
/// # Returns
///
/// The displaced pole; `None` where there is none, because the added field exceeds what the main
/// field can cancel in that direction, or none within [`FARTHEST_KM`].
///
/// # Errors
///
/// Those of the model.
pub fn displaced_pole(
    model: &dyn MainField,
    pole: &DipPole,
    north_nt: f64,
    east_nt: f64,
) -> Result<Option<Position>, Error> {
    let (decimal_year, height_km) = (pole.decimal_year, pole.height_km);
    let plane = TangentPlane::at(pole.position, height_km).isotropic();
    let field = WholeField { model, decimal_year, height_km, plane };
    Ok(match displacement(&field, [north_nt, east_nt])? {
        Displacement::At([0.0, 0.0]) => Some(pole.position),
        Displacement::At(offset_km) => Some(plane.position(offset_km)),
        Displacement::Beyond | Displacement::Vanished => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// U = u, V = v + v^2/100: the pole goes up the v axis until the fold at v = -50, V = -25.
    struct Fold;

    impl HorizontalField for Fold {
        fn at(&self, [u, v]: [f64; 2]) -> Result<Option<LocalField>, Error> {
            Ok((u.abs() <= 1000.0).then_some(LocalField {
                field_nt: [u, v + v * v / 100.0],
                slope_nt_per_km: [[1.0, 0.0], [0.0, 1.0 + v / 50.0]],
            }))
        }
    }

    #[test]
    fn the_pole_is_followed_to_the_fold_and_no_further() {
        let go = |added| displacement(&Fold, added).unwrap();
        assert_eq!(go([0.0, 0.0]), Displacement::At([0.0, 0.0]));
        let Displacement::At([u, v]) = go([-30.0, 24.99]) else { panic!() };
        assert!((u - 30.0).abs() < 1e-9 && (v + 49.0).abs() < 1e-6, "{u} {v}");
        let Displacement::At([_, v]) = go([0.0, -11.0]) else { panic!() };
        assert!((v - 10.0).abs() < 1e-6);
        assert_eq!(go([0.0, 25.01]), Displacement::Vanished);
        assert_eq!(go([0.0, 500.0]), Displacement::Vanished);
        assert_eq!(go([-2000.0, 0.0]), Displacement::Beyond);
    }
}
