//! `climatology`: the ice of a season ahead, from images of past years.

use std::{collections::BTreeMap, ops::Range, path::PathBuf};

use dipward_plugin::{
    Assumption, BuildContext, Control, Error, Fault, Faults, Ground, Laid, Layer, LayerPoint,
    Provenance, Quantity, Spec,
};
use jiff::{Timestamp, civil::Date, tz::TimeZone};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{
    concentration::{AssumedIce, LaidConcentrations, ice_quantities, packed},
    concentration_geotiff::{Encoding, ImageFile},
    packed::check_memory,
    schedule::Schedule,
    scheduled::{Scheduled, Show},
};
use crate::image::{Field, Image, Resampler, Resampling, days_of_name, read_nsidc};

/// How far the past years lie apart: the standard deviation of the concentration about their mean.
const SPREAD: Quantity = Quantity::new("ice_concentration_spread", "1");

/// Mean ice concentration of past years by month, with its spread.
///
/// The images of one calendar month count alike, whatever their years. In the middle of each month the
/// layer shows that month's mean, and in between it changes linearly. A cell is covered where at least
/// half of the month's images know it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClimatologySpec {
    /// Images of past years, any number a month: NSIDC flat binary (`.bin`), or else GeoTIFF.
    #[schemars(length(min = 1))]
    images: Vec<ImageFile>,
    /// What the numbers in GeoTIFF images mean.
    #[serde(default)]
    encoding: Encoding,
    /// What the ice is taken for, since the images do not tell.
    ice: AssumedIce,
    /// How many spreads above the mean to plan with: 0 is the mean year, 1 a heavy one.
    #[serde(default)]
    #[schemars(range(min = -3.0, max = 3.0))]
    spreads: f32,
    /// How cells get their values from pixels.
    #[serde(default)]
    resampling: Resampling,
    /// The concentration that the hole about the pole is taken for; without it the hole is unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 0.0, max = 1.0))]
    pole_hole: Option<f32>,
}

impl Spec for ClimatologySpec {
    type Point = LayerPoint;
    const KIND: &'static str = "climatology";
    const SUMMARY: &'static str =
        "monthly mean ice concentration and its spread, from images of past years";
    const EXAMPLE: &'static str = "\
kind: climatology
images:
  - {file: nt_202501_s.bin, valid: 2025-01-15T00:00Z}
  - {file: nt_202601_s.bin, valid: 2026-01-15T00:00Z}
ice: {stage: medium_first_year}
spreads: 1
";

    fn build(self, context: &BuildContext) -> Result<Box<dyn Layer>, Faults> {
        let mut faults = Faults::default();
        self.ice.check("/ice", &mut faults);
        let mut months: BTreeMap<i8, Vec<(PathBuf, Image)>> = BTreeMap::new();
        let mut notes = Vec::new();
        for (index, image) in self.images.iter().enumerate() {
            let (field, own) = match self.read(image, context) {
                Ok(read) => read,
                Err(error) => {
                    faults.push(Fault::at(format!("/images/{index}/file"), error.to_string()));
                    continue;
                }
            };
            notes.extend(own);
            match image.instant(field.validity, context) {
                Ok(valid) => months
                    .entry(day(valid).month())
                    .or_default()
                    .push((image.file.clone(), field.image)),
                Err(message) => faults.push(Fault::at(
                    format!("/images/{index}/valid"),
                    format!("{}: {message}", image.file.display()),
                )),
            }
        }
        let first = day(context.clock().start());
        let last = day(context.clock().instant(context.window_hours()));
        for month in between(first, last) {
            if faults.is_empty() && !months.contains_key(&month.month()) {
                faults.push(Fault::at(
                    "/images",
                    format!("no image is of {}, which the window touches", month.strftime("%B")),
                ));
            }
        }
        // The middles of the months, from the one before the window to the one after it. A month
        // without images is left out, and the nearest holds.
        let (mut hours, mut shown) = (Vec::new(), Vec::new());
        let around = between(back(first).unwrap_or(first), forth(last).unwrap_or(last));
        for month in around.into_iter().filter(|month| months.contains_key(&month.month())) {
            let middle = month.at(0, 0, 0, 0);
            if let Ok(middle) = TimeZone::UTC.to_timestamp(middle) {
                hours.push(context.clock().hour(middle));
                shown.push(month.month());
            }
        }
        let layer = Climatology { spec: self, months, hours, shown, notes };
        faults.into_result(Box::new(layer) as Box<dyn Layer>)
    }
}

