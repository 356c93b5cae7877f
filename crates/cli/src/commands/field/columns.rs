//! The columns of the points and of the result.

use std::io::Write;

use csv::{ByteRecord, Writer};
use dipward_plugin::{Clock, FieldVector, Site};
use jiff::Timestamp;

/// The columns that are added.
pub(super) const ADDED: [&str; 7] =
    ["x_nt", "y_nt", "z_nt", "h_nt", "f_nt", "inclination_deg", "declination_deg"];

/// A point of the file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    pub(super) site: Site,
    pub(super) decimal_year: f64,
    /// Where it stands, for messages.
    pub(super) line: u64,
}

/// Where the wanted columns stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Columns {
    latitude: usize,
    longitude: usize,
    height: Option<usize>,
    epoch: Epoch,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Epoch {
    Time(usize),
    DecimalYear(usize),
}

impl Columns {
    /// Finds the columns by their titles; their order and further columns do not matter.
    pub(super) fn of(headers: &ByteRecord) -> Result<Self, String> {
        let find = |title: &str| -> Result<Option<usize>, String> {
            let mut places = headers
                .iter()
                .enumerate()
                .filter(|(_, found)| *found == title.as_bytes())
                .map(|(place, _)| place);
            match (places.next(), places.next()) {
                (_, Some(_)) => Err(format!("the column {title} is there twice")),
                (first, None) => Ok(first),
            }
        };
        let need = |title: &str| {
            find(title)?.ok_or_else(|| format!("the column {title} is missing; {}", found(headers)))
        };
        for title in ADDED {
            if find(title)?.is_some() {
                return Err(format!("the column {title} is there already"));
            }
        }
        let epoch = match (find("time")?, find("decimal_year")?) {
            (Some(place), None) => Epoch::Time(place),
            (None, Some(place)) => Epoch::DecimalYear(place),
            (Some(_), Some(_)) => return Err("give either time or decimal_year, not both".into()),
            (None, None) => {
                return Err(format!(
                    "a column time or decimal_year is missing; {}",
                    found(headers)
                ));
            }
        };
        Ok(Self {
            latitude: need("latitude_deg")?,
            longitude: need("longitude_deg")?,
            height: find("height_km")?,
            epoch,
        })
    }

    /// Reads the point of a row.
    pub(super) fn point(&self, record: &ByteRecord, line: u64) -> Result<Point, String> {
        let latitude_deg = number(record, self.latitude, "latitude_deg")?;
        let longitude_deg = number(record, self.longitude, "longitude_deg")?;
        if latitude_deg.abs() > 90.0 {
            return Err(format!("latitude_deg {latitude_deg} lies beyond a pole"));
        }
        if !(-180.0..=360.0).contains(&longitude_deg) {
            return Err(format!("longitude_deg {longitude_deg} is not within -180 to 360"));
        }
        let height_km = match self.height {
            Some(place) if !text(record, place)?.is_empty() => number(record, place, "height_km")?,
            _ => 0.0,
        };
        let decimal_year = match self.epoch {
            Epoch::DecimalYear(place) => number(record, place, "decimal_year")?,
            Epoch::Time(place) => {
                let shown = text(record, place)?;
                let instant: Timestamp = shown.parse().map_err(|_| {
                    format!("time `{shown}` is no time in UTC; write it as 2027-01-15T00:00Z")
                })?;
                Clock::decimal_year_of(instant)
            }
        };
        Ok(Point { site: Site { latitude_deg, longitude_deg, height_km }, decimal_year, line })
    }
}

fn text(record: &ByteRecord, place: usize) -> Result<&str, String> {
    let bytes = record.get(place).unwrap_or_default();
    std::str::from_utf8(bytes).map(str::trim).map_err(|_| "the row is not UTF-8".to_owned())
}

fn number(record: &ByteRecord, place: usize, title: &str) -> Result<f64, String> {
    let shown = text(record, place)?;
    match shown.parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ if shown.is_empty() => Err(format!("{title} is empty")),
        _ => Err(format!("{title} `{shown}` is no finite number")),
    }
}

