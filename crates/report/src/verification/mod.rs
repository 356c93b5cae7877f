//! The files of `dipward verify`: `verification.json`, and a page with model beside record.

mod page;
mod reliability;

use std::io;

use dipward_field::verification::Verification;
use dipward_plugin::OutputFile;
use serde::Serialize;

/// A verification as other programs read it.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct VerificationTold<'a> {
    /// The caution shown first.
    pub caution: &'a str,
    /// Of the program.
    pub version: &'a str,
    /// The scores.
    #[serde(flatten)]
    pub verification: &'a Verification,
}

/// The JSON and the page of a verification.
///
/// # Errors
///
/// None that is known: numbers and texts can be written as JSON.
pub fn verification_files(told: &VerificationTold<'_>) -> io::Result<Vec<OutputFile>> {
    let mut json = serde_json::to_vec_pretty(told)?;
    json.push(b'\n');
    let page = page::page(told.caution, told.verification).into_bytes();
    Ok(vec![
        OutputFile { name: "verification.json".to_owned(), bytes: json },
        OutputFile { name: "verification.html".to_owned(), bytes: page },
    ])
}
