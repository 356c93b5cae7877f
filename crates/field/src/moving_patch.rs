//! Patches of the field about a pole that moves, and the displacements solved on them.

use dipward_geodesy::Position;
use dipward_plugin::{Clock, Control, Error, MainField};

use crate::{
    displacement::{Displacement, WholeField, displacement},
    patch::{Cut, DEGREES, Patch},
    tangent::TangentPlane,
};

/// Half of the side of the patch that most displacements stay in, and of the one for storms.
const HALF_WIDTHS_KM: [f64; 2] = [400.0, 1600.0];
/// How far a patch may misplace the pole at most.
const TOLERANCE_KM: f64 = 0.02;
/// Knots in time at most; a field that needs more changes too fast for patches.
const MOST_KNOTS: usize = 33;

/// The mean pole through the hours, each with the plane that its displacements are told in. The
/// first hour's axes are north and east; they are carried along from there, so that a vector that
/// is constant in them does not turn as the pole goes round the geographic pole.
#[derive(Debug)]
pub(crate) struct MeanPath<'a> {
    pub(crate) model: &'a dyn MainField,
    pub(crate) clock: Clock,
    pub(crate) height_km: f64,
    pub(crate) hours: &'a [f64],
    pub(crate) poles: &'a [Position],
    pub(crate) planes: Vec<TangentPlane>,
    /// The lesser steepness of the field at the first pole, nT/km.
    pub(crate) steepness_nt_per_km: f64,
}

impl<'a> MeanPath<'a> {
    fn cut(&self, at: usize) -> Cut<'a> {
        Cut {
            model: self.model,
            decimal_year: self.clock.decimal_year(self.hours[at]),
            height_km: self.height_km,
            plane: self.planes[at],
        }
    }
}

/// A patch that changes with time.
#[derive(Debug)]
struct MovingPatch {
    /// Indices of hours with the patches there, increasing; at least one.
    knots: Vec<(usize, Patch)>,
}

impl MovingPatch {
    /// Patches at as many hours as a straight line in time between them needs; `None` where
    /// neither degree nor knots meet the tolerance.
    fn fit(
        path: &MeanPath<'_>,
        half_width_km: f64,
        control: &Control,
    ) -> Result<Option<Self>, Error> {
        let tolerance_nt = TOLERANCE_KM * path.steepness_nt_per_km;
        let last = path.hours.len() - 1;
        let mut degree = None;
        for candidate in DEGREES {
            control.check()?;
            let cut = path.cut(last / 2);
            let patch = Patch::fit(&cut, half_width_km, candidate)?;
            if patch.worst_nt(&cut)? <= 0.5 * tolerance_nt {
                degree = Some(candidate);
                break;
            }
        }
        let Some(degree) = degree else { return Ok(None) };
        let fit = |at: usize| {
            let cut = path.cut(at);
            let patch = Patch::fit(&cut, half_width_km, degree)?;
            Ok::<_, Error>((patch.worst_nt(&cut)? <= tolerance_nt).then_some((at, patch)))
        };
        let mut knots = Vec::new();
        for end in if last > 0 { vec![0, last] } else { vec![0] } {
            let Some(knot) = fit(end)? else { return Ok(None) };
            knots.push(knot);
        }
        let mut at = 1;
        while at < knots.len() {
            control.check()?;
            let (start, end) = (knots[at - 1].0, knots[at].0);
            let middle = start.midpoint(end);
            let own = Self { knots: knots[at - 1..=at].to_vec() };
            if middle == start || own.at(path, middle).worst_nt(&path.cut(middle))? <= tolerance_nt
            {
                at += 1;
                continue;
            }
            match fit(middle)? {
                Some(knot) if knots.len() < MOST_KNOTS => knots.insert(at, knot),
                _ => return Ok(None),
            }
        }
        Ok(Some(Self { knots }))
    }

    /// The patch at an hour.
    fn at(&self, path: &MeanPath<'_>, index: usize) -> Patch {
        let after = self.knots.partition_point(|knot| knot.0 <= index);
        let (start, before) = &self.knots[after.saturating_sub(1)];
        let Some((end, next)) = self.knots.get(after) else { return before.clone() };
        let hour = |at: usize| path.hours[at];
        let share = (hour(index) - hour(*start)) / (hour(*end) - hour(*start));
        before.blend(next, share)
    }
}

/// Solves displacements of the pole at any of the hours.
#[derive(Debug)]
pub(crate) struct DisplacementSolver<'a> {
    path: MeanPath<'a>,
    /// The small patch at each hour; empty where there is none.
    near: Vec<Patch>,
    far: Option<MovingPatch>,
}

impl<'a> DisplacementSolver<'a> {
    pub(crate) fn new(path: MeanPath<'a>, control: &Control) -> Result<Self, Error> {
        let [near, far] = HALF_WIDTHS_KM;
        let near = MovingPatch::fit(&path, near, control)?.map_or_else(Vec::new, |near| {
            (0..path.hours.len()).map(|index| near.at(&path, index)).collect()
        });
        let far = MovingPatch::fit(&path, far, control)?;
        Ok(Self { path, near, far })
    }

    pub(crate) fn path(&self) -> &MeanPath<'a> {
        &self.path
    }

    /// The displacement by a field told in the axes of the hour's plane, km along those axes; `None`
    /// where there is no displaced pole.
    pub(crate) fn solve(
        &self,
        index: usize,
        added_nt: [f64; 2],
    ) -> Result<Option<[f64; 2]>, Error> {
        if let Some(near) = self.near.get(index)
            && let Displacement::At(offset_km) = displacement(near, added_nt)?
        {
            return Ok(Some(offset_km));
        }
        // A fold within the small patch is looked at again in the large one, since what the step
        // control took for a fold may be the edge.
        if let Some(far) = &self.far {
            match displacement(&far.at(&self.path, index), added_nt)? {
                Displacement::At(offset_km) => return Ok(Some(offset_km)),
                Displacement::Vanished => return Ok(None),
                Displacement::Beyond => {}
            }
        }
        let Cut { model, decimal_year, height_km, plane } = self.path.cut(index);
        let whole = WholeField { model, decimal_year, height_km, plane };
        Ok(match displacement(&whole, added_nt)? {
            Displacement::At(offset_km) => Some(offset_km),
            Displacement::Beyond | Displacement::Vanished => None,
        })
    }
}
