//! Part files: a slice of a study's cases that tells whether it is whole.
//!
//! ```text
//! {"dipward_part":1,"study_sha256":"…","from":120,"until":240,"sha256":"…"}   of the lines below
//! {"case":120,…}
//! {"case":121,…}
//! ```

use dipward_plugin::{Error, SeasonCase};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// The version of the layout.
const LAYOUT: u32 = 1;

/// The first line of a part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PartHead {
    dipward_part: u32,
    /// The study that the part belongs to.
    pub study_sha256: String,
    /// The first case.
    pub from: u64,
    /// The first case that is no more in the part.
    pub until: u64,
    /// SHA-256 of what follows the first line.
    sha256: String,
}

/// The bytes of a part whose cases are `from` and what follows it without a gap.
///
/// # Errors
///
/// [`Error::Unsolved`] where the cases do not follow one another or cannot be written.
pub fn part_bytes(study_sha256: &str, from: u64, cases: &[SeasonCase]) -> Result<Vec<u8>, Error> {
    if !(from..).zip(cases).all(|(number, case)| number == case.case) {
        return Err(Error::Unsolved("the cases of a part must follow one another".to_owned()));
    }
    let body = super::lines(cases)?;
    let head = PartHead {
        dipward_part: LAYOUT,
        study_sha256: study_sha256.to_owned(),
        from,
        until: from + cases.len() as u64,
        sha256: digest(&body),
    };
    let mut bytes = serde_json::to_vec(&head).map_err(|error| super::unwritable(&error))?;
    bytes.push(b'\n');
    bytes.extend(body);
    Ok(bytes)
}

/// Reads a part.
///
/// # Errors
///
/// A sentence that says why it is not whole.
pub fn read_part(bytes: &[u8]) -> Result<(PartHead, Vec<SeasonCase>), String> {
    let end = bytes.iter().position(|&byte| byte == b'\n').ok_or("its first line is torn")?;
    let (head, body) = (&bytes[..end], &bytes[end + 1..]);
    let head: PartHead =
        serde_json::from_slice(head).map_err(|error| format!("it is not a part: {error}"))?;
    if head.dipward_part != LAYOUT {
        return Err(format!("its layout is {}, this program reads {LAYOUT}", head.dipward_part));
    }
    if digest(body) != head.sha256 {
        return Err("its cases are not those that were written: it is torn or changed".to_owned());
    }
    let cases = serde_json::Deserializer::from_slice(body)
        .into_iter()
        .collect::<Result<Vec<SeasonCase>, _>>()
        .map_err(|error| format!("a case cannot be read: {error}"))?;
    let in_order = (head.from..head.until).eq(cases.iter().map(|case| case.case));
    if !in_order {
        return Err("its cases are not those that its first line says".to_owned());
    }
    Ok((head, cases))
}

fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{super::heat::tests::case, *};

    fn part() -> Vec<u8> {
        let mut cases = vec![case("2027", "01-08", Some(0.5)), case("2028", "01-08", None)];
        for (number, case) in (7..).zip(&mut cases) {
            case.case = number;
        }
        part_bytes("abc", 7, &cases).unwrap()
    }

    #[test]
    fn a_whole_part_is_read_back() {
        let (head, cases) = read_part(&part()).unwrap();
        assert_eq!((head.study_sha256.as_str(), head.from, head.until), ("abc", 7, 9));
        assert_eq!(part_bytes("abc", 7, &cases).unwrap(), part());
        assert!(part_bytes("abc", 6, &cases).is_err());
        assert_eq!(read_part(&part_bytes("abc", 3, &[]).unwrap()).unwrap().1, []);
    }

    #[test]
    fn a_torn_part_is_told_wherever_it_is_torn() {
        let whole = part();
        for end in 0..whole.len() {
            assert!(read_part(&whole[..end]).is_err(), "torn at {end}");
        }
    }

    proptest! {
        #[test]
        fn a_changed_part_is_told(at in 0_usize..2000, byte in any::<u8>()) {
            let whole = part();
            let mut changed = whole.clone();
            let at = at % changed.len();
            prop_assume!(changed[at] != byte);
            changed[at] = byte;
            // A change of the study's name reads, and belongs to another study.
            match read_part(&changed) {
                Err(_) => {}
                Ok((head, cases)) => {
                    prop_assert!(head.study_sha256 != "abc");
                    prop_assert_eq!(cases, read_part(&whole).unwrap().1);
                }
            }
        }
    }
}
