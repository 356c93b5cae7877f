//! Which of the fields that files hold for a quantity make its forecast: of which run, of which member.

use std::fmt::Write as _;

use dipward_plugin::Fault;
use jiff::Timestamp;

use super::EnsembleMember;
use crate::image::{ForecastMember, GribEntry, GribFile, Parameter};

/// A field that a file offers.
#[derive(Debug, Clone, Copy)]
pub(super) struct Offer<'a> {
    pub(super) file: &'a GribFile,
    pub(super) entry: &'a GribEntry,
}

impl Offer<'_> {
    pub(super) fn valid(&self) -> Timestamp {
        self.entry.product.validity.instant()
    }

    fn run(&self) -> Timestamp {
        self.entry.product.run
    }
}

/// The fields of one parameter, one a time, in order of time.
#[derive(Debug, Default)]
pub(super) struct Chosen<'a> {
    pub(super) offers: Vec<Offer<'a>>,
    /// What was left out or taken for granted, in words.
    pub(super) notes: Vec<String>,
}

/// What the scenario says of the choice.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wish {
    pub(super) member: Option<EnsembleMember>,
    pub(super) run: Option<Timestamp>,
}

/// Chooses among the fields of a parameter.
///
/// Instants go before means. The newest run speaks for all the time from its first field to its last, and
/// older ones before and after that. Of several members none is chosen unless the scenario does.
///
/// # Errors
///
/// When it is ambiguous which field counts, with the key that settles it.
pub(super) fn choose<'a>(
    name: &str,
    parameter: Parameter,
    mut offers: Vec<Offer<'a>>,
    wish: Wish,
) -> Result<Chosen<'a>, Fault> {
    let mut notes = Vec::new();
    let at = |message: String| Fault::at("/files", message);
    of_one_level(name, &mut offers, &mut notes).map_err(at)?;
    let before = offers.len();
    if offers.iter().any(|offer| !offer.entry.product.validity.is_mean()) {
        offers.retain(|offer| !offer.entry.product.validity.is_mean());
        if offers.len() < before {
            let count = before - offers.len();
            notes.push(format!("{count} means of {name} are passed over, as there are instants"));
        }
    } else if before > 0 {
        notes.push(format!("{name} is told as means, each taken for the middle of its interval"));
    }
    of_one_member(name, parameter, &mut offers, wish, &mut notes)?;
    if let Some(run) = wish.run {
        let there = runs(&offers);
        offers.retain(|offer| offer.run() == run);
        if offers.is_empty() && !there.is_empty() {
            return Err(Fault::at(
                "/run",
                format!("{name} is there of the runs {}, but of no run of {run}", list(&there)),
            ));
        }
    }
    newest(name, &mut offers, &mut notes);
    without_repeats(name, &mut offers).map_err(at)?;
    Ok(Chosen { offers, notes })
}

/// Leaves the surface where there are several levels.
fn of_one_level(
    name: &str,
    offers: &mut Vec<Offer<'_>>,
    notes: &mut Vec<String>,
) -> Result<(), String> {
    let mut levels: Vec<String> = Vec::new();
    for level in offers.iter().filter_map(|offer| offer.entry.product.level) {
        let level = level.to_string();
        if !levels.contains(&level) {
            levels.push(level);
        }
    }
    if levels.len() < 2 {
        return Ok(());
    }
    let at_surface =
        |offer: &Offer<'_>| offer.entry.product.level.is_some_and(|level| level.is_surface());
    if !offers.iter().any(at_surface) {
        return Err(format!(
            "has {name} at {}, and it is not said which counts: leave the others out, with ecCodes by \
             `grib_copy -w`",
            levels.join(", ")
        ));
    }
    // Winds told for a height are surer than those told for the surface.
    let wind = name.starts_with("wind");
    let before = offers.len();
    offers.retain(|offer| at_surface(offer) != wind);
    notes.push(format!(
        "{} fields of {name} at other levels than {} are passed over",
        before - offers.len(),
        if wind { "10 m" } else { "the surface" }
    ));
    Ok(())
}

