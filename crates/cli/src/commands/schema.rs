//! `dipward schema`.

use std::io::{self, Write};

use dipward::combined_schema;

use crate::{console, exit::Failure, run::Session};

pub(crate) fn schema(session: &Session<'_>) -> Result<(), Failure> {
    let schema = combined_schema(session.registry);
    console::print(|out| {
        serde_json::to_writer_pretty(&mut *out, &schema).map_err(io::Error::from)?;
        writeln!(out)
    })
}
