//! Readings of the field, and the file that holds them.

use std::collections::BTreeMap;

use dipward_geodesy::{Position, position};
use dipward_plugin::FieldVector;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::ReadError;

/// A quantity that an instrument gives of the field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Element {
    /// D, east of true north, degrees.
    Declination,
    /// I, below the horizontal, degrees.
    Inclination,
    /// H, nT.
    Horizontal,
    /// F, nT.
    Total,
    /// X, toward true north, nT.
    North,
    /// Y, toward east, nT.
    East,
    /// Z, down, nT.
    Down,
}

impl Element {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Declination,
        Self::Inclination,
        Self::Horizontal,
        Self::Total,
        Self::North,
        Self::East,
        Self::Down,
    ];

    /// The columns of its value and of its sigma in a file of readings.
    #[must_use]
    pub const fn columns(self) -> [&'static str; 2] {
        match self {
            Self::Declination => ["declination_deg", "declination_sigma_deg"],
            Self::Inclination => ["inclination_deg", "inclination_sigma_deg"],
            Self::Horizontal => ["h_nt", "h_sigma_nt"],
            Self::Total => ["f_nt", "f_sigma_nt"],
            Self::North => ["x_nt", "x_sigma_nt"],
            Self::East => ["y_nt", "y_sigma_nt"],
            Self::Down => ["z_nt", "z_sigma_nt"],
        }
    }

    /// Its value in a field.
    #[must_use]
    pub fn of(self, field: &FieldVector) -> f64 {
        match self {
            Self::Declination => field.declination_deg(),
            Self::Inclination => field.inclination_deg(),
            Self::Horizontal => field.horizontal_nt(),
            Self::Total => field.total_nt(),
            Self::North => field.north_nt,
            Self::East => field.east_nt,
            Self::Down => field.down_nt,
        }
    }

    /// Its derivatives by X, Y and Z.
    pub(super) fn slopes(self, field: &FieldVector) -> [f64; 3] {
        let FieldVector { north_nt: x, east_nt: y, down_nt: z } = *field;
        // Where the field is vertical to the last digit a bearing has no derivative; a picotesla
        // keeps the numbers finite.
        let h = field.horizontal_nt().max(1e-3);
        let f2 = field.total_nt().max(1e-3).powi(2);
        match self {
            Self::Declination => [-y / (h * h), x / (h * h), 0.0].map(f64::to_degrees),
            Self::Inclination => {
                [-z * x / (h * f2), -z * y / (h * f2), h / f2].map(f64::to_degrees)
            }
            Self::Horizontal => [x / h, y / h, 0.0],
            Self::Total => [x, y, z].map(|part| part / f2.sqrt()),
            Self::North => [1.0, 0.0, 0.0],
            Self::East => [0.0, 1.0, 0.0],
            Self::Down => [0.0, 0.0, 1.0],
        }
    }

    /// `measured - expected`; the short way round for a bearing.
    pub(super) fn difference(self, measured: f64, expected: f64) -> f64 {
        let plain = measured - expected;
        if self == Self::Declination { (plain + 180.0).rem_euclid(360.0) - 180.0 } else { plain }
    }
}

/// A measured value and its one sigma, in the element's unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// The value.
    pub value: f64,
    /// One sigma, above zero.
    pub sigma: f64,
}

/// One reading: what was measured at a place and an instant.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// When, UTC.
    pub time: Timestamp,
    /// Where.
    pub position: Position,
    /// One sigma of each coordinate of the place.
    pub position_sigma_km: f64,
    /// Height above the ellipsoid.
    pub height_km: f64,
    /// What was measured; the elements may repeat one another.
    pub elements: BTreeMap<Element, Measured>,
    /// What a base station read at the same time, less its quiet mean: X, Y, Z.
    pub base_nt: Option<[f64; 3]>,
    /// Kp at the time, where it is known.
    pub kp: Option<f64>,
    /// Heading by the ship's compass, where that compass gave the declination: true bearing less
    /// compass bearing, the ship's own field not yet taken out.
    pub heading_deg: Option<f64>,
    /// Instrument, in the observer's words.
    pub instrument: Option<String>,
    /// Calibration, in the observer's words.
    pub calibration: Option<String>,
}

