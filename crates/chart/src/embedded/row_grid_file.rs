//! Grids of latitude rows, as `data/make_relief.py` writes them.
//!
//! Behind the mark `DWROWS1\n`, one zlib stream of: hemisphere (u8; 0 south, 1 north), first latitude
//! in whole degrees (u8), rows per degree (u8), nodes of an unhalved row (u16); the table of values as
//! its least one (i16) and runs (u8 of them) of steps, each a count (u16) and a step (i16); for each
//! row to the pole how often its nodes are halved (u8). Then for all nodes the low bytes, and after
//! them the high bytes, of the folded difference between the node's place in the table and the place
//! predicted from its neighbours by the median edge predictor (Weinberger, Seroussi and Sapiro 2000,
//! IEEE Trans. Image Process. 9, 1309).

use dipward_geodesy::Hemisphere;
use dipward_plugin::Error;

use super::packed::{Cursor, Damage, Packed, unfold};
use super::polygon_file::check_hemisphere;
use super::row_grid::{Row, RowGrid};

const MARK: &[u8] = b"DWROWS1\n";

/// Decodes a file of the given hemisphere.
pub(crate) fn row_grid(file: &Packed, hemisphere: Hemisphere) -> Result<RowGrid, Error> {
    file.decode(MARK, |cursor| decode(cursor, hemisphere))
}

fn decode(cursor: &mut Cursor<'_>, hemisphere: Hemisphere) -> Result<RowGrid, Damage> {
    check_hemisphere(cursor, hemisphere)?;
    let first_latitude_deg = cursor.u8()?;
    let rows_per_degree = cursor.u8()?;
    let full_row = usize::from(cursor.u16()?);
    let levels = levels(cursor)?;
    let degrees =
        90_usize.checked_sub(first_latitude_deg.into()).ok_or(Damage("no such latitude"))?;
    let last_row = degrees * usize::from(rows_per_degree);
    if last_row == 0 {
        return Err(Damage("it has a single row"));
    }
    let rows = rows(cursor.bytes(last_row + 1)?, full_row)?;
    let nodes = rows.last().map_or(0, |row| row.start + row.nodes);
    let (low, high) = (cursor.bytes(nodes)?, cursor.bytes(nodes)?);
    let folded = low.iter().zip(high).map(|(low, high)| u16::from_le_bytes([*low, *high]));
    Ok(RowGrid {
        hemisphere,
        first_latitude_deg: first_latitude_deg.into(),
        rows_per_degree: rows_per_degree.into(),
        values: values(&rows, folded.map(|difference| unfold(difference.into())), &levels)?,
        rows,
    })
}

fn levels(cursor: &mut Cursor<'_>) -> Result<Vec<i16>, Damage> {
    let mut level = cursor.i16()?;
    let mut levels = vec![level];
    for _ in 0..cursor.u8()? {
        let (count, step) = (cursor.u16()?, cursor.i16()?);
        for _ in 0..count {
            level = level.checked_add(step).ok_or(Damage("a value is too large"))?;
            levels.push(level);
        }
    }
    Ok(levels)
}

fn rows(halvings: &[u8], full_row: usize) -> Result<Vec<Row>, Damage> {
    let mut rows = Vec::with_capacity(halvings.len());
    let (mut start, mut before) = (0, 0);
    for &halving in halvings {
        let nodes = full_row.checked_shr(halving.into()).unwrap_or(0);
        if halving < before || nodes == 0 || nodes << halving != full_row {
            return Err(Damage("a row has an impossible number of nodes"));
        }
        rows.push(Row { start, nodes });
        start += nodes;
        before = halving;
    }
    Ok(rows)
}

fn values(
    rows: &[Row],
    mut differences: impl Iterator<Item = i32>,
    levels: &[i16],
) -> Result<Vec<i16>, Damage> {
    let mut values = Vec::new();
    let (mut before, mut here): (Vec<i32>, Vec<i32>) = (Vec::new(), Vec::new());
    for row in rows {
        // Zero for the first row, which has none before it.
        let stride = before.len() / row.nodes;
        let north = |column: usize| before.get(column * stride).copied();
        here.clear();
        for column in 0..row.nodes {
            let west = here.last().copied();
            let predicted = match (west, north(column)) {
                (Some(west), Some(north_here)) => {
                    let north_west = north(column - 1).unwrap_or(north_here);
                    let (low, high) = (west.min(north_here), west.max(north_here));
                    (west + north_here - north_west).clamp(low, high)
                }
                (Some(only), None) | (None, Some(only)) => only,
                (None, None) => 0,
            };
            let place = predicted + differences.next().ok_or(Damage("it ends too early"))?;
            let level = usize::try_from(place).ok().and_then(|place| levels.get(place));
            values.push(*level.ok_or(Damage("a value is not in its table"))?);
            here.push(place);
        }
        std::mem::swap(&mut before, &mut here);
    }
    Ok(values)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Rows at 89 and 90 degrees of 4 and 2 nodes; values -10, -8, -6, -5, -4.
    const BODY: &[u8] = &[
        1, 89, 1, 4, 0, // north, from 89 degrees, a row a degree, 4 nodes
        0xf6, 0xff, 2, 2, 0, 2, 0, 2, 0, 1, 0, // -10, then two steps of 2 and two of 1
        0, 1, // halvings
        4, 0, 3, 2, 2, 1, // folded differences, low bytes
        0, 0, 0, 0, 0, 0, // high bytes
    ];

    #[test]
    fn two_rows() {
        let mut cursor = Cursor::new(BODY);
        let grid = decode(&mut cursor, Hemisphere::North).unwrap();
        cursor.end().unwrap();
        // Places in the table: 2, 2, 0, 1 and 3, then 1 (median of 3, 0 and 0 + 3 - 2, less 1 = 0).
        assert_eq!(grid.values, [-6, -6, -10, -8, -5, -10]);
        assert_eq!(grid.rows, [Row { start: 0, nodes: 4 }, Row { start: 4, nodes: 2 }]);
    }

    #[test]
    fn nodes_that_do_not_halve_are_refused() {
        let mut body = BODY.to_vec();
        body[17] = 3;
        assert!(decode(&mut Cursor::new(&body), Hemisphere::North).is_err());
    }

    proptest! {
        #[test]
        fn any_bytes_are_decoded_or_refused(body in prop::collection::vec(any::<u8>(), 0..300)) {
            let _ = decode(&mut Cursor::new(&body), Hemisphere::South);
        }

        #[test]
        fn a_spoilt_body_is_decoded_or_refused(
            place in 0..BODY.len(), value in any::<u8>(), keep in 0..=BODY.len(),
        ) {
            let mut body = BODY.to_vec();
            body[place] = value;
            let _ = decode(&mut Cursor::new(&body[..keep]), Hemisphere::North);
        }
    }
}
