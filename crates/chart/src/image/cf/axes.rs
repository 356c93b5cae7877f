//! Which dimension is what.

use netcdf_reader::{NcDimension, NcFile, NcVariable};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{named_coordinates, runs_along, text, variables};
use crate::image::units::{is_degrees_east, is_degrees_north};

/// Dimensions of a NetCDF file by name, where its own attributes do not tell which is which.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NamedAxes {
    /// The dimension that runs along rows: eastward, or along the projection's x.
    pub(crate) x: String,
    /// The dimension that runs across them.
    pub(crate) y: String,
    /// The unit of their coordinates, where the file states none: `m`, `km`, `degrees`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) unit: Option<String>,
}

/// What a dimension runs along.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Role {
    Columns,
    Rows,
    /// Times of validity.
    Time,
    /// Hours since a run began.
    Step,
    /// Beginnings of runs.
    Run,
    /// Members of an ensemble.
    Member,
    Level,
}

/// The dimensions of a field by meaning; each with its place among them.
#[derive(Debug, Default)]
pub(crate) struct Layout<'a> {
    pub(crate) columns: Option<Axis<'a>>,
    pub(crate) rows: Option<Axis<'a>>,
    /// Those beside rows and columns that are longer than 1, or have coordinates.
    pub(crate) others: Vec<(Role, Axis<'a>)>,
    /// Those without a meaning that are longer than 1.
    pub(crate) unknown: Vec<Axis<'a>>,
}

/// A dimension of a field.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Axis<'a> {
    /// Its place among the field's dimensions.
    pub(crate) place: usize,
    pub(crate) dimension: &'a NcDimension,
    /// The variable of its coordinates.
    pub(crate) coordinate: Option<&'a NcVariable>,
}

impl<'a> Layout<'a> {
    /// Finds out what a variable's dimensions are.
    ///
    /// # Errors
    ///
    /// When attributes contradict each other, or two dimensions are the same thing.
    pub(crate) fn of(
        file: &'a NcFile,
        variable: &'a NcVariable,
        named: Option<&NamedAxes>,
    ) -> Result<Self, String> {
        let mut layout = Self::default();
        for (place, dimension) in variable.dimensions().iter().enumerate() {
            let coordinate = coordinate_of(file, variable, dimension);
            let axis = Axis { place, dimension, coordinate };
            let role = match named {
                Some(named) if named.x == dimension.name => Some(Role::Columns),
                Some(named) if named.y == dimension.name => Some(Role::Rows),
                _ => match coordinate.map(role_of).transpose()?.flatten() {
                    // The scenario says which they are.
                    Some(Role::Columns | Role::Rows) if named.is_some() => None,
                    Some(role) => Some(role),
                    None if named.is_some() => None,
                    None => role_of_name(&dimension.name),
                },
            };
            let slot = match role {
                Some(Role::Columns) => &mut layout.columns,
                Some(Role::Rows) => &mut layout.rows,
                Some(role) => {
                    if let Some((_, other)) = layout.others.iter().find(|(own, _)| *own == role) {
                        return Err(twice(&other.dimension.name, &dimension.name));
                    }
                    layout.others.push((role, axis));
                    continue;
                }
                None => {
                    if dimension.size != 1 {
                        layout.unknown.push(axis);
                    }
                    continue;
                }
            };
            if let Some(other) = slot {
                return Err(twice(&other.dimension.name, &dimension.name));
            }
            *slot = Some(axis);
        }
        if let Some(named) = named {
            for (axis, name) in [(&layout.columns, &named.x), (&layout.rows, &named.y)] {
                if axis.is_none() {
                    return Err(format!("has no dimension `{name}`, which `axes` names"));
                }
            }
        }
        Ok(layout)
    }

    /// The axis of a role beside rows and columns.
    pub(crate) fn other(&self, role: Role) -> Option<Axis<'a>> {
        self.others.iter().find(|(own, _)| *own == role).map(|(_, axis)| *axis)
    }
}

fn twice(one: &str, other: &str) -> String {
    format!(
        "has two dimensions, `{one}` and `{other}`, that say they are the same axis: name the columns' and \
         the rows' by `axes`"
    )
}

