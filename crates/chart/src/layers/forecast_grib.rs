//! `forecast_grib`: wind, waves, ice, temperature and visibility from GRIB2.

use std::{ops::Range, path::PathBuf};

use dipward_geodesy::Grid;
use dipward_plugin::{
    Assumption, BuildContext, Control, Error, Fault, Faults, Ground, Laid, Layer, LayerPoint,
    Provenance, Quantity, Spec,
};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    packed::{PackedRaster, check_memory},
    schedule::{BeyondRule, ChangeRule, Schedule},
    scheduled::{Scheduled, Show},
};
use crate::{
    crs::MapProjection,
    image::{
        GribField, GribFields, Level, Levels, Parameter, Resampler, Resampling, Wanted, read_grib,
    },
};

/// Wind towards the grid's +x axis, 10 m above the sea.
pub(super) const WIND_GRID_EAST: Quantity = Quantity::new("wind_grid_east", "m/s");
/// Wind towards the grid's +y axis, 10 m above the sea.
pub(super) const WIND_GRID_NORTH: Quantity = Quantity::new("wind_grid_north", "m/s");
/// Significant height of the waves.
pub(super) const WAVE_HEIGHT: Quantity = Quantity::new("wave_height", "m");
/// Horizontal visibility.
pub(super) const VISIBILITY: Quantity = Quantity::new("visibility", "km");
/// Temperature of the air, 2 m above ground.
const AIR_TEMPERATURE: Quantity = Quantity::new("air_temperature", "degC");

const U_WIND: Parameter = (0, 2, 2);
const V_WIND: Parameter = (0, 2, 3);
const TEMPERATURE: Parameter = (0, 0, 0);

/// The quantities of single parameters: parameter, quantity, factor and offset to its unit.
const SCALARS: [(Parameter, Quantity, f32, f32); 5] = [
    ((10, 2, 0), Quantity::ICE_CONCENTRATION, 1.0, 0.0),
    ((10, 2, 1), Quantity::ICE_THICKNESS, 1.0, 0.0),
    ((10, 0, 3), WAVE_HEIGHT, 1.0, 0.0),
    (TEMPERATURE, AIR_TEMPERATURE, 1.0, -273.15),
    ((0, 19, 0), VISIBILITY, 0.001, 0.0),
];

/// Forecast fields, matched by the numbers of their parameters: ice cover (10/2/0), ice thickness
/// (10/2/1), wave height (10/0/3), wind (0/2/2 and 0/2/3) 10 m above ground, air temperature (0/0/0)
/// 2 m above ground, and visibility (0/19/0). Whatever of these the files hold is taken; winds and
/// temperatures of other levels are passed over, and it is a fault if there are no others. Winds told
/// for the surface, as in the files of wave models, are taken where there are none for 10 m.
///
/// Winds are turned into the grid's frame. Within a point's distance of the geographic pole, where
/// east and north of neighbouring points differ, an interpolated wind means little.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ForecastGribSpec {
    /// The files; each may hold several fields and times.
    #[schemars(length(min = 1))]
    files: Vec<PathBuf>,
    /// How cells get their values from points.
    #[serde(default)]
    resampling: Resampling,
    /// How values change from one time to the next.
    #[serde(default = "linear")]
    change: ChangeRule,
    /// What holds before the first time and after the last; a forecast says nothing beyond itself.
    #[serde(default = "uncovered")]
    beyond: BeyondRule,
    /// What the files' ice thickness (10/2/1) is: the parameter does not tell.
    #[serde(default)]
    thickness_is: ThicknessIs,
}

/// What a thickness of ice is a mean over.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub(super) enum ThicknessIs {
    /// Over the ice: the mean thickness where there is ice.
    #[default]
    WhereThereIsIce,
    /// Over the cell, open water included.
    VolumePerArea,
}

impl ThicknessIs {
    /// The quantity that the files' own is.
    fn of(self, quantity: Quantity) -> Quantity {
        if quantity == Quantity::ICE_THICKNESS && self == Self::VolumePerArea {
            Quantity::ICE_VOLUME_PER_AREA
        } else {
            quantity
        }
    }
}

fn linear() -> ChangeRule {
    ChangeRule::Linear
}

fn uncovered() -> BeyondRule {
    BeyondRule::Uncovered
}

