//! Polygons on a polar stereographic plane, as `data/make_coast.py` writes them.
//!
//! Behind the mark `DWPOLY1\n`, one zlib stream of: hemisphere (u8; 0 south, 1 north), metres per unit
//! (u16), number of polygons (u32); for each polygon a varint of its rings, outer ring first; for each
//! ring a varint of its points, open, and for each point two signed varints: the step in x and y from
//! the point before, the first from the pole.

use dipward_geodesy::Hemisphere;
use dipward_plugin::Error;
use geo::{Coord, LineString, MultiPolygon, Polygon};

use super::packed::{Cursor, Damage, Packed};

const MARK: &[u8] = b"DWPOLY1\n";

/// Decodes a file of the given hemisphere; metres on its plane.
pub(crate) fn polygons(file: &Packed, hemisphere: Hemisphere) -> Result<MultiPolygon<f64>, Error> {
    file.decode(MARK, |cursor| decode(cursor, hemisphere))
}

fn decode(cursor: &mut Cursor<'_>, hemisphere: Hemisphere) -> Result<MultiPolygon<f64>, Damage> {
    check_hemisphere(cursor, hemisphere)?;
    let unit_m = f64::from(cursor.u16()?);
    let count = cursor.u32()? as usize;
    if count > cursor.remaining() {
        return Err(Damage("it ends too early"));
    }
    (0..count)
        .map(|_| polygon(cursor, unit_m))
        .collect::<Result<Vec<_>, _>>()
        .map(MultiPolygon::new)
}

/// Reads the byte that says which hemisphere a file is of.
pub(crate) fn check_hemisphere(cursor: &mut Cursor<'_>, wanted: Hemisphere) -> Result<(), Damage> {
    let found = cursor.u8()?;
    if found == u8::from(wanted == Hemisphere::North) {
        Ok(())
    } else {
        Err(Damage("it is of another hemisphere"))
    }
}

fn polygon(cursor: &mut Cursor<'_>, unit_m: f64) -> Result<Polygon<f64>, Damage> {
    let holes = cursor.count()?.checked_sub(1).ok_or(Damage("a polygon has no ring"))?;
    let outer = ring(cursor, unit_m)?;
    let inner = (0..holes).map(|_| ring(cursor, unit_m)).collect::<Result<_, _>>()?;
    Ok(Polygon::new(outer, inner))
}

fn ring(cursor: &mut Cursor<'_>, unit_m: f64) -> Result<LineString<f64>, Damage> {
    let count = cursor.count()?;
    if count < 3 {
        return Err(Damage("a ring has fewer than three points"));
    }
    let mut points = Vec::with_capacity(count + 1);
    let (mut x, mut y) = (0_i32, 0_i32);
    for _ in 0..count {
        x = moved(x, cursor.signed()?)?;
        y = moved(y, cursor.signed()?)?;
        points.push(Coord { x: f64::from(x) * unit_m, y: f64::from(y) * unit_m });
    }
    Ok(LineString::new(points))
}

fn moved(from: i32, step: i32) -> Result<i32, Damage> {
    from.checked_add(step).ok_or(Damage("a point lies too far off"))
}

#[cfg(test)]
mod tests {
    use geo::Area;
    use proptest::prelude::*;

    use super::*;

    /// A square of 4 units with a hole of 1 unit, 50 m to the unit.
    const BODY: &[u8] = &[
        0, 50, 0, 1, 0, 0, 0, // south, 50 m, one polygon
        2, // rings
        4, 0, 0, 8, 0, 0, 8, 7, 0, // outer
        4, 2, 2, 2, 0, 0, 2, 1, 0, // inner
    ];

    #[test]
    fn square_with_a_hole() {
        let mut cursor = Cursor::new(BODY);
        let square = decode(&mut cursor, Hemisphere::South).unwrap();
        cursor.end().unwrap();
        assert_eq!(square.unsigned_area(), 15.0 * 2500.0);
        let exterior = square.0[0].exterior();
        assert_eq!(exterior.0[1], Coord { x: 200.0, y: 0.0 });
        assert!(exterior.is_closed());
    }

    #[test]
    fn the_other_hemisphere_is_refused() {
        let refused = decode(&mut Cursor::new(BODY), Hemisphere::North);
        assert_eq!(refused, Err(Damage("it is of another hemisphere")));
    }

    proptest! {
        #[test]
        fn any_bytes_are_decoded_or_refused(body in prop::collection::vec(any::<u8>(), 0..200)) {
            let _ = decode(&mut Cursor::new(&body), Hemisphere::South);
        }

        #[test]
        fn a_spoilt_body_is_decoded_or_refused(
            place in 0..BODY.len(), value in any::<u8>(), keep in 0..=BODY.len(),
        ) {
            let mut body = BODY.to_vec();
            body[place] = value;
            let _ = decode(&mut Cursor::new(&body[..keep]), Hemisphere::South);
        }
    }
}
