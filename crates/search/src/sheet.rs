//! A long row of numbers, on large pages of memory where the machine has them.
//!
//! A front passes through rows that lie far apart, so a field of millions of cells asks for more pages
//! of 4 KiB than the processor can keep the addresses of; each of 2 MiB does the work of 512.

use std::{
    fmt,
    ops::{Deref, DerefMut},
};

use memmap2::MmapMut;

/// Shorter rows gain nothing: one large page.
const LARGE: usize = 2 << 20;

/// A row of numbers whose length does not change.
pub(crate) struct Sheet(Store);

enum Store {
    Heap(Vec<f32>),
    Mapped(MmapMut),
}

impl Sheet {
    /// A row of equal numbers.
    pub(crate) fn new(value: f32, length: usize) -> Self {
        let Some(mut map) = mapped(length) else {
            return Self(Store::Heap(vec![value; length]));
        };
        bytemuck::cast_slice_mut(&mut map).fill(value);
        Self(Store::Mapped(map))
    }
}

/// Fresh memory for a long row; nothing for a short one, or where the system refuses.
fn mapped(length: usize) -> Option<MmapMut> {
    let bytes = length.checked_mul(size_of::<f32>()).filter(|&bytes| bytes >= LARGE)?;
    let map = MmapMut::map_anon(bytes).ok()?;
    // A wish: a system that cannot grant it serves small pages.
    #[cfg(target_os = "linux")]
    let _ = map.advise(memmap2::Advice::HugePage);
    Some(map)
}

impl Deref for Sheet {
    type Target = [f32];

    #[inline(always)]
    fn deref(&self) -> &[f32] {
        match &self.0 {
            Store::Heap(values) => values,
            // The map begins on a page and is a whole number of floats long.
            Store::Mapped(map) => bytemuck::cast_slice(map),
        }
    }
}

impl DerefMut for Sheet {
    #[inline(always)]
    fn deref_mut(&mut self) -> &mut [f32] {
        match &mut self.0 {
            Store::Heap(values) => values,
            Store::Mapped(map) => bytemuck::cast_slice_mut(map),
        }
    }
}

impl Clone for Sheet {
    fn clone(&self) -> Self {
        let mut copy = Self::new(0.0, self.len());
        copy.copy_from_slice(self);
        copy
    }
}

impl PartialEq for Sheet {
    fn eq(&self, other: &Self) -> bool {
        **self == **other
    }
}

impl fmt::Debug for Sheet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list().entries(self.iter()).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_and_short_rows_hold_what_is_put_in() {
        for length in [0, 3, LARGE / 4 - 1, LARGE / 4 + 5] {
            let mut sheet = Sheet::new(7.5, length);
            assert_eq!(sheet.len(), length);
            assert!(sheet.iter().all(|&value| value == 7.5));
            if let Some(last) = sheet.last_mut() {
                *last = f32::INFINITY;
            }
            assert_eq!(sheet.clone(), sheet);
            assert_eq!(sheet.iter().filter(|value| value.is_infinite()).count(), length.min(1));
        }
    }
}