impl Spec for ForecastGribSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "forecast_grib";
    const SUMMARY: &'static str =
        "wind, waves, ice, air temperature and visibility from GRIB2 forecasts";
    const EXAMPLE: &'static str = "{kind: forecast_grib, files: [forecast.grib2]}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let scalars = SCALARS.iter().map(|(parameter, ..)| *parameter);
        let wanted: Vec<Wanted> =
            scalars.chain([U_WIND, V_WIND]).map(|own| (own, levels(own))).collect();
        let mut faults = Faults::default();
        let mut found = GribFields::default();
        for (index, file) in self.files.iter().enumerate() {
            let read = context.read(file).and_then(|bytes| read_grib(file, &bytes, &wanted));
            match read {
                Ok(read) if read.fields.is_empty() && read.elsewhere.is_empty() => {
                    faults.push(Fault::at(
                        format!("/files/{index}"),
                        format!("{}: has no field of a parameter that is taken", file.display()),
                    ));
                }
                Ok(read) => {
                    found.fields.extend(read.fields);
                    found.elsewhere.extend(read.elsewhere);
                }
                Err(error) => faults.push(Fault::at(format!("/files/{index}"), error.to_string())),
            }
        }
        let GribFields { mut fields, elsewhere } = found;
        faults.extend(faults_of_levels(&wanted, &fields, &elsewhere));
        // Winds told for 10 m are surer than those told for the surface.
        let at_surface = |field: &GribField| {
            [U_WIND, V_WIND].contains(&field.parameter)
                && field.level.is_some_and(Level::is_surface)
        };
        let surer = fields.iter().any(|field| field.parameter == U_WIND && !at_surface(field));
        fields.retain(|field| !(surer && at_surface(field)));
        let surface_wind = fields.iter().any(at_surface);
        let has = |wanted: Parameter| fields.iter().any(|field| field.parameter == wanted);
        if has(U_WIND) != has(V_WIND) {
            faults.push(Fault::at("/files", "has one component of the wind without the other"));
        }
        let mut quantities: Vec<Quantity> = SCALARS
            .iter()
            .filter(|(own, ..)| has(*own))
            .map(|(_, quantity, ..)| self.thickness_is.of(*quantity))
            .collect();
        if has(U_WIND) && has(V_WIND) {
            quantities.extend([WIND_GRID_EAST, WIND_GRID_NORTH]);
        }
        let mut times: Vec<Timestamp> = fields.iter().map(|field| field.valid).collect();
        times.sort();
        times.dedup();
        let hours = times.iter().map(|at| context.clock().hour(*at)).collect();
        faults.into_result(Box::new(Forecast {
            spec: self,
            fields,
            quantities,
            times,
            hours,
            surface_wind,
        }) as Box<dyn Layer>)
    }
}

/// The levels at which a parameter counts.
fn levels(parameter: Parameter) -> Levels {
    match parameter {
        U_WIND | V_WIND => Levels::AboveGroundOrSurface(10.0),
        // At the surface it is that of the ground or the water.
        TEMPERATURE => Levels::AboveGround(2.0),
        _ => Levels::Any,
    }
}

/// One fault for each parameter that the files have at other levels alone.
fn faults_of_levels(
    wanted: &[Wanted],
    fields: &[GribField],
    elsewhere: &[(Parameter, Level)],
) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (parameter, levels) in wanted {
        let (Levels::AboveGround(height_m) | Levels::AboveGroundOrSurface(height_m)) = levels
        else {
            continue;
        };
        let mut found: Vec<String> = elsewhere
            .iter()
            .filter(|(own, _)| own == parameter)
            .map(|(_, level)| level.to_string())
            .collect();
        found.dedup();
        if found.is_empty() || fields.iter().any(|field| field.parameter == *parameter) {
            continue;
        }
        let (discipline, category, number) = parameter;
        faults.push(
            Fault::at(
                "/files",
                format!(
                    "the parameter {discipline}/{category}/{number} is there at {} alone, and \
                     {height_m} m above ground is wanted",
                    found.join(", ")
                ),
            )
            .help("take the files with the fields near the surface, or leave these out"),
        );
    }
    faults
}

#[derive(Debug)]
struct Forecast {
    spec: ForecastGribSpec,
    fields: Vec<GribField>,
    quantities: Vec<Quantity>,
    times: Vec<Timestamp>,
    hours: Vec<f64>,
    /// Whether the wind is told for the surface.
    surface_wind: bool,
}

impl Layer for Forecast {
    fn quantities(&self) -> Vec<Quantity> {
        self.quantities.clone()
    }