fn of_one_member(
    name: &str,
    (discipline, category, number): Parameter,
    offers: &mut Vec<Offer<'_>>,
    wish: Wish,
    notes: &mut Vec<String>,
) -> Result<(), Fault> {
    let mut members: Vec<ForecastMember> =
        offers.iter().map(|offer| offer.entry.product.member).collect();
    members.sort();
    members.dedup();
    let words = || {
        let words: Vec<String> = members.iter().map(ToString::to_string).collect();
        words.join(", ")
    };
    match wish.member {
        Some(wanted) if members.iter().any(|member| *member != ForecastMember::Single) => {
            let fits: Vec<ForecastMember> =
                members.iter().copied().filter(|member| wanted.is(*member)).collect();
            let &[one] = fits.as_slice() else {
                let many = if fits.is_empty() { "none" } else { "more than one" };
                return Err(Fault::at(
                    "/member",
                    format!("{name} is there of {}: {many} of them is the wanted", words()),
                ));
            };
            offers.retain(|offer| offer.entry.product.member == one);
        }
        _ if members.len() > 1 => {
            return Err(Fault::at(
                "/files",
                format!(
                    "{name} ({discipline}/{category}/{number}) is there of an ensemble ({}), and it is \
                     not said which counts",
                    words()
                ),
            )
            .help(
                "state `member: control`, `member: mean` or `member: {perturbed: 1}`; one layer for each \
                 shows how they differ",
            ));
        }
        _ => {}
    }
    if let Some(member) = offers.first().map(|offer| offer.entry.product.member)
        && member != ForecastMember::Single
    {
        notes.push(format!("{name} is that of {member} of an ensemble"));
    }
    Ok(())
}

/// The runs of some fields, newest first.
fn runs(offers: &[Offer<'_>]) -> Vec<Timestamp> {
    let mut runs: Vec<Timestamp> = offers.iter().map(Offer::run).collect();
    runs.sort();
    runs.dedup();
    runs.reverse();
    runs
}

fn list(runs: &[Timestamp]) -> String {
    runs.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

/// Leaves older runs only before the first and after the last field of the newer ones.
fn newest(name: &str, offers: &mut Vec<Offer<'_>>, notes: &mut Vec<String>) {
    let runs = runs(offers);
    let Some((newest, older)) = runs.split_first() else { return };
    let mut text = format!("{name} is of the run of {newest}");
    let span = |offers: &[Offer<'_>], run: Timestamp| {
        let valid = offers.iter().filter(|offer| offer.run() == run).map(Offer::valid);
        valid.clone().min().zip(valid.max())
    };
    let Some((mut first, mut last)) = span(offers, *newest) else { return };
    for run in older {
        offers.retain(|offer| offer.run() != *run || offer.valid() < first || offer.valid() > last);
        if let Some((from, until)) = span(offers, *run) {
            if from < first {
                _ = write!(text, ", before {first} of the run of {run}");
            }
            if until > last {
                _ = write!(text, ", after {last} of the run of {run}");
            }
            first = first.min(from);
            last = last.max(until);
        }
    }
    if !older.is_empty() {
        _ = write!(text, ", the newest of {}", list(&runs));
    }
    notes.push(text);
}

/// Sorts by time, and leaves one of fields that are the same.
fn without_repeats(name: &str, offers: &mut Vec<Offer<'_>>) -> Result<(), String> {
    offers.sort_by_key(Offer::valid);
    let mut kept: Vec<Offer<'_>> = Vec::with_capacity(offers.len());
    for offer in offers.drain(..) {
        match kept.last() {
            Some(last) if last.valid() == offer.valid() => {
                let same = last.file.same(last.entry, offer.file, offer.entry);
                if !same.map_err(|error| error.to_string())? {
                    return Err(format!(
                        "has two different fields of {name} for {}, in {} and {}: leave one of them out",
                        offer.valid(),
                        last.file.label(last.entry),
                        offer.file.label(offer.entry)
                    ));
                }
            }
            _ => kept.push(offer),
        }
    }
    *offers = kept;
    Ok(())
}
