//! `constant`: quantities of one value, everywhere or in a part of the chart, always or for a time.

use std::collections::BTreeMap;
use std::ops::Range;

use dipward_geodesy::Cell;
use dipward_plugin::{
    Assumption, Beyond, BuildContext, Change, Control, Error, Fault, Faults, Ground, Laid, Layer,
    LayerPoint, Provenance, Quantity, Spec,
};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    Extent,
    schedule::Schedule,
    scheduled::{Scheduled, Show},
};
use crate::codes::{IceRegime, Stage};

/// Quantities of one value.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ConstantSpec {
    /// Values by the quantity's name, in its unit.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    values: BTreeMap<String, f32>,
    /// Ice of one stage: gives concentration, thickness and all partial concentrations at once.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    ice: Option<UniformIce>,
    /// Where it holds; without it, everywhere. A cell is inside when its centre is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    inside: Option<Extent>,
    /// From when it holds; without it, from ever.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    from: Option<Timestamp>,
    /// Until when it holds; without it, for ever.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    until: Option<Timestamp>,
}

/// Ice of one stage.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct UniformIce {
    /// Total concentration; 0 is open water.
    #[schemars(range(min = 0.0, max = 1.0))]
    concentration: f32,
    /// Stage of development; needed where there is ice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    stage: Option<Stage>,
    /// Thickness; without it, that of the stage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 50.0), extend("exclusiveMinimum" = 0))]
    thickness_m: Option<f32>,
}

/// The quantities that a constant may give, each with the range that its values may have.
const KNOWN: [(Quantity, f32, f32); 23] = [
    (Quantity::LAND, 0.0, 1.0),
    (Quantity::SHELF, 0.0, 1.0),
    (Quantity::ELEVATION, -12_000.0, 9_000.0),
    (Quantity::DEPTH_DOUBT, 1.0, 1e6),
    (Quantity::SURFACE_HEIGHT, -12_000.0, 9_000.0),
    (Quantity::ICE_CONCENTRATION, 0.0, 1.0),
    (Quantity::ICE_THICKNESS, 0.0, 50.0),
    (Quantity::ICE_VOLUME_PER_AREA, 0.0, 50.0),
    (Quantity::ICE_MELTING, 0.0, 1.0),
    (Quantity::LAND_ICE, 0.0, 1.0),
    (Quantity::ICE_DRIFT_EAST, -5.0, 5.0),
    (Quantity::ICE_DRIFT_NORTH, -5.0, 5.0),
    (Quantity::CLOSED, 0.0, 1.0),
    (Quantity::SPEED_LIMIT, 0.1, 100.0),
    (Quantity::WIND_GRID_EAST, -100.0, 100.0),
    (Quantity::WIND_GRID_NORTH, -100.0, 100.0),
    (Quantity::WAVE_HEIGHT, 0.0, 40.0),
    (Quantity::WAVES_GRID_EAST, -1.0, 1.0),
    (Quantity::WAVES_GRID_NORTH, -1.0, 1.0),
    (Quantity::WAVE_PERIOD, 0.5, 40.0),
    (Quantity::AIR_TEMPERATURE, -90.0, 60.0),
    (Quantity::SEA_TEMPERATURE, -3.0, 40.0),
    (Quantity::VISIBILITY, 0.0, 100.0),
];

/// The quantity of a name, with the range that its values may have.
fn known(name: &str) -> Option<(Quantity, f32, f32)> {
    let partials = Quantity::ICE_PARTIALS.into_iter().map(|quantity| (quantity, 0.0, 1.0));
    KNOWN.into_iter().chain(partials).find(|(quantity, ..)| quantity.name() == name)
}

impl Spec for ConstantSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "constant";
    const SUMMARY: &'static str =
        "quantities of one value, everywhere or inside a box, circle or polygon, for a time";
    const EXAMPLE: &'static str = "\
kind: constant
ice: {concentration: 0.8, stage: medium_first_year, thickness_m: 0.9}
values: {speed_limit: 6}
inside:
  circle: {latitude_deg: -64, longitude_deg: 136, radius_km: 60}
