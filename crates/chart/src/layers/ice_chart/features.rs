//! Areas of an ice chart from its polygons' attributes.

use std::path::Path;

use dipward_plugin::Error;
use serde_json::Value;

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
    /// Codes of form or trace that the format has not in that place.
    pub(super) odd_codes: Vec<String>,
}

impl ChartArea {
    /// Concentration, thickness, ice of land origin and partials.
    pub(super) fn columns(&self) -> [f32; 14] {
        let mut columns = [f32::NAN; 14];
        let regime = &self.regime;
        let first = [regime.concentration, regime.thickness_m, regime.land_ice];
        let values = first.into_iter().chain(regime.partials);
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
/// [`Error::File`] for what is wrong with the file, for a code of concentration or stage that the format
/// has not, and for a feature that says neither what it is (POLY_TYPE) nor how much ice it has (CT). A
/// code of form or trace that the format has not counts as unknown, and is kept to be told.
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
            let mut odd_codes = Vec::new();
            let regime = regime_of(&feature, reading, &mut odd_codes)
                .map_err(|message| wrong(format!("{}: {message}", feature.label)))?;
            let AreaFeature { label, map, polygons, .. } = feature;
            Ok(ChartArea { label, regime, map, polygons, odd_codes })
        })
        .collect()
}

/// The ice regime of a feature; [`IceRegime::UNKNOWN`] for land, shelf and areas without data.
fn regime_of(
    feature: &AreaFeature,
    reading: &Reading,
    odd_codes: &mut Vec<String>,
) -> Result<IceRegime, String> {
    let mut egg = |total| egg(feature, total, odd_codes).map(|egg| egg.regime(reading));
    let total = concentration(feature, "CT")?;
    let kind = feature.attribute("POLY_TYPE").and_then(|kind| kind.as_str()).map(str::trim);
    match (kind, total) {
        // Land, ice shelf and no data: nothing is said of sea ice there.
        (Some("L" | "S" | "N"), _) => Ok(IceRegime::UNKNOWN),
        (Some("W"), None) => egg(Concentration::IceFree),
        (Some("I" | "W") | None, Some(total)) => egg(total),
        (Some("I"), None) => egg(Concentration::Unknown),
        (Some(other), _) => Err(format!("`POLY_TYPE` is `{other}`, but I, W, L, S or N is wanted")),
        (None, None) => Err("has neither `CT` nor `POLY_TYPE`".to_owned()),
    }
}

fn egg(
    feature: &AreaFeature,
    total: Concentration,
    odd_codes: &mut Vec<String>,
) -> Result<Egg, String> {
    let mut parts = Vec::new();
    for [share, kind, form] in [["CA", "SA", "FA"], ["CB", "SB", "FB"], ["CC", "SC", "FC"]] {
        let part = EggPart {
            concentration: concentration(feature, share)?,
            stage: code(feature, kind, Stage::of_code)?,
            form: forms(feature, form, odd_codes).into_iter().next(),
        };
        let of_land = part.form.is_some_and(Form::is_of_land);
        if part.concentration.is_some() || part.stage.is_some() || of_land {
            parts.push(part);
        }
    }
    Ok(Egg {
        total,
        parts,
        rest: code(feature, "CD", Stage::of_code)?,
        trace: code(feature, "CN", Stage::of_code).unwrap_or_else(|what| {
            odd_codes.push(format!("{}: {what}", feature.label));
            None
        }),
        forms: forms(feature, "CF", odd_codes),
    })
}

/// The forms of an attribute: one code, or two in a row as in CF. What the format has not in that place
/// is an unknown form, and is noted: no form decides whether an area can be charted.
fn forms(feature: &AreaFeature, name: &str, odd_codes: &mut Vec<String>) -> Vec<Form> {
    let value = feature.attribute(name);
    let text = match value {
        None | Some(Value::Null) => return Vec::new(),
        Some(Value::String(text)) => text.trim().to_owned(),
        Some(other) => other.to_string(),
    };
    let pair = (text.len() == 4 && text.bytes().all(|byte| byte.is_ascii_digit()))
        .then(|| text.split_at(2));
    let codes = match pair {
        Some((first, second)) => vec![Value::from(first), Value::from(second)],
        None => value.cloned().into_iter().collect(),
    };
    let mut forms = Vec::new();
    for code in codes {
        match code_of(Some(&code)).map(|code| code.map(Form::of_code)) {
            Ok(None) => {}
            Ok(Some(Some(form))) => forms.push(form),
            Ok(Some(None)) | Err(_) => {
                odd_codes.push(format!("{}: `{name}` is {text}", feature.label));
                forms.push(Form::Unknown);
            }
        }
    }
    forms
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
