//! The journal of a slice: cases are noted as they are done, so that a kill loses those in hand alone.
//!
//! ```text
//! {"dipward_journal":1,"study_sha256":"…"}
//! {"case":121,…}     one line a case, in the order in which they were done
//! ```
//!
//! What follows the first line that cannot be read was not written to its end and is dropped. While a
//! run has the slice in hand it holds a lock on the journal.

use std::{
    fs::{self, File, TryLockError},
    io::{self, Read, Seek, SeekFrom, Write},
    ops::Range,
    path::{Path, PathBuf},
};

use dipward_plugin::{Error, SeasonCase};
use serde_json::json;

use crate::exit::Failure;

#[derive(Debug)]
pub(super) struct Journal {
    path: PathBuf,
    file: File,
    cases: Vec<SeasonCase>,
}

impl Journal {
    /// Opens the journal of a range; what an earlier run noted in it for the same study is kept.
    pub(super) fn open(
        folder: &Path,
        study_sha256: &str,
        range: &Range<u64>,
    ) -> Result<Self, Failure> {
        let path = folder.join(super::parts::name(range, "journal"));
        let failed = |error: io::Error| Failure::other(format_args!("{}: {error}", path.display()));
        let mut file = File::options()
            .create(true)
            .truncate(false)
            .read(true)
            .write(true)
            .open(&path)
            .map_err(failed)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(Failure::other(format_args!(
                    "{}: another run has these cases in hand",
                    path.display()
                )));
            }
            // Some network folders know no locks; two runs then do the same work twice.
            Err(TryLockError::Error(_)) => {}
        }
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(failed)?;
        let head = format!("{}\n", json!({"dipward_journal": 1, "study_sha256": study_sha256}));
        let (cases, whole) = read(&bytes, head.as_bytes(), range);
        file.set_len(whole as u64).map_err(failed)?;
        file.seek(SeekFrom::End(0)).map_err(failed)?;
        if whole == 0 {
            file.write_all(head.as_bytes()).map_err(failed)?;
        }
        Ok(Self { path, file, cases })
    }

    /// The cases that an earlier run noted.
    pub(super) fn take_cases(&mut self) -> Vec<SeasonCase> {
        std::mem::take(&mut self.cases)
    }

    /// Notes cases.
    ///
    /// # Errors
    ///
    /// [`Error::File`] with what the system says.
    pub(super) fn append(&mut self, cases: &[SeasonCase]) -> Result<(), Error> {
        let failed = |error: io::Error| Error::File {
            path: self.path.clone(),
            message: format!("cannot be written: {error}"),
        };
        let mut lines = Vec::new();
        for case in cases {
            serde_json::to_writer(&mut lines, case).map_err(|error| failed(error.into()))?;
            lines.push(b'\n');
        }
        self.file.write_all(&lines).and_then(|()| self.file.sync_data()).map_err(failed)
    }

    /// Takes the journal away: its cases stand in a part.
    pub(super) fn remove(self) {
        // One that stays is read again and does no harm.
        let _ = fs::remove_file(&self.path);
    }
}

/// The cases of a journal and the length of what is whole in it; nothing of another study's.
fn read(bytes: &[u8], head: &[u8], range: &Range<u64>) -> (Vec<SeasonCase>, usize) {
    let Some(body) = bytes.strip_prefix(head) else { return (Vec::new(), 0) };
    let (mut cases, mut whole) = (Vec::new(), head.len());
    for line in body.split_inclusive(|&byte| byte == b'\n') {
        let read = line.strip_suffix(b"\n").map(serde_json::from_slice::<SeasonCase>);
        match read {
            Some(Ok(case)) if range.contains(&case.case) => cases.push(case),
            _ => break,
        }
        whole += line.len();
    }
    (cases, whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn case(number: u64) -> SeasonCase {
        SeasonCase {
            case: number,
            year: "2027".to_owned(),
            craft: "RV Aster".to_owned(),
            port: "Haven".to_owned(),
            day: "01-08".to_owned(),
            policy: "hold".to_owned(),
            depart: "2027-01-08T00:00Z".parse().unwrap(),
            seed: 3,
            outcome: None,
            reason: Some("no open way".to_owned()),
        }
    }

    #[test]
    fn what_is_noted_is_kept_and_what_is_torn_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let range = 3..9;
        let open = |study: &str| Journal::open(folder.path(), study, &range);
        let mut journal = open("abc").unwrap();
        assert!(journal.take_cases().is_empty());
        journal.append(&[case(3), case(4)]).unwrap();
        assert!(matches!(open("abc"), Err(Failure::Other(_))), "it is in hand");
        let path = journal.path.clone();
        drop(journal);

        let whole = fs::read(&path).unwrap();
        for torn in 0..whole.len() {
            fs::write(&path, &whole[..torn]).unwrap();
            let mut journal = open("abc").unwrap();
            let kept = journal.take_cases();
            assert!(kept.len() < 2 && kept.iter().zip([3, 4]).all(|(one, n)| one.case == n));
            journal.append(&[case(7)]).unwrap();
            drop(journal);
            let again = open("abc").unwrap().take_cases();
            assert_eq!(again.len(), kept.len() + 1);
            assert_eq!(again.last(), Some(&case(7)));
        }
        fs::write(&path, &whole).unwrap();
        assert_eq!(open("abc").unwrap().take_cases(), [case(3), case(4)]);
        assert!(open("another").unwrap().take_cases().is_empty());
    }
}