until: 2027-02-01T00:00Z
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let mut faults = Faults::default();
        if self.values.is_empty() && self.ice.is_none() {
            faults.push(
                Fault::at("", "gives nothing: neither `values` nor `ice`")
                    .help("for open water write `ice: {concentration: 0}`"),
            );
        }
        let mut values = Vec::new();
        if let Some(ice) = self.ice {
            values.extend(ice.values(&mut faults));
        }
        for (name, value) in &self.values {
            let pointer = format!("/values/{name}");
            match known(name) {
                None => {
                    let names: Vec<&str> = KNOWN.iter().map(|(known, ..)| known.name()).collect();
                    faults.push(
                        Fault::at_key(pointer, format!("no quantity is called `{name}`")).help(
                            format!(
                                "the names are {} and ice_new to ice_heavy_multi_year",
                                names.join(", ")
                            ),
                        ),
                    );
                }
                Some((quantity, lowest, highest)) => {
                    if !(lowest..=highest).contains(value) {
                        faults.push(Fault::at(
                            pointer.clone(),
                            format!(
                                "{value} is not from {lowest} to {highest} {}",
                                quantity.unit()
                            ),
                        ));
                    }
                    if values.iter().any(|(other, _)| *other == quantity) {
                        faults.push(Fault::at(pointer, "`ice` gives this quantity too"));
                    }
                    values.push((quantity, *value));
                }
            }
        }
        if let Some(extent) = &self.inside {
            extent.check("/inside", &mut faults);
        }
        if let (Some(from), Some(until)) = (self.from, self.until)
            && until <= from
        {
            faults.push(Fault::at("/until", "is not after `from`"));
        }
        let hour = |at: Timestamp| context.clock().hour(at);
        let layer = Constant {
            values,
            inside: self.inside,
            from_hour: self.from.map(hour),
            until_hour: self.until.map(hour),
        };
        faults.into_result(Box::new(layer) as Box<dyn Layer>)
    }
}

impl UniformIce {
    fn values(&self, faults: &mut Faults) -> Vec<(Quantity, f32)> {
        let stage = match self.stage {
            Some(stage) if stage.thickness_m().is_some() => stage,
            None if self.concentration == 0.0 => Stage::New,
            stage => {
                let message = match stage {
                    None => "ice needs a `stage`",
                    Some(_) => "this stage says nothing of the ice",
                };
                faults.push(Fault::at("/ice", message).help("take thick_first_year, for example"));
                return Vec::new();
            }
        };
        ice_values(&IceRegime::of_one_stage(self.concentration, stage, self.thickness_m))
    }
}

/// All quantities of an ice regime.
fn ice_values(regime: &IceRegime) -> Vec<(Quantity, f32)> {
    let mut values = vec![
        (Quantity::ICE_CONCENTRATION, regime.concentration),
        (Quantity::ICE_THICKNESS, regime.thickness_m),
    ];
    values.extend(Quantity::ICE_PARTIALS.into_iter().zip(regime.partials));
    if regime.land_ice > 0.0 {
        values.push((Quantity::LAND_ICE, regime.land_ice));
    }
    values
}

#[derive(Debug)]
struct Constant {
    values: Vec<(Quantity, f32)>,
    inside: Option<Extent>,
    from_hour: Option<f64>,
    until_hour: Option<f64>,
}

impl Layer for Constant {
    fn quantities(&self) -> Vec<Quantity> {
        self.values.iter().map(|(quantity, _)| *quantity).collect()
    }

    fn provenance(&self) -> Provenance {
        Provenance {
            name: "constant values".to_owned(),
            source: "the scenario".to_owned(),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let list: Vec<String> = self
            .values
            .iter()
            .filter(|(quantity, _)| !Quantity::ICE_PARTIALS.contains(quantity))
            .map(|(quantity, value)| format!("{quantity} = {value} {}", quantity.unit()))
            .collect();
        let place = if self.inside.is_some() { "in a stated part" } else { "everywhere" };
        vec![Assumption::new("chart", format!("{} {place} of the chart", list.join(", ")))]
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        control.check()?;
        let cells = self.inside.as_ref().map(|extent| extent.cells(ground.grid));
        if cells.as_ref().is_some_and(Vec::is_empty) {
            return Err(Error::Outside("`inside` covers no cell of the grid".to_owned()));
        }
        // Nothing before, the constant while in force, nothing after. Without an end or a beginning
        // the rule for beyond the instants lets what is in force hold.
        let (hours, shows) = match (self.from_hour, self.until_hour) {
            (None, None) => (Vec::new(), vec![Some(0)]),
            (Some(from), None) => (vec![from.min(0.0) - 1.0, from], vec![None, Some(0)]),
            (None, Some(until)) => (vec![until.min(0.0) - 1.0, until], vec![Some(0), None]),
            (Some(from), Some(until)) => {
                (vec![from.min(0.0) - 1.0, from, until], vec![None, Some(0), None])
            }
        };
        let schedule = Schedule::of_states(hours, shows, Change::Step, Beyond::Hold);
        let show = LaidConstant { values: self.values.clone(), cells };
        Ok(Box::new(Scheduled { schedule, show }))
    }
}

/// Memory: 4 bytes a cell inside, if the layer has an inside.
#[derive(Debug)]
struct LaidConstant {
    values: Vec<(Quantity, f32)>,
    /// The cells inside, increasing; nothing where all are.
    cells: Option<Vec<Cell>>,
}

impl Show for LaidConstant {
    fn show(&self, _: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        let Some((_, value)) = self.values.iter().find(|(given, _)| *given == quantity) else {
            return;
        };
        match &self.cells {
            None => out.fill(*value),
            Some(inside) => {
                let first = inside.partition_point(|cell| *cell < cells.start);
                for cell in inside.iter().skip(first).take_while(|cell| **cell < cells.end) {
                    if let Some(out) = out.get_mut((cell - cells.start) as usize) {
                        *out = *value;
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests;