impl Reading {
    /// The horizontal vector that was measured, toward north and east: by X and Y, or by D with H, or
    /// by D with I and a vertical field that is known well enough elsewhere. `None` where nothing
    /// gives it.
    #[must_use]
    pub fn horizontal_nt(&self, vertical_nt: f64) -> Option<[f64; 2]> {
        let value = |element| self.elements.get(&element).map(|measured| measured.value);
        if let (Some(x), Some(y)) = (value(Element::North), value(Element::East)) {
            return Some([x, y]);
        }
        let (sine, cosine) = value(Element::Declination)?.to_radians().sin_cos();
        let size = value(Element::Horizontal).or_else(|| {
            // The tangent of a dip of 90 degrees is finite in `f64`, and H comes out as 0.
            let dip = value(Element::Inclination)?;
            Some((vertical_nt / dip.to_radians().tan()).abs())
        })?;
        Some([size * cosine, size * sine])
    }

    /// One sigma of the components of [`Self::horizontal_nt`], the larger one.
    #[must_use]
    pub fn horizontal_sigma_nt(&self, vertical_nt: f64) -> Option<f64> {
        let sigma = |element| self.elements.get(&element).map(|measured| measured.sigma);
        if let (Some(x), Some(y)) = (sigma(Element::North), sigma(Element::East)) {
            return Some(x.max(y));
        }
        let [x, y] = self.horizontal_nt(vertical_nt)?;
        let across = x.hypot(y) * sigma(Element::Declination)?.to_radians();
        let along = sigma(Element::Horizontal).or_else(|| {
            sigma(Element::Inclination).map(|dip| vertical_nt.abs() * dip.to_radians())
        })?;
        Some(along.max(across))
    }
}

/// Reads a file of readings (CSV with a line of titles).
///
/// Columns, in any order: `time` (UTC, RFC 3339), `latitude_deg`, `longitude_deg`; if wanted
/// `height_km`, `position_sigma_km`, `kp`, `heading_deg`, `instrument`, `calibration`, all of `base_x_nt`,
/// `base_y_nt`, `base_z_nt`; and at least one of [`Element::columns`], each with the column of its
/// sigma. A cell may be empty. Other columns are passed over.
///
/// # Errors
///
/// [`ReadError`] with the line: a column or a sigma that is missing, a number that is none or out of
/// range, a reading without any element.
pub fn read_readings(bytes: &[u8]) -> Result<Vec<Reading>, ReadError> {
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).comment(Some(b'#')).from_reader(bytes);
    let titles = reader.headers().map_err(|error| ReadError::of_csv(&error))?.clone();
    for (at, title) in titles.iter().enumerate() {
        if titles.iter().take(at).any(|before| before == title) {
            return Err(ReadError::Whole(format!("the column {title} is there twice")));
        }
    }
    let column = |title: &str| titles.iter().position(|found| found == title);
    for title in ["time", "latitude_deg", "longitude_deg"] {
        if column(title).is_none() {
            return Err(ReadError::Whole(format!("the column {title} is missing")));
        }
    }
    for [value, sigma] in Element::ALL.map(Element::columns) {
        if column(value).is_some() != column(sigma).is_some() {
            return Err(ReadError::Whole(format!("{value} and {sigma} go together")));
        }
    }
    let mut readings = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| ReadError::of_csv(&error))?;
        let line = record.position().map_or(0, csv::Position::line) as usize;
        let text = |title: &str| {
            column(title).and_then(|at| record.get(at)).filter(|text| !text.is_empty())
        };
        let row = Row { line, text: &text };
        readings.push(row.reading()?);
    }
    if readings.is_empty() {
        return Err(ReadError::Whole("there is no reading in the file".into()));
    }
    Ok(readings)
}

struct Row<'a> {
    line: usize,
    text: &'a dyn Fn(&str) -> Option<&'a str>,
}