impl ClimatologySpec {
    fn read(
        &self,
        image: &ImageFile,
        context: &BuildContext,
    ) -> Result<(Field, Vec<String>), Error> {
        let binary = image.file.extension().is_some_and(|own| own.eq_ignore_ascii_case("bin"));
        if binary {
            let bytes = context.read(&image.file)?;
            let pole_hole = self.pole_hole.unwrap_or(f32::NAN);
            return read_nsidc(&image.file, &bytes, pole_hole).map(|field| (field, Vec::new()));
        }
        let read = image.read_geotiff(context)?;
        let (read, notes) = self
            .encoding
            .decode_image(&image.file, read, self.pole_hole)
            .map_err(|message| Error::File { path: image.file.clone(), message })?;
        Ok((Field { image: read, validity: days_of_name(&image.file) }, notes))
    }
}

fn day(at: Timestamp) -> Date {
    TimeZone::UTC.to_datetime(at).date()
}

/// The day in the middle of a month; nothing at the ends of time.
fn middle(year: i16, month: i8) -> Option<Date> {
    Date::new(year, month, 15).ok()
}

fn back(of: Date) -> Option<Date> {
    if of.month() == 1 { middle(of.year() - 1, 12) } else { middle(of.year(), of.month() - 1) }
}

fn forth(of: Date) -> Option<Date> {
    if of.month() == 12 { middle(of.year() + 1, 1) } else { middle(of.year(), of.month() + 1) }
}

/// The middles of the months from one day's to another's.
fn between(first: Date, last: Date) -> Vec<Date> {
    let last = (last.year(), last.month());
    let months = std::iter::successors(middle(first.year(), first.month()), |month| forth(*month));
    months.take_while(|month| (month.year(), month.month()) <= last).collect()
}

#[derive(Debug)]
struct Climatology {
    spec: ClimatologySpec,
    /// The images of each month of the year.
    months: BTreeMap<i8, Vec<(PathBuf, Image)>>,
    hours: Vec<f64>,
    /// The month that each instant shows.
    shown: Vec<i8>,
    /// What the images' readers took for granted.
    notes: Vec<String>,
}

impl Layer for Climatology {
    fn quantities(&self) -> Vec<Quantity> {
        let mut quantities = ice_quantities();
        quantities.push(SPREAD);
        quantities
    }

    fn provenance(&self) -> Provenance {
        let files: Vec<String> = self
            .spec
            .images
            .iter()
            .map(|image| image.file.to_string_lossy().into_owned())
            .collect();
        Provenance {
            name: "climatology of ice concentration".to_owned(),
            source: files.join(", "),
            licence: None,
        }
    }

    fn assumptions(&self) -> Vec<Assumption> {
        let fewest = self
            .shown
            .iter()
            .filter_map(|month| self.months.get(month))
            .map(Vec::len)
            .min()
            .unwrap_or_default();
        let texts = [
            format!(
                "the season is like past ones: the mean of the month plus {} spreads, from {fewest} \
                 images or more a month",
                self.spec.spreads
            ),
            self.spec.ice.text(),
        ];
        let all = texts.into_iter().chain(self.notes.iter().cloned());
        all.map(|text| Assumption::new("chart", text)).collect()
    }

