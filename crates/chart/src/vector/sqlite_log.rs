//! The write-ahead log of a SQLite database: pages that were committed and not yet put into the file.
//!
//! ```text
//!   header   magic version page-size sequence | salt salt | sum sum
//!   frame    page-number pages-after-commit | salt salt | sum sum | the page
//! ```
//!
//! A frame counts if its salts are the header's and its sums, which run on from frame to frame, are right;
//! and only up to the last that commits. Frames of other salts are left over from before.
//!
//! Source: SQLite, Database File Format, section 4, <https://www.sqlite.org/fileformat2.html#walformat>.

use std::{collections::BTreeMap, ops::Range};

/// Pages of a log.
#[derive(Debug, Default)]
pub(super) struct LoggedPages {
    /// Where the newest committed copy of each page lies in the log.
    pages: BTreeMap<u32, Range<usize>>,
    /// How many pages the database has after the last commit.
    pub(super) count: Option<u32>,
    /// The size of a page.
    pub(super) page_size: Option<usize>,
}

const HEADER: usize = 32;
const FRAME_HEADER: usize = 24;

impl LoggedPages {
    /// Reads a log; nothing of one that is empty.
    ///
    /// # Errors
    ///
    /// For a log that is damaged: what was committed in it cannot be told then.
    pub(super) fn read(log: &[u8]) -> Result<Self, String> {
        if log.is_empty() {
            return Ok(Self::default());
        }
        let damaged = |what: &str| {
            format!(
                "has a write-ahead log beside it (`-wal`) that is damaged: {what}; open the database once \
                 with the program that wrote it, or run `PRAGMA wal_checkpoint(TRUNCATE)` on it"
            )
        };
        let header = log.get(..HEADER).ok_or_else(|| damaged("it is cut short"))?;
        let big_endian = match be32(header, 0) {
            Some(0x377f_0682) => false,
            Some(0x377f_0683) => true,
            _ => return Err(damaged("it does not begin as one")),
        };
        let page_size = be32(header, 8).unwrap_or_default() as usize;
        if be32(header, 4) != Some(3_007_000)
            || !(512..=65_536).contains(&page_size)
            || !page_size.is_power_of_two()
        {
            return Err(damaged("its version or the size of its pages is unknown"));
        }
        let mut sums = Sums { big_endian, first: 0, second: 0 };
        sums.add(header.get(..24).unwrap_or_default());
        if !sums.are(header, 24) {
            return Err(damaged("the sum of its header is wrong"));
        }
        let salts = header.get(16..24);
        let mut found = Self { page_size: Some(page_size), ..Self::default() };
        let mut pending: BTreeMap<u32, Range<usize>> = BTreeMap::new();
        let mut at = HEADER;
        while let Some(frame) = log.get(at..at + FRAME_HEADER) {
            if frame.get(8..16) != salts {
                break;
            }
            let page = at + FRAME_HEADER..at + FRAME_HEADER + page_size;
            let bytes = log.get(page.clone()).ok_or_else(|| damaged("it is cut short"))?;
            sums.add(frame.get(..8).unwrap_or_default());
            sums.add(bytes);
            if !sums.are(frame, 16) {
                return Err(damaged(&format!("the sum at byte {at} is wrong")));
            }
            let number = be32(frame, 0).unwrap_or_default();
            pending.insert(number, page.clone());
            let commit = be32(frame, 4).unwrap_or_default();
            if commit > 0 {
                found.pages.append(&mut pending);
                found.count = Some(commit);
            }
            at = page.end;
        }
        Ok(found)
    }

    /// The newest committed copy of a page, if the log has one.
    pub(super) fn page<'a>(&self, number: u32, log: &'a [u8]) -> Option<&'a [u8]> {
        self.pages.get(&number).and_then(|place| log.get(place.clone()))
    }
}

/// The running sums of a log.
struct Sums {
    big_endian: bool,
    first: u32,
    second: u32,
}

impl Sums {
    fn add(&mut self, bytes: &[u8]) {
        let (pairs, _) = bytes.as_chunks::<8>();
        for &[a, b, c, d, e, f, g, h] in pairs {
            let word = |bytes: [u8; 4]| {
                if self.big_endian { u32::from_be_bytes(bytes) } else { u32::from_le_bytes(bytes) }
            };
            let (one, two) = (word([a, b, c, d]), word([e, f, g, h]));
            self.first = self.first.wrapping_add(one).wrapping_add(self.second);
            self.second = self.second.wrapping_add(two).wrapping_add(self.first);
        }
    }

    fn are(&self, bytes: &[u8], at: usize) -> bool {
        be32(bytes, at) == Some(self.first) && be32(bytes, at + 4) == Some(self.second)
    }
}

fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|bytes| u32::from_be_bytes(*bytes))
}

/// Whether a rollback journal is of a transaction that was not finished: then the database itself is half
/// written.
pub(super) fn is_unfinished(journal: &[u8]) -> bool {
    // A finished one is removed, emptied, or its beginning overwritten with nought.
    journal.starts_with(&[0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7])
}
