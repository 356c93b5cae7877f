//! Readings as straight pieces: what each element would be for a state, and how it changes with it.

use dipward_plugin::{Error, FieldSample, FieldVector, MainField};

use super::{
    bias::{COMMON, State},
    reading::{Element, Measured, Reading},
};
use crate::{
    dip_pole::site,
    tangent::{TangentPlane, Turn},
};

/// A reading with what the model says of its place.
#[derive(Debug, Clone)]
pub(super) struct Site<'a> {
    pub(super) reading: &'a Reading,
    /// From the model's pole, in the plane's axes.
    pub(super) offset_km: [f64; 2],
    pub(super) turn: Turn,
    model: FieldVector,
}

/// One element of one reading against a state.
#[derive(Debug, Clone, Copy)]
pub(super) struct Comparison {
    pub(super) element: Element,
    pub(super) measured: Measured,
    pub(super) expected: f64,
    /// `(measured - expected) / sigma`.
    pub(super) normalised: f64,
    /// Derivatives of the expected value over sigma: by the common part of the state, and by the
    /// reading's own disturbance.
    pub(super) common: [f64; COMMON],
    pub(super) own: [f64; 2],
    /// H that the state makes here.
    pub(super) horizontal_nt: f64,
}

impl<'a> Site<'a> {
    pub(super) fn of(
        model: &dyn MainField,
        plane: &TangentPlane,
        reading: &'a Reading,
    ) -> Result<Self, Error> {
        let year = dipward_plugin::Clock::decimal_year_of(reading.time);
        let mut out = [FieldSample::default()];
        model.sample(year, &[site(reading.position, reading.height_km)], &mut out)?;
        let [sample] = out;
        Ok(Self {
            reading,
            offset_km: plane.offset_km(reading.position),
            turn: plane.turn_at(reading.position),
            model: sample.vector,
        })
    }

    /// What the base station read, in the plane's axes, and down.
    pub(super) fn base_nt(&self) -> Option<([f64; 2], f64)> {
        self.reading.base_nt.map(|[x, y, z]| (self.turn.apply([x, y]), z))
    }

    /// The horizontal vector in the plane's axes that the model lacks by this reading alone, where
    /// the reading has a bearing and a size.
    pub(super) fn lacking_nt(&self) -> Option<[f64; 2]> {
        let horizontal = self.reading.horizontal_nt(self.model.down_nt)?;
        let [x, y] = [horizontal[0] - self.model.north_nt, horizontal[1] - self.model.east_nt];
        Some(self.turn.apply([x, y]))
    }

    /// What a state adds to the field here, toward north, east and down; straight in the state.
    pub(super) fn added_nt(&self, state: &State, index: usize) -> [f64; 3] {
        let [u, v] = state.horizontal_nt(self.offset_km);
        let [du, dv] = state.disturbance_nt(index);
        let [x, y] = self.turn.undo([u + du, v + dv]);
        [x, y, state.down_nt()]
    }

    /// The field that a state makes here.
    pub(super) fn field(&self, state: &State, index: usize) -> FieldVector {
        let [x, y, z] = self.added_nt(state, index);
        let base_down = self.reading.base_nt.map_or(0.0, |[_, _, z]| z);
        FieldVector {
            north_nt: self.model.north_nt + x,
            east_nt: self.model.east_nt + y,
            down_nt: self.model.down_nt + z + base_down,
        }
    }

    /// All elements of the reading against a state.
    pub(super) fn compare(
        &self,
        state: &State,
        index: usize,
    ) -> impl Iterator<Item = Comparison> + use<'_> {
        let field = self.field(state, index);
        let [u, v] = self.offset_km;
        let turn = self.turn;
        self.reading.elements.iter().map(move |(&element, &measured)| {
            let expected = element.of(&field);
            let [by_x, by_y, by_z] = element.slopes(&field).map(|slope| slope / measured.sigma);
            let own = turn.apply([by_x, by_y]);
            let [a, b] = own;
            Comparison {
                element,
                measured,
                expected,
                normalised: element.difference(measured.value, expected) / measured.sigma,
                common: [a, b, by_z, a * u, a * v + b * u, b * v],
                own,
                horizontal_nt: field.horizontal_nt(),
            }
        })
    }
}
