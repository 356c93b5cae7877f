use serde::{Deserialize, Serialize};

/// Where numbers come from, carried into every report.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Provenance {
    /// What it is, in a few words ("IGRF-14, degree 13").
    pub name: String,
    /// Publication, DOI or file.
    pub source: String,
    /// Licence of the data, if any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub licence: Option<String>,
}

/// A number or a relation that the result rests on and that nobody measured for this voyage.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Assumption {
    /// The part that makes it ("pole.disturbance").
    pub part: String,
    /// The assumption, in one sentence.
    pub text: String,
}

impl Assumption {
    /// An assumption made by `part`.
    #[must_use]
    pub fn new(part: impl Into<String>, text: impl Into<String>) -> Self {
        Self { part: part.into(), text: text.into() }
    }
}
