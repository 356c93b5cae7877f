//! What a ship's own iron does to her compass.
//!
//! ```text
//!   deviation(h) = A + B sin h + C cos h + D sin 2h + E cos 2h        h: heading by compass
//! ```
//!
//! A, D and E come from soft iron, which the field itself magnetises: they stay what they are while
//! the field weakens. B and C come from permanent magnets and from soft iron that the vertical field
//! magnetises: they pull with a force of their own, and turn the needle the more the weaker the
//! horizontal field H is, as 1/H. On the way to a dip pole they grow without limit, and at some H the
//! compass points at the ship.
//!
//! Source: Admiralty Manual for the Deviations of the Compass (Evans and Smith), the approximate
//! coefficients; from memory.

use dipward_plugin::Error;
use serde::{Deserialize, Serialize};

use crate::{ReadError, fix::Cholesky};

/// Beyond this the formula, which takes a deviation for small, means nothing.
pub const GREATEST_DEVIATION_DEG: f64 = 20.0;

/// H below which no compass is to be trusted, whatever the ship: the blackout zone of the World
/// Magnetic Model (WMM2025 technical report, doi 10.25923/prbc-s316).
pub const BLACKOUT_NT: f64 = 2000.0;

/// Up to this H a compass may be poor: the caution zone about the blackout zone, of the same source.
pub const CAUTION_NT: f64 = 6000.0;

const COEFFICIENTS: usize = 5;

/// One heading of a swing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SwingReading {
    /// Heading by the compass.
    pub heading_deg: f64,
    /// Magnetic less compass bearing, east positive.
    pub deviation_deg: f64,
}

/// The coefficients of a ship by a swing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShipDeviation {
    /// A to E, degrees.
    pub coefficients_deg: [f64; COEFFICIENTS],
    /// One sigma of each of them; `None` by five headings, which leave nothing to tell it from.
    pub sigma_deg: Option<[f64; COEFFICIENTS]>,
    /// H where she was swung.
    pub horizontal_nt: f64,
}

impl ShipDeviation {
    /// Fits the coefficients to a swing by least squares.
    ///
    /// # Arguments
    ///
    /// * `swing`: five headings or more, well round the compass.
    /// * `horizontal_nt`: H at the place of the swing, from a main field.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for fewer than five headings, headings that do not tell the coefficients
    /// apart, numbers that are none, or an H that is not above zero.
    pub fn of_swing(swing: &[SwingReading], horizontal_nt: f64) -> Result<Self, Error> {
        let outside = |message: &str| Error::Outside(message.into());
        if !(horizontal_nt.is_finite() && horizontal_nt > 0.0) {
            return Err(outside("the horizontal field of a swing must be above zero"));
        }
        if swing.iter().any(|one| !(one.heading_deg.is_finite() && one.deviation_deg.is_finite())) {
            return Err(outside("a heading or a deviation of the swing is no number"));
        }
        let mut matrix = vec![0.0; COEFFICIENTS * COEFFICIENTS];
        let mut right = [0.0; COEFFICIENTS];
        for one in swing {
            let terms = terms(one.heading_deg);
            for (row, a) in terms.into_iter().enumerate() {
                right[row] += a * one.deviation_deg;
                for (column, b) in terms.into_iter().enumerate() {
                    matrix[row * COEFFICIENTS + column] += a * b;
                }
            }
        }
        // Rounding may let a singular matrix pass; a swing of any worth is far from singular.
        let factor = Cholesky::of(COEFFICIENTS, matrix).map(|factor| factor.inverse());
        let inverse = factor
            .filter(|inverse| (0..COEFFICIENTS).all(|at| inverse[at * COEFFICIENTS + at] < 100.0));
        let inverse = inverse.ok_or_else(|| {
            outside("a swing takes at least five headings, well round the compass")
        })?;
        let mut coefficients_deg = [0.0; COEFFICIENTS];
        for (into, row) in coefficients_deg.iter_mut().zip(inverse.chunks(COEFFICIENTS)) {
            *into = row.iter().zip(right).map(|(a, b)| a * b).sum();
        }
        let squares: f64 = swing
            .iter()
            .map(|one| {
                let own =
                    terms(one.heading_deg).into_iter().zip(coefficients_deg).map(|(a, b)| a * b);
                (one.deviation_deg - own.sum::<f64>()).powi(2)
            })
            .sum();
        let spare = swing.len().saturating_sub(COEFFICIENTS);
        let sigma_deg = (spare > 0).then(|| {
            let variance = squares / spare as f64;
            std::array::from_fn(|at| (variance * inverse[at * COEFFICIENTS + at]).sqrt())
        });
        Ok(Self { coefficients_deg, sigma_deg, horizontal_nt })
    }

