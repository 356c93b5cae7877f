//! Areas of an ice chart from its polygons' attributes.

use std::path::Path;

use dipward_plugin::Error;

use super::MAX_AREAS;
use crate::{
    codes::{Concentration, Egg, EggPart, Form, IceRegime, Reading, Stage, code_of},
    crs::MapProjection,
    vector::{AreaFeature, FilePolygon},
};

/// One area of a chart.
#[derive(Debug)]
pub(super) struct ChartArea {
    pub(super) label: String,
    pub(super) regime: IceRegime,
    pub(super) map: MapProjection,
    pub(super) polygons: Vec<FilePolygon>,
}

impl ChartArea {
    /// Concentration, thickness and partials.
    pub(super) fn columns(&self) -> [f32; 13] {
        let mut columns = [f32::NAN; 13];
        let regime = &self.regime;
        let values = [regime.concentration, regime.thickness_m].into_iter().chain(regime.partials);
        for (column, value) in columns.iter_mut().zip(values) {
            *column = value;
        }
        columns
    }
}

/// Reads the areas of a chart.
///
/// # Errors
///
/// [`Error::File`] for what is wrong with the file, for a code that the format has not, and for a
/// feature that says neither what it is (POLY_TYPE) nor how much ice it has (CT).
pub(super) fn chart_areas(
    path: &Path,
    features: Vec<AreaFeature>,
    reading: &Reading,
) -> Result<Vec<ChartArea>, Error> {
    let wrong = |message: String| Error::File { path: path.to_owned(), message };
    if features.len() > MAX_AREAS {
        return Err(wrong(format!("has {} areas, more than {MAX_AREAS}", features.len())));
    }
    features
        .into_iter()
        .map(|feature| {
            let regime = regime_of(&feature, reading)
                .map_err(|message| wrong(format!("{}: {message}", feature.label)))?;
            let AreaFeature { label, map, polygons, .. } = feature;
            Ok(ChartArea { label, regime, map, polygons })
        })
        .collect()
}

/// The ice regime of a feature; [`IceRegime::UNKNOWN`] for land, shelf and areas without data.
fn regime_of(feature: &AreaFeature, reading: &Reading) -> Result<IceRegime, String> {
    let total = concentration(feature, "CT")?;
    let kind = feature.attribute("POLY_TYPE").and_then(|kind| kind.as_str()).map(str::trim);
    match (kind, total) {
        // Land, ice shelf and no data: nothing is said of sea ice there.
        (Some("L" | "S" | "N"), _) => Ok(IceRegime::UNKNOWN),
        (Some("W"), None) => Ok(IceRegime::ICE_FREE),
        (Some("I" | "W") | None, Some(total)) => Ok(egg(feature, total)?.regime(reading)),
        (Some("I"), None) => Ok(egg(feature, Concentration::Unknown)?.regime(reading)),
        (Some(other), _) => Err(format!("`POLY_TYPE` is `{other}`, but I, W, L, S or N is wanted")),
        (None, None) => Err("has neither `CT` nor `POLY_TYPE`".to_owned()),
    }
}

fn egg(feature: &AreaFeature, total: Concentration) -> Result<Egg, String> {
    let mut parts = Vec::new();
    for [share, kind, form] in [["CA", "SA", "FA"], ["CB", "SB", "FB"], ["CC", "SC", "FC"]] {
        let part = EggPart {
            concentration: concentration(feature, share)?,
            stage: code(feature, kind, Stage::of_code)?,
            form: code(feature, form, Form::of_code)?,
        };
        if part.concentration.is_some() || part.stage.is_some() {
            parts.push(part);
        }
    }
    Ok(Egg { total, parts, rest: code(feature, "CD", Stage::of_code)? })
}

fn concentration(feature: &AreaFeature, name: &str) -> Result<Option<Concentration>, String> {
    code(feature, name, Concentration::of_code)
}

/// An attribute by the code table that it belongs to; nothing where it is not set.
fn code<T>(
    feature: &AreaFeature,
    name: &str,
    table: impl Fn(u8) -> Option<T>,
) -> Result<Option<T>, String> {
    let code = code_of(feature.attribute(name)).map_err(|what| format!("`{name}`: {what}"))?;
    match code {
        None => Ok(None),
        Some(code) => match table(code) {
            Some(value) => Ok(Some(value)),
            None => Err(format!("`{name}` is {code:02}, which is no code of SIGRID-3")),
        },
    }
}
