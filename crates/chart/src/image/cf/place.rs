//! Where a field lies: its axes on its map, or the positions that the file lists.

use std::sync::Arc;

use netcdf_reader::{NcFile, NcVariable};

use super::{Layout, NamedAxes, mapping::mapping, positions::Positions, text, values};
use crate::{
    crs::{Listed, ListedAxes, MapProjection},
    image::{
        Placement,
        units::{self, is_degrees_east, is_degrees_north},
    },
};

/// Where a field lies, and which of its dimensions are its columns and rows.
#[derive(Debug)]
pub(crate) struct Place {
    pub(crate) placement: Placement,
    /// The columns' and the rows' places among the dimensions, and their lengths.
    pub(crate) columns: (usize, usize),
    pub(crate) rows: (usize, usize),
    /// What was taken for granted.
    pub(crate) notes: Vec<String>,
}

/// The most values of an axis.
const MAX_AXIS: u64 = 1 << 20;

/// Where a field lies.
///
/// # Errors
///
/// When the axes are missing, when the projection is not stated or not taken, and when the file's own
/// latitudes and longitudes contradict it.
pub(crate) fn placement(
    file: &NcFile,
    variable: &NcVariable,
    layout: &Layout<'_>,
    named: Option<&NamedAxes>,
) -> Result<Place, String> {
    let surface = Positions::find(file, variable)?;
    if let (Some(columns), Some(rows)) = (layout.columns, layout.rows)
        && let (Some(x), Some(y)) = (columns.coordinate, rows.coordinate)
    {
        let kind = AxesKind::of(x, y, named)?;
        let map = match kind {
            AxesKind::Geographic => mapping(file, variable, 1.0)
                .ok()
                .flatten()
                .filter(|own| own.named)
                .map_or(vec![MapProjection::LonLat], |own| own.maps),
            AxesKind::Angles | AxesKind::Metres(_) => {
                let scale = if let AxesKind::Metres(scale) = kind { scale } else { 1.0 };
                mapping(file, variable, scale)?.map_or_else(Vec::new, |own| own.maps)
            }
        };
        if map.is_empty() {
            return match surface {
                // The positions tell what the axes do not.
                Some(surface) => surface.place(file, variable, Some((columns, rows))),
                None => Err(match kind {
                    AxesKind::Angles => format!(
                        "has axes `{}` and `{}` in degrees that do not say that they are longitude and \
                         latitude, and no grid mapping: a rotated pole needs one",
                        x.name(),
                        y.name()
                    ),
                    _ => "does not state its grid mapping".to_owned(),
                }),
            };
        }
        let maps = suiting(kind, map)?;
        let mut notes = Vec::new();
        let places: Vec<Placement> =
            maps.into_iter().map(|map| on_axes(file, map, kind, x, y)).collect::<Result<_, _>>()?;
        let surface = match &surface {
            Some(surface) if surface.matches(columns, rows) => {
                Some(surface.read(file, columns, rows)?)
            }
            _ => None,
        };
        let several = places.len() > 1;
        let mut faults = Vec::new();
        for placement in places {
            match surface.as_ref().map_or(Ok(()), |own| own.check(&placement)) {
                Ok(()) if several && surface.is_none() => {
                    return Err(
                        "contradicts itself: its grid mapping's attributes and its well-known text tell of \
                         different projections"
                            .to_owned(),
                    );
                }
                Ok(()) => {
                    if several {
                        notes.push(
                            "its grid mapping contradicts itself; the reading that its latitudes and \
                             longitudes bear out is taken"
                                .to_owned(),
                        );
                    }
                    return Ok(Place {
                        placement,
                        columns: (columns.place, columns.dimension.size as usize),
                        rows: (rows.place, rows.dimension.size as usize),
                        notes,
                    });
                }
                Err(fault) => faults.push(fault),
            }
        }
        return Err(faults.into_iter().next().unwrap_or_default());
    }
    if let Some(surface) = surface {
        return surface.place(file, variable, layout.columns.zip(layout.rows));
    }
    let missing = [(layout.columns, "columns"), (layout.rows, "rows")];
    Err(match missing.iter().find_map(|(axis, what)| axis.is_none().then_some(what)) {
        Some(what) => format!(
            "does not say which dimension its {what} are: name the columns' and the rows' by `axes`"
        ),
        None => {
            let bare = [layout.columns, layout.rows].into_iter().flatten();
            let name = bare
                .filter(|axis| axis.coordinate.is_none())
                .map(|axis| &axis.dimension.name)
                .next();
            format!("has no coordinates for its dimension `{}`", name.map_or("", String::as_str))
        }
    })
}

/// What two axes measure.
#[derive(Debug, Clone, Copy, PartialEq)]
enum AxesKind {
    /// Longitude and latitude.
    Geographic,
    /// Degrees that do not say of what.
    Angles,
    /// Lengths, and metres to their unit.
    Metres(f64),
}

