//! `dipward kinds`.

mod key_table;
mod reference;

use std::io::{self, Write};

use dipward_plugin::{Kind, SLOTS};
use serde_json::{Value, json};

use crate::{
    arguments::{Format, Kinds},
    console,
    exit::Failure,
    run::Session,
};

pub(crate) fn kinds(session: &Session<'_>, request: &Kinds) -> Result<(), Failure> {
    let registry = session.registry;
    if request.markdown {
        return console::print(|out| out.write_all(reference::reference(registry).as_bytes()));
    }
    match request.format {
        Format::Json => {
            let list: Vec<Value> = registry.kinds().map(entry).collect();
            console::print(|out| {
                serde_json::to_writer_pretty(&mut *out, &list).map_err(io::Error::from)?;
                writeln!(out)
            })
        }
        Format::Table => {
            let wide = registry.kinds().map(|kind| kind.name.len()).max().unwrap_or(0);
            console::print(|out| {
                for slot in SLOTS {
                    writeln!(out, "{slot}")?;
                    for kind in registry.kinds_of(slot) {
                        writeln!(out, "  {:wide$}  {}", kind.name, kind.summary)?;
                    }
                }
                Ok(())
            })
        }
    }
}

fn entry(kind: &Kind) -> Value {
    json!({
        "slot": kind.slot,
        "kind": kind.name,
        "summary": kind.summary,
        "example": kind.example,
        "schema": kind.schema,
    })
}