fn found(headers: &ByteRecord) -> String {
    const SHOWN: usize = 12;
    let titles: Vec<_> = headers.iter().take(SHOWN).map(String::from_utf8_lossy).collect();
    if titles.is_empty() {
        return "the file has no heading".to_owned();
    }
    let more = if headers.len() > SHOWN { ", ..." } else { "" };
    format!("the columns are {}{more}", titles.join(", "))
}

/// Writes a row: what it had, then the field.
///
/// A tenth of a picotesla and a micro-degree are below what any model holds and above what a double
/// loses, so that the text is the same on every machine.
pub(super) fn write_row(
    writer: &mut Writer<impl Write>,
    record: &ByteRecord,
    vector: &FieldVector,
) -> csv::Result<()> {
    for field in record {
        writer.write_field(field)?;
    }
    let parts = [
        (vector.north_nt, 4),
        (vector.east_nt, 4),
        (vector.down_nt, 4),
        (vector.horizontal_nt(), 4),
        (vector.total_nt(), 4),
        (vector.inclination_deg(), 6),
        (vector.declination_deg(), 6),
    ];
    for (value, digits) in parts {
        writer.write_field(format!("{value:.digits$}"))?;
    }
    writer.write_record(None::<&[u8]>)
}

#[cfg(test)]
mod tests {
    use proptest::{collection::vec, prelude::*};

    use super::*;

    fn columns(titles: &[&str]) -> Result<Columns, String> {
        Columns::of(&ByteRecord::from(titles))
    }

    #[test]
    fn columns_are_found_by_title() {
        let found = columns(&["note", "decimal_year", "longitude_deg", "latitude_deg"]).unwrap();
        let row = ByteRecord::from(&["x", " 2027.5", "200", "-64.5"][..]);
        let point = found.point(&row, 9).unwrap();
        assert_eq!(point.site, Site { latitude_deg: -64.5, longitude_deg: 200.0, height_km: 0.0 });
        assert_eq!((point.decimal_year, point.line), (2027.5, 9));
    }

    #[test]
    fn headings_that_do_not_serve_are_told() {
        for (titles, told) in [
            (&["latitude_deg", "longitude_deg"][..], "time or decimal_year is missing"),
            (
                &["lat", "longitude_deg", "time"],
                "latitude_deg is missing; the columns are lat, lon",
            ),
            (&["latitude_deg", "longitude_deg", "time", "decimal_year"], "not both"),
            (&["latitude_deg", "latitude_deg", "longitude_deg", "time"], "there twice"),
            (&["latitude_deg", "longitude_deg", "time", "x_nt"], "x_nt is there already"),
        ] {
            let message = columns(titles).unwrap_err();
            assert!(message.contains(told), "{message}");
        }
    }

    #[test]
    fn rows_that_do_not_serve_are_told() {
        let columns = columns(&["latitude_deg", "longitude_deg", "height_km", "time"]).unwrap();
        for (row, told) in [
            (["91", "0", "0", "2027-01-15T00:00Z"], "beyond a pole"),
            (["NaN", "0", "0", "2027-01-15T00:00Z"], "`NaN` is no finite number"),
            (["0", "361", "0", "2027-01-15T00:00Z"], "not within"),
            (["", "0", "0", "2027-01-15T00:00Z"], "latitude_deg is empty"),
            (["0", "0", "up", "2027-01-15T00:00Z"], "height_km `up`"),
            (["0", "0", "", "2027-01-15"], "no time in UTC"),
        ] {
            let message = columns.point(&ByteRecord::from(&row[..]), 2).unwrap_err();
            assert!(message.contains(told), "{message}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        #[test]
        fn no_row_panics(fields in vec(vec(any::<u8>(), 0..8), 0..6), year in any::<f64>()) {
            for titles in [
                ["latitude_deg", "longitude_deg", "height_km", "time"],
                ["latitude_deg", "longitude_deg", "height_km", "decimal_year"],
            ] {
                let columns = columns(&titles).unwrap();
                let _ = columns.point(&ByteRecord::from(fields.clone()), 2);
                let row = ["0", "0", "0", &year.to_string()].map(str::to_owned).to_vec();
                if let Ok(point) = columns.point(&ByteRecord::from(row), 2) {
                    prop_assert!(point.decimal_year.is_finite());
                }
            }
        }
    }
}
