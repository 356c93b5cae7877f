//! Putting all files of a run in place, or none.
//!
//! ```text
//!   new folder        stage beside it, sync, one rename of the whole folder
//!   existing folder   stage inside it, sync
//!                     manifest "being written" (old and new names), run.json away
//!                     rename file by file, remove what only the former run had, sync
//!                     manifest "whole", run.json last
//! ```
//!
//! Until the first rename nothing outside the staging folder has changed, and that folder goes when
//! the call fails. A process that is killed between two renames leaves a folder whose manifest says
//! so and that has no `run.json`; the manifest names the files of both runs, so the next run into the
//! folder clears what the killed one left.

use std::{
    collections::BTreeSet,
    fs::{self, File},
    io::{self, Write},
    path::{Component, Path, PathBuf},
};

use dipward_plugin::OutputFile;
use tempfile::TempDir;

/// Name of the list of a run's own files within its output folder.
///
/// The first line says whether the folder is whole; each further line is a file's name. Files that
/// the list does not name belong to somebody else and are left alone.
pub const MANIFEST: &str = ".dipward-outputs";

/// The file that appears last and goes first.
const LAST: &str = "run.json";
const WHOLE: &str = "dipward outputs, whole";
const BEING_WRITTEN: &str = "dipward outputs, being written";

/// Writes all files of a run into a folder so that a half-written run is never taken for a whole one.
///
/// A folder that does not exist appears in one step with everything in it. In a folder that exists,
/// files of the same names are replaced, files of a former run that this run does not write are
/// removed, and all other files are left alone; `run.json` is renamed into place last.
///
/// A program that stops on a signal should let this call end: it takes as long as the disk needs, and
/// its last part is a run of renames.
///
/// # Errors
///
/// [`io::ErrorKind::InvalidInput`] for a name that is empty, absolute, leads out of the folder, is
/// there twice or is [`MANIFEST`]; otherwise what the system says. After an error before the first
/// rename nothing has changed.
pub fn write_all(dir: &Path, files: &[OutputFile]) -> io::Result<()> {
    let names = checked_names(files)?;
    match fs::metadata(dir) {
        Ok(found) if found.is_dir() => replace(dir, files, &names),
        Ok(_) => Err(named(
            dir,
            io::Error::new(io::ErrorKind::NotADirectory, "exists and is not a folder"),
        )),
        Err(error) if error.kind() == io::ErrorKind::NotFound => create(dir, files, &names),
        Err(error) => Err(named(dir, error)),
    }
}

fn create(dir: &Path, files: &[OutputFile], names: &BTreeSet<String>) -> io::Result<()> {
    let parent = match dir.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    // Parents that are missing are made only when all is staged, so that a failure leaves none.
    let standing = parent.ancestors().find(|path| path.is_dir()).unwrap_or(Path::new("."));
    let staging = staging_in(standing)?;
    // A folder of our own making has the rights that the user's mask gives; the staging folder is
    // private.
    let whole = staging.path().join("whole");
    fs::create_dir(&whole)?;
    stage(&whole, files)?;
    write_synced(&whole.join(MANIFEST), manifest(WHOLE, names).as_bytes())?;
    sync_folders(&whole, names)?;
    fs::create_dir_all(parent).map_err(|error| named(parent, error))?;
    fs::rename(&whole, dir).map_err(|error| named(dir, error))?;
    sync_folder(parent)
}

fn replace(dir: &Path, files: &[OutputFile], names: &BTreeSet<String>) -> io::Result<()> {
    for name in names {
        refuse_folder_at(dir, name)?;
    }
    let staging = staging_in(dir)?;
    stage(staging.path(), files)?;
    let former = former_names(dir)?;
    let both: BTreeSet<String> = former.union(names).cloned().collect();

    // From here on the folder changes.
    put_manifest(dir, &staging, BEING_WRITTEN, &both)?;
    if both.contains(LAST) {
        remove_if_there(&dir.join(LAST))?;
    }
    sync_folder(dir)?;
    for name in names.iter().filter(|name| *name != LAST) {
        put(dir, &staging, name)?;
    }
    for name in former.difference(names) {
        remove_if_there(&dir.join(name))?;
        // Folders of ours that are now empty go too; one that holds a foreign file stays.
        for folder in Path::new(name).ancestors().skip(1).filter(|path| *path != Path::new("")) {
            if fs::remove_dir(dir.join(folder)).is_err() {
                break;
            }
        }
    }
    sync_folders(dir, names)?;
    put_manifest(dir, &staging, WHOLE, names)?;
    if names.contains(LAST) {
        put(dir, &staging, LAST)?;
    }
    sync_folder(dir)
}

