//! Fields of a NetCDF file with CF metadata, classic or NetCDF-4.
//!
//! Source: NetCDF Climate and Forecast Metadata Conventions, version 1.11.

use std::path::Path;

use dipward_plugin::Error;
use jiff::SignedDuration;
use netcdf_reader::{NcFile, NcOpenOptions, NcSliceInfo, NcSliceInfoElem, NcVariable};

use super::{
    Image,
    cf::{self, Layout, NamedAxes, Packing, Role, number, text},
    field::{Choice, Field, Validity},
    physical::check_count,
    units,
};

/// The most bytes that the fields of a file may take: 4 GiB, reckoned before any is read.
const MAX_BYTES: u64 = 4 << 30;

/// The most bytes of one compressed block of a file: 256 MiB. A damaged length is not believed beyond it.
const MAX_CHUNK_BYTES: usize = 256 << 20;

/// What is wanted of a file.
#[derive(Debug)]
pub(crate) struct Request<'a> {
    /// The variable is the first of these that the file has, or else the only one whose `standard_name` is
    /// among them.
    pub(crate) names: &'a [&'a str],
    /// Which member, run and level.
    pub(crate) choice: &'a Choice,
    /// The dimensions of columns and rows, where the file does not tell.
    pub(crate) axes: Option<&'a NamedAxes>,
}

/// Fields of one variable through time.
#[derive(Debug)]
pub(crate) struct Fields {
    /// The variable, and what it says that it is.
    pub(crate) name: String,
    pub(crate) standard_name: Option<String>,
    pub(crate) long_name: Option<String>,
    /// The variable's unit, as the file writes it.
    pub(crate) unit: Option<String>,
    /// Whether its values count up or down, as the file writes it.
    pub(crate) positive: Option<String>,
    /// In the order of the file, in the variable's unit.
    pub(crate) fields: Vec<Field>,
    /// What the reader took for granted.
    pub(crate) notes: Vec<String>,
    /// How the values are packed.
    pub(crate) packing: Packing,
}

/// Reads a variable.
///
/// # Arguments
///
/// `keep` chooses the times to read, given all of them; the others cost nothing.
///
/// # Errors
///
/// [`Error::File`] for a file that is no NetCDF file or is damaged, has no such variable, whose grid,
/// projection or times cannot be made out, or of which several fields could be meant.
pub(crate) fn read_netcdf(
    path: &Path,
    bytes: Vec<u8>,
    request: &Request<'_>,
    keep: impl Fn(&[Validity]) -> Result<Vec<usize>, String>,
) -> Result<Fields, Error> {
    let wrong = |message: String| Error::File { path: path.to_owned(), message };
    let size = bytes.len() as u64;
    let options = NcOpenOptions {
        max_chunk_bytes: MAX_CHUNK_BYTES,
        max_read_bytes: MAX_BYTES as usize,
        ..NcOpenOptions::default()
    };
    let file = NcFile::from_owner(bytes, options)
        .map_err(|error| wrong(format!("cannot be read as a NetCDF file: {error}")))?;
    fields(&file, size, request, keep).map_err(wrong)
}