    /// The H below which the coefficients mean nothing: B and C would make more than
    /// [`GREATEST_DEVIATION_DEG`], or H is below [`BLACKOUT_NT`].
    #[must_use]
    pub fn least_horizontal_nt(&self) -> f64 {
        let [_, b, c, ..] = self.coefficients_deg;
        (self.horizontal_nt * b.hypot(c) / GREATEST_DEVIATION_DEG).max(BLACKOUT_NT)
    }

    /// What is wrong with coefficients that were not fitted here but read.
    ///
    /// # Errors
    ///
    /// [`Error::Outside`] for numbers that are none, a sigma below zero or an H that is not above zero.
    pub fn check(&self) -> Result<(), Error> {
        let sigma = self.sigma_deg.unwrap_or_default();
        let finite = self.coefficients_deg.iter().chain(&sigma).all(|part| part.is_finite());
        let right = finite && sigma.iter().all(|part| *part >= 0.0);
        if right && self.horizontal_nt.is_finite() && self.horizontal_nt > 0.0 {
            Ok(())
        } else {
            Err(Error::Outside("the deviation's coefficients are no swing's".into()))
        }
    }

    /// One sigma of the deviation on a heading, degrees, by those of the coefficients taken as
    /// independent, which they are after a swing in even steps; 0 where the swing left none.
    #[must_use]
    pub fn sigma_at(&self, heading_deg: f64, horizontal_nt: f64) -> f64 {
        let growth = self.horizontal_nt / horizontal_nt;
        let [a, b, c, d, e] = self.sigma_deg.unwrap_or_default();
        let scaled = [a, growth * b, growth * c, d, e];
        let squares = terms(heading_deg).into_iter().zip(scaled).map(|(a, b)| (a * b).powi(2));
        squares.sum::<f64>().sqrt()
    }

    /// The deviation on a heading by compass where the horizontal field is `horizontal_nt`, degrees;
    /// `None` where it means nothing, which is so everywhere near a dip pole.
    ///
    /// B and C are taken to go with 1/H, their part from the vertical field too, which hardly changes
    /// over the last thousand km.
    #[must_use]
    pub fn at(&self, heading_deg: f64, horizontal_nt: f64) -> Option<f64> {
        let meaningful = heading_deg.is_finite()
            && horizontal_nt.is_finite()
            && horizontal_nt > 0.0
            && horizontal_nt >= self.least_horizontal_nt();
        let growth = self.horizontal_nt / horizontal_nt;
        let [a, b, c, d, e] = self.coefficients_deg;
        let scaled = [a, growth * b, growth * c, d, e];
        meaningful.then(|| terms(heading_deg).iter().zip(scaled).map(|(a, b)| a * b).sum())
    }
}

/// Reads a swing: a CSV file with a line of titles and the columns `heading_deg` (by compass, 0 to 360)
/// and `deviation_deg` (magnetic less compass bearing, east positive). Other columns are passed over.
///
/// # Errors
///
/// [`ReadError`] with the line: a column that is missing, a number that is none or out of range.
pub fn read_swing(bytes: &[u8]) -> Result<Vec<SwingReading>, ReadError> {
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(bytes);
    let titles = reader.headers().map_err(|error| ReadError::of_csv(&error))?.clone();
    let column = |title: &str| {
        let at = titles.iter().position(|found| found == title);
        at.ok_or_else(|| ReadError::Whole(format!("the column {title} is missing")))
    };
    let (heading_at, deviation_at) = (column("heading_deg")?, column("deviation_deg")?);
    let mut swing = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| ReadError::of_csv(&error))?;
        let line = record.position().map_or(0, csv::Position::line) as usize;
        let number = |title: &str, at: usize, range: std::ops::RangeInclusive<f64>| {
            let text = record.get(at).unwrap_or_default();
            text.parse().ok().filter(|number| range.contains(number)).ok_or_else(|| {
                let (least, most) = (range.start(), range.end());
                let message = format!("{title} `{text}` is no number within {least} to {most}");
                ReadError::line(line, message)
            })
        };
        swing.push(SwingReading {
            heading_deg: number("heading_deg", heading_at, 0.0..=360.0)?,
            deviation_deg: number("deviation_deg", deviation_at, -180.0..=180.0)?,
        });
    }
    Ok(swing)
}

fn terms(heading_deg: f64) -> [f64; COEFFICIENTS] {
    let (sine, cosine) = heading_deg.to_radians().sin_cos();
    let (sine2, cosine2) = (2.0 * heading_deg).to_radians().sin_cos();
    [1.0, sine, cosine, sine2, cosine2]
}

