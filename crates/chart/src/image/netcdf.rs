//! Fields of a NetCDF file with CF metadata, classic or NetCDF-4.
//!
//! Scale, offset, fill value and valid range are applied as the CF conventions say; the projection is
//! that of the grid mapping.
//!
//! Source: NetCDF Climate and Forecast Metadata Conventions, version 1.11.

use std::path::Path;

use dipward_plugin::Error;
use jiff::Timestamp;
use netcdf_reader::{NcFile, NcSliceInfo, NcSliceInfoElem, NcVariable};

use super::{Image, cf};

/// The most numbers that a field may have.
const MAX_PIXELS: u64 = 1 << 28;

/// One field of a file.
#[derive(Debug)]
pub(crate) struct Field {
    /// When it is valid, if the file says so.
    pub(crate) valid: Option<Timestamp>,
    /// Its values in the unit of the file.
    pub(crate) image: Image,
}

/// Fields of one variable through time.
#[derive(Debug)]
pub(crate) struct Fields {
    /// The variable's unit, as the file writes it.
    pub(crate) unit: String,
    /// Its `standard_name`, if it has one.
    pub(crate) standard_name: Option<String>,
    /// In the order of the file.
    pub(crate) fields: Vec<Field>,
}

/// Reads a variable.
///
/// # Arguments
///
/// * `names`: the variable is the first of these that the file has, or else the only one whose
///   `standard_name` is among them.
/// * `keep`: chooses the times to read, given all of them; the others cost nothing.
///
/// # Errors
///
/// [`Error::File`] for a file that is no NetCDF file or is damaged, has no such variable, or whose grid,
/// projection or times cannot be made out.
pub(crate) fn read_netcdf(
    path: &Path,
    bytes: Vec<u8>,
    names: &[&str],
    keep: impl Fn(&[Timestamp]) -> Vec<usize>,
) -> Result<Fields, Error> {
    let wrong = |message: String| Error::File { path: path.to_owned(), message };
    let file = NcFile::from_vec(bytes)
        .map_err(|error| wrong(format!("cannot be read as a NetCDF file: {error}")))?;
    fields(&file, names, keep).map_err(wrong)
}

fn fields(
    file: &NcFile,
    names: &[&str],
    keep: impl Fn(&[Timestamp]) -> Vec<usize>,
) -> Result<Fields, String> {
    let variable = find(file, names)?;
    let name = variable.name();
    let dimensions = variable.dimensions();
    let [leading @ .., rows, columns] = dimensions else {
        return Err(format!("has no field `{name}` of rows and columns"));
    };
    let (height, width) = (rows.size, columns.size);
    if height.saturating_mul(width) == 0 || height.saturating_mul(width) > MAX_PIXELS {
        return Err(format!("has a field `{name}` of {width} by {height} values"));
    }
    let times = match leading {
        [] => None,
        [time] => cf::times(file, time)?,
        [time, rest @ ..] if rest.iter().all(|dimension| dimension.size == 1) => {
            cf::times(file, time)?
        }
        _ => return Err(format!("has a field `{name}` of more than time, rows and columns")),
    };
    let placement = cf::placement(file, variable)?;
    let unit = text(variable, "units").unwrap_or_default();
    let chosen: Vec<usize> = match &times {
        Some(times) => keep(times),
        None => vec![0],
    };
    let mut fields = Vec::with_capacity(chosen.len());
    for index in chosen {
        let mut selection = NcSliceInfo::all(dimensions.len());
        // All but the first of the leading dimensions are of length 1.
        for (place, slice) in selection.selections.iter_mut().take(leading.len()).enumerate() {
            *slice = NcSliceInfoElem::Index(if place == 0 { index as u64 } else { 0 });
        }
        let values = file
            .read_variable_slice_unpacked_masked(name, &selection)
            .map_err(|error| format!("has a field `{name}` that cannot be read: {error}"))?;
        let values: Vec<f32> = values.iter().map(|value| *value as f32).collect();
        if values.len() as u64 != width * height {
            return Err(format!("has a field `{name}` that is cut short"));
        }
        let image = Image { width: width as usize, height: height as usize, values, placement };
        let valid = times.as_ref().and_then(|times| times.get(index)).copied();
        fields.push(Field { valid, image });
    }
    Ok(Fields { unit, standard_name: text(variable, "standard_name"), fields })
}

/// The variable of one of the names, or of one of the standard names.
fn find<'a>(file: &'a NcFile, names: &[&str]) -> Result<&'a NcVariable, String> {
    let variables =
        file.variables().map_err(|error| format!("cannot be read as a NetCDF file: {error}"))?;
    let named = names.iter().find_map(|name| variables.iter().find(|own| own.name() == *name));
    if let Some(variable) = named {
        return Ok(variable);
    }
    let standard: Vec<&NcVariable> = variables
        .iter()
        .filter(|own| text(own, "standard_name").is_some_and(|own| names.contains(&own.as_str())))
        .collect();
    match standard.as_slice() {
        [variable] => Ok(variable),
        _ => {
            let have: Vec<&str> =
                variables.iter().filter(|own| own.ndim() >= 2).map(|own| own.name()).collect();
            Err(format!(
                "has no variable {}; its fields are {}",
                names.join(" or "),
                have.join(", ")
            ))
        }
    }
}

/// An attribute that is text.
pub(super) fn text(variable: &NcVariable, name: &str) -> Option<String> {
    let value = variable.attribute(name)?.value.as_string()?;
    Some(value.trim_matches(['\0', ' ']).to_owned())
}

/// An attribute that is a number, be it written as text.
pub(super) fn number(variable: &NcVariable, name: &str) -> Option<f64> {
    let value = &variable.attribute(name)?.value;
    value.as_f64().or_else(|| value.as_string()?.trim().parse().ok())
}