    fn provenance(&self) -> Provenance {
        let files: Vec<String> =
            self.spec.files.iter().map(|file| file.to_string_lossy().into_owned()).collect();
        Provenance {
            name: "forecast fields (GRIB2)".to_owned(),
            source: files.join(", "),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let mut list = vec![Assumption::new("chart", "the forecast comes true as it stands")];
        if self.quantities.contains(&Quantity::ICE_THICKNESS) {
            list.push(Assumption::new(
                "chart",
                "the files' ice thickness is taken for the mean where there is ice, and not for the \
                 volume per area (`thickness_is: volume_per_area`)",
            ));
        }
        if self.surface_wind {
            list.push(Assumption::new(
                "chart",
                "the wind that the files tell for the surface is taken for that at 10 m",
            ));
        }
        list
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        check_memory(ground.grid, self.quantities.len() * self.times.len(), 2)?;
        let mut known = false;
        let mut resampler = Resampler::new(ground.grid, self.spec.resampling);
        let mut columns = Vec::with_capacity(self.quantities.len());
        for (parameter, quantity, factor, offset) in SCALARS {
            let quantity = self.spec.thickness_is.of(quantity);
            if !self.quantities.contains(&quantity) {
                continue;
            }
            let mut rasters = self.rasters(parameter, &mut resampler, control)?;
            for value in rasters.iter_mut().flatten().flatten() {
                *value = *value * factor + offset;
            }
            known |= any_known(&rasters);
            columns.push((quantity, in_between(&self.hours, &rasters)));
        }
        if self.quantities.contains(&WIND_GRID_EAST) {
            let (east, north) = self.winds(ground.grid, &mut resampler, control)?;
            known |= any_known(&east);
            columns.push((WIND_GRID_EAST, in_between(&self.hours, &east)));
            columns.push((WIND_GRID_NORTH, in_between(&self.hours, &north)));
        }
        if !known {
            return Err(Error::Outside("the forecast covers no cell of the grid".to_owned()));
        }
        let hours = self.hours.clone();
        let shows = (0..hours.len()).map(Some).collect();
        let (change, beyond) = (self.spec.change.into(), self.spec.beyond.into());
        let schedule = Schedule::of_states(hours, shows, change, beyond);
        Ok(Box::new(Scheduled { schedule, show: LaidForecast { columns } }))
    }
}

/// One raster a time, where the file has one.
type Rasters = Vec<Option<Vec<f32>>>;

fn any_known(rasters: &Rasters) -> bool {
    rasters.iter().flatten().flatten().any(|value| !value.is_nan())
}

impl Forecast {
    fn field(&self, parameter: Parameter, at: Timestamp) -> Option<&GribField> {
        self.fields.iter().find(|field| field.parameter == parameter && field.valid == at)
    }

    fn rasters(
        &self,
        parameter: Parameter,
        resampler: &mut Resampler<'_>,
        control: &Control,
    ) -> Result<Rasters, Error> {
        self.times
            .iter()
            .map(|at| {
                self.field(parameter, *at)
                    .map(|field| resampler.raster(&field.image, control))
                    .transpose()
            })
            .collect()
    }

    /// Both components in the grid's frame.
    fn winds(
        &self,
        grid: &Grid,
        resampler: &mut Resampler<'_>,
        control: &Control,
    ) -> Result<(Rasters, Rasters), Error> {
        let mut east = self.rasters(U_WIND, resampler, control)?;
        let mut north = self.rasters(V_WIND, resampler, control)?;
        for ((at, u), v) in self.times.iter().zip(&mut east).zip(&mut north) {
            let (Some(us), Some(vs), Some(field)) = (&mut *u, &mut *v, self.field(U_WIND, *at))
            else {
                // One component alone is no wind.
                (*u, *v) = (None, None);
                continue;
            };
            for (cell, (u, v)) in us.iter_mut().zip(vs).enumerate() {
                let Some(centre) = grid.centre(cell as u32) else { continue };
                let own_deg = match field.image.placement.projection {
                    MapProjection::Polar(polar) if field.along_grid => {
                        polar.convergence_deg(centre)
                    }
                    _ => 0.0,
                };
                // From the field's frame to east and north, and on to the grid's: one turn.
                let turn_deg = grid.projection().convergence_deg(centre) - own_deg;
                let (sine, cosine) = (turn_deg.to_radians() as f32).sin_cos();
                (*u, *v) = (*u * cosine + *v * sine, *v * cosine - *u * sine);
            }
        }
        Ok((east, north))
    }
}

/// Fills the times that a quantity lacks between two that it has, linearly; at either end they stay
/// uncovered.
fn in_between(hours: &[f64], rasters: &Rasters) -> Vec<PackedRaster> {
    let cells = rasters.iter().flatten().map(Vec::len).next().unwrap_or_default();
    (0..rasters.len())
        .map(|at| {
            let known = |index: usize| rasters.get(index).and_then(Option::as_ref);
            if let Some(raster) = known(at) {
                return PackedRaster::of(raster);
            }
            let before = (0..at).rev().find(|index| known(*index).is_some());
            let after = (at..rasters.len()).find(|index| known(*index).is_some());
            let (Some(before), Some(after)) = (before, after) else {
                return PackedRaster::of(&vec![f32::NAN; cells]);
            };
            let share = ((hours[at] - hours[before]) / (hours[after] - hours[before])) as f32;
            let (Some(from), Some(to)) = (known(before), known(after)) else {
                return PackedRaster::of(&vec![f32::NAN; cells]);
            };
            let between: Vec<f32> =
                from.iter().zip(to).map(|(from, to)| from + (to - from) * share).collect();
            PackedRaster::of(&between)
        })
        .collect()
}

/// Memory: 2 bytes a cell for each quantity and time; 4 more a cell while it is laid, for each time.
#[derive(Debug)]
struct LaidForecast {
    columns: Vec<(Quantity, Vec<PackedRaster>)>,
}

impl Show for LaidForecast {
    fn show(&self, state: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        let column = self.columns.iter().find(|(own, _)| *own == quantity);
        if let Some(raster) = column.and_then(|(_, rasters)| rasters.get(state)) {
            raster.unpack(cells, out);
        }
    }
}
