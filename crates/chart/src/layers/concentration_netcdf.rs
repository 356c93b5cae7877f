//! `concentration_netcdf`: ice concentration from NetCDF with CF metadata.

use std::path::{Path, PathBuf};

use dipward_plugin::{BuildContext, Error, Fault, Faults, Layer, LayerPoint, Quantity, Spec};
use jiff::Timestamp;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    ageing::{Ageing, GrowingDoubt},
    concentration::{AssumedIce, Concentrations},
    concentration_geotiff::agreed,
    drift::FreeDrift,
    noted,
    schedule::{BeyondRule, ChangeRule, Schedule},
};
use crate::image::{
    Choice, Field, Fields, Image, Measure, NamedAxes, PhysicalRange, Request, Resampling, Stated,
    Tally, Validity, read_netcdf,
};

/// The variables that services keep ice concentration in, and its CF standard name.
const NAMES: [&str; 9] = [
    "cdr_seaice_conc",
    "ice_conc",
    "siconc",
    "sic",
    "seaice_conc_cdr",
    "nsidc_nt_seaice_conc",
    "sea_ice_concentration",
    "z",
    "sea_ice_area_fraction",
];

/// Ice concentration in NetCDF files, through time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ConcentrationNetcdfSpec {
    /// The files, in any order; each may hold several times.
    #[schemars(length(min = 1))]
    files: Vec<PathBuf>,
    /// The variable; without it, one of the names that services use, or the one of the CF standard
    /// name `sea_ice_area_fraction`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    variable: Option<String>,
    /// The unit of the values, where the file states none or a wrong one: `1`, `%`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    units: Option<String>,
    /// Which dimensions are the columns and the rows, where the file does not tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    axes: Option<NamedAxes>,
    /// The member of an ensemble, by the file's number; needed where a file has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    member: Option<i64>,
    /// The beginning of the run; needed where a file has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    run: Option<Timestamp>,
    /// The level, by the file's number; needed where a file has several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    level: Option<f64>,
    /// When a file without times is valid, or which of a file's times is meant, which it must agree with;
    /// allowed with one file only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>", extend("format" = "date-time"))]
    valid: Option<Timestamp>,
    /// What the ice is taken for, since the fields do not tell.
    ice: AssumedIce,
    /// How cells get their values from pixels.
    #[serde(default)]
    resampling: Resampling,
    /// How the ice changes from one time to the next.
    #[serde(default = "linear")]
    change: ChangeRule,
    /// What holds before the first time and after the last.
    #[serde(default)]
    beyond: BeyondRule,
    /// How old the last field may grow before it covers nothing more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("exclusiveMinimum" = 0))]
    max_age_h: Option<f64>,
    /// Whether and how the ice drifts after the last chart; without it, it stays where it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    drift: Option<FreeDrift>,
    /// How doubtful the ice grows with age; without it, nothing is said of its doubt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    doubt: Option<GrowingDoubt>,
}

fn linear() -> ChangeRule {
    ChangeRule::Linear
}

impl Spec for ConcentrationNetcdfSpec {
    type Point = LayerPoint;
    const KIND: &'static str = "concentration_netcdf";
    const SUMMARY: &'static str =
        "ice concentration from NetCDF with CF metadata (OSI SAF, NSIDC CDR and the like)";
    const EXAMPLE: &'static str = "\
kind: concentration_netcdf
files: [concentration.nc]
ice: {stage: medium_first_year}
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let mut faults = Faults::default();
        self.ice.check("/ice", &mut faults);
        if self.valid.is_some() && self.files.len() > 1 {
            faults.push(Fault::at("/valid", "stands for one file, and there are several"));
        }
        let mut images: Vec<(PathBuf, Image)> = Vec::new();
        let mut valid = Vec::new();
        let mut origin = Vec::new();
        let mut notes = Vec::new();
        for (index, file) in self.files.iter().enumerate() {
            match self.read(file, context) {
                Ok((read, own)) => {
                    notes.extend(own);
                    for (at, image) in read {
                        valid.push(at);
                        origin.push(index);
                        images.push((file.clone(), image));
                    }
                }
                Err(error) => faults.push(Fault::at(format!("/files/{index}"), error.to_string())),
            }
        }
        let rules = (self.change, self.beyond);
        let schedule = Schedule::of_files(&valid, rules, self.max_age_h, context, |image| {
            format!("/files/{}", origin.get(image).copied().unwrap_or_default())
        });
        let ageing = Ageing::build(self.drift, self.doubt, self.beyond.into(), context);
        let (schedule, ageing) = (noted(schedule, &mut faults), noted(ageing, &mut faults));
        match (schedule, ageing) {
            (Some(schedule), Some(ageing)) => faults.into_result(Box::new(Concentrations {
                name: "ice concentration fields".to_owned(),
                images,
                schedule,
                resampling: self.resampling,
                ice: self.ice,
                ageing,
                notes,
            }) as Box<dyn Layer>),
            _ => Err(faults),
        }
    }
}

