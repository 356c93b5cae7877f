use super::{promise, specimen};
use crate::{OutputFile, Report, Writer};

/// Holds a writer to its contract: files for a report with approaches and for one without, names that
/// stay within the output folder on any system, and the same bytes when asked again.
///
/// # Errors
///
/// A sentence that says which promise the writer breaks.
pub fn check_writer(writer: &dyn Writer) -> Result<(), String> {
    let report = specimen::report();
    let mut without = report.clone();
    without.ranking.approaches.clear();
    without.profiles.clear();
    without.attainment_on_station.clear();
    for report in [report, without] {
        let files = files(writer, &report)?;
        let mut names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
        for name in &names {
            promise(stays_within(name), || format!("`{name}` is no name within a folder"))?;
        }
        names.sort_unstable();
        names.dedup();
        promise(names.len() == files.len(), || format!("two files have one name: {names:?}"))?;
        promise(self::files(writer, &report)? == files, || {
            "the files change when they are made again".to_owned()
        })?;
    }
    Ok(())
}

fn files(writer: &dyn Writer, report: &Report) -> Result<Vec<OutputFile>, String> {
    let count = report.ranking.approaches.len();
    writer.files(report).map_err(|error| format!("a report of {count} approaches: {error}"))
}

/// Parts between slashes, none of them empty, `.` or `..`, no drive and no backslash.
fn stays_within(name: &str) -> bool {
    !name.contains(['\\', ':', '\0'])
        && name.split('/').all(|part| !part.is_empty() && part != "." && part != "..")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_lead_out_of_the_folder_are_told() {
        for name in ["map.svg", "routes/a-1.gpx", "..dots"] {
            assert!(stays_within(name), "{name}");
        }
        for name in ["", "/etc/x", "../x", "a/../x", "a//b", "a/", "./a", "C:x", "a\\b"] {
            assert!(!stays_within(name), "{name}");
        }
    }
}
