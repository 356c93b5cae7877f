//! Tables of comma-separated values as services and spreadsheets write them: with a byte order mark, with
//! semicolons or tabs, with decimal commas, with N, S, E and W.

use csv::{Reader, ReaderBuilder, StringRecord, Trim};

/// What a column of latitudes may be called, whatever the case of its letters.
pub(super) const LATITUDE: [&str; 3] = ["latitude_deg", "latitude", "lat"];
/// The same of longitudes.
pub(super) const LONGITUDE: [&str; 4] = ["longitude_deg", "longitude", "lon", "long"];

/// A table whose first row names its columns.
#[derive(Debug)]
pub(super) struct CsvTable<'a> {
    reader: Reader<&'a [u8]>,
    headers: StringRecord,
    /// Whether numbers may have a decimal comma: not where commas part the columns.
    decimal_comma: bool,
}

impl<'a> CsvTable<'a> {
    /// Reads the first row, and finds what parts the columns: the sign by which there are a latitude and a
    /// longitude.
    ///
    /// # Errors
    ///
    /// What cannot be read.
    pub(super) fn open(bytes: &'a [u8]) -> Result<Self, String> {
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
        if let Some(message) = crate::format::known_otherwise(bytes, "a table of CSV") {
            return Err(message);
        }
        let mut tables = Vec::new();
        for delimiter in [b',', b';', b'\t'] {
            let mut reader =
                ReaderBuilder::new().trim(Trim::All).delimiter(delimiter).from_reader(bytes);
            let headers = reader.headers().map_err(unreadable)?.clone();
            let table = Self { reader, headers, decimal_comma: delimiter != b',' };
            if table.column(&LATITUDE).is_some() && table.column(&LONGITUDE).is_some() {
                return Ok(table);
            }
            tables.push(table);
        }
        // What it lacks is told of the plain way.
        tables.into_iter().next().ok_or_else(|| "has no columns".to_owned())
    }

    /// The place of a column by its names, the first of which goes before the others.
    pub(super) fn column(&self, names: &[&str]) -> Option<usize> {
        names
            .iter()
            .find_map(|name| self.headers.iter().position(|own| own.eq_ignore_ascii_case(name)))
    }

    /// The next row and its line.
    ///
    /// # Errors
    ///
    /// For a row of another number of columns, and for text that is not UTF-8.
    pub(super) fn next_row(&mut self) -> Option<Result<(u64, StringRecord), String>> {
        let record = self.reader.records().next()?;
        Some(
            record
                .map_err(unreadable)
                .map(|record| (record.position().map_or(0, csv::Position::line), record)),
        )
    }

    /// A number as the table writes it.
    pub(super) fn number(&self, text: &str) -> Option<f64> {
        let text = text.replace('\u{2212}', "-");
        let commas = text.matches(',').count();
        let text = match commas {
            1 if self.decimal_comma && !text.contains('.') => text.replace(',', "."),
            _ => text,
        };
        text.parse().ok()
    }

    /// Degrees: a number with a sign, or with the letter of its side.
    ///
    /// # Arguments
    ///
    /// `sides` are the letters of the positive and the negative side.
    pub(super) fn degrees(&self, text: &str, sides: [char; 2]) -> Option<f64> {
        let side = text.chars().next_back().map(|side| side.to_ascii_uppercase());
        let sign = if side == Some(sides[0]) {
            1.0
        } else if side == Some(sides[1]) {
            -1.0
        } else {
            return self.number(text);
        };
        let number = text.get(..text.len() - 1)?.trim_end().trim_end_matches('°');
        self.number(number).filter(|number| *number >= 0.0).map(|number| sign * number)
    }
}

fn unreadable(error: csv::Error) -> String {
    format!("cannot be read as CSV: {error}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn places(text: &str) -> Vec<[Option<f64>; 2]> {
        let mut table = CsvTable::open(text.as_bytes()).unwrap();
        let (latitude, longitude) =
            (table.column(&LATITUDE).unwrap(), table.column(&LONGITUDE).unwrap());
        let mut rows = Vec::new();
        while let Some(row) = table.next_row() {
            let row = row.unwrap().1;
            rows.push([
                table.degrees(&row[latitude], ['N', 'S']),
                table.degrees(&row[longitude], ['E', 'W']),
            ]);
        }
        rows
    }

    #[test]
    fn tables_of_many_writers_are_read() {
        let right = vec![[Some(-64.5), Some(136.25)]];
        for text in [
            "latitude_deg,longitude_deg\n-64.5,136.25\n",
            "\u{feff}latitude_deg,longitude_deg\r\n-64.5,136.25\r\n",
            "Iceberg;Latitude;Longitude;Remarks\nB09B;-64,5;136,25;a, b\n",
            "Iceberg\tLat\tLon\nA76\t64,5S\t136,25 E\n",
            "name,LAT,LONG\nx,64.5°s,136.25°E\n",
            "lat;lon\n\u{2212}64.5;136.25\n",
        ] {
            assert_eq!(places(text), right, "{text}");
        }
        // Neither degrees and minutes, nor a sign and a letter, nor a comma among commas.
        for text in ["lat,lon\n64 30S,1\n", "lat,lon\n-64.5S,1\n", "lat,lon\n\"-64,5\",1\n"] {
            assert_eq!(places(text)[0][0], None, "{text}");
        }
        assert!(CsvTable::open(b"PK\x03\x04").is_err());
        assert_eq!(CsvTable::open(b"a,b\n1,2\n").unwrap().column(&LATITUDE), None);
    }
}
