//! The `.shc` format of spherical-harmonic coefficients, as IGRF, CHAOS and crustal models use it.
//!
//! ```text
//! # comments
//! 1  13 27 2 1 1900.0 2030.0       least and largest degree, number of epochs, spline order,
//!                                  steps to a piece, and perhaps the years it is valid for
//!        1900.0 1905.0 ...         the epochs
//!  1   0 -31543 -31464 ...         degree, order, a value for each epoch: g for orders from 0 up,
//!  1  -1   5922   5909 ...         h for negative orders
//! ```
//!
//! Source: the Swarm product description SW-DS-DTU-GS-003 (from memory); the rows are checked
//! against the file of IGRF-14.

use std::{collections::BTreeSet, ops::RangeInclusive};

use crate::{
    ReadError,
    series::{ANY_YEAR, MAX_DEGREE, Series, index},
    text::{Lines, number, whole},
};

struct Header {
    degrees: RangeInclusive<usize>,
    epochs: usize,
    step: usize,
    years: Option<RangeInclusive<f64>>,
}

/// Reads a file of `.shc` coefficients.
///
/// # Errors
///
/// [`ReadError`] with the line, for anything that is not such a file: missing, repeated or
/// surplus coefficients, epochs that do not increase, numbers that are none, a degree above
/// [`MAX_DEGREE`].
pub fn read_shc(bytes: &[u8]) -> Result<Series, ReadError> {
    let mut lines = Lines::new(bytes)?;
    let name = lines.comment().unwrap_or_default();
    let (line, text) = lines.expect("the header of five or seven numbers")?;
    let header = read_header(line, text)?;
    let (line, text) = lines.expect("the epochs")?;
    let epochs = read_epochs(line, text, &header)?;
    let years = match (&header.years, epochs.as_slice()) {
        (Some(years), _) => years.clone(),
        (None, [first, .., last]) => *first..=*last,
        (None, _) => ANY_YEAR,
    };
    if let [first, .., last] = epochs.as_slice()
        && (years.start() < first || years.end() > last)
    {
        return Err(ReadError::line(line, "the header's years reach beyond the epochs"));
    }

    // Rows first, knots after: a header alone must not be able to ask for much memory.
    let mut rows = Vec::new();
    let mut seen = BTreeSet::new();
    for (line, text) in lines {
        let mut fields = text.split_ascii_whitespace();
        let n: usize = whole(line, fields.next(), "a degree")?;
        let m: i64 = whole(line, fields.next(), "an order")?;
        let order = usize::try_from(m.unsigned_abs()).unwrap_or(usize::MAX);
        if !header.degrees.contains(&n) || order > n {
            let message = format!("degree {n}, order {m} is not one that the header promises");
            return Err(ReadError::line(line, message));
        }
        if !seen.insert((n, m)) {
            return Err(ReadError::line(line, format!("degree {n}, order {m} comes twice")));
        }
        let values = fields
            .map(|field| number(line, Some(field), "a coefficient"))
            .collect::<Result<Vec<f64>, _>>()?;
        if values.len() != epochs.len() {
            let (found, wanted) = (values.len(), epochs.len());
            let message = format!("{found} values stand where the epochs are {wanted}");
            return Err(ReadError::line(line, message));
        }
        rows.push((index(n, order), usize::from(m < 0), values));
    }
    let wanted: usize = header.degrees.clone().map(|n| 2 * n + 1).sum();
    if rows.len() != wanted {
        let message = format!("{} rows of coefficients where {wanted} are wanted", rows.len());
        return Err(ReadError::Whole(message));
    }
    let degree = *header.degrees.end();
    let mut knots = vec![vec![[0.0; 2]; index(degree, degree) + 1]; epochs.len()];
    for (at, part, values) in rows {
        for (knot, value) in knots.iter_mut().zip(values) {
            knot[at][part] = value;
        }
    }
    Ok(Series { name, degree, epochs, knots, step: header.step, years })
}