fn staging_in(dir: &Path) -> io::Result<TempDir> {
    tempfile::Builder::new().prefix(".dipward-").tempdir_in(dir).map_err(|error| named(dir, error))
}

fn stage(staging: &Path, files: &[OutputFile]) -> io::Result<()> {
    for file in files {
        let path = staging.join(&file.name);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(|error| named(folder, error))?;
        }
        write_synced(&path, &file.bytes)?;
    }
    Ok(())
}

fn write_synced(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let write = || {
        let mut file = File::create(path)?;
        file.write_all(bytes)?;
        file.sync_all()
    };
    write().map_err(|error| named(path, error))
}

fn put(dir: &Path, staging: &TempDir, name: &str) -> io::Result<()> {
    let target = dir.join(name);
    if let Some(folder) = target.parent() {
        fs::create_dir_all(folder).map_err(|error| named(folder, error))?;
    }
    fs::rename(staging.path().join(name), &target).map_err(|error| named(&target, error))
}

fn put_manifest(
    dir: &Path,
    staging: &TempDir,
    state: &str,
    names: &BTreeSet<String>,
) -> io::Result<()> {
    write_synced(&staging.path().join(MANIFEST), manifest(state, names).as_bytes())?;
    put(dir, staging, MANIFEST)
}

fn manifest(state: &str, names: &BTreeSet<String>) -> String {
    let mut text = format!("{state}\n");
    for name in names {
        text.push_str(name);
        text.push('\n');
    }
    text
}

/// The files of the former run, by its manifest. Lines that lead out of the folder are not ours.
fn former_names(dir: &Path) -> io::Result<BTreeSet<String>> {
    let path = dir.join(MANIFEST);
    let text = match fs::read(&path) {
        Ok(bytes) => String::from_utf8_lossy(&bytes).into_owned(),
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(BTreeSet::new()),
        Err(error) => return Err(named(&path, error)),
    };
    let mut lines = text.lines();
    if !matches!(lines.next(), Some(WHOLE | BEING_WRITTEN)) {
        return Ok(BTreeSet::new());
    }
    Ok(lines.filter(|name| fault_of_name(name).is_none()).map(str::to_owned).collect())
}

fn checked_names(files: &[OutputFile]) -> io::Result<BTreeSet<String>> {
    let mut names = BTreeSet::new();
    for file in files {
        let fault = fault_of_name(&file.name)
            .or_else(|| (!names.insert(file.name.clone())).then_some("is written by two writers"));
        if let Some(fault) = fault {
            let message = format!("the output `{}` {fault}", file.name.escape_debug());
            return Err(io::Error::new(io::ErrorKind::InvalidInput, message));
        }
    }
    Ok(names)
}

fn fault_of_name(name: &str) -> Option<&'static str> {
    let path = Path::new(name);
    if name.is_empty() || name.ends_with('/') {
        Some("has no name")
    } else if name == MANIFEST {
        Some("has the name of the list of outputs")
    } else if name.contains('\\') || name.chars().any(char::is_control) {
        Some("has a character that a file's name should not have")
    } else if !path.components().all(|part| matches!(part, Component::Normal(_))) {
        Some("leads out of the output folder")
    } else {
        None
    }
}

/// Tells before anything changes that a file cannot go where a folder is, or below a file.
fn refuse_folder_at(dir: &Path, name: &str) -> io::Result<()> {
    let target = dir.join(name);
    if target.is_dir() {
        let error = io::Error::new(io::ErrorKind::IsADirectory, "is a folder, not a file");
        return Err(named(&target, error));
    }
    let folders = Path::new(name).ancestors().skip(1).map(|folder| dir.join(folder));
    for folder in folders {
        if folder.exists() && !folder.is_dir() {
            let error = io::Error::new(io::ErrorKind::NotADirectory, "is a file, not a folder");
            return Err(named(&folder, error));
        }
    }
    Ok(())
}

fn remove_if_there(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(named(path, error)),
        _ => Ok(()),
    }
}

/// Syncs the folder and every folder within it that holds one of the files.
fn sync_folders(dir: &Path, names: &BTreeSet<String>) -> io::Result<()> {
    let folders: BTreeSet<PathBuf> = names
        .iter()
        .flat_map(|name| Path::new(name).ancestors().skip(1).map(|folder| dir.join(folder)))
        .chain([dir.to_owned()])
        .collect();
    folders.iter().try_for_each(|folder| sync_folder(folder))
}

/// Makes renames in a folder last through a loss of power, where the system lets a folder be opened.
fn sync_folder(dir: &Path) -> io::Result<()> {
    if cfg!(unix) {
        let sync = || File::open(dir)?.sync_all();
        sync().map_err(|error| named(dir, error))
    } else {
        Ok(())
    }
}

