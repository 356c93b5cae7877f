//! Rasters packed into two bytes a cell, and the most that a layer may take.

use dipward_geodesy::Grid;
use dipward_plugin::Error;

use std::ops::Range;

/// The most bytes that the rasters of a layer may take.
const MAX_BYTES: u64 = 8 << 30;

/// Refuses rasters that would take more than 8 GiB, before any of them is made.
///
/// # Errors
///
/// [`Error::Outside`] with what they would take.
pub(super) fn check_memory(grid: &Grid, rasters: usize, bytes_each: u64) -> Result<(), Error> {
    let bytes = (grid.len() as u64).saturating_mul(rasters as u64).saturating_mul(bytes_each);
    if bytes <= MAX_BYTES {
        return Ok(());
    }
    Err(Error::Outside(format!(
        "{rasters} rasters of {} cells need {} GiB, more than {}: take larger cells, a shorter window \
         or fewer instants",
        grid.len(),
        bytes >> 30,
        MAX_BYTES >> 30
    )))
}

/// A raster in 65 534 even steps from its least to its greatest value. Memory: 2 bytes a cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PackedRaster {
    low: f32,
    step: f32,
    values: Vec<u16>,
}

const UNKNOWN: u16 = u16::MAX;
const STEPS: f32 = (u16::MAX - 1) as f32;

impl PackedRaster {
    pub(super) fn of(values: &[f32]) -> Self {
        let known = || values.iter().copied().filter(|value| !value.is_nan());
        let (low, high) =
            (known().fold(f32::INFINITY, f32::min), known().fold(f32::NEG_INFINITY, f32::max));
        let step = (high - low) / STEPS;
        // Of one value, or none, the step says nothing and the least value all.
        let per_step = if step > 0.0 && step.is_finite() { step.recip() } else { 0.0 };
        let values =
            values
                .iter()
                .map(|value| {
                    if value.is_nan() { UNKNOWN } else { ((value - low) * per_step).round() as u16 }
                })
                .collect();
        Self { low, step: if per_step == 0.0 { 0.0 } else { step }, values }
    }

    /// Writes the run that the raster has.
    pub(super) fn unpack(&self, cells: Range<u32>, out: &mut [f32]) {
        let run = self.values.get(cells.start as usize..cells.end as usize).unwrap_or_default();
        for (out, steps) in out.iter_mut().zip(run).filter(|(_, steps)| **steps != UNKNOWN) {
            *out = self.low + f32::from(*steps) * self.step;
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn unpacked(values: &[f32]) -> Vec<f32> {
        let mut out = vec![f32::NAN; values.len()];
        PackedRaster::of(values).unpack(0..values.len() as u32, &mut out);
        out
    }

    #[test]
    fn one_value_and_none_are_kept() {
        assert_eq!(unpacked(&[2.5, 2.5]), [2.5, 2.5]);
        assert!(unpacked(&[f32::NAN])[0].is_nan());
        assert!(unpacked(&[]).is_empty());
    }

    proptest! {
        #[test]
        fn values_come_back_within_half_a_step(
            values in prop::collection::vec(prop_oneof![9 => -1e4f32..1e4, 1 => Just(f32::NAN)], 1..200)
        ) {
            let known = || values.iter().copied().filter(|value| !value.is_nan());
            let range = known().fold(f32::MIN, f32::max) - known().fold(f32::MAX, f32::min);
            for (value, back) in values.iter().zip(unpacked(&values)) {
                prop_assert_eq!(value.is_nan(), back.is_nan());
                prop_assert!(value.is_nan() || (value - back).abs() <= range / STEPS * 0.51 + 2e-3);
            }
        }
    }
}
