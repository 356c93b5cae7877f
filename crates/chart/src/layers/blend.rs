//! `blend`: amounts of several layers at once, by stated weights.

use std::ops::Range;

use dipward_plugin::{
    Assumption, Beyond, BuildContext, Built, Change, Clock, Control, DuplicateKind, Error, Fault,
    Faults, Ground, Laid, Layer, LayerPoint, Provenance, Quantity, Registry, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::{
    ClimatologySpec, ConcentrationGeotiffSpec, ConcentrationNetcdfSpec, ConcentrationNsidcSpec,
    ConstantSpec, ForecastGribSpec, IceChartSpec, RasterSpec, schedule::FADE_H,
};
use crate::{Chart, NamedLayer};

/// Two layers or more of which none wins: each cell has their weighted mean.
///
/// Blended are the quantities that all of them give, and ice of land origin where any of them tells it. Where not all cover a cell, those that do count
/// alone; the thickness of ice counts by its concentration. What is yes or no, and limits, cannot be
/// blended.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BlendSpec {
    /// The layers: `ice_chart`, `concentration_geotiff`, `concentration_netcdf`, `concentration_nsidc`,
    /// `climatology`, `forecast_grib`, `raster` or `constant`, with their keys.
    #[schemars(length(min = 2, max = 16), with = "Vec<NestedLayer>")]
    layers: Vec<Map<String, Value>>,
    /// The weight of each layer; without it, all weigh alike.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(inner(range(min = 1e-6, max = 1e6)))]
    weights: Option<Vec<f64>>,
    /// The age that halves a layer's weight; without it, age does not matter. A layer without instants
    /// does not age.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(max = 1e5), extend("exclusiveMinimum" = 0))]
    halved_every_h: Option<f64>,
}

/// A layer within another: its kind, and the keys of that kind.
#[derive(JsonSchema)]
#[expect(dead_code, reason = "stands for the mapping in the schema")]
struct NestedLayer {
    kind: String,
    #[serde(flatten)]
    keys: Map<String, Value>,
}

/// What is yes or no, and what is the least of several: a mean of them means nothing.
const NOT_AMOUNTS: [&str; 6] =
    ["land", "shelf", "closed", "crevasses", "speed_limit", "berg_distance"];

fn kinds() -> Result<Registry, DuplicateKind> {
    let mut registry = Registry::default();
    registry
        .register::<IceChartSpec>()?
        .register::<ConcentrationGeotiffSpec>()?
        .register::<ConcentrationNetcdfSpec>()?
        .register::<ConcentrationNsidcSpec>()?
        .register::<ClimatologySpec>()?
        .register::<ForecastGribSpec>()?
        .register::<RasterSpec>()?
        .register::<ConstantSpec>()?;
    Ok(registry)
}

impl Spec for BlendSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "blend";
    const SUMMARY: &'static str =
        "a weighted mean of several layers, in place of the first that covers";
    const EXAMPLE: &'static str = "\
kind: blend
layers:
  - {kind: constant, ice: {concentration: 0.8, stage: medium_first_year}}
  - {kind: constant, ice: {concentration: 0.6, stage: grey_white}}
weights: [3, 1]
halved_every_h: 48
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let registry = kinds().map_err(|error| Fault::at("", error.to_string()))?;
        let mut faults = Faults::default();
        let mut layers: Vec<Built<LayerPoint>> = Vec::new();
        for (index, keys) in self.layers.iter().enumerate() {
            let pointer = format!("/layers/{index}");
            match registry.build(&pointer, &Value::Object(keys.clone()), context) {
                Ok(built) => layers.push(built),
                Err(more) => faults.extend(more),
            }
        }
        let weights = self.weights.unwrap_or_else(|| vec![1.0; self.layers.len()]);
        if weights.len() != self.layers.len() {
            faults.push(Fault::at(
                "/weights",
                format!("has {} weights for {} layers", weights.len(), self.layers.len()),
            ));
        }
        faults.into_result(())?;
        let given: Vec<Vec<Quantity>> =
            layers.iter().map(|built| built.object.quantities()).collect();
        let in_all = |quantity: &Quantity| given.iter().all(|own| own.contains(quantity));
        let mut quantities: Vec<Quantity> = given.first().cloned().unwrap_or_default();
        quantities.retain(in_all);
        let tells_land_ice = given.iter().any(|own| own.contains(&Quantity::LAND_ICE));
        if tells_land_ice && !quantities.contains(&Quantity::LAND_ICE) {
            quantities.push(Quantity::LAND_ICE);
        }
        if quantities.is_empty() {
            return Err(Fault::at("/layers", "the layers have no quantity in common").into());
        }
        if let Some(flag) = quantities.iter().find(|own| NOT_AMOUNTS.contains(&own.name())) {
            return Err(Fault::at(
                "/layers",
                format!("`{flag}` cannot be blended: it is no amount"),
            )
            .help("put such layers into `chart.layers`, where the first that covers a cell wins")
            .into());
        }
        Ok(Box::new(Blend {
            layers,
            weights,
            halved_every_h: self.halved_every_h,
            quantities,
            window_hours: context.window_hours(),
        }))
    }
}

