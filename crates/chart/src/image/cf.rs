//! What CF metadata say of a field: its times, its axes and its projection.

use dipward_geodesy::{Ellipsoid, position};
use jiff::{Timestamp, civil::DateTime, tz::TimeZone};
use netcdf_reader::{NcDimension, NcFile, NcVariable};

use super::{
    Placement,
    netcdf::{number, text},
};
use crate::crs::{MapProjection, polar, projection_of_wkt};

/// The instants of a time dimension; nothing where its coordinate is missing and it has one step.
pub(super) fn times(
    file: &NcFile,
    dimension: &NcDimension,
) -> Result<Option<Vec<Timestamp>>, String> {
    const MAX_TIMES: u64 = 1_000_000;

    let name = dimension.name.as_str();
    let Ok(variable) = file.variable(name) else {
        return if dimension.size == 1 {
            Ok(None)
        } else {
            Err(format!("has {} steps of `{name}` and no times for them", dimension.size))
        };
    };
    if dimension.size > MAX_TIMES {
        return Err(format!("has {} times", dimension.size));
    }
    let units = text(variable, "units").unwrap_or_default();
    let unreadable = || format!("has times in the unit `{units}`, which cannot be read");
    let (unit, origin) = units.split_once(" since ").ok_or_else(unreadable)?;
    let calendar = text(variable, "calendar").unwrap_or_default().to_ascii_lowercase();
    if !["", "standard", "gregorian", "proleptic_gregorian"].contains(&calendar.as_str()) {
        return Err(format!("has times in the calendar `{calendar}`, which is not ours"));
    }
    let seconds = match unit.trim().to_ascii_lowercase().trim_end_matches('s') {
        "day" | "d" => 86_400.0,
        "hour" | "hr" | "h" => 3600.0,
        "minute" | "min" => 60.0,
        "second" | "sec" | "" => 1.0,
        _ => return Err(unreadable()),
    };
    let origin = instant(origin).ok_or_else(unreadable)?;
    let values = file
        .read_variable_as_f64(name)
        .map_err(|error| format!("has times that cannot be read: {error}"))?;
    values
        .iter()
        .map(|value| {
            let milliseconds = (value * seconds * 1000.0).round();
            let at = origin.as_millisecond().checked_add(milliseconds as i64);
            at.filter(|_| milliseconds.is_finite())
                .and_then(|at| Timestamp::from_millisecond(at).ok())
                .ok_or_else(|| format!("has the time {value} {units}"))
        })
        .collect::<Result<_, _>>()
        .map(Some)
}

/// An instant as CF writes it: `1978-01-01 00:00:00`, with or without the time of day.
fn instant(text: &str) -> Option<Timestamp> {
    let text = text.trim().trim_end_matches("UTC").trim_end_matches('Z').trim();
    let (date, time) = text.split_once([' ', 'T']).unwrap_or((text, "00:00:00"));
    // Some writers leave out the zeros: 1970-1-1 0:0:0.
    let padded = |text: &str, sign: char, width: usize| -> String {
        let parts: Vec<String> = text.split(sign).map(|part| format!("{part:0>width$}")).collect();
        parts.join(&sign.to_string())
    };
    let time = time.split_whitespace().next().unwrap_or("00:00:00");
    let time = padded(time.split('.').next().unwrap_or(time), ':', 2);
    let time = if time.matches(':').count() == 1 { format!("{time}:00") } else { time };
    let moment: DateTime = format!("{}T{time}", padded(date, '-', 2)).parse().ok()?;
    TimeZone::UTC.to_timestamp(moment).ok()
}