#[cfg(test)]
mod tests {
    use super::*;

    const TRUE: [f64; 5] = [0.5, -3.0, 2.0, 1.5, -0.3];

    fn swing(headings: u32, wrong_deg: f64) -> Vec<SwingReading> {
        (0..headings)
            .map(|at| {
                let heading_deg = 360.0 * f64::from(at) / f64::from(headings);
                let own: f64 = terms(heading_deg).iter().zip(TRUE).map(|(a, b)| a * b).sum();
                let wrong = if at % 2 == 0 { wrong_deg } else { -wrong_deg };
                SwingReading { heading_deg, deviation_deg: own + wrong }
            })
            .collect()
    }

    #[test]
    fn a_swing_gives_the_coefficients_back() {
        let ship = ShipDeviation::of_swing(&swing(8, 0.0), 18_000.0).unwrap();
        for (own, planted) in ship.coefficients_deg.iter().zip(TRUE) {
            assert!((own - planted).abs() < 1e-12);
        }
        assert!((ship.at(90.0, 18_000.0).unwrap() - (0.5 - 3.0 + 0.3)).abs() < 1e-12);
        let noisy = ShipDeviation::of_swing(&swing(8, 0.4), 18_000.0).unwrap();
        assert!(noisy.sigma_deg.unwrap()[0] > 0.1);
        assert_eq!(ShipDeviation::of_swing(&swing(5, 0.0), 18_000.0).unwrap().sigma_deg, None);
    }

    #[test]
    fn b_and_c_grow_as_h_falls_until_they_mean_nothing() {
        let ship = ShipDeviation::of_swing(&swing(12, 0.0), 18_000.0).unwrap();
        let half = ship.at(90.0, 9000.0).unwrap();
        assert!((half - (0.5 - 6.0 + 0.3)).abs() < 1e-9);
        let least = ship.least_horizontal_nt();
        assert!((least - 18_000.0 * 13.0_f64.sqrt() / 20.0).abs() < 1e-6);
        assert!(ship.at(90.0, 1.001 * least).is_some());
        assert_eq!(ship.at(90.0, 0.999 * least), None);
        assert_eq!(ship.at(90.0, 0.0), None);
        assert_eq!(ship.at(f64::NAN, 18_000.0), None);
    }

    #[test]
    fn a_steady_ship_has_no_deviation_to_speak_of_but_no_compass_works_in_the_blackout_zone() {
        let ship = ShipDeviation {
            coefficients_deg: [0.1, 0.0, 0.0, 0.0, 0.0],
            sigma_deg: Some([0.3, 0.4, 0.0, 0.0, 0.0]),
            horizontal_nt: 18_000.0,
        };
        assert_eq!(ship.at(0.0, BLACKOUT_NT), Some(0.1));
        assert_eq!(ship.at(0.0, BLACKOUT_NT - 1.0), None);
        assert!((ship.sigma_at(90.0, 9000.0) - 0.3_f64.hypot(0.8)).abs() < 1e-12);
        assert!(ship.check().is_ok());
        assert!(ShipDeviation { horizontal_nt: f64::NAN, ..ship.clone() }.check().is_err());
        assert!(ShipDeviation { sigma_deg: Some([-1.0; 5]), ..ship }.check().is_err());
    }

    #[test]
    fn a_file_is_read_and_its_faults_have_lines() {
        let good = read_swing(b"deviation_deg,heading_deg,by\n-1.5,045,NN\n").unwrap();
        assert_eq!(good, [SwingReading { heading_deg: 45.0, deviation_deg: -1.5 }]);
        for (text, told) in [
            ("heading_deg\n1\n", "column deviation_deg"),
            ("heading_deg,deviation_deg\n361,0\n", "line 2: heading_deg"),
            ("heading_deg,deviation_deg\n0,1\n0,nan\n", "line 3: deviation_deg"),
            ("heading_deg,deviation_deg\n0\n", "line 2"),
        ] {
            let error = read_swing(text.as_bytes()).unwrap_err().to_string();
            assert!(error.contains(told), "{error}");
        }
    }

    #[test]
    fn a_poor_swing_is_refused() {
        let all = swing(8, 0.0);
        assert!(ShipDeviation::of_swing(&all[..4], 18_000.0).is_err());
        assert!(ShipDeviation::of_swing(&[all[0]; 9], 18_000.0).is_err());
        assert!(ShipDeviation::of_swing(&all, 0.0).is_err());
        let nan = SwingReading { heading_deg: 0.0, deviation_deg: f64::NAN };
        assert!(ShipDeviation::of_swing(&[nan; 6], 18_000.0).is_err());
    }
}
