//! What a ship does among ice of land origin: bergs, bergy bits and growlers.
//!
//! POLARIS gives it no value, so that no risk index makes it normal operation. The chart tells how much
//! of it there is (`land_ice`) and how far the nearest charted berg is off (`berg_distance`); the ship
//! keeps clear of much of it, goes slowly through a little, and passes bergs at a distance by the view
//! that she has.

use dipward_plugin::{Closure, Error, Quantity, Travel};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    IcebreakerSpec,
    cells::{Columns, value},
};
use crate::SUN_ALTITUDE;

/// What a ship does among ice of land origin. The speeds, the distances and the tenth are a choice of
/// this program, on what is said of practice from memory: rules give none.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct LandIceRules {
    /// Concentration of ice of land origin from which a cell is closed. Bergy water has less than a
    /// tenth; 0 closes it too.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub closed_from: f64,
    /// Greatest speed among less of it in a good view.
    #[schemars(range(min = 0.5, max = 50.0))]
    pub speed_kn: f64,
    /// Greatest speed among less of it in a poor view.
    #[schemars(range(min = 0.5, max = 50.0))]
    pub poor_view_speed_kn: f64,
    /// How many of the berths that a charted berg has in a good view (1 there) are kept in a poor one.
    #[schemars(range(min = 1.0, max = 4.0))]
    pub poor_view_berths: f64,
    /// What view the ship has.
    pub view: LandIceView,
    /// Least visibility of a good view.
    #[schemars(range(min = 0.1, max = 50.0))]
    pub good_visibility_km: f64,
    /// The view is poor in waves above this: radar loses growlers in them at 1 to 1.5 m (from memory).
    #[schemars(range(min = 0.0, max = 20.0))]
    pub clutter_wave_m: f64,
}

/// What view a ship has of ice of land origin.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum LandIceView {
    /// Never good: no radar is sure of a growler.
    #[default]
    Poor,
    /// Good where the chart's `sun_altitude` and `visibility` both say so (not by night, which the ship's
    /// `weather` tells apart) and its `wave_height` does not say otherwise.
    Charted,
    /// Always good.
    Good,
}

impl Default for LandIceRules {
    fn default() -> Self {
        Self {
            closed_from: 0.1,
            speed_kn: 6.0,
            poor_view_speed_kn: 3.0,
            poor_view_berths: 2.0,
            view: LandIceView::Poor,
            good_visibility_km: 5.0,
            clutter_wave_m: 1.0,
        }
    }
}

impl LandIceRules {
    /// The quantities that the rules want.
    pub(super) fn reads(&self) -> Vec<Quantity> {
        let mut reads = vec![Quantity::LAND_ICE, Quantity::BERG_DISTANCE];
        if self.view == LandIceView::Charted {
            reads.extend([SUN_ALTITUDE, Quantity::VISIBILITY, Quantity::WAVE_HEIGHT]);
        }
        reads
    }

    /// A view that the chart tells nothing of would silently be a poor one.
    pub(super) fn check_columns(&self, columns: &Columns<'_>) -> Result<(), Error> {
        let told = columns.sun_altitude.is_some() && columns.visibility.is_some();
        if self.view == LandIceView::Charted && !told {
            return Err(Error::Outside(
                "the ship's `land_ice.view: charted` wants `sun_altitude` and `visibility`, and the \
                 chart has not both: add the layer `sunlight` and a layer of visibility"
                    .to_owned(),
            ));
        }
        Ok(())
    }

    /// What the rules take for granted.
    pub(super) fn assumption(&self) -> String {
        let view = match self.view {
            LandIceView::Poor => "the view is taken for poor".to_owned(),
            LandIceView::Charted => format!(
                "the view is poor by night, in under {} km of visibility and in waves over {} m, and \
                 where the chart does not tell",
                self.good_visibility_km, self.clutter_wave_m
            ),
            LandIceView::Good => "the view is stated to be good".to_owned(),
        };
        format!(
            "ice of land origin, which POLARIS gives no value, is never normal operation: its tenths \
             count as heavy multi-year ice, cells with {:.0} % of it or more are closed, in less the \
             ship makes at most {} kn, {} kn in a poor view, and keeps 1 berth off a charted berg, {} in \
             a poor view; {view}. Where the chart tells of none there is taken to be none",
            100.0 * self.closed_from,
            self.speed_kn,
            self.poor_view_speed_kn,
            self.poor_view_berths
        )
    }
}

/// The rules for one batch of cells.
pub(super) struct LandIce<'a> {
    rules: &'a LandIceRules,
    night_below_deg: f64,
    concentration: Option<&'a [f32]>,
    distance: Option<&'a [f32]>,
    limits_kn: Vec<f32>,
}

impl<'a> LandIce<'a> {
    /// Nothing where the chart tells of no such ice.
    pub(super) fn of(
        spec: &'a IcebreakerSpec,
        columns: &Columns<'a>,
        cells: usize,
    ) -> Option<Self> {
        if columns.land_ice.is_none() && columns.berg_distance.is_none() {
            return None;
        }
        let mut own = Self {
            rules: &spec.land_ice,
            night_below_deg: spec.weather.night_below_deg,
            concentration: columns.land_ice,
            distance: columns.berg_distance,
            limits_kn: Vec::with_capacity(cells),
        };
        for index in 0..cells {
            let charted_kn = value(columns.speed_limit, index);
            let limit_kn = if own.among(index) {
                let good = own.view_is_good(columns, index);
                let own_kn = if good { own.rules.speed_kn } else { own.rules.poor_view_speed_kn };
                // `min` passes over a limit that is not a number.
                (own_kn as f32).min(charted_kn)
            } else {
                charted_kn
            };
            own.limits_kn.push(limit_kn);
        }
        Some(own)
    }

    /// The speed limits of the chart and of the rules.
    pub(super) fn limits_kn(&self) -> &[f32] {
        &self.limits_kn
    }

    /// A cell's answer with what ice of land origin makes of it.
    pub(super) fn marked(&self, columns: &Columns<'_>, index: usize, travel: Travel) -> Travel {
        if travel.closure != Closure::Open {
            return travel;
        }
        let among = self.among(index);
        let much = among && f64::from(value(self.concentration, index)) >= self.rules.closed_from;
        // False for a distance that is not a number: there is no berg near.
        let near = f64::from(value(self.distance, index)) < self.berths(columns, index);
        if much || near {
            return Travel::closed(Closure::LandIce, travel.risk_index);
        }
        Travel { elevated: travel.elevated || among, ..travel }
    }

    fn among(&self, index: usize) -> bool {
        value(self.concentration, index) > 0.0
    }

    fn berths(&self, columns: &Columns<'_>, index: usize) -> f64 {
        if self.distance.is_none() || self.view_is_good(columns, index) {
            1.0
        } else {
            self.rules.poor_view_berths
        }
    }

    fn view_is_good(&self, columns: &Columns<'_>, index: usize) -> bool {
        let at = |column| f64::from(value(column, index));
        match self.rules.view {
            LandIceView::Poor => false,
            LandIceView::Good => true,
            // Comparisons are false for what is not known, and the waves need not be.
            LandIceView::Charted => {
                let clutter = at(columns.wave_height) > self.rules.clutter_wave_m;
                at(columns.sun_altitude) >= self.night_below_deg
                    && at(columns.visibility) >= self.rules.good_visibility_km
                    && !clutter
            }
        }
    }
}