/// Where a field lies.
///
/// # Errors
///
/// When the axes are missing or uneven, when the projection is not stated or not taken, and when the
/// file's own latitudes and longitudes contradict it.
pub(super) fn placement(file: &NcFile, variable: &NcVariable) -> Result<Placement, String> {
    let [.., rows, columns] = variable.dimensions() else {
        return Err("has no rows and columns".to_owned());
    };
    let x = Axis::read(file, columns)?;
    let y = Axis::read(file, rows)?;
    let projection = match (text(variable, "grid_mapping"), x.unit.as_str()) {
        (Some(mapping), _) => {
            // The extended form names coordinates too: `crs: x y`.
            let name = mapping.split([':', ' ']).next().unwrap_or_default();
            let mapping = file
                .variable(name)
                .map_err(|_| format!("names the grid mapping `{name}`, which it has not"))?;
            of_mapping(mapping)?
        }
        (None, unit) if unit.starts_with("degree") => MapProjection::LonLat,
        (None, _) => return Err("does not state its grid mapping".to_owned()),
    };
    let scale = match projection {
        MapProjection::LonLat => 1.0,
        _ => match (x.unit.as_str(), y.unit.as_str()) {
            ("m" | "metre" | "meter" | "metres" | "meters", _) => 1.0,
            ("km" | "kilometre" | "kilometer" | "kilometres" | "kilometers", _) => 1000.0,
            (unit, _) => {
                return Err(format!("has an axis in the unit `{unit}`, which is no length"));
            }
        },
    };
    let placement = Placement {
        projection,
        corner: [scale * (x.first - x.step / 2.0), scale * (y.first - y.step / 2.0)],
        along_row: [scale * x.step, 0.0],
        along_column: [0.0, scale * y.step],
    };
    if !placement.is_regular() {
        return Err("has axes of no length".to_owned());
    }
    check_positions(file, variable, &placement)?;
    Ok(placement)
}

/// An evenly spaced axis.
struct Axis {
    unit: String,
    first: f64,
    step: f64,
}

impl Axis {
    fn read(file: &NcFile, dimension: &NcDimension) -> Result<Self, String> {
        let name = dimension.name.as_str();
        let variable = file
            .variable(name)
            .map_err(|_| format!("has no coordinates for its dimension `{name}`"))?;
        if dimension.size < 2 || dimension.size > 1 << 24 || variable.ndim() != 1 {
            return Err(format!("has an axis `{name}` of {} values", dimension.size));
        }
        // Coordinates may be packed too.
        let values = file
            .read_variable_unpacked(name)
            .map_err(|error| format!("has an axis `{name}` that cannot be read: {error}"))?;
        let values: Vec<f64> = values.iter().copied().collect();
        let (Some(&first), Some(&last)) = (values.first(), values.last()) else {
            return Err(format!("has an empty axis `{name}`"));
        };
        let step = (last - first) / (values.len() - 1) as f64;
        // A hundredth of a step: coordinates are often single-precision numbers.
        let even = values.iter().enumerate().all(|(index, value)| {
            (value - (first + step * index as f64)).abs() <= 0.01 * step.abs()
        });
        if !even || !step.is_finite() || step == 0.0 {
            return Err(format!("has an axis `{name}` that is not evenly spaced"));
        }
        let unit = text(variable, "units").unwrap_or_default();
        Ok(Self { unit, first, step })
    }
}

