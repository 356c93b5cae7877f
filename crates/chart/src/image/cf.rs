//! What CF metadata say of a field: its axes, its map, its times and the packing of its numbers.
//!
//! Everything is found by meaning (`standard_name`, `axis`, `units`, `coordinates`, `grid_mapping`, `bounds`)
//! and by the names that writers agree on only where no attribute tells. The order of dimensions says nothing.
//!
//! Source: NetCDF Climate and Forecast Metadata Conventions, version 1.11.

mod axes;
mod mapping;
mod packing;
mod place;
mod positions;
mod time;

use netcdf_reader::{NcDimension, NcFile, NcVariable};

pub use axes::NamedAxes;
pub(super) use axes::{Axis, Layout, Role};
pub(super) use packing::Packing;
pub(super) use place::placement;
pub(super) use time::{instant_of_attribute, instants, reference, validities};

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

/// An attribute that is numbers, be they written as text.
pub(super) fn numbers(variable: &NcVariable, name: &str) -> Vec<f64> {
    let Some(attribute) = variable.attribute(name) else { return Vec::new() };
    attribute.value.as_f64_vec().unwrap_or_else(|| {
        let text = attribute.value.as_string().unwrap_or_default();
        text.split([' ', ',']).filter_map(|word| word.trim().parse().ok()).collect()
    })
}

/// The variables of a file's outermost group.
fn variables(file: &NcFile) -> &[NcVariable] {
    file.variables().unwrap_or_default()
}

/// Whether a variable runs along one dimension only, leaving out those of length 1.
fn runs_along(variable: &NcVariable, dimension: &NcDimension) -> bool {
    let mut long =
        variable.dimensions().iter().filter(|own| own.size != 1 || own.name == dimension.name);
    matches!((long.next(), long.next()), (Some(own), None) if own.name == dimension.name)
}

/// The names in a variable's `coordinates`.
fn named_coordinates(variable: &NcVariable) -> Vec<String> {
    let text = text(variable, "coordinates").unwrap_or_default();
    text.split_whitespace().map(str::to_owned).collect()
}

/// All numbers of a small variable.
fn values(file: &NcFile, variable: &NcVariable, most: u64) -> Result<Vec<f64>, String> {
    let name = variable.name();
    let count = variable.num_elements().unwrap_or(u64::MAX);
    if count > most {
        return Err(format!("has {count} numbers of `{name}`, more than {most}"));
    }
    // Coordinates may be packed too.
    file.read_variable_unpacked(name)
        .map(|values| values.iter().copied().collect())
        .map_err(|error| format!("has a `{name}` that cannot be read: {error}"))
}