#[derive(Debug)]
struct Blend {
    layers: Vec<Built<LayerPoint>>,
    weights: Vec<f64>,
    halved_every_h: Option<f64>,
    quantities: Vec<Quantity>,
    window_hours: f64,
}

impl Layer for Blend {
    fn quantities(&self) -> Vec<Quantity> {
        self.quantities.clone()
    }

    fn provenance(&self) -> Provenance {
        let total: f64 = self.weights.iter().sum();
        let parts = self.layers.iter().zip(&self.weights).map(|(built, weight)| {
            (built.object.provenance(), format!("{:.0} %", 100.0 * weight / total))
        });
        let (names, sources): (Vec<String>, Vec<String>) =
            parts.map(|(own, share)| (format!("{share} {}", own.name), own.source)).unzip();
        let licences: Vec<String> =
            self.layers.iter().filter_map(|built| built.object.provenance().licence).collect();
        Provenance {
            name: format!("blend of {}", names.join(" and ")),
            source: sources.join("; "),
            licence: (!licences.is_empty()).then(|| licences.join("; ")),
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let age = match self.halved_every_h {
            Some(hours) => format!("the weight of a layer halves with every {hours} h of its age"),
            None => "age does not matter".to_owned(),
        };
        let own = Assumption::new(
            "chart",
            format!(
                "{}: where not all of them cover a cell, those that do count alone; {age}; its age is \
                 that of the newest",
                self.provenance().name
            ),
        );
        let of_layers = self.layers.iter().flat_map(|built| built.object.assumptions());
        std::iter::once(own).chain(of_layers).collect()
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        let parts = self
            .layers
            .iter()
            .zip(&self.weights)
            .map(|(built, weight)| {
                let chart = self.lay_one(built, ground.grid.clone(), ground.clock, control)?;
                Ok(Part { chart, weight: *weight, halved_every_h: self.halved_every_h })
            })
            .collect::<Result<Vec<_>, Error>>()?;
        let hours = self.instants(&parts);
        Ok(Box::new(LaidBlend { parts, hours }))
    }
}

impl Blend {
    fn lay_one(
        &self,
        built: &Built<LayerPoint>,
        grid: dipward_geodesy::Grid,
        clock: Clock,
        control: &Control,
    ) -> Result<Chart, Error> {
        let layers = [NamedLayer { name: &built.kind, layer: built.object.as_ref() }];
        Chart::lay(grid, clock, self.window_hours, &layers, &self.quantities, control)
    }

    /// The blend's instants.
    ///
    /// Between two of them all layers change linearly, and their weights, which halve alike, keep their
    /// ratio.
    fn instants(&self, parts: &[Part]) -> Vec<f64> {
        let frames = || parts.iter().flat_map(|part| part.chart.frames().windows(2));
        let mut hours = vec![0.0];
        for frame in frames() {
            let &[before, hour] = frame else { continue };
            hours.push(hour);
            // As it was, just before it jumps; with ages every turn is a jump.
            if before == hour || self.halved_every_h.is_some() {
                hours.push(hour - FADE_H);
            }
        }
        hours.retain(|hour| *hour >= 0.0);
        hours.sort_by(f64::total_cmp);
        hours.dedup();
        hours
    }
}

/// One layer of the blend, laid.
#[derive(Debug)]
struct Part {
    chart: Chart,
    weight: f64,
    halved_every_h: Option<f64>,
}

impl Part {
    fn weight_at(&self, hour: f64) -> f32 {
        let age_h = self.chart.at(hour).age_h(0).unwrap_or(0.0).max(0.0);
        let halves = self.halved_every_h.map_or(0.0, |halved_every_h| age_h / halved_every_h);
        (self.weight * (-halves).exp2()) as f32
    }
}

/// Memory: that of its layers.
#[derive(Debug)]
struct LaidBlend {
    parts: Vec<Part>,
    hours: Vec<f64>,
}

impl Laid for LaidBlend {
    fn hours(&self) -> &[f64] {
        &self.hours
    }