    fn lay(&self, ground: Ground<'_>, control: &Control) -> Result<Box<dyn Laid>, Error> {
        // A mean and a spread for each month shown.
        check_memory(ground.grid, 2 * self.shown.len(), 2)?;
        let mut concentrations = Vec::with_capacity(self.shown.len());
        let mut spreads = Vec::with_capacity(self.shown.len());
        let mut resampler = Resampler::new(ground.grid, self.spec.resampling);
        for month in &self.shown {
            let images = self.months.get(month).map(Vec::as_slice).unwrap_or_default();
            let mut moments = vec![Moments::default(); ground.grid.len()];
            for (file, image) in images {
                let values = resampler.raster(image, control)?;
                if values.iter().all(|value| value.is_nan()) {
                    return Err(Error::File {
                        path: file.clone(),
                        message: "covers no cell of the grid".to_owned(),
                    });
                }
                for (moments, value) in moments.iter_mut().zip(values) {
                    moments.add(value);
                }
            }
            let half = images.len().div_ceil(2);
            let statistics = moments.into_iter().map(|moments| moments.mean_and_spread(half));
            let (mean, spread): (Vec<f32>, Vec<f32>) = statistics.unzip();
            let planned = mean
                .iter()
                .zip(&spread)
                .map(|(mean, spread)| packed((mean + self.spec.spreads * spread).clamp(0.0, 1.0)));
            concentrations.push(planned.collect());
            spreads.push(spread.into_iter().map(packed).collect());
        }
        let schedule = Schedule::of_turns(self.hours.clone());
        let show = LaidClimatology {
            ice: LaidConcentrations::new(concentrations, self.spec.ice),
            spread: LaidConcentrations::new(spreads, self.spec.ice),
        };
        Ok(Box::new(Scheduled { schedule, show }))
    }
}

/// Sums over the images of a month.
#[derive(Debug, Clone, Copy, Default)]
struct Moments {
    count: u16,
    mean: f32,
    /// Sum of the squares of the deviations from the mean (Welford, Technometrics 4, 419, 1962).
    squares: f32,
}

impl Moments {
    fn add(&mut self, value: f32) {
        if value.is_nan() {
            return;
        }
        self.count = self.count.saturating_add(1);
        let off = value - self.mean;
        self.mean += off / f32::from(self.count);
        self.squares += off * (value - self.mean);
    }

    /// Mean and standard deviation of the sample; neither where too few images know the cell.
    fn mean_and_spread(self, fewest: usize) -> (f32, f32) {
        if usize::from(self.count) < fewest.max(1) {
            return (f32::NAN, f32::NAN);
        }
        // One image has no spread that could be told.
        let degrees = f32::from(self.count.max(2) - 1);
        (self.mean, (self.squares / degrees).sqrt())
    }
}

/// Memory: 4 bytes a cell and month.
#[derive(Debug)]
struct LaidClimatology {
    ice: LaidConcentrations,
    spread: LaidConcentrations,
}

impl Show for LaidClimatology {
    fn show(&self, state: usize, quantity: Quantity, cells: Range<u32>, out: &mut [f32]) {
        if quantity == SPREAD {
            self.spread.show(state, Quantity::ICE_CONCENTRATION, cells, out);
        } else {
            self.ice.show(state, quantity, cells, out);
        }
    }
}

#[cfg(test)]
mod tests {
    use dipward_geodesy::{Grid, Hemisphere};
    use dipward_plugin::{Document, Registry};

    use super::super::workbench::{
        at, build, chart, check_contract, clock, fault, folder, grid, sample,
    };
    use super::*;

    /// A file of the southern grid, all of one concentration.
    fn image(steps: u8) -> Vec<u8> {
        let mut bytes = format!("00255\0{:5}\0{:5}\0", 316, 332).into_bytes();
        bytes.resize(300, 0);
        bytes.resize(300 + 316 * 332, steps);
        bytes
    }

    #[test]
    fn the_kind_keeps_its_contract() {
        let files = ["nt_202501_s.bin", "nt_202601_s.bin"].map(|name| (name, image(100)));
        let files: Vec<(&str, &[u8])> =
            files.iter().map(|(name, bytes)| (*name, bytes.as_slice())).collect();
        check_contract::<ClimatologySpec>(&files);
    }

    const YAML: &str = "\
images:
  - {file: a.bin, valid: 2021-01-20T00:00Z}
  - {file: b.bin, valid: 2022-01-10T00:00Z}
  - {file: c.bin, valid: 2023-01-12T00:00Z}
  - {file: d.bin, valid: 2021-02-12T00:00Z}
ice: {stage: grey, thickness_m: 0.14}
";