fn read_header(line: usize, text: &str) -> Result<Header, ReadError> {
    let fields: Vec<&str> = text.split_ascii_whitespace().collect();
    let field = |at: usize| fields.get(at).copied();
    let least: usize = whole(line, field(0), "the least degree")?;
    let largest: usize = whole(line, field(1), "the largest degree")?;
    let epochs: usize = whole(line, field(2), "the number of epochs")?;
    let order: usize = whole(line, field(3), "the spline order")?;
    let step: usize = whole(line, field(4), "the number of steps")?;
    if least == 0 || least > largest || largest > MAX_DEGREE {
        let message = format!("the degrees must be from 1 up to at most {MAX_DEGREE}");
        return Err(ReadError::line(line, message));
    }
    if epochs == 0 {
        return Err(ReadError::line(line, "a model needs at least one epoch"));
    }
    // A spline of an order passes through its pieces' samples when there are as many steps to a
    // piece as the polynomial has degrees; other splines need basis functions that the file has not.
    let usable = epochs == 1
        || (order >= 2 && order - 1 == step && step <= 12 && (epochs - 1).is_multiple_of(step));
    if !usable {
        let message = format!(
            "splines of order {order} with {step} steps over {epochs} epochs cannot be read: the \
             steps must be one fewer than the order and divide the epochs"
        );
        return Err(ReadError::line(line, message));
    }
    let years = match (field(5), field(6)) {
        (None, _) => None,
        (start, end) => {
            let start = number(line, start, "the first year")?;
            let end = number(line, end, "the last year")?;
            if start > end || !ANY_YEAR.contains(&start) || !ANY_YEAR.contains(&end) {
                return Err(ReadError::line(line, "the years of validity are not a range"));
            }
            Some(start..=end)
        }
    };
    if fields.len() > 7 {
        return Err(ReadError::line(line, "the header has more than seven numbers"));
    }
    Ok(Header { degrees: least..=largest, epochs, step: step.max(1), years })
}

fn read_epochs(line: usize, text: &str, header: &Header) -> Result<Vec<f64>, ReadError> {
    let epochs = text
        .split_ascii_whitespace()
        .map(|field| number(line, Some(field), "an epoch"))
        .collect::<Result<Vec<f64>, _>>()?;
    if epochs.len() != header.epochs {
        let message = format!("{} epochs stand where {} are wanted", epochs.len(), header.epochs);
        return Err(ReadError::line(line, message));
    }
    if epochs.windows(2).any(|pair| pair[1] <= pair[0])
        || epochs.iter().any(|epoch| !ANY_YEAR.contains(epoch))
    {
        return Err(ReadError::line(line, "the epochs must be years that increase"));
    }
    Ok(epochs)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: &str = "# Small\n1 1 2 2 1 2000.0 2010.0\n 2000 2010\n 1 0 -30000 -29000\n 1 1 \
                         -2000 -1000\n 1 -1 5000 4000\n";

    #[test]
    fn a_small_file_is_read() {
        let series = read_shc(SMALL.as_bytes()).unwrap();
        assert_eq!(series.name(), "Small");
        assert_eq!(series.years(), 2000.0..=2010.0);
        assert_eq!(series.coefficients(2005.0, 1, 1), Some([-1500.0, 4500.0]));
    }

    #[test]
    fn faults_are_told_with_their_lines() {
        let told = |from: &str, to: &str| {
            read_shc(SMALL.replace(from, to).as_bytes()).unwrap_err().to_string()
        };
        assert_eq!(
            told(" 1 0 ", " 1 2 "),
            "line 4: degree 1, order 2 is not one that the header promises"
        );
        assert_eq!(told(" 1 -1 ", " 1 1 "), "line 6: degree 1, order 1 comes twice");
        assert_eq!(told("-29000", "x9"), "line 4: `x9` is not a coefficient");
        assert_eq!(told("-29000", "NaN"), "line 4: `NaN` is not a coefficient");
        assert_eq!(told("-29000", ""), "line 4: 1 values stand where the epochs are 2");
        assert_eq!(told("2010\n", "1990\n"), "line 3: the epochs must be years that increase");
        assert_eq!(
            told("1 1 2 2 1", "1 500 2 2 1"),
            "line 2: the degrees must be from 1 up to at most 400"
        );
        assert_eq!(told(" 1 -1 5000 4000\n", ""), "2 rows of coefficients where 3 are wanted");
        assert_eq!(
            read_shc(b"# nothing").unwrap_err().to_string(),
            "the file ends before the header of five or seven numbers"
        );
    }
}
