//! Sections 1 and 4: what a field is, of which run, of which member, and when it is valid.
//!
//! Source: WMO Manual on Codes, volume I.2, FM 92 GRIB edition 2: sections 1 and 4, templates 4.0, 4.1,
//! 4.2, 4.8, 4.11 and 4.12, code tables 1.2, 4.0, 4.3, 4.4, 4.5, 4.6, 4.7, 4.10 and 4.11.

use std::fmt;

use jiff::{SignedDuration, Timestamp, civil::DateTime, tz::TimeZone};

use super::{
    level::Level,
    message::{be16, be32},
};

/// When a field is valid.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Validity {
    /// At an instant.
    At(Timestamp),
    /// A mean over an interval.
    Mean {
        /// Its beginning.
        from: Timestamp,
        /// Its end.
        until: Timestamp,
    },
}

impl Validity {
    /// The instant that the field stands for: of a mean, the middle of its interval.
    pub(crate) fn instant(self) -> Timestamp {
        match self {
            Self::At(at) => at,
            Self::Mean { from, until } => {
                let half = from.duration_until(until) / 2;
                from.checked_add(half).unwrap_or(until)
            }
        }
    }

    /// Whether it is a mean.
    pub(crate) fn is_mean(self) -> bool {
        matches!(self, Self::Mean { .. })
    }
}

/// Which forecast of an ensemble a field is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum ForecastMember {
    /// Of none: a single forecast.
    Single,
    /// The control forecast.
    Control,
    /// A perturbed forecast: its type of code table 4.6 and its number.
    Perturbed {
        /// 2 and 3 are negatively and positively perturbed, 4 is one of several models.
        kind: u8,
        /// The number of the perturbation.
        number: u8,
    },
    /// The mean of all.
    Mean,
}

impl fmt::Display for ForecastMember {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Single => f.write_str("a single forecast"),
            Self::Control => f.write_str("the control forecast"),
            Self::Perturbed { kind: 2, number } => write!(f, "member {number} (negative)"),
            Self::Perturbed { number, .. } => write!(f, "member {number}"),
            Self::Mean => f.write_str("the ensemble's mean"),
        }
    }
}

/// What a field is besides its values.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Product {
    /// Where it is, where the file says.
    pub(crate) level: Option<Level>,
    /// The reference time: the start of the forecast.
    pub(crate) run: Timestamp,
    /// Of an ensemble, which.
    pub(crate) member: ForecastMember,
    /// When it is valid.
    pub(crate) validity: Validity,
}

/// Either a product that is taken, or in words why this one is not.
pub(super) type ProductOrReason = Result<Product, String>;

/// Category and number of the parameter that section 4 tells.
pub(super) fn parameter_of(section: &[u8]) -> Option<(u8, u8)> {
    Some((*section.get(9)?, *section.get(10)?))
}

/// Reads sections 1 and 4.
///
/// # Returns
///
/// In words, why a field is none of the quantity itself: a probability, a spread, a greatest value.
///
/// # Errors
///
/// What is wrong with the sections.
pub(super) fn product(one: &[u8], four: &[u8]) -> Result<ProductOrReason, String> {
    let short = || "has a section 4 that is cut short".to_owned();
    let template = be16(four, 7).ok_or_else(short)?;
    // Octets of section 4, counted from one in the manual, by their place counted from nothing.
    let (after, statistical) = match template {
        0 => (34, false),
        1 => (37, false),
        2 => (36, false),
        8 => (34, true),
        11 => (37, true),
        12 => (36, true),
        other => return Ok(Err(reason_of_template(other))),
    };
    let body = Octets(four);
    let process = body.u8(11).ok_or_else(short)?;
    let unfit = match process {
        5 => Some("a probability"),
        6 | 7 => Some("an error of the forecast or analysis"),
        9 => Some("a climatology"),
        _ => None,
    };
    if let Some(unfit) = unfit {
        return Ok(Err(unfit.to_owned()));
    }
    let level = Level::read(four.get(22..34).ok_or_else(short)?);
    let member = match template {
        1 | 11 => {
            let (kind, number) = body.u8(34).zip(body.u8(35)).ok_or_else(short)?;
            match kind {
                0 | 1 => ForecastMember::Control,
                2..=4 => ForecastMember::Perturbed { kind, number },
                other => {
                    return Err(format!("is a member of the unknown type {other} (table 4.6)"));
                }
            }
        }
        2 | 12 => match body.u8(34).ok_or_else(short)? {
            0 | 1 => ForecastMember::Mean,
            other => return Ok(Err(format!("what code table 4.7 calls {other} of an ensemble"))),
        },
        _ => ForecastMember::Single,
    };
    let run = reference_time(one)?;
    let ahead = lead_time(four, 17)?;
    let start = moment(run, ahead)?;
    match one.get(11) {
        // The reference time is that of the analysis, the start of the forecast or an observation.
        Some(0 | 1 | 3) => {}
        Some(2) if ahead.is_zero() => {}
        _ => {
            return Err(
                "does not say whether its reference time is the start of the forecast (code \
                        table 1.2)"
                    .to_owned(),
            );
        }
    }
    if !statistical {
        return Ok(Ok(Product { level, run, member, validity: Validity::At(start) }));
    }
    let end = time(four.get(after..after + 7).ok_or_else(short)?)?;
    let ranges = body.u8(after + 7).ok_or_else(short)?;
    let kind = body.u8(after + 12).ok_or_else(short)?;
    let increment = body.u8(after + 13).ok_or_else(short)?;
    let length = lead_time(four, after + 14)?;
    if kind != 0 {
        return Ok(Err(reason_of_statistic(kind)));
    }
    if ranges != 1 {
        return Ok(Err(format!("a mean over {ranges} ranges of time")));
    }
    // 2: one run, looked at along its way. 1 and 3 to 5 put several runs together.
    if ![2, 255].contains(&increment) {
        return Ok(Err("a mean over several runs".to_owned()));
    }
    if end <= start || moment(start, length)? != end {
        return Err(format!(
            "contradicts itself: a mean from {start} over {} h that ends at {end}",
            length.as_hours()
        ));
    }
    Ok(Ok(Product { level, run, member, validity: Validity::Mean { from: start, until: end } }))
}

