//! Reads the coefficients of the model.

use std::io::Read;

use flate2::read::GzDecoder;

use crate::{
    ReadError,
    text::{number, whole},
};

/// The published text of the coefficients, version 1.7, compressed.
const EMBEDDED: &[u8] = include_bytes!("../../data/amps_v17.txt.gz");

/// Functions of drivers and tilt that the model is linear in.
pub(crate) const TERMS: usize = 19;

/// Their names in the file's header. The nine without tilt, the same nine times the tilt, F10.7.
const NAMES: [&str; TERMS] = [
    "const",
    "sinca",
    "cosca",
    "epsilon",
    "epsilon_sinca",
    "epsilon_cosca",
    "tau",
    "tau_sinca",
    "tau_cosca",
    "tilt",
    "tilt_sinca",
    "tilt_cosca",
    "tilt_epsilon",
    "tilt_epsilon_sinca",
    "tilt_epsilon_cosca",
    "tilt_tau",
    "tilt_tau_sinca",
    "tilt_tau_cosca",
    "f107",
];

/// The largest order that a file may have, and the largest degree.
pub(crate) const MOST_ORDER: usize = 3;
const MOST_DEGREE: usize = 120;

/// One spherical harmonic of the toroidal or the poloidal field, nT.
#[derive(Debug, Clone)]
pub(crate) struct Harmonic {
    pub(crate) degree: usize,
    pub(crate) order: usize,
    /// Along the cosine of `order` times magnetic local time, by term.
    pub(crate) cosine: [f64; TERMS],
    /// Along the sine.
    pub(crate) sine: [f64; TERMS],
}

/// All harmonics, by degree and order as in the file.
#[derive(Debug, Clone)]
pub(crate) struct Coefficients {
    pub(crate) toroidal: Vec<Harmonic>,
    pub(crate) poloidal: Vec<Harmonic>,
}

impl Coefficients {
    /// Those that the library carries.
    pub(crate) fn embedded() -> Result<Self, ReadError> {
        let mut text = String::new();
        GzDecoder::new(EMBEDDED)
            .read_to_string(&mut text)
            .map_err(|error| ReadError::Whole(error.to_string()))?;
        Self::read(&text)
    }

    /// Reads the published form: comment lines, of which the last names the columns, then a line for
    /// each degree and order with `NaN` where there is no such harmonic.
    pub(crate) fn read(text: &str) -> Result<Self, ReadError> {
        let header = text
            .lines()
            .map(str::trim)
            .filter_map(|line| line.strip_prefix('#'))
            .next_back()
            .ok_or_else(|| ReadError::Whole("no comment line names the columns".into()))?;
        let names: Vec<&str> = header.split_whitespace().collect();
        let column = |name: &str| {
            names
                .iter()
                .position(|&known| known == name)
                .ok_or_else(|| ReadError::Whole(format!("there is no column `{name}`")))
        };
        let columns = |kind: &str| {
            NAMES
                .iter()
                .map(|name| column(&format!("{kind}_{name}")))
                .collect::<Result<Vec<_>, _>>()
        };
        let kinds =
            [[columns("tor_c")?, columns("tor_s")?], [columns("pol_c")?, columns("pol_s")?]];
        let (n, m) = (column("n")?, column("m")?);
        let mut both = [Vec::new(), Vec::new()];
        for (line, text) in text.lines().enumerate().map(|(index, text)| (index + 1, text.trim())) {
            if text.is_empty() || text.starts_with('#') {
                continue;
            }
            let fields: Vec<&str> = text.split_whitespace().collect();
            let degree: usize = whole(line, fields.get(n).copied(), "a degree")?;
            let order: usize = whole(line, fields.get(m).copied(), "an order")?;
            if !(1..=MOST_DEGREE).contains(&degree) || order > degree.min(MOST_ORDER) {
                return Err(ReadError::line(
                    line,
                    format!(
                        "degree {degree}, order {order} is not a harmonic of this model (degrees 1 \
                         to {MOST_DEGREE}, orders to {MOST_ORDER})"
                    ),
                ));
            }
            let values = |columns: &[usize]| -> Result<[f64; TERMS], ReadError> {
                let mut out = [0.0; TERMS];
                for (out, &column) in out.iter_mut().zip(columns) {
                    let field = fields.get(column).copied();
                    *out = match field {
                        Some("NaN") => f64::NAN,
                        _ => number(line, field, "a coefficient")?,
                    };
                }
                Ok(out)
            };
            for (kind, into) in kinds.iter().zip(&mut both) {
                let (cosine, sine) = (values(&kind[0])?, values(&kind[1])?);
                let none = |values: &[f64; TERMS]| values.iter().all(|value| value.is_nan());
                if none(&cosine) && none(&sine) {
                    continue;
                }
                let sine = if order == 0 { [0.0; TERMS] } else { sine };
                if cosine.iter().chain(&sine).any(|value| value.is_nan()) {
                    return Err(ReadError::line(line, "a coefficient is missing"));
                }
                into.push(Harmonic { degree, order, cosine, sine });
            }
        }
        let [toroidal, poloidal] = both;
        if poloidal.is_empty() {
            return Err(ReadError::Whole("there is no poloidal harmonic".into()));
        }
        Ok(Self { toroidal, poloidal })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_embedded_file_is_whole() {
        let all = Coefficients::embedded().unwrap();
        let degrees = |harmonics: &[Harmonic]| {
            (harmonics.len(), harmonics.iter().map(|harmonic| harmonic.degree).max().unwrap())
        };
        // Orders 0 to 3: four for each degree but the first two.
        assert_eq!(degrees(&all.toroidal), (4 * 65 - 3, 65));
        assert_eq!(degrees(&all.poloidal), (4 * 45 - 3, 45));
        let first = &all.poloidal[1];
        assert_eq!((first.degree, first.order), (1, 1));
        assert_eq!((first.cosine[0], first.sine[0]), (-0.290_699_5, 0.276_847_2));
    }

    #[test]
    fn faults_have_lines() {
        let header: String = ["tor_c", "tor_s", "pol_c", "pol_s"]
            .iter()
            .flat_map(|kind| NAMES.iter().map(move |name| format!(" {kind}_{name}")))
            .collect();
        let line = |start: &str, value: &str| {
            format!("# n m{header}\n{start}{}", format!(" {value}").repeat(4 * TERMS))
        };
        assert!(Coefficients::read(&line("1 0", "0.5")).is_ok());
        for (text, message) in [
            (line("1 0", "x"), "line 2: `x` is not a coefficient"),
            (line("4 4", "1"), "line 2: degree 4, order 4 is not"),
            (line("1 2", "1"), "line 2: degree 1, order 2 is not"),
            (line("1 0", "NaN"), "there is no poloidal harmonic"),
            ("1 0 1\n".into(), "no comment line names the columns"),
            ("# n m\n".into(), "there is no column `tor_c_const`"),
        ] {
            let error = Coefficients::read(&text).unwrap_err().to_string();
            assert!(error.starts_with(message), "{error}");
        }
    }
}
