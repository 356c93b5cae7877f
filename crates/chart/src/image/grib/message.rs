//! Messages and their sections: where each begins and ends.
//!
//! ```text
//!   junk | GRIB .. 2 length | 1 | [2] 3 4 5 6 7 | [2 3] 4 5 6 7 | .. | 7777 | junk
//! ```
//!
//! Source: WMO Manual on Codes, volume I.2, FM 92 GRIB edition 2: sections 0 to 8, code table 6.0.

use std::ops::Range;

/// One field of a message: the places of its sections in the file.
#[derive(Debug, Clone)]
pub(super) struct Part {
    /// How faults name it.
    pub(super) label: String,
    /// Which master table its parameters are of.
    pub(super) discipline: u8,
    /// Sections by their number; empty where there is none. Section 6 is the one that holds the bitmap.
    pub(super) sections: [Range<usize>; 8],
}

/// What a file holds.
#[derive(Debug, Default)]
pub(super) struct Messages {
    pub(super) parts: Vec<Part>,
    /// Bytes before, between and after the messages.
    pub(super) junk_bytes: usize,
}

/// The most points that a field may have.
const MAX_POINTS: u32 = 1 << 26;

const BEGIN: &[u8] = b"GRIB";
const END: &[u8] = b"7777";

/// Finds the messages of a file and walks their sections.
///
/// What stands between messages, as bulletins and broken transfers leave it, is passed over and counted.
///
/// # Errors
///
/// What is wrong: no message at all, another edition, a message that is cut short or whose lengths do not
/// add up, and the end of a message whose beginning is damaged.
pub(super) fn messages(bytes: &[u8]) -> Result<Messages, String> {
    let mut found = Messages::default();
    let mut at = 0;
    let mut number = 0;
    while let Some(start) = find(bytes, BEGIN, at) {
        found.junk_bytes += junk(bytes, at..start)?;
        number += 1;
        let end = message(bytes, start, number, &mut found.parts)?;
        at = end;
    }
    if number == 0 {
        return Err(crate::format::not_what_was_wanted(bytes, "a GRIB file"));
    }
    found.junk_bytes += junk(bytes, at..bytes.len())?;
    // A transfer may break off within the very word that begins a message.
    let rest = bytes.get(at..).unwrap_or_default();
    if (1..BEGIN.len()).any(|count| rest.ends_with(&BEGIN[..count])) {
        return Err(format!("is cut short after message {number}"));
    }
    Ok(found)
}

/// The length of what is no message.
fn junk(bytes: &[u8], gap: Range<usize>) -> Result<usize, String> {
    let length = gap.len();
    if let Some(at) = bytes.get(gap.clone()).and_then(|gap| find(gap, END, 0)) {
        return Err(format!(
            "has the end of a message at byte {}, but not its beginning: that is damaged; fetch the file \
             anew",
            gap.start + at
        ));
    }
    Ok(length)
}

fn find(bytes: &[u8], word: &[u8], from: usize) -> Option<usize> {
    let rest = bytes.get(from..)?;
    rest.windows(word.len()).position(|window| window == word).map(|at| from + at)
}

/// Walks one message and returns its end.
fn message(
    bytes: &[u8],
    start: usize,
    number: usize,
    parts: &mut Vec<Part>,
) -> Result<usize, String> {
    let short = || format!("is cut short in message {number}, which begins at byte {start}");
    let broken = |what: &str| {
        format!("is damaged in message {number}, which begins at byte {start}: {what}")
    };
    let head = bytes.get(start..start + 16).ok_or_else(short)?;
    match head[7] {
        2 => {}
        1 => {
            return Err(format!(
                "is of GRIB edition 1 in message {number}, and edition 2 is wanted: convert it, with \
                 ecCodes by `grib_set -s edition=2 in.grib1 out.grib2`, or with `cdo -f grb2 copy`"
            ));
        }
        other => return Err(broken(&format!("it is not of edition 2, but says {other}"))),
    }
    let discipline = head[6];
    let total =
        head.get(8..16).and_then(<[u8]>::first_chunk).map(|total| u64::from_be_bytes(*total));
    let end = total
        .and_then(|total| usize::try_from(total).ok())
        .and_then(|total| start.checked_add(total))
        .filter(|end| *end <= bytes.len())
        .ok_or_else(short)?;
    let last = end.checked_sub(END.len()).filter(|last| *last >= start + 16);
    let last = last.ok_or_else(|| broken("it is shorter than its own beginning"))?;
    if bytes.get(last..end) != Some(END) {
        return Err(broken("it does not end where it says"));
    }
    let mut sections: [Range<usize>; 8] = std::array::from_fn(|_| 0..0);
    let mut bitmap: Option<Range<usize>> = None;
    let (mut at, mut before, mut part) = (start + 16, 0, 0);
    while at < last {
        let length = be32(bytes, at).ok_or_else(short)? as usize;
        let section = at..at.saturating_add(length);
        if length < 5 || section.end > last {
            return Err(broken("the lengths of its sections do not add up"));
        }
        let own = bytes.get(at + 4).copied().ok_or_else(short)?;
        let follows = match own {
            1 => before == 0,
            2 => before == 1 || before == 7,
            3 => before == 1 || before == 2 || before == 7,
            4 => before == 3 || before == 7,
            5..=7 => before + 1 == own,
            _ => false,
        };
        if !follows {
            return Err(broken(&format!("section {own} follows section {before}")));
        }
        let least = [0, 21, 5, 14, 9, 11, 6, 5].get(usize::from(own)).copied().unwrap_or(5);
        if length < least {
            return Err(broken(&format!("section {own} has {length} bytes")));
        }
        let points = match own {
            3 => be32(bytes, at + 6).ok_or_else(short)?,
            5 => be32(bytes, at + 5).ok_or_else(short)?,
            _ => 0,
        };
        if points > MAX_POINTS {
            return Err(format!("has a field of {points} points in message {number}"));
        }
        at = section.end;
        if let Some(place) = sections.get_mut(usize::from(own)) {
            *place = section.clone();
        }
        if own == 6 {
            match bytes.get(section.start + 5) {
                Some(0) => bitmap = Some(section),
                Some(254) => {
                    sections[6] = bitmap
                        .clone()
                        .ok_or_else(|| broken("it takes the bitmap before, and there is none"))?;
                }
                _ => {}
            }
        }
        if own == 7 {
            part += 1;
            let label = format!("message {number}.{part}");
            parts.push(Part { label, discipline, sections: sections.clone() });
        }
        before = own;
    }
    if before != 7 {
        return Err(broken("it ends before its values"));
    }
    Ok(end)
}

/// A number of four bytes.
pub(super) fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|bytes| u32::from_be_bytes(*bytes))
}

/// A number of two bytes.
pub(super) fn be16(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..)?.first_chunk().map(|bytes| u16::from_be_bytes(*bytes))
}
