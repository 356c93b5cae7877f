//! The files of a study of seasons.
//!
//! | file | what |
//! |---|---|
//! | `seasons.html` | heat maps, the robust choice, a table for a meeting |
//! | `seasons.json` | axes, choices and what the result rests on |
//! | `seasons.jsonl` | all cases, one a line |
//! | `seasons.csv` | all cases as a table |
//! | `seasons.parquet` | the same table in columns |
//!
//! Parts of a study are files of their own; see [`part_bytes`].

mod columns;
mod heat;
mod page;
mod parquet;
mod part;
mod words;

use dipward_plugin::{Error, OutputFile, SeasonCase, SeasonReport};

pub use self::parquet::season_parquet;
pub use part::{PartHead, part_bytes, read_part};

use columns::COLUMNS;

/// The result of a study in sentences, one a line.
#[must_use]
pub fn season_summary(report: &SeasonReport) -> String {
    words::summary(report).into_iter().map(|sentence| sentence + "\n").collect()
}

/// All files of a study whose cases are all there.
///
/// # Errors
///
/// [`Error::Unsolved`] where a figure cannot be written.
pub fn season_files(report: &SeasonReport) -> Result<Vec<OutputFile>, Error> {
    let file = |name: &str, bytes| OutputFile { name: name.to_owned(), bytes };
    let mut json = serde_json::to_vec_pretty(report).map_err(|error| unwritable(&error))?;
    json.push(b'\n');
    Ok(vec![
        file("seasons.html", page::page(report).into_bytes()),
        file("seasons.json", json),
        file("seasons.jsonl", lines(&report.cases)?),
        file("seasons.csv", table(&report.cases)?),
        file("seasons.parquet", season_parquet(&report.cases)?),
    ])
}

fn unwritable(error: &impl std::fmt::Display) -> Error {
    Error::Unsolved(format!("the cases cannot be written: {error}"))
}

/// One line a case.
fn lines(cases: &[SeasonCase]) -> Result<Vec<u8>, Error> {
    let mut bytes = Vec::new();
    for case in cases {
        serde_json::to_writer(&mut bytes, case).map_err(|error| unwritable(&error))?;
        bytes.push(b'\n');
    }
    Ok(bytes)
}

fn table(cases: &[SeasonCase]) -> Result<Vec<u8>, Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut write = || -> csv::Result<()> {
        writer.write_record(COLUMNS.iter().map(|column| column.name))?;
        for case in cases {
            writer.write_record(COLUMNS.iter().map(|column| (column.cell)(case).text()))?;
        }
        Ok(())
    };
    write().map_err(|error| unwritable(&error))?;
    writer.into_inner().map_err(|error| unwritable(&error))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_has_a_cell_for_each_column_and_blanks_where_nothing_is() {
        let mut case = heat::tests::case("2027", "01-08", None);
        case.reason = Some("ice, \"thick\"".to_owned());
        let text = String::from_utf8(table(&[case]).unwrap()).unwrap();
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let headings = reader.headers().unwrap().clone();
        let row = reader.records().next().unwrap().unwrap();
        let cell = |name: &str| {
            row.get(headings.iter().position(|heading| heading == name).unwrap()).unwrap()
        };
        assert_eq!(cell("feasible"), "false");
        assert_eq!(cell("attainment"), "");
        assert_eq!(cell("reason"), "ice, \"thick\"");
        assert_eq!(cell("depart"), "2027-01-08T00:00:00Z");
    }
}
