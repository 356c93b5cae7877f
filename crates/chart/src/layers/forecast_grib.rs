//! `forecast_grib`: wind, waves, ice, temperature and visibility from GRIB2.

mod choice;
mod series;
mod units;

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
    image::{ForecastMember, GribFile, Resampler, Resampling, Wanted},
};
use series::{
    Decoder, SCALARS, Series, U_WIND, V_WIND, WINDS, faults_of_passed_over, levels, wind,
};
pub use units::{CoverUnit, ForecastUnits, TemperatureUnit};

/// Forecast fields, matched by the numbers of their parameters: ice cover (10/2/0), ice thickness
/// (10/2/1), wave height (10/0/3) and mean period (10/0/15), sea temperature (10/3/0), wind (0/2/2 and
/// 0/2/3) 10 m above ground, air temperature (0/0/0) 2 m above ground, and visibility (0/19/0). Whatever of these the files hold is taken; winds and
/// temperatures of other levels are passed over, and it is a fault if there are no others. Winds told
/// for the surface, as in the files of wave models, are taken where there are none for 10 m.
///
/// Probabilities, spreads, percentiles and extremes are passed over too. A mean over an interval stands
/// for the middle of it, where there are no instants. Of several runs the newest counts from its first
/// field to its last, and older ones before and after that; of an ensemble, the member that `member` says.
/// Values outside what a quantity can be are missing; more than one in a thousand of them is a fault.
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
    /// Which forecast counts where the files hold an ensemble.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    member: Option<EnsembleMember>,
    /// The reference time of the only run that counts; without it, the newest does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    run: Option<Timestamp>,
    /// Units of files whose writers took others than the parameters have.
    #[serde(default, skip_serializing_if = "ForecastUnits::are_those_of_the_parameters")]
    units: ForecastUnits,
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

/// One forecast of an ensemble.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum EnsembleMember {
    /// The unperturbed forecast.
    Control,
    /// The mean of all members.
    Mean,
    /// The perturbed forecast of a number.
    Perturbed(u8),
}