fn fields(
    file: &NcFile,
    file_bytes: u64,
    request: &Request<'_>,
    keep: impl Fn(&[Validity]) -> Result<Vec<usize>, String>,
) -> Result<Fields, String> {
    let variable = find(file, request.names)?;
    let name = variable.name();
    let dimensions = variable.dimensions();
    if dimensions.len() < 2 {
        return Err(format!("has no field `{name}` of rows and columns"));
    }
    let layout = Layout::of(file, variable, request.axes)?;
    let place = cf::placement(file, variable, &layout, request.axes)?;
    let (width, height) = (place.columns.1 as u64, place.rows.1 as u64);
    let count = height.checked_mul(width).filter(|count| *count > 0);
    let count =
        count.ok_or_else(|| format!("has a field `{name}` of {width} by {height} values"))?;
    let mut selection = NcSliceInfo::all(dimensions.len());
    for (at, slice) in selection.selections.iter_mut().enumerate() {
        if at != place.columns.0 && at != place.rows.0 {
            *slice = NcSliceInfoElem::Index(0);
        }
    }
    if let Some(unknown) = layout
        .unknown
        .iter()
        .find(|axis| axis.place != place.columns.0 && axis.place != place.rows.0)
    {
        return Err(format!(
            "has {} values along `{}`, which it does not say what it is: cut one out, or name the columns' \
             and the rows' dimensions by `axes`",
            unknown.dimension.size, unknown.dimension.name
        ));
    }
    for (at, index) in chosen(file, &layout, request.choice)? {
        if let Some(slice) = selection.selections.get_mut(at) {
            *slice = NcSliceInfoElem::Index(index as u64);
        }
    }
    let (through_time, validities) = times(file, variable, &layout, request.choice)?;
    let kept = match &validities {
        Some(validities) => keep(validities)?,
        None => vec![0],
    };
    check_count(count, file_bytes)?;
    // Stored and unpacked numbers of one field at a time, and the values of all.
    let needed = count.saturating_mul(16 + 4 * kept.len() as u64);
    if needed > MAX_BYTES {
        return Err(format!(
            "needs {} MiB for {} fields of {width} by {height} values of `{name}`, more than {} MiB: cut out \
             less",
            needed >> 20,
            kept.len(),
            MAX_BYTES >> 20
        ));
    }
    let packing = Packing::of(variable)?;
    let by_columns = place.columns.0 < place.rows.0;
    let mut fields = Vec::with_capacity(kept.len());
    for index in kept {
        if let Some(slice) = through_time.and_then(|at| selection.selections.get_mut(at)) {
            *slice = NcSliceInfoElem::Index(index as u64);
        }
        let stored = file
            .read_variable_slice_as_f64(name, &selection)
            .map_err(|error| format!("has a field `{name}` that cannot be read: {error}"))?;
        if stored.len() as u64 != count {
            return Err(format!("has a field `{name}` that is cut short"));
        }
        let values = in_rows(stored.iter().copied(), by_columns, width as usize, height as usize)
            .into_iter()
            .map(|stored| packing.value(stored) as f32)
            .collect();
        let (width, height) = (width as usize, height as usize);
        let image = Image { width, height, values, placement: place.placement.clone() };
        let validity = validities.as_ref().and_then(|all| all.get(index)).copied();
        fields.push(Field { image, validity });
    }
    let own = |attribute: &str| text(variable, attribute).filter(|text| !text.is_empty());
    // A unit may be a bare number: `units = 1`.
    let unit = own("units").or_else(|| number(variable, "units").map(|unit| unit.to_string()));
    Ok(Fields {
        name: name.to_owned(),
        standard_name: own("standard_name"),
        long_name: own("long_name"),
        unit,
        positive: own("positive"),
        fields,
        notes: place.notes,
        packing,
    })
}

/// Values in rows, whichever of the two dimensions comes first in the file.
fn in_rows(
    stored: impl ExactSizeIterator<Item = f64>,
    by_columns: bool,
    width: usize,
    height: usize,
) -> Vec<f64> {
    if !by_columns {
        return stored.collect();
    }
    let mut values = vec![f64::NAN; width * height];
    for (at, value) in stored.enumerate() {
        let (column, row) = (at / height, at % height);
        if let Some(slot) = values.get_mut(row * width + column) {
            *slot = value;
        }
    }
    values
}

