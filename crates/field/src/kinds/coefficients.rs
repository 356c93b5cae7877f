use std::path::{Path, PathBuf};

use dipward_plugin::{
    BuildContext, ComponentSigma, Fault, Faults, MainField, MainFieldPoint, Provenance, Spec,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{
    ComponentGrowth, Doubt, DoubtAtPole, GaussModel, Growth, ReadError, Series, doubt, read_cof,
    read_shc,
};

/// A file of Gauss coefficients, and perhaps a second one of the crust's.
///
/// A file that does not change with time, of a single epoch or without secular variation, answers for
/// five years on either side of its epoch with a doubt that grows as fast as the field changes; for
/// more only where `extrapolate` asks for it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CoefficientsSpec {
    /// A `.shc` or `.COF` file, relative to the scenario.
    pub file: PathBuf,
    /// A file of further coefficients that are added, as of a crustal model.
    #[serde(default)]
    pub crust_file: Option<PathBuf>,
    /// Whether to carry the model in straight lines up to 25 years beyond its years.
    #[serde(default)]
    pub extrapolate: bool,
    /// The decimal year from which the model forecasts; its last epoch but one where left out, which
    /// is where the forecast begins in files whose last epoch is a prediction.
    #[serde(default)]
    pub forecast_from: Option<f64>,
    /// One sigma of each horizontal component at either pole for each year of forecast, growing in a
    /// straight line; that of IGRF-14 at the pole in question where left out.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1000.0))]
    pub forecast_nt_per_year: Option<f64>,
    /// One sigma of each horizontal component at either pole for truncation and crust; that of
    /// IGRF-14 at the pole in question where left out. A crustal model deserves less.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 10_000.0))]
    pub crust_nt: Option<f64>,
}

impl Spec for CoefficientsSpec {
    type Point = MainFieldPoint;
    const KIND: &'static str = "coefficients";
    const SUMMARY: &'static str = "a main field from a .shc or .COF file, up to degree 400";
    const EXAMPLE: &'static str = "{kind: coefficients, file: my-model.shc}";

    fn build(self, context: &BuildContext) -> Result<Box<dyn MainField>, Faults> {
        let main = read(context, &self.file, "/file");
        let crust = self.crust_file.as_deref().map(|file| read(context, file, "/crust_file"));
        let mut faults = Faults::default();
        let mut keep = |series: Result<Series, Fault>| match series {
            Ok(series) => Some(series),
            Err(fault) => {
                faults.push(fault);
                None
            }
        };
        let main = keep(main);
        let crust = crust.map(keep);
        let (Some(main), crust) = (main, crust.flatten()) else { return Err(faults) };
        faults.into_result(())?;
        // A still field's doubt grows with the secular variation instead.
        let last_fit = match main.epochs() {
            [.., last_fit, _] if main.still_at().is_none() => *last_fit,
            _ => *main.years().end(),
        };
        let told = |usual: DoubtAtPole| DoubtAtPole {
            forecast: self.forecast_nt_per_year.map_or(usual.forecast, |nt_per_year| {
                let straight = Growth::straight(nt_per_year);
                ComponentGrowth { north: straight, east: straight }
            }),
            crust: self.crust_nt.map_or(usual.crust, ComponentSigma::isotropic),
            ..usual
        };
        let doubt = Doubt {
            forecast_from: self.forecast_from.unwrap_or(last_fit),
            hindcast_before: doubt::IGRF14.hindcast_before,
            north: told(doubt::IGRF14.north),
            south: told(doubt::IGRF14.south),
        };
        let mut files = self.file.display().to_string();
        if let Some(crust) = &self.crust_file {
            files = format!("{files} + {}", crust.display());
        }
        let degree = main.degree().max(crust.as_ref().map_or(0, Series::degree));
        let name = match main.name() {
            "" => format!("{files}, degree {degree}"),
            name => format!("{name}, degree {degree}"),
        };
        let name = match main.still_at() {
            Some(epoch) => format!("{name}, of {} at {epoch} alone", self.file.display()),
            None => name,
        };
        let provenance = Provenance { name, source: files, licence: None };
        let mut model = GaussModel::new(main, provenance, doubt);
        if let Some(crust) = crust {
            model = model.plus(crust);
        }
        Ok(Box::new(if self.extrapolate { model.extrapolated() } else { model }))
    }
}

/// Reads a file by the ending of its name.
fn read(context: &BuildContext, file: &Path, pointer: &str) -> Result<Series, Fault> {
    let ending = file.extension().map(|ending| ending.to_ascii_lowercase());
    let reader: fn(&[u8]) -> Result<Series, ReadError> =
        match ending.as_deref().and_then(std::ffi::OsStr::to_str) {
            Some("shc") => read_shc,
            Some("cof") => read_cof,
            _ => {
                let message = format!("{} is neither .shc nor .COF", file.display());
                return Err(Fault::at(pointer, message));
            }
        };
    let bytes = context.read(file).map_err(|error| Fault::at(pointer, error.to_string()))?;
    reader(&bytes).map_err(|error| Fault::at(pointer, format!("{}: {error}", file.display())))
}
