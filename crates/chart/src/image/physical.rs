//! What a quantity can be at all: numbers outside are not taken for it.

use dipward_plugin::Quantity;

use super::Image;

/// The share of a field's numbers that may lie outside, as damage and stray fill values do, before the
/// whole field is doubted.
const MOST_OUTSIDE: f64 = 1e-3;

/// Refuses more numbers than a file can hold: a turned bit in a length claims memory without end.
///
/// The usual compression packs at most a thousand to one; ten times that is taken.
pub(super) fn check_count(numbers: u64, file_bytes: u64) -> Result<(), String> {
    if numbers <= file_bytes.saturating_mul(10_000) {
        return Ok(());
    }
    Err(format!("tells of {numbers} numbers in {file_bytes} bytes: it is damaged"))
}

/// The range of a quantity, in the quantity's own unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct PhysicalRange {
    quantity: Quantity,
    /// The least that it can be.
    pub(crate) lowest: f32,
    /// The most that it can be.
    pub(crate) highest: f32,
    /// How far beyond either a number may lie and be taken for the bound itself: interpolation and packing
    /// overshoot.
    slack: f32,
}

/// Ranges by name. Heights and depths of the Earth: Everest 8849 m, Challenger Deep -10,935 m. The rest is
/// wider than what has been seen (from memory): ice of 50 m is a grounded ridge, waves of 30 m a record,
/// wind of 113 m/s the strongest gust, air from -89.2 to 56.7 degrees C.
const RANGES: [(Quantity, f32, f32, f32); 18] = [
    (Quantity::ELEVATION, -12_000.0, 9_000.0, 0.0),
    (Quantity::SURFACE_HEIGHT, -500.0, 9_000.0, 0.0),
    (Quantity::DEPTH_DOUBT, 1.0, 1e6, 0.0),
    (Quantity::ICE_THICKNESS, 0.0, 50.0, 1e-3),
    (Quantity::ICE_VOLUME_PER_AREA, 0.0, 50.0, 1e-3),
    (Quantity::ICE_CONCENTRATION, 0.0, 1.0, 1e-3),
    (Quantity::SPEED_LIMIT, 0.1, 100.0, 0.0),
    (Quantity::WAVE_HEIGHT, 0.0, 40.0, 1e-3),
    (Quantity::WIND_GRID_EAST, -120.0, 120.0, 0.0),
    (Quantity::WIND_GRID_NORTH, -120.0, 120.0, 0.0),
    (Quantity::WAVE_PERIOD, 0.0, 60.0, 1e-3),
    (Quantity::SEA_TEMPERATURE, -5.0, 50.0, 0.0),
    (Quantity::ICE_DRIFT_EAST, -10.0, 10.0, 0.0),
    (Quantity::ICE_DRIFT_NORTH, -10.0, 10.0, 0.0),
    (Quantity::VISIBILITY, 0.0, 500.0, 1e-3),
    (Quantity::AIR_TEMPERATURE, -100.0, 70.0, 0.0),
    (Quantity::LAND, 0.0, 1.0, 1e-3),
    (Quantity::SHELF, 0.0, 1.0, 1e-3),
];

impl PhysicalRange {
    /// The range of a quantity; everything for one that is not listed.
    pub(crate) fn of(quantity: Quantity) -> Self {
        let known = RANGES.into_iter().find(|range| range.0 == quantity);
        let (_, lowest, highest, slack) = known.unwrap_or((quantity, f32::MIN, f32::MAX, 0.0));
        Self { quantity, lowest, highest, slack }
    }

    /// Takes numbers outside the range for missing.
    ///
    /// # Returns
    ///
    /// How many there were.
    ///
    /// # Errors
    ///
    /// When more than one in a thousand lies outside, with the first of them and its pixel: then the field
    /// is another quantity, or in another unit, or damaged.
    pub(crate) fn check(self, image: &mut Image) -> Result<Tally, String> {
        let Self { quantity, lowest, highest, slack } = self;
        let width = image.width.max(1);
        let mut tally = Tally::default();
        let mut first = None;
        for (at, value) in image.values.iter_mut().enumerate().filter(|(_, value)| !value.is_nan())
        {
            tally.numbers += 1;
            if (lowest - slack..=highest + slack).contains(value) {
                *value = value.clamp(lowest, highest);
                continue;
            }
            tally.outside += 1;
            first.get_or_insert((*value, at % width, at / width));
            *value = f32::NAN;
        }
        match first {
            Some((value, column, row))
                if tally.outside as f64 > MOST_OUTSIDE * tally.numbers as f64 =>
            {
                let Tally { numbers, outside } = tally;
                Err(format!(
                    "has {outside} of {numbers} numbers that cannot be {quantity}, the first in column \
                     {column} and row {row}: {value} {}, not from {lowest} to {highest}",
                    quantity.unit()
                ))
            }
            _ => Ok(tally),
        }
    }
}

/// How many numbers there were, and how many of them cannot be.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Tally {
    pub(crate) numbers: usize,
    pub(crate) outside: usize,
}

impl Tally {
    pub(crate) fn add(&mut self, other: Self) {
        self.numbers += other.numbers;
        self.outside += other.outside;
    }

    /// What was left out, for the report; nothing where nothing was.
    pub(crate) fn text(self, file: &std::path::Path) -> Option<String> {
        let Self { numbers, outside } = self;
        (outside > 0).then(|| {
            format!(
                "{outside} of {numbers} numbers of {} are outside what they can be and are taken as missing",
                file.display()
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{crs::MapProjection, image::Placement};

    fn image(values: Vec<f32>) -> Image {
        let placement = Placement {
            projection: MapProjection::LonLat,
            corner: [0.0, 0.0],
            along_row: [1.0, 0.0],
            along_column: [0.0, -1.0],
        };
        Image { width: values.len(), height: 1, values, placement }
    }

    #[test]
    fn a_few_numbers_outside_are_missing_and_many_a_fault() {
        let range = PhysicalRange::of(Quantity::ICE_CONCENTRATION);
        let mut values = vec![0.5; 2000];
        values[7] = 41_661.0;
        values[8] = f32::NAN;
        values[9] = 1.0005;
        let mut few = image(values.clone());
        let tally = range.check(&mut few).unwrap();
        assert_eq!((tally.numbers, tally.outside), (1999, 1));
        assert!(few.values[7].is_nan() && few.values[9] == 1.0);
        values[10..14].fill(f32::INFINITY);
        let message = range.check(&mut image(values)).unwrap_err();
        assert!(message.contains("5 of 1999") && message.contains("column 7"), "{message}");
    }

    #[test]
    fn an_unlisted_quantity_has_no_bounds_but_is_finite() {
        let range = PhysicalRange::of(Quantity::new("salinity", "1"));
        assert!(range.check(&mut image(vec![1e30, -1e30])).is_ok());
        assert!(range.check(&mut image(vec![f32::INFINITY])).is_err());
    }
}
