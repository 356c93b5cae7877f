//! A craft on station, lived hour by hour: from the arrival, or from any hour on.

use std::ops::RangeInclusive;

use dipward_plugin::{Action, OffsetKm};

use crate::{
    station::{Station, length, less},
    stay::Outcome,
};

/// A craft on station at a whole hour, and what has become of its stay by then.
///
/// Nothing else of what has been bears on what comes: a stay that is lived on from here ends as the whole.
#[derive(Debug, Clone, PartialEq)]
pub struct OnStation {
    /// The whole hour that it has come to, from the window's start.
    pub hour: usize,
    /// Where it is.
    pub craft_km: OffsetKm,
    /// What it has left of the fuel for moving about.
    pub fuel_t: f64,
    /// Where it was an hour before.
    before_km: OffsetKm,
    /// For how many whole hours on end the pole has been within reach.
    run: usize,
    /// Whether it has left before the end of the stay.
    left: bool,
    pub(crate) outcome: Outcome,
}

impl Station<'_> {
    /// A craft that arrives at the mean pole at a whole hour.
    #[must_use]
    pub fn arrives(&self, hour: usize) -> OnStation {
        OnStation {
            hour,
            craft_km: [0.0; 2],
            fuel_t: self.chase_fuel_t,
            before_km: [0.0; 2],
            run: 0,
            left: false,
            outcome: Outcome::new(),
        }
    }

    /// Lives a stay on, from the hour that a craft has come to.
    ///
    /// # Arguments
    ///
    /// The member of the ensemble; the whole hours of the stay, its two ends included; the last hour that is lived.
    pub fn live(
        &self,
        member: usize,
        stay: &RangeInclusive<usize>,
        craft: &mut OnStation,
        until: usize,
    ) {
        while craft.hour <= until.min(*stay.end()) && !craft.left {
            self.look(member, stay, craft);
            self.act(member, stay, craft);
        }
    }

    /// What an hour brings where the craft is.
    fn look(&self, member: usize, stay: &RangeInclusive<usize>, craft: &mut OnStation) {
        let (hour, within_km) = (craft.hour, self.measure.within_km);
        let outcome = &mut craft.outcome;
        let pole_km = self.tracks.offset_km(member, hour);
        let distance_km = pole_km.map_or(f64::INFINITY, |pole| length(less(pole, craft.craft_km)));
        outcome.closest_km = outcome.closest_km.min(distance_km);
        outcome.served_h = hour - stay.start();
        // Shut in by ice that closed over it, the craft is not at the pole on its own terms.
        let within = distance_km <= within_km && self.is_open(hour, craft.craft_km);
        // Each whole hour stands for the one that follows it; the last has none to follow.
        outcome.within_h += usize::from(within && hour < *stay.end());
        let way = [craft.before_km, craft.craft_km];
        let kept =
            hour > *stay.start() && self.tracks.keeps_within(member, hour - 1, way, within_km);
        craft.run = self.measure.longer(craft.run, within, kept);
        if craft.run >= self.measure.whole_hours() {
            outcome.attained_at.get_or_insert(hour);
        }
    }

    /// What the craft does within the hour, and where it then is.
    fn act(&self, member: usize, stay: &RangeInclusive<usize>, craft: &mut OnStation) {
        let OnStation { hour, craft_km, fuel_t, .. } = *craft;
        let pole_km = self.tracks.offset_km(member, hour);
        let reach_km = match self.chart {
            Some(chart) => self.left_h(hour) * chart.reach_km(hour, craft_km),
            None => self.pace(hour, fuel_t).0,
        };
        let known = self.knowledge(member, hour, stay.clone(), craft_km, pole_km, reach_km);
        let toward = |aim_km| self.sail(craft_km, aim_km, hour, fuel_t);
        let moved = match self.policy.act(&known) {
            Action::Hold => (craft_km, fuel_t),
            Action::MakeFor(aim_km) => toward(aim_km),
            Action::Drift => (self.carried(hour, craft_km), fuel_t),
            Action::Leave => {
                craft.left = true;
                return;
            }
        };
        // As the policy wants while the way back stays open, else waiting, else back; and where the chart closes
        // over all three, off to the nearest place that stays open.
        let lies = |(to_km, _): (OffsetKm, f64)| self.is_open(hour + 1, to_km);
        let returns = |moved: (OffsetKm, f64)| {
            lies(moved) && self.leads_back(moved.0, hour + 1..*stay.end(), moved.1)
        };
        let back = || toward([0.0; 2]);
        craft.before_km = craft_km;
        craft.hour = hour + 1;
        (craft.craft_km, craft.fuel_t) = [moved, (craft_km, fuel_t)]
            .into_iter()
            .find(|&moved| returns(moved))
            .or_else(|| Some(back()).filter(|&moved| lies(moved)))
            .or_else(|| self.off(craft_km, hour, fuel_t))
            .unwrap_or_else(back);
    }
}
