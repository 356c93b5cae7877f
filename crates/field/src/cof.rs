//! The `.COF` format of the World Magnetic Model.
//!
//! ```text
//!     2025.0            WMM-2025     11/13/2024     epoch, name, date of release
//!   1  0  -29351.8       0.0       12.0        0.0  degree, order, g, h, and their change a year
//!   ...
//! 999999999999999999999999999999999999999999999999  the end
//! ```

use std::collections::BTreeSet;

use crate::{
    ReadError,
    series::{ANY_YEAR, MAX_DEGREE, Series, index},
    text::{Lines, number, whole},
};

/// Years from a model's epoch to its end: a new World Magnetic Model comes every five years.
const VALID_YEARS: f64 = 5.0;

/// Reads a file of `.COF` coefficients. The model is valid for five years from its epoch.
///
/// # Errors
///
/// [`ReadError`] with the line, for anything that is not such a file.
pub fn read_cof(bytes: &[u8]) -> Result<Series, ReadError> {
    let mut lines = Lines::new(bytes)?;
    let (line, text) = lines.expect("the header of epoch and name")?;
    let mut fields = text.split_ascii_whitespace();
    let epoch = number(line, fields.next(), "an epoch")?;
    if !ANY_YEAR.contains(&epoch) || !ANY_YEAR.contains(&(epoch + VALID_YEARS)) {
        return Err(ReadError::line(line, "the epoch is not a year"));
    }
    let name = fields.next().unwrap_or_default().to_owned();

    let mut rows = Vec::new();
    let mut seen = BTreeSet::new();
    for (line, text) in lines {
        if text.starts_with("9999") {
            break;
        }
        let mut fields = text.split_ascii_whitespace();
        let n: usize = whole(line, fields.next(), "a degree")?;
        let m: usize = whole(line, fields.next(), "an order")?;
        if n == 0 || n > MAX_DEGREE || m > n {
            let message =
                format!("degree {n}, order {m} is not in a model of degree 1 to {MAX_DEGREE}");
            return Err(ReadError::line(line, message));
        }
        if !seen.insert((n, m)) {
            return Err(ReadError::line(line, format!("degree {n}, order {m} comes twice")));
        }
        let main = [number(line, fields.next(), "g")?, number(line, fields.next(), "h")?];
        let change = [
            number(line, fields.next(), "the yearly change of g")?,
            number(line, fields.next(), "the yearly change of h")?,
        ];
        if fields.next().is_some() {
            return Err(ReadError::line(line, "six numbers are wanted, and there are more"));
        }
        rows.push((n, m, main, change));
    }
    let degree = rows.iter().map(|row| row.0).max().unwrap_or(0);
    let wanted = index(degree, degree);
    if degree == 0 || rows.len() != wanted {
        let message = format!("{} rows of coefficients where {wanted} are wanted", rows.len());
        return Err(ReadError::Whole(message));
    }
    let mut knots = vec![vec![[0.0; 2]; wanted + 1]; 2];
    for (n, m, main, change) in rows {
        for (knot, years) in knots.iter_mut().zip([0.0, VALID_YEARS]) {
            knot[index(n, m)] = [main[0] + years * change[0], main[1] + years * change[1]];
        }
    }
    let epochs = vec![epoch, epoch + VALID_YEARS];
    Ok(Series { name, degree, years: epoch..=epoch + VALID_YEARS, epochs, knots, step: 1 })
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: &str = "2025.0 S 1/1/2025\n1 0 -29000 0 10 0\n1 1 -1000 4500 8 -20\n9999999\n";

    #[test]
    fn a_small_file_is_read() {
        let series = read_cof(SMALL.as_bytes()).unwrap();
        assert_eq!((series.name(), series.degree()), ("S", 1));
        assert_eq!(series.coefficients(2026.0, 1, 1), Some([-992.0, 4480.0]));
    }

    #[test]
    fn faults_are_told_with_their_lines() {
        let told = |from: &str, to: &str| {
            read_cof(SMALL.replace(from, to).as_bytes()).unwrap_err().to_string()
        };
        assert_eq!(
            told("1 1 ", "1 2 "),
            "line 3: degree 1, order 2 is not in a model of degree 1 to 400"
        );
        assert_eq!(told(" 8 -20", " 8"), "line 3: the yearly change of h is missing");
        assert_eq!(told("1 1 ", "1 0 "), "line 3: degree 1, order 0 comes twice");
        assert_eq!(told("1 0 -29000 0 10 0\n", ""), "1 rows of coefficients where 2 are wanted");
        assert_eq!(told("2025.0 S", "S 2025.0"), "line 1: `S` is not an epoch");
    }
}