/// The indices along member, run and level.
///
/// # Errors
///
/// When there are several and none is chosen, or the chosen one is not there.
fn chosen(
    file: &NcFile,
    layout: &Layout<'_>,
    choice: &Choice,
) -> Result<Vec<(usize, usize)>, String> {
    let mut indices = Vec::new();
    for (role, key) in [(Role::Member, "member"), (Role::Run, "run"), (Role::Level, "level")] {
        let wanted = match role {
            Role::Member => choice.member.map(|member| member as f64),
            Role::Run => choice.run.map(|run| run.as_second() as f64),
            _ => choice.level,
        };
        let Some(axis) = layout.other(role) else {
            if let (Some(_), Role::Member | Role::Level) = (wanted, role) {
                return Err(format!("has no dimension that `{key}` chooses from"));
            }
            continue;
        };
        let size = axis.dimension.size;
        if size > 1_000_000 {
            return Err(format!("has {size} values along `{}`", axis.dimension.name));
        }
        let own: Vec<f64> = match (axis.coordinate, role) {
            (Some(coordinate), Role::Run) => {
                cf::instants(file, coordinate)?.iter().map(|at| at.as_second() as f64).collect()
            }
            (Some(coordinate), _) => file
                .read_variable_unpacked(coordinate.name())
                .map(|values| values.iter().copied().collect())
                .map_err(|error| {
                    format!("has a `{}` that cannot be read: {error}", coordinate.name())
                })?,
            (None, _) => (0..size).map(|index| index as f64).collect(),
        };
        let index = match (wanted, own.as_slice()) {
            (None, [_]) => 0,
            (None, _) => {
                return Err(format!(
                    "has {size} values along `{}`, of which one is wanted: write `{key}`, {}",
                    axis.dimension.name,
                    listed(&own, role)
                ));
            }
            (Some(wanted), _) => own
                .iter()
                .position(|own| (own - wanted).abs() <= 1e-6 * wanted.abs().max(1.0))
                .ok_or_else(|| {
                    format!(
                        "has no `{key}` of that value along `{}`: it has {}",
                        axis.dimension.name,
                        listed(&own, role)
                    )
                })?,
        };
        indices.push((axis.place, index));
    }
    Ok(indices)
}

/// The values to choose from, the first few of them.
fn listed(own: &[f64], role: Role) -> String {
    const MOST: usize = 8;

    let one = |value: &f64| match role {
        Role::Run => jiff::Timestamp::from_second(*value as i64)
            .map_or_else(|_| value.to_string(), |at| at.to_string()),
        _ => value.to_string(),
    };
    let mut all: Vec<String> = own.iter().take(MOST).map(one).collect();
    if own.len() > MOST {
        all.push("…".to_owned());
    }
    format!("one of {}", all.join(", "))
}

/// The dimension of times, if there is one, and the validities along it or of the whole field.
fn times(
    file: &NcFile,
    variable: &NcVariable,
    layout: &Layout<'_>,
    choice: &Choice,
) -> Result<(Option<usize>, Option<Vec<Validity>>), String> {
    let (time, step) = (layout.other(Role::Time), layout.other(Role::Step));
    if let (Some(time), Some(step)) = (time, step)
        && time.dimension.size > 1
        && step.dimension.size > 1
    {
        return Err(format!(
            "has both `{}` and `{}`: if one is the beginnings of runs, its `standard_name` is \
             `forecast_reference_time`",
            time.dimension.name, step.dimension.name
        ));
    }
    if let Some(time) = time.filter(|time| time.dimension.size > 1 || step.is_none()) {
        let validities = match time.coordinate {
            Some(coordinate) => Some(cf::validities(file, coordinate)?),
            None if time.dimension.size == 1 => scalar_time(file, variable)?.map(|own| vec![own]),
            None => {
                return Err(format!(
                    "has {} steps of `{}` and no times for them",
                    time.dimension.size, time.dimension.name
                ));
            }
        };
        if validities.as_ref().is_some_and(|own| own.len() as u64 != time.dimension.size) {
            return Err(format!("has other times than steps along `{}`", time.dimension.name));
        }
        return Ok((Some(time.place), validities));
    }
    if let Some(step) = step {
        return steps(file, variable, step, choice).map(|own| (Some(step.place), own));
    }
    Ok((None, scalar_time(file, variable)?.map(|own| vec![own])))
}

