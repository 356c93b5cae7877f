//! What the embedded files have in common: a mark, then one zlib stream.

use std::io::Read;

use dipward_plugin::Error;
use flate2::read::ZlibDecoder;

/// No embedded file unpacks to more; a damaged one must not fill the memory.
const UNPACKED_LIMIT: u64 = 64 << 20;

/// An embedded file and the name that messages give it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Packed {
    pub(crate) name: &'static str,
    pub(crate) bytes: &'static [u8],
}

impl Packed {
    /// Unpacks the file and decodes its body, naming the file in what goes wrong.
    pub(crate) fn decode<T>(
        &self,
        mark: &[u8],
        decode: impl FnOnce(&mut Cursor<'_>) -> Result<T, Damage>,
    ) -> Result<T, Error> {
        unpack(self.bytes, mark)
            .and_then(|body| {
                let mut cursor = Cursor::new(&body);
                let value = decode(&mut cursor)?;
                cursor.end()?;
                Ok(value)
            })
            .map_err(|Damage(message)| Error::File {
                path: format!("embedded {}", self.name).into(),
                message: format!("is damaged: {message}"),
            })
    }
}

/// What is wrong with the bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Damage(pub(crate) &'static str);

/// The body behind `mark`. The stream's checksum is verified by the decoder.
fn unpack(bytes: &[u8], mark: &[u8]) -> Result<Vec<u8>, Damage> {
    let stream = bytes.strip_prefix(mark).ok_or(Damage("it has another mark at its start"))?;
    let mut decoder = ZlibDecoder::new(stream).take(UNPACKED_LIMIT);
    let mut body = Vec::new();
    decoder.read_to_end(&mut body).map_err(|_| Damage("it does not unpack"))?;
    let decoder = decoder.into_inner();
    if decoder.total_in() != stream.len() as u64 {
        return Err(Damage("it has bytes beyond its end"));
    }
    Ok(body)
}

/// Reads little-endian numbers off the front of a body.
#[derive(Debug)]
pub(crate) struct Cursor<'a> {
    rest: &'a [u8],
}

impl<'a> Cursor<'a> {
    pub(crate) fn new(body: &'a [u8]) -> Self {
        Self { rest: body }
    }

    /// Bytes not read yet.
    pub(crate) fn remaining(&self) -> usize {
        self.rest.len()
    }

    pub(crate) fn bytes(&mut self, count: usize) -> Result<&'a [u8], Damage> {
        let (taken, rest) = self.rest.split_at_checked(count).ok_or(Damage("it ends too early"))?;
        self.rest = rest;
        Ok(taken)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], Damage> {
        let (taken, rest) = self.rest.split_first_chunk().ok_or(Damage("it ends too early"))?;
        self.rest = rest;
        Ok(*taken)
    }

    pub(crate) fn u8(&mut self) -> Result<u8, Damage> {
        self.array().map(u8::from_le_bytes)
    }

    pub(crate) fn u16(&mut self) -> Result<u16, Damage> {
        self.array().map(u16::from_le_bytes)
    }

    pub(crate) fn i16(&mut self) -> Result<i16, Damage> {
        self.array().map(i16::from_le_bytes)
    }

    pub(crate) fn u32(&mut self) -> Result<u32, Damage> {
        self.array().map(u32::from_le_bytes)
    }

    /// An integer in base 128, the lowest digit first, the top bit set on all but the last.
    pub(crate) fn varint(&mut self) -> Result<u32, Damage> {
        let mut value = 0;
        for shift in (0..32).step_by(7) {
            let byte = self.u8()?;
            let digit = u32::from(byte & 0x7f);
            if shift == 28 && digit > 0xf {
                break;
            }
            value |= digit << shift;
            if byte < 0x80 {
                return Ok(value);
            }
        }
        Err(Damage("a number is too large"))
    }

    /// A count of things that take at least one byte each, so that memory can be set aside for them.
    pub(crate) fn count(&mut self) -> Result<usize, Damage> {
        let count = self.varint()? as usize;
        if count > self.remaining() { Err(Damage("it ends too early")) } else { Ok(count) }
    }

    /// A signed integer, folded so that small ones of either sign are short.
    pub(crate) fn signed(&mut self) -> Result<i32, Damage> {
        self.varint().map(unfold)
    }

    /// Makes sure that nothing is left.
    pub(crate) fn end(&self) -> Result<(), Damage> {
        if self.rest.is_empty() { Ok(()) } else { Err(Damage("it has bytes beyond its end")) }
    }
}

/// 0, 1, 2, 3, 4 ... to 0, -1, 1, -2, 2 ...
pub(crate) fn unfold(value: u32) -> i32 {
    (value >> 1).cast_signed() ^ -(value & 1).cast_signed()
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use flate2::{Compression, write::ZlibEncoder};
    use proptest::prelude::*;

    use super::*;

    fn pack(mark: &[u8], body: &[u8]) -> Vec<u8> {
        let mut encoder = ZlibEncoder::new(mark.to_vec(), Compression::best());
        encoder.write_all(body).unwrap();
        encoder.finish().unwrap()
    }

    #[test]
    fn varints_of_all_lengths() {
        let mut cursor = Cursor::new(&[0x00, 0x7f, 0x80, 0x01, 0xff, 0xff, 0xff, 0xff, 0x0f]);
        let read: Vec<_> = std::iter::repeat_with(|| cursor.varint()).take(4).collect();
        assert_eq!(read, [Ok(0), Ok(127), Ok(128), Ok(u32::MAX)]);
        assert!(cursor.end().is_ok());
        assert!(Cursor::new(&[0xff, 0xff, 0xff, 0xff, 0x1f]).varint().is_err());
        assert!(Cursor::new(&[0x80]).varint().is_err());
    }

    #[test]
    fn signs_unfold() {
        assert_eq!([0, 1, 2, 3, u32::MAX].map(unfold), [0, -1, 1, -2, i32::MIN]);
    }

    proptest! {
        #[test]
        fn no_flipped_bit_gives_another_body(
            body in prop::collection::vec(any::<u8>(), 1..200),
            place in any::<prop::sample::Index>(),
            bit in 0..8,
        ) {
            let mut bytes = pack(b"MARK", &body);
            prop_assert_eq!(unpack(&bytes, b"MARK"), Ok(body.clone()));
            let place = place.index(bytes.len());
            bytes[place] ^= 1_u8 << bit;
            // Some bits say only how hard the packer tried.
            let unpacked = unpack(&bytes, b"MARK");
            prop_assert!(unpacked.is_err() || unpacked == Ok(body), "place {}", place);
        }

        #[test]
        fn a_cut_file_is_noticed(body in prop::collection::vec(any::<u8>(), 0..200), keep in any::<prop::sample::Index>()) {
            let bytes = pack(b"MARK", &body);
            prop_assert!(unpack(&bytes[..keep.index(bytes.len())], b"MARK").is_err());
        }
    }
}