fn named(path: &Path, error: io::Error) -> io::Error {
    io::Error::new(error.kind(), format!("{}: {error}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, text: &str) -> OutputFile {
        OutputFile { name: name.to_owned(), bytes: text.as_bytes().to_vec() }
    }

    /// All files below a folder, with `/` between.
    fn listing(dir: &Path) -> Vec<String> {
        let mut names = Vec::new();
        let mut folders = vec![dir.to_owned()];
        while let Some(folder) = folders.pop() {
            for entry in fs::read_dir(&folder).unwrap() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    folders.push(path);
                } else {
                    let name = path.strip_prefix(dir).unwrap().to_string_lossy().into_owned();
                    names.push(name.replace('\\', "/"));
                }
            }
        }
        names.sort();
        names
    }

    #[test]
    fn a_new_folder_appears_whole_with_its_parents() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path().join("a/b/out");
        write_all(&out, &[file("run.json", "{}"), file("routes/x.gpx", "x")]).unwrap();
        assert_eq!(listing(root.path()).len(), 3);
        assert_eq!(fs::read_to_string(out.join("routes/x.gpx")).unwrap(), "x");
        assert!(fs::read_to_string(out.join(MANIFEST)).unwrap().starts_with(WHOLE));
    }

    #[test]
    fn a_second_run_clears_its_own_leftovers_and_no_foreign_file() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path().join("out");
        write_all(&out, &[file("run.json", "1"), file("routes/old.gpx", ""), file("old/y", "")])
            .unwrap();
        fs::write(out.join("routes/mine.gpx"), "mine").unwrap();
        fs::write(out.join("notes.txt"), "mine").unwrap();
        write_all(&out, &[file("run.json", "2"), file("routes/new.gpx", "")]).unwrap();
        assert_eq!(
            listing(&out),
            [MANIFEST, "notes.txt", "routes/mine.gpx", "routes/new.gpx", "run.json"]
        );
        assert!(!out.join("old").exists());
        assert_eq!(fs::read_to_string(out.join("run.json")).unwrap(), "2");
    }

    #[test]
    fn a_run_that_cannot_be_written_changes_nothing() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path().join("out");
        write_all(&out, &[file("run.json", "1"), file("map.svg", "1")]).unwrap();
        fs::create_dir(out.join("report.html")).unwrap();
        let before = listing(&out);
        let failed = write_all(&out, &[file("map.svg", "2"), file("report.html", "2")]);
        assert_eq!(failed.unwrap_err().kind(), io::ErrorKind::IsADirectory);
        assert_eq!(listing(&out), before);
        assert_eq!(fs::read_to_string(out.join("map.svg")).unwrap(), "1");

        let below_a_file = root.path().join("out/map.svg/deeper");
        assert!(write_all(&below_a_file, &[file("a", "")]).is_err());
        assert!(write_all(&out.join("map.svg"), &[file("a", "")]).is_err());
        assert_eq!(listing(&out), before);
    }

    #[test]
    fn the_next_run_clears_what_a_killed_one_left() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path();
        fs::create_dir(out.join("routes")).unwrap();
        fs::write(out.join("routes/half.gpx"), "").unwrap();
        let names = BTreeSet::from(["routes/half.gpx".to_owned(), "../outside".to_owned()]);
        fs::write(out.join(MANIFEST), manifest(BEING_WRITTEN, &names)).unwrap();
        write_all(out, &[file("ranking.json", "{}")]).unwrap();
        assert_eq!(listing(out), [MANIFEST, "ranking.json"]);
    }

    #[test]
    fn names_that_lead_elsewhere_are_refused() {
        let root = tempfile::tempdir().unwrap();
        let out = root.path().join("out");
        for name in ["", "/etc/x", "../x", "a/../../x", "a/", "a\nb", MANIFEST, "a\\b", "./x"] {
            let failed = write_all(&out, &[file(name, "")]);
            assert_eq!(failed.unwrap_err().kind(), io::ErrorKind::InvalidInput, "{name}");
        }
        let twice = write_all(&out, &[file("x", "1"), file("x", "2")]);
        assert_eq!(twice.unwrap_err().kind(), io::ErrorKind::InvalidInput);
        assert!(!out.exists());
    }

    #[cfg(unix)]
    #[test]
    fn a_new_folder_has_the_rights_of_any_new_folder() {
        use std::os::unix::fs::PermissionsExt;
        let root = tempfile::tempdir().unwrap();
        let plain = root.path().join("plain");
        fs::create_dir(&plain).unwrap();
        let out = root.path().join("out");
        write_all(&out, &[file("x", "")]).unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&plain), mode(&out));
    }
}
