//! `ranking.json` and `run.json`.

use dipward_plugin::{BuildContext, Error, Faults, OutputFile, Report, Spec, Writer, WriterPoint};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Keys of the kind `ranking_json`.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RankingJsonSpec {}

/// Writes the ranking for other programs, `ranking.json`.
#[derive(Debug, Clone, Copy, Default)]
pub struct RankingJson;

impl Spec for RankingJsonSpec {
    type Point = WriterPoint;
    const KIND: &'static str = "ranking_json";
    const SUMMARY: &'static str = "the ranking for other programs, ranking.json";
    const EXAMPLE: &'static str = "{kind: ranking_json}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Writer>, Faults> {
        Ok(Box::new(RankingJson))
    }
}

impl Writer for RankingJson {
    fn files(&self, report: &Report) -> Result<Vec<OutputFile>, Error> {
        json_file("ranking.json", &report.ranking)
    }
}

/// Keys of the kind `run_json`.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RunJsonSpec {}

/// Writes how the result came about, `run.json`: the one file that differs from run to run, because
/// it holds the timings.
#[derive(Debug, Clone, Copy, Default)]
pub struct RunJson;

impl Spec for RunJsonSpec {
    type Point = WriterPoint;
    const KIND: &'static str = "run_json";
    const SUMMARY: &'static str = "version, seed, input hashes and timings, run.json";
    const EXAMPLE: &'static str = "{kind: run_json}";

    fn build(self, _: &BuildContext) -> Result<Box<dyn Writer>, Faults> {
        Ok(Box::new(RunJson))
    }
}

impl Writer for RunJson {
    fn files(&self, report: &Report) -> Result<Vec<OutputFile>, Error> {
        json_file("run.json", &report.run)
    }
}

/// One indented JSON file with a line end at its end.
fn json_file(name: &str, value: &impl Serialize) -> Result<Vec<OutputFile>, Error> {
    let mut bytes = serde_json::to_vec_pretty(value)
        .map_err(|error| Error::Unsolved(format!("{name} cannot be written: {error}")))?;
    bytes.push(b'\n');
    Ok(vec![OutputFile { name: name.to_owned(), bytes }])
}
