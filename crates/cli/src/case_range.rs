//! A slice of a study's cases as people write it.

use std::{ops::Range, str::FromStr};

/// "120..240": cases 120 to 239, counted from 0.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct CaseRange(pub(crate) Range<u64>);

impl FromStr for CaseRange {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let parsed = text.split_once("..").and_then(|(from, until)| {
            Some((from.trim().parse().ok()?, until.trim().parse().ok()?))
        });
        match parsed {
            Some((from, until)) if from < until => Ok(Self(from..until)),
            Some(_) => {
                Err("the range is empty; the second number is that after the last case".into())
            }
            None => Err("give a range such as 120..240, which is cases 120 to 239".into()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_leave_their_end_out() {
        assert_eq!("120..240".parse(), Ok(CaseRange(120..240)));
        for wrong in ["", "5", "5..5", "6..5", "-1..5", "1..=5", "a..b", "..5", "5.."] {
            assert!(wrong.parse::<CaseRange>().is_err(), "{wrong}");
        }
    }
}