impl EnsembleMember {
    fn is(self, member: ForecastMember) -> bool {
        match (self, member) {
            (Self::Control, ForecastMember::Control) | (Self::Mean, ForecastMember::Mean) => true,
            (Self::Perturbed(wanted), ForecastMember::Perturbed { number, .. }) => wanted == number,
            _ => false,
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
        let wanted: Vec<Wanted> = SCALARS
            .iter()
            .map(|(parameter, ..)| *parameter)
            .chain([U_WIND, V_WIND])
            .map(|own| (own, levels(own)))
            .collect();
        let mut faults = Faults::default();
        let mut files = Vec::new();
        for (index, path) in self.files.iter().enumerate() {
            let at = format!("/files/{index}");
            match context.read(path).and_then(|bytes| GribFile::open(path, bytes, &wanted)) {
                Ok(file) if file.entries.is_empty() && file.passed_over.is_empty() => {
                    faults.push(Fault::at(
                        at,
                        format!("{}: has no field of a parameter that is taken", path.display()),
                    ));
                }
                Ok(file) => files.push((at, file)),
                Err(error) => faults.push(Fault::at(at, error.to_string())),
            }
        }
        let mut notes = Vec::new();
        for (_, file) in &files {
            if file.junk_bytes > 0 {
                notes.push(format!(
                    "{} bytes of {} that belong to no message are passed over",
                    file.junk_bytes,
                    file.path().display()
                ));
            }
        }
        faults.extend(faults_of_passed_over(&wanted, &files, &mut notes));
        let mut decoder = Decoder { spec: &self, files: &files, points: 0, notes };
        let mut scalars = Vec::new();
        for (parameter, quantity, factor, offset) in SCALARS {
            let (factor, offset) = self.units.apply(quantity, factor, offset);
            let series = decoder.series(parameter, quantity, quantity.name(), (factor, offset));
            match series {
                Ok(series) if series.fields.is_empty() => {}
                Ok(series) => scalars.push((self.thickness_is.of(quantity), series)),
                Err(fault) => faults.push(fault),
            }
        }
        let winds = WINDS.map(|(parameter, quantity, name)| {
            decoder.series(parameter, quantity, name, (1.0, 0.0))
        });
        let mut notes = decoder.notes;
        let winds = match winds {
            [Ok(east), Ok(north)] => wind(east, north, &mut notes, &mut faults),
            [east, north] => {
                faults.extend([east, north].into_iter().filter_map(Result::err));
                None
            }
        };
        let series = scalars.iter().map(|(_, series)| series);
        let series = series.chain(winds.iter().flatten());
        let mut times: Vec<Timestamp> =
            series.flat_map(|series| series.fields.iter().map(|(at, _)| *at)).collect();
        times.sort();
        times.dedup();
        let hours = times.iter().map(|at| context.clock().hour(*at)).collect();
        notes.sort();
        notes.dedup();
        let forecast = Forecast { spec: self, scalars, winds, times, hours, notes };
        faults.into_result(Box::new(forecast) as Box<dyn Layer>)
    }
}

#[derive(Debug)]
struct Forecast {
    spec: ForecastGribSpec,
    scalars: Vec<(Quantity, Series)>,
    /// To the east and to the north.
    winds: Option<[Series; 2]>,
    times: Vec<Timestamp>,
    hours: Vec<f64>,
    notes: Vec<String>,
}

impl Layer for Forecast {
    fn quantities(&self) -> Vec<Quantity> {
        let mut quantities: Vec<Quantity> =
            self.scalars.iter().map(|(quantity, _)| *quantity).collect();
        if self.winds.is_some() {
            quantities.extend([Quantity::WIND_GRID_EAST, Quantity::WIND_GRID_NORTH]);
        }
        quantities
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
        if self.quantities().contains(&Quantity::ICE_THICKNESS) {
            list.push(Assumption::new(
                "chart",
                "the files' ice thickness is taken for the mean where there is ice, and not for the \
                 volume per area (`thickness_is: volume_per_area`)",
            ));
        }
        list.extend(self.notes.iter().map(|note| Assumption::new("chart", note.as_str())));
        list
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        check_memory(ground.grid, self.quantities().len() * self.times.len(), 2)?;
        let mut known = false;
        let mut resampler = Resampler::new(ground.grid, self.spec.resampling);
        let mut columns = Vec::with_capacity(self.quantities().len());
        for (quantity, series) in &self.scalars {
            let rasters = self.rasters(series, &mut resampler, control)?;
            known |= any_known(&rasters);
            columns.push((*quantity, in_between(&self.hours, &rasters)));
        }
        if let Some(winds) = &self.winds {
            let (east, north) = self.turned(winds, ground.grid, &mut resampler, control)?;
            known |= any_known(&east);
            columns.push((Quantity::WIND_GRID_EAST, in_between(&self.hours, &east)));
            columns.push((Quantity::WIND_GRID_NORTH, in_between(&self.hours, &north)));
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
    fn rasters(
        &self,
        series: &Series,
        resampler: &mut Resampler<'_>,
        control: &Control,
    ) -> Result<Rasters, Error> {
        self.times
            .iter()
            .map(|at| {
                series.at(*at).map(|field| resampler.raster(&field.image, control)).transpose()
            })
            .collect()
    }

    /// Both components in the grid's frame.
    fn turned(
        &self,
        [to_east, to_north]: &[Series; 2],
        grid: &Grid,
        resampler: &mut Resampler<'_>,
        control: &Control,
    ) -> Result<(Rasters, Rasters), Error> {
        let mut east = self.rasters(to_east, resampler, control)?;
        let mut north = self.rasters(to_north, resampler, control)?;
        for ((at, u), v) in self.times.iter().zip(&mut east).zip(&mut north) {
            let (Some(us), Some(vs), Some(field)) = (u, v, to_east.at(*at)) else { continue };
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