/// Images with their instants, and what was taken for granted for them.
type Read = (Vec<(Timestamp, Image)>, Vec<String>);

impl ConcentrationNetcdfSpec {
    /// The fields of a file that the window needs, as fractions.
    fn read(&self, file: &Path, context: &BuildContext) -> Result<Read, Error> {
        let wrong = |message: String| Error::File { path: file.to_owned(), message };
        let bytes = context.read(file)?;
        let own = self.variable.as_deref().map(|name| [name]);
        let choice = Choice { member: self.member, run: self.run, level: self.level };
        let request = Request {
            names: own.as_ref().map_or(&NAMES, |own| own),
            choice: &choice,
            axes: self.axes.as_ref(),
        };
        let read = read_netcdf(file, bytes, &request, |times| match self.valid {
            // The one field of a file whose date has been moved.
            Some(_) if context.dates_moved() && times.len() == 1 => Ok(vec![0]),
            Some(valid) => one_at(times, valid).map(|index| vec![index]),
            None => Ok(needed(times, context)),
        })?;
        let stated = Stated { units: self.units.as_deref(), ..Stated::default() };
        let (fields, notes) =
            of_quantity(file, read, stated, Quantity::ICE_CONCENTRATION).map_err(wrong)?;
        let fields = fields
            .into_iter()
            .map(|field| {
                let at = agreed(self.valid, field.validity, context).map_err(wrong)?;
                Ok((at, field.image))
            })
            .collect::<Result<_, Error>>()?;
        Ok((fields, notes))
    }
}

/// The one time that a scenario's instant agrees with: the very one, or the only one that may be it.
pub(super) fn one_at(times: &[Validity], valid: Timestamp) -> Result<usize, String> {
    if let Some(same) = times.iter().position(|own| own.instant() == valid) {
        return Ok(same);
    }
    let mut may_be =
        (0..times.len()).filter(|index| times.get(*index).is_some_and(|own| own.agrees(valid)));
    match (may_be.next(), may_be.next()) {
        (Some(only), None) => Ok(only),
        (Some(_), Some(_)) => Err(format!(
            "has several times within a day of {valid}, none of which is that of `valid`: write the time of \
             one"
        )),
        (None, _) => Err(format!("is {}, and not of {valid}, as `valid` says", span(times))),
    }
}

/// The times of a file in words.
pub(super) fn span(times: &[Validity]) -> String {
    match times {
        [] => "of no time".to_owned(),
        [only] => format!("of {only}"),
        [first, .., last] => {
            format!("of {} times, the first {first} and the last {last}", times.len())
        }
    }
}

/// Fields in a quantity's unit and range, and what was taken for granted for them.
///
/// # Errors
///
/// What does not fit, or cannot be told, with the key that would settle it.
pub(super) fn of_quantity(
    file: &Path,
    read: Fields,
    stated: Stated<'_>,
    quantity: Quantity,
) -> Result<(Vec<Field>, Vec<String>), String> {
    let Fields { name, standard_name, long_name, unit, positive, mut fields, notes, packing } =
        read;
    let measure = Measure {
        packing: None,
        unit,
        positive,
        standard_name,
        names: [Some(name.clone()), long_name].into_iter().flatten().collect(),
        has_metadata: true,
    };
    let (conversion, settled) = measure.conversion(stated, quantity)?;
    let range = PhysicalRange::of(quantity);
    let bounds = [range.lowest, range.highest].map(f64::from);
    if let Some(flag) = packing.flag_within(conversion, bounds) {
        return Err(format!(
            "has the flag {flag} among the numbers of `{name}` that may be {quantity}: name another \
             `variable`"
        ));
    }
    measure.check_percent(stated, fields.iter().map(|field| &field.image))?;
    let mut tally = Tally::default();
    for field in &mut fields {
        field.image.convert(conversion);
        tally.add(
            range.check(&mut field.image).map_err(|message| {
                format!("{message}: is its unit right? if not, write `units`")
            })?,
        );
    }
    let mut notes: Vec<String> = notes
        .into_iter()
        .chain(settled)
        .map(|note| format!("{}: {note}", file.display()))
        .collect();
    notes.extend(tally.text(file));
    Ok((fields, notes))
}

/// The times within the window, and the nearest on either side.
fn needed(times: &[Validity], context: &BuildContext) -> Vec<usize> {
    let clock = context.clock();
    let hour = |index: &usize| times.get(*index).map_or(f64::NAN, |own| clock.hour(own.instant()));
    let all = || 0..times.len();
    let before =
        all().filter(|index| hour(index) <= 0.0).max_by(|a, b| hour(a).total_cmp(&hour(b)));
    let after = all()
        .filter(|index| hour(index) >= context.window_hours())
        .min_by(|a, b| hour(a).total_cmp(&hour(b)));
    let inside = |index: &usize| hour(index) > 0.0 && hour(index) < context.window_hours();
    let mut needed: Vec<usize> = all().filter(inside).chain(before).chain(after).collect();
    needed.sort_unstable();
    needed.dedup();
    needed
}