    fn change(&self) -> Change {
        Change::Linear
    }

    fn beyond(&self) -> Beyond {
        Beyond::Hold
    }

    /// That of the newest layer.
    fn data_hour(&self, instant: usize) -> Option<f64> {
        let hour = self.hours.get(instant)?;
        let ages = self.parts.iter().filter_map(|part| part.chart.at(*hour).age_h(0));
        ages.min_by(f64::total_cmp).map(|age_h| hour - age_h)
    }

    fn fill(
        &self,
        quantity: Quantity,
        instant: usize,
        cells: Range<u32>,
        out: &mut [f32],
    ) -> Result<(), Error> {
        out.fill(f32::NAN);
        let hour = self.hours.get(instant).copied().unwrap_or_default();
        let mut weights = vec![0.0_f32; out.len()];
        for part in &self.parts {
            let weight = part.weight_at(hour);
            let moment = part.chart.at(hour);
            let run = moment.run(quantity, cells.clone())?.values;
            // Thickness is that of the ice where there is some: it counts by how much there is.
            let ice = (quantity == Quantity::ICE_THICKNESS)
                .then(|| moment.run(Quantity::ICE_CONCENTRATION, cells.clone()))
                .transpose()?
                .map_or_else(Vec::new, |ice| ice.values);
            for (cell, value) in run.into_iter().enumerate().filter(|(_, value)| !value.is_nan()) {
                let (Some(out), Some(total)) = (out.get_mut(cell), weights.get_mut(cell)) else {
                    continue;
                };
                let amount = ice.get(cell).copied().filter(|ice| !ice.is_nan()).unwrap_or(1.0);
                *total += weight * amount;
                // A running mean, so that equal values stay what they are.
                let share = if *total > 0.0 { weight * amount / *total } else { 0.0 };
                *out = if out.is_nan() { value } else { *out + (value - *out) * share };
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::super::workbench::{at, build, chart, check_contract, fault, sample};
    use super::*;

    fn image(steps: u8, gap_rows: usize) -> Vec<u8> {
        let mut bytes = format!("00255\0{:5}\0{:5}\0", 316, 332).into_bytes();
        bytes.resize(300, 0);
        bytes.resize(300 + 316 * gap_rows, 255);
        bytes.resize(300 + 316 * 332, steps);
        bytes
    }

    const HERE: (f64, f64) = (-64.0, 136.0);

    fn blend(days_ago: [u32; 2], more: &str) -> Box<dyn Layer> {
        let layers: Vec<String> = ["a.bin", "b.bin"]
            .iter()
            .zip(days_ago)
            .map(|(file, days)| {
                format!(
                    "  - {{kind: concentration_nsidc, ice: {{stage: grey}}, images: [{{file: {file}, \
                     valid: 2026-12-{:02}T00:00Z}}]}}",
                    32 - days
                )
            })
            .collect();
        let (a, b) = (image(200, 0), image(100, 0));
        let yaml = format!("layers:\n{}\n{more}", layers.join("\n"));
        build::<BlendSpec>(&yaml, &[("a.bin", &a), ("b.bin", &b)]).unwrap()
    }

    #[test]
    fn the_kind_keeps_its_contract() {
        check_contract::<BlendSpec>(&[]);
    }

    #[test]
    fn weights_are_kept_and_told() {
        let layer = blend([2, 4], "weights: [3, 1]");
        let laid = chart(layer.as_ref()).unwrap();
        let here = at(HERE.0, HERE.1);
        for hour in [0.0, 100.0, 700.0] {
            let ice = sample(&laid, hour, Quantity::ICE_CONCENTRATION, here);
            assert!((ice - 0.7).abs() < 1e-4, "{ice}");
            let parts: f32 =
                Quantity::ICE_PARTIALS.into_iter().map(|own| sample(&laid, hour, own, here)).sum();
            assert!((parts - ice).abs() < 1e-5);
        }
        let name = layer.provenance().name;
        assert!(name.contains("75 %") && name.contains("25 %"), "{name}");
        // The newer of the two is two days old at the start.
        let origin = laid.origin(10.0, Quantity::ICE_CONCENTRATION, here).unwrap().unwrap();
        assert_eq!(origin.age_h, Some(58.0));
    }

    #[test]
    fn an_older_layer_weighs_less() {
        let layer = blend([2, 4], "halved_every_h: 24");
        let laid = chart(layer.as_ref()).unwrap();
        // Two days older is a quarter of the weight: 0.8 x 4/5 + 0.4 x 1/5, and it stays so.
        for hour in [0.0, 300.0, 719.0] {
            let ice = sample(&laid, hour, Quantity::ICE_CONCENTRATION, at(HERE.0, HERE.1));
            assert!((ice - 0.72).abs() < 1e-4, "{hour} {ice}");
        }
    }

    #[test]
    fn one_layer_alone_counts_where_the_other_has_nothing() {
        let yaml = "\
layers:
  - kind: constant
    values: {ice_concentration: 0.5, ice_thickness: 2}
    inside: {circle: {latitude_deg: -64, longitude_deg: 136, radius_km: 60}}
    until: 2027-01-03T00:00Z
  - {kind: constant, values: {ice_concentration: 1.0}}
";
        let layer = build::<BlendSpec>(yaml, &[]).unwrap();
        assert_eq!(layer.quantities(), [Quantity::ICE_CONCENTRATION]);
        let laid = chart(layer.as_ref()).unwrap();
        let ice =
            |hour, latitude| sample(&laid, hour, Quantity::ICE_CONCENTRATION, at(latitude, HERE.1));
        assert_eq!((ice(0.0, -64.0), ice(0.0, -66.0)), (0.75, 1.0));
        assert!((ice(47.9, -64.0) - 0.75).abs() < 1e-6);
        assert_eq!(ice(48.0, -64.0), 1.0);
    }

    #[test]
    fn bergs_that_one_layer_tells_are_not_lost() {
        let yaml = "\
layers:
  - {kind: constant, ice: {concentration: 0.4, stage: glacier}}
  - {kind: constant, ice: {concentration: 0.8, stage: grey}}
";
        let laid = chart(build::<BlendSpec>(yaml, &[]).unwrap().as_ref()).unwrap();
        let here = at(HERE.0, HERE.1);
        assert_eq!(sample(&laid, 0.0, Quantity::LAND_ICE, here), 0.4);
        assert!((sample(&laid, 0.0, Quantity::ICE_CONCENTRATION, here) - 0.6).abs() < 1e-6);
    }

    #[test]
    fn thickness_counts_by_how_much_ice_there_is() {
        let yaml = "\
layers:
  - {kind: constant, ice: {concentration: 0.9, stage: grey, thickness_m: 2}}
  - {kind: constant, ice: {concentration: 0.3, stage: grey, thickness_m: 1}}
  - {kind: constant, ice: {concentration: 0}}
";
        let laid = chart(build::<BlendSpec>(yaml, &[]).unwrap().as_ref()).unwrap();
        let of = |quantity| sample(&laid, 0.0, quantity, at(HERE.0, HERE.1));
        assert!((of(Quantity::ICE_CONCENTRATION) - 0.4).abs() < 1e-6);
        // The volume is kept: (0.9 x 2 + 0.3 x 1) / 3 = 0.4 x 1.75.
        assert!((of(Quantity::ICE_THICKNESS) - 1.75).abs() < 1e-6);
        let open = "layers: [{kind: constant, ice: {concentration: 0}}, \
                    {kind: constant, ice: {concentration: 0}}]";
        let laid = chart(build::<BlendSpec>(open, &[]).unwrap().as_ref()).unwrap();
        assert_eq!(sample(&laid, 0.0, Quantity::ICE_THICKNESS, at(HERE.0, HERE.1)), 0.0);
    }

    #[test]
    fn what_cannot_be_blended_is_a_fault() {
        for (yaml, words) in [
            (
                "layers: [{kind: constant, values: {closed: 1}}, {kind: constant, values: {closed: 0}}]",
                "/layers `closed` cannot be blended",
            ),
            (
                "layers: [{kind: constant, values: {ice_thickness: 1}}, \
                 {kind: constant, values: {elevation: 0}}]",
                "/layers the layers have no quantity in common",
            ),
            (
                "weights: [1]\nlayers: [{kind: constant, values: {elevation: 1}}, \
                 {kind: constant, values: {elevation: 0}}]",
                "/weights has 1 weights for 2 layers",
            ),
            ("layers: [{kind: constant, values: {elevation: 1}}, {kind: coast}]", "/layers/1/kind"),
            (
                "layers: [{kind: constant, values: {elevation: 1}}, \
                 {kind: constant, values: {elevation: 1e9}}]",
                "/layers/1/values/elevation",
            ),
        ] {
            let message = fault::<BlendSpec>(yaml, &[]);
            assert!(message.starts_with(words), "{message}");
        }
    }
}
