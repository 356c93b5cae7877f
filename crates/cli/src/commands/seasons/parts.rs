//! The parts of a study in their folder.

use std::{
    fs::{self, File},
    io::{self, Write},
    ops::Range,
    path::{Path, PathBuf},
};

use dipward_plugin::SeasonCase;

use crate::{console::Console, exit::Failure};

/// The parts' folder within the output folder.
const FOLDER: &str = "parts";

#[derive(Debug)]
pub(super) struct Parts {
    folder: PathBuf,
    study_sha256: String,
}

/// A part as it was found.
struct Found {
    path: PathBuf,
    /// Its first case and its cases, or why it is not whole.
    read: Result<(u64, Vec<SeasonCase>), String>,
}

impl Parts {
    /// The parts of a study in an output folder, which need not be there.
    pub(super) fn new(out: &Path, study_sha256: &str) -> Self {
        Self { folder: out.join(FOLDER), study_sha256: study_sha256.to_owned() }
    }

    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Makes the folder.
    pub(super) fn make(&self) -> Result<(), Failure> {
        fs::create_dir_all(&self.folder).map_err(|error| failed(&self.folder, &error))
    }

    /// Sets parts that are torn aside, so that their cases are evaluated anew.
    ///
    /// # Returns
    ///
    /// The ranges of the whole parts.
    pub(super) fn set_torn_aside(&self, console: Console) -> Result<Vec<Range<u64>>, Failure> {
        let mut whole = Vec::new();
        for Found { path, read } in self.found()? {
            match read {
                Ok((from, cases)) => whole.push(from..from + cases.len() as u64),
                Err(why) => {
                    let mut aside = path.clone().into_os_string();
                    aside.push(".torn");
                    fs::rename(&path, &aside).map_err(|error| failed(&path, &error))?;
                    console.say(&format!(
                        "{}: {why}; it is set aside as {} and its cases are evaluated anew",
                        path.display(),
                        Path::new(&aside).display()
                    ));
                }
            }
        }
        Ok(whole)
    }

    /// All cases of a study, joined from the parts.
    ///
    /// # Errors
    ///
    /// Which part is torn, which ranges are missing, which parts contradict each other.
    pub(super) fn all(&self, count: u64) -> Result<Vec<SeasonCase>, Failure> {
        let mut all: Vec<SeasonCase> = Vec::new();
        let mut whole: Vec<Range<u64>> = Vec::new();
        for Found { path, read } in self.found()? {
            let (from, cases) = read.map_err(|why| {
                Failure::other(format_args!(
                    "{}: {why}; run `dipward seasons` again, which evaluates its cases anew",
                    path.display()
                ))
            })?;
            whole.push(from..from + cases.len() as u64);
            all.extend(cases);
        }
        let missing = less(&(0..count), &whole);
        if !missing.is_empty() {
            let ranges: Vec<String> =
                missing.iter().map(|range| format!("{}..{}", range.start, range.end)).collect();
            return Err(Failure::other(format_args!(
                "cases are missing in {}: {}; `dipward seasons` with --cases and such a range evaluates \
                 them",
                self.folder.display(),
                ranges.join(", ")
            )));
        }
        all.sort_by_key(|case| case.case);
        if let Some(pair) =
            all.windows(2).find(|pair| pair[0].case == pair[1].case && pair[0] != pair[1])
        {
            return Err(Failure::other(format_args!(
                "two parts in {} contradict each other in case {}; take one of them away",
                self.folder.display(),
                pair[0].case
            )));
        }
        all.dedup_by_key(|case| case.case);
        Ok(all)
    }

    /// Writes a part, for other programs in columns too; it appears whole or not at all.
    pub(super) fn write(&self, from: u64, cases: &[SeasonCase]) -> Result<(), Failure> {
        let range = from..from + cases.len() as u64;
        let columns = dipward_report::season_parquet(cases)?;
        let lines = dipward_report::part_bytes(&self.study_sha256, from, cases)?;
        // The lines come last: where they stand, the columns do.
        for (extension, bytes) in [("parquet", columns), ("jsonl", lines)] {
            let path = self.folder.join(name(&range, extension));
            put(&path, &bytes).map_err(|error| failed(&path, &error))?;
        }
        Ok(())
    }

    /// All parts in the order of their names.
    fn found(&self) -> Result<Vec<Found>, Failure> {
        let entries = match fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(failed(&self.folder, &error)),
        };
        let mut paths = Vec::new();
        for entry in entries {
            let path = entry.map_err(|error| failed(&self.folder, &error))?.path();
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            if name.starts_with(PREFIX) && name.ends_with(".jsonl") {
                paths.push(path);
            }
        }
        paths.sort();
        paths.into_iter().map(|path| self.read(path)).collect()
    }

    fn read(&self, path: PathBuf) -> Result<Found, Failure> {
        let bytes = fs::read(&path).map_err(|error| failed(&path, &error))?;
        let read = match dipward_report::read_part(&bytes) {
            Ok((head, _)) if head.study_sha256 != self.study_sha256 => {
                return Err(Failure::request(format_args!(
                    "{}: is of another study, of another version of it or of its files; give another \
                     folder to --out, or take the parts of that study away",
                    path.display()
                )));
            }
            Ok((head, cases)) => Ok((head.from, cases)),
            Err(why) => Err(why),
        };
        Ok(Found { path, read })
    }
}

const PREFIX: &str = "cases-";

/// The name of a file that holds a range of cases.
pub(super) fn name(range: &Range<u64>, extension: &str) -> String {
    format!("{PREFIX}{:08}-{:08}.{extension}", range.start, range.end)
}

/// Whole or not at all. What a killed run leaves under the name of its scratch file is written over.
fn put(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut scratch = path.to_owned().into_os_string();
    scratch.push(".new");
    let mut file = File::create(&scratch)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(&scratch, path)
}

fn failed(path: &Path, error: &io::Error) -> Failure {
    Failure::other(format_args!("{}: {error}", path.display()))
}

/// What of a range lies in none of the others, in order.
pub(super) fn less(range: &Range<u64>, others: &[Range<u64>]) -> Vec<Range<u64>> {
    let mut others = others.to_vec();
    others.retain(|other| !other.is_empty());
    others.sort_by_key(|other| (other.start, other.end));
    let mut left = Vec::new();
    let mut from = range.start;
    for other in others {
        let until = other.start.min(range.end);
        if from < until {
            left.push(from..until);
        }
        from = from.max(other.end);
    }
    if from < range.end {
        left.push(from..range.end);
    }
    left
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_range_less_others_is_what_counting_finds(
            start in 0_u64..30,
            length in 0_u64..30,
            others in proptest::collection::vec((0_u64..60, 0_u64..20), 0..6),
        ) {
            let range = start..start + length;
            let others: Vec<Range<u64>> =
                others.into_iter().map(|(from, length)| from..from + length).collect();
            let found = less(&range, &others);
            let counted: Vec<u64> = range
                .clone()
                .filter(|case| !others.iter().any(|other| other.contains(case)))
                .collect();
            prop_assert_eq!(found.iter().cloned().flatten().collect::<Vec<u64>>(), counted);
            // No two could be one.
            prop_assert!(found.windows(2).all(|pair| pair[0].end < pair[1].start));
            prop_assert!(found.iter().all(|range| !range.is_empty()));
        }
    }
}
