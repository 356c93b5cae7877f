//! The plan that is being sailed, as its ranking tells it.

use std::path::Path;

use dipward_plugin::{Approach, Error, Ranking, SCHEMA_VERSION};
use serde_json::Value;

use super::PlanIdentity;

/// One approach of a ranking that was written earlier.
#[derive(Debug, Clone, PartialEq)]
pub struct FormerPlan {
    /// What the plan is known by.
    pub identity: PlanIdentity,
    /// The approach that is being sailed.
    pub approach: Approach,
}

impl FormerPlan {
    /// Reads a plan from the bytes of a `ranking.json`.
    ///
    /// # Arguments
    ///
    /// * `path`: the file, for messages.
    /// * `sha256`: the digest of the bytes, in hex.
    /// * `id`: the approach that is being sailed; the first of the ranking by default.
    ///
    /// # Errors
    ///
    /// [`Error::File`] for what is no ranking, a ranking of another layout, one without the approach
    /// and an approach without a way.
    pub fn read(
        path: &Path,
        bytes: &[u8],
        sha256: String,
        id: Option<&str>,
    ) -> Result<Self, Error> {
        let refuse = |message: String| Error::File { path: path.to_owned(), message };
        // The version is looked at first: a file of another layout has other faults to tell of.
        let value: Value = serde_json::from_slice(bytes)
            .map_err(|error| refuse(format!("not a ranking: {error}")))?;
        match value.get("schema_version").and_then(Value::as_u64) {
            // The first layout has 0 where the second has nothing, and no groups: its rest is the same.
            Some(version) if (1..=u64::from(SCHEMA_VERSION)).contains(&version) => {}
            Some(version) => {
                return Err(refuse(format!(
                    "its schema_version is {version}, this program reads 1 to {SCHEMA_VERSION}: plan again"
                )));
            }
            None => return Err(refuse("not a ranking: it has no schema_version".to_owned())),
        }
        let ranking: Ranking = serde_json::from_value(value)
            .map_err(|error| refuse(format!("not a ranking: {error}")))?;
        let approach = match id {
            None => ranking.approaches.first(),
            Some(id) => ranking.approaches.iter().find(|approach| approach.id == id),
        };
        let Some(approach) = approach else {
            let known: Vec<&str> =
                ranking.approaches.iter().map(|approach| approach.id.as_str()).collect();
            return Err(refuse(match id {
                Some(id) if !known.is_empty() => {
                    format!("has no approach `{id}`; it has {}", known.join(", "))
                }
                _ => "has no feasible approach".to_owned(),
            }));
        };
        let ways = [("out", &approach.waypoints), ("home", &approach.home)];
        for (name, way) in ways {
            let wrong = way.iter().any(|point| {
                !(-90.0..=90.0).contains(&point.latitude_deg) || !point.longitude_deg.is_finite()
            });
            if way.len() < 2 || wrong {
                return Err(refuse(format!(
                    "the way {name} of `{}` is not a line of waypoints on the Earth",
                    approach.id
                )));
            }
        }
        let identity =
            PlanIdentity { id: approach.id.clone(), sha256, scenario: ranking.scenario.clone() };
        Ok(Self { identity, approach: approach.clone() })
    }
}
