//! `dipward schema`.

use std::io::{self, Write};

use dipward::{combined_schema, study_schema};
use serde_json::{Map, Value};

use crate::{arguments::Schema, console, exit::Failure, run::Session};

const DRAFT: &str = "https://json-schema.org/draft/2020-12/schema";

pub(crate) fn schema(session: &Session<'_>, wanted: &Schema) -> Result<(), Failure> {
    let (title, whole) = if wanted.study {
        ("A study of dipward", study_schema(session.registry))
    } else {
        ("A scenario of dipward", combined_schema(session.registry))
    };
    // What it is stands first, for those who read it from the top.
    let mut schema = Map::from_iter([
        ("$schema".to_owned(), Value::from(DRAFT)),
        ("title".to_owned(), Value::from(title)),
    ]);
    if let Value::Object(rest) = whole {
        schema.extend(rest.into_iter().filter(|(key, _)| key != "$schema" && key != "title"));
    }
    console::print(|out| {
        serde_json::to_writer_pretty(&mut *out, &schema).map_err(io::Error::from)?;
        writeln!(out)
    })
}
