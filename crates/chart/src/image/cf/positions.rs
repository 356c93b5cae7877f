//! The positions that a file lists for each pixel, and what they tell of a field's place.

use std::sync::Arc;

use dipward_geodesy::{Position, position};
use netcdf_reader::{NcFile, NcSliceInfo, NcSliceInfoElem, NcVariable};

use super::{
    Packing,
    axes::{Axis, Role, role_of},
    named_coordinates,
    place::Place,
    text, variables,
};
use crate::{
    crs::{Listed, ListedSurface},
    image::Placement,
};

/// The variables of a field's positions.
pub(super) struct Positions<'a> {
    longitude: &'a NcVariable,
    latitude: &'a NcVariable,
}

impl<'a> Positions<'a> {
    /// Longitudes and latitudes with two dimensions, both the field's.
    pub(super) fn find(file: &'a NcFile, variable: &'a NcVariable) -> Result<Option<Self>, String> {
        let listed = named_coordinates(variable);
        let own = |name: &str| variable.dimensions().iter().any(|along| along.name == name);
        let fits = |candidate: &&NcVariable| {
            let long = || candidate.dimensions().iter().filter(|along| along.size != 1);
            candidate.name() != variable.name()
                && candidate.ndim() >= 2
                && long().count() == 2
                && long().all(|along| own(&along.name))
        };
        let of_role = |wanted: Role, names: [&str; 2], standard: &str| -> Result<_, String> {
            let is = |candidate: &NcVariable| {
                let said = text(candidate, "standard_name").unwrap_or_default();
                if said.starts_with("grid_") || said.starts_with("projection_") {
                    return false;
                }
                let plain = candidate.name().to_ascii_lowercase();
                said == standard
                    || matches!(role_of(candidate), Ok(Some(role)) if role == wanted)
                    || (said.is_empty() && names.contains(&plain.as_str()))
            };
            let all: Vec<&NcVariable> =
                variables(file).iter().filter(fits).filter(|own| is(own)).collect();
            let in_list: Vec<&NcVariable> = all
                .iter()
                .copied()
                .filter(|own| listed.iter().any(|name| name == own.name()))
                .collect();
            match (in_list.as_slice(), all.as_slice()) {
                ([only], _) | ([], [only]) => Ok(Some(*only)),
                ([], []) => Ok(None),
                _ => Err(format!(
                    "has several {standard}s for its pixels, {}, and its `coordinates` names none of them",
                    all.iter().map(|own| own.name()).collect::<Vec<_>>().join(", ")
                )),
            }
        };
        let longitude = of_role(Role::Columns, ["lon", "longitude"], "longitude")?;
        let latitude = of_role(Role::Rows, ["lat", "latitude"], "latitude")?;
        Ok(longitude.zip(latitude).map(|(longitude, latitude)| Self { longitude, latitude }))
    }

    pub(super) fn matches(&self, columns: Axis<'_>, rows: Axis<'_>) -> bool {
        [self.longitude, self.latitude].iter().all(|own| {
            [columns, rows]
                .iter()
                .all(|axis| own.dimensions().iter().any(|along| along.name == axis.dimension.name))
        })
    }

    /// The positions, row by row.
    pub(super) fn read(
        &self,
        file: &NcFile,
        columns: Axis<'_>,
        rows: Axis<'_>,
    ) -> Result<PixelPositions, String> {
        let (width, height) = (columns.dimension.size as usize, rows.dimension.size as usize);
        let one = |variable: &NcVariable| -> Result<Vec<f64>, String> {
            let name = variable.name();
            let mut selection = NcSliceInfo::all(variable.ndim());
            let mut order = Vec::new();
            for (slice, along) in selection.selections.iter_mut().zip(variable.dimensions()) {
                if along.name == columns.dimension.name || along.name == rows.dimension.name {
                    order.push(along.name.as_str());
                } else {
                    *slice = NcSliceInfoElem::Index(0);
                }
            }
            let packing = Packing::of(variable)?;
            let values = file
                .read_variable_slice_as_f64(name, &selection)
                .map_err(|error| format!("has a field `{name}` that cannot be read: {error}"))?;
            let values: Vec<f64> = values.iter().map(|value| packing.value(*value)).collect();
            if values.len() != width * height {
                return Err(format!("has a field `{name}` that is cut short"));
            }
            let by_columns = order.first() == Some(&columns.dimension.name.as_str());
            Ok(if by_columns { transposed(&values, height, width) } else { values })
        };
        let (longitudes, latitudes) = (one(self.longitude)?, one(self.latitude)?);
        let positions = latitudes
            .iter()
            .zip(&longitudes)
            .map(|(latitude, longitude)| {
                if latitude.abs() <= 90.0 && longitude.abs() <= 720.0 {
                    position(*latitude, *longitude)
                } else {
                    position(f64::NAN, f64::NAN)
                }
            })
            .collect();
        Ok(PixelPositions { width, height, positions })
    }

