//! Fields of a GRIB2 file.
//!
//! A file is opened first: its messages are walked and what each field is, is read. Then those that are
//! wanted are decoded, one by one.

mod codestream;
mod grid_section;
mod level;
mod message;
mod packing;
mod product;

use std::path::{Path, PathBuf};

use dipward_plugin::Error;

use super::Image;
use grid_section::GridSection;
use message::{Part, messages};
use packing::PackedValues;
use product::{parameter_of, product};

pub(crate) use level::{Level, Levels};
pub(crate) use product::{ForecastMember, Product};

/// What a field is: discipline, category and number of the parameter.
pub(crate) type Parameter = (u8, u8, u8);

/// A parameter, and the levels that count where it has many.
pub(crate) type Wanted = (Parameter, Levels);

/// A file whose messages are known and whose values are still packed.
#[derive(Debug)]
pub(crate) struct GribFile {
    path: PathBuf,
    bytes: Vec<u8>,
    /// In the order of the file.
    pub(crate) entries: Vec<GribEntry>,
    /// Fields of wanted parameters that are not taken.
    pub(crate) passed_over: Vec<PassedOver>,
    /// Bytes that belong to no message.
    pub(crate) junk_bytes: usize,
}

/// A field that is still packed.
#[derive(Debug)]
pub(crate) struct GribEntry {
    /// What it is.
    pub(crate) parameter: Parameter,
    /// Of which run and member it is, where and when.
    pub(crate) product: Product,
    part: Part,
}

/// A field of a wanted parameter that is not taken, and why.
#[derive(Debug)]
pub(crate) struct PassedOver {
    /// What it is.
    pub(crate) parameter: Parameter,
    /// In words, what it is instead.
    pub(crate) reason: String,
    /// Whether it is at another level than the wanted.
    pub(crate) elsewhere: bool,
}

/// One field.
#[derive(Debug)]
pub(crate) struct GribField {
    /// Its values.
    pub(crate) image: Image,
    /// Whether vectors are told along the field's own grid instead of east and north.
    pub(crate) along_grid: bool,
}

impl GribFile {
    /// Finds the fields of some parameters.
    ///
    /// # Errors
    ///
    /// [`Error::File`] for a file that is no GRIB2 file or is damaged.
    pub(crate) fn open(path: &Path, bytes: Vec<u8>, wanted: &[Wanted]) -> Result<Self, Error> {
        let wrong = |message: String| Error::File { path: path.to_owned(), message };
        let found = messages(&bytes).map_err(wrong)?;
        let mut file = Self {
            path: path.to_owned(),
            bytes,
            entries: Vec::new(),
            passed_over: Vec::new(),
            junk_bytes: found.junk_bytes,
        };
        for part in found.parts {
            let one = file.section(&part, 1);
            let four = file.section(&part, 4);
            let Some((category, number)) = parameter_of(four) else { continue };
            let parameter = (part.discipline, category, number);
            let Some((_, levels)) = wanted.iter().find(|(own, _)| *own == parameter) else {
                continue;
            };
            let named = |text: String| {
                wrong(format!("{} ({}/{category}/{number}): {text}", part.label, part.discipline))
            };
            let pass = |reason: String, elsewhere| PassedOver { parameter, reason, elsewhere };
            let product = match product(one, four).map_err(named)? {
                Ok(product) => product,
                Err(reason) => {
                    file.passed_over.push(pass(reason, false));
                    continue;
                }
            };
            if *levels != Levels::Any {
                let level = product.level;
                let level =
                    level.ok_or_else(|| named("does not say at which level it is".to_owned()))?;
                if !levels.hold(level) {
                    file.passed_over.push(pass(level.to_string(), true));
                    continue;
                }
            }
            file.entries.push(GribEntry { parameter, product, part });
        }
        Ok(file)
    }

    /// Where the file is.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    fn section(&self, part: &Part, number: usize) -> &[u8] {
        let place = part.sections.get(number).cloned().unwrap_or_default();
        self.bytes.get(place).unwrap_or_default()
    }

    /// What a message says of an entry, for a fault.
    pub(crate) fn label(&self, entry: &GribEntry) -> String {
        format!("{}: {}", self.path.display(), entry.part.label)
    }

    /// Whether two entries have the same grid and the same values, whatever their packings.
    ///
    /// # Errors
    ///
    /// As [`Self::field`], where they must be decoded to tell.
    pub(crate) fn same(
        &self,
        entry: &GribEntry,
        other: &Self,
        theirs: &GribEntry,
    ) -> Result<bool, Error> {
        let section = |number| self.section(&entry.part, number);
        let equal = |number| section(number) == other.section(&theirs.part, number);
        if [3, 5, 6, 7].into_iter().all(equal) {
            return Ok(true);
        }
        if !equal(3) {
            return Ok(false);
        }
        let (own, theirs) = (self.field(entry)?.image, other.field(theirs)?.image);
        let known = own.values.iter().filter(|value| !value.is_nan());
        let (lowest, highest) = known.fold((f32::MAX, f32::MIN), |(lowest, highest), value| {
            (lowest.min(*value), highest.max(*value))
        });
        // What 12 bits a value may lose.
        let close = (highest - lowest).max(0.0) / 4096.0;
        Ok(own
            .values
            .iter()
            .zip(&theirs.values)
            .all(|(own, theirs)| own.is_nan() && theirs.is_nan() || (own - theirs).abs() <= close))
    }

    /// How many points the grid of an entry has.
    pub(crate) fn points(&self, entry: &GribEntry) -> usize {
        message::be32(self.section(&entry.part, 3), 6).unwrap_or_default() as usize
    }

    /// Decodes an entry.
    ///
    /// # Errors
    ///
    /// [`Error::File`] for a grid other than longitude and latitude or polar stereographic, a packing that
    /// the reader does not take, and damage.
    pub(crate) fn field(&self, entry: &GribEntry) -> Result<GribField, Error> {
        let (_, category, number) = entry.parameter;
        let wrong = |message: String| Error::File {
            path: self.path.clone(),
            message: format!("{} ({category}/{number}): {message}", entry.part.label),
        };
        let section = |number: usize| self.section(&entry.part, number);
        let grid = GridSection::read(section(3).get(5..).unwrap_or_default()).map_err(wrong)?;
        let packed = PackedValues { packing: section(5), bitmap: section(6), data: section(7) };
        let values = packed.unpack(grid.points()).map_err(wrong)?;
        let image = grid.image(&values).map_err(wrong)?;
        Ok(GribField { image, along_grid: grid.along_grid })
    }
}
