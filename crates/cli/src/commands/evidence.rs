//! `dipward evidence`.

mod page;

use std::io::Write;

use dipward_field::{BearingCorrection, Evidence, evidence as weigh};
use dipward_plugin::OutputFile;
use serde::Serialize;

use crate::{
    arguments::{CAUTION, Evidence as Request},
    commands::{
        main_field::main_field,
        output::{check_folder, json_file, print_as, write_files},
        readings::{corrected, readings, settings},
    },
    exit::Failure,
    run::Session,
};

/// The record as other programs read it.
#[derive(Debug, Serialize)]
struct Record<'a> {
    caution: &'a str,
    version: &'a str,
    #[serde(flatten)]
    evidence: &'a Evidence,
    /// What the ship's deviation did to bearings; of all readings given, those left out included.
    bearing_corrections: &'a [BearingCorrection],
}

pub(crate) fn evidence(session: &Session<'_>, request: &Request) -> Result<(), Failure> {
    check_folder(&request.out)?;
    if !(0.0..=1000.0).contains(&request.within_km) {
        return Err(Failure::request("--within-km is not within 0 to 1000"));
    }
    let (readings, hemisphere) = readings(&request.readings, request.hemisphere)?;
    let built = main_field(session, &request.model, hemisphere)?;
    let model = built.object.as_ref();
    let (readings, corrections) = corrected(session, model, readings, &request.belief)?;
    let settings = settings(&request.belief);
    let found = weigh(model, hemisphere, &readings, request.within_km, &settings)?;
    let record = Record {
        caution: CAUTION,
        version: env!("CARGO_PKG_VERSION"),
        evidence: &found,
        bearing_corrections: &corrections,
    };
    let files = [
        json_file("evidence.json", &record)?,
        OutputFile { name: "evidence.html".into(), bytes: page::page(&found).into_bytes() },
    ];
    write_files(session, &request.out, &files)?;
    print_as(request.format, &record, |out| {
        for claim in page::claims(&found) {
            let answer = if claim.attained { "yes" } else { "no" };
            writeln!(out, "{answer:4}{}: {}", claim.title, claim.told)?;
        }
        Ok(())
    })?;
    session.console.note(&format!("2 files written to {}", request.out.display()));
    Ok(())
}
