use std::{borrow::Cow, io::Read};

use flate2::read::MultiGzDecoder;

use crate::ReadError;

/// A file that grows beyond this is not read: a century of minutes as IAGA-2002 is 4 GiB, and comes in
/// files of a day to a year.
const GREATEST_BYTES: u64 = 1 << 30;

/// The bytes of a file, inflated where it is gzip by its first bytes.
pub(super) fn inflated(bytes: &[u8]) -> Result<Cow<'_, [u8]>, ReadError> {
    inflated_up_to(bytes, GREATEST_BYTES)
}

fn inflated_up_to(bytes: &[u8], most: u64) -> Result<Cow<'_, [u8]>, ReadError> {
    if bytes.starts_with(b"PK\x03\x04") {
        return Err(ReadError::Whole("this is a zip archive: unpack it first".into()));
    }
    if !bytes.starts_with(b"\x1f\x8b") {
        return Ok(Cow::Borrowed(bytes));
    }
    let mut all = Vec::new();
    MultiGzDecoder::new(bytes)
        .take(most + 1)
        .read_to_end(&mut all)
        .map_err(|error| ReadError::Whole(format!("the gzip data are damaged: {error}")))?;
    if all.len() as u64 > most {
        return Err(ReadError::Whole(format!(
            "the gzip data inflate to more than {} MiB: split the file",
            most >> 20
        )));
    }
    Ok(Cow::Owned(all))
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use flate2::{Compression, write::GzEncoder};

    use super::*;

    #[test]
    fn gzip_is_known_by_its_first_bytes_and_bounded() {
        let packed = |bytes: &[u8]| {
            let mut encoder = GzEncoder::new(Vec::new(), Compression::fast());
            encoder.write_all(bytes).unwrap();
            encoder.finish().unwrap()
        };
        assert_eq!(*inflated(b"plain").unwrap(), *b"plain");
        let twice = [packed(b"one "), packed(b"two")].concat();
        assert_eq!(*inflated(&twice).unwrap(), *b"one two");
        let bomb = packed(&vec![0; 3 << 20]);
        let told = inflated_up_to(&bomb, 2 << 20).unwrap_err().to_string();
        assert!(told.contains("more than 2 MiB"), "{told}");
        assert!(inflated_up_to(&bomb, 3 << 20).is_ok());
        let cut = &bomb[..bomb.len() - 9];
        assert!(inflated(cut).unwrap_err().to_string().contains("damaged"));
        assert!(inflated(b"PK\x03\x04..").unwrap_err().to_string().contains("unpack"));
    }
}
