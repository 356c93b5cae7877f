//! A monotone priority queue: a ring of buckets over packed entries, with an overflow for what lies
//! beyond the ring.
//!
//! A bucket is as wide as the least edge or narrower, so no entry of a bucket can lead to another
//! entry of the same bucket: all of a bucket may be settled in any order, and what Dijkstra's heap
//! would give comes out to the bit. The README of this crate holds the proof.

/// A key and what it belongs to, eight bytes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Entry {
    /// Cost of the label when it was put in.
    pub(crate) key: f32,
    /// State of the search.
    pub(crate) state: u32,
}

/// Fewest and most buckets in a ring. What lies further ahead goes to the overflow.
const RING: std::ops::RangeInclusive<usize> = 64..=1 << 13;

/// The queue. Keys put in must not be below the bucket that was popped last.
#[derive(Debug)]
pub(crate) struct BucketQueue {
    buckets: Vec<Vec<Entry>>,
    /// One bit a bucket that holds something, so that a gap costs a word per 64 buckets.
    filled: Vec<u64>,
    per_width: f64,
    /// Absolute number of the bucket to be popped next.
    now: u64,
    /// Entries past the window.
    overflow: Vec<Entry>,
    /// Absolute number of the first bucket past the window.
    window_end: u64,
}

impl BucketQueue {
    /// A queue for edges of at least `least_edge`, which must be above zero and finite, and mostly
    /// of `usual_edge` or less, which sizes the ring.
    pub(crate) fn new(least_edge: f32, usual_edge: f32) -> Self {
        // A cast of NaN or of what is negative is 0.
        let wanted = (f64::from(usual_edge) / f64::from(least_edge) * 1.01) as usize + 4;
        let ring = wanted.clamp(*RING.start(), *RING.end()).next_power_of_two();
        // A hair under the least edge, so that rounding in the division cannot join two buckets.
        let per_width = 1.0 / (f64::from(least_edge) * 0.999);
        Self {
            buckets: vec![Vec::new(); ring],
            filled: vec![0; ring / 64],
            per_width,
            now: 0,
            overflow: Vec::new(),
            window_end: ring as u64,
        }
    }

    /// Puts an entry in.
    #[inline(always)]
    pub(crate) fn push(&mut self, key: f32, state: u32) {
        let bucket = self.bucket_of(key).max(self.now);
        let entry = Entry { key, state };
        if bucket < self.window_end {
            self.put(bucket, entry);
        } else {
            self.overflow.push(entry);
        }
    }

    /// The bucket of a key, which is not negative. Saturates: a key beyond any bucket number lands in
    /// the overflow. Signed, for which the machine has an instruction.
    #[inline]
    fn bucket_of(&self, key: f32) -> u64 {
        (f64::from(key) * self.per_width) as i64 as u64
    }

    #[inline(always)]
    fn put(&mut self, bucket: u64, entry: Entry) {
        let slot = bucket as usize & (self.buckets.len() - 1);
        let bucket = &mut self.buckets[slot];
        if bucket.is_empty() {
            self.filled[slot / 64] |= 1 << (slot % 64);
        }
        bucket.push(entry);
    }

    /// Takes the next filled bucket into `batch`, which is emptied first. False when all is done.
    pub(crate) fn pop_bucket(&mut self, batch: &mut Vec<Entry>) -> bool {
        batch.clear();
        let slot = loop {
            if let Some(slot) = self.next_filled() {
                break slot;
            }
            if self.overflow.is_empty() {
                return false;
            }
            self.move_window();
        };
        let ring = self.buckets.len();
        let behind = (slot + ring - (self.now as usize & (ring - 1))) & (ring - 1);
        self.now += behind as u64 + 1;
        std::mem::swap(&mut self.buckets[slot], batch);
        self.filled[slot / 64] &= !(1 << (slot % 64));
        // The ring turns only as far as its overflow lets it, or entries there would be overtaken.
        if self.overflow.is_empty() {
            self.window_end = self.now.saturating_add(ring as u64);
        }
        true
    }

    /// First filled slot at or after the present one, round the ring, if there is one.
    fn next_filled(&self) -> Option<usize> {
        let slot = self.now as usize & (self.buckets.len() - 1);
        let words = self.filled.len();
        let first = slot / 64;
        let masked = self.filled[first] & (!0 << (slot % 64));
        if masked != 0 {
            return Some(first * 64 + masked.trailing_zeros() as usize);
        }
        for step in 1..=words {
            let word = (first + step) % words;
            if self.filled[word] != 0 {
                return Some(word * 64 + self.filled[word].trailing_zeros() as usize);
            }
        }
        None
    }

    /// Starts the window at the least entry of the overflow.
    fn move_window(&mut self) {
        let least = self.overflow.iter().map(|entry| entry.key).fold(f32::INFINITY, f32::min);
        self.now = self.bucket_of(least).max(self.now);
        self.window_end = self.now.saturating_add(self.buckets.len() as u64);
        let mut rest = std::mem::take(&mut self.overflow);
        rest.retain(|&entry| {
            let bucket = self.bucket_of(entry.key).max(self.now);
            let inside = bucket < self.window_end;
            if inside {
                self.put(bucket, entry);
            }
            !inside
        });
        self.overflow = rest;
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn buckets_come_out_in_order_and_whole(
            keys in prop::collection::vec(0.0_f32..1e6, 1..300),
            width in 1e-3_f32..1e3,
            usual in 1e-3_f32..1e6,
        ) {
            let mut queue = BucketQueue::new(width, usual);
            for (state, &key) in keys.iter().enumerate() {
                queue.push(key, state as u32);
            }
            let mut seen = Vec::new();
            let mut batch = Vec::new();
            let mut last = f32::NEG_INFINITY;
            while queue.pop_bucket(&mut batch) {
                let low = batch.iter().map(|e| e.key).fold(f32::INFINITY, f32::min);
                let high = batch.iter().map(|e| e.key).fold(0.0, f32::max);
                prop_assert!(low >= last);
                prop_assert!(high - low <= width);
                last = high;
                seen.extend(batch.iter().map(|entry| entry.state));
            }
            seen.sort_unstable();
            prop_assert_eq!(seen, (0..keys.len() as u32).collect::<Vec<_>>());
        }
    }
}
