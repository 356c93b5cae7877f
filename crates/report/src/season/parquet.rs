//! `seasons.parquet`: the table of cases in columns.

use std::sync::Arc;

use dipward_plugin::{Error, SeasonCase};
use parquet::{
    basic::{LogicalType, Repetition, TimeUnit, Type as Physical},
    data_type::{BoolType, ByteArray, ByteArrayType, DoubleType, Int64Type},
    errors::{ParquetError, Result},
    file::{properties::WriterProperties, writer::SerializedFileWriter},
    schema::types::Type,
};

use super::columns::{COLUMNS, Cell, Column, Kind};

/// The cases as a Parquet file: instants as UTC milliseconds, nothing where a case has no value. The
/// same cases give the same bytes.
///
/// # Errors
///
/// [`Error::Unsolved`] with what the Parquet library says.
pub fn season_parquet(cases: &[SeasonCase]) -> std::result::Result<Vec<u8>, Error> {
    write(cases)
        .map_err(|error| Error::Unsolved(format!("seasons.parquet cannot be written: {error}")))
}

fn write(cases: &[SeasonCase]) -> Result<Vec<u8>> {
    let fields = COLUMNS.iter().map(field).collect::<Result<Vec<_>>>()?;
    let schema = Type::group_type_builder("cases").with_fields(fields).build()?;
    let properties = WriterProperties::builder()
        .set_created_by(concat!("dipward ", env!("CARGO_PKG_VERSION")).to_owned())
        .build();
    let mut file = SerializedFileWriter::new(Vec::new(), Arc::new(schema), Arc::new(properties))?;
    let mut rows = file.next_row_group()?;
    for column in COLUMNS {
        let cells: Vec<Cell> = cases.iter().map(column.cell).collect();
        // 1 where a cell has a value, 0 where it has none.
        let defined: Vec<i16> = cells.iter().map(|cell| i16::from(*cell != Cell::None)).collect();
        let mut writer = rows
            .next_column()?
            .ok_or_else(|| ParquetError::General("a column is missing".to_owned()))?;
        match column.kind {
            Kind::Whole | Kind::Instant => {
                let values: Vec<i64> = cells.iter().filter_map(whole).collect();
                writer.typed::<Int64Type>().write_batch(&values, Some(&defined), None)?;
            }
            Kind::Flag => {
                let values: Vec<bool> = cells
                    .iter()
                    .filter_map(
                        |cell| if let Cell::Flag(value) = cell { Some(*value) } else { None },
                    )
                    .collect();
                writer.typed::<BoolType>().write_batch(&values, Some(&defined), None)?;
            }
            Kind::Real => {
                let values: Vec<f64> = cells
                    .iter()
                    .filter_map(
                        |cell| if let Cell::Real(value) = cell { Some(*value) } else { None },
                    )
                    .collect();
                writer.typed::<DoubleType>().write_batch(&values, Some(&defined), None)?;
            }
            Kind::Text => {
                let values: Vec<ByteArray> = cells
                    .into_iter()
                    .filter_map(|cell| {
                        if let Cell::Text(value) = cell {
                            Some(ByteArray::from(value.into_bytes()))
                        } else {
                            None
                        }
                    })
                    .collect();
                writer.typed::<ByteArrayType>().write_batch(&values, Some(&defined), None)?;
            }
        }
        writer.close()?;
    }
    rows.close()?;
    file.into_inner()
}

fn whole(cell: &Cell) -> Option<i64> {
    match cell {
        // Case numbers and seeds are below 2^53.
        Cell::Whole(value) => i64::try_from(*value).ok(),
        Cell::Instant(value) => Some(value.as_millisecond()),
        _ => None,
    }
}

fn field(column: &Column) -> Result<Arc<Type>> {
    let (physical, logical) = match column.kind {
        Kind::Whole => (Physical::INT64, None),
        Kind::Instant => (Physical::INT64, Some(LogicalType::timestamp(true, TimeUnit::MILLIS))),
        Kind::Flag => (Physical::BOOLEAN, None),
        Kind::Real => (Physical::DOUBLE, None),
        Kind::Text => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
    };
    let field = Type::primitive_type_builder(column.name, physical)
        .with_repetition(Repetition::OPTIONAL)
        .with_logical_type(logical)
        .build()?;
    Ok(Arc::new(field))
}

#[cfg(test)]
mod tests {
    use parquet::{
        file::reader::{FileReader, SerializedFileReader},
        record::Field,
    };

    use super::{super::heat::tests::case, *};

    #[test]
    fn what_is_written_is_read_back() {
        let cases = [case("2027", "01-08", Some(0.25)), case("2028 (é)", "01-08", None)];
        let bytes = season_parquet(&cases).unwrap();
        assert_eq!(bytes, season_parquet(&cases).unwrap());
        let reader = SerializedFileReader::new(bytes::Bytes::from(bytes)).unwrap();
        let rows: Vec<Vec<(String, Field)>> = reader
            .get_row_iter(None)
            .unwrap()
            .map(|row| {
                row.unwrap().get_column_iter().map(|(n, f)| (n.clone(), f.clone())).collect()
            })
            .collect();
        assert_eq!(rows.len(), 2);
        for (row, case) in rows.iter().zip(&cases) {
            assert_eq!(row.len(), COLUMNS.len());
            for ((name, found), column) in row.iter().zip(COLUMNS) {
                assert_eq!(name, column.name);
                let expected = match (column.cell)(case) {
                    Cell::None => Field::Null,
                    Cell::Whole(value) => Field::Long(value as i64),
                    Cell::Flag(value) => Field::Bool(value),
                    Cell::Text(value) => Field::Str(value),
                    Cell::Instant(value) => Field::TimestampMillis(value.as_millisecond()),
                    Cell::Real(value) => Field::Double(value),
                };
                assert_eq!(*found, expected, "{name}");
            }
        }
    }

    #[test]
    fn a_table_without_rows_is_a_table() {
        let bytes = season_parquet(&[]).unwrap();
        let reader = SerializedFileReader::new(bytes::Bytes::from(bytes)).unwrap();
        assert_eq!(reader.metadata().file_metadata().num_rows(), 0);
    }
}
