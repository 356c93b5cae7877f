//! A route sailed again at its own settings, for what it passes on the way.

use dipward_geodesy::interpolate;
use dipward_plugin::RoutePoint;

use crate::{
    heading::Heading,
    passage::{Leg, Medium, Passage, sail},
    world::World,
};

/// The table at one power setting, whatever it costs.
pub(crate) struct AtSetting<'w, 't> {
    world: &'w World<'t>,
    setting: usize,
}

impl<'w, 't> AtSetting<'w, 't> {
    /// Nothing for a setting that the table does not have.
    pub(crate) fn new(world: &'w World<'t>, setting: usize) -> Option<Self> {
        (setting < world.table.settings).then_some(Self { world, setting })
    }
}

impl Medium for AtSetting<'_, '_> {
    fn world(&self) -> &World<'_> {
        self.world
    }

    fn padded(&self, cell: u32) -> u32 {
        self.world.padded(cell)
    }

    fn leg(&self, cell: u32, interval: usize, heading: Heading) -> Leg {
        self.world.leg_at(self.setting, cell as usize, interval, heading)
    }
}

impl World<'_> {
    /// The points of a route with more in between, no further apart than a distance, each at its own
    /// hour: every leg is sailed at the setting that its first point tells, from the hour that it tells.
    ///
    /// Nothing where a leg leaves the grid, is closed at its hours, is at a setting that the table does
    /// not have, or does not take the hours that its points tell.
    #[must_use]
    pub fn retrace(&self, points: &[RoutePoint], apart_km: f64) -> Option<Vec<RoutePoint>> {
        let mut out = Vec::with_capacity(points.len());
        for leg in points.windows(2) {
            let &[from, to] = leg else { continue };
            out.push(from);
            if from.position == to.position {
                continue;
            }
            let medium = AtSetting::new(self, from.setting)?;
            let whole_km = dipward_geodesy::distance_km(from.position, to.position);
            let parts = (whole_km / apart_km).ceil().clamp(1.0, MOST_PARTS) as u32;
            let mut at = from;
            for part in 1..=parts {
                let share = f64::from(part) / f64::from(parts);
                let end = if part == parts {
                    to.position
                } else {
                    interpolate(from.position, to.position, share)
                };
                let line = self.line(at.position, end)?;
                let passage = sail(&medium, &line.pieces, &line.heading, at.hour, None);
                let Passage::Arrived { hour, fuel_t } = passage else { return None };
                let fuel_used_t = at.fuel_used_t + fuel_t;
                at = RoutePoint { position: end, hour, fuel_used_t, ..from };
                if part < parts {
                    out.push(at);
                }
            }
            // Parts of a geodesic are cut at the cells a little otherwise than the whole.
            if (at.hour - to.hour).abs() > 0.01 * (1.0 + to.hour - from.hour) {
                return None;
            }
        }
        out.extend(points.last());
        Some(out)
    }
}

/// Points on one leg at most.
const MOST_PARTS: f64 = 10_000.0;
