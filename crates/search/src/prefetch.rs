//! Asking the caches for what will be read soon.

/// Asks for the cache line of an element. Says nothing of whether it is there: past the end, or on a
/// machine without such an instruction, nothing happens.
#[inline(always)]
pub(crate) fn prefetch(values: &[f32], index: usize) {
    #[cfg(target_arch = "x86_64")]
    {
        use std::arch::x86_64::{_MM_HINT_T0, _mm_prefetch};
        let address = values.as_ptr().wrapping_add(index).cast();
        // SAFETY: the instruction is part of every x86-64, reads and writes no memory that the program
        // can see, and never faults, whatever the address; the address is made without `add`, whose
        // bounds it might not keep.
        unsafe { _mm_prefetch::<_MM_HINT_T0>(address) };
    }
    #[cfg(not(target_arch = "x86_64"))]
    let _ = (values, index);
}