/// The projection of a grid mapping.
fn of_mapping(mapping: &NcVariable) -> Result<MapProjection, String> {
    let name = text(mapping, "grid_mapping_name").unwrap_or_default();
    match name.as_str() {
        "latitude_longitude" => return Ok(MapProjection::LonLat),
        "polar_stereographic" => {}
        "" => {
            return match text(mapping, "spatial_ref").or_else(|| text(mapping, "crs_wkt")) {
                Some(wkt) => projection_of_wkt(&wkt),
                None => Err("has a grid mapping without a name".to_owned()),
            };
        }
        other => {
            return Err(format!(
                "has the grid mapping `{other}`, but polar_stereographic or latitude_longitude is wanted"
            ));
        }
    }
    let need = |names: &[&str]| {
        names
            .iter()
            .find_map(|name| number(mapping, name))
            .ok_or_else(|| format!("has a grid mapping without `{}`", names[0]))
    };
    let central_deg =
        need(&["straight_vertical_longitude_from_pole", "longitude_of_projection_origin"])?;
    let semi_major_m = need(&["semi_major_axis", "earth_radius"])?;
    let inverse_flattening =
        match (number(mapping, "inverse_flattening"), number(mapping, "semi_minor_axis")) {
            (Some(inverse), _) => inverse,
            (None, Some(minor_m)) if minor_m != semi_major_m => {
                semi_major_m / (semi_major_m - minor_m)
            }
            _ => 0.0,
        };
    let (latitude_deg, scale) = match number(mapping, "standard_parallel") {
        Some(parallel_deg) => (parallel_deg, 1.0),
        None => (
            need(&["latitude_of_projection_origin"])?,
            need(&["scale_factor_at_projection_origin"])?,
        ),
    };
    let false_origin_m = [
        number(mapping, "false_easting").unwrap_or(0.0),
        number(mapping, "false_northing").unwrap_or(0.0),
    ];
    let ellipsoid = Ellipsoid { semi_major_m, inverse_flattening };
    polar(ellipsoid, latitude_deg, central_deg, scale, false_origin_m)
}

/// Holds the projection against the latitudes and longitudes that many files carry for each pixel:
/// files are about whose grid mapping states another longitude than the one that was used.
fn check_positions(
    file: &NcFile,
    variable: &NcVariable,
    placement: &Placement,
) -> Result<(), String> {
    let [.., rows, columns] = variable.dimensions() else { return Ok(()) };
    let find = |names: [&'static str; 2]| {
        names.into_iter().find(|name| {
            file.variable(name).is_ok_and(|own| {
                let [own_rows, own_columns] = own.dimensions() else { return false };
                (own_rows.size, own_columns.size) == (rows.size, columns.size)
            })
        })
    };
    let (Some(latitudes), Some(longitudes)) =
        (find(["lat", "latitude"]), find(["lon", "longitude"]))
    else {
        return Ok(());
    };
    let read = |name: &str| {
        file.read_variable_unpacked_masked(name)
            .map(|values| values.iter().copied().collect::<Vec<f64>>())
            .map_err(|error| format!("has a field `{name}` that cannot be read: {error}"))
    };
    let (latitudes, longitudes) = (read(latitudes)?, read(longitudes)?);
    let (width, height) = (columns.size as usize, rows.size as usize);
    for row in [0, height / 3, height - 1] {
        for column in [0, width / 3, width - 1] {
            let at = row * width + column;
            let (Some(&latitude), Some(&longitude)) = (latitudes.get(at), longitudes.get(at))
            else {
                continue;
            };
            if !(latitude.abs() <= 90.0 && longitude.is_finite()) {
                continue;
            }
            let [x, y] = placement.pixel(position(latitude, longitude));
            let off = (x - column as f64 - 0.5).hypot(y - row as f64 - 0.5);
            // Half a pixel, plainly more than the rounding of the positions.
            if off > 0.5 {
                return Err(format!(
                    "contradicts itself: by its grid mapping the pixel in column {column} and row {row} \
                     is {off:.1} pixels from its own latitude {latitude} and longitude {longitude}"
                ));
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn origins_of_time_come_in_many_forms() {
        let at = |text: &str| instant(text).map(|instant| instant.to_string());
        let new_year = Some("1978-01-01T00:00:00Z".to_owned());
        for text in [
            "1978-01-01",
            "1978-01-01 00:00:00",
            "1978-1-1 0:0:0",
            "1978-01-01T00:00:00Z",
            "1978-01-01 00:00:00.0",
            "1978-01-01 00:00:00 UTC",
            "1978-01-01 00:00",
        ] {
            assert_eq!(at(text), new_year, "{text}");
        }
        assert_eq!(at("1978-13-01"), None);
        assert_eq!(at("yesterday"), None);
    }
}