/// The variable of a dimension's coordinates: the one of its name, or else the only one along it that the
/// field's `coordinates`, or its own attributes, tell of.
fn coordinate_of<'a>(
    file: &'a NcFile,
    variable: &NcVariable,
    dimension: &NcDimension,
) -> Option<&'a NcVariable> {
    let all = variables(file);
    let own = |own: &&NcVariable| own.name() != variable.name() && runs_along(own, dimension);
    if let Some(found) = all.iter().filter(own).find(|own| own.name() == dimension.name) {
        return Some(found);
    }
    let named = named_coordinates(variable);
    let candidates: Vec<&NcVariable> = all
        .iter()
        .filter(own)
        .filter(|own| own.dimensions().iter().any(|along| along.name == dimension.name))
        .filter(|own| named.iter().any(|name| name == own.name()) || dimension.size != 1)
        .filter(|own| matches!(role_of(own), Ok(Some(_))))
        .collect();
    match candidates.as_slice() {
        [only] => Some(only),
        _ => {
            let mut listed =
                candidates.into_iter().filter(|own| named.iter().any(|n| n == own.name()));
            match (listed.next(), listed.next()) {
                (Some(only), None) => Some(only),
                _ => None,
            }
        }
    }
}

/// What a coordinate variable says that it is.
///
/// # Errors
///
/// When its attributes contradict each other.
pub(super) fn role_of(coordinate: &NcVariable) -> Result<Option<Role>, String> {
    let lower = |name: &str| text(coordinate, name).unwrap_or_default().to_ascii_lowercase();
    let standard = match lower("standard_name").as_str() {
        "longitude"
        | "projection_x_coordinate"
        | "grid_longitude"
        | "projection_x_angular_coordinate" => Some(Role::Columns),
        "latitude"
        | "projection_y_coordinate"
        | "grid_latitude"
        | "projection_y_angular_coordinate" => Some(Role::Rows),
        "time" => Some(Role::Time),
        "forecast_reference_time" => Some(Role::Run),
        "forecast_period" => Some(Role::Step),
        "realization" => Some(Role::Member),
        "height"
        | "depth"
        | "altitude"
        | "air_pressure"
        | "model_level_number"
        | "height_above_mean_sea_level" => Some(Role::Level),
        _ => None,
    };
    let axis = match lower("axis").as_str() {
        "x" => Some(Role::Columns),
        "y" => Some(Role::Rows),
        "t" => Some(Role::Time),
        "z" => Some(Role::Level),
        _ => None,
    };
    let kind = match lower("_coordinateaxistype").as_str() {
        "geox" | "lon" => Some(Role::Columns),
        "geoy" | "lat" => Some(Role::Rows),
        "time" => Some(Role::Time),
        "runtime" => Some(Role::Run),
        "ensemble" => Some(Role::Member),
        "height" | "pressure" | "geoz" => Some(Role::Level),
        _ => None,
    };
    let units = text(coordinate, "units").unwrap_or_default();
    let unit = if is_degrees_east(&units) {
        Some(Role::Columns)
    } else if is_degrees_north(&units) {
        Some(Role::Rows)
    } else if units.contains(" since ") {
        Some(Role::Time)
    } else if text(coordinate, "positive").is_some() {
        Some(Role::Level)
    } else {
        None
    };
    let told: Vec<Role> = [standard, axis, kind, unit].into_iter().flatten().collect();
    let Some(&first) = told.first() else { return Ok(None) };
    let timely = |role: Role| matches!(role, Role::Time | Role::Run | Role::Step);
    if told.iter().all(|role| *role == first || (timely(*role) && timely(first))) {
        return Ok(Some(first));
    }
    Err(format!(
        "contradicts itself: the `standard_name`, `axis` and `units` of `{}` say that it is more than one \
         axis: name the columns' and the rows' by `axes`",
        coordinate.name()
    ))
}

/// What the name of a dimension means to most writers.
fn role_of_name(name: &str) -> Option<Role> {
    Some(match name.to_ascii_lowercase().as_str() {
        "x" | "xc" | "lon" | "longitude" | "lons" | "longitudes" | "rlon" | "easting" => {
            Role::Columns
        }
        "y" | "yc" | "lat" | "latitude" | "lats" | "latitudes" | "rlat" | "northing" => Role::Rows,
        "time" | "t" | "valid_time" => Role::Time,
        "step" | "lead" | "lead_time" | "leadtime" | "forecast_period" => Role::Step,
        "member" | "members" | "ens" | "ensemble" | "realization" | "number" => Role::Member,
        "run" | "reftime" | "reference_time" | "forecast_reference_time" => Role::Run,
        "lev" | "level" | "levels" | "depth" | "height" | "z" | "plev" | "altitude" => Role::Level,
        _ => return None,
    })
}