    #[test]
    fn months_are_means_and_change_linearly() {
        let (a, b, c, d) = (image(100), image(150), image(200), image(50));
        let files: [(&str, &[u8]); 4] =
            [("a.bin", &a), ("b.bin", &b), ("c.bin", &c), ("d.bin", &d)];
        let layer = build::<ClimatologySpec>(YAML, &files).unwrap();
        let laid = chart(layer.as_ref()).unwrap();
        let here = at(-64.0, 136.0);
        let ice = |hour| sample(&laid, hour, Quantity::ICE_CONCENTRATION, here);
        // The middle of January is hour 336, that of February 744 hours later.
        assert_eq!(laid.frames(), [0.0, 336.0, 720.0]);
        assert!((ice(0.0) - 0.6).abs() < 1e-4 && (ice(336.0) - 0.6).abs() < 1e-4);
        assert!((ice(708.0) - 0.4).abs() < 1e-3, "{}", ice(708.0));
        // 0.4, 0.6 and 0.8 have a standard deviation of 0.2; one image has none.
        assert!((sample(&laid, 336.0, SPREAD, here) - 0.2).abs() < 1e-4);
        assert_eq!(sample(&laid, 1080.0, SPREAD, here), 0.0);
        let heavy = build::<ClimatologySpec>(&format!("{YAML}spreads: 1"), &files).unwrap();
        let laid = chart(heavy.as_ref()).unwrap();
        assert!((sample(&laid, 336.0, Quantity::ICE_CONCENTRATION, here) - 0.8).abs() < 1e-4);
        assert!(heavy.assumptions()[0].text.contains("from 1 images or more"));
    }

    #[test]
    fn a_gap_does_not_count_as_open_water() {
        let (a, b, gap, d) = (image(100), image(150), image(255), image(50));
        let files: [(&str, &[u8]); 4] =
            [("a.bin", &a), ("b.bin", &b), ("c.bin", &gap), ("d.bin", &d)];
        let laid = chart(build::<ClimatologySpec>(YAML, &files).unwrap().as_ref()).unwrap_err();
        // An image of gaps alone is no image of these waters.
        assert!(laid.to_string().contains("c.bin"), "{laid}");
        let mut moments = Moments::default();
        for value in [0.4, f32::NAN, 0.6] {
            moments.add(value);
        }
        assert!((moments.mean_and_spread(2).0 - 0.5).abs() < 1e-6);
        assert!(moments.mean_and_spread(3).0.is_nan());
    }

    #[test]
    fn a_month_without_images_is_told() {
        let a = image(100);
        let yaml = "images: [{file: a.bin, valid: 2021-08-20T00:00Z}]\nice: {stage: grey}";
        let message = fault_of_january(yaml, &a);
        assert!(message.contains("January"), "{message}");
    }

    /// The greatest grid, and two rasters for each month of a year.
    #[test]
    fn more_than_the_memory_is_told_before_it_is_taken() {
        let images: Vec<String> = (1..=12)
            .map(|month| format!("{{file: a.bin, valid: 2021-{month:02}-12T00:00Z}}"))
            .collect();
        let yaml =
            format!("{{kind: climatology, ice: {{stage: grey}}, images: [{}]}}", images.join(", "));
        let (folder, _) = folder(&[("a.bin", &image(100))]);
        let year = BuildContext::new(folder.path(), Hemisphere::South, clock(), 8760.0);
        let mut registry = Registry::default();
        registry.register::<ClimatologySpec>().unwrap();
        let document =
            Document::parse("test", &yaml).map_err(|failed| failed.1.to_string()).unwrap();
        let layer = registry.build::<LayerPoint>("", document.value(), &year).unwrap().object;
        let grid =
            Grid::new(*grid().projection(), grid().origin(), 100.0, 1 << 14, 1 << 14).unwrap();
        let ground = Ground { grid: &grid, clock: clock() };
        let told = layer.lay(ground, &Control::default()).unwrap_err().to_string();
        assert!(
            told.contains("rasters of 268435456 cells") && told.contains("more than 8"),
            "{told}"
        );
    }

    fn fault_of_january(yaml: &str, bytes: &[u8]) -> String {
        fault::<ClimatologySpec>(yaml, &[("a.bin", bytes)])
    }
}