    /// The field's place by its positions alone.
    pub(super) fn place(
        &self,
        file: &NcFile,
        variable: &NcVariable,
        axes: Option<(Axis<'_>, Axis<'_>)>,
    ) -> Result<Place, String> {
        let dimensions = variable.dimensions();
        let (columns, rows) = match axes {
            Some(axes) => axes,
            None => {
                // Which of the two is called the columns makes no difference: the positions tell.
                let axis = |index: usize| -> Option<Axis<'_>> {
                    let along = self
                        .latitude
                        .dimensions()
                        .iter()
                        .filter(|along| along.size != 1)
                        .nth(index)?;
                    let place = dimensions.iter().position(|own| own.name == along.name)?;
                    Some(Axis { place, dimension: dimensions.get(place)?, coordinate: None })
                };
                axis(1).zip(axis(0)).ok_or("has positions along other dimensions than its own")?
            }
        };
        if !self.matches(columns, rows) {
            return Err("has positions along other dimensions than its own".to_owned());
        }
        refuse_swath(file, &[columns, rows])?;
        let read = self.read(file, columns, rows)?;
        let surface = ListedSurface::new(read.width, read.height, &read.positions)?;
        Ok(Place {
            placement: Placement::listed(Listed::Surface(Arc::new(surface))),
            columns: (columns.place, read.width),
            rows: (rows.place, read.height),
            notes: Vec::new(),
        })
    }
}

/// A swath is a strip as the satellite saw it, each row at its own time, whose rows may lie over each other.
fn refuse_swath(file: &NcFile, axes: &[Axis<'_>]) -> Result<(), String> {
    let name = axes.iter().map(|axis| axis.dimension.name.as_str()).find(|name| {
        let plain = name.to_ascii_lowercase();
        ["scan", "track", "swath", "line", "pixel_number"].iter().any(|word| plain.contains(word))
    });
    let kind = ["cdm_data_type", "featureType", "feature_type"].iter().find_map(|name| {
        file.global_attribute(name).ok()?.value.as_string().filter(|text| {
            ["swath", "trajectory"].iter().any(|word| text.to_ascii_lowercase().contains(word))
        })
    });
    let told = name.map(str::to_owned).or(kind);
    // A time for each row or pixel.
    let timed = variables(file).iter().find(|own| {
        matches!(role_of(own), Ok(Some(Role::Time)))
            && own.dimensions().iter().any(|along| {
                along.size != 1 && axes.iter().any(|axis| axis.dimension.name == along.name)
            })
    });
    match told.or_else(|| timed.map(|own| own.name().to_owned())) {
        Some(told) => Err(format!(
            "is a swath, as its `{told}` tells: grid it first, since a chart has one time for all its pixels"
        )),
        None => Ok(()),
    }
}

/// The positions of pixels, row by row.
pub(super) struct PixelPositions {
    width: usize,
    height: usize,
    positions: Vec<Position>,
}

impl PixelPositions {
    /// Holds a placement against the positions: files are about whose grid mapping states another longitude
    /// than the one that was used.
    pub(super) fn check(&self, placement: &Placement) -> Result<(), String> {
        for row in [0, self.height / 3, self.height - 1] {
            for column in [0, self.width / 3, self.width - 1] {
                let Some(at) = self.positions.get(row * self.width + column) else { continue };
                if !(at.y().is_finite() && at.x().is_finite()) {
                    continue;
                }
                let [x, y] = placement.pixel(*at);
                let off = (x - column as f64 - 0.5).hypot(y - row as f64 - 0.5);
                // Half a pixel, plainly more than the rounding of the positions. A pole has any longitude.
                if off <= 0.5 || at.y().abs() > 89.999 {
                    continue;
                }
                return Err(format!(
                    "contradicts itself: by its grid mapping the pixel in column {column} and row {row} is \
                     {off:.1} pixels from its own latitude {} and longitude {}",
                    at.y(),
                    at.x()
                ));
            }
        }
        Ok(())
    }
}

/// Values column by column as rows of a width.
fn transposed(values: &[f64], height: usize, width: usize) -> Vec<f64> {
    let mut out = Vec::with_capacity(values.len());
    for row in 0..height {
        out.extend((0..width).filter_map(|column| values.get(column * height + row)));
    }
    out
}
