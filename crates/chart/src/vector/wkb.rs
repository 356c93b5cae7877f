//! Polygons in well-known binary, as GeoPackages hold them.
//!
//! Source: OGC 06-103r4, Simple Feature Access, part 1; OGC 12-128r18, GeoPackage, clause 2.1.3.

use super::{FilePolygon, Ring};

/// Reads the geometry of a GeoPackage: its own header, then well-known binary.
///
/// # Returns
///
/// The polygons; nothing where the geometry is marked as empty.
///
/// # Errors
///
/// What is wrong with the bytes, or which kind of geometry it is if it is no polygon.
pub(super) fn polygons_of_geopackage(bytes: &[u8]) -> Result<Vec<FilePolygon>, String> {
    let broken = || "has a geometry that is no GeoPackage geometry".to_owned();
    let (head, rest) = bytes.split_at_checked(8).ok_or_else(broken)?;
    let [b'G', b'P', _version, flags, ..] = *head else { return Err(broken()) };
    if flags & 0b0001_0000 != 0 {
        return Ok(Vec::new());
    }
    let envelope = match (flags >> 1) & 0b111 {
        0 => 0,
        1 => 32,
        2 | 3 => 48,
        4 => 64,
        _ => return Err(broken()),
    };
    let mut reader = Reader { rest: rest.get(envelope..).ok_or_else(broken)?, little: true };
    let mut polygons = Vec::new();
    reader.geometry(&mut polygons, 0)?;
    Ok(polygons)
}

struct Reader<'a> {
    rest: &'a [u8],
    little: bool,
}

impl Reader<'_> {
    fn geometry(&mut self, out: &mut Vec<FilePolygon>, depth: u32) -> Result<(), String> {
        self.little = match self.take::<1>()? {
            [0] => false,
            [1] => true,
            _ => return Err("has a geometry of no byte order".to_owned()),
        };
        let code = self.u32()?;
        // Heights and measures: as flags in the older writing, as thousands in the newer.
        let mut extra = ((code >> 31) & 1) + ((code >> 30) & 1);
        let code = code & 0x0fff_ffff;
        extra += match code / 1000 {
            1 | 2 => 1,
            3 => 2,
            _ => 0,
        };
        match code % 1000 {
            3 => {
                let polygon = self.polygon(2 + extra as usize)?;
                if !polygon.is_empty() {
                    out.push(polygon);
                }
                Ok(())
            }
            6 | 7 if depth < 4 => {
                for _ in 0..self.u32()? {
                    self.geometry(out, depth + 1)?;
                }
                Ok(())
            }
            kind => Err(format!("is a geometry of kind {kind}, but a polygon is wanted")),
        }
    }

    fn polygon(&mut self, numbers: usize) -> Result<FilePolygon, String> {
        let rings = self.u32()?;
        let mut polygon = FilePolygon::new();
        for _ in 0..rings {
            let points = self.u32()? as usize;
            // Counted against what is there, so that a wrong count asks for no memory.
            if points.checked_mul(8 * numbers).is_none_or(|bytes| bytes > self.rest.len()) {
                return Err("has a geometry that is cut short".to_owned());
            }
            let mut ring = Ring::with_capacity(points);
            for _ in 0..points {
                let place = [self.f64()?, self.f64()?];
                for _ in 2..numbers {
                    self.f64()?;
                }
                ring.push(place);
            }
            polygon.push(ring);
        }
        Ok(polygon)
    }

    fn take<const N: usize>(&mut self) -> Result<[u8; N], String> {
        let (head, rest) =
            self.rest.split_first_chunk::<N>().ok_or("has a geometry that is cut short")?;
        self.rest = rest;
        Ok(*head)
    }

    fn u32(&mut self) -> Result<u32, String> {
        let bytes = self.take()?;
        Ok(if self.little { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) })
    }

    fn f64(&mut self) -> Result<f64, String> {
        let bytes = self.take()?;
        Ok(if self.little { f64::from_le_bytes(bytes) } else { f64::from_be_bytes(bytes) })
    }
}