impl Row<'_> {
    fn fault(&self, message: String) -> ReadError {
        ReadError::line(self.line, message)
    }

    fn number(&self, title: &str, [least, most]: [f64; 2]) -> Result<Option<f64>, ReadError> {
        let Some(text) = (self.text)(title) else { return Ok(None) };
        match text.parse::<f64>() {
            Ok(number) if (least..=most).contains(&number) => Ok(Some(number)),
            Ok(_) => Err(self.fault(format!("{title} `{text}` is not within {least} to {most}"))),
            Err(_) => Err(self.fault(format!("{title} `{text}` is no number"))),
        }
    }

    fn needed(&self, title: &str, range: [f64; 2]) -> Result<f64, ReadError> {
        self.number(title, range)?.ok_or_else(|| self.fault(format!("{title} is empty")))
    }

    fn reading(&self) -> Result<Reading, ReadError> {
        let time = (self.text)("time").unwrap_or_default();
        let time: Timestamp = time.parse().map_err(|_| {
            self.fault(format!("time `{time}` is no time in UTC; write it as 2027-01-15T00:00Z"))
        })?;
        let latitude_deg = self.needed("latitude_deg", [-90.0, 90.0])?;
        let longitude_deg = self.needed("longitude_deg", [-180.0, 360.0])?;
        let mut elements = BTreeMap::new();
        for element in Element::ALL {
            let [value_title, sigma_title] = element.columns();
            let range = match element {
                Element::Declination => [-360.0, 360.0],
                Element::Inclination => [-90.0, 90.0],
                Element::Horizontal | Element::Total => [0.0, 200_000.0],
                Element::North | Element::East | Element::Down => [-200_000.0, 200_000.0],
            };
            let Some(value) = self.number(value_title, range)? else { continue };
            let sigma = self.needed(sigma_title, [1e-6, 200_000.0])?;
            elements.insert(element, Measured { value, sigma });
        }
        if elements.is_empty() {
            return Err(self.fault("nothing of the field is given".into()));
        }
        let base = ["base_x_nt", "base_y_nt", "base_z_nt"];
        let deltas =
            [base[0], base[1], base[2]].map(|title| self.number(title, [-20_000.0, 20_000.0]));
        let [x, y, z] = deltas;
        let base_nt = match (x?, y?, z?) {
            (None, None, None) => None,
            (Some(x), Some(y), z) => Some([x, y, z.unwrap_or(0.0)]),
            _ => return Err(self.fault("base_x_nt and base_y_nt go together".into())),
        };
        let words = |title: &str| (self.text)(title).map(str::to_owned);
        Ok(Reading {
            time,
            position: position(latitude_deg, longitude_deg),
            position_sigma_km: self.number("position_sigma_km", [0.0, 1000.0])?.unwrap_or(0.0),
            height_km: self.number("height_km", [-10.0, 1000.0])?.unwrap_or(0.0),
            elements,
            base_nt,
            kp: self.number("kp", [0.0, 9.0])?,
            heading_deg: self.number("heading_deg", [0.0, 360.0])?,
            instrument: words("instrument"),
            calibration: words("calibration"),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slopes_are_those_of_the_elements() {
        let field = FieldVector { north_nt: -310.0, east_nt: 120.0, down_nt: 56_000.0 };
        for element in Element::ALL {
            let slopes = element.slopes(&field);
            for (axis, slope) in slopes.into_iter().enumerate() {
                let moved = |by: f64| {
                    let mut parts = [field.north_nt, field.east_nt, field.down_nt];
                    parts[axis] += by;
                    let [north_nt, east_nt, down_nt] = parts;
                    element.of(&FieldVector { north_nt, east_nt, down_nt })
                };
                let numeric = (moved(0.01) - moved(-0.01)) / 0.02;
                assert!((numeric - slope).abs() < 1e-5, "{element:?} {axis}: {numeric} {slope}");
            }
        }
        assert!((Element::Declination.difference(179.0, -179.0) + 2.0).abs() < 1e-12);
    }

    #[test]
    fn a_file_is_read_and_its_faults_have_lines() {
        let titles = "time,latitude_deg,longitude_deg,declination_deg,declination_sigma_deg,note";
        let read = |rows: &str| read_readings(format!("{titles}\n{rows}").as_bytes());
        let good = read("2027-01-15T00:00Z,-64.1,135.9,12.5,1,\n").unwrap();
        assert_eq!(good[0].elements[&Element::Declination], Measured { value: 12.5, sigma: 1.0 });
        for (rows, told) in [
            ("", "no reading"),
            ("2027-01-15T00:00Z,-94.1,135.9,12.5,1,", "line 2: latitude_deg"),
            ("2027-01-15T00:00Z,-64.1,135.9,12.5,,", "declination_sigma_deg is empty"),
            ("2027-01-15T00:00Z,-64.1,135.9,12.5,0,", "declination_sigma_deg"),
            ("2027-01-15T00:00Z,-64.1,135.9,nan,1,", "declination_deg"),
            ("2027-01-15T00:00Z,-64.1,135.9,,,", "nothing of the field"),
            ("yesterday,-64.1,135.9,1,1,", "no time in UTC"),
            ("2027-01-15T00:00Z,-64.1", "line 2"),
        ] {
            let error = read(rows).unwrap_err().to_string();
            assert!(error.contains(told), "{error}");
        }
        let alone = read_readings(b"time,latitude_deg,longitude_deg,h_nt\n").unwrap_err();
        assert!(alone.to_string().contains("h_sigma_nt"));
    }
}