/// The validities along the hours of a run.
fn steps(
    file: &NcFile,
    variable: &NcVariable,
    step: cf::Axis<'_>,
    choice: &Choice,
) -> Result<Option<Vec<Validity>>, String> {
    let name = &step.dimension.name;
    // What stands beside the steps as their times of validity.
    let valid = file.variables().unwrap_or_default().iter().find(|own| {
        text(own, "standard_name").as_deref() == Some("time")
            && own.dimensions().len() == 1
            && own.dimensions().iter().all(|along| along.name == *name)
    });
    if let Some(valid) = valid {
        return cf::validities(file, valid).map(Some);
    }
    let run = match choice.run {
        Some(run) => Some(run),
        None => cf::reference(file)?,
    };
    let (Some(run), Some(coordinate)) = (run, step.coordinate) else {
        if step.dimension.size == 1 {
            return Ok(scalar_time(file, variable)?.map(|own| vec![own]));
        }
        return Err(format!(
            "has {} steps of `{name}` and does not say when the run began: write `run`",
            step.dimension.size
        ));
    };
    let unit = text(coordinate, "units").unwrap_or_default();
    let seconds = units::seconds(&unit)
        .ok_or_else(|| format!("has steps of `{name}` in the unit `{unit}`, which is no time"))?;
    let hours = file
        .read_variable_unpacked(coordinate.name())
        .map_err(|error| format!("has a `{name}` that cannot be read: {error}"))?;
    hours
        .iter()
        .map(|value| {
            let ahead = value * seconds;
            // A year: no forecast reaches farther.
            let ahead =
                (ahead.abs() < 4e7).then(|| SignedDuration::from_secs(ahead.round() as i64));
            ahead
                .and_then(|ahead| run.checked_add(ahead).ok())
                .map(Validity::Instant)
                .ok_or_else(|| format!("has the step {value} {unit}"))
        })
        .collect::<Result<_, _>>()
        .map(Some)
}

/// The validity of a field without a dimension of time: of its scalar coordinate, or of the whole file.
fn scalar_time(file: &NcFile, variable: &NcVariable) -> Result<Option<Validity>, String> {
    let listed = text(variable, "coordinates").unwrap_or_default();
    let single: Vec<&NcVariable> = file
        .variables()
        .unwrap_or_default()
        .iter()
        .filter(|own| own.num_elements().is_ok_and(|count| count == 1))
        .filter(|own| {
            let standard = text(own, "standard_name");
            standard.as_deref() == Some("time")
                || standard.is_none()
                    && text(own, "units").is_some_and(|units| units.contains(" since "))
                    && (own.name() == "time"
                        || listed.split_whitespace().any(|name| name == own.name()))
        })
        .collect();
    match single.as_slice() {
        [only] => return Ok(cf::validities(file, only)?.first().copied()),
        [] => {}
        several => {
            let mut named = several
                .iter()
                .filter(|own| listed.split_whitespace().any(|name| name == own.name()));
            return match (named.next(), named.next()) {
                (Some(only), None) => Ok(cf::validities(file, only)?.first().copied()),
                _ => Err("has several times of validity: write `valid`".to_owned()),
            };
        }
    }
    let coverage = |name: &str| {
        let own = file.global_attribute(name).ok()?.value.as_string()?;
        cf::instant_of_attribute(&own)
    };
    Ok(match (coverage("time_coverage_start"), coverage("time_coverage_end")) {
        (Some(from), Some(until)) if from < until => Some(Validity::Interval(from, until)),
        (Some(at), Some(until)) if at == until => Some(Validity::Instant(at)),
        _ => None,
    })
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
        .filter(|own| own.ndim() >= 2)
        .filter(|own| text(own, "standard_name").is_some_and(|own| names.contains(&own.as_str())))
        .collect();
    let have =
        |own: &[&NcVariable]| own.iter().map(|own| own.name()).collect::<Vec<_>>().join(", ");
    match standard.as_slice() {
        [variable] => Ok(variable),
        [] => {
            let fields: Vec<&NcVariable> = variables.iter().filter(|own| own.ndim() >= 2).collect();
            Err(format!(
                "has no variable {}; its fields are {}: name one by `variable`",
                names.join(" or "),
                have(&fields)
            ))
        }
        several => Err(format!(
            "has several fields of that quantity, {}: name one by `variable`",
            have(several)
        )),
    }
}
