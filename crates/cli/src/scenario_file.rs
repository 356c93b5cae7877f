//! A scenario's file: read, and its faults told at their lines.

use std::{
    fs::File,
    io::Read,
    path::{Path, PathBuf},
};

use dipward::{PlanError, Scenario};
use dipward_plugin::{Document, Error, Fault, Faults, Registry, pointer_to};
use serde_json::Value;

use crate::{console::Console, exit::Failure};

/// A file larger than this is no scenario; it is not read to its end.
const MAX_BYTES: u64 = 16 << 20;

/// A scenario's file, read as YAML.
#[derive(Debug)]
pub(crate) struct ScenarioFile {
    path: PathBuf,
    bytes: Vec<u8>,
    document: Document,
    console: Console,
}

impl ScenarioFile {
    /// Reads the file.
    pub(crate) fn open(path: &Path, console: Console) -> Result<Self, Failure> {
        let shown = path.display();
        let bytes =
            read(path).map_err(|error| Failure::request(format_args!("{shown}: {error}")))?;
        let text = std::str::from_utf8(&bytes).map_err(|error| {
            let line = 1 + bytes[..error.valid_up_to()].iter().filter(|&&b| b == b'\n').count();
            Failure::request(format_args!("{shown}:{line}: not UTF-8; save the file as UTF-8 text"))
        })?;
        // Editors of some systems put a mark before the first line.
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        match Document::parse(&shown.to_string(), text) {
            Ok(document) => Ok(Self { path: path.to_owned(), bytes, document, console }),
            Err(failed) => {
                let (document, faults) = *failed;
                Err(told(&document, &faults, console))
            }
        }
    }

    /// What the file says.
    pub(crate) fn value(&self) -> &Value {
        self.document.value()
    }

    /// The folder in which the files that it names are looked for.
    pub(crate) fn folder(&self) -> &Path {
        self.path.parent().unwrap_or(Path::new(""))
    }

    /// Reads and builds the scenario; its own file is the first of the run's inputs.
    pub(crate) fn scenario(
        &self,
        registry: &Registry,
        seed: Option<u64>,
    ) -> Result<Scenario, Failure> {
        let scenario = Scenario::read(&self.document, self.folder(), registry, seed)
            .map_err(|faults| self.failure_of_faults(&faults))?;
        let name = self.path.file_name().unwrap_or(self.path.as_os_str()).to_string_lossy();
        scenario.context.note(&name, &self.bytes);
        Ok(scenario)
    }

    /// The failure that faults of the scenario are.
    pub(crate) fn failure_of_faults(&self, faults: &Faults) -> Failure {
        told(&self.document, faults, self.console)
    }

    /// The failure of a plan; a file at fault is shown where the scenario names it.
    pub(crate) fn failure_of_plan(&self, error: PlanError) -> Failure {
        let error = match error {
            PlanError::Faults(faults) => return self.failure_of_faults(&faults),
            PlanError::Error(error) => error,
            other => return Failure::other(other),
        };
        if let Error::File { path, .. } = &error
            && let Some(pointer) = pointer_to_text(self.document.value(), &path.to_string_lossy())
        {
            return self.failure_of_faults(&Fault::at(pointer, error.to_string()).into());
        }
        error.into()
    }
}

fn read(path: &Path) -> Result<Vec<u8>, String> {
    let file = File::open(path).map_err(|error| error.to_string())?;
    let mut bytes = Vec::new();
    file.take(MAX_BYTES + 1).read_to_end(&mut bytes).map_err(|error| error.to_string())?;
    if bytes.len() as u64 > MAX_BYTES {
        return Err(format!("larger than {} MiB, too large for a scenario", MAX_BYTES >> 20));
    }
    Ok(bytes)
}

/// All faults in the order of their lines, and how many there are.
fn told(document: &Document, faults: &Faults, console: Console) -> Failure {
    let mut sorted: Vec<&Fault> = faults.as_slice().iter().collect();
    sorted.sort_by_key(|fault| document.line(fault));
    // The same fault may be met on two ways.
    sorted.dedup();
    let mut text: String =
        sorted.iter().map(|fault| document.render(fault, console.coloured) + "\n\n").collect();
    let count = sorted.len();
    text.push_str(&format!(
        "{count} {} in {}; nothing was written",
        if count == 1 { "fault" } else { "faults" },
        document.name()
    ));
    Failure::Request(text)
}

/// Where a text stands in a tree, the first place in the order of the tree.
fn pointer_to_text(value: &Value, wanted: &str) -> Option<String> {
    match value {
        Value::String(text) => (text == wanted).then(String::new),
        Value::Array(items) => items.iter().enumerate().find_map(|(index, item)| {
            Some(pointer_to("", &index.to_string()) + &pointer_to_text(item, wanted)?)
        }),
        Value::Object(map) => map
            .iter()
            .find_map(|(key, item)| Some(pointer_to("", key) + &pointer_to_text(item, wanted)?)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn a_text_is_found_where_it_stands() {
        let tree = json!({"a": ["x", {"b/c": "ice.tif"}], "d": "ice.tif"});
        assert_eq!(pointer_to_text(&tree, "ice.tif").as_deref(), Some("/a/1/b~1c"));
        assert_eq!(pointer_to_text(&tree, "no.tif"), None);
    }
}
