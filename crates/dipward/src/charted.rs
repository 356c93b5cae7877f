//! A scenario's chart by itself: no ensemble of the pole, no paces, every quantity.

use dipward_chart::{Chart, NamedLayer};
use dipward_field::{dip_pole, dip_pole_near};
use dipward_geodesy::Position;
use dipward_plugin::{Control, Quantity};

use crate::{
    PlanError,
    scenario::Scenario,
    world::{layer_names, make_grid},
};

/// The chart of a scenario with every quantity that its layers give.
#[derive(Debug)]
pub struct Charted {
    /// The chart.
    pub chart: Chart,
    /// The mean dip pole at the start and at the end of the window.
    pub poles: [Position; 2],
}

impl Charted {
    /// Lays the chart, on the same grid as a plan would.
    ///
    /// # Errors
    ///
    /// [`PlanError::Faults`] where no grid can be laid; [`PlanError::Error`] for what the main field and
    /// the layers say.
    pub fn lay(scenario: &Scenario, control: &Control) -> Result<Self, PlanError> {
        let pole = &scenario.keys.pole;
        let model = scenario.model.object.as_ref();
        let year = |hour: f64| scenario.clock.decimal_year(hour);
        let first = dip_pole(model, pole.hemisphere, year(0.0), pole.height_km)?.position;
        // As the tracks of a plan, which end with the whole hour after the window's end.
        let end = year(scenario.window_hours.ceil());
        let last = dip_pole_near(model, first, end, pole.height_km)?.position;
        let grid = make_grid(scenario, &[first, last])?;
        let names = layer_names(scenario);
        let layers: Vec<NamedLayer<'_>> = names
            .iter()
            .zip(&scenario.layers)
            .map(|(name, built)| NamedLayer { name, layer: built.object.as_ref() })
            .collect();
        let mut wanted: Vec<Quantity> = Vec::new();
        for quantity in scenario.layers.iter().flat_map(|built| built.object.quantities()) {
            if !wanted.contains(&quantity) {
                wanted.push(quantity);
            }
        }
        let (clock, window) = (scenario.clock, scenario.window_hours);
        let chart = Chart::lay(grid, clock, window, &layers, &wanted, control)?;
        Ok(Self { chart, poles: [first, last] })
    }

    /// The mean pole at an hour of the window; between its ends it moves evenly, which over two years is
    /// right to a kilometre.
    #[must_use]
    pub fn mean_pole(&self, hour: f64) -> Position {
        let share = (hour / self.chart.window_hours().max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
        let grid = self.chart.grid();
        let [from, to] = self.poles.map(|pole| grid.coord(pole));
        grid.position(from + (to - from) * share)
    }
}

/// The quantities that tell how far a quantity is to be doubted.
#[must_use]
pub fn doubt_of(quantity: Quantity) -> &'static [&'static str] {
    if quantity == Quantity::ELEVATION {
        &["depth_doubt"]
    } else if quantity == Quantity::ICE_CONCENTRATION {
        &["ice_concentration_sigma", "ice_concentration_spread"]
    } else if quantity == Quantity::ICE_THICKNESS {
        &["ice_thickness_sigma"]
    } else {
        &[]
    }
}