fn reason_of_template(template: u16) -> String {
    let what = match template {
        5 | 9 => "a probability",
        6 | 10 => "a percentile",
        3 | 4 | 13 | 14 => "a cluster of an ensemble",
        7 => "an error of the forecast or analysis",
        15 => "an average or extreme over an area",
        51 | 91 => "a category",
        60 | 61 => "a forecast made afterwards",
        _ => return format!("told by the product template 4.{template}"),
    };
    format!("{what} (product template 4.{template})")
}

fn reason_of_statistic(kind: u8) -> String {
    let what = match kind {
        1 => "an accumulation",
        2 => "a greatest value",
        3 => "a least value",
        4 => "a difference",
        5 => "a root mean square",
        6 => "a standard deviation",
        other => return format!("a statistic of the type {other} (code table 4.10)"),
    };
    format!("{what} over an interval")
}

/// The reference time of section 1.
fn reference_time(one: &[u8]) -> Result<Timestamp, String> {
    time(one.get(12..19).ok_or("has a section 1 that is cut short")?)
}

/// The years that a chart can be of; others are damage.
const YEARS: std::ops::RangeInclusive<u16> = 1900..=2199;

/// Year, month, day, hour, minute and second.
fn time(octets: &[u8]) -> Result<Timestamp, String> {
    let wrong = || {
        format!("is of the impossible time {octets:?} (year in two bytes, then month to second)")
    };
    let &[high, low, month, day, hour, minute, second] = octets else { return Err(wrong()) };
    let year = u16::from_be_bytes([high, low]);
    if !YEARS.contains(&year) {
        return Err(wrong());
    }
    let small = |value: u8| i8::try_from(value).map_err(|_| wrong());
    DateTime::new(
        year as i16,
        small(month)?,
        small(day)?,
        small(hour)?,
        small(minute)?,
        small(second)?,
        0,
    )
    .and_then(|at| TimeZone::UTC.to_timestamp(at))
    .map_err(|_| wrong())
}

/// A time ahead: a unit of code table 4.4 and a number whose first bit is its sign.
fn lead_time(four: &[u8], at: usize) -> Result<SignedDuration, String> {
    let unit = *four.get(at).ok_or("has a section 4 that is cut short")?;
    let bits = be32(four, at + 1).ok_or("has a section 4 that is cut short")?;
    let seconds: i64 = match unit {
        0 => 60,
        1 => 3600,
        2 => 86_400,
        10 => 3 * 3600,
        11 => 6 * 3600,
        12 => 12 * 3600,
        13 => 1,
        other => return Err(format!("counts its time ahead in the unit {other} (code table 4.4)")),
    };
    let size = i64::from(bits & 0x7fff_ffff);
    Ok(SignedDuration::from_secs(seconds * if bits >> 31 == 1 { -size } else { size }))
}

fn moment(run: Timestamp, ahead: SignedDuration) -> Result<Timestamp, String> {
    // Longer than any forecast of ice or weather: damage.
    let longest = SignedDuration::from_hours(24 * 366 * 2);
    run.checked_add(ahead).ok().filter(|_| ahead.abs() <= longest).ok_or_else(|| {
        format!("is valid {} h after its run, which is no forecast", ahead.as_hours())
    })
}

struct Octets<'a>(&'a [u8]);

impl Octets<'_> {
    fn u8(&self, at: usize) -> Option<u8> {
        self.0.get(at).copied()
    }
}