impl AxesKind {
    fn of(x: &NcVariable, y: &NcVariable, named: Option<&NamedAxes>) -> Result<Self, String> {
        let stated = |axis: &NcVariable| {
            let own = text(axis, "units").filter(|unit| !unit.is_empty());
            own.or_else(|| named.and_then(|named| named.unit.clone())).unwrap_or_default()
        };
        let (unit_x, unit_y) = (stated(x), stated(y));
        let standard = |axis: &NcVariable| text(axis, "standard_name").unwrap_or_default();
        let (name_x, name_y) = (standard(x), standard(y));
        if name_x.starts_with("grid_") || name_y.starts_with("grid_") {
            return Ok(Self::Angles);
        }
        let turned = |axis: &NcVariable| {
            ["rlon", "rlat", "grid_longitude", "grid_latitude", "rotated"]
                .iter()
                .any(|name| axis.name().to_ascii_lowercase().contains(name))
        };
        let angle = |unit: &str| {
            let plain = unit.trim_end_matches('s').eq_ignore_ascii_case("degree");
            plain || is_degrees_east(unit) || is_degrees_north(unit)
        };
        if angle(&unit_x) && angle(&unit_y) {
            let said = |name: &str, wanted: &str, unit: bool, axis: &NcVariable| {
                name == wanted
                    || unit && name.is_empty()
                    || name.is_empty()
                        && wanted.starts_with(&axis.name().to_ascii_lowercase())
                        && axis.name().len() >= 3
            };
            let geographic = said(&name_x, "longitude", is_degrees_east(&unit_x), x)
                && said(&name_y, "latitude", is_degrees_north(&unit_y), y)
                && !turned(x)
                && !turned(y);
            let by_key = named.is_some() && !turned(x) && !turned(y);
            return Ok(if geographic || by_key { Self::Geographic } else { Self::Angles });
        }
        match (units::metres(&unit_x), units::metres(&unit_y)) {
            (Some(a), Some(b)) if a == b => Ok(Self::Metres(a)),
            (Some(_), Some(_)) => Err(format!("has axes in `{unit_x}` and `{unit_y}`")),
            _ => {
                let (axis, unit) =
                    if units::metres(&unit_x).is_none() { (x, unit_x) } else { (y, unit_y) };
                if unit.is_empty() || unit == "1" {
                    Err(format!(
                        "has an axis `{}` without a unit: write it as `axes: {{x: …, y: …, unit: …}}`",
                        axis.name()
                    ))
                } else {
                    Err(format!(
                        "has an axis `{}` in the unit `{unit}`, which is no length",
                        axis.name()
                    ))
                }
            }
        }
    }
}

/// The maps whose coordinates are of the axes' kind.
fn suiting(kind: AxesKind, maps: Vec<MapProjection>) -> Result<Vec<MapProjection>, String> {
    let fits = |map: &MapProjection| match kind {
        AxesKind::Geographic => *map == MapProjection::LonLat,
        AxesKind::Angles => matches!(map, MapProjection::Rotated(_) | MapProjection::LonLat),
        AxesKind::Metres(_) => !map.goes_round(),
    };
    let kept: Vec<MapProjection> = maps.into_iter().filter(fits).collect();
    if kept.is_empty() {
        return Err(match kind {
            AxesKind::Metres(_) => {
                "has axes in metres, but a grid mapping of longitudes and latitudes".to_owned()
            }
            _ => "has axes in degrees, but a grid mapping in metres".to_owned(),
        });
    }
    Ok(kept)
}

fn on_axes(
    file: &NcFile,
    map: MapProjection,
    kind: AxesKind,
    x: &NcVariable,
    y: &NcVariable,
) -> Result<Placement, String> {
    let scale = if let AxesKind::Metres(scale) = kind { scale } else { 1.0 };
    let read = |axis: &NcVariable| -> Result<Vec<f64>, String> {
        let name = axis.name();
        let mut own = values(file, axis, MAX_AXIS)?;
        if own.len() < 2 {
            return Err(format!("has an axis `{name}` of {} values", own.len()));
        }
        own.iter_mut().for_each(|value| *value *= scale);
        if own.iter().any(|value| !value.is_finite() || value.abs() > 1e9) {
            return Err(format!("has an axis `{name}` with a coordinate that is none"));
        }
        Ok(own)
    };
    let (mut columns, rows) = (read(x)?, read(y)?);
    if map.goes_round() {
        if let Some(latitude) = rows.iter().find(|latitude| latitude.abs() > 90.001) {
            return Err(format!("has the latitude {latitude}"));
        }
        // Longitudes may step over 180 or 360.
        for index in 1..columns.len() {
            let step = columns[index] - columns[index - 1];
            columns[index] -= (step / 360.0).round() * 360.0;
        }
        let span = (columns[columns.len() - 1] - columns[0]).abs();
        if span > 361.0 {
            return Err(format!("has an axis `{}` that spans {span} degrees", x.name()));
        }
    }
    let even = |axis: &[f64]| -> Option<(f64, f64)> {
        let first = *axis.first()?;
        let step = (axis.last()? - first) / (axis.len() - 1) as f64;
        // A hundredth of a step: coordinates are often single-precision numbers.
        let even = axis.iter().enumerate().all(|(index, value)| {
            (value - (first + step * index as f64)).abs() <= 0.01 * step.abs()
        });
        (even && step.is_finite() && step != 0.0).then_some((first, step))
    };
    if let (Some((first_x, step_x)), Some((first_y, step_y))) = (even(&columns), even(&rows)) {
        return Ok(Placement {
            projection: map,
            corner: [first_x - step_x / 2.0, first_y - step_y / 2.0],
            along_row: [step_x, 0.0],
            along_column: [0.0, step_y],
        });
    }
    let listed = ListedAxes::new(map, columns, rows)?;
    Ok(Placement::listed(Listed::Axes(Arc::new(listed))))
}
